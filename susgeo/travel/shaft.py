"""The propeller shaft through travel: how its two joints bend, and how far its spline slides."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.car import Car, whole
from ..car.links import Link
from ..car.pickup import in_numbers
from ..car.shaft import PropellerShaft, bend
from ..errors import SusgeoError
from ..geometry.scalars import Scalar, row
from ..tables import Table, shown
from .live import Travel, solve_travel

CAUTION = (
    "Each joint 0.5 to 3 degrees at ride height, the two within 1 degree (common practice, no source). Check that the "
    "spline neither bottoms nor pulls out at both ends of the travel, with the axle hanging too; a shaft that leaves its spline kills."
)


@dataclass(frozen=True, eq=False)
class ShaftTravel:
    """Both joints' angles in rad, and how many mm longer the shaft is than at rest, at every state."""

    gearbox: Scalar
    pinion: Scalar
    longer: Scalar


def shaft_travel(shaft: PropellerShaft, travel: Travel) -> ShaftTravel:
    """Return how the shaft stands at every state of its axle's travel.

    >>> from susgeo import load_car, solve_travel
    >>> from susgeo import Point
    >>> shaft = PropellerShaft(Point(1350, 0, 360), Point(260, 0, 320), np.radians(3), np.radians(3))
    >>> up = shaft_travel(shaft, solve_travel(load_car("data/three_link.toml").rear, 60.0))
    >>> round(float(np.degrees(up.gearbox)), 2), round(float(np.degrees(up.pinion)), 2)
    (3.52, 1.27)
    """
    tips = shaft.tips
    joints = travel.carried(shaft.gearbox, "chassis"), travel.carried(shaft.pinion)
    angles = bend(*joints, travel.carried(tips[0], "chassis"), travel.carried(tips[1]))
    return ShaftTravel(*angles, Link(*joints).length - Link(shaft.gearbox, shaft.pinion).length)


def moved_shaft(shaft: PropellerShaft | None, travel: Any) -> PropellerShaft | None:
    """Return the shaft as it stands after a heave without roll, seen from the ground below the axle."""
    if shaft is None or travel is None:
        return shaft
    joints = travel.carried(shaft.gearbox, "chassis"), travel.carried(shaft.pinion)
    return PropellerShaft(*joints, shaft.gearbox_angle, shaft.pinion_angle - travel.pitch)


def shaft_table(car: Car, heaves: Sequence[float] = (-60, -30, 0, 30, 60)) -> Table:
    """Return joint angles and plunge of a car's propeller shaft through travel, with the cautions.

    Args:
        car: with rear axle and shaft. heaves: rises of the axle against the body, in mm.

    Raises:
        SusgeoError: the car has no rear axle, or its shaft was not measured.

    >>> from susgeo import load_car
    >>> shaft_table(load_car("torque_arm")).rows[2][:3]
    ('0', '0.90', '0.90')
    """
    car, heaves = in_numbers(whole(car)), row(heaves, "heaves")
    if car.rear is None or car.shaft is None:
        raise SusgeoError(
            "The propeller shaft is not known; add a table [propeller_shaft] and a rear axle to the car's file."
        )
    found = shaft_travel(car.shaft, solve_travel(car.rear, heaves))
    angles: list[Any] = [np.degrees(each) for each in (found.gearbox, found.pinion)]
    columns = [
        [f"{heave:g}" for heave in heaves],
        *([shown(float(each), "deg") for each in column] for column in (*angles, abs(angles[0] - angles[1]))),
        [shown(float(each), "mm") for each in found.longer],
    ]
    heads = ("rise of the axle, mm", "gearbox joint, deg", "pinion joint, deg", "difference, deg", "longer, mm")
    return Table(heads, tuple(zip(*columns, strict=True)), CAUTION)
