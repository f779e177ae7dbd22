"""The whole car: its axles, its weight, its springs and brakes."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from numbers import Real
from typing import Literal, cast

import numpy as np

from ..errors import MeasurementError, SusgeoError, UndefinedError, expect, known
from ..geometry.scalars import Scalar, is_array, is_symbolic, plain
from ..geometry.space import tidy
from .axle import LiveAxle
from .coils import AntiRollBar, Coil, Damper
from .fields import KINDS, UNITS
from .front import IndependentFront
from .links import check_end, check_side
from .shaft import PropellerShaft

Axle = LiveAxle | IndependentFront


@dataclass(frozen=True, slots=True, eq=False)
class Weight:
    """What the car weighs and where.

    Args:
        mass: of the car as driven, in kg.
        front_share: part of it on the front wheels at rest, between 0 and 1.
        cg_height: height of the center of gravity over the ground in mm.
        front_unsprung_mass: of everything that moves with the front wheels, in kg.
        rear_unsprung_mass: of the rear axle with wheels, in kg.

    >>> Weight(mass=1150, front_share=0.53, cg_height=540, rear_unsprung_mass=140).mass
    1150
    """

    mass: Scalar
    front_share: Scalar
    cg_height: Scalar
    front_unsprung_mass: Scalar = 0.0
    rear_unsprung_mass: Scalar = 0.0

    def __post_init__(self) -> None:
        where = "in the car's weight"
        tidy(self, ("mass", "front_unsprung_mass", "rear_unsprung_mass"), where, "mass")
        tidy(self, ("front_share",), where, "share")
        tidy(self, ("cg_height",), where, "length")
        parts = (self.mass, self.front_unsprung_mass, self.rear_unsprung_mass)
        if all(isinstance(part, Real) for part in parts) and parts[0] <= parts[1] + parts[2]:
            unsprung = f"the {float(parts[1] + parts[2]):g} kg of the unsprung masses"
            raise MeasurementError("mass", f"got {float(parts[0]):.12g} kg, expected more than {unsprung}.")


@dataclass(frozen=True, slots=True, eq=False)
class Springs:
    """The springs of one axle: by rate and spacing, or where they are, as lines.

    Args:
        rate: of one spring, as it acts at ``spacing``, in N/mm; None where ``coil`` is given.
        spacing: distance between left and right spring in mm; for an independent wheel, give the rate at the
            wheel and the track.
        anti_roll_rate: roll stiffness of the anti-roll bar, in N m per degree of body roll.
        coil: the left spring as a line. damper: the left damper. bar: the anti-roll bar by its dimensions, and its
            left drop link.

    >>> Springs(rate=27, spacing=960, anti_roll_rate=90).rate
    27
    """

    rate: Scalar | None = None
    spacing: Scalar | None = None
    anti_roll_rate: Scalar = 0.0
    coil: Coil | None = None
    damper: Damper | None = None
    bar: AntiRollBar | None = None

    def __post_init__(self) -> None:
        expect(Coil | None, coil=self.coil)
        expect(Damper | None, damper=self.damper)
        expect(AntiRollBar | None, bar=self.bar)
        for line in filter(None, (self.coil, self.damper, self.bar)):
            check_side({"axle": line.axle, "chassis": line.chassis})
        given = [name for name in ("rate", "spacing") if getattr(self, name) is not None]
        tidy(self, (*given, "anti_roll_rate"), "of a spring", "rate")
        tidy(self, () if self.spacing is None else ("spacing",), "of a spring", "length")
        if (self.rate is None) != (self.spacing is None) or (self.rate is not None and self.coil is not None):
            raise SusgeoError("Springs take rate and spacing, or a coil as a line: one of the two.")


@dataclass(frozen=True, eq=False)
class Car:
    """A car measured at ride height, each axle from its own wheel-center line; lengths in mm.

    Args:
        title: a name for people.
        wheelbase: distance between the wheel-center lines.
        rear, front: the axles; either may be missing.
        weight: None when nothing was weighed; percentages then cannot be given.
        brake_front_share: part of the braking force at the front wheels, between 0 and 1.
        rear_springs, front_springs: for roll and load transfer.
        units, mass_units, rate_units: those of lengths, masses and spring rates in the car's file; inside it is always
            mm, kg and N/mm.
        shaft: the propeller shaft, from the rear axle's origin.

    >>> from susgeo import load_car
    >>> axle = load_car("three_link").rear
    >>> car = Car("ours", wheelbase=2700, rear=axle, weight=Weight(1150, 0.53, 540))
    >>> car.weight.front_share
    0.53
    """

    title: str
    wheelbase: Scalar
    rear: LiveAxle | None = None
    front: Axle | None = None
    weight: Weight | None = None
    brake_front_share: Scalar | None = None
    rear_springs: Springs | None = None
    front_springs: Springs | None = None
    units: Literal["mm", "in"] = "mm"
    shaft: PropellerShaft | None = None
    mass_units: Literal["kg", "lb"] = "kg"
    rate_units: Literal["N/mm", "lb/in"] = "N/mm"

    def __post_init__(self) -> None:
        expect(str, title=self.title)
        tidy(self, ("wheelbase",), "of the car", "length")
        if isinstance(self.rear, IndependentFront):
            raise SusgeoError("rear: expected a live axle, as every rear axle of this course.")
        expect(LiveAxle | None, rear=self.rear)
        expect(LiveAxle | IndependentFront | None, front=self.front)
        for end, axle in self.axles():
            if axle.end != end:
                raise MeasurementError(
                    end, f'this axle is made as the {axle.end} one; write end="{end}" where it is made.'
                )
        expect(Weight | None, weight=self.weight)
        expect(Springs | None, rear_springs=self.rear_springs, front_springs=self.front_springs)
        expect(PropellerShaft | None, shaft=self.shaft)
        for unit, sizes in UNITS.items():
            if str(getattr(self, unit)) not in sizes:
                raise MeasurementError(unit, f'got "{getattr(self, unit)}", expected {KINDS[unit]}.')
        object.__setattr__(self, "wheelbase", check_wheelbase(self.wheelbase))
        if self.brake_front_share is not None:
            tidy(self, ("brake_front_share",), "of the car", "share")

    def axles(self) -> Iterator[tuple[Literal["rear", "front"], Axle]]:
        """Yield the axles that the car has, by name, rear first."""
        if self.rear is not None:
            yield "rear", self.rear
        if self.front is not None:
            yield "front", self.front


def check_wheelbase(wheelbase: Scalar, units: str = "") -> Scalar:
    """Return a wheelbase in mm; one that no car has is refused, as it stands in a file of these units, and nan in an array."""
    if is_array(wheelbase):
        fits = (wheelbase >= 1000) & (wheelbase <= 6000)
        given = wheelbase[~np.isnan(wheelbase)]
        if not np.any(fits) and given.size:
            check_wheelbase(float(given[0]))
        return wheelbase if np.all(fits) else np.where(fits, wheelbase, np.nan)
    if not isinstance(wheelbase, Real) or 1000 <= float(wheelbase) <= 6000:
        return wheelbase
    scale, other = UNITS["units"][units or "mm"], "mm" if units == "in" else "in"
    given = float(wheelbase) / scale
    likely = [given * ten for ten in (1000, 10, 0.1) if 1000 <= given * ten * scale <= 6000]
    mend = f"; did you mean {likely[0]:g}?" if likely else "; measure it once more."
    if 1000 <= given * UNITS["units"][other] <= 6000:
        mend = f'; if the file is in {other.replace("in", "inches")}, write units = "{other}".'
        mend = mend if units else f"; for {given:g} in write {given:g} * 25.4."
    wanted = "expected 1000 to 6000 mm (39 to 236 in)"
    raise MeasurementError("wheelbase", f"{given:.12g} {units or 'mm'} is no wheelbase of a car; {wanted}{mend}")


def whole(thing: Car | Axle) -> Car:
    """Return an axle as a car that has nothing else, and a car as it is."""
    if isinstance(thing, Car):
        return thing
    if not isinstance(thing, LiveAxle | IndependentFront):
        raise SusgeoError(f"Expected a car or an axle, got {str(thing)[:60]!r}; load_car reads a car from its file.")
    return Car("", 2500.0, thing if thing.end == "rear" else None, thing if thing.end == "front" else None)  # type: ignore[arg-type]


FAR = 1e9
"""A length beyond this, 1000 km in mm, is shown as infinite."""


def as_number(value: Scalar) -> float:
    """Return a plain float, with a length beyond :data:`FAR` as infinite; nan raises UndefinedError.

    >>> as_number(-3e9)
    -inf
    """
    if is_array(value) or is_symbolic(value) and not value.is_number:
        raise SusgeoError("This car is many cars, or has letters in it; ask susgeo.numbers(car) for its quantities.")
    number = float(plain(value))
    if math.isnan(number):
        raise UndefinedError("This number is not determined by the measurements.")
    return math.copysign(math.inf, number) if abs(number) > FAR else number


def weighed(car: Car | Axle) -> Weight:
    """Return what the car weighs, or say that nobody has weighed it; an axle alone never was."""
    unknown = "The car has not been weighed; add a table [weight] with mass, front_share and cg_height to its file."
    return known(whole(car).weight, unknown)


def axle_of(car: Car | Axle, end: Literal["rear", "front"]) -> Axle:
    """Return the axle at one end, or say that the car has none there, or no such end."""
    check_end(end)
    return cast(Axle, known(getattr(whole(car), end), f"This car has no {end} axle; add a table [{end}] to its file."))


def brake_share(car: Car | Axle) -> Scalar:
    """Return the share p of the braking force at the front wheels, or say that nobody knows it."""
    unknown = "The share of the front brakes is not known; add a table [brakes] with front_share to the car's file."
    return known(whole(car).brake_front_share, unknown)
