"""The live axle against means that share no formula with it: see ``oracles``."""

import numpy as np
import pytest
import shapely
import sympy.geometry
from numpy.testing import assert_allclose

from oracles import Crank, Mechanism, engine_pose, rates, rotation, solve, spring_forces
from susgeo import (
    Link,
    LinkageError,
    LiveAxle,
    MumfordLinkage,
    PanhardBar,
    Point,
    WattsLinkage,
    coordinates,
    meet,
    pair,
    project,
    solve_travel,
)  # fmt: skip
from susgeo import rods as susgeo_rods


def xyz(point):
    return np.array([float(value) for value in coordinates(point)])


def axle_of_the_brief(half_width=400):
    return LiveAxle(
        pair(Link(Point(0, 500, 240), Point(600, half_width, 290), "left lower link")),
        (Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),),
        PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
    )


def test_the_case_of_the_brief():
    # Calculated by two independent routes outside this project, and given with the order for it.
    axle = axle_of_the_brief()
    assert [float(v) for v in coordinates(axle.convergence("lower"))] == [3000, 0, 490]
    assert float(axle.roll_axis_slope) == pytest.approx(0.0608974, abs=5e-8)
    assert float(axle.roll_center_height) == pytest.approx(307.308, abs=5e-4)
    assert [float(v) for v in coordinates(axle.side_view_instant_center)] == pytest.approx(
        [1782.609, 388.551], abs=5e-4
    )
    parallel = axle_of_the_brief(500)
    assert parallel.convergence("lower").w == 0 and parallel.roll_center_height == 310


def jitter(random, *point, by=(40, 40, 30)):
    return Point(
        *(value + random.uniform(-b, b) if value else 0.0 for value, b in zip(point, by, strict=True))
    )


def plausible(kind, seed):
    """Return a random axle of a kind."""
    random = np.random.default_rng(seed)
    lower = pair(Link(jitter(random, 5, 500, 240), jitter(random, 600, 430, 270), "left lower link"))
    single = (Link(jitter(random, -50, 0, 470), jitter(random, 400, 0, 450), "upper link"),)
    splayed = pair(Link(jitter(random, -40, 110, 440), jitter(random, 330, 400, 425), "left upper link"))
    bar = PanhardBar(jitter(random, -120, 480, 300), jitter(random, -110, -440, 330))
    x = random.uniform(-180, -100)
    if kind == "bar":
        return LiveAxle(lower, single, bar)
    if kind == "converging":
        return LiveAxle(lower, splayed)
    if kind == "A-frame":
        apex = Point(-30, 0.0, 430 + random.uniform(-30, 30))
        return LiveAxle(lower, pair(Link(apex, jitter(random, 350, 380, 420), "left leg")))
    if kind == "unequal":
        one = Link(jitter(random, 5, 500, 240), jitter(random, 600, 430, 270), "left lower link")
        two = Link(jitter(random, 5, -500, 240), jitter(random, 600, -430, 270), "right lower link")
        off = (Link(Point(-50, 60, 470), jitter(random, 400, 50, 450), "upper link"),)
        return LiveAxle((one, two), off, bar)
    if kind.startswith("Watt"):
        pivot_on = kind.split()[-1]
        crank = random.uniform(60, 90)
        slant, pivot = random.uniform(-20, 20), Point(x, random.uniform(-8, 8), random.uniform(280, 340))
        left, right = (Point(x, pivot.y + s * slant, pivot.z + s * crank) for s in (1, -1))
        ends = (
            Point(x, 480, left.z + random.uniform(-30, 30)),
            Point(x, -470, right.z + random.uniform(-30, 30)),
        )
        return LiveAxle(lower, single, WattsLinkage(pivot, left, ends[0], right, ends[1], pivot_on))
    z = random.uniform(260, 300)
    joints = {}
    for side, s in (("left", 1), ("right", -1)):
        joints |= {
            f"{side}_pivot": Point(x, s * 150, z), f"{side}_crank": Point(x, s * (150 + random.uniform(0, 20)), z + 70),
            f"{side}_end": Point(x, s * 600, z + random.uniform(40, 60)),
            f"{side}_center": Point(x, s * 150, z + s * random.uniform(50, 60)),
        }  # fmt: skip
    return LiveAxle(lower, single, MumfordLinkage(**joints))


KINDS = ["bar", "converging", "A-frame", "unequal", "Watt on axle", "Watt on chassis", "Mumford"]


def mechanism_of(axle):
    """Return the axle as plain points for the oracles."""
    made = Mechanism()
    for link in (*axle.lower, *axle.upper):
        made.rod("axle", xyz(link.axle), "body", xyz(link.chassis))
    held = axle.locator
    if isinstance(held, PanhardBar):
        made.rod("axle", xyz(held.axle), "body", xyz(held.chassis))
    if isinstance(held, WattsLinkage):
        made.cranks.append(Crank(held.pivot_on == "axle", tuple(xyz(held.pivot))))
        far = "body" if held.pivot_on == "axle" else "axle"
        made.rod(0, xyz(held.left_crank), far, xyz(held.left_end))
        made.rod(0, xyz(held.right_crank), far, xyz(held.right_end))
    if isinstance(held, MumfordLinkage):
        for number, side in enumerate(("left", "right")):
            made.cranks.append(Crank(False, tuple(xyz(getattr(held, f"{side}_pivot")))))
            made.rod(number, xyz(getattr(held, f"{side}_crank")), "axle", xyz(getattr(held, f"{side}_end")))
        made.rod(0, xyz(held.left_center), 1, xyz(held.right_center))
    return made


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(4))
def test_rates_at_rest_against_solved_positions(kind, seed):
    axle = plausible(kind, seed)
    axle.require_located()
    truth = rates(mechanism_of(axle))
    assert float(axle.roll_center_height) == pytest.approx(truth["roll center height"], abs=1e-4)
    assert float(axle.roll_steer) == pytest.approx(truth["roll steer"], abs=1e-7)
    assert float(axle.pinion_rate) == pytest.approx(truth["pinion rate"], rel=1e-6)
    found = [float(v) for v in coordinates(axle.side_view_instant_center)]
    assert_allclose(found, truth["instant center"], rtol=1e-5, atol=1e-3)


@pytest.mark.parametrize("kind", KINDS)
def test_travel_against_solved_positions_and_against_the_engine(kind):
    axle = plausible(kind, 1)
    pose = engine_pose(mechanism_of(axle), (0, 0, 1500, 900, 0, 0))
    _, _, heave, roll, _, _ = pose
    assert abs(heave) > 10 and abs(roll) > 0.01  # it did move
    x, y, pitch, yaw = solve(mechanism_of(axle), heave, roll)[:4]
    exact = as_travel(axle, (x, y, heave, roll, pitch, yaw))
    moved = solve_travel(axle, exact[2], exact[3])
    ours = [float(value) for value in (moved.x, moved.y, moved.pitch, moved.yaw)]
    assert_allclose(ours, exact[[0, 1, 4, 5]], rtol=1e-9, atol=1e-7)
    # The engine's rods yield by some hundredths of a millimeter under load; measured, and no more is asked.
    engine = as_travel(axle, pose)
    assert_allclose(ours[:2], engine[:2], atol=0.05)
    assert_allclose(ours[2:], engine[4:], atol=2e-4)


def as_travel(axle, pose):
    """Return a pose as susgeo.travel gives it: of the wheel-center line's middle, turned by pitch, yaw, then roll."""
    x, y, heave, *turns = pose
    turned, center = rotation(*turns), np.array([0, 0, axle.tire_radius])
    moved = np.array([x, y, heave]) + turned @ center - center
    # The y axis is left at (-sin yaw, cos yaw cos roll, cos yaw sin roll) by that order of turns.
    yaw, roll = -np.arcsin(turned[0, 1]), np.arctan2(turned[2, 1], turned[1, 1])
    return np.array([*moved, roll, np.arctan2(turned[0, 2], turned[0, 0]), yaw])


@pytest.mark.parametrize("kind", KINDS)
def test_four_ways_of_holding_and_a_roll_axis_that_meets_every_rod(kind):
    axle = plausible(kind, 2)
    assert axle.rank == 4
    free = susgeo_rods.null_space(axle.lines)
    assert free.shape == (2, 6)
    assert_allclose(susgeo_rods.matrix(axle.lines) @ free.T, 0, atol=1e-12)
    if kind in ("bar", "converging", "A-frame"):
        # Turn the axle a little about the drawn axis: no rod may stretch in first order.
        d, m = np.split(np.array([float(v) for v in axle.roll_axis]), 2)
        point, along = np.cross(d, m) / (d @ d), d / np.linalg.norm(d)
        small = 1e-5
        for link in (*axle.lower, *axle.upper):
            arm = xyz(link.axle) - point
            turned = point + arm + small * np.cross(along, arm)
            change = np.linalg.norm(turned - xyz(link.chassis)) - float(link.length)
            assert abs(change) < 20 * small**2 * 1000


def test_both_transversals_of_a_symmetric_axle_are_the_drawn_axes():
    axle = plausible("converging", 3)
    roll, heave = susgeo_rods.transversals(axle.lines)
    assert_allclose(susgeo_rods.stretch(axle.lines, roll), 0, atol=1e-9)
    assert_allclose(susgeo_rods.stretch(axle.lines, heave), 0, atol=1e-9)
    assert abs(heave.dx) + abs(heave.dz) < 1e-9 * abs(heave.dy)
    x, z = (float(v) for v in coordinates(axle.side_view_instant_center))
    # A line along y through (x, z) has moment p x (0, d, 0) = (-z d, 0, x d).
    assert [heave.mz / heave.dy, -heave.mx / heave.dy] == pytest.approx([x, z], rel=1e-9)


def test_five_rods_of_parallel_links_and_a_bar_bind():
    lower = pair(Link(Point(0, 500, 240), Point(600, 500, 270), "left lower link"))
    upper = pair(Link(Point(0, 400, 440), Point(500, 400, 430), "left upper link"))
    bar = PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300))
    assert LiveAxle(lower, upper, bar).rank == 5
    # Without the bar: four independent rods, and yet the axle is free sideways and held in roll.
    with pytest.raises(LinkageError, match="free to move sideways"):
        LiveAxle(lower, upper).require_located()
    same_slope = pair(Link(Point(0, 400, 440), Point(500, 400, 465), "left upper link"))
    assert LiveAxle(lower, same_slope).rank == 3
    with pytest.raises(LinkageError, match="3 ways and 4 are needed; it is free to move sideways"):
        LiveAxle(lower, same_slope).require_located()


@pytest.mark.parametrize("view", ["side", "plan", "front"])
@pytest.mark.parametrize("seed", range(5))
def test_meets_in_a_view_against_sympy_geometry_and_shapely(view, seed):
    random = np.random.default_rng(seed)
    ends = [Point(*map(int, random.integers(-500, 500, 3))) for _ in range(4)]
    lines = [project(Link(ends[k], ends[k + 1]).line, view) for k in (0, 2)]
    ours = coordinates(meet(*lines))
    axes = {"side": (0, 2), "plan": (0, 1), "front": (1, 2)}[view]
    flat = [tuple(int(list(end)[axis]) for axis in axes) for end in ends]
    (exact,) = sympy.geometry.Line(*flat[:2]).intersection(sympy.geometry.Line(*flat[2:]))
    assert [sympy.Rational(v) for v in ours] == [exact.x, exact.y]
    long = [
        shapely.LineString([a + t * (b - a) for t in (-1e4, 1e4)])
        for a, b in (np.array(flat[:2], float), np.array(flat[2:], float))
    ]
    crossing = long[0].intersection(long[1])
    assert [float(v) for v in ours] == pytest.approx([crossing.x, crossing.y], rel=1e-6, abs=1e-5)


@pytest.mark.parametrize("kind", ["bar", "converging", "A-frame", "unequal"])
@pytest.mark.parametrize("seed", range(3))
def test_a_sideways_force_at_the_roll_center_puts_no_roll_on_the_springs(kind, seed):
    # SAE J670: the point in the transverse vertical plane through the wheel centers at which lateral forces may be
    # applied to the sprung mass without producing suspension roll.
    axle = plausible(kind, seed)
    rods = [(xyz(link.axle), xyz(link.chassis)) for link in (*axle.lower, *axle.upper)]
    if axle.locator is not None:
        rods.append((xyz(axle.locator.axle), xyz(axle.locator.chassis)))
    springs = np.array([0, 450.0, 500]), np.array([0, -450.0, 500])
    height = float(axle.roll_center_height)
    left, right = spring_forces(rods, *springs, np.array([0, 1000.0, 0]), np.array([0, 0, height]))
    assert left == pytest.approx(right, abs=1e-6)
    left, right = spring_forces(rods, *springs, np.array([0, 1000.0, 0]), np.array([0, 0, height + 50]))
    assert abs(left - right) == pytest.approx(1000 * 50 / 450, rel=1e-9)


@pytest.mark.parametrize("kind", ["bar", "converging", "A-frame"])
def test_what_a_change_of_the_whole_axle_does(kind):
    axle = plausible(kind, 5)
    mirrored = _changed(axle, lambda p: p * [1, -1, 1])
    assert float(mirrored.roll_center_height) == pytest.approx(float(axle.roll_center_height), abs=1e-9)
    double = _changed(axle, lambda p: p * 2)
    assert float(double.roll_center_height) == pytest.approx(2 * float(axle.roll_center_height), rel=1e-12)
    assert float(double.pinion_rate) == pytest.approx(float(axle.pinion_rate) / 2, rel=1e-12)
    assert float(double.roll_steer) == pytest.approx(float(axle.roll_steer), rel=1e-12)
    ahead = _changed(
        axle, lambda p: p + [70, 0, 0]
    )  # shifted against the wheel centers: the axis shifts with it
    assert float(ahead.roll_center_height) == pytest.approx(
        float(axle.roll_center_height - 70 * axle.roll_axis_slope), abs=1e-9
    )
    pitched = _changed(axle, lambda p: rotation(0, 0.01, 0) @ p)  # nose down: slopes fall by the tangent
    slope = float(axle.roll_axis_slope)
    assert float(pitched.roll_axis_slope) == pytest.approx(np.tan(np.arctan(slope) - 0.01), rel=1e-9)
    for name in ("u", "v", "w"):
        assert np.isfinite(float(getattr(pitched.side_view_instant_center, name)))


def _changed(axle, change):
    def link(one):
        return Link(Point(*change(xyz(one.axle))), Point(*change(xyz(one.chassis))), one.name)

    def group(links):
        changed = tuple(link(one) for one in links)
        return tuple(sorted(changed, key=lambda one: -float(one.axle.y + one.chassis.y)))

    held = axle.locator
    bar = (
        None
        if held is None
        else PanhardBar(Point(*change(xyz(held.axle))), Point(*change(xyz(held.chassis))))
    )
    return LiveAxle(group(axle.lower), group(axle.upper), bar)
