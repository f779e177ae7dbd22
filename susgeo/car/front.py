"""Independent front suspension from points in space: double wishbone and strut.

Arms and strut leave the knuckle two freedoms: a turn T about the meet of two planes, and a turn S about the steering
axis. The tie rod, a fifth rod, holds a mixture of both. A turn stretches a rod by the product of the two lines
(:func:`susgeo.geometry.incidence.residual`), so the mixture that does not is

    (S . rod) T - (T . rod) S

Where the rod's line meets T, as one in the lower arm's plane does, nothing of S is left: the two planes tell all. Else the
mixture is a screw, a turn about a line with a slide along it. Seen from the front or the side, the point that stands
still is its instant center there: the same formula as where a plain axis pierces the plane of the wheel centers, or the
vertical plane through the wheel. Without a tie rod T alone is taken: bump steer, and its share in all else,
is then not counted. The left side is given; the right mirrors it.
Axes as for every axle: origin on the ground, x forward from the wheel-center line, y left, z up, mm.

Source: the knuckle's velocity at each ball joint is square to its arm's plane, or to the strut's axis; derived
here with :mod:`susgeo.geometry.incidence`.
"""

from dataclasses import dataclass, fields
from functools import cached_property
from numbers import Real
from typing import Any, Literal

from ..errors import LinkageError, MeasurementError, UndefinedError, expect, known
from ..geometry.flat import FlatPoint
from ..geometry.incidence import join, meet, project, residual
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, atan, cross, is_array, quotient
from ..geometry.space import CENTER_PLANE, GROUND, WHEEL_PLANE, Line, Plane, Point, tidy
from .links import Link, check_end
from .locators import combine


def check_part(part: Any) -> None:
    """Refuse a part of an independent front whose joints are not on the left side, or that has no plane; arrays pass."""
    for field in fields(part):
        point = getattr(part, field.name)
        expect(Point, **{field.name: point})
        if isinstance(point.y, Real) and point.y <= 0:
            problem = "{} is not on the left side; expected y above zero, because the left side is given."
            raise MeasurementError(field.name, problem, point)
    if not any(is_array(value) for field in fields(part) for value in getattr(part, field.name)):
        _ = part.plane


@dataclass(frozen=True, slots=True, eq=False)
class Arm:
    """A wishbone or track control arm: two pivots on the body and the ball joint of the knuckle.

    Args:
        ball_joint, front_pivot, rear_pivot: the middles of the left arm's joints, in mm from the axle's origin.

    Raises:
        LinkageError: a joint is not on the left side, or all three lie on one line.

    >>> from susgeo import Point
    >>> tuple(Arm(Point(0, 650, 200), Point(150, 320, 215), Point(-200, 320, 215)).plane)
    (0, -5250, -115500, 26512500)
    """

    ball_joint: Point
    front_pivot: Point
    rear_pivot: Point

    def __post_init__(self) -> None:
        check_part(self)

    @property
    def plane(self) -> Plane:
        """The plane of the three joints."""
        try:
            return join(self.ball_joint, self.front_pivot, self.rear_pivot)
        except UndefinedError:
            raise LinkageError(
                "The arm's ball joint and its two pivots lie on one line, so the arm has no plane."
            ) from None


@dataclass(frozen=True, slots=True, eq=False)
class StrutLeg:
    """A telescopic strut fixed to the knuckle: its top mount on the body and a lower point of its axis.

    Args:
        top_mount, lower_point: of the left strut, in mm from the axle's origin.

    Raises:
        LinkageError: a point is not on the left side, or both are the same.

    >>> from susgeo import Point
    >>> tuple(StrutLeg(Point(0, 560, 800), Point(0, 600, 300)).plane)  # square to the strut
    (0, -40, 500, -377600)
    """

    top_mount: Point
    lower_point: Point

    def __post_init__(self) -> None:
        check_part(self)
        top, low = self.top_mount.z * self.lower_point.w, self.lower_point.z * self.top_mount.w
        if isinstance(top, Real) and isinstance(low, Real) and top < low:
            problem = "{} lies below the lower point, {}; the two look exchanged."
            raise MeasurementError("top_mount", problem, self.top_mount, self.lower_point)

    @property
    def plane(self) -> Plane:
        """The plane through the top mount square to the strut's axis."""
        try:
            axis: Line = join(self.lower_point, self.top_mount)
        except UndefinedError:
            problem = "{} is the lower point as well, so the strut has no axis; expected two different points."
            raise MeasurementError("top_mount", problem, self.top_mount) from None
        x, y, z, w = self.top_mount
        return Plane(w * axis.dx, w * axis.dy, w * axis.dz, -(x * axis.dx + y * axis.dy + z * axis.dz))


@dataclass(frozen=True, eq=False)
class IndependentFront:
    """One front wheel and its mirror image.

    Args:
        lower: the lower arm.
        upper: the upper arm of a double wishbone, or the leg of a strut suspension.
        tie_rod: steering rod, axle end on the knuckle; held, it is the knuckle's fifth rod. None: not measured.
        track: distance between the middles of the two tires.
        tire_radius: height of the wheel centers.

    >>> from susgeo import Point
    >>> leg = StrutLeg(Point(-30, 560, 800), Point(0, 620, 300))
    >>> front = IndependentFront(Arm(Point(5, 650, 200), Point(150, 320, 215), Point(-200, 320, 215)), leg, track=1430)
    >>> round(front.roll_center_height, 1)
    69.9
    """

    lower: Arm
    upper: Arm | StrutLeg
    tie_rod: Link | None = None
    track: Scalar = 1450.0
    tire_radius: Scalar = 310.0
    end: Literal["front", "rear"] = "front"

    def __post_init__(self) -> None:
        check_end(self.end)
        expect(Arm, lower=self.lower)
        expect(Arm | StrutLeg, upper=self.upper)
        expect(Link | None, tie_rod=self.tie_rod)
        tidy(self, ("track", "tire_radius"), f"of the {self.end} axle", "length")

    @cached_property
    def steering_axis(self) -> Line:
        """The line through the knuckle's ball joints, or through ball joint and top mount: it steers about it."""
        top = self.upper.ball_joint if isinstance(self.upper, Arm) else self.upper.top_mount
        return join(self.lower.ball_joint, top)

    @cached_property
    def arms_axis(self) -> Line:
        """The line in which the planes of the arms, or of arm and strut, meet: the knuckle turns about it if it does not steer."""
        try:
            return meet(self.lower.plane, self.upper.plane)
        except UndefinedError:
            raise LinkageError(
                "The two planes of the suspension are the same, so the knuckle is not held upright."
            ) from None

    @cached_property
    def instant_axis(self) -> Line:
        """How the left knuckle moves as its wheel rises: a turn about this line, relative to the body.

        With a tie rod out of the lower arm's plane a screw: (dx, dy, dz) its turn, (mx, my, mz) the velocity of the origin.
        """
        turn = self.arms_axis
        if self.tie_rod is None:
            return turn
        steer, rod = self.steering_axis, self.tie_rod.line
        return combine(residual(steer, rod), turn, -residual(turn, rod), steer)

    def _per_rise(self, change: Scalar) -> Scalar:
        return quotient(2 * change, 2 * self.instant_axis.mz + self.track * self.instant_axis.dx)

    @property
    def bump_steer(self) -> Scalar:
        """Turn of the wheel's front edge inward (toe-in) per mm that the wheel rises against the body, in rad/mm."""
        unknown = "Bump steer is the tie rod's doing; measure it and add a table [front.tie_rod] to the car's file."
        known(self.tie_rod, unknown, LinkageError)
        return self._per_rise(-self.instant_axis.dz)

    @property
    def camber_change(self) -> Scalar:
        """Lean of the wheel against the body per mm that it rises, in rad/mm; positive with its top outward."""
        return self._per_rise(-self.instant_axis.dx)

    @property
    def caster_change(self) -> Scalar:
        """Turn of the knuckle in side view per mm that the wheel rises, in rad/mm; positive with its top rearward."""
        return self._per_rise(-self.instant_axis.dy)

    @property
    def scrub_change(self) -> Scalar:
        """Way of the contact patch outward per mm that the wheel rises; times half the track the roll center's height."""
        return self._per_rise(self.instant_axis.my)

    @property
    def contact_patch(self) -> Point:
        """The middle of the left tire's contact with the ground."""
        return Point(0, quotient(self.track, 2), 0)

    @cached_property
    def front_view_instant_center(self) -> FlatPoint:
        """Where the instant axis pierces the plane of the wheel centers."""
        return project(meet(WHEEL_PLANE, self.instant_axis), "front")

    @cached_property
    def side_view_instant_center(self) -> FlatPoint:
        """Where the instant axis pierces the vertical plane through the left wheel."""
        return project(meet(Plane(0, 2, 0, -self.track), self.instant_axis), "side")

    @cached_property
    def roll_center(self) -> Point:
        """Where the line from the contact patch through the front-view instant center crosses the center line.

        The two sides being mirror images, their lines of force meet there.
        """
        line = join(project(self.contact_patch, "front"), self.front_view_instant_center)
        center_line = project(meet(CENTER_PLANE, WHEEL_PLANE), "front")
        found = meet(line, center_line)
        return Point(0 * found.u, found.u, found.v, found.w)

    @property
    def roll_center_height(self) -> Scalar:
        """Height of the roll center over the ground in mm; negative below the ground."""
        return quotient(self.roll_center.z, self.roll_center.w)


def axis_numbers(front: IndependentFront) -> tuple[Scalar, Scalar, Scalar, Scalar]:
    """Return caster and inclination of the steering axis in rad, scrub radius and trail in mm.

    Caster is positive with its top rearward, inclination with its top inward. On the ground it lies ahead of the wheel
    center by the trail, and inward of the tire's middle by the scrub radius. Source: the trade's terms (SAE J670, from
    memory); geometry derived here.

    >>> from susgeo import load_car
    >>> [round(float(value), 2) for value in axis_numbers(load_car("data/club_coupe.toml").front)]
    [0.07, 0.13, 50.08, 17.46]
    """
    axis = front.steering_axis
    x, y, _ = coordinates(meet(GROUND, axis))
    caster, inclination = (atan(quotient(-part, axis.dz)) for part in (axis.dx, axis.dy))
    return caster, inclination, quotient(front.track, 2) - y, x


def shim(front: IndependentFront) -> Scalar:
    """Return how many mm the tie rod's outer joint must rise for no bump steer at ride height.

    Arms and steering let the knuckle turn about two axes, the one in which the arms' planes meet, and the steering axis. Of
    both turns together, one does not steer; the tie rod must be square to the path that its inner joint would take in it.
    (That the rod meets the first axis is the trade's rule, and near: the axis itself steers a little where it slopes.)
    Raising the inner joint does the same the other way. Only shims and spacers that the maker of the steering allows; every
    one takes thread or taper from a joint that holds the wheel. A qualified person checks lock, clearance, and the split
    pins before the car moves.

    Args:
        front: an independent front with its tie rod.

    Raises:
        LinkageError: no tie rod was measured.

    >>> from susgeo import load_car
    >>> round(shim(load_car("data/club_coupe.toml").front), 2)
    -0.13
    """
    expect(IndependentFront, front=front)
    rod = known(front.tie_rod, "There is no tie rod; add a table [front.tie_rod] to the car's file.", LinkageError)
    arms, steer = front.arms_axis, front.steering_axis
    turn = combine(steer.dz, arms, -arms.dz, steer)
    outer, inner = map(coordinates, (rod.axle, rod.chassis))
    x, y, z = inner
    path = cross((turn.dx, turn.dy, turn.dz), inner)
    ahead, left, up = turn.mx + path[0], turn.my + path[1], turn.mz + path[2]
    return z + quotient((x - outer[0]) * ahead + (y - outer[1]) * left, up) - outer[2]
