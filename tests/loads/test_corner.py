"""The solved corner against free bodies, its own limits, a general-purpose engine, and two computations made elsewhere."""

from pathlib import Path

import numpy as np
import pytest

from susgeo import SusgeoError, load_car, solve_corner
from susgeo.loads.cornering import GRAVITY

DATA = Path(__file__).resolve().parents[2] / "data"


def test_the_coupe_as_two_computations_that_share_nothing_have_it():
    """Solved beforehand in MuJoCo and by a Newton code written for it, within 0.2 N and 0.003 degrees of each other."""
    coupe = load_car(DATA / "club_coupe.toml")
    corner = solve_corner(coupe, np.array([0.1, 0.3, 0.5, 0.6, 0.65]) * GRAVITY)
    assert np.degrees(corner.roll) == pytest.approx([0.608, 1.890, 3.423, 4.466, 5.243], abs=6e-4)
    assert corner.rear.left[3:] == pytest.approx([1008, 841], abs=0.5)
    assert corner.front.right_travel[4] == pytest.approx(92, abs=0.5)
    ends = solve_corner(coupe, np.array([0.69, -0.71]) * GRAVITY)
    assert np.all(np.isnan(ends.roll)) and np.all(np.isnan(ends.rear.left))
    assert ends.ended / GRAVITY == pytest.approx([0.676, -0.698], abs=5e-4)
    assert all("no equilibrium" in sentence for sentence in ends.ends) and len(ends.ends) == 2
    with pytest.raises(
        SusgeoError, match=r"no steady corner\. To the left no equilibrium is left beyond 0\.676 g"
    ):
        solve_corner(coupe, 0.69 * GRAVITY)
    with pytest.raises(SusgeoError, match=r"beyond 0\.797 g"):
        solve_corner(coupe, 0.8 * GRAVITY, sharing="equal")


def test_the_wishbone_car_as_they_have_it():
    car = load_car(DATA / "double_wishbone.toml")
    corner = solve_corner(car, np.array([0.5, 1.0, -1.0]) * GRAVITY)
    assert np.degrees(corner.roll) == pytest.approx([2.496, 5.226, -4.972], abs=6e-4)
    for way, tire, size in ((1, "front left", 1.09), (-1, "front right", 1.14)):
        end = solve_corner(car, np.array([way * 1.3 * GRAVITY]))
        assert abs(end.ended[0]) / GRAVITY == pytest.approx(size, abs=6e-3)
        assert f"the {tire} tire lifts" in end.ends[0]
