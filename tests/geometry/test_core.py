"""The core: one formula for every kind of number, what happens where nothing is determined, and the laws of
projective geometry, against SymPy's and Shapely's geometry, NumPy's linear algebra and mpmath's 50 digits."""

import math
import re
from dataclasses import fields, is_dataclass, replace
from fractions import Fraction
from pathlib import Path

import mpmath
import numpy as np
import pytest
import shapely
import sympy
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from susgeo import (
    Car,
    FlatLine,
    FlatPoint,
    Line,
    Link,
    LiveAxle,
    MumfordLinkage,
    PanhardBar,
    Plane,
    Point,
    SusgeoError,
    UndefinedError,
    WattsLinkage,
    coordinates,
    distance,
    join,
    load_car,
    meet,
    moved,
    numbers,
    pair,
    project,
    read_car,
    residual,
    slope,
    summary,
)
from susgeo.car import rods
from susgeo.car.front import Arm, IndependentFront, StrutLeg
from susgeo.car.links import mirror
from susgeo.car.pickup import mapped
from susgeo.geometry import scalars
from susgeo.geometry.dual import Dual, seeds
from susgeo.geometry.scalars import is_array

DATA = Path(__file__).resolve().parents[2] / "data"

# ----------------------------------------------------------------------------------------------------
# One formula for every kind of number
# ----------------------------------------------------------------------------------------------------


def point(take, x, y, z):
    return Point(take(x), take(y), take(z))


def three_links(take, locator=None, upper=None):
    lower = pair(Link(point(take, 0, 500, 240), point(take, 600, 400, 290), "left lower link"))
    single = (Link(Point(take(-50), 0, take(470)), Point(take(400), 0, take(450)), "upper link"),)
    bar = PanhardBar(point(take, -120, 480, 310), point(take, -130, -470, 290))
    return LiveAxle(lower, upper or single, locator or bar, take(1400), take(310))


def splayed(take):
    upper = pair(Link(point(take, -30, 150, 460), point(take, 300, 420, 440), "left upper link"))
    lower = pair(Link(point(take, 0, 500, 240), point(take, 600, 480, 290), "left lower link"))
    return LiveAxle(lower, upper)


def unequal(take):
    left = Link(point(take, 0, 500, 240), point(take, 600, 400, 290), "left lower link")
    right = Link(point(take, 5, -490, 236), point(take, 590, -410, 300), "right lower link")
    upper = (Link(point(take, -50, 30, 470), point(take, 400, 20, 450), "upper link"),)
    return LiveAxle((left, right), upper, PanhardBar(point(take, -120, 480, 310), point(take, -130, -470, 290)))


def watts(take):
    parts = (-140, 5, 330), (-140, 12, 400), (-150, 520, 410), (-140, -2, 262), (-145, -515, 255)
    return WattsLinkage(*(point(take, *part) for part in parts))


def mumford(take):
    left = (-120, 150, 260), (-120, 160, 330), (-110, 560, 250), (-120, 155, 320)
    right = (-120, -150, 260), (-120, -165, 325), (-110, -565, 245), (-120, -148, 215)
    return MumfordLinkage(*(point(take, *part) for part in (*left, *right)))


def front(take, strut=False):
    lower = Arm(point(take, 10, 700, 210), point(take, 150, 350, 230), point(take, -180, 340, 225))
    upper = Arm(point(take, 0, 660, 480), point(take, 120, 420, 500), point(take, -140, 430, 470))
    leg = StrutLeg(point(take, -20, 560, 800), point(take, 0, 640, 300))
    return IndependentFront(lower, leg if strut else upper, None, take(1450))


def plane(take):
    return Plane(take(3), take(-7), take(5), take(-900))


def line(take):
    return join(point(take, 10, 20, 30), point(take, 400, -90, 170))


def flat(take):
    return join(FlatPoint("side", take(3), take(40)), FlatPoint("side", take(70), take(90)))


def answers(axle):
    """Return every number that a construction gives for an axle, none of them at infinity here."""
    found = [axle.roll_center_height, *coordinates(axle.side_view_instant_center)]
    if isinstance(axle, IndependentFront):
        return (*found, -slope(axle.side_view_instant_center), *coordinates(axle.front_view_instant_center))
    found += [axle.roll_steer, axle.pinion_rate]
    if axle.is_symmetric:
        found += [axle.roll_axis_slope, *coordinates(axle.convergence("lower"))]
        found += coordinates(axle.convergence("upper") if axle.locator is None else axle.locator_point)
    return tuple(found)


FORMULAS = {
    "join of two points": lambda k: tuple(line(k)),
    "join of a point and a direction": lambda k: tuple(join(point(k, 1, 2, 3), Point(k(4), k(5), k(6), 0))),
    "join of three points": lambda k: tuple(join(*(point(k, *p) for p in ((1, 2, 30), (40, 5, 6), (7, 80, 9))))),
    "join in a view": lambda k: tuple(flat(k)),
    "meet of plane and line": lambda k: coordinates(meet(plane(k), line(k))),
    "meet of planes": lambda k: tuple(meet(plane(k), Plane(k(1), k(4), k(-2), k(60)))),
    "meet in a view": lambda k: coordinates(meet(flat(k), FlatLine("side", k(2), k(-9), k(11)))),
    "side view": lambda k: tuple(project(line(k), "side")),
    "plan view": lambda k: tuple(project(line(k), "plan")),
    "front view": lambda k: tuple(project(line(k), "front")),
    "residual": lambda k: (residual(line(k), join(point(k, 7, 8, 9), point(k, 100, 20, 3))),),
    "slopes": lambda k: (slope(flat(k)), slope(line(k)), slope(project(point(k, 30, 5, 70), "side"))),
    "length": lambda k: (distance(point(k, 1, 2, 3), point(k, 40, 50, 60)),),
    "three links": lambda k: answers(three_links(k)),
    "converging links": lambda k: answers(splayed(k)),
    "Watt's linkage": lambda k: answers(three_links(k, watts(k))),
    "Mumford linkage": lambda k: answers(three_links(k, mumford(k))),
    "unequal sides": lambda k: answers(unequal(k)),
    "double wishbone": lambda k: answers(front(k)),
    "strut": lambda k: answers(front(k, strut=True)),
}
VARIANTS = 4


class Takes:
    """Hands out the numbers of a formula in one kind; variant n of every number is a little different."""

    def __init__(self, kind, variant=0):
        self.kind, self.variant, self.count, self.values = kind, variant, 0, {}

    def number(self, value, variant):
        return value + (7 * self.count + 3) % 5 * variant

    def __call__(self, value):
        self.count = self.count % 40 + 1
        if self.kind == "array":
            return np.array([float(self.number(value, variant)) for variant in range(VARIANTS)])
        value = self.number(value, self.variant)
        if self.kind == "symbol":
            symbol = sympy.Symbol(f"q{len(self.values)}", real=True)
            self.values[symbol] = value
            return symbol
        if self.kind == "derivatives":
            return Dual(float(value), np.ones(1))
        return {"float": float, "integer": int, "fraction": Fraction, "numpy integer": np.int64}[self.kind](value)


def exact(name, variant):
    return list(FORMULAS[name](Takes("fraction", variant)))


@pytest.mark.parametrize("kind", ["float", "integer", "numpy integer", "symbol", "array", "derivatives"])
@pytest.mark.parametrize("name", FORMULAS)
def test_one_formula_serves_every_kind_of_number(name, kind):
    """The same numbers as exact fractions give, from every other kind; letters to the last digit."""
    if kind == "array":
        columns = [np.broadcast_to(part, VARIANTS) for part in FORMULAS[name](Takes(kind))]
        for variant in range(VARIANTS):
            wanted = [float(part) for part in exact(name, variant)]
            assert [column[variant] for column in columns] == pytest.approx(wanted, rel=1e-9, abs=1e-9)
        return
    for variant in range(VARIANTS):
        takes, wanted = Takes(kind, variant), exact(name, variant)
        found = FORMULAS[name](takes)
        if kind == "symbol":
            values = {symbol: sympy.Integer(value) for symbol, value in takes.values.items()}
            found = [sympy.sympify(part).xreplace(values) for part in found]
            assert [float(part.evalf(30)) for part in found] == pytest.approx(list(map(float, wanted)), rel=1e-15)
        elif kind in ("integer", "numpy integer"):
            assert all(type(part) in (int, float) for part in found)  # plain numbers, whole where they come out even
            assert list(map(float, found)) == pytest.approx(list(map(float, wanted)), rel=1e-14)
            assert all(a == b for a, b in zip(found, wanted, strict=True) if type(a) is int)
        else:
            plain = [scalars.plain(part) for part in found]
            assert [float(part) for part in plain] == pytest.approx([float(w) for w in wanted], rel=1e-9, abs=1e-9)


# ----------------------------------------------------------------------------------------------------
# What determines nothing
# ----------------------------------------------------------------------------------------------------

P, Q, R = (3, 5, 7), (20, -11, 13), (41, 2, -9)
SAME_LINE = tuple(2 * b - a for a, b in zip(P, Q, strict=True))  # beyond Q as seen from P

DEGENERATE = {
    "a point joined with itself": (lambda k: join(point(k, *P), point(k, *P)), "the two points are the same"),
    "a point joined with itself, twice as heavy": (
        lambda k: join(point(k, *P), Point(*(2 * k(x) for x in P), 2)),
        "the two points are the same",
    ),
    "a direction joined with itself": (lambda k: join(Point(*map(k, P), 0), Point(*map(k, P), 0)), "are the same"),
    "a point joined with a line through it": (
        lambda k: join(point(k, *SAME_LINE), join(point(k, *P), point(k, *Q))),
        "The point lies on the line",
    ),
    "three points in a row": (lambda k: join(*(point(k, *p) for p in (P, Q, SAME_LINE))), "lies on the line"),
    "a point of a view joined with itself": (
        lambda k: join(FlatPoint("plan", k(3), k(5)), FlatPoint("plan", k(3), k(5))),
        "the two points are the same",
    ),
    "a line of a view met with itself": (
        lambda k: meet(FlatLine("side", k(1), k(2), k(3)), FlatLine("side", k(-2), k(-4), k(-6))),
        "the same line in the side view",
    ),
    "a plane met with itself": (
        lambda k: meet(Plane(k(1), k(2), k(3), k(4)), Plane(k(3), k(6), k(9), k(12))),
        "the same plane",
    ),
    "a plane met with a line in it": (
        lambda k: meet(join(*(point(k, *p) for p in (P, Q, R))), join(point(k, *P), point(k, *R))),
        "lies in the plane",
    ),
    "a line across the car in the side view": (
        lambda k: project(join(point(k, 3, 5, 7), point(k, 3, 90, 7)), "side"),
        "straight at the viewer in the side view",
    ),
}


@pytest.mark.parametrize("kind", [int, float, Fraction, np.int64, np.float32, sympy.Integer, "derivatives"])
@pytest.mark.parametrize("name", DEGENERATE)
def test_a_single_undefined_thing_is_an_error_that_says_why(name, kind):
    make, words = DEGENERATE[name]
    with pytest.raises(UndefinedError, match=words):
        make((lambda value: Dual(float(value), np.ones(2))) if kind == "derivatives" else kind)


@pytest.mark.parametrize("name", DEGENERATE)
def test_rounding_does_not_hide_it(name):
    """Numbers that are not exact in binary: what should cancel leaves rounding, which is no result."""
    with pytest.raises(UndefinedError):
        DEGENERATE[name][0](lambda value: value * 0.1 + value * 0.2)


@pytest.mark.parametrize("name", DEGENERATE)
def test_an_undefined_thing_of_letters_is_an_error(name):
    a, b = sympy.symbols("a b")
    with pytest.raises(UndefinedError):
        DEGENERATE[name][0](lambda value: value * a + value * b**2)


@pytest.mark.parametrize("name", DEGENERATE)
def test_in_an_array_it_is_marked_and_its_neighbors_are_whole(name):
    random = np.random.default_rng(11)

    def take(value):
        return value * np.array([1.0, 0.1, 1.0]) + random.normal(0, 1, 3) * np.array([1, 0, 1])

    made = DEGENERATE[name][0](take)
    parts = np.array([np.broadcast_to(part, 3) for part in made], dtype=float)
    assert np.all(parts[:, 1] == 0)
    assert np.all(np.any(parts[:, [0, 2]] != 0, axis=0))
    if isinstance(made, Point | FlatPoint):
        assert all(np.isnan(part[1]) and not np.isnan(part[0]) for part in coordinates(made))


def test_a_missing_number_stays_missing():
    """nan marks an element without a result: it goes through, and never becomes a number."""
    high = np.array([290.0, np.nan, 300.0])
    axle = moved(load_car(DATA / "three_link.toml"), {"rear.lower.chassis.z": high}).rear
    assert np.isnan(axle.roll_center_height).tolist() == [False, True, False]
    assert np.isnan(coordinates(axle.side_view_instant_center)[0]).tolist() == [False, True, False]


def test_zero_over_zero_and_one_over_zero():
    assert scalars.quotient(1, 0) == math.inf and scalars.quotient(-2.0, 0.0) == -math.inf
    assert scalars.quotient(1.0, -0.0) == math.inf  # there is one zero only
    with pytest.raises(UndefinedError):
        scalars.quotient(0.0, 0)
    found = scalars.quotient(np.array([1.0, -1.0, 0.0, 6.0, 1.0, np.nan]), np.array([0.0, 0.0, 0.0, 3.0, -0.0, 2.0]))
    np.testing.assert_array_equal(found, [np.inf, -np.inf, np.nan, 2.0, np.inf, np.nan])
    np.testing.assert_array_equal(scalars.quotient(np.array([1.0, -1.0]), 0), [np.inf, -np.inf])
    np.testing.assert_array_equal(scalars.quotient(3, np.array([0.0, 4.0])), [np.inf, 0.75])
    assert scalars.quotient(sympy.Symbol("q", positive=True), sympy.Integer(0)) == sympy.oo


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (math.nan, "x of a point is nan; a measurement must be a finite number"),
        (-math.inf, "x of a point is -inf"),
        (np.float64("nan"), "x of a point is nan"),
        (np.array(np.inf), "x of a point is inf"),
        (sympy.oo, "x of a point is oo"),
        (sympy.nan, "x of a point is nan"),
        (Dual(math.nan, np.zeros(1)), "x of a point is nan"),
        ("600", "x of a point is '600'; expected a number"),
        (None, "x of a point is None; expected a number"),
        (True, "x of a point is True; expected a number"),
        (3 + 4j, r"x of a point is \(3\+4j\)"),
        ([1, 2], r"x of a point is \[1, 2\]"),
        (np.array([1, None]), "x of a point is an array of object"),
        (np.array(["1"]), "x of a point is an array of <U1"),
    ],
)
def test_what_is_no_measurement_is_refused_in_one_sentence(value, words):
    with pytest.raises(SusgeoError, match=words):
        Point(value, 0, 0)


def test_numpys_own_integers_do_not_overflow():
    """Six factors of a million are beyond 64 bits; NumPy would go round without a word."""
    big = 10**6
    wanted = tuple(join(Point(big, 2 * big, 3 * big, big), Point(-big, big, 5 * big, 2 * big)))
    assert tuple(join(Point(*np.array([big, 2 * big, 3 * big, big])), Point(*np.array([-1, 1, 5, 2]) * big))) == wanted
    column = np.array([big, big])
    line = join(Point(column, 2 * column, 3 * column, column), Point(-column, column, 5 * column, 2 * column))
    plane = join(line, Point(column**2, -column, column**2))
    single = join(Line(*wanted), Point(big**2, -big, big**2))
    for part, exact_part in zip(plane, single, strict=True):
        assert part == pytest.approx([float(exact_part)] * 2, rel=1e-12)


# ----------------------------------------------------------------------------------------------------
# The laws of join and meet
# ----------------------------------------------------------------------------------------------------

WHOLE = st.integers(-2000, 2000)
WEIGHT = st.sampled_from([0, 1, 1, 2, -3])
POINTS = st.tuples(WHOLE, WHOLE, WHOLE, WEIGHT).filter(any).map(lambda parts: Point(*parts))
FLAT_POINTS = st.tuples(WHOLE, WHOLE, WEIGHT).filter(any).map(lambda parts: FlatPoint("side", *parts))


def made(construction, *things):
    """Return what is determined, or drop the example where nothing is."""
    try:
        return construction(*things)
    except UndefinedError:
        assume(False)


def proportional(first, second):
    first, second = tuple(first), tuple(second)
    return all(a * d == b * c for a, b in zip(first, second, strict=True) for c, d in zip(first, second, strict=True))


@given(POINTS, POINTS)
def test_a_line_holds_its_points_and_is_a_line(p, q):
    line = made(join, p, q)
    assert line.dx * line.mx + line.dy * line.my + line.dz * line.mz == 0
    assert tuple(join(q, p)) == tuple(-part for part in line)
    for each in (p, q):
        with pytest.raises(UndefinedError):
            join(each, line)
    half = Point(*(a + b for a, b in zip(p, q, strict=True)))
    if any(half):
        with pytest.raises(UndefinedError):
            join(half, line)


@given(POINTS, POINTS, POINTS)
def test_a_plane_holds_its_points_in_any_order(p, q, r):
    plane = made(join, p, q, r)
    assert [residual(each, plane) for each in (p, q, r)] == [0, 0, 0]
    assert proportional(plane, made(join, made(join, q, r), p))


@given(POINTS, POINTS, POINTS, POINTS, POINTS)
def test_a_line_pierces_a_plane_on_both(p, q, r, s, t):
    plane, line = made(join, p, q, r), made(join, s, t)
    point = made(meet, plane, line)
    assert residual(point, plane) == 0
    with pytest.raises(UndefinedError):
        join(point, line)
    assert tuple(meet(line, plane)) == tuple(point)


@given(POINTS, POINTS, POINTS, POINTS)
def test_two_planes_meet_in_the_line_that_both_were_built_on(p, q, r, s):
    line = made(join, p, q)
    found = made(meet, made(join, line, r), made(join, line, s))
    assert proportional(found, line)
    assert residual(found, line) == 0


@given(FLAT_POINTS, FLAT_POINTS, FLAT_POINTS)
def test_join_and_meet_are_each_others_mirror_in_a_view(p, q, r):
    """The two lines through p meet in p."""
    found = made(meet, made(join, p, q), made(join, p, r))
    assert proportional(found, p)


@given(POINTS, POINTS, st.sampled_from(["side", "plan", "front"]))
def test_the_drawing_of_a_line_joins_the_drawings_of_its_points(p, q, view):
    line = made(join, p, q)
    drawn = made(join, made(project, p, view), made(project, q, view))
    assert proportional(made(project, line, view), drawn)


@given(POINTS, POINTS, POINTS, POINTS)
def test_lines_touch_where_their_residual_is_zero(p, q, r, s):
    """Four points of two lines that meet lie in one plane; SymPy's determinant judges, but for the sign."""
    value = residual(made(join, p, q), made(join, r, s))
    assert abs(value) == abs(sympy.Matrix([list(each) for each in (p, q, r, s)]).det())
    assert residual(made(join, p, q), made(join, p, r)) == 0


@given(POINTS, POINTS, st.integers(2, 9), st.integers(-9, -2))
def test_the_scale_of_coordinates_means_nothing(p, q, one, other):
    scaled = made(join, Point(*(one * a for a in p)), Point(*(other * a for a in q)))
    assert proportional(scaled, join(p, q))


@given(st.tuples(WHOLE, WHOLE, WHOLE, WHOLE, WHOLE, WHOLE, WHOLE, WHOLE))
def test_a_meet_in_a_view_is_that_of_sympy_and_shapely(numbers_):
    a, b, c, d = ((numbers_[i], numbers_[i + 1]) for i in range(0, 8, 2))
    assume(a != b and c != d)
    first, second = (join(*(FlatPoint("side", *map(Fraction, end)) for end in ends)) for ends in ((a, b), (c, d)))
    theirs = sympy.Line(sympy.Point(*a), sympy.Point(*b)).intersection(sympy.Line(sympy.Point(*c), sympy.Point(*d)))
    if not theirs:  # parallel
        assert meet(first, second).w == 0
        return
    if isinstance(theirs[0], sympy.Line):
        with pytest.raises(UndefinedError):
            meet(first, second)
        return
    found = coordinates(meet(first, second))
    assert tuple(found) == tuple(Fraction(int(v.p), int(v.q)) for v in theirs[0])
    crossing = shapely.LineString([a, b]).intersection(shapely.LineString([c, d]))
    if crossing.geom_type == "Point" and not crossing.is_empty:
        assert (crossing.x, crossing.y) == pytest.approx(tuple(map(float, found)), abs=1e-6)


@settings(max_examples=20)
@given(*[st.tuples(WHOLE, WHOLE, WHOLE)] * 5)
def test_a_plane_and_a_line_in_space_are_those_of_sympy(p, q, r, s, t):
    assume(s != t and not sympy.Point3D.are_collinear(*map(sympy.Point3D, (p, q, r))))
    plane, line = (sympy.Plane(*map(sympy.Point3D, (p, q, r))), sympy.Line3D(sympy.Point3D(s), sympy.Point3D(t)))
    theirs = plane.intersection(line)
    assume(not theirs or isinstance(theirs[0], sympy.Point3D))
    corners, ends = ([Point(*map(Fraction, each)) for each in group] for group in ((p, q, r), (s, t)))
    found = meet(join(*corners), join(*ends))
    assert (found.w == 0) == (not theirs)
    if theirs:
        assert list(coordinates(found)) == [Fraction(int(v.p), int(v.q)) for v in theirs[0]]


def test_two_views_are_not_combined():
    with pytest.raises(SusgeoError, match="One is drawn in the side view and the other in the plan view"):
        join(FlatPoint("side", 0, 1), FlatPoint("plan", 2, 3))
    with pytest.raises(TypeError, match="project both into one view"):
        meet(line(int), line(int))


# ----------------------------------------------------------------------------------------------------
# An axle moved, mirrored, scaled and turned
# ----------------------------------------------------------------------------------------------------

SHAKES = st.lists(st.integers(-40, 40), min_size=40, max_size=40)
AXLES = {
    "bar": three_links,
    "splayed": splayed,
    "Watt": lambda k: three_links(k, watts(k)),
    "Mumford": lambda k: three_links(k, mumford(k)),
    "unequal": unequal,
}
SYMMETRIC = [name for name in AXLES if name != "unequal"]
NO_CRANKS = ["bar", "splayed"]  # a crank's pin stays fore and aft over the ground, so it does not turn along


def shaken(build, shakes):
    """Return an axle of whole numbers, each a little off, on which everything is determined."""
    shake = iter(shakes)
    axle = build(lambda value: Fraction(value + next(shake, 0)))
    try:
        _ = axle.roll_center_height, axle.roll_steer, axle.side_view_instant_center
    except SusgeoError:
        assume(False)
    return axle


def carried(axle, move):
    """Return the axle with every point moved."""

    def go(thing):
        if isinstance(thing, Point):
            return move(thing)
        if isinstance(thing, tuple):
            return tuple(map(go, thing))
        if not is_dataclass(thing):
            return thing
        return replace(thing, **{f.name: go(getattr(thing, f.name)) for f in fields(thing)})

    return go(axle)


def at(point):
    return None if point.w == 0 else coordinates(point)


@pytest.mark.parametrize("name", AXLES)
@given(shakes=SHAKES)
@settings(max_examples=15)
def test_the_mirrored_axle_has_the_same_numbers(name, shakes):
    axle = shaken(AXLES[name], shakes)
    other = carried(axle, mirror)
    assert (other.roll_center_height, other.roll_steer) == (axle.roll_center_height, axle.roll_steer)
    assert at(other.side_view_instant_center) == at(axle.side_view_instant_center)


@pytest.mark.parametrize("name", SYMMETRIC)
@given(shakes=SHAKES, along=st.integers(-300, 300))
@settings(max_examples=15)
def test_an_axle_measured_from_another_origin(name, shakes, along):
    """All points further ahead: slopes stay, points move along, and the roll center, which is taken in the plane of
    the wheels, slides down the axis.
    """
    axle = shaken(AXLES[name], shakes)
    other = carried(axle, lambda p: Point(p.x + along * p.w, p.y, p.z, p.w))
    assert other.roll_steer == axle.roll_steer
    u, v, w = axle.side_view_instant_center
    assert proportional(other.side_view_instant_center, (u + along * w, v, w))
    assert other.roll_center_height == axle.roll_center_height - along * axle.roll_axis_slope
    x, y, z, w = axle.convergence("lower")
    assert proportional(other.convergence("lower"), (x + along * w, y, z, w))


@pytest.mark.parametrize("name", AXLES)
@given(shakes=SHAKES, size=st.fractions(Fraction(1, 50), 50, max_denominator=50))
@settings(max_examples=15)
def test_a_larger_axle_is_larger_and_has_the_same_angles(name, shakes, size):
    axle = shaken(AXLES[name], shakes)
    other = carried(axle, lambda p: Point(p.x * size, p.y * size, p.z * size, p.w))
    assert other.roll_center_height == size * axle.roll_center_height
    assert other.roll_steer == axle.roll_steer
    u, v, w = axle.side_view_instant_center
    assert proportional(other.side_view_instant_center, (u * size, v * size, w))


@pytest.mark.parametrize("name", NO_CRANKS)
@given(shakes=SHAKES)
@settings(max_examples=15)
def test_a_car_turned_nose_up(name, shakes):
    """Turned about the y axis by the angle of a 3-4-5 triangle, so that it stays exact: points and axis turn along,
    lengths and rank stay; slope, roll steer and roll center are what they are over the new ground.
    """
    axle = shaken(AXLES[name], shakes)
    c, s = Fraction(4, 5), Fraction(3, 5)

    def turned(p):
        return Point(c * p.x - s * p.z, p.y, s * p.x + c * p.z, p.w)

    other = carried(axle, turned)
    u, v, w = axle.side_view_instant_center
    assert proportional(other.side_view_instant_center, (c * u - s * v, s * u + c * v, w))
    assert other.lower[0].length == pytest.approx(axle.lower[0].length, rel=1e-14)
    assert rods.rank(other.lines) == rods.rank(axle.lines)
    assert proportional(other.convergence("lower"), turned(axle.convergence("lower")))
    steep = axle.roll_axis_slope
    assert other.roll_axis_slope == (s + c * steep) / (c - s * steep)
    p, q = Point(0, 0, axle.roll_center_height), Point(1, 0, axle.roll_center_height + steep)
    assert other.roll_center_height == coordinates(meet(Plane(1, 0, 0, 0), join(turned(p), turned(q))))[2]


def test_a_file_in_inches_gives_the_same_angles_and_its_lengths_in_inches():
    text = (DATA / "three_link.toml").read_text("utf-8")
    lines = []
    for line in text.splitlines():  # every length of the file, also those in points, over 25.4
        name, equals, rest = line.partition(" = ")
        if name in ("track", "tire_radius", "wheelbase", "axle", "chassis", "cg_height", "spacing"):
            rest = re.sub(r"-?\d+(\.\d+)?", lambda number: repr(float(number[0]) / 25.4), rest.partition("#")[0])
        lines.append(name + equals + rest.replace('"mm"', '"in"'))
    metric, inch = summary(read_car(text)), summary(read_car("\n".join(lines)), "in")
    assert len(metric) == len(inch) > 10
    for (name, value), (title, length) in zip(metric.items(), inch.items(), strict=True):
        unit = name.rpartition("[")[2]
        factor = {"mm]": 1 / 25.4, "mm/g]": 1 / 25.4, "mm/kg]": 1 / 25.4, "deg/mm]": 25.4}.get(unit, 1)
        assert length == pytest.approx(value * factor, rel=1e-9), title
        assert title == re.sub(r"\[mm(?=]|/g]|/kg])", "[in", name).replace("deg/mm]", "deg/in]")


# ----------------------------------------------------------------------------------------------------
# Links that are nearly parallel
# ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("tilt", [1e-2, 1e-5, 1e-8, 1e-11])
def test_nearly_parallel_links_against_50_digits(tilt):
    """The far point is as good as its numbers allow; what is seen through it is good to the last digits."""
    height = 507.5 + tilt  # of the upper link's front end; at 507.5 it is parallel to the lower one
    axle = moved(load_car(DATA / "three_link.toml"), {"rear.upper.chassis.z": height}).rear
    with mpmath.workdps(50):
        low, up = mpmath.mpf(50) / 600, (mpmath.mpf(height) - 470) / 450
        x = (470 + 50 * up - 240) / (low - up)
        z = 240 + low * x
        worst = abs(x) * mpmath.mpf(2) ** -53 * 600 / tilt  # what one rounding of a height of 300 mm can do
        found = axle.side_view_instant_center
        assert abs(found.u / found.w - x) <= 20 * worst
        assert abs(slope(found) / (z / x) - 1) < 1e-13
        assert abs(axle.pinion_rate * x - 1) <= 20 * worst / abs(x)


def test_through_parallel_nothing_jumps():
    """The height at which links become parallel, and a hair to both sides: what one sees is continuous."""
    heights = 507.5 + np.array([-1e-9, 0.0, 1e-9])
    rear = moved(load_car(DATA / "three_link.toml"), {"rear.upper.chassis.z": heights}).rear
    x = coordinates(rear.side_view_instant_center)[0]
    assert x[0] > 1e10 and np.isinf(x[1]) and x[2] < -1e10
    assert np.ptp(slope(rear.side_view_instant_center)) < 1e-11 and np.ptp(rear.pinion_rate) < 1e-12


# ----------------------------------------------------------------------------------------------------
# Rods: against NumPy's linear algebra
# ----------------------------------------------------------------------------------------------------


def rows(axle):
    """Return the rods' matrix in meters, rows of unit direction, made here from the points alone."""
    made_rows = []
    for link in (*axle.lower, *axle.upper, Link(axle.locator.axle, axle.locator.chassis)):
        a, b = (np.array([float(part) for part in coordinates(p)]) / 1000 for p in (link.axle, link.chassis))
        d = (b - a) / np.linalg.norm(b - a)
        made_rows.append([*d, *np.cross(a, d)])
    return np.array(made_rows)


@given(shakes=SHAKES)
@settings(max_examples=40)
def test_free_motions_are_in_the_null_space(shakes):
    axle = shaken(unequal, shakes)
    matrix = rows(axle)
    for held, column in (("heave", 2), ("roll", 3)):
        motion = np.array([float(part) for part in rods.free_motion(axle.lines, held)])
        motion[3:] *= 1000
        motion /= np.linalg.norm(motion)
        assert motion[column] == 0
        assert matrix @ motion == pytest.approx(np.zeros(4), abs=1e-9)
    rest = np.linalg.lstsq(matrix[:, [0, 1, 4, 5]], -matrix[:, 3], rcond=None)[0]  # roll 1, heave 0
    assert float(axle.roll_center_height) == pytest.approx(1000 * rest[1], rel=1e-6)
    assert float(axle.roll_steer) == pytest.approx(rest[3], rel=1e-6, abs=1e-9)


@given(shakes=SHAKES)
@settings(max_examples=40)
def test_transversals_touch_every_rod(shakes):
    axle = mapped(shaken(unequal, shakes), lambda place, value: float(value))
    try:
        axes = rods.transversals(axle.lines)
    except SusgeoError:
        assume(False)
    for axis in axes:
        assert axis.dx * axis.mx + axis.dy * axis.my + axis.dz * axis.mz == pytest.approx(
            0, abs=1e-9 * np.linalg.norm(tuple(axis)) ** 2
        )
        assert rods.stretch(axle.lines, axis) == pytest.approx(np.zeros(4), abs=1e-6)


@pytest.mark.parametrize("name", SYMMETRIC)
@given(shakes=SHAKES)
@settings(max_examples=15)
def test_the_first_transversal_is_the_axis_that_one_draws(name, shakes):
    axle = mapped(shaken(AXLES[name], shakes), lambda place, value: float(value))
    first = np.array(tuple(rods.transversals(axle.lines)[0]))
    drawn = np.array(tuple(axle.roll_axis))
    assert first / np.linalg.norm(first[:3]) == pytest.approx(
        math.copysign(1, first[0] * drawn[0]) * drawn / np.linalg.norm(drawn[:3]), rel=1e-7, abs=1e-6
    )


def test_transversals_of_many_axles_are_those_of_each():
    random = np.random.default_rng(3)
    base = unequal(float)
    many = mapped(base, lambda place, value: value + random.normal(0, 30, 200))
    slopes = np.array([slope(axis) for axis in rods.transversals(many.lines)])
    for number in range(200):
        single = mapped(many, lambda place, value, number=number: value[number])
        try:
            wanted = [slope(axis) for axis in rods.transversals(single.lines)]
        except SusgeoError:
            wanted = [np.nan, np.nan]
        assert slopes[:, number] == pytest.approx(wanted, rel=1e-9, nan_ok=True)


def test_rank_of_many_axles_is_numpys_rank_of_each():
    """Some of them are made nearly singular on purpose: upper links that nearly repeat the lower ones."""
    random = np.random.default_rng(5)
    tilt = np.array([*(10.0 ** -np.arange(0, 12)), *random.normal(0, 60, 300)])
    links = (
        Link(Point(0, 500, 240), Point(600, 400, 290)),
        Link(Point(0, -500, 240), Point(600, -400, 290)),
        Link(Point(0, 500, 240), Point(600, 400, 290 + tilt)),
        Link(Point(-120, 480, 300), Point(-120, -470, 300)),
    )
    found = rods.rank([link.line for link in links])
    for number, one in enumerate(tilt):
        last = Link(links[2].axle, Point(600, 400, 290 + float(one)))
        scaled = rows(LiveAxle(links[:2], (last,), PanhardBar(links[3].axle, links[3].chassis)))
        assert found[number] == np.linalg.matrix_rank(scaled, rtol=rods.RANK_TOLERANCE)
    assert set(found) == {3, 4}


# ----------------------------------------------------------------------------------------------------
# Many cars in one call
# ----------------------------------------------------------------------------------------------------


def random_cars(count, build=three_links):
    random = np.random.default_rng(17)
    axle = mapped(build(float), lambda place, value: value + random.normal(0, 25, count))
    return Car("random", 2700.0, axle)


@pytest.mark.parametrize("name", AXLES)
def test_numbers_of_many_cars_are_those_of_each(name):
    cars = random_cars(33, AXLES[name])
    found = numbers(cars)
    for number in range(33):
        single = numbers(mapped(cars, lambda place, value, n=number: value[n] if is_array(value) else value))
        for quantity, value in found.items():  # what one car lacks is nan among the others
            wanted = float(single.get(quantity, math.nan))
            one = np.broadcast_to(value, 33)[number]
            assert one == pytest.approx(wanted, rel=1e-9, nan_ok=True), quantity


def test_infinite_and_undefined_cars_among_others():
    """One car with parallel links, one whose links lie on one line in the side view; the others are whole."""
    car = load_car(DATA / "three_link.toml")
    heights = {"rear.upper.chassis.z": np.array([450.0, 507.5, 240 + 400 / 12, 450.0]),
               "rear.upper.axle.z": np.array([470.0, 470.0, 240 - 50 / 12, 470.0])}  # fmt: skip
    found = numbers(moved(car, heights))
    x, z = found["rear side-view instant center x"], found["rear side-view instant center z"]
    assert x[1] == z[1] == math.inf and np.isnan([x[2], z[2]]).all()
    assert x[0] == x[3] == pytest.approx(1782.609, abs=0.001)
    assert found["rear pinion angle rate"][1] == 0
    assert np.broadcast_to(found["rear roll center height"], 4) == pytest.approx(307.308, abs=0.001)


def test_a_summary_is_of_one_car():
    car = load_car(DATA / "three_link.toml")
    for value in (np.array([280.0, 300.0]), sympy.Symbol("z")):
        with pytest.raises(SusgeoError, match=r"many cars, or has letters in it; ask susgeo.numbers\(car\)"):
            summary(moved(car, {"rear.locator.axle.z": value}))


def test_shapes_broadcast():
    car = load_car(DATA / "three_link.toml")
    low, bar = np.linspace(250, 310, 3)[:, None], np.linspace(280, 320, 4)
    heights = {"rear.lower.chassis.z": low, "rear.locator.axle.z": bar}
    found = numbers(moved(car, heights), ["rear roll center height"])["rear roll center height"]
    assert found.shape == (3, 4)
    one = moved(car, {"rear.lower.chassis.z": 310.0, "rear.locator.axle.z": 280.0})
    assert found[2, 0] == pytest.approx(one.rear.roll_center_height, rel=1e-14)


# ----------------------------------------------------------------------------------------------------
# Numbers that know their derivatives
# ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["sqrt", "sin", "cos", "tan", "asin", "acos", "atan"])
@pytest.mark.parametrize("at_", [0.07, 0.5, 0.93])
def test_the_derivative_of_a_function_is_mpmaths(name, at_):
    (x,) = seeds([at_])
    found = getattr(scalars, name)(x)
    with mpmath.workdps(40):
        assert found.value == pytest.approx(float(getattr(mpmath, name)(at_)), rel=1e-15)
        assert found.slopes[0] == pytest.approx(float(mpmath.diff(getattr(mpmath, name), at_)), rel=1e-14)


@pytest.mark.parametrize(("y", "x"), [(1.0, 2.0), (1.0, -2.0), (-3.0, -0.5), (0.0, 1.0), (2.0, 0.0)])
def test_the_derivative_of_an_angle_is_mpmaths(y, x):
    found = scalars.atan2(*seeds([y, x]))
    with mpmath.workdps(40):
        wanted = [float(mpmath.diff(mpmath.atan2, (y, x), n)) for n in ((1, 0), (0, 1))]
    assert found.value == math.atan2(y, x) and found.slopes == pytest.approx(wanted, rel=1e-13, abs=1e-15)


@given(*[st.floats(-100, 100)] * 3)
def test_arithmetic_with_derivatives_is_sympys(a, b, c):
    assume(min(abs(b - c), abs(b), abs(c)) > 0.1)

    def formula(x, y, z):
        return (x * y - 3) / (y - z) + 2 / z - (-x) * abs(y) + (1 - x) * Fraction(1, 2)

    symbols = sympy.symbols("x y z", real=True)
    at_ = dict(zip(symbols, (a, b, c), strict=True))
    found = formula(*seeds([a, b, c]))
    expression = (symbols[0] * symbols[1] - 3) / (symbols[1] - symbols[2]) + 2 / symbols[2]
    expression += symbols[0] * sympy.Abs(symbols[1]) + (1 - symbols[0]) / 2
    wanted = [float(sympy.diff(expression, symbol).subs(at_)) for symbol in symbols]
    assert found.value == pytest.approx(float(expression.subs(at_)), rel=1e-9, abs=1e-9)
    assert found.slopes == pytest.approx(wanted, rel=1e-9, abs=1e-9)


def test_derivatives_are_never_dropped_without_a_word():
    (x,) = seeds([2.0])
    for careless in (math.sqrt, float, np.sqrt, lambda value: np.asarray(value, dtype=float)):
        with pytest.raises((TypeError, AttributeError)):
            careless(x)
    assert isinstance(np.float64(2) * x, Dual) and (np.float64(2) * x).slopes == [2]
    assert (x > 1, x >= 2, x < 3, x <= 2, x == 2, bool(x)) == (True,) * 6
