"""Before and after: every quantity of both cars, which way it went, at infinity or not."""

import math
from pathlib import Path

import pytest

from susgeo import compare, compare_table, load_car, moved, numbers, summary
from susgeo.car.front import Arm, IndependentFront
from susgeo.geometry.space import Point
from susgeo.results.compare import Difference

DATA = Path(__file__).resolve().parents[2] / "data"


@pytest.fixture(scope="module")
def coupe():
    return load_car(DATA / "three_link.toml")


def by_name(rows):
    return {row.name: row for row in rows}


def test_every_quantity_of_either_car_has_a_row(coupe):
    other = moved(coupe, {"rear.locator.chassis.z": 320.0})
    rows = compare(coupe, other)
    for title, value in summary(other).items():
        row = by_name(rows)[title.partition(" [")[0]]
        assert f"{row.name} [{row.unit}]" == title
        assert row.after == value and row.before == summary(coupe)[title]
        assert row.change == pytest.approx(value - summary(coupe)[title], abs=1e-9)
    assert len(rows) == len(summary(coupe))


def test_which_way_is_which(coupe):
    """Lower the chassis end of the lower links: their meeting point sinks, and the axis with its front end.

    An axis lower at the front is roll understeer at a rear axle (geometry as in SAE J670, signs by ISO 8855).
    """
    rows = by_name(compare(coupe, moved(coupe, {"rear.lower.chassis.z": 200.0})))
    assert rows["rear lower link convergence z"].way == "lower"
    assert rows["rear roll steer"].way == "now roll understeer"
    assert rows["rear roll axis slope"].way == "front end lower"
    assert rows["rear locator height"].way == "same" and rows["rear locator height"].change == 0
    back = by_name(compare(moved(coupe, {"rear.lower.chassis.z": 200.0}), coupe))
    assert back["rear roll steer"].way == "now roll oversteer"
    assert back["rear lower link convergence z"].way == "higher"
    behind = by_name(compare(coupe, moved(coupe, {"rear.locator.axle.x": -140.0, "rear.locator.chassis.x": -140.0})))
    assert behind["rear locator x"].way == "further back" and behind["rear locator x"].change == -20


@pytest.mark.parametrize(
    ("before", "after", "way", "change"),
    [
        (1800.0, math.inf, "now at infinity", math.inf),
        (-math.inf, 1800.0, "no longer at infinity", math.inf),
        (math.inf, math.inf, "same", 0.0),
        (math.inf, -math.inf, "at infinity, the other way", -math.inf),
        (300.0, 300.0 + 1e-10, "same", 0.0),
        (0.0, 1e-6, "higher", 1e-6),
        (0.0, -1e-13, "same", 0.0),
        (-5.0, 3.0, "higher", 8.0),
    ],
)
def test_infinity_rounding_and_sign(before, after, way, change):
    row = Difference("rear roll center height", "mm", before, after)
    assert (row.way, row.change) == (way, change)


@pytest.mark.parametrize(
    ("before", "after", "rear", "front"),
    [
        (0.0, 0.1, "more roll oversteer", "more roll understeer"),
        (-0.15, -0.01, "less roll understeer", "less roll oversteer"),
        (-0.05, 0.01, "now roll oversteer", "now roll understeer"),
        (0.02, -0.02, "now roll understeer", "now roll oversteer"),
        (0.02, 0.0, "none left", "none left"),
    ],
)
def test_roll_steer_is_named_by_what_it_does(before, after, rear, front):
    """At a front axle the same yaw steers the other end of the car."""
    for end, way in (("rear", rear), ("front", front)):
        assert Difference(f"{end} roll steer", "deg/deg", before, after).way == way


@pytest.mark.parametrize(
    ("before", "after", "way"),
    [(-0.007, -0.0152, "more"), (-0.0152, -0.007, "less"), (-0.0002, 0.002, "now the other way"), (0.0, -1.0, "more"), (40.0, 60.0, "more")],
)  # fmt: skip
def test_a_number_whose_sign_is_a_direction_is_more_where_it_is_larger_in_size(before, after, way):
    """Camber that changes by -0.015 degrees a millimeter changes more than by -0.007."""
    assert Difference("front camber change", "deg/mm", before, after).way == way


def test_what_one_car_lacks_is_said(coupe):
    arm = Arm(Point(0, 700, 200), Point(150, 350, 230), Point(-150, 350, 230))
    upper = Arm(Point(0, 660, 480), Point(120, 420, 500), Point(-140, 430, 470))
    front = IndependentFront(arm, upper)
    rows = by_name(compare(coupe.rear, front))
    assert rows["rear roll steer"].way == "only before" and math.isnan(rows["rear roll steer"].change)
    assert rows["front roll center height"].way == "only after"


def test_inches(coupe):
    other = moved(coupe, {"rear.locator.axle.z": 350.8, "rear.locator.chassis.z": 350.8})
    row = by_name(compare(coupe, other, units="in"))["rear locator height"]
    assert row.unit == "in" and row.change == pytest.approx(2.0)


def test_the_table_reads_as_text_and_as_html(coupe):
    parallel = moved(coupe, {"rear.upper.chassis.z": 507.5})
    table = compare_table(coupe, parallel, changed=True)
    assert "now at infinity" in str(table) and "same" not in str(table)
    first = str(table).splitlines()[1].split()
    assert first[-6:] == ["infinite", "infinite", "mm", "now", "at", "infinity"]
    page = table._repr_mimebundle_()["text/html"]
    assert page.count("<tr>") == len(table.rows) + 1
    assert 'text-align: right">infinite</td>' in page
    assert len(compare_table(coupe, parallel).rows) == len(summary(coupe))


@pytest.mark.parametrize("name", ["club_coupe", "double_wishbone", "three_link"])
def test_a_summary_leaves_out_nothing_but_a_tire_lift_beyond_the_linear_limit(name):
    found = numbers(load_car(DATA / f"{name}.toml"))
    limit = found.get("linear limit", math.inf)
    beyond = {each for each, value in found.items() if "inner tire lift" in each and value > limit}
    assert {title.partition(" [")[0] for title in summary(load_car(DATA / f"{name}.toml"))} == found.keys() - beyond
    assert bool(beyond) == (name != "three_link")
