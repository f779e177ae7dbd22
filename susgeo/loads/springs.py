"""Springs, dampers and anti-roll bars as lines: motion ratios, wheel rate, roll stiffness, ride frequency.

A spring is one more line beside the rods. How fast it shortens is its line times the axle's free motion: in heave
(without roll) the *motion ratio*, in mm per mm that the middle of the wheel-center line rises; in roll (without heave)
the *roll arm*, in mm per radian that the axle rolls against the body, left side up. Both positive where the left spring
shortens; where the sides differ, the mean of left and right.

By energy, k / 2 for each spring times its shortening squared, a spring of rate k gives the wheel rate k h^2, and both
together the roll stiffness 2 k r^2. What a spring's preload adds as its line turns is left out, as the trade does.
For an independent wheel the heave is that of the wheel center, and r = h t / 2 with the track t: the contact patch
of a body that rolls by one radian about the roll center rises by t / 2.

Source: virtual work, derived here; the frequency is that of one mass on its springs, any textbook of vibration.
"""

import math
from collections.abc import Sequence
from typing import Literal, cast

from ..car.axle import LiveAxle
from ..car.car import Axle, Car, Springs, axle_of, weighed, whole
from ..car.coils import Damper, acting, on_the_right
from ..car.front import IndependentFront
from ..errors import SusgeoError, expect, known
from ..geometry.scalars import Scalar, dot, quotient, row, sqrt
from ..tables import Table, shown
from ..travel.lines import moved_line
from ..travel.live import solve_travel

NEWTON_METER = 1000.0
"""One N m in N mm, in which moments are kept here: masses in kg, accelerations in m/s^2, lengths in mm."""

DEGREE = NEWTON_METER * 180 / math.pi
"""One N m per degree in N mm per radian."""

CAUTION = (
    "A loaded spring or a compressed coil-over can kill: spring compressors by their maker's book, or a qualified shop. "
    "Check coil bind, bump stop, and droop against the makers' lengths at both ends of the travel."
)


def motion_ratio(axle: Axle, at: Damper, right: Damper | None = None) -> Scalar:
    """Return how many mm a spring, damper or drop link shortens for each mm that the axle, or wheel, rises.

    Args:
        axle: that it sits on. at: the left one.
        right: the right one, where the axle has moved and it is no mirror image (:func:`susgeo.travel.lines.moved_line`).

    >>> from susgeo import Point, load_car
    >>> from susgeo.car.coils import Coil
    >>> coil = Coil(Point(-80, 470, 250), Point(-50, 350, 580), rate=27)
    >>> axle = load_car("data/club_coupe.toml").rear
    >>> round(motion_ratio(axle, coil), 4), round(roll_arm(axle, coil), 2)
    (1.031, 408.24)
    """
    expect(LiveAxle | IndependentFront, axle=axle)
    expect(Damper, at=at)
    first, second = shortening(axle, at, "heave", right)
    return quotient(first + second, 2)


def roll_arm(axle: Axle, at: Damper) -> Scalar:
    """Return how many mm the left one shortens, and the right one lengthens, for each radian of the axle's roll."""
    left, right = shortening(axle, at, "roll")
    return quotient(left - right, 2)


def shortening(
    axle: Axle, at: Damper, movement: Literal["heave", "roll"], right: Damper | None = None
) -> tuple[Scalar, Scalar]:
    """Return how fast the left and the right line shorten, per mm of heave or per radian of roll."""
    if isinstance(axle, LiveAxle):
        move = axle.lifting if movement == "heave" else axle.rolling
        unit = move[2 if movement == "heave" else 3]
        first, second = acting(axle, at), acting(axle, right or on_the_right(at), "right")
        return quotient(dot(first, move), unit), quotient(dot(second, move), unit)
    axis = axle.instant_axis  # a turn about it: its moment is the velocity of the origin
    rise = 2 * axis.mz + axis.dx * axle.track  # of the wheel center, twice
    move = (axis.mx, axis.my, axis.mz, axis.dx, axis.dy, axis.dz)
    rate = quotient(2 * dot(acting(axle, at), move), rise)
    return (rate, rate) if movement == "heave" else (quotient(rate * axle.track, 2), quotient(-rate * axle.track, 2))


def wheel_rate(springs: Springs | None, axle: Axle | None = None) -> Scalar:
    """Return the rate of one side in N/mm as both wheels rise: k h^2, or the rate itself where that is given.

    Raises:
        SusgeoError: the springs are not known.
    """
    found = _known(springs)
    if found.coil is None:
        return known(
            found.rate,
            "The rate of an axle's springs is not known; add a table [rear.springs] or [rear.coil], or the front's.",
        )
    left, right = shortening(_standing(axle), found.coil, "heave")
    return quotient(found.coil.rate * (left * left + right * right), 2)


def roll_stiffness(springs: Springs | None, axle: Axle | None = None) -> Scalar:
    """Return an axle's roll stiffness from springs and anti-roll bar, in N mm per rad.

    Args:
        springs: of the axle.
        axle: needed where springs or bar are given as lines.

    >>> roll_stiffness(Springs(rate=27, spacing=960))
    12441600
    """
    found = _known(springs)
    if found.coil is None:
        total = quotient(wheel_rate(found) * found.spacing * found.spacing, 2)
    else:
        left, right = shortening(_standing(axle), found.coil, "roll")
        total = found.coil.rate * (left * left + right * right)
    return total + bar_stiffness(found, axle)


def bar_stiffness(springs: Springs | None, axle: Axle | None = None) -> Scalar:
    """Return the anti-roll bar's part of the roll stiffness in N mm per rad; arguments as for :func:`roll_stiffness`."""
    found = _known(springs)
    if found.bar is None:
        none = isinstance(found.anti_roll_rate, float | int) and found.anti_roll_rate == 0
        return 0 if none else found.anti_roll_rate * DEGREE
    arm = roll_arm(_standing(axle), found.bar)  # its ends go up and down alike
    return 2 * found.bar.end_rate * arm * arm


def ride_frequency(car: Car, end: Literal["rear", "front"]) -> Scalar:
    """Return how often the body over one axle would bounce on its springs alone, in Hz.

    Common practice, no source: 1.2 to 2.2 Hz for cars of this kind.

    Raises:
        SusgeoError: springs or weight are not known.

    >>> from susgeo import load_car
    >>> round(ride_frequency(load_car("data/club_coupe.toml"), "rear"), 2)
    2.15
    """
    rate = wheel_rate(getattr(car, f"{end}_springs"), getattr(car, end))
    return quotient(sqrt(quotient(2000 * rate, body_over(car, end))), 2 * math.pi)


def body_over(car: Car, end: str) -> Scalar:
    """Return the body's mass over one axle in kg."""
    weight = weighed(car)
    share = weight.front_share if end == "front" else 1 - weight.front_share
    return weight.mass * share - getattr(weight, f"{end}_unsprung_mass")


def spring_table(
    car: Car, end: Literal["rear", "front"] = "rear", heaves: Sequence[float] = (-60, -30, 0, 30, 60)
) -> Table:
    """Return lengths and motion ratios of an axle's springs, dampers and drop links through travel.

    Args:
        car: with lines in its springs. end: which axle.
        heaves: rise of the axle, or wheel, against the body in mm.

    >>> from dataclasses import replace
    >>> from susgeo import Point, load_car
    >>> from susgeo.car.coils import Coil
    >>> coil = Coil(Point(-80, 470, 250), Point(-50, 350, 580), rate=27)
    >>> car = replace(load_car("data/three_link.toml"), rear_springs=Springs(coil=coil))
    >>> spring_table(car, heaves=(-40, 0, 40)).rows[0]
    ('-40', '391.1', '0.9738')
    """
    axle, heaves = axle_of(car, end), row(heaves, "heaves")
    springs = _known(getattr(whole(car), f"{end}_springs"))
    known = {"coil": springs.coil, "damper": springs.damper, "drop link": springs.bar}
    lines = {name: at for name, at in known.items() if at}
    if not lines:
        raise SusgeoError(
            f"No spring, damper or drop link of the {end} axle is known as a line; add a table [{end}.coil], [{end}.damper] or [{end}.anti_roll_bar]."
        )
    states = solve_travel(axle, heaves)
    columns = [[f"{heave:g}" for heave in heaves]]
    for at in lines.values():
        left, right = moved_line(states, at), moved_line(states, at, "right")
        columns.append([shown(float(length), "mm") for length in left.length])
        columns.append([f"{ratio:.4f}" for ratio in motion_ratio(states.moved, left, right)])
    heads = [f"{name}, {unit}" for name in lines for unit in ("mm", "mm per mm")]
    return Table(("rise of the axle, mm", *heads), tuple(zip(*columns, strict=True)), CAUTION)


def _known(springs: Springs | None) -> Springs:
    unknown = "An axle's springs are not known; add a table [rear.springs] or [front.springs] to the car's file."
    return known(springs, unknown)


def _standing(axle: Axle | None) -> Axle:
    unknown = "Springs given as lines need their axle: roll_stiffness(car.rear_springs, car.rear)."
    return cast(Axle, known(axle, unknown))
