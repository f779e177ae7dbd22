"""The symbols of the course: what one writes on paper, what it stands for, and its value on a car.

A point of a car has a short name and its coordinates carry it: ``z_UC`` is the height of the upper link's
chassis end. Links that come in pairs are the left ones. Everything is in mm, kg and N; angles are in radians
inside and in degrees on paper.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ..car.car import Car
from ..geometry.measure import coordinates
from ..geometry.scalars import is_array
from ..geometry.space import Point

POINTS: dict[str, tuple[str, str]] = {
    "LA": ("rear.lower.axle", "lower link, axle end"),
    "LC": ("rear.lower.chassis", "lower link, chassis end"),
    "UA": ("rear.upper.axle", "upper link, axle end"),
    "UC": ("rear.upper.chassis", "upper link, chassis end"),
    "BA": ("rear.locator.axle", "Panhard bar, axle end"),
    "BC": ("rear.locator.chassis", "Panhard bar, chassis end"),
    "W": ("rear.locator.pivot", "Watt's linkage, pivot"),
    "WL": ("rear.locator.left_crank", "Watt's linkage, left end of the crank"),
    "WM": ("rear.locator.left_end", "Watt's linkage, far end of the left rod"),
    "WR": ("rear.locator.right_crank", "Watt's linkage, right end of the crank"),
    "WS": ("rear.locator.right_end", "Watt's linkage, far end of the right rod"),
    "MP": ("rear.locator.left_pivot", "Mumford linkage, left crank's pivot"),
    "MC": ("rear.locator.left_crank", "Mumford linkage, inner joint of the left outer rod"),
    "ME": ("rear.locator.left_end", "Mumford linkage, axle end of the left outer rod"),
    "CA": ("rear_springs.coil.axle", "coil spring, moving end"),
    "CC": ("rear_springs.coil.chassis", "coil spring, end on the body"),
    "DA": ("rear_springs.damper.axle", "damper, moving end"),
    "DC": ("rear_springs.damper.chassis", "damper, end on the body"),
    "NA": ("rear_springs.bar.axle", "drop link of the anti-roll bar, end nearer to what moves"),
    "NC": ("rear_springs.bar.chassis", "drop link of the anti-roll bar, end nearer to the body"),
    "GJ": ("shaft.gearbox", "propeller shaft, joint at the gearbox"),
    "PJ": ("shaft.pinion", "propeller shaft, joint at the pinion"),
    "J": ("front.lower.ball_joint", "front lower arm, ball joint"),
    "A": ("front.lower.front_pivot", "front lower arm, front pivot"),
    "S": ("front.upper.top_mount", "front strut, top mount"),
    "T": ("front.upper.lower_point", "front strut, a low point of its axis"),
    "K": ("front.upper.ball_joint", "front upper arm, ball joint"),
    "B": ("front.upper.front_pivot", "front upper arm, front pivot"),
    "AR": ("front.lower.rear_pivot", "front lower arm, rear pivot"),
    "BR": ("front.upper.rear_pivot", "front upper arm, rear pivot"),
    "TA": ("front.tie_rod.axle", "tie rod, joint on the knuckle"),
    "TC": ("front.tie_rod.chassis", "tie rod, joint on the rack or relay rod"),
}
POINTS |= {  # of a front axle, with the letter f
    f"{code}f": (place.replace("rear", "front", 1), f"front {words}")
    for code, (place, words) in POINTS.items()
    if place.startswith("rear")
}
LENGTHS: dict[str, tuple[str, str, str]] = {
    "L": ("wheelbase", "wheelbase", "mm"),
    "t": ("rear.track", "rear track", "mm"),
    "t_f": ("front.track", "front track", "mm"),
    "r": ("rear.tire_radius", "height of the rear wheel centers", "mm"),
    "r_f": ("front.tire_radius", "height of the front wheel centers", "mm"),
    "h": ("weight.cg_height", "height of the center of gravity", "mm"),
    "m": ("weight.mass", "mass of the car", "kg"),
    "q": ("weight.front_share", "share of the mass on the front wheels", ""),
    "m_uf": ("weight.front_unsprung_mass", "front unsprung mass", "kg"),
    "m_ur": ("weight.rear_unsprung_mass", "rear unsprung mass", "kg"),
    "p": ("brake_front_share", "front share of the braking force", ""),
    "k_r": ("rear_springs.rate", "rate of one rear spring", "N/mm"),
    "s_r": ("rear_springs.spacing", "spacing of the rear springs", "mm"),
    "k_f": ("front_springs.rate", "rate of one front spring, as it acts at its spacing", "N/mm"),
    "s_f": ("front_springs.spacing", "spacing of the front springs", "mm"),
    **{
        f"{symbol}{letter}": (f"{end}_springs.{place}", f"{end} {words}", unit)
        for end, letter in (("rear", ""), ("front", "f"))
        for symbol, place, words, unit in (
            ("k_c", "coil.rate", "spring, rate along its own line", "N/mm"),
            ("d_b", "bar.diameter", "anti-roll bar, diameter", "mm"),
            ("i_b", "bar.bore", "anti-roll bar, bore", "mm"),
            ("L_b", "bar.span", "anti-roll bar, length of the part that twists", "mm"),
            ("a_b", "bar.arm", "anti-roll bar, arm", "mm"),
        )
    },
    "g_a": ("shaft.gearbox_angle", "gearbox's output shaft, rising toward the front", "deg"),
    "p_a": ("shaft.pinion_angle", "pinion, rising toward the front", "deg"),
    "K_br": ("rear_springs.anti_roll_rate", "roll stiffness of the rear anti-roll bar", "N m/deg"),
    "K_bf": ("front_springs.anti_roll_rate", "roll stiffness of the front anti-roll bar", "N m/deg"),
}
AXES = {"x": "x, ahead of the wheel centers", "y": "y, to the left of the center line", "z": "z, above the ground"}


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured number of a car: its symbol, what it is, its unit and its value (angles in radians)."""

    symbol: str
    words: str
    unit: str
    value: Any


@lru_cache(maxsize=256)
def figures(car: Car) -> dict[str, Figure]:
    """Return every measured number of a car by symbol; the same mapping each time, so nobody may change it.

    >>> from susgeo import load_car
    >>> figures(load_car("data/three_link.toml"))["z_LC"].value
    290.0
    """
    found: dict[str, Figure] = {}
    for code, (place, words) in POINTS.items():
        point = _measured(car, place)
        if isinstance(point, Point):
            for axis, value in zip("xyz", coordinates(point), strict=True):
                name = f"{axis}_{code}"
                found[name] = Figure(name, f"{words}: {AXES[axis]}", "mm", _number(value))
    for name, (place, words, unit) in LENGTHS.items():
        value = _measured(car, place)
        if value is not None:
            found[name] = Figure(name, words, unit, _number(value))
    return found


def values_of(found: Mapping[str, Figure]) -> dict[str, Any]:
    """Return the values of figures, by symbol."""
    return {name: figure.value for name, figure in found.items()}


def _number(value: Any) -> Any:
    return value if is_array(value) else float(value)


def _measured(thing: Any, place: str) -> Any:
    """Return what a car has at a place, of a pair on the left; None where it has nothing.

    Quicker than :func:`susgeo.car.pickup.dimension`, which says what is there instead.
    """
    for step in place.split("."):
        if isinstance(thing, tuple):
            thing = thing[0] if thing else None
        thing = getattr(thing, step) if step in getattr(thing, "__dataclass_fields__", ()) else None
    return thing
