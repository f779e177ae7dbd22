"""Checks an answer and says what is true of it: right, wrong and why, unreadable and why, or undecided.

The order of judgment, for every kind of answer; what comes first is said, and nothing that is not true of this answer:

1. It is read: a number, a formula, lines or a choice, with or without ``name =``; degrees or radians. What cannot be
   read in one way alone is not guessed.
2. Right: a number within the task's tolerance, a formula by proof, a choice by what it makes of the car. In a working
   the last line is held to that tolerance, and each line to the digits it was written with.
3. Right but rounded or cut short; right in another unit, as a fraction for a percentage, or with the other sign.
4. A named slip, followed through: what comes out with it, to the digits that were written.
5. Near: within ten tolerances and one percent.
6. Wrong, or undecided where a formula could be neither proved nor told from the right one.
"""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import sympy

from ..car.car import Car
from ..draw.picture import Picture
from ..errors import SusgeoError
from .calculation import SIGN, Calculation, Mistake, Task, evaluate, library, read, symbol
from .choices import outcomes, which_way
from .construction import draw_slip
from .equality import Different, Same, Undecided, compare
from .figures import figures, values_of
from .formula import find_name, read_formula
from .hand import lines_of
from .lines import THOUSANDS, near, read_lines, split_lines
from .numbers import Blank, Quantity, Unreadable, WrongUnit, read_number, shorten
from .paper import on_paper, written
from .rests import Work
from .verdict import Verdict, samples
from .working import check_working


def check(task: Task, answer: object, car: Car) -> Verdict:
    """Check an answer to a task on a car; never raises for anything that a student may write."""
    try:
        answer = lines_of(answer)
        if unanswered(answer):
            raise Blank("Nothing has been answered here yet.")
        if task.kind == "number" and isinstance(answer, str) and "plus or minus" in task.ask:
            answer = re.sub(r"^(\w+ *=)? *(?:±|\+/?-) *", r"\1", answer)
        if task.kind == "working" and isinstance(answer, str) and not re.search(r"[=;\n]", answer.strip()[:2000]):
            answer = f"{task.find} = {answer}"
        return _CHECKS[task.kind](task, answer, car)
    except Blank:
        return Verdict("blank", task.key, ("Write your answer, then check it.",))
    except Unreadable as problem:
        return Verdict("unreadable", task.key, tuple(filter(None, (str(problem), _expected(task)))))


def unanswered(answer: object) -> bool:
    """Tell whether a text is blank, or holds only lines as the lesson offers them: ``name =``."""
    lines = answer.splitlines() if isinstance(answer, str) and len(answer) < 2000 else ["?"]
    return all(line.strip().endswith("=") for line in lines if line.strip())


def _expected(task: Task) -> str:
    if task.kind == "number":
        unit = task.calculation.step(task.find).unit
        return f"A number is expected here in {unit}." if unit else ""
    if task.kind == "formula":
        return f"A formula is expected here, with the symbols {', '.join(task.symbols)}."
    if task.kind == "working":
        return "Lines are expected here, each: name = formula, or name = number and unit."
    return f"A value is expected here for {' and '.join(task.move)}, as in {next(iter(task.move))} = {next(iter(task.move.values()))[1]:g} mm."


def _number(task: Task, answer: object, car: Car) -> Verdict:
    calculation = task.calculation
    unit, text = calculation.step(task.find).unit, _unnamed(answer, task)
    try:
        quantity = read_number(text).to(unit)
    except WrongUnit:
        if "thousandths of a millimeter" not in task.ask:
            raise
        length = read_number(text).to("mm")
        text = f"{1000 * length.value:.6g}"
        said = f"{length} was read as {text} thousandths."
        quantity = Quantity(1000 * length.value, "", said, read_number(text).digit)
    except Unreadable as problem:
        if isinstance(problem, Blank) or not isinstance(answer, str):
            raise
        return _worked_out(task, answer, car, problem)
    right, turns_of = _turns(task.of, task.find, tuple(task.given.items()), car)
    due = on_paper(right[task.find], unit)
    if isinstance(text, str) and THOUSANDS.match(text) and not near(quantity.value, due, task.tolerance):
        other = read_number(text.replace(",", ".", 1)).to(unit)
        if abs(other.value - due) <= 0.01 * abs(due):
            quantity = replace(other, note="The comma was read as a decimal comma.")
    note = (quantity.note,) if quantity.note else ()
    if near(quantity.value, due, task.tolerance):
        exact = f"{task.find} = {written(right[task.find], unit)}; yours agrees {task.within}."
        return Verdict("right", task.key, (exact, *note), credit=1.0)
    given = f"{quantity.value:.6g} {unit}".strip()
    digit = quantity.digit
    if not quantity.value % 1 and abs(quantity.value - due) < 1:  # 23.0 for 22.86: to a whole number
        digit = max(digit, 1.0)
    rounded = abs(quantity.value - due) < digit <= 0.1 * abs(due) and quantity.value * due > 0
    turns = []
    for wrong, found in turns_of:
        slip = on_paper(found[task.find], unit)
        off = abs(quantity.value - slip)
        reach = allowed(task, wrong, right[task.find], found[task.find])
        if near(quantity.value, slip, reach) and off <= (1e-9 if rounded else max(digit, 0.003 * abs(slip))):
            turns.append((off, wrong, found))
    nearest = min((off for off, _, _ in turns), default=0.0)
    turns = [turn for turn in turns if turn[0] <= nearest + 1e-9 * abs(quantity.value)]
    named = [f"That is what comes out with {wrong.name}. {reason(wrong, task)}" for _, wrong, _ in turns]
    mistakes = tuple(wrong for _, wrong, _ in turns)
    if rounded:
        how = "rounded" if abs(quantity.value - due) <= digit / 2 * (1 + 1e-9) else "cut off or rounded up"
        said = f"{given} is right but {how}: {task.find} is asked for {task.within}. Write another digit."
        more = [f"If yours is not rounded: {one[0].lower()}{one[1:]}" for one in named]
        return Verdict("wrong", task.key, (said, *more, *note), mistakes)
    if not turns:
        hint = task.hint or "Write the lines one below the other and check each on the drawing."
        if abs(quantity.value - due) <= min(10 * task.tolerance, 0.01 * abs(due)):
            hint = f"It is near: carry another digit or two in each line. If that does not bring it, {hint[0].lower()}{hint[1:]}"
        return Verdict("wrong", task.key, (f"{given} is not {task.find}, {task.within}.", hint, *note))
    lead = f"{given} is not {task.find}." if len(turns) == 1 else f"{given} is not {task.find}; two slips give it."
    return Verdict("wrong", task.key, (lead, *named, *note), mistakes, _drawing(task, car, mistakes))


def _drawing(task: Task, car: Car, turns: Sequence[Mistake]) -> Callable[[], Picture | None] | None:
    """Return what draws the first of the mistakes over the right construction; None where it replaces no line."""
    if not turns or not turns[0].put:
        return None
    calculation, (wrong, *_) = task.calculation, turns
    known = values_of(calculation.known(figures(car), task.given))
    return lambda: draw_slip(calculation, car, known, f"With {wrong.name}", wrong.put)


@lru_cache(maxsize=64)
def _turns(of: str, find: str, given: tuple[tuple[str, tuple[float, str, str]], ...], car: Car) -> Any:
    """Return the right values, and each known mistake with its values; kept, since a task is answered more than once."""
    calculation = library()[0][of]
    known = values_of(calculation.known(figures(car), dict(given)))
    return calculation.values(known), calculation.wrong_turns(known, find)


def reason(wrong: Mistake, task: Task) -> str:
    """Return what to do about a mistake; about a sign, with what the number is, which says what counts as positive."""
    return f"{wrong.why} {task.find} is {task.calculation.step(task.find).words}." if wrong is SIGN else wrong.why


def _worked_out(task: Task, answer: str, car: Car, problem: Unreadable) -> Verdict:
    """Judge a number that is given by its arithmetic or by whole lines, such as a solution pasted as printed."""
    named = answer if re.match(r"\s*[^\W\d]\w*\s*=", answer) else f"{task.find} = {answer.strip()}"
    try:
        return _working(task, named, car)
    except Unreadable as other:
        read_as_a_sum = re.search(r"[\n*/^+±]|\w\(", answer.strip())
        raise (Unreadable(str(other).removeprefix("Line 1: ")) if read_as_a_sum else problem) from None


def _working(task: Task, answer: object, car: Car) -> Verdict:
    if not isinstance(answer, str):
        raise Unreadable("Lines of text are expected, each: name = formula, or name = number and unit.")
    calculation = task.calculation
    return check_working(Work(task, calculation, calculation.known(figures(car), task.given), car, answer))


def _unnamed(answer: object, task: Task) -> object:
    """Return what stands behind ``name =``, where the name is that of what is asked for."""
    if not isinstance(answer, str) or answer.count("=") != 1 or len(answer) > 2000:
        return answer
    name, _, rest = answer.partition("=")
    same = find_name(name.strip(), {task.find: symbol(task.find)}) or name.strip().lower() == task.find.lower()
    worded = task.kind == "number" and re.fullmatch(r"[^\W\d_]{4,}", name.strip())  # length = 5 mm
    return rest if same or worded or not name.strip() else answer


def allowed(task: Task, wrong: Mistake, right: float, found: float) -> float:
    """Return how near a wrong answer must be to a mistake's: of meters, a thousandth of what is due in millimeters."""
    scale = 1.0 if wrong.put or not right else abs(found / right)
    value = on_paper(found, task.calculation.step(task.find).unit)
    return max(task.tolerance * scale, 0.005 * abs(value)) if scale < 1 else task.tolerance


def _put_together(answer: object, task: Task, names: Mapping[str, sympy.Symbol]) -> sympy.Expr:
    """Read a formula; of several lines ``name = formula`` each is put into those below it, and the last one counts."""
    rows = [row for row in split_lines(answer) if row] if isinstance(answer, str) else []
    if len(rows) > 1 and "=" not in rows[-1]:
        rows[-1] = f"{task.find} = {rows[-1]}"
    if not 2 <= len(rows) <= MOST_ROWS or not all("=" in row for row in rows):
        alone = rows[0] if len(rows) == 1 and "//" not in str(answer) else answer
        return read_formula(_unnamed(alone, task), names)
    made: dict[str, sympy.Expr] = {}
    for row in rows:
        known = {**names, **{name: symbol(name) for name in made}}
        read_one = read_formula(row.rpartition("=")[2], known)
        whole = read_one.xreplace({symbol(name): formula for name, formula in made.items()})
        made[row.partition("=")[0].strip()] = read_formula(whole, names)
    last = row.partition("=")[0].strip()
    if _unnamed(f"{last}=0", task) == "0":
        return made[last]
    raise Unreadable(f"The last line should be that of {task.find}; it is that of {shorten(last)}.")


MOST_ROWS = 12
"""Lines of which a formula may be put together."""


def _formula(task: Task, answer: object, car: Car) -> Verdict:
    calculation = task.calculation
    names = {name: symbol(name) for name in task.symbols}
    also = {spelling: symbol(name) for spelling, name in task.also.items()}
    student = _put_together(answer, task, names | also)
    truth = calculation.expression(task.find, task.symbols)

    def against(formula: sympy.Expr) -> Same | Different | Undecided:
        cars, ranges = lambda: samples(task, calculation, car), _ranges(task, calculation)
        return compare(student, formula, cars, ranges, map(read, task.positive))

    outcome = against(truth)
    if isinstance(outcome, Same):
        where = "wherever it has a value: on some cars it divides by zero" if outcome.except_on else "on every car"
        return Verdict("right", task.key, (f"Your formula equals {task.find} {where}.",), credit=1.0)
    if isinstance(outcome, Undecided):
        said = f"It could not be decided: {outcome.reason} Write it in a simpler form."
        return Verdict("undecided", task.key, (said,))
    unit = calculation.step(task.find).unit
    made = ((wrong, calculation.expression(task.find, task.symbols, wrong.put)) for wrong in calculation.mistakes)
    made = ((wrong, formula) for wrong, formula in made if formula.free_symbols <= {*names.values()})
    turns = tuple(wrong for wrong, formula in made if isinstance(against(formula), Same))
    scaled = not turns and [
        f"Your formula is {task.find} {words}"
        for factor, units, words in FORMULA_SLIPS
        if unit in units
        and math.isclose(float(outcome.student), float(factor) * float(outcome.truth), rel_tol=1e-9)
        and isinstance(against(truth * factor), Same)
    ]
    turned = {names[name]: names[name] * 180 / sympy.pi for name in names if calculation.meaning(name)[1] == "deg"}
    on_it = {name: float(value) for name, value in outcome.witness.items()}
    in_degrees = evaluate(student.xreplace(turned), on_it) if turned else math.nan
    if not turns and not scaled and math.isclose(in_degrees, evaluate(truth, on_it), rel_tol=1e-9):
        scaled = [f"Your formula takes {', '.join(map(str, turned))} in degrees; angles are in radians here already."]
    shown = ", ".join(f"{name} = {written(value, calculation.meaning(name)[1])}" for name, value in on_it.items())
    both = outcome.student, outcome.truth
    yours, right = (written(value, unit) for value in both)
    if yours == right:  # they differ beyond the digits that one writes
        yours, right = (f"{on_paper(value, unit):.12g} {unit}".strip() for value in both)
    differs = f"On a car with {shown} your formula gives {yours}, and {task.find} is {right}."
    if yours == right:
        differs = f"It is near, and another formula: on a car with {shown} the two differ by {abs(outcome.student - outcome.truth):.1g}."
    named = [f"Your formula is the one with {wrong.name}. {wrong.why}" for wrong in turns]
    hint = [task.hint] if task.hint and not scaled and not named else []
    words = (*(scaled or ()), *named, differs, *hint)
    return Verdict("wrong", task.key, words, turns, _drawing(task, car, turns))


FORMULA_SLIPS = (
    (180 / sympy.pi, ("deg", "deg/mm"), "times 180/pi: angles in a formula are in radians, so leave that out."),
    (sympy.pi / 180, ("deg", "deg/mm"), "times pi/180: leave that out, a formula gives radians as it is."),
    (sympy.Rational(1, 100), ("%",), "as a fraction: multiply by 100 for percent."),
    (sympy.Integer(-1), ("mm", "deg", "deg/mm", "%", "N", ""), "with the opposite sign: look at which way counts as positive."),
)  # fmt: skip


def _ranges(task: Task, calculation: Calculation) -> dict[str, tuple[float, float]]:
    """Return the range of each angle among the symbols, below a right angle, and of what the question sets above zero."""
    angles = {name: (0.0, 1.57) for name in task.symbols if calculation.meaning(name)[1] == "deg"}
    given = {**calculation.given, **task.given}
    lengths = {name for name, (value, unit, _) in given.items() if unit == "mm" and value > 0}
    return angles | {name: (0.0, math.inf) for name in task.symbols if name in lengths}


def _choice(task: Task, answer: object, car: Car) -> Verdict:
    values = _chosen(task, answer)
    for name, number in values.items():
        words, low, high = task.move[name]
        if not low <= number <= high:
            reach = f"{name} = {number:g} mm is out of reach: the bracket allows {low:g} to {high:g} mm ({words})."
            return Verdict("wrong", task.key, (reach,))
    try:
        found = outcomes(task, car, values)
    except SusgeoError as problem:
        return Verdict("wrong", task.key, (f"With this the axle does not work: {problem}",))
    lost = [one.name for one in found if math.isnan(one.value)]
    if lost:
        said = f"With this the car has no {lost[0]}: the lines do not meet as they should."
        return Verdict("wrong", task.key, (said,))
    if all(one.met for one in found):
        return Verdict("right", task.key, tuple(f"{one.now}." for one in found), credit=1.0)
    missed = [f"{one.now}: missed." for one in found if not one.met]
    met = [f"{one.now}: met." for one in found if one.met]
    on = which_way(task, car, values)
    return Verdict("wrong", task.key, (*missed, *met, *([on] if on else [])))


def _chosen(task: Task, answer: object) -> dict[str, float]:
    """Read a choice: lines of text, a mapping, or a single number where one dimension moves."""
    names = {name: symbol(name) for name in task.move}
    values: dict[str, float] = {}
    if isinstance(answer, Mapping):
        given = [(find_name(str(name), names) or str(name), value) for name, value in answer.items()]
    elif isinstance(answer, str) and "=" in answer:
        given = [(line.name, line.sides[-1].part) for line in read_lines(answer, names)]
    elif len(task.move) == 1:
        given = [(next(iter(task.move)), answer)]
    else:
        read_number(answer).to("mm")
        given = []
    for name, value in given:
        if name not in task.move:
            raise Unreadable(f"{shorten(name)} is not to be moved here; choose {' and '.join(task.move)}.")
        if isinstance(value, sympy.Expr) and value.free_symbols:
            raise Unreadable(f"A number is expected for {name}.")
        quantity = value if isinstance(value, Quantity) else read_number(value)
        values[name] = quantity.to("mm").value
    missing = [name for name in task.move if name not in values]
    if missing:
        raise Unreadable(f"There is no value for {' and '.join(missing)}.")
    return values


_CHECKS: dict[str, Callable[[Task, object, Car], Verdict]] = {
    "number": _number, "formula": _formula, "choice": _choice, "working": _working,
}  # fmt: skip
