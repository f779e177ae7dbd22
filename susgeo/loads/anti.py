"""Anti-squat, anti-lift and anti-dive: how much of the load transfer the links carry, and how much the springs.

While a car speeds up or slows down, load moves between its axles. Part of it runs through the links as a
vertical force; only the rest has to come from the springs. Each number here is the links' part in percent of the
car's whole load transfer. At 100 % the springs of that axle carry nothing more and nothing less than at rest. The
other axle still moves: 100 % at one end does not keep the car's pitch.

Side view, one axle, forces on it without its springs: the ground's, its own inertia, and the links', whose
resultant runs through the side-view instant center (u, v, w). Of moments about that point remains, for
an acceleration a, a car of mass m and an axle of mass k m at height r that takes the share s of the ground's
force (s = 1: the only driven axle) and whose links react the wheels' torque,

    links = m a (s v + k (r w - v)) / u

against the load transfer m a h / L. Nothing divides by w: parallel links need no case of their own. With the
axle's own mass left out (k = 0) that is the textbooks' slope from the tire's contact patch. With it (s = 1), it is the
slope of a line that starts r k / (1 - k) below the patch, times the body's part 1 - k of the mass: 43 mm below for an axle of 140 kg and 310 mm under a car of 1150 kg.

Source: statics, derived here; for k = 0 the same as in the textbooks of vehicle dynamics.
"""

from typing import Literal

from ..car.car import Axle, Car, axle_of, brake_share, weighed, whole
from ..errors import expect
from ..geometry.flat import FlatPoint
from ..geometry.measure import slope
from ..geometry.scalars import Scalar, quotient


def anti_squat(car: Car | Axle, own_mass: bool = False) -> Scalar:
    """Return the rear axle's anti-squat under drive in percent of the load transfer m a h / L.

    Holds for a car driven by its rear wheels alone, at rest position, for small movements.

    Args:
        car: with rear axle and weight (an axle alone is refused: nobody has weighed it); any dimension may be a number, an array or an expression.
        own_mass: whether the axle's own mass (``weight.rear_unsprung_mass``) is counted: the tires speed it up
            without any link, which makes a few percent.

    Raises:
        SusgeoError: the car has no rear axle, no weight, or its links do not fix a side-view instant center.

    >>> from susgeo import load_car
    >>> car = load_car("data/three_link.toml")
    >>> round(anti_squat(car), 2), round(anti_squat(car, own_mass=True), 2)
    (108.98, 106.3)
    """
    return _percent(car, "rear", 1, own_mass)


def anti_lift(car: Car | Axle, own_mass: bool = False) -> Scalar:
    """Return the rear axle's anti-lift under braking in percent of the load transfer m a h / L.

    The rear wheels give the share 1 - p of the braking force, with brakes on the axle. At 100 % the rear springs do not
    lengthen.

    Args:
        car, own_mass: as for :func:`anti_squat`, and so are the errors.

    >>> from susgeo import load_car
    >>> round(anti_lift(load_car("data/three_link.toml")), 2)
    38.14
    """
    return _percent(car, "rear", 1 - brake_share(car), own_mass)


def anti_dive(car: Car | Axle, own_mass: bool = False) -> Scalar:
    """Return the front axle's anti-dive under braking in percent of the load transfer m a h / L.

    The front wheels give the share p of the braking force, with brakes in or on the wheels; the instant center counts
    rearward. For a live axle and an independent suspension alike.

    Args:
        car: with front axle, weight and brakes. own_mass: as for :func:`anti_squat`, and so are the errors.

    >>> from susgeo import load_car
    >>> round(anti_dive(load_car("data/club_coupe.toml")), 2)
    7.91
    """
    return _percent(car, "front", brake_share(car), own_mass)


def _percent(thing: Car | Axle, end: Literal["rear", "front"], share: Scalar, own_mass: bool) -> Scalar:
    car = whole(thing)
    axle, weight = axle_of(car, end), weighed(car)
    u, v, w = axle.side_view_instant_center
    patch = share * v
    expect(bool, own_mass=own_mass)
    if own_mass:
        own = weight.rear_unsprung_mass if end == "rear" else weight.front_unsprung_mass
        patch = patch + quotient(own, weight.mass) * (axle.tire_radius * w - v)
    toward_middle = u if end == "rear" else -u
    return 100 * slope(FlatPoint("side", toward_middle, patch, w)) * quotient(car.wheelbase, weight.cg_height)
