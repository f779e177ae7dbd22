"""What the library says to the lines of lesson 11: its exact derivatives, and axles with a bracket moved."""

import math

from susgeo import dimension, effects, moved
from susgeo.results.rows import place

CENTER, ROLL = "rear side-view instant center x", "rear roll center height"


def _effect(car, name):
    """The effect of each height on one quantity, by the derivatives that the library carries along."""
    found = effects(car, [name])[name]
    return {spot.removeprefix("rear."): rate for spot, rate in found.items() if spot.endswith(".z")}


def _links(car):
    found = _effect(car, CENTER)
    return {
        f"d_{link[0].upper()}{end[0].upper()}": found[f"{link}.{end}.z"]
        for link in ("upper", "lower")
        for end in ("axle", "chassis")
    }


def _ahead(axle):
    return place(axle.side_view_instant_center, "x")


def _near_parallel(car):
    at = "rear.upper.chassis.z"
    raised = moved(car, {at: dimension(car, at) + 6})
    shift, first = _ahead(raised.rear) - _ahead(car.rear), 6 * effects(car, [CENTER])[CENTER][at]
    z_JC = place(raised.rear.side_view_instant_center, "z")
    return {"x_JC": _ahead(raised.rear), "z_JC": z_JC, "shift": shift, "first": first, "miss": shift - first}


def _roll(car):
    found = _effect(car, ROLL)
    rates = [found[f"{part}.{end}.z"] for part in ("locator", "lower") for end in ("axle", "chassis")]
    names = ("d_BA", "d_BC", "d_LA", "d_LC")
    return dict(zip(names, rates, strict=True)) | {"e_R": 3 * math.hypot(*rates)}


TRUTH = {
    "one_bracket": lambda car: {"x_IC": _ahead(car.rear), "d_UC": _links(car)["d_UC"]},
    "tape_center": lambda car: (
        _links(car)
        | {
            "x_IC": _ahead(car.rear),
            "z_IC": place(car.rear.side_view_instant_center, "z"),
            "e_x": 3 * math.hypot(*_links(car).values()),
            "w_x": 3 * sum(map(abs, _links(car).values())),
        }
    ),
    "tape_repeat": lambda car: {"N": (3 * _links(car)["d_UC"] / 40) ** 2},
    "tape_roll_center": _roll,
    "near_parallel": _near_parallel,
}
