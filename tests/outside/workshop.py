"""What a builder measures on a live axle, from positions that SciPy solves: lengths of springs and shafts, rods of other lengths."""

import math

import numpy as np
from scipy.optimize import root
from scipy.spatial.transform import Rotation

from outside import rigid
from outside.mechanism import Mechanism


def xyz(point):
    x, y, z, w = (float(part) for part in point)
    return np.array([x, y, z]) / w


def bars(axle):
    """An axle of the library, three links and a bar, or two leaves' links with the pitch held, as the tests' own mechanism."""
    made = Mechanism(middle=(0.0, 0.0, float(axle.tire_radius)))
    for link in (*axle.lower, *axle.upper, axle.locator):
        made = made.rod(xyz(link.axle), xyz(link.chassis))
    return made


def with_lengths(made, longer):
    """Where an axle with rods of other lengths stands, heave and roll zero: SciPy, on the rods' lengths alone."""
    wanted, unknown = rigid.at_rest(made) + longer, np.zeros(4 + len(made.cranks))
    scale = np.r_[1, 1, np.full(2 + len(made.cranks), 1e-3)]

    def off(scaled):
        x, y, pitch, yaw, *turns = scaled * scale
        return rigid.lengths(made, rigid.rotation(0, pitch, yaw), np.array([x, y, 0.0]), turns) - wanted

    found = root(off, unknown, options={"xtol": 1e-14})
    assert np.abs(found.fun).max() < 1e-9
    return (found.x * scale)[:4]


def per_mm(axle, *longer):
    """What x, y, pitch and yaw change by for each mm that the rods get longer, in the order of :func:`bars`."""
    made = bars(axle)
    return rigid.difference(lambda size: with_lengths(made, size * np.array(longer)), 0.2)


def lengths(made, seat, top, heave, roll, link=None):
    """Lengths of the left and right line at a solved position; ``link`` carries the seat without twisting."""
    pose = rigid.solve(made, heave, roll)
    turn, shift = rigid.rotation(pose.roll, pose.pitch, pose.yaw), np.array(pose[:3])
    found = []
    for side in (1, -1):
        mirror = np.array([1, side, 1])
        p, q = np.array(seat) * mirror, np.array(top) * mirror
        if link is None:
            p = turn.apply(p - made.middle) + made.middle + shift
        else:
            one, other = made.bars[link[side < 0]].first, made.bars[link[side < 0]].second
            now = turn.apply(one - made.middle) + made.middle + shift
            before, after = one - other, now - other
            axis = np.cross(before, after)
            angle = math.atan2(np.linalg.norm(axis), before @ after)
            size = np.linalg.norm(axis)
            p = other + Rotation.from_rotvec(axis / size * angle if size else axis).apply(p - other)
        found.append(np.linalg.norm(q - p))
    return np.array(found)


def ratios(made, seat, top, link=None):
    """Motion ratio and roll arm of a line, from its lengths at solved positions."""
    heave = -rigid.difference(lambda rise: lengths(made, seat, top, rise, 0.0, link), 0.5)
    roll = -rigid.difference(lambda angle: lengths(made, seat, top, 0.0, angle, link), 1e-3)
    return heave.mean(), (roll[0] - roll[1]) / 2


def energy_stiffness(made, seat, top, rate):
    """Roll stiffness in N m/deg of two coils, from what they store at solved positions, free of load at rest."""
    rest, step = lengths(made, seat, top, 0, 0), 1e-3
    stored = [rate / 2 * np.sum((lengths(made, seat, top, 0.0, way * step) - rest) ** 2) for way in (1, -1)]
    return sum(stored) / step**2 / 1000 * math.pi / 180


def shaft_at(axle, shaft, heave):
    """Both joints' angles in degrees and the length of a propeller shaft, by SciPy's rotations at a solved position."""
    made = bars(axle)
    pose = rigid.solve(made, heave, 0.0)
    turn, shift = rigid.rotation(*pose[3:6]), np.array(pose[:3])
    joint = turn.apply(xyz(shaft.pinion) - made.middle) + made.middle + shift
    along = xyz(shaft.gearbox) - joint
    size = np.linalg.norm(along)
    own = [np.array([math.cos(angle), 0, math.sin(angle)]) for angle in (shaft.gearbox_angle, shaft.pinion_angle)]
    return [math.degrees(math.acos(way @ along / size)) for way in (own[0], turn.apply(own[1]))], size
