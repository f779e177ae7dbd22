"""Solutions written out: each line as one would write it on paper, and the construction to scale."""

import html
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from ..car.car import Car
from ..draw.picture import Picture
from ..draw.vector import vector
from ..tables import CELL
from .calculation import Calculation, Step, compiled
from .construction import draw_construction
from .figures import Figure, values_of
from .paper import MOST_EXTRA, for_calculator, in_radians, last_digit, on_paper, put, put_together, text, tree, written


def as_given(figure: Figure) -> str:
    """Write a figure that a question starts from, with no more digits than it was given with.

    >>> import math
    >>> as_given(Figure("phi", "roll", "deg", math.radians(2)))
    '2 deg'
    """
    return f"{on_paper(figure.value, figure.unit):.12g} {figure.unit}".strip()


class Drawn:
    """What may have a drawing, made when it is looked at."""

    drawing: Callable[[], Picture | None] | None

    @cached_property
    def picture(self) -> Picture | None:
        """The construction to scale, and what was computed over it; None where there is nothing to draw."""
        return self.drawing() if self.drawing is not None else None

    @property
    def image(self) -> str:
        """The drawing as lines, for a page."""
        return vector(self.picture) if self.picture is not None else ""


@dataclass(frozen=True, eq=False)
class Worked(Drawn):
    """A solution: the figures it starts from, its lines, and what makes its drawing; shown folded in a notebook."""

    title: str
    figures: tuple[Figure, ...]
    lines: tuple[tuple[str, str], ...]
    drawing: Callable[[], Picture | None] | None = None
    folded: bool = True

    def __str__(self) -> str:
        """Return the solution as plain text, for printing."""
        given = [f"  {figure.symbol} = {as_given(figure)}  ({figure.words})" for figure in self.figures]
        lines = [f"  {line}   {words}" for line, words in self.lines]
        return "\n".join([self.title, "Given:", *given, "Lines:", *lines])

    def page(self) -> str:
        """Return it as HTML, its drawing as lines."""
        rows = "".join(
            f'<tr><td style="{CELL}left; font-family: monospace">{html.escape(line)}</td>'
            f'<td style="{CELL}left">{html.escape(words)}</td></tr>'
            for line, words in self.lines
        )
        body = f"<table>{rows}</table>{self.image}"
        if not self.folded:
            return f"<p>{html.escape(self.title)}</p>{body}"
        head = f'<summary style="display: list-item">{html.escape(self.title)} (click to open)</summary>'
        return f"<details>{head}{body}</details>"

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        text = f"{self.title} (folded; print(solution(...)) shows it)" if self.folded else str(self)
        return {"text/html": self.page(), "text/plain": text}


def work_out(
    title: str,
    calculation: Calculation,
    known: Mapping[str, Figure],
    find: str,
    car: Car | None,
    folded: bool = True,
    symbols: Sequence[str] = (),
) -> Worked:
    """Write out a calculation up to the line that is asked for; with symbols, as one formula in these."""
    values = calculation.values(values_of(known))
    needed = () if symbols else calculation.needed_for(find)
    given = tuple(figure for name, figure in known.items() if name in needed)
    steps = calculation.lines_to(find)
    lines = _in_symbols(calculation, find, symbols) if symbols else _with_figures(steps, values, known)
    drawing = (lambda: draw_construction(calculation, car, [("", values)])) if car is not None else None
    return Worked(title, given, tuple(lines), drawing, folded)


def _in_symbols(calculation: Calculation, find: str, symbols: Sequence[str]) -> list[tuple[str, str]]:
    """Return the lines that lead from the symbols to a result, and all of them put into one."""
    formulas = {step.name: step.formula for step in calculation.steps}
    lines = [(f"{step.name} = {step.formula}", step.words) for step in calculation.lines_to(find, symbols)]
    if len(lines) > 1:
        lines.append((f"{find} = {put_together(formulas, find, symbols)}", "the lines put together"))
    return lines


def _with_figures(
    steps: Sequence[Step], values: Mapping[str, float], known: Mapping[str, Figure]
) -> list[tuple[str, str]]:
    """Return lines with their figures put in, each figure with the digits that the lines below it need."""
    units = {name: figure.unit for name, figure in known.items()} | {step.name: step.unit for step in steps}
    shown = {name: as_given(figure) for name, figure in known.items()}
    extra = {step.name: _least(values[step.name], step.unit) for step in steps}
    for _ in range(MOST_EXTRA * len(steps)):
        shown |= {step.name: written(values[step.name], step.unit, extra[step.name]) for step in steps}
        longer = {name for name, more in extra.items() if more < MOST_EXTRA}
        short = longer & {_too_short(step, shown, values, units) for step in steps}
        if not short:
            break
        extra |= {name: extra[name] + 1 for name in short}
    figures = {name: number.split()[0] for name, number in shown.items()}
    figures |= {f"{name}°": f"{number}°" for name, number in figures.items()}
    lines = []
    for step in steps:
        formula = for_calculator(tree(step.formula), units, step.unit)
        sides = [step.formula, text(put(formula, figures))]
        alone = figures[step.name], f"({figures[step.name]})"  # a line that only copies a figure
        sides = [side for side in dict.fromkeys(sides) if side not in alone]
        lines.append((" = ".join([step.name, *sides, shown[step.name]]), step.words))
    return lines


def _least(value: float, unit: str) -> int:
    """Return how many digits more than usual a small value needs, so that three of them count."""
    size = abs(on_paper(value, unit))
    texts = (written(value, unit, more).split()[0] for more in range(MOST_EXTRA))
    counted = (len(text.strip("-").replace(".", "").lstrip("0")) >= 3 for text in texts)
    return next((more for more, enough in enumerate(counted) if enough), 0) if size > 1e-6 else 0


def _too_short(step: Step, shown: Mapping[str, str], values: Mapping[str, float], units: Mapping[str, str]) -> str:
    """Return the figure of a line that needs another digit, if what is written does not give the result that is."""
    names, function = compiled(step.formula)

    def result(rounded: Sequence[str]) -> float:
        read = {name: in_radians(float(shown[name].split()[0]), units[name]) for name in rounded}
        return on_paper(float(function(*(read.get(name, values[name]) for name in names))), step.unit)

    try:
        if abs(result(names) - float(shown[step.name].split()[0])) <= last_digit(shown[step.name]) / 2:
            return ""
        return max(names, key=lambda name: abs(result([name]) - result([])))
    except (ArithmeticError, ValueError):  # no value, or not a number on the way
        return ""
