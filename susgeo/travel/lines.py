"""Springs, dampers and drop links through travel: where both ends of such a line are at every state.

In the frame of the moved axle (:attr:`susgeo.travel.live.Travel.moved`, :attr:`susgeo.travel.wheel.WheelTravel.moved`),
so that motion ratios and rates there come from the same code as at rest. A link carries a seat without
twisting about its own line, an arm by turning about its pivots.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeVar

from ..car import coils
from ..car.car import Springs
from ..car.coils import Damper, minus, on_the_right
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, cross, dot, quotient
from ..geometry.space import Point
from .live import Travel
from .newton import Vector, floats
from .wheel import WheelTravel

Kind = TypeVar("Kind", bound=Damper)


def moved_line(travel: Travel | WheelTravel, at: Kind, side: str = "left") -> Kind:
    """Return a line of the left side, or its mirror image on the right, at every state of a travel.

    Its ``length`` is then that of spring or damper, and ``length`` at rest less that is how far it is pushed in.

    >>> from susgeo import load_car, solve_travel
    >>> from susgeo.car.coils import Coil
    >>> coil = Coil(Point(-80, 470, 250), Point(-50, 350, 580), rate=27)
    >>> states = solve_travel(load_car("data/three_link.toml").rear, heave=[-1.0, 1.0])
    >>> below, above = moved_line(states, coil).length.tolist()
    >>> round((below - above) / 2, 4)
    0.9718
    """
    if side == "right" and isinstance(travel, WheelTravel):
        return on_the_right(moved_line(travel, at))
    whole = at if side == "left" else on_the_right(at)
    top = travel.carried(whole.chassis, "chassis")
    if at.on in ("axle", "knuckle"):
        return replace(at, axle=travel.carried(whole.axle), chassis=top)
    joints = coils.joints(coils.carrier(travel.axle, at, side))
    outer = travel.in_body(travel.carried(joints[-1]))
    seat = swung([_at(joint) for joint in joints], _at(whole.axle), _at(outer))
    return replace(at, axle=travel.carried(Point(*seat), "chassis"), chassis=top)


def swung(joints: Sequence[Vector], seat: Vector, outer: Vector) -> Vector:
    """Return where a seat on a link or arm comes to as its outer joint moves; all in body axes.

    Args:
        joints: at rest; of a link the inner and the outer one, of an arm its two pivots and the ball joint.
        seat: at rest. outer: where the last of the joints has come to.
    """
    lever, before, after = (minus(point, joints[0]) for point in (seat, joints[-1], outer))
    if len(joints) == 2:
        both, size = tuple(a + b for a, b in zip(before, after, strict=True)), dot(before, before)
        back = quotient(dot(both, lever), size + dot(before, after))
        on = 2 * quotient(dot(before, lever), size)
        x, y, z = (c + v - back * s + on * b for c, v, s, b in zip(joints[0], lever, both, after, strict=True))
        return x, y, z
    hinge = minus(joints[1], joints[0])
    length, way, path = dot(hinge, hinge), cross(hinge, before), cross(hinge, after)  # square to the hinge
    size = dot(way, way)
    cosine, sine = quotient(dot(way, path), size), quotient(dot(hinge, cross(way, path)), size * length)
    along, turned = quotient(dot(hinge, lever), length), cross(hinge, lever)
    parts = zip(joints[0], lever, turned, hinge, strict=True)
    x, y, z = (p + v * cosine + w * sine + n * along * (1 - cosine) for p, v, w, n in parts)
    return x, y, z


def moved_springs(travel: Travel | WheelTravel, springs: Springs | None) -> Springs | None:
    """Return an axle's springs with all their lines at every state of a travel; the left side's."""
    if springs is None:
        return None
    lines: dict[str, Any] = {"coil": springs.coil, "damper": springs.damper, "bar": springs.bar}
    return replace(springs, **{name: at and moved_line(travel, at) for name, at in lines.items()})


def _at(point: Point) -> tuple[Scalar, Scalar, Scalar]:
    x, y, z = floats(*coordinates(point))
    return x, y, z
