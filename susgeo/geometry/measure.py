"""Everything with a ruler or a protractor: coordinates, lengths, slopes and angles."""

from typing import Any

from ..errors import SusgeoError, UndefinedError, expect
from .flat import FlatLine, FlatPoint, same_view
from .scalars import Scalar, hypot, quotient
from .space import Line, Point


def coordinates(point: Point | FlatPoint) -> tuple[Scalar, ...]:
    """Return the point's coordinates in mm: (x, y, z), or (u, v) in a view.

    At infinity each is inf with the sign of the direction, except where the direction has no such component:
    there it is undefined (an error for one case, nan in an array).

    Args:
        point: of space or of a view, in mm.

    >>> coordinates(Point(2, 4, 6, 2))
    (1, 2, 3)
    """
    expect(Point | FlatPoint, point=point)
    *parts, weight = point
    try:
        return tuple(quotient(part, weight) for part in parts)
    except UndefinedError:
        raise UndefinedError(
            f"{point} has no coordinates; tuple(point) gives its direction, and a joint needs a w other than 0."
        ) from None


def distance(first: Point | FlatPoint, second: Point | FlatPoint) -> Scalar:
    """Return the distance between two points in mm.

    Args:
        first, second: both of space, or both of one view.

    >>> distance(Point(0, 0, 0), Point(3, 4, 12))
    13.0
    """
    if isinstance(first, FlatPoint) or isinstance(second, FlatPoint):
        expect(FlatPoint, first=first, second=second)
        same_view(first, second)  # type: ignore[arg-type]
    return hypot(*(b - a for a, b in zip(coordinates(first), coordinates(second), strict=True)))


def slope(thing: Any) -> Scalar:
    """Return rise over run.

    Of a view's line: dv/du, infinite when it is upright. Of a view's point: the slope of the line to it from
    the view's origin, which stays finite when the point is at infinity. Of a line in space: dz/dx, its slope
    in the side view.

    Args:
        thing: a line, or a point of a view.

    >>> slope(FlatPoint("side", 4, 1, 0))
    0.25
    """
    if isinstance(thing, FlatLine):
        return quotient(-thing.a, thing.b)
    if isinstance(thing, FlatPoint):
        return quotient(thing.v, thing.u)
    expect(FlatLine | FlatPoint | Line, thing=thing)
    return quotient(thing.dz, thing.dx)


MM_PER_INCH = 25.4
"""Exact by definition (international yard and pound agreement, 1959; from memory)."""


def mm_per(units: str) -> float:
    """Return how many mm one of a page's units of length has.

    >>> mm_per("in")
    25.4
    """
    if str(units) not in ("mm", "in"):
        raise SusgeoError(f'units is {units!r}; expected "mm" or "in".')
    return MM_PER_INCH if units == "in" else 1.0


def in_units(number: float, unit: str, units: str) -> tuple[float, str]:
    """Return a number and its unit with mm turned into inches when inches are wanted.

    >>> in_units(50.8, "mm", "in")
    (2.0, 'in')
    """
    scale = mm_per(units)
    if units == "in" and unit in ("mm", "mm/g", "mm/kg"):
        return number / scale, unit.replace("mm", "in")
    if units == "in" and unit == "deg/mm":
        return number * scale, "deg/in"
    return number, unit
