"""How quick a solved corner is: ratios, measured in one run, side by side; run ``python tests/benchmarks/corner_speed.py``.

50 accelerations of one car by ``solve_corner``, against SciPy's general solver (``root``, by Powell's hybrid method) on the
same equations. What makes it fair: SciPy starts for each state from the one before, with the rods where they were; an
evaluation is of the equations alone, by the library's own arrays, with no more of the rods than brings them to length; its
derivatives are its own choice, from differences and then updated; its tolerance is that of ``solve_corner``, and what both
find is compared. They take turns: after each state of SciPy's, ``solve_corner`` solves all 50 from the start, with everything
that a call does. So a busy machine slows both alike, neither is the best of several tries, and seconds are of the processor.
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


class OneByOne:
    """The equations of one state, as a function of its 13 unknowns; the rods start from where they were."""

    def __init__(self, car):
        self.system, _ = equations(car, 1.0, "load", GRAVITY)
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


def in_turns(car, sizes):
    """Return SciPy's seconds for all states, those of one ``solve_corner``, and SciPy's unknowns, (accelerations, 13).

    Then how many evaluations each state took it, and what ``solve_corner`` found.
    """
    left_over, x, found, theirs, ours = OneByOne(car), np.zeros(13), [], 0.0, 0.0
    x[LOADS] = left_over.system.mass * GRAVITY / 4
    for size in sizes:
        start = time.process_time()
        x = root(left_over, x, args=(size,), options={"xtol": SMALL / 100}).x
        between = time.process_time()
        corner = solve_corner(car, sizes)
        theirs, ours = theirs + between - start, ours + time.process_time() - between
        found.append(x)
    return theirs, ours / len(sizes), np.array(found), left_over.evaluations / len(sizes), corner


if __name__ == "__main__":
    for name in ("club_coupe", "double_wishbone", "live_front", "torque_arm"):
        car, sizes = load_car(DATA / f"{name}.toml"), np.linspace(0.01, 0.6, 50) * GRAVITY
        solve_corner(car, sizes)
        theirs, ours, found, evaluations, corner = in_turns(car, sizes)
        apart = np.max(np.abs(np.degrees(found[:, 1] / 1000 - corner.roll)))
        loads = np.max(np.abs(found[:, 9] - corner.front.left))
        print(f"{name}: SciPy over solve_corner {theirs / ours:.0f} times (wanted: more than 50), ", end="")
        print(f"{evaluations:.0f} evaluations a state; {1000 * ours:.0f} ms for 50 states; ", end="")
        print(f"rolls within {apart:.1e} degrees, loads within {loads:.1e} N")
