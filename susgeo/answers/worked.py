"""Solutions written out: each line as one would write it on paper, and the construction to scale."""

import html
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..car.car import Car
from ..draw.drawings import TITLES
from ..draw.live_parts import scenery
from ..draw.picture import Panel, Picture
from ..draw.scenes import windows
from ..draw.sketch import Sketch
from ..tables import CELL
from .calculation import Calculation, Step
from .figures import Figure

DIGITS = {"mm": 1, "deg": 3, "%": 1, "N": 0, "kg": 1, "deg/mm": 5}
"""Decimals of a result in each unit; five significant digits of anything else."""

AXES = {"side": "xz", "plan": "xy", "front": "yz"}


def on_paper(value: float, unit: str) -> float:
    """Return a value as it stands on paper: angles in degrees."""
    return math.degrees(value) if unit.startswith("deg") else value


def written(value: float, unit: str = "") -> str:
    """Write a value with honest digits and its unit; angles come in radians and are written in degrees.

    >>> written(307.3077, "mm"), written(0.0608974), written(0.0174533, "deg")
    ('307.3 mm', '0.060897', '1.000 deg')
    """
    if math.isnan(value):
        return "no value"
    number = on_paper(value, unit) + 0.0  # no minus before a zero
    if unit in ("mm", "kg") and number == round(number):
        return f"{number:.0f} {unit}"
    small = unit in ("mm", "%") and 0.05 <= abs(number) < 10  # of a few mm or percent a tenth says too little
    text = f"{number:.{2 if small else DIGITS[unit]}f}" if unit in DIGITS else significant(number)
    return f"{text} {unit}".strip()


def significant(number: float, digits: int = 5) -> str:
    """Write a number with so many digits that count, and no power of ten as long as people write none.

    >>> significant(0.0608974), significant(29695123.4), significant(1e30)
    ('0.060897', '29695000', '1e+30')
    """
    text = f"{number + 0.0:.{digits}g}"
    return f"{float(text):.0f}" if 1e5 <= abs(number) < 1e10 else text


def as_given(figure: Figure) -> str:
    """Write a figure that a question starts from, with no more digits than it was given with.

    >>> as_given(Figure("phi", "roll", "deg", math.radians(2)))
    '2 deg'
    """
    return f"{on_paper(figure.value, figure.unit):.9g} {figure.unit}".strip()


@dataclass(frozen=True, eq=False)
class Worked:
    """A solution: the figures it starts from, its lines, and the drawing; shown folded in a notebook."""

    title: str
    figures: tuple[Figure, ...]
    lines: tuple[tuple[str, str], ...]
    picture: Picture | None
    folded: bool = True

    def __str__(self) -> str:
        """Return the solution as plain text, for printing."""
        given = [f"  {figure.symbol} = {as_given(figure)}  ({figure.words})" for figure in self.figures]
        return "\n".join(
            [self.title, "Given:", *given, "Lines:", *(f"  {line}   {words}" for line, words in self.lines)]
        )

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        rows = "".join(
            f'<tr><td style="{CELL}left; font-family: monospace">{html.escape(line)}</td>'
            f'<td style="{CELL}left">{html.escape(words)}</td></tr>'
            for line, words in self.lines
        )
        image = self.picture.still().html() if self.picture is not None else ""
        body = f"<table>{rows}</table>{image}"
        if not self.folded:
            return {"text/html": f"<p>{html.escape(self.title)}</p>{body}", "text/plain": str(self)}
        return {
            "text/html": f'<details><summary style="display: list-item">{html.escape(self.title)} (click to open)</summary>{body}</details>',
            "text/plain": f"{self.title} (folded; print(solution(...)) shows it)",
        }


def work_out(
    title: str,
    calculation: Calculation,
    known: Mapping[str, Figure],
    find: str,
    car: Car | None,
    folded: bool = True,
) -> Worked:
    """Write out a calculation up to the line that is asked for."""
    values = calculation.values({name: figure.value for name, figure in known.items()})
    units = {name: figure.unit for name, figure in known.items()} | {
        step.name: step.unit for step in calculation.steps
    }
    lines = []
    for step in calculation.lines_to(find):
        put_in = _with_figures(step, values, units)
        middle = "" if put_in == step.formula else f" = {put_in}"
        result = written(values[step.name], step.unit)
        lines.append((f"{step.name} = {step.formula}{middle} = {result}", step.words))
    needed = calculation.needed_for(find)
    shown = tuple(figure for name, figure in known.items() if name in needed)
    picture = draw_construction(calculation, car, [("", values)]) if car is not None else None
    return Worked(title, shown, tuple(lines), picture, folded)


def _with_figures(step: Step, values: Mapping[str, float], units: Mapping[str, str]) -> str:
    """Return a line's formula with its figures put in."""

    def figure(match: re.Match[str]) -> str:
        name = match[0]
        if name not in values:
            return name
        number = on_paper(values[name], units.get(name, ""))
        text = significant(number, 6 if units.get(name) in ("mm", "kg", "N/mm") else 5)
        text += " deg" if units.get(name, "") == "deg" else ""
        return f"({text})" if number < 0 or " " in text else text

    return re.sub(r"[A-Za-z]\w*", figure, step.formula)


def draw_construction(
    calculation: Calculation,
    car: Car | None,
    cases: Sequence[tuple[str, Mapping[str, float]]],
    width: int = 760,
) -> Picture | None:
    """Draw a calculation's construction once for each case: a title and the values it comes out with.

    Two cases stand one above the other at the same scale: the right construction and what was computed. Where
    they look the same there is nothing to see, and no drawing.
    """
    if not calculation.point and not calculation.lines:
        return None
    view: Any = calculation.view
    axle = car and (
        car.front if any(code in "JASTKB" for pair in calculation.links for code in pair) else car.rear
    )
    if axle is None:
        return None
    left, right, bottom, top = windows([axle], (view,))[view]
    codes = {code for pair in (*calculation.links, *calculation.lines) for code in pair} | {
        calculation.point
    } - {""}
    drawn = [[_place(view, code, values) for code in sorted(codes)] for _, values in cases]
    if len(drawn) > 1 and all(places == drawn[0] for places in drawn):
        return None
    for places in drawn:
        for h, v in places:
            if abs(h) < 3500 and abs(v) < 1500:
                left, right = min(left, h - 120), max(right, h + 120)
                bottom, top = min(bottom, v - 120), max(top, v + 120)
    window = (left, right, bottom, top)
    panels = [
        Panel(str(number), view, window, title or TITLES[view]) for number, (title, _) in enumerate(cases)
    ]

    def paint(sketch: Sketch) -> None:
        title, values = cases[int(sketch.name)]
        sketch.say(f"{title or TITLES[view]}.")
        scenery(sketch, axle)
        for one, other in calculation.links:
            ends = _place(view, one, values), _place(view, other, values)
            sketch.path(f"{one} {other}", ends)
            for code, end in zip((one, other), ends, strict=True):
                sketch.dot(code, end, "axle end" if code[1:] == "A" or code in "JTK" else "chassis end")
                sketch.label(f"{code} name", end, code)
        for one, other in calculation.lines:
            ends = _place(view, one, values), _place(view, other, values)
            if all(map(math.isfinite, (*ends[0], *ends[1]))) and ends[0] != ends[1]:
                sketch.reach(f"{one} {other} line", ends[0], ends[0], ends[1])
        ends_of_links = {code for pair in calculation.links for code in pair}
        for code in dict.fromkeys(code for pair in calculation.lines for code in pair):
            place = _place(view, code, values)
            if code not in ends_of_links and code != calculation.point and sketch.shows(place):
                sketch.dot(code, place, "meet")
                sketch.label(f"{code} name", place, code, "note")
        if calculation.point:
            h, v = _place(view, calculation.point, values)
            if math.isfinite(h) and math.isfinite(v):
                start = _place(view, calculation.lines[0][0], values) if calculation.lines else (0.0, 0.0)
                sketch.spot(calculation.point, (h, v), calculation.point, start)
                sketch.say(
                    f"{calculation.point} lies at {AXES[view][0]} = {h if view != 'front' else -h:.1f} mm, {AXES[view][1]} = {v:.1f} mm."
                )

    return Picture([[panel] for panel in panels], width, tallest=330 if len(cases) > 1 else 420).draw(paint)


def _place(view: str, code: str, values: Mapping[str, float]) -> tuple[float, float]:
    """Return where a point code stands in a drawing: right and up in mm; coordinates not named are zero."""
    h, v = (values.get(f"{axis}_{code}", 0.0) for axis in AXES[view])
    return (-h if view == "front" else h), v
