"""The table of quantities: name, symbol, unit, sign, source and how to get each from a car.

The summary of a car, the glossary, the page of symbols and the checks of hand calculations all read this one
table, so that they cannot drift apart.
"""

import difflib
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from math import inf, nan
from typing import Literal

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Axle, Car, as_number, whole
from ..car.coils import Damper
from ..car.front import IndependentFront
from ..car.pickup import dimensions, mapped
from ..errors import SusgeoError, UndefinedError
from ..geometry.flat import FlatPoint
from ..geometry.measure import in_units, slope
from ..geometry.scalars import Scalar, atan, choose, degrees, is_array, magnitude, quotient
from ..geometry.space import Point
from ..loads.anti import anti_dive, anti_lift, anti_squat
from ..loads.cornering import GRAVITY, car_roll_axis, cornering, lift_acceleration, moment_arm, roll_gradient
from ..loads.springs import DEGREE, motion_ratio, ride_frequency, roll_arm, roll_stiffness, wheel_rate
from .shop import ROWS

Names = str | Iterable[str]
"""One name of a quantity, or several."""
Ends = tuple[str, ...]
EACH: Ends = ("rear", "front")
WHOLE: Ends = ("",)


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number of the course.

    Args:
        name: the trade's name, without the axle's.
        unit: mm, deg, deg/mm, deg/g, g, N/g, N m/deg, %, or - for a plain ratio.
        symbol: as written on paper and in formulas.
        code: how to get it from the library.
        sign: what positive means.
        source: where its definition or formula comes from.
        of: function of the car and the end ("rear", "front", "") that returns it in ``unit``; it returns None
            or raises a SusgeoError where the car does not have it.
        ends: which axles may have it.
        meaning: one sentence for the glossary.
    """

    name: str
    unit: str
    symbol: str
    code: str
    sign: str
    source: str
    meaning: str
    of: Callable[[Car, str], Scalar | None]
    ends: Ends = EACH


def place(point: Point | FlatPoint, axis: str) -> Scalar:
    """Return one coordinate of a point; all coordinates of a point at infinity are infinite.

    Their sign is that of the direction taken forward, plus where the direction has no such part. An undefined
    element of an array is nan.
    """
    names = {"side": "xz", "plan": "xy", "front": "yz"}[point.view] if isinstance(point, FlatPoint) else "xyz"
    parts = dict(zip(names, point, strict=False))
    part, ahead = parts[axis], parts.get("x", parts["z"])

    def infinite() -> Scalar:
        plus = (part == 0) | ((part > 0) == (ahead > 0)) | (axis == "x")
        return choose(magnitude(point) == 0, nan, choose(plus, inf, -inf))

    return quotient(part, point.w, infinite)


def _live(take: Callable[[LiveAxle], Scalar]) -> Callable[[Car, str], Scalar | None]:
    return _axle(lambda axle: take(axle) if isinstance(axle, LiveAxle) else None)


def _independent(take: Callable[[IndependentFront], Scalar]) -> Callable[[Car, str], Scalar | None]:
    return _axle(lambda axle: take(axle) if isinstance(axle, IndependentFront) else None)


def _axle(take: Callable[[Axle], Scalar | None]) -> Callable[[Car, str], Scalar | None]:
    def of(car: Car, end: str) -> Scalar | None:
        axle = dict(car.axles()).get(end)  # type: ignore[call-overload]
        return None if axle is None else take(axle)

    return of


def _line(part: str, take: Callable[[Axle, Damper], Scalar] = motion_ratio) -> Callable[[Car, str], Scalar | None]:
    def of(car: Car, end: str) -> Scalar | None:
        at = getattr(getattr(car, f"{end}_springs"), part, None)
        return None if at is None else take(getattr(car, end), at)

    return of


def _transfer(part: str) -> Callable[[Car, str], Scalar]:
    return lambda car, end: getattr(getattr(cornering(car, GRAVITY), end), part)


LIFT = "inner tire lift"


J670 = "SAE J670, roll center"
HERE = "derived here"
TRANSFER = "Barton and Fieldhouse, Automotive Chassis Engineering, p. 174"

QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "side-view instant center x", "mm", "x_IC", "axle.side_view_instant_center", "ahead of the wheel centers", HERE,
        "How far ahead of the wheel centers the lower and upper link lines meet, seen from the side.",
        _axle(lambda axle: place(axle.side_view_instant_center, "x")),
    ),
    Quantity(
        "side-view instant center z", "mm", "z_IC", "axle.side_view_instant_center", "above the ground", HERE,
        "How high over the ground the lower and upper link lines meet, seen from the side.",
        _axle(lambda axle: place(axle.side_view_instant_center, "z")),
    ),
    Quantity(
        "lower link convergence x", "mm", "x_L", 'axle.convergence("lower")', "ahead of the wheel centers", HERE,
        "How far ahead of the wheel centers the two lower links meet, in the center plane.",
        _live(lambda axle: place(axle.convergence("lower"), "x")),
    ),
    Quantity(
        "lower link convergence z", "mm", "z_L", 'axle.convergence("lower")', "above the ground", HERE,
        "How high the two lower links meet, in the center plane.",
        _live(lambda axle: place(axle.convergence("lower"), "z")),
    ),
    Quantity(
        "upper link convergence x", "mm", "x_U", 'axle.convergence("upper")', "ahead of the wheel centers", HERE,
        "How far ahead of the wheel centers the two upper links meet, in the center plane.",
        _live(lambda axle: place(axle.convergence("upper"), "x")),
    ),
    Quantity(
        "upper link convergence z", "mm", "z_U", 'axle.convergence("upper")', "above the ground", HERE,
        "How high the two upper links meet, in the center plane.",
        _live(lambda axle: place(axle.convergence("upper"), "z")),
    ),
    Quantity(
        "locator x", "mm", "x_P", "axle.locator_point", "ahead of the wheel centers", HERE,
        "How far ahead of the wheel centers the sideways force crosses the center plane.",
        _live(lambda axle: place(axle.locator_point, "x")),
    ),
    Quantity(
        "locator height", "mm", "z_P", "axle.locator_point", "above the ground", HERE,
        "How high the sideways force between axle and body crosses the center plane.",
        _live(lambda axle: place(axle.locator_point, "z")),
    ),
    Quantity(
        "front-view instant center y", "mm", "y_IC", "axle.front_view_instant_center", "to the left", HERE,
        "Where, sideways, the left knuckle's axis pierces the plane of the wheel centers.",
        _independent(lambda axle: place(axle.front_view_instant_center, "y")),
    ),
    Quantity(
        "front-view instant center z", "mm", "z_IF", "axle.front_view_instant_center", "above the ground", HERE,
        "How high the left knuckle's axis pierces the plane of the wheel centers.",
        _independent(lambda axle: place(axle.front_view_instant_center, "z")),
    ),
    Quantity(
        "bump steer", "deg/mm", "g_b", "axle.bump_steer", "toe-in as the wheel rises", HERE,
        "How far the tie rod turns the wheel's front edge inward for each mm that the wheel rises against the body.",
        _independent(lambda axle: degrees(axle.bump_steer)), ("front",),
    ),
    Quantity(
        "camber change", "deg/mm", "g_c", "axle.camber_change", "top outward as the wheel rises", HERE,
        "How far the wheel leans, against the body, for each mm that it rises; minus in bump is what a leaning body needs.",
        _independent(lambda axle: degrees(axle.camber_change)), ("front",),
    ),
    Quantity(
        "caster change", "deg/mm", "g_a", "axle.caster_change", "top rearward as the wheel rises", HERE,
        "How far the knuckle turns in the side view for each mm that the wheel rises against the body.",
        _independent(lambda axle: degrees(axle.caster_change)), ("front",),
    ),
    Quantity(
        "scrub change", "mm/mm", "g_s", "axle.scrub_change", "outward as the wheel rises", HERE,
        "How far the contact patch goes sideways for each mm that the wheel rises; times half the track the roll center height.",
        _independent(lambda axle: axle.scrub_change), ("front",),
    ),
    Quantity(
        "roll center height", "mm", "z_R", "axle.roll_center_height", "above the ground", J670,
        "The height, between the wheel centers, at which a sideways force on the body makes it roll on no spring.",
        _axle(lambda axle: axle.roll_center_height),
    ),
    Quantity(
        "roll axis slope", "deg", "beta", "axle.roll_axis_slope", "rising toward the front", HERE,
        "The angle of the axle's roll axis in the side view; with unequal sides a turn about it heaves the axle as well.",
        _live(lambda axle: degrees(atan(axle.roll_axis_slope))),
    ),
    Quantity(
        "roll steer", "deg/deg", "e", "axle.roll_steer", "with an axis rising toward the front", HERE,
        "How far the axle steers for each degree that it rolls against the body without heave; the axis's slope if both sides are equal.",
        _live(lambda axle: axle.roll_steer),
    ),
    Quantity(
        "pinion angle rate", "deg/mm", "k_p", "axle.pinion_rate", "pinion down as the axle rises", HERE,
        "How far the axle turns in pitch for each mm that it moves up against the body.",
        _live(lambda axle: degrees(axle.pinion_rate)),
    ),
    Quantity(
        "rods that locate", "-", "n", "axle.rank", "count", HERE,
        "How many rods hold the axle independently: four are right, five bind in roll.",
        _live(lambda axle: axle.rank),
    ),
    Quantity(
        "anti-squat", "%", "A_s", "anti_squat(car)", "the links hold the tail up under drive", HERE,
        "The links' part of the load transfer m a h / L under drive; the axle reacts its torque by its links.",
        lambda car, end: anti_squat(car), ("rear",),
    ),
    Quantity(
        "anti-lift", "%", "A_l", "anti_lift(car)", "the links hold the tail down under braking", HERE,
        "The rear links' part of the load transfer m a h / L under braking, share p in front; the brakes sit on the axle.",
        lambda car, end: anti_lift(car), ("rear",),
    ),
    Quantity(
        "anti-dive", "%", "A_d", "anti_dive(car)", "the links hold the nose up under braking", HERE,
        "The front links' part of the load transfer m a h / L under braking, share p in front; the brakes sit at the wheels.",
        lambda car, end: anti_dive(car), ("front",),
    ),
    Quantity(
        "spring motion ratio", "mm/mm", "h_c", "motion_ratio(car.rear, car.rear_springs.coil)", "shorter as the axle rises", HERE,
        "How many mm the coil spring shortens for each mm that the axle, or the wheel, rises against the body.",
        _line("coil"),
    ),
    Quantity(
        "spring roll arm", "mm/rad", "r_c", "roll_arm(car.rear, car.rear_springs.coil)", "left one shorter, left side up", HERE,
        "How many mm the left coil spring shortens, and the right one lengthens, for each radian of roll.",
        _line("coil", roll_arm),
    ),
    Quantity(
        "drop link roll arm", "mm/rad", "r_n", "roll_arm(car.rear, car.rear_springs.bar)", "left one shorter, left side up", HERE,
        "How many mm the left drop link moves its arm of the anti-roll bar for each radian of roll.",
        _line("bar", roll_arm),
    ),
    Quantity(
        "damper motion ratio", "mm/mm", "h_d", "motion_ratio(car.rear, car.rear_springs.damper)", "shorter as the axle rises", HERE,
        "How many mm the damper shortens for each mm that the axle, or the wheel, rises against the body.",
        _line("damper"),
    ),
    Quantity(
        "wheel rate", "N/mm", "k_w", "wheel_rate(car.rear_springs, car.rear)", "against bump", HERE,
        "The force on each side for each mm that both wheels rise: the spring's rate times its motion ratio squared.",
        lambda car, end: wheel_rate(getattr(car, f"{end}_springs"), getattr(car, end)),
    ),
    Quantity(
        "ride frequency", "Hz", "f_b", 'ride_frequency(car, "rear")', "count", "one mass on its springs, any textbook of vibration",
        "How often in a second the body over one axle would bounce on that axle's springs alone.",
        lambda car, end: ride_frequency(car, end),  # type: ignore[arg-type]
    ),
    Quantity(
        "roll stiffness", "N m/deg", "K", "roll_stiffness(car.rear_springs, car.rear)", "against roll", HERE,
        "The moment with which an axle's springs and anti-roll bar answer one degree of body roll.",
        lambda car, end: quotient(roll_stiffness(getattr(car, f"{end}_springs"), getattr(car, end)), DEGREE),
    ),
    Quantity(
        "load transfer", "N/g", "dF_z", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
        "The load that moves from an axle's inner to its outer tire for each g of lateral acceleration.",
        _transfer("transfer"),
    ),
    Quantity(
        "geometric load transfer", "N/g", "dF_g", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
        "The part of an axle's load transfer that its links carry: the body's share of the force, at the roll center.",
        _transfer("geometric"),
    ),
    Quantity(
        "elastic load transfer", "N/g", "dF_e", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
        "The part of an axle's load transfer that its springs and anti-roll bar carry, because the body rolls.",
        _transfer("elastic"),
    ),
    Quantity(
        "unsprung load transfer", "N/g", "dF_u", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
        "The part of an axle's load transfer that comes from its own mass and not by way of the body.",
        _transfer("unsprung"),
    ),
    Quantity(
        "inner tire lift", "g", "a_lift", 'lift_acceleration(car, "rear")', "lateral acceleration", HERE,
        "Where an axle's inner tire would carry nothing more if the load transfer stayed in proportion; no result beyond the linear limit.",
        lambda car, end: quotient(lift_acceleration(car, end), GRAVITY),  # type: ignore[arg-type]
    ),
    Quantity(
        "car roll axis slope", "deg", "beta_c", "car_roll_axis(car)", "rising toward the front", HERE,
        "The angle of the line through both roll centers in the side view.",
        lambda car, end: degrees(atan(slope(car_roll_axis(car)))), WHOLE,
    ),
    Quantity(
        "roll moment arm", "mm", "H", "moment_arm(car)", "above the roll axis", HERE,
        "How high the body's center of gravity is over the line through both roll centers.",
        lambda car, end: moment_arm(car), WHOLE,
    ),
    Quantity(
        "roll gradient", "deg/g", "phi'", "roll_gradient(car)", "out of the turn", TRANSFER,
        "How far the body rolls for each g of lateral acceleration, up to the linear limit.",
        lambda car, end: degrees(roll_gradient(car)) * GRAVITY, WHOLE,
    ),
    *(Quantity(*row) for row in ROWS),
)  # fmt: skip

BLOCK = 32768
"""Elements worked on at a time: few enough for a processor's cache, many enough to hide Python's own cost."""


@cache
def _known() -> dict[str, tuple[Quantity, str]]:
    return {f"{end} {each.name}".lstrip(): (each, end) for each in QUANTITIES for end in each.ends}


def plain_name(name: str) -> str:
    """Return a quantity's name without the unit that the summary adds."""
    return name.partition(" [")[0]


def find(name: str) -> tuple[Quantity, str]:
    """Return a quantity and its axle's end by the name that the summary gives it; the unit may be left out.

    >>> quantity, end = find("rear roll center height")
    >>> quantity.unit, end
    ('mm', 'rear')
    """
    asked, known = plain_name(name), _known()
    if asked in known:
        return known[asked]
    close = difflib.get_close_matches(asked, known, 1, 0.5)
    hint = f"did you mean {close[0]}?" if close else f"there are {', '.join(known)}."
    raise SusgeoError(f"There is no quantity called {asked}; {hint}")


def listed(names: Names | None) -> list[str] | None:
    """Return names as a list: a text alone is one name; None, for all of them, stays."""
    return [names] if isinstance(names, str) else None if names is None else list(names)


def numbers(thing: Car | Axle, names: Names | None = None) -> dict[str, Scalar]:
    """Return the quantities that a car's measurements allow, by name: floats, arrays, Duals or expressions.

    Lengths in mm, angles in degrees. A car with arrays in its dimensions (:func:`susgeo.car.pickup.moved`) is many
    cars at once, and each quantity that depends on them is an array of their broadcast shape: nan where
    undefined, infinite at infinity. Working memory beside the results: some 50 arrays of :data:`BLOCK`.

    Args:
        thing: a car, many cars, or an axle alone.
        names: the quantities wanted, or one name; None for all.

    Raises:
        SusgeoError: there is no quantity of that name.

    >>> from susgeo import load_car, moved
    >>> cars = moved(load_car("data/three_link.toml"), {"rear.locator.axle.z": np.array([300.0, 320.0])})
    >>> numbers(cars, ["rear roll center height"])["rear roll center height"].round(2).tolist()
    [307.31, 316.82]
    """
    car, asked = whole(thing), listed(names)
    wanted = list(_known().values()) if asked is None else [find(name) for name in asked]
    arrays = {place: value for place, value in dimensions(car).items() if is_array(value)}
    shape = np.broadcast_shapes(*(value.shape for value in arrays.values()))
    size = math.prod(shape)
    if size <= BLOCK:
        return _numbers(car, wanted)
    flat = {place: np.broadcast_to(value, shape).reshape(-1) for place, value in arrays.items()}

    def work(block: slice) -> dict[str, Scalar]:
        part = {place: value[block] for place, value in flat.items()}
        return _numbers(mapped(car, lambda place, value: part.get(place, value)), wanted)

    found: dict[str, list[Scalar]] = {}
    blocks = [slice(start, min(start + BLOCK, size)) for start in range(0, size, BLOCK)]
    for number, block in enumerate(blocks):
        known = work(block)
        for name in dict.fromkeys([*found, *known]):  # what earlier blocks, or this one, lack is nan there
            found.setdefault(name, [nan] * number).append(known.get(name, nan))

    def joined(parts: list[Scalar]) -> Scalar:
        if not any(map(is_array, parts)):
            return parts[-1]
        full = [np.full(block.stop - block.start, part) for block, part in zip(blocks, parts, strict=True)]
        return np.concatenate(full).reshape(shape)

    return {name: joined(parts) for name, parts in found.items()}


def _numbers(car: Car, wanted: list[tuple[Quantity, str]]) -> dict[str, Scalar]:
    found = {}
    for quantity, end in wanted:
        try:
            value = quantity.of(car, end)
        except SusgeoError:
            continue
        if value is not None:
            found[f"{end} {quantity.name}".lstrip()] = value
    return found


def summary(thing: Car | Axle, units: Literal["mm", "in"] = "mm") -> dict[str, float]:
    """Return every number that a car's or an axle's measurements allow, by trade name with its unit.

    ``inf`` and ``-inf`` stand for a point at infinity, farther than 1000 km. Numbers that the
    measurements do not determine are left out, never nan; so is a tire lift beyond the linear limit.

    >>> from susgeo import load_car
    >>> round(summary(load_car("data/three_link.toml"))["rear roll center height [mm]"], 3)
    307.308
    """
    found: dict[str, float] = {}
    for name, value in numbers(whole(thing)).items():
        try:
            number, unit = in_units(as_number(value), find(name)[0].unit, units)
        except UndefinedError:
            continue
        found[f"{name} [{unit}]"] = number
    limit = found.get("linear limit [g]", inf)
    return {name: number for name, number in found.items() if LIFT not in name or number <= limit}


def remarks(thing: Car | Axle) -> tuple[str, ...]:
    """Return in sentences what the numbers of a car or an axle leave out because it was not measured.

    >>> from susgeo import load_car
    >>> remarks(load_car("data/club_coupe.toml"))
    ()
    """
    front = whole(thing).front
    if not isinstance(front, IndependentFront) or front.tie_rod is not None:
        return ()
    return (
        "The front tie rod was not measured: bump steer, and its share in the roll center, the instant centers and "
        "anti-dive, are not counted.",
    )
