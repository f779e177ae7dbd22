"""An nbgrader course from the lessons' masters: made and handed out.

nbgrader does the marking: its own commands run unchanged on what is written here. This module fills its folders
and calls it.
"""

import csv
import os
import subprocess
import sys
from pathlib import Path

import nbformat
from nbformat import NotebookNode

from ..errors import SusgeoError
from .assignment import class_notebook, personal
from .names import Student, file_name, master, read_class

CONFIG = '''\
"""nbgrader's settings for this course; nbgrader reads this file when it is started in this folder."""

c = get_config()  # noqa: F821

c.CourseDirectory.course_id = "susgeo"
# Marks are given to the answers alone: none of the code in a submission is run.
c.Autograde.sanitize_preprocessors = [
    "susgeo.classroom.preprocessor.AnswersOnly",
    "nbgrader.preprocessors.ClearOutput",
    "nbgrader.preprocessors.DeduplicateIds",
    "nbgrader.preprocessors.OverwriteKernelspec",
    "nbgrader.preprocessors.OverwriteCells",
    "nbgrader.preprocessors.CheckCellMetadata",
]
c.Execute.timeout = {timeout}
c.ClearSolutions.code_stub = {{"python": ""}}
'''
SECONDS_A_CELL = 60


def make(
    course: Path, lessons: list[str], students: list[Student], timeout: int = SECONDS_A_CELL
) -> list[Path]:
    """Write an nbgrader course: its settings, its class list and an assignment for each lesson.

    What is there is written again; submissions, marks and feedback are left alone.
    """
    paths = [master(lesson) for lesson in lessons]
    course.mkdir(parents=True, exist_ok=True)
    (course / "nbgrader_config.py").write_text(CONFIG.format(timeout=timeout), "utf-8")
    with (course / "students.csv").open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(["id", "first_name", "last_name", "email"])
        table.writerows((one.id, one.first_name, one.last_name, one.email) for one in students)
    made = []
    for path in paths:
        target = course / "source" / path.stem / path.name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(nbformat.writes(class_notebook(path)) + "\n", "utf-8")
        made.append(target)
    return made


def class_list(course: Path) -> dict[str, Student]:
    """Return the students of a course by their ids."""
    if not (course / "nbgrader_config.py").is_file():
        raise SusgeoError(
            f"The folder {course.name} is no course: make one with 'python -m susgeo class make'."
        )
    return {student.id: student for student in read_class(course / "students.csv")}


def source_of(course: Path, assignment: str) -> NotebookNode:
    """Return the source notebook of an assignment in a course."""
    path = course / "source" / assignment / f"{assignment}.ipynb"
    if not path.is_file():
        there = ", ".join(sorted(folder.name for folder in (course / "source").glob("[0-9]*"))) or "none"
        raise SusgeoError(f"The course has no assignment {assignment}; it has {there}.")
    return nbformat.read(path, as_version=4)


def hand_out(course: Path, lesson: str) -> list[Path]:
    """Have nbgrader generate an assignment, and write each student's own copy of it.

    Returns the files ``hand_out/LESSON/LESSON--STUDENT.ipynb``, one for each student on the class list. On a
    hub they are not needed: ``nbgrader release_assignment`` gives out what nbgrader generated.
    """
    assignment = master(lesson).stem
    students = class_list(course)
    source_of(course, assignment)
    nbgrader(course, "db", "student", "import", "students.csv")
    nbgrader(course, "generate_assignment", assignment, "--force")
    release = nbformat.read(course / "release" / assignment / f"{assignment}.ipynb", as_version=4)
    folder = course / "hand_out" / assignment
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for student in students:
        files.append(folder / file_name(assignment, student))
        files[-1].write_text(nbformat.writes(personal(release, student)) + "\n", "utf-8")
    return files


def nbgrader(course: Path, *arguments: str) -> str:
    """Run a command of nbgrader in a course with the programs of this environment; return what it said."""
    programs = str(Path(sys.executable).parent)
    variables = {**os.environ, "PATH": programs + os.pathsep + os.environ.get("PATH", ""), "PYTHONUTF8": "1"}
    answer = subprocess.run(
        [sys.executable, "-m", "nbgrader", *arguments],
        cwd=course, env=variables, text=True, errors="replace", stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    if answer.returncode != 0:
        raise SusgeoError(f"nbgrader {arguments[0]} failed; its last words: {answer.stdout.strip()[-600:]}")
    return answer.stdout
