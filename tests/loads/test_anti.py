"""Anti-features against free bodies with springs: no slope and no instant center is used for the truth."""

from fractions import Fraction

import numpy as np
import pytest
import sympy

from susgeo import Arm, Car, IndependentFront, Link, LiveAxle, PanhardBar, Point, SusgeoError, moved, pair, slope
from susgeo.car.car import Weight
from susgeo.loads import anti


def car_of(axle, L, h, p=0.6, axle_mass=0.0, car_mass=1200.0):
    weight = Weight(car_mass, 0.5, h, axle_mass, axle_mass)
    return Car("", L, weight=weight, brake_front_share=p, **{axle.end: axle})


def anti_squat(axle, L, h, axle_mass=0.0, car_mass=1200.0):
    return anti.anti_squat(car_of(axle, L, h, axle_mass=axle_mass, car_mass=car_mass), own_mass=bool(axle_mass))


def anti_lift(axle, L, h, p):
    return anti.anti_lift(car_of(axle, L, h, p))


def anti_dive(axle, L, h, p):
    return anti.anti_dive(car_of(axle, L, h, p))


def axle(upper_chassis_z=450, end="rear", sign=1):
    """A three-link axle; at the front its links run rearward."""
    return LiveAxle(
        pair(Link(Point(0, 500, 240), Point(600 * sign, 400, 290), "left lower link")),
        (Link(Point(-50 * sign, 0, 470), Point(400 * sign, 0, upper_chassis_z), "upper link"),),
        PanhardBar(Point(-120 * sign, 480, 300), Point(-120 * sign, -470, 300)),
        tire_radius=310, end=end,
    )  # fmt: skip


def share_of_springs(rods, length, height, mass, force_here, force_there, *, axle_mass=0.0, radius=310.0, ahead=True):
    """Return, of the axle's load transfer, the share that its spring carries, from two free bodies.

    Side view, moving with the car: x forward from the axle, z up; the other wheels stand at +-length and carry
    the body on an upright spring, pushing along the ground with their own force. Unknown are two rod forces
    (tension), the change of spring force here and there, and the change of ground load here: five, for the six
    equations of axle and body, of which one repeats the balance of force and acceleration.
    """
    other = length if ahead else -length
    acceleration = (force_here + force_there) / mass
    rows, right = np.zeros((6, 5)), np.zeros(6)
    for column, (outer, inner) in enumerate(rods):
        along = np.subtract(inner, outer) / np.linalg.norm(np.subtract(inner, outer))
        for body, point, way in ((0, outer, 1), (3, inner, -1)):
            force = way * along
            rows[body : body + 3, column] += [*force, point[1] * force[0] - point[0] * force[1]]
    # Spring here: pushes the body up and the axle down, in the axle's own plane; there: the body up.
    rows[0:3, 2], rows[3:6, 2], rows[3:6, 3] = [0, -1, 0], [0, 1, 0], [0, 1, -other]
    rows[0:3, 4] = [0, 1, 0]  # more ground load here
    inertia, body_mass = -axle_mass * acceleration, mass - axle_mass
    body_height = (mass * height - axle_mass * radius) / body_mass
    right[0:3] = -np.array([force_here + inertia, 0, radius * inertia])
    # The other wheels' force reaches the body at the ground: their own suspension carries none of it here.
    right[3:6] = -np.array([force_there - body_mass * acceleration, 0, -body_height * body_mass * acceleration])
    found, _, rank, _ = np.linalg.lstsq(rows, right, rcond=None)
    assert rank == 5 and np.allclose(rows @ found, right, atol=1e-6)
    return found[2] / found[4]


def rods_of(one):
    return [((link.axle.x, link.axle.z), (link.chassis.x, link.chassis.z)) for link in (one.lower[0], one.upper[0])]


@pytest.mark.parametrize("upper", [430, 450, 480, 507.5, 520])  # 507.5: parallel to the lower links
def test_anti_squat_is_the_share_that_the_springs_do_not_carry(upper):
    share = share_of_springs(rods_of(axle(upper)), 2700, 540, 1200, 3000.0, 0.0)
    assert 100 * (1 - share) == pytest.approx(anti_squat(axle(upper), 2700, 540), rel=1e-9)


def test_at_100_percent_the_springs_carry_nothing():
    z = sympy.Symbol("z")
    (height,) = sympy.solve(anti_squat(axle(z), 2700, 540) - 100, z)
    assert share_of_springs(rods_of(axle(float(height))), 2700, 540, 1200, 3000.0, 0.0) == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("upper", [440, 470, 507.5])
def test_with_the_axles_own_mass(upper):
    share = share_of_springs(rods_of(axle(upper)), 2700, 540, 1200, 3000.0, 0.0, axle_mass=120)
    counted = anti_squat(axle(upper), 2700, 540, axle_mass=120, car_mass=1200)
    assert 100 * (1 - share) == pytest.approx(counted, rel=1e-9)
    assert abs(counted - anti_squat(axle(upper), 2700, 540)) > 0.5  # it does matter a little


def test_the_axles_own_mass_starts_the_line_below_the_patch():
    """A line drawn from there, by hand, to the instant center given with the order (1782.609, 388.551); L and h as given."""
    below = 310 * 120 / (1200 - 120)
    drawn = (388.551 + below) / 1782.609 * 2700 / 540 * (1200 - 120) / 1200
    assert below == pytest.approx(34.4, abs=0.05)
    assert anti_squat(axle(), 2700, 540, axle_mass=120) == pytest.approx(100 * drawn, rel=1e-6)


@pytest.mark.parametrize("p", [0.5, 0.64, 0.8])
def test_braking_anti_lift(p):
    share = share_of_springs(rods_of(axle()), 2700, 540, 1200, -4000.0 * (1 - p), -4000.0 * p)
    assert 100 * (1 - share) == pytest.approx(anti_lift(axle(), 2700, 540, p), rel=1e-9)


@pytest.mark.parametrize("p", [0.5, 0.64, 0.8])
def test_braking_anti_dive_of_a_live_front_axle(p):
    front = axle(end="front", sign=-1)
    share = share_of_springs(rods_of(front), 2700, 540, 1200, -4000.0 * p, -4000.0 * (1 - p), ahead=False)
    assert 100 * (1 - share) == pytest.approx(anti_dive(front, 2700, 540, p), rel=1e-9)


def test_a_wishbone_front_by_virtual_work():
    """Anti-dive from how the contact patch moves: a knuckle on two arms, turned a hair about its arms' pivots."""
    lower = Arm(Point(0, 650, 200), Point(150, 350, 230), Point(-150, 350, 210))
    upper = Arm(Point(-10, 600, 480), Point(120, 380, 470), Point(-140, 380, 500))
    front = IndependentFront(lower, upper, track=1400, tire_radius=310)

    def swept(arm, angle):
        hinge = np.array([float(arm.rear_pivot.x), float(arm.rear_pivot.y), float(arm.rear_pivot.z)])
        axis = np.array([float(v) for v in (arm.front_pivot.x, arm.front_pivot.y, arm.front_pivot.z)]) - hinge
        joint = np.array([float(v) for v in (arm.ball_joint.x, arm.ball_joint.y, arm.ball_joint.z)]) - hinge
        return np.cross(axis / np.linalg.norm(axis), joint) * angle

    # The knuckle's velocity v + w x p equals the arms' at both ball joints, and it does not steer.
    one, two = (np.array([float(v) for v in (a.ball_joint.x, a.ball_joint.y, a.ball_joint.z)]) for a in (lower, upper))
    rows, right = [], []
    for joint, arm, column in ((one, lower, 6), (two, upper, 7)):
        for k in range(3):
            row = np.zeros(8)
            row[k] = 1
            row[3:6] = [np.cross(np.eye(3)[j], joint)[k] for j in range(3)]
            row[column] = -swept(arm, 1.0)[k]
            rows.append(row)
            right.append(0.0)
    axis = np.array([float(v) for v in front.instant_axis])[:3]
    for k in range(3):  # no steer on top of it: the turn has the direction of that axis, wherever it lies
        rows.append(np.eye(8)[3 + k])
        right.append(axis[k])
    motion, _, _, _ = np.linalg.lstsq(np.array(rows), np.array(right), rcond=None)
    assert np.allclose(np.array(rows) @ motion, right, atol=1e-9 * np.abs(axis).max())
    patch = motion[:3] + np.cross(motion[3:6], [0, 700, 0])
    # The brake force does work on the patch's fore-and-aft motion while the wheel rises: that is what the arms carry.
    assert -slope(front.side_view_instant_center) == pytest.approx(patch[0] / patch[2], rel=1e-6)


def test_one_formula_for_every_kind_of_number():
    exact = anti_squat(axle(Fraction(450)), 2700, 540)
    assert isinstance(exact, Fraction)
    L, h = sympy.symbols("L h", positive=True)
    assert anti_squat(axle(Fraction(450)), L, h).subs({L: 2700, h: 540}) == sympy.Rational(
        exact.numerator, exact.denominator
    )
    heights = np.array([430.0, 450.0, 507.5])
    many = anti_squat(moved(axle(), {"upper.chassis.z": heights}), 2700.0, 540.0)
    for height, value in zip(heights, many, strict=True):
        assert value == pytest.approx(anti_squat(axle(height), 2700, 540), rel=1e-12)


def test_a_parallel_pair_gives_slope_times_length_over_height():
    assert anti_squat(axle(507.5), 2700, 540) == pytest.approx(100 * (50 / 600) * 2700 / 540, rel=1e-12)


@pytest.mark.parametrize("end", ["rear", "front"])
def test_each_axle_counts_its_own_mass(end):
    """Under braking, by the same free bodies, with the other axle of another mass."""
    one, p = axle(480, end, 1 if end == "rear" else -1), 0.64
    weight = Weight(1200.0, 0.5, 540, *((90.0, 150.0) if end == "rear" else (150.0, 90.0)))
    car = Car("", 2700, weight=weight, brake_front_share=p, **{end: one})
    here = 1 - p if end == "rear" else p
    share = share_of_springs(
        rods_of(one), 2700, 540, 1200, -4000.0 * here, -4000.0 * (1 - here), axle_mass=150, ahead=end == "rear"
    )
    counted = (anti.anti_lift if end == "rear" else anti.anti_dive)(car, own_mass=True)
    assert counted == pytest.approx(100 * (1 - share), rel=1e-9)


def test_missing_measurements_are_named():
    car = car_of(axle(), 2700, 540)
    for broken, word in (
        (lambda: anti.anti_dive(car), r"\[front\]"),
        (lambda: anti.anti_squat(Car("", 2700, rear=axle())), r"\[weight\]"),
        (lambda: anti.anti_lift(Car("", 2700, rear=axle(), weight=car.weight)), r"\[brakes\]"),
    ):
        with pytest.raises(SusgeoError, match=word):
            broken()
