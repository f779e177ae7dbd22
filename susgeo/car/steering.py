"""The steering axis of an independent front wheel, and the height of the tie rod that steers nothing in bump.

The axis runs through the lower ball joint and the upper one, or the strut's top mount. Caster is positive with its top
rearward, inclination with its top inward. On the ground it lies ahead of the wheel center by the trail, and inward of
the tire's middle by the scrub radius. Source: the trade's terms (SAE J670, from memory); geometry derived here.
"""

from ..errors import LinkageError
from ..geometry.incidence import meet
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, atan, cross, quotient
from ..geometry.space import GROUND
from .front import IndependentFront
from .locators import combine

CAUTION = (
    "Only shims and spacers that the maker of the steering allows; every one takes thread or taper from a joint that "
    "holds the wheel. A qualified person checks lock, clearance, and the split pins before the car moves."
)


def axis_numbers(front: IndependentFront) -> tuple[Scalar, Scalar, Scalar, Scalar]:
    """Return caster and inclination in rad, scrub radius and trail in mm.

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
    Raising the inner joint does the same the other way. See :data:`CAUTION`.

    Args:
        front: an independent front with its tie rod.

    Raises:
        LinkageError: no tie rod was measured.

    >>> from susgeo import load_car
    >>> round(shim(load_car("data/club_coupe.toml").front), 2)
    -0.13
    """
    if front.tie_rod is None:
        raise LinkageError("There is no tie rod; add a table [front.tie_rod] to the car's file.")
    arms, steer = meet(front.lower.plane, front.upper.plane), front.steering_axis
    turn = combine(steer.dz, arms, -arms.dz, steer)
    outer, inner = map(coordinates, (front.tie_rod.axle, front.tie_rod.chassis))
    x, y, z = inner
    path = cross((turn.dx, turn.dy, turn.dz), inner)
    ahead, left, up = turn.mx + path[0], turn.my + path[1], turn.mz + path[2]
    return z + quotient((x - outer[0]) * ahead + (y - outer[1]) * left, up) - outer[2]
