"""How long marking takes, and how much memory, for a class of made-up students; run by hand.

    python tests/benchmarks/class_speed.py                          300 students of lesson 02, one worker, one stop
    python tests/benchmarks/class_speed.py 3000 --workers 2 --stops 5
    python tests/benchmarks/class_speed.py 30 --stops 0 --beside 30      and 30 of them by nbgrader's own commands

The marking is the command that instructors give. It is killed, and given again, as often as told, and every mark is
held against what a student of that kind must earn. A loop that any machine can run is timed before. Nothing here is a test: times are one machine's, and the time of
the processors is printed beside that of the clock, since other work may run beside it.
"""

from __future__ import annotations

import argparse
import csv
import os
import platform
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from classroom.earned import bounds  # noqa: E402
from susgeo.classroom.collect import collect  # noqa: E402
from susgeo.classroom.course import hand_out, make  # noqa: E402
from susgeo.classroom.grades import export  # noqa: E402
from susgeo.classroom.practice import hand_in_all, practice_class  # noqa: E402


def processors() -> float:
    """Return the seconds of processor that ended processes of this one have used."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def marking(course: Path, workers: int, until: int | None) -> int:
    """Give the command; kill it once ``until`` students are marked; return how many it told of."""
    command = [sys.executable, "-m", "susgeo.classroom.command", "mark", str(course), "02", "--workers", str(workers)]
    run = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    told = 0
    for line in run.stdout or ():
        told += " of " in line
        if until and told >= until:
            run.kill()
            break
    run.wait()
    return told


ALONE = """
from susgeo.classroom.settings import settle
c = get_config()
settle(c)
c.Autograde.sanitize_preprocessors = ["susgeo.classroom.preprocessor.AnswersOnly"] + [
    f"nbgrader.preprocessors.{step}"
    for step in ("ClearOutput", "DeduplicateIds", "OverwriteKernelspec", "OverwriteCells", "CheckCellMetadata")
]
del c.Autograde["autograde_preprocessors"], c.GenerateFeedback["exporter_class"], c.GenerateFeedback["preprocessors"]
"""
"""Our sheet of answers, marked in nbgrader's own way: its steps, a kernel, its feedback page."""


def by_nbgrader(course: Path, count: int) -> tuple[float, dict[str, float]]:
    """Mark some of a course's students by nbgrader's own commands; return seconds of processor each, and the marks."""
    other, used = course.with_name("beside"), processors()
    shutil.copytree(
        course, other, ignore=shutil.ignore_patterns("submitted", "autograded", "feedback", "inbox", "gradebook.db")
    )
    (other / "nbgrader_config.py").write_text(ALONE, "utf-8")
    for folder in sorted((course / "submitted").iterdir())[:count]:
        shutil.copytree(folder, other / "submitted" / folder.name)
    hand_out(other, "02")
    for command in ("autograde", "generate_feedback"):
        with (other / "said.txt").open("a") as said:
            subprocess.run(
                [sys.executable, "-m", "nbgrader", command, "02_side_view"],
                cwd=other,
                check=True,
                stdout=said,
                stderr=said,
            )
    marks = marks_in(other)
    return (processors() - used) / count, {
        folder.name: marks[folder.name] for folder in (other / "submitted").iterdir()
    }


def marks_in(course: Path) -> dict[str, float]:
    with export(course).open(encoding="utf-8") as file:
        return {row["student_id"]: float(row["score"]) for row in csv.DictReader(file)}


def loop() -> float:
    """Return the seconds of processor that twenty million turns of a loop take here."""
    start, x = time.process_time(), 0
    for i in range(20_000_000):
        x += i
    return time.process_time() - start


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("count", type=int, nargs="?", default=300)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--stops", type=int, default=1)
    parser.add_argument("--beside", type=int, default=0, help="so many students by nbgrader's own commands, too")
    asked = parser.parse_args()
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}; {asked}", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        course, students = Path(folder) / "course", practice_class(asked.count)
        start = time.monotonic()
        make(course, ["02"], students)
        hand_out(course, "02")
        print(f"made and handed out in {time.monotonic() - start:.0f} s", flush=True)
        hand_in_all(course, "02_side_view", students, course / "inbox")
        start = time.monotonic()
        collect(course, "02", course / "inbox")
        print(f"collected in {time.monotonic() - start:.1f} s; 20 million turns of a loop: {loop():.2f} s", flush=True)
        start = time.monotonic()
        for stop in range(asked.stops):
            told = marking(course, asked.workers, asked.count // (asked.stops + 1))
            print(f"stop {stop + 1} after {told} students, {time.monotonic() - start:.0f} s", flush=True)
        used = processors()  # what killed processes used is not known
        told = marking(course, asked.workers, None)
        spent, each = time.monotonic() - start, (processors() - used) / told
        print(f"marked in {spent / 60:.1f} min by the clock, {3600 * asked.count / spent:.0f} an hour; {told} at last")
        print(f"{each:.2f} s of processor a submission of the last run, {each / loop():.2f} of such a loop now")
        largest = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        print(f"most memory of any process it started: {largest:.0f} MB")
        marks = marks_in(course)
        wrong = [one.id for one in students if not (at := bounds(one.id))[0] <= marks.get(one.id, -1) <= at[1]]
        print(f"{len(marks)} marks, {len(wrong)} not as the student's kind must earn: {', '.join(wrong[:9]) or 'none'}")
        if asked.beside:
            alone, theirs = by_nbgrader(course, asked.beside)
            other = [one for one, mark in theirs.items() if mark != marks[one]]
            print(f"nbgrader's own commands: {alone:.2f} s a submission; ours are {each / alone:.3f} of it")
            print(f"{len(theirs)} marks of theirs, {len(other)} not as ours: {', '.join(other) or 'none'}")


if __name__ == "__main__":
    main()
