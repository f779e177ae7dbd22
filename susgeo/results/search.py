"""New pick-up points as one system: which places of the brackets meet all that is wanted, and what one wish costs another.

From a spread of places over all that the brackets may do, many cars at once are led downhill by damped least squares (Levenberg
and Marquardt, any textbook of optimization), each under another weighting of the targets, so that what comes out are the
extremes of every wish and the compromises between them. Places are then rounded to what one can mark out, and holes to holes.
"""

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

import numpy as np

from ..car.car import Car
from ..car.pickup import dimension, dimensions, moved
from ..errors import SusgeoError
from ..geometry.measure import MM_PER_INCH, in_units
from ..tables import Table, shown
from ..travel.newton import Array
from .design import Target, unbeaten
from .many import Conditions, Many
from .quantities import plain_name
from .tolerance import LENGTHS

SPREAD, SHARE, ROUNDS = 256, 24, 6
"""Places tried before anything is led downhill; of them kept to start from; and steps downhill."""
AIM, LIMIT, FAR = 0.1, 10.0, 12.0
"""In steps: how far inside a band one aims; how much heavier a limit weighs; from where on a miss counts by its logarithm."""
GRID = 4000
"""With holes alone, all combinations are tried where they are no more than this."""
GRAIN = {"mm": 0.5, "in": MM_PER_INCH / 32}
"""In mm: what one can mark out."""


@dataclass(frozen=True, eq=False)
class Bracket:
    """A pick-up point, or another dimension, and what it may do.

    Args:
        place: such as ``"rear.lower.chassis"``, ``"rear.locator.axle"``, or ``"rear_springs.rate"``. A mirror pair moves as a pair,
            and so does a pair whose sides differ: the range is the left one's, and the right one goes as far. ``"rear.lower.left.axle"``
            moves alone.
        x, y, z: lowest and highest of a coordinate that may change; or of the dimension, as ``value``.
        holes: instead, what may stand there: (x, y, z) for each hole of a row, in order, or numbers.
    """

    place: str
    x: tuple[float, float] | None = None
    y: tuple[float, float] | None = None
    z: tuple[float, float] | None = None
    value: tuple[float, float] | None = None
    holes: Sequence[Any] = ()

    def ranges(self, car: Car, scale: float) -> tuple[list[str], Array, bool]:
        """Return the dimensions that it moves, in mm from low to high, (points, dimensions), and whether these are holes."""
        asked = {letter: getattr(self, letter) for letter in "xyz" if getattr(self, letter) is not None}
        if self.holes:
            table = np.array([np.atleast_1d(hole) for hole in self.holes], dtype=float)
            names = [self.place] if table.shape[1] == 1 else [f"{self.place}.{letter}" for letter in "xyz"]
        else:
            names = [self.place] if self.value is not None else [f"{self.place}.{letter}" for letter in asked]
            table = np.array([self.value] if self.value is not None else list(asked.values()), dtype=float).T
        if not names or not table.size or (not self.holes and not np.all(table[0] < table[1])):
            raise SusgeoError(f"{self.place}: give holes, or for what may change a lowest and a highest value, low below high.")
        for name in names:
            dimension(car, name)
        return names, table * [scale if name.rpartition(".")[2] in LENGTHS else 1.0 for name in names], bool(self.holes)


@dataclass(frozen=True, eq=False)
class Choice:
    """One set of places: the car, where each bracket went, and what each target comes to at its worst, in the search's units.

    ``misses`` are in steps beyond the band, below zero inside it.
    """

    car: Car
    places: Mapping[str, float]
    values: Mapping[str, float]
    misses: Mapping[str, float]

    @property
    def met(self) -> bool:
        """Whether every target is met."""
        return all(miss <= 0 for miss in self.misses.values())


@dataclass(frozen=True, eq=False)
class Search:
    """What a search found.

    Args:
        before: the car as it came. choices: those that no other beats in everything, in order of what varies most among them.
        best: the number in ``choices`` of the one whose worst miss is smallest.
        sentences: what was found, which target prevents which, and what had to be left out because it was not measured.
        tried: worst value of each target, by name, of every choice tried that keeps the limits.
        units: of lengths in all of these.
    """

    before: Choice
    choices: tuple[Choice, ...]
    best: int
    sentences: tuple[str, ...]
    tried: Mapping[str, Array]
    units: Literal["mm", "in"]
    target_units: Mapping[str, str] = field(default_factory=dict)

    def table(self) -> Table:
        """Return the choices in columns beside the car as it came; what is missed has an exclamation mark."""
        columns = [self.before, *self.choices]
        heads = [f"choice {k}" + (", best" if k - 1 == self.best else "") for k in range(1, len(columns))]
        rows = [
            (place, *(f"{each.places[place]:.4g}" if abs(each.places[place]) < 10 else f"{each.places[place]:.1f}" for each in columns))
            for place in self.before.places
        ]
        for name, unit in self.target_units.items():
            cells = (shown(each.values[name], unit) + (" !" if each.misses[name] > 0 else "") for each in columns)
            rows.append((f"{name} [{unit}]", *cells))
        note = f"Lengths in {self.units}; each target at its worst ride height, load or turn; ! is missed.\n"
        return Table(("", "as it is", *heads), tuple(rows), note + "\n".join(self.sentences))

    @cached_property
    def dearest(self) -> tuple[str, str]:
        """The two targets of which more of one costs most of the other, among the choices."""
        names = list(self.target_units)
        found = np.array([[max(each.misses[name], 0.0) for name in names] for each in self.choices])
        if len(names) < 2:
            return names[0], names[0]
        away = found - found.mean(axis=0)
        cost = away.T @ away
        first, second = divmod(int(np.argmin(cost - 1e-9 * np.eye(len(names)) * -1e12)), len(names))
        return names[first], names[second]


class _Problem:
    """Places as numbers from 0 to 1, and what cars built so come to."""

    def __init__(
        self, car: Car, brackets: Sequence[Bracket], targets: Sequence[Target], heights: Array, given: Conditions, units: str
    ) -> None:  # fmt: skip
        self.car, self.targets, self.given, self.units = car, targets, given, units
        scale, self.known = (MM_PER_INCH if units == "in" else 1.0), dimensions(car)
        self.parts = [bracket.ranges(car, scale) for bracket in brackets]
        self.row = np.concatenate([[True] if holes else [False] * len(names) for names, _, holes in self.parts])
        own = [np.asarray(t.heights if t.heights is not None else heights, dtype=float) * (scale if t.heights else 1) for t in targets]
        self.heights = np.unique(np.concatenate([heights, *own]))
        self.columns = [np.searchsorted(self.heights, each) for each in own]

    def places(self, u: Array, legal: bool = True) -> dict[str, Array]:
        """Return each moved dimension in mm as a column, from numbers between 0 and 1."""
        found: dict[str, Array] = {}
        at, grain = 0, GRAIN[self.units]
        for names, table, holes in self.parts:
            if holes:
                t = u[:, at] * (len(table) - 1)
                t = np.round(t) if legal else t
                values = [np.interp(t, np.arange(len(table)), column) for column in table.T]
                at += 1
            else:
                values = list((table[0] + u[:, at : at + len(names)] * (table[1] - table[0])).T)
                at += len(names)
                if legal:
                    sizes = [grain if n.rpartition(".")[2] in LENGTHS else (b - a) / 100 for n, a, b in zip(names, *table, strict=True)]
                    values = [np.clip(np.round(v / s) * s, *ends) for v, s, ends in zip(values, sizes, table.T, strict=True)]
            found |= dict(zip(names, values, strict=True))
        return found

    def built(self, places: Mapping[str, Any]) -> Car:
        """Return the car, or cars, with these places; a pair whose sides differ moves by the same on both."""
        changes: dict[str, Any] = {}
        for place, value in places.items():
            steps = place.split(".")
            left, right = (".".join([*steps[:2], side, *steps[2:]]) for side in ("left", "right"))
            if place not in self.known and left in self.known and right in self.known:
                by = value - self.known[left]
                changes |= {left: value, right: self.known[right] + (-by if steps[-1] == "y" else by)}
            else:
                changes[place] = value
        return moved(self.car, changes)

    def values(self, u: Array, which: Sequence[int], legal: bool = True) -> list[Array]:
        """Return what each target asks, (cars, columns); nan where a car cannot give it."""
        return self.of(lambda: self.built({name: value[:, None] for name, value in self.places(u, legal).items()}), u, which, legal)

    def of(self, build: Callable[[], Car], u: Array, which: Sequence[int], legal: bool) -> list[Array]:
        try:
            many, found = Many(build(), self.heights, self.given), []
            with np.errstate(all="ignore"):
                for number in which:
                    value = np.asarray(many.value(self.targets[number].quantity), dtype=float)
                    high = value.ndim and value.shape[-1] == len(self.heights) and not _turns(self.targets[number].quantity)
                    value = value[..., self.columns[number]] if high else value
                    found.append(np.broadcast_to(value, (len(u), value.shape[-1] if value.ndim else 1)))
            return found
        except SusgeoError:  # one of them cannot stand: all others can be told
            if len(u) == 1:
                return [np.full((1, 1), np.nan)] * len(which)
            halves = [self.values(half, which, legal) for half in np.array_split(u, 2)]
            widest = [max(a.shape[1], b.shape[1]) for a, b in zip(*halves, strict=True)]
            wide = [[np.broadcast_to(v, (len(v), w)) for v, w in zip(half, widest, strict=True)] for half in halves]
            return [np.concatenate(both) for both in zip(*wide, strict=True)]

    def residual(self, u: Array, weights: Array) -> Array:
        """Return how far each target is missed in each column, weighted, for places that need not be holes."""
        which = [number for number in range(len(self.targets)) if np.any(weights[:, number])]
        rows = []
        for number, value in zip(which, self.values(u, which, False), strict=True):
            over = np.nan_to_num(self.targets[number].miss(value) + AIM, nan=1e6, posinf=1e6, neginf=0.0)
            over = np.where(over > FAR, FAR + np.log(np.maximum(over, FAR) / FAR), np.maximum(over, 0.0))
            rows.append(over * weights[:, number : number + 1])
        return np.concatenate(rows, axis=1)

    def refine(self, u: Array, weights: Array, rounds: int = ROUNDS, free: Array | None = None) -> Array:
        """Lead every row of places downhill under its own weights; return where they came to."""
        columns = np.flatnonzero(np.ones(u.shape[1], dtype=bool) if free is None else free)
        if not len(columns):
            return u
        u, damping = u.copy(), np.full(len(u), 1e-2)
        here = self.residual(u, weights)
        for _ in range(rounds):
            step = np.where(u[:, columns] < 0.5, 1e-3, -1e-3)
            probes = np.repeat(u[:, None], len(columns), axis=1)
            probes[:, np.arange(len(columns)), columns] += step
            many = np.repeat(weights, len(columns), axis=0)
            there = self.residual(probes.reshape(-1, u.shape[1]), many).reshape(len(u), len(columns), -1)
            slopes = (there - here[:, None]) / step[..., None]
            down = np.einsum("sfr,sr->sf", slopes, here)
            at = u[:, columns]
            slopes[((at <= 0) & (down > 0)) | ((at >= 1) & (down < 0))] = 0.0
            down = np.einsum("sfr,sr->sf", slopes, here)
            square = np.einsum("sfr,sgr->sfg", slopes, slopes)
            size = np.trace(square, axis1=1, axis2=2)[:, None, None] + 1e-12
            tries = damping[:, None] * np.array([0.03, 1.0, 30.0])
            damped = square[:, None] + tries[..., None, None] * size[:, None] * np.eye(len(columns))
            by = np.linalg.solve(damped, down[:, None, :, None])[..., 0]
            trial = np.repeat(u[:, None], tries.shape[1], axis=1)
            trial[..., columns] = np.clip(trial[..., columns] - by, 0.0, 1.0)
            many = np.repeat(weights, tries.shape[1], axis=0)
            got = self.residual(trial.reshape(-1, u.shape[1]), many).reshape(*tries.shape, -1)
            cost = np.sum(got**2, axis=2)
            pick = np.argmin(cost, axis=1)
            each = np.arange(len(u))
            better = cost[each, pick] < np.sum(here**2, axis=1)
            u = np.where(better[:, None], trial[each, pick], u)
            here = np.where(better[:, None], got[each, pick], here)
            damping = np.clip(np.where(better, tries[each, pick], 30 * damping), 1e-8, 1e4)
            if not np.any(here):
                break
        return u


def _turns(name: str) -> bool:
    return "corner" in name


def search(
    car: Car,
    brackets: Sequence[Bracket],
    targets: Sequence[Target],
    heights: Sequence[float] = (0.0,),
    given: Conditions | None = None,
    units: Literal["mm", "in"] | None = None,
    most: int = 8,
) -> Search:
    """Look for the places of brackets that meet all targets, and for those that no other place beats in everything.

    Args:
        car: to start from.
        brackets: what may move, and how far.
        targets: what is wanted: on any number of the summary, or of :data:`susgeo.results.many`; a limit is kept by every choice
            that is shown, if any keeps it.
        heights: ride heights, as the axles' rise against the body, at which each target is kept unless it has its own.
        given: loads, corner and obstacles.
        units: of lengths in the brackets, targets, heights and the result; None takes the car file's.
        most: choices shown.

    Raises:
        SusgeoError: nothing that is wanted can be told of this car.

    >>> from susgeo import load_car
    >>> found = search(
    ...     load_car("data/three_link.toml"),
    ...     [Bracket("rear.lower.chassis", z=(240, 300)), Bracket("rear.locator.chassis", holes=[(-120, -470, z) for z in range(280, 330, 10)])],
    ...     [Target("rear roll steer", -0.02, 0.05), Target("rear roll center height", 290, 310)],
    ...     heights=(-20, 0, 20),
    ... )
    >>> found.choices[found.best].met
    True
    """
    unit_of: Literal["mm", "in"] = car.units if units is None else units
    scale, given = (MM_PER_INCH if unit_of == "in" else 1.0), given or Conditions()
    base, kept, refused = Many(car, np.zeros(1), given), [], []
    for target in targets:
        try:
            base.value(target.quantity)
            kept.append(_in_mm(target, base.unit(target.quantity), unit_of))
        except SusgeoError as problem:
            if "no quantity called" in str(problem):
                raise
            refused.append(f"Left out: {plain_name(target.quantity)}. {problem}")
    if not kept or not brackets:
        raise SusgeoError(" ".join(refused) or "A search needs a bracket that may move, and a target.")
    problem = _Problem(car, brackets, kept, np.asarray(heights, dtype=float) * scale, given, unit_of)
    limits, everything = np.array([target.limit for target in kept]), range(len(kept))
    weigh = np.array([LIMIT if target.limit else target.weight for target in kept])
    count = len(problem.row)
    tried_u: list[Array] = []
    tried_v: list[list[Array]] = []

    def try_(u: Array) -> Array:
        """Build these places, remember what they come to, and return each target's worst miss."""
        values = problem.values(u, everything)
        misses = [target.miss(value) for target, value in zip(kept, values, strict=True)]
        worst = [np.argmax(np.nan_to_num(miss, nan=np.inf), axis=1)[:, None] for miss in misses]
        tried_u.append(u)
        tried_v.append([np.stack([np.take_along_axis(v, w, 1)[:, 0] for v, w in zip(side, worst, strict=True)], axis=1) for side in (values, misses)])  # fmt: skip
        return tried_v[-1][1]

    sizes = [len(table) for _, table, holes in problem.parts if holes]
    all_holes = bool(np.all(problem.row)) and math.prod(sizes) <= GRID
    if all_holes:
        grids = np.meshgrid(*(np.linspace(0, 1, size) for size in sizes), indexing="ij")
        try_(np.stack([grid.reshape(-1) for grid in grids], axis=1))
    else:
        _look(problem, try_, weigh, count)
    u, (values, misses) = np.concatenate(tried_u), (np.concatenate(part) for part in zip(*tried_v, strict=True))
    numbers_, sentences = _picked(misses, limits, weigh, most)
    names = [plain_name(target.quantity) for target in kept]
    factors = [in_units(1.0, base.unit(name), unit_of) for name in names]

    def choice(number: int) -> Choice:
        places = {name: float(column[0]) for name, column in problem.places(u[number : number + 1]).items()}
        return made(problem.built(places), places, values[number], misses[number])

    def made(with_it: Car, places: Mapping[str, float], value: Array, miss: Array) -> Choice:
        own = {place: mm / (scale if place.rpartition(".")[2] in LENGTHS else 1.0) for place, mm in places.items()}
        in_own = {name: float(v) * f for name, v, (f, _) in zip(names, value, factors, strict=True)}
        return Choice(with_it, own, in_own, dict(zip(names, map(float, miss), strict=True)))

    chosen = [choice(number) for number in numbers_]
    best = int(np.argmin([max(np.maximum(list(each.misses.values()), -1e-3) * weigh) for each in chosen]))
    as_it_is = {name: _start(problem, name) for name in chosen[0].places}
    first = [v[0] for v in problem.of(lambda: car, np.zeros((1, count)), everything, True)]
    worst = [int(np.argmax(np.nan_to_num(t.miss(v), nan=np.inf))) for t, v in zip(kept, first, strict=True)]
    came = np.array([v[w] for v, w in zip(first, worst, strict=True)])
    missed = np.array([float(t.miss(v)) for t, v in zip(kept, came, strict=True)])
    if not chosen[best].met:
        start = u[[numbers_[best]]]
        sentences += _prevented(problem, start, names, chosen[best], limits, factors)
    allowed = np.all(misses[:, limits] <= 1e-9, axis=1)
    tried = {name: values[allowed, k] * factors[k][0] for k, name in enumerate(names)}
    return Search(
        made(car, as_it_is, came, missed), tuple(chosen), best, (*sentences, *refused), tried, unit_of,
        {name: unit for name, (_, unit) in zip(names, factors, strict=True)},
    )  # fmt: skip


def _in_mm(target: Target, unit: str, units: str) -> Target:
    by = in_units(1.0, unit, units)[0]
    return Target(
        target.quantity, target.low / by, target.high / by, target.size / by, target.weight, target.limit, target.heights
    )


def _start(problem: _Problem, place: str) -> float:
    steps = place.split(".")
    left = ".".join([*steps[:2], "left", *steps[2:]])
    return float(dimension(problem.car, left if place not in problem.known and left in problem.known else place))


def _look(problem: _Problem, try_: Callable[[Array], Array], weigh: Array, count: int) -> None:
    """Try a spread of places, lead the best downhill under many weightings, and try what lies between."""
    roots = np.sqrt(np.array([2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83, 89]))
    steps = np.resize(roots, count) * np.repeat(np.arange(1, 1 + -(-count // 24)), 24)[:count]
    spread = np.outer(np.arange(1, SPREAD + 1), steps) % 1.0  # evenly, without chance (Weyl's sequence)
    misses = np.clip(np.nan_to_num(try_(spread), nan=FAR, posinf=FAR, neginf=0.0), 0.0, FAR)
    weights = np.concatenate([weigh[None], weigh * (1 + 9 * np.eye(len(weigh))), weigh * (1 - 0.9 * np.eye(len(weigh)))])[:SHARE]
    starts = spread[[int(np.argmin(((misses * w) ** 2).sum(axis=1))) for w in weights]]
    found = problem.refine(starts, weights)
    if np.any(problem.row):
        found = _snapped(problem, found, weights)
        found = problem.refine(found, weights, 3, ~problem.row)
    try_(found)
    middle = found[:1]
    try_(np.concatenate([middle + share * (found[1:] - middle) for share in (0.25, 0.5, 0.75)]))


def _snapped(problem: _Problem, u: Array, weights: Array) -> Array:
    """Return places with every hole a hole: of the holes around, the best together."""
    rows = np.flatnonzero(problem.row)
    sizes = np.array([len(table) - 1 for _, table, holes in problem.parts if holes])
    corners = np.array(list(itertools.islice(itertools.product((0, 1), repeat=len(rows)), 64)))
    trial = np.repeat(u[:, None], len(corners), axis=1)
    low = np.floor(np.minimum(trial[..., rows] * sizes, sizes - 1e-9))
    trial[..., rows] = np.clip((low + corners) / np.maximum(sizes, 1), 0, 1)
    cost = (problem.residual(trial.reshape(-1, u.shape[1]), np.repeat(weights, len(corners), axis=0)) ** 2).sum(axis=1)
    return trial[np.arange(len(u)), np.argmin(cost.reshape(len(u), -1), axis=1)]


def _picked(misses: Array, limits: Array, weigh: Array, most: int) -> tuple[list[int], list[str]]:
    """Return the numbers of the choices to show, and what is to be said of how many there are."""
    bad = np.where(np.isnan(misses), np.inf, misses)
    lawful = np.flatnonzero(np.all(bad[:, limits] <= 1e-9, axis=1))
    sentences = [] if len(lawful) else ["No choice keeps every limit; those that come nearest are shown."]
    if not len(lawful):
        over = np.maximum(bad[:, limits], 0).max(axis=1)
        lawful = np.flatnonzero(over <= over.min() + 0.5)
    own = bad[lawful] * weigh
    clipped = np.round(np.maximum(own, 0.0), 2)
    met = np.flatnonzero(~clipped.any(axis=1))
    front = met[unbeaten(own[met])] if len(met) else np.array(unbeaten(clipped))
    _, first = np.unique(clipped[front] if not len(met) else np.round(own[front], 1), axis=0, return_index=True)
    front = front[np.sort(first)]
    score = np.maximum(own[front], 0 if not len(met) else -np.inf)
    order = np.lexsort((score.sum(axis=1), score.max(axis=1)))
    picked, size = [int(order[0])], np.clip(score, -3, 10)
    while len(picked) < min(most, len(front)):  # the one farthest from all that are shown already
        away = np.min([np.abs(size - size[k]).max(axis=1) for k in picked], axis=0)
        if away.max() <= 0.05:
            break
        picked.append(int(np.argmax(away)))
    widest = int(np.argmax(np.ptp(size[picked], axis=0)))
    picked.sort(key=lambda k: (size[k, widest], size[k].sum()))
    count = f"{len(met):,}" if len(met) else "None"
    sentences.append(f"{count} of {len(misses):,} choices tried meet every target; {len(front):,} are beaten by no other.")
    return [int(lawful[front[k]]) for k in picked], sentences


def _prevented(
    problem: _Problem, start: Array, names: list[str], best: Choice, limits: Array, factors: list[tuple[float, str]]
) -> list[str]:
    """Say of each target that the best choice misses what prevents it."""
    said, rng = [], np.random.default_rng(4)
    for missed in [k for k, name in enumerate(names) if best.misses[name] > 0][:4]:
        others = [k for k in range(len(names)) if k != missed]
        weights = np.zeros((2 * len(others) + 2, len(names)))
        weights[:, missed] = 1.0
        for row, other in enumerate(others):
            weights[2 * row : 2 * row + 2, other] = LIMIT
        starts = np.clip(start + rng.uniform(-0.25, 0.25, (len(weights), start.shape[1])), 0, 1)
        starts[::2] = start
        nearest: list[tuple[float, float]] = []
        for rows in np.split(np.arange(len(weights)), len(others) + 1):
            found = problem.refine(starts[rows], weights[rows], 2 * ROUNDS)
            value = problem.values(found, [missed], False)[0]
            miss = problem.targets[missed].miss(value)
            pick = int(np.argmin(miss.max(axis=1)))
            nearest.append((float(miss[pick].max()), float(value[pick, int(np.argmax(miss[pick]))])))
        name, (by, unit) = names[missed], factors[missed]
        if nearest[-1][0] > 0.02:
            said.append(f"{name}: these brackets cannot give it, whatever else is given up; the nearest is {shown(nearest[-1][1] * by, unit)} {unit}.")  # fmt: skip
            continue
        guilty = [(gap, value, names[other]) for (gap, value), other in zip(nearest, others, strict=False) if gap > 0.02]
        for _, value, other in sorted(guilty, reverse=True)[:3]:
            said.append(f"{other} prevents {name}: where it is kept, that comes no nearer than {shown(value * by, unit)} {unit}.")
        if not guilty:
            said.append(f"{name}: no other target alone prevents it; all of them together do.")
    return said
