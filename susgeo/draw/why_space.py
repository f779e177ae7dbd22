"""The picture in space: four rods and the two lines that touch them all, as one walks around the axle."""

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..car.axle import LiveAxle
from ..car.rods import transversals
from ..errors import SusgeoError
from ..geometry.measure import coordinates
from ..geometry.space import Line
from ..travel.live import straight_rods
from .live_parts import around, rod
from .sketch import Pair, Sketch

TILT = math.radians(18)
"""How far the eye looks down."""
FAR = 3600.0
"""What touches farther from the axle's middle, in mm, is left out."""
ROOM = (-900.0, 3350.0, -260.0, 1480.0)
"""The part of what the eye sees that is shown."""


@dataclass(frozen=True, slots=True)
class Walk:
    """An axle with four rods and a place to look at it from: ``turn`` degrees around, from straight behind.

    ``draw.axle(Walk(axle, 30), views=("front",))`` draws it; on a bench :func:`walked` is what a slider moves.
    """

    axle: LiveAxle
    turn: float = 30.0


def walked(walk: Walk, turn: float) -> Walk:
    """Return the same axle seen from another side."""
    return replace(walk, turn=float(turn))


def in_space(sketch: Sketch, walk: Walk) -> None:
    """Draw the rods, their lines as far as they are touched, and the two axes with a mark at every touch."""
    axle, turn = walk.axle, math.radians(walk.turn)
    radius, half = float(axle.tire_radius), float(axle.track) / 2

    def seen(place: Any) -> Pair:
        x, y, z = (float(part) for part in place)
        across, deep = -y * math.cos(turn) + x * math.sin(turn), x * math.cos(turn) + y * math.sin(turn)
        return across, z * math.cos(TILT) + deep * math.sin(TILT)

    sketch.say(f"The axle in space, seen from {walk.turn:.0f} degrees round from straight behind, and from above.")
    for side in (1, -1):
        rim = [seen((radius * math.cos(t), side * half, radius + radius * math.sin(t))) for t in around(48)]
        sketch.path(f"tire {side}", rim, "tire")
    sketch.path("beam", [seen((0, half, radius)), seen((0, -half, radius))], "beam")
    rods = straight_rods(axle)
    if len(rods) != 4:
        raise SusgeoError(f"The needle touches four straight rods; this axle has {len(rods)}.")
    axes = transversals([rod.line for rod in rods])
    touched: dict[str, list[Any]] = {rod.name: [] for rod in rods}
    for number, axis in enumerate(axes, 1):
        places = {rod.name: _touch(axis, rod.line) for rod in rods}
        near = [place for place in places.values() if place is not None and np.abs(place).max() < FAR]
        along = np.array([float(axis.dx), float(axis.dy), float(axis.dz)])
        along /= np.linalg.norm(along)
        spots = sorted(float(place @ along) for place in near) or [0.0]
        foot = _foot(axis)
        sketch.path(f"axis {number}", [seen(foot + t * along) for t in (spots[0] - 250, spots[-1] + 250)], "result")
        for name, place in places.items():
            if place is None:
                sketch.say(f"Axis {number} is parallel to the {name}: it touches it at infinity.")
            elif np.abs(place).max() < FAR:
                touched[name].append(place)
                sketch.dot(f"axis {number} on {name}", seen(place), "meet")
        sketch.label(f"axis {number} name", seen(foot + (spots[-1] + 250) * along), f"axis {number}", "result name")
    for link in rods:
        ends = [np.array(coordinates(end), float) for end in (link.axle, link.chassis)]
        for k, place in enumerate(touched[link.name]):
            nearest = min(ends, key=lambda end: float(np.linalg.norm(end - place)))
            sketch.path(f"{link.name} line {k}", [seen(nearest), seen(place)], "construction")
        rod(sketch, link.name, seen(ends[0]), seen(ends[1]))
    touching = "Each of two straight lines touches all four rods, or their extensions"
    sketch.say(f"{touching}: the axes about which the axle can turn.")


def _foot(line: Line) -> Any:
    """Return the point of a line nearest to the origin."""
    way, moment = (np.array([float(part) for part in three]) for three in
                   ((line.dx, line.dy, line.dz), (line.mx, line.my, line.mz)))  # fmt: skip
    return np.cross(way, moment) / (way @ way)


def _touch(one: Line, other: Line) -> Any:
    """Return where two lines that meet do so; None where they are parallel."""
    a, b = (np.array([float(line.dx), float(line.dy), float(line.dz)]) for line in (one, other))
    across = np.cross(a, b)
    if across @ across < 1e-18 * (a @ a) * (b @ b):
        return None
    p, q = _foot(one), _foot(other)
    return p + a * (np.cross(q - p, b) @ across) / (across @ across)
