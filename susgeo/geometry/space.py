"""Points, lines and planes in space, in homogeneous and Plücker coordinates."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from numbers import Real

import numpy as np

from ..errors import MeasurementError, UndefinedError
from .scalars import Scalar, finite, is_array, is_symbolic, plain, quotient

LIMITS = {
    "length": "a length above zero",
    "share": "a number between 0 and 1",
    "mass": "a mass, zero or more",
    "rate": "a number, zero or more",
}
"""What a measurement of a kind must be."""
LARGEST_ANGLE = 0.8
"""In rad, 46 degrees: no axle, shaft or car turns as far, so that a larger number must have been meant in degrees."""


class Homogeneous:
    """What points, lines and planes have in common: coordinates, brought into form when made and given out in order."""

    __array_ufunc__ = None
    _coordinates: tuple[str, ...] = ()
    _what = ""

    def __post_init__(self) -> None:
        tidy(self, self._coordinates, self._what)
        if self._what == "of a point" and all(isinstance(part, Real) and part == 0 for part in self):
            raise UndefinedError("All coordinates of a point are 0, w too: it is nowhere; leave w at 1 for the origin.")

    def __iter__(self) -> Iterator[Scalar]:
        return iter([getattr(self, name) for name in self._coordinates])


@dataclass(frozen=True, eq=False)
class Point(Homogeneous):
    """A point (x, y, z) in mm, or, with w = 0, the direction in which parallel lines meet.

    (x, y, z, w) and any multiple of it are the same point, at (x/w, y/w, z/w). Axes after ISO 8855: x
    forward, y left, z up. Each coordinate is a number, an array or an expression.

    >>> Point(600, 400, 290), Point(0.5, 0, 0.05, 0)
    (Point(x 600, y 400, z 290 mm), Point(at infinity in the direction 1 : 0 : 0.1))
    """

    x: Scalar
    y: Scalar
    z: Scalar
    w: Scalar = 1

    _coordinates, _what = ("x", "y", "z", "w"), "of a point"

    def __repr__(self) -> str:
        return f"Point({place(tuple(self), 'xyz')})"


@dataclass(frozen=True, eq=False)
class Line(Homogeneous):
    """A line in Plücker coordinates: direction d and moment m = p x d for any of its points p.

    The same six numbers describe a force along the line (d the force, m its moment about the origin) and the
    condition that a rod along it puts on a motion. A combination of two such forces need not be a single
    force: then d.m is not zero, and the six numbers are a *screw*; everything that is linear in them still
    holds.

    >>> from susgeo import project, slope
    >>> lower_link = Line(-510, 0, 68, 0, 0, 0)  # down and to the rear, through the origin
    >>> slope(project(lower_link, "side"))
    -0.13333333333333333
    """

    dx: Scalar
    dy: Scalar
    dz: Scalar
    mx: Scalar
    my: Scalar
    mz: Scalar

    _coordinates, _what = ("dx", "dy", "dz", "mx", "my", "mz"), "of a line"


@dataclass(frozen=True, eq=False)
class Plane(Homogeneous):
    """The points with a x + b y + c z + k w = 0; (a, b, c) is its normal.

    >>> from susgeo import coordinates, join, meet
    >>> level = Plane(0, 0, 1, -250)  # 250 mm over the ground
    >>> coordinates(meet(level, join(Point(0, 0, 0), Point(1000, 0, 500))))
    (500, 0, 250)
    """

    a: Scalar
    b: Scalar
    c: Scalar
    k: Scalar

    _coordinates, _what = ("a", "b", "c", "k"), "of a plane"


def place(parts: tuple[Scalar, ...], axes: str) -> str:
    """Return in words where a point is, from its homogeneous coordinates, the weight last.

    >>> place((2, 4, 4), "xz")
    'x 0.5, z 1 mm'
    """
    *ahead, weight = map(plain, parts)
    if any(map(is_array, parts)):
        return f"an array of {' x '.join(map(str, np.broadcast_shapes(*map(np.shape, parts))))} points"
    if weight == 0:
        size = 1 if any(map(is_symbolic, ahead)) else max(map(abs, ahead)) or 1
        return f"at infinity in the direction {' : '.join(_short(quotient(part, size)) for part in ahead)}"
    return ", ".join(f"{axis} {_short(quotient(part, weight))}" for axis, part in zip(axes, ahead, strict=True)) + " mm"


def _short(value: Scalar) -> str:
    return f"{value + 0:.7g}" if isinstance(value, float) else str(value)


def _impossible(kind: str, value: Scalar) -> Scalar:
    """Tell whether no number of this kind is so, by element."""
    if kind == "share":
        return (value < 0) | (value > 1)
    if kind == "angle":
        return abs(value) > LARGEST_ANGLE
    return value <= 0 if kind == "length" else value < 0


def outside(kind: str, value: Scalar) -> str:
    """Return what is wrong with a number of a kind in :data:`LIMITS`, or an "angle" in rad; nothing for expressions.

    Of an array, only if all its elements are wrong.

    >>> outside("share", 53)
    'got 53, expected a number between 0 and 1; for 53 % write 0.53.'
    """
    value = plain(value)
    if is_array(value):
        known = value[np.isfinite(value)]
        return outside(kind, float(known[0])) if known.size and np.all(_impossible(kind, known)) else ""
    if kind not in (*LIMITS, "angle") or not isinstance(value, Real) or not _impossible(kind, value):
        return ""
    number = float(value)
    if kind == "angle":
        turn = f"got {number:.12g} rad, which is {math.degrees(number):.0f} degrees; expected an angle in radians"
        return f"{turn}. Were {number:g} degrees meant? Then write math.radians({number:g})."
    percent = f"; for {number:g} % write {number / 100:g}" if kind == "share" and 1 < number <= 100 else ""
    return f"got {number:.12g}, expected {LIMITS[kind]}{percent}."


def tidy(thing: object, names: tuple[str, ...], what: str, kind: str = "") -> None:
    """Bring measurements into the form that the formulas work with; see :func:`susgeo.geometry.scalars.finite`.

    Of a kind in :data:`LIMITS`, a number that cannot be is refused. In an array it becomes nan, unless all cannot be; but a mass or
    rate of zero may be stepped to both sides, as for a slope: it may be less than zero by one.
    """
    for name in names:
        given = getattr(thing, name)
        if type(given) is float and not kind and math.isfinite(given):
            continue  # nearly always, and in a hurry: a moving drawing makes some hundred points
        value = finite(given, f"{name} {what}")
        if kind and (problem := outside(kind, value)):
            raise MeasurementError(name, problem)
        hair = 1 if kind in ("mass", "rate") else 0
        if kind and is_array(value) and np.any(wrong := _impossible(kind, value + hair)):
            value = np.where(wrong, np.nan, value)
        if value is not given:
            object.__setattr__(thing, name, value)


GROUND = Plane(0, 0, 1, 0)
"""z = 0."""
CENTER_PLANE = Plane(0, 1, 0, 0)
"""y = 0, the car's plane of symmetry."""
WHEEL_PLANE = Plane(1, 0, 0, 0)
"""x = 0, the vertical transverse plane through an axle's wheel centers."""
