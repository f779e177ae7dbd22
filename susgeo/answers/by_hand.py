"""Checks a hand calculation of any quantity of any car, line by line, against the lines that ``written_out`` shows.

The mistakes that people make are stated once, in the lessons. A lesson's line and a way's line are the same line
if they give the same on any figures; a mistake made in one can then be made in the other, and drawn as there.
"""

import math
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from functools import cache, partial

import sympy

from ..car.car import Axle, Car, whole
from ..draw.picture import Picture
from ..errors import SusgeoError, expect
from .calculation import Calculation, Mistake, Step, Task, evaluate, library, names_in, symbol
from .check import unanswered
from .construction import draw_slip
from .equality import Different, Same, compare
from .figures import figures, values_of
from .formula import read_formula
from .hand import lines_of
from .lines import DIGITS, EXACT, split_lines
from .numbers import Blank, Unreadable, has_unit, read_number
from .paper import in_radians, last_digit, on_paper, written
from .rests import Work
from .variant import draws
from .verdict import Verdict, samples
from .working import check_working
from .written import INCHES, Chain, chain

CLOSE = 0.001
"""A number counts as the right one within this share of it, as on paper; or to its last digit, if it has three."""
ZERO = {"mm": 0.05, "in": 0.002, "%": 0.05}
"""How near a number must come to zero, by unit; 1e-5 of anything else."""


def check_by_hand(car: Car | Axle, quantity: str, answer: object) -> Verdict:
    """Check what a person worked out of a quantity of a car: a number, a formula, or lines of working.

    Args:
        car: any car, or an axle alone; one whose file is in inches is worked out, and answered, in inches.
        quantity: by the summary's name.
        answer: a number with or without its unit; a formula in the figures' symbols; or lines ``name = ...``, in
            the symbols that :func:`written_out` uses or in names of one's own.

    Returns:
        A verdict: a working's first wrong line is named, and what is drawn wrong lies over the right construction.

    Raises:
        SusgeoError: what :func:`susgeo.answers.written.written_out` raises.

    >>> from susgeo import load_car
    >>> car = load_car("data/three_link.toml")
    >>> print(check_by_hand(car, "rear locator height", "z_P = 310 mm"))
    rear locator height Not yet. z_P = 310 mm is not right. Write your lines; the first wrong one is then named.
    """
    expect(str, quantity=quantity)
    car = whole(car)
    lines = chain(car, quantity)
    calculation = replace(lines.calculation, mistakes=known_mistakes(lines.calculation.steps))
    lines = replace(lines, calculation=calculation)
    unit = calculation.step(lines.symbol).unit
    right = calculation.values(values_of(lines.known))[lines.symbol]
    size = abs(on_paper(right, unit))
    allowed = max(min(last_digit(written(right, unit)), 5 * CLOSE * size or ZERO.get(unit, 1e-5)), CLOSE * size)
    task = Task(lines.name, "working", "", "", find=lines.symbol, tolerance=allowed)
    try:
        answer = lines_of(answer, car.units)
        if unanswered(answer):
            raise Blank("Nothing has been answered here yet.")
        if not isinstance(answer, str):
            return _result(task, lines, car, answer)
        rows = [row for row in split_lines(answer) if row]
        if not rows:
            raise Blank("Nothing but remarks has been written here yet.")
        if len(rows) == 1 and "=" in rows[0] and not re.match(r"[^\W\d]\w*\s*=", rows[0]):  # 190/3120 = 0.0609
            rows = [f"{lines.symbol} = {rows[0]}"]
        name, _, rest = (part.strip() for part in rows[0].partition("="))
        sole = len(rows) == 1 and "=" not in rest and (not rest or name.lower() == lines.symbol.lower())
        alone = _bare(rest or name, calculation, lines.symbol)
        if sole and not is_rounded(alone):
            return _result(task, lines, car, alone)
        rows = [f"{lines.symbol} = {rest or name}"] if sole else rows
        with suppress(SusgeoError):  # a result rounded as paper rounds it is right, with lines or without
            end = rows[-1].rpartition("=")[2].strip()
            last = read_number(end).value_in(unit)
            if _same(in_radians(last, unit), right, unit, end):
                task = replace(task, tolerance=max(allowed, abs(last - on_paper(right, unit))))
        text = "\n".join(_bare(row, calculation, row.partition("=")[0].strip()) for row in rows)
        draw = partial(overlay, car, calculation)
        return check_working(Work(task, calculation, lines.known, car, text, alone=True, draw=draw))
    except Blank:
        return Verdict("blank", lines.name, ("Write your number, your formula or your lines.",))
    except Unreadable as problem:
        return Verdict("unreadable", lines.name, (str(problem),))


def is_rounded(text: str) -> bool:
    """Tell whether a text is arithmetic with numbers that somebody rounded to, to be judged by their digits."""
    try:
        read_number(text)
    except Unreadable:
        numbers = [float(number[0]) for number in DIGITS.finditer(text)]
        return any(number % 1 and number not in EXACT for number in numbers)
    return False


def _bare(row: str, calculation: Calculation, name: str) -> str:
    """Return a line without the unit behind it, if that is one of these lines' and cannot be read; degrees stay so."""
    theirs = {step.unit for step in calculation.steps if step.name == name}
    for unit in sorted(filter(_unknown, theirs or {one.unit for one in calculation.steps}), key=len, reverse=True):
        left = "" if theirs or not unit.startswith("deg") else " deg"
        row = re.sub(rf"(?<=[\d.)])\s*{re.escape(unit)}\s*$", left, row)
    return row


@cache
def _unknown(unit: str) -> bool:
    """Tell whether a unit cannot be read."""
    with suppress(Unreadable):
        return not read_number(f"1 {unit}")
    return True


def _result(task: Task, lines: Chain, car: Car, answer: object) -> Verdict:
    """Judge a result alone: a number, or a formula."""
    known = values_of(lines.known)
    present = known | values_of(figures(car)) | known
    calculation, step = lines.calculation, lines.calculation.step(lines.symbol)
    truth = calculation.values(known)
    right = truth[step.name]
    shown = f"{step.name} = {written(right, step.unit)}"
    try:
        quantity = read_number(answer)
    except Unreadable as no_number:
        if not isinstance(answer, str | sympy.Basic):
            raise
        try:
            names = {name: symbol(name) for name in (*present, *truth)}
            formula = read_formula(answer, names)
        except Unreadable as no_formula:
            formula_meant = isinstance(answer, str) and re.search(r"[A-Za-z_(*/]", answer) and not has_unit(answer)
            raise (no_formula if formula_meant else no_number) from None
        return _formula(task, lines, car, formula, present | truth)
    value = in_radians(quantity.value_in(step.unit), step.unit)
    digits = str(answer) if isinstance(answer, str) else f"{quantity.value:.12g}"
    if _same(value, right, step.unit, digits):
        return Verdict("right", task.key, (f"{shown}; yours agrees to the digits it has.",), credit=1.0)
    slips = calculation.wrong_turns(known, step.name)
    turns = [wrong for wrong, found in slips if _same(value, found[step.name], step.unit, digits)]
    return _wrong(task, calculation, car, f"{step.name} = {str(answer)[:40]} is not right.", turns)


def _same(value: float, right: float, unit: str, text: str) -> bool:
    """Tell whether a number, and the text that it was read from, is a value as one writes it on paper."""
    plain = re.search(r"\d+[.,]?\d*|[.,]\d+", text)
    number = plain[0].replace(",", ".") if plain else ""
    counted = len(number.replace(".", "").lstrip("0")) >= 3 and float(number) != 0
    rounding = last_digit(number) / 2 * abs(value) / float(number) if counted else 0.0
    allowed = max(CLOSE * abs(right), min(rounding, 5 * CLOSE * abs(right)), ZERO.get(unit, 1e-5) if not right else 0.0)
    return math.isfinite(right) and abs(value - right) <= allowed * (1 + 1e-9)


def _formula(task: Task, lines: Chain, car: Car, formula: sympy.Expr, values: Mapping[str, float]) -> Verdict:
    """Judge a formula: by what it gives on this car, and by proof whether it does so on every car."""
    calculation, step = lines.calculation, lines.calculation.step(lines.symbol)
    right = values[step.name]
    if symbol(step.name) in formula.free_symbols:
        raise Unreadable(f"The formula for {step.name} holds {step.name} itself.")
    value, shown = evaluate(formula, values), written(right, step.unit)
    exact = {"rel_tol": 1e-9, "abs_tol": 1e-12}
    if step.unit.startswith("deg") and math.isclose(math.radians(value), right, **exact):
        formula, value = formula * sympy.pi / 180, right
    if not math.isclose(value, right, **exact):
        slips = calculation.wrong_turns(values_of(lines.known), step.name)
        turns = [wrong for wrong, found in slips if math.isclose(value, found[step.name], **exact)]
        said = f"On this car your formula gives {written(value, step.unit)}, and {step.name} is {shown}."
        return _wrong(task, calculation, car, said, turns)
    used = [one.name for one in formula.free_symbols]
    truth = calculation.expression(step.name, used)
    wider = replace(task, symbols=tuple(sorted({*used} | {one.name for one in truth.free_symbols})))
    more = "Whether it does so on every car was not decided."
    if car.units == "mm" and {*wider.symbols} <= {*lines.known, *calculation.by_name}:
        outcome = compare(formula, truth, lambda: samples(wider, calculation, car))
        if isinstance(outcome, Same):
            more = "It does so on every car of this kind."
        elif isinstance(outcome, Different):
            more = "On another car of this kind it need not: it rests on what happens to be so on this one."
    said = f"Your formula gives {step.name} = {shown} on this car, as it should."
    return Verdict("right", task.key, (said, more), credit=1.0)


def _wrong(task: Task, calculation: Calculation, car: Car, said: str, turns: list[Mistake]) -> Verdict:
    named = [f"That is what comes out with {wrong.name}. {wrong.why}" for wrong in turns]
    hint = [] if named else ["Write your lines; the first wrong one is then named."]
    first = turns[0] if turns and turns[0].put else None
    drawing = (lambda: overlay(car, calculation, f"With {first.name}", first.put)) if first else None
    return Verdict("wrong", task.key, (said, *named, *hint), tuple(turns), drawing)


# The lessons' mistakes


@cache
def _counterparts(steps: tuple[Step, ...]) -> dict[str, dict[str, str]]:
    """Return, for each calculation of the lessons that shares lines with these, its names and theirs."""
    ours = Calculation("", "", "side", steps)
    of_front = bool(re.search(r"\b[xyz]_[LUBWM][A-Z]?f\b", " ".join(step.formula for step in steps)))
    # Two lines that give the same on made-up figures are the same.
    values = ours.values({name: next(draws(name, "a figure", 0)) % 9973 / 10 + 40 for name in ours.needed})
    found: dict[str, dict[str, str]] = {}
    for key, lesson in library()[0].items():
        here = {name: f"{name}f" if of_front and re.match(r"[xyz]_[LUBWM]", name) else name for name in lesson.inputs}
        names = {name: other for name, other in here.items() if other in values}
        there, shared = {*names}, list[Step]()
        for step in lesson.steps:  # no formula is made a function, for nothing, whose line rests on what these have not
            if there.issuperset(names_in(step.formula)):
                there.add(step.name)
                shared.append(step)
        theirs = replace(lesson, steps=tuple(shared)).values({name: values[other] for name, other in names.items()})
        for step in shared:
            same = [s.name for s in steps if math.isclose(values[s.name], theirs[step.name], rel_tol=1e-9)]
            if same:
                names[step.name] = step.name if step.name in same else same[0]
                found[key] = names
    return found


@cache
def known_mistakes(steps: tuple[Step, ...]) -> tuple[Mistake, ...]:
    """Return the lessons' mistakes that can be made in these lines, in their names."""
    order = {step.name: at for at, step in enumerate(steps)}
    found: dict[tuple[tuple[str, str], ...], Mistake] = {}
    for key, names in _counterparts(steps).items():
        lesson = library()[0][key]
        for wrong in lesson.mistakes:
            used = {name for formula in wrong.put.values() for name in names_in(formula)} | wrong.put.keys()
            if not used <= names.keys() or not all(names[name] in order for name in wrong.put):
                continue
            put = {names[name]: _in_our_names(formula, names) for name, formula in wrong.put.items()}
            late = (order.get(used, -1) >= order[name] for name, formula in put.items() for used in names_in(formula))
            if not any(late):
                why = _in_our_names(wrong.why, {name: ours for name, ours in names.items() if name != "a"})
                found.setdefault(tuple(sorted(put.items())), Mistake(wrong.name, why, put))
    return tuple(found.values())


def _in_our_names(text: str, names: Mapping[str, str]) -> str:
    return re.sub(r"[A-Za-z]\w*", lambda word: names.get(word[0], word[0]), text)


def overlay(car: Car, calculation: Calculation, title: str, put: Mapping[str, str]) -> Picture | None:
    """Draw a construction with some lines replaced over the right one, as the lesson that has these lines draws it."""
    measured, in_mm = figures(car), dict(INCHES.values())
    for key, names in _counterparts(calculation.steps).items():
        lesson = library()[0][key]
        back = {ours: name for name, ours in reversed(names.items())}
        if not lesson.lines or not all(name in back for name in put):
            continue
        there = {back[name]: _in_our_names(formula, back) for name, formula in put.items()}
        for name in (name for name in put if not names_in(put[name])):  # a number, in the unit of its line
            there[back[name]] = f"({put[name]})*{in_mm.get(calculation.step(name).unit, 1)}"
        try:
            picture = draw_slip(lesson, car, values_of(lesson.known(measured)), title, there)
        except (SusgeoError, KeyError):
            continue
        if picture is not None:
            return picture
    return None
