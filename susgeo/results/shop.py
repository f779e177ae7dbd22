"""The workshop's quantities: turns of a rod end, propeller shaft, steering axis, scales, what the solved corner says.

Rows of the one table of quantities (:mod:`susgeo.results.quantities`).
"""

from collections.abc import Callable
from typing import Any

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car, weighed
from ..car.coils import Damper
from ..car.front import IndependentFront
from ..car.links import Link
from ..car.locators import PanhardBar
from ..car.pickup import dimensions
from ..car.rods import response
from ..car.steering import axis_numbers, shim
from ..geometry.dual import Dual
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, asin, degrees, hypot, is_array, is_symbolic, plain, quotient
from ..loads.corner import corner_end
from ..loads.cornering import GRAVITY, cornering, linear_limit
from ..loads.forces import shaft_torque_transfer
from ..loads.scales import height_per_kg, perch, scales_gain
from ..loads.springs import DEGREE, bar_stiffness, shortening
from .rows import EACH, FRONT, HERE, REAR, TRADE, WHOLE, Of, Row, live


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
    def take(axle: LiveAxle) -> Scalar | None:
        if axle.leaves:  # they are bolted down, and turn the pinion by wedges
            return None
        apart = len(axle.lower) == 2 or not {"left", "right"} & longer.keys()
        barred = isinstance(axle.locator, PanhardBar) or "bar" not in longer
        if not (axle.upper and axle.lower and apart and barred) or ("right" in longer and not axle.is_symmetric):
            return None
        value = turned(axle, **longer)[part]
        return degrees(value) if part > 1 else value

    return live(take)


def _steer(part: int) -> Of:
    def of(car: Car, end: str) -> Scalar | None:
        if not isinstance(car.front, IndependentFront):
            return None
        value = axis_numbers(car.front)[part]
        return degrees(value) if part < 2 else value

    return of


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
    rate = 0 if springs is None else plain(springs.anti_roll_rate)
    if springs is None or (springs.bar is None and not (is_symbolic(rate) or np.any(rate))):
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


SOLVED = ("linear limit", "corner end")
"""Quantities that are solved, with no way on paper."""

ROWS: tuple[Row, ...] = (
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
     "The steering axis's lean to the rear, seen from the side.", _steer(0), FRONT),
    ("steering axis inclination", "deg", "sigma", "axis_numbers(car.front)", "top inward", TRADE,
     "The steering axis's lean inward, seen from the front.", _steer(1), FRONT),
    ("scrub radius", "mm", "r_s", "axis_numbers(car.front)", "axis inward of the tire's middle", TRADE,
     "How far inward of the tire's middle the steering axis meets the ground.", _steer(2), FRONT),
    ("trail", "mm", "n_t", "axis_numbers(car.front)", "axis ahead of the wheel center", TRADE,
     "How far ahead of the wheel center the steering axis meets the ground.", _steer(3), FRONT),
    ("bump steer shim", "mm", "q_s", "shim(car.front)", "outer joint up", HERE,
     "How far the tie rod's outer joint must rise for no bump steer at ride height.",
     lambda car, end: shim(car.front) if isinstance(car.front, IndependentFront) else None, FRONT),
    ("anti-roll bar stiffness", "N m/deg", "K_a", "bar_stiffness(car.rear_springs, car.rear)", "against roll", HERE,
     "The moment with which an axle's anti-roll bar answers one degree of body roll.", _bar, EACH),
    ("anti-roll bar end rate", "N/mm", "C_a", "car.rear_springs.bar.end_rate", "against bending and twist", HERE,
     "The force at each arm's end for each mm, one end going up as far as the other goes down.",
     lambda car, end: getattr(getattr(getattr(car, f"{end}_springs"), "bar", None), "end_rate", None), EACH),
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
