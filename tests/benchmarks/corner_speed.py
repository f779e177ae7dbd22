"""How quick a solved corner is: ratios, measured in one run, side by side; run ``python tests/benchmarks/corner_speed.py``.

50 accelerations of one car by ``solve_corner``, against SciPy's general solver (``root``, by Powell's hybrid method) on the
same equations. It starts for each state from the one before, with the rods where they were; an evaluation is of the
equations alone, with no more of the rods than brings them to length. Its tolerance is that of ``solve_corner``: what both
find is compared. Seconds are of the processor.
"""

import time
from pathlib import Path

import numpy as np
from scipy.optimize import root

from susgeo import load_car, solve_corner
from susgeo.loads.cornering import GRAVITY
from susgeo.loads.equilibrium import LOADS, MIRROR, TRAVELS, equations
from susgeo.loads.path import SMALL
from susgeo.travel.newton import RESIDUAL

DATA = Path(__file__).resolve().parents[2] / "data"


def seconds(work, *given):
    start = time.process_time()
    found = work(*given)
    return time.process_time() - start, found


class OneByOne:
    """The equations of one state, as a function of its 13 unknowns; the rods start from where they were."""

    def __init__(self, car):
        self.system, _ = equations(car, 1.0, True, GRAVITY)
        self.rods = [held.at_rest(1) for held in self.system.held]
        self.evaluations = 0

    def wheels(self, number, travels):
        """Pose and its slopes of both wheels of an axle, once its rods have their lengths."""
        held, (q, slopes) = self.system.held[number], self.rods[number]
        scale, two = held.scale[:, None, None], travels.reshape(2, 1)
        wanted = (two[:, None] if held.live else two[None]) * scale
        q = q + np.einsum("rgsn,gsn->rsn", slopes, (wanted - q[held.given]) / scale)
        q[held.given], off = wanted, 1.0
        while np.max(np.abs(off)) > RESIDUAL:
            new, off = held._slopes(q[:, None])
            slopes = new[:, :, 0]
            q[held.unknown] += off[:, 0]
        self.rods[number] = q, slopes
        pose, each = np.zeros((6, 2, 1, 1)), np.zeros((6, 2, 2, 1, 1))
        for side in (0, 1):
            pose[:, side, 0] = q[:6, 0 if held.live else side]
            if held.live:
                each[:, side, :, 0] = slopes[:6, :, 0]
            else:
                each[:, side, side, 0] = slopes[:6, 0, side]
        if not held.live:
            pose[:, 1] *= MIRROR
            each[:, 1, 1] *= MIRROR
        return pose, each

    def __call__(self, unknown, size):
        self.evaluations += 1
        x = np.append(unknown, size)[:, None, None]
        travels = x[TRAVELS].reshape(2, 2, 1, 1)
        both = [self.wheels(number, travels[number]) for number in (0, 1)]
        pose, slopes = (np.concatenate(parts, axis=1) for parts in zip(*both, strict=True))
        body = x[:3] / np.array([1.0, 1000.0, 1000.0])[:, None, None]
        return self.system.residual(self.system.wheels(pose, slopes, body, travels), x)[:, 0, 0]


def one_by_one(car, sizes):
    """Return the states' unknowns, (accelerations, 13), by SciPy, from standing on, and evaluations for each."""
    left_over, x, found = OneByOne(car), np.zeros(13), []
    x[LOADS] = left_over.system.mass * GRAVITY / 4
    for size in sizes:
        x = root(left_over, x, args=(size,), options={"xtol": SMALL / 100}).x
        found.append(x)
    return np.array(found), left_over.evaluations / len(sizes)


if __name__ == "__main__":
    for name in ("club_coupe", "double_wishbone", "live_front"):
        car, sizes = load_car(DATA / f"{name}.toml"), np.linspace(0.01, 0.6, 50) * GRAVITY
        solve_corner(car, sizes)
        ours, corner = min((seconds(solve_corner, car, sizes) for _ in range(3)), key=lambda pair: pair[0])
        theirs, (found, evaluations) = min(
            (seconds(one_by_one, car, sizes) for _ in range(2)), key=lambda pair: pair[0]
        )
        apart = np.max(np.abs(np.degrees(found[:, 1] / 1000 - corner.roll)))
        loads = np.max(np.abs(found[:, 9] - corner.front.left))
        print(f"{name}: SciPy over solve_corner {theirs / ours:.0f} times (wanted: more than 50), ", end="")
        print(f"{evaluations:.0f} evaluations a state; {1000 * ours:.0f} ms for 50 states; ", end="")
        print(f"rolls within {apart:.1e} degrees, loads within {loads:.1e} N")
