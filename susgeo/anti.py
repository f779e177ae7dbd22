"""Anti-squat, anti-lift, anti-dive: how much of the load transfer the links carry, past the springs.

Seen from the side, driving or braking pushes at the tire along the ground. Axle and body push each other
through the instant center. The slope of the line from the tire's contact patch to that center decides how much
of the vertical load goes through the links. At 100 % the links carry the whole load transfer of that axle and
its springs none; the other end of the car still moves. The slope of a point at infinity is as finite as any
other, so parallel links need no case.

Every percentage refers to the wheelbase L, the height h of the center of gravity and, in braking, the front
share p of the braking force. Source: free-body balance, derived here; tests solve the free bodies themselves.
"""

from typing import Literal

from .car import Axle
from .flat import FlatPoint
from .measure import slope
from .scalars import Scalar, quotient

Torque = Literal["links", "body"]


def force_slope(axle: Axle, torque: Torque = "links", axle_mass: Scalar = 0, car_mass: Scalar = 1) -> Scalar:
    """Return the rise, per unit toward the other end of the car, of the line on which axle and body push.

    Args:
        axle: rear axle, with its instant center ahead, or front axle, with it behind.
        torque: "links" where the axle's own links hold back the drive or brake torque (a live axle; brakes at
            the wheels): the line starts at the contact patch. "body" where the body does (a final drive or
            brakes mounted on it): it starts at the wheel center.
        axle_mass: of the axle with its wheels, in kg; its inertia acts at the wheel centers and not through
            the links, as if the line started a little below the contact patch.
        car_mass: of the whole car, in kg.

    >>> from susgeo import load_car
    >>> round(force_slope(load_car("data/three_link.toml").rear), 4)
    0.218
    """
    center = axle.side_view_instant_center
    # The height of the start is rise / weight; undivided, so that one formula serves every kind of number.
    rise, weight = (
        (axle.tire_radius, 1) if torque == "body" else (-axle_mass * axle.tire_radius, car_mass - axle_mass)
    )
    seen = FlatPoint("side", center.u * weight, center.v * weight - rise * center.w, center.w * weight)
    return slope(seen) if axle.end == "rear" else -slope(seen)


def anti_squat(
    axle: Axle,
    wheelbase: Scalar,
    cg_height: Scalar,
    torque: Torque = "links",
    axle_mass: Scalar = 0,
    car_mass: Scalar = 1,
) -> Scalar:
    """Return the share of a driven rear axle's load transfer that the links carry, in %: 100 tan(theta) L / h.

    With the axle's own mass counted, the links push with the force that accelerates the rest of the car.
    """
    rise = force_slope(axle, torque, axle_mass, car_mass) * (car_mass - axle_mass)
    return quotient(100 * rise * wheelbase, car_mass * cg_height)


def anti_lift(
    axle: Axle, wheelbase: Scalar, cg_height: Scalar, front_share: Scalar, torque: Torque = "links"
) -> Scalar:
    """Return the share of a braked rear axle's unloading that the links hold down, in %: 100 (1 - p) tan(theta) L / h."""
    return quotient(100 * (1 - front_share) * force_slope(axle, torque) * wheelbase, cg_height)


def anti_dive(
    axle: Axle, wheelbase: Scalar, cg_height: Scalar, front_share: Scalar, torque: Torque = "links"
) -> Scalar:
    """Return the share of a braked front axle's load that the links carry, in %: 100 p tan(theta) L / h.

    theta rises rearward, to the front's side-view instant center.
    """
    return quotient(100 * front_share * force_slope(axle, torque) * wheelbase, cg_height)
