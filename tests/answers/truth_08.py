"""What the library says to the lines of lesson 08: the car's geometry and its free bodies, not the lesson file."""

import math
from dataclasses import replace

from susgeo import Link, LiveAxle, PanhardBar, Point, Springs, cornering, moved, pair, roll_gradient
from susgeo.loads.cornering import moment_arm, roll_stiffness


def beam(axle, height):
    """A front axle with a level bar over it: the roll center is at the bar's height, plain to see."""
    lower = pair(Link(Point(0, 500, 200), Point(-600, 500, 200), "left lower link"))
    upper = (Link(Point(0, 0, 420), Point(-450, 0, 420), "upper link"),)
    bar = PanhardBar(Point(0, 400, height), Point(0, -400, height))
    return LiveAxle(lower, upper, bar, axle.track, axle.tire_radius, "front")


def level(end, height):
    """Where the ends of a bar go that lies level, right over the axle."""
    return {
        f"{end}.locator.{side}.{axis}": value
        for side in ("axle", "chassis")
        for axis, value in (("x", 0.0), ("z", height))
    }


def coupe(car):
    return moved(replace(car, front=beam(car.front, -14)), level("rear", 349))


def tow_car(car):
    return moved(car, level("front", 330) | level("rear", 430))


def corner(car):
    car = tow_car(car)
    found = cornering(car, 6.0)
    return {
        "H": moment_arm(car),
        "K_f": roll_stiffness(car.front_springs),
        "K_r": roll_stiffness(car.rear_springs),
        "phi": roll_gradient(car) * 6.0,
        "F_g": found.rear.geometric,
        "F_e": found.rear.elastic,
        "F_u": found.rear.unsprung,
        "F": found.rear.transfer,
        "F_in": found.tires["rear left"],
    }


def at_once(car):
    """The links' part and the axle's own of a solved corner, with the bar over the wheels at that height."""
    weight = replace(car.weight, front_unsprung_mass=80)
    springs = {"front_springs": Springs(25, 900), "rear_springs": Springs(25, 900)}
    car = replace(car, front=beam(car.rear, 50), weight=weight, **springs)
    rear = cornering(moved(car, level("rear", 340)), 5.0).rear
    return {"F_g": rear.geometric, "F_u": rear.unsprung, "F": rear.geometric + rear.unsprung}


TRUTH = {
    "springs_in_roll": lambda car: {"F_e": roll_stiffness(car.rear_springs) * math.radians(3) / car.rear.track},
    "arm_over_axis": lambda car: {"H": moment_arm(coupe(car))},
    "at_once": at_once,
    "two_beams": corner,
}
