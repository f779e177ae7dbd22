"""A task as it stands on paper: the question, a drawing with its figures, the table, and room to write."""

import html
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ..car.car import Car
from ..draw.dimensioned import AXES as SHOWN
from ..draw.dimensioned import dimensioned
from ..draw.picture import Picture
from ..tables import html_rows
from .calculation import Task, library
from .figures import AXES, LENGTHS, POINTS, Figure, figures
from .numbers import Tolerance
from .worked import as_given

Show = Callable[[Picture], str]
"""What makes HTML of a drawing: ``Picture.html`` of pixels, :func:`susgeo.draw.vector.vector` of lines."""
WIDTH = 760
"""Of a drawing, in pixels."""
RULE = '<div style="border-bottom: 1px solid #8b96a0; height: 2.2em"></div>'


@dataclass(frozen=True)
class Page:
    """Words and a table for a notebook: HTML on screen, text elsewhere."""

    page: str
    text: str

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        return {"text/html": self.page, "text/plain": self.text}


def paragraphs(*sentences: str) -> Page:
    """Return sentences as a page, a paragraph each."""
    return Page("".join(f"<p>{html.escape(one)}</p>" for one in sentences), "\n".join(sentences))


def ruled(lines: int) -> str:
    """Return empty lines to write on."""
    return f'<div aria-hidden="true">{RULE * lines}</div>'


def question(task: Task, car: Car, known: Mapping[str, Figure], show: Show = Picture.html, width: int = WIDTH) -> Page:
    """Return a task's question, its figures as a drawing (by ``show``) and as a table, and how to answer."""
    how, rows = how_to_answer(task), rows_of(task, car, known)
    table = html_rows(rows)
    picture, left_out = drawing(task, car, known, show, width)
    if picture and task.kind == "formula":
        table = picture + table  # what the symbols stand for is part of the question
    elif picture:
        rest = [f"{row[0]} = {row[1]} ({row[2]})" for row in rows if row[0] in left_out]
        aside = f"<p>Also given: {html.escape('; '.join(rest))}.</p>" if rest else ""
        table = (
            f'{picture}{aside}<details><summary style="display: list-item">The figures as a table</summary>'
            f"{table}</details>"
        )
    head = f"<p><strong>Task {task.key}.</strong> {html.escape(task.ask)}</p>"
    text = "\n".join([f"Task {task.key}. {task.ask}", *("  " + "  ".join(filter(None, row)) for row in rows), how])
    return Page(f'<div class="susgeo-whole">{head}{table}<p>{html.escape(how)}</p></div>', text)


def rows_of(task: Task, car: Car, known: Mapping[str, Figure]) -> list[tuple[str, str, str]]:
    """Return the figures of a task: symbol, value, words."""
    if task.kind in ("number", "working"):
        names = sorted(
            library()[0][task.of].needed_for(task.find),
            key=lambda name: name[2:] + name[:2] if name[1:2] == "_" else "~" + name,
        )
        return [(name, as_given(known[name]), known[name].words) for name in names if name in known]
    if task.kind == "formula":
        return [(name, "", words_of(task, name)) for name in task.symbols]
    present = figures(car)
    rows = [
        (
            name,
            f"{low:g} to {high:g} mm; as it stands {as_given(present[name])}"
            + ("" if low <= present[name].value <= high else ", outside that bracket"),
            words,
        )
        for name, (words, low, high) in task.move.items()
    ]
    return rows + [
        (name.split(" [")[0], f"{want:g} {name.split(' [')[1][:-1]}, within {off:g}", "wanted")
        for name, (want, off) in task.want.items()
    ]


def drawing(
    task: Task, car: Car, known: Mapping[str, Figure], show: Show = Picture.html, width: int = WIDTH
) -> tuple[str, Sequence[str]]:
    """Return the drawing of a task's figures as HTML, "" where it has none, and the figures that are not in it."""
    calculation = library()[0].get(task.of)
    given = {**{name: figure.value for name, figure in figures(car).items()},
             **{name: figure.value for name, figure in known.items()}}  # fmt: skip
    if task.kind in ("number", "working") and calculation is not None:
        asked = [name for name in calculation.needed_for(task.find) if name in known]
    else:
        asked = list(task.symbols or task.move)
    parts = [tuple(name.split("_", 1)) for name in asked if "_" in name]
    measured = [(axis, code) for axis, code in parts if axis in AXES and code in POINTS and f"{axis}_{code}" in given]
    left_out = [name for name in asked if tuple(name.split("_", 1)) not in measured]
    pictures = []
    for end in ("rear", "front"):
        axle = car.front if end == "front" else car.rear
        codes = tuple(dict.fromkeys(code for _, code in measured if POINTS[code][0].startswith(end)))
        if axle is None or not codes:
            continue
        axes = {axis for axis, code in measured if code in codes}
        codes += ("E",) if "x_E" in known else ()  # the elbow of a bent link: drawn, though no line needs it
        view = calculation.view if calculation is not None else ""
        if view not in SHOWN or not axes & set(SHOWN[view]):
            view = next(one for one in ("side", "front", "plan") if axes <= set(SHOWN[one]) or one == "plan")
        links = tuple(pair for pair in calculation.links if set(pair) <= set(codes)) if calculation else ()
        if links and "UA" in codes and "UC" not in codes and "x_UC" in given:  # no link ends in the air
            codes, links = (*codes, "UC"), (*links, ("UA", "UC"))
        if calculation is None or not links:  # a code ends in C where its link's axle end is called A
            links = tuple((code[:-1] + "A", code) for code in codes if code[:-1] + "A" in POINTS and code[-1:] == "C")
            codes = tuple(dict.fromkeys((*codes, *(one for pair in links for one in pair if f"x_{one}" in given))))
        joints = tuple(
            (code, tuple((axis, given[f"{axis}_{code}"]) for axis in "xyz" if f"{axis}_{code}" in given))
            for code in codes
        )
        wanted = tuple(f"{axis}_{code}" for axis, code in measured if code in codes)
        pictures.append(_drawn(axle, joints, view, links, wanted, task.kind == "formula", show, width))
    return "".join(pictures), left_out


@lru_cache(maxsize=64)
def _drawn(axle: Any, joints: Any, view: Any, links: Any, wanted: Any, letters: bool, show: Show, width: int) -> str:
    """Return a dimensioned drawing as HTML; kept, since tasks on the same figures have the same drawing."""

    def write(name: str, value: float) -> str:
        return name if letters else f"{name} = {value:.6g}"

    places = {code: dict(place) for code, place in joints}
    return show(dimensioned(axle, places, view, links, write, wanted, width))


def how_to_answer(task: Task) -> str:
    """Say in a sentence what kind of answer is expected."""
    if task.kind == "choice":
        return (
            "Answer with a line for each: "
            + ", ".join(f"{name} = ... mm" for name in task.move)
            + ". Any choice that meets the target is right."
        )
    if task.kind == "formula":
        return f"Answer with a formula in {', '.join(task.symbols)}, such as (a + b)/c or sqrt(a^2 + b^2)."
    unit = library()[0][task.of].step(task.find).unit
    if task.kind == "working":
        return (
            f"Write your lines one below the other, each name = formula or name = number; the last one is {task.find}"
            + (f" in {unit}." if unit else ".")
        )
    return f"Answer with a number in {unit or 'plain figures, no unit'}; it counts as right {Tolerance(task.tolerance, unit=unit)}."


def words_of(task: Task, name: str) -> str:
    """Return what a symbol of a formula stands for."""
    calculation = library()[0][task.of]
    for step in calculation.steps:
        if step.name == name:
            return step.words
    if name in calculation.given or name in task.given:
        return {**calculation.given, **task.given}[name][2]
    if name in LENGTHS:
        return LENGTHS[name][1]
    axis, _, code = name.partition("_")
    return f"{POINTS[code][1]}: {AXES[axis]}"


def hints(task: Task) -> list[str]:
    """Return the hints of a task in steps: a word, the lines to write, the lines with their formulas."""
    found = [task.hint] if task.hint else []
    if not task.find:
        return [*found, "Move it a little, see in the bench which way the number goes, then move it in proportion."]
    lines = library()[0][task.of].lines_to(task.find)
    if task.kind == "formula":
        lines = tuple(step for step in lines if step.name not in task.symbols)
    if len(lines) > 1:
        found.append("The lines on the way: " + "; ".join(f"{one.name}, {one.words}" for one in lines) + ".")
    before = [f"{one.name} = {one.formula}" for one in (lines if task.kind == "number" else lines[:-1])]
    return [*found, "As formulas: " + "; ".join(before) + "."] if before else found
