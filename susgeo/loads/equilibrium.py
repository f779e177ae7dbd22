"""The equations of a steady corner, and their path from rest: the machine inside :mod:`susgeo.loads.corner`.

Unknown are the body's heave, roll and pitch, two travels of each axle (heave and roll of a live one, left and right
wheel of an independent one), four tire loads and two side forces. As many equations: the whole car as a free body
(sideways, upright, three moments), each axle by virtual work along its travels, four tires on the ground.
How an axle's position changes with its travels comes from its rods' matrix, by implicit differentiation, so that
no force of a link appears; jacking is in that derivative.

Angles are kept as arcs at a meter, so that every unknown place is in mm. Derivatives of the equations are differences
of a thousandth of a millimeter: the equations themselves are exact, and Newton's iteration meets them.
"""

from dataclasses import dataclass
from typing import Any, NamedTuple, cast

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car, weighed
from ..car.pickup import dimensions
from ..car.rods import METER
from ..errors import SusgeoError
from ..geometry.scalars import Scalar, is_array
from ..travel.live import GIVEN, UNKNOWN, held_axle
from ..travel.newton import Array, Rods
from ..travel.wheel import held_knuckle
from .springs import roll_stiffness, wheel_rate

WHEELS = ("rear left", "rear right", "front left", "front right")


Z, PHI, THETA = range(3)
TRAVELS, LOADS, SIDES, ACCELERATION = slice(3, 7), slice(7, 11), slice(11, 13), 13
STEP = 1e-3
"""Step of a difference, in mm."""


AHEAD = np.eye(14, 15, k=1)[:, :, None] * STEP
MIRROR = np.array([1, -1, 1, -1, 1, -1])[:, None, None]


class Held(NamedTuple):
    """An axle on its rods: a live one as it is, of an independent one the left knuckle."""

    rods: Rods
    unknown: list[int]
    scale: Array  # of the given coordinates: mm, and rad for an arc of a mm at a meter

    @property
    def given(self) -> tuple[int, ...]:
        return GIVEN[: len(self.scale)]

    @property
    def live(self) -> bool:
        return len(self.scale) == 2

    def of(self, states: Any) -> "Held":
        return self._replace(rods=self.rods.of(states))

    def at_rest(self, count: int) -> tuple[Array, Array]:
        """Return coordinates and their derivatives by the travels; the first are right, the second a start."""
        many = count if self.live else 2 * count
        return np.zeros((6 + len(self.rods.cranks), many)), np.zeros((6 + len(self.rods.cranks), len(self.scale), many))

    def advance(self, q: Array, slopes: Array, travels: Array) -> tuple[Array, Array, Array, Array]:
        """Go to new travels (2, states), with one correction of the rods' lengths; return q and its slopes there.

        And for both wheels the pose (6, wheels, 3, states) and its slopes (6, wheels, 2, 3, states) at these travels,
        and with one, then the other of them a :data:`STEP` further.
        """
        count, given = travels.shape[-1], list(self.given)
        wanted = travels if self.live else travels.reshape(1, -1)
        change = wanted - q[given] / self.scale[:, None]
        q = q + np.einsum("rgm,gm->rm", slopes, change)
        q[given] = wanted * self.scale[:, None]
        ahead = np.concatenate([q[:, None], q[:, None] + STEP * slopes], axis=1)
        copies, many = ahead.shape[1], q.shape[1]
        rods = self.rods.of(np.tile(np.arange(count), copies * many // count))
        found, jacobian = rods.evaluate(ahead.reshape(len(q), -1), [*self.unknown, *given])
        number = len(self.unknown)
        matrix = np.moveaxis(jacobian, -1, 0)
        right = np.concatenate([matrix[:, :, number:] * self.scale, found.T[:, :, None]], axis=2)
        solved = -solve_each(matrix[:, :, :number], right)  # (states, unknown, travels and correction)
        q[self.unknown] += solved[:many, :, -1].T
        new = np.zeros((*slopes.shape[:2], copies, many))
        new[self.unknown] = solved[..., :-1].reshape(copies, many, number, -1).transpose(2, 3, 0, 1)
        for column, (place, size) in enumerate(zip(given, self.scale, strict=True)):
            new[place, column] = size
        at = q[:6, None] + STEP * np.concatenate([0 * new[:6, :1, 0], new[:6, :, 0]], axis=1)
        if self.live:
            pose = np.broadcast_to(at[:, None], (6, 2, 3, count))
            return q, new[:, :, 0], pose, np.broadcast_to(new[:6, None], (6, 2, 2, 3, count))
        # Which of the two copies a wheel takes: the right wheel stands still while the left one goes on.
        which = np.array([[0, 1, 0], [0, 0, 1]])
        at, turned = at.reshape(6, 2, 2, count), new[:6, 0].reshape(6, 2, 2, count)
        pose = np.stack([at[:, which[side], side] for side in (0, 1)], axis=1)
        slope = np.zeros((6, 2, 2, 3, count))
        for side in (0, 1):
            slope[:, side, side] = turned[:, which[side], side]
        pose[:, 1] *= MIRROR
        slope[:, 1, 1] *= MIRROR
        return q, new[:, :, 0], pose, slope


def solve_each(matrix: Array, right: Array) -> Array:
    """Solve for every state; not a number where a matrix is singular."""
    with np.errstate(all="ignore"):
        try:
            return np.linalg.solve(matrix, right)
        except np.linalg.LinAlgError:
            sound = np.abs(np.linalg.det(matrix)) > 0
            safe = np.where(sound[:, None, None], matrix, np.eye(matrix.shape[-1]))
            return np.where(sound[:, None, None], np.linalg.solve(safe, right), np.nan)


def dot(one: Any, other: Any) -> Array:
    """Return the scalar product of vectors given by components."""
    return cast(Array, one[0] * other[0] + one[1] * other[1] + one[2] * other[2])


def cross(one: Any, other: Any) -> tuple[Array, ...]:
    """Return the vector product of vectors given by components."""
    (a, b, c), (x, y, z) = one, other
    return b * z - c * y, c * x - a * z, a * y - b * x


@dataclass(frozen=True, eq=False)
class Equations:
    """A car, or many, as equations; every array's last axis is the state's, or 1 where all states share it.

    Args:
        held: rear and front axle.
        middle: (3, wheels, 1, .), of the part that carries the wheel, at rest, from the body's center of gravity.
        arm: (wheels, 1, .), from there to the wheel's center, to the left.
        radius, own: (wheels, 1, .), of the tires, and the mass that moves with each wheel.
        preload, rates: (axles, travels, 1, .) and (axles, travels, travels, 1, .): the springs' force by travel.
        mass, ahead, height: (1, .), of the car, and where the body's center of gravity is.
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
    mass: Array
    ahead: Array
    height: Array
    by_load: bool
    gravity: float

    def of(self, states: Any) -> "Equations":
        """Return the equations of some of the states."""

        def some(value: Any) -> Any:
            return value[..., states] if is_array(value) and value.shape[-1] > 1 else value

        kept = {name: some(value) for name, value in vars(self).items()}
        return Equations(**kept | {"held": tuple(each.of(states) for each in self.held)})

    def springs(self, travels: Array) -> Array:
        """Return the springs' force against each travel: (axles, 2, ...) for travels (axles, 2, ...).

        The one place that knows what springs do: linear here, and carrying the car at rest.
        """
        return self.preload + np.einsum("aij...,aj...->ai...", self.rates, travels)

    def wheels(self, pose: Array, slopes: Array, body: Array) -> dict[str, Any]:
        """Return where tires touch and wheel centers are, over the ground, and how they go with their axle's travels.

        ``body`` is its heave in mm, roll and pitch in rad. The tire is a thin disk: it touches at its lowest point,
        which for a small motion is a point of the part that carries the wheel.
        """
        x, y, heave, roll, pitch, yaw = pose
        lift, (cp, ct), (sp, st) = body[Z], np.cos(body[1:]), np.sin(body[1:])
        ahead, left, up = (ct, st * sp, st * cp), (0.0, cp, -sp), (-st, ct * sp, ct * cp)
        cr, sr, cy, sy = np.cos(roll), np.sin(roll), np.cos(yaw), np.sin(yaw)
        spindle, upright = (-sy, cr * cy, sr * cy), (0.0, -sr, cr)
        lean = dot(spindle, up)
        size = 1 / np.sqrt(1 - lean * lean)
        center = [self.arm * part for part in spindle]
        patch = [c + self.radius * size * (lean * part - way) for c, part, way in zip(center, spindle, up, strict=True)]
        middle = [rest + shift for rest, shift in zip(self.middle, (x, y, heave), strict=True)]
        dx, dy, dz, droll, dpitch, dyaw = slopes
        spin = [
            droll + dpitch * spindle[0][:, None],
            dpitch * spindle[1][:, None] - dyaw * sr[:, None],
            dpitch * spindle[2][:, None] + dyaw * cr[:, None],
        ]
        found: dict[str, Any] = {"arms": (center, patch), "axes": (spindle, upright), "over": (left, up)}
        found["rise"] = heave + center[2]
        for name, arm in (("center", center), ("patch", patch)):
            place = [a + b for a, b in zip(middle, arm, strict=True)]
            found[name] = (
                self.ahead + dot(ahead, place), dot(left, place), self.height + lift + dot(up, place)
            )  # fmt: skip
            moves = [a + b for a, b in zip((dx, dy, dz), cross(spin, [part[:, None] for part in arm]), strict=True)]
            found[f"{name} moves"] = dot(left, moves), dot(up, moves)
        return found

    def sides(self, loads: Array, axle_forces: Array) -> Array:
        """Return the side force on each tire, (wheels, ...), from that on each axle, (axles, ...)."""
        pairs = loads.reshape(2, 2, *loads.shape[1:])
        share = pairs / pairs.sum(1, keepdims=True) if self.by_load and self.gravity else 0.5 + 0 * pairs
        return (share * axle_forces[:, None]).reshape(loads.shape)

    def residual(self, found: dict[str, Any], x: Array) -> Array:
        """Return what is left over in every equation, (13, columns, states); forces in N, lengths in mm."""
        travels, loads, a, g = x[TRAVELS], x[LOADS], x[ACCELERATION], self.gravity
        forces = self.sides(loads, x[SIDES])
        (px, py, pz), (cx, cy, cz) = found["patch"], found["center"]
        (py_, pz_), (cy_, cz_) = found["patch moves"], found["center moves"]
        body, own = self.mass - self.own.sum(0), self.own
        work = loads[:, None] * pz_ + forces[:, None] * py_ - own[:, None] * (a * cy_ + g * cz_)
        springs = self.springs(travels.reshape(2, 2, *travels.shape[1:]))
        parts = work.reshape(2, 2, *work.shape[1:]).sum(1) - springs
        return np.stack([
            forces.sum(0) - self.mass * a,
            loads.sum(0) - self.mass * g,
            ((py * loads - pz * forces + own * (a * cz - g * cy)).sum(0) + body * a * (self.height + x[Z])) / METER,
            ((own * g * cx - px * loads).sum(0) + body * g * self.ahead) / METER,
            ((px * forces - own * a * cx).sum(0) - body * a * self.ahead) / METER,
            *parts.reshape(4, *parts.shape[2:]), *pz,
        ])  # fmt: skip

    def linearized(self, state: "State") -> tuple[Array, Array, "State", dict[str, Any]]:
        """Return the residual (13, states), its derivatives (13, 14, states), the state with rods corrected, its wheels."""
        x, axles = state.x, []
        poses, slopes = [], []
        for number, held in enumerate(self.held):
            travels = x[TRAVELS][2 * number : 2 * number + 2]
            q, slope, pose, turned = held.advance(*state.axles[number], travels)
            order = [0, 0, 0, 0, *((1, 2, 0, 0) if number == 0 else (0, 0, 1, 2))]
            poses.append(pose[:, :, order])
            slopes.append(turned[:, :, :, order])
            axles.append((q, slope))
        columns = x[:, None] + AHEAD
        body = columns[:3, :8] * np.array([1, 1 / METER, 1 / METER])[:, None, None]
        found = self.wheels(np.concatenate(poses, axis=1), np.concatenate(slopes, axis=1), body)
        order = [*range(8), *[0] * 7]
        wide = {
            name: tuple(np.broadcast_to(part, (*part.shape[:-2], 8, x.shape[-1]))[..., order, :] for part in found[name])
            for name in ("patch", "center", "patch moves", "center moves")
        }  # fmt: skip
        rest = self.residual(wide, columns)
        return rest[:, 0], (rest[:, 1:] - rest[:, :1]) / STEP, State(x, (axles[0], axles[1])), found


class State(NamedTuple):
    """States on their way: unknowns (14, states), and for each axle its coordinates and their slopes."""

    x: Array
    axles: tuple[tuple[Array, Array], tuple[Array, Array]]

    def of(self, states: Any) -> "State":
        """Return some of the states."""
        both = [_pairs(self.axles[k], self.x.shape[-1], states) for k in (0, 1)]
        return State(self.x[:, states], (both[0], both[1]))

    def put(self, states: Any, new: "State") -> None:
        """Put new states in the place of some."""
        self.x[:, states] = new.x
        for old, other in zip(self.axles, new.axles, strict=True):
            for target, values in zip(old, other, strict=True):
                count = target.shape[-1] // self.x.shape[-1]
                shape = (*target.shape[:-1], count, -1)
                target.reshape(shape)[..., states] = values.reshape(shape)


def _pairs(axle: tuple[Array, Array], count: int, states: Any) -> tuple[Array, Array]:
    """Return the columns of some states; an independent axle has those of all left wheels first."""
    some = []
    for values in axle:
        sides = values.shape[-1] // count
        some.append(values.reshape(*values.shape[:-1], sides, count)[..., states].reshape(*values.shape[:-1], -1))
    return some[0], some[1]


def equations(car: Car, lateral: Scalar, by_load: bool, gravity: float) -> tuple[Equations, tuple[int, ...]]:
    """Return a car's equations, and the shape of its states: the accelerations' and the car's own, broadcast."""
    if not isinstance(car.rear, LiveAxle) or car.front is None:
        raise SusgeoError(
            "A corner needs a live axle behind and an axle in front; add the missing table to the car's file."
        )
    weight, sizes = weighed(car), [value for value in dimensions(car).values() if is_array(value)]
    shape = np.broadcast_shapes(np.shape(lateral), *(value.shape for value in sizes))

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
    held, middles, arms, preload, rates = [], [], [], [], []
    for end, axle in car.axles():
        springs, half = getattr(car, f"{end}_springs"), flat(axle.track) / 2
        rate, roll = flat(wheel_rate(springs, axle)), flat(roll_stiffness(springs, axle))
        carried = (mass * (share if end == "front" else 1 - share) - own[end]) * gravity
        if np.any(rate <= 0):
            raise SusgeoError(f"The {end} springs have no rate, so nothing carries the body; expected one above zero.")
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
        live = isinstance(axle, LiveAxle)
        for side in (half, -half):
            arms.append(side if live else 0.0)
            middles.append([(base if end == "front" else 0.0) - ahead, 0.0 if live else side, radius[end] - height])
    ends = [end for end, _ in car.axles() for _ in (1, 2)]
    made = Equations(
        (held[0], held[1]), np.swapaxes(pile(middles), 0, 1)[:, :, None], pile(arms)[:, None],
        pile([radius[end] for end in ends])[:, None], pile([own[end] / 2 for end in ends])[:, None],
        pile(preload)[:, :, None], pile(rates)[:, :, :, None], mass, ahead, height, by_load, gravity,
    )  # fmt: skip
    return made, shape
