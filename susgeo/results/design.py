"""Design, the other way round: from the numbers one wants back to the points that give them.

One unknown: its symbol goes through the same formulas as every number does, and the equation is solved
exactly. Several targets: every combination of the points that one could use is worked out, over a range of
ride heights, in one pass of arrays.
"""

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from numbers import Real
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.car import Axle, Car, whole
from ..car.pickup import dimension, dimensions, in_numbers, mapped, moved
from ..errors import SusgeoError, expect, several
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, finite, is_array, is_symbolic, row
from ..geometry.space import Point
from ..tables import Table, shown
from .many import at_heave
from .quantities import Names, find, listed, numbers, plain_name
from .tolerance import LENGTHS

LARGEST = 5000.0
"""In mm: a root farther out is no place on a car."""
MOST = 1_000_000
"""States, choices times ride heights, that one search may have; it takes about 1 kB for each."""


@dataclass(frozen=True, eq=False)
class Solution:
    """What one dimension must be: its symbol, the quantity's formula in it, and every real solution."""

    unknown: Any
    formula: Any
    exact: tuple[Any, ...]

    @property
    def values(self) -> tuple[float, ...]:
        """The solutions as plain numbers; with letters in them ask for ``exact``."""
        if any(each.free_symbols for each in self.exact):
            raise SusgeoError(
                "These solutions have letters in them; ask for exact, and put numbers in: exact[0].subs(...)."
            )
        return tuple(float(each) for each in self.exact)


def solve_for(thing: Car | Axle, place: str, quantity: Names | Callable[[Car], Scalar], target: Scalar) -> Solution:
    """Return the values of one dimension for which a quantity has a wanted value.

    Args:
        thing: a car or an axle; other dimensions of it may be symbols.
        place: the unknown, such as ``"rear.lower.chassis.z"``; a mirror pair moves as a pair.
        quantity: by the summary's name, or a function of the car made of the library's formulas.
        target: the wanted value, in mm (also of a car in inches), degrees or percent; ``math.inf`` for a point at infinity.

    Raises:
        SusgeoError: no value of this dimension gives it, or the quantity has no formula in letters; it says why.

    >>> from susgeo import load_car
    >>> car = load_car("data/three_link.toml")
    >>> answer = solve_for(car, "rear.locator.axle.z", "rear locator height", 320)
    >>> answer.exact, answer.formula
    ((16000/47,), (47*z + 14400)/95)
    """
    import sympy

    car, asked = whole(thing), quantity if callable(quantity) else listed(quantity)
    if not callable(asked) and len(asked or ()) != 1:
        raise SusgeoError(f"One dimension meets one wish: give one quantity, not {len(asked or ())}.")
    name = asked[0] if isinstance(asked, list) else "the quantity"
    infinite = isinstance(target, float) and math.isinf(target)
    if is_array(target) or not infinite and is_array(finite(target, "target")):
        raise SusgeoError("One dimension meets one wish: give one target, a number or a symbol.")
    dimension(car, place)  # a place that does not exist is refused here, with a hint
    if any(is_array(value) for where, value in dimensions(car).items() if where != place):
        raise SusgeoError("One dimension meets one wish: give one car, not many at once.")
    unknown = sympy.Symbol(place.rpartition(".")[2], real=True)

    def read(there: Scalar, others: Callable[[Scalar], Scalar]) -> Scalar:
        """Return the quantity with something at the place, and all other dimensions so changed; where it has none, its own sentence says why."""
        at = mapped(car, lambda where, value: there if where == place else others(value))
        if callable(asked):
            return asked(at)
        quantity, end = find(name)
        found = quantity.of(at, end)
        if found is None:
            raise SusgeoError(f"{name} is not determined by what was measured on this car.")
        return found

    exact = read(unknown, lambda value: Fraction(str(value)) if isinstance(value, int | float) else value)
    expect(Real | sympy.Expr, quantity=exact)
    formula = sympy.factor(sympy.S.Zero + exact)
    if unknown not in formula.free_symbols:
        raise SusgeoError(f"{place} has no influence on {name}.")
    above, below = sympy.fraction(sympy.together(formula))
    wanted = sympy.Rational(str(target)) if isinstance(target, float) and not infinite else target
    letters = sorted({*formula.free_symbols, *getattr(wanted, "free_symbols", ())} - {unknown}, key=str)

    def holds(root: Any, values: dict[Any, float]) -> bool | None:
        """Put a root, and numbers for letters, into the car itself; None where such a car cannot be."""

        def number(value: Any) -> Any:
            return float(value.subs(values)) if is_symbolic(value) else value

        try:
            value, goal = number(root), float(number(target))
            got = float(read(value, number))
        except (SusgeoError, TypeError, ZeroDivisionError):
            return None
        if unknown.name in LENGTHS and abs(value) > LARGEST:
            return False
        if infinite:
            return abs(got) > 1e9
        return abs(got - goal) <= 1e-6 * max(1.0, abs(got), abs(goal))

    def gives(root: Any) -> bool:
        """At a pole, or where another pair of links decides, a root is none; with letters, where it nowhere holds."""
        held = [holds(root, values) for values in _trials(letters)]
        return any(held) or (bool(letters) and False not in held)

    equation = below if infinite else above - wanted * below
    roots = [root for root in sympy.solve(equation, unknown) if root.is_real is not False and gives(root)]
    if not roots:
        raise SusgeoError(f"No value of {place} that a car could have makes {name} {target}.")
    roots.sort(key=lambda root: float(root) if root.is_number else 0.0)
    return Solution(unknown, formula, tuple(roots))


def _trials(letters: Sequence[Any]) -> list[dict[Any, Any]]:
    """Return numbers to put in the place of letters, of the sizes that a car's dimensions have; one empty for none."""
    sizes = (310.0, 0.47, 1180.0, 27.0, 455.0, 0.031, 96.0)
    turns = range(len(sizes) if letters else 1)
    return [{letter: sizes[(turn + 2 * n) % len(sizes)] for n, letter in enumerate(letters)} for turn in turns]


@dataclass(frozen=True, slots=True)
class Target:
    """A band, in mm (also of a car in inches), degrees or percent, that a quantity should keep to at every ride height.

    ``step`` is how much beyond the band counts as one step too far: it weighs targets against each other.
    Left out, it is half the band's width; a target with one limit alone ('at least') needs it.

    For :func:`susgeo.results.search.search` alone: ``weight`` multiplies the steps, a ``limit`` is kept by every choice that is
    shown, and ``heights`` are ride heights of the target's own, such as both ends of the travel.

    >>> import numpy
    >>> height = Target("rear roll center height", low=260, high=280)
    >>> height.miss(numpy.array([270, 280, 300])).tolist()  # in steps of half the band
    [-1.0, 0.0, 2.0]
    """

    quantity: str
    low: float = -math.inf
    high: float = math.inf
    step: float | None = None
    weight: float = 1.0
    limit: bool = False
    heights: tuple[float, ...] | None = None

    def __post_init__(self) -> None:
        expect(str, quantity=self.quantity)
        expect(Real, low=self.low, high=self.high, weight=self.weight)
        expect(Real | None, step=self.step)
        expect(bool, limit=self.limit)
        if not 0 < self.weight < math.inf:
            raise SusgeoError(f"{self.quantity}: weight is {self.weight}; expected a number above zero.")

    @property
    def size(self) -> float:
        """The size of a step."""
        size = (self.high - self.low) / 2 if self.step is None else self.step
        if not (0 < size < math.inf and self.low <= self.high):
            raise SusgeoError(f"{self.quantity}: give low below high; with one limit alone, or two equal ones, a step.")
        return size

    def miss(self, values: Any) -> NDArray[np.float64]:
        """Return how many steps too far each value is: zero on the band's edge, negative inside."""
        with np.errstate(invalid="ignore"):  # a value at infinity against a limit that is not there
            off = np.fmax(self.low - values, values - self.high) / self.size
        return np.where(np.isnan(values), np.inf, np.where(np.isnan(off), -np.inf, off))


@dataclass(frozen=True, eq=False)
class Design:
    """The outcome of a search.

    Args:
        car: with the best choice built in.
        choice: the best choice, by place.
        met: whether it meets every target at every ride height.
        sentence: what was found; where targets contradict each other, which must give way, and by how much.
        alternatives: choices that no other beats in every target: what one target costs the others.
    """

    car: Car
    choice: Mapping[str, Any]
    met: bool
    sentence: str
    alternatives: Table


def best_design(
    thing: Car | Axle,
    choices: Mapping[str, Sequence[Any]],
    targets: Sequence[Target],
    heaves: Sequence[float] = (0.0,),
    rows: int = 10,
) -> Design:
    """Try every combination of choices and return the one whose worst miss is smallest.

    Args:
        thing: the car or axle to start from.
        choices: by place, what may stand there: numbers for a dimension, as from ``range(280, 340, 5)``, or
            (x, y, z) for each hole of a bracket.
        targets: the bands to keep.
        heaves: ride heights, as the axles' rise against the body in mm.
        rows: how many alternatives are listed, best first.

    >>> from susgeo import load_car
    >>> found = best_design(
    ...     load_car("data/three_link.toml"),
    ...     {
    ...         "rear.lower.chassis": [(600, 400, 290), (600, 400, 260)],
    ...         "rear.locator.chassis.z": range(280, 330, 10),
    ...     },
    ...     [Target("rear roll steer", -0.02, 0.05), Target("rear roll center height", 290, 310)],
    ... )
    >>> found.choice
    {'rear.lower.chassis': (600, 400, 260), 'rear.locator.chassis.z': 300}
    """
    expect(Mapping, choices=choices)
    car, heights = in_numbers(whole(thing)), row(heaves, "heaves")
    targets = several(Target, targets=targets)
    quantities = [find(target.quantity) for target in targets]
    names, units = ([plain_name(target.quantity) for target in targets], [found[0].unit for found in quantities])
    options = {place: offered(place, choice) for place, choice in choices.items()}
    count = math.prod(map(len, options.values()))
    if not (targets and options and count and heights.size):
        raise SusgeoError("A search needs a target, a ride height, and at least one choice for each place.")
    if count * heights.size > MOST:
        raise SusgeoError(f"{count:,} choices at {heights.size} ride heights are over {MOST:,}; leave out some.")
    picks = np.unravel_index(np.arange(count), [len(option) for option in options.values()])
    replaced: dict[str, Scalar] = {}
    for (place, option), pick in zip(options.items(), picks, strict=True):
        table = np.array(option, dtype=float)[pick]
        columns = zip("xyz", table.T, strict=True) if table.ndim == 2 else [("", table)]
        replaced |= {f"{place}.{letter}".rstrip("."): column[:, None] for letter, column in columns}
    found = numbers(at_heave(moved(car, replaced), heights), names)
    shape = (count, heights.size)
    values = [np.broadcast_to(np.asarray(found.get(name, math.nan), dtype=float), shape) for name in names]
    misses = [target.miss(value) for target, value in zip(targets, values, strict=True)]
    worst = np.stack([miss.max(axis=1) for miss in misses], axis=1)
    best = int(worst.max(axis=1).argmin())

    def choice(number: int) -> dict[str, Any]:
        return {place: option[pick[number]] for (place, option), pick in zip(options.items(), picks, strict=True)}

    def said(number: int, which: int) -> str:
        at = int(misses[which][number].argmax())
        height = f" at {heights[at]:+g} mm" if heights.size > 1 else ""
        return f"{shown(float(values[which][number, at]), units[which])} {units[which]}{height}"

    front = sorted(unbeaten(worst), key=lambda number: worst[number].max())
    cells = [
        (
            *(", ".join(f"{part:g}" for part in np.atleast_1d(at)) for at in choice(n).values()),
            *(said(n, t) for t in range(len(names))),
            f"{worst[n].max():+.2f}",
        )
        for n in front[:rows]
    ]
    note = f"{len(front):,} of {count:,} choices are beaten by no other; each target at its worst ride height."
    shown_table = Table((*options, *names, "worst miss, steps"), tuple(cells), note)
    chosen = moved(car, {place: float(column[best, 0]) for place, column in replaced.items()})
    sizes = [target.size for target in targets]
    sentence = _sentence(worst, [*zip(names, sizes, units, strict=True)], said)
    return Design(chosen, choice(best), bool((worst[best] <= 0).all()), sentence, shown_table)


def offered(place: str, choice: Any) -> list[Any]:
    """Return what may stand at a place: numbers, or (x, y, z) for each hole."""
    expect(Iterable, **{place: choice})
    found = [coordinates(each) if isinstance(each, Point) else each for each in choice]
    sizes = {np.shape(each) for each in found}
    if sizes not in (set(), {()}, {(3,)}) or (found and np.array(found).dtype.kind not in "iuf"):
        raise SusgeoError(f"{place}: expected numbers, or (x, y, z) for each hole; got {repr(choice)[:60]}.")
    return found


def unbeaten(worst: NDArray[np.float64]) -> list[int]:
    """Return the rows that no other row equals or undercuts in every column (Pareto's set).

    In order of the first column only earlier rows can beat a later one. With two or three columns a staircase of the
    other ones tells it at once; with more, all that are left are compared.
    """
    order = np.lexsort(worst.T[::-1])
    if worst.shape[1] <= 3:
        kept: list[int] = []
        steps: list[float] = []  # of the staircase: rising in the second column, falling in the third
        levels: list[float] = []
        padded = np.pad(worst, ((0, 0), (0, 3 - worst.shape[1])))
        for number, second, third in zip(order.tolist(), *padded[order, 1:].T.tolist(), strict=True):
            at = bisect_right(steps, second)
            if at and levels[at - 1] <= third:
                continue
            end = at
            while end < len(levels) and levels[end] >= third:
                end += 1
            steps[at:end], levels[at:end] = [second], [third]
            kept.append(number)
        return sorted(kept)
    left, now = order, 0
    while now < len(left):
        keep = np.any(worst[left] < worst[left[now]], axis=1)
        keep[now] = True
        left, now = left[keep], int(keep[:now].sum()) + 1
    return sorted(left.tolist())


def _sentence(
    worst: NDArray[np.float64], targets: list[tuple[str, float, str]], said: Callable[[int, int], str]
) -> str:
    """Say how many choices meet everything, or which target must give way and by how much."""
    met = np.all(worst <= 0, axis=1)
    if met.any():
        return f"{met.sum():,} of {len(worst):,} choices meet every target."
    gaps = []
    for which in range(len(targets)):
        others = np.delete(worst, which, axis=1).max(axis=1, initial=-np.inf) <= 0
        alone = np.where(others, worst[:, which], np.inf)
        gaps.append((float(alone.min()), which, int(alone.argmin())))
    steps, which, number = min(gaps)
    if steps == math.inf:
        best = int(worst.max(axis=1).argmin())
        missed = ", ".join(f"{name} ({said(best, t)})" for t, (name, _, _) in enumerate(targets) if worst[best, t] > 0)
        return f"No choice meets every target, nor all but one; the best compromise misses {missed}."
    name, size, unit = targets[which]
    return (
        f"No choice meets every target: {name} must give way by {shown(steps * size, unit)} {unit} "
        f"(to {said(number, which)}) if the others are to be met."
    )
