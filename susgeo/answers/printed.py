"""Tasks on paper, on one reader's figures: each question with its drawing and room to write, and the key to them."""

from dataclasses import replace

from ..draw.printed import Sheet
from .calculation import Task
from .lesson import Lesson
from .question import Page, ruled

LAYOUT = """
section.task { break-inside: avoid; margin: 0 0 3mm; padding: 0; border: 0 }
section.task::after { content: ""; display: block; clear: both }
section.task p { margin: 0 0 1.5mm }
section.task img { float: right; clear: right; width: auto; max-width: 66mm !important; max-height: 76mm; height: auto; margin: 0 0 1mm 5mm; border-radius: 0 }
section.task details:not([open]), section.task summary { display: none !important }
section.task table { font-size: 8pt; line-height: 1.25 }
section.task td { padding: 0.2mm 2mm 0.2mm 0 !important; border: 0 !important; vertical-align: top }
section.task div[aria-hidden] > div { display: flow-root }
"""
"""The drawing stands at the right and what is written begins beside it. Figures that it shows have no table as well."""
DRAWN, ROOM = 400, {"number": 5, "formula": 4, "working": 7, "choice": 4}
"""Of a drawing, in pixels; and empty lines below a task of each kind."""


def task_on_paper(lesson: Lesson, number: int | str) -> str:
    """Return a task as it stands on paper, as HTML; ``LAYOUT`` is its look."""
    return _section(lesson.find(number), lesson.question(number, DRAWN))


def _section(task: Task, asked: Page) -> str:
    return f'<section class="task">{asked.page}{ruled(ROOM[task.kind])}</section>'


def task_sheet(lesson: Lesson, title: str = "") -> Sheet:
    """Return the tasks of a lesson to be solved on paper; each with its drawing, figures, and lines to write on.

    >>> sheet = task_sheet(Lesson("02", student="kim"), "The side view: Kim")
    >>> sheet.title, sheet.body.count("<img") >= 5
    ('The side view: Kim', True)
    """
    asked = [(lesson.find(key), lesson.question(key, DRAWN)) for key in lesson.tasks]
    body = f"<style>{LAYOUT}</style>" + "".join(_section(task, page) for task, page in asked)
    return Sheet(title or f"Lesson {lesson.number}", body, "\n\n".join(page.text for _, page in asked))


def key_sheet(lesson: Lesson, title: str = "") -> Sheet:
    """Return the worked solutions of a lesson's tasks, line by line, for whoever marks on paper."""
    worked = [replace(lesson.solution(key, folded=False), drawing=None) for key in lesson.tasks]
    body = "".join(f'<section style="break-inside: avoid">{one.page()}</section>' for one in worked)
    return Sheet(title or f"Key to lesson {lesson.number}", body, "\n\n".join(map(str, worked)))
