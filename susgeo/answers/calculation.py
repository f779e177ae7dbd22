"""A calculation as one writes it on paper: named lines, and the mistakes that people make in them.

The lines are data (``data/lessons/*.toml``). The same lines give the right value, a formula in any choice of
symbols, the written-out solution, every known mistake, and the drawing of what a mistake computes, so that
these cannot disagree. Tests hold each calculation against the library's own geometry.
"""

import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from typing import Any

import numpy as np
import sympy

from ..errors import SusgeoError
from ..files import DATA
from ..geometry.scalars import is_array
from .figures import AXES, LENGTHS, POINTS, Figure
from .formula import read_formula

LESSONS = DATA / "lessons"


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a calculation: ``name = formula``, in words, with its unit."""

    name: str
    words: str
    unit: str
    formula: str


@dataclass(frozen=True, slots=True)
class Mistake:
    """A wrong turn that people take: which lines it replaces, its name, and what to do about it."""

    name: str
    why: str
    put: Mapping[str, str]


_WORDS = {
    "the opposite sign": "The size is right, the sign is not: look at the drawing and at which way counts as positive.",
    "inches and millimeters mixed": "Your number is the right one in the other unit of length: 1 in is 25.4 mm.",
    "meters and millimeters mixed": "Your number is the right one in meters: 1 m is 1000 mm.",
    "radians where degrees are asked for": "Your number is the right angle in radians: multiply by 180/pi for degrees.",
    "an angle turned into degrees twice": "Your number is the right angle, multiplied by 180/pi once more: it was in degrees already.",
    "kilonewtons where newtons are asked for": "Your number is the right one in kilonewtons: 1 kN is 1000 N. Write kN behind it, or multiply by 1000.",
    "a fraction where a percentage is asked for": "Your number is the right one as a fraction: multiply by 100 for percent.",
}
SIGN, _INCHES, _METERS, _RADIANS, _TWICE, _KILONEWTONS, _FRACTION = (Mistake(*both, {}) for both in _WORDS.items())
_OF_ANGLES = (SIGN, -1.0), (_RADIANS, math.pi / 180), (_TWICE, 180 / math.pi)
SLIPS: dict[str, tuple[tuple[Mistake, float], ...]] = {
    "mm": ((SIGN, -1.0), (_INCHES, 1 / 25.4), (_METERS, 1 / 1000)),
    "in": ((SIGN, -1.0), (_INCHES, 25.4)),
    "deg": _OF_ANGLES,
    "deg/mm": _OF_ANGLES,
    "%": ((SIGN, -1.0), (_FRACTION, 1 / 100)),
    "N": ((SIGN, -1.0), (_KILONEWTONS, 1 / 1000)),
    "": ((SIGN, -1.0),),
}
"""Slips with any number, by unit: the mistake and what it multiplies the right value by."""


@dataclass(frozen=True, eq=False)
class Calculation:
    """A chain of lines from measured figures to a result.

    Args:
        key: its name in the lesson files.
        title: for people.
        view: "side", "plan" or "front": where it is drawn.
        steps: the lines, each using figures and earlier lines.
        mistakes: known wrong turns.
        given: figures that are not measured but set by the question, name to (value, unit, words).
        links: pairs of point codes drawn as parts of the car.
        lines: pairs of point codes drawn as construction.
        point: the code of the point that the drawing is about, or "".
        at: where a point of the drawing stands, code to two formulas, if not at coordinates named after it.
        drawn: coordinates that a task's drawing takes from a formula, such as those of a bar that is set level.
    """

    key: str
    title: str
    view: str
    steps: tuple[Step, ...]
    mistakes: tuple[Mistake, ...] = ()
    given: Mapping[str, tuple[float, str, str]] = field(default_factory=dict)
    links: tuple[tuple[str, str], ...] = ()
    lines: tuple[tuple[str, str], ...] = ()
    point: str = ""
    at: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    drawn: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def symbols(self) -> dict[str, sympy.Symbol]:
        """Every name in the lines, as a symbol."""
        return {name: symbol(name) for name in (*self.inputs, *(step.name for step in self.steps))}

    @cached_property
    def by_name(self) -> dict[str, Step]:
        """The lines by the names that they define."""
        return {step.name: step for step in self.steps}

    def _figures_in(self, formulas: Iterable[str]) -> tuple[str, ...]:
        names = (name for text in formulas for name in names_in(text) if name not in self.by_name)
        return tuple(dict.fromkeys(names))

    @cached_property
    def inputs(self) -> tuple[str, ...]:
        """The figures that the lines and their mistakes start from, in order of appearance."""
        wrong = (formula for mistake in self.mistakes for formula in mistake.put.values())
        return self._figures_in((*(step.formula for step in self.steps), *wrong))

    @cached_property
    def needed(self) -> tuple[str, ...]:
        """The figures that the right lines use."""
        return self._figures_in(step.formula for step in self.steps)

    def needed_for(self, find: str) -> tuple[str, ...]:
        """Return the figures that a line rests on, in order of appearance."""
        used = {name for step in self.lines_to(find) for name in names_in(step.formula)}
        return tuple(name for name in self.needed if name in used)

    def lines_to(self, find: str, known: Iterable[str] = ()) -> tuple[Step, ...]:
        """Return the lines that a result rests on, itself the last; where some names are known, those from there on."""
        wanted, known = {find}, {*known}
        for step in reversed(self.steps):
            if step.name in wanted:
                wanted |= {*names_in(step.formula)} - known
        return tuple(step for step in self.steps if step.name in wanted)

    def step(self, name: str) -> Step:
        """Return the line that defines a name."""
        if name not in self.by_name:
            raise SusgeoError(f"{self.title} has no line for {name}; it has {', '.join(self.by_name)}.")
        return self.by_name[name]

    def meaning(self, name: str, given: Mapping[str, tuple[float, str, str]] | None = None) -> tuple[str, str]:
        """Return what a name stands for, in words, and its unit."""
        if name in self.by_name:
            return self.by_name[name].words, self.by_name[name].unit
        if name in (given := {**self.given, **(given or {})}):
            return given[name][2], given[name][1]
        if name in LENGTHS:
            return LENGTHS[name][1:]
        axis, _, code = name.partition("_")
        return f"{POINTS[code][1]}: {AXES[axis]}", "mm"

    def expression(self, name: str, keep: Iterable[str] = (), put: Mapping[str, str] | None = None) -> sympy.Expr:
        """Return a line's formula with earlier lines put in, except those in ``keep``."""
        last, kept, built = self.step(name), {*keep}, dict[sympy.Symbol, sympy.Expr]()
        for step in self.steps[: self.steps.index(last) + 1]:
            made = read((put or {}).get(step.name, step.formula)).xreplace(built)
            if step.name not in kept:
                built[symbol(step.name)] = made
        return made

    def values(self, known: Mapping[str, Any], put: Mapping[str, str] | None = None) -> dict[str, Any]:
        """Return every figure and every line's value; angles in radians, nan where a line has no value."""
        found = {name: value for name, (value, _, _) in self.given.items()} | dict(known)
        many = any(map(is_array, found.values()))
        for step in self.steps:
            names, function = compiled((put or {}).get(step.name, step.formula), many)
            try:
                value = function(*(found[name] for name in names))
                found[step.name] = np.where(np.isfinite(value), value, np.nan) if many else float(value)
            except (KeyError, ArithmeticError, ValueError, TypeError):  # or this car has no such figure
                found[step.name] = math.nan
        return found

    def wrong_turns(self, known: Mapping[str, float], find: str) -> list[tuple[Mistake, dict[str, float]]]:
        """Return each known mistake that changes a line, with every value as it then comes out.

        To the mistakes of the calculation it adds slips that people make with any number (:data:`SLIPS`).
        """
        right = self.values(known)
        turns = [(wrong, self.values(known, wrong.put)) for wrong in self.mistakes]
        unit = self.step(find).unit
        named = {found[find] for _, found in turns}
        slips = [(slip, right | {find: right[find] * factor}) for slip, factor in SLIPS.get(unit, ())]
        turns += [(slip, found) for slip, found in slips if found[find] not in named]  # its own name says more
        return [(wrong, found) for wrong, found in turns if math.isfinite(found[find]) and found[find] != right[find]]

    def known(
        self, measured: Mapping[str, Figure], given: Mapping[str, tuple[float, str, str]] | None = None
    ) -> dict[str, Figure]:
        """Return the figures that this calculation uses, in order; says which are missing on this car."""
        found, asked = {}, {**self.given, **(given or {})}
        for name in self.inputs:
            if name in asked:
                value, unit, words = asked[name]
                found[name] = Figure(name, words, unit, value)
            elif name in measured:
                found[name] = measured[name]
            elif name in self.needed:
                raise SusgeoError(f"{self.title} needs {name}, which this car does not have.")
        return found


@cache
def symbol(name: str) -> sympy.Symbol:
    """Return the course's one symbol of a name: positive for true lengths and for figures of the whole car, else real."""
    positive = name in LENGTHS or name in TRUE_LENGTHS
    return sympy.Symbol(name, positive=True) if positive else sympy.Symbol(name, real=True)


TRUE_LENGTHS = ("l", "l_L", "l_U", "d_i")
"""Joint to joint, or across a tube: whatever the lines that they come from, these are positive."""


@cache
def read(text: str) -> sympy.Expr:
    """Return the expression of a formula from the lesson files."""
    return read_formula(text, {name: symbol(name) for name in names_in(text)})


FUNCTIONS = {"sqrt", "sin", "cos", "tan", "asin", "acos", "atan", "atan2", "hypot", "abs", "pi"}


def names_in(text: str) -> list[str]:
    """Return the names in a formula of the lesson files, functions left out."""
    return [name for name in re.findall(r"[A-Za-z]\w*", text) if name not in FUNCTIONS]


@cache
def compiled(text: str, many: bool = False) -> tuple[tuple[str, ...], Any]:
    """Return a formula's names and a quick function of them."""
    return quick(read(text), many)


@lru_cache(maxsize=4096)
def quick(expression: sympy.Expr, many: bool = False) -> tuple[tuple[str, ...], Any]:
    """Return an expression's names and a quick function of them, for numbers or for arrays."""
    names = tuple(sorted(item.name for item in expression.free_symbols))
    symbols, module = [symbol(name) for name in names], "numpy" if many else "math"
    return names, sympy.lambdify(symbols, expression, module, cse=False, docstring_limit=0)


def evaluate(expression: sympy.Expr, values: Mapping[str, float]) -> float:
    """Return an expression's value, nan where it has none; KeyError where a name has none."""
    names, function = quick(expression)
    figures = [values[name] for name in names]
    try:
        return float(function(*figures))
    except (ArithmeticError, ValueError, TypeError):  # such as a complex number
        return math.nan


@dataclass(frozen=True, slots=True)
class Task:
    """One question of a lesson.

    Args:
        key: lesson and number, as "02.1".
        kind: "number", "formula", "working" or "choice".
        ask: the question.
        car: the name of the car file in ``data`` (the student's own figures vary it).
        of, find: the calculation and the line that is asked for.
        symbols: for a formula, the names it may use.
        tolerance: how far a number may be off, in its unit.
        move: for a choice, the dimensions that may change, place to (words, lowest, highest).
        want: for a choice, quantity in the car's summary to (target, tolerance).
        start: for a choice, quantity in the car's summary to (lowest, highest) as dealt, so that the question's words are true.
        rests_on: for a choice, the lines it can be found by on paper, such as "squat.AS"; their figures are given.
        hint: one sentence, shown with a wrong answer that no known mistake explains.
        given: figures set by this question, name to (value, unit, words); degrees become radians.
        also: other spellings of the symbols, spelling to name.
        positive: for a formula, what is positive on every car, such as "d - d_i".
        transfer: whether it carries the lesson's idea to a car or a question that the lesson did not show.
    """

    key: str
    kind: str
    ask: str
    car: str
    of: str = ""
    find: str = ""
    symbols: tuple[str, ...] = ()
    tolerance: float = 0.0
    move: Mapping[str, tuple[str, float, float]] = field(default_factory=dict)
    want: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    start: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    rests_on: tuple[str, ...] = ()
    hint: str = ""
    given: Mapping[str, tuple[float, str, str]] = field(default_factory=dict)
    also: Mapping[str, str] = field(default_factory=dict)
    positive: tuple[str, ...] = ()
    transfer: bool = False

    @property
    def lesson(self) -> str:
        """The lesson's two digits."""
        return self.key.split(".")[0]

    @property
    def calculation(self) -> Calculation:
        """The calculation whose line is asked for."""
        return library()[0][self.of]

    @property
    def within(self) -> str:
        """How near a number must come, in words."""
        return f"within {self.tolerance:g} {self.calculation.step(self.find).unit}".strip()

    @property
    def drawn_by(self) -> tuple[str, ...]:
        """The calculations whose views and links its drawing has."""
        return tuple(dict.fromkeys(filter(None, (self.of, *(one.split(".")[0] for one in self.rests_on)))))

    def needed(self) -> tuple[str, ...]:
        """Return the figures that its answer rests on, in order of appearance; of a formula, its symbols."""
        if self.kind == "formula":
            return self.symbols
        lines = [one.split(".") for one in self.rests_on or (f"{self.of}.{self.find}",)]
        return tuple(dict.fromkeys(name for key, line in lines for name in library()[0][key].needed_for(line)))


@cache
def library() -> tuple[dict[str, Calculation], dict[str, Task]]:
    """Return every calculation and every task of the lesson files, by key."""
    calculations, tasks = {}, {}
    for path in sorted(LESSONS.glob("*.toml")):
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        for key, entry in content.get("calculation", {}).items():
            calculations[key] = _calculation(key, entry)
        for entry in content.get("task", []):
            for name in ("given", "move", "want", "start"):
                entry[name] = {key: tuple(value) for key, value in entry.get(name, {}).items()}
            entry["given"] = _given(entry["given"])
            lists = {name: tuple(entry.get(name, ())) for name in ("symbols", "positive", "rests_on")}
            task = Task(**{**entry, **lists, "ask": " ".join(entry["ask"].split())})
            tasks[task.key] = task
    return calculations, tasks


def _calculation(key: str, entry: dict[str, Any]) -> Calculation:
    steps = tuple(Step(*line) for line in entry["steps"])
    wrong = entry.get("mistakes", [])
    mistakes = tuple(Mistake(one["name"], " ".join(one["why"].split()), one["put"]) for one in wrong)
    pairs = {name: tuple(tuple(two.split()) for two in entry.get(name, [])) for name in ("links", "lines")}
    return Calculation(
        key, entry["title"], entry.get("view", "side"), steps, mistakes, _given(entry.get("given", {})),
        pairs["links"], pairs["lines"], entry.get("point", ""),
        {code: tuple(place) for code, place in entry.get("at", {}).items()}, entry.get("drawn", {}),
    )  # fmt: skip


def _given(entry: Mapping[str, Any]) -> dict[str, tuple[float, str, str]]:
    """Read figures set by a question; degrees become radians."""
    return {
        name: (math.radians(value) if unit == "deg" else float(value), unit, words)
        for name, (value, unit, words) in entry.items()
    }
