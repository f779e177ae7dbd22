"""What saves a solved corner its time: guesses by cubics, zeros by false position. Its results are held in test_corner.py."""

import numpy as np
import pytest

from susgeo import load_car
from susgeo.loads import path
from susgeo.loads.cornering import GRAVITY
from susgeo.loads.equilibrium import ACCELERATION, PHI, Equations, equations

CARS = ("club_coupe", "double_wishbone", "live_front", "torque_arm")


@pytest.fixture
def counted(monkeypatch):
    """Count how often the equations of all places are worked out with their derivatives, or without."""
    whole, calls = Equations.linearized, []
    monkeypatch.setattr(Equations, "linearized", lambda *given, **more: calls.append(1) or whole(*given, **more))
    return calls


def followed(name, size):
    """Return one car's equations, and its path from rest."""
    system, _ = equations(load_car(name), size * GRAVITY, "load", GRAVITY)
    return system, path.followed(system, path.from_rest(system, np.sign([size])), np.array([size * GRAVITY]))


@pytest.mark.parametrize("name", CARS)
def test_a_guess_between_places_is_off_by_what_a_cubic_leaves(name):
    """By Hermite's cubics, some hundred times nearer than a straight line; acceleration is as wanted at once."""
    car, goal = load_car(name), np.linspace(0.02, 0.62, 25) * GRAVITY
    system, _ = equations(car, goal, "load", GRAVITY)
    _, paths = followed(name, 0.62)
    row = np.zeros(25, int)
    guess, (start, end), share, _ = path.guessed(paths, row, goal)
    true, _, ended = path.states(system, paths, row, goal)
    assert (ended == path.REACHED).all() and abs(guess.x[ACCELERATION] - goal).max() < 1e-12

    def straight(first, last):
        return first + share * (last - first)

    def off(one, two):
        return np.abs(one - two)[:7].max()

    assert off(guess.x, true.x) < off(straight(start.state.x, end.state.x), true.x) / 40
    for k in (0, 1):
        (q, slopes), (truth, steep), (first, _), (last, _) = (
            at.axles[k] for at in (guess, true, start.state, end.state)
        )
        assert off(q, truth) < off(straight(first, last), truth) / 3 and off(slopes, steep) < 1e-3


@pytest.mark.parametrize("name", CARS)
@pytest.mark.parametrize("way", [1, -1])
def test_an_end_is_found_in_few_steps(name, way, counted):
    """Measured: 10 to 24 times, for sixteen places and the end, where a tire lifts or the path turns back."""
    _, paths = followed(name, 1.4 * way)
    assert paths.ended[0] != path.REACHED and len(counted) <= 26


@pytest.mark.parametrize("of", [lambda share: share**5, lambda share: (1 - share) ** 5])
def test_a_zero_is_found_faster_than_by_halving(of, counted):
    """Of a power, where plain false position creeps: the end that stays, be it the first or the last, counts half."""
    system, paths = followed("double_wishbone", 0.7)
    start, end = paths.places[0], paths.places[6]
    whole = end.state.x[PHI, 0]
    found, sure = path._between(system, start, end, lambda at: of(at.state.x[PHI] / whole) - of(0.6))
    assert sure.all() and found.state.x[PHI, 0] == pytest.approx(0.6 * whole, rel=1e-6)
    assert len(counted) <= 45
