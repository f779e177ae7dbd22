"""What the library's geometry says to the lines of lesson 05."""

from dataclasses import replace

from mpmath import cos, findroot, mp, mpf, sin
from scipy.optimize import brentq

from susgeo import MumfordLinkage, PanhardBar, Point, meet, moved, project
from susgeo.car.links import Link, mirror
from susgeo.geometry.measure import coordinates
from susgeo.results.rows import place


def _level(car):
    """Return a car's bar, set level."""
    return moved(car, {"rear.locator.chassis.z": car.rear.locator.axle.z}).rear.locator


def _pulled(bar, rise):
    """Return how far aside a bar's axle end must be for the bar to keep its length when the end rises."""
    x, y, z, _ = bar.axle

    def too_long(aside):
        return PanhardBar(Point(x, y - aside, z + rise), bar.chassis).length - bar.length

    return brentq(too_long, 0, 300, xtol=1e-13)


def _risen(bar, aside):
    """Return how far a bar's axle end has risen when the bar, of one length, has pulled it aside by so much."""
    return brentq(lambda rise: _pulled(bar, rise) - aside, 1, 300, xtol=1e-12)


def _rods_meet(held):
    """Return where the lines of a Watt's two rods meet, seen from behind."""
    rods = (Link(held.left_crank, held.left_end), Link(held.right_crank, held.right_end))
    return coordinates(meet(*(project(rod.line, "front") for rod in rods)))


def _strayed(held, rise):
    """Return how far aside a Watt's pivot goes, in thousandths of a mm: from its rods' lengths, to lowest order.

    Solved with 80 digits for a rise so small that higher orders vanish, then scaled by its fifth power.
    """
    mp.dps = 80
    rod, half = mpf(held.left_end.y - held.left_crank.y), mpf(held.left_crank.z - held.pivot.z)
    up = mpf(10) ** -8

    def stretched(aside, turn):
        return tuple(
            (side * rod - aside - side * half * sin(turn)) ** 2
            + (side * half - up - side * half * cos(turn)) ** 2
            - rod**2
            for side in (1, -1)
        )

    aside, _ = findroot(stretched, (mpf(0), up**2 / (2 * rod * half)), tol=mpf(10) ** -150)
    return float(1000 * abs(aside) * (rise / up) ** 5)


def _alike(held):
    """Return a Mumford linkage with its right side made like the left one, but for the center link's joint."""
    right = {f"right_{part}": mirror(getattr(held, f"left_{part}")) for part in ("pivot", "crank", "end")}
    x, y, z, _ = held.left_center
    below = 2 * held.left_pivot.z - z
    return MumfordLinkage(**{
        **{name: getattr(held, name) for name in ("left_pivot", "left_crank", "left_end", "left_center")},
        **right,
        "right_center": Point(x, -y, below),
    })  # fmt: skip


TRUTH = {
    "bar": lambda car: {"z_P": place(car.rear.locator_point, "z")},
    "shift": lambda car: {"l": _level(car).length, "e": _pulled(_level(car), 75)},
    "allowed_rise": lambda car: {"l": _level(car).length, "d": _risen(_level(car), 4)},
    "watt_error": lambda car: {"e": _strayed(car.rear.locator, 80)},
    "watt": lambda car: {
        "y_M": _rods_meet(car.rear.locator)[0],
        "z_M": _rods_meet(car.rear.locator)[1],
        "z_P": place(car.rear.locator_point, "z"),
    },
    "mumford": lambda car: {"z_P": place(replace(car.rear, locator=_alike(car.rear.locator)).locator_point, "z")},
}
