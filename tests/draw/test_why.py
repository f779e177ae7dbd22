"""The pictures of a why say what the axle does: against solved motion, sums of forces by hand, and distances in space."""

import re

import numpy as np
import pytest

from susgeo import LinkageError, coordinates, load_car, moved, solve_travel
from susgeo.draw.sketch import Sketch
from susgeo.draw.why import all_at_once, bound, square_to_links
from susgeo.draw.why_pictures import free_body, leaning_body
from susgeo.draw.why_space import Walk, in_space
from susgeo.errors import SusgeoError

WINDOW = (-2e4, 2e4, -2e4, 2e4)


def marks(part, thing, view="side"):
    sketch = Sketch(view, WINDOW)
    part(sketch, thing)
    return {mark.key: np.array(mark.points) for mark in sketch.marks}, " ".join(sketch.sentences)


@pytest.mark.parametrize("name", ["three_link", "converging_four_link", "parallel_four_link_watt"])
def test_joints_move_square_to_their_links_and_the_nose_as_the_solved_axle_does(name):
    axle = load_car(name).rear
    found, said = marks(square_to_links, axle)
    for link in (axle.lower[0], axle.upper[0]):
        along = np.diff([(end.x, end.z) for end in (link.axle, link.chassis)], axis=0)[0]
        way = found[f"{link.name} way"][1] - found[f"{link.name} way"][0]
        assert abs(along @ way) < 1e-9 * np.hypot(*along) * np.hypot(*way)
        centers = np.hypot(*(found[f"{link.name} arc"] - (link.chassis.x, link.chassis.z)).T)
        assert np.ptp(centers) < 1e-9
    up, nose = 1e-3, found["nose"][1]
    before, after = (solve_travel(axle, heave) for heave in (-up, up))
    rise = [float(state.in_body(state.carried(type(axle.lower[0].axle)(nose[0], 0, nose[1]))).z) for state in (before, after)]  # fmt: skip
    way = found["nose way"][1] - found["nose way"][0]
    assert way[1] == pytest.approx(120 * (rise[1] - rise[0]) / (2 * up), rel=1e-5)
    assert f"the nose of the housing {way[1]:.0f}" in said


def test_the_forces_of_the_free_axle_are_those_of_two_moments_on_paper():
    axle, push = load_car("three_link").rear, 3450.0
    low, high = axle.lower[0], axle.upper[0]
    at = [link.axle.z - link.axle.x * (link.chassis.z - link.axle.z) / (link.chassis.x - link.axle.x) for link in (low, high)]  # fmt: skip
    forward = push * at[0] / (at[1] - at[0]), -push * at[1] / (at[1] - at[0])
    slopes = [(link.chassis.z - link.axle.z) / (link.chassis.x - link.axle.x) for link in (high, low)]
    sizes = [abs(one) * np.hypot(1, slope) for one, slope in zip(forward, slopes, strict=True)]
    upright = -sum(one * slope for one, slope in zip(forward, slopes, strict=True))
    told = list(map(float, re.findall(r"(\d+) N", free_body(axle, push).alt)))
    assert told == pytest.approx([push, sizes[0], upright, sizes[1]], abs=0.51)


def test_the_leaning_bodys_parts_are_moments_over_the_track():
    car, lateral = load_car("live_front"), 3.0
    weight, rear = car.weight, car.rear
    own, share = weight.rear_unsprung_mass, 1 - weight.front_share
    links = (weight.mass * share - own) * lateral * rear.roll_center_height / rear.track
    axle = own * lateral * rear.tire_radius / rear.track
    told = list(map(float, re.findall(r"(\d+) N", leaning_body(car, lateral).alt)))
    assert (told[0], told[2]) == pytest.approx((links, axle), abs=0.51)


def test_both_axes_touch_all_four_rods_from_wherever_one_looks():
    axle = load_car("three_link").rear  # its bar is level, and so is the second axis: they meet at infinity
    for turn in (0.0, 30.0, 75.0):
        found, said = marks(in_space, Walk(axle, turn), "front")
        touched = [key for key in found if " on " in key]
        assert len(touched) == 7
        assert "Axis 2 is parallel to the Panhard bar" in said
        for key in touched:  # seen from anywhere, the touch lies on the axis, and on the rod's line
            for line in (found[key.split(" on ")[0]], np.array([found[f"{key.split(' on ')[1]} {end}"][0] for end in ("axle end", "chassis end")])):  # fmt: skip
                run, off = line[1] - line[0], found[key][0] - line[0]
                assert abs(run[0] * off[1] - run[1] * off[0]) < 1e-6 * np.hypot(*run) * max(np.hypot(*off), 1)


def test_an_axle_without_four_straight_rods_is_refused():
    with pytest.raises((SusgeoError, LinkageError), match="four straight rods"):
        marks(in_space, Walk(load_car("parallel_four_link_watt").rear), "front")


def test_the_gap_of_a_rod_too_many_is_its_length_less_the_distance_of_its_joints():
    axle = load_car("parallel_four_link_watt").rear
    travel = solve_travel(axle, 0.0, np.radians(3))
    found, said = marks(bound, travel, "plan")
    for rod, now in zip(axle.upper, travel.moved.upper, strict=True):
        apart = [np.linalg.norm([a - b for a, b in zip(coordinates(one.axle), coordinates(one.chassis), strict=True)])
                 for one in (rod, now)]  # fmt: skip
        gap = found[f"{rod.name} gap"][1] - found[f"{rod.name} gap"][0]
        assert np.hypot(*gap) == pytest.approx(50 * abs(apart[1] - apart[0]), rel=1e-6)
        assert f"{rod.name} by {apart[1] - apart[0]:+.2f} mm" in said
    assert "every rod reaches" in marks(bound, solve_travel(axle, 20.0), "plan")[1]
    assert "every rod reaches" in marks(bound, solve_travel(load_car("three_link").rear, 0.0, 0.05), "plan")[1]


def test_one_brackets_effect_on_all_points_is_drawn_from_where_they_were():
    rest = load_car("club_coupe")
    car = moved(rest, {"rear.lower.chassis.z": 150})
    found, said = marks(all_at_once(rest), car)
    for one, role in ((rest, "ghost"), (car, "result")):
        rows = [
            [link.chassis.z - link.axle.z, link.axle.x - link.chassis.x]
            for link in (one.rear.lower[0], one.rear.upper[0])
        ]
        center = np.linalg.solve(
            rows,
            [
                row[0] * link.axle.x + row[1] * link.axle.z
                for row, link in zip(rows, (one.rear.lower[0], one.rear.upper[0]), strict=True)
            ],
        )
        assert found[f"squat line {role}"][1] == pytest.approx((one.wheelbase, center[1] / center[0] * one.wheelbase))
    assert found["instant center"][0] == pytest.approx(center)
    assert found["instant center move"][1] == pytest.approx(center)
    assert f"anti-squat {100 * center[1] / center[0] * car.wheelbase / car.weight.cg_height:.0f} %" in said
    assert f"rear {car.rear.roll_center_height:.0f} mm" in said
