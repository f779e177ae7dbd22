"""Tolerances: exact derivatives against other ways to differentiate, first order against Monte Carlo."""

import math
from pathlib import Path

import mpmath
import numpy as np
import pytest
import sympy

from susgeo import (
    Car,
    Link,
    LiveAxle,
    PanhardBar,
    Point,
    SusgeoError,
    WattsLinkage,
    dimensions,
    effects,
    load_car,
    moved,
    numbers,
    pair,
    tolerance_table,
    tolerances,
    written_out,
)
from susgeo.car.front import Arm, IndependentFront, StrutLeg
from susgeo.car.locators import MumfordLinkage
from susgeo.car.pickup import mapped
from susgeo.geometry.dual import seeds
from susgeo.results.rows import SOLVED
from susgeo.results.tolerance import Tolerance

DATA = Path(__file__).resolve().parents[2] / "data"


@pytest.fixture(scope="module")
def coupe():
    return load_car(DATA / "three_link.toml")


LOWER = pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link"))
SPLAYED = pair(Link(Point(-30, 150, 460), Point(300, 420, 440), "left upper link"))
BAR = PanhardBar(Point(-120, 480, 310), Point(-130, -470, 290))
WATTS = WattsLinkage(
    Point(-140, 5, 330),
    *(Point(-140, 12, 400), Point(-150, 520, 410)),
    *(Point(-140, -2, 262), Point(-145, -515, 255)),
)  # fmt: skip
MUMFORD = MumfordLinkage(
    *(Point(-120, 150, 260), Point(-120, 160, 330), Point(-110, 560, 250), Point(-120, 155, 320)),
    *(Point(-120, -150, 260), Point(-120, -165, 325), Point(-110, -565, 245), Point(-120, -148, 215)),
)
UNEQUAL = (Link(Point(0, 500, 240), Point(600, 400, 290)), Link(Point(5, -490, 236), Point(590, -410, 300)))
UPPER = (Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),)
UPPER_ARM = Arm(Point(0, 660, 480), Point(120, 420, 500), Point(-140, 430, 470))
LOWER_ARM = Arm(Point(10, 700, 210), Point(150, 350, 230), Point(-180, 340, 225))
CARS = {
    "three links and a bar": LiveAxle(LOWER, UPPER, BAR),
    "converging links": LiveAxle(LOWER, SPLAYED),
    "Watt's linkage": LiveAxle(LOWER, UPPER, WATTS),
    "Mumford linkage": LiveAxle(LOWER, UPPER, MUMFORD),
    "unequal sides": LiveAxle(UNEQUAL, UPPER, BAR),
    "double wishbone": IndependentFront(LOWER_ARM, UPPER_ARM),
    "strut": IndependentFront(LOWER_ARM, StrutLeg(Point(-20, 560, 800), Point(0, 640, 300))),
}  # fmt: skip


TRIED = (
    *("lower.axle.z", "lower.chassis.y", "lower.left.chassis.y", "lower.ball_joint.y", "upper.chassis.z"),
    *("locator.axle.y", "locator.pivot.z", "locator.left_center.z", "track"),
)


def whole(axle):
    return Car("test", 2700, **{axle.end: axle})


@pytest.mark.parametrize("name", CARS)
def test_derivatives_are_those_of_sympy(name):
    """SymPy differentiates the formula that comes out with symbols in it; the dual numbers never see it."""
    car = whole(CARS[name])
    places = dimensions(car)
    found = effects(car)
    assert len(found) >= 4
    for place in TRIED:
        place = f"{next(car.axles())[0]}.{place}"
        if place not in places:
            continue
        symbol = sympy.Symbol("q", real=True)
        exact = mapped(car, lambda p, v, place=place, symbol=symbol: symbol if p == place else sympy.Rational(v))
        for quantity, by_place in found.items():
            if quantity == "rear roll axis slope" and name == "unequal sides":
                continue  # its two axes are for numbers; the next test has them
            if name == "converging links" and quantity not in numbers(exact, [quantity]):
                continue  # letters cannot say which pair is steeper, and are refused
            formula = sympy.sympify(numbers(exact, [quantity])[quantity])
            wanted = float(sympy.diff(formula, symbol).subs(symbol, sympy.Rational(places[place])).evalf(20))
            assert by_place[place] == pytest.approx(wanted, rel=1e-9, abs=1e-12), (quantity, place)


def test_the_axis_of_unequal_sides_turns_as_a_small_step_says():
    car = whole(CARS["unequal sides"])
    found = effects(car, ["rear roll axis slope"])["rear roll axis slope"]
    for place in ("rear.lower.left.axle.z", "rear.lower.right.chassis.y", "rear.upper.chassis.z"):
        steps = moved(car, {place: dimensions(car)[place] + np.array([-0.01, 0.01])})
        low, high = numbers(steps, ["rear roll axis slope"])["rear roll axis slope"]
        assert found[place] == pytest.approx((high - low) / 0.02, rel=1e-6, abs=1e-10)


@pytest.mark.parametrize("path", sorted(DATA.glob("*.toml")), ids=lambda path: path.stem)
def test_every_quantity_of_every_car_has_its_derivatives(path):
    """A small step of each dimension to both sides, in one call of arrays, says the same as the exact slope."""
    car = load_car(path)
    found, step = effects(car), 1e-3
    plain = numbers(car)
    missing = [name for name in plain if name not in found and math.isfinite(plain[name])]
    counts = ("rods that locate", "pitch held", *SOLVED)  # or found by steps along a solved path
    assert all(any(word in name for word in counts) for name in missing)
    places = list(dimensions(car))
    sides = np.zeros((len(places), 2, len(places)))
    for number in range(len(places)):
        sides[number, :, number] = -step, step
    shaken = numbers(mapped(car, lambda p, v: v + sides[..., places.index(p)] if p in places else v))
    for name, by_place in found.items():
        low, high = np.broadcast_to(shaken[name], sides.shape[:2]).T
        size = abs(float(plain[name])) + max(map(abs, by_place.values()))
        slopes = (high - low) / (2 * step)
        assert slopes == pytest.approx(list(by_place.values()), rel=1e-4, abs=1e-6 * size), name


def test_what_is_solved_has_no_tolerance_and_says_so():
    coupe = load_car(DATA / "club_coupe.toml")
    found = tolerances(coupe, samples=10)
    assert "linear limit" in numbers(coupe) and not {*SOLVED} & {*found}
    assert "none" not in str(tolerance_table(found))
    with pytest.raises(SusgeoError, match="corner end is solved step by step"):
        tolerances(coupe, names=["front bump steer", "corner end"])
    with pytest.raises(SusgeoError, match="no way on paper leads to it"):
        written_out(coupe, "linear limit")


def test_five_rods_with_unequal_sides_have_a_first_order_too():
    five = LiveAxle(UNEQUAL, SPLAYED, BAR)
    found = tolerances(five, samples=4000)["rear roll center height"]
    assert (found.high - found.low) / 2 == pytest.approx(found.plus_minus, rel=0.05)
    assert found.warning == "" and found.low < found.value < found.high
    car = whole(five)
    slopes = effects(car, ["rear roll center height"])["rear roll center height"]
    for place in ("rear.lower.left.chassis.y", "rear.upper.axle.z", "rear.locator.chassis.z"):
        steps = moved(car, {place: dimensions(car)[place] + np.array([-0.01, 0.01])})
        low, high = numbers(steps, ["rear roll center height"])["rear roll center height"]
        assert slopes[place] == pytest.approx((high - low) / 0.02, rel=1e-6, abs=1e-9)


def test_roll_center_height_against_pencil_and_50_digits():
    """The heights of two points of the center plane, by proportion, differentiated by mpmath."""

    def height(y_axle, z_axle, y_chassis, z_chassis):
        share = y_axle / (y_axle - y_chassis)  # of the lower link, where it crosses the center plane
        x, z = share * 600, z_axle + share * (z_chassis - z_axle)
        return 300 + (z - 300) * 120 / (x + 120)

    with mpmath.workdps(50):
        at = (500, 240, 400, 290)
        wanted = [mpmath.diff(height, at, tuple(int(i == k) for k in range(4))) for i in range(4)]
    axle = LiveAxle(LOWER, UPPER, PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)))
    found = effects(axle)["rear roll center height"]
    places = ("rear.lower.axle.y", "rear.lower.axle.z", "rear.lower.chassis.y", "rear.lower.chassis.z")
    for place, slope in zip(places, wanted, strict=True):
        assert found[place] == pytest.approx(float(slope), rel=1e-12)


def test_the_guides_own_example():
    """JCGM 100:2008, 5.1.3, example: P = V^2 / (R0 (1 + alpha (t - t0))), four derivatives (from memory)."""
    v, r, alpha, t = 5.0, 120.0, 0.004, 35.0
    volt, ohm, rate, warm = seeds([v, r, alpha, t])
    power = volt * volt / (ohm * (1 + rate * (warm - 20)))
    value = v**2 / (r * (1 + alpha * 15))
    assert power.value == pytest.approx(value, rel=1e-15)
    assert power.slopes == pytest.approx(
        [2 * value / v, -value / r, -value * 15 / (1 + alpha * 15), -value * alpha / (1 + alpha * 15)], rel=1e-14
    )


def test_first_order_and_monte_carlo_agree_where_they_should(coupe):
    for each in tolerances(coupe, error=1.0).values():
        assert not each.warning
        assert (each.high - each.low) / 2 == pytest.approx(each.plus_minus, rel=0.05), each.name
        assert each.plus_minus == pytest.approx(math.hypot(*each.parts.values()))


def test_monte_carlo_is_many_single_cars(coupe):
    """The same range, from cars built one by one, with random numbers of their own."""
    random, known = np.random.default_rng(7), dimensions(coupe)
    heights = []

    def off(place, value):
        return value + random.normal(0, 4) if place in known and place.startswith("rear.") else value

    for _ in range(700):
        one = mapped(coupe, off)
        heights.append(one.rear.roll_center_height)
    found = tolerances(coupe, error=8.0)["rear roll center height"]
    assert np.std(heights) == pytest.approx((found.high - found.low) / 4, rel=0.08)
    assert np.mean(heights) == pytest.approx((found.high + found.low) / 2, abs=0.5)


def test_nearly_parallel_links_are_warned_of(coupe):
    """Upper link raised until the instant center is some 30 m away: a small tape error moves it by meters."""
    flat = moved(coupe, {"rear.upper.chassis.z": 504.0})
    found = tolerances(flat, error=3.0)
    far = found["rear side-view instant center x"]
    assert abs(far.value) > 20_000
    assert "do not trust" in far.warning and "parallel" in far.warning
    assert far.high - far.low > 3 * far.plus_minus or far.low < 0 < far.high
    assert not found["rear roll center height"].warning
    assert not found["rear pinion angle rate"].warning  # one over it is as good as ever
    assert far.warning in str(tolerance_table(found))


@pytest.mark.parametrize(("off", "warned"), [(0.13, False), (0.15, True)])
def test_first_order_is_trusted_to_a_tenth_and_the_chance_of_the_draw(off, warned):
    """10,000 cars: a tenth, and 4 / sqrt(10,000) for what chance alone may do to the range."""
    wide = Tolerance("x", "mm", 0.0, 1.0, -1.0 - off, 1.0 + off, {}, 10_000)
    aside = Tolerance("x", "mm", 0.0, 1.0, -1.0 + off, 1.0 + off, {}, 10_000)
    assert (bool(wide.warning), bool(aside.warning)) == (warned, warned)


def test_an_error_is_two_standard_deviations(coupe):
    """One dimension of error 2 moves a quantity that is straight in it: 95.45 in 100 within twice sigma, in any table."""
    place = "rear.locator.chassis.z"
    found = tolerances(coupe, 0.0, {place: 2.0}, ["rear roll center height"], samples=400_000)
    one = found["rear roll center height"]
    # The quantile's own error is 0.22 % of the half width; 1.96 in the place of 2 would be 2 %.
    assert (one.high - one.low) / 2 == pytest.approx(abs(one.parts[place]), rel=8e-3)


def test_links_exactly_parallel_are_at_infinity(coupe):
    level = moved(coupe, {"rear.upper.chassis.z": 507.5})
    assert level.rear.side_view_instant_center.w == 0
    far = tolerances(level)["rear side-view instant center x"]
    assert far.value == math.inf and math.isnan(far.plus_minus)
    assert "at infinity as measured" in far.warning
    assert far.low < -10_000 and far.high > 10_000


def test_what_to_measure_twice_is_what_helps_most(coupe):
    """Each dimension in turn is measured twice as well: the tolerance shrinks most for the one that was named."""
    before = tolerances(coupe)["rear roll center height"]
    place, share = before.measure_twice
    after = {
        each: tolerances(coupe, errors={each: 1.0}, samples=100)["rear roll center height"].plus_minus
        for each in before.parts
    }
    assert min(after, key=after.get) == place
    assert after[place] == pytest.approx(before.plus_minus * math.sqrt(1 - 0.75 * share))
    assert list(before.parts.values()) == sorted(before.parts.values(), key=abs, reverse=True)


def test_an_error_may_be_given_for_one_dimension_or_a_part(coupe):
    only = tolerances(coupe, 0.0, {"rear.locator": 2.0, "rear.locator.axle.z": 0.5}, samples=100)
    parts = only["rear locator height"].parts
    assert all(place.startswith("rear.locator.") for place, part in parts.items() if part)
    slope = effects(coupe)["rear locator height"]
    assert parts["rear.locator.axle.z"] == pytest.approx(0.5 * slope["rear.locator.axle.z"])
    assert parts["rear.locator.chassis.z"] == pytest.approx(2.0 * slope["rear.locator.chassis.z"])
    assert only["rear side-view instant center x"].plus_minus == 0
    assert not only["rear side-view instant center x"].warning


def test_inches_are_mm(coupe):
    metric, inch = tolerances(coupe, 2.54), tolerances(coupe, 0.1, units="in")
    assert inch["rear roll center height"].unit == "in"
    assert inch["rear roll steer"].plus_minus == pytest.approx(metric["rear roll steer"].plus_minus, rel=1e-12)
    for what in ("value", "plus_minus", "low", "high"):
        small = getattr(inch["rear roll center height"], what)
        assert small * 25.4 == pytest.approx(getattr(metric["rear roll center height"], what), rel=1e-12)


def test_the_same_seed_gives_the_same_cars(coupe):
    first, again, other = (tolerances(coupe, seed=seed)["rear roll steer"].low for seed in (3, 3, 4))
    assert first == again != other


def test_an_axle_alone_will_do(coupe):
    alone, car = tolerances(coupe.rear), tolerances(coupe)
    assert alone["rear roll steer"].plus_minus == car["rear roll steer"].plus_minus


def test_a_link_in_the_middle_stays_there(coupe):
    assert "rear.upper.axle.y" not in tolerances(coupe)["rear roll steer"].parts
    beside = LiveAxle(LOWER, (Link(Point(-50, 90, 470), Point(400, 80, 450)),), BAR)
    assert effects(beside)["rear side-view instant center x"]["rear.upper.axle.y"] != 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"error": -1.0}, "the error is -1.0"),
        ({"error": math.nan}, "the error is nan"),
        ({"errors": {"rear.locator": math.inf}}, "rear.locator is inf"),
        ({"errors": {"rear.locater": 1.0}}, "no dimension rear.locater"),
        ({"names": ["rear roll centre height"]}, "did you mean rear roll center height"),
    ],
)
def test_what_makes_no_sense_is_refused(coupe, arguments, words):
    with pytest.raises(SusgeoError, match=words):
        tolerances(coupe, **arguments)


def test_a_number_with_derivatives_is_one_dimension(coupe):
    places = list(dimensions(coupe))
    with_slopes = mapped(coupe, lambda place, value: seeds([value])[0])
    assert list(dimensions(with_slopes)) == places
