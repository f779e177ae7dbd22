"""Marking a sheet in a process forked from this warm one: a kernel's start costs five times as much.

The sheet (:func:`susgeo.classroom.assignment.marking_sheet`) is ours from the first line to the last, so its cells
need no interpreter: what each would show is asked of the library directly, with the same answers and the same
verdicts as a kernel gives. The forked process stands within the fence. If it dies, or takes too long, that costs
the one answer at which it did.
"""

import json
import os
import select
import signal
import time
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

from nbformat import NotebookNode, from_dict

from ..answers.lesson import CLUB, Lesson
from .assignment import given_answer, grade_id, name_of, points, role_of
from .fence import fence_in
from .practice import answers_of
from .student import NotYet, marks

Outputs = dict[str, list[dict[str, Any]]]
"""What the cells of a task show, by the names of the cells."""


def can_fork() -> bool:
    """Tell whether this system can fork a process."""
    return hasattr(os, "fork")


@cache
def warm(number: str) -> None:
    """Do once, before the first fork, what every student's marking needs: letters, formulas, packages, the lesson's tables."""
    for student, kind in ((CLUB, "slips"), ("warm", "mistaken")):
        lesson, answers = Lesson(number, student, folder=os.devnull), answers_of(number, student, kind)
        for key, task in lesson.tasks.items():
            task_outputs(lesson, key, answers[key], solved=bool(task.find))


def run_sheet(sheet: NotebookNode, seconds: float) -> None:
    """Fill in the outputs of a marking sheet, each task within a time in seconds."""
    cells = {role_of(name_of(cell)): cell for cell in sheet.cells}
    answers = {key: given_answer(cell) for (role, key), cell in cells.items() if role == "answer"}
    whose = str(sheet.metadata.susgeo.assignment)[:2], str(sheet.metadata.susgeo.student)
    lesson = Lesson(*whose, folder=os.devnull)  # no record that lies here is the student's
    warm(lesson.number)

    def work(key: str) -> Outputs:
        return task_outputs(lesson, key, answers[key], ("solved", key) in cells)

    shown: Outputs = {}
    left = list(answers)
    while left:
        for name, outputs in _forked(work, left, seconds):
            shown |= outputs
            if name:
                left.remove(name)
        if left and grade_id("answer", left[0]) not in shown:
            shown |= _lost(left.pop(0))
    for number, cell in enumerate(sheet.cells, 1):
        if cell.cell_type == "code":
            cell.execution_count = number
            cell.outputs = [from_dict(output) for output in shown.get(name_of(cell), [])]


def task_outputs(lesson: Lesson, key: str, answer: object, solved: bool) -> Outputs:
    """Return what the cells of one task show: the question, the verdict, the marks, the worked solution."""
    verdict = lesson.check(key, answer, keep=False)
    try:
        got = marks(verdict, points(key))
        earned = [] if got is None else [_shown("", repr(got))]
    except NotYet as problem:
        earned = [_error(problem)]
    asked, said = _shown(lesson.question(key).page), _shown(verdict.page(), str(verdict))
    shown = {"task": [asked], "answer": [said], "marks": earned}
    if solved:
        shown["solved"] = [_shown(lesson.solution(key).page())]
    return {grade_id(role, key): outputs for role, outputs in shown.items()}


def _shown(page: str, text: str = "") -> dict[str, Any]:
    data = {"text/html": page, "text/plain": text} if page else {"text/plain": text}
    return {"output_type": "execute_result", "data": data, "metadata": {}, "execution_count": None}


def _error(problem: Exception) -> dict[str, Any]:
    name, text = type(problem).__name__, str(problem)
    return {"output_type": "error", "ename": name, "evalue": text, "traceback": [text]}


def _lost(key: str) -> Outputs:
    why = "This answer could not be checked: the marking took too long at it, or broke off. Your instructor is told."
    return {grade_id(role, key): [_error(NotYet(why))] for role in ("answer", "marks")}


def _forked(work: Callable[[str], Outputs], keys: list[str], seconds: float) -> Iterator[tuple[str, Outputs]]:
    """Yield (key, outputs) of the work on each key, done in a process of its own, as long as it lives."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        try:
            limits = " ".join(sorted(fence_in(seconds=int(seconds * len(keys)))))
            said = {"output_type": "stream", "name": "stdout", "text": f"Limits: {limits}\n"}
            _send(writer, "", {"setup-for-marking": [said]})
            for key in keys:
                _send(writer, key, work(key))
        finally:  # whatever happened: nothing of the process it was forked from may go on here
            os._exit(0)
    os.close(writer)
    held, last = b"", time.monotonic()
    try:
        while True:
            ready = select.select([reader], [], [], max(0.0, last + seconds - time.monotonic()))[0]
            part = os.read(reader, 1 << 20) if ready else b""
            if not part:
                return
            held += part
            *lines, held = held.split(b"\n")
            for line in lines:
                last = time.monotonic()
                yield tuple(json.loads(line))
    finally:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(reader)


def _send(writer: int, key: str, outputs: Outputs) -> None:
    raw = json.dumps([key, outputs]).encode() + b"\n"
    while raw:
        raw = raw[os.write(writer, raw) :]
