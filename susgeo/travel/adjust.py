"""Rods of another length: what each does to the axle, and which lengths put it where it is wanted, exactly.

Heave and roll are held, as by a car on its springs at ride height. Turns as in :mod:`susgeo.travel.live`.
"""

from dataclasses import replace

import numpy as np

from ..car.axle import LiveAxle
from ..errors import MeasurementError
from ..geometry.space import outside
from .live import UNKNOWN, held_axle, straight_rods
from .newton import PITCH, YAW, Array, X, Y


def rates(axle: LiveAxle) -> dict[str, dict[str, float]]:
    """Return what each rod, and each pair, does to the axle for each mm that it gets longer.

    How far the middle of the axle moves, x and y in mm, and turns, pitch and yaw in rad. Of five rods the upper pair
    counts as one.

    Args:
        axle: of plain numbers, at rest.

    >>> from susgeo import load_car
    >>> round(float(np.degrees(rates(load_car("data/three_link.toml").rear)["upper link"]["pitch"])), 3)
    -0.252
    """
    system, names = held_axle(axle, heave=0.0, roll=0.0)[0], [rod.name for rod in straight_rods(axle)]
    longer = {name: {name: 1.0} for name in names}
    for height, group in (("lower", axle.lower), ("upper", axle.upper)):
        if len(group) == 2:
            longer[f"both {height} links"] = {link.name: 1.0 for link in group}
    if len(axle.lower) == 2:
        left, right = (link.name for link in axle.lower)
        longer["left lower link, and the right one as much shorter"] = {left: 1.0, right: -1.0}
    goal = np.array([[each.get(name, 0.0) for each in longer.values()] for name in names])
    if system.as_one is not None:
        one, other = system.as_one
        goal[one] += goal[other]
        goal = np.delete(goal, other, axis=0)
    jacobian = system.evaluate(system.at_rest, [*UNKNOWN, *range(6, len(system.at_rest))])[1]
    moves = np.linalg.lstsq(jacobian[..., 0], goal, rcond=None)[0]
    return {name: dict(zip(_PLACES, move, strict=False)) for name, move in zip(longer, moves.T.tolist(), strict=True)}


_PLACES = {"x": X, "y": Y, "pitch": PITCH, "yaw": YAW}


def lengths_for(axle: LiveAxle, **wanted: float) -> dict[str, float]:
    """Return how many mm longer each rod must be for the axle to stand moved by x, y (mm) and turned by pitch, yaw (rad).

    Exact, not for small changes only. Cranks turn so that their rods change least.

    >>> from susgeo import load_car
    >>> found = lengths_for(load_car("data/three_link.toml").rear, pitch=np.radians(-2), yaw=np.radians(0.2))
    >>> {name: round(change, 2) for name, change in found.items()}
    {'left lower link': -0.69, 'right lower link': -4.12, 'upper link': 5.47, 'Panhard bar': -0.41}
    """
    system = replace(held_axle(axle, heave=0.0, roll=0.0)[0], as_one=None)
    q: Array = np.array(system.at_rest)
    for name, value in wanted.items():
        if name in ("pitch", "yaw") and (problem := outside("angle", value)):
            raise MeasurementError(name, problem)
        q[_PLACES[name], 0] = value
    turns = list(range(6, len(q)))
    for _ in range(10 if turns else 0):
        stretch, jacobian = system.evaluate(q, turns)
        q[turns, 0] -= np.linalg.lstsq(jacobian[..., 0], stretch[:, 0], rcond=None)[0]
    changes = system.evaluate(q, ())[0][:, 0]
    return {rod.name: float(change) for rod, change in zip(straight_rods(axle), changes, strict=True)}
