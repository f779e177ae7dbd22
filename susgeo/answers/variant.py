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
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from functools import cache, reduce
from itertools import combinations
from typing import Any

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car
from ..car.links import Link, is_symmetric, pair
from ..errors import SusgeoError
from ..files import DATA
from ..geometry.scalars import is_array
from ..geometry.space import Point
from .calculation import SLIPS, Calculation, Task, library
from .choices import outcomes
from .figures import figures
from .paper import in_radians, last_digit, on_paper, written

REACH = {"x": 40, "y": 30, "z": 25}
"""How far a coordinate moves to either side, in mm."""
TRIALS, AT_ONCE = 400, 5
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


def side_by_side(streams: Sequence[Iterator[int]]) -> Iterator[Any]:
    """Yield the draws of many streams as arrays: with these :func:`shaken` makes many cars in one."""
    while True:
        yield np.array([next(stream) for stream in streams], dtype=object)  # 256 bits each


def shaken(car: Car, stream: Iterator[Any]) -> Car:
    """Return the car with its measurements moved by draws from the stream."""
    offsets: dict[tuple[str, str, float], Any] = {}

    def draw(reach: int) -> Any:
        number = next(stream) % (2 * reach + 1) - reach
        return number.astype(float) if is_array(number) else number

    def offset(table: str, axis: str, value: float) -> Any:
        if value == 0:
            return 0.0
        key = (table, axis, abs(value))
        if key not in offsets or (axis == "z" and not table.startswith("front")):
            offsets[key] = draw(min(REACH[axis], int(abs(value) / 4)))
        return math.copysign(1.0, value) * abs(offsets[key]) if axis == "y" else 1.0 * offsets[key]

    def shake(thing: Any, table: str) -> Any:
        if isinstance(thing, Point):
            return Point(*(value + offset(table, axis, value) for axis, value in zip("xyz", thing, strict=False)))
        if isinstance(thing, tuple):
            links = [shake(link, f"{table}{index}") for index, link in enumerate(thing)]
            return pair(links[0]) if len(thing) == 2 and is_symmetric(thing) else tuple(links)
        if is_dataclass(thing):
            # The joints of one part share a table, so that what is level stays level.
            alone = isinstance(thing, Link) or table.count(".") == 1
            tables = {item.name: table if alone else f"{table}.{item.name}" for item in fields(thing)}
            parts = {name: shake(getattr(thing, name), place) for name, place in tables.items()}
            return replace(thing, **parts)  # type: ignore[type-var]
        return thing

    axles: dict[str, Any] = {end: shake(axle, end) for end, axle in car.axles()}
    weight = car.weight
    height = weight.cg_height + 5 * draw(6) if weight is not None else 0
    wheelbase = car.wheelbase + 10 * draw(10)
    if weight is not None:
        mass, axle_mass = weight.mass + 5 * draw(4), weight.rear_unsprung_mass
        axle_mass += draw(min(4, int(axle_mass / 4)))  # where none was weighed, none is
        weight = replace(weight, cg_height=height, mass=mass, rear_unsprung_mass=axle_mass)
    for end, axle in car.axles():
        springs = getattr(car, f"{end}_springs")
        if springs is not None and springs.rate is not None and isinstance(axle, LiveAxle):
            rate = springs.rate + draw(min(3, int(springs.rate / 4)))
            axles[f"{end}_springs"] = replace(springs, rate=rate, spacing=springs.spacing + 10 * draw(3))
    return replace(car, wheelbase=wheelbase, weight=weight, **axles)


def variant(student: str, lesson: str, base: Car, tasks: Sequence[Task]) -> Car:
    """Return a student's own car for a lesson; :func:`variants` says how it is chosen. Blank gives the base car itself."""
    return variants([student], lesson, base, tasks)[0] if student.strip() else base


def variants(students: Sequence[str], lesson: str, base: Car, tasks: Sequence[Task]) -> list[Car]:
    """Return each student's own car for a lesson: plausible, solvable, with every known mistake told apart.

    Args:
        students: names or numbers; capitals and outer spaces do not matter.
        lesson: "00" to "13".
        base: the car that is varied.
        tasks: the questions that it must serve.

    Raises:
        SusgeoError: no suitable car was found, which tests exclude for the bundled cars.
    """
    found: dict[str, Car] = {}
    for first in range(0, TRIALS, AT_ONCE):
        whose = [(one, first + k) for one in dict.fromkeys(students) if one not in found for k in range(AT_ONCE)]
        if not whose:
            break
        cars = shaken(base, side_by_side([draws(student, lesson, trial) for student, trial in whose]))
        apart = [clearly_apart(cars, task, printed().get(lesson, ())) for task in tasks if task.find]
        apart += [is_open(cars, task) for task in tasks if task.want]
        suited = np.logical_and.reduce(np.broadcast_arrays(np.ones(len(whose), bool), *apart))
        for student, trial in (who for who, suits in zip(whose, suited, strict=True) if suits):
            if student not in found and is_located(car := shaken(base, draws(student, lesson, trial))):
                found[student] = car
    missing = [student for student in students if student not in found]
    if missing:
        raise SusgeoError(f"No suitable figures were found for {missing[0]!r} in lesson {lesson}.")
    return [found[student] for student in students]


@np.errstate(all="ignore")
def is_open(cars: Car, task: Task) -> Any:
    """Tell whether a choice is still to be made on a car, or on many in one, and what its question says of them is true."""
    found = outcomes(replace(task, want={**dict.fromkeys(task.start, (0.0, 0.0)), **task.want}), cars, {})
    value = {f"{one.name} [{one.unit}]": one.value for one in found}
    told = [(low <= value[name]) & (value[name] <= high) for name, (low, high) in task.start.items()]
    met = [abs(value[name] - wanted) <= within for name, (wanted, within) in task.want.items()]
    return np.logical_and.reduce(np.broadcast_arrays(~np.logical_and.reduce(np.broadcast_arrays(*met)), *told))


def is_located(car: Car) -> bool:
    """Tell whether each live axle of a car can move as it should, and in no other way."""
    try:
        for _, axle in car.axles():
            if isinstance(axle, LiveAxle):
                axle.require_located()
        return True
    except SusgeoError:
        return False


@cache
def printed() -> dict[str, tuple[float, ...]]:
    """Return the numbers that each lesson prints; a test tells when one printed since then is an answer."""
    text = (DATA / "solutions" / "printed.toml").read_text(encoding="utf-8")
    return {lesson: tuple(map(float, numbers)) for lesson, numbers in tomllib.loads(text).items()}


@np.errstate(all="ignore")
def clearly_apart(cars: Car, task: Task, told: tuple[float, ...] = ()) -> Any:
    """Tell whether the right answer, every known mistake of a task, and what was told differ visibly on a car.

    Args:
        cars: a car, or many in one: its measurements are arrays.
        task: what is asked.
        told: numbers, on paper, that are no answer to it.

    Returns:
        An array, an element for each car.
    """
    calculation: Calculation = library()[0][task.of]
    measured = calculation.known(figures(cars), task.given)
    known = {name: np.atleast_1d(np.asarray(figure.value, float)) for name, figure in measured.items()}
    right = calculation.values(known)
    unit, due = calculation.step(task.find).unit, right[task.find]
    gap = APART * in_radians(task.tolerance, unit)
    apart = (gap < abs(due)) & (abs(due) < LARGEST)
    if task.kind == "formula":
        return apart  # it is compared as such
    for value, off in ((on_paper(due, unit), task.tolerance), (due, in_radians(task.tolerance, unit))):  # or radians
        apart = apart & np.all(abs(value[:, None] - np.array(told)) > NEWS * off, axis=1)
    turns = [calculation.values(known, wrong.put) for wrong in calculation.mistakes]
    if task.kind == "working":
        puts = zip((wrong.put for wrong in calculation.mistakes), turns, strict=True)
        pairs = [(a, b, one.keys() & other.keys()) for (one, a), (other, b) in combinations(puts, 2)]
        told_apart = (_told_apart(a[name], b[name], calculation.step(name).unit) for a, b, names in pairs for name in names)  # fmt: skip
        seen = (_seen(calculation, task, right, found) for found in turns)
        return np.logical_and.reduce(np.broadcast_arrays(apart, *seen, *told_apart))
    named = [np.where(found[task.find] == due, np.nan, found[task.find]) for found in turns]  # nan where it is no slip
    slips = [due * factor for _, factor in SLIPS.get(unit, ())]  # but where a mistake's own name says more
    slips = [reduce(lambda slip, own: np.where((slip == own) | (not own.any() and abs(slip) <= gap), np.nan, slip), named, slip)
             for slip in slips]  # fmt: skip
    for a, b in combinations([due, *named, *slips], 2):
        apart = apart & ~(abs(a - b) <= gap)
    return apart


@np.vectorize
def _told_apart(one: float, other: float, unit: str) -> bool:
    """Tell whether two slips of a line are the same, or each as one writes it is nearer to itself than to the other."""
    a, b = on_paper(one, unit), on_paper(other, unit)
    if math.isclose(a, b):
        return True
    c, d = (float(written(value, unit).split()[0]) if math.isfinite(value) else value for value in (one, other))
    return abs(c - a) < abs(c - b) and abs(d - b) < abs(d - a)


def _seen(calculation: Calculation, task: Task, right: Mapping[str, Any], found: Mapping[str, Any]) -> Any:
    """Tell whether the first line that a slip changes differs by more than the digits with which one writes it."""
    ends = np.broadcast_arrays(right[task.find], found[task.find])
    seen, open_ = np.ones(ends[0].shape, bool), np.isfinite(ends[1]) & (ends[0] != ends[1])
    for step in calculation.lines_to(task.find):
        due, made = (np.broadcast_to(values[step.name], seen.shape) for values in (right, found))
        off = abs(on_paper(made, step.unit) - on_paper(due, step.unit))
        allowed = task.tolerance if step.name == task.find else 0.0
        for one in np.flatnonzero(open_ & (off != 0)):
            digits = [last_digit(written(float(value[one]), step.unit)) if value[one] else 0.0 for value in (due, made)]
            seen[one] = off[one] > allowed + max(2 * digits[0], 0.6 * digits[1])  # 442 mm has fewer of them than 441.8
        open_ = open_ & (off == 0)
    return seen
