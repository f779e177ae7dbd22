"""A task as it stands on paper: the question, a drawing with its figures, the table, and room to write."""

import html
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..car.car import Car
from ..draw.dimensioned import dimensioned
from ..draw.vector import vector
from ..geometry.flat import VIEWS, View
from ..tables import html_rows
from .calculation import Calculation, Task, evaluate, library, read
from .choices import outcomes
from .figures import POINTS, Figure, figures, values_of
from .paper import significant
from .worked import as_given

MOST_MEASURED = 14
"""How many dimensions of an axle a drawing holds; of more, those that are to be chosen, and a table has the rest."""
TOLD = "front bump steer"
"""What is wanted and by no line on paper found as it stands: a choice's table says how far off it is."""
WIDTH = 760
"""Of a drawing, in pixels."""
Codes = tuple[str, ...]
"""Points by their codes in :data:`susgeo.answers.figures.POINTS`."""
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


def question(task: Task, car: Car, known: Mapping[str, Figure], width: int = WIDTH) -> Page:
    """Return a task's question, its figures as a drawing and as a table, and how to answer."""
    how, chosen, rows = how_to_answer(task), choices_of(task, car), rows_of(task, car, known)
    table = html_rows(rows)
    picture, left_out = drawing(task, car, known, width)
    if picture and task.kind == "formula":
        table = picture + table  # what the symbols stand for is part of the question
    elif picture:
        rest = [f"{row[0]} = {row[1]} ({row[2]})" for row in rows if row[0] in left_out]
        many = len(rest) > MOST_MEASURED
        aside = f"<p>Also given: {html.escape('; '.join(rest))}.</p>" if rest and not many else ""
        head = '<summary style="display: list-item">The figures as a table</summary>'
        table = f"{picture}{aside}<details{' open' if many else ''}>{head}{table}</details>"
    head = f"<p><strong>Task {task.key}.</strong> {html.escape(task.ask)}</p>{html_rows(chosen) if chosen else ''}"
    lines = ("  " + "  ".join(filter(None, row)) for row in (*chosen, *rows))
    text = "\n".join([f"Task {task.key}. {task.ask}", *lines, how])
    return Page(f'<div class="susgeo-whole">{head}{table}<p>{html.escape(how)}</p></div>', text)


def rows_of(task: Task, car: Car, known: Mapping[str, Figure]) -> list[tuple[str, str, str]]:
    """Return the figures of a task: symbol, value, words."""
    if task.kind == "formula":
        return [(name, "", task.calculation.meaning(name, task.given)[0]) for name in task.symbols]
    given = {**figures(car), **known}
    names = [name for name in dict.fromkeys((*task.move, *task.needed())) if name in given]
    names.sort(key=lambda name: name[2:] + name[:2] if name[1:2] == "_" else "~" + name)
    return [(name, as_given(given[name]), given[name].words) for name in names]


def choices_of(task: Task, car: Car) -> list[tuple[str, str, str]]:
    """Return what may be chosen, each with its range, and what is wanted; nothing where it is no choice."""
    present, rows = figures(car), []
    for name, (words, low, high) in task.move.items():
        beyond = "" if low <= present[name].value <= high else ", outside that range"
        rows.append((name, f"{low:g} to {high:g} mm; as it stands {as_given(present[name])}{beyond}", words))
    told = any(name.startswith(TOLD) for name in task.want)
    there = outcomes(task, car, {name: present[name].value for name in task.move}) if told else ()
    now = {one.name: f"; as it stands {significant(one.value, 2)}" for one in there if one.name == TOLD}
    return rows + [
        (quantity, f"{want:g} {unit[:-1]}, within {off:g}{now.get(quantity, '')}", "wanted")
        for (quantity, unit), (want, off) in ((name.split(" ["), both) for name, both in task.want.items())
    ]


def drawing(task: Task, car: Car, known: Mapping[str, Figure], width: int) -> tuple[str, Sequence[str]]:
    """Return the drawing of a task's figures as HTML, "" where it has none, and the figures that are not in it."""
    calculations = [library()[0][key] for key in task.drawn_by]
    given = values_of({**figures(car), **known})
    drawn = {name: read(formula) for one in calculations for name, formula in one.drawn.items()}
    given |= {name: evaluate(formula, given) for name, formula in drawn.items()}
    asked = [name for name in dict.fromkeys((*task.move, *task.needed())) if name in given]
    # A point set by the question, such as the elbow of a bent link, is drawn with the rear axle.
    fixed = tuple(one[2:] for one in known if one[:2] == "x_" and one[2:] not in POINTS and f"z_{one[2:]}" in known)
    ends = {code: place.partition(".")[0] for code, (place, _) in POINTS.items()} | dict.fromkeys(fixed, "rear")
    measured = [name for name in asked if name[:2] in ("x_", "y_", "z_") and name[2:] in ends]
    pictures = []

    def write(name: str, value: float) -> str:
        return name if task.kind == "formula" else f"{name} = {value:.6g}"

    for end, axle in car.axles():
        here = [name for name in measured if ends[name[2:]] == end]
        if not here:
            continue
        if len(here) > MOST_MEASURED:
            here = [name for name in here if name in task.move]
            measured = [name for name in measured if name in here or ends[name[2:]] != end]
        codes = tuple(dict.fromkeys((*(name[2:] for name in (*here, *drawn)), *fixed)))
        view = _view(codes, calculations)
        codes, links = _linked(codes, calculations)
        if len(codes) < 2:
            continue  # a joint alone shows nothing
        joints = {code: {axis: given[at] for axis in "xyz" if (at := f"{axis}_{code}") in given} for code in codes}
        pictures.append(vector(dimensioned(axle, joints, view, links, write, here, width)))
    return "".join(pictures), [name for name in asked if name not in measured]


def _view(codes: Codes, calculations: Sequence[Calculation]) -> View:
    """Return the view of the first calculation that links one of these points, or has no links."""
    linking = (one for one in calculations if not one.links or any(set(pair) & set(codes) for pair in one.links))
    view: Any = next((one.view for one in linking), "")
    return view if view in VIEWS else "side"


def _linked(codes: Codes, calculations: Sequence[Calculation]) -> tuple[Codes, tuple[tuple[str, str], ...]]:
    """Return the points of a drawing, and the links between them; no link ends in the air."""
    links = tuple(dict.fromkeys(pair for one in calculations for pair in one.links if set(pair) <= set(codes)))
    if len({"UA", "UC"} & {*codes}) == 1:
        codes, links = tuple(dict.fromkeys((*codes, "UA", "UC"))), (*links, ("UA", "UC"))
    # A code ends in C where its link's axle end is called A.
    loose = {*codes}.difference(*links)
    pairs = ((f"{code.removesuffix('C')}A", code) for code in codes if code.endswith("C"))
    return codes, (*links, *(pair for pair in pairs if loose.issuperset(pair)))


def how_to_answer(task: Task) -> str:
    """Say in a sentence what kind of answer is expected."""
    if task.kind == "choice":
        lines, each = ", ".join(f"{name} = ... mm" for name in task.move), len(task.move) > 1
        how = "a line for each" if each else "one line"
        return f"Answer with {how}: {lines}. Any choice that meets the target is right."
    if task.kind == "formula":
        return f"Answer with a formula in {', '.join(task.symbols)}, such as (a + b)/c or sqrt(a^2 + b^2)."
    unit = task.calculation.step(task.find).unit
    if task.kind == "working":
        last = f"{task.find} in {unit}" if unit else task.find
        return f"Write your lines one below the other, each name = formula or name = number; the last one is {last}."
    shown = {"": "plain figures, no unit", "in": "inches"}.get(unit, unit)
    return f"Answer with a number in {shown}; it counts as right {task.within}."


def hints(task: Task) -> list[str]:
    """Return the hints of a task in steps: a word, the lines to write, the lines with their formulas."""
    found = [task.hint] if task.hint else []
    if not task.find:
        return [*found, "Move it a little, see in the bench which way the number goes, then move it in proportion."]
    lines = task.calculation.lines_to(task.find)
    if task.kind == "formula":
        lines = tuple(step for step in lines if step.name not in task.symbols)
    if len(lines) > 1:
        found.append("The lines on the way: " + "; ".join(f"{one.name}, {one.words}" for one in lines) + ".")
    before = [f"{one.name} = {one.formula}" for one in (lines if task.kind == "number" else lines[:-1])]
    return [*found, "As formulas: " + "; ".join(before) + "."] if before else found
