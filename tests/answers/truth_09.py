"""What the library says to the lines of lesson 09: solved travel, the metal's clearance, the rods' matrix."""

import math

import numpy as np
from scipy.optimize import brentq

from susgeo import Point, coordinates, moved
from susgeo.car.rods import stretch
from susgeo.results.rows import place
from susgeo.travel.clearance import clearance
from susgeo.travel.live import solve_travel


def _lifted(axle, joint, lift):
    """Return the travel in which a joint on the axle, at rest at this point, has risen by so much in the body."""

    def missing(heave):
        state = solve_travel(axle, heave)
        return state.in_body(state.carried(joint)).z - joint.z - lift

    return solve_travel(axle, brentq(missing, -150, 150, xtol=1e-13, rtol=1e-14))


def _arc(car):
    low, up = car.rear.lower[0], car.rear.upper[0]
    state = _lifted(car.rear, low.axle, 60)
    lower, upper = (state.in_body(state.carried(link.axle)) for link in (low, up))
    return {"x_N": lower.x, "ahead": lower.x - low.axle.x, "turn": state.pitch, "x_M": upper.x, "z_M": upper.z}


def _bar(car):
    bar, runs = car.rear.locator, []
    for lift in (30, 80):
        state = _lifted(car.rear, bar.axle, lift)
        end = state.in_body(state.carried(bar.axle))
        runs.append(math.hypot(end.x - bar.chassis.x, end.y - bar.chassis.y))  # without what it goes ahead
    return {"u_1": runs[0], "u_2": runs[1], "shift": runs[1] - runs[0]}


def _redraw(car):
    ends = ("lower.chassis.z", "upper.chassis.z", "locator.chassis.z")
    heights = (car.rear.lower[0].chassis.z, car.rear.upper[0].chassis.z, car.rear.locator.chassis.z)
    raised = moved(car.rear, {end: height + 40 for end, height in zip(ends, heights, strict=True)})
    far = coordinates(raised.convergence("lower"))
    return {"z_Q": far[2], "b": raised.roll_steer, "z_R": raised.roll_center_height}


def _tube(car):
    link = car.rear.lower[0]
    state = _lifted(car.rear, link.axle, 60)
    tube = [Point(180, y, 350) for y in (-700, 700)]
    return {"gap": clearance(state, link.name, [link.axle, link.chassis], 16, tube, 25)}


def _bent(car):
    center = car.rear.side_view_instant_center
    line, metal = car.rear.lower[0].line, (200, 190)
    # From the side a line is (-dz, dx, -my); what is left at a point, over dx, is its height above the line.
    left = -line.dz * metal[0] + line.dx * metal[1] - line.my
    return {"x_IC": place(center, "x"), "z_IC": place(center, "z"), "drop": -left / line.dx}


def _bind(car):
    left_upper = car.rear.names.index("left upper link")
    closing = np.asarray(stretch(car.rear.lines, car.rear.roll_axis))[left_upper]
    axis = car.rear.roll_axis
    per_roll = closing * math.hypot(axis.dx, axis.dy, axis.dz) / axis.dx  # rad of roll about x, not of turn
    return {"give": -math.radians(2) * per_roll}


TRUTH = {
    "travel_arc": _arc,
    "travel_bar": _bar,
    "travel_redraw": _redraw,
    "travel_tube": _tube,
    "travel_bent": _bent,
    "travel_bind": _bind,
}
