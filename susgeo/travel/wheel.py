"""Travel of an independent wheel: its knuckle on two arms, or an arm and a strut, and on its tie rod."""

from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any, Literal

import numpy as np

from ..car.front import Arm, IndependentFront, StrutLeg
from ..car.links import Link
from ..car.pickup import mapped
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, alone, asin, atan2, is_array, quotient, sqrt
from ..geometry.space import Point
from . import newton as linkage
from .newton import HEAVE, PITCH, ROLL, YAW, Array, Rods, Vector, X, Y, about_x, floats, spin, turn


@dataclass(frozen=True, eq=False)
class WheelTravel:
    """The left wheel of an independent axle at every heave; the right one mirrors it.

    Camber, toe and caster are changes from rest; axes, order of turns and signs as in :mod:`susgeo.travel.live`.

    Args:
        axle: at rest.
        heave: rise of the wheel center against the body, in mm.
        x, y: shift of the wheel center, forward and to the left, in mm.
        roll, pitch, yaw: turns of the knuckle against the body, in rad.
        reached: False where the linkage ends before the state.
    """

    axle: IndependentFront
    heave: Scalar
    x: Scalar
    y: Scalar
    roll: Scalar
    pitch: Scalar
    yaw: Scalar
    reached: Any

    @property
    def _spindle(self) -> Vector:
        return about_x(turn(self.roll), *spin(turn(self.pitch), turn(self.yaw), 0.0, 1.0, 0.0))

    @property
    def camber(self) -> Scalar:
        """Lean of the wheel against the body, in rad; positive with its top outward."""
        return -asin(self._spindle[2])

    @property
    def toe_in(self) -> Scalar:
        """Turn of the wheel's front edge inward, in rad; zero where no tie rod was measured."""
        return atan2(self._spindle[0], self._spindle[1])

    @property
    def caster_change(self) -> Scalar:
        """Turn of the knuckle, in rad; positive with its top rearward."""
        return -self.pitch

    def carried(self, point: Point, by: Literal["axle", "chassis"] = "axle") -> Point:
        """Return where a point, given at rest and fixed to the left knuckle or to the body, comes to in the frame of
        :attr:`moved`."""
        x, y, z, r, half = floats(*coordinates(point), self.axle.tire_radius, quotient(self.axle.track, 2))
        _, _, nz = self._spindle
        upright = sqrt(1 - nz * nz)
        if by == "chassis":
            return Point(x - self.x, y, z - self.heave - r * (1 - upright))
        x, y, z = spin(turn(self.pitch), turn(self.yaw), x, y - half, z - r)
        x, y, z = about_x(turn(self.roll), x, y, z)
        return Point(x, y + half + self.y, z + r * upright)

    def in_body(self, point: Point) -> Point:
        """Return the same point, given in the frame of :attr:`moved`, in body axes."""
        (x, y, z), away = floats(*coordinates(point)), self.carried(Point(0.0, 0.0, 0.0), "chassis")
        return Point(x - away.x, y, z - away.z)

    @property
    def scrub(self) -> Scalar:
        """Way of the contact patch outward since rest, in mm."""
        r, (_, ny, nz) = self.axle.tire_radius, self._spindle
        return self.y + quotient(r * ny * nz, sqrt(1 - nz * nz))

    @cached_property
    def moved(self) -> IndependentFront:
        """The suspension at every heave, with its origin on the ground again, below the wheel centers.

        The tire is a thin disk that stood upright at rest: it touches the ground at its lowest point.
        """
        linkage.require(self.reached, self.heave)
        axle, (_, _, nz) = self.axle, self._spindle
        r, upright = axle.tire_radius, sqrt(1 - nz * nz)

        knuckle, body = self.carried, partial(self.carried, by="chassis")

        def arm(a: Arm) -> Arm:
            return Arm(knuckle(a.ball_joint), body(a.front_pivot), body(a.rear_pivot))

        rod, top = axle.tie_rod, axle.upper
        upper = arm(top) if isinstance(top, Arm) else StrutLeg(body(top.top_mount), knuckle(top.lower_point))
        return replace(
            axle, lower=arm(axle.lower), upper=upper, track=axle.track + 2 * self.scrub,
            tie_rod=None if rod is None else Link(knuckle(rod.axle), body(rod.chassis), rod.name),
            tire_radius=r * upright,
        )  # fmt: skip

    def at(self, *index: int) -> IndependentFront:
        """Return the suspension at one heave, as plain numbers, to draw it."""
        linkage.require(np.asarray(self.reached)[index], np.asarray(self.heave)[index])
        found: IndependentFront = mapped(self.moved, lambda _, number: number[index] if is_array(number) else number)
        return found


def knuckle_rods(axle: IndependentFront) -> tuple[Link, ...]:
    """Return every rod of the left knuckle, from it to the body: both legs of each arm, and the tie rod."""
    found = []
    for word, arm in (("lower", axle.lower), ("upper", axle.upper)):
        if isinstance(arm, Arm):
            found.append(Link(arm.ball_joint, arm.front_pivot, f"{word} arm, front leg"))
            found.append(Link(arm.ball_joint, arm.rear_pivot, f"{word} arm, rear leg"))
    return tuple(found) if axle.tie_rod is None else (*found, replace(axle.tie_rod, name="tie rod"))


def held_knuckle(axle: IndependentFront, **given: Any) -> tuple[Rods, list[int], tuple[int, ...], Array]:
    """Return the left knuckle's rods, its coordinates that follow from them, the shape of its states, those given."""
    middle = (0, quotient(axle.track, 2), axle.tire_radius)
    ends = [(rod.axle, rod.chassis) for rod in knuckle_rods(axle)]
    ends += [(axle.upper.lower_point, axle.upper.top_mount)] * 2 if isinstance(axle.upper, StrutLeg) else []
    shape, target = linkage.grid([point for pair in ends for point in pair], **given)
    on_axle, on_chassis = (linkage.stack(side, middle, shape) for side in zip(*ends, strict=True))
    slides = None
    if isinstance(axle.upper, StrutLeg):
        leg = (on_chassis - on_axle)[:, -1]
        across = np.stack([0 * leg[0], leg[2], -leg[1]])
        both = np.stack([across, np.cross(leg, across, axis=0)], axis=1)
        slides = both / np.linalg.norm(both, axis=0)
    unknown = [X, Y, ROLL, PITCH] if axle.tie_rod is None else [X, Y, ROLL, PITCH, YAW]
    return Rods(on_axle, on_chassis, (), slides), unknown, shape, target


def wheel_travel(axle: IndependentFront, heave: Any) -> WheelTravel:
    """Solve the left knuckle: two rods for each arm, two slides for a strut, and the tie rod.

    Where no tie rod was measured the knuckle keeps its steer. Use :func:`susgeo.travel.live.solve_travel`.
    """
    system, unknown, shape, target = held_knuckle(axle, heave=heave)
    q, _, reached = linkage.follow(system, unknown, [HEAVE], target)
    given, x, y, roll, pitch, yaw = (alone(row.reshape(shape)) for row in (target[0], *q[[X, Y, ROLL, PITCH, YAW]]))
    return WheelTravel(axle, given, x, y, roll, pitch, yaw, alone(reached.reshape(shape)[()]))
