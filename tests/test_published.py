"""The library against print: four lines, a four-bar, two columns, Watt's curve, a no-squat line. Rounding as printed."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from outside.published import FOUR_BAR, HOLLOW_COLUMN, TUBE_COLUMN, TWO_TRANSVERSALS, no_squat_line, watts_curve
from susgeo import (
    Car,
    Line,
    Link,
    LiveAxle,
    PanhardBar,
    Point,
    WattsLinkage,
    Weight,
    anti_squat,
    buckling_load,
    join,
    margin,
    residual,
    solve_travel,
)
from susgeo.car.rods import transversals

METER, LONG = 1000.0, 1e7


def line(ends):
    """The line through two homogeneous points, a meter for each of the book's units, as long as one unit."""
    made = np.array([*join(*(Point(*(METER * v for v in p[:3]), p[3]) for p in ends))], float)
    return made / np.linalg.norm(made[:3])


def test_the_two_lines_that_meet_four_lines():
    given = [Line(*line(ends)) for ends in TWO_TRANSVERSALS["lines"]]
    found = [np.array([*each], float) for each in transversals(given)]
    for ends in TWO_TRANSVERSALS["transversals"]:
        printed = line(ends)
        assert max(abs(residual(Line(*printed), one)) for one in given) < 1e-3  # of mm: eight digits of a meter
        near = min(
            (sign * each / np.linalg.norm(each[:3]) for each in found for sign in (1, -1)),
            key=lambda each: np.abs(each - printed).max(),
        )
        # Eight digits are printed of lines that are conditioned to about a factor of ten.
        assert near[:3] == pytest.approx(printed[:3], abs=5e-7)
        assert near[3:] == pytest.approx(printed[3:], abs=5e-7 * np.abs(printed[3:]).max())


def refined():
    """The printed design with more digits: its bars keep their lengths in all five positions (SciPy)."""
    points, pivots = np.array(FOUR_BAR["points"]), np.array(FOUR_BAR["pivots"])

    def broken(unknown):
        joints, angles = unknown[:4].reshape(2, 2), unknown[4:]
        off = []
        for point, angle in zip(points[1:], angles, strict=True):
            turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
            for joint, pivot in zip(joints, pivots, strict=True):
                now, then = point + turn @ joint - pivot, points[0] + joint - pivot
                off.append(now @ now - then @ then)
        return off

    printed = np.ravel(FOUR_BAR["joints"])
    starts = np.random.default_rng(1).uniform(-np.pi, np.pi, (200, 4))
    for start in starts:
        found = least_squares(broken, np.r_[printed, start], xtol=1e-15, ftol=1e-15, gtol=1e-15)
        if found.cost < 1e-24 and np.abs(found.x[:4] - printed).max() < 5e-5:
            return found.x[:4].reshape(2, 2)
    raise AssertionError("the printed design does not solve its own equations to four digits")


def test_a_cranks_pivot_goes_through_the_five_points_of_a_printed_four_bar():
    """A Watt's linkage is a four-bar, its crank the coupler. The axle goes upright and carries the crank's pivot along."""
    scale, joints = 100.0, refined()
    points = scale * np.array(FOUR_BAR["points"])
    first = points[0]

    def place(across, up):
        return Point(0.0, float(across), float(up))

    (left, right), (foot, other) = first + scale * joints, scale * np.array(FOUR_BAR["pivots"])
    axle = LiveAxle(
        lower=tuple(
            Link(Point(0.0, side, 200.0), Point(LONG, side, 200.0), f"lower {side}") for side in (500.0, -500.0)
        ),
        upper=(Link(Point(0.0, 0.0, 500.0), Point(LONG, 0.0, 500.0), "upper"),),
        locator=WattsLinkage(
            pivot=place(*first), left_crank=place(*right), left_end=place(*other),
            right_crank=place(*left), right_end=place(*foot), pivot_on="axle",
        ),
    )  # fmt: skip
    travel = solve_travel(axle, heave=points[:, 1] - first[1])
    assert np.all(travel.reached)
    assert first[0] + travel.y == pytest.approx(points[:, 0], abs=1e-5)  # of 133 mm; the links of 10 km do the rest


def test_the_printed_column():
    book = TUBE_COLUMN
    wall = (book["outer [mm]"] - book["inner [mm]"]) / 2
    load = buckling_load(book["length [mm]"], book["outer [mm]"], wall, book["modulus [N/mm2]"])
    assert round(load / 1000, 1) == book["load [kN]"]


def test_the_worked_hollow_column():
    """By the default modulus, which is the book's: Euler's load, slenderness, and the area that yields."""
    book = HOLLOW_COLUMN
    size = book["length [mm]"], book["outer [mm]"]
    load = buckling_load(*size, book["wall [mm]"])
    assert math.floor(load / 100) / 10 == book["load [kN]"]
    assert load == pytest.approx(
        math.pi**2 * book["modulus [N/mm2]"] * book["second moment [mm4]"] / size[0] ** 2, rel=2e-5
    )
    found = margin(-1000.0, *size, 30_000.0, wall=book["wall [mm]"], yield_strength=100.0)
    assert round(size[0] / found.slenderness, 1) == book["radius of gyration [mm]"]
    assert round(10 * found.yielding, 1) == book["area [mm2]"]


@pytest.mark.parametrize(("ahead", "axle_mass"), [(900.0, 140.0), (1800.0, 90.0), (4000.0, 205.0)])
def test_the_published_no_squat_line_is_our_hundred_percent(ahead, axle_mass):
    mass, radius, base, height = 1190.0, 315.0, 2610.0, 545.0
    up = no_squat_line(mass, axle_mass, radius, base, height, ahead)

    def toward(x, z, y=0.0, share=0.3):  # a link whose line goes through the instant center
        return Link(Point(x, y, z), Point(x + share * (ahead - x), 0.9 * y, z + share * (up - z)), "link")

    low = toward(10.0, 235.0, 480.0)
    right = Link(*(Point(p.x, -p.y, p.z) for p in (low.axle, low.chassis)), "right link")
    bar = PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300))
    axle = LiveAxle((low, right), (toward(-40.0, 460.0),), bar, tire_radius=radius)
    car = Car("", base, axle, weight=Weight(mass, 0.5, height, rear_unsprung_mass=axle_mass))
    assert anti_squat(car, own_mass=True) == pytest.approx(100, rel=1e-12)
    assert abs(anti_squat(car) - 100) > 1  # without the axle's own mass it is not the same line


@pytest.mark.parametrize(("rod", "arm"), [(500.0, 70.0), (380.0, 90.0)])
def test_a_watts_linkage_of_the_library_draws_watts_curve(rod, arm):
    """The closed form, over most of the way that the linkage can go."""
    middle = 330.0
    axle = LiveAxle(
        lower=tuple(
            Link(Point(0.0, side, 200.0), Point(LONG, side, 200.0), f"lower {side}") for side in (500.0, -500.0)
        ),
        upper=(Link(Point(0.0, 0.0, 500.0), Point(LONG, 0.0, 500.0), "upper"),),
        locator=WattsLinkage(
            Point(0.0, 0.0, middle), Point(0.0, 0.0, middle + arm), Point(0.0, rod, middle + arm),
            Point(0.0, 0.0, middle - arm), Point(0.0, -rod, middle - arm), "axle",
        ),
    )  # fmt: skip
    rise = np.array([-2.2, -1.5, -0.7, 0.4, 1.3, 2.0]) * arm
    across = solve_travel(axle, heave=rise).y
    radius, angle = np.hypot(across, rise), np.arctan2(rise, across) - np.arctan2(arm, rod)
    branches = np.array(watts_curve(np.hypot(rod, arm), rod, arm, angle))
    assert np.nanmin(np.abs(branches - radius**2), axis=0) / (2 * radius) == pytest.approx(0, abs=1e-5)
