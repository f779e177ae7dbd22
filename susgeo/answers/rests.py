"""One answer's lines as a whole: what rests on what, and whether the result is led to or bare: known, guessed, or made to fit.

A working leads to its result if every line that the result needs is there, or follows from lines that are. Lines of
one's own lead to it if each number in them has a source (a figure, another line, or two of these put together) and the
result changes with the figures, as the right one does where nothing was rounded.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import combinations
from typing import Any

import numpy as np
import sympy

from ..car.car import Car
from ..draw.picture import Picture
from .calculation import Calculation, Task, names_in, quick, symbol
from .figures import Figure, values_of
from .lines import ARCS, DEGREES, DIGITS, EXACT, TURNS, Line, Side, kept, on_a_calculator, open_by, read_lines, value_of
from .numbers import Quantity, Unreadable
from .paper import on_paper
from .worked import as_given

Draw = Callable[[str, Mapping[str, str]], Picture | None] | None


@dataclass(frozen=True, eq=False)
class Work:
    """What is asked, and the lines that answer it.

    Args:
        task: which line is asked for.
        calculation, measured: the right lines, and the figures that they start from.
        car: whose figures these are.
        answer: the lines as typed.
        alone: whether they are about this car and no other.
        draw: what draws a slip, from its title and the lines that it replaces; None for the calculation's own drawing.
    """

    task: Task
    calculation: Calculation
    measured: Mapping[str, Figure]
    car: Car
    answer: str
    alone: bool = False
    draw: Draw = None

    @cached_property
    def known(self) -> dict[str, float]:
        """The figures by name."""
        return values_of(self.measured)

    @cached_property
    def given(self) -> dict[str, float]:
        """The figures as they are given."""
        return {name: float(as_given(one).split()[0]) for name, one in self.measured.items()}

    @cached_property
    def shown(self) -> dict[str, float]:
        """The figures as numbers in the lines."""
        return {name: abs(one) for name, one in self.given.items()}

    @cached_property
    def runs(self) -> set[float]:
        """The runs and rises between figures along one axis, such as 35 for 265 - 230; nobody rounds to them."""
        pairs = combinations(self.given.items(), 2)
        return {round(abs(a - b), 9) for (one, a), (other, b) in pairs if one[:2] == other[:2] and one[0] in "xyz"}

    @cached_property
    def truth(self) -> dict[str, float]:
        """Every figure and every line of the right way."""
        return self.calculation.values(self.known)

    @cached_property
    def lines(self) -> list[Line]:
        """The lines as read."""
        return read_lines(self.answer, self.calculation.symbols)

    @cached_property
    def copies(self) -> list[Line]:
        """The lines with each number that is copied from a line above as that line's name."""
        return linked(self.lines, self.known, self.shown)

    @cached_property
    def own(self) -> frozenset[str]:
        """The names that are the writer's own."""
        return frozenset(line.name for line in self.lines) - self.calculation.by_name.keys()

    @cached_property
    def leads(self) -> bool:
        """Whether the result's first side is right, once the lines that its numbers are copied from are put in."""
        with suppress(Unreadable):
            led, due = worked(self.copies, self.known).get(self.task.find, [math.nan])[0], self.truth[self.task.find]
            unit = self.calculation.step(self.task.find).unit
            return any(math.isclose(led, one, rel_tol=1e-6) for one in (due, on_paper(due, unit)))
        return False

    def under(self, line: Line) -> frozenset[str]:
        """Return the names of the writer's own in a line, also where their numbers were copied."""
        return self.copies[line.number - 1].used & self.own


def worked(lines: Sequence[Line], figures: Mapping[str, float]) -> dict[str, list[float]]:
    """Return what the sides of each line give, by its name, from the figures and the first sides of the lines above."""
    values, found = dict(figures), dict[str, list[float]]()
    for line in lines:
        found[line.name] = [value_of(side.part, None, values) for side in line.sides]
        values[line.name] = found[line.name][0]
    return found


def missing(work: Work) -> list[str]:
    """Return the lines that the result needs and that neither are there nor follow from those that are."""
    find, values = work.task.find, work.truth
    steps = {step.name: step for step in work.calculation.lines_to(find)}
    given = {abs(values[name]) for name in work.calculation.needed_for(find)}
    there = {line.name for line in work.lines}

    def lacks(name: str, top: bool = False) -> list[str] | None:
        """Return what a line still needs: nothing where it follows from lines that are there, None where it needs none."""
        if name in there and not top:
            return []
        if abs(values[name]) in given and not (top and work.alone):  # it only copies a figure
            return None
        inputs = [lacks(one) for one in names_in(steps[name].formula) if one in steps]
        found = [lack for one in inputs for lack in one or []]
        return found if found or [] in inputs or (top and not inputs) else [name]

    found = {*(lacks(find, True) or [])}
    return [name for name in steps if name in found]


def linked(lines: Sequence[Line], figures: Mapping[str, float], shown: Mapping[str, float]) -> list[Line]:
    """Return lines in which each number that is copied from one line above is that line's name."""
    made: list[Line] = []
    given = {0, 1, 2, 100}.union(number for name, number in shown.items() if figures[name] > 0)
    try:
        values = {**figures, **{name: sides[0] for name, sides in worked(lines, figures).items()}}
    except Unreadable:  # a name is used before it is there
        return [*lines]

    def copied(text: str, turned: bool) -> list[tuple[str, sympy.Expr | int]]:
        number = float(text)
        off = (1e-9 if number in EXACT else max(open_by(text), 2e-5 * number)) * (1 + 1e-9)
        near = [
            (by, way)
            for size, in_degrees, way in sizes
            if (by := abs(number - size)) <= off and (turned or not in_degrees) and number not in given
        ]
        least = min((by for by, _ in near), default=0.0)
        return [way for by, way in near if by <= least + 1e-9 * number]

    def side_with(side: Side) -> Side:
        ways = {name: copied(text, name.startswith("turned")) for name, text in side.numbers.items()}
        ways = {name: way for name, way in ways.items() if len(way) == 1 and side.opened.has(symbol(name))}
        if not ways:
            return side
        numbers = {name: text for name, text in side.numbers.items() if name not in ways}
        opened, part = swapped(side.opened, tuple((name, *way) for name, (way,) in ways.items()), (*numbers.items(),))
        return side if part.has(sympy.nan, sympy.zoo) else Side(side.text, part, opened, numbers)

    sizes = list[tuple[float, bool, tuple[str, sympy.Expr | int]]]()  # whether in degrees where no line says so
    for line in lines:
        made.append(replace(line, sides=tuple(map(side_with, line.sides))))
        value = values[line.name]
        for size, times, hidden in ((value, 1, False), (math.degrees(value), DEGREES, not line.angle)):
            sizes.append((abs(size), hidden, (line.name, -times if size < 0 else times)))
    return made


@lru_cache(maxsize=4096)
def swapped(
    opened: sympy.Expr, ways: tuple[tuple[str, str, sympy.Expr | int], ...], numbers: tuple[tuple[str, str], ...]
) -> tuple[sympy.Expr, sympy.Expr]:
    """Return a formula with names of lines, times something, for some of its numbers; and with the others put in."""
    opened = opened.xreplace({symbol(number): symbol(name) * times for number, name, times in ways})
    return opened, opened.xreplace({symbol(name): sympy.Rational(text) for name, text in numbers})


def unfounded(work: Work) -> list[str] | None:
    """Return None if lines of one's own, or the result's own arithmetic, lead to it; else the numbers of no known source.

    They lead to it if they do so on other figures, too. A number that is no figure may have been worked out of figures
    and right lines, of one or of two of them; it then changes as that does.
    """
    lines, calculation, find, alone = work.copies, work.calculation, work.task.find, work.alone
    measured, values, shown = work.measured, work.truth, work.shown
    written = {float(number) for line in lines for side in line.sides for number in side.numbers.values()}
    letters = not written & ({*shown.values()} - EXACT)
    size = {name: number + 0.37 * at * (alone and letters) for at, (name, number) in enumerate(shown.items(), 1)}
    used = {name for line in lines for name in line.used} if letters and not alone else set()
    moved = {
        name: one.value * other_figure(size[name]) or 13.7 * (name in used)  # zero on this car only
        for name, one in measured.items()
    }
    there = calculation.values(moved)
    way = [step for step in calculation.steps if find not in {one.name for one in calculation.lines_to(step.name)}]
    units = {name: one.unit for name, one in measured.items()} | {step.name: step.unit for step in way}
    constants = [float(text) for step in calculation.lines_to(find) for text in DIGITS.findall(step.formula)]
    sure = {number: number * other_figure(number) for number in shown.values()}
    sure |= {number: number for number in {*EXACT, *constants}}
    lengths = sure | {run: run * other_figure(run) for run in work.runs - sure.keys()}
    right, sources = {name: there[name] for name in units}, _sources(values, there, units, constants, find)
    turns = any(
        isinstance(side.part, sympy.Expr) and side.part.has(*TURNS, *ARCS) for line in lines for side in line.sides
    )
    here, last = worked(lines, work.known)[find], [line for line in lines if line.name == find][-1]
    for calculator in (False, True)[: 1 + turns]:
        plain, found = (
            _Elsewhere(dict(moved), right, each, numbers, work.runs, calculator).results(lines, find)
            for each, numbers in (((), lengths), (sources, sure))
        )
        for side, now, then, ends in zip(last.sides, here, plain, found, strict=True):
            rests = isinstance(side.part, sympy.Expr) and not math.isclose(now, then, rel_tol=1e-6)  # on figures
            if rests and np.isclose([ends, np.radians(ends)], there[find], rtol=SAME, atol=0).any():
                return None
    own = {line.name: line.sides for line in lines if line.name not in units}
    seen, numbers, known = {find}, dict[str, None](), lengths.keys()
    sides = [side for side in own[find] if isinstance(side.part, sympy.Expr)]
    for side in sides:  # grows by the lines of one's own on which it rests
        numbers |= dict.fromkeys(number for number in side.numbers.values() if float(number) not in known)
        names = side.names & own.keys() - seen
        sides += [own[name][0] for name in sorted(names)]
        seen |= names
    return [*numbers]


SAME, MOST = 1e-9, 1_000_000
"""Two results are one up to this share; so many ways in which numbers may have come about are tried."""


def _sources(
    values: Mapping[str, float], there: Mapping[str, float], units: Mapping[str, str], constants: list[float], find: str
) -> list[Any]:
    """Return what a number may be, here and there: a figure, a line, a constant, or two of these, also as an angle.

    What is the result itself leads nowhere.
    """
    names = [name for name in units if not math.isclose(abs(values[name]), abs(values[find]), rel_tol=1e-9)]
    found = []
    for of in (values, there):
        alone = [*constants, 9.81, math.pi, 180 / math.pi, *(on_paper(of[name], units[name]) for name in names)]
        alone += [of[name] for name in names if units[name].startswith("deg")]
        one, other = np.array([*combinations(alone, 2)]).reshape(-1, 2).T
        with np.errstate(all="ignore"):
            leans = np.arctan([*alone, *(one / other), *(other / one)])
            pairs = one + other, one - other, one * other, one / other, other / one
            found.append(np.concatenate([alone, *pairs, leans, np.degrees(leans)]))
    return found


@dataclass(slots=True)
class _Elsewhere:
    """Other figures, and what the numbers in some lines would be there, for each way in which they may have come about."""

    values: dict[str, Any]  # of names, as read so far
    right: Mapping[str, float]  # of figures and lines of the way
    sources: Sequence[Any]  # here and there; without, a number is no other there
    sure: Mapping[float, float]  # figures and constants, as numbers
    runs: set[float]  # between two figures
    calculator: bool  # set to degrees
    ways: int = 1
    names: int = 0

    def number(self, size: float, off: float) -> Any:
        """Return what a number is there, along an axis of its own if it may be several."""
        if not self.sources or (size in self.sure and size not in self.runs - {0, 1, 2, 100}):
            return self.sure.get(size, size)
        here, there = self.sources
        fits = abs(abs(here) - size) <= (1e-9 if size in self.runs else off * (1 + 1e-9))
        found = [*([self.sure[size]] if size in self.sure else ()), *(np.sign(here) * there)[fits]]
        found = [*dict.fromkeys(found)][: max(1, MOST // self.ways)] or [math.nan]
        self.ways *= len(found)
        self.names += 1
        return np.reshape(found, (-1, *[1] * (self.names - 1)))

    def results(self, lines: Sequence[Line], find: str) -> list[Any]:
        """Return what the sides of the last line for a name give."""
        for line in lines:
            sides = [self.side(line, side) for side in line.sides]
            self.values[line.name] = sides[0]
            if line.name == find:
                found = sides
        return found

    def side(self, line: Line, side: Side) -> Any:
        """Return a side of a line."""
        part, known = side.part, all(float(one) in self.sure for one in side.numbers.values())
        if line.name in self.right and (isinstance(part, Quantity) or not known):
            return self.right[line.name]  # judged by itself
        try:
            if isinstance(part, Quantity):
                size = value_of(part, None, {})
                off = part.digit * abs(size / part.value if part.value else 0)
                return math.copysign(1, size) * self.number(abs(size), off / (1 if kept(side.text) else 2))
            numbers = {name: self.number(float(one), open_by(one)) for name, one in side.numbers.items()}
            formula = on_a_calculator(side.opened, frozenset(), False) if self.calculator else side.opened
            names, function = quick(formula, True)
            with np.errstate(all="ignore"):
                return function(*({**self.values, **numbers}[one] for one in names))
        except (ArithmeticError, ValueError, TypeError, KeyError, Unreadable):
            return math.nan


def other_figure(number: float) -> float:
    """Return what a figure is multiplied by on a car where it is another."""
    return 1.0 if number in EXACT else 1.1 + 0.05 * math.sin(number)
