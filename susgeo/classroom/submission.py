"""Reading what a student handed in, as data: nothing of it is ever run.

A submission is other people's code. Answers are read out of the cells' text as plain values, with the parser
of Python and no evaluation, and are checked by the marker's own library. So a notebook that loops for ever,
fills the memory, deletes files or redefines the checks does none of it here, and no verdict can be forged.
"""

import ast
import json
import operator
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from nbformat import NotebookNode

from ..errors import SusgeoError
from .assignment import IDENTITY, calls, clean, new_cell, new_notebook, role_of, task_key
from .names import valid_id

LARGEST = 8_000_000
"""Bytes of a notebook that are read. A finished lesson has half a megabyte; reading takes thirty times as much."""
LONGEST_CELL = 20_000
NESTING = 80
MOST_CELLS = 500
MOST_CODE = 400_000
"""Characters with answers in them that are read in one notebook."""
CUT_SHORT = "The notebook has more code with answers than a lesson can have; the rest is not read."
UNREADABLE = "The file is damaged or no notebook: its text cannot be read."
NO_CELLS = "The file is no notebook: it has no cells."
TOO_LARGE = (
    f"The notebook has more than {LARGEST / 1e6:.0f} MB and is not read: clear its outputs (in JupyterLab: Edit, "
    "Clear Outputs of All Cells), save, and hand it in again."
)


@dataclass(frozen=True)
class Submission:
    """What was handed in, as far as it can be read.

    Args:
        student: the id that the notebook itself says, or "".
        answers: task key to the answer's plain value; tasks without one are left out.
        notes: one sentence for each thing that is missing, damaged or unusual.
        readable: False if the file as a whole could not be read.
    """

    student: str
    answers: dict[str, object]
    notes: tuple[str, ...] = ()
    readable: bool = True

    def notes_for(self, student: str, named: bool = True) -> tuple[str, ...]:
        """Return the notes, and one more if the notebook shows another student's figures.

        ``named=False`` is for the student's own eyes: nobody else's id stands in it.
        """
        if self.student in ("", student):
            return self.notes
        whose, notes = f"{self.student}'s", self.notes
        if not named:
            whose = "another student's"
            notes = tuple(note.replace(f"{self.student}'s", whose) for note in notes)
        return (
            f"The notebook says that it is {whose}, and so shows other figures; those of {student}, as whose "
            "it was handed in, count.",
            *notes,
        )


class NoValue(Exception):
    """An answer that is not a plain value; the message says why."""


def cells_of(raw: bytes) -> tuple[list[dict[str, Any]], dict[str, str]]:
    """Return a notebook's cells and metadata from its bytes, forgiving all that can be forgiven.

    Each cell comes as ``{"type", "source", "grade_id"}``. What is no notebook comes as one cell that says why, and
    has "damage" in its metadata.
    """
    try:
        content = json.loads(raw.decode("utf-8-sig", "replace")) if len(raw) <= LARGEST else None
    except (ValueError, RecursionError, MemoryError):
        return _damaged(UNREADABLE)
    content = content if isinstance(content, dict) else {}
    cells = _part(content, "cells", list)
    if not any(isinstance(cell, dict) for cell in cells):
        return _damaged(NO_CELLS if len(raw) <= LARGEST else TOO_LARGE)
    found = []
    for cell in (cell for cell in cells[:MOST_CELLS] if isinstance(cell, dict)):
        lines = (line for line in _part(cell, "source", list) if isinstance(line, str))
        texts = {"source": _part(cell, "source", str) or "".join(lines)}
        texts["grade_id"] = _part(_part(_part(cell, "metadata", dict), "nbgrader", dict), "grade_id", str)
        found.append({"type": cell.get("cell_type"), **{name: clean(text) for name, text in texts.items()}})
    told = _part(_part(content, "metadata", dict), "susgeo", dict).items()
    return found, {clean(key)[:40]: clean(value)[:200] for key, value in told if isinstance(value, str)}


def _part(whole: dict[str, Any], name: str, kind: type) -> Any:
    """Return what stands under a name if it is of a kind, else an empty one."""
    return found if isinstance(found := whole.get(name), kind) else kind()


def _damaged(why: str) -> tuple[list[dict[str, Any]], dict[str, str]]:
    return [{"type": "markdown", "source": why, "grade_id": ""}], {"damage": why}


def read_submission(raw: bytes, source: NotebookNode) -> Submission:
    """Read a notebook's bytes against the assignment's source; never raises for anything handed in."""
    try:
        return _read(raw, source)
    except Exception:  # a fault of ours, found by one student's text, is not to stop the others
        return Submission("", {}, (UNREADABLE,), readable=False)


def _read(raw: bytes, source: NotebookNode) -> Submission:
    cells, own = cells_of(raw)
    if own.get("damage") in (UNREADABLE, NO_CELLS, TOO_LARGE):  # it stands for a file that could not be read
        return Submission("", {}, (own["damage"],), readable=False)
    roles = {cell.metadata.nbgrader.grade_id: cell for cell in source.cells if "nbgrader" in cell.metadata}
    handed_out = {cell.source.strip() for cell in source.cells if not cell.metadata.get("nbgrader")}
    there = Counter(cell["grade_id"] for cell in cells)
    read = list(_answers(cells, handed_out, str(source.metadata.susgeo.assignment)[:2]))
    given, notes = {}, [fault for _, key, _, fault in read if not key]
    for grade_id, (role, key) in zip(roles, map(role_of, roles), strict=True):
        if role != "answer":
            continue
        found = [(home[0] == role, value) for home, task, value, fault in read if task == key and not fault]
        values = [value for marked, value in found if marked] or [value for _, value in found]
        faults = [fault for home, task, _, fault in read if home == (role, key) == (role, task) and fault]
        if values:
            given[key] = values[-1]
        elif faults:
            notes.append(f"Task {key}: {faults[-1]}")
        if not there[grade_id]:
            rest = "an answer was found in another cell" if values else "it counts as not answered"
            notes.append(f"Task {key}: the answer's cell is missing; {rest}.")
        elif there[grade_id] > 1:
            notes.append(f"Task {key}: the answer's cell is there {there[grade_id]} times; the last answer counts.")
    student, doubt = _identity(cells, own)
    return Submission(student, given, tuple(note for note in (*notes, *_altered(cells, roles), doubt) if note))


def _answers(
    cells: list[dict[str, Any]], handed_out: set[str], lesson: str
) -> Iterator[tuple[tuple[str, str], str, object, str]]:
    """Yield for each answer role and task of the cell in which it stands, the task that it is given to, its value, its fault.

    A fault without a task says that not all of the cells were read.
    """
    left = MOST_CODE
    for cell in cells:
        home, text = role_of(cell["grade_id"]), cell["source"]
        if ".check(" not in text or text.strip() in handed_out:
            continue
        left -= len(text)
        if left < 0:
            yield home, "", None, CUT_SHORT
            return
        if home[1] and len(text) > LONGEST_CELL:
            yield home, home[1], None, f"the answer's cell has more than {LONGEST_CELL} characters, and is not read."
        for key, value, fault in answers_in(text, lesson):
            if not (isinstance(value, str) and _blank(value)):
                yield home, key, value, fault


def _altered(cells: list[dict[str, Any]], roles: dict[str, NotebookNode]) -> Iterator[str]:
    """Say which of the cells that give marks are missing or were altered."""
    for role, cell in roles.items():
        kind, key = role_of(role)
        sources = [other["source"].strip() for other in cells if other["grade_id"] == role]
        if kind == "marks" and not sources:
            yield f"Task {key}: the cell that gives the marks is missing; it is put back for the marking."
        elif kind == "marks" and any(text != cell.source.strip() for text in sources):
            yield f"Task {key}: the cell that gives the marks was altered; the original is used."


def _blank(text: str) -> bool:
    """Tell whether a text is empty, or the bare lines ``name =`` that a lesson offers."""
    return all(line.strip().endswith("=") for line in text.splitlines() if line.strip())


def _identity(cells: list[dict[str, Any]], own: dict[str, Any]) -> tuple[str, str]:
    """Return the student whom a notebook names, and what is wrong with it, if anything."""
    texts = [cell["source"] for cell in cells if cell["grade_id"] == IDENTITY]
    texts = texts or [cell["source"] for cell in cells if re.search(r"\bwho\(", cell["source"])]
    match = re.search(r"""\bwho\(\s*(["'])(.*?)\1""", texts[-1]) if texts else None
    handed_out = own.get("student", "")
    try:
        named = valid_id(match[2]) if match and match[2].strip() else ""
    except SusgeoError as problem:
        return handed_out, f"The notebook's identity is not valid. {problem}"
    if not named:
        missing = "The cell that says whose notebook this is is missing or blank."
        return handed_out, missing if handed_out or not texts else ""
    if handed_out and handed_out != named:
        return named, f"The notebook was handed out to {handed_out} and now says that it is {named}'s."
    return named, ""


def answers_in(text: str, lesson: str) -> list[tuple[str, object, str]]:
    """Return (task key, value, problem) for each answer in a cell's text; value is None where there is a problem.

    >>> answers_in('lesson.check(1, "1782,6 mm")', "02")
    [('02.1', '1782,6 mm', '')]
    """
    if len(text) > LONGEST_CELL:
        return []
    try:
        tree = ast.parse(text)
    except (SyntaxError, ValueError, RecursionError, MemoryError):  # the last two where it is nested too deep
        return _salvaged(text, lesson)
    names: dict[str, ast.expr] = {}
    for node in tree.body:  # only what is written out: sums of sums of names would grow without end
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=ast.Constant() as value):
                names[name] = value
    found = []
    for call in calls(tree):
        given = [*call.args[1:], *(word.value for word in call.keywords if word.arg == "answer")]
        key = task_key(lesson, call.args[0].value)  # type: ignore[attr-defined]
        if not given:
            continue
        try:
            if len(call.args) > 2 and all(isinstance(one, ast.Constant) for one in call.args[1:3]):
                raise NoValue("there is more than one value; a number with a decimal comma needs quotation marks.")
            found.append((key, plain(given[0], names), ""))
        except NoValue as problem:
            found.append((key, None, str(problem)))
    return found


OPERATIONS = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv}


def plain(node: ast.expr, names: dict[str, ast.expr], depth: int = 0) -> object:
    """Return the plain value that an expression writes out: text, a number, sums of numbers, or a mapping."""
    if depth > NESTING:
        raise NoValue("the answer is nested too deep.")
    match node:
        case ast.Constant(value=str() | int() | float() as value):
            return float("inf") if isinstance(value, int) and abs(value) >= 10**300 else value
        case ast.Name(id=name) if name in names:
            return plain(names[name], {}, depth + 1)
        case ast.UnaryOp(op=ast.USub() | ast.UAdd() as sign, operand=inner):
            if isinstance(number := plain(inner, names, depth + 1), (int, float)):
                return -number if isinstance(sign, ast.USub) else number
        case ast.BinOp(left=first, right=second) if type(node.op) in OPERATIONS:
            left, right = plain(first, names, depth + 1), plain(second, names, depth + 1)
            if isinstance(left, (int, float)) and isinstance(right, (int, float)):
                try:
                    return float(OPERATIONS[type(node.op)](left, right))
                except (ArithmeticError, ValueError):
                    raise NoValue("the sum in the answer has no value.") from None
        case ast.Dict(keys=keys, values=values) if None not in keys:
            pairs = ((key, one) for key, one in zip(keys, values, strict=True) if key is not None)
            return {str(plain(key, names, depth + 1)): plain(one, names, depth + 1) for key, one in pairs}
    raise NoValue("the answer is worked out by code, which is not run; write its value between the quotation marks.")


def _salvaged(text: str, lesson: str) -> list[tuple[str, object, str]]:
    """Return the answer of a cell that is no Python, such as ``lesson.check(1, 1782.6 mm)``: what stands in the call."""
    call = text.partition(".check(")[2].rpartition(")")[0]
    number, comma, answer = call.partition(",")
    if not comma or not re.fullmatch(r"""\s*["']?[\w.]{1,8}["']?\s*""", number):
        return []
    return [(task_key(lesson, number.strip().strip("\"'")), answer.strip().strip("\"'").strip(), "")]


def normalized(raw: bytes, source: NotebookNode) -> NotebookNode:
    """Return what was handed in as a notebook that every program can read: the cells' text, without outputs.

    A cell that the assignment knows gets the metadata it was handed out with. Of a file that cannot be read
    nothing is left but the reason; it is for the caller to keep the file.
    """
    roles = {
        cell.metadata.nbgrader.grade_id: cell.metadata.nbgrader for cell in source.cells if "nbgrader" in cell.metadata
    }
    cells, own = cells_of(raw)
    made = []
    for number, cell in enumerate(cells):
        kind = "markdown" if cell["type"] == "markdown" else "code"
        known = {"nbgrader": roles[cell["grade_id"]]} if cell["grade_id"] in roles else {}
        made.append(new_cell(kind, cell["source"][: LONGEST_CELL + 1], f"cell-{number}", **known))
    told = {key: value for key, value in own.items() if key in ("student", "damage")}
    return new_notebook(made, source.metadata, {**told, "assignment": source.metadata.susgeo.assignment})
