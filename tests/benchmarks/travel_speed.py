"""How fast travel is, as ratios measured in one run: python tests/benchmarks/travel_speed.py

No test asserts a time. Times depend on the machine; the ratios are what is promised, on a grid of 61 heaves
by 41 rolls of an axle with three links and a Panhard bar:

- at least 100 times faster than SciPy's ``root`` state by state, on a residual written for NumPy by hand;
- every rod's length met within 1e-9 mm;
- faster than MuJoCo stepping the same axle to rest;
- cost linear in the number of states; memory for each state printed.
"""

import argparse
import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.optimize import root

from susgeo import LiveAxle, solve_travel
from susgeo.travel.live import straight_rods

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from travel.test_travel import AXLES, mujoco_model, mujoco_settle, xyz

HEAVE, ROLL = np.linspace(-100, 100, 61)[:, None], np.radians(np.linspace(-6, 6, 41))


def seconds(work: Callable[[], object], times: int = 1) -> float:
    """Return the processor time of one call, so that other work on the machine disturbs less."""
    start = time.process_time()
    for _ in range(times):
        work()
    return (time.process_time() - start) / times


def residual(axle: LiveAxle) -> Callable[..., np.ndarray]:
    """Return how far rods are from their lengths, as one would write it for SciPy: all rods at once."""
    rods = straight_rods(axle)
    near, far = (np.array([xyz(getattr(rod, part)) for rod in rods]) for part in ("axle", "chassis"))
    lengths, middle = np.linalg.norm(near - far, axis=1), np.array([0.0, 0.0, axle.tire_radius])

    def of(q: np.ndarray, heave: float, roll: float) -> np.ndarray:
        x, y, pitch, yaw = q
        cp, sp, cy, sy, cr, sr = (np.cos(pitch), np.sin(pitch), np.cos(yaw), np.sin(yaw), np.cos(roll), np.sin(roll))
        turn = (
            np.array([[1, 0, 0], [0, cr, -sr], [0, sr, cr]])
            @ np.array([[cy, -sy, 0], [sy, cy, 0], [0, 0, 1]])
            @ np.array([[cp, 0, sp], [0, 1, 0], [-sp, 0, cp]])
        )
        apart = (near - middle) @ turn.T + (middle + [x, y, heave]) - far
        return np.sqrt((apart * apart).sum(axis=1)) - lengths

    return of


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=9, help="how often each comparison is repeated")
    rounds = parser.parse_args().rounds
    states = HEAVE.size * ROLL.size
    print(f"{'axle':24} {'ms for ' + str(states):>15} {'us/state':>9}")
    for name, axle in AXLES.items():
        cost = min(seconds(lambda axle=axle: solve_travel(axle, HEAVE, ROLL)) for _ in range(rounds))
        print(f"{name:24} {1e3 * cost:15.1f} {1e6 * cost / states:9.2f}")

    axle = AXLES["Panhard bar"]
    of, some = residual(axle), [(heave, roll) for heave in HEAVE[::12, 0] for roll in ROLL[::8]]
    ratios = []
    for _ in range(rounds):
        one = seconds(lambda: [root(of, np.zeros(4), state, tol=1e-12) for state in some]) / len(some)
        ratios.append(one * states / seconds(lambda: solve_travel(axle, HEAVE, ROLL), 4))
    found = solve_travel(axle, HEAVE, ROLL)
    moved = zip(straight_rods(axle), straight_rods(found.moved), strict=True)
    off = max(np.abs(np.linalg.norm(xyz(n.axle) - xyz(n.chassis), axis=-1) - s.length).max() for s, n in moved)
    differs = max(
        abs(value - np.broadcast_to(array, (61, 41))[12 * i, 8 * j])
        for i, heave in enumerate(HEAVE[::12, 0])
        for j, roll in enumerate(ROLL[::8])
        for value, array in zip(root(of, np.zeros(4), (heave, roll), tol=1e-12).x, (found.x, found.y), strict=False)
    )
    print(f"\nSciPy's root over travel: {statistics.median(ratios):.0f} times (wanted: 100 or more)")
    print(f"rods off their lengths by {off:.1e} mm at most (wanted: below 1e-9)")
    print(f"SciPy, {one * 1e6:.0f} us for each state, finds the same within {differs:.1e} mm")

    model = mujoco_model(axle)
    engine = statistics.median(seconds(lambda: mujoco_settle(model, 60.0, 0.05)) for _ in range(3))
    alone = statistics.median(seconds(lambda: solve_travel(axle, 60.0, 0.05), 20) for _ in range(3))
    grid = states * engine / seconds(lambda: solve_travel(axle, HEAVE, ROLL), 4)
    print(f"MuJoCo stepping to rest over travel: {engine / alone:.0f} times for one state (wanted: more than 1)")
    print(f"and {grid:.0f} times on the grid")

    costs = {}
    for count in (2_500, 10_000, 40_000, 160_000):
        heave, roll = np.linspace(-100, 100, count), np.radians(6 * np.cos(np.arange(count)))
        costs[count] = min(seconds(lambda h=heave, r=roll: solve_travel(axle, h, r)) for _ in range(3)) / count
    print("\n" + ", ".join(f"{count:,} states: {1e6 * cost:.2f} us each" for count, cost in costs.items()))
    share = costs[160_000] / costs[10_000]
    print(f"cost of a state among 160,000 over one among 10,000: {share:.2f} (linear: about 1)")
    tracemalloc.start()
    found = solve_travel(axle, heave, roll)
    kept, peak = (number / heave.size for number in tracemalloc.get_traced_memory())
    print(f"memory for each state: {kept:.0f} bytes kept, {peak:.0f} at most while it is solved")


if __name__ == "__main__":
    main()
