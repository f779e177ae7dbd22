"""What the four scales tell: the height of the center of gravity, and what a spring perch does to the corners.

Raised weighing: rear wheels lifted, brakes off, gearbox in neutral, suspension blocked at ride height, the front scales gain

    gain = mass (h - r) tan(alpha) / L,    sin(alpha) = lift / L

with r the height of the line of wheel centers at the center of gravity. Source: moments about the front tires, derived
here; ISO 10392 weighs so (number from memory). A perch raised by d twists the body between both axles' roll stiffnesses, which
stand in series. Derived here; the body is stiff and the tires are too.
"""

from dataclasses import dataclass
from numbers import Real
from typing import Literal

from ..car.car import Car, axle_of, weighed, whole
from ..errors import SusgeoError
from ..geometry.scalars import Scalar, finite, plain, quotient, sqrt
from .springs import roll_arm, roll_stiffness

CAUTION = (
    "A raised car falls: lift it by its body on a rated lift, or set the wheels on rated stands made for it; chock the wheels "
    "so that no chock pushes against a scale. Nobody reaches under the car or stands before it. Raise it at least 500 mm."
)


def _axis_height(car: Car) -> Scalar:
    rear, front = (getattr(axle, "tire_radius", None) for axle in (car.rear, car.front))
    if rear is None or front is None:
        return front if rear is None else rear
    share = weighed(car).front_share
    return front * share + rear * (1 - share)


def _tangent(car: Car, lift: Scalar) -> Scalar:
    given = plain(lift), plain(car.wheelbase)
    if all(isinstance(each, Real) for each in given) and not 0 < given[0] < given[1]:
        raise SusgeoError(
            f"The lift is {lift} mm; expected more than 0 and less than the wheelbase, best 500 mm or more."
        )
    return quotient(lift, sqrt(car.wheelbase * car.wheelbase - lift * lift))


def scales_gain(car: Car, lift: Scalar = 500.0) -> Scalar:
    """Return how many kg the front scales gain with the rear wheels lifted.

    >>> from susgeo import load_car
    >>> round(scales_gain(load_car("data/three_link.toml")), 1)
    18.5
    """
    weight = weighed(car)
    return quotient(weight.mass * (weight.cg_height - _axis_height(car)) * _tangent(car, lift), car.wheelbase)


def height_per_kg(car: Car, lift: Scalar = 500.0) -> Scalar:
    """Return how many mm higher the center of gravity is for each kg that the front scales gain."""
    return quotient(car.wheelbase, weighed(car).mass * _tangent(car, lift))


@dataclass(frozen=True)
class RaisedWeighing:
    """The height of the center of gravity in mm, how far off one kg misread puts it, and what can hurt."""

    height: float
    per_kg: float
    caution: str = CAUTION


def raised_weighing(car: Car, gain: float, lift: float = 500.0) -> RaisedWeighing:
    """Return the center of gravity's height from what the front scales gained, in kg, with the rear wheels lifted.

    Args:
        car: as it was weighed level. gain: in kg. lift: of the rear wheels, in mm.

    >>> from susgeo import load_car
    >>> found = raised_weighing(load_car("data/three_link.toml"), gain=18.46)
    >>> round(found.height), round(found.per_kg, 1)
    (540, 12.5)
    """
    car, gain = whole(car), finite(gain, "gain")
    per_kg = height_per_kg(car, finite(lift, "lift"))
    return RaisedWeighing(_axis_height(car) + gain * per_kg, per_kg)


def perch(car: Car, end: Literal["rear", "front"], raised: Scalar = 1.0) -> tuple[Scalar, Scalar]:
    """Return what one spring perch raised by so many mm adds to that corner and to the one across, in N each.

    A perch raised pushes the spring in. The same comes off the other two corners; the axles' totals stay.

    Args:
        car: with both axles and their springs. end: at which the perch is. raised: along the spring, mm.

    >>> from susgeo import load_car
    >>> [round(load, 1) for load in perch(load_car("data/club_coupe.toml"), "rear", 5.0)]
    [34.2, 33.5]
    """
    car, raised = whole(car), finite(raised, "raised")
    other: Literal["rear", "front"] = "front" if end == "rear" else "rear"
    axle, across, springs = axle_of(car, end), axle_of(car, other), getattr(car, f"{end}_springs")
    own, far = (roll_stiffness(getattr(car, f"{each}_springs"), getattr(car, each)) for each in (end, other))
    if springs.coil is not None:
        push = springs.coil.rate * roll_arm(axle, springs.coil)
    else:
        push = quotient(springs.rate * springs.spacing, 2)
    moment = quotient(push * raised * far, own + far)
    return quotient(moment, axle.track), quotient(moment, across.track)
