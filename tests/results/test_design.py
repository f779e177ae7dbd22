"""Design: exact answers against a root finder and against pencil; searches against trying one by one."""

import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import sympy
from scipy.optimize import brentq

from susgeo import (
    SusgeoError,
    Target,
    best_design,
    dimensions,
    load_car,
    moved,
    numbers,
    slope,
    solve_for,
    solve_travel,
)
from susgeo.car.car import Weight
from susgeo.results.design import unbeaten
from susgeo.results.many import at_heave

DATA = Path(__file__).resolve().parents[2] / "data"
LOWER, UPPER, BAR = "rear.lower.chassis.z", "rear.upper.chassis.z", "rear.locator.chassis.z"


@pytest.fixture(scope="module")
def coupe():
    return load_car(DATA / "three_link.toml")


def anti_squat(car):
    """Return tan(theta) L / h in percent, with a center of gravity 520 mm high."""
    return slope(car.rear.side_view_instant_center) * car.wheelbase * 100 / 520


@pytest.mark.parametrize(
    ("place", "quantity", "target", "between"),
    [
        (LOWER, anti_squat, 80, (150, 289)),
        (UPPER, anti_squat, 120, (380, 460)),
        ("rear.upper.axle.x", anti_squat, 120, (-300, 300)),
        (BAR, "rear roll center height", 280, (100, 400)),
        ("rear.lower.chassis.y", "rear roll steer", 0.07, (300, 480)),
        (LOWER, "rear roll axis slope", 2.0, (200, 300)),
        ("rear.lower.axle.z", "rear pinion angle rate [deg/mm]", 0.02, (200, 300)),
    ],
)
def test_an_exact_answer_is_where_a_root_finder_finds_it(coupe, place, quantity, target, between):
    """SciPy's brentq looks for it with plain floats."""
    answer = solve_for(coupe, place, quantity, target)

    def off(value):
        car = moved(coupe, {place: value})
        if callable(quantity):
            return float(quantity(car) - target)
        name = quantity.partition(" [")[0]
        return float(numbers(car, [name])[name]) - target

    (near,) = [value for value in answer.values if between[0] < value < between[1]]
    assert near == pytest.approx(brentq(off, *between, xtol=1e-12), rel=1e-9)
    assert {answer.unknown} == answer.formula.free_symbols


def test_bracket_height_by_pencil(coupe):
    """Anti-squat 100 tan(theta) L / h, theta up to the meet of two lines, solved on paper.

    The upper link's line is z = 470 - 20 (x + 50) / 450; for a wanted tan(theta) = t the instant center is
    where it meets z = t x; the lower link's line from (0, 240) through it gives the bracket's height at 600.
    """
    wanted = sympy.Rational(75)
    t = wanted * 520 / 100 / 2700
    x = (470 - sympy.Rational(20 * 50, 450)) / (t + sympy.Rational(20, 450))
    by_pencil = 240 + 600 * (t * x - 240) / x
    answer = solve_for(coupe, LOWER, anti_squat, 75)
    assert answer.exact == (by_pencil,)


def test_bar_height_by_pencil(coupe):
    """Its axle end at 300, the bar crosses the middle 480 / 950 of the way to z: 300 + (z - 300) 48 / 95."""
    answer = solve_for(coupe, BAR, "rear locator height", 250)
    assert answer.exact == (300 - sympy.Rational(50 * 950, 480),)


def test_pivot_offset_that_makes_splayed_links_parallel(coupe):
    assert solve_for(coupe, "rear.lower.chassis.y", "rear lower link convergence x", math.inf).exact == (500,)
    assert solve_for(coupe, "rear.lower.axle.y", lambda car: car.rear.convergence("lower").w, 0).exact == (400,)


def test_parallel_links_in_side_view(coupe):
    """An instant center at infinity: the lower link rises 50 in 600, so the upper one must in its 450."""
    (height,) = solve_for(coupe, UPPER, "rear side-view instant center x", math.inf).exact
    assert height == 470 + sympy.Rational(50 * 450, 600)


def test_a_wanted_value_may_be_a_letter(coupe):
    letter = sympy.Symbol("A", positive=True)
    (general,) = solve_for(coupe, LOWER, anti_squat, letter).exact
    for wanted in (40, 75, 110):
        assert general.subs(letter, wanted) == solve_for(coupe, LOWER, anti_squat, wanted).exact[0]


def test_every_real_solution_is_given(coupe):
    """A link of 620 mm: Pythagoras has two heights for its end."""
    rise = math.sqrt(620**2 - 600**2 - 100**2)
    found = solve_for(coupe, LOWER, lambda car: car.rear.lower[0].length, 620)
    assert found.values == pytest.approx((240 - rise, 240 + rise), rel=1e-14)


@pytest.mark.parametrize(
    ("place", "quantity", "target", "words"),
    [
        (UPPER, "rear roll center height", 300, f"{UPPER} has no influence"),
        (
            LOWER,
            lambda car: car.rear.lower[0].length,
            100,
            "No value of rear.lower.chassis.z that a car could have makes",
        ),
        ("rear.lower.chasis.z", "rear roll steer", 0, "did you mean chassis"),
        (LOWER, "rear roll steering", 0, "did you mean rear roll steer"),
        (LOWER, "rear upper link convergence x", 0, "has no pair of upper links"),
    ],
)
def test_an_unknown_that_cannot_help_is_refused(coupe, place, quantity, target, words):
    with pytest.raises(SusgeoError, match=words):
        solve_for(coupe, place, quantity, target)


CHOICES = {
    "rear.lower.chassis": [(600, 400, 250), (600, 400, 270), (580, 410, 290)],
    "rear.upper.axle": [(-50, 0, 440), (-40, 0, 470)],
    UPPER: range(400, 480, 20),
    BAR: (280.0, 300.0),
}
TARGETS = [
    Target("rear roll steer", -0.01, 0.05),
    Target("rear side-view instant center x", 1000, 2000),
    Target("rear roll center height", 285, 305),
]
HEAVES = (-40.0, 0.0, 40.0)


def one_by_one(car, choices, targets, heaves):
    """Return {picks: worst miss of each target}, with a car built for each choice and each height."""
    found = {}
    for picks in itertools.product(*choices.values()):
        changes = {}
        for place, pick in zip(choices, picks, strict=True):
            changes |= (
                dict(zip((f"{place}.x", f"{place}.y", f"{place}.z"), pick, strict=True))
                if isinstance(pick, tuple)
                else {place: pick}
            )
        made = moved(car, changes)
        misses = []
        for heave in heaves:
            rear = solve_travel(made.rear, heave).at() if heave else made.rear
            values = {
                "rear roll steer": rear.roll_steer,
                "rear side-view instant center x": rear.side_view_instant_center.u / rear.side_view_instant_center.w,
                "rear roll center height": rear.roll_center_height,
            }
            misses.append(
                [max(t.low - values[t.quantity], values[t.quantity] - t.high) / ((t.high - t.low) / 2) for t in targets]
            )
        found[picks] = np.max(misses, axis=0)
    return found


@pytest.mark.parametrize("heaves", [(0.0,), HEAVES])
def test_the_search_finds_what_trying_one_by_one_finds(coupe, heaves):
    tried = one_by_one(coupe, CHOICES, TARGETS, heaves)
    found = best_design(coupe, CHOICES, TARGETS, heaves)
    best = min(tried, key=lambda picks: tried[picks].max())
    assert tuple(found.choice.values()) == best
    assert found.met == (tried[best].max() <= 0)
    assert f"{tried[best].max():+.2f}" == found.alternatives.rows[0][-1]
    assert dimensions(found.car)[UPPER] == found.choice[UPPER]
    assert dimensions(found.car)["rear.lower.chassis.x"] == found.choice["rear.lower.chassis"][0]


def test_a_target_that_gives_way_is_named_with_its_amount(coupe):
    """Roll steer wants the lower links level, the instant center wants them steep: no height does both."""
    choices = {LOWER: range(240, 300, 5)}
    targets = [Target("rear roll steer", -0.02, 0.02), Target("rear side-view instant center x", 1000, 2000, step=100)]
    found = best_design(coupe, choices, targets)
    assert not found.met
    needed = {}
    for z in choices[LOWER]:
        rear = moved(coupe, {LOWER: z}).rear
        steer, x = rear.roll_steer, rear.side_view_instant_center.u / rear.side_view_instant_center.w
        if abs(steer) <= 0.02:
            needed.setdefault("rear side-view instant center x", []).append((x - 2000, x))
        if 1000 <= x <= 2000:
            needed.setdefault("rear roll steer", []).append((steer - 0.02, steer))
    gap, value = min(needed["rear roll steer"])
    assert (gap / 0.02) < min(needed["rear side-view instant center x"])[0] / 100  # in steps, the cheaper one
    assert found.sentence == (
        f"No choice meets every target: rear roll steer must give way by {gap:.4f} deg/deg "
        f"(to {value:.4f} deg/deg) if the others are to be met."
    )


def test_when_nothing_but_a_compromise_is_left_it_says_so(coupe):
    targets = [Target("rear roll steer", 0.5, 0.6), Target("rear roll center height", 500, 520)]
    found = best_design(coupe, {LOWER: (280, 290)}, targets)
    assert found.sentence.startswith("No choice meets every target, nor all but one")
    assert "rear roll steer (" in found.sentence and "rear roll center height (" in found.sentence


def test_the_tradeoff_of_a_lower_link_is_shown(coupe):
    """One link, two quantities: on the list of alternatives the one falls as the other gets worse."""
    targets = [
        Target("rear roll steer", -0.001, 0.001, 0.01),
        Target("rear side-view instant center x", 999, 1001, 100),
    ]
    rows = best_design(coupe, {LOWER: range(250, 300, 10)}, targets).alternatives.rows
    by_height = sorted(rows, key=lambda row: float(row[0]))
    steer, x = ([abs(float(row[k].split()[0])) for row in by_height] for k in (1, 2))
    assert len(rows) == 5
    assert steer == sorted(steer) and x == sorted(x, reverse=True)


def test_a_height_out_of_reach_is_never_chosen(coupe):
    """A bar of 60 mm between its joints cannot follow 100 mm of travel; the long one can."""
    choices = {"rear.locator.chassis.y": [420.0, -470.0]}
    found = best_design(coupe, choices, [Target("rear locator height", 0, 600)], (0.0, 100.0))
    assert found.choice == {"rear.locator.chassis.y": -470.0} and found.met


def test_one_limit_is_enough_with_a_step(coupe):
    at_least = Target("rear roll center height", low=300, step=10)
    assert best_design(coupe, {BAR: [260, 320]}, [at_least]).choice == {BAR: 320}
    for limits in ({"low": 300}, {"low": 300, "high": 300}):
        with pytest.raises(SusgeoError, match="with one limit alone, or two equal ones, a step"):
            best_design(coupe, {BAR: [260, 320]}, [Target("rear roll center height", **limits)])


def test_an_instant_center_at_infinity_meets_at_least_and_misses_at_most(coupe):
    parallel = {UPPER: [507.5]}
    x = "rear side-view instant center x"
    assert best_design(coupe, parallel, [Target(x, low=3000, step=100)]).met
    assert not best_design(coupe, parallel, [Target(x, high=3000, step=100)]).met


def test_at_heave_moves_axle_and_center_of_gravity(coupe):
    car = at_heave(replace(coupe, weight=Weight(1200, 0.52, 520)), 30.0)
    assert car.weight.cg_height == 490
    assert car.rear.roll_center_height == solve_travel(coupe.rear, 30.0).moved.roll_center_height


@pytest.mark.parametrize("heave", [-60.0, 60.0])
@pytest.mark.parametrize("name", ["live_front", "club_coupe"])
def test_at_heave_is_where_the_masses_go(name, heave):
    """Body, front axle and rear axle as three points of mass: where they are after the heave, by moments."""
    car = load_car(DATA / f"{name}.toml")
    w, length = car.weight, car.wheelbase
    front, rear = w.front_unsprung_mass, w.rear_unsprung_mass
    body = w.mass - front - rear
    place = (w.mass * w.front_share * length - front * length) / body  # of the body, ahead of the rear wheels
    ahead = {end: float(solve_travel(axle, heave).x) for end, axle in car.axles()}
    low = at_heave(car, heave)
    assert low.wheelbase == pytest.approx(length + ahead["front"] - ahead["rear"], abs=1e-9)
    moment = front * low.wheelbase + body * (place - ahead["rear"])
    assert low.weight.front_share == pytest.approx(moment / (w.mass * low.wheelbase), rel=1e-12)
    assert low.weight.cg_height == pytest.approx(w.cg_height - heave * body / w.mass, rel=1e-12)


def test_the_tow_car_raised_and_lowered():
    """An independent calculation gave these two figures."""
    car = load_car(DATA / "live_front.toml")
    assert at_heave(car, 60.0).weight.cg_height == pytest.approx(554.7, abs=0.05)
    assert at_heave(car, -60.0).wheelbase == pytest.approx(2404.6, abs=0.05)


@pytest.mark.parametrize("columns", [1, 2, 3, 4, 5])
def test_unbeaten_choices_by_comparing_all_with_all(columns):
    costs = np.random.default_rng(5).integers(0, 25, (300, columns)).astype(float)
    costs[costs == 24], costs[costs == 0] = np.inf, -np.inf
    by_hand = [
        i for i, row in enumerate(costs)
        if not any(np.all(other <= row) and (np.any(other < row) or k < i) for k, other in enumerate(costs) if k != i)
    ]  # fmt: skip
    assert len(by_hand) >= (5 if columns > 2 else 1)
    assert unbeaten(costs) == by_hand


@pytest.mark.parametrize(
    ("choices", "targets", "words"),
    [
        ({}, TARGETS, "at least one choice"),
        ({UPPER: []}, TARGETS, "at least one choice"),
        ({UPPER: [450]}, [], "needs a target"),
        ({UPPER: range(2000), BAR: range(2000)}, TARGETS, "4,000,000 choices"),
        ({"rear.uper.chassis.z": [450]}, TARGETS, "did you mean upper"),
        ({UPPER: [450]}, [Target("rear anti squash", 0, 1)], "no quantity called rear anti squash"),
    ],
)
def test_a_search_that_cannot_be_made_is_refused(coupe, choices, targets, words):
    with pytest.raises(SusgeoError, match=words):
        best_design(coupe, choices, targets)
