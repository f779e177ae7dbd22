"""Marks in nbgrader's gradebook: as tables, and as changed by hand; and the deadline that its late policy looks at."""

from dataclasses import astuple
from datetime import UTC, datetime
from pathlib import Path

from ..answers.calculation import library
from ..errors import SusgeoError
from ..files import write_whole
from .assignment import grade_id, points
from .course import class_list, nbgrader_api
from .names import csv_text, harmless, master


def export(course: Path) -> Path:
    """Have nbgrader write all marks to ``grades.csv``."""
    from nbgrader.plugins import CsvExportPlugin

    class_list(course)
    api = nbgrader_api(course.resolve())
    with api.gradebook as gradebook:
        CsvExportPlugin(config=api.config, to=str(course / "grades.csv")).export(gradebook)
    return course / "grades.csv"


STAMP = "marked.txt"
"""The file beside a page of feedback that says for which submission, and which marks by hand, it was completed."""


def marks_by_hand(course: Path, assignment: str, only: str = "") -> dict[str, dict[str, tuple[float, str]]]:
    """Return what instructors changed: student to task's cell to (mark, comment), from nbgrader's gradebook.

    ``only`` asks for one student.
    """
    from nbgrader.api import Assignment, BaseCell, Comment, Grade, SubmittedAssignment, SubmittedNotebook

    found: dict[str, dict[str, tuple[float, str]]] = {}
    with nbgrader_api(course.resolve()).gradebook as gradebook:
        for kind, value in ((Grade, Grade.manual_score), (Comment, Comment.manual_comment)):
            rows = (
                gradebook.db.query(SubmittedAssignment.student_id, BaseCell.name, value)
                .select_from(kind)
                .join(kind.cell)
                .join(kind.notebook)
                .join(SubmittedNotebook.assignment)
                .join(SubmittedAssignment.assignment)
                .filter(Assignment.name == assignment, value.is_not(None))
            )
            for student, cell, given in rows.filter(SubmittedAssignment.student_id == only) if only else rows:
                old = found.setdefault(student, {}).get(cell, (float("nan"), ""))
                found[student][cell] = (float(given), old[1]) if kind is Grade else (old[0], str(given))
    return found


def export_tasks(course: Path) -> list[Path]:
    """Write ``marks_LESSON.csv`` for each lesson that came in: a line for each student, a column for each task.

    No cell begins with a sign that a spreadsheet takes for a formula.
    """
    from nbgrader.api import MissingEntry

    students, written = class_list(course), []
    with nbgrader_api(course.resolve()).gradebook as gradebook:
        for assignment in sorted({path.name for path in course.glob("submitted/*/[0-9]*")}):
            keys = [key for key, task in library()[1].items() if task.lesson == assignment[:2]]
            whole = sum(map(points, keys))
            names = ("ID number", "First name", "Last name", "Email address")
            rows: list[list[object]] = [[*names, *keys, "late", "total", "of"]]
            for student in students.values():
                head = [student.id, *map(harmless, astuple(student)[1:])]
                try:
                    found = gradebook.find_submission(assignment, student.id)
                    grades = {g.name: g.score for n in found.notebooks for g in n.grades}
                except MissingEntry:
                    rows.append([*head, *[""] * len(keys), "", "", whole])
                    continue
                got = [f"{grades.get(grade_id('marks', key), 0) or 0:g}" for key in keys]
                late = "yes" if found.total_seconds_late > 0 else ""
                total = sum(map(float, got)) - (found.late_submission_penalty if late else 0)
                rows.append([*head, *got, late, f"{total:g}", whole])
            written.append(course / f"marks_{assignment[:2]}.csv")
            write_whole(written[-1], csv_text(rows))
    return written


def set_deadline(course: Path, lesson: str, due: datetime) -> None:
    """Tell nbgrader when an assignment is due; a time without a zone is this machine's. What is marked is marked again next time."""
    from nbgrader.api import MissingEntry

    assignment = master(lesson).stem
    with nbgrader_api(course.resolve()).gradebook as gradebook:
        try:
            gradebook.find_assignment(assignment)
        except MissingEntry:
            raise SusgeoError(f"The course has no {assignment} yet: hand it out first.") from None
        gradebook.update_or_create_assignment(assignment, duedate=due.astimezone(UTC).replace(tzinfo=None))
    for stamp in course.glob(f"feedback/*/{assignment}/{STAMP}"):
        stamp.unlink()
