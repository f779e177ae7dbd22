"""A rigid axle with six freedoms on rigid rods: positions from the rods' lengths, solved by SciPy.

The axle turns by pitch, then yaw, then roll, each about a body axis, through the middle of its wheel-center
line: roll is then the lean of that line seen along the body, yaw its angle to the body's y axis.
Rates are differences of such solved positions; nothing is differentiated by hand.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from scipy.optimize import least_squares, root
from scipy.spatial.transform import Rotation

METER = 1000.0


class Pose(NamedTuple):
    """Where an axle is: shift of its middle in mm, turns in rad, and the turn of each crank on its pin."""

    x: float
    y: float
    heave: float
    roll: float
    pitch: float
    yaw: float
    turns: tuple = ()


def rotation(roll, pitch, yaw):
    return Rotation.from_euler("XZY", [roll, yaw, pitch])


def carried(mechanism, part, place, turn, shift, turns):
    """Return where points of a part come to when the axle has turned and its middle shifted."""
    if part == "body":
        return place
    if part == "axle":
        return turn.apply(place - mechanism.middle) + mechanism.middle + shift
    on, pivot, pin = mechanism.cranks[part]
    swung = Rotation.from_rotvec(pin * turns[part]).apply(place - pivot) + pivot
    return carried(mechanism, on, swung, turn, shift, turns)


def joints(mechanism, turn, shift, turns):
    """Return both ends of every bar, each (bars, 3)."""
    parts = [bar.one for bar in mechanism.bars] + [bar.other for bar in mechanism.bars]
    places = np.array([bar.first for bar in mechanism.bars] + [bar.second for bar in mechanism.bars])
    for part in set(parts) - {"body"}:
        of_part = [other == part for other in parts]
        places[of_part] = carried(mechanism, part, places[of_part], turn, shift, turns)
    return places[: len(mechanism.bars)], places[len(mechanism.bars) :]


def lengths(mechanism, turn, shift, turns):
    first, second = joints(mechanism, turn, shift, turns)
    return np.linalg.norm(first - second, axis=1)


def at_rest(mechanism):
    return lengths(mechanism, Rotation.identity(), np.zeros(3), np.zeros(len(mechanism.cranks)))


def solve(mechanism, heave, roll, steps=1):
    """Return the Pose for a heave and a roll: every bar keeps its length. ``steps`` follow the path from rest."""
    wanted, unknown = at_rest(mechanism), np.zeros(4 + len(mechanism.cranks))
    scale = np.r_[1, 1, np.full(2 + len(mechanism.cranks), 1 / METER)]
    for share in np.linspace(0, 1, steps + 1)[1:]:

        def stretch(scaled, share=share):
            x, y, pitch, yaw, *turns = scaled * scale
            turn = rotation(share * roll, pitch, yaw)
            return lengths(mechanism, turn, np.array([x, y, share * heave]), turns) - wanted

        found = root(stretch, unknown, method="hybr", options={"xtol": 1e-14})
        unknown = found.x
        if np.max(np.abs(found.fun)) > 1e-9:
            raise ValueError(f"no position at heave {heave}, roll {roll}: rods stretch by {found.fun}")
    x, y, pitch, yaw, *turns = unknown * scale
    return Pose(x, y, heave, roll, pitch, yaw, tuple(turns))


def moved(mechanism, pose):
    """Return the mechanism as it stands at a pose, in body axes."""
    turn, shift = rotation(pose.roll, pose.pitch, pose.yaw), np.array(pose[:3])
    first, second = joints(mechanism, turn, shift, pose.turns)
    bars = tuple(bar._replace(first=p, second=q) for bar, p, q in zip(mechanism.bars, first, second, strict=True))
    cranks = tuple(
        crank._replace(
            pivot=carried(mechanism, crank.on, crank.pivot, turn, shift, pose.turns),
            pin=turn.apply(crank.pin) if crank.on == "axle" else crank.pin,
        )
        for crank in mechanism.cranks
    )
    return replace(mechanism, bars=bars, cranks=cranks, middle=tuple(shift + mechanism.middle))


def difference(function, step):
    """Return a derivative at zero from four values, wrong in the fourth power of the step only."""
    near, far = (np.array(function(k * step)) - np.array(function(-k * step)) for k in (1, 2))
    return (8 * near - far) / (12 * step)


class Rates(NamedTuple):
    """What an axle does about its rest position."""

    roll_center: float  # height at x = 0, y = 0 of the point of the axle that roll without heave leaves in place
    roll_steer: float  # yaw per unit of roll
    pinion_rate: float  # pitch in rad per mm of heave
    instant_center: tuple  # (x, z) of the point of the axle that heave leaves in place, seen from the side
    sideways: float  # mm per mm of heave
    wheelbase: float  # forward movement of the axle, mm per mm of heave


def rates(mechanism):
    x, y, _, _, pitch, yaw = difference(lambda heave: solve(mechanism, heave, 0.0)[:6], 0.5)
    _, side, _, _, _, steer = difference(lambda roll: solve(mechanism, 0.0, roll)[:6], 1e-3)
    height = mechanism.middle[2]
    # Speeds of the axle's points: in roll side - (z - height) sideways; in heave x + pitch (z - height) forward
    # and 1 - pitch x upward.
    center = (1 / pitch, height - x / pitch) if pitch else (np.inf, np.inf)
    return Rates(height + side, steer, pitch, center, y, x)


def small_motion(mechanism, motion, turns=()):
    """Return the bars' lengths after a small motion (v at the ground's origin in mm, w in rad) of the axle."""
    v, w = np.array(motion[:3]), np.array(motion[3:])
    shift = v + np.cross(w, mechanism.middle)
    return lengths(mechanism, Rotation.from_rotvec(w), shift, turns)


def free_motions(mechanism, threshold=1e-6):
    """Return an orthonormal basis, (freedoms, 6), of the motions (v in mm, w in rad per meter) that stretch no bar at first.

    From differences of lengths by all six freedoms and the cranks' turns. 6 minus their number is the rank.
    """
    size = 6 + len(mechanism.cranks)
    unit = np.r_[np.ones(3), np.full(size - 3, 1 / METER)]
    columns = []
    for k in range(size):
        along = np.eye(size)[k] * unit
        columns.append(difference(lambda s, q=along: small_motion(mechanism, s * q[:6], s * q[6:]), step=0.5))
    _, values, rows = np.linalg.svd(np.array(columns).T)
    of_axle = rows[int(np.sum(values > threshold * values[0])) :, :6]
    _, values, rows = np.linalg.svd(of_axle, full_matrices=False)  # a crank that turns alone leaves a zero here
    return rows[values > threshold]


def stretch_about(mechanism, place, direction):
    """Return how much the bars at least must stretch, in mm per rad, when the axle turns about a line.

    Zero for an axis about which the axle really turns. Cranks take the turn that stretches least.
    """
    place, along = np.array(place), np.array(direction) / np.linalg.norm(direction)
    wanted = at_rest(mechanism)
    # About a distant line the axle moves far in a small turn: half a millimeter is enough.
    step = min(1e-3, 0.5 / np.linalg.norm(np.cross(along, mechanism.middle - place)))

    def stretch(angle):
        motion = np.r_[-np.cross(along, place), along] * angle  # speed of the ground's origin, and spin
        turn = Rotation.from_rotvec(motion[3:])
        shift = turn.apply(mechanism.middle - place) + place - mechanism.middle
        if not mechanism.cranks:
            return lengths(mechanism, turn, shift, ()) - wanted
        scale = 1 / METER
        found = least_squares(
            lambda turns: lengths(mechanism, turn, shift, turns * scale) - wanted,
            np.zeros(len(mechanism.cranks)),
            xtol=1e-15,
            ftol=1e-15,
            gtol=1e-15,
        )
        return found.fun

    return float(np.max(np.abs(difference(stretch, step))))
