"""What a student's notebook calls: who it belongs to, what an answer is worth, and the check before handing in."""

import os
from pathlib import Path

from ..answers.lesson import Page
from ..answers.verdict import Verdict
from ..errors import SusgeoError
from ..files import DATA
from .names import valid_id


class NotYet(SusgeoError):
    """An answer that earns no marks; the message is what the check says of it."""

    def _render_traceback_(self) -> list[str]:
        return [f"No marks. {self}"]  # one sentence in the notebook, where a traceback would say nothing


def who(student: str = "") -> str:
    """Return the id of the student whose notebook this is; on a hub it may be left blank.

    >>> who("Kim")
    'kim'
    """
    return valid_id(student or os.environ.get("JUPYTERHUB_USER", ""))


def data(name: str) -> Path:
    """Return where a car file of the course is, whatever folder the notebook is in."""
    return DATA / name


def earned(verdict: Verdict, points: float) -> float:
    """Return what an answer earns: all, nothing, or the share of a working that follows from an early slip."""
    return round(float(points) if verdict else verdict.credit * points, 2)


def marks(verdict: Verdict, points: float) -> Page | float | None:
    """Say what an answer earns, in the way that nbgrader marks a cell.

    While marking: nothing for a right answer, a number for a part of the marks, and otherwise an error. In the
    student's own notebook: a sentence, so that "Run all" does not stop at the first open task.
    """
    got = earned(verdict, points)
    if not os.environ.get("NBGRADER_EXECUTION"):
        text = f"Task {verdict.task}: {got:g} of {points:g} marks as it stands."
        if verdict.kind == "kept":
            text = f"Task {verdict.task}: your answer is kept; it is worth up to {points:g} marks."
        return Page(f"<p>{text}</p>", text)
    if verdict:
        return None
    if got:
        return got
    raise NotYet(str(verdict))
