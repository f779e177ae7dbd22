"""The instructor's commands: ``python -m susgeo class make COURSE``, and so on; started by the launcher."""

import argparse
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from datetime import datetime
from pathlib import Path

from ..answers.contents import titles
from ..errors import SusgeoError
from ..files import alone_in
from ..printing import SIZES
from .collect import Arrival, collect
from .course import class_list, hand_out, make, make_test, print_tasks
from .names import master, read_class
from .practice import hand_in_all, practice_class

USAGE = """\
python -m susgeo class practice COURSE           a made-up class of 30, to try everything: make, hand out, hand in
python -m susgeo class make COURSE LIST.csv 02   an nbgrader course for a class list, with lesson 02 (or more of them)
python -m susgeo class hand_out COURSE 02        each student's own copy, in COURSE/hand_out
python -m susgeo class test COURSE 02            make lesson 02 a test, before handing out: no verdicts, no solutions
python -m susgeo class print COURSE 02           everybody's tasks on figures of their own, and the key, as PDFs to print
     --paper Letter   in the place of A4
python -m susgeo class collect COURSE 02 INBOX   take in what came: notebooks or zips in the folder INBOX
python -m susgeo class mark COURSE 02            mark it with nbgrader; start it again if it was stopped
     --workers 2   so many at a time   --part 1/4   the first of four parts   --again ID   these once more
python -m susgeo class hand_back COURSE 02       each student's feedback, one page each, in COURSE/hand_back
python -m susgeo class export COURSE             all marks: grades.csv, and a table with a column for each task
python -m susgeo class deadline COURSE 02 "2027-01-31 20:00"   when a lesson is due; nbgrader's late policy holds
python -m susgeo class look COURSE               marks, tasks and mistakes of the class, as text
python -m susgeo class copies COURSE             wrong numbers that are right on another student's figures
A class list is a CSV file whose first line is id,first_name,last_name; lists exported by a system are read too."""


def main(arguments: list[str]) -> int:
    """Carry out one command and return the exit status."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a name that an old terminal cannot show stops nothing
    command, *rest = arguments or ["help"]
    run = COMMANDS.get(command)
    try:
        if run is None or "-h" in rest or "--help" in rest:
            print(USAGE, flush=True)
            return 0 if command in ("help", "-h", "--help") or run else 2
        status = run(rest)
        sys.stdout.flush()
        return status
    except BrokenPipeError:  # whoever read what this says has gone, as "| head" does
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return 1
    except SusgeoError as problem:
        print(problem, file=sys.stderr)
    except OSError as problem:
        where = f" at {Path(str(problem.filename)).name}" if problem.filename else ""
        print(
            f"The disk or a folder refused{where}: {problem.strerror}. See to it, then give the command again.",
            file=sys.stderr,
        )
    except ImportError as problem:
        mend = "give the command as python -m susgeo class, or install it beside nbgrader, then do it again"
        print(f"A package is missing: {problem.name}; {mend}.", file=sys.stderr)
    except Exception as problem:  # SQLAlchemy is loaded by the commands that open the gradebook, and by no other
        if not type(problem).__module__.startswith(("sqlalchemy", "sqlite3")):
            raise
        why = str(getattr(problem, "orig", problem)).splitlines()[0]
        print(f"The gradebook refused: {why}. See to it, then give the command again.", file=sys.stderr)
    return 1


class _Words(argparse.ArgumentParser):
    """Reads a command's words; what is wrong with them is a sentence."""

    def error(self, message: str) -> None:  # type: ignore[override]
        raise SusgeoError(f"{message[0].upper()}{message[1:]}; it is written\n{USAGE}")


def _read(rest: list[str], *names: str, **options: dict[str, object]) -> argparse.Namespace:
    """Read the words of a command: the course's folder, then what has these names."""
    words = _Words(add_help=False)
    words.add_argument("course", type=Path)
    for name in names:
        words.add_argument(name.rstrip("+"), **({"nargs": "+"} if name.endswith("+") else {}))  # type: ignore[arg-type]
    for name, about in options.items():
        words.add_argument(f"--{name}", **about)  # type: ignore[arg-type]
    return words.parse_args(rest)


@contextmanager
def _alone(rest: list[str], *names: str) -> Iterator[argparse.Namespace]:
    """Read the words of a command that works alone in a course, which has to be there."""
    told = _read(rest, *names)
    class_list(told.course)
    with alone_in(told.course):
        yield told


def _practice(rest: list[str]) -> int:
    course = _read(rest).course
    if (course / "nbgrader_config.py").exists() and not all("-" in name for name in class_list(course)):
        raise SusgeoError(f"{course.name} is a course already: give the practice class a folder of its own.")
    with alone_in(course):
        students, lesson = practice_class(), master("02").stem
        make(course, [lesson], students)
        hand_out(course, lesson)
        hand_in_all(course, lesson, students, course / "inbox")
    print(
        f"{len(students)} made-up students have handed in lesson 02, in {course / 'inbox'}; there are {len(titles())} lessons in all."
    )
    return _next(f"collect {course} 02 {course / 'inbox'}")


def _make(rest: list[str]) -> int:
    told = _read(rest, "list", "lessons+")
    with alone_in(told.course):
        made = make(told.course, told.lessons, read_class(Path(told.list)))
    print(f"Made {', '.join(path.parent.name for path in made)} in {told.course}.")
    return _next(f"hand_out {told.course} {told.lessons[0]}")


def _test(rest: list[str]) -> int:
    with _alone(rest, "lesson") as told:
        key = make_test(told.course, told.lesson)
    print(
        f"Lesson {told.lesson} is a test. Its solutions open where {key} lies beside a notebook: give it out afterwards."
    )
    return _next(f"hand_out {told.course} {told.lesson}")


def _hand_out(rest: list[str]) -> int:
    with _alone(rest, "lesson") as told:
        done = hand_out(told.course, told.lesson)
    print(f"{len(done.files)} notebooks, one for each student, are in {done.files[0].parent}.")
    for path in done.worked_in:
        print(f"{path.name} was worked in and is left as it is; take it away to have it made anew.")
    return _next(f"collect {told.course} {told.lesson} INBOX, when the work has come in")


def _print(rest: list[str]) -> int:
    told = _read(rest, "lesson", paper={"choices": SIZES, "default": SIZES[0]})
    tasks, key = print_tasks(told.course, told.lesson, told.paper)
    print(f"{tasks.name} has each student's tasks, {key.name} the answers; both are in {tasks.parent}.")
    if tasks.suffix != ".pdf":
        print("No Chromium, Chrome or Edge was found to make PDFs: open both in the browser that you have, and print from there.")  # fmt: skip
    print("Each student begins on a page of their own.")
    return _next(f"hand_out {told.course} {told.lesson}, for those who answer in boxes")


def _collect(rest: list[str]) -> int:
    with _alone(rest, "lesson", "inbox") as told:
        arrivals = collect(told.course, told.lesson, Path(told.inbox))
    by_note: dict[str, list[Arrival]] = {}
    for one in arrivals:
        for note in one.notes:
            by_note.setdefault(note, []).append(one)
    for note, several in by_note.items():
        names = ", ".join(one.file for one in several[:3])
        more = f" and {len(several) - 3} more" if len(several) > 3 else ""
        print(f"{names}{more}: {note}")
    assignment = master(told.lesson).stem
    there = {path.parent.name for path in told.course.glob(f"submitted/*/{assignment}")}
    new = {one.student for one in arrivals if one.counts}
    students = class_list(told.course)
    missing = sorted(set(students) - there)
    print(
        f"Taken in now: {len(new)}; from {len(there)} of {len(students)} in all. Nothing came yet from: {', '.join(missing) or 'nobody'}."
    )
    return _next(f"mark {told.course} {told.lesson}")


def _mark(rest: list[str]) -> int:
    from .marking import mark

    told = _read(
        rest, "lesson",
        workers={"type": int, "default": 1}, part={"default": "1/1"}, again={"nargs": "+", "default": []},
    )  # fmt: skip
    course = told.course
    class_list(course)
    k, slash, n = told.part.partition("/")
    part = (int(k), int(n)) if slash and k.isdecimal() and n.isdecimal() else (0, 0)
    if not 1 <= part[0] <= part[1] or told.workers < 1:
        raise SusgeoError("--workers takes a whole number from 1; --part is written k/n, as in 2/4.")
    with alone_in(course) if part == (1, 1) else nullcontext():  # parts are marked side by side, each by its own job
        done = mark(course, told.lesson, lambda line: print(line, flush=True), told.workers, part, tuple(told.again))
        for student, why in done.failed.items():
            print(f"{student}: {why}", file=sys.stderr)
        for student, tasks in done.dropped.items():
            print(
                f"{student} has handed in anew; marks given by hand to the earlier work no longer count: {', '.join(tasks)}."
            )
        print(f"Marked {len(done.now)}, marked before {len(done.before)}, failed {len(done.failed)}.")
    _next(f"hand_back {course} {told.lesson}; export {course}; look {course}")
    return 1 if done.failed else 0


def _hand_back(rest: list[str]) -> int:
    from .feedback import hand_back

    with _alone(rest, "lesson") as told:
        pages = hand_back(told.course, told.lesson)
    print(f"{len(pages)} pages are in {pages[0].parent}: give each student the one with their id.")
    return _next(f"look {told.course}")


def _export(rest: list[str]) -> int:
    from .grades import export, export_tasks

    with _alone(rest) as told:
        written = [export(told.course), *export_tasks(told.course)]
    print(f"All marks are in {', '.join(path.name for path in written)}, in {told.course}.")
    return 0


def _deadline(rest: list[str]) -> int:
    from .grades import set_deadline

    with _alone(rest, "lesson", "time") as told:
        try:
            due = datetime.fromisoformat(told.time)
        except ValueError:
            raise SusgeoError(
                f"{told.time!r} is no time; write it as in 2027-01-31 20:00, local time of this machine."
            ) from None
        set_deadline(told.course, told.lesson, due)
    print(
        f"Lesson {told.lesson} is due {due:%Y-%m-%d %H:%M}. What being late costs is nbgrader's own setting, in nbgrader_config.py:"
    )
    print('c.LateSubmissionPlugin.penalty_method = "zero" takes all marks; without it late work is only noted.')
    return _next(f"mark {told.course} {told.lesson}")


def _look(rest: list[str]) -> int:
    from .glance import glance

    seen = glance(_read(rest).course)
    print(f"{seen.marks}\n\n{seen.tasks}\n\n{seen.mistakes}")
    return 0


def _copies(rest: list[str]) -> int:
    from .glance import glance

    found = glance(_read(rest).course).copies
    print(found if found.rows else "No wrong number is right on another student's figures.")
    return 0


def _next(what: str) -> int:
    print("Next: " + "; ".join(f"python -m susgeo class {one.strip()}" for one in what.split(";")))
    return 0


COMMANDS = {
    "practice": _practice, "make": _make, "test": _test, "hand_out": _hand_out, "print": _print, "collect": _collect, "mark": _mark,
    "hand_back": _hand_back, "export": _export, "deadline": _deadline, "look": _look, "copies": _copies,
}  # fmt: skip


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
