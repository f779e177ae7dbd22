"""What the library's geometry says to the lines of lesson 07: two planes, so the tie rod is left out."""

import math
from dataclasses import replace

from susgeo import FlatLine, FlatPoint, join, meet, moved, project, slope
from susgeo.car.pickup import dimension
from susgeo.geometry.measure import coordinates
from susgeo.loads.anti import anti_dive

BODY = ("front.lower.front_pivot.z", "front.lower.rear_pivot.z", "front.upper.top_mount.z")


def lowered(car, drop):
    """The body comes down; the low point goes with it only to keep the strut's lean, as on paper."""
    places = (*BODY, "front.upper.lower_point.z")
    return moved(car, {place: dimension(car, place) - drop for place in places})


def front_view(car):
    (y, z), front = coordinates(car.front.front_view_instant_center), car.front
    patch = FlatPoint("front", front.contact_patch.y, 0)
    return {
        "y_IC": y,
        "z_IC": z,
        "y_C": front.contact_patch.y,
        "k": -slope(join(patch, front.front_view_instant_center)),
        "z_R": front.roll_center_height,
    }


def side_view(car):
    x, z = coordinates(car.front.side_view_instant_center)
    return {"x_IC": x, "z_IC": z, "k": -slope(car.front.side_view_instant_center), "AD": anti_dive(car)}


def drop(car):
    before, after = car.front.roll_center_height, lowered(car, 20).front.roll_center_height
    y, z = coordinates(lowered(car, 20).front.front_view_instant_center)
    return {"R_0": before, "R_1": after, "drop": before - after, "y_IC": y, "z_IC": z}


def in_bend(car):
    """The camber that the knuckle's own motion gives for each mm of rise, beside the body's lean."""
    phi, rise = math.radians(2), math.radians(2) * car.front.track / 2
    back = -car.front.camber_change * rise
    return {"y_IC": coordinates(car.front.front_view_instant_center)[0], "back": back, "out": phi - back}


def aim(car):
    """A tie rod on the line through its inner joint and the instant center hardly steers (0.003 deg/mm is asked for).

    The trade's rule; the library's own bump steer, of the knuckle solved on five rods, knows nothing of that line.
    """
    bare, rod = replace(car.front, tie_rod=None), car.front.tie_rod
    center, there = bare.front_view_instant_center, coordinates(rod.axle)
    line = join(project(rod.chassis, "front"), center)
    point = meet(line, FlatLine("front", 1, 0, -there[1]))
    height = float(point.v / point.w)
    assert abs(math.degrees(moved(car, {"front.tie_rod.axle.z": height}).front.bump_steer)) < 0.0015
    (y, z), slope_of = coordinates(center), slope(line)
    return {"y_IC": y, "z_IC": z, "s_T": slope_of, "z_TA": height}


def _bare(truth):
    return lambda car: truth(replace(car, front=replace(car.front, tie_rod=None)))


TRUTH = {
    "wishbone_front": _bare(front_view),
    "wheel_in_bend": _bare(in_bend),
    "strut_front": _bare(front_view),
    "tie_rod_aim": aim,
    "strut_lowered": _bare(drop),
    "strut_side": _bare(side_view),
}
