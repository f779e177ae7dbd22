"""What the library's geometry says to the lines of lesson 04."""

import math

import numpy as np

from susgeo import moved
from susgeo.car.rods import matrix
from susgeo.results.rows import place


def _held(car):
    """Return the sideways stiffness of the upper pair, level, in parts of one link's: from the rods' matrix."""
    level = moved(car, {"rear.upper.chassis.z": car.rear.upper[0].axle.z}).rear
    return float(np.sum(matrix([link.line for link in level.upper])[:, 1] ** 2))


def _angle(car):
    """Return the angle of the upper links in plan, by the dot product of their lines."""
    left, right = (np.array([link.line.dx, link.line.dy], float) for link in car.rear.upper)
    return math.acos(left @ right / np.linalg.norm(left) / np.linalg.norm(right)) / 2


def _upper_part(car):
    """Return the upper links' part of a sideways force at the wheel centers, in percent: statics of the rods."""
    rows = matrix(car.rear.lines)
    # Fore and aft, sideways, pitch and yaw are the rods' own; heave and roll are left to the springs.
    pulls = np.linalg.solve(rows[:, [0, 1, 4, 5]].T, [0, 1, 0, 0])
    return 100 * float(pulls[2:] @ rows[2:, 1])


def _turned(car, offset):
    return place(
        moved(car, {"rear.lower.chassis.y": car.rear.lower[0].chassis.y + offset}).rear.convergence("lower"), "x"
    )


def _parallel(car):
    """Return how far out the chassis ends must go for the links to meet nowhere: their weight is then zero."""
    closing = car.rear.lower[0].axle.y - car.rear.lower[0].chassis.y
    assert moved(car, {"rear.lower.chassis.y": car.rear.lower[0].chassis.y + closing}).rear.convergence("lower").w == 0
    return closing


TRUTH = {
    "centering": lambda car: {
        "a": _angle(car),
        "x_P": place(car.rear.convergence("upper"), "x"),
        "K": 2000 * _held(car),
        "C": 100 * _held(car),
    },
    "two_pairs": lambda car: {
        "x_Q": place(car.rear.convergence("lower"), "x"),
        "x_P": place(car.rear.convergence("upper"), "x"),
        "u": _upper_part(car),
    },
    "bushing": lambda car: {
        "x_0": _turned(car, 0),
        "x_Q": _turned(car, 8),
        "D": _turned(car, 8) - _turned(car, 0),
        "o_p": _parallel(car),
        "o_2": _parallel(car) / 2,
    },
}
