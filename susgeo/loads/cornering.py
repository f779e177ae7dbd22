"""The whole car in a steady corner: roll axis, roll angle, load transfer part by part, load on every tire.

The body rolls about the line through both roll centers. Its own force acts at the height H over that line; the
springs hold it there, and gravity helps it over:

    roll = (m_s a H + U a) / (K_front + K_rear - m_s g H)

At each axle the load that moves from the inner to the outer tire has three parts, each a moment over the track:
*geometric*, the body's share of the lateral force at the height of the roll center, through the links;
*elastic*, the roll stiffness times the roll, through springs and bar; *unsprung*, the axle's own mass at wheel-center
height. U is zero for beam axles, which stand on their tires. An independent wheel leans with the body, by the
share c of its roll, so that the share c of its own mass's moment m r reaches the body and the springs (U = m r c),
and 1 - c the links; textbooks leave that out.

Holds for small angles (for how large an acceleration: :func:`linear_limit`), a rigid body, tires that do not yield upright, and joints without stiffness (an axle
that binds is stiffer than its springs). Acceleration is positive to the left, roll positive left side up, as in
ISO 8855: in a left turn both are positive, and load moves to the right tires.

Source: textbook statics, as in Barton and Fieldhouse, Automotive Chassis Engineering, 2018, p. 174, whose numbers
the tests meet; the stiffness of a beam axle is derived here: springs of rate k, spacing s, give in a roll of
one radian s / 2 each, at a lever of s / 2, both sides: k s^2 / 2. It is the spacing that counts, not the track.
"""

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Axle, Car, axle_of, weighed
from ..car.rods import METER
from ..errors import SusgeoError
from ..geometry.incidence import join
from ..geometry.scalars import Scalar, choose, finite, is_symbolic, plain, quotient
from ..geometry.space import Line, Point
from ..travel.newton import Array
from .equilibrium import LOADS, PHI, WHEELS, equations
from .path import REACHED, ROUGH, followed, from_rest, guessed, states
from .springs import body_over, wheel_rate
from .springs import roll_stiffness as roll_stiffness

GRAVITY = 9.80665
"""Standard acceleration of free fall in m/s^2 (ISO 80000-3; exact by definition)."""
FINE = GRAVITY / 800

Sharing = Literal["load", "equal"]


@dataclass(frozen=True, eq=False)
class AxleLoads:
    """One axle in a steady corner, in N.

    Args:
        geometric, elastic, unsprung: parts of the load that moves from the left tire to the right.
        left, right: load on each tire.
    """

    geometric: Scalar
    elastic: Scalar
    unsprung: Scalar
    left: Scalar
    right: Scalar

    @property
    def transfer(self) -> Scalar:
        """All of the load that moves from the left tire to the right."""
        return self.geometric + self.elastic + self.unsprung


@dataclass(frozen=True, eq=False)
class Cornering:
    """A car in a steady corner.

    Args:
        acceleration: lateral, positive to the left, in m/s^2.
        roll: of the body, positive left side up, in rad.
        front, rear: the axles.
    """

    acceleration: Scalar
    roll: Scalar
    front: AxleLoads
    rear: AxleLoads
    _car: Car = field(repr=False)

    @cached_property
    def warning(self) -> str:
        """Why these numbers are not to be trusted, in a sentence; empty where roll and tire loads are within 5 %."""
        if is_symbolic(self.roll) or is_symbolic(self.acceleration):
            return "These are formulas: linear_limit(car) says of one car of numbers how far they hold."
        limit, size = linear_limit(self._car), float(np.nanmax(np.abs(plain(self.acceleration))))
        if size <= limit:
            return ""
        return f"At {size / GRAVITY:.3g} g roll and tire loads are no longer within 5 %. {holds(limit)} Take solve_corner(car, lateral)."

    @property
    def tires(self) -> dict[str, Scalar]:
        """The load on each tire in N. A negative load is a tire in the air: there the calculation ends."""
        axles = {"front": self.front, "rear": self.rear}
        return {f"{end} {side}": getattr(axle, side) for end, axle in axles.items() for side in ("left", "right")}


def car_roll_axis(car: Car) -> Line:
    """Return the line through both roll centers, rear to front, from the origin of the rear axle.

    Args:
        car: with both axles.

    >>> from susgeo import load_car, slope
    >>> round(slope(car_roll_axis(load_car("data/club_coupe.toml"))), 4)
    -0.1408
    """
    rear, front = _roll_center_heights(car)
    return join(Point(0, 0, rear), Point(car.wheelbase, 0, front))


def _roll_center_heights(car: Car | Axle) -> tuple[Scalar, Scalar]:
    return axle_of(car, "rear").roll_center_height, axle_of(car, "front").roll_center_height


@dataclass(frozen=True, eq=False)
class _Masses:
    """The body's mass over each axle and in all, in kg, its height over the roll axis, and moments per acceleration.

    ``through_links`` is, for each end, the moment of the axle's own mass that comes back to its own tires, and
    ``through_springs`` that of both axles which the body must carry first, in kg mm.
    """

    over: dict[str, Scalar]
    body: Scalar
    arm: Scalar
    through_links: dict[str, Scalar]
    through_springs: Scalar


def _masses(car: Car) -> _Masses:
    """Return the sprung mass over each axle, and how high its center of gravity is over the roll axis."""
    weight, (rear_center, front_center) = weighed(car), _roll_center_heights(car)
    front, rear = body_over(car, "front"), body_over(car, "rear")
    links: dict[str, Scalar] = {}
    moment, springs = weight.mass * weight.cg_height, 0
    for end, axle in car.axles():
        own = getattr(weight, f"{end}_unsprung_mass") * axle.tire_radius
        lean = _lean(axle)
        moment, springs, links[end] = moment - own, springs + own * lean, own * (1 - lean)
    arm = quotient(moment - front * front_center - rear * rear_center, front + rear)
    return _Masses({"front": front, "rear": rear}, front + rear, arm, links, springs)


def _lean(axle: Axle) -> Scalar:
    """Return how far a wheel leans over the ground per unit of body roll: 0 on a beam axle, 1 on parallel arms."""
    if isinstance(axle, LiveAxle):
        return 0
    y, _, weight = axle.front_view_instant_center
    return quotient(2 * y, 2 * y - weight * axle.track)


def moment_arm(car: Car) -> Scalar:
    """Return how high the body's center of gravity is over the car's roll axis, in mm.

    The body's own center of gravity, the axles taken out; upright, and not square to the axis: a roll about a
    slanting axis carries a yaw with it, and the body moves sideways by the upright distance.

    >>> from susgeo import load_car
    >>> round(moment_arm(load_car("data/club_coupe.toml")), 1)
    451.8
    """
    return _masses(car).arm


def roll_gradient(car: Car) -> Scalar:
    """Return the body's roll per lateral acceleration, in rad/(m/s^2).

    Args:
        car: with both axles, weight and springs.

    Raises:
        SusgeoError: something was not measured, or gravity alone rolls the body over on its springs.

    >>> from susgeo import load_car
    >>> round(roll_gradient(load_car("data/club_coupe.toml")) * GRAVITY * 180 / math.pi, 2)
    6.03
    """
    masses = _masses(car)
    overturning = masses.body * masses.arm
    front, rear = roll_stiffness(car.front_springs, car.front), roll_stiffness(car.rear_springs, car.rear)
    left = front + rear - GRAVITY * overturning
    if not is_symbolic(left):
        held = plain(left) > 0
        if not np.any(held):
            raise SusgeoError(
                "The springs cannot hold the body upright: its weight over the roll axis is more than their roll "
                "stiffness; check rate and spacing of both axles' springs."
            )
        left = choose(held, left, math.nan)
    return quotient(overturning + masses.through_springs, left)


def cornering(car: Car, acceleration: Scalar) -> Cornering:
    """Return roll, load transfer by parts and tire loads of a car in a steady corner.

    Args:
        car: with both axles, springs and weight.
        acceleration: lateral, positive to the left (a left turn), in m/s^2; one g is :data:`GRAVITY`. Beyond
            :func:`linear_limit` the result's ``warning`` says so.

    Raises:
        SusgeoError: as :func:`roll_gradient`.

    >>> from susgeo import load_car
    >>> corner = cornering(load_car("data/club_coupe.toml"), 0.3 * GRAVITY)
    >>> {tire: round(load) for tire, load in corner.tires.items()}, corner.warning
    ({'front left': 2321, 'front right': 3610, 'rear left': 1723, 'rear right': 2938}, '')
    >>> print(cornering(load_car("data/club_coupe.toml"), 0.6 * GRAVITY).warning)
    At 0.6 g roll and tire loads are no longer within 5 %. Simple formulas hold up to 0.324 g. Take solve_corner(car, lateral).
    """
    acceleration = finite(acceleration, "The lateral acceleration")
    masses, weight, roll = _masses(car), weighed(car), roll_gradient(car) * acceleration
    found: dict[str, AxleLoads] = {}
    for (end, axle), center in zip(car.axles(), _roll_center_heights(car), strict=True):
        share = weight.front_share if end == "front" else 1 - weight.front_share
        track, standing = axle.track, quotient(GRAVITY * weight.mass * share, 2)
        parts = (
            quotient(masses.over[end] * acceleration * center, track),
            quotient(roll_stiffness(getattr(car, f"{end}_springs"), axle) * roll, track),
            quotient(masses.through_links[end] * acceleration, track),
        )
        found[end] = AxleLoads(*parts, left=standing - sum(parts), right=standing + sum(parts))
    return Cornering(acceleration, roll, _car=car, **found)


def jacking(car: Car, end: Literal["front", "rear"]) -> Scalar:
    """Return how far the body rises over a live axle for each m/s^2 of lateral acceleration to the left, in mm.

    A locator that pushes along a slope takes the axle sideways as it rises. By virtual work the body's share of the side
    force, times that way for each mm, stands against both springs: up in one turn, down in the other. For small motion.
    (Also what rises over unequal links; an independent front's two sides cancel.) Common practice, no source: under 5 mm/g.

    >>> from susgeo import load_car
    >>> round(jacking(load_car("tilted_bar"), "rear") * GRAVITY, 2)
    6.63
    """
    axle: Any = getattr(car, end)
    _, aside, up, *_ = axle.lifting
    return quotient(-body_over(car, end) * aside, 2 * up * wheel_rate(getattr(car, f"{end}_springs"), axle))


def lift_acceleration(car: Car, end: Literal["front", "rear"]) -> Scalar:
    """Return the lateral acceleration at which an axle's inner tire carries nothing more, in m/s^2.

    On paper: no result beyond :func:`linear_limit`. Where a tire lifts says :func:`susgeo.loads.corner.corner_end`.
    Whether the tires can hold so much is another question.
    """
    unit = getattr(cornering(car, 1), end)
    return quotient(unit.left + unit.right, 2 * unit.transfer)


def holds(limit: float) -> str:
    """Return in a sentence what a linear limit means.

    >>> holds(0.32 * GRAVITY)
    'Simple formulas hold up to 0.32 g.'
    """
    if limit:
        return f"Simple formulas hold up to {limit / GRAVITY:.3g} g."
    return (
        "Simple formulas hold nowhere on this car: from the start its weight tips the body otherwise than they have it."
    )


def linear_limit(car: Car, within: float = 0.05, sharing: Sharing = "load") -> float:
    """Return up to which acceleration, in m/s^2, ``cornering`` gives one car's roll and every tire load within 5 %.

    Of both turns the smaller, in steps of 1/800 g, to 1.6 g at most. Zero where it is off from the start, because the body's weight already tips otherwise
    than the formula has it. Never more than the end of :func:`susgeo.loads.corner.corner_end`.

    Args:
        car, sharing: as for :func:`susgeo.loads.corner.corner_end`. within: the error allowed, as a share of the solved roll and loads.

    >>> from susgeo import load_car
    >>> round(linear_limit(load_car("data/club_coupe.toml")) / GRAVITY, 2)
    0.32
    """
    if not (isinstance(within, float) and 0 < within < 1):
        raise SusgeoError(f"within is {within}; expected a share between 0 and 1, such as 0.05 for 5 %.")
    system, shape = equations(car, 0.0, sharing, GRAVITY)
    if shape:
        raise SusgeoError("These are many cars at once; ask for the linear limit of one.")
    ways = np.array([1.0, -1.0])
    paths, line = from_rest(system, ways), [cornering(car, a) for a in (0.0, 1.0)]
    at_rest, at_one = (np.array([each.roll, *(each.tires[tire] for tire in WHEELS)])[:, None] for each in line)

    def good(numbers: Array, exact: bool) -> Array:
        """Return whether the formula holds in both turns at each of so many 800ths of a g."""
        path, goal = np.repeat([0, 1], len(numbers)), np.multiply.outer(ways, numbers).reshape(-1) * FINE
        state, *_, ended = states(system, paths, path, goal, ROUGH) if exact else guessed(paths, path, goal)
        true = np.vstack([state.x[PHI] / METER, state.x[LOADS]])
        off = np.abs(at_rest + (at_one - at_rest) * goal - true) / (np.abs(true) + 1e-6)
        return ((np.max(off, axis=0) <= within) & (ended == REACHED)).reshape(2, -1).all(axis=0)

    for last in range(320, 1281, 320):
        paths = followed(system, paths, ways * last * FINE)
        if not (found := good(np.arange(last - 319, last + 1), exact=False)).all():
            first = max(last - 324 + int(np.argmin(found)), 0)
            return (first + int(np.cumprod(good(first + np.arange(1, 11), exact=True)).sum())) * FINE
    return last * FINE
