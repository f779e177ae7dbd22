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
from .figures import LENGTHS, Figure
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


SIGN = Mistake(
    "the opposite sign",
    "The size is right, the sign is not: look at the drawing and at which way counts as positive.",
    {},
)
_INCHES = Mistake(
    "inches and millimeters mixed", "Your number is the right one in the other unit of length: 1 in is 25.4 mm.", {}
)
_METERS = Mistake("meters and millimeters mixed", "Your number is the right one in meters: 1 m is 1000 mm.", {})
_DEGREES = Mistake(
    "radians where degrees are asked for",
    "Your number is the right angle in radians: multiply by 180/pi for degrees.",
    {},
)
_TURNED_TWICE = Mistake(
    "an angle turned into degrees twice",
    "Your number is the right angle, multiplied by 180/pi once more: it was in degrees already.",
    {},
)
_KILONEWTONS = Mistake(
    "kilonewtons where newtons are asked for",
    "Your number is the right one in kilonewtons: 1 kN is 1000 N. Write kN behind it, or multiply by 1000.",
    {},
)
_PERCENT = Mistake(
    "a fraction where a percentage is asked for",
    "Your number is the right one as a fraction: multiply by 100 for percent.",
    {},
)
SLIPS: dict[str, tuple[tuple[Mistake, float], ...]] = {
    "mm": ((SIGN, -1.0), (_INCHES, 1 / 25.4), (_METERS, 1 / 1000)),
    "in": ((SIGN, -1.0), (_INCHES, 25.4)),
    "deg": ((SIGN, -1.0), (_DEGREES, math.pi / 180), (_TURNED_TWICE, 180 / math.pi)),
    "deg/mm": ((SIGN, -1.0), (_DEGREES, math.pi / 180), (_TURNED_TWICE, 180 / math.pi)),
    "%": ((SIGN, -1.0), (_PERCENT, 1 / 100)),
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
    def inputs(self) -> tuple[str, ...]:
        """The figures that the lines and their mistakes start from, in order of appearance."""
        defined = {step.name for step in self.steps}
        texts = [step.formula for step in self.steps] + [text for wrong in self.mistakes for text in wrong.put.values()]
        names = [name for text in texts for name in names_in(text) if name not in defined]
        return tuple(dict.fromkeys(names))

    @cached_property
    def needed(self) -> tuple[str, ...]:
        """The figures that the right lines use."""
        defined = {step.name for step in self.steps}
        return tuple(
            dict.fromkeys(name for step in self.steps for name in names_in(step.formula) if name not in defined)
        )

    def needed_for(self, find: str) -> tuple[str, ...]:
        """Return the figures that a line rests on, in order of appearance."""
        used = {name for step in self.lines_to(find) for name in names_in(step.formula)}
        return tuple(name for name in self.needed if name in used)

    def lines_to(self, find: str) -> tuple[Step, ...]:
        """Return the lines that a result rests on, itself the last."""
        wanted = {find}
        for step in reversed(self.steps):
            if step.name in wanted:
                wanted |= set(names_in(step.formula))
        return tuple(step for step in self.steps if step.name in wanted)

    def step(self, name: str) -> Step:
        """Return the line that defines a name."""
        for step in self.steps:
            if step.name == name:
                return step
        raise SusgeoError(f"{self.title} has no line for {name}; it has {', '.join(step.name for step in self.steps)}.")

    def expression(self, name: str, keep: Iterable[str] = (), put: Mapping[str, str] | None = None) -> sympy.Expr:
        """Return a line's formula with earlier lines put in, except those in ``keep``."""
        kept = set(keep)
        built: dict[str, sympy.Expr] = {}
        for step in self.steps:
            text = (put or {}).get(step.name, step.formula)
            expression = read(text)
            replaced = {symbol(other): made for other, made in built.items() if other not in kept}
            built[step.name] = expression.xreplace(replaced)
            if step.name == name:
                return built[name]
        raise SusgeoError(f"{self.title} has no line for {name}.")

    def values(self, known: Mapping[str, Any], put: Mapping[str, str] | None = None) -> dict[str, Any]:
        """Return every figure and every line's value; angles in radians, nan where a line has no value."""
        found = {name: value for name, (value, _, _) in self.given.items()} | dict(known)
        many = any(map(is_array, found.values()))
        for step in self.steps:
            names, function = compiled((put or {}).get(step.name, step.formula), many)
            try:
                value = function(*(found[name] for name in names))
                found[step.name] = np.where(np.isfinite(value), value, np.nan) if many else float(value)
            except (
                KeyError,
                ZeroDivisionError,
                OverflowError,
                ValueError,
                TypeError,
            ):  # or this car has no such figure
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
    return names, sympy.lambdify(
        [symbol(name) for name in names], expression, "numpy" if many else "math", cse=False, docstring_limit=0
    )


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
            for name in ("given", "move", "want"):
                entry[name] = {key: tuple(value) for key, value in entry.get(name, {}).items()}
            entry["given"] = _given(entry["given"])
            lists = {name: tuple(entry.get(name, ())) for name in ("symbols", "positive", "rests_on")}
            task = Task(**{**entry, **lists, "ask": " ".join(entry["ask"].split())})
            tasks[task.key] = task
    return calculations, tasks


def _calculation(key: str, entry: dict[str, Any]) -> Calculation:
    steps = tuple(Step(*line) for line in entry["steps"])
    mistakes = tuple(
        Mistake(wrong["name"], " ".join(wrong["why"].split()), wrong["put"]) for wrong in entry.get("mistakes", [])
    )
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
