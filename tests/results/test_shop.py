"""Turns, propeller shaft, steering axis and scales against rigid bodies solved by SciPy, free bodies, and the ways on paper."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.optimize import brentq, minimize
from scipy.spatial.transform import Rotation

from outside import fronts, rigid
from outside.axles import KINDS, car_file, mechanism, plausible
from outside.mechanism import Mechanism
from outside.workshop import shaft_at, with_lengths, xyz
from susgeo import (
    CarFileError,
    FlatPoint,
    Link,
    LinkageError,
    LiveAxle,
    PanhardBar,
    Point,
    Springs,
    SusgeoError,
    cornering,
    dimension,
    draw,
    effects,
    load_car,
    meet,
    moved,
    numbers,
    pair,
    read_car,
    residual,
    rod_forces,
    solve_travel,
    summary,
    tire_forces,
)
from susgeo.answers.written import written_out
from susgeo.car.coils import Coil
from susgeo.car.front import shim
from susgeo.car.links import leaf_link
from susgeo.car.shaft import PropellerShaft
from susgeo.car.write import write_car
from susgeo.geometry.measure import in_units
from susgeo.loads.cornering import GRAVITY
from susgeo.loads.scales import perch, raised_weighing, scales_gain
from susgeo.results.many import at_heave
from susgeo.results.quantities import find
from susgeo.results.rows import ROWS, SOLVED
from susgeo.results.rows import place as coordinate
from susgeo.results.turns import tilt_table, turns_for, turns_table
from susgeo.travel.adjust import lengths_for, rates
from susgeo.travel.live import straight_rods
from susgeo.travel.shaft import shaft_table, shaft_travel

DATA = Path(__file__).resolve().parents[2] / "data"
THREE = math.radians(3.0)
M, C = (load_car(DATA / f"{name}.toml") for name in ("three_link", "club_coupe"))
M = replace(M, shaft=PropellerShaft(Point(1350, 0, 360), Point(260, 0, 320), THREE, THREE))
C = replace(C, shaft=PropellerShaft(Point(1300, 0, 330), Point(260, 0, 320), THREE, THREE))


WORKSHOP = ROWS[[row[0] for row in ROWS].index("pinion by upper link") :]


def bars(axle):
    made = Mechanism(middle=(0.0, 0.0, axle.tire_radius))
    for rod in straight_rods(axle):
        made = made.rod(xyz(rod.axle), xyz(rod.chassis))
    return made


@pytest.mark.parametrize("path", sorted(DATA.glob("*.toml")), ids=lambda path: path.stem)
def test_every_row_of_every_car_has_its_way(path):
    car, met = load_car(path), 0
    if car.rear is not None:
        car = replace(car, shaft=M.shaft)
    for name in (f"{end} {row[0]}".lstrip() for row in WORKSHOP if row[0] not in SOLVED for end in row[8]):
        if name in (found := numbers(car, [name])):
            line = written_out(car, name).lines[-1][0]
            shown = in_units(found[name], find(name)[0].unit, car.units)[0]
            assert float(line.rpartition(" = ")[2].split()[0]) == pytest.approx(shown, rel=1e-3, abs=0.06)
            met += 1
    assert met >= 6


@pytest.mark.parametrize("kind", KINDS)
def test_rods_of_another_length_by_solved_positions(kind):
    for seed in range(2):
        plain = plausible(kind, seed)
        axle, made = read_car(car_file(plain)).rear, mechanism(plain)
        found, names = rates(axle), [rod.name for rod in straight_rods(axle)]
        for number, name in enumerate(names):
            one = np.eye(len(names))[number]
            rate = rigid.difference(lambda d, k=one, m=made: with_lengths(m, d * k), 0.2)
            assert list(found[name].values()) == pytest.approx(rate, rel=1e-6, abs=1e-8)
        # The other way: these lengths put it exactly where it is wanted.
        wanted = {"x": 3.0, "y": -5.0, "pitch": math.radians(-3), "yaw": math.radians(0.5)}
        assert with_lengths(made, np.array(list(lengths_for(axle, **wanted).values()))) == pytest.approx(
            list(wanted.values()), abs=1e-9
        )


def test_five_rods_count_their_upper_pair_as_one():
    axle = load_car(DATA / "parallel_four_link_watt.toml").rear
    found = rates(axle)
    one, both = found[axle.upper[0].name], found["both upper links"]
    assert both == pytest.approx({place: 2 * by for place, by in one.items()}, abs=1e-12) and abs(one["pitch"]) > 1e-3
    rate = numbers(load_car(DATA / "parallel_four_link_watt.toml"))["rear pinion by upper link"]
    assert rate == pytest.approx(math.degrees(both["pitch"]))
    sloping = PanhardBar(axle=Point(-60, 480, 260), chassis=Point(-40, -410, 330))
    car = replace(load_car(DATA / "parallel_four_link_watt.toml"), rear=replace(axle, locator=sloping))
    rate = numbers(car)["rear centering by Panhard bar"]
    assert rate == pytest.approx(rates(car.rear)["Panhard bar"]["y"])
    assert rate == pytest.approx(math.hypot(20, 890, 70) / 890, rel=1e-3)  # its length over its sideways part


def test_the_tables_of_turns():
    table = turns_table(M.rear)
    rows = {row[0]: row for row in table.rows}
    assert rows["upper link"][1:3] == ("-0.252", "-0.76")  # 3 mm a turn: M16 x 1.5, left and right thread
    assert rows["both lower links"][1] == "0.256" and rows["Panhard bar"][5] == "0.962"
    decimals = [[len(cell.rpartition(".")[2]) for cell in row[1:]] for row in table.rows]
    assert decimals == [[3, 2, 3, 2, 3, 3]] * len(rows)  # a hundredth of a degree a turn; a thousandth of a mm per mm
    assert "center the axle" in table.note and "1.5 times" in table.note
    turns = turns_for(M.rear, pinion=-2.0, thrust=0.2)
    x, _, pitch, yaw = with_lengths(bars(M.rear), np.array([3.0 * float(row[2]) for row in turns.rows]))
    assert math.degrees(pitch) == pytest.approx(-2, abs=0.01) and abs(x) < 0.05
    assert math.degrees(yaw) == pytest.approx(0.2, abs=0.005)
    with pytest.raises(SusgeoError, match="turn makes a rod longer by 0"):
        turns_for(M.rear, per_turn=0)


@pytest.mark.parametrize(("car", "up", "plunge"), [(M, (3.52, 1.27), None), (C, None, -20.0)])
def test_the_propeller_shaft_through_travel(car, up, plunge):
    heaves = np.array([-60.0, 0.0, 60.0])
    found = shaft_travel(car.shaft, solve_travel(car.rear, heaves))
    for number, heave in enumerate(heaves):
        angles, size = shaft_at(car.rear, car.shaft, heave)
        assert np.degrees([found.gearbox[number], found.pinion[number]]) == pytest.approx(angles, abs=1e-6)
        assert found.longer[number] == pytest.approx(size - shaft_at(car.rear, car.shaft, 0.0)[1], abs=1e-7)
    if up:
        assert np.degrees([found.gearbox[2], found.pinion[2]]) == pytest.approx(up, abs=5e-3)
    if plunge:
        assert found.longer[2] == pytest.approx(plunge, abs=0.5)
    low = numbers(at_heave(car, 60.0))  # by the quantities, which leave out that the bar's swing turns the axle
    assert low["rear gearbox joint angle"] == pytest.approx(shaft_at(car.rear, car.shaft, 60.0)[0][0], abs=1e-4)
    assert low["rear pinion joint angle"] == pytest.approx(shaft_at(car.rear, car.shaft, 60.0)[0][1], abs=0.05)
    rate = rigid.difference(lambda heave: shaft_at(car.rear, car.shaft, heave)[1], 0.5)
    assert numbers(car)["rear shaft plunge"] == pytest.approx(float(rate), rel=1e-6)
    assert "pulls out" in shaft_table(car).note and len(shaft_table(car).rows) == 5


def test_an_instant_center_on_the_shafts_line_leaves_the_spline_at_rest():
    def slide(height):
        return numbers(moved(M, {"rear.upper.chassis.z": height}), ["rear shaft plunge"])["rear shaft plunge"]

    still = moved(M, {"rear.upper.chassis.z": brentq(slide, 420, 460)})
    found = numbers(still)
    assert found["rear side-view instant center z"] == pytest.approx(found["rear instant center height for no plunge"])


def test_ripple_is_that_of_a_cardan_joint():
    """tan(out) = tan(in) / cos(beta): the speeds' ratio swings between cos and 1 / cos (any textbook of machine elements)."""
    for beta in np.radians([1.0, 3.0]):
        angle = np.linspace(0, 2 * np.pi, 20001)
        ratio = np.cos(beta) / (1 - np.sin(beta) ** 2 * np.cos(angle) ** 2)
        swing = 50 * (ratio.max() - ratio.min())
        car = replace(M, shaft=PropellerShaft(Point(1350, 0, 320), Point(260, 0, 320), beta, 0.0))
        assert numbers(car)["rear shaft ripple"] == pytest.approx(swing, rel=2e-3)


@pytest.mark.parametrize("kind", fronts.KINDS)
def test_the_steering_axis_and_the_shim(kind):
    plain = fronts.plausible(kind, 3)
    car = read_car(fronts.car_file(plain, 1430.0, 300.0))
    low, top = (np.array(plain["lower"][0]), np.array(plain["strut"][1] if kind == "strut" else plain["upper"][0]))
    axis, found = (top - low) / np.linalg.norm(top - low), numbers(car)
    ground = low - axis * low[2] / axis[2]
    # A wheel turned about the axis leaves the axis' point on the ground where it is.
    turned = (
        Rotation.from_rotvec(0.3 * axis).apply(
            np.array([found["front trail"], 715 - found["front scrub radius"], 0]) - low
        )
        + low
    )
    assert turned == pytest.approx(ground, abs=1e-9)
    assert math.tan(math.radians(found["front caster"])) == pytest.approx(-axis[0] / axis[2])
    assert math.tan(math.radians(found["front steering axis inclination"])) == pytest.approx(-axis[1] / axis[2])

    def steer(height):
        (x, y, _), inner = plain["tie_rod"]
        front = fronts.standing(plain | {"tie_rod": ((x, y, height), inner)}, 1430.0, 300.0)
        return float(rigid.difference(lambda heave: fronts.solve(front, heave)[5], 0.5))

    now = plain["tie_rod"][0][2]
    assert shim(car.front) == pytest.approx(brentq(steer, now - 60, now + 60, xtol=1e-9) - now, abs=1e-4)


def test_the_trades_rule_for_the_shim_is_near():
    """The tie rod's line meets the axis of the two planes at 244.7; solved, it steers least at 244.9."""
    front = C.front
    axis = meet(front.lower.plane, front.upper.plane)

    def missed(height):
        return residual(moved(front, {"tie_rod.axle.z": height}).tie_rod.line, axis)

    assert brentq(missed, 200, 300) == pytest.approx(244.66, abs=0.005)
    assert 245 + shim(front) == pytest.approx(244.867, abs=0.005)


@pytest.mark.parametrize("car", [M, C])
def test_raised_weighing_by_free_bodies(car):
    """The car as a rigid body turned about its front wheel centers; moments about the front tires."""
    weight, lift = car.weight, 500.0
    front = (car.front or car.rear).tire_radius
    radius = front * weight.front_share + car.rear.tire_radius * (1 - weight.front_share)
    share, angle = weight.front_share, math.asin(lift / car.wheelbase)
    # From the front wheel center: the center of gravity behind it and above the line of wheel centers.
    back, up = (1 - share) * car.wheelbase, weight.cg_height - radius
    turn = Rotation.from_rotvec([0, angle, 0])  # nose down about the front
    center, rear = turn.apply([-back, 0, up]), turn.apply([-car.wheelbase, 0, 0])
    assert rear[2] == pytest.approx(lift)
    gain = weight.mass * (1 - center[0] / rear[0]) - weight.mass * share
    assert scales_gain(car, lift) == pytest.approx(gain, rel=1e-9)
    assert raised_weighing(car, gain, lift).height == pytest.approx(weight.cg_height, rel=1e-9)
    if car is M:
        assert gain == pytest.approx(18.5, abs=0.05) and raised_weighing(M, gain).per_kg == pytest.approx(
            12.5, abs=0.05
        )
    assert "chock" in raised_weighing(car, gain).caution
    with pytest.raises(SusgeoError, match="best 500 mm"):
        raised_weighing(car, 10.0, lift=0.0)


@pytest.mark.parametrize("end", ["rear", "front"])
def test_a_perch_by_least_energy(end):
    """A stiff body on four springs and two bars finds its place by itself: SciPy's minimum of their energy."""
    raised = 5.0
    halves = {e: getattr(C, f"{e}_springs").spacing / 2 for e in ("rear", "front")}
    rates = {e: getattr(C, f"{e}_springs").rate for e in ("rear", "front")}
    twist = {e: getattr(C, f"{e}_springs").anti_roll_rate * 1000 * 180 / math.pi for e in ("rear", "front")}
    place = {"rear": 0.0, "front": C.wheelbase}

    def pushed(state, e, side):  # mm: how far the body presses this spring, from the tires up
        heave, roll, pitch = state * [1, 1e-3, 1e-3]
        return raised * (e == end and side > 0) - (heave + side * halves[e] * roll - place[e] * pitch)

    def energy(state):
        sides = [(e, side) for e in halves for side in (1, -1)]
        return sum(rates[e] * pushed(state, e, side) ** 2 / 2 for e, side in sides) + sum(
            twist[e] * (state[1] * 1e-3) ** 2 / 2 for e in halves
        )

    state = minimize(energy, np.zeros(3), method="BFGS", options={"gtol": 1e-8}).x
    loads = {
        e: (rates[e] * (pushed(state, e, 1) - pushed(state, e, -1)) * halves[e] - twist[e] * state[1] * 1e-3)
        / getattr(C, e).track for e in halves
    }  # fmt: skip
    other = "front" if end == "rear" else "rear"
    assert perch(C, end, raised) == pytest.approx((loads[end], -loads[other]), rel=1e-5)
    if end == "rear":
        assert perch(C, end, raised) == pytest.approx((34.2, 33.5), abs=0.05)
        cross = numbers(C)["rear cross weight by perch"] * raised
        assert cross == pytest.approx(100 * (loads[end] - loads[other]) / (C.weight.mass * GRAVITY), rel=1e-5)
        # A coil as a line pushes by its rate along itself, at its roll arm.
        coil = Coil(Point(0, 450, 200), Point(0, 450, 500), rate=30.0)
        same = replace(C, rear_springs=Springs(coil=coil))
        upright = replace(C, rear=replace(C.rear, locator=replace(C.rear.locator)), rear_springs=Springs(30.0, 900.0))
        assert perch(same, "rear")[0] == pytest.approx(perch(upright, "rear")[0], rel=0.02)


def test_the_fronts_part_of_load_transfer_from_the_tires():
    tires = cornering(C, 3.0).tires
    moved_by = {end: tires[f"{end} right"] - tires[f"{end} left"] for end in ("front", "rear")}
    assert numbers(C)["front part of load transfer"] == pytest.approx(100 * moved_by["front"] / sum(moved_by.values()))


def test_tilt_of_rod_ends_over_travel():
    table = tilt_table(M.rear, limit=9.0)
    assert [row[3] for row in table.rows] == ["TOO FAR", "TOO FAR", "fits"] and "maker" in table.note
    made, most = bars(M.rear), np.zeros((3, 2))
    for heave in (-60.0, 0.0, 60.0):
        for roll in np.radians([-4.0, 0.0, 4.0]):
            pose = rigid.solve(made, heave, roll)
            turn = rigid.rotation(*pose[3:6])
            there = rigid.moved(made, pose)
            for number in range(3):
                along = there.bars[number].second - there.bars[number].first
                along /= np.linalg.norm(along)
                for end, bolt in enumerate((turn.apply([0, 1, 0]), np.array([0, 1, 0]))):
                    most[number, end] = max(most[number, end], abs(math.degrees(math.asin(along @ bolt))))
    assert [[float(cell) for cell in row[1:3]] for row in table.rows] == pytest.approx(most, abs=0.06)


def test_every_quantity_of_the_torque_arm_car_has_its_derivatives():
    car = load_car(DATA / "torque_arm.toml")
    found = effects(car)
    assert {"rear anti-roll bar stiffness", "scales' gain", "rear shaft ripple"} <= set(found)
    for name, place in (("rear anti-roll bar stiffness", "rear_springs.bar.arm"), ("scales' gain", "wheelbase")):
        value = dimension(car, place)
        slope = rigid.difference(lambda d, p=place, v=value, n=name: numbers(moved(car, {p: v + d}), [n])[n], 0.1)
        assert found[name][place] == pytest.approx(float(slope), rel=1e-6)


def test_derivatives_and_arrays():
    for name in (
        "rear pinion by upper link",
        "rear shaft plunge",
        "front caster",
        "front bump steer shim",
        "rear gearbox joint angle",
    ):
        for place, slope in list(effects(C, [name])[name].items())[:40]:
            if abs(slope) > 1e-6:
                at = effects(C, [name]) and float(rigid.difference(
                    lambda d, p=place, n=name: numbers(moved(C, {p: dimension(C, p) + d}), [n])[n], 1e-3
                ))  # fmt: skip
                assert slope == pytest.approx(at, rel=1e-4, abs=1e-7), (name, place)
    many = numbers(moved(C, {"rear.upper.axle.z": np.array([420.0, 440.0])}), ["rear pinion by upper link"])
    assert many["rear pinion by upper link"][1] == pytest.approx(numbers(C)["rear pinion by upper link"])


def test_a_file_with_a_propeller_shaft():
    again = read_car(write_car(M))
    assert summary(again) == pytest.approx(summary(M), rel=1e-9)
    assert "gearbox_angle = 3 " in write_car(M)
    with pytest.raises(
        CarFileError, match=r"\[propeller_shaft\], field pinion_angle: got 92, expected an angle in degrees"
    ):
        read_car(write_car(M).replace("pinion_angle = 3 ", "pinion_angle = 92 "))
    with pytest.raises(SusgeoError, match=r"\[propeller_shaft\]"):
        shaft_table(load_car(DATA / "three_link.toml"))


@pytest.mark.parametrize("leaf", ["uniform strength", "uniform section"])
def test_a_leafs_equivalent_link_against_the_bent_beam(leaf):
    """The front half, 620 mm, held level at its seat: its shape integrated, without the small angles of the formula."""
    span = 620.0
    link = leaf_link(Point(span, 480, 300), Point(0, 480, 300), leaf)
    assert float(link.length) / span == pytest.approx({"uniform strength": 3 / 4, "uniform section": 5 / 6}[leaf])
    along = np.linspace(0, span, 20001)
    shape = along if leaf == "uniform strength" else along - along**2 / (2 * span)  # slope, for one curvature

    def eye(curvature):
        return trapezoid(np.cos(curvature * shape), along), trapezoid(np.sin(curvature * shape), along)

    for drop in (-80.0, -40.0, 40.0, 80.0):
        x, _ = eye(brentq(lambda k, d=drop: eye(k)[1] - d, -2e-3, 2e-3))
        by_link = span - float(link.length) * (1 - math.cos(math.asin(drop / float(link.length))))
        # Of the way that the seat moves forward or back, 0.4 % of the leaf's length at most.
        assert abs(x - by_link) < 0.004 * span and abs(x - by_link) < 0.03 * (span - x)


def test_an_axle_on_leaf_springs():
    """Two equivalent links, a bar, and the pitch held: by solved positions, with a rod square to nothing but pitch."""
    car = load_car(DATA / "leaf_springs.toml")
    rear, found = car.rear, numbers(car)
    made = bars(rear)
    rates = rigid.rates(made)
    assert abs(rates.pinion_rate) < 1e-9
    assert found["rear roll center height"] == pytest.approx(rates.roll_center, abs=1e-4)
    assert found["rear roll steer"] == pytest.approx(rates.roll_steer, abs=1e-7)
    states = solve_travel(rear, np.array([-70.0, 0.0, 70.0]))
    assert np.abs(states.pitch).max() < 1e-7
    missing = ("anti-squat", "anti-lift", "instant center", "pinion")
    assert not [name for name in found if any(word in name for word in missing)]
    assert found["rear pitch held by leaves"] == 1
    with pytest.raises(LinkageError, match="leaves, which wind up"):
        _ = rear.side_view_instant_center
    with pytest.raises(LinkageError, match="bend and wind up"):
        rod_forces(rear, tire_forces(car, drive=3.0))
    with pytest.raises(LinkageError, match="leaf springs and upper links"):
        replace(rear, upper=M.rear.upper)
    assert read_car(write_car(car)).rear.leaves == "uniform strength"
    text = (DATA / "leaf_springs.toml").read_text("utf-8")
    with pytest.raises(CarFileError, match="uniform strength.*did you mean uniform section"):
        read_car(text.replace('"uniform strength"  ', '"uniform sections"  '))
    with pytest.raises(CarFileError, match="keep one of the two"):
        read_car(text + "\n[rear.lower_links]\naxle = [0, 500, 240]\nchassis = [600, 400, 290]\n")


def test_a_torque_arm():
    car = load_car(DATA / "torque_arm.toml")
    found, truth = numbers(car), rigid.rates(bars(car.rear))
    assert (found["rear side-view instant center x"], found["rear side-view instant center z"]) == pytest.approx(
        truth.instant_center
    )
    assert truth.instant_center == pytest.approx((1150, 335.8), abs=0.05)
    for name in (
        "rear side-view instant center z",
        "rear anti-squat",
        "rear pinion by upper link",
        "rear pinion by lower links",
    ):
        line = written_out(car, name).lines[-1][0]
        assert float(line.rpartition(" = ")[2].split()[0]) == pytest.approx(found[name], rel=1e-3, abs=0.06)
    assert math.degrees(rates(car.rear)["upper link"]["pitch"]) == pytest.approx(found["rear pinion by upper link"])


@pytest.mark.parametrize("name", ["leaf_springs", "torque_arm"])
def test_their_drawings_say_what_they_are(name):
    words = draw.axle(load_car(DATA / f"{name}.toml").rear, ("side",)).alt
    assert ("leaves wind up" in words) == (name == "leaf_springs")


@pytest.mark.parametrize("turned", [1.0, -1.0])
@pytest.mark.parametrize(("ahead", "up", "z"), [(2, 1, math.inf), (2, -1, -math.inf), (2, 0, math.inf)])
def test_a_point_at_infinity_is_taken_forward(turned, ahead, up, z):
    """Lines side by side meet nowhere: ahead is plus, whichever way the point is written, and up is plus where they rise forward."""
    far = FlatPoint("side", turned * ahead, turned * up, 0)
    assert (coordinate(far, "x"), coordinate(far, "z")) == (math.inf, z)
    assert coordinate(FlatPoint("side", turned * ahead, turned * up, turned * 0.5), "x") == 2 * ahead


def test_one_lower_link_in_the_middle_turns_no_pinion_as_a_pair():
    """Two upper links, one lower one: a pair's number is told of the pair alone, and is that of the solved axle."""
    lower, upper = Link(Point(0, 0, 240), Point(600, 0, 290)), pair(Link(Point(-30, 350, 460), Point(300, 420, 440)))
    axle = LiveAxle((lower,), upper, PanhardBar(Point(-120, 480, 310), Point(-120, -470, 290)))
    found = numbers(axle)
    assert not [name for name in found if "lower links" in name]
    assert found["rear pinion by upper link"] == pytest.approx(math.degrees(rates(axle)["both upper links"]["pitch"]))
    assert found["rear thrust angle by Panhard bar"] == pytest.approx(math.degrees(rates(axle)["Panhard bar"]["yaw"]))
