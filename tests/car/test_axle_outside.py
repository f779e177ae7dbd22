"""The live axle against ``outside``: over many random plausible axles, each read from the text of a car file.

Truth comes from positions solved by the rods' lengths, from free bodies, from MuJoCo and from SymPy's geometry and
Shapely. Tolerances are what those were measured to be good for, with a margin of ten or more.
"""

from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
import pytest

from outside import engine, planar, rigid, statics
from outside.axles import KINDS, SYMMETRIC, car_file, mechanism, plausible
from outside.mechanism import Mechanism
from outside.published import CLUB_AXLE
from susgeo import (
    Link,
    LinkageError,
    LiveAxle,
    PanhardBar,
    Point,
    UndefinedError,
    WattsLinkage,
    coordinates,
    meet,
    pair,
    project,
    read_car,
)
from susgeo.car import rods as susgeo_rods
from susgeo.car.car import Car, Weight
from susgeo.car.pickup import mapped
from susgeo.loads.anti import anti_dive, anti_lift, anti_squat
from susgeo.travel.live import solve_travel

SEEDS = range(4)
BARS_ONLY = tuple(kind for kind in KINDS if "Watt" not in kind and "Mumford" not in kind)


@cache
def both(kind, seed):
    """Return one axle twice: as the library reads it, and as plain bars and cranks. Each seed has its own tires."""
    axle, height = plausible(kind, seed), 290.0 + 5 * seed
    return read_car(car_file(axle, height)).rear, mechanism(axle, height)


rates = cache(lambda kind, seed: rigid.rates(both(kind, seed)[1]))


def place_and_direction(line):
    """Return the point of a line nearest to the origin, and its direction, from d and m = p x d."""
    d, m = np.array([float(part) for part in line]).reshape(2, 3)
    return np.cross(d, m) / (d @ d), d / np.linalg.norm(d)


def has_axes(plain):
    """Tell whether some free motion is a turn about a line: one that does not move along its own axis, v . w = 0."""
    a, b = rigid.free_motions(plain)
    # Of s a + t b that is a quadratic in s : t, which has real roots or not.
    aa, ab, bb = a[:3] @ a[3:], (a[:3] @ b[3:] + b[:3] @ a[3:]) / 2, b[:3] @ b[3:]
    return ab**2 > aa * bb


def numbers(*values):
    return [float(value) for value in values]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", SEEDS)
def test_what_the_axle_does_about_rest(kind, seed):
    axle, truth = both(kind, seed)[0], rates(kind, seed)
    assert float(axle.roll_center_height) == pytest.approx(truth.roll_center, abs=1e-7)
    assert float(axle.roll_steer) == pytest.approx(truth.roll_steer, abs=1e-10)
    assert float(axle.pinion_rate) == pytest.approx(truth.pinion_rate, rel=1e-8, abs=1e-12)
    center = numbers(*coordinates(axle.side_view_instant_center))
    assert center == pytest.approx(truth.instant_center, rel=1e-8)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(3))
def test_what_the_engine_does_about_rest(kind, seed):
    axle, plain = both(kind, seed)
    model, height = engine.build(plain), plain.middle[2]
    lift = rigid.difference(lambda heave: engine.travel(model, heave, 0.0), 1.0)
    lean = rigid.difference(lambda roll: engine.travel(model, 0.0, roll), 2e-3)
    # Measured over all of these: 6e-9 mm, 1e-11, 3e-14 rad/mm and a share of 1e-9.
    assert float(axle.roll_center_height) == pytest.approx(height + lean[1], abs=1e-7)
    assert float(axle.roll_steer) == pytest.approx(lean[5], abs=2e-10)
    assert float(axle.pinion_rate) == pytest.approx(lift[4], abs=1e-12)
    center = numbers(*coordinates(axle.side_view_instant_center))
    assert center == pytest.approx((1 / lift[4], height - lift[0] / lift[4]), rel=2e-8)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_sideways_force_at_the_roll_center_puts_no_roll_on_the_springs(kind, seed):
    # SAE J670, from memory: the point in the transverse vertical plane through the wheel centers at which lateral
    # forces may be applied to the sprung mass without producing suspension roll. All locators, by free bodies.
    axle, plain = both(kind, seed)
    height, force = float(axle.roll_center_height), (0, 1000.0, 0)
    assert abs(statics.spring_roll(plain, (0, 0, height), force)) < 1e-9 * 1000  # N m
    # To the left and 50 mm higher: the body leans to the left, onto the left spring.
    assert statics.spring_roll(plain, (0, 0, height + 50), force) == pytest.approx(50.0, rel=1e-9)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(5))
def test_the_axle_turns_about_both_axes_without_stretching_a_rod(kind, seed):
    axle, plain = both(kind, seed)
    if not has_axes(plain):
        with pytest.raises(LinkageError, match="No real line"):
            _ = axle.roll_axis
        assert kind == "unequal converging links"  # it is rare, and never so where sides are alike
        return
    roll, second = (place_and_direction(line) for line in susgeo_rods.transversals(axle.lines))
    drawn = place_and_direction(axle.roll_axis)
    assert abs(roll[1] @ drawn[1]) == pytest.approx(1, abs=1e-12) and abs(roll[1][0]) > 0.9  # fore and aft
    for place, along in (drawn, second):
        assert rigid.stretch_about(plain, place, along) < 3e-4  # mm per rad; measured: 2.4e-5
    # Beside the drawn axis by 1 mm is no such axis: the test can tell.
    beside = np.linalg.svd(drawn[1][None])[2][1:]
    assert max(rigid.stretch_about(plain, drawn[0] + step, drawn[1]) for step in beside) > 0.05


@pytest.mark.parametrize("kind", SYMMETRIC)
def test_the_roll_axis_of_a_symmetric_axle_lies_in_the_center_plane(kind):
    for seed in SEEDS:
        axle, truth = both(kind, seed)[0], rates(kind, seed)
        place, along = place_and_direction(axle.roll_axis)
        assert abs(place[1]) < 1e-9 and abs(along[1]) < 1e-12
        # At x = 0 it is at the roll center; it rises as the axle steers, both of the oracle.
        assert place[2] - place[0] * along[2] / along[0] == pytest.approx(truth.roll_center, abs=1e-7)
        assert along[2] / along[0] == pytest.approx(truth.roll_steer, abs=1e-10)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(4))
def test_rank_and_free_motions(kind, seed):
    axle, plain = both(kind, seed)
    truth = rigid.free_motions(plain)
    assert axle.rank == 6 - len(truth) == 4
    assert _same_space(susgeo_rods.null_space(axle.lines), truth)
    axle.require_located()


def _same_space(first, second):
    """Tell whether two orthonormal bases span the same motions: every angle between them is zero."""
    return first.shape == second.shape and np.min(np.linalg.svd(first @ second.T)[1]) > 1 - 1e-12


def of_rods(*links):
    made = Mechanism()
    for link in links:
        made = made.rod(*link)
    return made


def as_axle(lower, upper, bar=None):
    def group(links):
        return tuple(Link(Point(*a), Point(*b), f"link {k}") for k, (a, b) in enumerate(links))

    locator = None if bar is None else PanhardBar(*(Point(*end) for end in bar))
    return LiveAxle(group(lower), group(upper), locator)


def two(axle, chassis):
    return tuple(tuple((x, s * y, z) for x, y, z in (axle, chassis)) for s in (1, -1))


BAR = ((-120, 480, 300), (-120, -470, 300))
LEVEL, RISING = ((0, 400, 440), (500, 400, 440)), ((0, 400, 440), (500, 400, 465))
PARALLEL = two((0, 500, 240), (600, 500, 270))
RANKS = {  # lower links, upper links, bar; rank, and whether heave and roll decide where the axle is
    "pairs parallel to each other": (PARALLEL, two(*RISING), None, 3, False),
    "pairs parallel in plan": (PARALLEL, two(*LEVEL), None, 4, False),
    "pairs parallel in plan, and a bar": (PARALLEL, two(*LEVEL), BAR, 5, False),
    "pairs parallel to each other, and a bar": (PARALLEL, two(*RISING), BAR, 4, True),
    "converging pairs and a bar": (CLUB_AXLE["lower"], two((-40, 130, 450), (340, 420, 425)), BAR, 5, False),
    "three links, no bar": (CLUB_AXLE["lower"], CLUB_AXLE["upper"], None, 3, False),
    "lower links and a bar": (CLUB_AXLE["lower"], (), BAR, 3, False),
}


@pytest.mark.parametrize("name", RANKS)
def test_rank_of_axles_that_are_not_located_or_bind(name):
    lower, upper, bar, rank, located = RANKS[name]
    axle, plain = as_axle(lower, upper, bar), of_rods(*lower, *upper, *([bar] if bar else []))
    truth = rigid.free_motions(plain)
    assert axle.rank == 6 - len(truth) == rank
    assert _same_space(susgeo_rods.null_space(axle.lines), truth)
    # Two free motions, and heave and roll tell them apart.
    assert located == (len(truth) == np.linalg.matrix_rank(truth[:, [2, 3]], tol=1e-6) == 2)
    if rank < 5 and not located:
        with pytest.raises(LinkageError, match="not located"):
            axle.require_located()
    else:  # five rods hold an axle too well; that is not refused
        axle.require_located()


def test_a_fifth_rod_through_both_axes_is_no_fifth_condition():
    axle, plain = both("converging upper links", 3)
    roll, heave = (place_and_direction(line) for line in susgeo_rods.transversals(axle.lines))
    ends = roll[0] + 300 * roll[1], heave[0] + 200 * heave[1]
    lower, upper = (
        [(tuple(coordinates(k.axle)), tuple(coordinates(k.chassis))) for k in links]
        for links in (axle.lower, axle.upper)
    )
    through = as_axle(lower, upper, ends)
    assert through.rank == 4 == 6 - len(rigid.free_motions(plain.rod(*ends)))
    off = as_axle(lower, upper, (ends[0], ends[1] + [0, 0, 40]))
    assert off.rank == 5 == 6 - len(rigid.free_motions(plain.rod(ends[0], ends[1] + [0, 0, 40])))


def test_where_no_axes_exist_the_library_says_so():
    told = {True: 0, False: 0}
    for seed in range(60):
        random = np.random.default_rng([77, seed])
        ends = [((0, 500, 240), (600, 400, 280)), ((0, -500, 240), (600, -400, 280)),
                ((-50, 250, 460), (350, 300, 440)), ((-50, -250, 460), (350, -300, 440))]  # fmt: skip
        rods = [tuple(np.add(end, random.uniform(-300, 300, 3)) for end in rod) for rod in ends]
        plain, axle = of_rods(*rods), as_axle(rods[:2], rods[2:])
        real = has_axes(plain)
        told[bool(real)] += 1
        if not real:
            with pytest.raises(LinkageError, match="No real line"):
                susgeo_rods.transversals(axle.lines)
            continue
        for line in susgeo_rods.transversals(axle.lines):
            assert rigid.stretch_about(plain, *place_and_direction(line)) < 3e-4
    assert min(told.values()) >= 3


@pytest.mark.parametrize("on", ["axle", "chassis"])
@pytest.mark.parametrize("seed", range(4))
def test_a_watts_linkage_whose_pin_is_not_level(on, seed):
    random = np.random.default_rng([5, seed])
    pin = np.r_[1, random.uniform(-0.3, 0.3, 2)]
    data = plausible(f"Watt on {on}", seed)
    at = data["locator"][1] | {"pin": tuple(pin)}
    truth = rigid.rates(mechanism(data | {"locator": ("watts_linkage", at)}))
    places = {name: value if name == "pivot_on" else Point(*value) for name, value in at.items()}
    held = WattsLinkage(**places | {"pin": Point(*pin, 0)})
    level, _ = both(f"Watt on {on}", seed)
    axle = LiveAxle(level.lower, level.upper, held)
    assert float(axle.roll_center_height) == pytest.approx(truth.roll_center, abs=1e-7)
    assert float(axle.roll_steer) == pytest.approx(truth.roll_steer, abs=1e-10)
    assert abs(float(axle.roll_center_height - level.roll_center_height)) > 1e-3  # the pin does matter


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("view", planar.VIEWS)
def test_any_two_links_drawn_in_a_view_meet_where_sympy_and_shapely_say(kind, seed, view):
    axle, data = both(kind, seed)[0], plausible(kind, seed)
    links, ends = (*axle.lower, *axle.upper), (*data["lower"], *data["upper"])
    for one, other in combinations(range(len(links)), 2):
        drawn = [tuple(planar.drawn(end, view) for end in ends[number]) for number in (one, other)]
        if drawn[0] == drawn[1]:  # from the side, a link hides its mirror image
            with pytest.raises(UndefinedError, match="same line"):
                meet(*(project(links[number].line, view) for number in (one, other)))
            continue
        exact = planar.crossing(*drawn)
        found = numbers(*coordinates(meet(*(project(links[number].line, view) for number in (one, other)))))
        assert found == pytest.approx(numbers(*exact), rel=1e-10, abs=1e-9)
        assert found == pytest.approx(planar.crossing_by_shapely(*drawn), rel=1e-6, abs=1e-5)


@pytest.mark.parametrize("kind", SYMMETRIC)
@pytest.mark.parametrize("seed", range(5))
def test_the_named_points_are_meets_in_the_drawings(kind, seed):
    axle, data = both(kind, seed)[0], plausible(kind, seed)

    def lines(links, view):
        return [tuple(planar.drawn(end, view) for end in link) for link in links]

    checks = [(axle.side_view_instant_center, *(lines(data[h], "side")[0] for h in ("lower", "upper")), (0, 1))]
    for height in ("lower", "upper"):
        if len(data[height]) == 2:  # in plan and from the front, left and right meet where the pair does
            point = axle.convergence(height)
            checks += [(point, *lines(data[height], v), axes) for v, axes in (("plan", (0, 1)), ("front", (1, 2)))]
    if data["locator"] and data["locator"][0] == "panhard_bar":
        # A bar crosses the car's center line: common practice, no source.
        bar, point = [tuple(data["locator"][1].values())], axle.locator_point
        checks.append((point, *lines(bar, "plan"), ((0, 0), (100, 0)), (0, 1)))
        checks.append((point, *lines(bar, "front"), ((0, 0), (0, 100)), (1, 2)))
    for point, first, second, axes in checks:
        places = numbers(*coordinates(point))
        exact = numbers(*planar.crossing(first, second))
        assert [places[axis] for axis in axes] == pytest.approx(exact, rel=1e-10, abs=1e-9)


@pytest.mark.parametrize("kind", ["converging upper links", "converging lower links", "A-frame"])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_pair_that_is_said_to_locate_bears_more_of_a_sideways_force(kind, seed):
    axle, plain = both(kind, seed)
    balance = statics.Equilibrium(plain, held="body")
    for name, side in (("left", 1), ("right", -1)):
        balance.spring(name, (0, side * 450, 500))
    balance.load("axle", (0, 0, float(axle.roll_center_height)), (0, 1000.0, 0))
    tensions = statics.tensions(balance.solve())
    sideways = [
        t * (b.second - b.first)[1] / np.linalg.norm(b.second - b.first)
        for t, b in zip(tensions, plain.bars, strict=True)
    ]
    lower, upper = sum(sideways[:2]), sum(sideways[2:])
    assert lower + upper == pytest.approx(-1000)
    bears = "lower" if abs(lower) > abs(upper) else "upper"
    assert numbers(*coordinates(axle.locator_point)) == numbers(*coordinates(axle.convergence(bears)))
    assert bears == ("lower" if kind == "converging lower links" else "upper")


def test_the_case_of_the_order():
    lower, upper = CLUB_AXLE["lower"], CLUB_AXLE["upper"]
    axle = as_axle(lower, upper, CLUB_AXLE["bar"])
    assert numbers(*coordinates(axle.convergence("lower"))) == list(CLUB_AXLE["convergence"])
    assert float(axle.roll_center_height) == pytest.approx(CLUB_AXLE["roll center"], abs=5e-4)
    assert float(axle.roll_axis_slope) == pytest.approx(CLUB_AXLE["roll axis slope"], abs=5e-8)
    found = numbers(*coordinates(axle.side_view_instant_center))
    assert found == pytest.approx(CLUB_AXLE["instant center"], abs=5e-4)
    parallel = as_axle(two((0, 500, 240), (600, 500, 290)), upper, CLUB_AXLE["bar"])
    assert parallel.convergence("lower").w == 0
    assert parallel.roll_center_height == CLUB_AXLE["roll center with parallel lower links"]


@pytest.mark.parametrize("kind", KINDS)
def test_travel_is_that_of_the_engine(kind):
    heaves, rolls = np.linspace(-80, 80, 5)[:, None], np.radians([-6.0, -2.0, 0.0, 5.0])
    for seed in range(2):
        axle, plain = both(kind, seed)
        truth = engine.travel(engine.build(plain), heaves, rolls)
        found = solve_travel(axle, heaves, rolls)
        assert found.reached.all()
        for number, name in enumerate(("x", "y", "heave", "roll", "pitch", "yaw")):
            # Measured: 1e-10 mm; the engine's own constraints are solved to 1e-13 m.
            assert np.abs(getattr(found, name) - truth[..., number]).max() < (1e-7 if number < 3 else 1e-10)
        assert np.abs(found.wheelbase_change + truth[..., 0]).max() < 1e-7
        assert np.ptp(truth[..., 1]) > 0.5 and np.ptp(truth[..., 5]) > 1e-4  # it did move


@pytest.mark.parametrize("kind", SYMMETRIC)
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("own_mass", [False, True])
def test_the_links_share_of_the_load_transfer_by_free_bodies(kind, seed, own_mass):
    axle, plain = both(kind, seed)
    length, height, share, force, mass, own = 2700.0, 540.0, 0.64, 3000.0, 1200.0, 140.0
    weight = Weight(mass, 0.5, height, own, own)
    car = Car("", length, rear=axle, weight=weight, brake_front_share=share)
    own_share = own / mass if own_mass else 0.0
    # The rest of the car then has its center of gravity so much higher.
    sprung_height = (height - own_share * axle.tire_radius) / (1 - own_share)

    def truth(here, there, other):
        straight = statics.Straight(here, there, other, sprung_height, own_share, axle.tire_radius)
        tires, springs, _ = statics.load_transfer(plain, straight)
        assert tires == pytest.approx((here + there) * height / other, rel=1e-9)
        return 100 * (1 - springs / tires)

    assert float(anti_squat(car, own_mass)) == pytest.approx(truth(force, 0.0, length), rel=1e-8)
    braked = truth(-(1 - share) * force, -share * force, length)
    assert float(anti_lift(car, own_mass)) == pytest.approx(braked, rel=1e-8)
    # At the front the other axle is behind; the links here run forward all the same, so the number is negative.
    ahead = replace(axle, end="front")
    car = Car("", length, front=ahead, weight=weight, brake_front_share=share)
    dived = truth(-share * force, -(1 - share) * force, -length)
    assert float(anti_dive(car, own_mass)) == pytest.approx(dived, rel=1e-8)


@pytest.mark.parametrize("kind", BARS_ONLY)
def test_the_transposed_matrix_gives_the_rods_forces(kind):
    for seed in range(4):
        axle, plain = both(kind, seed)
        place, force = np.array([0.0, 700, 0]), np.array([3000.0, 1000, 4000])
        tensions, (left, right) = statics.rod_forces(plain, [(place, force)])
        springs = np.r_[0, 0, -left - right, 0.45 * (right - left), 0, 0]
        load = np.r_[force, np.cross(place, force) / 1000]
        # A rod in tension pulls the axle toward the chassis, along its line.
        balance = susgeo_rods.matrix(axle.lines).T @ tensions + springs + load
        assert np.abs(balance).max() < 1e-8 * np.abs(tensions).max()


def test_links_alike_on_both_sides_may_be_given_as_a_pair():
    data = plausible("converging upper links", 7)
    axle, _ = both("converging upper links", 7)
    lower, upper = (pair(Link(*(Point(*end) for end in data[h][0]), f"left {h} link")) for h in ("lower", "upper"))
    assert float(LiveAxle(lower, upper).roll_center_height) == float(axle.roll_center_height)


def test_four_independent_rods_alone_do_not_locate():
    """Two pairs, both parallel in plan and not to each other from the side: rank 4, free sideways, held in roll."""
    lower = pair(Link(Point(0, 500, 240), Point(600, 500, 270), "left lower link"))
    upper = pair(Link(Point(0, 400, 440), Point(500, 400, 430), "left upper link"))
    axle = LiveAxle(lower, upper)
    assert axle.rank == 4
    with pytest.raises(LinkageError, match="not located.* free, or nearly free, to move sideways"):
        axle.require_located()


def test_a_crank_that_holds_nothing_is_refused_in_a_sentence():
    lower = pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link"))
    upper = (Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),)
    at = Point(-120, 0, 300)
    for joint in (at, Point(-120, 0, 380)):  # on the pivot; both rods on one line
        left, right = Point(-120, 500, joint.z), Point(-120, -500, joint.z)
        axle = LiveAxle(lower, upper, WattsLinkage(at, joint, left, joint, right))
        for ask in (axle.require_located, lambda a=axle: a.roll_center_height):
            with pytest.raises(LinkageError, match="not held sideways by its Watt's linkage"):
                ask()


def test_an_axle_that_is_free_sideways_has_no_roll_center_though_four_rods_hold_it():
    """Two pairs parallel in plan, not to each other from the side: rank 4, and the drawing's two points at infinity."""
    axle = LiveAxle(
        pair(Link(Point(0, 500, 240), Point(600, 500, 290), "left lower link")),
        pair(Link(Point(-40, 500, 470), Point(400, 500, 460), "left upper link")),
    )
    assert axle.rank == 4
    for ask in ("roll_center_height", "roll_steer"):
        with pytest.raises(LinkageError, match="sideways"):
            getattr(axle, ask)


LOWER, BAR = pair(Link(Point(0, 500, 240), Point(600, 400, 290))), PanhardBar(Point(0, 480, 300), Point(0, -470, 300))


@pytest.mark.parametrize(
    ("upper", "bar"),
    [
        # It points to where the lower links converge: roll axis and pitch axis meet there, and each is one of a plane of lines.
        ((Link(Point(-50, 0, 470), Point(1475, 0, 480)),), BAR),
        # Five rods that agree: the bar crosses the center plane on the roll axis of the other four.
        (pair(Link(Point(0, 200, 470), Point(400, 500, 450))), None),
    ],
)
def test_both_axes_touch_every_rod_where_axes_meet_and_where_a_rod_repeats_the_others(upper, bar):
    axle = LiveAxle(LOWER, upper, bar)
    if bar is None:
        height = float(axle.roll_center_height)
        four, axle = axle, replace(axle, locator=PanhardBar(Point(0, 600, height), Point(0, -600, height)))
        drawn = np.array(tuple(four.roll_axis), dtype=float)
        found = np.array(tuple(susgeo_rods.transversals(axle.lines)[0]))
        assert found / found[0] == pytest.approx(drawn / drawn[0], rel=1e-6, abs=1e-6)
    axes = susgeo_rods.transversals(axle.lines)
    for axis in axes:
        assert np.abs(susgeo_rods.stretch(axle.lines, axis)).max() < 1e-6
    assert abs(axes[0].dx) > abs(axes[0].dy) and abs(axes[1].dy) > abs(axes[1].dx)


def test_rods_that_do_not_place_the_axle_have_no_turns():
    """Three rods, as one axle and as many at once; and four of which the bar stands upright."""
    few = LiveAxle(LOWER, (Link(Point(-50, 0, 470), Point(400, 0, 450)),))
    many = mapped(few, lambda place, value: value + np.zeros(3))
    upright = replace(few, locator=PanhardBar(Point(0, 0, 300), Point(0, 0, 500)))
    for axle in (few, many, upright):
        with pytest.raises(UndefinedError, match="do not hold the axle in four ways"):
            susgeo_rods.response(axle.lines, [1.0] * len(axle.lines))


def test_a_motion_has_the_heave_and_roll_that_were_given_and_stretches_no_rod():
    axle = LiveAxle(LOWER, (Link(Point(-50, 0, 470), Point(400, 0, 450)),), BAR)
    moving = susgeo_rods.motion(axle.lines, heave=2.0, roll=0.01)
    assert (moving[2], moving[3]) == pytest.approx((2.0, 0.01), rel=1e-12)
    scaled = moving * [1, 1, 1, 1000, 1000, 1000]  # turns at a meter
    assert susgeo_rods.matrix(axle.lines) @ scaled == pytest.approx(np.zeros(4), abs=1e-12)
