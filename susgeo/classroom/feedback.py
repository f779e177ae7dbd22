"""The page that a student gets back: each task with its question, the answer line by line, what was seen in it, the marks.

It is one file with its pictures inside, and asks nothing of any network.
"""

import html
import shutil
from pathlib import Path
from typing import Any

from nbconvert.exporters import Exporter
from nbformat import NotebookNode

from ..errors import SusgeoError
from ..files import sweep, write_whole
from .assignment import given_answer, grade_id, name_of, role_of
from .names import master

STYLE = (
    "body { font: 16px/1.45 sans-serif; color: #1d2730; max-width: 50rem; margin: 1.5rem auto; padding: 0 1rem } "
    "h1 { font-size: 1.4rem } h2 { font-size: 1.1rem; margin: 2rem 0 0.3rem; border-top: 1px solid #c3cad0; padding-top: 1rem } "
    "ol.answer { background: #eef1f3; padding: 0.5rem 0.5rem 0.5rem 3rem; font-family: monospace; white-space: pre-wrap } "
    "img { max-width: 100%; height: auto } .marks { float: right } table { border-collapse: collapse }"
)


class FeedbackPage(Exporter):  # type: ignore[misc]
    """nbgrader's feedback, written as a page of our own from the marked sheet."""

    file_extension = ".html"

    def from_notebook_node(self, nb: NotebookNode, resources: Any = None, **more: Any) -> tuple[str, dict[str, Any]]:
        sheet, told = super().from_notebook_node(nb, resources, **more)
        told["output_extension"] = ".html"
        return feedback_page(sheet, told["nbgrader"]), told


def feedback_page(sheet: NotebookNode, about: dict[str, Any]) -> str:
    """Return the page for a marked sheet.

    Args:
        sheet: as :mod:`susgeo.classroom.running` leaves it, with nbgrader's scores in the cells' metadata.
        about: ``student``, ``score``, ``max_score`` and ``late_penalty``, as nbgrader tells them.
    """
    title, _, said = sheet.cells[0].source.partition("\n")
    title = html.escape(title.lstrip("# ").strip())
    late = float(about.get("late_penalty") or 0)
    words = [f"{_number(about.get('score'))} of {_number(about.get('max_score'))} marks."]
    words += [f"{_number(late)} marks were taken off because it came late."] if late else []
    words += [line.removeprefix("- ") for line in said.splitlines() if line.strip()]
    body = [f"<h1>{title}: feedback for {html.escape(str(about['student']))}</h1>"]
    body += [f"<p>{html.escape(line)}</p>" for line in words]
    cells = {name_of(cell): cell for cell in sheet.cells}
    for name, cell in cells.items():
        role, key = role_of(name)
        if role != "answer":
            continue
        worth = cells[grade_id("marks", key)].metadata.nbgrader
        got = f"{_number(worth.get('score'))} of {_number(worth.get('points'))}"
        body.append(f'<section><h2><span class="marks">{got}</span>Task {html.escape(key)}</h2>')
        body += [_shown(cells.get(grade_id("task", key))), _answer(cell), _shown(cell)]
        comment = cell.metadata.get("nbgrader", {}).get("comment")
        if comment:
            body.append(f"<p><strong>Your instructor:</strong> {html.escape(str(comment))}</p>")
        body += [_shown(cells.get(grade_id("solved", key))), "</section>"]
    return (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{STYLE}</style></head><body>{''.join(body)}</body></html>"
    )


def _number(value: Any) -> str:
    return f"{float(value or 0):g}"


def _answer(cell: NotebookNode) -> str:
    """Return a student's answer, one line of it below the other."""
    value = given_answer(cell)
    lines = [f"{name} = {one}" for name, one in value.items()] if isinstance(value, dict) else str(value).splitlines()
    lines = [line.strip() for line in lines if line.strip()]
    items = "".join(f"<li>{html.escape(line[:400])}</li>" for line in lines[:60])
    return f'<ol class="answer">{items}</ol>' if items else "<p>You gave no answer.</p>"


def _shown(cell: NotebookNode | None) -> str:
    """Return what a cell shows, as HTML."""
    parts = []
    for output in cell.outputs if cell is not None else []:
        if output.output_type == "error":
            parts.append(f"<p>{html.escape(output.evalue)}</p>")
        elif output.output_type in ("execute_result", "display_data"):
            text = output.data.get("text/plain", "")
            parts.append(output.data.get("text/html") or f"<p>{html.escape(text)}</p>")
    return "".join(parts)


def hand_back(course: Path, lesson: str) -> list[Path]:
    """Lay each student's feedback into one folder, ``hand_back/LESSON``, one page for each, named by the student."""
    assignment = master(lesson).stem
    folder, written = course / "hand_back" / assignment, []
    sweep(folder)
    for page in sorted(course.glob(f"feedback/*/{assignment}/{assignment}.html")):
        target = folder / f"{assignment}--{page.parent.parent.name}.html"
        write_whole(target, page.read_bytes())
        written.append(target)
    if not written:
        raise SusgeoError(f"There is no feedback on {assignment} yet; mark it first.")
    for old in set(folder.glob("*.html")) - set(written):
        shutil.move(old, old.with_suffix(".html.old"))
    return written
