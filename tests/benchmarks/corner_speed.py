"""How quick a solved corner is: ratios, measured in one run, side by side; run ``python tests/benchmarks/corner_speed.py``.

50 accelerations of one car by ``solve_corner``, against SciPy's general solver on the same equations, started for each
state from the one before. Each of its evaluations goes three times through equations and derivatives, to bring the rods to
length: leaner ones would halve the ratio or more. Seconds are of the processor.
"""

import time
from pathlib import Path

import numpy as np
from scipy.optimize import root

from susgeo import load_car, solve_corner
from susgeo.loads.cornering import GRAVITY
from susgeo.loads.equilibrium import ACCELERATION, LOADS, State, equations

DATA = Path(__file__).resolve().parents[2] / "data"


def seconds(work, *given):
    start = time.process_time()
    found = work(*given)
    return time.process_time() - start, found


def one_by_one(car, sizes):
    """Return the states' unknowns, (accelerations, 13), by SciPy, from standing on."""
    system, _ = equations(car, sizes[0], True, GRAVITY)
    x = np.zeros((14, 1))
    x[LOADS] = system.mass * GRAVITY / 4
    state, found = State(x, tuple(held.at_rest(1) for held in system.held)), []
    for _ in range(2):
        _, _, state, _ = system.linearized(state)
    for size in sizes:

        def left_over(unknown, size=size):
            nonlocal state
            state = state._replace(x=np.append(unknown, size)[:, None])
            for _ in range(3):  # the rods' lengths
                rest, _, state, _ = system.linearized(state)
            return rest[:, 0]

        x[:-1, 0] = root(left_over, x[:-1, 0], options={"xtol": 1e-10}).x
        x[ACCELERATION] = size
        found.append(x[:-1, 0].copy())
    return np.array(found)


if __name__ == "__main__":
    for name in ("club_coupe", "double_wishbone", "live_front"):
        car, sizes = load_car(DATA / f"{name}.toml"), np.linspace(0.01, 0.6, 50) * GRAVITY
        solve_corner(car, sizes)
        ours, corner = min((seconds(solve_corner, car, sizes) for _ in range(3)), key=lambda pair: pair[0])
        theirs, found = seconds(one_by_one, car, sizes)
        apart = np.max(np.abs(np.degrees(found[:, 1] / 1000 - corner.roll)))
        print(f"{name}: SciPy over solve_corner {theirs / ours:.0f} times (wanted: more than 50); ", end="")
        print(f"{1000 * ours:.0f} ms for 50 states; rolls within {apart:.1e} degrees")
