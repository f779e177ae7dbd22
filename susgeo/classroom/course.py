"""An nbgrader course from the lessons' masters: made and handed out.

nbgrader does the marking: its own commands run unchanged on what is written here. This module fills its folders
and calls it.
"""

import hashlib
import json
import logging
import os
import re
import secrets
import sys
from collections.abc import Mapping
from dataclasses import astuple, replace
from pathlib import Path
from typing import Any

import nbformat
from nbformat import NotebookNode

from ..answers.contents import titles
from ..answers.lesson import Lesson
from ..answers.printed import key_sheet, task_sheet
from ..errors import SusgeoError
from ..files import read_notes, sweep, write_whole
from ..printing import SIZES, find_browser, print_page
from .assignment import class_notebook, personal
from .names import HEADINGS, Student, csv_text, file_name, master, read_class
from .submission import read_submission

CONFIG = '''\
"""nbgrader's settings for this course; nbgrader reads this file when it is started in this folder.

What you write below stays: the deadline's policy, the gradebook's place, and so on, by nbgrader's own names.
"""

from susgeo.classroom.settings import settle

c = get_config()  # noqa: F821
settle(c)
'''


def make(course: Path, lessons: list[str], students: list[Student]) -> list[Path]:
    """Write an nbgrader course: its settings, its class list and an assignment for each lesson.

    What is there is written again; settings, submissions, marks and feedback are left alone.
    """
    paths = [master(lesson) for lesson in lessons]
    sweep(course, below=False)
    sweep(course / "source")  # nbgrader would give out what lies there
    if not (course / "nbgrader_config.py").exists():
        write_whole(course / "nbgrader_config.py", CONFIG)
    write_whole(course / "students.csv", csv_text([HEADINGS, *map(astuple, students)]))
    made = []
    for path in paths:
        made.append(course / "source" / path.stem / path.name)
        key = solutions_file(course, path.stem)
        seal = fingerprint(key.read_bytes().strip()) if key.is_file() else ""
        write_whole(made[-1], nbformat.writes(class_notebook(path, seal)) + "\n")
    return made


def solutions_file(course: Path, assignment: str) -> Path:
    """Return the file that breaks the seal of a test; it is there if the assignment is one."""
    return course / "tests" / f"{assignment}--solutions.txt"


def make_test(course: Path, lesson: str) -> Path:
    """Make an assignment a test: its copies say no verdicts, and open no solutions without the file that is returned."""
    assignment = master(lesson).stem
    students, _ = class_list(course), source_of(course, assignment)
    key = solutions_file(course, assignment)
    if not key.is_file():
        write_whole(key, secrets.token_hex(16) + "\n")
    make(course, [lesson], list(students.values()))
    return key


PATIENCE = 60
"""Seconds that a process waits for the gradebook (SQLite) while another writes in it."""


def class_list(course: Path) -> dict[str, Student]:
    """Return the students of a course by their ids."""
    if not (course / "nbgrader_config.py").is_file():
        raise SusgeoError(f"The folder {course.name} is no course: make one with 'python -m susgeo class make'.")
    return {student.id: student for student in read_class(course / "students.csv")}


def source_of(course: Path, assignment: str) -> NotebookNode:
    """Return the source notebook of an assignment in a course."""
    path = course / "source" / assignment / f"{assignment}.ipynb"
    if not path.is_file():
        there = ", ".join(sorted(folder.name for folder in (course / "source").glob("[0-9]*"))) or "none"
        raise SusgeoError(f"The course has no assignment {assignment}; it has {there}.")
    return nbformat.read(path, as_version=4)


def hand_out(course: Path, lesson: str) -> tuple[list[Path], list[Path]]:
    """Have nbgrader generate an assignment, and write each student's own copy of it.

    The files are ``hand_out/LESSON/LESSON--STUDENT.ipynb``, one for each student on the class list. A copy that
    somebody has worked in is never written over; a damaged one is put aside and made anew. On a hub the copies
    are not needed: ``nbgrader release_assignment`` gives out what nbgrader generated.

    Returns every student's file, and those that were left as they are because they were worked in.
    """
    assignment = master(lesson).stem
    students = class_list(course)
    source = source_of(course, assignment)
    api = nbgrader_api(course.resolve())
    with api.gradebook as gradebook:
        for one in students.values():
            about = {"first_name": one.first_name, "last_name": one.last_name, "email": one.email}
            gradebook.update_or_create_student(one.id, **about)
    done = api.generate_assignment(assignment, force=True)
    if not done["success"]:
        raise SusgeoError(
            f"nbgrader could not make the assignment: {reason(done)}. See to it, then give the command again."
        )
    release = nbformat.read(course / "release" / assignment / f"{assignment}.ipynb", as_version=4)
    folder = course / "hand_out" / assignment
    sweep(folder)
    ledger = folder / ".as_handed_out.json"
    written = read_notes(ledger)
    files, worked_in = [], []
    for student in students:
        place = folder / file_name(assignment, student)
        files.append(place)
        text = nbformat.writes(personal(release, student)) + "\n"
        there = place.read_bytes() if place.is_file() else b""
        if there and there != text.encode() and fingerprint(there) != written.get(student):
            if read_submission(there, source).readable:
                worked_in.append(place)
                continue
            write_whole(place.with_suffix(".damaged"), there)
        write_whole(place, text)
        written[student] = fingerprint(text.encode())
    write_whole(ledger, json.dumps(written, indent=0))
    return files, worked_in


def print_tasks(course: Path, lesson: str, paper: str = SIZES[0]) -> list[Path]:
    """Write every student's tasks on paper, and the key to them all, into the folder ``printed``; return the two files.

    They are PDFs where this machine has a browser that prints, else pages to be printed from any browser.
    """
    path, students = master(lesson), class_list(course)
    source_of(course, path.stem)
    title = titles()[path.name[:2]][1]
    own = {one: Lesson(path.name[:2], one.id, folder=os.devnull) for one in students.values()}
    files = []
    for what, sheet in {"tasks": task_sheet, "key": key_sheet}.items():
        first, *more = [replace(sheet(its, f"{title}: {one.name} ({one.id})"), paper=paper) for one, its in own.items()]
        page = course / "printed" / f"{path.stem}--{what}.html"
        first.save(page, *more)
        files.append(page.with_suffix(".pdf") if find_browser() else page)
        if files[-1] != page:
            print_page(page, files[-1])
    return files


def fingerprint(raw: bytes) -> str:
    """Return what tells one content of a file from another."""
    return hashlib.sha256(raw).hexdigest()


def reason(done: Mapping[str, Any]) -> str:
    """Return the error that nbgrader tells of last, without the traceback around it."""
    said = f"{done.get('error') or ''}\n{done.get('log') or ''}".strip()
    faults = re.findall(r"^ *[\w.]*(?:Error|Exception)\b[^:\n]*: (?:\([\w.]+\) )?(.+)$", said, re.M)
    reasons = [one.strip().rstrip(".") for one in faults or said.splitlines()[-1:] if "above traceback" not in one]
    return reasons[-1][:300] if reasons else "it did not say why"


def nbgrader_api(course: Path) -> Any:
    """Return nbgrader's own interface to a course, with the settings that the course's folder holds."""
    from nbgrader.apps import NbGraderAPI
    from traitlets.config.loader import PyFileConfigLoader

    # Where its gradebook tells errors, a traceback each:
    logging.getLogger("tornado.application").setLevel(logging.CRITICAL)
    os.environ["PATH"] = str(Path(sys.executable).parent) + os.pathsep + os.environ.get("PATH", "")
    config = PyFileConfigLoader("nbgrader_config.py", path=str(course)).load_config()
    config.CourseDirectory.root = str(course)
    if "db_url" not in config.CourseDirectory:
        config.CourseDirectory.db_url = f"sqlite:///{course / 'gradebook.db'}?timeout={PATIENCE}"
    return NbGraderAPI(config=config)
