"""Equilibrium of free bodies: the axle, the body and every crank, each with all six of its equations.

Bars are two-force members, springs push two parts apart along the vertical, supports stand for tires and the
other axle. One linear system; it is refused when it has no answer or more than one.
"""

from dataclasses import dataclass, field

import numpy as np

METER = 1000.0


@dataclass
class Equilibrium:
    """Sum of forces and of moments about the ground's origin on each free part, N and N m.

    ``held`` names a part that something else keeps in place, so that it has no equations.
    """

    mechanism: object
    held: str | None = None
    unknowns: dict = field(default_factory=dict)
    loads: list = field(default_factory=list)

    def __post_init__(self):
        for number, (one, first, other, second) in enumerate(self.mechanism.bars):
            along = (second - first) / np.linalg.norm(second - first)
            self.pair(("bar", number), one, first, other, along)  # tension pulls one part toward the other
        for number, (on, pivot, pin) in enumerate(self.mechanism.cranks):
            for axis in np.eye(3):
                self.pair(("pin", number, *axis), number, pivot, on, axis)
            for axis in np.linalg.svd(pin[None])[2][1:]:  # the bearing holds the crank square to its pin
                self.unknowns["tilt", number, *axis] = [(number, np.r_[0, 0, 0, axis]), (on, -np.r_[0, 0, 0, axis])]

    def pair(self, name, one, place, other, direction):
        """Add an unknown force along a direction on one part at a point, and its reaction on the other."""
        wrench = force_at(place, direction)
        self.unknowns[name] = [(one, wrench), (other, -wrench)]

    def spring(self, name, place):
        """Add a vertical spring between axle and body; positive when it pushes the body up."""
        self.pair(("spring", name), "body", place, "axle", (0, 0, 1))

    def support(self, name, part, place, direction):
        """Add an unknown force from outside, such as a tire's on the axle."""
        self.unknowns["support", name] = [(part, force_at(place, direction))]

    def couple(self, name, part, axis):
        self.unknowns["couple", name] = [(part, np.r_[0, 0, 0, axis])]

    def load(self, part, place, force):
        self.loads.append((part, force_at(place, force)))

    def moment(self, part, moment):
        """Add a known couple, N m."""
        self.loads.append((part, np.r_[0, 0, 0, moment]))

    def solve(self):
        """Return every unknown force in N by its name; bars: tension positive."""
        parts = ["axle", "body", *range(len(self.mechanism.cranks))]
        rows = {part: slice(6 * k, 6 * k + 6) for k, part in enumerate(p for p in parts if p != self.held)}
        matrix, right = np.zeros((6 * len(rows), len(self.unknowns))), np.zeros(6 * len(rows))
        for column, wrenches in enumerate(self.unknowns.values()):
            for part, wrench in wrenches:
                if part != self.held:
                    matrix[rows[part], column] += wrench
        for part, wrench in self.loads:
            if part != self.held:
                right[rows[part]] -= wrench
        found, _, rank, _ = np.linalg.lstsq(matrix, right, rcond=1e-9)
        if rank < len(self.unknowns):
            raise ValueError("more than one answer: the forces are not determined by equilibrium alone")
        if np.max(np.abs(matrix @ found - right)) > 1e-9 * max(1.0, np.max(np.abs(right))):
            raise ValueError("no answer: nothing balances these loads")
        return dict(zip(self.unknowns, found, strict=True))


def force_at(place, force):
    """Return a force and its moment about the ground's origin, N and N m."""
    return np.r_[np.array(force, float), np.cross(place, force) / METER]


def tensions(forces):
    return np.array([force for name, force in forces.items() if name[0] == "bar"])


def spring_roll(mechanism, place, force, spacing=900.0):
    """Return the roll moment, N m, that a force on the body puts on springs beside the wheel centers.

    The body alone is free, the axle stands. Springs act upright at x = 0.
    """
    balance = Equilibrium(mechanism, held="axle")
    for name, side in (("left", 1), ("right", -1)):
        balance.spring(name, (0, side * spacing / 2, 500))
    balance.load("body", place, force)
    found = balance.solve()
    return (found["spring", "left"] - found["spring", "right"]) * spacing / 2 / METER


def roll_center(mechanism):
    """Return the roll center's height as SAE J670 defines it, by force.

    The point in the transverse vertical plane through the wheel centers at which a lateral force on the sprung
    mass produces no suspension roll (SAE J670, from memory). The moment is linear in the force's height.
    """
    low, high = (spring_roll(mechanism, (0, 0, z), (0, 1000.0, 0)) for z in (0.0, METER))
    return METER * low / (low - high)


@dataclass(frozen=True)
class Straight:
    """A car that speeds up or brakes, seen by one of its axles; symmetric about its center plane.

    Args:
        here, there: force of the ground on this axle's tires and on the other's, N, forward positive.
        other_axle: x of the other axle from this one, mm: the wheelbase, negative when it is behind.
        cg_height: of what hangs on the springs, mm.
        axle_share, axle_height: this axle's part of the whole mass and the height of its center of gravity.
    """

    here: float
    there: float
    other_axle: float
    cg_height: float
    axle_share: float = 0.0
    axle_height: float = 0.0


def load_transfer(mechanism, car, track=1400.0, spacing=900.0):
    """Return this axle's change of tire load and what its springs take of it, both in N, and the rods' tensions.

    Body and axle are both free; inertia acts backward on each through its center of gravity. The other axle is
    an outside force on the body through its tires' contact with the ground.
    """
    balance, total = Equilibrium(mechanism), car.here + car.there
    for name, side in (("left", 1), ("right", -1)):
        balance.spring(name, (0, side * spacing / 2, 500))
        balance.support(name, "axle", (0, side * track / 2, 0), (0, 0, 1))
    balance.support("other axle", "body", (car.other_axle, 0, 0), (0, 0, 1))
    balance.load("body", (car.other_axle, 0, 0), (car.there, 0, 0))
    balance.load("body", (400, 0, car.cg_height), (-(1 - car.axle_share) * total, 0, 0))
    balance.load("axle", (0, 0, car.axle_height), (-car.axle_share * total, 0, 0))
    balance.load("axle", (0, 0, 0), (car.here, 0, 0))
    found = balance.solve()
    tires, springs = (sum(found[kind, side] for side in ("left", "right")) for kind in ("support", "spring"))
    return tires, springs, tensions(found)


def carried_by_links(mechanism, car):
    """Return the percentage of the axle's load transfer that its links carry and its springs do not.

    Driven rear axle: anti-squat; braked rear axle: anti-lift; braked front axle: anti-dive. Of the transfer
    that comes from the mass on the springs: all of it when the axle's own mass is left out.
    """
    _, springs, _ = load_transfer(mechanism, car)
    # Moments of the sprung inertia about the ground, over the wheelbase.
    sprung = (1 - car.axle_share) * (car.here + car.there) * car.cg_height / car.other_axle
    return 100 * (1 - springs / sprung)


def rod_forces(mechanism, loads, spacing=900.0):
    """Return (tensions, (left, right) spring forces) of an axle under loads [(point, force)] on it, body held."""
    balance = Equilibrium(mechanism, held="body")
    for name, side in (("left", 1), ("right", -1)):
        balance.spring(name, (0, side * spacing / 2, 500))
    for place, force in loads:
        balance.load("axle", place, force)
    found = balance.solve()
    return tensions(found), (found["spring", "left"], found["spring", "right"])
