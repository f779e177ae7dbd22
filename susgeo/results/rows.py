"""The course's quantities: instant centers, roll axis, anti-features, load transfer.

Rows of the one table of quantities (:mod:`susgeo.results.quantities`); those of the workshop are in :mod:`susgeo.results.shop`.
"""

from collections.abc import Callable
from math import inf, nan

from ..car.axle import LiveAxle
from ..car.car import Axle, Car
from ..car.coils import Damper
from ..car.front import IndependentFront
from ..geometry.flat import FlatPoint
from ..geometry.measure import slope
from ..geometry.scalars import Scalar, atan, choose, degrees, magnitude, quotient
from ..geometry.space import Point
from ..loads.anti import anti_dive, anti_lift, anti_squat
from ..loads.cornering import GRAVITY, car_roll_axis, cornering, jacking, lift_acceleration, moment_arm, roll_gradient
from ..loads.springs import DEGREE, motion_ratio, ride_frequency, roll_arm, roll_stiffness, wheel_rate

Of = Callable[[Car, str], Scalar | None]
"""A quantity of a car's end ("rear", "front", or "" for the whole car); None where the car does not have it."""
Row = tuple[str, str, str, str, str, str, str, Of, tuple[str, ...]]
"""The fields of :class:`susgeo.results.quantities.Quantity`."""


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


def live(take: Callable[[LiveAxle], Scalar]) -> Of:
    return either(lambda axle: take(axle) if isinstance(axle, LiveAxle) else None)


def independent(take: Callable[[IndependentFront], Scalar]) -> Of:
    return either(lambda axle: take(axle) if isinstance(axle, IndependentFront) else None)


def either(take: Callable[[Axle], Scalar | None]) -> Of:
    def of(car: Car, end: str) -> Scalar | None:
        axle = dict(car.axles()).get(end)  # type: ignore[call-overload]
        return None if axle is None else take(axle)

    return of


def line(part: str, take: Callable[[Axle, Damper], Scalar] = motion_ratio) -> Of:
    def of(car: Car, end: str) -> Scalar | None:
        at = getattr(getattr(car, f"{end}_springs"), part, None)
        return None if at is None else take(getattr(car, end), at)

    return of


def transfer(part: str) -> Of:
    return lambda car, end: getattr(getattr(cornering(car, GRAVITY), end), part)


EACH, REAR, FRONT, WHOLE = ("rear", "front"), ("rear",), ("front",), ("",)
HERE, TRADE, J670 = "derived here", "SAE J670", "SAE J670, roll center"
TRANSFER = "Barton and Fieldhouse, Automotive Chassis Engineering, p. 174"
LIFT = "inner tire lift"

ROWS: tuple[Row, ...] = (
    ("side-view instant center x", "mm", "x_IC", "axle.side_view_instant_center", "ahead of the wheel centers", HERE,
     "How far ahead of the wheel centers the lower and upper link lines meet, seen from the side.",
     either(lambda axle: place(axle.side_view_instant_center, "x")), EACH),
    ("side-view instant center z", "mm", "z_IC", "axle.side_view_instant_center", "above the ground", HERE,
     "How high over the ground the lower and upper link lines meet, seen from the side.",
     either(lambda axle: place(axle.side_view_instant_center, "z")), EACH),
    ("lower link convergence x", "mm", "x_L", 'axle.convergence("lower")', "ahead of the wheel centers", HERE,
     "How far ahead of the wheel centers the two lower links meet, in the center plane.",
     live(lambda axle: place(axle.convergence("lower"), "x")), EACH),
    ("lower link convergence z", "mm", "z_L", 'axle.convergence("lower")', "above the ground", HERE,
     "How high the two lower links meet, in the center plane.",
     live(lambda axle: place(axle.convergence("lower"), "z")), EACH),
    ("upper link convergence x", "mm", "x_U", 'axle.convergence("upper")', "ahead of the wheel centers", HERE,
     "How far ahead of the wheel centers the two upper links meet, in the center plane.",
     live(lambda axle: place(axle.convergence("upper"), "x")), EACH),
    ("upper link convergence z", "mm", "z_U", 'axle.convergence("upper")', "above the ground", HERE,
     "How high the two upper links meet, in the center plane.",
     live(lambda axle: place(axle.convergence("upper"), "z")), EACH),
    ("locator x", "mm", "x_P", "axle.locator_point", "ahead of the wheel centers", HERE,
     "How far ahead of the wheel centers the sideways force crosses the center plane.",
     live(lambda axle: place(axle.locator_point, "x")), EACH),
    ("locator height", "mm", "z_P", "axle.locator_point", "above the ground", HERE,
     "How high the sideways force between axle and body crosses the center plane.",
     live(lambda axle: place(axle.locator_point, "z")), EACH),
    ("front-view instant center y", "mm", "y_IC", "axle.front_view_instant_center", "to the left", HERE,
     "Where, sideways, the left knuckle's axis pierces the plane of the wheel centers.",
     independent(lambda axle: place(axle.front_view_instant_center, "y")), EACH),
    ("front-view instant center z", "mm", "z_IF", "axle.front_view_instant_center", "above the ground", HERE,
     "How high the left knuckle's axis pierces the plane of the wheel centers.",
     independent(lambda axle: place(axle.front_view_instant_center, "z")), EACH),
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
    ("load transfer", "N/g", "dF_z", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
     "The load that moves from an axle's inner to its outer tire for each g of lateral acceleration.",
     transfer("transfer"), EACH),
    ("geometric load transfer", "N/g", "dF_g", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
     "The part of an axle's load transfer that its links carry: the body's share of the force, at the roll center.",
     transfer("geometric"), EACH),
    ("elastic load transfer", "N/g", "dF_e", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
     "The part of an axle's load transfer that its springs and anti-roll bar carry, because the body rolls.",
     transfer("elastic"), EACH),
    ("unsprung load transfer", "N/g", "dF_u", "cornering(car, GRAVITY)", "toward the outside", TRANSFER,
     "The part of an axle's load transfer that comes from its own mass and not by way of the body.",
     transfer("unsprung"), EACH),
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
)  # fmt: skip
