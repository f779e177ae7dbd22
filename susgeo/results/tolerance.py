"""How well a car's numbers are known when its points were measured with a tape.

First order: each quantity's exact derivative by each dimension (:mod:`susgeo.geometry.dual`) times that dimension's
error, joined as the root of the sum of squares. Source: the law of propagation of uncertainty, JCGM 100:2008
(Guide to the expression of uncertainty in measurement), section 5.1.2. Monte Carlo: the same formulas on many
cars with random errors, JCGM 101:2008. Both from memory.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from numbers import Integral, Real
from typing import Literal

import numpy as np

from ..car.car import Axle, Car, as_number, whole
from ..car.pickup import dimensions, in_numbers, mapped
from ..errors import NotFiniteError, SusgeoError, expect, nearest
from ..geometry.dual import Dual, seeds
from ..geometry.measure import in_units, mm_per
from ..tables import Table, shown
from .quantities import Names, find, listed, numbers
from .rows import SOLVED

LENGTHS = {"x", "y", "z", "track", "tire_radius", "wheelbase", "cg_height", "spacing", "span", "arm"}
"""What a tape measures, by the last word of a dimension's place; for the rest an error must be given."""
TWO_SIGMA = 0.9544997
"""The part of a normal distribution within two standard deviations, "95 times in 100" for short."""
TRUST = 0.1
"""First order is trusted where Monte Carlo's range is within this share of it, in width and in its middle."""


@dataclass(frozen=True, eq=False)
class Tolerance:
    """What is known of one quantity, 95 times in 100, in its own unit.

    Args:
        name: the quantity's.
        unit: of all numbers below.
        value: for the dimensions as measured.
        plus_minus: first order.
        low, high: between them lie 95 of 100 cars of the Monte Carlo.
        parts: by dimension, largest first: what that dimension's error alone changes, with its sign.
        samples: cars in the Monte Carlo.
    """

    name: str
    unit: str
    value: float
    plus_minus: float
    low: float
    high: float
    parts: Mapping[str, float]
    samples: int

    @property
    def warning(self) -> str:
        """Why first order is not to be trusted, in a sentence; empty where it is."""
        lie = f"95 of 100 such cars lie from {shown(self.low, self.unit)} to {shown(self.high, self.unit)}"
        if not math.isfinite(self.value):
            return f"{self.name} is at infinity as measured; {lie} {self.unit}."
        half, middle = (self.high - self.low) / 2, (self.high + self.low) / 2
        off = max(abs(half - self.plus_minus), abs(middle - self.value))
        if off <= (TRUST + 4 / math.sqrt(self.samples)) * self.plus_minus + 1e-9 * abs(self.value):
            return ""
        return (
            f"{self.name}: do not trust plus or minus {shown(self.plus_minus, self.unit)}; "
            f"{lie} {self.unit}. Small errors grow here, as they do where links are nearly parallel."
        )

    @property
    def measure_twice(self) -> tuple[str, float]:
        """The dimension that matters most, and its share of the tolerance's square, from 0 to 1."""
        if not self.plus_minus > 0:
            return "", 0.0
        place = next(iter(self.parts))
        return place, (self.parts[place] / self.plus_minus) ** 2


def effects(thing: Car | Axle, names: Names | None = None) -> dict[str, dict[str, float]]:
    """Return the exact derivative of each quantity by each measured dimension, in mm and degrees.

    What one choice costs the other: read one dimension across several quantities. A mirror pair is one
    dimension: both sides move. Quantities at infinity, and counts, are left out.

    Args:
        thing: a car or an axle, of plain numbers. names: the quantities wanted; None for all.

    >>> from susgeo import load_car
    >>> found = effects(load_car("data/three_link.toml"), ["rear roll center height", "rear roll steer"])
    >>> round(found["rear roll center height"]["rear.locator.axle.z"], 3)
    0.476
    """
    car = whole(thing)
    places = list(dimensions(car))
    duals = dict(zip(places, seeds(list(map(as_number, dimensions(car).values()))), strict=True))
    found = numbers(mapped(car, lambda place, value: duals.get(place, value)), names)
    slopes = {name: value.slopes.tolist() for name, value in found.items() if isinstance(value, Dual)}
    return {name: dict(zip(places, each, strict=True)) for name, each in slopes.items()}


def tolerances(
    thing: Car | Axle,
    error: float = 2.0,
    errors: Mapping[str, float] | None = None,
    names: Names | None = None,
    samples: int = 20_000,
    seed: int = 1,
    units: Literal["mm", "in"] = "mm",
) -> dict[str, Tolerance]:
    """Return the tolerance of each quantity.

    Errors are meant as on a workshop's sheet: plus or minus so much, kept 95 times in 100 (two standard
    deviations of a normal distribution), each dimension by itself. So are the tolerances.

    Args:
        thing: a car or an axle, of plain numbers.
        error: of every length that a tape measures.
        errors: others, by place or by its beginning: ``{"rear.locator": 1.0, "weight.cg_height": 20.0}``.
            Masses, shares and rates count as exact unless they stand here.
        names: the quantities wanted; None for all.
        samples: cars in the Monte Carlo.
        seed: of its random numbers; the same seed gives the same result.
        units: of the lengths in ``error``, ``errors`` and the result.

    >>> from susgeo import load_car
    >>> found = tolerances(load_car("data/three_link.toml"), error=2.0)["rear roll center height"]
    >>> print(f"{found.value:.1f} +- {found.plus_minus:.1f} mm; measure twice: {found.measure_twice[0]}")
    307.3 +- 1.5 mm; measure twice: rear.locator.chassis.z
    """
    car, scale = in_numbers(whole(thing)), mm_per(units)
    expect(Mapping | None, errors=errors)
    expect(Integral, samples=samples, seed=seed)
    if samples < 2 or seed < 0:
        raise SusgeoError(f"samples is {samples} and seed {seed}; expected at least 2 cars, and a seed of 0 or more.")
    names = listed(names)
    for name in names or ():
        if find(name)[0].name in SOLVED:
            raise SusgeoError(
                f"The {name} is solved step by step and has no tolerance here; ask for it on cars with your errors put in."
            )
    spread = {place: size * scale for place, size in _errors(car, error, errors or {}).items()}
    slopes, found = effects(car, names), {}
    random = np.random.default_rng(seed)
    unsure = {place: value for place, value in dimensions(car).items() if spread[place]}
    drawn = {place: value + spread[place] / 2 * random.standard_normal(samples) for place, value in unsure.items()}
    many = numbers(mapped(car, lambda place, value: drawn.get(place, value)), names)
    for name, exact in numbers(car, names).items():
        value = as_number(exact)
        if isinstance(exact, int | np.integer) or find(name)[0].name in SOLVED:
            continue  # a count, or without slopes
        ratio, unit = in_units(1.0, find(name)[0].unit, units)
        parts = {place: slope * spread[place] * ratio for place, slope in slopes.get(name, {}).items()}
        parts = dict(sorted(parts.items(), key=lambda part: -abs(part[1])))
        cars = np.atleast_1d(np.asarray(many.get(name, math.nan), dtype=float)) * ratio
        cars = cars[~np.isnan(cars)] if not np.all(np.isnan(cars)) else cars
        low, high = np.quantile(cars, ((1 - TWO_SIGMA) / 2, (1 + TWO_SIGMA) / 2), method="nearest").tolist()
        first = math.hypot(*parts.values()) if parts else math.nan
        found[name] = Tolerance(name, unit, value * ratio, first, low, high, parts, samples)
    return found


def tolerance_table(found: Mapping[str, Tolerance], called: Callable[[str], str] = str) -> Table:
    """Return tolerances as a table to print or to show, with their warnings below.

    Args:
        found: from :func:`tolerances`.
        called: gives a dimension's place another name, such as the words a reader of a page knows it by.

    >>> from susgeo import load_car
    >>> found = tolerances(load_car("three_link"), names="rear roll center height")
    >>> tolerance_table(found).rows[0][:3]
    ('rear roll center height', '307.3', '1.5')
    """
    expect(Mapping, found=found)
    rows = []
    for each in found.values():
        place, share = each.measure_twice
        numbers_ = (shown(each.value, each.unit), shown(each.plus_minus, each.unit))
        between = f"{shown(each.low, each.unit)} to {shown(each.high, each.unit)}"
        rows.append((each.name, *numbers_, between, each.unit, f"{called(place)} ({share:.0%})" if place else ""))
    head = ("quantity", "value", "plus or minus", "95 of 100 lie from", "unit", "measure twice (its share)")
    return Table(head, tuple(rows), "\n".join(each.warning for each in found.values() if each.warning))


def _errors(car: Car, error: float, errors: Mapping[str, float]) -> dict[str, float]:
    """Return each dimension's error: that of the longest place that it begins with, or the common one."""
    for what, size in (("the error", error), *errors.items()):
        expect(Real, **{what: size})
        if not (math.isfinite(size) and size >= 0):
            raise NotFiniteError(f"{what} is {size}; expected a number, zero or more: plus or minus so much.")
    found = {name: error if name.rpartition(".")[2] in LENGTHS else 0.0 for name in dimensions(car)}
    for place in sorted(errors, key=len):
        within = [name for name in found if f"{name}.".startswith(f"{place}.")]
        if not within:
            raise SusgeoError(f"There is no dimension {place} on this car; the nearest are {nearest(place, found)}.")
        found |= dict.fromkeys(within, errors[place])
    return found
