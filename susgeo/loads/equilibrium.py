"""The equations of a steady corner, and their path from rest: the machine inside :mod:`susgeo.loads.corner`.

Unknown are the body's heave, roll and pitch, two travels of each axle (heave and roll of a live one, left and right
wheel of an independent one), four tire loads and two side forces. As many equations: the whole car as a free body
(sideways, upright, three moments), each axle by virtual work along its travels, four tires on the ground.
How an axle's position changes with its travels comes from its rods' matrix, by implicit differentiation, so that
no force of a link appears; jacking is in that derivative.

Angles are kept as arcs at a meter, so that every unknown place is in mm. Derivatives of the equations are differences
of a thousandth of a millimeter: the equations themselves are exact, and Newton's iteration meets them.
"""

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Axle, Car, axle_of, weighed, whole
from ..car.coils import Coil, carrier, joints, on_the_right
from ..car.links import mirror
from ..car.pickup import dimensions
from ..car.rods import METER
from ..errors import SusgeoError
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, cross, is_array, together
from ..geometry.space import Point
from ..travel.lines import swung
from ..travel.live import GIVEN, UNKNOWN, held_axle
from ..travel.newton import Array, Rods, Vector, about_x, spin
from ..travel.wheel import held_knuckle
from .springs import bar_stiffness, roll_stiffness, wheel_rate

WHEELS = ("rear left", "rear right", "front left", "front right")
Z, PHI, THETA = range(3)
TRAVELS, LOADS, SIDES, ACCELERATION = slice(3, 7), slice(7, 11), slice(11, 13), 13
STEP, SLIGHT = 1e-3, 1e-20j
"""Step of a difference, in mm, and of a slope by an imaginary part."""
LOOSE, FAR = 0.01, 0.3
"""How far rods may be off their lengths, in mm, on the way to a state, and before their slopes are taken anew."""
AHEAD = np.eye(14, 15, k=1)[:, :, None] * STEP
BOTH = [[0, 0, 0, 0, 1, 2, 0, 0], [0, 0, 0, 0, 0, 0, 1, 2]]
"""For each axle which of its poses belongs to a column: as it is, or with its one or other travel a step further."""
WIDE = [*range(8), *[0] * 7]
MIRROR = np.array([1, -1, 1, -1, 1, -1])[:, None, None]


class Held(NamedTuple):
    """An axle on its rods: a live one as it is, of an independent one the left knuckle, in two copies."""

    rods: Rods
    unknown: list[int]
    scale: Array  # of the given coordinates: mm, and rad for an arc of a mm at a meter

    @property
    def given(self) -> list[int]:
        return [*GIVEN[: len(self.scale)]]

    @property
    def live(self) -> bool:
        return len(self.scale) == 2

    def of(self, states: Any) -> "Held":
        return self._replace(rods=self.rods.of(states))

    def at_rest(self, count: int) -> tuple[Array, Array]:
        """Return coordinates (rows, sides, states) and their derivatives by the travels (rows, travels, sides, states)."""
        q = np.zeros((6 + len(self.rods.cranks), 1 if self.live else 2, count))
        return q, self._slopes(q[:, None])[0][:, :, 0]

    def _slopes(self, q: Array) -> tuple[Array, Array]:
        """Return how places (rows, copies, sides, states) go with the travels, and what brings the rods to length."""
        shape, count, number = q.shape[1:], q.shape[-1], len(self.unknown)
        rods = self.rods.of(np.tile(np.arange(count), math.prod(shape) // count))
        found, jacobian = rods.evaluate(q.reshape(len(q), -1), [*self.unknown, *self.given])
        matrix = np.moveaxis(jacobian, -1, 0)
        right = np.concatenate([matrix[:, :, number:] * self.scale, found.T[:, :, None]], axis=2)
        solved = -solve_each(matrix[:, :, :number], right)  # (states, unknown, travels and correction)
        new = np.zeros((len(q), len(self.scale), *shape))
        new[self.unknown] = solved[..., :-1].transpose(1, 2, 0).reshape(number, -1, *shape)
        for column, (place, size) in enumerate(zip(self.given, self.scale, strict=True)):
            new[place, column] = size
        return new, solved[..., -1].T.reshape(number, *shape)

    def advance(self, q: Array, slopes: Array, travels: Array, further: bool) -> tuple[Array, Array, Array, Array]:
        """Go to new travels (2, states), with one correction of the rods' lengths; return q and its slopes there.

        And for both wheels the pose (6, wheels, columns, states) and its slopes (6, wheels, 2, columns, states) at these
        travels and, if asked, with one, then the other of them a :data:`STEP` further.
        """
        scale = self.scale[:, None, None]
        wanted = (travels[:, None] if self.live else travels[None]) * scale
        q = q + np.einsum("rgsn,gsn->rsn", slopes, (wanted - q[self.given]) / scale)
        q[self.given] = wanted
        for _ in range(2):  # once more where slopes would be those of rods far off their lengths
            places = [q[:, None], q[:, None] + STEP * slopes] if further else [q[:, None]]
            new, off = self._slopes(np.concatenate(places, axis=1))
            q[self.unknown] += off[:, 0]
            if not further or np.all(np.abs(off[:, 0]) < FAR):
                break
        slopes, at = new[:, :, 0], q[:6, None]
        if further:
            at = np.concatenate([at, at + STEP * slopes[:6]], axis=1)
        if self.live:
            count, places = travels.shape[-1], at.shape[1]
            pose = np.broadcast_to(at[:, None, :, 0], (6, 2, places, count))
            return q, slopes, pose, np.broadcast_to(new[:6, None, :, :, 0], (6, 2, 2, places, count))
        # Which of the two copies a wheel takes: the right wheel stands still while the left one goes on.
        which = np.array([[0, 1, 0], [0, 0, 1]])[:, : 3 if further else 1]
        pose = np.stack([at[:, which[side], side] for side in (0, 1)], axis=1)
        slope = np.zeros((6, 2, *pose.shape[1:]))
        for side in (0, 1):
            slope[:, side, side] = new[:6, 0, which[side], side]
        pose[:, 1] *= MIRROR
        slope[:, 1, 1] *= MIRROR
        return q, slopes, pose, slope

    def sound(self, before: Array, after: Array) -> Array:
        """Return for every state whether the rods have their lengths after a step, and no dead point lies within it."""
        q = np.stack([before, after], axis=1)
        rods = self.rods.of(np.tile(np.arange(q.shape[-1]), math.prod(q.shape[1:-1])))
        found, jacobian = rods.evaluate(q.reshape(len(q), -1), self.unknown)
        sides = np.linalg.det(np.moveaxis(jacobian, -1, 0)).reshape(q.shape[1:])
        off = np.max(np.abs(found), axis=0).reshape(q.shape[1:])[1]
        return np.all((sides[0] * sides[1] > 0) & (off < LOOSE), axis=0)


def solve_each(matrix: Array, right: Array) -> Array:
    """Solve for every state; not a number where a matrix is singular."""
    with np.errstate(all="ignore"):
        try:
            return np.linalg.solve(matrix, right)
        except np.linalg.LinAlgError:
            sound = np.abs(np.linalg.det(matrix)) > 0
            safe = np.where(sound[:, None, None], matrix, np.eye(matrix.shape[-1]))
            return np.where(sound[:, None, None], np.linalg.solve(safe, right), np.nan)


class Coils(NamedTuple):
    """An axle's left and right coil as lines; every array's last axes are (wheels, 1, .).

    Args:
        points: (points, 3, wheels, 1, .): seat, top, and the joints of the link or arm that carries the seat, from the middle
            of the part that carries the wheel, at rest, in the body's axes.
        rate, length, force: along the line; at rest the last two.
    """

    points: Array
    rate: Array
    length: Any = 0.0
    force: Any = 0.0

    def shorter(self, pose: Array, slopes: Array) -> tuple[Array, Array]:
        """Return lengths (wheels, columns, states), and how fast they shrink (wheels, travels, columns, states).

        For poses (6, wheels, columns, states) that change as slopes (6, wheels, travels, columns, states) say. The slope of a
        length is the imaginary part of the length of a place with a slight imaginary way along it (W. Squire and
        G. Trapp, SIAM Review 40, 1998, from memory): exact, since nothing is subtracted.
        """
        x, y, heave, *angles = pose[:, :, None] + SLIGHT * slopes
        roll, pitch, yaw = ((np.cos(angle), np.sin(angle)) for angle in angles)
        seat, top, *joints = self.points[:, :, :, None]

        def carried(point: Array) -> Vector:
            px, py, pz = about_x(roll, *spin(pitch, yaw, *point))
            return px + x, py + y, pz + heave

        end = swung([tuple(joint) for joint in joints], tuple(seat), carried(joints[-1])) if joints else carried(seat)
        length = np.sqrt(sum((a - b) ** 2 for a, b in zip(top, end, strict=True)))
        return length.real[:, 0], -length.imag / SLIGHT.imag

    def push(self, pose: Array, slopes: Array) -> Array:
        """Return each coil's force against each travel, (wheels, travels, columns, states)."""
        length, shorter = self.shorter(pose, slopes)
        return (self.force + self.rate * (self.length - length))[:, None] * shorter

    def loaded(self, pose: Array, slopes: Array, carried: Array) -> "Coils":
        """Return them with their lengths at rest, and the forces that there carry (travels, .) what the body weighs."""
        length, shorter = self.shorter(pose, slopes)
        matrix, right = np.moveaxis(shorter[:, :, 0], -1, 0).swapaxes(1, 2), carried.T[:, :, None]
        return self._replace(length=length, force=solve_each(matrix, right)[..., 0].T[:, None])


class Wheels(NamedTuple):
    """Wheels' centers, then the points where tires touch: where they are, and how they go with their axle's travels.

    Args:
        arms: (2, 3, wheels, columns, states), from the middle of the part that carries the wheel, in the body's axes.
        axes: (3, 3, columns, states), the ground's ahead, left and up in the body's axes.
        places: (2, 3, wheels, columns, states), over the ground: ahead, left, up.
        moves: (2, 2, wheels, travels, columns, states), to the left and up.
        springs: (axles, travels, columns, states), force against each travel.
        pose: (6, wheels, columns, states), of the part that carries the wheel, in the body's axes.
    """

    arms: Array
    axes: Array
    places: Array
    moves: Array
    springs: Array
    pose: Array


@dataclass(frozen=True, eq=False)
class Equations:
    """A car, or many, as equations; every array's last axis is the state's, or 1 where all states share it.

    Args:
        held: rear and front axle.
        middle: (3, wheels, 1, .), of the part that carries the wheel, at rest, from the body's center of gravity.
        arm: (wheels, 1, .), from there to the wheel's center, to the left.
        radius, own: (wheels, 1, .), of the tires, and the mass that moves with each wheel.
        preload, rates: (axles, travels, 1, .) and (axles, travels, travels, 1, .): the springs' force by travel, lines apart.
        coils: of each axle, where its file gives them as lines.
        mass, ahead, height: (1, .), of the car, and where the body's center of gravity is.
        standing: (wheels, .), the tires' loads at rest.
        by_load: whether an axle's tires share its side force in proportion to their loads, or equally.
        gravity: in m/s^2.
    """

    held: tuple[Held, Held]
    middle: Array
    arm: Array
    radius: Array
    own: Array
    preload: Array
    rates: Array
    coils: tuple[Coils | None, Coils | None]
    mass: Array
    ahead: Array
    height: Array
    standing: Array
    by_load: bool
    gravity: float

    def of(self, states: Any) -> "Equations":
        """Return the equations of some of the states."""

        def some(value: Any) -> Any:
            return value[..., states] if is_array(value) and value.shape[-1] > 1 else value

        kept = {name: each(some, value) for name, value in vars(self).items() if name != "held"}
        return Equations((self.held[0].of(states), self.held[1].of(states)), **kept)

    def alike(self, way: Array) -> tuple[Array, Array]:
        """Return the first state of each car and way, 1 or -1, and for every state the number of its car and way."""
        several = [held.rods.arrays for held in self.held] + [each or () for each in self.coils]
        arrays = filter(is_array, (*vars(self).values(), *itertools.chain(*several)))
        parts = [part for part in arrays if part.shape[-1] == len(way) > 1]
        rows = np.concatenate([way[None], *(part.reshape(-1, len(way)) for part in parts)])
        _, first, number = np.unique(rows, axis=1, return_index=True, return_inverse=True)
        return first, number.reshape(-1)

    def springs(self, travels: Array, pose: Array, slopes: Array) -> Array:
        """Return the springs' force against each travel, (axles, 2, ...), for travels (axles, 2, ...).

        The one place that knows what springs do, carrying the car at rest: by rate and spacing they are linear in the
        travels, and so are bars; coils as lines push along their lines.
        """
        force = self.preload + np.einsum("aij...,aj...->ai...", self.rates, travels)
        for number, coils in enumerate(self.coils):
            if coils:
                two = slice(2 * number, 2 * number + 2)
                force[number] += coils.push(pose[:, two], slopes[:, two]).sum(0)
        return force

    def wheels(self, pose: Array, slopes: Array, body: Array, travels: Array) -> Wheels:
        """Return the wheels for poses of the parts that carry them, and for the body's heave in mm, roll and pitch in rad.

        The tire is a thin disk: it touches at its lowest point, which for a small motion is a point of the part that
        carries the wheel.
        """
        (cp, ct), (sp, st) = np.cos(body[1:]), np.sin(body[1:])
        (cr, _, cy), (sr, _, sy) = np.cos(pose[3:]), np.sin(pose[3:])
        axes = np.stack([ct, st * sp, st * cp, 0 * cp, cp, -sp, -st, ct * sp, ct * cp]).reshape(3, 3, *body.shape[1:])
        spindle, up = np.stack([-sy, cr * cy, sr * cy]), axes[2][:, None]
        lean = np.sum(spindle * up, axis=0)
        down = (lean * spindle - up) / np.sqrt(1 - lean * lean)
        center = self.arm * spindle
        arms = np.stack([center, center + self.radius * down])
        places = np.einsum("kicn,piwcn->pkwcn", axes, self.middle + pose[:3] + arms)
        places[:, 0] += self.ahead
        places[:, 2] += self.height + body[Z]
        droll, dpitch, dyaw = slopes[3:]
        spin = np.stack([droll, -dyaw * sr[:, None], dyaw * cr[:, None]]) + dpitch * spindle[:, :, None]
        turned = np.stack(cross(spin[:, None], arms.swapaxes(0, 1)[:, :, :, None]))
        moves = np.einsum("kicn,ipwtcn->pkwtcn", axes[1:], slopes[:3, None] + turned)
        return Wheels(arms, axes, places, moves, self.springs(travels, pose, slopes), pose)

    def sides(self, loads: Array, axle_forces: Array) -> Array:
        """Return the side force on each tire, (wheels, ...), from that on each axle, (axles, ...)."""
        pairs = loads.reshape(2, 2, *loads.shape[1:])
        share = pairs / pairs.sum(1, keepdims=True) if self.by_load and self.gravity else 0.5 + 0 * pairs
        return (share * axle_forces[:, None]).reshape(loads.shape)

    def residual(self, found: Wheels, x: Array) -> Array:
        """Return what is left over in every equation, (13, columns, states); forces in N, lengths in mm.

        Side forces have no moment about x: they act on the ground, where z is zero by the last four.
        """
        loads, a, g = x[LOADS], x[ACCELERATION], self.gravity
        forces = self.sides(loads, x[SIDES])
        (cx, cy, cz), (px, py, pz) = found.places
        (cy_, cz_), (py_, pz_) = found.moves
        body, own = self.mass - self.own.sum(0), self.own
        work = loads[:, None] * pz_ + forces[:, None] * py_ - own[:, None] * (a * cy_ + g * cz_)
        parts = work.reshape(2, 2, *work.shape[1:]).sum(1) - found.springs
        return np.stack([
            forces.sum(0) - self.mass * a,
            loads.sum(0) - self.mass * g,
            ((py * loads + own * (a * cz - g * cy)).sum(0) + body * a * (self.height + x[Z])) / METER,
            ((own * g * cx - px * loads).sum(0) + body * g * self.ahead) / METER,
            ((px * forces - own * a * cx).sum(0) - body * a * self.ahead) / METER,
            *parts.reshape(4, *parts.shape[2:]), *pz,
        ])  # fmt: skip

    def linearized(self, state: "State", further: bool = True) -> tuple[Array, Array, "State", Wheels]:
        """Return the residual (13, states), its derivatives (13, 14, states), the state with rods corrected, its wheels.

        Without what is a :data:`STEP` further there are no derivatives: (13, 0, states).
        """
        columns = state.x[:, None] + (AHEAD if further else 0.0)
        x, which = (columns[:, :8], BOTH) if further else (columns, [[0], [0]])
        travels = x[TRAVELS].reshape(2, 2, *x.shape[1:])
        both = [held.advance(*state.axles[k], travels[k, :, 0], further) for k, held in enumerate(self.held)]
        pose = np.concatenate([each[2][:, :, at] for each, at in zip(both, which, strict=True)], axis=1)
        slopes = np.concatenate([each[3][:, :, :, at] for each, at in zip(both, which, strict=True)], axis=1)
        found = self.wheels(pose, slopes, x[:3] / [[[1]], [[METER]], [[METER]]], travels)
        wide = [part[..., WIDE, :] if further else part for part in (found.places, found.moves, found.springs)]
        rest = self.residual(found._replace(places=wide[0], moves=wide[1], springs=wide[2]), columns)
        new = State(state.x, (both[0][:2], both[1][:2]))
        return rest[:, 0], (rest[:, 1:] - rest[:, :1]) / STEP, new, Wheels(*(part[..., 0, :] for part in found))


class State(NamedTuple):
    """States on their way: unknowns (14, states), and for each axle its coordinates and their slopes."""

    x: Array
    axles: tuple[tuple[Array, Array], tuple[Array, Array]]


def each(change: Callable[..., Any], thing: Any, *others: Any) -> Any:
    """Return a tuple, named or not, with what a function makes of all arrays within it, and of the same in others."""
    if not isinstance(thing, tuple):
        return change(thing, *others)
    parts = [each(change, *same) for same in zip(thing, *others, strict=True)]
    return type(thing)(*parts) if hasattr(thing, "_fields") else tuple(parts)


def equations(car: Car, lateral: Scalar, sharing: str, gravity: float) -> tuple[Equations, tuple[int, ...]]:
    """Return a car's equations, and the shape of its states: the accelerations' and the car's own, broadcast."""
    if str(sharing) not in ("load", "equal"):
        raise SusgeoError(f"sharing is {sharing!r}; expected 'load' or 'equal'.")
    car, _ = whole(car), [axle_of(car, end) for end in ("rear", "front")]
    weight, shape = weighed(car), together(np.asarray(lateral), *dimensions(car).values())

    def flat(value: Scalar) -> Array:
        array = np.asarray(value, dtype=float)
        return np.broadcast_to(array, shape).reshape(-1) if array.ndim else array.reshape(1)

    def pile(rows: Any) -> Array:
        return np.stack(np.broadcast_arrays(*map(pile, rows))) if isinstance(rows, list) else np.atleast_1d(rows)

    mass, share, base = flat(weight.mass), flat(weight.front_share), flat(car.wheelbase)
    own = {end: flat(getattr(weight, f"{end}_unsprung_mass")) for end, _ in car.axles()}
    radius = {end: flat(axle.tire_radius) for end, axle in car.axles()}
    body = mass - own["rear"] - own["front"]
    ahead = (mass * share - own["front"]) * base / body
    height = (mass * flat(weight.cg_height) - own["rear"] * radius["rear"] - own["front"] * radius["front"]) / body
    held, preload, rates, wheels = [], [], [], []
    coils: list[Coils | None] = []
    for end, axle in car.axles():
        live = isinstance(axle, LiveAxle)
        springs, half = getattr(car, f"{end}_springs"), flat(axle.track) / 2
        rate, roll = flat(wheel_rate(springs, axle)), flat(roll_stiffness(springs, axle))
        load = mass * (share if end == "front" else 1 - share)
        carried = (load - own[end]) * gravity
        if np.any(rate <= 0):
            raise SusgeoError(f"The {end} springs have no rate, so nothing carries the body; expected one above zero.")
        coil = springs.coil
        if coil:  # a line pushes for itself; linear is what is left: the bar
            rate, roll = 0 * rate, flat(bar_stiffness(springs, axle))
        if isinstance(axle, LiveAxle):
            if not any(is_array(value) for line in axle.lines for value in line):
                axle.require_located()
            rods = held_axle(axle, heave=np.zeros(shape))[0]
            held.append(Held(rods, [*UNKNOWN, *range(6, 6 + len(rods.cranks))], np.array([1.0, 1 / METER])))
            preload.append([carried, 0.0])
            rates.append([[2 * rate, 0.0], [0.0, roll / METER**2]])
        else:
            rods, unknown, *_ = held_knuckle(axle, heave=np.zeros(shape))
            held.append(Held(rods, unknown, np.ones(1)))
            # In roll each wheel travels half a track: what the wheels' own rate leaves to it is the bar's.
            bar = roll / (2 * half) ** 2 - rate / 2
            preload.append([carried / 2, carried / 2])
            rates.append([[rate + bar, -bar], [-bar, rate + bar]])
        for side in (half, -half):
            arm, y = (side, 0.0) if live else (0.0, side)
            place = (base if end == "front" else 0.0) - ahead, y, radius[end] - height
            wheels.append([radius[end], own[end] / 2, load * gravity / 2, arm, *place])
        coils.append(None)
        if coil:
            pairs = zip(_coil_points(axle, coil, "left"), _coil_points(axle, coil, "right"), strict=True)
            places = [[[*map(flat, both)] for both in zip(*map(coordinates, two), strict=True)] for two in pairs]
            middles = pile([[0 * half, 0 * half], [0 * half, 0 * half] if live else [half, -half], [radius[end]] * 2])
            given = Coils((pile(places) - middles)[:, :, :, None], flat(coil.rate) + np.zeros((2, 1, 1)))
            start = held[-1].at_rest(max(1, held[-1].rods.count))
            _, _, pose, slopes = held[-1].advance(*start, np.zeros((2, start[0].shape[-1])), further=False)
            coils[-1] = given.loaded(pose, slopes, pile(preload[-1]))
            preload[-1] = [0 * carried, 0 * carried]
    radii, masses, standing, arms, *middle = (pile([*rows]) for rows in zip(*wheels, strict=True))
    made = Equations(
        (held[0], held[1]), pile(middle)[:, :, None], arms[:, None], radii[:, None],
        masses[:, None], pile(preload)[:, :, None], pile(rates)[:, :, :, None], (coils[0], coils[1]), mass, ahead, height, standing, sharing == "load", gravity,
    )  # fmt: skip
    return made, shape


def _coil_points(axle: Axle, at: Coil, side: Literal["left", "right"]) -> list[Point]:
    """Return one side's seat and top, and the joints of what carries the seat, if it is not the axle or knuckle itself."""
    joined = () if at.on in ("axle", "knuckle") else joints(carrier(axle, at, side))
    if side == "right" and not isinstance(axle, LiveAxle):
        joined = tuple(map(mirror, joined))
    whole = at if side == "left" else on_the_right(at)
    return [whole.axle, whole.chassis, *joined]
