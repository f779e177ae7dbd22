"""How long marking takes, and how much memory, for a class of made-up students; run by hand.

    python tests/benchmarks/class_speed.py          300 students of lesson 02, a quarter of an hour
    python tests/benchmarks/class_speed.py 30       fewer

Half-way the marking is stopped and begun again, as after a power cut. Nothing here is a test: times are one
machine's.
"""

from __future__ import annotations

import os
import platform
import resource
import statistics
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from susgeo.classroom.collect import collect  # noqa: E402
from susgeo.classroom.course import hand_out, make  # noqa: E402
from susgeo.classroom.marking import BATCH, mark  # noqa: E402
from susgeo.classroom.practice import hand_in_all, practice_class  # noqa: E402


class Stop(Exception):
    """The power cut."""


def largest() -> tuple[float, float]:
    """Return the most memory, in MB, that this process and that any process it started has had so far, on Linux."""
    whose = resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN
    own, others = (resource.getrusage(one).ru_maxrss / 1024 for one in whose)
    return own, others


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}; {count} students")
    with tempfile.TemporaryDirectory() as folder:
        course, students = Path(folder) / "course", practice_class(count)
        start = time.monotonic()
        make(course, ["02"], students)
        hand_out(course, "02")
        print(f"made and handed out in {time.monotonic() - start:.0f} s")
        hand_in_all(course, "02_side_view", students, course / "inbox")
        start = time.monotonic()
        collect(course, "02", course / "inbox")
        print(f"collected in {time.monotonic() - start:.1f} s")
        times, sizes, last = [], [], time.monotonic()

        def tell(line: str) -> None:
            nonlocal last
            now = time.monotonic()
            times.append(now - last)
            sizes.append(largest())
            last = now
            if len(times) == count // 2:
                raise Stop

        start = time.monotonic()
        try:
            mark(course, "02", tell)
        except Stop:
            last = time.monotonic()
        done = mark(course, "02", tell)
        spent = time.monotonic() - start
        print(
            f"marked in {spent:.0f} s, {3600 * count / spent:.0f} an hour; median {statistics.median(times):.2f} s each"
        )
        print(f"begun again: {len(done.before)} kept, {len(done.now)} marked, {len(done.failed)} failed")
        names = "the marker", "any process it started"
        for name, early, late in zip(names, sizes[min(2 * BATCH, len(sizes) - 1)], largest(), strict=True):
            print(f"most memory of {name}: {early:.0f} MB after two batches, {late:.0f} MB after all of them")


if __name__ == "__main__":
    main()
