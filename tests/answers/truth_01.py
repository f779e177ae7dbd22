"""What the library's geometry says to the lines of lesson 01."""

from susgeo import moved
from susgeo.results.rows import place

OUT = 35


def _meets(car, out):
    link = car.rear.lower[0]
    wider = {"rear.lower.axle.y": link.axle.y + out, "rear.lower.chassis.y": link.chassis.y + out}
    return place(moved(car, wider).rear.convergence("lower"), "x")


TRUTH = {
    "wider_axle": lambda car: {"x_0": _meets(car, 0), "x_Q": _meets(car, OUT), "D": _meets(car, OUT) - _meets(car, 0)}
}
