"""Tells whether a right result rests on its lines and figures, or is bare: known, guessed, or made to fit.

A working leads to its result if every line that the result needs is there, or follows from lines that are. Lines of
one's own lead to it if each number in them has a source (a figure, another line, or two of these put together) and the
result changes with the figures, as the right one does where nothing was rounded.
"""

import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import combinations

import numpy as np
import sympy

from .calculation import Calculation, names_in
from .figures import Figure, values_of
from .lines import DIGITS, EXACT, KEPT, Line, digits, read_side, value_of
from .numbers import Quantity, Unreadable
from .paper import last_digit, on_paper
from .worked import as_given


def missing(
    calculation: Calculation, find: str, there: set[str], values: Mapping[str, float], alone: bool = False
) -> list[str]:
    """Return the lines that a result needs and that neither are there nor follow from those that are.

    Args:
        calculation, find: the right way, and its end.
        there: the names of the lines.
        values: of every figure and every line of the way.
        alone: whether also a result that happens to be one of this car's figures needs its lines.
    """
    steps = {step.name: step for step in calculation.lines_to(find)}
    given = {abs(values[name]) for name in calculation.needed_for(find)}

    def lacks(name: str, top: bool = False) -> list[str]:
        if (name in there and not top) or (
            abs(values[name]) in given and not (top and alone)
        ):  # or it only copies a figure
            return []
        inputs = [one for one in names_in(steps[name].formula) if one in steps]
        return [lack for one in inputs for lack in lacks(one)] if inputs or top else [name]

    found = set(lacks(find, True))
    return [name for name in steps if name in found]


def linked(lines: Sequence[Line], find: str, measured: Mapping[str, Figure]) -> list[Line]:
    """Return lines in which each number that is copied from one line above is that line's name."""
    values = {name: one.value for name, one in measured.items()}
    given = {float(as_given(one).split()[0]) for one in measured.values()}
    made: list[Line] = []
    try:
        results(lines, values, {}, find, False)
    except Unreadable:  # a name is used before it is there
        return [*lines]

    def copied(found: re.Match[str]) -> str:
        number, turned = float(found["number"]), found["turned"]
        off = max(last_digit(found["number"]) / (1 if digits(found["number"]) >= KEPT else 2), 2e-5 * number)
        off = 1e-9 if number in EXACT else off
        near = []
        for above in made if number not in given | {0, 1, 2, 100} else ():
            value, angle = values[above.name], any(re.search("deg|[°º˚]", text) for text in above.texts)
            ways = (value, "*pi/180" if turned else ""), (math.degrees(value), "" if turned else "*180/pi")
            near += [
                (abs(number - abs(size)), f"({'-' if size < 0 else ''}{above.name}{by})")
                for size, by in (ways if angle or turned else ways[:1])
                if abs(number - abs(size)) <= off * (1 + 1e-9)
            ]
        best = sorted(near)[:2]
        alone = len(best) == 1 or (len(best) == 2 and best[1][0] > best[0][0] + 1e-9 * number)
        return best[0][1] if alone else found[0]

    for line in lines:
        texts = [text if isinstance(part, Quantity) else COPY.sub(copied, text) for part, text in zip(line.parts, line.texts, strict=True)]  # fmt: skip
        names = frozenset(values)
        made.append(line)
        with suppress(Unreadable):  # put together, it divides by zero
            parts = (part if text == old else read_side(text, names) for part, text, old in zip(line.parts, texts, line.texts, strict=True))  # fmt: skip
            made[-1] = replace(line, parts=tuple(parts), texts=tuple(texts))
    return made


COPY = re.compile(rf"(?P<number>{DIGITS.pattern})(?P<turned> ?(?:°|º|˚|deg\b))?")


def unfounded(
    lines: Sequence[Line],
    calculation: Calculation,
    find: str,
    measured: Mapping[str, Figure],
    values: Mapping[str, float],
    alone: bool = False,
) -> list[str] | None:
    """Return None if lines of one's own, or the result's own arithmetic, lead to it; else the numbers of no known source.

    Args:
        lines: as read, and linked.
        calculation, find: the right way, and its end.
        measured: the figures.
        values: of every figure and every line of the way.
        alone: whether figures that are equal on this car are moved apart where they stand in letters.
    """
    shown = {name: abs(float(as_given(one).split()[0])) for name, one in measured.items()}
    constants = (float(text) for step in calculation.lines_to(find) for text in DIGITS.findall(step.formula))
    figures = {*shown.values(), *constants}
    known = values_of(measured)
    way = [step for step in calculation.steps if find not in {one.name for one in calculation.lines_to(step.name)}]
    own = {line.name: line for line in lines if line.name not in {step.name for step in way}}
    result = abs(on_paper(values[find], calculation.step(find).unit))
    sources = figures | {9.81} | {abs(on_paper(values[step.name], step.unit)) for step in way}
    sources |= {abs(values[step.name]) for step in way}
    one, other = np.array([*combinations(sorted(sources), 2)]).reshape(-1, 2).T
    with np.errstate(all="ignore"):
        pairs = np.concatenate([[*sources], one + other, other - one, one * other, one / other, other / one])
    apart = differences(shown)

    def numbers(line: Line, index: int) -> list[str]:
        """Return the numbers that a side of a line, and the lines of one's own that it uses, start from."""
        part = line.parts[index]
        found = [text[0] for text in DIGITS.finditer(line.texts[index])]
        used = (item.name for item in part.free_symbols) if isinstance(part, sympy.Expr) else ()
        return found + [
            text for name in used if name in own and own[name] is not line for text in numbers(own[name], 0)
        ]

    def has_source(text: str) -> bool:
        number, half = float(text), last_digit(text) / 2 * (1 + 1e-9)
        if number in EXACT | figures:
            return True
        return not abs(result - number) <= half and bool(np.any(abs(pairs - number) <= half))

    end, nowhere = [line for line in lines if line.name == find][-1], list[str]()
    formulas = [text for line in lines for part, text in zip(line.parts, line.texts, strict=True) if isinstance(part, sympy.Expr)]  # fmt: skip
    if alone and not {float(text) for side in formulas for text in DIGITS.findall(side)} & ({*shown.values()} - EXACT):
        shown = {name: number + 0.37 * index for index, (name, number) in enumerate(shown.items())}
    here, elsewhere = (results(lines, dict(known), shown, find, moved) for moved in (False, True))
    moves = not all(math.isclose(a, b, rel_tol=1e-6) for a, b in zip(here, elsewhere, strict=True))
    for index, part in enumerate(end.parts):
        texts = numbers(end, index)
        made_up = [text for text in texts if float(text) not in EXACT | figures and not (moves and has_source(text))]
        nowhere += made_up if isinstance(part, sympy.Expr) else []
        if isinstance(part, Quantity) or made_up or not moves:
            continue
        exact = {float(text) for text in texts} <= (EXACT | figures) - (apart - {0, 1, 2, 100})
        on_others = calculation.values({name: value * other_figure(shown[name]) for name, value in known.items()})[find]
        alike = (elsewhere[index], math.radians(elsewhere[index]))
        if not exact or any(math.isclose(value, on_others, rel_tol=1e-6) for value in alike):
            return None
    written_so = (text[0] for line in lines for side in line.texts for text in DIGITS.finditer(side))
    return [*dict.fromkeys(text for text in written_so if text in nowhere)]


def differences(shown: Mapping[str, float]) -> set[float]:
    """Return the runs and rises between figures along one axis, such as 35 for 265 - 230; nobody rounds to them."""
    pairs = combinations(shown.items(), 2)
    return {round(abs(a - b), 9) for (one, a), (other, b) in pairs if one[:2] == other[:2] and one[0] in "xyz"}


def other_figure(number: float) -> float:
    """Return what a figure is multiplied by on a car where it is another."""
    return 1.0 if number in EXACT else 1.1 + 0.05 * math.sin(number)


def results(
    lines: Sequence[Line], values: dict[str, float], shown: Mapping[str, float], find: str, moved: bool
) -> list[float]:
    """Return what the sides of the last line for a name give, on the figures as they are or on others in their place.

    Args:
        lines: as read.
        values: of the figures, by name; changed.
        shown: the figures as numbers in the lines.
        find: the name.
        moved: whether each figure stands for another, wherever it is used.
    """

    def other(number: float) -> float:
        return number * other_figure(number) if moved and number in shown.values() else number

    for name in values:
        values[name] *= other_figure(shown[name]) if moved else 1.0
    found = [math.nan]
    for line in lines:
        known = frozenset((*values, *(item.name for part in line.parts if isinstance(part, sympy.Expr) for item in part.free_symbols)))  # fmt: skip
        sides = [
            part if isinstance(part, Quantity) else read_side(DIGITS.sub(lambda one: repr(other(float(one[0]))), text), known)
            for part, text in zip(line.parts, line.texts, strict=True)
        ]  # fmt: skip
        sides_of = [value_of(side, None, values) for side in sides]
        values[line.name] = sides_of[0]
        if line.name == find:
            found = sides_of
    return found
