"""The car in a steady corner against free bodies in space, and against print.

The truth here is a car of rigid parts (body, axles, uprights), bars, springs and tires that stand on the ground,
written as one system of equilibrium and no strain (Lagrange multipliers). No roll center, instant center or roll
axis appears in it.
"""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import sympy

from outside.published import BARTON_FIELDHOUSE as BOOK
from susgeo import (
    Car,
    Link,
    LiveAxle,
    PanhardBar,
    Point,
    Springs,
    SusgeoError,
    Weight,
    car_roll_axis,
    coordinates,
    cornering,
    linear_limit,
    load_car,
    moved,
    numbers,
    pair,
    roll_gradient,
    slope,
    summary,
)
from susgeo.car.coils import Coil
from susgeo.car.front import StrutLeg
from susgeo.loads.cornering import GRAVITY, lift_acceleration, moment_arm, roll_stiffness

DATA = Path(__file__).resolve().parents[2] / "data"


class Parts:
    """Rigid parts with six small motions each, joined by conditions, springs and loads; N, mm, rad."""

    def __init__(self, names):
        self.at = {name: slice(6 * k, 6 * k + 6) for k, name in enumerate(names)}
        size = 6 * len(names)
        self.stiffness, self.load, self.rows, self.labels = np.zeros((size, size)), np.zeros(size), [], []

    def row(self, part, place, direction):
        """How fast a part's point moves along a direction."""
        row = np.zeros(len(self.load))
        row[self.at[part]] = [*direction, *np.cross(place, direction)]
        return row

    def condition(self, label, row):
        self.rows.append(row)
        self.labels.append(label)

    def bar(self, one, first, other, second):
        along = np.subtract(second, first) / np.linalg.norm(np.subtract(second, first))
        self.condition("bar", self.row(one, first, along) - self.row(other, second, along))

    def spring(self, row, rate):
        self.stiffness += rate * np.outer(row, row)

    def push(self, part, place, force):
        self.load[self.at[part]] += [*force, *np.cross(place, force)]

    def solve(self):
        """Return the motions, and the force of every condition by label (those labeled alike in a list)."""
        rows, size = np.array(self.rows), len(self.load)
        system = np.block([[self.stiffness, rows.T], [rows, np.zeros((len(rows), len(rows)))]])
        found = np.linalg.solve(system, np.r_[self.load, np.zeros(len(rows))])
        forces = {}
        for label, value in zip(self.labels, found[size:], strict=True):
            forces.setdefault(label, []).append(-value)
        return found[:size], forces


def xyz(point, shift=0.0):
    x, y, z = (float(value) for value in coordinates(point))
    return np.array([x + shift, y, z])


def truth(car, acceleration, gravity=GRAVITY):
    """Return {tire: load change}, roll, and {end: what springs and bar carry over the track}, from free bodies."""
    independent = not isinstance(car.front, LiveAxle)
    fronts = ("front left", "front right") if independent else ("front",)
    parts, w = Parts(("body", "rear", *fronts)), car.weight
    left, up = np.eye(3)[1:]
    elastic = {}
    for end, shift in (("rear", 0.0), ("front", float(car.wheelbase))):
        axle, springs = getattr(car, end), getattr(car, f"{end}_springs")
        half, radius = axle.track / 2, axle.tire_radius
        patches = {side: np.array([shift, sign * half, 0.0]) for side, sign in (("left", 1), ("right", -1))}
        part_of = {side: f"front {side}" if end == "front" and independent else end for side in patches}
        for side, patch in patches.items():
            parts.condition(f"{end} {side}", parts.row(part_of[side], patch, up))
        # The ground holds each axle sideways, with equal forces on both tires; and one of them fore and aft.
        parts.condition("side", sum(parts.row(part_of[side], patches[side], left) for side in patches))
        if end == "rear":
            parts.condition("ahead", parts.row("rear", np.zeros(3), np.eye(3)[0]))
        if isinstance(axle, LiveAxle):
            for link in (*axle.lower, *axle.upper):
                parts.bar(end, xyz(link.axle, shift), "body", xyz(link.chassis, shift))
            parts.bar(end, xyz(axle.locator.axle, shift), "body", xyz(axle.locator.chassis, shift))
        else:
            flip = np.array([1, -1, 1])
            for side, mirror in (("left", np.ones(3)), ("right", flip)):
                strut = isinstance(axle.upper, StrutLeg)
                for arm in (axle.lower,) if strut else (axle.lower, axle.upper):
                    for pivot in (arm.front_pivot, arm.rear_pivot):
                        joint = xyz(arm.ball_joint, shift) * mirror
                        parts.bar(part_of[side], joint, "body", xyz(pivot, shift) * mirror)
                if strut:  # the top mount may only slide along the strut
                    top, low = (xyz(p, shift) * mirror for p in (axle.upper.top_mount, axle.upper.lower_point))
                    for across in np.linalg.svd((top - low)[None])[2][1:]:
                        slide = parts.row(part_of[side], top, across) - parts.row("body", top, across)
                        parts.condition("slide", slide)
                if axle.tie_rod is not None:
                    ends = (xyz(point, shift) * mirror for point in (axle.tie_rod.axle, axle.tie_rod.chassis))
                    parts.bar(part_of[side], next(ends), "body", next(ends))
                    continue
                # Not measured: one in the plane of the lower arm.
                joint, front, rear = (
                    xyz(p, shift) for p in (axle.lower.ball_joint, axle.lower.front_pivot, axle.lower.rear_pivot)
                )
                behind = joint + np.array([-100.0, 0.0, 0.0]) * (front - rear)[0] / abs((front - rear)[0])
                inner = rear + 0.8 * (behind - joint) + 0.0
                plane = np.cross(front - joint, rear - joint)
                behind[2] -= plane @ (behind - joint) / plane[2]
                inner[2] -= plane @ (inner - joint) / plane[2]
                parts.bar(part_of[side], behind * mirror, "body", inner * mirror)
        lever = springs.spacing / 2
        rows = []
        for side, sign in (("left", 1), ("right", -1)):
            seat = np.array([shift, sign * lever, radius])
            rows.append(parts.row("body", seat, up) - parts.row(part_of[side], seat, up))
            parts.spring(rows[-1], springs.rate)
        # The bar feels the difference of both wheels' (or the axle's) rise against the body.
        bar_rate = springs.anti_roll_rate * 1000 * 180 / math.pi
        ends = [parts.row("body", patches[s], up) - parts.row(part_of[s], patches[s], up) for s in patches]
        twist = (ends[0] - ends[1]) / (2 * half)
        parts.spring(twist, bar_rate)
        elastic[end] = lambda q, rows=rows, twist=twist, lever=lever, half=half, rate=springs.rate, bar=bar_rate: (
            (rate * (rows[0] - rows[1]) @ q * lever + bar * twist @ q) / (2 * half)
        )
        own = getattr(w, f"{end}_unsprung_mass")
        for side, patch in patches.items():  # inertia, to the right in a left turn
            parts.push(part_of[side], patch + radius * up, (0.0, -own * acceleration / 2, 0.0))
    masses = [
        (w.front_unsprung_mass, car.wheelbase, car.front.tire_radius),
        (w.rear_unsprung_mass, 0.0, car.rear.tire_radius),
    ]
    body = w.mass - sum(m for m, _, _ in masses)
    place = np.array([
        (w.mass * car.wheelbase * w.front_share - sum(m * x for m, x, _ in masses)) / body, 0.0,
        (w.mass * w.cg_height - sum(m * z for m, _, z in masses)) / body,
    ])  # fmt: skip
    parts.push("body", place, (0.0, -body * acceleration, 0.0))
    # The body's weight moves sideways with it: a moment about x, in proportion to that shift.
    lean = np.zeros(len(parts.load))
    lean[parts.at["body"]][3] = 1.0
    parts.stiffness -= np.outer(lean, -body * gravity * parts.row("body", place, left))
    q, forces = parts.solve()
    return (
        {label: value[0] for label, value in forces.items() if label.split()[0] in ("front", "rear")},
        q[parts.at["body"]][3],
        {end: take(q) for end, take in elastic.items()},
    )


@pytest.mark.parametrize("name", ["live_front", "double_wishbone", "club_coupe"])
def test_tire_loads_and_roll_against_free_bodies(name):
    car, acceleration = load_car(DATA / f"{name}.toml"), 0.5 * GRAVITY
    changes, roll, elastic = truth(car, acceleration)
    found = cornering(car, acceleration)
    assert found.roll == pytest.approx(roll, rel=1e-9)
    assert found.roll > 0.02
    for end in ("front", "rear"):
        axle = getattr(found, end)
        # What an independent axle's body rises by jacking is the same left and right; the transfer is the difference.
        transfer = (changes[f"{end} right"] - changes[f"{end} left"]) / 2
        assert axle.transfer == pytest.approx(transfer, rel=1e-9)
        assert axle.elastic == pytest.approx(elastic[end], rel=1e-9)


@pytest.mark.parametrize("name", ["live_front", "double_wishbone", "club_coupe"])
@pytest.mark.parametrize("acceleration", [-4.0, 0.0, 6.0])
def test_the_tires_carry_the_car(name, acceleration):
    car = load_car(DATA / f"{name}.toml")
    tires = cornering(car, acceleration).tires
    assert sum(tires.values()) == pytest.approx(car.weight.mass * GRAVITY)
    front = tires["front left"] + tires["front right"]
    assert front == pytest.approx(car.weight.front_share * car.weight.mass * GRAVITY)
    assert np.sign(tires["rear right"] - tires["rear left"]) == np.sign(acceleration)


def test_moments_of_the_whole_car():
    """About the ground: inertia at the height of the center of gravity, and the body's weight moved sideways."""
    car, a = load_car(DATA / "live_front.toml"), 5.0
    found, w = cornering(car, a), car.weight
    sprung = w.mass - w.front_unsprung_mass - w.rear_unsprung_mass
    moment = sum(getattr(found, end).transfer * getattr(car, end).track for end in ("front", "rear"))
    shift = found.roll * moment_arm(car)
    assert moment == pytest.approx(w.mass * a * w.cg_height + sprung * GRAVITY * shift)


def beam(end, track, height, radius):
    """An axle with level links parallel in plan and a level bar: the roll center at the bar's height, plain to see."""
    way = 1 if end == "rear" else -1
    lower = pair(Link(Point(0, 500, 200), Point(600 * way, 500, 200), "left lower link"))
    upper = (Link(Point(0, 0, 420), Point(450 * way, 0, 420), "upper link"),)
    return LiveAxle(lower, upper, PanhardBar(Point(0, 400, height), Point(0, -400, height)), track, radius, end)


def book_car():
    """Barton and Fieldhouse's car, put together from its printed numbers."""
    shares, axles, heights = BOOK["share"], BOOK["axle mass [kg]"], BOOK["axle height [m]"]
    centers, sprung = BOOK["roll center [m]"], BOOK["sprung mass [kg]"]
    cg = sum(shares[e] * centers[e] for e in shares) + BOOK["height over the roll axis [m]"]
    mass = sprung + sum(axles.values())
    track, half = 1000 * BOOK["track [m]"], BOOK["roll stiffness [N m/rad]"] * math.pi / 360
    return Car(
        "Barton and Fieldhouse", 2600.0,
        *(beam(e, track, 1000 * centers[e], 1000 * heights[e]) for e in ("rear", "front")),
        Weight(
            mass, (sprung * shares["front"] + axles["front"]) / mass,
            1000 * (sprung * cg + sum(axles[e] * heights[e] for e in axles)) / mass, axles["front"], axles["rear"],
        ), None, *[Springs(0.0, track, half)] * 2,
    )  # fmt: skip


def test_the_book():
    """Barton and Fieldhouse, Automotive Chassis Engineering, p. 174, to the digits printed."""
    car, a = book_car(), BOOK["lateral acceleration [g]"] * 9.81
    found = cornering(car, a)
    for end in ("front", "rear"):
        assert round(getattr(found, end).geometric) == BOOK["geometric transfer [N]"][end]
        assert round(getattr(found, end).unsprung) == BOOK["unsprung transfer [N]"][end]
    assert moment_arm(car) == pytest.approx(365)
    assert round(roll_gradient(car), 4) == BOOK["roll gradient [rad/(m/s2)]"]
    assert round(numbers(car, ["roll gradient"])["roll gradient"], 1) == BOOK["roll gradient [deg/g]"]


def test_the_gravity_term_matters():
    """Without it the book's car would roll 0.0163 rad/(m/s2): 1280 x 0.365 / 28650, by hand."""
    assert roll_gradient(book_car()) / (1280 * 0.365 / 28650) == pytest.approx(1 / (1 - 1280 * 0.365 * GRAVITY / 28650))


def test_the_springs_of_a_beam_axle_act_on_their_spacing():
    """A body on two springs, turned by a small angle: the moment by sums over the springs, at any track."""
    angle, spacing, rate = 1e-3, 960.0, 27.0
    moment = sum(side * spacing / 2 * rate * side * spacing / 2 * math.sin(angle) for side in (1, -1))
    assert roll_stiffness(Springs(rate, spacing)) == pytest.approx(moment / angle, rel=1e-6)
    assert roll_stiffness(Springs(0, spacing, 100)) == pytest.approx(100 * 1000 / math.radians(1))


def test_the_roll_axis_of_the_car_passes_through_both_roll_centers():
    axis = car_roll_axis(load_car(DATA / "club_coupe.toml"))
    car = load_car(DATA / "club_coupe.toml")
    direction, moment = np.array([*axis][:3], float), np.array([*axis][3:], float)
    for x, end in ((0.0, car.rear), (car.wheelbase, car.front)):
        assert np.cross([x, 0, float(end.roll_center_height)], direction) == pytest.approx(moment, rel=1e-9)
    assert slope(axis) < -0.1  # common practice, no source: a lowered strut car's axis falls steeply to the front


def test_where_an_inner_tire_would_lift_by_free_bodies():
    changes, _, _ = truth(car := load_car(DATA / "live_front.toml"), 1.0)
    share = {"front": car.weight.front_share, "rear": 1 - car.weight.front_share}
    when = {e: car.weight.mass * GRAVITY * share[e] / 2 / changes[f"{e} right"] for e in share}
    assert {end: lift_acceleration(car, end) for end in share} == pytest.approx(when)


def test_beyond_the_linear_limit_a_sentence_says_so():
    """The coupe's is 0.32 g, since 1.808 degrees of 1.890 are within 5 % at 0.3 g and 3.013 of 3.423 at 0.5 g are not."""
    car = load_car(DATA / "club_coupe.toml")
    limit, coils = linear_limit(car), Springs(coil=Coil(Point(2, 530, 215), Point(-4, 430, 560), "knuckle", rate=30))
    for size in (limit, -limit, 0.0, np.array([[0.0, -limit], [math.nan, limit]])):
        assert cornering(car, size).warning == ""
    for size in (0.5 * GRAVITY, -0.5 * GRAVITY, np.array([0.1, -0.5, math.nan]) * GRAVITY):
        assert cornering(car, size).warning.startswith("At 0.5 g roll and tire loads are no longer within 5 %")
        assert "hold up to 0.324 g. Take solve_corner(car, lateral)." in cornering(car, size).warning
    assert "hold nowhere" in cornering(replace(car, front_springs=coils), 1.0).warning
    assert cornering(car, 1.001 * limit).warning
    with pytest.raises(SusgeoError, match="many cars"):
        _ = cornering(moved(car, {"weight.cg_height": np.array([500.0, 520.0])}), 3.0).warning
    assert "formulas" in cornering(car, sympy.Symbol("a")).warning
    for size, sentence in (
        (math.nan, "is nan"),
        ("3", "expected a number"),
        (True, "expected a number"),
        (None, "is None"),
    ):
        with pytest.raises(SusgeoError, match=sentence):
            cornering(car, size)
    with pytest.raises(SusgeoError, match="got 'club_coupe'; load_car reads"):
        cornering("club_coupe", 1.0)
    for within in (0.0, -0.05, 2, "much", math.nan):
        with pytest.raises(SusgeoError, match="expected a share"):
            linear_limit(car, within)


def test_the_numbers_of_a_corner_in_the_cars_summary():
    """Per g, parts that add up, each from the moments that make it; the axis drawn through both roll centers."""
    car = load_car(DATA / "live_front.toml")
    found, w = summary(car), car.weight
    centers = {end: found[f"{end} roll center height [mm]"] for end in ("front", "rear")}
    masses = {
        "front": w.mass * w.front_share - w.front_unsprung_mass,
        "rear": w.mass * (1 - w.front_share) - w.rear_unsprung_mass,
    }
    turn = np.radians(found["roll gradient [deg/g]"])
    for end, center in centers.items():
        geometric, elastic, unsprung = (
            found[f"{end} {part} load transfer [N/g]"] for part in ("geometric", "elastic", "unsprung")
        )
        track, own = getattr(car, end).track, getattr(w, f"{end}_unsprung_mass")
        assert geometric * track == pytest.approx(masses[end] * GRAVITY * center)
        assert unsprung * track == pytest.approx(own * GRAVITY * getattr(car, end).tire_radius)
        springs = getattr(car, f"{end}_springs")
        stiffness = springs.rate * springs.spacing**2 / 2 + springs.anti_roll_rate * 180e3 / math.pi
        assert elastic * track == pytest.approx(stiffness * turn)
        assert found[f"{end} roll stiffness [N m/deg]"] == pytest.approx(stiffness * math.pi / 180e3)
        assert f"{end} inner tire lift [g]" not in found  # beyond the linear limit: no result
        lifted = cornering(car, numbers(car)[f"{end} inner tire lift"] * GRAVITY)
        assert getattr(lifted, end).left == pytest.approx(0, abs=1e-6)
        assert geometric + elastic + unsprung == pytest.approx(found[f"{end} load transfer [N/g]"])
    rise = math.degrees(math.atan((centers["front"] - centers["rear"]) / car.wheelbase))
    assert found["car roll axis slope [deg]"] == pytest.approx(rise)
    # The body's own center of gravity, by moments, over the straight line through both centers.
    ahead = masses["front"] / sum(masses.values())
    axles = sum(getattr(w, f"{end}_unsprung_mass") * getattr(car, end).tire_radius for end in centers)
    height = (w.mass * w.cg_height - axles) / sum(masses.values())
    over = height - np.interp(ahead, [0, 1], [centers["rear"], centers["front"]])
    assert found["roll moment arm [mm]"] == pytest.approx(over)


def test_the_anti_features_in_the_cars_summary():
    """Textbook formulas, by hand from the instant centers of the same summary: 100 tan(theta) L / h, 1 - p and p."""
    car = load_car(DATA / "live_front.toml")
    found, p, scale = summary(car), car.brake_front_share, 100 * car.wheelbase / car.weight.cg_height
    rear, front = (
        found[f"{end} side-view instant center z [mm]"] / found[f"{end} side-view instant center x [mm]"]
        for end in ("rear", "front")
    )
    assert found["rear anti-squat [%]"] == pytest.approx(rear * scale)
    assert found["rear anti-lift [%]"] == pytest.approx((1 - p) * rear * scale)
    assert found["front anti-dive [%]"] == pytest.approx(-p * front * scale)


def test_a_higher_rear_roll_center_loads_the_rear():
    """Common practice, no source: raising one end's roll center moves load transfer to that end."""
    car = load_car(DATA / "club_coupe.toml")
    high = moved(car, {"rear.locator.axle.z": 420.0, "rear.locator.chassis.z": 420.0})
    before, after = (cornering(each, 5.0) for each in (car, high))
    assert after.rear.transfer > before.rear.transfer + 30
    assert after.front.transfer < before.front.transfer - 30
    assert after.roll < before.roll


def test_one_formula_for_numbers_arrays_and_symbols():
    car = load_car(DATA / "live_front.toml")
    heights = np.array([500.0, 600.0, 700.0])
    many = cornering(moved(car, {"weight.cg_height": heights}), 4.0)
    for index, height in enumerate(heights):
        one = cornering(moved(car, {"weight.cg_height": height}), 4.0)
        assert many.roll[index] == pytest.approx(one.roll) and many.rear.left[index] == pytest.approx(one.rear.left)
    h = sympy.Symbol("h")
    formula = cornering(moved(car, {"weight.cg_height": h}), 4.0).rear.left
    assert float(formula.subs(h, 600)) == pytest.approx(cornering(car, 4.0).rear.left)
    rates = np.array([0.1, 34.0])  # one of them cannot hold the body up
    soft = replace(car, rear_springs=Springs(0.1, 500), front_springs=Springs(rates, 820.0))
    assert np.isnan(roll_gradient(soft)).tolist() == [True, False]
    assert lift_acceleration(moved(car, {"weight.cg_height": heights}), "rear").shape == (3,)


def test_what_was_not_measured_is_named():
    car = load_car(DATA / "club_coupe.toml")
    for missing, word in (("front", "front axle"), ("weight", r"\[weight\]"), ("rear_springs", r"\[rear.springs\]")):
        with pytest.raises(SusgeoError, match=word):
            cornering(replace(car, **{missing: None}), 1.0)
    with pytest.raises(SusgeoError, match="upright"):
        roll_gradient(replace(car, rear_springs=Springs(0.5, 500), front_springs=Springs(0.5, 500)))
