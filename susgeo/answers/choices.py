"""Choices of pick-up points: what a choice does to the car, which way to go on, and one way to a right one."""

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import combinations, product
from typing import Any

import numpy as np

from ..car.car import Car, as_number
from ..car.pickup import moved
from ..errors import SusgeoError, UndefinedError
from ..geometry.scalars import is_array
from ..results.design import Target, best_design
from ..results.quantities import numbers
from .calculation import Task
from .figures import LENGTHS, POINTS, figures, values_of
from .paper import on_paper, significant
from .worked import Worked

WAYS = {"x": ("forward", "rearward"), "y": ("outward", "inward"), "z": ("up", "down")}
TRIES, MANY = 8, 20_000
LITTLE, TRIED, PARTS, HANDY = 0.3, 20, (1, 4, 16), 3
"""Millimeters of a first move on; how many ways on are tried on the car, and which parts of each; brackets at once."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a quantity has become, what is wanted, how near is near enough, and its unit."""

    name: str
    unit: str
    value: float
    wanted: float
    within: float

    @property
    def met(self) -> bool:
        """Whether it is near enough."""
        return abs(self.value - self.wanted) <= self.within

    @property
    def lacks(self) -> float:
        """What it still lacks, in parts of what is near enough; zero where it is as wanted.

        Where lines meet may lie ahead or behind, and goes from one to the other by way of infinity: such a place
        is measured by its reciprocal.
        """
        beyond = self.wanted / self.value if self.name.endswith(" x") and self.value else 1.0
        return (self.wanted - self.value) / self.within * beyond

    @property
    def now(self) -> str:
        """What it is, and what is wanted, as a sentence without its full stop."""
        got = f"{significant(self.value, 4)} {self.unit}".strip()
        return f"{self.name} is now {got}, wanted {self.wanted:g} within {self.within:g} {self.unit}".strip()

    def __str__(self) -> str:
        return f"{self.name} {significant(self.value, 4)} {self.unit}".strip()


def place_of(name: str) -> str:
    """Return the place of a symbol in a car, for moving it."""
    if name in LENGTHS:
        return LENGTHS[name][0]
    axis, _, code = name.partition("_")
    return f"{POINTS[code][0]}.{axis}"


def outcomes(task: Task, car: Car, chosen: Mapping[str, Any]) -> list[Outcome]:
    """Return what a choice makes of each quantity that is wanted; nan where the car then has none.

    With arrays in it, it is many choices, and each outcome's value is an array of theirs.

    Raises:
        SusgeoError: with this choice the axle does not work.
    """
    changed = moved(car, {place_of(name): value for name, value in chosen.items()})
    found: dict[str, Any] = {}
    if task.of:  # a target may also be a line of a calculation
        calculation = task.calculation
        values = calculation.values(values_of(calculation.known(figures(changed))))
        found = {step.name: on_paper(values[step.name], step.unit) for step in calculation.steps}
    split = {name: (name.rpartition(" [")[0], name.rpartition(" [")[2].removesuffix("]")) for name in task.want}
    for name, number in numbers(changed, [name for name, _ in split.values() if name not in found]).items():
        with suppress(UndefinedError):
            found[name] = number if is_array(number) else as_number(number)
    return [Outcome(*split[key], found.get(split[key][0], math.nan), *want) for key, want in task.want.items()]


def next_step(task: Task, car: Car, chosen: Mapping[str, float]) -> dict[str, float]:
    """Return how far to move each dimension on from a choice, by what one millimeter of each does there.

    Of all moves that would do it if everything went on in proportion (Newton's method) the smallest, each
    counted in parts of what its bracket allows; a dimension at the end of its bracket stays there.
    """
    missing, rates = _slopes(task, car, chosen)
    free, steps = list(chosen), dict.fromkeys(chosen, 0.0)
    while free:
        table = np.array([rates[name] for name in free]).T
        if not (np.isfinite(table).all() and np.isfinite(missing).all()):
            return steps
        parts = np.linalg.lstsq(table, missing)[0]
        found = {name: float(part) * _span(task, name) for name, part in zip(free, parts, strict=True)}
        beyond = [name for name, step in found.items() if _kept(task, name, chosen[name] + step) == chosen[name] != chosen[name] + step]  # fmt: skip
        if not beyond:
            return steps | found
        free = [name for name in free if name not in beyond]
    return steps


def _slopes(task: Task, car: Car, chosen: Mapping[str, float]) -> tuple[Any, dict[str, list[float]]]:
    """Return what each wish still lacks, and what the whole of each bracket would do, in parts of its tolerance."""
    beside = ({**chosen, name: chosen[name] + side / 2} for name in task.move for side in (-1, 1))
    here, *ends = _outcomes_of_each(task, car, [chosen, *beside])
    rates = {
        name: [(a.lacks - b.lacks) * _span(task, name) for a, b in zip(*pair, strict=True)]
        for name, *pair in zip(task.move, ends[::2], ends[1::2], strict=True)
    }
    return np.array([one.lacks for one in here]), rates


def _outcomes_of_each(task: Task, car: Car, choices: Sequence[Mapping[str, float]]) -> list[list[Outcome]]:
    """Return what each of several choices makes of the car, all worked out at once."""
    many = outcomes(task, car, {name: np.array([one[name] for one in choices]) for name in choices[0]})
    rows = zip(*(np.broadcast_to(one.value, len(choices)).tolist() for one in many), strict=True)
    return [[replace(one, value=value) for one, value in zip(many, row, strict=True)] for row in rows]


def _span(task: Task, name: str) -> float:
    _, low, high = task.move[name]
    return high - low


def _kept(task: Task, name: str, value: float) -> float:
    """Return a value as far as its bracket allows."""
    _, low, high = task.move[name]
    return min(max(value, low), high)


def which_way(task: Task, car: Car, chosen: Mapping[str, float]) -> str:
    """Return a sentence that says which way to go on from a choice that misses a wish.

    It names the fewest brackets that bring every missed wish nearer (where none do, one of them) and break none
    that is met; "together" where one of them alone would not help, or break one. Where none are found, it says what
    to give up for what. What it says is tried on the car; empty only where the car cannot be measured beside the choice.
    """
    before = outcomes(task, car, chosen)
    missed = [one for one in before if not one.met]

    def tried(steps: Mapping[str, float]) -> list[list[Outcome]]:
        """What a little of the steps makes of the car, and all of them; nothing where an axle then does not work."""
        small = min(1.0, LITTLE / max(map(abs, steps.values())))
        with suppress(SusgeoError):
            moves = ({name: chosen[name] + part * step for name, step in steps.items()} for part in (small, 1.0))
            return _outcomes_of_each(task, car, [{**chosen, **move} for move in moves])
        return []

    def helps(steps: Mapping[str, float], wishes: Sequence[Outcome], least: int) -> bool:
        """Whether steps bring so many of the wishes nearer, at least at first, and break none that is met."""
        after = tried(steps)
        if not after or any(one.met and not now.met for found in after for one, now in zip(before, found, strict=True)):
            return False
        pairs = zip(before, after[0], strict=True)
        return sum(one in wishes and abs(now.lacks) < abs(one.lacks) for one, now in pairs) >= least

    with suppress(SusgeoError):
        slopes = _slopes(task, car, chosen)
        groups = [missed, *([one] for one in missed if len(missed) > 1)]
        for most, middles, wishes in product((HANDY, len(task.move)), (False, True), groups):
            moves = [
                m for m in _moves(task, chosen, [one in wishes for one in before], *slopes, middles) if len(m) <= most
            ]
            for steps in ({name: step / part for name, step in one.items()} for part in PARTS for one in moves):
                if helps(steps, wishes, len(wishes)):
                    each = all(helps({name: step}, missed, 1) for name, step in steps.items())
                    return _told(steps, each, "" if wishes == missed else wishes[0].name, wishes)
        for wish in missed:  # there is no such move: what does it cost?
            for steps in _moves(task, chosen, [one is wish for one in before], *slopes, None):
                near, far = tried(steps) or (before, before)
                if abs(near[before.index(wish)].lacks) < abs(wish.lacks):
                    cost = [one.name for one, a, b in zip(before, near, far, strict=True) if one.met and not (a.met and b.met)]  # fmt: skip
                    told = _told(steps, len(steps) == 1, wish.name, [wish])
                    return f"{told} This takes from {' and '.join(cost)}: bring that back afterward." if cost else told
    return ""


def _moves(
    task: Task, chosen: Mapping[str, float], asked: list[bool], missing: Any, rates: Mapping[str, list[float]], middles: bool | None
) -> list[dict[str, float]]:  # fmt: skip
    """Return the moves that should bring every wish asked for nearer and break none that is met, the best first.

    Best is what leaves the least, then what moves the fewest brackets, then what moves them the least. A wish that is
    met and would break is led a quarter of the way to its middle, for room; with middles every one is led to its
    middle; with None they may break.
    """
    found: list[tuple[tuple[float, int, float], dict[str, float]]] = []
    if not (np.isfinite(missing).all() and np.isfinite(list(rates.values())).all()):
        return []
    for names in (some for count in range(len(rates)) for some in combinations(rates, count + 1)):
        table = np.array([rates[name] for name in names]).T
        aims = np.where(np.logical_or(asked, bool(middles)), missing, missing / 4)
        rows = list(np.flatnonzero(np.logical_or(asked, bool(middles))))
        spans = np.array([_span(task, name) for name in names])
        while True:
            parts = np.linalg.lstsq(table[rows], aims[rows])[0]
            ends = (_kept(task, name, chosen[name] + step) for name, step in zip(names, parts * spans, strict=True))
            steps = np.array([end - chosen[name] for name, end in zip(names, ends, strict=True)])
            left = abs(missing - table @ (steps / spans))
            broken = (left > 1) & (abs(missing) <= 1) & (middles is not None)
            if steps.all() and (left < abs(missing))[asked].all() and not broken.any():
                rank = (math.ceil(max(4 * (left[asked].max() - 1.02), 0)), len(names), float(abs(parts).sum()))
                most = max(steps, key=abs)
                digits = 1 + bool(middles)
                shares = {name: float(f"{step / most:.{digits}g}") for name, step in zip(names, steps, strict=True)}
                order = sorted(names, key=lambda name: -abs(shares[name]))
                found.append((rank, {name: float(most) * shares[name] for name in order}))
            more = [n for n in np.flatnonzero(broken) if n not in rows]
            if not more:
                break
            rows += more
    return [steps for _, steps in sorted(found, key=lambda one: one[0])[:TRIED]]


def _told(steps: Mapping[str, float], alone: bool, wish: str, wishes: Sequence[Outcome]) -> str:
    """Return a move as a sentence, its longest step first; what belongs together says how far in proportion."""
    (first, most), *_ = steps.items()
    told = []
    for name, step in steps.items():
        share = abs(step / most)
        far = "" if alone or name == first else "as far " if share == 1 else f"{share:.2g} times as far "
        told.append(f"{name} {far}{WAYS[name[0]][step < 0]}")
    words = f"{', '.join(told[:-1])} and {told[-1]}" if len(told) > 1 else told[0]
    round_by = next((one.name for one in wishes if one.name.endswith(" x") and one.value * one.wanted < 0), "")
    after = f" {round_by[:1].upper()}{round_by[1:]} then runs out to infinity and comes back on the other side."
    after = after if round_by else ""
    return f"{f'For {wish}, move' if wish else 'Move'} {words}{'' if alone else ', together'}.{after}"


def one_way(task: Task, car: Car, folded: bool = True) -> Worked:
    """Return one way to a right choice, as one finds it: a trial, what it gives, and from that the next trial.

    Raises:
        SusgeoError: the trials did not lead to a right choice, which tests exclude for the course's cars.
    """
    measured = figures(car)
    as_it_is = {name: measured[name].value for name in task.move}
    for start in _starts(task, car, as_it_is):
        chosen = {name: float(round(value)) for name, value in start.items()}
        lines = [(_written(as_it_is), f"as it is: {_now(task, car, as_it_is)}")]
        for trial in range(TRIES):
            if trial or start is not as_it_is:
                lines.append((_written(chosen), f"try: {_now(task, car, chosen)}"))
            inside = all(_kept(task, name, value) == value for name, value in chosen.items())
            if inside and all(one.met for one in outcomes(task, car, chosen)):
                title = f"One way to task {task.key}; any choice that meets the target is right"
                return Worked(title, tuple(measured[name] for name in task.move), tuple(lines), None, folded)
            try:
                steps = next_step(task, car, chosen)
                chosen = {name: float(round(_kept(task, name, chosen[name] + step))) for name, step in steps.items()}  # fmt: skip
                outcomes(task, car, chosen)
            except SusgeoError:
                break
    raise SusgeoError(f"No way to task {task.key} was found by trial; any choice that meets the target is right.")


def _starts(task: Task, car: Car, as_it_is: dict[str, float]) -> Iterator[dict[str, float]]:
    """Yield where the trials start: as it is, then the best of choices spread evenly, more or less densely."""
    yield as_it_is
    if task.of:
        return
    targets = [Target(name, want - off, want + off) for name, (want, off) in task.want.items()]
    most = int(MANY ** (1 / len(task.move)))
    for count in (most, most + 1, most - 1):
        spread = {place_of(name): np.linspace(low, high, count).tolist() for name, (_, low, high) in task.move.items()}
        best = best_design(car, spread, targets, rows=1).choice.values()
        yield dict(zip(task.move, map(float, best), strict=True))


def _written(chosen: Mapping[str, float]) -> str:
    return ", ".join(f"{name} = {value:g} mm" for name, value in chosen.items())


def _now(task: Task, car: Car, chosen: Mapping[str, float]) -> str:
    return ", ".join(f"{one}{'' if one.met else f' (wanted {one.wanted:g})'}" for one in outcomes(task, car, chosen))
