"""Rods of another length: where the axle then stands, exactly, and which lengths put it where it is wanted.

Heave and roll are held, as by a car on its springs at ride height. Turns as in :mod:`susgeo.travel.live`.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..car.axle import LiveAxle
from ..errors import LinkageError, MeasurementError
from ..geometry.space import outside
from .live import UNKNOWN, held_axle, straight_rods
from .newton import PITCH, YAW, Array, X, Y


def adjusted(axle: LiveAxle, longer: Mapping[str, float], linear: bool = False) -> dict[str, float]:
    """Return how far the middle of the axle moves, x and y in mm, and turns, pitch and yaw in rad.

    Args:
        axle: of plain numbers, at rest.
        longer: how many mm longer each rod is than at rest, by the names of :func:`susgeo.travel.live.straight_rods`;
            of five rods the upper pair counts as one.
        linear: the first step alone: the rates for small changes.

    Raises:
        LinkageError: there is no such rod, or the axle cannot be put together with these lengths.

    >>> from susgeo import load_car
    >>> moved = adjusted(load_car("data/three_link.toml").rear, {"upper link": 3.0})
    >>> round(float(np.degrees(moved["pitch"])), 2)
    -0.76
    """
    system, names = held_axle(axle, heave=0.0, roll=0.0)[0], [rod.name for rod in straight_rods(axle)]
    unknown = set(longer) - set(names)
    if unknown:
        raise LinkageError(f"There is no rod called {unknown.pop()} on this axle; there are {', '.join(names)}.")
    goal = np.array([longer.get(name, 0.0) for name in names])
    if system.as_one is not None:
        one, other = system.as_one
        goal = np.r_[goal[:one], goal[one] + goal[other], goal[other + 1 :]]
    q = np.array(system.at_rest)
    free = [*UNKNOWN, *range(6, len(q))]
    for _ in range(1 if linear else 25):
        off, jacobian = system.evaluate(q, free)
        step = np.linalg.lstsq(jacobian[..., 0], goal - off[:, 0], rcond=None)[0]
        q[free, 0] += step
        if linear or np.abs(step).max() < 1e-10:
            return {name: float(q[place, 0]) for name, place in _PLACES.items()}
    raise LinkageError("The axle cannot be put together with rods of these lengths; take smaller changes.")


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
