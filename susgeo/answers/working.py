"""Checks several lines of working, each against what is known and against the lines above it."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache
from typing import Any

import sympy

from ..car.car import Car
from ..draw.picture import Picture
from .calculation import Calculation, Mistake, Step, Task, compiled, library, quick, symbol
from .construction import draw_construction
from .figures import Figure, figures
from .formula import find_name, read_formula
from .numbers import Blank, Quantity, Unreadable, clean, read_number, shorten
from .paper import written
from .variant import in_radians
from .verdict import Verdict, samples

NEAR = 0.004
"""Lines agree to this share of their size: four digits carried, as on paper."""
ROUNDING = 1e-9
"""A line that comes out as zero, such as the slope of a level bar, may miss it by this much."""
LONGEST_LINE = 500
LONGEST_WORKING = 40  # lines
OPERATORS = (sympy.sin, sympy.cos, sympy.tan)


@dataclass(frozen=True, slots=True)
class Line:
    """One line as read: its number, the name it defines, and what stands after each equals sign."""

    number: int
    name: str
    parts: tuple[Quantity | sympy.Expr, ...]


@dataclass(slots=True)
class Ledger:
    """What is known while reading down the page: values of names, and the first line that was wrong."""

    values: dict[str, float]
    slip: int = 0
    wrong: tuple[str, float] = ("", 0.0)  # the name and the value of that line
    sound: int = 0
    judged: int = 0
    following: list[int] = field(default_factory=list)


def check_working(
    task: Task,
    answer: object,
    car: Car,
    calculation: Calculation | None = None,
    figures_of: Mapping[str, Figure] | None = None,
    draw: Callable[[str, Mapping[str, str]], Picture | None] | None = None,
) -> Verdict:
    """Check lines ``name = formula`` or ``name = number unit``; the first one that does not follow is named.

    A line is right when it follows from the figures and from the student's own lines above it, so that one
    slip is marked once. Credit is the share of lines that are right or follow; a right result with nothing that
    leads to it is half.

    Args:
        task: which line is asked for.
        answer: the lines.
        car: whose figures they start from.
        calculation, figures_of: the right lines and their figures, if not the task's own.
        draw: what draws a slip, from its title and the lines that it replaces.
    """
    if not isinstance(answer, str):
        raise Unreadable("Lines of text are expected, each: name = formula, or name = number and unit.")
    if not answer.strip():
        raise Blank("Nothing has been answered here yet.")
    if len(answer) > LONGEST_LINE * LONGEST_WORKING:
        raise Unreadable(f"The working is {len(answer):,} characters long; a line for each step is enough.")
    alone = calculation is not None  # lines about this car and no other
    calculation = calculation or library()[0][task.of]
    measured = figures_of or calculation.known(figures(car), task.given)
    known = {name: figure.value for name, figure in measured.items()}
    truth = calculation.values(known)
    lines = _read(answer, calculation)
    page, sentences = Ledger(dict(known)), []
    mistakes: list[Mistake] = []
    for line in lines:
        step = next((step for step in calculation.steps if step.name == line.name), None)
        if step is None:
            page.values[line.name] = _value(line.parts[-1], None, page.values)
            continue
        before = page.slip
        sentence, found = _judge(task, calculation, None if alone else car, line, step, page, truth)
        if page.slip and not before:
            page.wrong = (step.name, page.values[step.name])
        if sentence:
            sentences.append(sentence)
        mistakes += found
    if page.following:
        *most, last = map(str, page.following)
        which = f"Lines {', '.join(most)} and {last} follow" if most else f"Line {last} follows"
        change = "change" if most else "changes"
        sentences.append(f"{which} from line {page.slip}, and {change} when that is mended.")
    given = page.values.get(task.find)
    if given is None or not any(line.name == task.find for line in lines):
        sentences.append(f"The last line is missing: {task.find} = ...")
    credit = page.sound / max(page.judged, 1)
    complete = not page.slip and any(line.name == task.find for line in lines)
    if complete and len(calculation.lines_to(task.find)) > 1 and _bare(lines):
        names = ", ".join(step.name for step in calculation.lines_to(task.find))
        said = f"The number is right. The lines that lead to it are asked for too: {names}, or your own."
        return Verdict("wrong", task.key, (said,), credit=0.5)
    if complete:
        unit = calculation.step(task.find).unit
        return Verdict(
            "right",
            task.key,
            (f"Every line follows; {task.find} = {written(truth[task.find], unit)}.", *sentences),
            credit=1.0,
        )
    name, value = page.wrong
    title, put = f"With {name} as you have it", {name: repr(value)}
    if mistakes and mistakes[0].put:
        title, put = f"With {mistakes[0].name}", dict(mistakes[0].put)

    def drawing() -> Picture | None:
        if not name or not math.isfinite(value):
            return None
        if draw is not None:
            return draw(title, put)
        cases = [("What is asked for", truth), (title, calculation.values(known, put))]
        return draw_construction(calculation, car, cases)

    return Verdict("wrong", task.key, tuple(sentences), tuple(mistakes), drawing, round(min(credit, 0.99), 2))


def _read(answer: str, calculation: Calculation) -> list[Line]:
    names = dict(calculation.symbols)
    lines: list[Line] = []
    rows = [row.partition("#")[0].strip() for row in answer.replace(";", "\n").splitlines()]
    rows = [row for row in rows if row]
    if not rows:
        raise Blank("Nothing has been answered here yet.")
    if len(rows) > LONGEST_WORKING:
        raise Unreadable(f"There are {len(rows)} lines; {LONGEST_WORKING} are enough for any task here.")
    for number, row in enumerate(rows, 1):
        try:
            text = clean(row, LONGEST_LINE)
            word, *rest = (part.strip() for part in text.split("="))
            if not rest or not word.replace("_", "").isalnum() or word[0].isdigit() or not all(rest):
                raise Unreadable(
                    f"{shorten(text)} is not of the form: name = formula, or name = number and unit."
                )
            name = find_name(word, names, {}) or word
            lines.append(Line(number, name, tuple(read_side(part, frozenset(names)) for part in rest)))
            names.setdefault(name, symbol(name))
        except Unreadable as problem:
            raise Unreadable(f"Line {number}: {problem}") from None
    return lines


@lru_cache(maxsize=4096)
def read_side(text: str, known: frozenset[str]) -> Quantity | sympy.Expr:
    """Return one side of an equals sign: a number with its unit, or a formula of known names."""
    names = {name: symbol(name) for name in sorted(known)}
    try:
        return read_number(text)
    except Unreadable as no_number:
        try:
            return read_formula(text, names)
        except Unreadable as no_formula:
            raise (no_number if not any(letter in text for letter in "+*/(") else no_formula) from None


def _value(part: Quantity | sympy.Expr, unit: str | None, values: dict[str, float]) -> float:
    """Return a part's value inside, angles in radians; the unit is None for a name of the student's own."""
    if isinstance(part, Quantity):
        if unit is None:
            angle = part.unit in ("deg", "rad")
            return in_radians(part.to("deg").value, "deg") if angle else part.value
        return in_radians(part.value if part.unit is None else part.to(unit).value, unit)
    missing = [item.name for item in part.free_symbols if item.name not in values]
    if missing:
        raise Unreadable(f"{missing[0]} is used before a line says what it is.")
    names, function = quick(part)
    try:
        return float(function(*(values[name] for name in names)))
    except (TypeError, ValueError, ArithmeticError):  # a complex number, or none
        return math.nan


def _near(one: float, other: float, unit: str = "") -> bool:
    return math.isfinite(one) and abs(one - other) <= max(
        NEAR * abs(other), 0.05 if unit == "mm" else ROUNDING
    )


def _judge(
    task: Task,
    calculation: Calculation,
    car: Car | None,
    line: Line,
    step: Step,
    page: Ledger,
    truth: dict[str, float],
) -> tuple[str, list[Mistake]]:
    """Judge one line; note its value on the page; return what to say and the mistakes that explain it."""
    try:
        results = [_value(part, step.unit, page.values) for part in line.parts]
    except Unreadable as problem:
        raise Unreadable(f"Line {line.number}: {problem}") from None
    note = ""
    own = _own(step.formula, page.values, truth)
    for index, part in enumerate(line.parts):
        if not isinstance(part, sympy.Expr) or _near(results[index], own, step.unit):
            continue
        in_degrees = _value(
            part.replace(lambda e: isinstance(e, OPERATORS), lambda e: e.func(e.args[0] * sympy.pi / 180)),
            step.unit,
            page.values,
        )
        if part.has(*OPERATORS) and _near(in_degrees, own, step.unit):
            results[index], note = (
                in_degrees,
                f"Line {line.number}: this holds with the calculator set to degrees; write tan(3 deg) as tan(3°) to say so.",
            )
        elif step.unit.startswith("deg") and _near(math.radians(results[index]), own, step.unit):
            results[index] = math.radians(results[index])
    value = results[-1]
    page.values[step.name] = value
    page.judged += 1
    right = _near(value, truth[step.name], step.unit)
    if right or _near(value, own, step.unit):
        uneven = next(
            (n for n, result in enumerate(results[:-1]) if not _near(result, value, step.unit)), None
        )
        by_luck = None
        if uneven is None and not page.slip and car is not None:
            by_luck = _only_here(task, calculation, car, line, step, abs(value - own) <= 1e-6 * abs(own))
        if uneven is None and by_luck is None:
            page.sound += 1
            if page.slip and not right:
                page.following.append(line.number)
            return note, []
        if by_luck is not None:
            page.slip = page.slip or line.number
            return f"Line {line.number} {by_luck}", []
        page.slip = page.slip or line.number
        return (
            f"Line {line.number}: the two sides of an equals sign differ, {written(results[uneven or 0], step.unit)} and {written(value, step.unit)}.",
            [],
        )
    first = not page.slip
    page.slip = page.slip or line.number
    short = _cut_short(line.parts[-1], value, own)
    if not short and any(_near(result, own, step.unit) for result in results[:-1]):
        return (
            f"Line {line.number}: the formula is right, the arithmetic is not; it gives {written(own, step.unit)}, not {written(value, step.unit)}.",
            [],
        )
    found = [
        wrong for wrong in calculation.mistakes
        if step.name in wrong.put and _near(value, _own(wrong.put[step.name], page.values, truth), step.unit)
    ]  # fmt: skip
    where = "is the first line that does not follow" if first else "does not follow either"
    if short and not found:
        return f"Line {line.number}: {step.name} is right as far as it goes. Carry four digits.", []
    said = f"Line {line.number} {where}: {step.name} is {step.words}."
    if _near(-value, own, step.unit):
        said += " Its size is right and its sign is not."
    said += "".join(f" That is what comes out with {wrong.name}. {wrong.why}" for wrong in found)
    return said, found


def _bare(lines: list[Line]) -> bool:
    """Tell whether there is a result and nothing that leads to it."""
    return len(lines) == 1 and all(isinstance(part, Quantity) for part in lines[0].parts)


def _cut_short(part: Quantity | sympy.Expr, value: float, own: float) -> bool:
    """Tell whether a number is the right one with its last digits left off."""
    if not isinstance(part, Quantity) or not part.value or not math.isfinite(own):
        return False
    _, digits, exponent = Decimal(repr(part.value)).normalize().as_tuple()
    last = 10.0 ** min(int(exponent), 0) * abs(value / part.value)  # in the unit of the line
    allowed = last if abs(value) < abs(own) else last / 2  # cut off, or rounded up
    return len(digits) < 4 and abs(value - own) <= allowed and value * own > 0


def _own(formula: str, values: dict[str, float], truth: dict[str, float]) -> float:
    """Return a formula's value on the student's own lines, with the true ones where a line was left out."""
    names, function = compiled(formula)
    try:
        return float(function(*(values.get(name, truth[name]) for name in names)))
    except (ZeroDivisionError, OverflowError, ValueError, TypeError):
        return math.nan


def _only_here(
    task: Task, calculation: Calculation, car: Car, line: Line, step: Step, exact: bool
) -> str | None:
    """Return a sentence when a formula in symbols fits this car and not others like it."""
    part = line.parts[0]
    if not isinstance(part, sympy.Expr) or not part.free_symbols:
        return None
    if any(item.name not in calculation.symbols for item in part.free_symbols):
        return None
    if any({abs(number.p), number.q} - {0, 1, 2, 100} for number in part.atoms(sympy.Rational)):
        return None  # figures were put in, so the line speaks of this car alone
    stream = samples(
        Task(
            "",
            "formula",
            "",
            "",
            of=task.of,
            find=step.name,
            symbols=tuple(calculation.symbols),
            given=task.given,
        ),
        calculation,
        car,
    )
    next(stream)
    for _ in range(3):
        values: dict[str, Any] = {name: float(value) for name, value in next(stream).items()}
        other, wanted = _value(part, step.unit, values), _own(step.formula, values, values)
        if not any(
            _near(guess, wanted, step.unit)
            for guess in (other, math.radians(other) if step.unit.startswith("deg") else other)
        ):
            shown = ", ".join(
                f"{item.name} = {values[item.name]:.6g}" for item in sorted(part.free_symbols, key=str)
            )
            luck = "gives the right number" if exact else "comes near"
            return f"{luck} on this car only: with {shown} it gives {written(other, step.unit)}, and {step.name} is {written(wanted, step.unit)}."
    return None
