"""Choices of pick-up points: what a choice does to the car, which way to go on, and one way to a right one."""

import math
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from ..car.car import Car, as_number
from ..car.pickup import moved
from ..errors import SusgeoError, UndefinedError
from ..results.design import Target, best_design
from ..results.quantities import numbers
from .calculation import Task, library
from .figures import LENGTHS, POINTS, figures
from .paper import on_paper, significant
from .worked import Worked

WAYS = {"x": ("forward", "rearward"), "y": ("outward", "inward"), "z": ("up", "down")}
TRIES, MANY = 8, 20_000


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


def outcomes(task: Task, car: Car, chosen: Mapping[str, float]) -> list[Outcome]:
    """Return what a choice makes of each quantity that is wanted; nan where the car then has none.

    Raises:
        SusgeoError: with this choice the axle does not work.
    """
    changed = moved(car, {place_of(name): value for name, value in chosen.items()})
    found: dict[str, float] = {}
    if task.of:  # a target may also be a line of a calculation
        calculation = library()[0][task.of]
        values = calculation.values({name: f.value for name, f in calculation.known(figures(changed)).items()})
        found = {step.name: on_paper(values[step.name], step.unit) for step in calculation.steps}
    split = {name: (name.rpartition(" [")[0], name.rpartition(" [")[2].removesuffix("]")) for name in task.want}
    for name, number in numbers(changed, [name for name, _ in split.values() if name not in found]).items():
        with suppress(UndefinedError):
            found[name] = as_number(number)
    return [Outcome(*split[key], found.get(split[key][0], math.nan), *want) for key, want in task.want.items()]


def next_step(task: Task, car: Car, chosen: Mapping[str, float]) -> dict[str, float]:
    """Return how far to move each dimension on from a choice, by what one millimeter of each does there.

    Of all moves that would do it if everything went on in proportion (Newton's method) the smallest, each
    counted in parts of what its bracket allows; a dimension at the end of its bracket stays there.
    """
    now = outcomes(task, car, chosen)
    missing = np.array([(one.wanted - one.value) / one.within for one in now])
    rates = {}
    for name, (_, low, high) in task.move.items():
        ends = (outcomes(task, car, {**chosen, name: chosen[name] + side / 2}) for side in (-1, 1))
        rates[name] = [(b.value - a.value) / a.within * (high - low) for a, b in zip(*ends, strict=True)]
    free, steps = list(chosen), dict.fromkeys(chosen, 0.0)
    while free:
        table = np.array([rates[name] for name in free]).T
        if not (np.isfinite(table).all() and np.isfinite(missing).all()):
            return steps
        parts = np.linalg.lstsq(table, missing)[0]
        found = {name: float(part) * (task.move[name][2] - task.move[name][1]) for name, part in zip(free, parts, strict=True)}  # fmt: skip
        beyond = [name for name, step in found.items() if _kept(task, name, chosen[name] + step) == chosen[name] != chosen[name] + step]  # fmt: skip
        if not beyond:
            return steps | found
        free = [name for name in free if name not in beyond]
    return steps


def _kept(task: Task, name: str, value: float) -> float:
    """Return a value as far as its bracket allows."""
    _, low, high = task.move[name]
    return min(max(value, low), high)


def which_way(task: Task, car: Car, chosen: Mapping[str, float]) -> str:
    """Return a sentence that says which way to go on from a choice, or nothing where that does not help."""
    try:
        steps = {name: step for name, step in next_step(task, car, chosen).items() if abs(step) > 0.5}
    except SusgeoError:
        return ""
    moves = [f"{name} {WAYS[name[0]][step < 0]}" for name, step in steps.items()]
    return f"Move {' and '.join(moves)}." if moves else ""


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
