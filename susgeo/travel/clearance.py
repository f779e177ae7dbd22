"""The metal around the lines: clearance of a link's real shape, straight or bent, over the whole travel."""

from collections.abc import Sequence
from typing import cast

import numpy as np

from ..errors import LinkageError, SusgeoError, expect, several
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, alone, finite
from ..geometry.space import Point, outside
from .live import Travel, straight_rods
from .newton import Array, Part, floats


def clearance(
    states: Travel,
    rod: str,
    shape: Sequence[Point],
    radius: float,
    obstacle: Sequence[Point],
    obstacle_radius: float = 0.0,
    on: Part = "chassis",
) -> Scalar:
    """Return the gap between a link's metal and an obstacle at every state, in mm; negative where they touch.

    Both are tubes along a line of points, given at rest in body axes. The link goes with its joints, turned
    the shortest way in the body, without a twist about the line between its joints: as rubber joints hold it.
    One on rod ends can flop over: leave it room on every side.

    Args:
        states: what :func:`susgeo.travel.live.solve_travel` returned for a live axle.
        rod: name of the link, one of ``states.names``.
        shape: points along the middle of the metal, straight or bent, one or more.
        radius: half of the link's thickness.
        obstacle: points along the obstacle's middle; a single one for a ball.
        obstacle_radius: half of its thickness.
        on: the part that carries the obstacle, "chassis" or "axle".

    >>> from susgeo import Point, load_car, solve_travel
    >>> states = solve_travel(load_car("data/three_link.toml").rear, heave=[-60, 0, 60])
    >>> shape = Point(0, 500, 240), Point(300, 450, 265), Point(600, 400, 290)
    >>> clearance(states, "left lower link", shape, 16, [Point(300, 450, 400)], 40).round(1).tolist()
    [107.0, 78.5, 49.0]
    """
    expect(Travel, states=states)
    if rod not in states.names:
        raise LinkageError(f"Expected the name of one rod, got {rod}; this axle has: {', '.join(states.names)}.")
    still, now = (straight_rods(axle)[states.names.index(rod)] for axle in (states.axle, states.moved))
    grid = np.shape(states.reached)

    def place(point: Point) -> Array:
        return np.stack([np.broadcast_to(value, grid) for value in floats(*coordinates(point))])

    foot, base = place(states.in_body(now.chassis)), place(still.chassis)
    goes, was = place(states.in_body(now.axle)) - foot, place(still.axle) - base
    goes, was = goes / np.linalg.norm(goes, axis=0), was / np.linalg.norm(was, axis=0)
    axis, cosine = np.cross(was, goes, axis=0), np.sum(was * goes, axis=0)

    def carry(point: Point) -> Array:
        arm = place(point) - base  # Rodrigues' formula, from the one direction to the other
        along = axis * np.sum(axis * arm, axis=0) / (1 + cosine)
        return foot + arm * cosine + np.cross(axis, arm, axis=0) + along

    shape, obstacle = several(Point, shape=shape), several(Point, obstacle=obstacle)
    if not (shape and obstacle) or str(on) not in ("axle", "chassis"):
        raise SusgeoError(
            f'Expected points of the link and of the obstacle, and on="axle" or "chassis"; got on={on!r}.'
        )
    for name, size in (("radius", radius), ("obstacle_radius", obstacle_radius)):
        if problem := outside("rate", finite(size, name)):
            raise SusgeoError(f"{name}: {problem}")
    metal = _pieces([carry(point) for point in shape])
    other = _pieces([place(states.in_body(states.carried(p)) if on == "axle" else p) for p in obstacle])
    gap = np.min([_apart(*piece, *edge) for piece in metal for edge in other], axis=0)
    return alone(np.where(states.reached, gap - radius - obstacle_radius, np.nan))


def _pieces(points: list[Array]) -> list[tuple[Array, Array]]:
    """Return the segments between points; a single point is a segment of no length."""
    return list(zip(points, points[1:] or points, strict=False))


def _apart(a: Array, b: Array, c: Array, d: Array) -> Array:
    """Return the distance between the segments ab and cd, of any length, zero included.

    Source: C. Ericson, Real-Time Collision Detection, 2005, section 5.1.9 (from memory).
    """
    u, v, w = b - a, d - c, a - c
    uu, uv, vv, uw, vw = (np.sum(p * q, axis=0) for p, q in ((u, u), (u, v), (v, v), (u, w), (v, w)))

    def share(numerator: Array, denominator: Array) -> Array:
        return np.clip(numerator / np.where(denominator > 0, denominator, np.inf), 0, 1)

    s = share(uv * vw - vv * uw, uu * vv - uv * uv)
    t = share(uv * s + vw, vv)
    s = share(uv * t - uw, uu)
    return cast(Array, np.linalg.norm(w + s * u - t * v, axis=0))
