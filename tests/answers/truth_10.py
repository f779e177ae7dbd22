"""What the library says to lesson 10's lines: the rods' forces from the transpose of their matrix."""

from susgeo import TireForces, buckling_load, moved, rod_forces
from susgeo.geometry.flat import FlatLine
from susgeo.geometry.incidence import meet, project
from susgeo.geometry.measure import coordinates


def _forces(axle, ahead=0.0, side=0.0, own=0.0):
    """Return the rods' forces under a push of both tires, and of the axle's own mass at the wheel centers."""
    each = (ahead / 2, side / 2, 0.0)
    return rod_forces(axle, TireForces(each, each, (0.0, own, 0.0))).tension


def _crossing(link):
    """Return how high a link's line passes the upright through the wheel centers."""
    return coordinates(meet(project(link.line, "side"), FlatLine("side", 1, 0, 0)))[1]


def _drive(car):
    found = _forces(car.rear, ahead=4 * car.weight.mass)
    return {
        "z_D": _crossing(car.rear.lower[0]),
        "z_E": _crossing(car.rear.upper[0]),
        "T_U": found["upper link"],
        "T_L": found["left lower link"],
    }


def _brake(car):
    found = _forces(car.rear, ahead=-6 * car.weight.mass * (1 - car.brake_front_share))
    return {"z_E": _crossing(car.rear.upper[0]), "T_U": found[car.rear.upper[1].name]}


def _bar(car):
    weight, axle = car.weight, moved(car.rear, {"locator.axle.z": 440})
    rear = weight.mass * (1 - weight.front_share)
    found = _forces(axle, side=6 * rear, own=-6 * weight.rear_unsprung_mass)
    return {"T_B": found["Panhard bar"]}


def _splayed(car):
    force = _forces(car.rear, side=6 * car.weight.mass * (1 - car.weight.front_share))["right upper link"]
    return {"T_R": force, "M": 16_000 / force}


def _tube(car):
    load = buckling_load(car.rear.lower[0].length, 18, 2)
    return {"F_cr": load, "M": load / 7000}


TRUTH = {"drive_links": _drive, "brake_links": _brake, "bar_load": _bar, "splayed_load": _splayed, "tube": _tube}
