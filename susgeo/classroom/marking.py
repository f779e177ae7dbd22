"""Marking a lesson of a whole class with nbgrader, one student after the other; it goes on where it was stopped."""

import os
import sys
from collections.abc import Callable
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
    students = class_list(course)
    source = source_of(course, assignment)
    api = _nbgrader(course)
    waiting = sorted(path.parent.name for path in course.glob(f"submitted/*/{assignment}"))
    now: list[str] = []
    before: list[str] = []
    failed: dict[str, str] = {}
    for number, student in enumerate(waiting, 1):
        if _done(course, student, assignment):
            before.append(student)
            continue
        _tidy(course, student, assignment, source)
        answer = api.autograde(assignment, student, force=True, create=student in students)
        if answer["success"]:
            answer = api.generate_feedback(assignment, student, force=True)
        if answer["success"]:
            now.append(student)
            _stamp(course, student, assignment).write_text(_time(course, student, assignment), "utf-8")
        else:
            failed[student] = (answer.get("error") or answer.get("log") or "").strip()[-1000:]
        tell(f"{number} of {len(waiting)}: {student}{' could not be marked' if student in failed else ''}")
    from nbgrader.plugins import CsvExportPlugin

    with api.gradebook as gradebook:
        CsvExportPlugin(config=api.config, to=str(course / "grades.csv")).export(gradebook)
    return Marked(tuple(now), tuple(before), failed)


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
