"""Marking a lesson of a whole class with nbgrader, one student after the other; it goes on where it was stopped.

    python -m susgeo.classroom.marking COURSE ASSIGNMENT STUDENT ...

is the process that marks a batch of students; :func:`mark` starts one after the other.
"""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import nbformat
from nbformat import NotebookNode

from ..errors import SusgeoError
from .collect import keep
from .course import class_list, source_of
from .names import master
from .submission import LARGEST, normalized

BATCH = 25
"""Students marked by one process. nbgrader keeps a little of each; when the process ends, it is given back."""


@dataclass(frozen=True)
class Marked:
    """What a run of the marking did: students marked now, those marked before, and those that failed, with why."""

    now: tuple[str, ...]
    before: tuple[str, ...]
    failed: dict[str, str]


def mark(course: Path, lesson: str, tell: Callable[[str], None] = lambda line: None) -> Marked:
    """Mark what was collected, write each student's feedback, and export all marks to ``grades.csv``.

    This is ``nbgrader autograde``, ``generate_feedback`` and ``export``, through nbgrader's own Python
    interface. A student who is marked already, and handed in nothing newer, is passed over; so a run that was
    stopped or killed is simply started again.

    Args:
        course: the folder of the course.
        lesson: "02", or the assignment's whole name.
        tell: is given one line for each student.
    """
    assignment = master(lesson).stem
    course = course.resolve()
    class_list(course)  # this and the next say at once what is not there
    source_of(course, assignment)
    api = _nbgrader(course)
    waiting = sorted(path.parent.name for path in course.glob(f"submitted/*/{assignment}"))
    before = tuple(student for student in waiting if _done(course, student, assignment))
    now: list[str] = []
    failed: dict[str, str] = {}
    for student, why in _in_batches(course, assignment, [one for one in waiting if one not in before]):
        if why:
            failed[student] = why
        else:
            now.append(student)
        number = len(before) + len(now) + len(failed)
        tell(f"{number} of {len(waiting)}: {student}{' could not be marked' if why else ''}")
    from nbgrader.plugins import CsvExportPlugin

    with api.gradebook as gradebook:
        CsvExportPlugin(config=api.config, to=str(course / "grades.csv")).export(gradebook)
    return Marked(tuple(now), before, failed)


def _in_batches(course: Path, assignment: str, students: list[str]) -> Iterator[tuple[str, str]]:
    """Mark students, and yield each with what went wrong, or nothing; what is printed goes to ``marking.log``."""
    left = list(students)
    package = str(Path(__file__).resolve().parents[2])
    variables = {**os.environ, "PYTHONPATH": package + os.pathsep + os.environ.get("PYTHONPATH", "")}
    while left:
        batch = left[:BATCH]
        command = [sys.executable, "-m", "susgeo.classroom.marking", str(course), assignment, *batch]
        with (
            (course / "marking.log").open("ab") as log,
            subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log, env=variables
            ) as worker,
        ):
            for line in worker.stdout or ():
                student, why = json.loads(line)
                left.remove(student)
                yield student, why
        if left and left[0] in batch:  # it ended in the middle of one: the others are not to suffer for it
            yield left.pop(0), "the marking ended unexpectedly here; marking.log says more"


def _mark_one(course: Path, assignment: str, student: str) -> str:
    """Mark a student's submission and write the feedback; return what went wrong."""
    _tidy(course, student, assignment, source_of(course, assignment))
    api = _nbgrader(course)
    answer: dict[str, Any] = {}
    for _ in range(2):  # once in some hundreds another program takes the port that Jupyter has just chosen
        answer = api.autograde(assignment, student, force=True, create=student in class_list(course))
        if answer["success"]:
            break
    if answer["success"]:
        answer = api.generate_feedback(assignment, student, force=True)
    if answer["success"]:
        _stamp(course, student, assignment).write_text(_time(course, student, assignment), "utf-8")
        return ""
    return (answer.get("error") or answer.get("log") or "").strip()[-1000:] or "nbgrader did not say why"


def main(arguments: list[str]) -> None:
    """Mark a batch of students; for each, print a line with what went wrong."""
    course, assignment, *students = arguments
    told = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # whatever else prints here goes to the log
    # When the process that asked for this is killed its end of the pipe closes: then this one is to end too.
    threading.Thread(target=lambda: (sys.stdin.read(), os._exit(1)), daemon=True).start()
    for student in students:
        why = _mark_one(Path(course), assignment, student)
        print(json.dumps([student, why]), file=told, flush=True)


def _tidy(course: Path, student: str, assignment: str, source: NotebookNode) -> None:
    """Make sure that nbgrader can read a submission, whatever way it came; a file that is replaced is kept.

    On a hub nbgrader itself collects, and takes files as they are: damaged ones, and under any name.
    """
    folder = course / "submitted" / student / assignment
    right = folder / f"{assignment}.ipynb"
    found = (
        [right] if right.is_file() else sorted(folder.glob("*.ipynb"), key=lambda path: path.stat().st_mtime)
    )
    raw = b""
    if found:
        with found[-1].open("rb") as file:
            raw = file.read(LARGEST + 1)
    text = nbformat.writes(normalized(raw, source)) + "\n"
    if found == [right] and raw.decode("utf-8", "replace") == text:
        return
    if found:
        keep(found[-1], course / "received" / assignment, student)
    right.unlink(missing_ok=True)  # it may be write-protected
    right.write_text(text, "utf-8", newline="\n")


def _stamp(course: Path, student: str, assignment: str) -> Path:
    """Return the file that says for which submission the marking was completed."""
    return course / "feedback" / student / assignment / "marked.txt"


def _time(course: Path, student: str, assignment: str) -> str:
    stamp = course / "submitted" / student / assignment / "timestamp.txt"
    return stamp.read_text("utf-8") if stamp.is_file() else "no time"


def _done(course: Path, student: str, assignment: str) -> bool:
    stamp = _stamp(course, student, assignment)
    return stamp.is_file() and stamp.read_text("utf-8") == _time(course, student, assignment)


def _nbgrader(course: Path) -> Any:
    """Return nbgrader's own interface to a course, with the settings that the course's folder holds."""
    try:
        from nbgrader.apps import NbGraderAPI
        from traitlets.config import Config
        from traitlets.config.loader import PyFileConfigLoader
    except ImportError:
        raise SusgeoError("nbgrader is not installed: 'python -m susgeo class' installs it.") from None
    os.environ["PATH"] = str(Path(sys.executable).parent) + os.pathsep + os.environ.get("PATH", "")
    config = PyFileConfigLoader("nbgrader_config.py", path=str(course)).load_config()
    config.merge(Config({"CourseDirectory": {"root": str(course)}}))
    return NbGraderAPI(config=config)


if __name__ == "__main__":
    main(sys.argv[1:])
