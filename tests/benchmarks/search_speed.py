"""How good and how quick the search is, against SciPy's optimizers on the same cars: ratios in one run, side by side.

Run ``python tests/benchmarks/search_speed.py``. Three problems of growing size. All judge by the same worst miss in steps, of the same
arrays of cars: SciPy's differential evolution takes them in batches as well, its least squares one at a time. Seconds are of the processor.
"""

import time

import numpy as np
from scipy.optimize import differential_evolution, least_squares

from susgeo import Bracket, Target, load_car, moved, search
from susgeo.results.many import Many

PLACES = {
    "rear.lower.chassis.z": (110, 210), "rear.upper.chassis.z": (320, 420), "rear.locator.axle.z": (240, 380), "rear.lower.axle.z": (165, 225),
    "rear.upper.chassis.x": (240, 320), "rear.upper.axle.z": (420, 470), "rear.locator.chassis.z": (240, 380),
}  # fmt: skip
WANTED = [
    Target("rear roll steer", -0.05, 0.03), Target("rear roll center height", 230, 260), Target("rear anti-squat", 55, 75),
    Target("rear side-view instant center x", 1100, 2000), Target("rear upper link force", high=3300, step=200),
    Target("rear left lower link force", high=3600, step=200), Target("rear ground clearance", 100, step=5), Target("rear anti-lift", 20, 40),
    Target("rear pinion angle since rest", -2, 2), Target("rear lowest margin", 8, step=1), Target("front tire load spread in the corner", high=2100, step=50),
]  # fmt: skip
HEIGHTS = (-40.0, -20.0, 0.0, 20.0, 40.0)


def misses(car, names, wanted, u):
    many = Many(moved(car, dict(zip(names, u[..., None], strict=True))), np.array(HEIGHTS))
    values = [np.atleast_2d(np.asarray(many.value(target.quantity), dtype=float)) for target in wanted]
    return [t.miss(np.broadcast_to(v, (u.shape[1], v.shape[1]))) for t, v in zip(wanted, values, strict=True)]


def seconds(work):
    start = time.process_time()
    found = work()
    return time.process_time() - start, found


def one(car, dims, count):
    names, wanted = list(PLACES)[:dims], WANTED[:count]
    limits = [PLACES[name] for name in names]
    low, high = np.array(limits, dtype=float).T

    def worst(u):
        each = [np.nan_to_num(miss.max(axis=1), nan=99.0) for miss in misses(car, names, wanted, u)]
        return np.maximum(np.max(each, axis=0), 0)

    def left_over(u):
        each = misses(car, names, wanted, u[:, None])
        return np.concatenate([np.nan_to_num(np.maximum(miss, 0), nan=99.0).reshape(-1) for miss in each])

    def from_three():
        starts = np.random.default_rng(1).uniform(low, high, (3, dims))
        given = {"bounds": (low, high), "x_scale": high - low, "max_nfev": 15, "diff_step": 1e-4}
        return min(float(left_over(least_squares(left_over, start, **given).x).max()) for start in starts)

    brackets = [Bracket(name.rpartition(".")[0], **{name[-1]: PLACES[name]}) for name in names]
    own, found = seconds(lambda: search(car, brackets, wanted, HEIGHTS))
    mine = max(0.0, *found.choices[found.best].misses.values())
    print(
        f"{dims} dimensions, {count} targets, 5 heights: own search {own:.1f} s, worst miss {mine:.2f} steps, {len(found.choices)} choices"
    )
    given = {"vectorized": True, "updating": "deferred", "seed": 1, "maxiter": 25, "popsize": 8, "polish": False}
    time_, other = seconds(lambda: differential_evolution(worst, limits, **given))
    print(f"   differential evolution: {time_ / own:.1f} times as long for one choice, worst miss {other.fun:.2f}")
    time_, least = seconds(from_three)
    print(
        f"   least squares from 3 places: {time_ / own:.1f} times as long for one choice, worst miss {least:.2f}",
        flush=True,
    )


def main():
    car = load_car("club_coupe")
    for dims, count in ((3, 4), (5, 8), (7, 11)):
        one(car, dims, count)


if __name__ == "__main__":
    main()
