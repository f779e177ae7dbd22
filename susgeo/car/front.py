"""Independent front suspension from points in space: double wishbone and strut.

The knuckle turns about one axis relative to the body, the meet of two planes. Where that axis pierces the
vertical plane through the wheel centers is the front-view instant center; where it pierces the vertical plane
through the wheel, the side-view instant center. The left side is given; the right mirrors it.
The tie rod is left out: exact for one whose line meets that axis, such as one in the lower arm's plane. Another
steers the wheel in bump and moves the centers; by 0.1 mm of roll center on the club coupe.
Axes as for every axle: origin on the ground, x forward from the wheel-center line, y left, z up, mm.

Source: the knuckle's velocity at each ball joint is square to its arm's plane, or to the strut's axis; derived
here with :mod:`susgeo.geometry.incidence`.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from ..errors import LinkageError, UndefinedError
from ..geometry.flat import FlatPoint
from ..geometry.incidence import join, meet, project
from ..geometry.measure import slope
from ..geometry.scalars import Scalar, quotient
from ..geometry.space import CENTER_PLANE, WHEEL_PLANE, Line, Plane, Point, tidy
from .links import Link


@dataclass(frozen=True, slots=True, eq=False)
class Arm:
    """A wishbone or track control arm: two pivots on the body and the ball joint of the knuckle."""

    ball_joint: Point
    front_pivot: Point
    rear_pivot: Point

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
    """A telescopic strut fixed to the knuckle: its top mount on the body and a lower point of its axis."""

    top_mount: Point
    lower_point: Point

    @property
    def plane(self) -> Plane:
        """The plane through the top mount square to the strut's axis."""
        axis = Link(self.lower_point, self.top_mount, "strut").line
        x, y, z, w = self.top_mount
        return Plane(w * axis.dx, w * axis.dy, w * axis.dz, -(x * axis.dx + y * axis.dy + z * axis.dz))


@dataclass(frozen=True, eq=False)
class IndependentFront:
    """One front wheel and its mirror image.

    Args:
        lower: the lower arm.
        upper: the upper arm of a double wishbone, or the leg of a strut suspension.
        tie_rod: steering rod, axle end on the knuckle; it steadies the knuckle in travel. None: not measured.
        track: distance between the middles of the two tires.
        tire_radius: height of the wheel centers.
    """

    lower: Arm
    upper: Arm | StrutLeg
    tie_rod: Link | None = None
    track: Scalar = 1450.0
    tire_radius: Scalar = 310.0
    end: Literal["front", "rear"] = "front"

    def __post_init__(self) -> None:
        tidy(self, ("track", "tire_radius"), f"of the {self.end} axle")

    @cached_property
    def instant_axis(self) -> Line:
        """The axis about which the left knuckle turns relative to the body."""
        try:
            return meet(self.lower.plane, self.upper.plane)
        except UndefinedError:
            raise LinkageError(
                "The two planes of the suspension are the same, so the knuckle is not held upright."
            ) from None

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

    @property
    def anti_slope(self) -> Scalar:
        """Slope in side view from the contact patch up and rearward to the side-view instant center."""
        return -slope(self.side_view_instant_center)
