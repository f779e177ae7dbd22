"""The instructor's commands: ``python -m susgeo class make COURSE``, and so on; started by the launcher."""

import argparse
import os
import sys
from argparse import Namespace
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path
from typing import Any

from ..answers.contents import titles
from ..errors import SusgeoError
from ..files import alone_in
from ..printing import SIZES
from .collect import collect
from .course import class_list, hand_out, make, make_test, print_tasks
from .glance import glance
from .grades import export, export_tasks, set_deadline
from .marking import mark
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
    try:
        if command not in COMMANDS or {"-h", "--help"} & set(rest):
            print(USAGE, flush=True)
            return 0 if command in ("help", "-h", "--help", *COMMANDS) else 2
        status = _carry_out(command, rest)
        sys.stdout.flush()
        return status
    except BrokenPipeError:  # whoever read what this says has gone, as "| head" does
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return 1
    except SusgeoError as problem:
        said = str(problem)
    except OSError as problem:
        where = f" at {Path(str(problem.filename)).name}" if problem.filename else ""
        said = f"The disk or a folder refused{where}: {problem.strerror}. See to it, then give the command again."
    except ImportError as problem:
        mend = "give the command as python -m susgeo class, or install it beside nbgrader, then do it again"
        said = f"A package is missing: {problem.name}; {mend}."
    except Exception as problem:  # SQLAlchemy is loaded by the commands that open the gradebook, and by no other
        if not type(problem).__module__.startswith(("sqlalchemy", "sqlite3")):
            raise
        why = str(getattr(problem, "orig", problem)).splitlines()[0]
        said = f"The gradebook refused: {why}. See to it, then give the command again."
    print(said, file=sys.stderr)
    return 1


class _Words(argparse.ArgumentParser):
    """Reads a command's words; what is wrong with them is a sentence."""

    def error(self, message: str) -> None:  # type: ignore[override]
        raise SusgeoError(f"{message[0].upper()}{message[1:]}; it is written\n{USAGE}")


def _carry_out(command: str, rest: list[str]) -> int:
    """Read the words of a command, do its work, alone in the course where it writes there, and return the exit status."""
    work, names, options = COMMANDS[command]
    words = _Words(add_help=False)
    words.add_argument("course", type=Path)
    for name in names.split():
        words.add_argument(name.rstrip("+"), nargs="+" if name.endswith("+") else None)
    for name, about in options.items():
        words.add_argument(name, **about)
    told = words.parse_args(rest)
    if command not in ("practice", "make", "print"):  # these make it, or ask for the lesson first
        class_list(told.course)
    beside = command in ("print", "look", "copies") or (command == "mark" and told.part != (1, 1))
    with nullcontext() if beside else alone_in(told.course):  # parts are marked side by side, each by its own job
        return work(told) or 0


def _practice(told: Namespace) -> None:
    course = told.course
    if (course / "nbgrader_config.py").exists() and not all("-" in name for name in class_list(course)):
        raise SusgeoError(f"{course.name} is a course already: give the practice class a folder of its own.")
    students, lesson = practice_class(), master("02").stem
    make(course, [lesson], students)
    hand_out(course, lesson)
    hand_in_all(course, lesson, students, course / "inbox")
    print(
        f"{len(students)} made-up students have handed in lesson 02, in {course / 'inbox'}; there are {len(titles())} lessons in all."
    )
    _next(f"collect {course} 02 {course / 'inbox'}")


def _make(told: Namespace) -> None:
    made = make(told.course, told.lessons, read_class(Path(told.list)))
    print(f"Made {', '.join(path.parent.name for path in made)} in {told.course}.")
    _next(f"hand_out {told.course} {told.lessons[0]}")


def _test(told: Namespace) -> None:
    key = make_test(told.course, told.lesson)
    print(
        f"Lesson {told.lesson} is a test. Its solutions open where {key} lies beside a notebook: give it out afterwards."
    )
    _next(f"hand_out {told.course} {told.lesson}")


def _hand_out(told: Namespace) -> None:
    files, worked_in = hand_out(told.course, told.lesson)
    print(f"{len(files)} notebooks, one for each student, are in {files[0].parent}.")
    for path in worked_in:
        print(f"{path.name} was worked in and is left as it is; take it away to have it made anew.")
    _next(f"collect {told.course} {told.lesson} INBOX, when the work has come in")


def _print(told: Namespace) -> None:
    tasks, key = print_tasks(told.course, told.lesson, told.paper)
    print(f"{tasks.name} has each student's tasks, {key.name} the answers; both are in {tasks.parent}.")
    if tasks.suffix != ".pdf":
        print("No Chromium, Chrome or Edge was found to make PDFs: open both in the browser that you have, and print from there.")  # fmt: skip
    print("Each student begins on a page of their own.")
    _next(f"hand_out {told.course} {told.lesson}, for those who answer in boxes")


def _collect(told: Namespace) -> None:
    arrivals = collect(told.course, told.lesson, Path(told.inbox))
    by_note: dict[str, list[str]] = {}
    for one in arrivals:
        for note in one.notes:
            by_note.setdefault(note, []).append(one.file)
    for note, files in by_note.items():
        more = f" and {len(files) - 3} more" if len(files) > 3 else ""
        print(f"{', '.join(files[:3])}{more}: {note}")
    there = {path.parent.name for path in told.course.glob(f"submitted/*/{master(told.lesson).stem}")}
    new = {one.student for one in arrivals if one.counts}
    students = class_list(told.course)
    missing = ", ".join(sorted(set(students) - there)) or "nobody"
    print(f"Taken in now: {len(new)}; from {len(there)} of {len(students)} in all. Nothing came yet from: {missing}.")
    _next(f"mark {told.course} {told.lesson}")


def _part(text: str) -> tuple[int, int]:
    k, slash, n = text.partition("/")
    return (int(k), int(n)) if slash and k.isdecimal() and n.isdecimal() else (0, 0)


def _mark(told: Namespace) -> int:
    if not 1 <= told.part[0] <= told.part[1] or told.workers < 1:
        raise SusgeoError("--workers takes a whole number from 1; --part is written k/n, as in 2/4.")
    done = mark(told.course, told.lesson, lambda line: print(line, flush=True), told.workers, told.part, told.again)
    for student, why in done.failed.items():
        print(f"{student}: {why}", file=sys.stderr)
    for student, tasks in done.dropped.items():
        print(
            f"{student} has handed in anew; marks given by hand to the earlier work no longer count: {', '.join(tasks)}."
        )
    print(f"Marked {len(done.now)}, marked before {len(done.before)}, failed {len(done.failed)}.")
    _next(f"hand_back {told.course} {told.lesson}; export {told.course}; look {told.course}")
    return 1 if done.failed else 0


def _hand_back(told: Namespace) -> None:
    from .feedback import hand_back  # here and not above: it loads nbconvert

    pages = hand_back(told.course, told.lesson)
    print(f"{len(pages)} pages are in {pages[0].parent}: give each student the one with their id.")
    _next(f"look {told.course}")


def _export(told: Namespace) -> None:
    written = [export(told.course), *export_tasks(told.course)]
    print(f"All marks are in {', '.join(path.name for path in written)}, in {told.course}.")


def _deadline(told: Namespace) -> None:
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
    _next(f"mark {told.course} {told.lesson}")


def _look(told: Namespace) -> None:
    seen = glance(told.course)
    print(f"{seen.marks}\n\n{seen.tasks}\n\n{seen.mistakes}")


def _copies(told: Namespace) -> None:
    found = glance(told.course).copies
    print(found if found.rows else "No wrong number is right on another student's figures.")


def _next(what: str) -> None:
    print("Next: " + "; ".join(f"python -m susgeo class {one.strip()}" for one in what.split(";")))


PAPER = {"--paper": {"choices": SIZES, "default": SIZES[0]}}
MARK = {
    "--workers": {"type": int, "default": 1},
    "--part": {"type": _part, "default": (1, 1)},
    "--again": {"nargs": "+", "default": []},
}
COMMANDS: dict[str, tuple[Callable[[Namespace], int | None], str, Mapping[str, Any]]] = {
    "practice": (_practice, "", {}), "make": (_make, "list lessons+", {}), "test": (_test, "lesson", {}),
    "hand_out": (_hand_out, "lesson", {}), "print": (_print, "lesson", PAPER), "collect": (_collect, "lesson inbox", {}),
    "mark": (_mark, "lesson", MARK), "hand_back": (_hand_back, "lesson", {}), "export": (_export, "", {}),
    "deadline": (_deadline, "lesson time", {}), "look": (_look, "", {}), "copies": (_copies, "", {}),
}  # fmt: skip
"""What does the work of a command, and the words after the course's folder: in their order, and those with two strokes."""


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
