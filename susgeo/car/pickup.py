"""Moving pick-up points: the same axle or car with one dimension changed.

A dimension is named by its place, from the outside in: ``"rear.upper.chassis.z"`` of a car,
``"upper.chassis.z"`` of an axle. A mirror pair moves as a pair; ``"lower.left.axle.z"`` moves one side alone.
"""

import difflib
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass, replace
from functools import lru_cache
from typing import Any, TypeVar, cast

import numpy as np

from ..errors import KindError, LinkageError, expect
from ..geometry.dual import Dual
from ..geometry.scalars import Scalar, is_array, together
from ..geometry.space import Point
from .car import as_number
from .links import is_symmetric, pair

Thing = TypeVar("Thing")
SIDES = {"left": 0, "right": 1}


def dimension(thing: Any, place: str) -> Scalar:
    """Return the dimension at a place, in mm (or kg, a share, ... as the field says).

    Args:
        thing: a car, an axle or a link. place: such as "rear.upper.chassis.z".

    >>> from susgeo import Link, Point
    >>> dimension(Link(Point(0, 0, 1), Point(9, 0, 0)), "axle.z")
    1
    """
    expect(str, place=place)
    for step in place.split("."):
        thing = _part(thing, step, place)
    return thing


def moved(thing: Thing, dimensions: Mapping[str, Any]) -> Thing:
    """Return the same car, axle or link with the dimensions at these places replaced.

    Values may be numbers, arrays or expressions, or (x, y, z) for a point; lengths in mm, also of a car whose file is
    in inches: there write 12 * 25.4. A place that does not exist raises
    :class:`susgeo.errors.LinkageError` with the names that do.

    Args:
        thing: a car, an axle or a link. dimensions: what stands there from now on, by place.

    >>> from susgeo import Link, Point
    >>> moved(Link(Point(0, 0, 1), Point(9, 0, 0)), {"axle.z": 3}).axle.z
    3
    """
    expect(Mapping, dimensions=dimensions)
    together(*dimensions.values())
    for place, value in dimensions.items():
        expect(str, place=place)
        thing = _moved(thing, place.split("."), value, place)
    return thing


def mapped(thing: Any, change: Callable[[str, Scalar], Scalar], place: str = "") -> Any:
    """Return the same car, axle or link with each number in it replaced by ``change(place, number)``.

    A part in which nothing is replaced stays the object that it is, with all that it has worked out before.

    >>> from susgeo import Link, Point
    >>> mapped(Link(Point(0, 0, 1), Point(9, 0, 0)), lambda place, number: 2 * number).chassis.x
    18
    """
    if isinstance(thing, tuple):
        if len(thing) == 2 and not is_symmetric(thing):
            sides = tuple(mapped(thing[number], change, f"{place}.{side}") for side, number in SIDES.items())
            return thing if all(new is old for new, old in zip(sides, thing, strict=True)) else sides
        left = tuple(mapped(link, change, place) for link in thing[:1])
        if not thing or left[0] is thing[0]:
            return thing
        return pair(*left) if len(thing) == 2 else left
    if is_dataclass(thing) and not isinstance(thing, Dual):
        within, kind = f"{place}." if place else "", cast(Any, type(thing))
        old = {field.name: getattr(thing, field.name) for field in fields(thing)}
        new = {name: mapped(part, change, within + name) for name, part in old.items()}
        return thing if all(new[name] is part for name, part in old.items()) else kind(**new)
    # The weight of a point is no dimension; only as an array is it passed on, so that arrays can be cut alike.
    fixed = thing is None or isinstance(thing, str) or (place.rpartition(".")[2] == "w" and not is_array(thing))
    return thing if fixed else change(place, thing)


def in_numbers(thing: Thing, kind: type = object) -> Thing:
    """Return the same car, axle or link in plain floats, or say that it is no such axle, is many, or has letters in it.

    >>> from fractions import Fraction
    >>> from susgeo import Link, Point
    >>> in_numbers(Link(Point(0, 0, Fraction(1, 2)), Point(9, 0, 0))).axle.z
    0.5
    """
    expect(kind, axle=thing)
    return cast(Thing, mapped(thing, lambda _, value: as_number(value)))


def dimensions(thing: Any) -> dict[str, Scalar]:
    """Return everything that was measured on a car, axle or link, by place, as :func:`moved` takes it.

    A link's y of exactly zero is no measurement: it says that the link, or its joint, is in the middle.

    Args:
        thing: a car, an axle or a link.

    >>> from susgeo import Link, Point
    >>> dimensions(Link(Point(0, 0, 1), Point(9, 5, 0)))
    {'axle.x': 0, 'axle.z': 1, 'chassis.x': 9, 'chassis.y': 5, 'chassis.z': 0}
    """
    if not is_dataclass(thing):
        raise KindError(f"Expected a car, an axle or a part of one, got {repr(thing)[:60]}.")
    found: dict[str, Scalar] = {}

    def note(place: str, value: Scalar) -> Scalar:
        in_the_middle = place.endswith(".y") and "locator." not in place and not is_array(value) and value == 0
        if not in_the_middle:
            found[place] = value
        return value

    mapped(thing, note)
    return found


def _moved(thing: Any, steps: list[str], value: Scalar, place: str) -> Any:
    if not steps:
        if isinstance(thing, Point) and isinstance(value, tuple | list | np.ndarray) and np.ndim(value):
            if len(value) != 3:
                raise LinkageError(f"{place}: got {len(value)} numbers, expected three, (x, y, z).")
            return Point(*value)
        if isinstance(thing, Point):
            expect(Point, **{place: value})
        return value
    if isinstance(thing, tuple):
        if steps[0] in SIDES:
            number = SIDES[steps[0]]
            changed = _moved(_part(thing, steps[0], place), steps[1:], value, place)
            return (*thing[:number], changed, *thing[number + 1 :])
        if len(thing) == 2 and not is_symmetric(thing):
            raise LinkageError(f"{place}: left and right differ on this axle; name the side, as in lower.left.axle.z.")
        left = _moved(_part(thing, "left", place), steps, value, place)
        return pair(left) if len(thing) == 2 else (left,)
    part = _moved(_part(thing, steps[0], place), steps[1:], value, place)
    return replace(thing, **{steps[0]: part})


def _part(thing: Any, step: str, place: str) -> Any:
    if isinstance(thing, tuple):
        if step not in SIDES:
            return _part(_part(thing, "left", place), step, place)
        if SIDES[step] < len(thing):
            return thing[SIDES[step]]
        raise LinkageError(f"There is nothing at {place}: the axle has no such link.")
    names = [field.name for field in fields(thing)] if is_dataclass(thing) else []
    if step in names and getattr(thing, step) is not None:
        return getattr(thing, step)
    close = _close(step, tuple(names))
    there = ", ".join(name for name in names if getattr(thing, name) is not None) or "nothing further"
    raise LinkageError(
        f"There is no {step} in {place}; {f'did you mean {close[0]}?' if close else f'there is {there}.'}"
    )


@lru_cache(maxsize=1024)
def _close(step: str, names: tuple[str, ...]) -> list[str]:
    return difflib.get_close_matches(step, names, 1, 0.5)
