"""What goes with a moving axle: seats on arms, rods that are adjusted, the propeller shaft. Truth from rigid motion alone."""

import math
from dataclasses import replace

import pytest
from scipy.spatial.transform import Rotation

from susgeo import Point, PropellerShaft, SusgeoError, load_car, solve_travel
from susgeo.travel.adjust import lengths_for
from susgeo.travel.lines import swung
from susgeo.travel.shaft import moved_shaft, shaft_table

REAR = load_car("three_link").rear
SHAFT = PropellerShaft(Point(1350, 0, 360), Point(260, 0, 320), math.radians(3), math.radians(3))


@pytest.mark.parametrize("angle", [-0.3, 0.0, 0.2])
def test_a_seat_on_an_arm_turns_with_it_about_its_pivots(angle):
    """SciPy turns joint and seat about the pivots' line; the library is told only where the joint came to."""
    front, rear, joint, seat = (150.0, 400.0, 250.0), (-120.0, 380.0, 270.0), (10.0, 700.0, 230.0), (60.0, 560.0, 300.0)
    hinge = [b - a for a, b in zip(front, rear, strict=True)]
    turn = Rotation.from_rotvec([angle * part / math.hypot(*hinge) for part in hinge])

    def turned(place):
        return tuple(
            a + b for a, b in zip(front, turn.apply([p - a for p, a in zip(place, front, strict=True)]), strict=True)
        )

    assert swung((front, rear, joint), seat, turned(joint)) == pytest.approx(turned(seat), abs=1e-9)


def test_turns_are_in_radians_and_shifts_in_mm():
    with pytest.raises(SusgeoError, match="degrees"):
        lengths_for(REAR, pitch=2.0)
    assert lengths_for(REAR, x=2.0)["upper link"] < -1  # forward, toward its chassis end


def test_a_shaft_goes_with_its_axle_and_is_left_alone_without_one():
    assert moved_shaft(SHAFT, None) is SHAFT and moved_shaft(None, solve_travel(REAR, 0.0)) is None


def test_the_table_of_the_shaft_goes_from_droop_to_bump():
    rows = shaft_table(replace(load_car("three_link"), shaft=SHAFT)).rows
    assert [float(row[0]) for row in rows] == [-60, -30, 0, 30, 60]
    assert float(rows[2][4]) == 0 != float(rows[0][4])
