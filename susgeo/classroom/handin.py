"""The check before handing in: what would be marked, what is missing or damaged, and the file to hand in."""

import html
import zipfile
from dataclasses import replace
from pathlib import Path

from ..answers.lesson import Lesson, Page
from ..answers.verdict import HEADS
from ..errors import SusgeoError
from ..tables import html_rows
from .assignment import class_notebook, points, typed, with_answers
from .names import file_name, master
from .student import earned
from .submission import read_submission


def check_and_pack(assignment: str, student: str, folder: Path) -> Page:
    """Read the saved notebook as the marking will, say what it earns so far, and pack it.

    The zip ``LESSON--STUDENT.zip`` stands beside the notebook afterwards, and in it what was typed into the boxes,
    written into the answer cells; the notebook itself is not changed.
    """
    names = [file_name(assignment, student), f"{assignment}.ipynb"]
    saved = next((folder / name for name in names if (folder / name).is_file()), None)
    if saved is None:
        raise SusgeoError(
            f"There is no file {names[0]} in this folder: keep the name under which the notebook was handed out."
        )
    lesson = Lesson(assignment[:2], student, folder=str(folder))
    lesson = replace(lesson, test=lesson.seal)
    raw = with_answers(saved.read_bytes(), typed(student, assignment[:2], folder))
    own = read_submission(raw, class_notebook(master(assignment)))
    notes = list(own.notes_for(student))
    rows, got, whole = [], 0.0, 0
    for key, task in lesson.tasks.items():
        verdict, worth = lesson.check(key, own.answers.get(key, ""), keep=False), points(key)
        mark = earned(verdict, worth)
        got, whole = got + mark, whole + worth
        told = f"{worth}" if lesson.sealed else f"{mark:g} of {worth}"
        rows.append((key, task.kind, HEADS[verdict.kind].lower(), told))
    packed = folder / file_name(assignment, student, "zip")
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(names[0], raw)
    open_tasks = [row[0] for row in rows if row[2] == HEADS["blank"].lower()]
    words = [f"Hand in the file {packed.name}. As it is saved it earns {got:g} of {whole} marks."]
    words = [f"Hand in the file {packed.name}. This is a test: your instructor marks it."] if lesson.sealed else words
    words += [f"Still open: {', '.join(open_tasks)}."] if open_tasks else []
    words += notes or ["Nothing is missing or damaged."]
    page = "".join(f"<p>{html.escape(sentence)}</p>" for sentence in words)
    return Page(f"{page}{html_rows(rows)}", "\n".join([*words, *("  ".join(row) for row in rows)]))
