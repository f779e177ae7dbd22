"""The steering axis of an independent front wheel, and the height of the tie rod that steers nothing in bump.

The axis runs through the lower ball joint and the upper one, or the strut's top mount. Caster is positive with its top
rearward, inclination with its top inward. On the ground it lies ahead of the wheel center by the trail, and inward of
the tire's middle by the scrub radius. Source: the trade's terms (SAE J670, from memory); geometry derived here.
"""

from ..errors import LinkageError
from ..geometry.incidence import join, meet
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, atan, quotient
from ..geometry.space import GROUND, Line
from .front import IndependentFront, StrutLeg

CAUTION = (
    "Only shims and spacers that the maker of the steering allows; every one takes thread or taper from a joint that "
    "holds the wheel. A qualified person checks lock, clearance, and the split pins before the car moves."
)


def steering_axis(front: IndependentFront) -> Line:
    """Return the left wheel's steering axis, running upward.

    >>> from susgeo import load_car
    >>> front = load_car("data/club_coupe.toml").front
    >>> [round(float(value), 2) for value in axis_numbers(front)]
    [0.07, 0.13, 50.08, 17.46]
    """
    upper = front.upper
    return join(front.lower.ball_joint, upper.top_mount if isinstance(upper, StrutLeg) else upper.ball_joint)


def axis_numbers(front: IndependentFront) -> tuple[Scalar, Scalar, Scalar, Scalar]:
    """Return caster and inclination in rad, scrub radius and trail in mm."""
    axis = steering_axis(front)
    x, y, _ = coordinates(meet(GROUND, axis))
    return (
        atan(quotient(-axis.dx, axis.dz)), atan(quotient(-axis.dy, axis.dz)),
        quotient(front.track, 2) - y, x,
    )  # fmt: skip


def shim(front: IndependentFront) -> Scalar:
    """Return how many mm the tie rod's outer joint must rise for no bump steer at ride height.

    Its line must meet the axis about which the arms let the knuckle turn, which is where their two planes meet: the outer joint
    then lies in the plane through that axis and the inner joint. Raising the inner joint does the same the other way.
    See :data:`CAUTION`.

    Raises:
        LinkageError: no tie rod was measured.

    >>> from susgeo import load_car
    >>> round(shim(load_car("data/club_coupe.toml").front), 1)
    -0.3
    """
    if front.tie_rod is None:
        raise LinkageError("There is no tie rod; add a table [front.tie_rod] to the car's file.")
    a, b, c, k = (getattr(join(front.tie_rod.chassis, _arms_axis(front)), name) for name in "abck")
    x, y, z = coordinates(front.tie_rod.axle)
    return quotient(-(a * x + b * y + k), c) - z


def _arms_axis(front: IndependentFront) -> Line:
    return meet(front.lower.plane, front.upper.plane)
