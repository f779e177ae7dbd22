"""Checks several lines of working, each against what is known and against the lines above it.

The order of judgment. Each line is read, and compared with what the student's own lines above it give. How far the
two may differ is what the digits allow with which the line and those above it were written; a line in letters has
no digits, and must agree. Else it is right but cut short, or a named slip, or does not follow. The last line must
also be right to the task's own tolerance. A result that rests on no line and no figure is a bare one.
"""

import math
import re
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Any

import sympy

from .calculation import SLIPS, Mistake, Step, compiled, evaluate, read
from .construction import draw_slip
from .lines import ROUNDING, Above, Ledger, Line, Meant, Reading, chosen, kept, near, readings, value_of
from .meant import blamed, matters, renamed
from .numbers import Quantity, Unreadable, WrongUnit
from .paper import in_radians, on_paper, written
from .rests import Work, missing, unfounded
from .verdict import Verdict, samples


def check_working(work: Work) -> Verdict:
    """Check lines ``name = formula`` or ``name = number unit``; the first one that does not follow is named.

    A name may also stand for something else than in the course, such as a slope with the other sign, if lines rest on it
    and lead to the right result. A line is right when it follows from the figures and from the student's own lines above it, so that one
    slip is marked once. Credit is the share of lines that are right or follow; a right result with nothing that
    leads to it is half.
    """
    verdict = _checked(work)
    other = work if verdict else replace(work, answer=renamed(work))
    if other.answer == work.answer:
        return verdict
    again = _checked(other)
    meant = set(re.findall(r"\w+own\b", other.answer))  # the result must rest on what these names stand for
    return again if again.credit == 1 and all(matters(other, name) for name in meant) else verdict


def _checked(work: Work) -> Verdict:
    """Check lines as they are named."""
    calculation, find = work.calculation, work.task.find
    angles = {name for name, one in work.measured.items() if one.unit.startswith("deg")}
    angles |= {step.name for step in calculation.steps if step.unit == "deg"}
    exact = frozenset(work.runs.union(work.shown.values()))
    length = "in" if any(one.unit == "in" for one in work.measured.values()) else "mm"
    page, sentences = Ledger(dict(work.known), figures=exact, angles=frozenset(angles), length=length), list[str]()
    mistakes: list[Mistake] = []
    for line in work.lines:
        said, found = _judge(work, line, page) if line.name in calculation.by_name else (_noted(line, page), [])
        sentences += [said] if said else []
        mistakes += found
    if page.following:
        *most, last = map(str, page.following)
        which = f"Lines {', '.join(most)} and {last} follow" if most else f"Line {last} follows"
        change = "change" if most else "changes"
        sentences.append(f"{which} from line {page.slip}, and {change} when that is mended.")
    ended = any(line.name == find for line in work.lines)
    if not ended:
        plain = find.lower().replace("_", "")
        alike = [line.name for line in work.lines if line.name.lower().replace("_", "") == plain]
        case = f" {alike[0]} is another name: capital and small letters differ." if alike else ""
        sentences.append(f"The last line is missing: {find} = ...{case}")
    credit = page.sound / max(page.judged, 1 if ended else len(calculation.lines_to(find)))
    if ended and not page.slip:
        return _complete(work, page, sentences, credit)
    name = work.lines[page.slip - 1].name if page.slip else ""
    value = page.values[name] if name in calculation.by_name else math.nan
    title, put = f"With {name} as you have it", {name: repr(value)}
    if mistakes and mistakes[0].put:
        title, put = f"With {mistakes[0].name}", dict(mistakes[0].put)

    draw = work.draw or partial(draw_slip, calculation, work.car, work.known)
    drawing = (lambda: draw(title, put)) if math.isfinite(value) else None
    return Verdict("wrong", work.task.key, tuple(sentences), tuple(mistakes), drawing, round(min(credit, 0.99), 2))


def _complete(work: Work, page: Ledger, sentences: list[str], credit: float) -> Verdict:
    """Judge a result to which every line follows: is it near enough, and do the lines lead to it?"""
    task, calculation, find = work.task, work.calculation, work.task.find
    unit, due, value = calculation.step(find).unit, work.truth[find], page.values[find]
    result, lacking = f"{find} = {written(due, unit)}", missing(work)
    # Another meaning must hold on other cars, too; of a way of one line there is nothing else to lack.
    own = any(line.name.endswith("own") for line in work.lines)
    sole = len(calculation.lines_to(find)) == 1 and calculation.needed_for(find)  # some are zero on no figures at all
    more = sole if work.alone else own
    nowhere = unfounded(work) if lacking or more else None
    bare = nowhere is not None
    lucky = nowhere == [] and any(line.name == find and work.under(line) for line in work.lines)
    if task.tolerance and not abs(on_paper(value - due, unit)) <= task.tolerance * (1 + ROUNDING):
        so_far = (
            f"{find} is right as far as it goes" if bare else "Every line follows to the digits it was written with"
        )
        said = f"{so_far}, but {find} is asked for within {task.tolerance:.3g} {unit}".rstrip() + ": carry more digits."
        if lucky:
            said = f"{find} comes near, but on other figures your lines do not lead to it: look at each again."
        turns = [
            (abs(value - made[find]), wrong) for wrong, made in calculation.wrong_turns(work.known, find) if wrong.put
        ]
        apart, slip = min(turns, key=lambda one: one[0], default=(math.inf, None))
        followed = (slip,) if slip and apart <= in_radians(task.tolerance, unit) / 2 else ()  # hidden by its digits
        why = [f"If the digits are all there: that is what comes out with {one.name}. {one.why}" for one in followed]
        credit = 0.0 if bare else round(min(credit, 0.99), 2)
        return Verdict("wrong", task.key, (said, *why, *sentences), followed, credit=credit)
    if nowhere:
        numbers = " and ".join(nowhere[:2])
        source = f"Nothing here says where {numbers} came from: write a formula there, of figures or lines above."
        sentences.insert(0, source)
    if bare and work.alone:
        said = f"{result} is right, and rests on no line here: no line was checked."
        if lucky:
            said = (
                f"{result} is right on this car, but on other figures your lines do not lead to it: look at each again."
            )
        if page.judged > 1:
            said = f"{result} is right. What leads to it is not all here: {', '.join(lacking)} is missing."
        return Verdict("right", task.key, (said, *sentences), credit=0.5)
    if bare and task.kind == "number" and not own:
        return Verdict("right", task.key, (f"{result}; yours agrees.", *sentences), credit=1.0)
    if bare:
        way = [step.name for step in calculation.lines_to(find)]
        wanted = lacking if page.judged > 1 else way[:-1]
        said = f"The number is right. The lines that lead to it are asked for too: {', '.join(wanted)}, or your own."
        credit = max(0.5, round(page.sound / len(way), 2))
        return Verdict("wrong", task.key, (said, *sentences), credit=credit)
    idle = work.own.difference(*map(work.under, work.lines))
    loose = list(dict.fromkeys(line.name for line in work.lines if line.name in idle))[:3]
    unsaid = [f"No line rests on {' or '.join(loose)}, so that was not checked."] if loose else []
    follow = "Your lines lead to it" if work.own else "Every line follows"  # what one's own names mean is not known
    return Verdict("right", task.key, (f"{follow}; {result}.", *unsaid, *sentences), credit=1.0)


def _noted(line: Line, page: Ledger) -> str:
    """Note a line of one's own on the page; say if its sides differ by more than their last digits."""
    first, *more = (readings(line, index, page) for index in range(len(line.sides)))
    turns = (1, math.pi / 180, 180 / math.pi) if line.angle else (1,)
    meant = [Reading(one.value * by, 0.0, one.open * by) for one in first for by in turns]
    sides = [chosen(ways, meant, lambda way, one: 2 * (one.open + way.open)) for ways in (first, *more)]
    way = sides[-1].way
    page.values[line.name], page.slack[line.name] = way.value, way.open
    uneven = [one.way.value for one in sides if not one.fits and math.isfinite(one.way.value + first[0].value)]
    if uneven or page.spoiled & line.used:
        page.spoiled.add(line.name)
    page.slip = page.slip or (line.number if uneven else 0)
    return f"Line {line.number}{_uneven(first[0].value, uneven[0], '')}" if uneven else ""


def _judge(work: Work, line: Line, page: Ledger) -> tuple[str, list[Mistake]]:
    """Judge a line of the way; note its value on the page; return what to say and the mistakes that explain it."""
    step, first = work.calculation.by_name[line.name], not page.slip
    above = Above(step, () if first else work.calculation.lines_to(step.name, page.values)[:-1], work.truth, page)
    own, due = above(page.values), work.truth[step.name]
    try:
        sides, evens = _sides(work, line, above, page)
    except Unreadable as problem:
        other = f" If your {step.name} stands for something else, give it another name."
        other = other if isinstance(problem, WrongUnit) and step.name != work.task.find else ""
        raise Unreadable(f"Line {line.number}: {problem}{other}") from None
    last, value = sides[-1], sides[-1].way.value
    page.values[step.name], page.slack[step.name] = value, last.way.open
    page.judged += 1
    right = near(value, due, last.slack)
    if not right and not near(value, own, last.slack):
        if line.used & page.spoiled:
            return "", []
        page.slip = page.slip or line.number
        return _explained(work, line, above, page, sides, own, first)
    values = [side.way.value for side in sides]
    uneven = [one for one, even in zip(values, evens, strict=True) if not near(one, value, even + evens[-1])]
    fault, found = "", list[Mistake]()
    if uneven:
        fault = _uneven(uneven[0], value, step.unit)
    elif first and not work.alone:
        fault, found = _only_here(work, sides[0].way.formula, step, abs(value - own) <= 1e-6 * abs(own))
    if fault:
        page.slip = page.slip or line.number
        return f"Line {line.number}{fault}", found
    page.sound += 1
    if first or not right:  # who did not round goes on from what the lines above give
        page.slack[step.name] = abs(value - own) + above.inherited
    if not first and not right:
        page.following.append(line.number)
    return next((side.way.note for side in sides if side.way.note), ""), []


def _sides(work: Work, line: Line, above: Above, page: Ledger) -> tuple[list[Meant], list[float]]:
    """Read each side of a line of the way; return them, and how far each may be off from the others."""
    step, number = above.step, work.task.kind == "number"
    targets = [Reading(value, 0.0, 0.0) for value in (above(page.values), work.truth[step.name])]
    least = in_radians(work.task.tolerance, step.unit) if step.name == work.task.find else 0.0
    sides, evens = list[Meant](), list[float]()
    for index, one in enumerate(line.sides):
        ways = readings(line, index, page, above)
        exact = isinstance(one.part, sympy.Expr) and (one.names or not work.leads)
        allowed = 0.0 if exact and not number else least
        cut = isinstance(one.part, Quantity) and kept(one.text)  # as from a display

        def slack(way: Reading, target: Reading, allowed: float = allowed, cut: bool = cut) -> float:
            return max(way.off, allowed) + (way.open if cut and abs(way.value) < abs(target.value) else 0.0)

        side = chosen(ways, targets, slack)
        evens.append(side.slack if number else side.way.off + side.way.open)
        for before in sides:
            right_there = any(near(before.way.value, target.value, before.slack) for target in targets)
            if right_there and near(side.way.value, before.way.value, side.way.open):  # worked out of that side
                side = replace(side, slack=max(side.slack, before.slack + side.way.open))
        sides.append(side)
    return sides, evens


def _explained(
    work: Work, line: Line, above: Above, page: Ledger, sides: list[Meant], own: float, first: bool
) -> tuple[str, list[Mistake]]:
    """Return what to say of a line that is wrong, and the mistakes that explain it."""
    step, task, calculation = above.step, work.task, work.calculation
    value, slack, part = sides[-1].way.value, sides[-1].slack, line.sides[-1].part
    head = f"Line {line.number}"
    short = _cut_short(part, value, own)
    worked = [one.way.value for one in sides[:-1] if near(one.way.value, own, one.slack)]
    if not short and worked:
        gives = _told_apart(worked[0], value, step.unit, ", not ")
        return f"{head}: the formula is right, the arithmetic is not; it gives {gives}.", []
    turns = []
    for wrong in (one for one in calculation.mistakes if step.name in one.put):
        moved = (
            above.moved(compiled(wrong.put[step.name])[0], wrong.put[step.name]) if isinstance(part, Quantity) else 0.0
        )
        open_ = max(slack, sides[-1].way.open + 1.02 * moved)  # more where all move at once
        turns.append((above(page.values, wrong.put[step.name]), wrong, open_))
    if step.name == task.find and page.judged == 1:  # nothing but a result: any slip on the way may have led to it
        all_turns = calculation.wrong_turns(work.known, task.find)
        turns = [(made[step.name], wrong, slack) for wrong, made in all_turns if wrong.put]
    turns = [(abs(value - slip), wrong, open_) for slip, wrong, open_ in turns if near(value, slip, open_)]
    nearest = min((off for off, *_ in turns), default=0.0)
    found = [wrong for off, wrong, _ in turns if near(off, nearest)]
    many = isinstance(part, Quantity) and kept(line.sides[-1].text)
    digit = many and near(value, own, slack + 3 * sides[-1].way.open)
    differ = [one.way.value for one in sides[:-1] if not near(one.way.value, value, one.slack + slack)]
    if differ and (short or digit) and not found:
        return f"{head}{_uneven(differ[0], value, step.unit)}", []
    if short and not found:
        return f"{head}: {step.name} is right as far as it goes. Carry four digits.", []
    if digit and not found:
        why = "it does not quite follow from the lines above. Carry another digit."
        return f"{head}: {step.name} is off only in its last digit: {why}", []
    where = "is the first line that does not follow" if first else "does not follow either"
    said = f"{head} {where}: {step.name} is {step.words}."
    if first and (under := sorted(work.under(line))):
        said = f"{head} is not right: {step.name} is {step.words}. {_placed(work, line, step, page, under)}"
    for slip, factor in SLIPS.get(step.unit, ()):
        least = in_radians(task.tolerance, step.unit) if step.name == task.find else 0.0
        if own and factor > 0 and not found and near(value, own * factor, max(sides[-1].way.off, factor * least)):
            said += f" {slip.why.replace('Your number', f'Your {step.name}')}"
    if own and near(-value, own, slack):
        said += " Its size is right and its sign is not."
    said += "".join(f" That is what comes out with {wrong.name}. {wrong.why}" for wrong in found)
    return said, found


def _placed(work: Work, line: Line, step: Step, page: Ledger, under: list[str]) -> str:
    """Return which line of one's own does not fit the first wrong one, or which it may be."""
    found = blamed(work, line, step, page.slack)
    if found is None:
        return f"The slip may be in what it rests on: {', '.join(under)}."
    one, meant = found
    words = f"{meant}, {work.calculation.meaning(meant, work.task.given)[0]}" if meant.isidentifier() else meant
    return f"Line {one.number} does not fit it: {one.name} is used as {words}."


def _uneven(one: float, other: float, unit: str) -> str:
    return f": the two sides of an equals sign differ, {_told_apart(one, other, unit, ' and ')}."


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


def _only_here(work: Work, part: sympy.Expr | None, step: Step, exact: bool) -> tuple[str, list[Mistake]]:
    """Return what to say when a formula in symbols fits this car and not others like it, and the slips it may be."""
    calculation, names = work.calculation, sorted(item.name for item in part.free_symbols) if part is not None else []
    if part is None or not names or not {*names} <= {*calculation.symbols}:
        return "", []
    if any({abs(number.p), number.q} - {0, 1, 2, 100} for number in part.atoms(sympy.Rational)):
        return "", []  # figures were put in, so the line speaks of this car alone
    line = replace(work.task, key="", kind="formula", find=step.name, symbols=tuple(calculation.symbols))
    stream = samples(line, calculation, work.car)
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
