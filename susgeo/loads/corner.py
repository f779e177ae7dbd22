"""The whole car in a steady corner, solved: no small angles, roll centers that move with the car.

The car stands on rigid links; springs carry it at rest. By rate and spacing they are linear in an axle's heave and roll
against the body, or in an independent wheel's travel; a coil given as a line pushes along that line, wherever its ends
come to. An anti-roll bar has its rate at rest. The body heaves, rolls and pitches until every part is in balance, so that jacking comes
out by itself, and a left turn may differ from a right one. The ground's side force is level, square to the body's
heading, and acts on the part that carries the wheel, where the leaning tire touches. Each axle's share of it follows
from moments about the upright. An axle's own mass is at its wheel centers. Tires do not yield upright; drive, drag, and
joints' friction are left out, and so are bump stops and rising rates, which no car file gives: look at the travels.

:func:`susgeo.loads.cornering.cornering` is what this comes to for a small acceleration without gravity; how far that
holds says :func:`susgeo.loads.cornering.linear_limit`. The equations are in :mod:`susgeo.loads.equilibrium`.
Axes, signs and names as there and in ISO 8855: acceleration positive to the left, roll left side up, pitch nose down.
"""

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car, axle_of
from ..car.rods import METER
from ..errors import SusgeoError
from ..geometry.scalars import Scalar, alone, cross, degrees, finite
from ..travel.live import straight_rods
from ..travel.newton import Array
from ..travel.wheel import knuckle_rods
from .cornering import GRAVITY, AxleLoads, Cornering, Sharing
from .equilibrium import ACCELERATION, LOADS, MIRROR, PHI, SIDES, THETA, WHEELS, Equations, State, Wheels, Z, equations
from .path import CREEPS, LOST, REACHED, TURNED, followed, from_rest, states

END_OF_SEARCH = 10 * GRAVITY


@dataclass(frozen=True, eq=False)
class CornerAxle(AxleLoads):
    """One axle in a solved corner: loads and their parts in N as in :class:`susgeo.loads.cornering.AxleLoads`, and more.

    Where the axle has jacked the body up or down, left and right load no longer add up to the load at rest;
    ``transfer`` is half their difference.

    Args:
        left_travel, right_travel: how far each wheel center has risen against the body, along the body's z, in mm.
        left_side, right_side: side force on each tire, to the left, in N.
        roll_center_height: over the ground, where it is now: the side force's moment through the links, over the force.
    """

    left_travel: Scalar
    right_travel: Scalar
    left_side: Scalar
    right_side: Scalar
    roll_center_height: Scalar


@dataclass(frozen=True, eq=False)
class Corner(Cornering):
    """A car in a solved steady corner. Every number has the shape of the accelerations, and is nan beyond the end.

    Args:
        acceleration, roll, front, rear: as in :class:`susgeo.loads.cornering.Cornering`.
        heave: rise of the body's center of gravity, in mm.
        pitch: of the body, positive nose down, in rad.
        ended: for each state the acceleration in m/s^2 at which its path from rest ended; nan where it did not.
        ends: one sentence for each end that was met.
    """

    front: CornerAxle
    rear: CornerAxle
    heave: Scalar
    pitch: Scalar
    ended: Scalar
    ends: tuple[str, ...]
    _system: Equations = field(repr=False)
    _state: State = field(repr=False)
    _wheels: Wheels = field(repr=False)

    @property
    def warning(self) -> str:
        """The sentences of ``ends``, in a row."""
        return " ".join(self.ends)

    def rod_forces(self, end: Literal["rear", "front"]) -> dict[str, Scalar]:
        """Return the force in every rod of an axle in N, tension positive, by name.

        Of an independent axle both legs of each arm, the tie rods, and how hard each strut is bent sideways at its top.
        Springs by rate and spacing push upright at the wheel centers, as the axle's travels are counted; coils as
        lines push along their lines.
        """
        axle: Any = axle_of(self._car, end)
        number, shape = int(end == "front"), np.shape(self.roll)
        wrench, q = self._wrench[:, 2 * number : 2 * number + 2], self._state.axles[number][0]
        held, live = self._system.held[number], isinstance(axle, LiveAxle)
        pull = wrench.sum(1) if live else np.concatenate([wrench[:, 0], wrench[:, 1] * MIRROR[:, :, 0]], axis=1)
        pull = np.concatenate([pull, np.zeros((len(q) - 6, pull.shape[-1]))])
        rods = held.rods.of(np.tile(np.arange(q.shape[-1]), q.shape[1]))
        jacobian = np.moveaxis(rods.evaluate(q.reshape(len(q), -1), held.unknown)[1], -1, 0)
        found = np.linalg.solve(jacobian.swapaxes(1, 2), pull[held.unknown].T[:, :, None])[..., 0].T
        found = np.where(np.tile(np.isnan(self.roll).reshape(-1), q.shape[1]), np.nan, found)
        if live:
            pair = held.rods.as_one
            if pair:  # what two rods that count as one carry, each of them carries
                found = np.insert(found, pair[1], found[pair[0]], axis=0)
            return {rod.name: alone(row.reshape(shape)) for rod, row in zip(straight_rods(axle), found, strict=True)}
        names = [rod.name for rod in knuckle_rods(axle)]
        forces: dict[str, Scalar] = {}
        for side, rows in zip(("left", "right"), np.split(found, 2, axis=1), strict=True):
            for name, row in zip(names, rows, strict=False):
                forces[f"{side} {name}"] = alone(row.reshape(shape))
            if len(rows) > len(names):
                forces[f"{side} strut, sideways"] = alone(np.hypot(*rows[len(names) :]).reshape(shape))
        return forces

    @cached_property
    def _wrench(self) -> Array:
        """What ground, weight and inertia do along each coordinate of the part that carries a wheel, (6, wheels, states)."""
        system, x, wheels = self._system, self._state.x, self._wheels
        (center, patch), (_, left, up), a = wheels.arms, wheels.axes[:, :, None], x[ACCELERATION]
        ground = system.sides(x[LOADS], x[SIDES]) * left + x[LOADS] * up
        own = -system.own[:, 0] * (a * left + system.gravity * up)
        moment = np.add(cross(patch, ground), cross(center, own))
        (cr, _, cy), (sr, _, sy) = np.cos(wheels.pose[3:]), np.sin(wheels.pose[3:])
        pitched = np.sum(moment * np.stack([-sy, cr * cy, sr * cy]), axis=0)
        pull = np.stack([*(ground + own), moment[0], pitched, moment[2] * cr - moment[1] * sr])
        for number, coils in enumerate(system.coils):
            if coils:
                two, each = slice(2 * number, 2 * number + 2), np.eye(6)[:, None, :, None, None]
                pull[:, two] -= coils.push(wheels.pose[:, two, None], each)[:, :, 0].swapaxes(0, 1)
        return pull


def solve_corner(car: Car, lateral: Any, sharing: Sharing = "load", gravity: float = GRAVITY) -> Corner:
    """Solve a car in a steady corner: roll, heave, pitch, travel, roll centers, tire loads and their parts.

    Args:
        car: with both axles, springs and weight; its dimensions may be arrays.
        lateral: acceleration, positive to the left (a left turn), in m/s^2: a number or an array.
        sharing: how an axle's tires share its side force: in proportion to their "load", or "equal". Where the links
            jack, it decides how far: see :func:`corner_end`.
        gravity: in m/s^2. Zero leaves the weight out: tires then carry only what changes, and may pull.

    Raises:
        SusgeoError: something was not measured, or a single acceleration lies beyond the end: where a tire lifts, a
            linkage ends, or no equilibrium is left. In an array such states are nan, and ``ends`` has the sentences.

    >>> from susgeo import load_car
    >>> corner = solve_corner(load_car("data/club_coupe.toml"), 0.5 * GRAVITY)
    >>> round(float(degrees(corner.roll)), 2), {tire: round(load) for tire, load in corner.tires.items()}
    (3.42, {'front left': 1922, 'front right': 4009, 'rear left': 1268, 'rear right': 3392})
    """
    lateral = finite(lateral if np.isscalar(lateral) else np.asarray(lateral), "The lateral acceleration")
    if not np.size(lateral):
        raise SusgeoError("There is no lateral acceleration in the array; expected one at least, in m/s^2.")
    if not (isinstance(gravity, float | int) and 0 <= gravity < math.inf):
        raise SusgeoError(f"gravity is {gravity}; expected zero or more, in m/s^2.")
    system, shape = equations(car, lateral, sharing, gravity)
    wanted = np.broadcast_to(np.asarray(lateral, dtype=float), shape).reshape(-1)
    known = np.isfinite(wanted)
    goal = np.where(known, wanted, 0.0)
    first, path = system.alike(np.where(goal < 0, -1.0, 1.0))
    far = np.zeros(len(first))
    np.maximum.at(far, path, np.abs(goal))
    some, way = system.of(first), np.where(goal[first] < 0, -1.0, 1.0)
    state, found, ended = states(system, followed(some, from_rest(some, way), way * far), path, goal)
    reached = known & (ended == REACHED)
    kinds: dict[tuple[int, bool], int] = {}
    for number in map(int, np.flatnonzero(ended != REACHED)):
        kinds.setdefault((ended[number], goal[number] > 0), number)
    ends = tuple(_sentence(code, state.x[:, number]) for (code, _), number in kinds.items())
    if ends and not shape:
        raise SusgeoError(f"At {goal[0] / GRAVITY:.4g} g there is no steady corner. {ends[0]}")

    def out(values: Array) -> Scalar:
        return alone(np.where(reached, values, np.nan).reshape(shape))

    axles = [CornerAxle(*map(out, values)) for values in _axles(system, state, found)]
    x = state.x
    return Corner(
        out(goal), out(x[PHI] / METER), front=axles[1], rear=axles[0], heave=out(x[Z]), pitch=out(x[THETA] / METER),
        ended=alone(np.where(reached, np.nan, x[ACCELERATION]).reshape(shape)), ends=ends, _car=car, _system=system, _state=state, _wheels=found,
    )  # fmt: skip


@dataclass(frozen=True)
class CornerEnd:
    """Where a car's steady corners end: at an acceleration in m/s^2 (infinite where none was found), and why."""

    acceleration: float
    sentence: str


def corner_end(car: Car, way: Literal["left", "right"] = "left", sharing: Sharing = "load") -> CornerEnd:
    """Return where the steady corners of one car end, to the left or to the right, and why.

    Links that jack by much act on the more loaded tire: with the side force shared in proportion to load they pull the
    body over sooner than with equal sharing. Real tires lie between.

    Args:
        car: one car, with both axles, weight and springs. way: "left" or "right".
        sharing: of an axle's side force between its tires, by their "load" or "equal".

    >>> from susgeo import load_car
    >>> for sharing in ("load", "equal"):
    ...     print(round(corner_end(load_car("data/club_coupe.toml"), sharing=sharing).acceleration / GRAVITY, 2))
    0.68
    0.8
    """
    if str(way) not in ("left", "right"):
        raise SusgeoError(f"way is {way!r}; expected 'left' or 'right'.")
    found = solve_corner(car, np.array([END_OF_SEARCH if way == "left" else -END_OF_SEARCH]), sharing)
    if np.size(found.ended) > 1:
        raise SusgeoError("These are many cars at once; ask for the end of one.")
    none = f"To the {way} no end was found up to {END_OF_SEARCH / GRAVITY:.0f} g."
    return CornerEnd(abs(float(found.ended[0])), found.ends[0]) if found.ends else CornerEnd(np.inf, none)


def _axles(system: Equations, state: State, wheels: Wheels) -> list[tuple[Array, ...]]:
    """Return the fields of :class:`CornerAxle` for the rear and the front axle."""
    x, loads, a, g = state.x, state.x[LOADS], state.x[ACCELERATION], system.gravity
    sides, own, rises = system.sides(loads, x[SIDES]), system.own[:, 0], wheels.pose[2] + wheels.arms[0, 2]
    axles = []
    for number in (0, 1):
        two = slice(2 * number, 2 * number + 2)
        (own_side, own_up), (side, up) = wheels.moves[:, :, two]
        whole, mass = x[SIDES][number], own[two]
        share = np.where(whole == 0, 0.5, sides[two] / np.where(whole == 0, 1, whole))
        through = (share[:, None] * side).sum(0)
        force = whole - mass.sum(0) * a
        inertia = (mass[:, None] * (a * own_side + g * own_up)).sum(0) - mass.sum(0) * a * through
        pulls = [-through * force, wheels.springs[number], inertia, -through]  # each (travels, states)
        parts = np.linalg.solve(up.transpose(2, 1, 0), np.stack(pulls, axis=-1).transpose(1, 0, 2))
        moved = (parts[:, 1].T - parts[:, 0].T) / 2
        left, right = wheels.places[1, 1, two]
        axles.append((*moved[:3], *loads[two], *rises[two], *sides[two], moved[3] * (left - right)))
    return axles


def _sentence(code: int, x: Array) -> str:
    """Return how a path ended, in a sentence."""
    at = f"{abs(x[ACCELERATION]) / GRAVITY:.3f} g, at {degrees(abs(x[PHI]) / METER):.1f} degrees of roll"
    why = {
        TURNED: f"no equilibrium is left beyond {at}: the links pull the body over faster than the springs hold it, "
        "and the path of steady corners turns back.",
        LOST: f"a linkage ends at {at}: it jams or comes to a dead point.",
        CREEPS: f"a linkage stands by a dead point at {at}: forces grow there and next to nothing moves, so it is "
        "followed no further; look for a link that is much too short.",
    }
    why |= {k: f"the {wheel} tire lifts at {at}; beyond that this model ends." for k, wheel in enumerate(WHEELS)}
    return f"To the {'left' if x[ACCELERATION] > 0 else 'right'} {why[code]}"
