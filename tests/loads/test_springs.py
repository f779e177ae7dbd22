"""Springs as lines against solved positions (SciPy), energy, a frame of finite elements, and the ways on paper."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import sympy
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

from outside import fronts, rigid
from outside.axles import KINDS, car_file, mechanism, plausible
from outside.workshop import bars, energy_stiffness, lengths, xyz
from outside.workshop import ratios as rates
from susgeo import (
    CarFileError,
    Point,
    Springs,
    SusgeoError,
    Target,
    best_design,
    cornering,
    effects,
    load_car,
    moved,
    numbers,
    read_car,
    solve_for,
    solve_travel,
    summary,
    tolerances,
)
from susgeo.answers.written import written_out
from susgeo.car.coils import AntiRollBar, Coil, Damper
from susgeo.car.write import write_car
from susgeo.loads.springs import (
    bar_stiffness,
    motion_ratio,
    ride_frequency,
    roll_arm,
    roll_stiffness,
    spring_table,
    wheel_rate,
)
from susgeo.results.many import at_heave
from susgeo.travel.lines import moved_line

DATA = Path(__file__).resolve().parents[2] / "data"
M, C = (load_car(DATA / f"{name}.toml") for name in ("three_link", "club_coupe"))
SEAT, TOP = (-80.0, 470.0, 250.0), (-50.0, 350.0, 580.0)
COIL = Coil(Point(*SEAT), Point(*TOP), rate=27.0)
BAR = AntiRollBar(Point(-60, 450, 200), Point(-70, 440, 380), "axle", 18, 900, 220)


@pytest.mark.parametrize(("car", "h", "r"), [(M, 0.9718, 419.81), (C, 1.0310, 408.24)])
def test_the_two_cars_by_library_by_solved_positions_and_on_paper(car, h, r):
    assert motion_ratio(car.rear, COIL) == pytest.approx(h, abs=5e-5)
    assert roll_arm(car.rear, COIL) == pytest.approx(r, abs=5e-3)
    assert rates(bars(car.rear), SEAT, TOP) == pytest.approx(
        (motion_ratio(car.rear, COIL), roll_arm(car.rear, COIL)), rel=1e-7
    )
    sprung = replace(car, rear_springs=Springs(coil=COIL))
    for name, value in (("motion ratio", h), ("roll arm", r)):
        written = float(written_out(sprung, f"rear spring {name}").lines[-1][0].rpartition(" = ")[2].split()[0])
        assert written == pytest.approx(value, rel=2e-5)


def test_inclined_coils_by_energy_and_by_their_seats():
    """166 N m/deg, where rate and the seats' spacing say 208."""
    by_energy = energy_stiffness(bars(M.rear), SEAT, TOP, 27.0)
    found = roll_stiffness(Springs(coil=COIL), M.rear) / 1000 * math.pi / 180
    assert found == pytest.approx(by_energy, rel=1e-5) and found == pytest.approx(166.1, abs=0.05)
    upright = roll_stiffness(Springs(rate=27.0, spacing=2 * SEAT[1])) / 1000 * math.pi / 180
    assert upright == pytest.approx(208.2, abs=0.05)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_axle_by_solved_positions(kind, seed):
    plain = plausible(kind, seed)
    axle, made = read_car(car_file(plain)).rear, mechanism(plain)
    random = np.random.default_rng([9, KINDS.index(kind), seed])
    seat, top = np.array(SEAT) + random.uniform(-60, 60, 3), np.array(TOP) + random.uniform(-60, 60, 3)
    for on, link in (("axle", None), ("lower link", (0, 1))):
        if link:  # beside and above the link's line, as a seat welded on top of it
            outer, inner = map(np.array, plain["lower"][0])
            seat = 0.6 * outer + 0.4 * inner + (0, 15, 35)
        line = Damper(Point(*seat), Point(*top), on)
        assert (motion_ratio(axle, line), roll_arm(axle, line)) == pytest.approx(
            rates(made, seat, top, link), rel=1e-6, abs=1e-5
        )


def test_a_seat_on_the_links_line_acts_at_its_joint_with_its_share():
    link = M.rear.lower[0]
    seat = 0.3 * xyz(link.axle) + 0.7 * xyz(link.chassis)
    on_link = Damper(Point(*seat), Point(*(seat + (30, -60, 300))), "lower link")
    at_joint = Damper(link.axle, Point(*(xyz(link.axle) + (30, -60, 300))))
    assert motion_ratio(M.rear, on_link) == pytest.approx(0.3 * motion_ratio(M.rear, at_joint), rel=1e-12)
    assert roll_arm(M.rear, on_link) == pytest.approx(0.3 * roll_arm(M.rear, at_joint), rel=1e-12)


@pytest.mark.parametrize("on", ["axle", "lower link", "upper link"])
def test_through_travel_a_ratio_is_the_slope_of_the_length(on):
    seat = {"axle": SEAT, "lower link": (200.0, 460.0, 300.0), "upper link": (120.0, 20.0, 490.0)}[on]
    line, step = Damper(Point(*seat), Point(*TOP), on), 0.01
    heaves = np.array([-80.0, -20.0, 0.0, 50.0])
    made, link = bars(M.rear), {"axle": None, "lower link": (0, 1), "upper link": (2, 2)}[on]
    for roll in (0.0, 0.05):
        states = solve_travel(M.rear, heaves, roll)
        for number, side in enumerate(("left", "right")):
            there = moved_line(states, line, side).length
            own = [lengths(made, seat, TOP, heave, roll, link)[number] for heave in heaves]
            assert there == pytest.approx(own, abs=1e-7)
    states, near = solve_travel(M.rear, heaves), [solve_travel(M.rear, heaves + d) for d in (-step, step)]
    both = [moved_line(states, line, side) for side in ("left", "right")]
    slopes = [
        (moved_line(near[0], line, side).length - moved_line(near[1], line, side).length) / (2 * step)
        for side in ("left", "right")
    ]
    # A link that never twists, against one that has not twisted when seen from rest.
    assert motion_ratio(states.moved, *both) == pytest.approx(sum(slopes) / 2, abs=1e-6 if on == "axle" else 2e-3)


def front_with_idle_rod(kind):
    plain = fronts.plausible(kind, 1)
    (joint, ahead, behind) = (np.array(p) for p in plain["lower"])
    ends = joint - 0.35 * (ahead - behind), behind + 0.1 * (joint - behind)
    plain["tie_rod"] = tuple(tuple(map(float, end)) for end in ends)
    return plain


@pytest.mark.parametrize("kind", fronts.KINDS)
def test_a_front_wheel_by_solved_positions(kind):
    plain = front_with_idle_rod(kind)
    front = fronts.standing(plain, 1430.0, 300.0)
    axle = read_car(fronts.car_file(plain, 1430.0, 300.0)).front
    top = np.array((-20.0, 480.0, 620.0))

    def length(heave, seat, on):
        pose = fronts.solve(front, heave)
        turn = fronts.rotation(*pose[3:])

        def carried(place):
            return turn.apply(place - front.center) + front.center + pose[:3]

        if on == "knuckle":
            return np.linalg.norm(carried(seat) - top)
        joint, ahead, behind = (np.array(p) for p in plain["lower"])
        hinge = (behind - ahead) / np.linalg.norm(behind - ahead)
        before, after = (v - hinge * (hinge @ v) for v in (joint - ahead, carried(joint) - ahead))
        angle = math.atan2(np.cross(before, after) @ hinge, before @ after)
        return np.linalg.norm(Rotation.from_rotvec(hinge * angle).apply(seat - ahead) + ahead - top)

    for on, seat in (("knuckle", np.array((-10.0, 600.0, 260.0))), ("lower arm", np.array((10.0, 520.0, 215.0)))):
        line = Damper(Point(*seat), Point(*top), on)
        slope = -rigid.difference(lambda rise, s=seat, o=on: length(rise, s, o), 0.5)
        assert motion_ratio(axle, line) == pytest.approx(float(slope), rel=1e-6)
        assert roll_arm(axle, line) == pytest.approx(float(slope) * 1430 / 2, rel=1e-6)
        heaves = np.array([-50.0, 30.0])
        assert moved_line(solve_travel(axle, heaves), line).length == pytest.approx(
            [length(heave, seat, on) for heave in heaves], abs=1e-6
        )


def frame(diameter, span, arm, parts=4):
    """Force per mm at the arms' ends of a bar of Euler-Bernoulli beams in space: plain finite elements."""
    young, shear = 206_000.0, 79_300.0
    area, second = math.pi * diameter**2 / 4, math.pi * diameter**4 / 64
    corners = np.array([(arm, span / 2, 0), (0, span / 2, 0), (0, -span / 2, 0), (arm, -span / 2, 0)])
    nodes = [corners[0]]
    for one, other in zip(corners, corners[1:], strict=False):
        nodes += [one + (other - one) * k / parts for k in range(1, parts + 1)]
    stiffness = np.zeros((6 * len(nodes),) * 2)
    for number, (one, other) in enumerate(zip(nodes, nodes[1:], strict=False)):
        size = np.linalg.norm(other - one)
        own = np.zeros((12, 12))
        for row, rate in ((0, young * area / size), (3, shear * 2 * second / size)):
            own[np.ix_([row, row + 6], [row, row + 6])] = rate * np.array([[1, -1], [-1, 1]])
        bend = young * second / size**3 * np.array(
            [[12, 6 * size, -12, 6 * size], [6 * size, 4 * size**2, -6 * size, 2 * size**2],
             [-12, -6 * size, 12, -6 * size], [6 * size, 2 * size**2, -6 * size, 4 * size**2]]
        )  # fmt: skip
        own[np.ix_([1, 5, 7, 11], [1, 5, 7, 11])] += bend
        sign = np.diag([1, -1, 1, -1])
        own[np.ix_([2, 4, 8, 10], [2, 4, 8, 10])] += sign @ bend @ sign
        along = (other - one) / size
        side = np.cross((0, 0, 1), along)
        turn = np.kron(np.eye(4), np.array([along, side, (0, 0, 1)]))
        spot = slice(6 * number, 6 * number + 12)
        stiffness[spot, spot] += turn.T @ own @ turn
    free = np.ones(6 * len(nodes), bool)
    for node in (parts, 2 * parts):  # bearings that let the bar turn about its own axis alone
        free[[6 * node + k for k in (0, 1, 2, 3, 5)]] = False
    load = np.zeros(len(free))
    load[2], load[6 * (len(nodes) - 1) + 2] = 1.0, -1.0
    moved_by = np.zeros(len(free))
    # Nothing keeps the whole bar from turning in its bearings, and this load does not turn it.
    moved_by[free] = np.linalg.lstsq(stiffness[np.ix_(free, free)], load[free], rcond=1e-13)[0]
    return 1 / moved_by[2]


def test_a_bar_from_its_dimensions_by_finite_elements():
    assert pytest.approx(33.34, abs=0.005) == BAR.end_rate
    for sizes in ((18, 900, 220), (25, 1100, 180)):
        bar = AntiRollBar(Point(0, 450, 200), Point(0, 450, 350), "axle", *sizes)
        assert bar.end_rate == pytest.approx(frame(*sizes), rel=1e-6)
    tube = replace(BAR, bore=10)
    assert tube.end_rate == pytest.approx(BAR.end_rate * (1 - (10 / 18) ** 4), rel=1e-9)
    # The whole bar against roll: the energy of both arms' ends, their drop links followed in solved positions.
    made = bars(M.rear)
    place = xyz(BAR.axle), xyz(BAR.chassis)
    up = rigid.difference(lambda roll: lengths(made, *place, 0.0, roll), 1e-3)
    energy = BAR.end_rate / 2 * np.sum(up**2)
    assert bar_stiffness(Springs(bar=BAR), M.rear) == pytest.approx(2 * energy, rel=1e-7)


def test_the_ride_frequency_is_that_of_a_mass_let_go():
    car = replace(M, rear_springs=Springs(coil=COIL))
    rate, mass = 2 * wheel_rate(car.rear_springs, car.rear) * 1000, 1150 * 0.47 - 140

    def crossed(time, state):
        return state[0]

    crossed.direction = 1
    found = solve_ivp(
        lambda t, s: (s[1], -rate / mass * s[0]), (0, 3), (0.01, 0), events=crossed, rtol=1e-10, atol=1e-12
    )
    assert ride_frequency(car, "rear") == pytest.approx(1 / np.diff(found.t_events[0]).mean(), rel=1e-6)


def test_a_corner_takes_what_the_lines_give():
    sprung = replace(C, rear_springs=Springs(coil=COIL, bar=BAR))
    stiffness = roll_stiffness(sprung.rear_springs, C.rear)
    upright = replace(C, rear_springs=Springs(rate=2 * stiffness / 1000**2, spacing=1000.0))
    one, other = cornering(sprung, 4.0), cornering(upright, 4.0)
    assert one.roll == pytest.approx(other.roll) and one.rear.elastic == pytest.approx(other.rear.elastic)
    assert one.roll != pytest.approx(cornering(C, 4.0).roll, rel=1e-3)
    with pytest.raises(SusgeoError, match="need their axle"):
        roll_stiffness(sprung.rear_springs)


@pytest.mark.parametrize("on", ["axle", "lower link", "upper link"])
@pytest.mark.parametrize("name", ["three_link", "parallel_four_link_watt", "converging_four_link", "mumford"])
def test_every_number_of_a_line_is_written_out(name, on):
    base = load_car(DATA / f"{name}.toml")
    seat = {"axle": SEAT, "lower link": (200, 470, 300), "upper link": (30, 40, 470)}[on]
    line = Damper(Point(*seat), Point(*TOP), on)
    springs = Springs(coil=Coil(line.axle, line.chassis, on, 27), damper=line, bar=replace(BAR, axle=line.axle, on=on))
    car, met = replace(base, rear_springs=springs), 0
    for quantity, value in summary(car).items():
        if any(word in quantity for word in ("motion", "roll arm", "wheel rate", "ride", "stiffness")):
            line_of = written_out(car, quantity).lines[-1][0]
            assert float(line_of.rpartition(" = ")[2].split()[0]) == pytest.approx(value, rel=1e-3), quantity
            met += 1
    assert met == 8
    assert summary(read_car(write_car(car))) == pytest.approx(summary(car), rel=1e-9)


def test_arrays_letters_and_derivatives_go_through_the_same_formulas():
    car = replace(M, rear_springs=Springs(coil=COIL))
    place, name = "rear_springs.coil.axle.z", "rear spring motion ratio"
    heights = np.array([200.0, 250.0, 300.0])
    many = numbers(moved(car, {place: heights}), [name])[name]
    assert many == pytest.approx([numbers(moved(car, {place: z}), [name])[name] for z in heights], rel=1e-12)
    slope = rigid.difference(lambda d: numbers(moved(car, {place: 250.0 + d}), [name])[name], 0.1)
    assert effects(car, [name])[name][place] == pytest.approx(float(slope), rel=1e-6)
    letter = sympy.Symbol("y", real=True)
    formula = roll_arm(M.rear, replace(COIL, axle=Point(-80, letter, 250)))
    assert float(formula.subs(letter, 470)) == pytest.approx(419.81, abs=5e-3)
    assert solve_for(car, "rear_springs.coil.rate", "rear wheel rate", 30.0).values == pytest.approx(
        (30 / 0.9717889189**2,), rel=1e-8
    )
    assert tolerances(car, names=["rear roll stiffness"], samples=500)["rear roll stiffness"].plus_minus > 0.5
    found = best_design(
        car, {"rear_springs.coil.axle.y": [430, 470, 510]},
        [Target("rear spring roll arm", 440, 470)], heaves=(-30, 0, 30),
    )  # fmt: skip
    assert found.choice == {"rear_springs.coil.axle.y": 510}
    low = at_heave(car, 30.0)
    made = bars(M.rear)
    slope = -rigid.difference(lambda d: lengths(made, SEAT, TOP, 30.0 + d, 0.0).mean(), 0.5)
    assert numbers(low)["rear spring motion ratio"] == pytest.approx(
        float(slope), rel=1e-3
    )  # the axle has moved sideways, and at_heave knows its left springs alone


def test_the_table_through_travel_shows_lengths_ratios_and_the_caution():
    table = spring_table(replace(M, rear_springs=Springs(coil=COIL, damper=Damper(COIL.axle, COIL.chassis))))
    assert len(table.rows) == 5 and "coil bind" in table.note and table.rows[2][1] == "352.4"
    with pytest.raises(SusgeoError, match=r"add a table \[rear.coil\]"):
        spring_table(M)


COIL_TABLE = "\n[rear.coil]\naxle = [-80, 470, 250]\nchassis = [-50, 350, 580]\nrate = 27\n"
BASE = "\n".join((DATA / "three_link.toml").read_text("utf-8").split("[rear.springs]")[:1])


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (COIL_TABLE + "[rear.springs]\nrate = 27\nspacing = 900", r"\[rear.springs\], field rate: \[rear.coil\] says it"),
        (COIL_TABLE.replace("470", "-470").replace("350", "-350"), "other side|right side"),
        (COIL_TABLE + 'on = "lower arm"', "lower arm.*none"),
        (COIL_TABLE + 'on = "lower"', "expected .*lower link"),
        (COIL_TABLE.replace("rate = 27", ""), "field rate is missing"),
        (COIL_TABLE.replace("[-50, 350, 580]", "[-80, 470, 250]"), "no length"),
        ("\n[rear.springs]\nanti_roll_rate = 90", "field rate is missing"),
        (COIL_TABLE + "[rear.anti_roll_bar]\naxle=[0,450,200]\nchassis=[0,450,300]\ndiameter=18\nspan=900\narm=220\nbore=18", "bore"),
    ],
)  # fmt: skip
def test_a_file_with_a_slip_is_told_so(more, words):
    with pytest.raises(CarFileError, match=words):
        read_car(BASE + more, "my_car.toml")


def test_a_file_may_give_the_coil_as_a_line_and_the_bar_by_its_stiffness():
    car = read_car(BASE + COIL_TABLE + "[rear.springs]\nanti_roll_rate = 90")
    assert summary(car)["rear roll stiffness [N m/deg]"] == pytest.approx(166.1 + 90, abs=0.05)
    assert summary(read_car(write_car(car))) == pytest.approx(summary(car), rel=1e-9)
