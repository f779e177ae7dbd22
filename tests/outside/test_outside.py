"""The oracles of ``outside`` against each other, against print, and against what is plain to see; no susgeo here."""

from dataclasses import replace

import numpy as np
import pytest

from outside import engine, planar, rigid, statics
from outside.axles import KINDS, mechanism, mirrored, plausible
from outside.mechanism import Mechanism
from outside.published import BARTON_FIELDHOUSE, CLUB_AXLE, panhard_shift, watt_stray, watts_curve

LONG = 1e7  # links so long that the axle moves upright


def club_axle(half_width=400):
    made = Mechanism()
    for (_, side, _), _ in CLUB_AXLE["lower"]:
        sign = np.sign(side)
        made = made.rod((0, sign * 500, 240), (600, sign * half_width, 290))
    return made.rod(*CLUB_AXLE["upper"][0]).rod(*CLUB_AXLE["bar"])


def upright():
    """An axle that heave moves straight up, to within 0.001 mm, and that nothing holds sideways yet."""
    made = Mechanism()
    for side, height in ((500, 200), (-500, 200), (0, 500)):
        made = made.rod((0, side, height), (LONG, side, height))
    return made


def test_signs_are_those_of_iso_8855():
    # From memory: x forward, y left, z up, right-handed turns.
    assert rigid.rotation(0.1, 0, 0).apply([0, 1, 0])[2] > 0  # positive roll lifts the left side
    assert rigid.rotation(0, 0.1, 0).apply([1, 0, 0])[2] < 0  # positive pitch lowers the nose
    assert rigid.rotation(0, 0, 0.1).apply([1, 0, 0])[1] > 0  # positive yaw turns to the left
    axle = engine.build(club_axle())
    for name, expected in (("roll", (0, 0.1, 0.0)), ("yaw", (-0.1, 0, 0)), ("pitch", (0, 0, 0))):
        assert np.allclose(_left_of(axle, name, 0.1), expected, atol=0.006)


def _left_of(model, joint, angle):
    """Return the movement of a point one meter to the left when one joint of the engine's axle turns."""
    import mujoco

    data = mujoco.MjData(model)
    data.qpos[model.joint(joint).qposadr[0]] = angle
    mujoco.mj_kinematics(model, data)
    _, across, up = data.xmat[model.body("axle").id].reshape(3, 3)[:, 1]
    forward = data.xmat[model.body("axle").id].reshape(3, 3)[0, 1]
    return forward, up, across - 1


def test_the_case_of_the_order_by_positions_and_by_forces():
    found = rigid.rates(club_axle())
    assert found.roll_center == pytest.approx(CLUB_AXLE["roll center"], abs=5e-4)
    assert found.roll_steer == pytest.approx(CLUB_AXLE["roll axis slope"], abs=5e-8)
    assert found.instant_center == pytest.approx(CLUB_AXLE["instant center"], abs=5e-4)
    assert statics.roll_center(club_axle()) == pytest.approx(found.roll_center, abs=1e-7)
    # The link lines meet, and the bar crosses the center line, where the paper says.
    assert rigid.stretch_about(club_axle(), CLUB_AXLE["convergence"], (-3120, 0, -190)) < 1e-6
    assert rigid.stretch_about(club_axle(), (3000, 0, 480), (-3120, 0, -190)) > 1
    parallel = club_axle(500)
    expected = CLUB_AXLE["roll center with parallel lower links"]
    assert rigid.rates(parallel).roll_center == pytest.approx(expected, abs=1e-7)
    assert statics.roll_center(parallel) == pytest.approx(expected, abs=1e-7)


def test_a_panhard_bar_keeps_to_its_circle():
    axle = upright().rod((0, 450, 300), (0, -450, 300))
    for rise in (-100, 30, 80):
        # The middle of the axle rises, and its end of the bar with it.
        assert rigid.solve(axle, rise, 0).y == pytest.approx(-panhard_shift(rise, 900), abs=1e-6)


def watt(rods=(500.0, 500.0), arms=(70.0, 70.0), on="axle"):
    left, right = ((0, side * rod, 330 + side * arm) for side, rod, arm in zip((1, -1), rods, arms, strict=True))
    cranks = ((0, 0, 330 + arms[0]), (0, 0, 330 - arms[1]))
    return upright().watt(on, (0, 0, 330), (cranks[0], left), (cranks[1], right))


def test_a_watts_linkage_draws_watts_curve():
    rod, arm = 500.0, 70.0
    tilt = np.arctan2(arm, rod)  # the line of the rods' far ends
    for rise in (-150, -60, 40, 120, 190):
        found = rigid.solve(watt(), rise, 0, steps=4)
        radius, angle = np.hypot(found.y, rise), np.arctan2(rise, found.y) - tilt
        branches = watts_curve(np.hypot(rod, arm), rod, arm, angle)
        # Both branches belong to the curve; the one that starts at the middle is drawn.
        assert np.min(np.abs(np.array(branches) - radius**2)) / (2 * radius) < 1e-6


@pytest.mark.parametrize("on", ["axle", "body"])
def test_a_level_watts_linkage_strays_with_the_fifth_power(on):
    stray = {rise: abs(rigid.solve(watt(on=on), rise, 0).y) for rise in (30.0, 60.0)}
    for rise, found in stray.items():
        # The next term is smaller by about (rise / 2 arm) squared over two; measured 2 and 6 percent.
        assert found == pytest.approx(watt_stray(rise, 500, 70), rel=(rise / 140) ** 2 / 2)
    assert np.log2(stray[60.0] / stray[30.0]) == pytest.approx(5, abs=0.1)


def test_unequal_rods_want_arms_in_inverse_proportion():
    matched = [abs(rigid.solve(watt((500, 400), (60, 75)), rise, 0).y) for rise in (20, 40)]
    crossed = [abs(rigid.solve(watt((500, 400), (75, 60)), rise, 0).y) for rise in (20, 40)]
    assert crossed[1] > 30 * matched[1]
    assert np.log2(crossed[1] / crossed[0]) == pytest.approx(2, abs=0.05)


def test_a_mumford_linkage_joined_on_the_same_side_frees_what_it_should_hold():
    def side(sign, arm):
        pivot = np.array([-100, sign * 150, 270])
        return pivot, pivot + [0, 0, 75], (-100, sign * 600, 315), pivot + [0, 0, arm]

    opposite = rigid.free_motions(upright().mumford(side(1, 55), side(-1, -55)))
    same = rigid.free_motions(upright().mumford(side(1, 55), side(-1, 55)))
    for free, up, across in ((opposite, 1, 0), (same, 0, 1)):
        still = free[:, [0, 3, 4, 5]]  # of the free motions, the one with neither fore and aft movement nor turn
        pure = np.abs(np.linalg.svd(still.T)[2][-1] @ free)
        assert free.shape == (2, 6)
        assert pure[[2, 1]] == pytest.approx([up, across], abs=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_positions_forces_and_engine_agree(kind):
    for seed in range(4):
        axle = mechanism(plausible(kind, seed))
        assert rigid.free_motions(axle).shape == (2, 6)
        assert statics.roll_center(axle) == pytest.approx(rigid.rates(axle).roll_center, abs=1e-6)
    poses = engine.travel(engine.build(axle), np.array([-90, -30, 0, 60])[:, None], np.radians([-6, 0, 4]))
    for pose in poses.reshape(-1, 6):
        found = rigid.solve(axle, pose[2], pose[3], steps=3)
        assert np.abs(np.array(found[:6]) - pose).max() < 1e-8  # measured: below 1e-10


@pytest.mark.parametrize("kind", KINDS)
def test_forces_in_the_bars_by_free_bodies_and_by_the_engine(kind):
    axle, heave_rate, roll_rate = mechanism(plausible(kind, 0)), 60.0, 20_000.0
    force, place = np.array([2000.0, 900.0, 1500.0]), np.array([0.0, 500.0, 0.0])
    rest = engine.settle(engine.build(axle, heave_rate, roll_rate), force, place)
    assert abs(rest.pose[2]) > 10 and abs(rest.pose[3]) > 0.01  # it did move
    pose = rigid.solve(axle, rest.pose[2], rest.pose[3])
    assert np.abs(np.array(pose[:6]) - rest.pose).max() < 1e-3  # measured: 2e-4 mm; the engine's bars give a little
    there = rigid.moved(axle, pose)
    turn = rigid.rotation(pose.roll, pose.pitch, pose.yaw)
    balance = statics.Equilibrium(there, held="body")
    balance.load("axle", turn.apply(place - axle.middle) + there.middle, force)
    # The engine's springs: an upright force at the middle of the axle, and on its outermost hinge a moment about x
    # that the inner hinges, yaw and pitch, do not feel: so it is along the axle's own heading.
    heading = rigid.rotation(pose.roll, 0, pose.yaw).apply([1, 0, 0])
    balance.support("heave", "axle", there.middle, (0, 0, 1))
    balance.couple("roll", "axle", heading)
    found = balance.solve()
    assert found["support", "heave"] == pytest.approx(-heave_rate * pose.heave, abs=0.1)
    assert found["couple", "roll"] == pytest.approx(-roll_rate * pose.roll / heading[0], abs=0.1)
    assert np.abs(statics.tensions(found) - rest.tensions).max() < 0.5  # of thousands
    assert np.abs(rest.tensions).max() > 500


def ic_axle(x, z):
    """An axle of three links whose side-view instant center is at (x, z), parallel to x where x is infinite."""
    made = Mechanism()
    for start, ends in (((0, 240), (500, -500)), ((-40, 470), (0,))):
        end = np.array(start) + 0.3 * (np.array([x, z]) - start)
        for side in ends:
            made = made.rod((start[0], side, start[1]), (end[0], side, end[1]))
    return made.rod((-120, 480, 300), (-120, -470, 300))


LENGTH, CG = 2700.0, 540.0


def test_what_the_links_carry_by_free_bodies():
    """Formulas of the trade for a live axle; common practice, no source. Slope from the patch."""
    x, z = 1700.0, 410.0
    axle, slope = ic_axle(x, z), z / x
    assert rigid.rates(axle).instant_center == pytest.approx((x, z), rel=1e-7)
    drive = statics.Straight(here=3000, there=0, other_axle=LENGTH, cg_height=CG)
    assert statics.carried_by_links(axle, drive) == pytest.approx(100 * slope * LENGTH / CG, rel=1e-9)
    share = 0.64  # of the braking at the front
    brake = statics.Straight(-3000 * (1 - share), -3000 * share, LENGTH, CG)
    expected = 100 * (1 - share) * slope * LENGTH / CG
    assert statics.carried_by_links(axle, brake) == pytest.approx(expected, rel=1e-9)
    front = ic_axle(-1500.0, 380.0)
    brake = statics.Straight(-3000 * share, -3000 * (1 - share), -LENGTH, CG)
    expected = 100 * share * 380 / 1500 * LENGTH / CG
    assert statics.carried_by_links(front, brake) == pytest.approx(expected, rel=1e-9)


def test_at_one_hundred_percent_the_springs_take_nothing():
    drive = statics.Straight(3000, 0, LENGTH, CG)
    tires, springs, rods = statics.load_transfer(ic_axle(1700.0, 1700 * CG / LENGTH), drive)
    assert tires == pytest.approx(3000 * CG / LENGTH) and abs(springs) < 1e-9 * tires
    assert np.abs(rods[:2]).min() > 1000
    parallel = Mechanism()
    for side, height in ((500, 240), (-500, 240), (0, 470)):
        parallel = parallel.rod((0, side, height), (600, side, height + 0.2 * 600))
    parallel = parallel.rod((-120, 480, 300), (-120, -470, 300))
    assert statics.carried_by_links(parallel, replace(drive, cg_height=0.2 * LENGTH)) == pytest.approx(100)


def test_with_the_axles_own_mass_the_line_starts_below_the_patch():
    # Moments of the axle about the instant center, by hand: the line starts m_u h_u / m_s below the ground.
    x, z, share, height = 1700.0, 410.0, 0.12, 310.0
    below = share * height / (1 - share)
    car = statics.Straight(3000, 0, LENGTH, CG, share, height)
    expected = 100 * ((z + below) / x * LENGTH / CG - below / CG)
    assert statics.carried_by_links(ic_axle(x, z), car) == pytest.approx(expected, rel=1e-9)
    assert below == pytest.approx(42.3, abs=0.05)


def test_rods_balance_any_load_on_the_axle():
    axle = club_axle()
    place, force = np.array([0, 700, 0]), np.array([3000.0, 1000.0, 4000.0])
    tensions, springs = statics.rod_forces(axle, [(place, force)])
    total, moment = force.copy(), np.cross(place, force)
    for tension, (_, end, _, other) in zip(tensions, axle.bars, strict=True):
        pull = tension * (other - end) / np.linalg.norm(other - end)
        total, moment = total + pull, moment + np.cross(end, pull)
    for push, side in zip(springs, (450, -450), strict=True):
        total, moment = total - [0, 0, push], moment - np.cross((0, side, 500), (0, 0, push))
    assert np.abs(total).max() < 1e-8 and np.abs(moment).max() < 1e-5


def test_the_worked_example_is_consistent_with_itself():
    book = BARTON_FIELDHOUSE
    mass, track, g = book["sprung mass [kg]"], book["track [m]"], 9.81
    a = book["lateral acceleration [g]"] * g
    for end in ("front", "rear"):
        geometric = book["share"][end] * mass * a * book["roll center [m]"][end] / track
        unsprung = book["axle mass [kg]"][end] * a * book["axle height [m]"][end] / track
        assert round(geometric) == book["geometric transfer [N]"][end]
        assert round(unsprung) == book["unsprung transfer [N]"][end]
    arm = mass * book["height over the roll axis [m]"]
    gradient = arm / (book["roll stiffness [N m/rad]"] - arm * g)
    assert round(gradient, 4) == book["roll gradient [rad/(m/s2)]"]
    assert round(np.degrees(gradient) * g, 1) == book["roll gradient [deg/g]"]


def test_sympy_and_shapely_agree_on_a_drawing():
    assert planar.crossing(((0, 0), (1, 1)), ((0, 2), (1, 1.5))) == (planar.sympy.Rational(4, 3),) * 2
    assert planar.crossing(((0, 0), (1, 1)), ((0, 2), (1, 3))) is None
    assert planar.crossing_by_shapely(((0, 0), (1, 1)), ((0, 2), (1, 3))) is None
    assert planar.crossing(((0, 0), (1, 1)), ((2, 2), (3, 3))) is None
    random = np.random.default_rng(11)
    for _ in range(20):
        one, other = random.integers(-500, 500, (2, 2, 2)).tolist()
        exact, found = planar.crossing(one, other), planar.crossing_by_shapely(one, other)
        assert [float(v) for v in exact] == pytest.approx(found, rel=1e-7, abs=1e-6)
    assert planar.drawn((1, 2, 3), "side") == (1, 3) and planar.drawn((1, 2, 3), "front") == (2, 3)


def test_the_oracles_refuse_what_they_cannot_tell():
    five = club_axle().rod((-40, 300, 480), (350, 350, 430))
    with pytest.raises(ValueError, match="more than one answer"):
        statics.roll_center(five)
    assert rigid.free_motions(five).shape == (1, 6)
    loose = Mechanism(bars=club_axle().bars[:3])
    with pytest.raises(ValueError, match="no answer"):
        statics.spring_roll(loose, (0, 0, 300), (0, 1000, 0))
    with pytest.raises(ValueError, match="no position"):
        rigid.solve(club_axle(), 1500, 0)
    with pytest.raises(ValueError, match="the engine's bars stretch"):
        engine.travel(engine.build(club_axle()), 1500, 0)
    left = plausible("A-frame", 0)["upper"][0]
    assert mirrored(left)[1][1] == -left[1][1]
