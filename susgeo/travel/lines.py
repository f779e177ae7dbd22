"""Springs, dampers and drop links through travel: where both ends of such a line are at every state.

In the frame of the moved axle (:attr:`susgeo.travel.live.Travel.moved`, :attr:`susgeo.travel.wheel.WheelTravel.moved`),
so that motion ratios and rates there come from the same code as at rest. A link carries a seat without
twisting about its own line, an arm by turning about its pivots.
"""

from dataclasses import replace
from typing import Any, TypeVar

from ..car.car import Springs
from ..car.coils import Damper, carrier, cross, minus
from ..car.links import Link
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, dot, quotient
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
    sign = 1 if side == "left" else -1
    seat, top = (Point(p.x, sign * p.y, p.z, p.w) for p in (at.axle, at.chassis))
    body = _body(travel, top)
    if at.on in ("axle", "knuckle"):
        return replace(at, axle=travel.carried(seat), chassis=body)
    part, now = carrier(travel.axle, at, side), carrier(travel.moved, at, side)
    if isinstance(part, Link) and isinstance(now, Link) and isinstance(travel, Travel):
        inner = _at(part.chassis)
        before = minus(_at(part.axle), inner)
        after = minus(_at(travel.in_body(now.axle)), inner)
        lever, both = minus(_at(seat), inner), tuple(a + b for a, b in zip(before, after, strict=True))
        size = dot(before, before)
        back = quotient(dot(both, lever), size + dot(before, after))
        on = 2 * quotient(dot(before, lever), size)
        place = tuple(c + v - back * s + on * b for c, v, s, b in zip(inner, lever, both, after, strict=True))
        return replace(at, axle=_body(travel, Point(*place)), chassis=body)
    old, new = (tuple(map(_at, (a.front_pivot, a.rear_pivot, a.ball_joint))) for a in (part, now))  # type: ignore[union-attr]
    hinge: Vector = minus(old[1], old[0])
    length = dot(hinge, hinge)
    way, path = (cross(hinge, minus(ends[2], ends[0])) for ends in (old, new))  # square to the hinge
    size = dot(way, way)
    cosine, sine = quotient(dot(way, path), size), quotient(dot(hinge, cross(way, path)), size * length)
    lever = minus(_at(seat), old[0])
    along, turned = quotient(dot(hinge, lever), length), cross(hinge, lever)
    place = tuple(
        p + v * cosine + w * sine + n * along * (1 - cosine)
        for p, v, w, n in zip(new[0], lever, turned, hinge, strict=True)
    )
    return replace(at, axle=Point(*place), chassis=body)


def moved_springs(travel: Travel | WheelTravel, springs: Springs | None) -> Springs | None:
    """Return an axle's springs with all their lines at every state of a travel; the left side's."""
    if springs is None:
        return None
    names = ("coil", "damper", "bar")
    lines: dict[str, Any] = {name: getattr(springs, name) for name in names}
    return replace(springs, **{name: at and moved_line(travel, at) for name, at in lines.items()})


def _body(travel: Travel | WheelTravel, point: Point) -> Point:
    return travel.carried(point, "chassis")


def _at(point: Point) -> tuple[Scalar, Scalar, Scalar]:
    x, y, z = floats(*coordinates(point))
    return x, y, z
