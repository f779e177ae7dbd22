"""The path of a steady corner from rest to its acceleration, by arc length: the follower inside :mod:`susgeo.loads.corner`.

Pseudo-arclength continuation (E. Allgower and K. Georg, Numerical Continuation Methods, Springer 1990, from memory), for
many states at once: so a turning point is passed, found and told, and no state is reached by a leap.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from ..errors import SusgeoError
from ..travel.newton import Array
from .equilibrium import ACCELERATION, LOADS, Equations, State, solve_each

FIRST_STEP, LARGEST_STEP, SMALLEST_STEP = 40.0, 80.0, 1e-3
"""Of the path, in mm."""


CORRECTIONS, SMALL = 10, 1e-8


WEIGHTS = np.array([*[1.0] * 7, *[0.0] * 6, 100.0])[:, None]
"""What counts for the length of a path: places in mm, and 1 m/s^2 as 10 mm; not forces."""


REACHED, TURNED, LOST = -1, 4, 5
"""How a path ends, beside the number of the wheel that lifts."""


def corrected(system: Equations, state: State, row: Array, value: Array) -> tuple[State, Array, Array, dict[str, Any]]:
    """Meet all equations, and row . x = value, by Newton's iteration from a first guess.

    Returns the state, whether it got there without doubt (the third correction at most a quarter of the second), the
    direction of the path, and the wheels' places.
    """
    last = np.zeros((14, 1))
    last[-1] = 1.0
    kept: Any = True
    for correction in range(CORRECTIONS):
        rest, jacobian, state, found = system.linearized(state)
        matrix = np.moveaxis(np.concatenate([jacobian, row[None]]), -1, 0)
        right = np.concatenate([rest, (np.sum(row * state.x, axis=0) - value)[None]]).T[:, :, None]
        solved = solve_each(matrix, np.concatenate([-right, np.broadcast_to(last, right.shape)], axis=2))
        change = solved[..., 0].T
        moved = np.max(np.abs(change[:7]), axis=0)
        state = state._replace(x=state.x + change)
        done = (moved <= SMALL) & (np.max(np.abs(change[7:]), axis=0) <= 1e3 * SMALL)
        if correction == 1:  # the first one still has the slopes of the place before
            first = moved
        elif correction == 2:
            kept = (moved <= first / 4) | done
        if np.all(done | ~np.isfinite(moved) | np.logical_not(kept)):
            break
    along = solved[..., 1].T
    along = along / np.sqrt(np.sum(WEIGHTS * along * along, axis=0))
    return state, done & kept, along, found


@np.errstate(all="ignore")
def follow(system: Equations, goal: Array) -> tuple[State, Array]:
    """Follow every state from rest to its acceleration; return where it came to, and how its path ended."""
    count, unit = len(goal), np.eye(14)[:, :, None]
    x = np.zeros((14, count))
    x[LOADS] = system.mass * system.gravity / 4
    state = State(x, tuple(held.at_rest(count) for held in system.held))  # type: ignore[arg-type]
    for _ in range(2):  # the slopes' own start
        _, jacobian, state, _ = system.linearized(state)
    bare = replace(system, gravity=0.0, preload=0 * system.preload)
    weightless = state._replace(x=0 * x)
    sides = [np.sign(np.linalg.det(np.moveaxis(j[:, :13], -1, 0))) for j in (jacobian, bare.linearized(weightless)[1])]
    if np.any(sides[0] * sides[1] <= 0):
        raise SusgeoError(
            "The springs cannot hold the body upright at rest; check the rates and spacings of both axles' springs."
        )
    state, _, along, _ = corrected(system, state, unit[ACCELERATION] + 0 * goal, 0 * goal)
    way = np.sign(goal)
    along, ended = along * np.where(goal < 0, -1, 1), np.full(count, REACHED)
    step, live = np.full(count, FIRST_STEP), goal != 0
    while np.any(live):
        at = np.flatnonzero(live)
        some, start, ahead, aim = system.of(at), state.of(at), along[:, at], goal[at]
        left = (aim - start.x[ACCELERATION]) / ahead[ACCELERATION]
        last = left <= step[at]  # below zero where a step by length has just gone past it
        length = np.where(last, left, step[at])
        trial = start._replace(x=start.x + length * ahead)
        row = np.where(last, unit[ACCELERATION], WEIGHTS * ahead)
        found, kept, new, _ = corrected(some, trial, row, np.sum(row * trial.x, axis=0))
        turn = np.sum(WEIGHTS * new * ahead, axis=0)
        new, kept = new * np.sign(turn), kept & (np.abs(turn) > 0.9)
        back = kept & (new[ACCELERATION] * way[at] <= 0)
        if np.any(back):
            peak = np.flatnonzero(back)
            found.put(peak, _peak(some.of(peak), start.of(peak), found.of(peak), ahead[:, peak], new[:, peak]))
        lifted = kept & np.any(found.x[LOADS] < 0, axis=0) & (system.gravity > 0)
        if np.any(lifted):
            up = np.flatnonzero(lifted)
            lift, wheel, sure = _lift(some.of(up), found.of(up))
            found.put(up, lift)
            ended[at[up]] = wheel
            kept[up] &= sure
        ended[at[back & ~lifted]] = TURNED
        good = np.flatnonzero(kept)
        state.put(at[good], found.of(good))
        along[:, at[good]] = new[:, good]
        step[at] = np.where(kept, np.minimum(2 * step[at], LARGEST_STEP), np.minimum(step[at], abs(length)) / 2)
        lost = ~kept & (step[at] < SMALLEST_STEP)
        ended[at[lost]] = LOST
        live[at[lost | (kept & (last | back | lifted))]] = False
    return state, ended


def _peak(system: Equations, start: State, end: State, ahead: Array, new: Array) -> State:
    """Return the turning point between two states: where the path's direction has no part along the acceleration."""
    row = WEIGHTS * ahead
    low, high = np.zeros(ahead.shape[1]), np.sum(row * (end.x - start.x), axis=0)
    before, after, found = ahead[ACCELERATION], new[ACCELERATION], end
    for _ in range(30):
        middle = low + (high - low) * np.clip(before / (before - after), 0.05, 0.95)
        trial = start._replace(x=start.x + middle * ahead)
        found, _, along, _ = corrected(system, trial, row, np.sum(row * trial.x, axis=0))
        now = along[ACCELERATION] * np.sign(np.sum(row * along, axis=0))
        over = now * ahead[ACCELERATION] < 0
        low, high = np.where(over, low, middle), np.where(over, middle, high)
        before, after = np.where(over, before, now), np.where(over, now, after)
        if np.all(np.abs(now) < 1e-6):
            break
    return found


def _lift(system: Equations, state: State) -> tuple[State, Array, Array]:
    """Return where the first tire lifts, the number of its wheel, and whether it was found, before a given state."""
    for _ in range(4):
        wheel = np.argmin(state.x[LOADS], axis=0)
        row = np.eye(14)[7 + wheel].T
        state, sure, _, _ = corrected(system, state, row, np.zeros(len(wheel)))
        if np.all(state.x[LOADS] > -1e-3):
            break
    return state, wheel, sure
