"""What names of one's own stand for: the line that does not fit a wrong one below it, and other meanings of the course's names."""

import ast
import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress

import numpy as np
import sympy

from .calculation import Step, evaluate, quick, read
from .formula import Where
from .lines import Line, near, value_of
from .numbers import Quantity
from .paper import on_paper, text, tree
from .rests import Work, worked


def blamed(work: Work, line: Line, step: Step, slack: Mapping[str, float]) -> tuple[Line, str] | None:
    """Return the one line of one's own without which a wrong line would be right, and what it is used as there.

    Each line of one's own that starts from right ones is exchanged for what the way has: its lines, figures, and parts
    of its formulas. That just one such exchange mends the wrong line proves what is meant by the name.

    Args:
        work: all lines.
        line, step: the first line that is wrong, and what it should be.
        slack: how far each line above is open.
    """
    above = work.copies[: line.number - 1]
    parts = _parts(work.calculation.lines_to(step.name, {one.name for one in above}), work.truth)
    above = [one for one in above if one.name in work.own]
    if not parts or len({one.name for one in above}) < len(above):  # a name stands for two things
        return None
    values, right = dict(work.truth), set[str]()
    for one in above:
        value = value_of(one.sides[0].part, None, values)
        same = [name for name, part in parts.items() if near(value, part, slack[one.name])]
        turned = any(near(-value, part) for part in parts.values())  # a part of a formula by chance
        if same and (not turned or any(map(str.isidentifier, same))):
            right, value = right | {one.name}, min((parts[name] for name in same), key=lambda part: abs(part - value))
        values[one.name] = value
    worth = {name: value for name, value in parts.items() if value}  # what is zero may be anything
    others = worth | {f"-{name}" if name.isidentifier() else f"-({name})": -value for name, value in worth.items()}
    named = {name: value for name, value in worth.items() if name.isidentifier() and name != step.name}
    named = named if len(right) == len(above) else {}
    found = dict[str, tuple[Line, str, dict[str, float]]]()
    for number, one in enumerate(above):
        tried = named if one.name in right else others
        if not tried or not one.used & work.own <= right:
            continue
        made = _exchanged(one, [*tried.values()], [*above[number + 1 :], work.copies[line.number - 1]], values)
        ends = made.get(step.name, np.array([math.nan]))
        due = work.truth[step.name], on_paper(work.truth[step.name], step.unit)
        mends = np.logical_or(*(np.isclose(ends, one, rtol=1e-6, atol=0) for one in due))
        if mends.any():
            best = int(mends.argmax())
            found[one.name] = one, [*tried][best], {name: float(ends[best]) for name, ends in made.items()}
    for name, (_, _, then) in [*found.items()]:  # what follows from a line that is mended is mended with it
        found = {other: one for other, one in found.items() if other == name or not near(one[2][other], then.get(other, math.nan))}  # fmt: skip
    return next(iter(found.values()))[:2] if len(found) == 1 else None


def _parts(way: Sequence[Step], values: Mapping[str, float]) -> dict[str, float]:
    """Return what the lines of a way, the names in them, and the parts of its formulas are worth; no parts of a long one's."""
    nodes = [node for step in way for node in ast.walk(tree(step.formula))]
    names = [step.name for step in way] + [node.id for node in nodes if isinstance(node, ast.Name)]
    found = {name: values[name] for name in names if name in values}
    sums = [text(node) for node in nodes if isinstance(node, ast.BinOp) and len(way) <= LONG]
    found |= {formula: evaluate(read(formula), values) for formula in sums}
    return {name: value for name, value in found.items() if math.isfinite(value)}


LONG = 15


@np.errstate(all="ignore")
def _exchanged(
    line: Line, put: Sequence[float], below: Sequence[Line], values: Mapping[str, float]
) -> dict[str, np.ndarray]:
    """Return what a line and those that rest on it become with other values in its place, each an array."""
    made = {line.name: np.array(put)}
    for one in below:
        part, again = one.sides[0].part, None
        if isinstance(part, sympy.Expr) and made.keys() & one.sides[0].names:
            names, function = quick(part.replace(Where, lambda value, *_: value), True)
            with suppress(ArithmeticError, ValueError, TypeError):  # no value, or a function that takes no array
                figures = [made[name] if name in made else values[name] for name in names]
                again = np.broadcast_to(function(*figures), len(put))
        made.pop(one.name, None)  # a name may be written twice
        made |= {} if again is None else {one.name: again}
    return made


def renamed(work: Work) -> str:
    """Return the answer with other names where one of ours is defined by a formula that gives something else, and used."""
    values, answer = dict(work.truth), work.answer
    for number, line in enumerate(work.lines):
        part, name = line.sides[0].part, line.name
        value = part.value if isinstance(part, Quantity) else evaluate(part, values)
        formula = isinstance(part, sympy.Expr) and name != work.task.find
        used = any(name in below.used for below in work.copies[number + 1 :])
        if name not in work.truth:
            values[name] = value
        elif formula and used and not math.isclose(value, work.truth[name], rel_tol=1e-6) and not math.isnan(value):
            answer = re.sub(rf"\b{name}\b", f"{name}own", answer)
    return answer


def matters(work: Work, name: str) -> bool:
    """Tell whether the result changes with what a line gives."""
    values = {**work.known, **{line: sides[0] for line, sides in worked(work.copies, work.known).items()}}
    at = next(number for number, line in enumerate(work.copies) if line.name == name)
    ends = _exchanged(work.copies[at], [values[name] * 1.37 + 0.11], work.copies[at + 1 :], values)
    end = ends.get(work.task.find)
    return end is not None and not math.isclose(end[0], values[work.task.find], rel_tol=1e-6)
