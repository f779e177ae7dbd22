"""Places of brackets as numbers from 0 to 1, what cars built so come to, and the way downhill.

Many cars at once, each under its own weighting of the targets, by damped least squares (Levenberg and Marquardt, any textbook of
optimization): three dampings are tried at once, and the best is kept.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car
from ..car.front import Arm, IndependentFront
from ..car.links import Group, is_symmetric
from ..car.pickup import dimension, dimensions, moved
from ..errors import SusgeoError
from ..geometry.measure import MM_PER_INCH, mm_per
from ..geometry.scalars import row
from ..travel.newton import Array
from .design import Target, offered
from .many import Conditions, Many
from .tolerance import LENGTHS

ROUNDS = 6
"""Steps downhill."""
AIM, FAR = 0.1, 12.0
"""In steps: how far inside a band one aims; from where on a miss counts by its logarithm."""
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

    >>> Bracket("rear.lower.chassis", z=(250, 330)).z
    (250, 330)
    >>> Bracket("rear.upper.axle", holes=[(-50, 0, 440), (-50, 0, 470)]).holes[1]
    (-50, 0, 470)
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
        if holes := offered(self.place, self.holes):
            table = np.array([np.atleast_1d(hole) for hole in holes], dtype=float)
            names = [self.place] if table.shape[1] == 1 else [f"{self.place}.{letter}" for letter in "xyz"]
        else:
            names = [self.place] if self.value is not None else [f"{self.place}.{letter}" for letter in asked]
            pairs = [row(each, self.place) for each in ([self.value] if self.value is not None else asked.values())]
            table = np.array(pairs if all(len(pair) == 2 for pair in pairs) else []).T
        if not names or not table.size or (not holes and not np.all(table[0] < table[1])):
            raise SusgeoError(
                f"{self.place}: give holes, or for what may change a lowest and a highest value, low below high."
            )
        for name in names:
            dimension(car, name)
        return names, table * [scale if name.rpartition(".")[2] in LENGTHS else 1.0 for name in names], bool(holes)


def joint_name(car: Car, place: str) -> str:
    """Return what a joint is called, from its place.

    >>> from susgeo import load_car
    >>> joint_name(load_car("data/three_link.toml"), "rear.lower.chassis")
    'rear lower links, chassis'
    """
    end, _, rest = place.partition(".")
    axle: Any = getattr(car, end, None)
    part, *sides, last = rest.split(".") if "." in rest else (rest, "")
    live, independent, name = isinstance(axle, LiveAxle), isinstance(axle, IndependentFront), ""
    if part in ("lower", "upper") and live:
        group: Group = getattr(axle, part)
        name = " ".join([*sides, part, "links" if len(group) == 2 and is_symmetric(group) else "link"])
    elif part in ("lower", "upper") and independent:
        name = f"{part} arm" if isinstance(getattr(axle, part), Arm) else "strut"
    elif part == "locator" and live:
        name = axle.locator_name
    elif part == "tie_rod" and independent:
        name, last = "tie rod", "knuckle" if last == "axle" else last
    return f"{end} {name}, {last.replace('_', ' ')}" if name else place.replace("_", " ").replace(".", " ")


def dimension_name(car: Car, place: str) -> str:
    """Return what a dimension is called: its joint and its axis, or its place in words.

    >>> from susgeo import load_car
    >>> dimension_name(load_car("data/three_link.toml"), "rear.lower.chassis.z")
    'rear lower links, chassis, z'
    """
    joint, _, last = place.rpartition(".")
    return f"{joint_name(car, joint)}, {last}" if last in "xyz" else joint_name(car, place)


class Problem:
    """Places as numbers from 0 to 1, and what cars built so come to."""

    def __init__(
        self, car: Car, brackets: Sequence[Bracket], targets: Sequence[Target], heights: Array, given: Conditions, units: str
    ) -> None:  # fmt: skip
        self.car, self.targets, self.given, self.units = car, targets, given, units
        scale, self.known = mm_per(units), dimensions(car)
        self.parts = [bracket.ranges(car, scale) for bracket in brackets]
        self.row = np.concatenate([[True] if holes else [False] * len(names) for names, _, holes in self.parts])
        own = [heights if t.heights is None else row(t.heights, "heights") * scale for t in targets]
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
                    sizes = [
                        grain if n.rpartition(".")[2] in LENGTHS else (b - a) / 100
                        for n, a, b in zip(names, *table, strict=True)
                    ]
                    values = [np.clip(np.round(v / s) * s, *r) for v, s, r in zip(values, sizes, table.T, strict=True)]
            found |= dict(zip(names, values, strict=True))
        return found

    def built(self, places: Mapping[str, Any]) -> Car:
        """Return the car, or cars, with these places; a pair whose sides differ moves by the same on both."""
        changes: dict[str, Any] = {}
        for place, value in places.items():
            left, *right = self.sides(place)
            changes[left] = value
            for other in right:
                by = value - self.known[left]
                changes[other] = self.known[other] + (-by if place.endswith(".y") else by)
        return moved(self.car, changes)

    def sides(self, place: str) -> list[str]:
        """Return the left and the right place of a pair whose sides differ and that moves as one; else the place itself."""
        steps = place.split(".")
        both = [".".join([*steps[:2], side, *steps[2:]]) for side in ("left", "right")]
        return both if place not in self.known and all(side in self.known for side in both) else [place]

    def values(self, u: Array, which: Sequence[int], legal: bool = True, car: Car | None = None) -> list[Array]:
        """Return what each target asks, (cars, columns), of the cars with these places or of one that is given; nan where it cannot be."""
        try:
            built = car or self.built({name: value[:, None] for name, value in self.places(u, legal).items()})
            many, found = Many(built, self.heights, self.given), []
            with np.errstate(all="ignore"):
                for number in which:
                    name = self.targets[number].quantity
                    value = np.asarray(many.value(name), dtype=float)
                    if value.ndim and value.shape[-1] == len(self.heights) and "corner" not in name:  # which has turns
                        value = value[..., self.columns[number]]
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
            pick, each = np.argmin(cost, axis=1), np.arange(len(u))
            better = cost[each, pick] < np.sum(here**2, axis=1)
            u = np.where(better[:, None], trial[each, pick], u)
            here = np.where(better[:, None], got[each, pick], here)
            damping = np.clip(np.where(better, tries[each, pick], 30 * damping), 1e-8, 1e4)
            if not np.any(here):
                break
        return u


def snapped(problem: Problem, u: Array, weights: Array) -> Array:
    """Return places with every hole a hole: of the holes around, the best together."""
    rows = np.flatnonzero(problem.row)
    sizes = np.array([len(table) - 1 for _, table, holes in problem.parts if holes])
    corners = np.array(list(itertools.islice(itertools.product((0, 1), repeat=len(rows)), 64)))
    trial = np.repeat(u[:, None], len(corners), axis=1)
    low = np.floor(np.minimum(trial[..., rows] * sizes, sizes - 1e-9))
    trial[..., rows] = np.clip((low + corners) / np.maximum(sizes, 1), 0, 1)
    cost = (problem.residual(trial.reshape(-1, u.shape[1]), np.repeat(weights, len(corners), axis=0)) ** 2).sum(axis=1)
    return trial[np.arange(len(u)), np.argmin(cost.reshape(trial.shape[:2]), axis=1)]
