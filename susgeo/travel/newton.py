"""Rods as arrays, and Newton's iteration along a path: the machine inside :mod:`susgeo.travel.live`.

A rigid part (axle, or knuckle) is held by rods, some of them by way of cranks. Its coordinates q are (x, y,
heave, roll, pitch, yaw, one turn for each crank); some are given, the others follow from the rods' lengths.

Each state is followed along the straight path from rest. A step is kept only if its second correction is at
most a quarter of the first (step control after P. Deuflhard, Newton Methods for Nonlinear Problems, Springer
2004, chapter 5; from memory), if nothing turned by more than half a radian in it, and if the determinant kept
its sign; otherwise it is halved. So a state beyond a dead point is never reached by a leap, and is marked.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..car.rods import METER, RANK_TOLERANCE
from ..errors import LinkageError
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, cos, degrees, finite, is_array, is_symbolic, sin, together
from ..geometry.space import Point

Array = NDArray[Any]
Part = Literal["axle", "chassis"]
Vector = tuple[Scalar, Scalar, Scalar]
Turn = tuple[Scalar, Scalar]
"""Cosine and sine of an angle."""
X, Y, HEAVE, ROLL, PITCH, YAW = range(6)
RESIDUAL = 1e-10
"""Newton stops when every rod has its length within this, in mm (with a rod too many: when nothing moves)."""
CORRECTIONS = 12
CONTRACTION = 0.25
LARGEST_TURN = 0.5
SMALLEST_STEP, SMALLEST_BINDING_STEP = 2.0**-20, 2.0**-6
"""Where so small a step along the path from rest fails, the linkage ends; with a rod too many, it jams."""
BLOCK = 3000
"""States solved together: as many as fit a processor's cache, so that cost stays linear."""


class Crank(NamedTuple):
    """A crank on a fore-and-aft pin: its pivot, the part that carries it, and its joints as (rod, end)."""

    pivot: Point
    on: Part
    joints: tuple[tuple[int, Part], ...]


def turn(angle: Scalar) -> Turn:
    """Return the cosine and sine of an angle."""
    return cos(angle), sin(angle)


def spin(pitch: Turn, yaw: Turn, x: Scalar, y: Scalar, z: Scalar) -> Vector:
    """Turn a vector by pitch, then by yaw: from the axle to ground axes."""
    x, z = x * pitch[0] + z * pitch[1], z * pitch[0] - x * pitch[1]
    return x * yaw[0] - y * yaw[1], x * yaw[1] + y * yaw[0], z


def about_x(angle: Turn, x: Scalar, y: Scalar, z: Scalar) -> Vector:
    """Turn a vector about the x axis; by the roll: from ground to body axes."""
    return x, y * angle[0] - z * angle[1], y * angle[1] + z * angle[0]


def floats(*values: Scalar) -> Iterator[Any]:
    """Yield numbers as floats: a fraction would make an array one of objects."""
    return (np.asarray(value, dtype=float)[()] for value in values)


@dataclass(frozen=True, eq=False)
class Rods:
    """All rods as arrays: ends on axle and chassis, (3, rods, states or 1), from the wheel center at rest.

    ``slides`` are unit vectors fixed to the axle, one for each of the last rows. Such a row keeps the joint
    on the chassis in the plane square to it through the joint on the axle: half of what a strut does.
    ``as_one`` are two rods, one after the other, that count as one: the sum of their lengths is kept.
    """

    axle: Array
    chassis: Array
    cranks: tuple[tuple[Array, Crank], ...] = ()
    slides: Array | None = None
    as_one: tuple[int, int] | None = None

    @property
    def count(self) -> int:
        """How many states have rods of their own; one if all share the same."""
        return max(values.shape[-1] for values in self.arrays)

    @property
    def arrays(self) -> tuple[Array, ...]:
        """All arrays that may differ from state to state."""
        pivots = (pin for pin, _ in self.cranks)
        return (self.axle, self.chassis, *pivots, *(() if self.slides is None else (self.slides,)))

    def of(self, states: Any) -> "Rods":
        """Return the rods of some of the states."""
        if self.count == 1:
            return self

        def some(values: Array) -> Array:
            return values if values.shape[-1] == 1 else values[..., states]

        cranks = tuple((some(pivot), crank) for pivot, crank in self.cranks)
        slides = None if self.slides is None else some(self.slides)
        return Rods(some(self.axle), some(self.chassis), cranks, slides, self.as_one)

    @cached_property
    def lengths(self) -> Array:
        """What every row measures at rest."""
        return self._measure(self.at_rest, ())[0]

    @property
    def at_rest(self) -> Array:
        """Coordinates at rest: zeros, for one state, or for as many as have rods of their own."""
        return np.zeros((6 + len(self.cranks), self.count))

    def evaluate(self, q: Array, columns: Sequence[int], room: Array | None = None) -> tuple[Array, Array]:
        """Return the rods' stretch, (rows, states), and its derivatives by q, (rows, columns, states).

        The derivatives are written into ``room``, where given: fresh memory costs more than the arithmetic.
        """
        measured, jacobian = self._measure(q, columns, room)
        found = measured - self.lengths
        if self.as_one is None:
            return found, jacobian
        one, other = self.as_one
        return tuple(  # type: ignore[return-value]
            np.concatenate([rows[:one], rows[one : one + 1] + rows[other : other + 1], rows[other + 1 :]])
            for rows in (found, jacobian)
        )

    def _measure(self, q: Array, columns: Sequence[int], room: Array | None = None) -> tuple[Array, Array]:
        x, y, heave = q[:3]
        back, pitch, yaw = zip(np.cos(q[3:6]), np.sin(q[3:6]) * [[-1], [1], [1]], strict=True)
        ends = {"axle": self.axle, "chassis": self.chassis}
        shape = (self.axle.shape[1], max(self.count, q.shape[1]))
        swept, inner = [], []
        if self.cranks:
            ends = {part: np.array(np.broadcast_to(end, (3, *shape))) for part, end in ends.items()}
        for number, (pivot, crank) in enumerate(self.cranks, 6):
            for rod, end in crank.joints:
                turned = np.cos(q[number]), np.sin(q[number])
                _, ry, rz = arm = about_x(turned, *(ends[end][:, rod] - pivot))
                ends[end][:, rod] = pivot + arm
                swept.append((number, rod, end, crank.on, (0 * ry, -rz, ry)))
                inner += [rod] if end != crank.on else []  # A Mumford linkage's center link ends on no axle.

        def tilt(points: Array) -> Vector:
            return about_x(back, points[0] - x, points[1] - y, points[2] - heave)

        room = (np.empty((len(columns) + 6, *shape)) if room is None else room)[..., : shape[1]]
        places = *spin(pitch, yaw, *ends["axle"]), *tilt(ends["chassis"])
        for part, value in zip(room[-6:], places, strict=True):
            part[...] = value
        u = room[-6:-3]
        ux, uy, uz = u
        bx, by, bz = room[-3:]
        if inner:
            u[:, inner] = tilt(ends["axle"][:, inner])
        u -= room[-3:]
        measured = np.sqrt(ux * ux + uy * uy + uz * uz)
        first = shape[0] if self.slides is None else shape[0] - self.slides.shape[1]
        u[:, :first] /= measured[:first]
        if self.slides is not None:
            across = np.stack(np.broadcast_arrays(*spin(pitch, yaw, *self.slides)))
            measured[first:] = np.sum(u[:, first:] * across, axis=0)
            u[:, first:] = across
        # Direction and moment about the wheel center, a rod's row as in susgeo.car.rods, on each motion's axis.
        (cr, sr), (cy, sy) = back, yaw
        rows = (
            lambda: ux, lambda: uy * cr + uz * sr, lambda: uz * cr - uy * sr, lambda: by * uz - bz * uy,
            lambda: (bz * ux - bx * uz) * cy - (by * uz - bz * uy) * sy, lambda: bx * uy - by * ux,
        )  # fmt: skip
        jacobian = room[:-6].swapaxes(0, 1)
        for place, column in enumerate(columns):
            jacobian[:, place] = rows[column]() if column < 6 else 0.0
        jacobian[inner] = 0.0
        for number, rod, end, part, arm in swept:
            if number in columns:
                way = spin(pitch, yaw, *arm) if part == "axle" else about_x(back, *arm)
                along = np.sum(u[:, rod] * np.stack(way), axis=0)
                jacobian[rod, columns.index(number)] += along if end == "axle" else -along
        return measured, jacobian


def newton(jacobian: Array, right: Array, weights: Array | None = None) -> tuple[Array, Array]:
    """Solve J d = -right for every state, by least squares where J has rows to spare.

    Returns d and the determinant; not finite where J is singular. Elimination by rows, all states at once;
    two rows change places where the pivot is less than a quarter of another candidate.
    """
    count = jacobian.shape[1]
    if len(jacobian) > count and weights is not None:
        heavy = jacobian * weights[:, None, None]
        right = np.einsum("rin,rn->in", heavy, right)
        jacobian = np.einsum("rin,rjn->ijn", heavy, jacobian)
    rows = list(np.concatenate([jacobian, right[:, None]], axis=1))
    determinant: Any = 1.0
    for i in range(count):
        for k in range(i + 1, count):
            swap = np.abs(rows[k][i]) > 4 * np.abs(rows[i][i])
            if np.any(swap):
                rows[i], rows[k] = np.where(swap, rows[k], rows[i]), np.where(swap, rows[i], rows[k])
                determinant = np.where(swap, -determinant, determinant)
        pivot = rows[i][i]
        determinant = determinant * pivot
        for k in range(i + 1, count):
            rows[k][i + 1 :] -= rows[i][i + 1 :] * (rows[k][i] / pivot)
    change = np.empty((count, right.shape[1]))
    for i in reversed(range(count)):
        known = sum(rows[i][j] * change[j] for j in range(i + 1, count))
        change[i] = -(rows[i][count] + known) / rows[i][i]
    return change, determinant


def follow(
    rods: Rods, unknown: Sequence[int], given: Sequence[int], target: Array, weights: Array | None = None
) -> tuple[Array, Array, Array]:
    """Follow every state from rest to its target; return coordinates, stretch, and whether it arrived.

    Args:
        rods: of the linkage.
        unknown, given: numbers of coordinates; the cranks' turns are unknown besides. The rest stay zero.
        target: the given coordinates, (given, states); a state with nan is not followed.
        weights: of the rods, (rods,), where there are more than unknowns.

    Raises:
        LinkageError: the linkage is not located, or stands at a dead point at rest.
    """
    unknown, given = [*unknown, *range(6, 6 + len(rods.cranks))], [*given]
    jacobian = rods.evaluate(rods.at_rest, unknown)[1]
    scaled = np.moveaxis(jacobian, -1, 0) / [1.0 if i < ROLL else METER for i in unknown]
    values = np.linalg.svd(scaled, compute_uv=False)
    dead = len(values) == 1 and values[0, -1] < RANK_TOLERANCE * values[0, 0]
    if dead or len(jacobian) < len(unknown):
        raise LinkageError(
            "At rest this linkage stands at a dead point, or its rods leave a movement free beside heave and "
            "roll; look for a missing rod, a crank in line with its rods, two rods along one line."
        )
    count = target.shape[1]
    blocks = np.array_split(np.arange(count), max(1, -(-count // BLOCK)))
    found = [_follow(rods.of(b), unknown, given, target[:, b], weights) for b in blocks]
    q, stretch, reached = (np.concatenate(parts, axis=-1) for parts in zip(*found, strict=True))
    return q, stretch, reached


@np.errstate(all="ignore")
def _follow(
    rods: Rods, unknown: list[int], given: list[int], target: Array, weights: Array | None
) -> tuple[Array, Array, Array]:
    number, count, columns = len(unknown), target.shape[1], [*unknown, *given]
    found, jacobian = rods.evaluate(rods.at_rest, columns)
    exact = number == len(found)
    smallest = SMALLEST_STEP if exact else SMALLEST_BINDING_STEP
    scale = np.array([1.0 if i < ROLL else METER for i in unknown])[:, None]
    q, stretch = np.zeros((6 + len(rods.cranks), count)), np.full((len(found), count), np.nan)
    here, step, room = np.zeros(count), np.ones(count), np.empty((len(columns) + 6, len(rods.lengths), count))

    def ahead_of(jacobian: Array, goal: Array) -> Array:
        """Return how the unknowns change along the path from rest."""
        slopes = (newton(jacobian[:, :number], row, weights)[0] for row in jacobian[:, number:].swapaxes(0, 1))
        return sum(slope * part for slope, part in zip(slopes, goal, strict=True))

    side = np.broadcast_to(newton(jacobian[:, :number], found, weights)[1], count)
    tangent = ahead_of(jacobian, target)
    live = np.isfinite(target).all(axis=0)
    while np.any(live):
        states = slice(None) if np.all(live) else np.flatnonzero(live)
        some, start, goal, left = rods.of(states), q[:, states], target[:, states], 1 - here[states]
        ahead = np.minimum(step[states], left)
        trial, kept = start.copy(), np.ones(len(ahead), dtype=bool)
        trial[given] = (1 - (left - ahead)) * goal
        trial[unknown] += ahead * tangent[:, states]
        for correction in range(CORRECTIONS):
            found, jacobian = some.evaluate(trial, columns, room)
            done = np.max(np.abs(found), axis=0) <= RESIDUAL
            change, determinant = newton(jacobian[:, :number], found, weights)
            moved = np.max(np.abs(scale * change), axis=0)
            done = done if exact else moved <= RESIDUAL
            if correction == 0:
                first = moved
            elif correction == 1:
                kept = (moved <= CONTRACTION * first) | done
            if np.all(done | ~kept):
                break
            trial[unknown] += change
        kept &= done & (determinant * side[states] > 0)
        kept &= np.max(np.abs(trial[ROLL:] - start[ROLL:]), axis=0) <= LARGEST_TURN
        q[:, states], stretch[:, states] = np.where(kept, trial, start), found
        here[states] = np.where(kept, 1 - (left - ahead), 1 - left)
        step[states] = np.where(kept, 2 * ahead, ahead / 2)
        more = kept & (ahead < left)
        if np.any(more):
            tangent[:, np.flatnonzero(live)[more]] = ahead_of(jacobian[..., more], goal[:, more])
        live &= (here < 1) & (step >= smallest)
    reached = here == 1
    if not np.all(reached):
        q[:, ~reached], stretch[:, ~reached] = np.nan, np.nan
    return q, stretch, reached


def stack(points: Sequence[Point], middle: Vector, shape: tuple[int, ...]) -> Array:
    """Return coordinates from a middle as (3, points, states), or (3, points, 1) if no point is an array."""
    values = [[a - b for a, b in zip(coordinates(point), middle, strict=True)] for point in points]
    if not any(is_array(value) for point in values for value in point):
        return np.array(values, dtype=float).T[:, :, None]
    flat = [[np.broadcast_to(np.asarray(v, dtype=float), shape).reshape(-1) for v in point] for point in values]
    return np.moveaxis(np.array(flat), 1, 0)


def grid(points: Sequence[Point], **given: Scalar) -> tuple[tuple[int, ...], Array]:
    """Return the shape of all states, and the given coordinates as (given, states)."""
    if any(map(is_symbolic, (*given.values(), *(value for point in points for value in point)))):
        raise LinkageError("Travel is solved in numbers; put a number in the place of every symbol first.")
    values = [np.asarray(finite(np.asarray(v) if np.ndim(v) else v, name), dtype=float) for name, v in given.items()]
    shape = together(*values, *(value for point in points for value in point))
    return shape, np.array([np.broadcast_to(value, shape).reshape(-1) for value in values])


def require(reached: Any, heave: Scalar, roll: Scalar = 0.0) -> None:
    """Raise :class:`LinkageError` for a single state that was not reached."""
    if not np.ndim(reached) and not reached:
        raise LinkageError(
            f"The linkage cannot reach a heave of {heave:.6g} mm with {degrees(roll):.4g} degrees of roll: "
            "it jams or comes to a dead point before."
        )
