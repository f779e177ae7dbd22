"""Springs, dampers and drop links where they are: each a line from a moving part to the body.

The left one is given, the right one mirrors it. ``axle`` is the end that moves, ``chassis`` the end that does not.
The moving end sits on the axle or knuckle itself, or on a link or arm. There it moves as the link does, and the
library asks which line *at the link's outer joint* shortens as fast: :func:`acting`.

On an arm that turns about its two pivots, and on a link that does not twist about its own line, that is, with l
from the body's joint to the outer one, d the seat's distance square to l, at the share s of its length, and u the spring's own
direction: s u - (u.l) d / l^2. On the link's line (d = 0) a spring acts at its outer joint with the share s.
Source: derived here, from the velocity of a rigid link.
"""

import math
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeVar, get_args

import numpy as np

from ..errors import LinkageError, MeasurementError
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, cross, dot, is_symbolic, plain, quotient
from ..geometry.space import Line, Point, tidy
from .axle import LiveAxle
from .front import Arm, IndependentFront
from .links import Link, mirror

Carrier = Literal["axle", "lower link", "upper link", "knuckle", "lower arm", "upper arm"]
"""What the moving end sits on."""

Vector = tuple[Scalar, Scalar, Scalar]

SHEAR_MODULUS, YOUNGS_MODULUS = 79_300.0, 206_000.0
"""Of spring steel in N/mm^2 (handbook values, from memory)."""


@dataclass(frozen=True, eq=False)
class Damper:
    """A line from what moves to the body, on the left side.

    Args:
        axle: the end on axle, knuckle, link or arm. chassis: the end on the body.
        on: what the moving end sits on.

    >>> Damper(axle=Point(-60, 480, 260), chassis=Point(-60, 400, 620)).length
    368.7817782917155
    """

    axle: Point
    chassis: Point
    on: Carrier = "axle"

    def __post_init__(self) -> None:
        Link(self.axle, self.chassis, "spring, damper or drop link")
        if str(self.on) not in get_args(Carrier):
            raise MeasurementError("on", f'got "{self.on}", expected one of {", ".join(get_args(Carrier))}.')

    @property
    def length(self) -> Scalar:
        """Between the ends, in mm."""
        return Link(self.axle, self.chassis).length


@dataclass(frozen=True, eq=False)
class Coil(Damper):
    """A coil spring, or the spring of a coil-over, as a line.

    Args:
        axle, chassis, on: as for :class:`Damper`.
        rate: along its own line, in N/mm, as the maker gives it.

    >>> round(Coil(Point(-60, 480, 260), Point(-60, 400, 620), rate=27).length, 1)
    368.8
    """

    rate: Scalar = 0.0

    def __post_init__(self) -> None:
        tidy(self, ("rate",), "of a coil spring", "rate")
        super().__post_init__()


@dataclass(frozen=True, eq=False)
class AntiRollBar(Damper):
    """An anti-roll bar by its dimensions, and its left drop link as a line.

    One end of the drop link is on the bar's arm. The bar turns in two bearings where its arms begin; the arms bend,
    the part between twists. Bushings, and bends of the bar's middle, are left out: they make it softer.

    Args:
        axle, chassis, on: of the drop link, as for :class:`Damper`.
        diameter, bore: of the bar, in mm; bore 0 for a solid one.
        span: of the part across the car that twists, in mm.
        arm: from the axis of that part square to the drop link's joint, in mm.

    >>> bar = AntiRollBar(Point(0, 450, 200), Point(0, 450, 350), diameter=18, span=900, arm=220)
    >>> round(bar.end_rate, 2)
    33.34
    """

    diameter: Scalar = 0.0
    span: Scalar = 0.0
    arm: Scalar = 0.0
    bore: Scalar = 0.0

    def __post_init__(self) -> None:
        tidy(self, ("diameter", "span", "arm"), "of an anti-roll bar", "length")
        tidy(self, ("bore",), "of an anti-roll bar", "rate")
        if not any(map(is_symbolic, (self.diameter, self.bore))) and np.any(plain(self.bore) >= plain(self.diameter)):
            raise LinkageError(
                f"An anti-roll bar's bore must be below its diameter; got bore {self.bore} in {self.diameter}."
            )
        super().__post_init__()

    @property
    def end_rate(self) -> Scalar:
        """Force at each arm's end per mm, one end going up as far as the other goes down, in N/mm.

        1/c = a^2 L / (2 G J) + a^3 / (3 E I): half the span twists for each arm, and the arm bends. Source: any
        textbook of strength of materials.
        """
        outer, inner, lever = self.diameter * self.diameter, self.bore * self.bore, self.arm * self.arm
        polar = (outer * outer - inner * inner) * (math.pi / 32)
        twist = quotient(lever * self.span, 2 * SHEAR_MODULUS * polar)
        bend = quotient(2 * lever * self.arm, 3 * YOUNGS_MODULUS * polar)
        return quotient(1, twist + bend)


Kind = TypeVar("Kind", bound=Damper)


def on_the_right(at: Kind) -> Kind:
    """Return the same on the other side of the car."""
    return replace(at, axle=mirror(at.axle), chassis=mirror(at.chassis))


def acting(axle: LiveAxle | IndependentFront, at: Damper, side: Literal["left", "right"] = "left") -> Line:
    """Return the line of force on the axle, or left knuckle, of a spring that pushes with one newton.

    ``side`` is that of the spring, and so of the link that carries it.
    Six numbers, from the moving end to the body; where the spring sits on a link or arm the force stands at the outer
    joint and is not of length one. Its product with a motion of the axle is how fast the spring shortens.

    Raises:
        LinkageError: the axle has no such link or arm.
    """
    seat, top = coordinates(at.axle), coordinates(at.chassis)
    length = at.length
    way: Vector = tuple(quotient(b - a, length) for a, b in zip(seat, top, strict=True))
    if str(at.on) not in ("axle", "knuckle"):
        inner, *hinged, outer = map(coordinates, joints(carrier(axle, at, side)))
        if not hinged:
            along, lever = minus(outer, inner), minus(seat, inner)
            size = dot(along, along)
            share = quotient(dot(lever, along), size)
            pull = quotient(dot(way, along), size)
            off = tuple(a - share * b for a, b in zip(lever, along, strict=True))
            way = tuple(share * u - pull * d for u, d in zip(way, off, strict=True))
        else:
            hinge = minus(hinged[0], inner)
            path = cross(hinge, minus(outer, inner))
            share = quotient(dot(way, cross(hinge, minus(seat, inner))), dot(path, path))
            way = tuple(share * each for each in path)
        seat = outer
    return Line(*way, *cross(seat, way))


def carrier(axle: LiveAxle | IndependentFront, at: Damper, side: str = "left") -> Link | Arm:
    """Return the link or arm that carries the moving end."""
    height, kind = at.on.split()
    if (kind == "link") is isinstance(axle, LiveAxle):
        group: Any = getattr(axle, height)
        if isinstance(group, Arm):
            return group
        if isinstance(group, tuple) and group:
            return group[0 if side == "left" else -1]
    raise LinkageError(
        f"A spring, damper or bar sits on the {at.on}, and the {axle.end} axle has none; give another place in field on."
    )


def joints(part: Link | Arm) -> tuple[Point, ...]:
    """Return a link's inner and outer joint, or an arm's two pivots and its ball joint."""
    if isinstance(part, Link):
        return part.chassis, part.axle
    return part.front_pivot, part.rear_pivot, part.ball_joint


def minus(first: Vector, second: Vector) -> Vector:
    """Return the vector from the second to the first."""
    return first[0] - second[0], first[1] - second[1], first[2] - second[2]
