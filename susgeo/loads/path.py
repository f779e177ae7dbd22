"""Paths of steady corners from rest, by arc length, and the states on them: inside :mod:`susgeo.loads.corner`.

Pseudo-arclength continuation (E. Allgower and K. Georg, Numerical Continuation Methods, Springer 1990, from memory). A path
is followed once for each car and turn. Every state wanted is then started between two places of it, so that none is reached
by a leap, and a turning point is passed, found and told.
"""

from collections.abc import Callable
from typing import Any, NamedTuple, cast

import numpy as np

from ..errors import SusgeoError
from ..travel.newton import Array
from .equilibrium import ACCELERATION, LOADS, TRAVELS, Equations, State, Wheels, each, solve_each

LARGEST_STEP, SMALLEST_STEP, APART, ENOUGH = 160.0, 1e-3, 80.0, 1.25
"""Of a step and between its places, in mm; and how much further it may go than the goal seems to be."""
FAN, COLUMNS = 8, 64
"""So many places of a step are looked for at once, fewer where many paths are followed: for few they cost what one does."""
STEPS = 150
"""A path that takes more of them creeps along a dead point, and is followed no further."""
CORRECTIONS, SMALL, ROUGH = 10, 1e-7, 5e-2
"""How often a place is corrected at most, and until the next correction would be a hundredth of it in mm, or ten times it in
N: a wanted place, and one on the way."""
WEIGHTS = np.array([*[1.0] * 7, *[0.0] * 6, 100.0])[:, None]
"""What counts for the length of a path: places in mm, and 1 m/s^2 as 10 mm; not forces."""
EYE, TINY, SLOW = np.eye(14), 1e-300, 0.05
BY_ACCELERATION = np.eye(14)[:, [ACCELERATION]]
REACHED, TURNED, LOST, CREEPS = -1, 4, 5, 6
"""How a path ends, beside the number of the wheel that lifts."""


class Place(NamedTuple):
    """Where paths are: the equations' derivatives there (13, 14, paths), and the path's direction (14, paths), of length one."""

    state: State
    jacobian: Array
    along: Array

    def of(self, paths: Any) -> "Place":
        """Return some of the paths."""
        return cast(Place, each(lambda values: values[..., paths], self))


class Paths(NamedTuple):
    """Paths from rest: the places on the way, the next step's length, and how each ended, so far."""

    places: list[Place]
    step: Array
    ended: Array


def corrected(
    system: Equations, state: State, row: Array, value: Array, small: float = SMALL, jacobian: Any = None
) -> tuple[Place, Array, Wheels]:
    """Meet all equations, and row . x = value, by Newton's iteration from a first guess.

    Given derivatives serve as long as each correction is much smaller than the one before; a correction then costs less.
    It ends where the next correction, as much smaller again as the last one was, would be small. Returns the place,
    whether it got there without doubt (the third correction at most a quarter of the second), and the wheels.
    """
    given, kept, limit = jacobian is not None, True, np.array([small / 100, 10 * small])[:, None]
    row, before, fresh = np.broadcast_to(row, state.x.shape), np.full((2, 1), TINY), not given
    for correction in range(CORRECTIONS):
        rest, derivatives, state, found = system.linearized(state, fresh)
        jacobian = derivatives if fresh else jacobian
        if fresh or correction == 0:
            inverse = solve_each(np.concatenate([jacobian, row[None]]).transpose(2, 0, 1), EYE)
        rest = np.concatenate([rest, (np.sum(row * state.x, axis=0) - value)[None]])
        change = (inverse @ rest.T[:, :, None])[..., 0].T
        state = state._replace(x=state.x - change)
        moved = np.maximum.reduceat(np.abs(change), [0, 7])  # places, then forces and acceleration
        shrunk = np.minimum(moved / before, 1.0)
        done = np.all(moved * shrunk <= limit, axis=0)
        if correction == 2:  # the first one still has the slopes of the place before
            kept = (shrunk[0] <= 0.25) | done
        if np.all(done | ~np.isfinite(moved[0]) | np.logical_not(kept)):
            break
        before = np.maximum(moved, TINY)
        fresh = not given or bool(correction > 1 and np.any(~done & (shrunk[0] > SLOW)))
    along = inverse[..., -1].T
    return Place(state, jacobian, along / np.sqrt(np.sum(WEIGHTS * along * along, axis=0))), done & kept, found


def from_rest(system: Equations, way: Array) -> Paths:
    """Return paths that start at rest, to the left (1) or to the right (-1), one for each column of the equations."""
    x = np.zeros((14, len(way)))
    x[LOADS] = system.standing
    state = State(x, tuple(held.at_rest(len(way)) for held in system.held))  # type: ignore[arg-type]
    _, jacobian, state, _ = system.linearized(state)
    # Matrix of an energy with constraints: its determinant is positive where the energy is least.
    if np.any(np.linalg.det(jacobian[:, :ACCELERATION].transpose(2, 0, 1)) <= 0):
        raise SusgeoError(
            "The springs cannot hold the body upright at rest; check the rates and spacings of both axles' springs."
        )
    solved = solve_each(*np.split(jacobian.transpose(2, 0, 1), [ACCELERATION], axis=2))
    along = np.concatenate([-solved[..., 0].T, np.ones((1, len(way)))])
    along *= way / np.sqrt(np.sum(WEIGHTS * along * along, axis=0))
    return Paths([Place(state, jacobian, along)], np.full(len(way), LARGEST_STEP), np.full(len(way), REACHED))


@np.errstate(all="ignore")
def followed(system: Equations, paths: Paths, goal: Array) -> Paths:
    """Follow every path until it has passed its goal, an acceleration, or ends.

    A step looks for several places at once, one behind the other, and takes them up to the first that is in doubt.
    """
    places, (step, ended), way = [*paths.places], (values.copy() for values in paths[1:]), np.sign(goal)
    for _ in range(STEPS):
        here = places[-1]
        going = (ended == REACHED) & (here.state.x[ACCELERATION] * way < goal * way)
        if not (count := len(at := np.flatnonzero(going))):
            return Paths(places, step, ended)
        fan = min(max(COLUMNS // count, 1), FAN)
        there = np.tile(at, fan)  # every path several times: its nearest place of the step, then the next
        some, (start, _, ahead), back = system.of(there), here.of(there), way[there]
        toward = ENOUGH * (goal[there] - start.x[ACCELERATION]) / ahead[ACCELERATION]
        whole = np.fmin(np.minimum(step[there], APART * fan), np.where(toward > 0, toward, np.inf))
        arc = whole * np.repeat(np.arange(1, fan + 1), count) / fan
        row, before = WEIGHTS * ahead, places[max(len(places) - 1 - 2 * fan, 0)].of(there)
        come = np.sqrt(np.sum(WEIGHTS * (start.x - before.state.x) ** 2, axis=0))
        trial = _mixed(before, here.of(there), 1 + arc / np.where(come > 0, come, np.inf))
        trial = trial._replace(x=np.where(come > 0, trial.x, start.x + arc * ahead))
        found, kept, _ = corrected(some, trial, row, np.sum(row * start.x, axis=0) + arc, ROUGH)
        found = found._replace(along=found.along * np.sign(np.sum(row * found.along, axis=0)))
        nearer = _row([here.of(at), found]).of(np.arange(len(there)))
        kept = kept & (np.sum(WEIGHTS * nearer.along * found.along, axis=0) > 0.9)
        for held, (q, _), (then, _) in zip(some.held, found.state.axles, nearer.state.axles, strict=True):
            kept = kept & held.sound(then, q)
        kept = _first(kept, fan)
        blamed = np.full(count, LOST)
        lifted = np.any(found.state.x[LOADS] < 0, axis=0) & (system.gravity > 0)
        for stops, code, left in (
            (found.along[ACCELERATION] * back <= 0, TURNED, lambda place: place.along[ACCELERATION]),
            (lifted, None, lambda place: np.min(place.state.x[LOADS], axis=0)),
        ):
            before_it = _first(~stops, fan)
            onward = np.append(np.ones(count, dtype=bool), before_it[:-count])
            if len(ends := np.flatnonzero(kept & ~before_it & onward)):
                end, sure = _between(some.of(ends), nearer.of(ends), found.of(ends), left)
                found, path = _put(found, ends, end), ends % count
                kept &= before_it
                kept[ends] = sure
                blamed[path] = np.argmin(end.state.x[LOADS], axis=0) if code is None else code
                ended[at[path]] = np.where(sure, blamed[path], REACHED)
        got = np.zeros(count)
        for number, good in enumerate(_first(kept, fan).reshape(fan, -1)):
            here, got = _put(here, at[good], found.of(number * count + np.flatnonzero(good))), got + good
            places.append(here)
        longer = np.minimum(2 * step[at], LARGEST_STEP)
        step[at] = np.where(got == fan, longer, whole[:count] * np.maximum(got, 0.5) / fan)
        stuck = (got == 0) & (step[at] < SMALLEST_STEP)
        ended[at[stuck]] = blamed[stuck]
    ended[going & (ended == REACHED)] = CREEPS
    return Paths(places, step, ended)


def _first(good: Array, many: int) -> Array:
    """Return what is good, up to the first place of each path that is not."""
    return np.logical_and.accumulate(good.reshape(many, -1), axis=0).reshape(-1)


def _row(places: list[Place]) -> Place:
    """Return all places as one row of them."""
    return cast(Place, each(lambda *parts: np.concatenate(parts, axis=-1), *places))


def _put(place: Place, paths: Any, new: Place) -> Place:
    """Return places with some of them replaced."""

    def put(old: Array, values: Array) -> Array:
        old = old.copy()
        old[..., paths] = values
        return old

    return cast(Place, each(put, place, new))


def _between(system: Equations, start: Place, end: Place, left: Callable[[Place], Array]) -> tuple[Place, Array]:
    """Return where, between two places of each path, nothing of a number is left, and whether it was found.

    False position by arc length; where one end stays, what is left there counts half (Illinois; any textbook).
    """
    row = WEIGHTS * start.along
    whole, stayed = np.sum(row * (end.state.x - start.state.x), axis=0), np.zeros(row.shape[1])
    arcs, values = np.stack([np.zeros_like(whole), whole]), np.stack([left(start), left(end)])
    nothing = np.maximum(1e-7 * np.abs(values[0]), 1e-8)
    for _ in range(40):
        share = np.clip(values[0] / (values[0] - values[1]), 0.001, 0.999)
        arc = arcs[0] + share * (arcs[1] - arcs[0])
        value = np.sum(row * start.state.x, axis=0) + arc
        found, kept, _ = corrected(system, _mixed(start, end, arc / whole), row, value)
        found = found._replace(along=found.along * np.sign(np.sum(row * found.along, axis=0)))
        now = left(found)
        if np.all(~kept | (np.abs(now) <= nothing)):
            break
        other = (now * values[0] > 0).astype(int)  # the end whose place it takes is the one of its sign
        for side in (0, 1):
            takes = other != side
            values[1 - side] = np.where(takes & (stayed == 2 * side - 1), values[1 - side] / 2, values[1 - side])
            arcs[side], values[side] = np.where(takes, arc, arcs[side]), np.where(takes, now, values[side])
        stayed = 1 - 2 * other
    return found, kept & (np.abs(now) <= nothing)


def _mixed(start: Place, end: Place, share: Array) -> State:
    """Return states at a share of the way from one place to another, by cubics that have both places' directions."""
    length = np.sqrt(np.sum(WEIGHTS * (end.state.x - start.state.x) ** 2, axis=0))
    square, cube = share**2, share**3
    ways = length * (cube - 2 * square + share), length * (cube - square)
    parts = (2 * cube - 3 * square + 1, 3 * square - 2 * cube, *ways)

    def mixed(*values: Array) -> Array:
        return sum(part * value for part, value in zip(parts, values, strict=True))

    axles = []
    for number in (0, 1):
        (q, slopes), (far, turned) = (place.state.axles[number] for place in (start, end))
        along = []
        for place, by in ((start, slopes), (end, turned)):
            travels = place.along[TRAVELS][2 * number : 2 * number + 2]
            travels = travels[:, None] if by.shape[1] == 2 else travels[None]
            along.append(np.sum(by * travels, axis=1))
        axles.append((mixed(q, far, *along), slopes + share * (turned - slopes)))
    return State(mixed(start.state.x, end.state.x, start.along, end.along), (axles[0], axles[1]))


@np.errstate(all="ignore")
def guessed(paths: Paths, path: Array, goal: Array) -> tuple[State, tuple[Place, Place], Array, Array]:
    """Return every state at its acceleration on its path, by cubics between places, not yet corrected.

    And the places before and after it, its share of the way between them, and how its path ended before, or REACHED.
    """
    count, last = paths.step.size, len(paths.places) - 1
    wide = _row(paths.places)
    way = np.sign(paths.places[0].along[ACCELERATION])[path]  # not the goal's: straight ahead has no sign
    sizes = wide.state.x[ACCELERATION].reshape(last + 1, count)[:, path] * way
    number = np.maximum(np.sum(sizes <= np.abs(goal), axis=0) - 1, 0)
    start, end = (wide.of(np.minimum(number + further, last) * count + path) for further in (0, 1))
    ended = np.where(np.abs(goal) <= sizes[-1], REACHED, paths.ended[path])
    share = _share(start, end, goal)
    return _mixed(start, end, share), (start, end), share, ended


@np.errstate(all="ignore")
def states(
    system: Equations, paths: Paths, path: Array, goal: Array, small: float = SMALL
) -> tuple[State, Wheels, Array]:
    """Return every state at its acceleration on its path, its wheels, and how its path ended before, or REACHED."""
    guess, (start, end), share, ended = guessed(paths, path, goal)
    jacobian = start.jacobian + share * (end.jacobian - start.jacobian)
    place, kept, found = corrected(system, guess, BY_ACCELERATION, goal, small, jacobian)
    if np.any(lost := ~kept & (ended == REACHED)):  # hard by a turning point, or by a dead one
        aim, ends = goal[lost], (start.of(lost), end.of(lost))
        between, sure = _between(system.of(lost), *ends, lambda at: at.state.x[ACCELERATION] - aim)
        place = _put(place, lost, between)
        ended[lost] = np.where(sure, REACHED, LOST)
    over = ended != REACHED
    place = _put(place, over, start.of(over))
    if np.any(lost | over):
        found = system.linearized(place.state, further=False)[3]
    return place.state, found, ended


def _share(start: Place, end: Place, goal: Array) -> Array:
    """Return where on the cubic between two places the acceleration is as wanted."""
    low, climb = start.state.x[ACCELERATION], (end.state.x - start.state.x)[ACCELERATION]
    length = np.sqrt(np.sum(WEIGHTS * (end.state.x - start.state.x) ** 2, axis=0)) / climb
    wanted, out, into = (goal - low) / climb, length * start.along[ACCELERATION], length * end.along[ACCELERATION]
    share = np.clip(wanted, 0.0, 1.0)
    for _ in range(6):
        off = ((out + into - 2) * share + 3 - 2 * out - into) * share**2 + out * share - wanted
        slope = (3 * (out + into - 2) * share + 2 * (3 - 2 * out - into)) * share + out
        share = np.clip(share - off / slope, 0.0, 1.0)
    return np.where(np.isfinite(share), share, 0.0)
