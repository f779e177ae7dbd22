"""Every formula task, rewritten as people and algebra rewrite: what is equal is right, what is nearly so is wrong."""

import itertools
import math
import random
import statistics
import time
from functools import cache

import numpy as np
import sympy as sp

from answers.test_equality import OWN
from susgeo import load_car
from susgeo.answers.calculation import LESSONS, library, symbol
from susgeo.answers.equality import Different, Same, Undecided, compare
from susgeo.answers.formula import Unreadable, read_formula
from susgeo.answers.verdict import samples

CALCULATIONS, TASKS = library()
FORMULAS = [key for key, task in TASKS.items() if task.kind == "formula"]
SAID = {Same: "right", Different: "wrong", Undecided: "undecided"}
EACH = 15
"""Forms of each task and kind that are tried."""


# Random rewriting. Each rule keeps a formula's value wherever both have one; v, w are parts of the formula.
def _parts(e):
    return [part for part in sp.preorder_traversal(e) if part.free_symbols and not part.is_Symbol] or [e]


def _put(e, old, new):
    """The formula as text, with one part written otherwise: as people write it, not as SymPy simplifies it."""
    mark = sp.Symbol("part_", real=True)
    return str(e.xreplace({old: mark})).replace("part_", f"({new})")


def equal_forms(e, draw):
    """One random rewriting of an expression, as text."""
    part = draw.choice([*_parts(e), *sorted(e.free_symbols, key=str)])
    other = draw.choice(sorted(e.free_symbols, key=str))
    number = draw.choice(["2", "3", "7", "1.5", "100"])
    ways = [
        f"({part})*{number}/{number}", f"({part}) + {other} - {other}", f"({part})*{other}/{other}",
        f"({part} + {number}) - {number}", f"1/(1/({part}))", f"-(-({part}))", f"({part})/2 + ({part})/2",
        f"({number}*({part}) - ({part}))/({number} - 1)", f"tan(atan({part}))", f"(({part})^2 - {number}^2)/(({part}) + {number}) + {number}",
        f"({part})*(sin({other}/9)^2 + cos({other}/9)^2)",
    ]  # fmt: skip
    if draw.random() < 0.1:
        return str(draw.choice([sp.expand, sp.together, sp.factor, sp.radsimp])(e))
    return _put(e, part, draw.choice(ways))


def near_forms(e, draw):
    """One random slip in an expression, as text: a sign, a factor, a name, a power, a part left out."""
    names = sorted(e.free_symbols, key=str)
    part, (one, *_) = draw.choice([*_parts(e), *names]), draw.sample(names, 1)
    other = draw.choice([name for name in names if name != one] or [one])
    number = draw.choice(["1.001", "2", "1/2", "0.99", "10"])
    return draw.choice([
        _put(e, part, f"-({part})"), _put(e, part, f"{number}*({part})"), _put(e, part, f"({part}) + {one}/1000"),
        _put(e, one, str(other)), _put(e, part, f"abs({part})"), _put(e, part, f"sqrt({part})"),
        _put(e, part, f"({part})^2"), f"({e})*{one}/{other}", f"({e}) + 1e-6*{one}",
    ])  # fmt: skip


@cache
def quick(names, e):
    """A function of an expression that takes arrays: for the truth, which each text is held against, made once."""
    return sp.lambdify(names, e, [OWN, "numpy"])


def agrees(key, text, truth, names, spans):
    """Whether a text's value is the truth's on 60 random cars, of either sign: by NumPy, with none of the checker in it."""
    draw, student = random.Random(key + text), read_formula(text, names)
    order = sorted(names)
    low = {name: 0.05 if names[name].is_positive or name in spans else -3 for name in order}
    columns = [
        np.array([draw.uniform(low[name], spans[name][1] if key == "04.3" and name == "a" else 3) for _ in range(60)])
        for name in order
    ]
    if "d_i" in names:  # a tube's bore is smaller than the tube
        columns[order.index("d_i")] *= columns[order.index("d")] / 3
    with np.errstate(all="ignore"):
        a, b = (quick(tuple(names[n] for n in order), e)(*columns) + np.zeros(60) for e in (student, truth))
    known = np.isfinite(b)
    return bool(
        known.sum() > 5 and np.allclose(a[known & np.isfinite(a)], b[known & np.isfinite(a)], rtol=1e-9)
    ), np.isfinite(a)[known].all()


def test_random_rewritings_of_every_formula_task_are_told_from_slips():
    seconds, undecided, counts = [], [], {"right": 0, "wrong": 0}
    for key in FORMULAS:
        task, draw = TASKS[key], random.Random(f"rewriting {key}")
        truth = CALCULATIONS[task.of].expression(task.find, task.symbols)
        names = {name: symbol(name) for name in task.symbols}
        car = load_car(str(LESSONS.parent / f"{task.car}.toml"))
        cars = list(itertools.islice(samples(task, CALCULATIONS[task.of], car), 12))  # as the checker takes them
        set_by_task = {**CALCULATIONS[task.of].given, **task.given}
        spans = {name: (0, math.inf) for name in task.symbols if name in set_by_task}
        spans |= {"a": (0, 1.57)} if key == "04.3" else {}
        for wanted, make in (("right", equal_forms), ("wrong", near_forms)):
            tried = set()
            kept = 0
            for text in (make(truth, draw) for _ in range(300)):
                if kept == EACH:
                    break
                if text in tried:
                    continue
                tried.add(text)
                try:
                    same, everywhere = agrees(key, text, truth, names, spans)
                except Unreadable:
                    continue
                if (wanted == "right") != same or (same and not everywhere):
                    continue  # a slip that changes nothing, such as the size of a square
                kept += 1
                start = time.perf_counter()
                verdict = SAID[type(compare(read_formula(text, names), truth, lambda cars=cars: cars, spans))]
                seconds.append(time.perf_counter() - start)
                if verdict == "undecided":
                    undecided.append((key, text))
                else:
                    assert verdict == wanted, (key, text)
                    counts[wanted] += 1
    print(
        f"{counts}, undecided {undecided}, median {1000 * statistics.median(seconds):.0f} ms, most {max(seconds):.2f} s"
    )
    assert min(counts.values()) >= 200
    assert len(undecided) <= 2, undecided
