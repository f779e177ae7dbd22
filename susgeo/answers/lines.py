"""Lines of working as read, and how far the digits with which they were written let them be off.

A side of an equals sign is a number with its unit or a formula. An angle may be meant in degrees or in radians, and
a formula for a calculator set to either, so that a side has a few readings; the first that follows is meant.
"""

import math
import re
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import sympy

from .calculation import Step, compiled, evaluate, read, symbol
from .formula import find_name, powers, read_formula
from .numbers import Blank, Quantity, Unreadable, WrongUnit, clean, has_unit, read_number, shorten
from .paper import in_radians, last_digit

ROUNDING = 1e-9
"""What a computer's last digit may do to a line, as a share of its size; a thousandth of that to a zero."""
EXACT = {*range(10), 0.5, 0.25, 25.4, 100, 180, 360, 1000}
"""Numbers in a formula that nobody rounded to; the figures given are others."""
LONGEST_LINE = 1000
LONGEST_WORKING = 120  # lines
DEGREE, DEGREES = sympy.pi / 180, 180 / sympy.pi
TURNS, ARCS = (sympy.sin, sympy.cos, sympy.tan), (sympy.asin, sympy.acos, sympy.atan, sympy.atan2)


@dataclass(frozen=True)
class Side:
    """One side of an equals sign, read once: as written, as a number or a formula, and with names for its numbers."""

    text: str
    part: Quantity | sympy.Expr
    opened: sympy.Expr = sympy.S.Zero  # the formula with names for its numbers
    numbers: Mapping[str, str] = field(default_factory=dict)  # these as written, by name

    @cached_property
    def names(self) -> frozenset[str]:
        """The names in its formula."""
        return frozenset(item.name for item in getattr(self.part, "free_symbols", ()))

    @cached_property
    def used(self) -> frozenset[str]:
        """The names in it, also of what cancels there."""
        return self.names.union(re.findall(r"[^\W\d]\w*", self.text))

    @cached_property
    def angle(self) -> bool:
        """Whether it is written in degrees."""
        return bool(re.search("deg|[°º˚]", self.text))


@dataclass(frozen=True)
class Line:
    """One line as read: its number, the name it defines, and what stands after each equals sign."""

    number: int
    name: str
    sides: tuple[Side, ...]

    @cached_property
    def used(self) -> frozenset[str]:
        """The names in its formulas, also of what cancels there."""
        return frozenset[str]().union(*(side.used for side in self.sides))

    @cached_property
    def angle(self) -> bool:
        """Whether something in it is written in degrees."""
        return any(side.angle for side in self.sides)


@dataclass(slots=True)
class Ledger:
    """What is known while reading down the page: values of names, and the first line that was wrong."""

    values: dict[str, float]
    slack: dict[str, float] = field(default_factory=dict)  # what the digits of a line leave open
    figures: frozenset[float] = frozenset()  # as numbers in the lines
    angles: frozenset[str] = frozenset()  # names in degrees
    length: str = "mm"  # the unit of its lengths
    slip: int = 0
    sound: int = 0
    judged: int = 0
    following: list[int] = field(default_factory=list)
    spoiled: set[str] = field(default_factory=set)  # names of one's own whose lines hold a wrong side, or rest on one


REMARK = re.compile(r"#|//|(?:\t| {3,})(?=(?:a|[^\W\d_]{2}[\w'-]*)[,:]? [^\W\d_])")
"""What begins a remark: a sign for it, or a gap before words, as in a solution that the course prints."""


def split_lines(answer: str) -> list[str]:
    """Return lines without remarks and numbers in front; `;` ends one too, and a comma at the end or before ``name =``."""
    plain = "\n".join(REMARK.split(row)[0] for row in answer.splitlines())
    rows = re.split(r"[;\n]|,(?=\s*(?:$|[^\W\d]\w*\s*=))", plain)
    return [re.sub(r"^\s*\(?\d{1,3}[.):]+\s+(?=[^\W\d])", "", row).strip() for row in rows]


def read_lines(answer: str, names: Mapping[str, sympy.Symbol]) -> list[Line]:
    """Return lines ``name = formula`` or ``name = number unit``, read by the names that are known and those above."""
    names, lines = dict(names), list[Line]()
    rows = [row for row in split_lines(answer) if row]
    if not rows:
        raise Blank("Nothing has been answered here yet.")
    if len(rows) > LONGEST_WORKING:
        raise Unreadable(f"There are {len(rows)} lines; {LONGEST_WORKING} are enough for any task here.")
    for number, row in enumerate(rows, 1):
        try:
            text = powers(clean(row, LONGEST_LINE))
            word, *rest = (part.strip() for part in text.split("="))
            if not rest or not word.replace("_", "").isalnum() or word[0].isdigit() or not all(rest):
                raise Unreadable(f"{shorten(text)} is not of the form: name = formula, or name = number and unit.")
            name = find_name(word, names) or word
            lines.append(Line(number, name, tuple(read_side(part, frozenset(names)) for part in rest)))
            names[name] = symbol(name)
        except Unreadable as problem:
            raise Unreadable(f"Line {number}: {problem}") from None
    return lines


def read_side(text: str, known: frozenset[str]) -> Side:
    """Return one side of an equals sign: a number with its unit, or a formula of known names."""
    words = frozenset(re.findall(r"[^\W\d]\w*", text))
    return _read_side(text, words if words <= known else known)  # kept by the names that it uses


@lru_cache(maxsize=4096)
def _read_side(text: str, known: frozenset[str]) -> Side:
    names, numbers = {name: symbol(name) for name in sorted(known)}, dict[str, str]()
    part = _read_part(text, names)

    def name(found: re.Match[str]) -> str:
        if not found["number"]:
            return found[0]
        new = f"{'turned' if found['turned'] else 'number'}{len(numbers)}"
        names[new], numbers[new] = symbol(new), found["number"]
        return f" {new} "

    plain = _NUMBERS.sub(name, text)
    with suppress(Unreadable):
        return Side(text, part, sympy.S.Zero if isinstance(part, Quantity) else read_formula(plain, names), numbers)
    return Side(text, part, part)


def _read_part(text: str, names: Mapping[str, sympy.Symbol]) -> Quantity | sympy.Expr:
    if re.search(r"\d ?(±|\+/?-) ?[\d.]", text):
        raise Unreadable(f"{shorten(text)} is a range: give one number.")
    if re.search(r"\d ?/ ?[\d.]", text):  # a fraction of two figures, each with its digits
        with suppress(Unreadable):
            return read_formula(text, names)
    try:
        return read_number(text)
    except Unreadable as no_number:
        try:
            return read_formula(text, names)
        except Unreadable as no_formula:
            formula = text.isidentifier() or any(letter in text for letter in "+*/(^") and not has_unit(text)
            raise (no_formula if formula else no_number) from None


def value_of(part: Quantity | sympy.Expr, unit: str | None, values: dict[str, float], length: str = "mm") -> float:
    """Return a part's value inside, angles in radians; the unit is None for a name of the student's own."""
    if isinstance(part, Quantity):
        if unit is None:  # a name of one's own
            for kind in ("deg", f"deg/{length}", length, "plain") if part.unit else ():
                with suppress(WrongUnit):
                    return in_radians(part.to(kind).value, kind)
            return part.value
        return in_radians(part.value_in(unit), unit)
    try:
        return evaluate(part, values)
    except KeyError as missing:
        raise Unreadable(f"{missing.args[0]} is used before a line says what it is: write that line first.") from None


THOUSANDS = re.compile(r"\s*[^\w\s]?\s*\d{1,3},\d{3}(?![\d.,])")
"""A comma that is read as marking thousands, and may be a decimal one."""
DIGITS = re.compile(r"(?<![\w.])(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?(?![\w.])")
_NUMBERS = re.compile(
    rf"(?:\^|\*\*) ?(?:[-+]? ?[\d.]+|\([^()]*\))|(?P<number>{DIGITS.pattern})(?=(?P<turned> ?(?:°|º|˚|deg\b))?)"
)
"""Numbers in a formula, but for those in its powers."""


@lru_cache(maxsize=4096)
def kept(text: str) -> bool:
    """Tell whether a number has so many digits that some may have been cut off after its last, as from a display.

    >>> kept("-0.04050 mm"), kept("0.041 mm")
    (True, False)
    """
    return len(re.sub(r"[-+]? ?([\d.,]*).*", r"\1", text).replace(".", "").replace(",", "").lstrip("0")) > 3


@lru_cache(maxsize=4096)
def open_by(number: str) -> float:
    """Return how far its digits let a number in a formula be off."""
    return last_digit(number) / (1 if kept(number) else 2)


def moved_by(value: Callable[[dict[str, float]], float], values: dict[str, float], slack: Mapping[str, float]) -> float:
    """Return how far a value moves when each name moves by what its digits leave open."""
    here, moved = value(values), 0.0
    for name, by in slack.items():
        if by and name in values:
            ends = (value({**values, name: values[name] + way * by}) - here for way in (-1, 1))
            moved += max((abs(end) for end in ends if math.isfinite(end)), default=0.0)
    return moved


@dataclass(frozen=True)
class Above:
    """What a line of the way gives by the lines above it; what was left out there follows from them, slip and all."""

    step: Step
    skipped: tuple[Step, ...]
    truth: Mapping[str, float]
    page: Ledger

    def __call__(self, values: Mapping[str, float], formula: str = "") -> float:
        """Return its value, or that of another formula in its place, with these values of the lines above."""
        values = {**self.truth, **values}
        for one in self.skipped:
            values[one.name] = evaluate(read(one.formula), values)
        return evaluate(read(formula or self.step.formula), values)

    @cached_property
    def uses(self) -> frozenset[str]:
        """The names that it rests on."""
        return frozenset(name for one in (self.step, *self.skipped) for name in compiled(one.formula)[0])

    @cached_property
    def inherited(self) -> float:
        """How far it is open by the digits of the lines above."""
        return self.moved(self.uses)

    def moved(self, names: Iterable[str], formula: str = "") -> float:
        """Return how far it, or another formula in its place, moves with the digits of some lines above."""
        there = {name: self.page.slack[name] for name in names if name in self.page.slack}
        return moved_by(lambda values: self(values, formula), self.page.values, there)


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a side: its value, how far its digits let it be off from the lines above, and its own slack."""

    value: float
    off: float
    open: float
    formula: sympy.Expr | None = None
    note: str = ""


def readings(line: Line, index: int, page: Ledger, above: Above | None = None) -> list[Reading]:
    """Return the ways to read one side of a line, the plain one first: angles may be in degrees or radians.

    Args:
        line, index: which side.
        page: what is known.
        above: what the lines above give for it; None where the line's name is the writer's own.
    """
    unit, side = above.step.unit if above else None, line.sides[index]
    part, text = side.part, side.text
    turned = unit is not None and unit.startswith("deg")
    percent = [one for one in line.sides if isinstance(one.part, Quantity) and one.part.unit == "%"]
    shares = unit == "%" and percent  # 1.059 = 105.9 %
    inherited = above.inherited if above else 0.0
    if isinstance(part, Quantity):
        value = value_of(part, unit, page.values, page.length)
        half = abs(value_of(replace(part, value=part.digit), unit, page.values, page.length)) / 2
        found = [Reading(value, half + inherited, half)]
        if THOUSANDS.match(text):  # a decimal comma, if thousands make no sense
            note = f"Line {line.number}: the comma was read as a decimal comma."
            found.append(Reading(value / 1000, half / 1000 + inherited, half / 1000, note=note))
        if (shares and part.unit is None) or (unit is None and part.unit == "%"):
            found.append(Reading(100 * value, 100 * half + inherited, 100 * half))
        if turned and part.unit is None:
            half *= 180 / math.pi
            found.append(Reading(part.value, half + inherited, half, note=f"Line {line.number} was read in radians."))
        return found
    used = side.names.union(above.uses if above else ())
    numbers = {name: float(number) for name, number in side.numbers.items()}
    values = {**page.values, **numbers}
    slack, exact = {name: by for name, by in page.slack.items() if name in used}, EXACT | page.figures
    slack |= {name: open_by(side.numbers[name]) for name, one in numbers.items() if one not in exact}
    both = side.opened, part
    factors = [1, *[DEGREE] * turned, *[100] * bool(shares)]
    bare = not side.names and not turned  # names stand for what they are in the page's own unit
    for one in (one.part for one in line.sides if bare and isinstance(one.part, Quantity) and one.part.unit):
        meant, plain = (value_of(each, unit, {}, page.length) for each in (one, replace(one, unit=None)))
        factors += [meant / plain] if meant != plain else []  # 17.26 - 9.055 = 8.205 in
    forms = [(*(scaled(one, by) for one in both), "") for by in factors]
    if part.has(*TURNS, *ARCS):
        why = "this holds with the calculator set to degrees; write tan(3 deg) as tan(3°) to say so."
        forms.append((*(on_a_calculator(one, page.angles, turned) for one in both), f"Line {line.number}: {why}"))

    def reading(form: sympy.Expr, formula: sympy.Expr, note: str) -> Reading:
        def alone(of: dict[str, float]) -> float:
            return value_of(form, unit, of)

        off = moved_by(lambda of: alone(of) - (above(of) if above else 0.0), values, slack)
        return Reading(alone(values), off, moved_by(alone, values, slack), formula, note)

    return [reading(*form) for form in forms]


@lru_cache(maxsize=4096)
def scaled(formula: sympy.Expr, by: sympy.Expr | float) -> sympy.Expr:
    """Return a formula times a number; the same object each time, which is quickly found to be known."""
    return formula * by


@lru_cache(maxsize=4096)
def on_a_calculator(formula: sympy.Expr, angles: frozenset[str], turned: bool) -> sympy.Expr:
    """Return what a formula gives on a calculator set to degrees, which takes and shows angles in these."""
    plain = formula.xreplace({name: name * DEGREES for name in formula.free_symbols if name.name in angles})
    plain = plain.replace(lambda e: isinstance(e, ARCS), lambda e: e * DEGREES)
    plain = plain.replace(lambda e: isinstance(e, TURNS), lambda e: e.func(e.args[0] * DEGREE))
    return plain * DEGREE if turned else plain


def near(one: float, other: float, slack: float = 0.0) -> bool:
    return math.isfinite(one) and abs(one - other) <= slack + ROUNDING * (0.001 + abs(other))


@dataclass(frozen=True, slots=True)
class Meant:
    """A side of a line as it is meant: one way to read it, how far that may be off, and whether it is what it should be."""

    way: Reading
    slack: float
    fits: bool


def chosen(ways: list[Reading], targets: list[Reading], slack: Callable[[Reading, Reading], float]) -> Meant:
    """Return the first way to read a side that is as near to a target as slack allows; else the plain way."""
    for target in targets:
        for way in ways:
            if near(way.value, target.value, by := slack(way, target)):
                return Meant(way, by, True)
    return Meant(ways[0], slack(ways[0], Reading(0.0, 0.0, 0.0)), False)
