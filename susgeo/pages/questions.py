"""Tasks that answer in the page itself, from tables of rounded values made beforehand.

A number is right within its task's tolerance, and the known slips are named, as the notebook does. A choice of
brackets is judged by a table of what comes out over the brackets' whole range, which the page's script reads between. Formulas
and workings are left to the notebook.
"""

import html
import itertools
import math
import re
from dataclasses import replace
from typing import Any

import numpy as np

from ..answers.calculation import Task
from ..answers.check import allowed, reason
from ..answers.choices import outcomes
from ..answers.figures import values_of
from ..answers.lesson import Lesson
from ..answers.paper import on_paper, written
from ..answers.printed import task_on_paper
from ..answers.question import hints
from ..car.car import Car
from ..errors import SusgeoError
from .flipbook import as_data

NODES, MOST = (4, 5, 6, 8, 10, 13), 1500
"""How many places of each bracket a table may have, and how many in all."""
NEAR = 0.02
"""How far a table may be off, in parts of what counts as near enough."""
IMAGE = re.compile(r"<img [^>]+>")
LATER = "The notebook of this lesson checks {} line by line. Here, compare yours with the worked solution."


def answer_form(lesson: Lesson, number: int) -> str:
    """Return a task's question, its boxes, hints, and the worked solution behind a fold; in print its sheet of paper.

    Args:
        lesson: with the figures of the reader for whom the page was committed.
        number: of the task.
    """
    task = lesson.find(number)
    asked, worked, paper = lesson.question(number).page, lesson.solution(number), task_on_paper(lesson, number)
    small = iter(IMAGE.findall(paper))  # as wide as on a telephone
    asked = IMAGE.sub(lambda found: _two_sizes(found, next(small)), asked)
    table = number_table(lesson, task) if task.kind == "number" else choice_table(task, lesson.car(task.car))
    if table is None:
        kind = {"formula": "a formula", "working": "a working"}.get(task.kind, "this choice")
        boxes = f"<p>{LATER.format(kind)}</p>"
    else:
        boxes = _boxes(task, lesson.unit(task), table)
    steps = "".join(
        f"<details><summary>Hint {place} of {len(hints(task))}</summary><p>{html.escape(words)}</p></details>"
        for place, words in enumerate(hints(task), 1)
    )
    solved = worked.page().replace(" (click to open)", "", 1)
    solved = IMAGE.sub(r'<div class="drawn" tabindex="0">\g<0></div>', solved)
    return (
        f'<section class="task" id="task-{task.key}">{asked}{boxes}<div class="help">{steps}{solved}</div></section>'
        f'<div class="paper-only">{paper}</div>'
    )


def _two_sizes(large: re.Match[str], small: str) -> str:
    """Return a drawing that is another one, with letters as large, on a telephone."""
    source, size = re.findall(r'src="([^"]+)"|(width="\d+" height="\d+")', small)
    return f'<picture><source media="(max-width: 480px)" srcset="{source[0]}" {size[1]}>{large[0]}</picture>'


def _boxes(task: Task, unit: str, table: dict[str, Any]) -> str:
    names = [(name, "mm") for name in task.move] if task.kind == "choice" else [(task.find, unit)]
    # A telephone's keys for decimals often lack the minus, so the ordinary ones are asked for.
    fields = "".join(
        f'<label>{html.escape(name)}{f" [{one}]" if one else ""} <input name="{name}" autocomplete="off" '
        'autocapitalize="off" spellcheck="false"></label>'
        for name, one in names
    )
    return (
        f'<form class="answer script-only">{fields}<button>Check</button><div role="status"></div>'
        f"{as_data({'key': task.key, **table})}</form>"
    )


def guess_form(page: str) -> str:
    """Return a question to guess at with a box or buttons, or its answer with a place for the guess."""
    if "You have made no guess yet." in page:
        return page.replace("You have made no guess yet.", '<span class="guessed">You have made no guess yet.</span>')
    lead, _, rest = page.partition("<p>Your guess")
    choices = html.unescape(re.sub("<.*", "", rest.partition(":")[2], flags=re.DOTALL)).strip()
    if choices:
        buttons = "".join(f'<button value="{one}">{one}</button>' for one in map(html.escape, choices.split(" / ")))
        controls = f'<div role="group" aria-label="Your guess">{buttons}</div>'
    else:
        lead = page.partition('<div aria-hidden="true">')[0]
        controls = '<label>Your guess <input name="guess" autocomplete="off"></label><button>Keep my guess</button>'
    return f'{lead}<form class="guess script-only">{controls}<div role="status"></div></form>'


def number_table(lesson: Lesson, task: Task) -> dict[str, Any]:
    """Return what is right for a number and within how much, what each known slip gives, and what is said."""
    lines, unit = task.calculation, lesson.unit(task)
    known = values_of(lesson.known(task.key))
    right = lines.values(known)[task.find]
    turns = [(wrong, values[task.find]) for wrong, values in lines.wrong_turns(known, task.find)]
    said = (f"That is what comes out with {wrong.name}. {reason(wrong, task)}" for wrong, _ in turns)
    near = ((_short(on_paper(slip, unit)), _short(allowed(task, wrong, right, slip))) for wrong, slip in turns)
    return {
        "kind": "number",
        "find": task.find,
        "unit": unit,
        "due": _short(on_paper(right, unit)),
        "within": task.tolerance,
        "right": f"{task.find} = {written(right, unit)}; yours agrees {task.within}.",
        "tolerance": task.within,
        "hint": task.hint or "Write the lines one below the other and check each on the drawing.",
        "slips": [[*numbers, words] for numbers, words in zip(near, said, strict=True)],
    }


def _short(value: float) -> float:
    return float(f"{value:.9g}")


def choice_table(task: Task, car: Car) -> dict[str, Any] | None:
    """Return, for a choice, tables from which what it makes of the car can be read; None where none is near enough.

    Each table holds a wanted number, or its reciprocal, at the Chebyshev places of the brackets that it depends on;
    between them it is interpolated (Trefethen, Approximation Theory and Approximation Practice, chapter 5).
    """
    if task.kind != "choice":
        return None
    names = list(task.move)
    middle = np.zeros(len(names))

    def results(places: Any, task: Task = task) -> Any:
        chosen = {
            name: (low + high + u * (high - low)) / 2
            for (name, (_, low, high)), u in zip(task.move.items(), np.transpose(places), strict=True)
        }
        try:
            return np.array([np.broadcast_to(one.value, len(places)) for one in outcomes(task, car, chosen)])
        except SusgeoError:
            return np.full((len(task.want), len(places)), np.nan)

    at_rest, *moved = results([middle, *(side * row for row in np.eye(len(names)) for side in (-0.9, 0.7))]).T
    wanted: list[dict[str, Any]] = []
    for index, (name, (target, within)) in enumerate(task.want.items()):
        off = np.array([one[index] - at_rest[index] for one in moved]).reshape(-1, 2)
        moves = np.flatnonzero(~(np.abs(off) <= 1e-9 * within).all(axis=1))
        one = replace(task, want={name: task.want[name]})

        def alone(places: Any, moves: Any = moves, one: Task = one) -> Any:
            full = np.zeros((len(places), len(names)))
            full[:, moves] = places
            return results(full, one)[0]

        table = _table(alone, len(moves), within)
        if table is None:
            return None
        what, _, unit = name.removesuffix("]").rpartition(" [")
        wanted.append(
            {"name": what, "unit": unit, "target": target, "within": within, "moves": moves.tolist(), **table}
        )
    brackets = [[name, low, high] for name, (_, low, high) in task.move.items()]
    return {"kind": "choice", "move": brackets, "want": wanted}


def basis(u: float, nodes: int) -> list[float]:
    """Return the weight of each Chebyshev place in a value at ``u``, -1 to 1."""
    at = [math.cos(math.pi * (k + 0.5) / nodes) for k in range(nodes)]
    return [math.prod((u - b) / (a - b) for b in at if b != a) for a in at]


def _table(function: Any, dimensions: int, within: float) -> dict[str, Any] | None:
    """Return a function's values, or their reciprocals, at as few places as give it everywhere near enough.

    So many places must first do along each bracket alone: that costs little, and tells when a whole table would be too coarse.
    """
    places = [-0.95, -0.6, -0.2, 0.25, 0.65, 0.95]
    alone = [[[u * (k == d) for k in range(dimensions)] for u in places] for d in range(dimensions)]
    probes = [[math.sin(7.3 * k + 2.1 * j) for j in range(dimensions)] for k in range(1, 25)]
    truth, *along = np.split(function([*probes, *itertools.chain(*alone)]), range(24, 24 + 6 * dimensions, 6))
    for nodes in NODES:
        if nodes**dimensions > MOST:
            return None
        at = [math.cos(math.pi * (k + 0.5) / nodes) for k in range(nodes)]
        lines = [function([[u * (k == d) for k in range(dimensions)] for u in at]) for d in range(dimensions)]
        for turned in (False, True):
            near = all(
                _off(line, turned, [[u] for u in places], true) <= NEAR * within
                for line, true in zip(lines, along, strict=True)
            )
            if not near:
                continue
            values = function([*itertools.product(at, repeat=dimensions)]).reshape([nodes] * dimensions)
            if _off(values, turned, probes, truth) <= NEAR * within:
                kept = 1 / values if turned else values
                return {"nodes": nodes, "turned": turned, "table": [_short(one) for one in kept.ravel()]}
    return None


def _off(values: Any, turned: bool, probes: list[list[float]], truth: Any) -> float:
    """Return how far a table, or that of the reciprocals, is off at the worst of some places."""
    off = 0.0
    with np.errstate(all="ignore"):
        for probe, true in zip(probes, truth, strict=True):
            got: Any = 1 / values if turned else values
            for u in probe:
                got = np.tensordot(basis(u, len(values)), got, 1)
            off = max(off, abs((1 / float(got) if turned and got else float(got)) - true))
    return off if np.isfinite(values).all() else math.inf
