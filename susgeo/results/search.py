"""New pick-up points as one system: which places of the brackets meet all that is wanted, and what one wish costs another.

From a spread of places over all that the brackets may do, many cars at once are led downhill (:mod:`susgeo.results.places`), each
under another weighting of the targets, so that what comes out are the extremes of every wish and the compromises between them.
Places are then rounded to what one can mark out, and holes to holes.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from numbers import Integral
from typing import Literal

import numpy as np

from ..car.car import Car, whole
from ..car.pickup import dimension, in_numbers
from ..errors import SusgeoError, expect, several
from ..geometry.measure import in_units, mm_per
from ..geometry.scalars import row
from ..tables import Table, shown
from ..travel.newton import Array
from .design import Target, unbeaten
from .many import Conditions, Many
from .places import FAR, Bracket, Problem, dimension_name, snapped
from .quantities import plain_name
from .tolerance import LENGTHS

SPREAD, SHARE, EVOLVED = 256, 16, 20
"""Places tried before anything is led downhill; of them kept to start from; generations afterwards."""
LIMIT = 10.0
"""How much heavier a limit weighs than a wish, downhill."""
GRID = 4000
"""With holes alone, all combinations are tried where they are no more than this."""


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
        units: of lengths in all of these. target_units, bands: of each target.
    """

    before: Choice
    choices: tuple[Choice, ...]
    best: int
    sentences: tuple[str, ...]
    tried: Mapping[str, Array]
    units: Literal["mm", "in"]
    target_units: Mapping[str, str]
    bands: Mapping[str, tuple[float, float]]

    def table(self) -> Table:
        """Return the choices in columns beside the car as it came; what is missed has an exclamation mark."""
        columns = [self.before, *self.choices]
        heads = [f"choice {k}" + (", best" if k - 1 == self.best else "") for k in range(1, len(columns))]
        rows = []
        for place in self.before.places:
            places = (each.places[place] for each in columns)
            cells = (f"{at:.4g}" if abs(at) < 10 else f"{at:.1f}" for at in places)
            rows.append((dimension_name(self.before.car, place), *cells))
        for name, unit in self.target_units.items():
            cells = (("! " if each.misses[name] > 0 else "") + shown(each.values[name], unit) for each in columns)
            rows.append((f"{name} [{unit}]", *cells))
        note = f"Lengths in {self.units}; each target at its worst ride height, load or turn; ! is missed.\n"
        return Table(("", "as it is", *heads), tuple(rows), note + "\n".join(self.sentences))

    @cached_property
    def dearest(self) -> tuple[str, str]:
        """The two targets of which more of one costs most of the other, among the choices."""
        names = list(self.target_units)
        found = np.array([[np.clip(each.misses[name], -3.0, 10.0) for name in names] for each in self.choices])
        against = np.atleast_2d(np.cov(found, rowvar=False, bias=True))
        np.fill_diagonal(against, 0.0)
        first, second = divmod(int(np.argmin(against)), len(names))
        return names[first], names[second if second != first else (first + 1) % len(names)]


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
    ...     [Target("rear roll steer", -0.05, 0.05), Target("rear roll center height", 280, 320)],
    ...     heights=(-20, 0, 20),
    ... )
    >>> found.choices[found.best].met
    True
    """
    car, brackets = in_numbers(whole(car)), several(Bracket, brackets=brackets)
    targets = several(Target, targets=targets)
    unit_of: Literal["mm", "in"] = car.units if units is None else units
    scale, given = mm_per(unit_of), given or Conditions()
    expect(Conditions, given=given)
    base = Many(car, np.zeros(1), given)
    expect(Integral, most=most)
    if most < 1:
        raise SusgeoError(f"most is {most}; expected 1 or more: the choices to be shown.")
    rises = row(heights, "heights")
    kept, refused = _that_can_be_told(base, targets, unit_of)
    if not brackets or not (kept or refused) or not len(rises):
        raise SusgeoError("A search needs a bracket that may move, a target, and a ride height.")
    if not kept:
        raise SusgeoError(" ".join(refused))
    problem = Problem(car, brackets, kept, rises * scale, given, unit_of)
    limits = np.array([target.limit for target in kept])
    weigh = np.array([LIMIT if target.limit else target.weight for target in kept])
    tried: list[tuple[Array, Array, Array]] = []

    def add(u: Array) -> Array:
        """Build these places, keep what they come to, and return each target's worst miss."""
        tried.append((u, *_worst(kept, problem.values(u, range(len(kept))))))
        return tried[-1][2]

    sizes = [len(table) for _, table, holes in problem.parts if holes]
    if np.all(problem.row) and math.prod(sizes) <= GRID:
        grids = np.meshgrid(*(np.linspace(0, 1, size) for size in sizes), indexing="ij")
        add(np.stack([grid.reshape(-1) for grid in grids], axis=1))
    else:
        _look(problem, add, weigh)
    u, values, misses = map(np.concatenate, zip(*tried, strict=True))
    picked, sentences = _picked(misses, limits, weigh, most)
    names = [plain_name(target.quantity) for target in kept]
    factors = [in_units(1.0, base.unit(name), unit_of) for name in names]

    def made(with_it: Car, places: Mapping[str, float], value: Array, miss: Array) -> Choice:
        own = {place: mm / (scale if place.rpartition(".")[2] in LENGTHS else 1.0) for place, mm in places.items()}
        in_own = {name: float(v) * f for name, v, (f, _) in zip(names, value, factors, strict=True)}
        return Choice(with_it, own, in_own, dict(zip(names, map(float, miss), strict=True)))

    def choice(number: int) -> Choice:
        places = {name: float(column[0]) for name, column in problem.places(u[[number]]).items()}
        return made(problem.built(places), places, values[number], misses[number])

    chosen = [choice(number) for number in picked]
    best = int(np.argmin([max(np.maximum(list(each.misses.values()), -1e-3) * weigh) for each in chosen]))
    if not chosen[best].met:
        sentences += _prevented(problem, u, misses, names, chosen[best], factors)
    came, missed = _worst(kept, problem.values(u[:1], range(len(kept)), car=car))
    start = {name: float(dimension(car, problem.sides(name)[0])) for name in chosen[0].places}
    before = made(car, start, came[0], missed[0])
    allowed = np.all(misses[:, limits] <= 1e-9, axis=1)
    return Search(
        before, tuple(chosen), best, (*sentences, *refused),
        {name: values[allowed, k] * factors[k][0] for k, name in enumerate(names)}, unit_of,
        {name: unit for name, (_, unit) in zip(names, factors, strict=True)},
        {name: (target.low * by, target.high * by) for name, target, (by, _) in zip(names, kept, factors, strict=True)},
    )  # fmt: skip


def _that_can_be_told(
    base: Many, targets: Sequence[Target], units: Literal["mm", "in"]
) -> tuple[list[Target], list[str]]:
    """Return the targets whose quantity this car has, in mm, and why each of the others is left out."""
    kept, refused = [], []
    for target in targets:
        _ = target.size  # one without a step is to be mended, not left out
        try:
            base.value(target.quantity)
            by = in_units(1.0, base.unit(target.quantity), units)[0]
            kept.append(replace(target, low=target.low / by, high=target.high / by, step=target.size / by))
        except SusgeoError as lack:
            if "no quantity called" in str(lack):
                raise
            refused.append(f"Left out: {plain_name(target.quantity)}. {lack}")
    return kept, refused


def _worst(targets: Sequence[Target], values: Sequence[Array]) -> tuple[Array, Array]:
    """Return each target's value where it misses most, and by how much, both (places, targets), of (places, heights) each."""
    pairs = []
    for target, value in zip(targets, values, strict=True):
        miss = target.miss(value)
        at = np.argmax(np.nan_to_num(miss, nan=np.inf), axis=1)[:, None]
        pairs.append([np.take_along_axis(side, at, 1)[:, 0] for side in (value, miss)])
    return np.stack([value for value, _ in pairs], axis=1), np.stack([miss for _, miss in pairs], axis=1)


def _weightings(weigh: Array) -> Array:
    """Return weights of the targets: as given, each one heavier in turn, each one lighter in turn."""
    one = np.eye(len(weigh))
    return np.concatenate([weigh[None], weigh * (1 + 9 * one), weigh * (1 - 0.9 * one)])[:SHARE]


def _look(problem: Problem, try_: Callable[[Array], Array], weigh: Array) -> None:
    """Try a spread of places, lead the best downhill under many weightings, and try what lies between."""
    roots, count = np.sqrt([n for n in range(2, 400) if all(n % k for k in range(2, n))]), len(problem.row)
    spread = np.outer(np.arange(1, SPREAD + 1), np.resize(roots, count)) % 1.0  # evenly, by Weyl's sequence
    misses = np.clip(np.nan_to_num(try_(spread), nan=FAR, posinf=FAR, neginf=0.0), 0.0, FAR)
    weights = _weightings(weigh)
    found = problem.refine(spread[[int(np.argmin(((misses * w) ** 2).sum(axis=1))) for w in weights]], weights)
    if np.any(problem.row):
        found = problem.refine(snapped(problem, found, weights), weights, 3, ~problem.row)

    def costs(u: Array) -> Array:
        over = np.maximum(np.nan_to_num(try_(u), nan=FAR, posinf=FAR, neginf=0.0), 0.0) * weigh
        return over.max(axis=1) + 1e-3 * over.sum(axis=1)

    random = np.random.default_rng(2)  # from the least sum of squares to the least worst miss: differential evolution,
    pool, cost = found, costs(found)  # R. Storn and K. Price, 1997 (from memory), which needs no slopes
    for _ in range(EVOLVED):
        first, second = (pool[random.integers(0, len(pool), len(pool))] for _ in range(2))
        by = random.uniform(0.3, 0.9, (len(pool), 1)) * (first - second)
        trial = np.clip(np.where(random.random(pool.shape) < 0.8, pool[[int(np.argmin(cost))]] + by, pool), 0.0, 1.0)
        now = costs(trial)
        pool, cost = np.where((now < cost)[:, None], trial, pool), np.minimum(now, cost)
    try_(np.concatenate([found[:1] + share * (found[1:] - found[:1]) for share in (0.25, 0.5, 0.75)]))


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
    score = own[front] if len(met) else clipped[front]
    worst = np.argmin(score.max(axis=1) + 1e-3 * np.clip(score, -FAR, FAR).sum(axis=1))
    if len(met):  # all are good: beside the one with most room, the one that goes deepest into each target
        picked = [int(worst), *map(int, np.argmin(score, axis=0))]
    else:  # the best under each weighting
        ways = _weightings(np.ones(len(weigh)))
        picked = [int(worst), *(int(np.argmin(((np.minimum(score, 1e3) * w) ** 2).sum(axis=1))) for w in ways)]
    picked = list(dict.fromkeys(picked))[:most]
    widest = int(np.argmax(np.ptp(np.clip(score[picked], -3, 10), axis=0)))
    picked.sort(key=lambda k: (score[k, widest], score[k].sum()))
    count = f"{len(met):,}" if len(met) else "None"
    sentences.append(
        f"{count} of {len(misses):,} choices tried meet every target; {len(front):,} {'is' if len(front) == 1 else 'are'} beaten by no other."
    )
    return [int(lawful[front[k]]) for k in picked], sentences


def _prevented(
    problem: Problem, u: Array, misses: Array, names: list[str], best: Choice, factors: list[tuple[float, str]]
) -> list[str]:
    """Say of each target that the best choice misses what prevents it."""
    over = np.clip(np.nan_to_num(misses, nan=FAR, posinf=FAR, neginf=0.0), 0.0, FAR)
    missed = [k for k, name in enumerate(names) if best.misses[name] > 0][:3]

    def nearest(pairs: list[tuple[int, int]]) -> dict[tuple[int, int], tuple[float, str, Array]]:
        """Return for each pair how near the first comes where the second is kept: in steps, in words, and the places."""
        weights = np.zeros((len(pairs), len(names)))
        for weight, (first, second) in zip(weights, pairs, strict=True):
            weight[second], weight[first] = LIMIT, 1.0
        starts = np.concatenate([np.resize(np.argsort((over**2) @ (w**2)), 2) for w in weights])
        found, near = problem.refine(u[starts], np.repeat(weights, 2, axis=0)), {}
        values = dict(zip(missed, problem.values(found, missed, False), strict=True))
        for number, pair in enumerate(pairs):
            miss = problem.targets[pair[0]].miss(values[pair[0]][2 * number : 2 * number + 2])
            row = int(np.argmin(miss.max(axis=1)))
            column = int(miss[row].argmax())
            value, (by, unit) = float(values[pair[0]][2 * number + row, column]), factors[pair[0]]
            near[pair] = float(miss[row, column]), f"{shown(value * by, unit)} {unit}", found[2 * number + row]
        return near

    said, alone = [], nearest([(k, k) for k in missed])
    there = problem.values(np.stack([place for _, _, place in alone.values()]), range(len(names)), False)
    broken = [  # what prevents a target is broken where it is met
        (k, other) for row, k in enumerate(missed) if alone[k, k][0] <= 0.02
        for other in range(len(names)) if other != k and not np.max(problem.targets[other].miss(there[other][row])) <= 0
    ]  # fmt: skip
    kept = nearest(broken) if broken else {}
    for k in missed:
        if alone[k, k][0] > 0.02:
            said.append(
                f"{names[k]}: these brackets cannot give it, whatever else is given up; nearest {alone[k, k][1]}."
            )
            continue
        others = [(*kept[pair][:2], names[pair[1]]) for pair in broken if pair[0] == k]
        guilty = sorted((each for each in others if each[0] > 0.02), reverse=True)
        for _, text, other in guilty[:3]:
            said.append(f"{other} prevents {names[k]}: where it is kept, that comes no nearer than {text}.")
        if not guilty:
            said.append(f"{names[k]}: no other target alone prevents it; together they do.")
    return [sentence[:1].upper() + sentence[1:] for sentence in said]
