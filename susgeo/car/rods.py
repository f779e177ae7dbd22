"""The axle on its rods as linear algebra: one row for each rod, and the motions that all rows allow.

A rod with line (d, m) lets a body move with angular velocity w and velocity v of the origin when d.v + m.w =
0. The rows stacked are a matrix J with columns (v, w). Its null space holds the axle's free motions relative
to the body; its transpose turns rod forces into the wrench they put on the axle. Moments and angular
velocities are scaled by one meter so that rank does not depend on the unit of length.

Source: screw theory as in any textbook of mechanism kinematics; signs derived here (ISO 8855 axes).
"""

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ..errors import LinkageError, UndefinedError
from ..geometry.dual import Dual
from ..geometry.scalars import ROUNDING, Scalar, choose, dot, is_symbolic, plain, quotient, settle, sqrt
from ..geometry.space import Line

METER = 1000.0
RANK_TOLERANCE = 1e-5
"""A singular value below this share of the largest counts as zero: 0.01 mm in a linkage of a meter."""
HOLD = 0.01
"""Below this share an axle counts as not held, as by a bar that stands upright: 1 mm of play would be 100 mm of way."""
Array = NDArray[np.float64]
MOVEMENTS = ("fore and aft", "sideways", "up and down", "in roll", "in pitch", "in yaw")


def matrix(lines: Sequence[Line]) -> Array:
    """Return J, shape (..., rods, 6), columns (vx, vy, vz, wx, wy, wz), rows scaled to unit direction.

    Lines whose coordinates are arrays give a matrix for each element. Letters, and numbers that carry their
    derivatives, are refused.
    """
    if any(isinstance(part, Dual) or is_symbolic(part) for line in lines for part in line):
        raise LinkageError("The rods' matrix is for numbers and arrays; put numbers in the place of letters.")
    columns = np.broadcast_arrays(*(np.asarray(part, dtype=float) for line in lines for part in line))
    rows = np.stack(columns, axis=-1).reshape(*columns[0].shape, len(lines), 6)
    with np.errstate(invalid="ignore", divide="ignore"):  # a line that is undefined in an array
        rows = rows / np.linalg.norm(rows[..., :3], axis=-1, keepdims=True)
    rows[..., 3:] /= METER
    return rows


def rank(lines: Sequence[Line]) -> Any:
    """Return how many of the rods locate independently: 4 leaves a live axle heave and roll, nothing else.

    Zero at the elements of an array that are nan.
    """
    rows = matrix([Line(*map(plain, line)) for line in lines])
    sound = np.asarray(np.isfinite(rows).all(axis=(-2, -1)))
    rows = np.where(sound[..., None, None], rows, 0.0)
    found = np.linalg.matrix_rank(rows, rtol=RANK_TOLERANCE)
    return found if found.ndim else int(found)


def null_space(lines: Sequence[Line]) -> Array:
    """Return an orthonormal basis, shape (6 - rank, 6), of the motions that no rod resists."""
    _, values, rows = np.linalg.svd(matrix(lines))
    return rows[int(np.sum(values > RANK_TOLERANCE * values.max())) :]


def leaves_heave_and_roll(lines: Sequence[Line]) -> Any:
    """Tell whether heave and roll decide the axle's motion, so that no third movement is free beside them.

    Nor nearly free (:data:`HOLD`). Rank 4 alone does not say so: two pairs of links, both parallel in plan and not
    to each other from the side, hold the axle in four ways, roll among them, and leave it free sideways.
    """
    rows = matrix(lines)[..., [0, 1, 4, 5]]
    arms = rows[..., 2:]  # lengths: measured by the longest, so that a model of an axle counts as the axle does
    rows[..., 2:] = arms / np.maximum(np.abs(arms).max(axis=(-2, -1), keepdims=True), np.finfo(float).tiny)
    values = np.linalg.svd(rows, compute_uv=False)
    return values.shape[-1] == 4 and values[..., 3] > HOLD * values[..., 0]


def free_movement(lines: Sequence[Line]) -> str:
    """Name the movement, beside heave and roll, that rods of rank below 4 leave free.

    Of all free motions it picks the one with no heave and no roll and names its largest part.
    """
    free = null_space(lines)
    # Motions within the null space that neither lift nor roll the axle.
    _, _, combinations = np.linalg.svd(free[:, [2, 3]].T)
    motion = combinations[-1] @ free
    return MOVEMENTS[int(np.argmax(np.abs(motion)))]


def motion(lines: Sequence[Line], heave: float, roll: float) -> Array:
    """Return the axle's motion (vx, vy, vz, wx, wy, wz) for given rates of heave and roll at its middle.

    Heave in mm, roll in rad, per unit of whatever drives the motion; velocities come back in mm, angular ones
    in rad, of the axle relative to the body. With five rods or more the answer is the least-squares one: all
    rods stretch alike.
    """
    rows, unknown = matrix(lines), [0, 1, 4, 5]
    moving = np.array([0.0, 0.0, heave, roll * METER, 0.0, 0.0])
    moving[unknown] = -np.linalg.pinv(rows[:, unknown]) @ (rows @ moving)
    moving[3:] /= METER
    return moving


def stretch(lines: Sequence[Line], axis: Line) -> Array:
    """Return how fast each rod would stretch in a turn about an axis: zero for a rod that the axis meets.

    Shape (..., rods), in mm per radian for rods of unit direction.
    """
    parts = [np.asarray(part, dtype=float) for part in axis]
    turn = np.stack(np.broadcast_arrays(*parts[3:], *parts[:3]), axis=-1)
    turn = turn / np.linalg.norm(turn[..., 3:], axis=-1, keepdims=True)
    turn[..., 3:] *= METER
    return np.einsum("...ij,...j->...i", matrix(lines), turn)


def free_motion(lines: Sequence[Line], held: Literal["heave", "roll"]) -> tuple[Scalar, ...]:
    """Return the motion (vx, vy, vz, wx, wy, wz), up to a factor, that rods allow without heave or roll.

    For four rods it is the cross product of their rows in the other five columns: exact, for every kind of
    scalar. For more rods it is the least-squares one, for numbers.

    Raises:
        UndefinedError: the rods leave more than one such motion.
    """
    column = {"heave": 2, "roll": 3}[held]
    if len(lines) < 4:
        raise UndefinedError(f"{len(lines)} rods leave more than one movement without {held}.")
    if len(lines) > 4:
        return tuple(motion(lines, heave=float(held == "roll"), roll=float(held == "heave")))
    rows = [tuple(line) for line in lines]
    parts = _square_to([row[:column] + row[column + 1 :] for row in rows])
    parts = settle(parts, lines, f"These rods leave more than one movement without {held}.")
    return (*parts[:column], 0 * parts[0], *parts[column:])


def response(lines: Sequence[Line], longer: Sequence[Scalar]) -> tuple[Scalar, Scalar, Scalar, Scalar]:
    """Return how fast (x, y, pitch, yaw) of the axle change where four rods get longer, heave and roll held.

    x and y in mm, of the point of the axle on the ground, pitch and yaw in rad; exact, for every kind of scalar.

    Args:
        lines: of four rods. longer: how many mm each gets longer, times the length of its line's direction.
    """
    if len(lines) != 4 or (single(lines) and not leaves_heave_and_roll(lines)):
        raise UndefinedError(f"{len(lines)} rods do not hold the axle in four ways, so their lengths do not place it.")
    rows = [(line.dx, line.dy, line.my, line.mz, more) for line, more in zip(lines, longer, strict=True)]
    *parts, size = _square_to(rows)
    x, y, pitch, yaw = (quotient(part, size) for part in parts)
    return x, y, pitch, yaw


def single(lines: Sequence[Line]) -> bool:
    """Tell whether all lines are made of single numbers."""
    return all(isinstance(part, float | int | Fraction) for line in lines for part in line)


def _square_to(rows: Sequence[tuple[Scalar, ...]]) -> tuple[Scalar, ...]:
    """Return the cross product of n rows in n + 1 dimensions: their minors, in turn plus and minus."""
    if len(rows) == 1:
        return rows[0][1], -rows[0][0]
    first, *others = rows
    minors = []
    for k in range(len(first)):
        square = _square_to([row[:k] + row[k + 1 :] for row in others])
        minors.append((-1) ** k * dot(first[:k] + first[k + 1 :], square))
    return tuple(minors)


def transversals(lines: Sequence[Line]) -> tuple[Line, Line]:
    """Return the two lines that meet all of the given lines: the axle's two axes of motion.

    Every rotation axis of the axle meets every rod, at infinity or not. Of the motions s a + t b that the
    rods allow, a without heave and b without roll, those without pitch along their axis are pure rotations,
    which is a quadratic in s : t. The first line is the one near a, the roll axis; the other is near b. Where
    there is no real line, the elements of an array are nan.

    Raises:
        LinkageError: the rods do not leave exactly two motions, or no real line meets them all (then every
            free motion is a screw).
    """
    if len(lines) != 4 and np.any(rank(lines) != 4):
        raise LinkageError(
            f"Two axes exist only where two motions are free; these rods leave {6 - np.min(rank(lines))}."
        )
    try:
        a, b = free_motion(lines, "heave"), free_motion(lines, "roll")
    except UndefinedError as error:
        raise LinkageError(f"These rods have no two axes of motion. {error}") from None
    aa, bb = dot(a[:3], a[3:]), dot(b[:3], b[3:])
    ab = quotient(dot(a[:3], b[3:]) + dot(b[:3], a[3:]), 2)
    square = ab * ab - aa * bb
    screws = square < -ROUNDING * ab * ab
    if np.ndim(screws) == 0 and screws:
        raise LinkageError(
            "No real line meets all four rods: each free motion of this axle is a screw, not a turn about an axis."
        )
    root = sqrt(choose(screws, math.nan, choose(square < 0, 0 * square, square)))
    far = choose(ab < 0, ab - root, ab + root)  # of the two, the one in which nothing cancels
    axes: list[Line] = []
    for s, t in ((far, -aa), (-bb, far)):
        # Axes that meet: every line of their plane through the point is one, and these two are chosen.
        lost = (s == 0) & (t == 0)
        s, t = (choose(lost, 1, s), t) if not axes else (s, choose(lost, 1, t))
        axes.append(Line(*(s * p + t * q for p, q in zip((*a[3:], *a[:3]), (*b[3:], *b[:3]), strict=True))))
    return axes[0], axes[1]
