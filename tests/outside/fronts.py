"""An independent front's knuckle as a rigid body: positions by SciPy, forces by free bodies, no construction line.

The knuckle has six freedoms. Each leg of an arm, and the tie rod, keeps its length; a strut's top mount stays on
the strut's axis, which the knuckle carries. Turns and signs as in ``rigid``. The left side is given.

Two things stand for the tie rod. Its own, with which the knuckle travels. And an idle one, both of whose ends lie in
the plane of the lower arm's three joints as they stand: arms drawn without a tie rod speak of this one. Which of the two is held
makes a difference as large as the wheel steers in bump, times the distance of the kingpin from the contact patch.
"""

from typing import NamedTuple

import numpy as np
from scipy.optimize import root

from .rigid import METER, difference, rotation

KINDS = ("strut", "double wishbone")
UP, LEFT = np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])


class Front(NamedTuple):
    """The left side at some ride height, on its ground: rods as (knuckle end, body end), the lower arm's two first."""

    rods: tuple  # the last one is the tie rod, if there is one
    strut: tuple | None  # (low point, top mount)
    tie_rod: bool
    center: np.ndarray
    spindle: np.ndarray
    radius: float

    @property
    def patch(self):
        """The lowest point of the tire, a thin disk square to the spindle.

        Toed and cambered, it is a hair ahead of or behind the wheel center.
        """
        down = -UP + (UP @ self.spindle) * self.spindle
        return self.center + self.radius * down / np.linalg.norm(down)


def plausible(kind, seed):
    """Return a random front as plain data: {"lower": (ball joint, front pivot, rear pivot), ...}."""
    random = np.random.default_rng([KINDS.index(kind), seed])

    def near(*place, by=(25, 25, 20)):
        return tuple(round(float(v + random.uniform(-b, b)), 1) for v, b in zip(place, by, strict=True))

    def arm(joint, pivot):
        return near(*joint), near(150, *pivot), near(-180, *pivot)

    made = {"lower": arm((5, 650, 195), (335, 205)), "tie_rod": (near(-120, 630, 235), near(-125, 335, 235))}
    if kind == "strut":
        return made | {"strut": (near(5, 620, 310), near(-35, 560, 800))}
    return made | {"upper": arm((-15, 620, 445), (390, 425))}


def standing(data, track, radius):
    """Return plain data as a Front at rest, its wheel upright."""
    arms = [np.array(data[name], float) for name in ("lower", "upper") if name in data]
    rods = [(joint, pivot) for joint, *pivots in arms for pivot in pivots]
    tie_rod = data.get("tie_rod")
    rods += [tuple(np.array(tie_rod, float))] if tie_rod else []
    strut = tuple(np.array(data["strut"], float)) if "strut" in data else None
    return Front(tuple(rods), strut, bool(tie_rod), np.array([0, track / 2, radius]), LEFT, float(radius))


def car_file(data, track, radius):
    """Return plain data as the text of a car file."""
    tables = [
        'title = "made by a test"\nunits = "mm"\nwheelbase = 2600',
        "[weight]\nmass = 1100\nfront_share = 0.55\ncg_height = 530",
        "[brakes]\nfront_share = 0.68",
        f'[front]\ntype = "{"strut" if "strut" in data else "double wishbone"}"\ntrack = {track}\ntire_radius = {radius}',
    ]
    names = {
        "lower": ("lower_arm", ("ball_joint", "front_pivot", "rear_pivot")),
        "upper": ("upper_arm", ("ball_joint", "front_pivot", "rear_pivot")),
        "strut": ("strut", ("lower_point", "top_mount")),
        "tie_rod": ("tie_rod", ("axle", "chassis")),
    }
    for key, places in data.items():
        name, fields = names[key]
        lines = (f"{field} = {list(place)}" for field, place in zip(fields, places, strict=True))
        tables.append("\n".join((f"[front.{name}]", *lines)))
    return "\n\n".join(tables)


def solve(front, heave, steps=1):
    """Return (x, y, heave, roll, pitch, yaw) of the knuckle when its wheel center has risen by a heave.

    Without a tie rod the yaw stays zero. ``steps`` follow the path from where it stands.
    """
    knuckle, body = (np.array(ends) for ends in zip(*front.rods, strict=True))
    wanted = np.linalg.norm(knuckle - body, axis=1)
    unknown, scale = np.zeros(4 + front.tie_rod), np.r_[1, 1, np.full(2 + front.tie_rod, 1 / METER)]
    for share in np.linspace(0, 1, steps + 1)[1:]:

        def broken(scaled, share=share):
            x, y, roll, pitch, *yaw = scaled * scale
            turn, shift = rotation(roll, pitch, *(yaw or [0.0])), np.array([x, y, share * heave])
            now = turn.apply(knuckle - front.center) + front.center + shift
            stretch = np.linalg.norm(now - body, axis=1) - wanted
            if front.strut is None:
                return stretch
            low, top = front.strut
            # The top mount as one sees it from the knuckle: how far is it from the strut's axis?
            seen = turn.inv().apply(top - front.center - shift) + front.center
            return np.r_[stretch, across(top - low) @ (seen - top)]

        found = root(broken, unknown, method="hybr", options={"xtol": 1e-14})
        unknown = found.x
        if np.max(np.abs(found.fun)) > 1e-9:
            raise ValueError(f"no position at heave {heave}: {found.fun}")
    x, y, roll, pitch, *yaw = unknown * scale
    return np.array([x, y, heave, roll, pitch, *(yaw or [0.0])])


def across(direction):
    """Return two unit vectors square to a direction."""
    return np.linalg.svd(direction[None])[2][1:]


def moved(front, heave, steps=4):
    """Return the front at a heave, with its origin on the ground below the wheel centers again."""
    pose = solve(front, heave, steps)
    turn = rotation(*pose[3:])

    def carried(place):
        return turn.apply(place - front.center) + front.center + pose[:3]

    on_ground = front._replace(
        rods=tuple((carried(one), other) for one, other in front.rods),
        strut=front.strut and (carried(front.strut[0]), front.strut[1]),
        center=carried(front.center),
        spindle=turn.apply(front.spindle),
    )
    origin = np.array([on_ground.center[0], 0, on_ground.patch[2]])
    return on_ground._replace(
        rods=tuple((one - origin, other - origin) for one, other in on_ground.rods),
        strut=front.strut and tuple(place - origin for place in on_ground.strut),
        center=on_ground.center - origin,
    )


def with_idle_tie_rod(front):
    """Return the front with a tie rod in the plane of the lower arm, as that stands now."""
    (joint, ahead), (_, behind) = front.rods[:2]
    rod = joint - 0.35 * (ahead - behind), behind + 0.1 * (joint - behind)
    kept = front.rods[:-1] if front.tie_rod else front.rods
    return front._replace(rods=(*kept, rod), tie_rod=True)


class Rates(NamedTuple):
    """What the knuckle does about where it stands, and what follows; heights in mm, slopes without unit."""

    roll_center: float  # from the slope of the contact patch's path in the front view
    front_center: tuple  # (y, z) of the point of the knuckle in the plane x = 0 that keeps still in the front view
    side_slope: float  # of the contact patch's path in the side view: forward per rise
    side_closing: float  # one over x of the side-view instant center; zero where that is at infinity


def rates(front, patch, step=1.0):
    """Return the rates from differences of solved positions; the contact patch is that point of the knuckle."""
    x, y, z, *spin = difference(lambda heave: solve(front, heave), step)
    v0, spin = (np.array([x, y, z]) - np.cross(spin, front.center), np.array(spin))  # of the point at the origin
    vx, vy, vz = v0 + np.cross(spin, patch)
    roll, pitch, _ = spin
    # The front view's path is square to the line of force: that rises by -vy/vz for each mm to the left.
    at_wheel = v0[2] + roll * patch[1]  # upward speed at x = 0 in the plane of the wheel
    return Rates(vy / vz * patch[1], (-v0[2] / roll, v0[1] / roll), vx / vz, pitch / at_wheel)


def rods_and_ground(front, patch, push):
    """Return (forces of the body on the knuckle, upward force of the ground) under a push at the contact patch.

    The spring's force does not change. Each force is a row (force, moment about the origin); six equations.
    """
    held = [(one, (other - one) / np.linalg.norm(other - one)) for one, other in front.rods]
    if front.strut is not None:
        low, top = front.strut
        held += [(top, way) for way in across(top - low)]
    rows = np.array([np.r_[way, np.cross(place, way)] for place, way in [*held, (patch, UP)]])
    load = np.r_[push, np.cross(patch, push)]
    size = np.r_[1, 1, 1, np.full(3, 1 / METER)]
    amounts = np.linalg.solve(rows.T * size[:, None], -load * size)
    return amounts[:-1, None] * rows[:-1], amounts[-1]


def height_of_the_sideways_force(front, patch):
    """Return how high the body feels the sideways force of two equal tires: the roll center of SAE J670, from memory.

    Both knuckles are cut free. What they do to the body is one level force at this height.
    """
    forces, _ = rods_and_ground(front, patch, LEFT)
    left = -forces.sum(0)
    # The right knuckle is the left one in a mirror, pushed the other way: force y, moments about x and z keep signs.
    body = left + left * np.array([-1, 1, -1, 1, -1, 1])
    assert abs(body[2]) < 1e-9 and abs(body[1] - 2) < 1e-9
    return -body[3] / body[1]


def links_part_of_braking(front, patch):
    """Return the upward force of the ground that the links, not the spring, carry per unit of braking force."""
    return rods_and_ground(front, patch, np.array([-1.0, 0, 0]))[1]
