"""Rod forces against the equilibrium of free bodies and against MuJoCo; Euler's load against a beam's equation."""

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import eigh_tridiagonal

from outside import engine, statics
from outside.axles import KINDS, car_file, mechanism, plausible
from outside.mechanism import Mechanism
from susgeo import (
    Link,
    LinkageError,
    LiveAxle,
    PanhardBar,
    Point,
    SusgeoError,
    TireForces,
    buckling_load,
    coordinates,
    cornering,
    load_car,
    margin,
    moved,
    pair,
    read_car,
    rod_forces,
    tire_forces,
)
from susgeo.loads.cornering import GRAVITY, moment_arm, roll_stiffness
from susgeo.loads.forces import RodForces
from susgeo.travel.live import straight_rods

DATA = Path(__file__).resolve().parents[2] / "data"
LEFT, RIGHT, CENTER = (0.0, 700.0, 0.0), (0.0, -700.0, 0.0), (0.0, 0.0, 310.0)


def random_forces(seed):
    random = np.random.default_rng(seed)
    left, right, own = (tuple(random.uniform(-4000, 4000, 3)) for _ in range(3))
    return TireForces(left, right, own)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("kind", KINDS)
def test_every_rod_against_free_bodies_of_axle_and_cranks(kind, seed):
    plain, forces = plausible(kind, seed), random_forces(seed)
    found = rod_forces(read_car(car_file(plain)).rear, forces)
    bars, (left, right) = statics.rod_forces(
        mechanism(plain), [(LEFT, forces.left), (RIGHT, forces.right), (CENTER, forces.own)]
    )
    assert list(found.tension.values()) == pytest.approx(bars, rel=1e-7, abs=1e-3)
    assert found.springs == pytest.approx(left + right, rel=1e-7, abs=1e-3)
    # The springs push the axle down: more on the left is a moment to the right, negative about x.
    assert found.roll_moment == pytest.approx(-450 * (left - right), rel=1e-7, abs=1.0)
    assert found.determinate and found.unbalanced < 1e-6


@pytest.mark.parametrize(
    "kind", ["three links and a bar", "converging upper links", "A-frame", "Watt on axle", "Mumford"]
)
def test_every_rod_against_an_engine_at_rest(kind):
    """MuJoCo moves the axle until it rests, by less than 2 mm under a load so small."""
    plain = plausible(kind, 1)
    axle, model = read_car(car_file(plain)).rear, engine.build(mechanism(plain))
    force = np.array([60.0, 40.0, 0.0])  # a small one: what the axle moves by then counts for little
    found = rod_forces(axle, TireForces(tuple(force), (0.0, 0.0, 0.0)))
    rest = engine.settle(model, force, LEFT)
    expected = np.array(list(found.tension.values()))
    assert np.abs(rest.pose[:3]).max() < 2.0
    assert rest.tensions == pytest.approx(expected, abs=0.01 * np.abs(expected).max())


def test_springs_ahead_of_the_wheels():
    plain, ahead = plausible("three links and a bar", 2), 90.0
    forces = random_forces(5)
    balance = statics.Equilibrium(mechanism(plain), held="body")
    for name, side in (("left", 450), ("right", -450)):
        balance.spring(name, (ahead, side, 500))
    for place, force in ((LEFT, forces.left), (RIGHT, forces.right), (CENTER, forces.own)):
        balance.load("axle", place, force)
    found = rod_forces(read_car(car_file(plain)).rear, forces, spring_x=ahead)
    expected = statics.tensions(balance.solve())
    assert list(found.tension.values()) == pytest.approx(expected, rel=1e-7)
    without = rod_forces(read_car(car_file(plain)).rear, forces)
    assert np.abs(np.subtract(list(without.tension.values()), expected)).max() > 100


def test_a_rod_too_many_is_marked_and_the_upper_links_then_carry_the_same():
    car = load_car(DATA / "parallel_four_link_watt.toml")
    found = rod_forces(car.rear, forces := tire_forces(car, drive=4.0))
    assert not found.determinate and "bushings" in str(found.table())
    # All of it balances, by sums over the rods themselves.
    radius, watt, rods = car.rear.tire_radius, car.rear.locator, straight_rods(car.rear)
    columns = []
    for rod in rods:
        a, b = np.array([*rod.axle][:3], float), np.array([*rod.chassis][:3], float)
        along = (b - a) / np.linalg.norm(b - a)
        arm = a[2] - watt.pivot.z if "Watt" in rod.name else 0.0  # of the level rods about the crank's pin
        # Forward, sideways, pitch, yaw about the ground's origin, and the moment on the crank about its pin.
        turn = np.cross(a, along)
        columns.append([along[0], along[1], turn[1], turn[2], -arm * along[1]])
    matrix = np.array(columns).T
    tension = np.array(list(found.tension.values()))
    ahead = forces.left[0] + forces.right[0] + forces.own[0]
    load = np.array([ahead, 0.0, radius * forces.own[0], 0.0, 0.0])
    assert matrix @ tension == pytest.approx(-load, abs=1.0)  # N and N mm
    assert found.tension["left upper link"] == pytest.approx(found.tension["right upper link"], rel=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_the_springs_of_a_five_rod_axle_carry_roll_stiffness_times_roll(seed):
    """One rule for the roll center and for the forces: else the moments of a corner differ, here by up to 18 %."""
    random, coupe = np.random.default_rng(seed), load_car(DATA / "club_coupe.toml")

    def near(*place):
        return Point(*(float(v + random.uniform(-30, 30)) for v in place))

    left_low = Link(near(0, 500, 240), near(600, 450, 280), "left lower link")
    left_up = Link(near(-40, 450, 470), near(350, 380, 450), "left upper link")
    if seed % 2:
        lower, upper = pair(left_low), pair(left_up)
    else:
        lower = left_low, Link(near(0, -500, 240), near(600, -450, 280), "right lower link")
        upper = left_up, Link(near(-40, -450, 470), near(350, -380, 450), "right upper link")
    rear = LiveAxle(lower, upper, PanhardBar(near(-120, 480, 300), near(-120, -470, 300)), 1400, 300)
    assert rear.over_located and not rear.is_symmetric or seed % 2
    car = replace(coupe, rear=rear)
    found, corner = rod_forces(rear, tire_forces(car, lateral=4.0)), cornering(car, 4.0)
    assert found.roll_moment == pytest.approx(roll_stiffness(car.rear_springs) * corner.roll, rel=1e-9)
    assert not found.determinate and found.unbalanced < 1e-6
    assert "corner" not in repr(tire_forces(car, lateral=4.0)) + repr(found)  # a whole car would be printed


def test_links_without_names_all_stay_in_the_table_and_names_decide_no_number():
    axle = load_car(DATA / "three_link.toml").rear
    nameless = replace(axle, lower=tuple(Link(k.axle, k.chassis) for k in axle.lower))
    forces = random_forces(3)
    named, bare = rod_forces(axle, forces), rod_forces(nameless, forces)
    assert list(bare.tension) == ["left lower link", "right lower link", *list(named.tension)[2:]]
    assert list(bare.tension.values()) == pytest.approx(list(named.tension.values()))


def test_the_whole_car_stays_in_balance():
    """Tire forces of drive, braking and cornering together, against moments of the whole car about its front axle."""
    car = load_car(DATA / "club_coupe.toml")
    w, drive, lateral = car.weight, 3.0, 2.5
    forces = tire_forces(car, drive=drive, lateral=lateral)
    assert forces.left[0] + forces.right[0] == pytest.approx(w.mass * drive)
    # About the front tires' line, pitch: weight and inertia against the rear tires' load.
    upright = forces.left[2] + forces.right[2]
    moment = w.mass * (GRAVITY * car.wheelbase * (1 - w.front_share) + drive * w.cg_height)
    assert upright * car.wheelbase == pytest.approx(moment)
    # About the upright through the front axle, yaw: no turn, so the rear tires carry their share of the side force.
    assert forces.left[1] + forces.right[1] == pytest.approx(w.mass * lateral * (1 - w.front_share))
    assert forces.right[2] > forces.left[2]  # a left turn loads the right
    assert forces.right[1] / forces.right[2] == pytest.approx(forces.left[1] / forces.left[2])
    braked = tire_forces(car, braking=5.0)
    assert braked.left[0] * 2 == pytest.approx(-w.mass * 5.0 * (1 - car.brake_front_share))
    twice = tire_forces(car, bump=2.0, edge=0.25)
    weight = w.mass * GRAVITY * (1 - w.front_share)
    assert twice.left[2] * 2 == pytest.approx(2 * weight)
    assert twice.own == pytest.approx((-0.25 * 2 * weight, 0.0, -w.rear_unsprung_mass * GRAVITY))


def test_both_axles_together_hold_the_whole_car():
    """Sums of forces, and of moments about the ground, over all four tires; the car's mass is the only other force."""
    car, drive, braking, lateral = load_car(DATA / "live_front.toml"), 1.0, 4.0, 3.0
    w, length = car.weight, car.wheelbase
    force, moment = np.zeros(3), np.zeros(3)
    for end, x in (("rear", 0.0), ("front", length)):
        found = tire_forces(car, drive, braking, lateral, end=end)
        for push, side in ((found.left, 1), (found.right, -1)):
            force += push
            moment += np.cross((x, side * getattr(car, end).track / 2, 0.0), push)
        own = getattr(w, f"{end}_unsprung_mass")
        assert found.own == pytest.approx((-own * (drive - braking), -own * lateral, -own * GRAVITY))
    inertia = -w.mass * np.array([drive - braking, lateral, GRAVITY])
    moved = cornering(car, lateral).roll * moment_arm(car)  # the body leans to the right, its weight with it
    sprung = w.mass - w.front_unsprung_mass - w.rear_unsprung_mass
    middle = np.array([w.front_share * length, 0.0, w.cg_height])
    assert force + inertia == pytest.approx(np.zeros(3), abs=1e-6)
    # No yaw: braking turns a car whose body leans, a little, and the tire forces leave that out.
    balance = moment + np.cross(middle, inertia) + np.cross((0, -moved, 0), (0, 0, -sprung * GRAVITY))
    assert sprung * GRAVITY * moved > 5e4 and balance[:2] == pytest.approx([0, 0], abs=1.0)  # N mm


def test_a_live_front_axle_under_braking_by_free_bodies():
    car = load_car(DATA / "live_front.toml")
    front, forces = car.front, tire_forces(car, braking=5.0, lateral=2.0, end="front")
    made = Mechanism(middle=(0.0, 0.0, front.tire_radius))
    for rod in straight_rods(front):
        made = made.rod(*(tuple(map(float, coordinates(end))) for end in (rod.axle, rod.chassis)))
    places = [(0.0, side * front.track / 2, 0.0) for side in (1, -1)] + [(0.0, 0.0, front.tire_radius)]
    expected, _ = statics.rod_forces(made, list(zip(places, (forces.left, forces.right, forces.own), strict=True)))
    found = rod_forces(front, forces)
    assert list(found.tension.values()) == pytest.approx(expected, rel=1e-7)
    # The ground pushes the patch rearward: the lower links, which run rearward from this axle, are pushed.
    assert forces.left[0] < 0 and found.tension["left lower link"] < 0 < found.tension["upper link"]


def test_driving_pushes_the_lower_links_and_pulls_the_upper_one():
    """Common practice, no source: under drive the lower links of a live axle push, the upper one pulls."""
    car = load_car(DATA / "three_link.toml")
    under_drive = rod_forces(car.rear, tire_forces(car, drive=4.0)).tension
    assert under_drive["left lower link"] < 0 < under_drive["upper link"]
    under_braking = rod_forces(car.rear, tire_forces(car, braking=4.0)).tension
    assert under_braking["left lower link"] > 0 > under_braking["upper link"]
    assert under_drive["left lower link"] == pytest.approx(under_drive["right lower link"])
    assert under_drive["Panhard bar"] == pytest.approx(0, abs=1e-6)
    rows = rod_forces(car.rear, tire_forces(car, drive=4.0)).table().rows
    assert [row[2] for row in rows] == ["push", "push", "pull", ""]  # a force of rounding is no pull
    small = RodForces({"a": 0.7, "b": -0.7, "c": 0.3}, 0.0, 0.0, True, 0.0).table().rows
    assert small == (("a", "1", "pull"), ("b", "1", "push"), ("c", "0", ""))


def test_what_cannot_be_told_is_refused_in_words():
    car = load_car(DATA / "three_link.toml")
    with pytest.raises(SusgeoError, match=re.escape("in the air")):
        tire_forces(car, braking=25.0)
    with pytest.raises(SusgeoError, match="front axle"):
        tire_forces(car, lateral=3.0)
    with pytest.raises(SusgeoError, match=r"\[front\]"):
        tire_forces(car, braking=3.0, end="front")
    with pytest.raises(LinkageError, match="independent"):
        rod_forces(load_car(DATA / "double_wishbone.toml").front, random_forces(0))
    with pytest.raises(SusgeoError, match="weighed"):
        tire_forces(read_car(car_file(plausible("A-frame", 0))), drive=1.0)
    both = pair(Link(Point(0, 500, 240), Point(600, 500, 290), "left lower link"))
    free = LiveAxle(both, (Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),))
    with pytest.raises(LinkageError, match="not located"):
        rod_forces(free, random_forces(0))
    for wrong in ({"drive": math.nan}, {"lateral": "3"}, {"bump": -1.0}, {"braking": -7.0}, {"edge": math.inf}, {"end": "middle"},
                  {"lateral": np.array([1.0, 2.0])}):  # fmt: skip
        with pytest.raises(SusgeoError, match="expected|finite number"):
            tire_forces(car, **wrong)


def test_loads_of_a_corner_beyond_the_simple_formulas_carry_the_sentence():
    car = load_car(DATA / "club_coupe.toml")
    near, far = (rod_forces(car.rear, tire_forces(car, lateral=size)).table() for size in (3.0, 6.0))
    assert near.note == "" and "hold up to 0.324 g. Take solve_corner(car, lateral)" in far.note


def test_nothing_holds_a_bar_that_stands_upright():
    car = load_car(DATA / "three_link.toml")
    bar = PanhardBar(Point(-120, 0, 200), Point(-120, 0, 500))
    with pytest.raises(LinkageError):
        rod_forces(LiveAxle(car.rear.lower, car.rear.upper, bar), random_forces(0))


@pytest.mark.parametrize("wall", [None, 2.5])
def test_the_buckling_load_is_where_a_pinned_beam_first_bows(wall):
    """E I w'' = -P w with w = 0 at both ends, by finite differences: the smallest P that has a solution."""
    length, outer, modulus, n = 610.0, 28.0, 205_000.0, 4000
    radii = np.linspace(0 if wall is None else outer / 2 - wall, outer / 2, 20001)
    second_moment = np.trapezoid(math.pi * radii**3, radii)  # of a ring: the integral of r^2 dA / 2
    step = length / n
    (first,) = eigh_tridiagonal(
        np.full(n - 1, 2 / step**2), np.full(n - 2, -1 / step**2), select="i", select_range=(0, 0)
    )[0]
    assert buckling_load(length, outer, wall) == pytest.approx(modulus * second_moment * first, rel=1e-5)


def test_margins_and_their_cautions():
    push, pull = margin(-9000.0, 500, 25, 30_000, wall=3), margin(9000.0, 500, 25, 30_000, wall=3)
    assert push.rod_end == pull.rod_end == pytest.approx(30 / 9)
    assert push.buckling * 9000 == pytest.approx(buckling_load(500, 25, 3)) and pull.buckling == math.inf
    area = math.pi * 22 * 3  # of a thin ring: mean diameter times wall, exact for a tube
    assert push.yielding == pull.yielding == pytest.approx(235 * area / 9000)
    assert all(word in push.cautions for word in ("estimate", "fatigue", "Local codes", "qualified"))
    assert [row[1] for row in pull.table().rows] == ["infinite", "5.4", "3.3"]
    assert [row[2] for row in pull.table().rows] == ["", "", "lowest"] and pull.cautions in str(pull.table())
    idle = margin(0.0, 500, 25, 30_000)
    assert idle.lowest == math.inf and "lowest" not in str(idle.table())
    with pytest.raises(SusgeoError, match="half the diameter"):
        buckling_load(500, 25, 13)
    many = {"offset": np.array([0.0, 5.0])}
    for wrong in (
        {"offset": -1.0},
        {"offset": math.nan},
        {"yield_strength": 0.0},
        {"modulus": math.inf},
        {"wall": "3"},
        many,
    ):
        with pytest.raises(SusgeoError, match="expected|finite number"):
            margin(-9000.0, 500, 25, 30_000, **wrong)
    for force, outer, rating in (
        ("9000", 25, 30_000),
        (True, 25, 30_000),
        (9.0, "25", 30_000),
        (9.0, 25, None),
        (9.0, 25, 0),
    ):
        with pytest.raises(SusgeoError, match="expected"):
            margin(force, 500, outer, rating)
    with pytest.raises(SusgeoError, match="nan for one rod at least"):
        margin(np.array([math.nan, 9.0]), 500, 25, 30_000)
    assert margin(-9000.0, 500, 25, math.inf, wall=3).lowest == push.yielding  # a welded end has no rating
    with pytest.raises(SusgeoError, match="many rods at once"):
        margin(np.array([-9000.0, 9000.0]), 500, 25, 30_000).table()


def test_a_stocky_rod_yields_before_it_bows_out_and_the_lowest_counts():
    stocky = margin(-8000, 300, 18, 32_000, wall=2)
    assert stocky.buckling == pytest.approx(9.2, abs=0.05) and stocky.yielding == pytest.approx(2.95, abs=0.005)
    assert stocky.lowest == stocky.yielding and "yields first" in stocky.table().note
    assert stocky.table().rows[1][2] == "lowest"
    # At the limit of slenderness both loads are equal; a third of a percent longer and it bows out first.
    at = 300 * stocky.euler_from / stocky.slenderness
    limit = margin(-8000, at, 18, 32_000, wall=2)
    assert limit.buckling == pytest.approx(limit.yielding)
    assert "bows out first" in margin(-8000, at * 1.003, 18, 32_000, wall=2).table().note
    assert stocky.euler_from == pytest.approx(92.8, abs=0.05)


@pytest.mark.parametrize("tension", [-8000.0, 8000.0])
def test_a_bent_link_is_weaker_by_the_bending_of_its_metal(tension):
    """The stress at the load found, of a column bowed as half a sine wave: added up here, and by the beam's own equation."""
    length, outer, wall, offset = 300.0, 18.0, 2.0, 12.0
    found = margin(tension, length, outer, 32_000, wall, offset)
    load, inner = found.yielding * 8000, outer - 2 * wall
    second = math.pi * (outer**4 - inner**4) / 64
    bow = offset
    if tension < 0:  # E I w'' + P (w + e sin) = 0, solved on a grid: how far the metal strays under the load
        count = 2000
        x = np.linspace(0, length, count + 1)[1:-1]
        step, stiff = length / count, 205_000 * second
        matrix = (np.eye(count - 1, k=1) - 2 * np.eye(count - 1) + np.eye(count - 1, k=-1)) / step**2 * stiff
        more = np.linalg.solve(matrix + load * np.eye(count - 1), -load * offset * np.sin(math.pi * x / length))
        bow += more.max()
    area = math.pi * (outer**2 - inner**2) / 4
    assert load / area + load * bow * (outer / 2) / second == pytest.approx(235, rel=1e-5)
    assert found.lowest == found.yielding < margin(tension, length, outer, 32_000, wall).yielding / 3
    nearly = margin(tension, length, outer, 32_000, wall, 1e-9)
    assert nearly.yielding == pytest.approx(margin(tension, length, outer, 32_000, wall).yielding, rel=1e-6)


def test_a_longer_moment_arm_pulls_less():
    """The upper link's force falls as it moves up, by moments about the lower links' axle ends."""
    car = load_car(DATA / "three_link.toml")
    low, high = (
        rod_forces(moved(car.rear, {"upper.axle.z": z, "upper.chassis.z": z}), tire_forces(car, drive=4.0))
        for z in (440.0, 560.0)
    )
    # Level upper link: ground force at 0 and inertia at 310, about the lower joints at (0, 240).
    ahead, own = car.weight.mass * 4.0, -car.weight.rear_unsprung_mass * 4.0
    for found, z in ((low, 440.0), (high, 560.0)):
        assert found.tension["upper link"] * (z - 240) == pytest.approx(ahead * 240 - own * (310 - 240))
