"""The table of quantities: name, symbol, unit, sign, source and how to get each from a car.

The summary of a car, the glossary, the page of symbols and the checks of hand calculations all read this one
table, so that they cannot drift apart.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from math import inf
from typing import Literal

from ..car.car import Axle, Car, as_number, whole
from ..car.front import IndependentFront
from ..errors import SusgeoError, UndefinedError, expect, nearest, several
from ..geometry.measure import in_units
from ..geometry.scalars import Scalar
from .rows import LIFT, ROWS, Of

Names = str | Iterable[str]
"""One name of a quantity, or several."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number of the course.

    Args:
        name: the trade's name, without the axle's.
        unit: mm, deg, deg/mm, deg/g, g, N/g, N m/deg, %, or - for a plain ratio.
        symbol: as written on paper and in formulas.
        code: how to get it from the library.
        sign: what positive means.
        source: where its definition or formula comes from.
        of: function of the car and the end ("rear", "front", "") that returns it in ``unit``; it returns None
            or raises a SusgeoError where the car does not have it.
        ends: which axles may have it.
        meaning: one sentence for the glossary.
    """

    name: str
    unit: str
    symbol: str
    code: str
    sign: str
    source: str
    meaning: str
    of: Of
    ends: tuple[str, ...]


QUANTITIES: tuple[Quantity, ...] = tuple(Quantity(*row) for row in ROWS)


@cache
def _known() -> dict[str, tuple[Quantity, str]]:
    return {f"{end} {each.name}".lstrip(): (each, end) for each in QUANTITIES for end in each.ends}


def plain_name(name: str) -> str:
    """Return a quantity's name without the unit that the summary adds."""
    return name.partition(" [")[0]


def find(name: str) -> tuple[Quantity, str]:
    """Return a quantity and its axle's end by the name that the summary gives it; the unit may be left out.

    >>> quantity, end = find("rear roll center height")
    >>> quantity.unit, end
    ('mm', 'rear')
    """
    expect(str, quantity=name)
    asked, known = plain_name(name), _known()
    if asked in known:
        return known[asked]
    raise SusgeoError(
        f"There is no quantity called {asked}; did you mean {nearest(asked, known)}? "
        "summary(car) has all that a car's measurements give; lesson 00 has a list of all there are."
    )


def listed(names: Names | None) -> list[str] | None:
    """Return names as a list: a text alone is one name; None, for all of them, stays."""
    return None if names is None else several(str, names=names)


def numbers(thing: Car | Axle, names: Names | None = None) -> dict[str, Scalar]:
    """Return the quantities that a car's measurements allow, by name: floats, arrays, Duals or expressions.

    Lengths in mm, angles in degrees. A car with arrays in its dimensions (:func:`susgeo.car.pickup.moved`) is many
    cars at once, and each quantity that depends on them is an array of their broadcast shape: nan where
    undefined, infinite at infinity.

    Args:
        thing: a car, many cars, or an axle alone.
        names: the quantities wanted, or one name; None for all.

    Raises:
        SusgeoError: there is no quantity of that name.

    >>> import numpy as np
    >>> from susgeo import load_car, moved
    >>> cars = moved(load_car("data/three_link.toml"), {"rear.locator.axle.z": np.array([300.0, 320.0])})
    >>> numbers(cars, ["rear roll center height"])["rear roll center height"].round(2).tolist()
    [307.31, 316.82]
    """
    car, asked = whole(thing), listed(names)
    found: dict[str, Scalar] = {}
    for quantity, end in _known().values() if asked is None else [find(name) for name in asked]:
        try:
            value = quantity.of(car, end)
        except SusgeoError:
            continue
        if value is not None:
            found[f"{end} {quantity.name}".lstrip()] = value
    return found


def summary(thing: Car | Axle, units: Literal["mm", "in"] = "mm") -> dict[str, float]:
    """Return every number that a car's or an axle's measurements allow, by trade name with its unit.

    ``inf`` and ``-inf`` stand for a point at infinity, farther than 1000 km. Numbers that the
    measurements do not determine are left out, never nan; so is a tire lift beyond the linear limit.

    Args:
        thing: a car or an axle, of plain numbers. units: of lengths, "mm" or "in".

    >>> from susgeo import load_car
    >>> round(summary(load_car("data/three_link.toml"))["rear roll center height [mm]"], 3)
    307.308
    """
    found: dict[str, float] = {}
    for name, value in numbers(whole(thing)).items():
        try:
            number, unit = in_units(as_number(value), find(name)[0].unit, units)
        except UndefinedError:
            continue
        found[f"{name} [{unit}]"] = number
    limit = found.get("linear limit [g]", inf)
    return {name: number for name, number in found.items() if LIFT not in name or number <= limit}


def remarks(thing: Car | Axle) -> tuple[str, ...]:
    """Return in sentences what the numbers of a car or an axle leave out because it was not measured.

    >>> from susgeo import load_car
    >>> remarks(load_car("data/club_coupe.toml"))
    ()
    """
    front = whole(thing).front
    if not isinstance(front, IndependentFront) or front.tie_rod is not None:
        return ()
    return (
        "The front tie rod was not measured: bump steer, and its share in the roll center, the instant centers and "
        "anti-dive, are not counted.",
    )
