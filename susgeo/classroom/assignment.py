"""From a lesson's one master to the notebook of a class, in nbgrader's cell metadata; and back to what is marked.

Nothing is written a second time: each cell is the master's, and what is changed is changed by rule. The cell
that makes the lesson takes the student's id; below each task's box stand an answer cell, which takes what was typed
there from the record, and a locked cell that says what the answer earns. The packing for the hand-in writes what was
typed into the answer cell as plain text (:func:`with_answers`).
"""

import ast
import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import nbformat
from nbformat import NotebookNode

from ..answers.calculation import library
from ..answers.record import entries

POINTS = {"number": 2, "formula": 3, "working": 4, "choice": 3}
"""Marks for a task of each kind."""
REGION = "### BEGIN SOLUTION\n### END SOLUTION"
"""An empty region, in nbgrader's spelling: without one it would blank the whole cell."""
IDENTITY = "identity"
IDENTITY_WORDS = (
    "The next cell says whose notebook this is. The figures of the tasks follow from it, so leave it as it is."
)
HAND_IN_WORDS = (
    "## Hand in\n\nSave (Ctrl+S), then run the next cell. It says what would be marked and what is missing,"
    " and packs the file to hand in. You may do so as often as you like."
)
OURS = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
TASK = re.compile(r"lesson\.task\((\d+)\)")


def task_key(lesson: str, number: object) -> str:
    """Return a task's key, "02.1", from what stands in a call: 1, "1" or "02.1"."""
    long = isinstance(number, int) and abs(number) >= 1000  # whose digits Python may refuse to write
    name = "?" if long else str(number)[:20]
    return name if "." in name else f"{lesson}.{name}"


def points(key: str) -> int:
    """Return the marks of a task."""
    return POINTS[library()[1][key].kind]


def grade_id(role: str, key: str) -> str:
    """Return nbgrader's name for a task's cell: "answer" or "marks" and the task."""
    return f"{role}-{key.replace('.', '-')}"


def role_of(grade_id: str) -> tuple[str, str]:
    """Return role and task of a cell from its name.

    >>> role_of("answer-02-1"), role_of("identity")
    (('answer', '02.1'), ('identity', ''))
    """
    role, _, key = grade_id.partition("-")
    return role, key.replace("-", ".")


def name_of(cell: Mapping[str, Any]) -> str:
    """Return the name by which the marking knows a cell: nbgrader's, or the cell's own."""
    return str(cell["metadata"].get("nbgrader", {}).get("grade_id", "") or cell.get("id", ""))


def calls(tree: ast.AST) -> Iterator[ast.Call]:
    """Yield the calls ``something.check(number, ...)`` in a piece of code."""
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Attribute(attr="check"), args=[ast.Constant(), *_]):
                yield node


def class_notebook(master: Path, seal: str = "") -> NotebookNode:
    """Return the source notebook of an nbgrader assignment, made from a lesson's master; a seal makes it a test."""
    cells: list[NotebookNode] = []
    for cell in nbformat.read(master, as_version=4).cells:
        if cell.cell_type != "code":
            cells.append(cell)
            continue
        cell.outputs, cell.execution_count = [], None
        cell.source = re.sub(r'(f?)"\.\./data/([\w.{}]+)"', r'data(\1"\2")', cell.source)
        if 'student=""' in cell.source:
            cells.append(new_cell("markdown", IDENTITY_WORDS, "identity-words"))
            cells.append(_marked(IDENTITY, f"{identity_source('')}\n{REGION}", solution=True))
            test = f', test="{seal}"' if seal else ""
            cell.source = cell.source.replace('student=""', f"student=student, solutions=False{test}")
        cells.append(cell)
        if task := TASK.fullmatch(cell.source.strip()):
            key, hidden = f"{master.name[:2]}.{task[1]}", {"source_hidden": True}
            worth = {"grade": True, "locked": True, "points": points(key)}
            answer = _marked(grade_id("answer", key), f"{checked(key, task[1])}\n{REGION}", solution=True)
            got = _marked(grade_id("marks", key), f"marks(verdict_{task[1]}, {points(key)})", **worth)
            answer.metadata.jupyter, got.metadata.jupyter = hidden, hidden
            cells += [answer, got]
    cells.append(new_cell("markdown", HAND_IN_WORDS, "hand-in-words"))
    cells.append(new_cell("code", f'hand_in("{master.stem}", student)', "hand-in"))
    return new_notebook(cells, OURS, {"assignment": master.stem, "student": ""})


def typed(student: str, lesson: str, folder: Path) -> dict[str, str]:
    """Return what a student typed last into the box of each task, from the record in a folder."""
    return {
        entry.task: entry.answer
        for entry in entries(folder)
        if entry.student == student and entry.task in library()[1] and entry.task[:2] == lesson
    }


def with_answers(raw: bytes, answers: Mapping[str, str]) -> bytes:
    """Return a notebook's bytes with what was typed into the boxes written into the answer cells that are blank."""
    changed = False
    try:
        content = json.loads(raw)
        for cell in content["cells"]:
            role, key = role_of(cell["metadata"].get("nbgrader", {}).get("grade_id", ""))
            if role == "answer" and key in answers and re.search(r"\.check\([^,()]*\)", "".join(cell["source"])):
                cell["source"] = checked(key, f"{key!r}, {clean(answers[key])!r}")
                changed = True
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):  # damaged: it stays as it is
        return raw
    return json.dumps(content, ensure_ascii=False, indent=1).encode("utf-8", "replace") if changed else raw


def checked(key: str, given: str) -> str:
    """Return the text of a task's answer cell, from what stands between the brackets of its check."""
    name = f"verdict_{key.partition('.')[2]}"
    return f"{name} = lesson.check({given})\n{name}"


def identity_source(student: str) -> str:
    """Return the text of the cell that says whose notebook it is."""
    return f'from susgeo.classroom import data, hand_in, marks, who\n\nstudent = who("{student}")'


def personal(release: NotebookNode, student: str) -> NotebookNode:
    """Return a student's own copy of the notebook that nbgrader releases."""
    copy = nbformat.from_dict(release)
    copy.metadata.susgeo.student = student
    for cell in copy.cells:
        if cell.metadata.get("nbgrader", {}).get("grade_id") == IDENTITY:
            cell.source = identity_source(student)
    return copy


def marking_sheet(
    source: NotebookNode, student: str, answers: Mapping[str, object], notes: tuple[str, ...] = ()
) -> NotebookNode:
    """Return the notebook that is run for marking: the tasks with a student's answers as plain values.

    Every line of code in it is ours; of the student's there are only the values of the answers. Below each
    answer the worked solution is opened on the student's figures, for the feedback.
    """
    said = "Made for marking: your answers were taken over as they stand, and none of your other cells was run."
    noted = ["- " + re.sub(r"[^\w .,:;'()-]", "", note) for note in notes]  # a note may quote the student
    title = source.cells[0].source.partition("\n")[0]
    cells = [new_cell("markdown", "\n".join([title, "", said, "", *noted]), "made-for-marking")]
    for cell in source.cells:
        role, key = role_of(cell.metadata.get("nbgrader", {}).get("grade_id", ""))
        if role == IDENTITY:
            cells.append(_kept(cell, identity_source(student)))
        elif "student=student" in cell.source:
            fence = "from susgeo.answers import Lesson\nfrom susgeo.classroom.fence import fence_in"
            made = (
                f'lesson = Lesson("{source.metadata.susgeo.assignment[:2]}", student)'  # no test: the marking tells all
            )
            code = f'{fence}\n\n{made}\nprint("Limits:", *sorted(fence_in()))'
            cells.append(new_cell("code", code, "setup-for-marking"))
        elif role == "answer":
            cells.append(new_cell("code", f'lesson.question("{key}")', grade_id("task", key)))
            cells.append(_kept(cell, checked(key, f'"{key}", {clean(repr(answers.get(key, "")))}, keep=False')))
        elif role == "marks":
            cells.append(_kept(cell, cell.source))
            if library()[1][key].find:
                cells.append(new_cell("code", f'lesson.solution("{key}")', grade_id("solved", key)))
    return new_notebook(cells, source.metadata, {**source.metadata.susgeo, "student": student})


def given_answer(cell: NotebookNode) -> Any:
    """Return the student's answer in a cell of the marking sheet."""
    return ast.literal_eval(next(calls(ast.parse(cell.source))).args[1])


def _kept(cell: NotebookNode, source: str) -> NotebookNode:
    return new_cell("code", source, cell.id, nbgrader=cell.metadata.nbgrader)


def _marked(name: str, source: str, **roles: Any) -> NotebookNode:
    """Return a cell with the metadata by which nbgrader knows it."""
    plain = {"grade": False, "solution": False, "locked": False, "task": False, "schema_version": 3}
    return new_cell("code", source, name, nbgrader={**plain, "grade_id": name, **roles})


def new_cell(kind: str, source: str, name: str, **metadata: Any) -> NotebookNode:
    """Return a cell, unlike nbformat's own not held against the schema at once: the whole notebook is when it is written."""
    cell = {"cell_type": kind, "id": name, "metadata": nbformat.from_dict(metadata), "source": source}
    return NotebookNode(cell | ({"execution_count": None, "outputs": []} if kind == "code" else {}))


def new_notebook(cells: list[NotebookNode], metadata: Mapping[str, Any], about: Mapping[str, Any]) -> NotebookNode:
    """Return a notebook of cells, with metadata that any program knows, and what we know about it."""
    return nbformat.from_dict(
        {"cells": cells, "metadata": {**metadata, "susgeo": about}, "nbformat": 4, "nbformat_minor": 5}
    )


def clean(text: str) -> str:
    """Return text that any file can hold: halves of characters, which JSON may bring, are replaced."""
    return text.encode("utf-8", "replace").decode("utf-8")
