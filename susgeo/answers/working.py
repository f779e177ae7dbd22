"""Checks several lines of working, each against what is known and against the lines above it.

The order of judgment. Each line is read, and compared with what the student's own lines above it give. How far the
two may differ is what the digits allow with which the line and those above it were written; a line in letters has
no digits, and must agree. Else it is right but cut short, or a named slip, or does not follow. The last line must
also be right to the task's own tolerance. A result that rests on no line and no figure is a bare one.
"""

import math
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Any

import sympy

from ..car.car import Car
from ..draw.picture import Picture
from .calculation import SLIPS, Calculation, Mistake, Step, Task, compiled, evaluate, read
from .construction import draw_construction
from .figures import Figure, figures, values_of
from .lines import KEPT, ROUNDING, Ledger, Line, digits, moved_by, near, read_lines, readings, renamed, value_of
from .numbers import Quantity, Unreadable, WrongUnit
from .paper import on_paper, written
from .rests import differences, linked, missing, results, unfounded
from .variant import in_radians
from .verdict import Verdict, samples
from .worked import as_given

Draw = Callable[[str, Mapping[str, str]], Picture | None] | None


def check_working(
    task: Task,
    answer: object,
    car: Car,
    calculation: Calculation | None = None,
    figures_of: Mapping[str, Figure] | None = None,
    draw: Draw = None,
) -> Verdict:
    """Check lines ``name = formula`` or ``name = number unit``; the first one that does not follow is named.

    A name may also stand for something else than in the course, such as a slope with the other sign, if lines rest on it
    and lead to the right result. A line is right when it follows from the figures and from the student's own lines above it, so that one
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
    alone = calculation is not None  # lines about this car and no other
    calculation = calculation or task.calculation
    measured = figures_of or calculation.known(figures(car), task.given)
    verdict = _checked(task, answer, car, calculation, measured, alone, draw)
    if verdict:
        return verdict
    own = renamed(answer, calculation.values(values_of(measured)), task.find)
    if own == answer:
        return verdict
    other = _checked(task, own, car, calculation, measured, alone, draw)
    if other.credit < 1:
        return verdict
    for name in set(re.findall(r"\w+own\b", own)):  # the result must rest on what the name stands for
        elsewhere = re.sub(rf"(?m)^(\s*{name}\s*=\s*)([^=#\n]*).*$", r"\1(\2)*1.37 + 0.11", own, count=1)
        with suppress(Unreadable):
            if _checked(task, elsewhere, car, calculation, measured, alone, None).credit == 1:
                return verdict
    return other


def _checked(
    task: Task, answer: str, car: Car, calculation: Calculation, measured: Mapping[str, Figure], alone: bool, draw: Draw
) -> Verdict:
    """Check lines as they are named, ``alone`` those about this car and no other."""
    known = values_of(measured)
    truth = calculation.values(known)
    lines = read_lines(answer, calculation.symbols)
    shown = {name: abs(float(as_given(one).split()[0])) for name, one in measured.items()}
    angles = frozenset(name for name, one in measured.items() if one.unit.startswith("deg"))
    names = frozenset((*calculation.symbols, *(line.name for line in lines)))
    exact = frozenset(differences(shown).union(shown.values()))
    length = "in" if any(one.unit == "in" for one in measured.values()) else "mm"
    page, sentences = Ledger(dict(known), figures=exact, angles=angles, length=length, names=names), []
    own_names = {line.name for line in lines} - calculation.by_name.keys()
    copies = linked(lines, task.find, measured)
    page.rests = {line.number: line.used & own_names for line in copies}
    with suppress(Unreadable):
        ends = truth[task.find], on_paper(truth[task.find], calculation.step(task.find).unit)
        led = results(copies, dict(known), task.find)[0]
        page.copied = any(math.isclose(led, one, rel_tol=1e-6) for one in ends)
    mistakes: list[Mistake] = []
    for line in lines:
        step = calculation.by_name.get(line.name)
        if step is None:
            sentences += _noted(line, page)
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
    ended = any(line.name == task.find for line in lines)
    if not ended:
        plain = task.find.lower().replace("_", "")
        alike = [line.name for line in lines if line.name.lower().replace("_", "") == plain]
        case = f" {alike[0]} is another name: capital and small letters differ." if alike else ""
        sentences.append(f"The last line is missing: {task.find} = ...{case}")
    credit = page.sound / max(page.judged, 1 if ended else len(calculation.lines_to(task.find)))
    complete = not page.slip and ended
    unit, due = calculation.step(task.find).unit, truth[task.find]
    off = abs(on_paper(page.values.get(task.find, math.nan) - due, unit))
    result = f"{task.find} = {written(due, unit)}"
    there = {line.name for line in lines}
    lacking = missing(calculation, task.find, there, truth, alone) if complete else []
    # Another meaning must hold on other cars, too; of a way of one line there is nothing else to lack.
    more = len(calculation.lines_to(task.find)) == 1 if alone else any(name.endswith("own") for name in there)
    to_see = lacking or (complete and more)
    nowhere = unfounded(copies, calculation, task.find, measured, truth, alone) if to_see else None
    bare = nowhere is not None
    lucky = nowhere == [] and any(line.name == task.find and line.used & own_names for line in copies)
    if complete and task.tolerance and not off <= task.tolerance * (1 + ROUNDING):
        so_far = "Every line follows to the digits it was written with"
        so_far = f"{task.find} is right as far as it goes" if bare else so_far
        said = (
            f"{so_far}, but {task.find} is asked for within {task.tolerance:g} {unit}".rstrip() + ": carry more digits."
        )
        if lucky:
            said = f"{task.find} comes near, but on other figures your lines do not lead to it: look at each again."
        credit = 0.0 if bare else round(min(credit, 0.99), 2)
        turns = calculation.wrong_turns(known, task.find)
        made = [(abs(page.values[task.find] - found[task.find]), wrong) for wrong, found in turns if wrong.put]
        apart, slip = min(made, key=lambda one: one[0], default=(math.inf, None))
        followed = (slip,) if slip and apart <= in_radians(task.tolerance, unit) / 2 else ()  # hidden by its digits
        why = [f"If the digits are all there: that is what comes out with {one.name}. {one.why}" for one in followed]
        return Verdict("wrong", task.key, (said, *why, *sentences), followed, credit=credit)
    if bare:
        if nowhere:
            numbers = " and ".join(nowhere[:2])
            source = f"Nothing here says where {numbers} came from: write a formula there, of figures or lines above."
            sentences.insert(0, source)
        if alone:
            said = f"{result} is right, and rests on no line here: no line was checked."
            if lucky:
                said = f"{result} is right on this car, but on other figures your lines do not lead to it: look at each again."
            if page.judged > 1:
                said = f"{result} is right. What leads to it is not all here: {', '.join(lacking)} is missing."
            return Verdict("right", task.key, (said, *sentences), credit=0.5)
        if task.kind == "number":
            return Verdict("right", task.key, (f"{result}; yours agrees.", *sentences), credit=1.0)
        wanted = lacking if page.judged > 1 else [step.name for step in calculation.lines_to(task.find)][:-1]
        said = f"The number is right. The lines that lead to it are asked for too: {', '.join(wanted)}, or your own."
        credit = max(0.5, round(page.sound / len(calculation.lines_to(task.find)), 2))
        return Verdict("wrong", task.key, (said, *sentences), credit=credit)
    if complete:
        loose = dict.fromkeys(line.name for line in lines if line.name in own_names.difference(*page.rests.values()))
        follow = (
            "Your lines lead to it" if own_names else "Every line follows"
        )  # what one's own names mean is not known
        idle = [f"No line rests on {' or '.join([*loose][:3])}, so that was not checked."] if loose else []
        return Verdict("right", task.key, (f"{follow}; {result}.", *idle, *sentences), credit=1.0)
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


def _noted(line: Line, page: Ledger) -> list[str]:
    """Note a line of one's own on the page; say if its two sides differ by more than their last digits."""
    first, *more = (readings(line, index, None, page) for index in range(len(line.parts)))
    degrees = any(re.search("deg|[°º˚]", text) for text in line.texts)
    found, said = first[0], list[str]()
    for other in more:
        pairs = [
            (one, two, by)
            for one in first
            for two in other
            for by in (1, math.pi / 180, 180 / math.pi)[: 1 + 2 * degrees]
        ]
        same = (
            two
            for one, two, by in pairs
            if near(one.value * by, two.value, 2 * (one.open * by + two.open))
            or not math.isfinite(one.value + two.value)
        )
        match = next(same, None)
        found = match or other[0]
        if match is None and not said:
            page.slip = page.slip or line.number
            said = [
                f"Line {line.number}: the two sides of an equals sign differ, {first[0].value:.6g} and {found.value:.6g}."
            ]
    page.values[line.name], page.slack[line.name] = found.value, found.open
    if said or page.spoiled & line.used:
        page.spoiled.add(line.name)
    return said


def _judge(
    task: Task, calculation: Calculation, car: Car | None, line: Line, step: Step, page: Ledger, truth: dict[str, float]
) -> tuple[str, list[Mistake]]:
    """Judge one line; note its value on the page; return what to say and the mistakes that explain it."""
    skipped = calculation.lines_to(step.name, page.values)[:-1] if page.slip else ()

    def from_above(values: dict[str, float], formula: str = step.formula) -> float:
        values = {**truth, **values}
        for one in skipped:  # what the student left out follows from what is above, slip and all
            values[one.name] = evaluate(read(one.formula), values)
        return evaluate(read(formula), values)

    own, due = from_above(page.values), truth[step.name]
    known = {name: truth[name] for name in calculation.inputs if name in truth}
    uses = frozenset(name for one in (step, *skipped) for name in compiled(one.formula)[0])
    open_above = {name: page.slack[name] for name in uses if name in page.slack}
    inherited = moved_by(from_above, page.values, open_above)
    angles = frozenset(one.name for one in calculation.steps if one.unit == "deg") | page.angles
    least = in_radians(task.tolerance, step.unit) if step.name == task.find else 0.0
    chosen, slacks, evens = [], list[float](), list[float]()
    try:
        for index in range(len(line.parts)):
            ways = readings(line, index, step.unit, page, from_above, uses, inherited, angles)
            part = line.parts[index]
            exact = isinstance(part, sympy.Expr) and (part.free_symbols or not page.copied)
            allowed = 0.0 if exact and task.kind != "number" else least
            cut = isinstance(part, Quantity) and digits(line.texts[index]) >= KEPT  # as from a display
            fits = (
                (way, max(way.off, allowed) + (way.open if cut and abs(way.value) < abs(target) else 0.0), target)
                for target in (own, due)
                for way in ways
            )
            fit = next((one for one in fits if near(one[0].value, one[2], one[1])), None)
            way, slack, _ = fit or (ways[0], max(ways[0].off, allowed), own)
            chosen.append(way)
            slacks.append(slack)
            evens.append(slack if task.kind == "number" else way.off + way.open)
            for before, slack in zip(chosen[:index], slacks, strict=False):
                right_there = any(near(before.value, target, slack) for target in (own, due))
                if right_there and near(chosen[-1].value, before.value, chosen[-1].open):  # worked out of that side
                    slacks[-1] = max(slacks[-1], slack + chosen[-1].open)
    except Unreadable as problem:
        other = f" If your {step.name} stands for something else, give it another name."
        other = other if isinstance(problem, WrongUnit) and step.name != task.find else ""
        raise Unreadable(f"Line {line.number}: {problem}{other}") from None
    note = next((way.note for way in chosen if way.note), "")
    value = chosen[-1].value
    page.values[step.name], page.slack[step.name] = value, chosen[-1].open
    page.judged += 1
    sides = [(way.value, slack) for way, slack in zip(chosen[:-1], slacks, strict=False)]
    right = near(value, due, slacks[-1])
    if right or near(value, own, slacks[-1]):
        fault, found = "", list[Mistake]()
        uneven = [
            side for (side, _), even in zip(sides, evens, strict=False) if not near(side, value, even + evens[-1])
        ]
        if uneven:
            fault = f": the two sides of an equals sign differ, {_told_apart(uneven[0], value, step.unit, ' and ')}."
        elif not page.slip and car is not None:
            exact = abs(value - own) <= 1e-6 * abs(own)
            fault, found = _only_here(task, calculation, car, chosen[0].formula, step, exact)
        if not fault:
            page.sound += 1
            if not right or not page.slip:  # who did not round goes on from what the lines above give
                page.slack[step.name] = abs(value - own) + inherited
            if page.slip and not right:
                page.following.append(line.number)
            return note, []
        page.slip = page.slip or line.number
        return f"Line {line.number}{fault}", found
    if line.used & page.spoiled:
        return "", []
    first = not page.slip
    page.slip = page.slip or line.number
    short = _cut_short(line.parts[-1], value, own)
    worked = [result for result, slack in sides if near(result, own, slack)]
    if not short and worked:
        gives = _told_apart(worked[0], value, step.unit, ", not ")
        return f"Line {line.number}: the formula is right, the arithmetic is not; it gives {gives}.", []
    turns = []
    for wrong in (one for one in calculation.mistakes if step.name in one.put):
        with_it = partial(from_above, formula=wrong.put[step.name])
        open_there = {name: page.slack[name] for name in compiled(wrong.put[step.name])[0] if name in page.slack}
        moved = moved_by(with_it, page.values, open_there) if isinstance(line.parts[-1], Quantity) else 0.0
        slack = max(slacks[-1], chosen[-1].open + 1.02 * moved)  # more where all move at once
        turns.append((with_it(page.values), wrong, slack))
    if step.name == task.find and page.judged == 1:  # nothing but a result: any slip on the way may have led to it
        all_turns = calculation.wrong_turns(known, task.find)
        turns = [(made[step.name], wrong, slacks[-1]) for wrong, made in all_turns if wrong.put]
    turns = [(abs(value - slip), wrong, slack) for slip, wrong, slack in turns if near(value, slip, slack)]
    nearest = min((off for off, *_ in turns), default=0.0)
    found = [wrong for off, wrong, _ in turns if near(off, nearest)]
    where = "is the first line that does not follow" if first else "does not follow either"
    if short and not found:
        return f"Line {line.number}: {step.name} is right as far as it goes. Carry four digits.", []
    many = isinstance(line.parts[-1], Quantity) and digits(line.texts[-1]) >= KEPT
    if many and not found and near(value, own, slacks[-1] + 3 * chosen[-1].open):
        why = "it does not quite follow from the lines above. Carry another digit."
        return f"Line {line.number}: {step.name} is off only in its last digit: {why}", []
    said = f"Line {line.number} {where}: {step.name} is {step.words}."
    if first and (theirs := sorted(page.rests[line.number])):
        said = f"Line {line.number} is not right: {step.name} is {step.words}. The slip may be in what it rests on: {', '.join(theirs)}."
    for slip, factor in SLIPS.get(step.unit, ()):
        if own and factor > 0 and not found and near(value, own * factor, max(chosen[-1].off, factor * least)):
            said += f" {slip.why.replace('Your number', f'Your {step.name}')}"
    if own and near(-value, own, slacks[-1]):
        said += " Its size is right and its sign is not."
    said += "".join(f" That is what comes out with {wrong.name}. {wrong.why}" for wrong in found)
    return said, found


def _told_apart(one: float, other: float, unit: str, between: str) -> str:
    """Write two values with as many digits as tell them apart."""
    pairs = ((written(one, unit, extra), written(other, unit, extra)) for extra in range(9))
    return between.join(next((pair for pair in pairs if pair[0] != pair[1]), (f"{one!r}", f"{other!r}")))


def _cut_short(part: Quantity | sympy.Expr, value: float, own: float) -> bool:
    """Tell whether a number is the right one with its last digits left off."""
    if not isinstance(part, Quantity) or not part.value or not math.isfinite(own):
        return False
    _, digits, exponent = Decimal(repr(part.value)).normalize().as_tuple()
    last = 10.0 ** min(int(exponent), 0) * abs(value / part.value)  # in the unit of the line
    allowed = last if abs(value) < abs(own) else last / 2  # cut off, or rounded up
    return 1 < len(digits) < 4 and abs(value - own) <= allowed and value * own > 0


def _only_here(
    task: Task, calculation: Calculation, car: Car, part: sympy.Expr | None, step: Step, exact: bool
) -> tuple[str, list[Mistake]]:
    """Return what to say when a formula in symbols fits this car and not others like it, and the slips it may be."""
    names = sorted(item.name for item in part.free_symbols) if part is not None else []
    if part is None or not names or not {*names} <= {*calculation.symbols}:
        return "", []
    if any({abs(number.p), number.q} - {0, 1, 2, 100} for number in part.atoms(sympy.Rational)):
        return "", []  # figures were put in, so the line speaks of this car alone
    line = replace(task, key="", kind="formula", find=step.name, symbols=tuple(calculation.symbols))
    stream = samples(line, calculation, car)
    next(stream)
    for _ in range(3):
        drawn: dict[str, Any] = {name: float(value) for name, value in next(stream).items()}
        # A drawn car's lines are rounded; counted from its figures they agree with each other.
        values = drawn | calculation.values({name: drawn[name] for name in calculation.inputs if name in drawn})
        other, wanted = value_of(part, step.unit, values), evaluate(read(step.formula), values)
        if not any(near(guess, wanted) for guess in (other, in_radians(other, step.unit))):
            shown = ", ".join(f"{name} = {values[name]:.6g}" for name in names)
            luck = "gives the right number" if exact else "comes near"
            gives = _told_apart(other, wanted, step.unit, f", and {step.name} is ")
            slips = [wrong for wrong in calculation.mistakes if step.name in wrong.put]
            found = [wrong for wrong in slips if near(other, evaluate(read(wrong.put[step.name]), values))]
            lacking = [name for name in compiled(step.formula)[0] if name not in names]
            more = "".join(f" That is what comes out with {wrong.name}. {wrong.why}" for wrong in found)
            if lacking and not found and {*names} <= {*compiled(step.formula)[0]}:
                more = f" It leaves out {' and '.join(lacking)}."
            return f" {luck} on this car only: with {shown} it gives {gives}.{more}", found
    return "", []
