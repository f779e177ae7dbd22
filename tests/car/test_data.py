"""The car files of the course: they load, differ, write and read back, and their figures are plausible.

The ranges are common practice, no source: what one finds under cars of this kind.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString
from shapely import Point as Dot

from susgeo import (
    IndependentFront,
    LiveAxle,
    coordinates,
    cornering,
    linear_limit,
    load_car,
    read_car,
    roll_gradient,
    summary,
)
from susgeo.car.front import StrutLeg
from susgeo.car.write import write_car
from susgeo.loads.cornering import GRAVITY

DATA = Path(__file__).resolve().parents[2] / "data"
FILES = sorted(path.name for path in DATA.glob("*.toml"))
CARS = {name.removesuffix(".toml"): load_car(DATA / name) for name in FILES}
LIVE = {f"{name}, {end}": axle for name, car in CARS.items() for end, axle in car.axles() if isinstance(axle, LiveAxle)}


def xyz(point):
    return np.array([float(value) for value in coordinates(point)])


def test_every_kind_of_axle_has_its_file():
    assert set(CARS) == {
        "a_frame", "club_coupe", "converging_four_link", "double_wishbone", "inches_three_link", "leaf_springs", "live_front",
        "mumford", "offset_watt", "parallel_four_link_watt", "three_link", "tilted_bar", "torque_arm",
    }  # fmt: skip
    assert len({car.title for car in CARS.values()}) == len(CARS)
    kinds = {type(axle.locator).__name__ for axle in LIVE.values()}
    assert kinds == {"PanhardBar", "WattsLinkage", "MumfordLinkage", "NoneType"}


@pytest.mark.parametrize("name", CARS)
def test_every_file_says_that_it_is_invented_and_explains_itself(name):
    text = (DATA / f"{name}.toml").read_text("utf-8")
    assert "All figures invented." in text and "x forward, y left, z up" in text
    assert text.count("#") > 10
    points = [line for line in text.splitlines() if " = [" in line]
    assert points and all("# " in line for line in points)  # each says how it is measured


@pytest.mark.parametrize("name", CARS)
def test_a_file_written_and_read_again_is_the_same_car(name):
    again = read_car(write_car(CARS[name]))
    assert summary(again) == pytest.approx(summary(CARS[name]), rel=1e-9)


@pytest.mark.parametrize("name", CARS)
def test_the_car_is_a_plausible_one(name):
    car = CARS[name]
    assert 2400 <= car.wheelbase <= 2900
    assert 480 <= car.weight.cg_height <= 600 + 1e-9
    assert 800 <= car.weight.mass <= 1900 and 0.48 <= car.weight.front_share <= 0.58
    assert 0.6 <= car.brake_front_share <= 0.75
    for _, axle in car.axles():
        assert 1350 <= axle.track <= 1500 and 280 <= axle.tire_radius <= 370
    assert all(np.isfinite(value) or "convergence" in key or "instant" in key for key, value in summary(car).items())


@pytest.mark.parametrize("name", LIVE)
def test_links_are_of_plausible_length_and_splay(name):
    axle = LIVE[name]
    if axle.leaves or "torque_arm" in name:  # no upper links; an upright one at the arm's front end
        assert axle.rank == 4
        return
    lower, upper = (xyz(group[0].chassis) - xyz(group[0].axle) for group in (axle.lower, axle.upper))
    assert 450 <= np.linalg.norm(lower) <= 750
    assert 0.6 <= np.linalg.norm(upper) / np.linalg.norm(lower) <= 1.0
    splay = np.degrees(np.arctan(np.abs([lower[1] / lower[0], upper[1] / upper[0]])))
    assert splay[0] <= 10
    if axle.locator is None:  # a converging pair
        assert splay[0] <= 5.2 and 25 <= splay[1] <= 45
    elif hasattr(axle.locator, "length"):
        assert 750 <= axle.locator.length <= 1100
    assert 200 <= axle.roll_center_height <= 500
    assert axle.rank == (5 if "parallel" in name else 4)


@pytest.mark.parametrize("name", LIVE)
def test_nothing_lies_below_the_ground_or_in_the_wheels(name):
    axle = LIVE[name]
    for link in (*axle.lower, *axle.upper):
        for end in (xyz(link.axle), xyz(link.chassis)):
            assert end[2] > 100
            assert abs(end[1]) < axle.track / 2 - 100 or np.hypot(end[0], end[2] - axle.tire_radius) > axle.tire_radius


def test_the_axle_of_the_first_lesson_stays_as_it_was_measured():
    rear = CARS["three_link"].rear
    assert [xyz(p).tolist() for p in (rear.lower[0].axle, rear.lower[0].chassis)] == [[0, 500, 240], [600, 400, 290]]
    assert [xyz(p).tolist() for p in (rear.upper[0].axle, rear.upper[0].chassis)] == [[-50, 0, 470], [400, 0, 450]]
    assert CARS["three_link"].weight.cg_height == 540


def test_inches_and_millimeters_are_one_car():
    inches, metric = CARS["inches_three_link"], CARS["three_link"]
    assert inches.units == "in" and metric.units == "mm"
    assert summary(inches) == pytest.approx(summary(metric), rel=1e-5)
    assert "wheelbase = 106.29" in (DATA / "inches_three_link.toml").read_text("utf-8")


def test_the_club_car_does_what_its_drivers_say():
    car = CARS["club_coupe"]
    found = summary(car)
    assert isinstance(car.front, IndependentFront) and isinstance(car.front.upper, StrutLeg)
    # Lowered: the front roll center at or below the ground, the rear one high; the inside rear tire goes light.
    assert -20 <= found["front roll center height [mm]"] <= 0
    assert found["rear roll center height [mm]"] > 300
    loads = cornering(car, linear_limit(car)).tires
    assert min(loads, key=loads.get) == "rear left"
    assert 3 < np.degrees(roll_gradient(car)) * GRAVITY < 8
    # Lower links downhill toward the front steer the axle into the turn as the body rolls: it washes out.
    link = car.rear.lower[0]
    assert link.chassis.z < link.axle.z and found["rear roll steer [deg/deg]"] < -0.1
    # The rear axle gives up more of its load than the front one, and more of that by its links.
    share = {"front": car.weight.front_share, "rear": 1 - car.weight.front_share}
    lost = {end: found[f"{end} load transfer [N/g]"] / share[end] for end in share}
    assert lost["rear"] > 1.15 * lost["front"]
    assert found["rear geometric load transfer [N/g]"] > found["rear load transfer [N/g]"] / 3
    assert found["front geometric load transfer [N/g]"] <= 0 and found["car roll axis slope [deg]"] < -5
    # It squats under drive; its short side-view arm lets it hop under braking.
    assert 20 <= found["rear anti-squat [%]"] <= 40
    assert 0 < found["rear side-view instant center x [mm]"] < 1000
    assert (
        found["rear pinion angle rate [deg/mm]"] > 1.8 * summary(CARS["three_link"])["rear pinion angle rate [deg/mm]"]
    )


def test_the_club_cars_front_roll_center_drawn_with_ruler_and_pencil():
    """In the front view, at equal x of arm and strut, by Shapely: arm line, strut normal, line to the contact patch."""
    whole = CARS["club_coupe"].front
    front = replace(whole, tie_rod=None)  # ruler and pencil know of two planes; the tie rod costs 0.1 mm
    assert whole.roll_center_height - front.roll_center_height == pytest.approx(-0.114, abs=5e-4)
    arm, strut = front.lower, front.upper
    outer, inner, top, low = (xyz(p)[1:] for p in (arm.ball_joint, arm.front_pivot, strut.top_mount, strut.lower_point))
    # Both planes are cut at x = 0: the arm's pivots are parallel to x; the strut's top plane is followed there.
    axis = xyz(strut.top_mount) - xyz(strut.lower_point)
    normal_at = top[1] + axis[0] * xyz(strut.top_mount)[0] / axis[2]
    across = np.array([axis[2], -axis[1]])  # in the front view, square to the strut
    far = 20_000 / axis[2]
    arm_line = LineString([outer, outer + 100 * (inner - outer)])
    strut_line = LineString([(top[0], normal_at), np.array([top[0], normal_at]) - far * across])
    center = arm_line.intersection(strut_line)
    ray = LineString([(front.track / 2, 0), (center.x, center.y)])
    axis_line = LineString([(0, -500), (0, 500)])
    assert ray.intersection(axis_line).distance(Dot(0, float(front.roll_center_height))) < 0.01
    assert low[1] < top[1]
