"""Independent fronts against ``outside.fronts``: the knuckle as a rigid body, its positions by SciPy and its forces by free bodies.

The library finds the roll center and both instant centers as meets of planes. Here no plane is met with another:
speeds are differences of solved positions, forces the answer of six equations.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from outside import fronts
from susgeo import coordinates, load_car, read_car
from susgeo.car.front import Arm
from susgeo.loads.anti import anti_dive
from susgeo.travel.live import solve_travel

DATA = Path(__file__).resolve().parents[2] / "data"
CARS = ["club_coupe", "double_wishbone", *(f"{kind} {seed}" for kind in fronts.KINDS for seed in range(10))]
HEAVES = (-50.0, -20.0, 0.0, 15.0, 40.0)


def plain(front):
    """Return a front of the library as plain data, as it was read from its file."""
    data = {"lower": arm(front.lower)}
    if isinstance(front.upper, Arm):
        data["upper"] = arm(front.upper)
    else:
        data["strut"] = coordinates(front.upper.lower_point), coordinates(front.upper.top_mount)
    if front.tie_rod is not None:
        data["tie_rod"] = coordinates(front.tie_rod.axle), coordinates(front.tie_rod.chassis)
    return data


def arm(one):
    return tuple(coordinates(place) for place in (one.ball_joint, one.front_pivot, one.rear_pivot))


@cache
def both(name):
    """Return one car twice: as the library reads it, and its front as plain points."""
    kind, _, seed = name.rpartition(" ")
    if not kind:
        car = load_car(DATA / f"{name}.toml")
        return car, fronts.standing(plain(car.front), float(car.front.track), float(car.front.tire_radius))
    data, track, radius = fronts.plausible(kind, int(seed)), 1400 + 10 * int(seed), 290 + 3 * int(seed)
    return read_car(fronts.car_file(data, track, radius)), fronts.standing(data, track, radius)


@cache
def at(name, heave):
    """Return car and plain front at a heave; each side found it by its own means."""
    car, front = both(name)
    now = solve_travel(car.front, heave).moved if heave else car.front
    return replace(car, front=now), fronts.moved(front, heave) if heave else front


@pytest.mark.parametrize("name", CARS)
def test_travel_of_the_knuckle(name):
    car, front = both(name)
    travel = solve_travel(car.front, np.array(HEAVES))
    found = np.array([travel.x, travel.y, travel.heave, travel.roll, travel.pitch, travel.yaw]).T
    truth = np.array([fronts.solve(front, heave, 4) for heave in HEAVES])
    worst = np.abs(found - truth).max(0)
    assert max(worst[:3]) < 1e-10 and max(worst[3:]) < 1e-13  # measured: 1e-13 mm and 1e-15 rad
    assert np.ptp(truth[:, 3]) > 0.01  # it leans: nothing was compared with nothing
    for heave in HEAVES:
        now, then = at(name, heave)
        assert now.front.track == pytest.approx(2 * then.patch[1], abs=1e-9)
        assert now.front.tire_radius == pytest.approx(then.center[2], abs=1e-9)


def below(front):
    """The contact patch as the library has it: below the wheel-center line, at x = 0."""
    return front.patch * np.array([0, 1, 1])


def percent(car):
    """Anti-dive for a slope of one."""
    return 100 * car.brake_front_share * car.wheelbase / car.weight.cg_height


@pytest.mark.parametrize("heave", HEAVES)
@pytest.mark.parametrize("name", CARS)
def test_centers_and_anti_dive_from_the_paths_of_the_knuckle(name, heave):
    car, front = at(name, heave)
    truth = fronts.rates(fronts.with_idle_tie_rod(front), below(front))
    # Measured over all of these, in the order below: 2e-7 mm, 2e-12, 6e-10, 3e-13, 4e-11 and 1e-8 points. Places are
    # compared by one over their distance and by their slope: the coupe's center goes by way of infinity.
    assert float(car.front.roll_center_height) == pytest.approx(truth.roll_center, abs=5e-6)
    u, v, w = car.front.front_view_instant_center
    y, z = truth.front_center
    assert float(w / u) == pytest.approx(1 / y, abs=5e-11)
    assert float(v / u) == pytest.approx(z / y, abs=1e-8)
    u, _, w = car.front.side_view_instant_center
    assert float(w / u) == pytest.approx(truth.side_closing, abs=1e-11)
    assert float(car.front.anti_slope) == pytest.approx(truth.side_slope, abs=1e-9)
    assert float(anti_dive(car)) == pytest.approx(percent(car) * truth.side_slope, abs=5e-7)


@pytest.mark.parametrize("heave", HEAVES)
@pytest.mark.parametrize("name", CARS)
def test_roll_center_and_anti_dive_by_free_bodies(name, heave):
    car, front = at(name, heave)
    idle, patch = fronts.with_idle_tie_rod(front), below(front)
    # Measured over all of these: 4e-11 mm and 6e-12 points.
    height, share = (
        fronts.height_of_the_sideways_force(idle, patch),
        fronts.links_part_of_braking(idle, patch),
    )
    assert float(car.front.roll_center_height) == pytest.approx(height, abs=1e-9)
    assert float(anti_dive(car)) == pytest.approx(percent(car) * share, abs=1e-9)
    # A tire that is toed and cambered stands a hair ahead of or behind its center, which the library leaves out:
    # measured 0.42 mm, worth 0.03 mm and 0.01 points.
    height, share = (
        force(idle, front.patch)
        for force in (fronts.height_of_the_sideways_force, fronts.links_part_of_braking)
    )
    assert abs(front.patch[0]) < 1
    assert float(car.front.roll_center_height) == pytest.approx(height, abs=0.1)
    assert float(anti_dive(car)) == pytest.approx(percent(car) * share, abs=0.05)


@pytest.mark.parametrize(
    ("name", "height", "share"),
    [("club_coupe", -0.114, -0.148), ("strut 1", 37.99, 5.020), ("double wishbone 5", -3.142, -1.892)],
)
def test_the_drawing_leaves_out_what_a_tie_rod_does_that_steers_in_bump(name, height, share):
    """The two planes speak of an idle tie rod. By how much the own one shifts roll center (mm) and anti-dive (points)."""
    car, front = at(name, 0.0)
    found = fronts.height_of_the_sideways_force(front, front.patch) - float(car.front.roll_center_height)
    assert found == pytest.approx(height, rel=0.01)
    found = percent(car) * fronts.links_part_of_braking(front, front.patch) - float(anti_dive(car))
    assert found == pytest.approx(share, rel=0.01)
    by_paths = fronts.rates(front, front.patch)  # and the paths say the same as the forces
    assert by_paths.roll_center == pytest.approx(
        fronts.height_of_the_sideways_force(front, front.patch), abs=5e-6
    )
    assert by_paths.side_slope == pytest.approx(fronts.links_part_of_braking(front, front.patch), abs=1e-8)
