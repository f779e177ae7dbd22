"""Same, different or undecided: 150 pairs of formulas written by hand, and what is not said of others."""

import cProfile
import itertools
import math
import random
from fractions import Fraction

import numpy as np
import pytest
import sympy as sp

from answers.formula_pairs import NEAR, POSITIVE, RANGES, REAL, SAME
from susgeo.answers.equality import Different, Same, Undecided, compare
from susgeo.answers.formula import read_formula
from susgeo.answers.trial import scatter

NAMES = {name: sp.Symbol(name, real=True) for name in REAL} | {
    name: sp.Symbol(name, positive=True) for name in POSITIVE
}
SPANS = {name: RANGES.get(name, (0.5, 5) if name in POSITIVE else (-5, 5)) for name in NAMES}
# True, but beyond the algebra: an arctangent that is half of another.
UNDECIDED = [("atan(h/L)", "2*atan(h/(L + sqrt(L² + h²)))")]
OWN = {"Where": lambda value, *least: np.where(np.min(least, axis=0) >= 0, value, math.nan)}


def cars():
    return scatter(SPANS)


def read(text):
    return read_formula(text, NAMES)


def numeric(expression, points):
    """Values at points by NumPy: a road of its own, with nothing of the checker in it; nan for none."""
    symbols = sorted(expression.free_symbols, key=str)
    columns = [np.array([float(point[symbol.name]) for point in points]) for symbol in symbols]
    with np.errstate(all="ignore"):
        return sp.lambdify(symbols, expression, [OWN, "numpy"])(*columns) + np.zeros(len(points))


def somewhere(seed, count=40):
    """Random points of the ranges, other points than those that the checker uses."""
    draw = random.Random(seed)
    return [{name: draw.uniform(*span) for name, span in SPANS.items()} for _ in range(count)]


def test_there_are_enough_pairs_and_few_of_them_are_undecided():
    assert len(SAME) >= 60 and len(NEAR) >= 60
    assert set(UNDECIDED) <= set(SAME)
    assert len(UNDECIDED) < 0.02 * (len(SAME) + len(NEAR))


@pytest.mark.parametrize(("one", "other"), SAME)
def test_formulas_that_are_the_same(one, other):
    a, b = read(one), read(other)
    x, y = numeric(a, somewhere(1)), numeric(b, somewhere(1))
    both = np.isfinite(x) & np.isfinite(y)
    assert both.sum() >= 5
    np.testing.assert_allclose(x[both], y[both], rtol=1e-9, atol=1e-12)
    expected = Undecided if (one, other) in UNDECIDED else Same
    assert type(compare(a, b, cars, RANGES)) is expected
    assert type(compare(b, a, cars, RANGES)) is expected


@pytest.mark.parametrize(("one", "other"), NEAR)
def test_formulas_that_are_nearly_the_same(one, other):
    for student, truth in ((read(one), read(other)), (read(other), read(one))):
        verdict = compare(student, truth, cars, RANGES)
        assert isinstance(verdict, Different)
        np.testing.assert_allclose(verdict.truth, numeric(truth, [verdict.witness])[0], rtol=1e-9)
        np.testing.assert_allclose(verdict.student, numeric(student, [verdict.witness])[0], rtol=1e-9)
        assert verdict.student != verdict.truth


def test_cars_that_all_share_two_equal_lengths_do_not_hide_a_difference():
    def alike():
        for n in range(1, 20):
            yield {"x1": Fraction(n), "x2": Fraction(n), "L": Fraction(n, 2), "k": Fraction(3)}

    for one, other in (("x1*L", "x2*L"), ("sqrt(x1^2 + L^2)", "hypot(x2, L)"), ("atan2(k, x1)", "atan2(k, x2)")):
        assert compare(read(one), read(one), alike) == Same()
        verdict = compare(read(one), read(other), alike)
        assert isinstance(verdict, Different) and verdict.witness["x1"] != verdict.witness["x2"]


def test_a_student_who_divides_by_zero_on_one_car_is_the_same_elsewhere_and_the_car_is_named():
    points = [{"x": Fraction(n), "L": Fraction(3)} for n in range(1, 9)]
    for text in ("(x^2 - L^2)/(x - L)", "(x^2 - L^2)/(sqrt(x) - sqrt(L))/(sqrt(x) + sqrt(L))"):
        assert compare(read(text), read("x + L"), lambda: points) == Same({"x": 3, "L": 3})
    nowhere = compare(read("(x^2 - L^2)/(x - L)"), read("x + L"), lambda: points[2:3])
    assert isinstance(nowhere, Different) and math.isnan(nowhere.student) and nowhere.truth == 6


def test_a_root_of_a_negative_number_is_a_difference_and_shown_as_no_value():
    points = [{"x": Fraction(-4), "L": Fraction(3)}, {"x": Fraction(4), "L": Fraction(3)}]
    verdict = compare(read("sqrt(x - L)*sqrt(x + L)"), read("sqrt(x^2 - L^2)"), lambda: points)
    assert verdict.witness == points[0] and math.isnan(verdict.student)
    assert compare(read("sqrt(x - L)*sqrt(x + L)"), read("sqrt(x^2 - L^2)"), lambda: points[1:]) == Same()
    assert math.isnan(compare(read("asin(x)"), read("x"), lambda: points).student)


def test_where_the_truth_has_no_value_nothing_is_said():
    verdict = compare(read("1/x"), read("2/x"), lambda: [{"x": Fraction(0)}])
    assert isinstance(verdict, Undecided) and "no value" in verdict.reason


@pytest.mark.parametrize(
    ("one", "other"),
    [
        # each pair agrees where x > 0, as on all the cars: to call it the same would be wrong where x < 0
        ("abs(x)", "x"),
        ("sqrt(x^2*L)", "x*sqrt(L)"),
        ("atan2(L, x)", "atan(L/x)"),
        ("atan(x/L)", "pi/2 - atan(L/x)"),
        ("cos(atan(L/x))", "x/hypot(x, L)"),
        ("acos(x/hypot(x, L))", "atan(L/x)"),
        ("pi/(2*x)", "pi/(2*abs(x))"),
        ("atan2(abs(x), x)", "pi/4"),
        ("sqrt(x*L)*sqrt(x*k)", "x*sqrt(L*k)"),
        ("sqrt((x*L)^2 + 2*x*abs(x)*L^2 + (x*L)^2)", "2*x*L"),
        ("sqrt(1 - sin(x)^2)", "cos(x)"),
        ("asin(sin(x))", "x"),
    ],
)
def test_agreement_on_cars_is_no_proof(one, other):
    for a, b in ((one, other), (other, one)):
        verdict = compare(read(a), read(b), lambda: scatter({"x": (0.1, 1), "L": (1, 3), "k": (1, 3)}))
        # true wherever the first root has a value: x L >= 0
        expected = Same if "sqrt(x*L)" in one else Undecided
        assert type(verdict) is expected


# Rewritings that people make; some hold only for positive u or v, or small ones.
REWRITINGS = [
    ("abs(u)", "u"),
    ("sqrt(u^2)", "u"),
    ("sqrt(u^2*v)", "u*sqrt(v)"),
    ("sqrt(u*v)", "sqrt(u)*sqrt(v)"),
    ("sqrt(u/v)", "sqrt(u*v)/v"),
    ("1/sqrt(u)", "sqrt(u)/u"),
    ("abs(u*v)", "u*abs(v)"),
    ("abs(u/v)", "abs(u)/abs(v)"),
    ("(u^2 - v^2)/(u - v)", "u + v"),
    ("hypot(u, v)", "abs(u)*sqrt(1 + (v/u)^2)"),
    ("atan2(u, v)", "atan(u/v)"),
    ("atan2(u, v)", "pi/2 - atan(v/u)"),
    ("atan(u/v)", "pi/2 - atan(v/u)"),
    ("asin(u/hypot(u, v))", "atan(u/v)"),
    ("asin(u/hypot(u, v))", "atan(u/abs(v))"),
    ("acos(u/hypot(u, v))", "atan(v/u)"),
    ("acos(u/hypot(u, v))", "pi/2 - atan(u/abs(v))"),
    ("sin(atan(u/v))", "u/hypot(u, v)"),
    ("cos(atan2(u, v))", "v/hypot(u, v)"),
    ("cos(u)", "sqrt(1 - sin(u)^2)"),
    ("cos(2*u)", "1 - 2*sin(u)^2"),
    ("sin(u)/cos(v)*cos(u)", "sin(2*u)/(2*cos(v))"),
    ("tan(u/2)", "(1 - cos(u))/sin(u)"),
    ("abs(sin(u))", "sqrt((1 - cos(2*u))/2)"),
]


def test_no_false_proof_among_random_rewritings():
    draw = random.Random(20)
    x, z, c = NAMES["x"], NAMES["z"], NAMES["L"]
    parts = [x, z, c, x * z, x + c, x - z, x / c, 2 * x, x**2 - z, -z, x * z**2, c / z]
    u, v = sp.Symbol("u", real=True), sp.Symbol("v", real=True)
    around = [lambda e: e, lambda e: c * e - x, lambda e: 1 / (e + c), lambda e: sp.Abs(e) + e, lambda e: e**2 / z]

    def ahead():
        return scatter({"x": (0.5, 0.7), "z": (0.1, 0.2), "L": (0.3, 0.4)})

    everywhere = list(itertools.islice(scatter({"x": (-2, 2), "z": (-2, 2), "L": (Fraction(1, 10), 2)}), 40))
    proved = 0
    for pair, wrap in itertools.product(REWRITINGS, around):
        put = {u: draw.choice(parts), v: draw.choice(parts)}
        one, other = (wrap(read_formula(text, {"u": u, "v": v}).xreplace(put)) for text in pair)
        if one == other or one.has(sp.zoo, sp.nan, sp.I) or other.has(sp.zoo, sp.nan, sp.I):
            continue
        if isinstance(compare(one, other, ahead), Same):
            proved += 1
            a, b = numeric(one, everywhere), numeric(other, everywhere)
            both = np.isfinite(a) & np.isfinite(b)
            np.testing.assert_allclose(a[both], b[both], rtol=1e-6, atol=1e-9, err_msg=f"{one} and {other}")
    assert proved > 40


@pytest.mark.parametrize(
    "text",
    [
        "((x + z + x1 + z1 + x2 + z2)^8 + 1)*((x3 + z3 + x4 + z4 + L)^8 - 1)",
        "1/(x+1/(z+1/(x1+1/(z1+1/(x2+1/(z2+1/(x3+1/(z3+1/(x4+1/(z4+1/(L+1/(h+1/(k+1/t)))))))))))))^8",
        "*".join(f"sqrt(x^2 + z^2 + {n})" for n in range(1, 30)),
        "+".join(f"1/(x + {n} + sqrt(z + {n} + L))" for n in range(1, 20)),
        "sin(1000*b + 999*phi)^8*cos(1e20*b)^7",
        "sin(b/7 + phi/11)*sin(b/13 + phi/17)*cos(b/19)",
        "abs(" * 12 + "x - L" + " - 1)" * 12,
        "sqrt(123456789123456789*x^2 + 987654321987654321)",
        "atan(" * 12 + "x" + "/z)" * 12,
    ],
)
def test_the_work_is_bounded_however_large_the_formula(text):
    """Counted, not timed: no more Python calls than a bound that stands for about a second."""
    one = read(text)
    other = sp.Add(one, 1 / NAMES["k"], -2 / (2 * NAMES["k"]) + NAMES["m"] - NAMES["m"] * (one**2 + 1) / (one**2 + 1))
    with cProfile.Profile(builtins=False) as profile:
        verdict = compare(one + NAMES["m"] * one, one * (1 + NAMES["m"]), cars)
        compare(one, other, cars)
    assert isinstance(verdict, (Same, Undecided))
    assert sum(function.callcount for function in profile.getstats()) < 5_000_000


def test_ranges_settle_a_sign_only_where_they_say_so():
    def between():
        return scatter({"x": (0.5, 0.9)})

    for text, verdict in (("x^2 - 1/9", Undecided), ("x^2 + x + 2", Same), ("2 - x", Same), ("x", Undecided)):
        assert type(compare(read(f"abs({text})"), read(text), between, {"x": (-1, 1)})) is verdict
    assert type(compare(read("sqrt(1 - sin(x)^2)"), read("cos(x)"), between, {"x": (-1, 1)})) is Same
    assert type(compare(read("sqrt(1 - cos(x)^2)"), read("sin(x)"), between, {"x": (-1, 1)})) is Undecided
    assert type(compare(read("sqrt(1 - cos(x)^2)"), read("sin(x)"), between, {"x": (0, 1)})) is Same


def test_scatter_is_the_same_for_ever_and_stays_inside_its_ranges():
    points = list(itertools.islice(scatter({"x": (0, 1), "y": (-3, -2), "z": (5, 5.5)}), 50))
    # fractional parts of n sqrt(2), n sqrt(3), n sqrt(5), in steps of 1/1000, computed by hand for n = 1
    assert points[0] == {"x": Fraction(829, 2000), "y": -3 + Fraction(1465, 2000), "z": 5 + Fraction(473, 4000)}
    assert all(0 < p["x"] < 1 and -3 < p["y"] < -2 and 5 < p["z"] < 5.5 for p in points)
    assert len({p["x"] for p in points}) == 50
