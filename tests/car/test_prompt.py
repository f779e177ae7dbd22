"""What one meets at the prompt: what things are called, how they show, and what is refused in a sentence."""

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
import sympy

from susgeo import (
    FlatPoint,
    Link,
    LiveAxle,
    PanhardBar,
    Point,
    PropellerShaft,
    SusgeoError,
    anti_dive,
    anti_squat,
    compare_table,
    cornering,
    effects,
    load_car,
    numbers,
    pair,
    roll_gradient,
    solve_for,
    solve_travel,
    tolerances,
)
from susgeo.travel.adjust import lengths_for, rates


@pytest.fixture(scope="module")
def coupe():
    return load_car("club_coupe")


def links(lower="link", upper="link"):
    return LiveAxle(
        pair(Link(Point(0, 500, 240), Point(600, 400, 290), lower)),
        pair(Link(Point(-50, 300, 470), Point(400, 100, 450), upper)),
    )


@pytest.mark.parametrize(
    ("thing", "shown"),
    [
        (Point(0.0, 0.0, 91086000000.0, 296400000.0), "Point(x 0, y 0, z 307.3077 mm)"),
        (Point(Fraction(1, 3), -0.0, 2), "Point(x 1/3, y 0, z 2 mm)"),
        (Point(-30.0, 0, 3.0, 0), "Point(at infinity in the direction -1 : 0 : 0.1)"),
        (Point(sympy.Symbol("a"), 0, 3, 2), "Point(x a/2, y 0, z 1.5 mm)"),
        (Point(sympy.Symbol("a"), 0, 3, 0), "Point(at infinity in the direction a : 0 : 3)"),
        (Point(np.zeros((2, 1)), 0, np.zeros(3)), "Point(an array of 2 x 3 points)"),
        (FlatPoint("front", 8, 3, 4), "FlatPoint(front view, y 2, z 0.75 mm)"),
        (FlatPoint("plan", 2, -2, 0), "FlatPoint(plan view, at infinity in the direction 1 : -1)"),
    ],
)
def test_a_point_shows_where_it_is(thing, shown):
    assert repr(thing) == shown


def test_a_link_is_called_after_its_place():
    assert links().names == ("left lower link", "right lower link", "left upper link", "right upper link")
    single = replace(links(), upper=Link(Point(0, 0, 470), Point(400, 0, 450)))
    assert single.names[2:] == ("upper link",)


@pytest.mark.parametrize("name", ["link", "rod", "left lower link"])
def test_no_rod_is_lost_by_its_name(name):
    """Four rods stay four whatever they are called, and what they do does not depend on it."""
    axle, plain = links(name, name), links()
    assert len(set(axle.names)) == 4
    turned = lengths_for(axle, pitch=0.01), lengths_for(plain, pitch=0.01)
    assert list(turned[0].values()) == list(turned[1].values())
    moved = [list(rates(each).values()) for each in (axle, plain)]
    assert moved[0] == moved[1]


def test_one_text_is_one_name(coupe):
    name = "rear roll center height"
    assert list(numbers(coupe, name)) == list(numbers(coupe, [name])) == [name]
    assert effects(coupe, name) == effects(coupe, [name])
    assert list(tolerances(coupe, names=name, samples=100)) == [name]
    assert str(compare_table(coupe, coupe, names=name)) == str(compare_table(coupe, coupe, names=[name]))
    place = "rear.locator.axle.z"
    assert solve_for(coupe, place, [name], 300).exact == solve_for(coupe, place, name, 300).exact
    with pytest.raises(SusgeoError, match="give one quantity, not 2"):
        solve_for(coupe, place, [name, "rear roll steer"], 300)


def test_an_axle_is_taken_or_told_what_it_lacks(coupe):
    assert numbers(coupe.rear, "rear roll steer") == numbers(coupe, "rear roll steer")
    for ask in (anti_squat, lambda axle: cornering(axle, 1.0), roll_gradient):
        with pytest.raises(SusgeoError, match="has not been weighed"):
            ask(coupe.rear)
    with pytest.raises(SusgeoError, match="share of the front brakes is not known"):
        anti_dive(coupe.front)


@pytest.mark.parametrize(
    "ask",
    [
        lambda axle: solve_travel(axle, 0, 3),
        lambda axle: solve_travel(axle, [0.0, 1.0], np.array([0.1, -3.0])),
        lambda axle: lengths_for(axle, pitch=3),
        lambda axle: PropellerShaft(Point(1350, 0, 360), Point(260, 0, 320), 0.05, 3),
    ],
)
def test_an_angle_that_can_only_be_degrees_is_asked_about(coupe, ask):
    with pytest.raises(SusgeoError, match=r"3 rad, which is 172 degrees.*Were 3 degrees meant\?.*math.radians\(3\)"):
        ask(coupe.rear)
    assert solve_travel(coupe.rear, 0, math.radians(8)).reached


@pytest.mark.parametrize("across", [0.0, 0.5, 5.0, -5.0])
def test_a_bar_that_stands_upright_gives_no_number(coupe, across):
    """Play at its joints would let the axle wander a hundred times as far, and no roll center means anything then."""
    axle = replace(coupe.rear, locator=PanhardBar(Point(-120, 300, 300), Point(-120, 300 + across, 700)))
    for name in ("roll_center_height", "roll_steer", "locator_point", "roll_axis"):
        with pytest.raises(SusgeoError, match="free, or nearly free, to move sideways"):
            getattr(axle, name)
    known = numbers(axle)
    assert not [name for name in known if any(word in name for word in ("roll center", "roll steer", "locator", "bar"))]


@pytest.mark.parametrize("lacks", ["upper", "locator"])
def test_three_rods_give_no_number(coupe, lacks):
    axle = replace(coupe.rear, **{lacks: () if lacks == "upper" else None})
    for name in ("roll_center_height", "roll_steer", "locator_point"):
        with pytest.raises(SusgeoError, match="3 rods hold it in 3 ways and 4 are needed|Nothing holds this axle"):
            getattr(axle, name)
    assert not {"rear roll center height", "rear roll steer", "rear locator height"} & set(numbers(axle))


@pytest.mark.parametrize("slip", [0.0, 1.0, -4.0])
@pytest.mark.parametrize(("car", "joint"), [("mumford", "right_center"), ("offset_watt", "right_crank")])
def test_cranks_joined_on_the_same_side_are_refused(car, joint, slip):
    """Such cranks lock heave and leave the axle free sideways; a little off the mirror image they still do."""
    rear = load_car(car).rear
    other = getattr(rear.locator, joint.replace("right", "left"))
    pivot = rear.locator.right_pivot if car == "mumford" else rear.locator.pivot
    low = 2 * pivot.z - getattr(rear.locator, joint).z
    wrong = replace(
        rear, locator=replace(rear.locator, **{joint: Point(other.x, getattr(rear.locator, joint).y, low + slip)})
    )
    with pytest.raises(SusgeoError, match="not held sideways by its .* opposite arms of the crank"):
        _ = wrong.roll_center_height
    with pytest.raises(SusgeoError):
        solve_travel(wrong, [10.0])
    assert "rear roll center height" not in numbers(wrong)


def test_what_letters_cannot_decide_is_said():
    four = load_car("converging_four_link")
    with pytest.raises(SusgeoError, match="the steeper one locates, and letters, such as an unknown"):
        solve_for(four, "rear.lower.chassis.y", "rear locator height", 300)
