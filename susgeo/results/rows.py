"""The quantities themselves: rows of the one table (:mod:`susgeo.results.quantities`), of the course and of the workshop."""

from collections.abc import Callable
from functools import partial
from math import inf, nan
from typing import Any

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Axle, Car, weighed
from ..car.coils import Damper
from ..car.front import IndependentFront, axis_numbers, shim
from ..car.links import Link
from ..car.locators import PanhardBar
from ..car.pickup import dimensions
from ..car.rods import response
from ..geometry.dual import Dual
from ..geometry.flat import VIEWS, FlatPoint
from ..geometry.measure import coordinates, slope
from ..geometry.scalars import (
    Scalar,
    asin,
    atan,
    choose,
    degrees,
    hypot,
    is_array,
    is_symbolic,
    magnitude,
    plain,
    quotient,
)
from ..geometry.space import Point
from ..loads.anti import anti_dive, anti_lift, anti_squat
from ..loads.corner import corner_end
from ..loads.cornering import (
    GRAVITY,
    car_roll_axis,
    cornering,
    jacking,
    lift_acceleration,
    linear_limit,
    moment_arm,
    roll_gradient,
)
from ..loads.forces import shaft_torque_transfer
from ..loads.scales import height_per_kg, perch, scales_gain
from ..loads.springs import (
    DEGREE,
    bar_stiffness,
    motion_ratio,
    ride_frequency,
    roll_arm,
    roll_stiffness,
    shortening,
    wheel_rate,
)

Of = Callable[[Car, str], Scalar | None]
"""A quantity of a car's end ("rear", "front", or "" for the whole car); None where the car does not have it."""
Row = tuple[str, str, str, str, str, str, str, Of, tuple[str, ...]]
"""The fields of :class:`susgeo.results.quantities.Quantity`."""


def place(point: Point | FlatPoint, axis: str) -> Scalar:
    """Return one coordinate of a point; all coordinates of a point at infinity are infinite.

    Their sign is that of the direction taken forward, plus where the direction has no such part. An undefined
    element of an array is nan.
    """
    names = VIEWS[point.view] if isinstance(point, FlatPoint) else "xyz"
    parts = dict(zip(names, point, strict=False))
    part, ahead = parts[axis], parts.get("x", parts["z"])

    def infinite() -> Scalar:
        plus = (part == 0) | ((part > 0) == (ahead > 0)) | (axis == "x")
        return choose(magnitude(point) == 0, nan, choose(plus, inf, -inf))

    return quotient(part, point.w, infinite)


def either(take: Callable[[Any], Scalar | None], kind: Any = Axle) -> Of:
    """Return a function of the axle at an end, where it is of this kind."""
    return lambda car, end: take(axle) if isinstance(axle := getattr(car, end), kind) else None


live, independent = partial(either, kind=LiveAxle), partial(either, kind=IndependentFront)


def line(part: str, take: Callable[[Axle, Any], Scalar] = motion_ratio) -> Of:
    def of(car: Car, end: str) -> Scalar | None:
        at = getattr(getattr(car, f"{end}_springs"), part, None)
        return None if at is None else take(getattr(car, end), at)

    return of


def turned(axle: LiveAxle, **longer: float) -> tuple[Scalar, Scalar, Scalar, Scalar]:
    """Return how x, y (mm), pitch and yaw (rad) of the axle's middle change per mm, heave and roll held.

    Args:
        axle: any. longer: how many mm longer "left" and "right" lower link, "upper" link or links, and "bar" get.

    >>> from susgeo import load_car
    >>> round(degrees(turned(load_car("data/three_link.toml").rear, upper=1)[2]), 4)
    -0.2518
    """
    left, right, upper, bar = (longer.get(name, 0) for name in ("left", "right", "upper", "bar"))
    changes = [change * link.length for change, link in zip((left, right), axle.lower, strict=False)]
    if axle.over_located:  # the pair's line is the sum, times both lengths
        changes.append(2 * upper * axle.upper[1].length * axle.upper[0].length)
    else:
        changes += [upper * link.length for link in axle.upper]
    lines = axle.locating_lines
    changes += [bar * hypot(line.dx, line.dy, line.dz) for line in lines[len(changes) :]]
    x, y, pitch, yaw = response(lines, changes)
    return x + pitch * axle.tire_radius, y, pitch, yaw


def _turn(part: int, **longer: float) -> Of:
    def take(axle: LiveAxle) -> Scalar | None:  # leaves have no upper links: wedges turn their pinion
        paired = "right" not in longer or (len(axle.lower) == 2 and axle.is_symmetric)
        barred = "bar" not in longer or isinstance(axle.locator, PanhardBar)
        if not (axle.upper and axle.lower and paired and barred):
            return None
        value = turned(axle, **longer)[part]
        return degrees(value) if part > 1 else value

    return live(take)


def _joint(take: Callable[[Scalar, Scalar], Scalar]) -> Of:
    return lambda car, end: None if car.shaft is None else take(*car.shaft.joint_angles)


def _plunge(car: Car, end: str) -> Scalar | None:
    if car.shaft is None or car.rear is None:
        return None
    return -shortening(car.rear, Damper(car.shaft.pinion, car.shaft.gearbox), "heave")[0]


def _no_plunge(car: Car, end: str) -> Scalar | None:
    if car.shaft is None or car.rear is None:
        return None
    (x, _, z), (a, _, c) = (coordinates(joint) for joint in (car.shaft.pinion, car.shaft.gearbox))
    u, _, w = car.rear.side_view_instant_center
    return z + quotient((c - z) * (u - w * x), (a - x) * w)


def _cross_weight(car: Car, end: str) -> Scalar:
    own, across = perch(car, end)  # type: ignore[arg-type]
    return quotient(100 * (own + across), weighed(car).mass * GRAVITY)


def _tilt(axle: LiveAxle) -> Scalar | None:
    if axle.leaves:
        return None
    link = axle.lower[0]
    across: Any = coordinates(link.axle)[1] - coordinates(link.chassis)[1]
    return degrees(asin(quotient(across, link.length)))


def _bar(car: Car, end: str) -> Scalar | None:
    springs = getattr(car, f"{end}_springs")
    if springs is None or (springs.bar is None and not np.any(plain(springs.anti_roll_rate))):
        return None
    return quotient(bar_stiffness(springs, getattr(car, end)), DEGREE)


def _front_part(car: Car, end: str) -> Scalar:
    found = cornering(car, 1)
    return quotient(100 * found.front.transfer, found.front.transfer + found.rear.transfer)


def _solved(take: Callable[[Car], float]) -> Of:
    """Return a function for one car of plain numbers; a solved corner has no slopes, and takes too long for many."""

    def of(car: Car, end: str) -> Scalar | None:
        sizes = dimensions(car).values()
        return None if any(isinstance(v, Dual) or is_symbolic(v) or is_array(v) for v in sizes) else take(car) / GRAVITY

    return of


def _point(name: str, symbol: str, kind: Callable[..., Of], meaning: str, part: str, *given: str) -> Row:
    """Return the row of one coordinate of a point that an axle has; its axis is the symbol's letter."""

    def take(axle: Any) -> Scalar:
        found = getattr(axle, part)
        return place(found(*given) if given else found, symbol[0])

    code = f"axle.{part}" + "".join(f'("{each}")' for each in given)
    return name, "mm", symbol, code, WHERE[symbol[0]], HERE, meaning, kind(take), EACH


WHERE = {"x": "ahead of the wheel centers", "y": "to the left", "z": "above the ground"}
EACH, REAR, FRONT, WHOLE = ("rear", "front"), ("rear",), ("front",), ("",)
HERE, TRADE, J670 = "derived here", "SAE J670", "SAE J670, roll center"
TRANSFER = "Barton and Fieldhouse, Automotive Chassis Engineering, p. 174"
LIFT = "inner tire lift"
SOLVED = ("linear limit", "corner end")
"""Quantities that are solved, with no way on paper."""

ROWS: tuple[Row, ...] = (
    _point("side-view instant center x", "x_IC", either, "How far ahead of the wheel centers the lower and upper link lines meet, seen from the side.",
           "side_view_instant_center"),
    _point("side-view instant center z", "z_IC", either, "How high over the ground the lower and upper link lines meet, seen from the side.",
           "side_view_instant_center"),
    *(_point(f"{which} link convergence {axis}", f"{axis}_{which[0].upper()}", live, f"{how} the two {which} links meet, in the center plane.",
             "convergence", which)
      for which in ("lower", "upper") for axis, how in (("x", "How far ahead of the wheel centers"), ("z", "How high"))),
    _point("locator x", "x_P", live, "How far ahead of the wheel centers the sideways force crosses the center plane.", "locator_point"),
    _point("locator height", "z_P", live, "How high the sideways force between axle and body crosses the center plane.", "locator_point"),
    _point("front-view instant center y", "y_IC", independent, "Where, sideways, the left knuckle's axis pierces the plane of the wheel centers.",
           "front_view_instant_center"),
    _point("front-view instant center z", "z_IF", independent, "How high the left knuckle's axis pierces the plane of the wheel centers.",
           "front_view_instant_center"),
    ("bump steer", "deg/mm", "g_b", "axle.bump_steer", "toe-in as the wheel rises", HERE,
     "How far the tie rod turns the wheel's front edge inward for each mm that the wheel rises against the body.",
     independent(lambda axle: degrees(axle.bump_steer)), FRONT),
    ("camber change", "deg/mm", "g_c", "axle.camber_change", "top outward as the wheel rises", HERE,
     "How far the wheel leans, against the body, for each mm that it rises; minus in bump is what a leaning body needs.",
     independent(lambda axle: degrees(axle.camber_change)), FRONT),
    ("caster change", "deg/mm", "g_a", "axle.caster_change", "top rearward as the wheel rises", HERE,
     "How far the knuckle turns in the side view for each mm that the wheel rises against the body.",
     independent(lambda axle: degrees(axle.caster_change)), FRONT),
    ("scrub change", "mm/mm", "g_s", "axle.scrub_change", "outward as the wheel rises", HERE,
     "How far the contact patch goes sideways for each mm that the wheel rises; times half the track the roll center height.",
     independent(lambda axle: axle.scrub_change), FRONT),
    ("roll center height", "mm", "z_R", "axle.roll_center_height", "above the ground", J670,
     "The height, between the wheel centers, at which a sideways force on the body makes it roll on no spring.",
     either(lambda axle: axle.roll_center_height), EACH),
    ("roll axis slope", "deg", "beta", "axle.roll_axis_slope", "rising toward the front", HERE,
     "The angle of the axle's roll axis in the side view; with unequal sides a turn about it heaves the axle as well.",
     live(lambda axle: degrees(atan(axle.roll_axis_slope))), EACH),
    ("roll steer", "deg/deg", "e", "axle.roll_steer", "with an axis rising toward the front", HERE,
     "How far the axle steers for each degree that it rolls against the body without heave; the axis's slope if both sides are equal.",
     live(lambda axle: axle.roll_steer), EACH),
    ("pinion angle rate", "deg/mm", "k_p", "axle.pinion_rate", "pinion down as the axle rises", HERE,
     "How far the axle turns in pitch for each mm that it moves up against the body.",
     live(lambda axle: degrees(axle.pinion_rate)), EACH),
    ("rods that locate", "-", "n", "axle.rank", "count", HERE,
     "How many rods hold the axle independently: four are right, five bind in roll.",
     live(lambda axle: axle.rank), EACH),
    ("anti-squat", "%", "A_s", "anti_squat(car)", "the links hold the tail up under drive", HERE,
     "The links' part of the load transfer m a h / L under drive; the axle reacts its torque by its links.",
     lambda car, end: anti_squat(car), REAR),
    ("anti-lift", "%", "A_l", "anti_lift(car)", "the links hold the tail down under braking", HERE,
     "The rear links' part of the load transfer m a h / L under braking, share p in front; the brakes sit on the axle.",
     lambda car, end: anti_lift(car), REAR),
    ("anti-dive", "%", "A_d", "anti_dive(car)", "the links hold the nose up under braking", HERE,
     "The front links' part of the load transfer m a h / L under braking, share p in front; the brakes sit at the wheels.",
     lambda car, end: anti_dive(car), FRONT),
    ("spring motion ratio", "mm/mm", "h_c", "motion_ratio(car.rear, car.rear_springs.coil)", "shorter as the axle rises", HERE,
     "How many mm the coil spring shortens for each mm that the axle, or the wheel, rises against the body.",
     line("coil"), EACH),
    ("spring roll arm", "mm/rad", "r_c", "roll_arm(car.rear, car.rear_springs.coil)", "left one shorter, left side up", HERE,
     "How many mm the left coil spring shortens, and the right one lengthens, for each radian of roll.",
     line("coil", roll_arm), EACH),
    ("drop link roll arm", "mm/rad", "r_n", "roll_arm(car.rear, car.rear_springs.bar)", "left one shorter, left side up", HERE,
     "How many mm the left drop link moves its arm of the anti-roll bar for each radian of roll.",
     line("bar", roll_arm), EACH),
    ("damper motion ratio", "mm/mm", "h_d", "motion_ratio(car.rear, car.rear_springs.damper)", "shorter as the axle rises", HERE,
     "How many mm the damper shortens for each mm that the axle, or the wheel, rises against the body.",
     line("damper"), EACH),
    ("wheel rate", "N/mm", "k_w", "wheel_rate(car.rear_springs, car.rear)", "against bump", HERE,
     "The force on each side for each mm that both wheels rise: the spring's rate times its motion ratio squared.",
     lambda car, end: wheel_rate(getattr(car, f"{end}_springs"), getattr(car, end)), EACH),
    ("ride frequency", "Hz", "f_b", 'ride_frequency(car, "rear")', "count", "one mass on its springs, any textbook of vibration",
     "How often in a second the body over one axle would bounce on that axle's springs alone.",
     lambda car, end: ride_frequency(car, end), EACH),  # type: ignore[arg-type]
    ("roll stiffness", "N m/deg", "K", "roll_stiffness(car.rear_springs, car.rear)", "against roll", HERE,
     "The moment with which an axle's springs and anti-roll bar answer one degree of body roll.",
     lambda car, end: quotient(roll_stiffness(getattr(car, f"{end}_springs"), getattr(car, end)), DEGREE), EACH),
    *((f"{part} load transfer".replace("transfer load ", "load "), "N/g", f"dF_{letter}", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
       meaning, lambda car, end, part=part: getattr(getattr(cornering(car, GRAVITY), end), part), EACH)
      for part, letter, meaning in (
        ("transfer", "z", "The load that moves from an axle's inner to its outer tire for each g of lateral acceleration."),
        ("geometric", "g", "The part of an axle's load transfer that its links carry: the body's share of the force, at the roll center."),
        ("elastic", "e", "The part of an axle's load transfer that its springs and anti-roll bar carry, because the body rolls."),
        ("unsprung", "u", "The part of an axle's load transfer that comes from its own mass and not by way of the body."))),
    ("jacking", "mm/g", "dz_b", 'jacking(car, "rear")', "the body rises in a left turn", HERE,
     "How far the body rises over a live axle for each g to the left, because its locator pushes along a slope; to the right it sinks.",
     lambda car, end: jacking(car, end) * GRAVITY if isinstance(getattr(car, end), LiveAxle) else None, EACH),  # type: ignore[arg-type]
    ("inner tire lift", "g", "a_lift", 'lift_acceleration(car, "rear")', "lateral acceleration", HERE,
     "Where an axle's inner tire would carry nothing more if the load transfer stayed in proportion; no result beyond the linear limit.",
     lambda car, end: quotient(lift_acceleration(car, end), GRAVITY), EACH),  # type: ignore[arg-type]
    ("car roll axis slope", "deg", "beta_c", "car_roll_axis(car)", "rising toward the front", HERE,
     "The angle of the line through both roll centers in the side view.",
     lambda car, end: degrees(atan(slope(car_roll_axis(car)))), WHOLE),
    ("roll moment arm", "mm", "H", "moment_arm(car)", "above the roll axis", HERE,
     "How high the body's center of gravity is over the line through both roll centers.",
     lambda car, end: moment_arm(car), WHOLE),
    ("roll gradient", "deg/g", "phi'", "roll_gradient(car)", "out of the turn", TRANSFER,
     "How far the body rolls for each g of lateral acceleration, up to the linear limit.",
     lambda car, end: degrees(roll_gradient(car)) * GRAVITY, WHOLE),
    ("pinion by upper link", "deg/mm", "n_U", "turned(car.rear, upper=1)", "pinion down as it gets longer", HERE,
     "How far the pinion turns for each mm that the upper link, or both upper links, get longer.", _turn(2, upper=1), EACH),
    ("pinion by lower links", "deg/mm", "n_L", "turned(car.rear, left=1, right=1)", "pinion down as they get longer", HERE,
     "How far the pinion turns for each mm that both lower links get longer.", _turn(2, left=1, right=1), EACH),
    ("thrust angle by lower links", "deg/mm", "tau_L", "turned(car.rear, left=1, right=-1)", "nose left", HERE,
     "How far the axle turns to the left for each mm that the left lower link gets longer and the right one shorter.",
     _turn(3, left=1, right=-1), EACH),
    ("centering by Panhard bar", "mm/mm", "c_B", "turned(car.rear, bar=1)", "axle to the left as it gets longer", HERE,
     "How far the middle of the axle moves to the left for each mm that the Panhard bar gets longer.", _turn(1, bar=1), EACH),
    ("thrust angle by Panhard bar", "deg/mm", "tau_B", "turned(car.rear, bar=1)", "nose left", HERE,
     "How far the axle turns to the left for each mm that the Panhard bar gets longer: square it again after centering.",
     _turn(3, bar=1), EACH),
    ("lower link tilt", "deg", "eps_L", "asin(lean / length)", "outer end farther out", HERE,
     "How far the left lower link leans out of the plane square to a bolt across the car: its rod ends tilt by it.",
     live(_tilt), EACH),
    ("pitch held by leaves", "-", "held", "car.rear.leaves", "count", HERE,
     "One where leaf springs hold the axle's pitch: instant center, anti-squat, anti-lift and pinion angle are then not told.",
     live(lambda axle: 1 if axle.leaves else None), EACH),
    ("gearbox joint angle", "deg", "b_1", "car.shaft.joint_angles", "size alone", HERE,
     "The angle in space between the gearbox's output shaft and the propeller shaft.",
     _joint(lambda front, rear: degrees(front)), REAR),
    ("pinion joint angle", "deg", "b_2", "car.shaft.joint_angles", "size alone", HERE,
     "The angle in space between the pinion and the propeller shaft.", _joint(lambda front, rear: degrees(rear)), REAR),
    ("joint angles' difference", "deg", "b_d", "car.shaft.joint_angles", "the gearbox's is the larger", HERE,
     "The gearbox's joint angle less the pinion's: as good as zero, the second joint takes back what the first does.",
     _joint(lambda front, rear: degrees(front - rear)), REAR),
    ("shaft ripple", "%", "v_r", "car.shaft.joint_angles", "the gearbox's joint does more", HERE,
     "How unevenly the pinion turns at a steady speed, plus and minus, both shafts and the yokes in one plane.",
     _joint(lambda front, rear: 50 * (front * front - rear * rear)), REAR),
    ("shaft length", "mm", "l_s", "car.shaft", "from joint to joint", HERE,
     "How long the propeller shaft is; at another height, less its length at rest, it is how far the spline has slid.",
     lambda car, end: None if car.shaft is None else Link(car.shaft.pinion, car.shaft.gearbox).length, REAR),
    ("shaft plunge", "mm/mm", "p_s", "shaft_travel(car.shaft, travel)", "longer as the axle rises", HERE,
     "How far the propeller shaft's spline slides for each mm that the axle rises.", _plunge, REAR),
    ("instant center height for no plunge", "mm", "z_N", "car.shaft, axle.side_view_instant_center", "above the ground", HERE,
     "How high, at its own distance ahead, the instant center lies on the propeller shaft's line: then the spline rests.",
     _no_plunge, REAR),
    ("caster", "deg", "caster", "axis_numbers(car.front)", "top rearward", TRADE,
     "The steering axis's lean to the rear, seen from the side.", independent(lambda axle: degrees(axis_numbers(axle)[0])), FRONT),
    ("steering axis inclination", "deg", "sigma", "axis_numbers(car.front)", "top inward", TRADE,
     "The steering axis's lean inward, seen from the front.", independent(lambda axle: degrees(axis_numbers(axle)[1])), FRONT),
    ("scrub radius", "mm", "r_s", "axis_numbers(car.front)", "axis inward of the tire's middle", TRADE,
     "How far inward of the tire's middle the steering axis meets the ground.", independent(lambda axle: axis_numbers(axle)[2]), FRONT),
    ("trail", "mm", "n_t", "axis_numbers(car.front)", "axis ahead of the wheel center", TRADE,
     "How far ahead of the wheel center the steering axis meets the ground.", independent(lambda axle: axis_numbers(axle)[3]), FRONT),
    ("bump steer shim", "mm", "q_s", "shim(car.front)", "outer joint up", HERE,
     "How far the tie rod's outer joint must rise for no bump steer at ride height.",
     independent(shim), FRONT),
    ("anti-roll bar stiffness", "N m/deg", "K_a", "bar_stiffness(car.rear_springs, car.rear)", "against roll", HERE,
     "The moment with which an axle's anti-roll bar answers one degree of body roll.", _bar, EACH),
    ("anti-roll bar end rate", "N/mm", "C_a", "car.rear_springs.bar.end_rate", "against bending and twist", HERE,
     "The force at each arm's end for each mm, one end going up as far as the other goes down.",
     line("bar", lambda axle, bar: bar.end_rate), EACH),
    ("scales' gain", "kg", "dW", "scales_gain(car)", "more in front", HERE,
     "What the front scales gain with the rear wheels lifted by 500 mm.", lambda car, end: scales_gain(car), WHOLE),
    ("height misread", "mm/kg", "h_k", "height_per_kg(car)", "higher for more gain", HERE,
     "How much higher the center of gravity comes out for each kg misread on the front scales, the rear wheels lifted by 500 mm.",
     lambda car, end: height_per_kg(car), WHOLE),
    ("tire load by perch", "N/mm", "P_o", 'perch(car, "rear")', "more on the raised side", HERE,
     "What each mm of one raised spring perch adds to that tire, and takes off the one beside it.",
     lambda car, end: perch(car, end)[0], EACH),  # type: ignore[arg-type]
    ("cross weight by perch", "%/mm", "P_x", 'perch(car, "rear")', "more on that corner and the one across", HERE,
     "What each mm of one raised spring perch adds to the part of the car's weight on that corner and the one across.",
     _cross_weight, EACH),
    ("front part of load transfer", "%", "lambda_f", "cornering(car, GRAVITY)", "more in front", HERE,
     "The front axle's part of all the load that moves to the outer tires in a corner: the number that bars and springs tune.",
     _front_part, WHOLE),
    ("shaft torque transfer", "N/(N m)", "F_T", "shaft_torque_transfer(car)", "from the right tire to the left", HERE,
     "The load that each N m of the propeller shaft's torque moves from the right rear tire to the left.",
     lambda car, end: shaft_torque_transfer(car), REAR),
    ("linear limit", "g", "a_lin", "linear_limit(car)", "lateral acceleration", HERE,
     "Up to here roll gradient and load transfers give roll and every tire load within 5 % of the solved corner.",
     _solved(linear_limit), WHOLE),
    ("corner end", "g", "a_end", "corner_end(car)", "lateral acceleration", HERE,
     "Here the solved corner ends, in the worse of both turns: a tire lifts, a linkage ends or no equilibrium is left.",
     _solved(lambda car: min(corner_end(car, way).acceleration for way in ("left", "right"))), WHOLE),
)  # fmt: skip
