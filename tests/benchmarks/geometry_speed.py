"""How fast the quantities of many axles are, as ratios measured in one run: python tests/benchmarks/geometry_speed.py

No test asserts a time. Times depend on the machine; the ratios are what is promised:

- one call for a million axles at least 200 times faster per axle than the same call for one axle in a loop;
- within 5 times of the same formulas written out by hand for NumPy, without any check for degenerate cases;
- no slower than what SymPy's lambdify makes of the library's own formulas, with common subexpressions;
- ``import susgeo`` under twice the time of ``import numpy``.
"""

import argparse
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import sympy

from susgeo import Car, Link, LiveAxle, PanhardBar, Point, numbers, pair

NAMES = (
    "lower axle x, lower axle y, lower axle z, lower chassis x, lower chassis y, lower chassis z, "
    "upper axle x, upper axle z, upper chassis x, upper chassis z, "
    "bar axle x, bar axle y, bar axle z, bar chassis x, bar chassis y, bar chassis z"
).split(", ")
MIDDLE = (0, 500, 240, 600, 400, 290, -50, 470, 400, 450, -120, 480, 300, -120, -470, 300)
COUNT = "rear rods that locate"  # by singular values, so it is no formula and is timed by itself


def car(values: Any) -> Car:
    """Return a three-link axle with a Panhard bar from the sixteen dimensions named above."""
    ax, ay, az, cx, cy, cz, ux, uz, vx, vz, px, py, pz, qx, qy, qz = values
    return Car(
        "random",
        2700.0,
        LiveAxle(
            pair(Link(Point(ax, ay, az), Point(cx, cy, cz), "left lower link")),
            (Link(Point(ux, 0, uz), Point(vx, 0, vz), "upper link"),),
            PanhardBar(Point(px, py, pz), Point(qx, qy, qz)),
        ),
    )


def by_hand(values: Any) -> tuple[Any, ...]:
    """Return the same ten quantities as :func:`numbers`, written out for arrays and for this axle alone."""
    ax, ay, az, cx, cy, cz, ux, uz, vx, vz, px, py, pz, qx, qy, qz = values
    lower_dx, lower_dy, lower_dz = cx - ax, cy - ay, cz - az
    upper_dx, upper_dz = vx - ux, vz - uz
    lower_my, upper_my = az * cx - ax * cz, uz * vx - ux * vz
    ic_u = upper_dx * lower_my - lower_dx * upper_my
    ic_v = upper_dz * lower_my - lower_dz * upper_my
    ic_w = lower_dx * upper_dz - lower_dz * upper_dx
    low_x, low_z = ax * cy - ay * cx, az * cy - ay * cz
    bar_dy = qy - py
    bar_x, bar_z = px * qy - py * qx, pz * qy - py * qz
    axis_dx = bar_dy * low_x - lower_dy * bar_x
    axis_dz = bar_dy * low_z - lower_dy * bar_z
    axis_my = bar_z * low_x - bar_x * low_z
    slope = axis_dz / axis_dx
    return (
        ic_u / ic_w,
        ic_v / ic_w,
        low_x / lower_dy,
        low_z / lower_dy,
        bar_x / bar_dy,
        bar_z / bar_dy,
        axis_my / axis_dx,
        np.degrees(np.arctan(slope)),
        slope,
        np.degrees(ic_w / ic_u),
    )


BLOCK = 32768  # elements, few enough for a processor's cache


def in_blocks(function: Callable[[Any], Any], values: Any) -> list[Any]:
    """Return a function's results for many axles, worked out a block at a time."""
    found = [np.empty(len(values[0])) for _ in range(10)]
    for start in range(0, len(values[0]), BLOCK):
        block = slice(start, start + BLOCK)
        for whole, part in zip(found, function([value[block] for value in values]), strict=True):
            whole[block] = part
    return found


def geometry() -> list[str]:
    """Return the names of the quantities that are formulas."""
    return [name for name in numbers(car(MIDDLE)) if name != COUNT]


def lambdified() -> Callable[..., Any]:
    """Return the library's own formulas as SymPy makes a function of them."""
    symbols = sympy.symbols(",".join(name.replace(" ", "_") for name in NAMES))
    formulas = [numbers(car(symbols), [name])[name] for name in geometry()]
    return sympy.lambdify(symbols, formulas, "numpy", cse=True)  # type: ignore[no-any-return]


def lambdified_in_blocks(values: Any) -> Callable[[], Any]:
    made = lambdified()
    return partial(in_blocks, lambda part: made(*part), values)


ROWS = {
    "library, all axles in one call": lambda values: partial(numbers, car(values), geometry()),
    "  and counting the rods that locate": lambda values: partial(numbers, car(values)),
    "library, one axle at a time": lambda values: lambda: one_by_one(values, geometry()),
    "  and counting the rods that locate ": lambda values: lambda: one_by_one(values, None),
    "written by hand, whole arrays": lambda values: partial(by_hand, values),
    "written by hand, in blocks": lambda values: partial(in_blocks, by_hand, values),
    "lambdify, whole arrays": lambda values: partial(lambdified(), *values),
    "lambdify, in blocks": lambdified_in_blocks,
}
"""A way to get the numbers: from the values of all dimensions, a function that does it once."""
SINGLE = 1000  # axles, where they are taken one at a time


def one_by_one(values: Any, names: list[str] | None) -> None:
    for number in range(SINGLE):
        numbers(car([float(value[number]) for value in values]), names)


def dimensions(count: int) -> list[Any]:
    random = np.random.default_rng(1)
    return [middle + random.normal(0, 20, count) for middle in MIDDLE]


def best(function: Callable[[], Any], repeats: int = 7) -> float:
    """Return the shortest time in seconds."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--axles", type=int, default=1_000_000)
    parser.add_argument("--only", choices=ROWS, help="print the seconds per axle of one way")
    options = parser.parse_args()
    count = options.axles
    if options.only:
        done = SINGLE if "one axle" in options.only or options.only.endswith(" ") else count
        print(best(ROWS[options.only](dimensions(count))) / done)
        return

    few = dimensions(1000)
    ours, theirs, third = numbers(car(few), geometry()), by_hand(few), lambdified()(*few)
    for (name, one), two, three in zip(ours.items(), theirs, third, strict=True):
        np.testing.assert_allclose(one, two, rtol=1e-6, atol=1e-6, err_msg=name)
        np.testing.assert_allclose(one, three, rtol=1e-6, atol=1e-6, err_msg=name)

    print(f"{len(ours)} quantities of {count:,} axles, each way in a process of its own, best of seven\n")
    print(f"{'':40}{'per axle':>12}{'ratio':>10}")
    reference = 0.0
    for name in ROWS:
        command = [sys.executable, __file__, "--axles", str(count), "--only", name]
        seconds = float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        reference = reference or seconds
        print(f"{name:40}{seconds * 1e6:9.3f} us{seconds / reference:10.2f}")

    many = car(dimensions(count))
    tracemalloc.start()
    numbers(many, geometry())
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"\nmemory: {peak / count:.0f} bytes per axle at the peak, {8 * len(ours)} of them the results")

    times = {
        module: best(lambda module=module: subprocess.run([sys.executable, "-c", f"import {module}"], check=True))
        for module in ("sys", "numpy", "susgeo", "susgeo.car.carfile")
    }
    for module in ("susgeo", "susgeo.car.carfile"):
        share = (times[module] - times["sys"]) / (times["numpy"] - times["sys"])
        print(f"import {module}: {share:.2f} of import numpy")


if __name__ == "__main__":
    main()
