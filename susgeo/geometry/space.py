"""Points, lines and planes in space, in homogeneous and Plücker coordinates."""

from collections.abc import Iterator
from dataclasses import dataclass

from ..errors import MeasurementError
from .scalars import Scalar, finite

LIMITS = {
    "length": "a length above zero",
    "share": "a number between 0 and 1",
    "mass": "a mass, zero or more",
    "rate": "a number, zero or more",
}
"""What a measurement of a kind must be."""


@dataclass(frozen=True, eq=False)
class Point:
    """A point (x, y, z) in mm, or, with w = 0, the direction in which parallel lines meet.

    (x, y, z, w) and any multiple of it are the same point, at (x/w, y/w, z/w). Axes after ISO 8855: x
    forward, y left, z up. Each coordinate is a number, an array or an expression.

    >>> Point(600, 400, 290).w
    1
    """

    x: Scalar
    y: Scalar
    z: Scalar
    w: Scalar = 1

    __array_ufunc__ = None

    def __post_init__(self) -> None:
        tidy(self, ("x", "y", "z", "w"), "of a point")

    def __iter__(self) -> Iterator[Scalar]:
        return iter((self.x, self.y, self.z, self.w))


@dataclass(frozen=True, eq=False)
class Line:
    """A line in Plücker coordinates: direction d and moment m = p x d for any of its points p.

    The same six numbers describe a force along the line (d the force, m its moment about the origin) and the
    condition that a rod along it puts on a motion. A combination of two such forces need not be a single
    force: then d.m is not zero, and the six numbers are a *screw*; everything that is linear in them still
    holds.
    """

    dx: Scalar
    dy: Scalar
    dz: Scalar
    mx: Scalar
    my: Scalar
    mz: Scalar

    __array_ufunc__ = None

    def __post_init__(self) -> None:
        tidy(self, ("dx", "dy", "dz", "mx", "my", "mz"), "of a line")

    def __iter__(self) -> Iterator[Scalar]:
        return iter((self.dx, self.dy, self.dz, self.mx, self.my, self.mz))


@dataclass(frozen=True, eq=False)
class Plane:
    """The points with a x + b y + c z + k w = 0; (a, b, c) is its normal."""

    a: Scalar
    b: Scalar
    c: Scalar
    k: Scalar

    __array_ufunc__ = None

    def __post_init__(self) -> None:
        tidy(self, ("a", "b", "c", "k"), "of a plane")

    def __iter__(self) -> Iterator[Scalar]:
        return iter((self.a, self.b, self.c, self.k))


def outside(kind: str, value: Scalar) -> str:
    """Return what is wrong with a number of a kind in :data:`LIMITS`; nothing for arrays and expressions.

    >>> outside("share", 53)
    'got 53, expected a number between 0 and 1; for 53 % write 0.53.'
    """
    if kind not in LIMITS or not isinstance(value, int | float):
        return ""
    if value > 0 or (value == 0 and kind != "length"):
        if kind != "share" or value <= 1:
            return ""
    percent = f"; for {value:g} % write {value / 100:g}" if kind == "share" and 1 < value <= 100 else ""
    return f"got {value:.12g}, expected {LIMITS[kind]}{percent}."


def tidy(thing: object, names: tuple[str, ...], what: str, kind: str = "") -> None:
    """Bring measurements into the form that the formulas work with; see :func:`susgeo.geometry.scalars.finite`.

    Of a kind in :data:`LIMITS`, a number that cannot be is refused.
    """
    for name in names:
        given = getattr(thing, name)
        value = finite(given, f"{name} {what}")
        if value is not given:
            object.__setattr__(thing, name, value)
        if problem := outside(kind, value):
            raise MeasurementError(name, problem)


GROUND = Plane(0, 0, 1, 0)
"""z = 0."""
CENTER_PLANE = Plane(0, 1, 0, 0)
"""y = 0, the car's plane of symmetry."""
WHEEL_PLANE = Plane(1, 0, 0, 0)
"""x = 0, the vertical transverse plane through an axle's wheel centers."""
