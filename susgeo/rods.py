"""The axle on its rods as linear algebra: one row for each rod, and the motions that all rows allow.

A rod with line (d, m) lets a body move with angular velocity w and velocity v of the origin when
d.v + m.w = 0. The rows stacked are a matrix J with columns (v, w). Its null space holds the axle's free motions
relative to the body; its transpose turns rod forces into the wrench they put on the axle. Moments and angular
velocities are scaled by one meter so that rank does not depend on the unit of length.

Source: screw theory as in any textbook of mechanism kinematics; signs derived here (ISO 8855 axes).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .errors import LinkageError
from .scalars import Scalar
from .space import Line, Point

METER = 1000.0
RANK_TOLERANCE = 1e-5
"""A singular value below this share of the largest counts as zero: 0.01 mm in a linkage of a meter."""

Array = NDArray[np.float64]

MOVEMENTS = ("fore and aft", "sideways", "up and down", "in roll", "in pitch", "in yaw")


def matrix(lines: Sequence[Line]) -> Array:
    """Return J, shape (..., rods, 6), columns (vx, vy, vz, wx, wy, wz), rows scaled to unit direction.

    Lines whose coordinates are arrays give a matrix for each element.
    """
    columns = [np.broadcast_arrays(*(np.asarray(part, dtype=float) for part in line)) for line in lines]
    shape = np.broadcast_shapes(*(column[0].shape for column in columns))
    rows = np.stack([np.stack([np.broadcast_to(part, shape) for part in parts], axis=-1) for parts in columns], axis=-2)
    rows = rows / np.linalg.norm(rows[..., :3], axis=-1, keepdims=True)
    rows[..., 3:] /= METER
    return rows


def rank(lines: Sequence[Line]) -> int:
    """Return how many of the rods locate independently: 4 leaves a live axle heave and roll and nothing else."""
    values = np.linalg.svd(matrix(lines), compute_uv=False)
    return int(np.sum(values > RANK_TOLERANCE * values.max()))


def null_space(lines: Sequence[Line]) -> Array:
    """Return an orthonormal basis, shape (6 - rank, 6), of the motions that no rod resists."""
    _, values, rows = np.linalg.svd(matrix(lines))
    return rows[int(np.sum(values > RANK_TOLERANCE * values.max())) :]


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
    """Return the axle's motion (vx, vy, vz, wx, wy, wz) for given rates of heave and roll at the wheel-center line.

    Heave in mm, roll in rad, per unit of whatever drives the motion; velocities come back in mm, angular ones
    in rad, of the axle relative to the body. Lines of arrays give shape (..., 6). With five rods or more the
    answer is the least-squares one: all rods stretch alike.
    """
    rows = matrix(lines)
    wanted = np.zeros(rows.shape[:-2] + (6,))
    wanted[..., 2] = heave
    wanted[..., 3] = roll * METER
    unknown = [0, 1, 4, 5]
    right = -np.einsum("...ij,...j->...i", rows, wanted)
    solution = np.linalg.pinv(rows[..., unknown]) @ right[..., None]
    wanted[..., unknown] = solution[..., 0]
    wanted[..., 3:] /= METER
    return wanted


def stretch(lines: Sequence[Line], axis: Line) -> Array:
    """Return how fast each rod would stretch in a turn about an axis: zero for a rod that the axis meets.

    Shape (..., rods), in mm per radian for rods of unit direction.
    """
    turn = np.stack(np.broadcast_arrays(*(np.asarray(part, dtype=float) for part in (*list(axis)[3:], *list(axis)[:3]))), axis=-1)
    turn = turn / np.linalg.norm(turn[..., 3:], axis=-1, keepdims=True)
    turn[..., 3:] *= METER
    return np.einsum("...ij,...j->...i", matrix(lines), turn)


def transversals(lines: Sequence[Line]) -> tuple[Line, Line]:
    """Return the two lines that meet all of the given lines: the axle's two axes of motion.

    Every rotation axis of the axle meets every rod, at infinity or not. Of the motions that the rods allow,
    a + t b, those without pitch along their axis are pure rotations, which is a quadratic in t. The first line
    returned is the one that runs more nearly fore and aft.

    Raises:
        LinkageError: the rods do not leave exactly two motions, or no real line meets them all (then every
            free motion is a screw).
    """
    free = null_space(lines)
    if len(free) != 2:
        raise LinkageError(f"Two axes exist only where two motions are free; these rods leave {len(free)}.")
    (a, b), dot = free, lambda p, q: p[:3] @ q[3:] + q[:3] @ p[3:]
    # (s a + t b).(s a + t b) = 0 for the reciprocal product, in a form that is good at s = 0 and t = 0.
    aa, ab, bb = dot(a, a) / 2, dot(a, b) / 2, dot(b, b) / 2
    root = ab * ab - aa * bb
    if root < -1e-12:
        raise LinkageError("No real line meets all four rods: each free motion of this axle is a screw, not a turn about an axis.")
    root = np.sqrt(max(root, 0.0))
    big = -ab - np.copysign(root, ab)
    found = [(big, bb), (aa, big)] if big else [(1.0, 0.0), (0.0, 1.0)]
    axes = [t * b + s * a for t, s in found]
    axes.sort(key=lambda axis: -abs(axis[3]) / np.linalg.norm(axis[3:]))
    return tuple(Line(*axis[3:], *(axis[:3] * METER)) for axis in axes)  # type: ignore[return-value]


def height_without_roll(lines: Sequence[Line]) -> Array:
    """Return the height at x = 0 where a lateral force rolls no spring: SAE J670's roll center, from J alone."""
    roll = motion(lines, 0.0, 1.0)
    return roll[..., 1] / roll[..., 3]
