"""What a welder is told, against rigid motion and a plain reading of the car: the whole sheet is in tests/workshop/test_sheet.py."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from outside.workshop import shaft_at
from susgeo import Link, Point, PropellerShaft, load_car
from susgeo.results.build import Plan, _angle
from susgeo.results.many import Conditions
from susgeo.results.places import joint_name

CAR = load_car("live_front")


def test_the_forces_name_their_tube_and_mark_one_lowest_margin():
    table = Plan(CAR, CAR).forces()
    assert "straight rod of 30 mm x 3 mm" in table.note
    assert "straight rod of 30 mm, 235" in Plan(CAR, CAR, given=Conditions(wall=None)).forces().note
    assert all(re.fullmatch(r"-?\d+ ± \d+", cell) for row in table.rows for cell in row[1:-1])  # whole newtons
    margins = [row[-1] for row in table.rows]
    lowest = [text for text in margins if text.endswith("LOWEST")]
    assert len(lowest) == 1 and float(lowest[0].split()[0]) == min(
        float(text.split()[0].strip("over")) for text in margins if text[0] != "o"
    )


def test_the_forces_say_how_hard_each_case_is():
    """Invented loads, for comparing: a reader must see them to tell whether the own car has more."""
    said = Plan(load_car("club_coupe"), load_car("club_coupe")).forces().note
    cases = "driving off: 4 m/s^2 forward; braking: 7 m/s^2 of braking; left turn: 6 m/s^2 to the left; bump: 2 times the load."
    assert f"Cases: {cases}" in said


def test_a_turn_of_the_upper_link_turns_the_pinion_as_two_equations_say():
    """Height held, the axle may go forward by a and turn down by p: lower links keep their length, the upper one gains 3 mm."""
    car = load_car("three_link")
    rows, rows_of_motion = {row[0]: row[1:] for row in Plan(car, car).adjusters().rows}, []
    for link in (car.rear.lower[0], car.rear.upper[0]):
        way = np.array([float(getattr(link.axle, axis) - getattr(link.chassis, axis)) for axis in "xyz"])
        x, z = float(link.axle.x), float(link.axle.z - car.rear.tire_radius)
        rows_of_motion.append(np.array([way[0], way[0] * z - way[2] * x]) / np.linalg.norm(way))
    ahead, pitch = np.linalg.solve(rows_of_motion, [0.0, 3.0])
    told = rows["rear upper link"]
    assert [float(told[0]), float(told[3])] == pytest.approx([math.degrees(pitch), ahead], abs=0.006)
    assert told[1] == told[2] == "0.00"


def test_the_joints_of_an_independent_front_have_their_names():
    coupe = load_car("club_coupe")
    assert joint_name(coupe, "front.lower.ball_joint") == "front lower arm, ball joint"
    assert joint_name(coupe, "front.upper.top_mount") == "front strut, top mount"
    assert joint_name(coupe, "front.tie_rod.axle") == "front tie rod, knuckle"


@pytest.mark.parametrize(("ahead", "angle"), [(0.5, 89.7135), (-0.5, -89.7135), (100.0, 45.0), (-100.0, -45.0)])
def test_a_rod_rises_toward_the_front_or_falls(ahead, angle):
    """atan(100 / 0.5) is 89.7135 degrees: to which side a nearly upright rod leans decides the sign."""
    rod = Link(Point(0, 0, 0), Point(ahead, 0, 100))
    assert _angle(rod, rod) == pytest.approx(angle, abs=1e-4)


@pytest.mark.parametrize(("units", "scale", "digits"), [("mm", 1.0, 1), ("in", 25.4, 3)])
def test_the_propeller_shaft_over_the_travel(units, scale, digits):
    """By SciPy's rotations at solved positions; two ends off by the error each, 1090 mm apart, turn the shaft by so much."""
    shaft = PropellerShaft(Point(1350, 0, 360), Point(260, 0, 320), math.radians(3), math.radians(3))
    car = replace(load_car("three_link"), shaft=shaft)
    plan = Plan(car, car, units)
    rows = {row[0]: row[1:] for row in plan.shaft().rows}
    truth = [shaft_at(car.rear, shaft, height) for height in plan.heights]
    rest = shaft_at(car.rear, shaft, 0.0)[1]
    joints = [rows[f"rear {joint} joint angle [deg]"] for joint in ("gearbox", "pinion")]
    for number, (angles, size) in enumerate(truth):
        assert float(joints[0][number]) == pytest.approx(angles[0], abs=0.006)
        assert float(joints[1][number]) == pytest.approx(angles[1], abs=0.05)  # the bar's swing turns the axle a little
        told = float(rows[f"shaft length since rest [{units}]"][number])
        assert told == pytest.approx((size - rest) / scale, abs=0.51 * 10**-digits)
    assert float(joints[0][-1]) == pytest.approx(math.degrees(math.sqrt(2) * plan.error / rest), rel=0.3)
