"""From a lesson's one master to the notebook of a class, in nbgrader's cell metadata; and back to what is marked.

Nothing is written a second time: each cell is the master's, and what is changed is changed by rule. The cell
that makes the lesson takes the student's id; each cell that checks an answer becomes an answer cell, and a
locked cell below it says what the answer earns; worked solutions are left out until the marking. Where a
lesson is answered in boxes, the answer cell takes what was typed there from the record, and the packing for the
hand-in writes it into that cell as plain text (:func:`with_answers`).
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
from ..errors import SusgeoError

POINTS = {"number": 2, "formula": 3, "working": 4, "choice": 3}
"""Marks for a task of each kind."""
REGION = "### BEGIN SOLUTION\n### END SOLUTION"
"""An empty region, in nbgrader's spelling: without one it would blank the whole cell."""
IDENTITY = "identity"


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


def calls(tree: ast.AST, method: str = "check") -> Iterator[ast.Call]:
    """Yield the calls ``something.method(number, ...)`` in a piece of code."""
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr == method
            and node.args
            and isinstance(node.args[0], ast.Constant)
        ):
            yield node


def class_notebook(master: Path, seal: str = "") -> NotebookNode:
    """Return the source notebook of an nbgrader assignment, made from a lesson's master; a seal makes it a test."""
    lesson, notebook = master.name[:2], nbformat.read(master, as_version=4)
    cells: list[NotebookNode] = []
    code = [ast.parse(cell.source) for cell in notebook.cells if cell.cell_type == "code"]
    boxed = all(_number(tree, "check") is None for tree in code)
    made = 0  # cells that make the lesson
    for cell in notebook.cells:
        if cell.cell_type != "code":
            cell.source = re.sub(r"[^.]*`student=\"\"`[^.]*\.", " The figures are your own.", cell.source)
            cells.append(cell)
            continue
        cell.outputs, cell.execution_count = [], None
        tree = ast.parse(cell.source)
        if ".solution(" in cell.source:
            continue
        cell.source = re.sub(r'(f?)"\.\./data/([\w.{}]+)"', r'data(\1"\2")', cell.source)
        if 'student=""' in cell.source:
            made += 1
            cells += _identity_cells()
            test = f', test="{seal}"' if seal else ""
            cell.source = cell.source.replace('student=""', f"student=student, solutions=False{test}")
        number = _number(tree, "task" if boxed else "check")
        if number is None:
            cells.append(cell)
            continue
        key = task_key(lesson, number)
        if boxed:
            cells.append(cell)
            cell = nbformat.v4.new_code_cell(f"lesson.check({number!r})", id=grade_id("answer", key))
            cell.metadata["jupyter"] = nbformat.from_dict({"source_hidden": True})
        name = f"verdict_{key.partition('.')[2]}"
        cell.source = f"{name} = {cell.source.strip()}\n{name}\n{REGION}"
        cell.metadata["nbgrader"] = _marked(grade_id("answer", key), solution=True)
        worth = nbformat.v4.new_code_cell(f"marks({name}, {points(key)})", id=grade_id("marks", key))
        worth.metadata["jupyter"] = nbformat.from_dict({"source_hidden": boxed})
        worth.metadata["nbgrader"] = _marked(worth.id, grade=True, locked=True, points=points(key))
        cells += [cell, worth]
    if made != 1:
        raise SusgeoError(f'{master.name} has {made} cells with student="", and exactly one is needed.')
    notebook.cells = [*cells, *_hand_in_cells(master.stem)]
    notebook.metadata = nbformat.from_dict(
        {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
            "susgeo": {"assignment": master.stem, "student": ""},
        }
    )
    return notebook


def _number(tree: ast.Module, method: str) -> object:
    """Return the number of the task in a cell that is one call of a method with it, else None."""
    only = tree.body[0] if len(tree.body) == 1 else None
    found = [call for call in calls(tree, method) if isinstance(only, ast.Expr) and only.value is call]
    return ast.literal_eval(found[0].args[0]) if found else None


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
                name = f"verdict_{key.partition('.')[2]}"
                cell["source"] = f"{name} = lesson.check({key!r}, {clean(answers[key])!r})\n{name}"
                changed = True
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):  # damaged: it stays as it is
        return raw
    return json.dumps(content, ensure_ascii=False, indent=1).encode("utf-8", "replace") if changed else raw


def _marked(grade_id: str, **roles: Any) -> NotebookNode:
    """Return the metadata by which nbgrader knows a cell."""
    plain = {"grade": False, "solution": False, "locked": False, "task": False, "schema_version": 3}
    return nbformat.from_dict({**plain, "grade_id": grade_id, **roles})


def _identity_cells() -> list[NotebookNode]:
    words = nbformat.v4.new_markdown_cell(
        "The next cell says whose notebook this is. The figures of the tasks follow from it, so leave it as it is.",
        id="identity-words",
    )
    cell = nbformat.v4.new_code_cell(identity_source("") + "\n" + REGION, id=IDENTITY)
    cell.metadata["nbgrader"] = _marked(IDENTITY, solution=True)
    return [words, cell]


def identity_source(student: str) -> str:
    """Return the text of the cell that says whose notebook it is."""
    return f'from susgeo.classroom import data, hand_in, marks, who\n\nstudent = who("{student}")'


def _hand_in_cells(assignment: str) -> list[NotebookNode]:
    words = (
        "## Hand in\n\nSave (Ctrl+S), then run the next cell. It says what would be marked and what is missing,"
        " and packs the file to hand in. You may do so as often as you like."
    )
    return [
        nbformat.v4.new_markdown_cell(words, id="hand-in-words"),
        nbformat.v4.new_code_cell(f'hand_in("{assignment}", student)', id="hand-in"),
    ]


def personal(release: NotebookNode, student: str) -> NotebookNode:
    """Return a student's own copy of the notebook that nbgrader releases."""
    copy = nbformat.from_dict(release)
    copy.metadata.setdefault("susgeo", nbformat.from_dict({}))["student"] = student
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
    title = next((cell.source.partition("\n")[0] for cell in source.cells if cell.cell_type == "markdown"), "#")
    cells = [new_cell("markdown", "\n".join([title, "", said, "", *noted]), "made-for-marking")]
    for cell in source.cells:
        role, key = role_of(cell.metadata.get("nbgrader", {}).get("grade_id", ""))
        if role == IDENTITY:
            cells.append(_kept(cell, identity_source(student)))
        elif "student=student" in cell.source:
            tree = ast.parse(cell.source)
            made = next(node for node in tree.body if "student=student" in ast.unparse(node))
            for call in (node for node in ast.walk(made) if isinstance(node, ast.Call)):
                call.keywords = [word for word in call.keywords if word.arg != "test"]  # the marking tells all
            fence = "from susgeo.answers import Lesson\nfrom susgeo.classroom.fence import fence_in"
            code = f'{fence}\n\n{ast.unparse(made)}\nprint("Limits:", *sorted(fence_in()))'
            cells.append(new_cell("code", code, "setup-for-marking"))
        elif role == "answer":
            name = f"verdict_{key.partition('.')[2]}"
            value = clean(repr(answers.get(key, "")))
            cells += [
                new_cell("code", f'lesson.question("{key}")', grade_id("task", key)),
                _kept(cell, f'{name} = lesson.check("{key}", {value}, keep=False)\n{name}'),
            ]
        elif role == "marks":
            cells.append(_kept(cell, cell.source))
            if library()[1][key].find:
                cells.append(new_cell("code", f'lesson.solution("{key}")', grade_id("solved", key)))
    sheet = nbformat.v4.new_notebook(cells=cells, metadata=nbformat.from_dict(source.metadata))
    sheet.metadata.susgeo.student = student
    sheet.nbformat_minor = 5
    return sheet


def given_answer(cell: NotebookNode) -> Any:
    """Return the student's answer in a cell of the marking sheet."""
    return ast.literal_eval(next(calls(ast.parse(cell.source))).args[1])


def _kept(cell: NotebookNode, source: str) -> NotebookNode:
    kept = new_cell("code", source, cell.id)
    kept.metadata["nbgrader"] = nbformat.from_dict(cell.metadata.nbgrader)
    return kept


def new_cell(kind: str, source: str, name: str) -> NotebookNode:
    """Return a cell, unlike nbformat's own not held against the schema at once: the whole notebook is when it is written."""
    cell = {"cell_type": kind, "id": name, "metadata": NotebookNode(), "source": source}
    return NotebookNode(cell | ({"execution_count": None, "outputs": []} if kind == "code" else {}))


def clean(text: str) -> str:
    """Return text that any file can hold: halves of characters, which JSON may bring, are replaced."""
    return text.encode("utf-8", "replace").decode("utf-8")
