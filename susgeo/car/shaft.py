"""The propeller shaft as a line between two universal joints, and the two shafts that it joins.

Points from the rear axle's origin. Each direction lies in an upright fore-and-aft plane; its angle, in rad, is positive
where it rises toward the front: the pinion's nose up, the gearbox's tail down.
"""

from dataclasses import dataclass
from numbers import Real

from ..errors import MeasurementError, expect
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, atan2, cos, cross, dot, hypot, sin
from ..geometry.space import Point, tidy
from .coils import Vector, minus
from .links import Link


@dataclass(frozen=True, slots=True, eq=False)
class PropellerShaft:
    """Joints and directions at rest.

    Args:
        gearbox, pinion: the middles of the two joints.
        gearbox_angle, pinion_angle: of the output shaft and of the pinion, in rad, rising toward the front.

    >>> shaft = PropellerShaft(gearbox=Point(1350, 0, 360), pinion=Point(260, 0, 320))
    >>> [round(57.2958 * float(angle), 2) for angle in shaft.joint_angles]  # in degrees
    [2.1, 2.1]
    """

    gearbox: Point
    pinion: Point
    gearbox_angle: Scalar = 0.0
    pinion_angle: Scalar = 0.0

    def __post_init__(self) -> None:
        tidy(self, ("gearbox_angle", "pinion_angle"), "of the propeller shaft", "angle")
        expect(Point, gearbox=self.gearbox, pinion=self.pinion)
        Link(self.pinion, self.gearbox, "propeller shaft")
        ahead, behind = self.gearbox.x * self.pinion.w, self.pinion.x * self.gearbox.w
        if isinstance(ahead, Real) and isinstance(behind, Real) and ahead <= behind:
            wanted = "{} is not ahead of the pinion's joint, {}; the two look exchanged."
            raise MeasurementError("gearbox", wanted, self.gearbox, self.pinion)

    @property
    def tips(self) -> tuple[Point, Point]:
        """A point one meter ahead of each joint along its own shaft: gearbox, pinion."""
        return _ahead(self.gearbox, self.gearbox_angle), _ahead(self.pinion, self.pinion_angle)

    @property
    def joint_angles(self) -> tuple[Scalar, Scalar]:
        """The angles in space, in rad, by which the gearbox's and the pinion's joint bend.

        >>> shaft = PropellerShaft(Point(1350, 0, 360), Point(260, 0, 320), 0.0523599, 0.0523599)
        >>> round(shaft.joint_angles[0] * 57.29578, 2)
        0.9
        """
        return bend(self.gearbox, self.pinion, *self.tips)


def bend(gearbox: Point, pinion: Point, gearbox_tip: Point, pinion_tip: Point) -> tuple[Scalar, Scalar]:
    """Return the two joints' angles from the joints and a point ahead of each on its own shaft."""
    front, rear, first, second = (coordinates(each) for each in (gearbox, pinion, gearbox_tip, pinion_tip))
    along = minus(front, rear)
    return _between(minus(first, front), along), _between(minus(second, rear), along)


def _between(first: Vector, second: Vector) -> Scalar:
    return atan2(hypot(*cross(first, second)), dot(first, second))


def _ahead(joint: Point, angle: Scalar) -> Point:
    x, y, z = coordinates(joint)
    return Point(x + 1000 * cos(angle), y, z + 1000 * sin(angle))
