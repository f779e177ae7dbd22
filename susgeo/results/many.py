"""Many cars at once, at many ride heights: everything that a target of a search may ask.

To the table of quantities it adds what needs travel, loads, a solved corner or the metal around the links: :data:`ASKED`. Each is
an array with a row for each car; its columns are ride heights, or both turns of a solved corner.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, reduce
from inspect import signature
from numbers import Real
from typing import Any, Literal

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car
from ..car.front import IndependentFront
from ..errors import SusgeoError, expect, several
from ..geometry.flat import View
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, quotient
from ..geometry.space import Point, tidy
from ..loads.corner import END_OF_SEARCH, Corner, solve_corner
from ..loads.cornering import GRAVITY
from ..loads.forces import margin, rod_forces, tire_forces
from ..travel.clearance import clearance
from ..travel.lines import moved_springs
from ..travel.live import solve_travel, straight_rods
from ..travel.newton import Array
from ..travel.shaft import moved_shaft, shaft_travel
from .quantities import find, numbers, plain_name
from .rows import SOLVED

CASES: Mapping[str, Mapping[str, float]] = {
    "driving off": {"drive": 4.0}, "braking": {"braking": 7.0}, "left turn": {"lateral": 6.0}, "bump": {"bump": 2.0},
}  # fmt: skip
"""Load cases for rod forces, as :func:`susgeo.loads.forces.tire_forces` takes them: invented, for comparing; yours may be larger."""

LOADS = tuple(name for name in signature(tire_forces).parameters if name not in ("car", "end"))
"""What a case may be made of."""


@dataclass(frozen=True, eq=False)
class Obstacle:
    """Metal that a link must not touch: floor, tube, housing, exhaust, along a line of points at rest in body axes.

    Args:
        name: for people. rod: the link, as :func:`susgeo.travel.live.straight_rods` names it; it is taken as straight.
        points: along the middle of the metal. radius: half of its thickness. on: the part that carries it.
        rod_radius: half of the link's thickness.

    >>> from susgeo import Point
    >>> pipe = Obstacle("exhaust", "left lower link", [Point(100, 430, 330), Point(500, 430, 330)], radius=30)
    >>> pipe.on
    'chassis'
    """

    name: str
    rod: str
    points: Sequence[Point]
    radius: float = 0.0
    on: Literal["axle", "chassis"] = "chassis"
    rod_radius: float = 16.0

    def __post_init__(self) -> None:
        expect(str, name=self.name, rod=self.rod)
        object.__setattr__(self, "points", tuple(several(Point, points=self.points)))
        tidy(self, ("radius", "rod_radius"), "of an obstacle", "rate")


@dataclass(frozen=True, eq=False)
class Conditions:
    """What a car is asked under.

    Args:
        lateral: acceleration of the solved corner in m/s^2, to both sides.
        cases: loads for the rods.
        outer, wall, rating, strength: of every rod, for its margins: mm, mm, N, N/mm^2 (:func:`susgeo.loads.forces.margin`).
        obstacles: what the links must clear.

    >>> Conditions(lateral=0.7 * GRAVITY, outer=32, wall=4).wall
    4
    """

    lateral: float = 0.5 * GRAVITY
    cases: Mapping[str, Mapping[str, float]] = field(default_factory=lambda: CASES)
    outer: float = 30.0
    wall: float | None = 3.0
    rating: float = 32_000.0
    strength: float = 235.0
    obstacles: tuple[Obstacle, ...] = ()

    def __post_init__(self) -> None:
        expect(Real, lateral=self.lateral, outer=self.outer, rating=self.rating, strength=self.strength)
        expect(Real | None, wall=self.wall)
        object.__setattr__(self, "obstacles", tuple(several(Obstacle, obstacles=self.obstacles)))
        expect(Mapping, cases=self.cases)
        for name, case in self.cases.items():
            expect(Mapping, **{f"the case {name}": case})
            if unknown := set(case) - set(LOADS):
                raise SusgeoError(f"the case {name}: there is no load {min(unknown)}; expected {', '.join(LOADS)}.")


@dataclass(frozen=True, eq=False)
class Many:
    """Cars, one for each row of the arrays (n, 1) in their dimensions, at ride heights in mm; what is asked twice is worked out once."""

    car: Car
    heights: Array
    given: Conditions = field(default_factory=Conditions)

    @cached_property
    def states(self) -> dict[str, Any]:
        """The travel of each axle."""
        return {end: solve_travel(axle, self.heights) for end, axle in self.car.axles()}

    @cached_property
    def risen(self) -> Car:
        """The cars at every ride height; see :func:`at_heave`."""
        car, states = self.car, self.states
        if not np.any(self.heights):
            return car
        parts: dict[str, Any] = {"shaft": moved_shaft(car.shaft, states.get("rear"))}
        for end, state in states.items():
            parts |= {end: state.moved, f"{end}_springs": moved_springs(state, getattr(car, f"{end}_springs"))}
        ahead = {end: state.x for end, state in states.items()}
        wheelbase, weight = car.wheelbase + ahead.get("front", 0.0) - ahead.get("rear", 0.0), car.weight
        if weight is not None:
            front = weight.front_unsprung_mass
            body = quotient(weight.mass - front - weight.rear_unsprung_mass, weight.mass)
            moment = (weight.front_share - quotient(front, weight.mass)) * car.wheelbase
            share = quotient(front, weight.mass) + quotient(moment - body * ahead.get("rear", 0.0), wheelbase)
            weight = replace(weight, cg_height=weight.cg_height - self.heights * body, front_share=share)
        return replace(car, wheelbase=wheelbase, weight=weight, **parts)

    @cached_property
    def corner(self) -> Corner:
        """Both turns of the solved corner."""
        return solve_corner(self.car, self.given.lateral * np.array([1.0, -1.0]))

    @cached_property
    def forces(self) -> dict[str, dict[str, tuple[Scalar, ...]]]:
        """By axle and rod, the force in N in each load case."""
        found: dict[str, dict[str, tuple[Scalar, ...]]] = {}
        for end, axle in self.risen.axles():
            if isinstance(axle, LiveAxle) and not axle.leaves:
                cases = self.given.cases.values()
                each = [rod_forces(axle, tire_forces(self.risen, end=end, **case)).tension for case in cases]
                found[end] = {rod.name: tuple(case[rod.name] for case in each) for rod in straight_rods(axle)}
        return found

    def value(self, name: str) -> Scalar:
        """Return what is asked, by its name.

        Raises:
            SusgeoError: the cars do not have it; the sentence names what is missing.
        """
        kind = plain_name(name)
        if kind in self.asked:
            _, take, *rest = self.asked[kind]
            return take(self, *rest)
        quantity, end = find(kind)
        if quantity.name in SOLVED:
            raise SusgeoError(f"{kind} cannot be asked of many cars; ask for {CORNER_END}.")
        found = numbers(self.risen, [kind])
        if kind not in found:  # asked once more for its sentence
            quantity.of(self.risen, end)
            raise SusgeoError(_missing(self.car, kind, end))
        return found[kind]

    @cached_property
    def asked(self) -> dict[str, list[Any]]:
        """What may be asked of this car beyond the table of quantities: name to unit, function and what that takes."""
        return {name: rest for name, *rest in _asked(self.car, self.given)}

    def unit(self, name: str) -> str:
        """Return the unit of what is asked."""
        kind = plain_name(name)
        return self.asked[kind][0] if kind in self.asked else find(kind)[0].unit


def at_heave(car: Car, heaves: Any) -> Car:
    """Return the car with all its axles risen against the body by heaves in mm; arrays broadcast.

    Each axle is then seen from the ground below it. The axles' own masses stay at their height and go with them fore
    and aft; the body's center of gravity comes down by the heave and stays where it is over the body. Camber change and bump
    steer are those of a wheel upright and straight ahead: off by its toe and lean in rad, times the changes themselves; so is
    scrub change, times the tire's radius. The tire touches ahead of or behind the wheel center by radius times toe times
    lean: the roll center height is off by that, times half the track times bump steer and its own height times caster
    change, both in rad/mm (below 0.5 mm on the course's cars).
    """
    return Many(car, heaves).risen


CORNER_END = "end of the corner"


def _missing(car: Car, name: str, end: str) -> str:
    if end and end not in dict(car.axles()):
        return f"{name}: this car has no {end} axle; add a table [{end}] to its file."
    if "shaft" in name or "joint" in name or "plunge" in name:
        return f"{name}: the propeller shaft is not known; add a table [propeller_shaft] to the car's file."
    springs = {"spring": "coil", "drop link": "anti_roll_bar", "damper": "damper", "anti-roll bar": "anti_roll_bar"}
    for word, table in springs.items():
        if word in name:
            return f"{name}: it was not measured; add a table [{end}.{table}] to the car's file."
    return f"{name} is not determined by what was measured on this car, or not by an axle of its kind."


def _asked(car: Car, given: Conditions) -> Iterator[tuple[Any, ...]]:
    """Yield what may be asked of a car: its name, its unit, a function of :class:`Many`, and what else that takes.

    A function raises where something is not known.
    """
    for end, axle in car.axles():
        yield f"{end} ground clearance", "mm", _lowest, end
        if isinstance(axle, IndependentFront):
            yield f"{end} toe-in since rest", "deg", _angle, end, "toe_in"
            yield f"{end} camber since rest", "deg", _angle, end, "camber"
            yield "front outer wheel's camber in the corner", "deg", _outer_camber
            continue
        yield f"{end} pinion angle since rest", "deg", _angle, end, "pitch"
        yield f"{end} sideways shift since rest", "mm", lambda many, at: many.states[at].y, end
        yield f"{end} steer in the corner", "deg", _corner_steer, end
        if axle.leaves:
            continue
        rods = straight_rods(axle)
        for number, rod in enumerate(rods):
            along = number < len((*axle.lower, *axle.upper))
            yield f"{end} {rod.name} angle", "deg", _rod_angle, end, number, "side" if along else "front"
            yield f"{end} {rod.name} force", "N", _force, end, rod.name
            yield f"{end} {rod.name} margin", "-", _margin, end, (number,)
            yield f"{end} {rod.name} force in the corner", "N", _corner_force, end, rod.name
        for number, rod in enumerate((*axle.lower, *axle.upper)):
            yield f"{end} {rod.name} tilt", "deg", _tilt, end, number
        yield f"{end} lowest margin", "-", _margin, end, range(len(rods))
        for obstacle in given.obstacles:
            if obstacle.rod in [rod.name for rod in rods]:
                yield f"{end} clearance, {obstacle.rod} to {obstacle.name}", "mm", _clearance, end, obstacle
    yield "shaft length since rest", "mm", _shaft
    yield "roll in the corner", "deg", lambda many: np.degrees(np.abs(many.corner.roll))
    yield "rise of the body in the corner", "mm", lambda many: many.corner.heave
    for end in ("rear", "front"):
        yield f"{end} tire load spread in the corner", "N", _spread, end
        yield f"{end} roll center height in the corner", "mm", _center, end
    yield CORNER_END, "g", _corner_end


def _lowest(many: Many, end: str) -> Scalar:
    """The lowest joint of the links, or of the arms, over the ground."""
    axle = getattr(many.risen, end)
    if isinstance(axle, LiveAxle):
        joints = [joint for rod in straight_rods(axle) for joint in (rod.axle, rod.chassis)]
    else:
        joints = [axle.lower.ball_joint, axle.lower.front_pivot, axle.lower.rear_pivot]
    return reduce(np.minimum, [coordinates(joint)[2] for joint in joints])


def _angle(many: Many, end: str, part: str) -> Scalar:
    return np.degrees(getattr(many.states[end], part))


def _rod_angle(many: Many, end: str, number: int, view: View) -> Scalar:
    return np.degrees(many.states[end].link_angles(view)[number])


def _tilt(many: Many, end: str, number: int) -> Scalar:
    rod = straight_rods(getattr(many.risen, end))[number]
    return np.degrees(np.arcsin(np.abs(rod.line.dy) / rod.length))


def _force(many: Many, end: str, rod: str) -> Scalar:
    return reduce(np.maximum, map(np.abs, many.forces[end][rod]))


def _margin(many: Many, end: str, numbers_: Sequence[int]) -> Scalar:
    given, rods, least = many.given, straight_rods(getattr(many.risen, end)), []
    for rod in (rods[number] for number in numbers_):
        for force in many.forces[end][rod.name]:
            sound = np.isfinite(force) & np.isfinite(rod.length)
            found = margin(
                np.where(sound, force, 0.0), np.where(sound, rod.length, 1.0), given.outer, given.rating, given.wall,
                yield_strength=given.strength,
            )  # fmt: skip
            least.append(np.where(sound, found.lowest, np.nan))
    return reduce(np.minimum, least)


def _clearance(many: Many, end: str, at: Obstacle) -> Scalar:
    state = many.states[end]
    rod = straight_rods(state.axle)[state.names.index(at.rod)]
    return clearance(state, at.rod, (rod.axle, rod.chassis), at.rod_radius, at.points, at.radius, at.on)


def _center(many: Many, end: str) -> Scalar:
    return getattr(many.corner, end).roll_center_height


def _corner_force(many: Many, end: Any, rod: str) -> Scalar:
    return np.abs(many.corner.rod_forces(end)[rod])


def _shaft(many: Many) -> Scalar:
    if many.car.shaft is None or many.car.rear is None:
        raise SusgeoError(_missing(many.car, "shaft length since rest", ""))
    return shaft_travel(many.car.shaft, many.states["rear"]).longer


def _spread(many: Many, end: str) -> Scalar:
    return np.abs(getattr(many.corner, end).right - getattr(many.corner, end).left)


def _corner_steer(many: Many, end: str) -> Scalar:
    """Out of the turn, at the rear; over the ground's heading of the body."""
    at = getattr(many.corner, end)
    state = solve_travel(getattr(many.car, end), (at.left_travel + at.right_travel) / 2, -many.corner.roll)
    out = -np.sign(many.corner.acceleration) if end == "rear" else np.sign(many.corner.acceleration)
    return np.degrees(state.yaw) * out


def _outer_camber(many: Many) -> Scalar:
    """Of the loaded wheel against the road: its camber since rest in the body, and the body's roll."""
    corner, left = many.corner, many.corner.acceleration > 0
    travel = np.where(left, corner.front.right_travel, corner.front.left_travel)
    wheel: Any = solve_travel(many.car.front, travel)  # type: ignore[arg-type]
    return np.degrees(wheel.camber + np.abs(corner.roll))


def _corner_end(many: Many) -> Scalar:
    ended = np.abs(solve_corner(many.car, END_OF_SEARCH * np.array([1.0, -1.0])).ended) / GRAVITY
    return np.where(np.isnan(ended), math.inf, ended)
