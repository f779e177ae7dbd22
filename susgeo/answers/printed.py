"""A lesson's tasks on paper, on one student's figures: the questions with room to write, and the key to them."""

from dataclasses import replace

from ..draw.printed import Sheet
from ..draw.vector import vector
from .lesson import Lesson
from .question import ruled

LAYOUT = "<style>section { break-inside: avoid } section img { max-height: 76mm; width: auto !important } section details { display: none }</style>"
"""Two tasks on a sheet; the figures stand in the drawing, so their folded table is left out."""
ROOM = {"number": 4, "formula": 6, "working": 8, "choice": 6}
"""Empty lines below a task of each kind."""


def task_sheet(lesson: Lesson, title: str = "") -> Sheet:
    """Return the tasks of a lesson to be solved on paper; each with its drawing, figures, and lines to write on.

    >>> sheet = task_sheet(Lesson("02", student="kim"), "The side view: Kim")
    >>> sheet.title, sheet.body.count("<img") >= 5
    ('The side view: Kim', True)
    """
    asked = {key: lesson.question(key, vector) for key in lesson.tasks}
    body = LAYOUT + "".join(
        f"<section>{page.page}{ruled(ROOM[lesson.tasks[key].kind])}</section>" for key, page in asked.items()
    )
    return Sheet(title or f"Lesson {lesson.number}", body, "\n\n".join(page.text for page in asked.values()))


def key_sheet(lesson: Lesson, title: str = "") -> Sheet:
    """Return the worked solutions of a lesson's tasks, line by line, for whoever marks on paper."""
    worked = [replace(lesson.solution(key, folded=False), drawing=None) for key in lesson.tasks]
    body = LAYOUT + "".join(f"<section>{one.page()}</section>" for one in worked)
    return Sheet(title or f"Key to lesson {lesson.number}", body, "\n\n".join(map(str, worked)))
