"""Travel against rigid bodies that are held by other means: SciPy state by state, MuJoCo, closed forms."""

import itertools
import re
from dataclasses import replace
from pathlib import Path

import mujoco
import numpy as np
import pytest
import sympy
from scipy.optimize import brentq, least_squares, minimize, root
from scipy.spatial.transform import Rotation

from susgeo import (
    Link,
    LinkageError,
    LiveAxle,
    MumfordLinkage,
    PanhardBar,
    Point,
    SusgeoError,
    WattsLinkage,
    binding,
    clearance,
    coordinates,
    load_car,
    moved,
    pair,
    solve_travel,
)
from susgeo.car.front import Arm, IndependentFront, StrutLeg
from susgeo.car.rods import matrix
from susgeo.travel.adjust import lengths_for
from susgeo.travel.live import GIVEN, UNKNOWN, held_axle, straight_rods
from susgeo.travel.newton import newton

DATA = Path(__file__).resolve().parents[2] / "data"
RADIUS = 310.0

LOWER = pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link"))
UPPER = (Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),)
PIVOT, CRANKS = Point(-150, 0, 330), (Point(-150, 10, 410), Point(-150, -10, 250))
WATT = {"left_crank": CRANKS[0], "left_end": Point(-150, 520, 400), "right_crank": CRANKS[1]}
WATT |= {"right_end": Point(-150, -520, 260)}
AXLES = {
    "Panhard bar": LiveAxle(LOWER, UPPER, PanhardBar(Point(-120, 480, 300), Point(-120, -470, 320))),
    "Watt, pivot on axle": LiveAxle(LOWER, UPPER, WattsLinkage(PIVOT, **WATT)),
    "Watt, pivot on body": LiveAxle(LOWER, UPPER, WattsLinkage(PIVOT, **WATT, pivot_on="chassis")),
    "Watt, off center": LiveAxle(
        LOWER,
        UPPER,
        WattsLinkage(
            pivot=Point(140, 60, 340),
            left_crank=Point(150, 70, 420),
            left_end=Point(170, 540, 380),
            right_crank=Point(150, 30, 280),
            right_end=Point(150, -420, 300),
        ),
    ),
    "Mumford": LiveAxle(
        LOWER,
        UPPER,
        MumfordLinkage(
            left_pivot=Point(-100, 150, 250),
            left_crank=Point(-100, 150, 330),
            left_end=Point(-110, 600, 300),
            left_center=Point(-100, 150, 300),
            right_pivot=Point(-100, -150, 250),
            right_crank=Point(-100, -150, 330),
            right_end=Point(-110, -600, 300),
            right_center=Point(-100, -150, 200),
        ),
    ),
    "converging upper links": LiveAxle(LOWER, pair(Link(Point(-40, 150, 480), Point(350, 450, 470)))),
    "converging lower links": LiveAxle(
        pair(Link(Point(0, 150, 240), Point(450, 480, 290))), pair(Link(Point(-40, 450, 470), Point(380, 440, 460)))
    ),
    "A-frame": LiveAxle(LOWER, pair(Link(Point(-40, 0, 480), Point(350, 400, 470)))),
    "unequal sides": LiveAxle(
        (LOWER[0], Link(Point(10, -480, 250), Point(560, -430, 280))),
        UPPER,
        PanhardBar(Point(90, 450, 280), Point(100, -500, 330)),
    ),
}
FIVE = LiveAxle(
    pair(Link(Point(0, 500, 240), Point(600, 480, 290), "left lower link")),
    pair(Link(Point(-40, 450, 480), Point(350, 430, 470), "left upper link")),
    PanhardBar(Point(-120, 480, 300), Point(-120, -470, 320)),
)
HEAVE, ROLL = np.linspace(-90, 90, 5)[:, None], np.radians([-6.0, -2.0, 0.0, 3.0, 6.0])


def xyz(point):
    """Return a point's coordinates with the last axis x, y, z."""
    return np.stack(np.broadcast_arrays(*(np.asarray(part, dtype=float) for part in tuple(point)[:3])), axis=-1)


def ends(axle):
    """Return (part or (crank number, part), rest position) of both ends of every rod, and the cranks' pivots.

    The linkage told once more, for the oracles: it shares nothing with susgeo.travel but the car's data.
    """
    rods = [(("axle", xyz(link.axle)), ("chassis", xyz(link.chassis))) for link in (*axle.lower, *axle.upper)]
    held, pivots = axle.locator, []
    if isinstance(held, PanhardBar):
        rods.append((("axle", xyz(held.axle)), ("chassis", xyz(held.chassis))))
    if isinstance(held, WattsLinkage):
        pivots = [(held.pivot_on, xyz(held.pivot))]
        far = {"axle": "chassis", "chassis": "axle"}[held.pivot_on]
        for crank, end in ((held.left_crank, held.left_end), (held.right_crank, held.right_end)):
            rods.append(((0, xyz(crank)), (far, xyz(end))))
    if isinstance(held, MumfordLinkage):
        pivots = [("chassis", xyz(held.left_pivot)), ("chassis", xyz(held.right_pivot))]
        rods.append((("axle", xyz(held.left_end)), (0, xyz(held.left_crank))))
        rods.append((("axle", xyz(held.right_end)), (1, xyz(held.right_crank))))
        rods.append(((0, xyz(held.left_center)), (1, xyz(held.right_center))))
    return rods, pivots


class RigidAxle:
    """A free rigid body (position, rotation vector) and cranks on pins; its own equations, in body axes."""

    def __init__(self, axle):
        self.rods, self.pivots = ends(axle)
        self.middle = np.array([0.0, 0.0, axle.tire_radius])
        self.size = 6 + len(self.pivots)
        both = [end for rod in zip(*self.rods, strict=True) for end in rod]  # all first ends, then all second ones
        of = {part: [k for k, (own, _) in enumerate(both) if own == part] for part in {part for part, _ in both}}
        self.ends = {part: (rows, np.array([both[k][1] for k in rows])) for part, rows in of.items()}
        self.rest = self.lengths(np.zeros(self.size))

    def place(self, q, part, point):
        turn = Rotation.from_rotvec(q[3:6])
        if isinstance(part, int):
            on, pivot = self.pivots[part]
            return self.place(q, on, pivot + Rotation.from_euler("x", q[6 + part]).apply(point - pivot))
        return point if part == "chassis" else self.middle + q[:3] + turn.apply(point - self.middle)

    def lengths(self, q):
        """As by ``place``, the ends that a part carries all at once."""
        turn, places = Rotation.from_rotvec(q[3:6]).as_matrix(), np.empty((2 * len(self.rods), 3))
        for part, (rows, points) in self.ends.items():
            on = part
            if isinstance(part, int):
                on, pivot = self.pivots[part]
                points = pivot + (points - pivot) @ Rotation.from_euler("x", q[6 + part]).as_matrix().T
            places[rows] = points if on == "chassis" else self.middle + q[:3] + (points - self.middle) @ turn.T
        return np.linalg.norm(places[: len(self.rods)] - places[len(self.rods) :], axis=1)

    def sides(self, q, heave, roll):
        """How far the wheels' mean rise, and the lean of the line through them, are from the given ones."""
        _, across, up = Rotation.from_rotvec(q[3:6]).apply([0, 1, 0])
        return np.array([q[2] - heave, 1000 * (np.arctan2(up, across) - roll)])

    def solve(self, heave, roll, start=None):
        def equations(q):
            return np.concatenate([self.lengths(q) - self.rest, self.sides(q, heave, roll)])

        found = root(equations, np.zeros(self.size) if start is None else start, tol=1e-13)
        return found.x, float(np.abs(found.fun).max())

    def follow(self, heave, roll, steps):
        """Follow the straight path in steps smaller toward its end; None where a dead point ends it."""
        q, rate, shares = np.zeros(self.size), np.zeros(self.size), 1 - np.linspace(1, 0, steps + 1) ** 2
        for before, share in itertools.pairwise(shares):
            guess = q + rate * (share - before)
            found, residual = self.solve(share * heave, share * roll, guess)
            leap = np.abs(found - guess) / np.where(np.arange(self.size) < 3, 1000.0, 1.0)
            if residual > 1e-8 or leap.max() > 0.02:
                return None
            q, rate = found, (found - q) / (share - before)
        return q


MARKS = [Point(0, 700, RADIUS), Point(0, -700, RADIUS), Point(150, 0, RADIUS + 200)]


def in_body(states):
    """Return where three points of the axle are, in body axes: all that there is to know of a rigid body."""
    return np.stack([xyz(states.in_body(states.carried(mark))) for mark in MARKS], axis=-2)


@pytest.mark.parametrize("name", AXLES)
def test_each_state_of_a_grid_is_the_one_that_scipy_finds(name):
    axle = AXLES[name]
    states, oracle = solve_travel(axle, HEAVE, ROLL), RigidAxle(axle)
    assert states.reached.all()
    ours = in_body(states)
    for i, j in itertools.product(range(HEAVE.size), range(ROLL.size)):
        q, residual = oracle.solve(HEAVE[i, 0], ROLL[j])
        assert residual < 1e-9
        expected = [oracle.place(q, "axle", xyz(mark)) for mark in MARKS]
        assert np.abs(ours[i, j] - expected).max() < 1e-7


@pytest.mark.parametrize("name", AXLES)
def test_every_rod_and_crank_keeps_its_shape(name):
    axle = AXLES[name]
    states = solve_travel(axle, np.linspace(-100, 100, 13)[:, None], np.radians(np.linspace(-7, 7, 9)))
    assert states.reached.all()
    for still, now in zip(straight_rods(axle), straight_rods(states.moved), strict=True):
        assert np.abs(np.linalg.norm(xyz(now.axle) - xyz(now.chassis), axis=-1) - still.length).max() < 1e-9
    assert np.abs(states.stretch).max() < 1e-9
    held, turned = axle.locator, states.moved.locator
    joints = [name for name in getattr(type(held), "__slots__", ()) if name.endswith(("crank", "center"))]
    for joint in joints:
        pivot = "pivot" if isinstance(held, WattsLinkage) else f"{joint.split('_')[0]}_pivot"
        arm = np.linalg.norm(xyz(getattr(held, joint)) - xyz(getattr(held, pivot)))
        after = np.linalg.norm(xyz(getattr(turned, joint)) - xyz(getattr(turned, pivot)), axis=-1)
        assert np.abs(after - arm).max() < 1e-9


def mujoco_model(axle):
    """Return a MuJoCo model: bodies for axle, cranks and rods, joints where the car has joints."""
    rods, pivots = ends(axle)

    def text(vector):
        return " ".join(repr(float(value) / 1000) for value in vector)

    weight = '<inertial pos="0 0 0" mass="2" diaginertia="0.05 0.05 0.05"/>'
    center = text([0, 0, RADIUS])
    hinges = "".join(
        f'<joint name="{name}" type="{kind}" axis="{axis}" pos="{center}" damping="20"/>'
        for name, kind, axis in (
            ("x", "slide", "1 0 0"), ("y", "slide", "0 1 0"), ("heave", "slide", "0 0 1"),
            ("roll", "hinge", "1 0 0"), ("yaw", "hinge", "0 0 1"), ("pitch", "hinge", "0 1 0"),
        )
    )  # fmt: skip
    bodies = {"axle": hinges + weight, "chassis": ""}
    for number, (_, pivot) in enumerate(pivots):
        bodies[number] = f'<joint type="hinge" axis="1 0 0" pos="{text(pivot)}" damping="1"/>{weight}'
    loops = ""
    for number, ((part, near), (other, far)) in enumerate(rods):
        middle = f'<inertial pos="{text((near + far) / 2)}" mass="0.5" diaginertia="0.01 0.01 0.01"/>'
        rod = f'<joint type="ball" pos="{text(near)}" damping="0.5"/>{middle}'
        bodies[part] += f'<body name="rod{number}">{rod}</body>'
        name = {"chassis": "world", "axle": "axle"}.get(other, f"crank{other}")
        # The anchor is given in the first body's frame, and no body is displaced at rest.
        loops += f'<connect body1="rod{number}" body2="{name}" anchor="{text(far)}"/>'
    carried = {"axle": "", "chassis": ""}
    for number, (on, _) in enumerate(pivots):
        carried[on] += f'<body name="crank{number}">{bodies[number]}</body>'
    return mujoco.MjModel.from_xml_string(f"""<mujoco>
      <compiler angle="radian"/>
      <option timestep="0.001" gravity="0 0 0" iterations="200" tolerance="1e-14" integrator="implicitfast"/>
      <default><equality solref="0.002 1" solimp="0.9999 0.9999 0.0001"/></default>
      <worldbody>{bodies["chassis"]}{carried["chassis"]}
        <body name="axle">{bodies["axle"]}{carried["axle"]}</body></worldbody>
      <equality>{loops}<joint name="heave" joint1="heave"/><joint name="roll" joint1="roll"/></equality>
    </mujoco>""")


def mujoco_settle(model, heave, roll, steps=1500):
    """Drive heave and roll to their values, let the axle come to rest; return where it stands."""
    data = mujoco.MjData(model)
    driven = [mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_EQUALITY, name) for name in ("heave", "roll")]
    for step in range(steps):
        model.eq_data[driven, 0] = np.array([heave / 1000, roll]) * min(1.0, 2 * step / steps)
        mujoco.mj_step(model, data)
    body = model.body("axle").id
    return data.xpos[body] * 1000, data.xmat[body].reshape(3, 3)


@pytest.mark.parametrize("name", AXLES)
def test_mujoco_comes_to_rest_in_the_same_place(name):
    model = mujoco_model(AXLES[name])
    for heave, roll in ((80.0, 0.0), (-50.0, np.radians(5.0))):
        position, turn = mujoco_settle(model, heave, roll)
        ours = in_body(solve_travel(AXLES[name], heave, roll))
        theirs = [position + turn @ xyz(mark) for mark in MARKS]
        # Soft constraints: they yield by some thousandths of a millimeter.
        assert np.abs(ours - theirs).max() < 0.05
    rest = [xyz(mark) for mark in MARKS]
    assert np.abs(np.array(theirs) - rest).max() > 40  # it did move


def test_convergence_is_quadratic():
    for axle in AXLES.values():
        system, _, _ = held_axle(axle)
        q = np.zeros((6 + len(system.cranks), 1))
        q[list(GIVEN), 0] = 70.0, 0.07
        unknown = [*UNKNOWN, *range(6, len(q))]
        residuals = []
        for _ in range(8):
            found, jacobian = system.evaluate(q, unknown)
            residuals.append(np.abs(found).max())
            q[unknown] += newton(jacobian, found, np.ones(len(found)))[0]
        # Each residual is at most a fixed multiple of the last one squared, down to rounding.
        steps = [(a, b) for a, b in itertools.pairwise(residuals) if b > 1e-11]
        assert residuals[0] > 1 and residuals[-1] < 1e-11
        assert len(steps) >= 2
        assert all(b < 0.02 * a * a for a, b in steps)


def test_elimination_gives_numpys_solution_and_its_determinant_with_its_sign():
    """Against numpy.linalg, many states at once; zero and tiny pivots make rows change places, each state its own."""
    random = np.random.default_rng(11)
    jacobian = random.normal(size=(4, 4, 300))
    jacobian[0, 0, ::2] = 0.0
    jacobian[1, 1, ::3] = jacobian[1, 0, ::3] * jacobian[0, 1, ::3] * 1e-17
    jacobian[0, 0, ::5] *= 1e-15
    right = random.normal(size=(4, 300))
    change, determinant = newton(jacobian.copy(), right.copy())
    square = np.moveaxis(jacobian, -1, 0)
    expected = np.linalg.solve(square, -right.T[..., None])[..., 0].T
    np.testing.assert_allclose(change, expected, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(determinant, np.linalg.det(square), rtol=1e-9)


def test_the_jacobian_is_the_derivative():
    for axle in AXLES.values():
        system, _, _ = held_axle(axle)
        size = 6 + len(system.cranks)
        q = np.random.default_rng(5).uniform(-1, 1, (size, 1)) * np.where(np.arange(size) < 3, 30, 0.2)[:, None]
        _, jacobian = system.evaluate(q, range(size))
        for column in range(size):
            small = np.zeros((size, 1))
            small[column] = 1e-3 if column < 3 else 1e-6
            rise = system.evaluate(q + small, [])[0] - system.evaluate(q - small, [])[0]
            assert np.abs(rise / (2 * small[column]) - jacobian[:, column]).max() < 1e-5


TRAILING = 2000.0


def parallelogram(locator, length=TRAILING, x=0.0):
    """Return an axle on three equal parallel links: whatever locates it, it never turns, only travels."""
    return LiveAxle(
        pair(Link(Point(x, 500, 250), Point(x + length, 500, 250), "left lower link")),
        (Link(Point(x, 0, 450), Point(x + length, 0, 450), "upper link"),),
        locator,
    )


def test_a_panhard_bar_follows_its_circle():
    length = 900.0
    axle = parallelogram(PanhardBar(Point(-100, 450, 300), Point(-100, -450, 300)))
    rise = np.linspace(-120, 120, 9)
    states = solve_travel(axle, rise)
    assert max(np.abs(states.pitch).max(), np.abs(states.yaw).max()) < 1e-13
    # The bar's end stays on a sphere about the other; x comes from the trailing links.
    assert np.abs(states.y + length - np.sqrt(length**2 - rise**2 - states.x**2)).max() < 1e-9
    # Closed form in the plane, l - sqrt(l^2 - z^2), near z^2 / (2 l): common practice, no source.
    assert np.abs(states.y + length - np.sqrt(length**2 - rise**2)).max() < np.max(states.x**2) / (1.9 * length)
    next_term = np.max(rise**4 / (8 * length**3) + states.x**2 / (2 * length))
    assert np.abs(-states.y - rise**2 / (2 * length)).max() < 1.05 * next_term


R, K = 450.0, 75.0


def watt(rods=(R, R), arms=(K, K), pivot_on="axle", x=-100):
    return WattsLinkage(
        Point(x, 0, 300), Point(x, 0, 300 + arms[0]), Point(x, rods[0], 300 + arms[0]),
        Point(x, 0, 300 - arms[1]), Point(x, -rods[1], 300 - arms[1]), pivot_on,
    )  # fmt: skip


def test_a_watts_linkage_follows_watts_curve():
    """MathWorld, 'Watt's Curve': r^2 = b^2 - (a sin t +- sqrt(c^2 - a^2 cos^2 t))^2.

    Two circles of radius b, their centers 2a apart, joined by a coupler of length 2c whose middle draws it;
    polar coordinates about the middle of the centers.
    """
    states = solve_travel(parallelogram(watt()), np.linspace(-200, 200, 21))
    assert states.reached.all()
    # The trailing links move the plane of the linkage by x: in it, the rods are shorter by that.
    b2, c = R**2 - states.x**2, K
    a = np.hypot(R, K)  # the far ends of the rods, from their middle
    line = np.arctan2(K, R)  # their line is not level: the left one is higher
    y, z = states.y, states.heave
    t = np.arctan2(z, y) - line
    r2 = y**2 + z**2
    branches = [b2 - (a * np.sin(t) + sign * np.sqrt(c**2 - a**2 * np.cos(t) ** 2 + 0j)) ** 2 for sign in (1, -1)]
    moving = np.abs(z) > 1
    errors = np.minimum(*(np.abs(branch - r2) for branch in branches))[moving]
    assert np.abs(errors / (2 * np.sqrt(r2[moving]))).max() < 1e-6


def test_a_level_watts_linkage_strays_with_the_fifth_power():
    """Near z^5 / (8 R^3 k), R the rods and k the crank's arms: the first term of Watt's curve."""
    rise = np.array([40.0, 60.0, 80.0])
    stray = np.abs(solve_travel(parallelogram(watt()), rise).y)
    assert np.abs(stray / (rise**5 / (8 * R**3 * K)) - 1).max() < 0.06
    powers = np.diff(np.log(stray)) / np.diff(np.log(rise))
    assert np.abs(powers - 5).max() < 0.1
    for pivot_on in ("axle", "chassis"):
        other = solve_travel(parallelogram(watt(pivot_on=pivot_on)), rise).y
        assert np.abs(np.abs(other) - stray).max() < 1e-6


def test_unequal_rods_of_a_watts_linkage_want_arms_in_inverse_proportion():
    rise = np.array([20.0, 40.0])
    matched = np.abs(solve_travel(parallelogram(watt((500, 400), (60, 75))), rise).y)
    crossed = np.abs(solve_travel(parallelogram(watt((500, 400), (75, 60))), rise).y)
    assert crossed[1] > 30 * matched[1]
    assert abs(np.log2(crossed[1] / crossed[0]) - 2) < 0.05


def test_roll_centers_over_the_ground_when_the_body_sinks():
    """A pivot on the axle stays, one on the body sinks, a bar takes half: common practice, no source."""
    sink = 40.0

    def drop(held):
        return 300 - solve_travel(parallelogram(held), sink).moved.roll_center_height

    bar = PanhardBar(Point(0, 450, 300), Point(0, -450, 300))
    assert abs(drop(bar) - sink / 2) < 0.5
    assert abs(drop(watt(x=0))) < 0.5
    assert abs(drop(watt(x=0, pivot_on="chassis")) - sink) < 0.5


@pytest.mark.parametrize("name", AXLES)
def test_the_moved_axle_is_held_by_the_rods_it_shows(name):
    """Rows of the moved axle's rods against differences between neighboring states, in ground axes."""
    axle, e = AXLES[name], 1e-3
    for heave, roll in ((0.0, 0.0), (60.0, 0.06), (-80.0, -0.1)):
        here = solve_travel(axle, heave, roll)
        ground = np.array([[1, 0, 0], [0, np.cos(roll), np.sin(roll)], [0, -np.sin(roll), np.cos(roll)]])
        places = np.stack([xyz(here.carried(mark)) for mark in MARKS])
        for up, lean in ((e, 0.0), (0.0, e / 1000)):
            near = [in_body(solve_travel(axle, heave + s * up, roll + s * lean)) for s in (1, -1)]
            speeds = (near[0] - near[1]) / (2 * e) @ ground.T
            rows = np.vstack([np.hstack([np.eye(3), -np.cross(np.eye(3), -place).T]) for place in places])
            twist = np.linalg.lstsq(rows, speeds.ravel(), rcond=None)[0]
            assert np.abs(rows @ twist - speeds.ravel()).max() < 1e-6  # it moves as one piece
            scaled = np.concatenate([twist[:3], 1000 * twist[3:]])
            assert np.abs(matrix(here.moved.lines) @ scaled).max() < 1e-8


def test_the_moved_axle_stands_on_the_ground():
    states = solve_travel(AXLES["Panhard bar"], HEAVE, ROLL)
    for side in (1, -1):
        wheel = xyz(states.carried(Point(0, 700 * side, RADIUS)))
        assert np.abs(wheel[..., 2] - RADIUS).max() < 1e-12
    left, right = (xyz(states.in_body(states.carried(Point(0, side, RADIUS))))[..., 2] for side in (700, -700))
    assert np.abs((left + right) / 2 - RADIUS - HEAVE).max() < 1e-9
    assert np.abs(np.arcsin((left - right) / 1400 / np.cos(states.yaw)) - ROLL).max() < 1e-12
    point = Point(100, 200, 500)
    assert np.abs(xyz(states.in_body(states.carried(point, "chassis"))) - xyz(point)).max() < 1e-12


def test_steer_pinion_and_wheelbase_start_as_the_rest_position_says():
    axle = load_car(DATA / "three_link.toml").rear
    e = 1e-3
    assert abs(solve_travel(axle, 0, e).yaw / e - axle.roll_steer) < 1e-4
    assert abs(solve_travel(axle, e).pitch / e - axle.pinion_rate) < 1e-8
    up = solve_travel(axle, e)
    # Lifted about the instant center, the wheel center moves square to the line to it.
    across, rise = (float(part) for part in coordinates(axle.side_view_instant_center))
    assert abs(up.x / e + (rise - RADIUS) / across) < 1e-5
    assert up.wheelbase_change == -up.x
    assert solve_travel(replace(axle, end="front"), e).wheelbase_change == up.x


def test_one_state_of_the_grid_is_an_axle_to_draw():
    states = solve_travel(AXLES["Mumford"], HEAVE, ROLL)
    one, alone = states.at(1, 3), solve_travel(AXLES["Mumford"], HEAVE[1, 0], ROLL[3])
    assert isinstance(one.lower[0].axle.x, float)
    assert abs(one.roll_center_height - states.moved.roll_center_height[1, 3]) < 1e-9
    assert abs(one.roll_center_height - alone.at().roll_center_height) < 1e-9
    assert abs(one.locator.left_crank.z - alone.moved.locator.left_crank.z) < 1e-9


def test_dimensions_may_be_arrays_too():
    rear = load_car(DATA / "three_link.toml").rear
    many = moved(rear, {"lower.chassis.z": np.linspace(240, 320, 4), "locator.axle.y": np.linspace(400, 490, 4)})
    states = solve_travel(many, np.array([-60.0, 0.0, 60.0])[:, None], 0.03)
    assert states.y.shape == (3, 4)
    for i, j in itertools.product(range(3), range(4)):
        one = moved(rear, {"lower.chassis.z": 240 + 80 * j / 3, "locator.axle.y": 400 + 30 * j})
        alone = solve_travel(one, (-60.0, 0.0, 60.0)[i], 0.03)
        assert abs(states.y[i, j] - alone.y) < 1e-9
        assert abs(states.moved.roll_center_height[i, j] - alone.moved.roll_center_height) < 1e-6
    watts = moved(AXLES["Watt, pivot on axle"], {"locator.pivot.z": np.array([325.0, 335.0])})
    states = solve_travel(watts, 70.0, 0.05)
    alone = solve_travel(moved(AXLES["Watt, pivot on axle"], {"locator.pivot.z": 335.0}), 70.0, 0.05)
    assert abs(states.y[1] - alone.y) < 1e-9


# Dead points.


def test_the_linkage_ends_where_it_must():
    """On equal parallel links the axle only shifts: on two spheres, the bar's and the links'."""
    length = 900.0
    axle = parallelogram(PanhardBar(Point(-100, 450, 300), Point(-100, -450, 300)))

    def gap(y):
        # (L - x)^2 + y^2 + z^2 = L^2 and x^2 + (l + y)^2 + z^2 = l^2, subtracted: x = -l y / L.
        x = -length * y / TRAILING
        return (TRAILING - x) * (length + y) + x * y

    y = brentq(gap, -length, -length / 2)
    x = -length * y / TRAILING
    end = np.sqrt(length**2 - (length + y) ** 2 - x**2)
    states = solve_travel(axle, np.array([0.5, 0.99, 0.9999, 1.0001, 1.01, 1.5, 3.0]) * end)
    assert states.reached.tolist() == [True, True, True, False, False, False, False]
    assert np.isnan(states.y[3:]).all() and np.isnan(states.moved.roll_center_height[3:]).all()
    assert states.moved.rank.tolist() == [4, 4, 4, 0, 0, 0, 0]
    assert np.isfinite(states.moved.roll_center_height[:3]).all()
    assert states.y[2] > y  # still on the near side


@pytest.mark.parametrize("name", AXLES)
def test_never_a_wrong_root(name):
    """Far beyond any spring's travel, against SciPy in small steps from rest."""
    axle, oracle = AXLES[name], RigidAxle(AXLES[name])
    rng = np.random.default_rng(7)
    heave, roll = rng.uniform(-550, 550, 9), rng.uniform(-0.7, 0.7, 9)
    states = solve_travel(axle, heave, roll)
    ours = in_body(states)
    right = 0
    for number in np.flatnonzero(states.reached)[:4]:
        q = oracle.follow(heave[number], roll[number], 60)
        if q is None:  # near a dead point the oracle needs smaller steps
            q = oracle.follow(heave[number], roll[number], 600)
        assert q is not None
        assert np.abs(ours[number] - [oracle.place(q, "axle", xyz(mark)) for mark in MARKS]).max() < 1e-5
        right += 1
    assert right >= 2
    beyond = np.flatnonzero(~states.reached)
    assert len(beyond) >= 1
    for number in beyond[:3]:
        assert oracle.follow(heave[number], roll[number], 60) is None


def test_what_cannot_be_solved_is_said():
    axle = AXLES["Panhard bar"]
    far = solve_travel(axle, 2000.0)
    assert not far.reached and np.isnan(far.y)
    for ask in (lambda: far.moved, far.at, lambda: far.moved.roll_center_height):
        with pytest.raises(LinkageError, match="cannot reach a heave of 2000 mm with 0 degrees of roll"):
            ask()
    with pytest.raises(LinkageError, match="cannot reach a heave of 2000 mm"):
        solve_travel(axle, [0.0, 2000.0]).at(1)
    with pytest.raises(SusgeoError, match="heave is nan"):
        solve_travel(axle, float("nan"))
    assert solve_travel(axle, [1.0, np.nan, np.inf]).reached.tolist() == [True, False, False]
    with pytest.raises(LinkageError, match="in numbers"):
        solve_travel(axle, sympy.Symbol("z"))
    with pytest.raises(LinkageError, match="not located"):
        solve_travel(LiveAxle(LOWER, UPPER), 10)
    with pytest.raises(LinkageError, match="missing rod"):
        solve_travel(LiveAxle(LOWER, (), AXLES["Mumford"].locator), 10)
    level = {side: Point(-150, y, 330) for side, y in (("left_crank", 80), ("left_end", 520), ("right_crank", -80))}
    in_line = WattsLinkage(PIVOT, **level, right_end=Point(-150, -520, 330))
    with pytest.raises(LinkageError, match="both along one line"):
        solve_travel(LiveAxle(LOWER, UPPER, in_line), 10)
    reach = AXLES["Mumford"].locator  # the left outer rod points at its crank's pivot
    reach = replace(reach, left_end=Point(reach.left_crank.x, reach.left_crank.y, 600))
    with pytest.raises(LinkageError, match="stands at a dead point"):
        solve_travel(LiveAxle(LOWER, UPPER, reach), 10)
    with pytest.raises(LinkageError, match="moved already"):
        solve_travel(solve_travel(AXLES["Watt, pivot on axle"], 20).moved, 10)
    assert solve_travel(axle, np.zeros((0, 3))).y.shape == (0, 3)


@pytest.mark.parametrize("name", AXLES)
def test_the_lengths_for_a_wanted_place_are_those_of_scipys_axle_with_cranks_where_rods_change_least(name):
    axle, oracle = AXLES[name], RigidAxle(AXLES[name])
    found = lengths_for(axle, x=3.0, y=-4.0, pitch=0.02, yaw=-0.005)
    place = [3.0, -4.0, 0.0, *Rotation.from_euler("yz", [0.02, -0.005]).as_rotvec()]

    def changes(turns):
        return oracle.lengths(np.concatenate([place, turns])) - oracle.rest

    turns = np.zeros(len(oracle.pivots))
    turns = least_squares(changes, turns, xtol=1e-14).x if len(turns) else turns
    assert list(found.values()) == pytest.approx(changes(turns), abs=1e-5)


# Five rods.


def energy_oracle(axle, rates, heave, roll):
    """Return rest position's least energy in the rods (N mm) and their stretch, by SciPy's minimizer."""
    body = RigidAxle(axle)

    def pose(q):  # heave and roll exactly: yaw and pitch as Euler angles of SciPy
        turn = Rotation.from_euler("XZY", [roll, q[3] / 1000, q[2] / 1000])
        return np.array([q[0], q[1], heave, *turn.as_rotvec()])

    def energy(q):
        return 0.5 * np.sum(rates * (body.lengths(pose(q)) - body.rest) ** 2)

    found = minimize(energy, np.zeros(4), method="BFGS", options={"gtol": 1e-9, "maxiter": 2000})
    found = minimize(energy, found.x, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-14, "maxiter": 4000})
    return found.fun, body.lengths(pose(found.x)) - body.rest, pose(found.x)


@pytest.mark.parametrize("joints", [1000.0, [900.0, 900.0, 400.0, 400.0, 3000.0]])
def test_an_axle_with_a_rod_too_many_takes_the_least_energy(joints):
    rates = np.broadcast_to(np.asarray(joints) / 2, 5)
    for heave, roll in ((0.0, 0.08), (50.0, -0.06)):
        states = solve_travel(FIVE, heave, roll, joint_rates=joints)
        least, stretch, _ = energy_oracle(FIVE, rates, heave, roll)
        ours = 0.5 * np.sum(rates * np.array(states.stretch) ** 2)
        assert abs(ours - least) < 1e-6 * least
        assert np.abs(np.array(states.stretch) - stretch).max() < 1e-3
        assert np.abs(stretch).max() > 0.05


def test_binding_in_roll_and_its_stiffness():
    level = replace(FIVE, locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)))
    found = binding(level, 1000.0)
    assert found.direction == "in roll"
    assert abs(found.heave_rate) < 1e-9
    e = np.radians(0.1)
    least, _, _ = energy_oracle(level, np.full(5, 500.0), 0.0, e)
    assert abs(found.roll_stiffness - 2 * least / e**2 / 1000 * np.radians(1)) < 1e-3 * found.roll_stiffness
    assert binding(level, 2000.0).roll_stiffness == pytest.approx(2 * found.roll_stiffness, rel=1e-12)
    for name, axle in AXLES.items():
        free = binding(axle, 1000.0)
        assert (name, free.direction) == (name, "nothing")
        assert free.roll_stiffness < 1e-12
    lopsided = replace(FIVE, upper=(FIVE.upper[0], Link(Point(-40, -430, 470), Point(300, -420, 490), "right")))
    both = binding(lopsided, 1000.0)
    assert both.direction == "in heave and roll together"
    least, _, _ = energy_oracle(lopsided, np.full(5, 500.0), 1.0, 0.0)
    assert abs(both.heave_rate - 2 * least) < 0.02 * both.heave_rate


def _lopsided():
    return replace(FIVE, upper=(FIVE.upper[0], Link(Point(-40, -430, 470), Point(300, -420, 490), "right")))


@pytest.mark.parametrize("axle", [FIVE, _lopsided()], ids=["equal sides", "unequal sides"])
def test_five_rods_are_answered_in_one_way_at_rest_and_in_travel(axle):
    """The roll axis, the axle solved in place, and the path of the solved positions say the same."""
    here = solve_travel(axle, 0.0).moved
    for name in ("roll_center_height", "roll_steer", "roll_axis_slope", "pinion_rate"):
        assert float(getattr(here, name)) == pytest.approx(float(getattr(axle, name)), rel=1e-9), name
    e = 1e-4
    for heave in (0.0, 40.0, -60.0):
        states = solve_travel(axle, heave, np.array([-e, 0.0, e]))
        low, middle, high = (states.at(n) for n in range(3))
        assert states.reached.all() and middle.roll_steer == pytest.approx(
            (states.yaw[2] - states.yaw[0]) / (2 * e), rel=1e-4
        )
        assert low.roll_steer != high.roll_steer
        assert np.abs(np.array(states.stretch)[[0, 1, 4]]).max() < 1e-9
        assert np.abs(states.stretch[2] + states.stretch[3]).max() < 1e-9


def test_the_rule_for_five_rods_is_the_limit_of_soft_upper_joints():
    """Least energy, with upper joints a thousand times softer than the others, by SciPy's minimizer."""
    soft = np.array([1e3, 1e3, 1.0, 1.0, 1e3])
    for heave, roll in ((0.0, 0.05), (30.0, -0.04)):
        _, _, pose = energy_oracle(FIVE, soft, heave, roll)
        yaw = Rotation.from_rotvec(pose[3:]).as_euler("XZY")[1]
        shared = solve_travel(FIVE, heave, roll, joint_rates=1000.0).yaw
        rule = solve_travel(FIVE, heave, roll).yaw
        assert abs(rule - yaw) < 0.01 * abs(shared - yaw)


def test_five_rods_that_agree_do_not_bind():
    """The fifth rod lies along a line of force that the other four already have: the rank stays 4."""
    four = AXLES["converging upper links"]
    axle = LiveAxle(four.lower, four.upper, PanhardBar(Point(0, 600, 0), Point(0, -600, 0)))
    meets = float(four.roll_center_height)
    agreeing = replace(axle, locator=PanhardBar(Point(0, 600, meets), Point(0, -600, meets)))
    found = binding(agreeing, 1000.0)
    assert (agreeing.rank, found.direction) == (4, "nothing")
    assert binding(axle, 1000.0).direction == "in roll"


# Independent wheels.

WISHBONES = IndependentFront(
    Arm(Point(0, 680, 180), Point(140, 330, 200), Point(-160, 330, 210)),
    Arm(Point(-15, 650, 470), Point(90, 420, 450), Point(-110, 420, 440)),
    Link(Point(-110, 665, 200), Point(-120, 320, 215), "tie rod"), 1450, RADIUS,
)  # fmt: skip
STRUT = IndependentFront(
    Arm(Point(0, 690, 170), Point(180, 360, 200), Point(-150, 360, 205)),
    StrutLeg(Point(-20, 560, 800), Point(-5, 650, 320)),
    Link(Point(-110, 660, 200), Point(-120, 320, 230), "tie rod"), 1450, RADIUS,
)  # fmt: skip
FRONTS = {
    "double wishbone": WISHBONES,
    "strut": STRUT,
    "double wishbone, no tie rod": replace(WISHBONES, tie_rod=None),
    "strut, no tie rod": replace(STRUT, tie_rod=None),
}


def knuckle(front, heave):
    """Return the knuckle's place as a function of points at rest, by SciPy: a free body in six equations."""
    center = np.array([0.0, front.track / 2, front.tire_radius])
    arms = [front.lower, front.upper] if isinstance(front.upper, Arm) else [front.lower]
    rods = [(xyz(arm.ball_joint), xyz(pivot)) for arm in arms for pivot in (arm.front_pivot, arm.rear_pivot)]
    if front.tie_rod is not None:
        rods.append((xyz(front.tie_rod.axle), xyz(front.tie_rod.chassis)))

    def place(q, point):
        return center + q[:3] + Rotation.from_rotvec(q[3:]).apply(point - center)

    def equations(q):
        found = [np.linalg.norm(place(q, a) - b) - np.linalg.norm(a - b) for a, b in rods]
        if isinstance(front.upper, StrutLeg):  # the top mount stays on the strut's axis
            low, top = xyz(front.upper.lower_point), xyz(front.upper.top_mount)
            foot, along = place(q, low), place(q, top) - place(q, low)
            found += list(np.cross(along / np.linalg.norm(along), top - foot)[:2])
        if front.tie_rod is None:  # it keeps its steer: the spindle stays in the transverse plane
            found.append(1000 * (place(q, center + [0, 1, 0]) - place(q, center))[0])
        return np.array([*found, q[2] - heave])

    found = root(equations, np.zeros(6), tol=1e-13)
    assert np.abs(found.fun).max() < 1e-8
    return lambda point: place(found.x, xyz(point) if isinstance(point, Point) else point)


def joints(front):
    """Return the joints on the knuckle and on the body, by name."""
    knuckle, body = {"lower": front.lower.ball_joint}, {"lower front": front.lower.front_pivot}
    body["lower rear"] = front.lower.rear_pivot
    if isinstance(front.upper, Arm):
        knuckle["upper"] = front.upper.ball_joint
        body |= {"upper front": front.upper.front_pivot, "upper rear": front.upper.rear_pivot}
    else:
        knuckle["strut"], body["strut"] = front.upper.lower_point, front.upper.top_mount
    if front.tie_rod is not None:
        knuckle["tie rod"], body["tie rod"] = front.tie_rod.axle, front.tie_rod.chassis
    return {"knuckle": knuckle, "body": body}


@pytest.mark.parametrize("name", FRONTS)
def test_wheels_travel_as_scipy_says(name):
    front = FRONTS[name]
    heaves = np.array([-70.0, -25.0, 0.0, 40.0, 80.0])
    states = solve_travel(front, heaves)
    assert states.reached.all()
    center = np.array([0.0, 725.0, RADIUS])
    for number, heave in enumerate(heaves):
        place = knuckle(front, heave)
        spindle = place(center + [0, 1, 0]) - place(center)
        assert np.abs(place(center) - center - [states.x[number], states.y[number], heave]).max() < 1e-6
        assert abs(states.camber[number] + np.arcsin(spindle[2])) < 1e-9
        assert abs(states.toe_in[number] - np.arctan2(spindle[0], spindle[1])) < 1e-9
        one = states.at(number)
        origin = place(center) - [0, 0, one.tire_radius]
        carried, held = joints(front), joints(one)
        for name, point in carried["knuckle"].items():
            assert np.abs(xyz(held["knuckle"][name]) + [origin[0], 0, origin[2]] - place(point)).max() < 1e-6
        for name, point in carried["body"].items():
            assert np.abs(xyz(held["body"][name]) + [origin[0], 0, origin[2]] - xyz(point)).max() < 1e-6
        # A thin disk: its lowest point is where it touches.
        angles = np.linspace(0, 2 * np.pi, 20001)
        rim = np.array([np.sin(angles), 0 * angles, -np.cos(angles)]).T * RADIUS
        touch = min((place(center + point) for point in rim[np.abs(angles - np.pi) > 2.8]), key=lambda p: p[2])
        assert abs(touch[2] - origin[2]) < 1e-4
        assert abs(2 * touch[1] - one.track) < 1e-2
    if front.tie_rod is None:
        assert np.abs(states.toe_in).max() < 1e-15
    else:
        assert np.abs(states.toe_in).max() > 1e-4


@pytest.mark.parametrize("name", FRONTS)
def test_the_roll_center_at_any_height_is_where_the_patch_says(name):
    """Seen from the front, the line square to the contact patch's path meets the center line there.

    That the knuckle steers a little besides, held by the tie rod, moves it by a millimeter or so.
    """
    front, e = FRONTS[name], 1e-3
    for heave in (-60.0, 0.0, 60.0):
        states = solve_travel(front, heave)
        now = states.moved
        places = [knuckle(front, heave + s * e) for s in (1, -1)]
        here = knuckle(front, heave)
        ground = here(np.array([0.0, 725.0, RADIUS]))[2] - now.tire_radius
        touch = np.array([states.x, now.track / 2, ground])  # fixed to the knuckle for this instant
        zero, axes = here(np.zeros(3)), np.array([here(axis) for axis in np.eye(3)])
        back = (axes - zero) @ (touch - zero)  # the same point of the knuckle, at rest
        path = (places[0](back) - places[1](back)) / (2 * e)
        height = now.track / 2 * path[1] / path[2]
        assert abs(now.roll_center_height - height) < 2.0


def test_a_lowered_strut_car_drops_its_roll_center_faster_than_its_body():
    """Common practice, no source."""
    lowered = solve_travel(STRUT, np.array([0.0, 30.0, 50.0])).moved.roll_center_height
    assert (lowered[0] - lowered[1]) / 30 > 2
    assert (lowered[0] - lowered[2]) / 50 > 2
    with pytest.raises(LinkageError, match="no roll"):
        solve_travel(STRUT, 0.0, 0.1)
    with pytest.raises(LinkageError, match="cannot reach a heave of 900 mm"):
        _ = solve_travel(WISHBONES, 900.0).moved


# Clearance.


def sampled(shape, count):
    points = np.array([xyz(point) for point in shape])
    if len(points) == 1:
        return points
    share = np.linspace(0, len(points) - 1, count)
    return np.stack([np.interp(share, np.arange(len(points)), points[:, i]) for i in range(3)], axis=-1)


def test_clearance_of_a_straight_link_is_measured_between_its_joints():
    rear = load_car(DATA / "three_link.toml").rear
    states = solve_travel(rear, np.array([-60.0, 0.0, 60.0])[:, None], np.array([-0.05, 0.0, 0.05]))
    rod = rear.lower[0]
    ball, pipe = Point(300, 450, 400), [Point(200, 700, 380), Point(420, 250, 330), Point(420, 250, 600)]
    gap = clearance(states, "left lower link", [rod.axle, rod.chassis], 16, [ball], 40)
    cross = clearance(states, "left lower link", [rod.axle, rod.chassis], 16, pipe, 10)
    on_axle = clearance(states, "left lower link", [rod.axle, rod.chassis], 16, [Point(300, 450, 400)], 0, on="axle")
    for i, j in itertools.product(range(3), range(3)):
        foot = xyz(rod.chassis)
        head = xyz(states.in_body(states.carried(rod.axle)))[i, j]
        metal = foot + np.linspace(0, 1, 1201)[:, None] * (head - foot)
        assert abs(np.linalg.norm(metal - xyz(ball), axis=1).min() - 56 - gap[i, j]) < 1e-2
        other = xyz(states.in_body(states.carried(ball)))[i, j]
        assert abs(np.linalg.norm(metal - other, axis=1).min() - 16 - on_axle[i, j]) < 1e-2
        between = min(np.linalg.norm(metal - point, axis=1).min() for point in sampled(pipe, 801))
        assert abs(between - 26 - cross[i, j]) < 2e-2
    assert gap.min() < gap[1, 1] < gap.max()


def test_a_bent_link_buys_clearance_and_nothing_else():
    rear = load_car(DATA / "three_link.toml").rear
    states = solve_travel(rear, np.linspace(-60, 60, 7))
    rod, pipe = rear.lower[0], [Point(300, 300, 325), Point(300, 600, 325)]
    straight = clearance(states, rod.name, [rod.axle, rod.chassis], 16, pipe, 30)
    bent = clearance(states, rod.name, [rod.axle, Point(300, 450, 205), rod.chassis], 16, pipe, 30)
    assert straight.min() < 0 < bent.min()
    # The shape is carried as one piece: distances within it, and to both joints, stay.
    corner = Point(300, 450, 205)
    ends_of = ((rod.axle, "axle"), (rod.chassis, "chassis"))
    apart = [clearance(states, rod.name, [corner], 0, [point], on=on) for point, on in ends_of]
    assert np.abs(apart[0] - np.linalg.norm(xyz(corner) - xyz(rod.axle))).max() < 1e-9
    assert np.abs(apart[1] - np.linalg.norm(xyz(corner) - xyz(rod.chassis))).max() < 1e-9
    with pytest.raises(LinkageError, match=re.escape("got lower link; this axle has: left lower link, right")):
        clearance(states, "lower link", [rod.axle], 1, pipe)
    far = solve_travel(rear, [0.0, 3000.0])
    assert np.isnan(clearance(far, rod.name, [rod.axle], 1, pipe)).tolist() == [False, True]


def test_link_angles():
    rear = load_car(DATA / "three_link.toml").rear
    states = solve_travel(rear, np.array([-40.0, 0.0, 40.0]))
    side, front = states.link_angles("side"), states.link_angles("front")
    assert side[0][1] == pytest.approx(np.arctan2(50, 600), abs=1e-12)
    assert np.isnan(side[3][1]) and front[3][1] == pytest.approx(0.0, abs=1e-12)
    drop = xyz(states.moved.locator.axle)[..., 2] - xyz(states.moved.locator.chassis)[..., 2]
    assert np.abs(np.sin(front[3][0]) - drop[0] / 950) < 1e-3
    assert states.names == ("left lower link", "right lower link", "upper link", "Panhard bar")
