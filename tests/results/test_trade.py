"""The numbers of a builder's day: by the library, by a second route that shares nothing with it, and by hand.

Each line of the list is one number as it was worked out once, to the digits given. The second route is SciPy's: solved
positions, energy, free bodies, a frame of finite elements; nothing of the library but the car's measurements goes in.
By hand is ``check_by_hand``: the way's own lines are right, and with any one of them spoiled that line is named.
"""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from outside import fronts, rigid
from outside.workshop import bars, energy_stiffness, per_mm, ratios, shaft_at, xyz
from susgeo import Point, Springs, load_car, meet, moved, numbers, residual, solve_travel, written_out
from susgeo.answers import check_by_hand
from susgeo.car.coils import AntiRollBar, Coil
from susgeo.car.front import StrutLeg, shim
from susgeo.car.links import leaf_link
from susgeo.car.shaft import PropellerShaft
from susgeo.loads.scales import perch, raised_weighing
from susgeo.results.many import at_heave
from susgeo.travel.shaft import shaft_travel

G, THREE = 9.80665, math.radians(3.0)
SEAT, TOP = (-80.0, 470.0, 250.0), (-50.0, 350.0, 580.0)
COIL = Springs(coil=Coil(Point(*SEAT), Point(*TOP), rate=27.0))
BAR = AntiRollBar(Point(-150, 440, 270), Point(-155, 435, 450), "axle", 18, 900, 220)
M = replace(load_car("three_link"), shaft=PropellerShaft(Point(1350, 0, 360), Point(260, 0, 320), THREE, THREE))
C = replace(load_car("club_coupe"), shaft=PropellerShaft(Point(1300, 0, 330), Point(260, 0, 320), THREE, THREE))
M_COIL, C_COIL = (replace(car, rear_springs=COIL) for car in (M, C))
M_SEATS = replace(M, rear_springs=Springs(rate=27.0, spacing=940.0))
BARRED = replace(M, rear_springs=Springs(bar=BAR))
BARE = replace(C, front=replace(C.front, tie_rod=None))
STIFF = replace(C, front_springs=replace(C.front_springs, anti_roll_rate=300.0))
TILTED, ARM = load_car("tilted_bar"), load_car("torque_arm")
M_UP, C_UP = at_heave(M, 60.0), at_heave(C, 60.0)


def steering():
    """Caster, inclination, scrub and trail of the coupe from its two joints, by a line's own parameters."""
    low, top = xyz(C.front.lower.ball_joint), xyz(C.front.upper.top_mount)
    along = (top - low) / (top - low)[2]
    ground = low - low[2] * along
    return *(math.degrees(math.atan(-each)) for each in along[:2]), C.front.track / 2 - ground[1], ground[0]


def knuckle(car, z):
    """A car's front as the tests' own solver has it, its tie rod's outer joint at a height."""
    front = car.front
    plain = {
        "lower": tuple(tuple(xyz(getattr(front.lower, name))) for name in ("ball_joint", "front_pivot", "rear_pivot"))
    }
    if isinstance(front.upper, StrutLeg):
        plain["strut"] = (tuple(xyz(front.upper.lower_point)), tuple(xyz(front.upper.top_mount)))
    else:
        plain["upper"] = tuple(
            tuple(xyz(getattr(front.upper, name))) for name in ("ball_joint", "front_pivot", "rear_pivot")
        )
    x, y, _ = xyz(front.tie_rod.axle)
    plain["tie_rod"] = ((x, y, z), tuple(xyz(front.tie_rod.chassis)))
    return fronts.standing(plain, float(front.track), float(front.tire_radius))


def wheel(z, part, car=C):
    """How fast a part of the left knuckle's pose changes as the wheel rises, by solved positions."""
    return float(rigid.difference(lambda heave: fronts.solve(knuckle(car, z), heave)[part], 0.5))


def planes():
    """Camber change in deg/mm of a turn about the line in which arm and strut put the knuckle, the tie rod left out."""
    joint, front, rear = (xyz(getattr(C.front.lower, name)) for name in ("ball_joint", "front_pivot", "rear_pivot"))
    low, top = xyz(C.front.upper.lower_point), xyz(C.front.upper.top_mount)
    normals = np.array([np.cross(front - joint, rear - joint), low - top])
    along = np.cross(*normals)
    place = np.linalg.lstsq(normals, [normals[0] @ joint, normals[1] @ top], rcond=None)[0]
    rise = np.cross(along, np.array([0, C.front.track / 2, C.front.tire_radius]) - place)[2]
    return -math.degrees(along[0] / rise)


def no_steer(car=C):
    """How far the tie rod's outer joint must rise until solved positions show no steer."""
    now = float(car.front.tie_rod.axle.z)
    return brentq(lambda z: wheel(z, 5, car), now - 15, now + 15, xtol=1e-7) - now


def raised():
    """The kg that the front scales gain, M's rear lifted by 500 mm about its front wheel centers, turned by SciPy."""
    weight, base, radius = M.weight, M.wheelbase, M.rear.tire_radius
    turn = Rotation.from_rotvec([0, math.asin(500 / base), 0])
    center = turn.apply([-(1 - weight.front_share) * base, 0, weight.cg_height - radius])
    return weight.mass * (1 - center[0] / turn.apply([-base, 0, 0])[0]) - weight.mass * weight.front_share


def twisted():
    """Stiffness of both axles of the coupe in N mm a radian, from the work of their springs and bars."""
    return {
        end: 2 * springs.rate * (springs.spacing / 2) ** 2 + springs.anti_roll_rate * 1000 * 180 / math.pi
        for end, springs in (("rear", C.rear_springs), ("front", C.front_springs))
    }


def perched():
    """Loads on the rear and front axle for each mm of the left rear perch: two springs in series, on a stiff body."""
    stiff = twisted()
    moment = C.rear_springs.rate * C.rear_springs.spacing / 2 / (1 / stiff["rear"] + 1 / stiff["front"]) / stiff["rear"]
    return moment / C.rear.track, moment / C.front.track


def bar_end():
    """An arm's end by finite elements: a beam bent in one plane for the arm, on a shaft that twists."""
    count, inertia = 8, math.pi * 18**4 / 64
    size, stiff = 220 / count, np.zeros((2 * count + 2, 2 * count + 2))
    own = 206000 * inertia / size**3 * np.array([
        [12, 6 * size, -12, 6 * size], [6 * size, 4 * size**2, -6 * size, 2 * size**2],
        [-12, -6 * size, 12, -6 * size], [6 * size, 2 * size**2, -6 * size, 4 * size**2],
    ])  # fmt: skip
    for k in range(count):
        stiff[2 * k : 2 * k + 4, 2 * k : 2 * k + 4] += own
    stiff[1, 1] += 79300 * 2 * inertia / 450  # half the span twists for each arm
    load = np.zeros(2 * count + 2)
    load[-2] = 1.0
    return 1 / np.linalg.solve(stiff[1:, 1:], load[1:])[-2]


def lift(front_bar):
    """Where the coupe's inner rear tire carries nothing, in g, and the front's transfer in N/g: its moments, written out."""
    weight, stiff = C.weight, twisted() | {"front": twisted()["front"] + (front_bar - 90) * 1000 * 180 / math.pi}
    half, lean, out = C.front.track / 2, wheel(245.0, 3), wheel(245.0, 1)
    centers = {"rear": rigid.rates(bars(C.rear)).roll_center, "front": half * (out + lean * C.front.tire_radius)}
    own = {"rear": weight.rear_unsprung_mass, "front": weight.front_unsprung_mass}
    body = {"rear": weight.mass * 0.44 - own["rear"], "front": weight.mass * 0.56 - own["front"]}
    lean = {"rear": 0.0, "front": 1 - lean * half}
    wheels = {end: own[end] * 300.0 for end in own}
    over = weight.mass * weight.cg_height - sum(wheels.values()) - sum(body[end] * centers[end] for end in body)
    roll = (over + sum(wheels[end] * lean[end] for end in own)) * G / (sum(stiff.values()) - over * G)
    moved_by = {
        end: (body[end] * G * centers[end] + stiff[end] * roll + wheels[end] * (1 - lean[end]) * G) / axle.track
        for end, axle in C.axles()
    }
    return (
        weight.mass * 0.44 * G / 2 / moved_by["rear"],
        moved_by["front"],
        100 * moved_by["front"] / sum(moved_by.values()),
    )


def sideways(car):
    """mm of jacking for each g: the body's force times the way that solved positions show, over both springs."""
    body = car.weight.mass * (1 - car.weight.front_share) - car.weight.rear_unsprung_mass
    return -body * G * rigid.rates(bars(car.rear)).sideways / (2 * car.rear_springs.rate)


def arm_center():
    return rigid.rates(bars(ARM.rear)).instant_center


def degrees(number):
    return float(np.degrees(number))


NUMBERS = [  # where, car, quantity, the number, half of its last digit, second route
    ("A", M_COIL, "rear spring motion ratio", 0.9718, 5e-5, lambda: ratios(bars(M.rear), SEAT, TOP)[0]),
    ("A", M_COIL, "rear spring roll arm", 419.81, 5e-3, lambda: ratios(bars(M.rear), SEAT, TOP)[1]),
    ("A", C_COIL, "rear spring motion ratio", 1.0310, 5e-5, lambda: ratios(bars(C.rear), SEAT, TOP)[0]),
    ("A", C_COIL, "rear spring roll arm", 408.24, 5e-3, lambda: ratios(bars(C.rear), SEAT, TOP)[1]),
    ("A", M_COIL, "rear roll stiffness", 166, 0.5, lambda: energy_stiffness(bars(M.rear), SEAT, TOP, 27.0)),
    ("A", M_SEATS, "rear roll stiffness", 208, 0.5, lambda: 2 * 27 * 470**2 / 1000 * math.pi / 180),
    ("B", M, "rear pinion by upper link", -0.2518, 5e-5, lambda: degrees(per_mm(M.rear, 0, 0, 1, 0)[2])),
    ("B", C, "rear pinion by upper link", -0.2543, 5e-5, lambda: degrees(per_mm(C.rear, 0, 0, 1, 0)[2])),
    ("B", M, "rear pinion by lower links", 0.2559, 5e-5, lambda: degrees(per_mm(M.rear, 1, 1, 0, 0)[2])),
    ("B", M, "rear thrust angle by lower links", 0.1121, 5e-5, lambda: degrees(per_mm(M.rear, 1, -1, 0, 0)[3])),
    ("B", C, "rear thrust angle by lower links", 0.1129, 5e-5, lambda: degrees(per_mm(C.rear, 1, -1, 0, 0)[3])),
    ("B", M, "rear centering by Panhard bar", 0.962, 5e-4, lambda: per_mm(M.rear, 0, 0, 0, 1)[1]),
    ("B", M, "rear thrust angle by Panhard bar", -0.018, 5e-4, lambda: degrees(per_mm(M.rear, 0, 0, 0, 1)[3])),
    ("C", M, "rear shaft plunge", 0.0071, 5e-5, lambda: rigid.difference(lambda h: shaft_at(M.rear, M.shaft, h)[1], 0.5)),
    ("C", C, "rear shaft plunge", -0.2663, 5e-5, lambda: rigid.difference(lambda h: shaft_at(C.rear, C.shaft, h)[1], 0.5)),
    ("C", C_UP, "rear shaft length", numbers(C)["rear shaft length"] - 20, 0.5, lambda: shaft_at(C.rear, C.shaft, 60.0)[1]),
    ("C", M, "rear gearbox joint angle", 0.90, 5e-3, lambda: shaft_at(M.rear, M.shaft, 0.0)[0][0]),
    ("C", M, "rear pinion joint angle", 0.90, 5e-3, lambda: shaft_at(M.rear, M.shaft, 0.0)[0][1]),
    ("C", M_UP, "rear gearbox joint angle", 3.52, 5e-3, lambda: shaft_at(M.rear, M.shaft, 60.0)[0][0]),
    ("D", C, "front caster", 3.75, 5e-3, lambda: steering()[0]),
    ("D", C, "front steering axis inclination", 7.47, 5e-3, lambda: steering()[1]),
    ("D", C, "front scrub radius", 50.1, 0.05, lambda: steering()[2]),
    ("D", C, "front trail", 17.5, 0.05, lambda: steering()[3]),
    ("D", C, "front camber change", -0.00696, 5e-6, lambda: -degrees(wheel(245.0, 3))),
    ("D", BARE, "front camber change", -0.00699, 5e-6, planes),
    ("D", C, "front bump steer shim", 244.9 - 245, 0.05, no_steer),
    ("D", ARM, "front bump steer shim", -3.73, 5e-3, lambda: no_steer(ARM)),
    ("E", M, "scales' gain", 18.5, 0.05, raised),
    ("E", M, "height misread", 12.5, 0.05, lambda: (M.weight.cg_height - M.rear.tire_radius) / raised()),
    ("E", C, "rear tire load by perch", 34.2 / 5, 0.01, lambda: perched()[0]),
    ("E", C, "rear cross weight by perch", 100 * (34.2 + 33.5) / (5 * 1080 * G), 2e-4, lambda: 100 * sum(perched()) / (1080 * G)),
    ("E", C, "rear shaft torque transfer", 160 / (1080 * 4 * 0.3 / 4.1), 2e-3,
     lambda: 1000 * twisted()["front"] / sum(twisted().values()) / C.rear.track),
    ("F", BARRED, "rear anti-roll bar end rate", 33.34, 5e-3, bar_end),
    ("G", ARM, "rear side-view instant center x", 1150, 0.05, lambda: arm_center()[0]),
    ("G", ARM, "rear side-view instant center z", 335.8, 0.05, lambda: arm_center()[1]),
    ("10", TILTED, "rear jacking", 6.63, 5e-3, lambda: sideways(TILTED)),
    ("lessons", C, "front part of load transfer", 51.5, 0.05, lambda: lift(90.0)[2]),
    ("lessons", STIFF, "rear inner tire lift", 1.29, 5e-3, lambda: lift(300.0)[0]),
    ("lessons", STIFF, "front load transfer", 2147.3 + 148, 0.5, lambda: lift(300.0)[1]),
]  # fmt: skip


@pytest.mark.parametrize(("where", "car", "name", "value", "last", "route"), NUMBERS)
def test_a_number_by_library_by_a_second_route_and_by_hand(where, car, name, value, last, route):
    found = numbers(car, [name])[name]
    assert found == pytest.approx(value, abs=last)
    assert found == pytest.approx(float(route()), rel=1e-5, abs=1e-7)
    by_hand(car, name)


def by_hand(car, name):
    """The own lines are right; of a long way its first, middle and last are spoiled one by one, and named."""
    lines = [line for line, _ in written_out(car, name).lines]
    assert check_by_hand(car, name, "\n".join(lines)).kind == "right"
    for number, line in [(int(k), lines[k]) for k in {*np.linspace(0, len(lines) - 1, 3).astype(int)}]:
        head, _, result = line.rpartition(" = ")
        size, *unit = result.split()
        off = " ".join([f"{1.05 * float(size):.8g}" if float(size) else "1.5", *unit])
        verdict = check_by_hand(car, name, "\n".join([*lines[:number], f"{head} = {off}", *lines[number + 1 :]]))
        assert verdict.kind == "wrong", (line, str(verdict))
        assert len(lines) == 1 or re.match(rf"Line {number + 1}\b", verdict.sentences[0]), (line, str(verdict))


def test_the_numbers_that_are_no_quantity():
    """Turns of a thread, both joints at one height, the trade's rule for the shim, what a leaf comes to."""
    turn = 3.0 * numbers(M)["rear pinion by upper link"]  # two pitches of M16 x 1.5
    assert turn == pytest.approx(-0.76, abs=5e-3)
    up = shaft_travel(M.shaft, solve_travel(M.rear, 60.0))
    assert degrees(up.pinion) == pytest.approx(1.27, abs=5e-3)
    assert (degrees(up.gearbox), degrees(up.pinion)) == pytest.approx(shaft_at(M.rear, M.shaft, 60.0)[0])
    name = "rear pinion joint angle"  # of the car that stands so, which leaves out how the bar's swing turns the axle
    assert numbers(M_UP, [name])[name] == pytest.approx(1.27, abs=5e-3)
    by_hand(M_UP, name)
    gain = raised_weighing(M, raised())
    assert gain.height == pytest.approx(540) and gain.per_kg == pytest.approx(12.5, abs=0.05)
    assert perch(C, "rear", 5.0) == pytest.approx((34.2, 33.5), abs=0.05)
    axis = meet(C.front.lower.plane, C.front.upper.plane)
    near = brentq(lambda z: residual(moved(C.front, {"tie_rod.axle.z": z}).tie_rod.line, axis), 200, 300)
    assert near == pytest.approx(244.7, abs=0.05) and 245 + shim(C.front) == pytest.approx(244.9, abs=0.05)
    for leaf, share in (("uniform strength", 3 / 4), ("uniform section", 5 / 6)):
        link = leaf_link(Point(620, 480, 300), Point(0, 480, 300), leaf)
        assert float(link.length) / 620 == pytest.approx(share)


@pytest.mark.parametrize("car", [C, ARM], ids=["strut", "double wishbone"])
def test_the_shim_ends_bump_steer_on_both_kinds_of_front(car):
    """Solved by SciPy over 50 mm up and down: what steers at ride height is gone, and what is left bends both ways alike."""
    now = float(car.front.tie_rod.axle.z)
    toe = {
        z: [fronts.solve(knuckle(car, z), heave, 4)[5] for heave in (-50.0, -1.0, 1.0, 50.0)]
        for z in (now, now + shim(car.front))
    }
    assert abs(toe[now][2] - toe[now][1]) > 50 * abs(toe[now + shim(car.front)][2] - toe[now + shim(car.front)][1])
    if car is ARM:  # a shim of millimeters is felt: a third of a degree in 100 mm, and a tenth of that with it
        slope = {z: degrees(abs(found[3] - found[0])) for z, found in toe.items()}
        assert slope[now] > 0.3 and slope[now + shim(car.front)] < 0.1 * slope[now]
