"""Figures of one's own: a car for each student and lesson, the same on every machine for ever.

The algorithm is written out here and uses no library's random stream, which a release might change:
the n-th draw for a student, a lesson and a trial is the SHA-256 digest (FIPS 180-4) of the text
``student|lesson|trial|n`` as a whole number, modulo the number of choices. Measurements move by whole
millimeters; masses and spring rates by whole kg and N/mm. Joints of one part that are equally far ahead or to the side stay so, and at the front also those
equally high, since the sums on paper rest on it. Left and right stay mirror images.
"""

import hashlib
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache
from itertools import combinations
from typing import Any

from ..car.axle import LiveAxle
from ..car.car import Car
from ..car.links import Link, is_symmetric, pair
from ..errors import SusgeoError
from ..files import DATA
from ..geometry.space import Point
from .calculation import Calculation, Task, library
from .figures import figures
from .paper import last_digit, on_paper, written

REACH = {"x": 40, "y": 30, "z": 25}
"""How far a coordinate moves to either side, in mm."""
TRIALS = 400
LARGEST = 20_000
"""An answer beyond this, in its unit, is nearly at infinity and no fair question."""
APART = 2.2
"""Two mistakes, or a mistake and the right answer, differ by at least this many tolerances."""

NEWS = 1.01
"""An answer differs from every number that the lesson prints by more than this many tolerances."""


def draws(student: str, lesson: str, trial: int) -> Iterator[int]:
    """Yield the whole numbers of one trial, without end.

    >>> next(draws("kim", "02", 0)) % 1000
    61
    """
    number = 0
    while True:
        text = f"{student.strip().casefold()}|{lesson}|{trial}|{number}"
        yield int.from_bytes(hashlib.sha256(text.encode()).digest(), "big")
        number += 1


def shaken(car: Car, stream: Iterator[int]) -> Car:
    """Return the car with its measurements moved by draws from the stream."""
    offsets: dict[tuple[str, str, float], int] = {}

    def offset(table: str, axis: str, value: float) -> float:
        if value == 0:
            return 0.0
        key = (table, axis, abs(value))
        if key not in offsets or (axis == "z" and not table.startswith("front")):
            reach = min(REACH[axis], int(abs(value) / 4))
            offsets[key] = next(stream) % (2 * reach + 1) - reach
        return math.copysign(offsets[key], value) if axis == "y" else float(offsets[key])

    def shake(thing: Any, table: str) -> Any:
        if isinstance(thing, Point):
            return Point(*(value + offset(table, axis, value) for axis, value in zip("xyz", thing, strict=False)))
        if isinstance(thing, tuple):
            links = [shake(link, f"{table}{index}") for index, link in enumerate(thing)]
            return pair(links[0]) if len(thing) == 2 and is_symmetric(thing) else tuple(links)
        if isinstance(thing, Link) or is_dataclass(thing):
            # The joints of one part share a table, so that what is level stays level.
            alone = isinstance(thing, Link) or table.count(".") == 1
            tables = {item.name: table if alone else f"{table}.{item.name}" for item in fields(thing)}
            parts = {name: shake(getattr(thing, name), place) for name, place in tables.items()}
            return replace(thing, **parts)  # type: ignore[type-var]
        return thing

    axles: dict[str, Any] = {}
    for end, axle in car.axles():
        parts = {
            item.name: shake(getattr(axle, item.name), f"{end}.{item.name}")
            for item in fields(axle)
            if isinstance(getattr(axle, item.name), tuple) or is_dataclass(getattr(axle, item.name))
        }
        axles[end] = replace(axle, **parts)
    weight = car.weight
    if weight is not None:
        weight = replace(weight, cg_height=weight.cg_height + 5 * (next(stream) % 13 - 6))
    wheelbase = car.wheelbase + 10 * (next(stream) % 21 - 10)
    if weight is not None:
        mass, axle_mass = weight.mass + 5 * (next(stream) % 9 - 4), weight.rear_unsprung_mass
        reach = min(4, int(axle_mass / 4))  # where none was weighed, none is
        axle_mass += next(stream) % (2 * reach + 1) - reach
        weight = replace(weight, mass=mass, rear_unsprung_mass=axle_mass)
    for end, axle in car.axles():
        springs = getattr(car, f"{end}_springs")
        if springs is not None and springs.rate is not None and isinstance(axle, LiveAxle):
            reach = min(3, int(springs.rate / 4))
            rate = springs.rate + next(stream) % (2 * reach + 1) - reach
            spacing = springs.spacing + 10 * (next(stream) % 7 - 3)
            axles[f"{end}_springs"] = replace(springs, rate=rate, spacing=spacing)
    return replace(car, wheelbase=wheelbase, weight=weight, **axles)


def variant(student: str, lesson: str, base: Car, tasks: tuple[Task, ...] | None = None) -> Car:
    """Return a student's own car for a lesson: plausible, solvable, with every known mistake told apart.

    Args:
        student: a name or number; capitals and outer spaces do not matter. Blank gives the base car itself.
        lesson: "00" to "13".
        base: the car that is varied.
        tasks: the questions that it must serve; all of the lesson's on this base car when left out.

    Raises:
        SusgeoError: no suitable car was found, which tests exclude for the bundled cars.
    """
    if not student.strip():
        return base
    if tasks is None:
        tasks = tuple(task for task in library()[1].values() if task.key.split(".")[0] == lesson)
    told = printed().get(lesson, ())
    for trial in range(TRIALS):
        car = shaken(base, draws(student, lesson, trial))
        if suits(car, tasks, told):
            return car
    raise SusgeoError(f"No suitable figures were found for {student!r} in lesson {lesson}.")


@cache
def printed() -> dict[str, tuple[float, ...]]:
    """Return the numbers that each lesson prints; a test tells when one printed since then is an answer."""
    text = (DATA / "solutions" / "printed.toml").read_text(encoding="utf-8")
    return {lesson: tuple(map(float, numbers)) for lesson, numbers in tomllib.loads(text).items()}


def suits(car: Car, tasks: tuple[Task, ...], told: tuple[float, ...] = ()) -> bool:
    """Tell whether the axle is located and, in each task, no two answers that people give come near each other.

    Args:
        car: the car.
        tasks: what is asked on it.
        told: numbers, on paper, that are no answer to any task.
    """
    try:
        if not all(clearly_apart(car, task, told) for task in tasks if task.find):
            return False
        for _, axle in car.axles():
            if isinstance(axle, LiveAxle):
                axle.require_located()
        return True
    except SusgeoError:
        return False


def clearly_apart(car: Car, task: Task, told: tuple[float, ...] = ()) -> bool:
    """Tell whether the right answer, every known mistake of a task, and what was told differ visibly on a car."""
    calculation: Calculation = library()[0][task.of]
    known = {name: figure.value for name, figure in calculation.known(figures(car), task.given).items()}
    right = calculation.values(known)
    unit, due = calculation.step(task.find).unit, right[task.find]
    gap = APART * in_radians(task.tolerance, unit)
    if not gap < abs(due) < LARGEST:
        return False
    if task.kind == "formula":
        return True  # it is compared as such
    meant = [(on_paper(due, unit), task.tolerance), (due, in_radians(task.tolerance, unit))]  # degrees, or radians
    if any(abs(value - number) <= NEWS * off for value, off in meant for number in told):
        return False
    turns = calculation.wrong_turns(known, task.find)
    if task.kind == "working":
        return all(_seen(calculation, task, right, found) for wrong, found in turns if wrong.put)
    return all(abs(a - b) > gap for a, b in combinations([due, *(found[task.find] for _, found in turns)], 2))


def _seen(calculation: Calculation, task: Task, right: Mapping[str, float], found: Mapping[str, float]) -> bool:
    """Tell whether the first line that a slip changes differs by more than the digits with which one writes it."""
    for step in calculation.lines_to(task.find):
        off = abs(on_paper(found[step.name], step.unit) - on_paper(right[step.name], step.unit))
        if off:
            allowed = task.tolerance if step.name == task.find else 0.0
            return off > allowed + 2 * last_digit(written(right[step.name], step.unit))
    return True


def in_radians(value: float, unit: str) -> float:
    """Turn degrees on paper into radians inside; other units stay."""
    return math.radians(value) if unit.startswith("deg") else value
