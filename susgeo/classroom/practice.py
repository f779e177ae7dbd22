"""A practice class: made-up students who hand in, so that an instructor can try everything before the first evening.

Each kind of student is a rule; the same rules are the class of the tests.
"""

import json
from itertools import cycle, islice
from pathlib import Path
from typing import Any

import nbformat
from nbformat import NotebookNode

from ..answers.figures import values_of
from ..answers.lesson import CLUB, Lesson
from ..answers.paper import on_paper
from .assignment import checked, grade_id, name_of
from .glance import Glance, seen
from .names import Student, file_name, master

FIRST = "Ada Bram Cleo Dirk Edda Finn Gwen Hugo Iris Jens Kara Liam Mona Nils Olga Piet Quin Rosa Sven Tara Ulla Veit Wanda Xena Yann Zoe".split()
HOSTILE = {
    "endless": "while True:\n    pass",
    "memory": "hoard = [bytearray(10**8) for _ in range(10**4)]",
    "deleter": "import shutil\nshutil.rmtree('.', ignore_errors=True)",
    "printer": "for _ in range(10**9):\n    print('x' * 1000)",
    "forger": "import susgeo.answers.check as c\nc.check = lambda *a, **k: True\nmarks = lambda *a: None",
}
"""What a hostile student writes into a cell; none of it is ever run by the marking."""
SOUND = ("perfect", "mistaken", "slips", "half", "blank")
KINDS = (*SOUND, "lost cell", "twice", "altered", "nameless", "stranger", *HOSTILE)
USUAL = ("perfect", "mistaken", "slips", "mistaken", "half", "perfect", "mistaken", "blank")


def practice_class(count: int = 30, among: tuple[str, ...] = KINDS) -> list[Student]:
    """Return made-up students; their ids say which rule they follow."""
    kinds = enumerate(islice(cycle(among), count))
    return [Student(f"{kind.replace(' ', '-')}-{n:03}", FIRST[n % len(FIRST)], kind.title()) for n, kind in kinds]


def hand_in_all(course: Path, assignment: str, students: list[Student], inbox: Path) -> None:
    """Write what the made-up students hand in, from the copies that were handed out to them."""
    inbox.mkdir(parents=True, exist_ok=True)
    for student in students:
        copy = nbformat.read(course / "hand_out" / assignment / file_name(assignment, student.id), as_version=4)
        text = json.dumps(answered(copy, assignment[:2], student.id, _kind(student)))
        (inbox / file_name(assignment, student.id)).write_text(text, "utf-8")


def answered(copy: NotebookNode, lesson: str, student: str, kind: str) -> NotebookNode:
    """Return a student's notebook as a student of a kind leaves it."""
    for key, answer in answers_of(lesson, student, kind).items():
        for cell in _named(copy, grade_id("answer", key)):
            cell.source = checked(key, f"{key.partition('.')[2]}, {answer!r}")
    first = _named(copy, grade_id("answer", f"{lesson}.1"))
    if kind == "lost cell":
        copy.cells = [cell for cell in copy.cells if cell not in first]
    elif kind == "twice":
        copy.cells += first
    elif kind == "altered":
        _named(copy, grade_id("marks", f"{lesson}.1"))[0].source = "marks = 100"
    elif kind == "nameless":
        copy.cells = [cell for cell in copy.cells if name_of(cell) != "identity"]
    elif kind in HOSTILE:
        copy.cells.insert(0, nbformat.v4.new_code_cell(HOSTILE[kind], id="hostile"))
    return copy


def _kind(student: Student) -> str:
    return student.id.rpartition("-")[0].replace("-", " ")


def _named(notebook: NotebookNode, name: str) -> list[NotebookNode]:
    return [cell for cell in notebook.cells if name_of(cell) == name]


def answers_of(lesson: str, student: str, kind: str) -> dict[str, Any]:
    """Return answers to all tasks: right ones, or with the mistakes of a kind of student, on the student's figures."""
    own = Lesson(lesson, CLUB if kind == "stranger" else student)
    found: dict[str, Any] = {}
    for number, (key, task) in enumerate(own.tasks.items()):
        if kind == "blank" or (kind == "half" and number % 2):
            continue
        if task.kind == "choice":
            found[key] = own.solution(key).lines[-1][0]
            continue
        calculation, plain = task.calculation, values_of(own.known(key))
        unit = calculation.step(task.find).unit
        if task.kind == "number":
            turns = calculation.wrong_turns(plain, task.find) if kind == "mistaken" else []
            which = number + (int(student[-3:]) if student[-3:].isdigit() else len(student))
            values = turns[which % len(turns)][1] if turns else calculation.values(plain)
            found[key] = f"{on_paper(values[task.find], unit):.9g} {unit}".strip()
        elif task.kind == "formula":
            found[key] = str(calculation.expression(task.find, task.symbols)).replace("**", "^")
        else:
            first, *lines = [f"{step.name} = {step.formula}" for step in calculation.lines_to(task.find)]
            first += " + 1" if kind == "slips" else ""  # the rest follows from it
            found[key] = "\n".join([first, *lines])
    return found


def practice_glance(lesson: str = "02", count: int = 30) -> Glance:
    """Return the practice class as :func:`susgeo.classroom.glance.glance` shows a real one, without any files."""
    students, assignment = practice_class(count, USUAL), master(lesson).stem
    found = {one.id: seen(Lesson(lesson, one.id), answers_of(lesson, one.id, _kind(one))) for one in students}
    return Glance({student.id: student.name for student in students}, {assignment: found})
