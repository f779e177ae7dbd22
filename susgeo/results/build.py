"""What a welder, and whoever sets up the car afterwards, must know of it: tables in which each number has its unit and tolerance.

A tolerance is what 95 of 100 cars keep whose joints stand off by the error of building, each coordinate by itself: 300 such cars
are worked out with the same formulas (Monte Carlo, JCGM 101:2008; from memory).
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Literal

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Axle, Car, as_number
from ..car.links import Link
from ..car.pickup import dimensions, mapped
from ..errors import SusgeoError
from ..geometry.measure import MM_PER_INCH, in_units, mm_per
from ..geometry.scalars import Scalar
from ..loads.forces import margin, tire_forces
from ..tables import Table, shown, written
from ..travel.adjust import rates
from ..travel.live import straight_rods
from ..travel.newton import Array
from ..travel.wheel import knuckle_rods
from .many import Conditions, Many
from .places import joint_name
from .quantities import find, numbers
from .tolerance import tolerances
from .turns import tilt_table

NAMES = (
    "rear side-view instant center x", "rear side-view instant center z", "rear roll center height", "rear roll steer",
    "rear anti-squat", "rear anti-lift", "front roll center height", "front anti-dive", "front bump steer",
    "front camber change", "roll gradient", "front part of load transfer",
)  # fmt: skip
"""What the sheet says of the car before and after, where the car has it."""
SAMPLES, SEED = 300, 1
MOVES = {"x": ("forward", "back"), "y": ("left", "right"), "z": ("up", "down")}
BLANK = "________"


@dataclass(frozen=True, eq=False)
class Plan:
    """A car before and after, and how it is built and set up.

    Args:
        before, after: the cars, of plain numbers.
        units: of lengths on the sheet.
        heights: of the axles against the body at which angles are told, in mm: droop, rest, bump.
        given: load cases, and the section and rod ends of all rods.
        error: how well a joint is placed, plus or minus, in mm, 95 times in 100.
        limit: tilt of a rod end by its maker, in degrees.
        per_turn: by how many mm a turn of an adjuster makes a rod longer: two pitches with a left and a right thread.
    """

    before: Car
    after: Car
    units: Literal["mm", "in"] = "mm"
    heights: tuple[float, ...] = (-60.0, 0.0, 60.0)
    given: Conditions = field(default_factory=Conditions)
    error: float = 1.0
    limit: float = 12.0
    per_turn: float = 3.0

    @property
    def scale(self) -> float:
        """One of the sheet's units of length in mm."""
        return mm_per(self.units)

    def length(self, mm: float) -> str:
        """Write a length: to 0.1 mm, or to a thousandth of an inch."""
        return written(mm / self.scale, 3 if self.units == "in" else 1)

    @property
    def placed(self) -> str:
        """How well joints are placed, as a tape has it: parts of an inch as a fraction."""
        parts = 32 * self.error / MM_PER_INCH
        if self.units == "in" and math.isclose(parts, round(parts)):
            return f"{Fraction(round(parts), 32)} in"
        return f"{self.length(self.error)} {self.units}"

    @cached_property
    def built(self) -> Many:
        """The car as drawn, in the first row, and as 300 builders build it."""
        random = np.random.default_rng(SEED)
        drawn = {
            place: np.r_[0.0, random.standard_normal(SAMPLES)][:, None] * self.error / 2 + as_number(value)
            for place, value in dimensions(self.after).items()
            if place.rpartition(".")[2] in MOVES
        }
        cars = mapped(self.after, lambda place, value: drawn.get(place, value))
        return Many(cars, np.array(self.heights), replace(self.given, cases=self.cases))

    @cached_property
    def cases(self) -> Mapping[str, Mapping[str, float]]:
        """The load cases that can be told of this car."""
        found = {}
        for name, case in self.given.cases.items():
            try:
                tire_forces(self.after, **case)  # type: ignore[arg-type]
            except SusgeoError:
                continue
            found[name] = case
        return found

    def joints(self) -> Table:
        """Return every joint before and after, and which way it goes."""
        old, new = ({place: as_number(v) for place, v in dimensions(car).items()} for car in (self.before, self.after))
        rows = []
        for place in dict.fromkeys(name.rpartition(".")[0] for name in new if name.rpartition(".")[2] in MOVES):
            first, second = ([side.get(f"{place}.{axis}", 0.0) for axis in MOVES] for side in (old, new))
            by = [(axis, b - a) for axis, a, b in zip(MOVES, first, second, strict=True) if abs(b - a) > 1e-6]
            way = ", ".join(f"{self.length(abs(size))} {MOVES[axis][size < 0]}" for axis, size in by) or "stays"
            rows.append((joint_name(self.after, place), *map(self.length, (*first, *second)), way))
        unit = self.units
        head = ("joint", *(f"{axis} {when} [{unit}]" for when in ("before", "after") for axis in MOVES), "move")
        note = (
            f"Place each joint to {self.placed}; the tolerances below are those of joints so placed. "
            '"links": the left one; the right one mirrors it, y with the other sign. A front part: the left one, likewise.'
        )
        return Table(head, tuple(rows), note)

    def rods(self) -> Table:
        """Return each rod's length and angles, with room for what its thread takes, and how far its rod ends tilt."""
        rows, most = [], dict(self._tilts())
        before = {(end, name): link for end, axle in self.before.axles() for name, link in rods(axle)}
        for end, axle in self.built.risen.axles():
            rest = dict(rods(getattr(self.built.car, end)))
            for name, link in rods(axle):
                length, angle = (self._told(value) for value in (rest[name].length, _angle(link, rest[name])))
                old = before.get((end, name))
                rows.append((
                    f"{end} {name}", "" if old is None else self.length(float(old.length)), self.length(length[0][0]),
                    self.length(length[1]), BLANK, BLANK, *(written(value, 1) for value in angle[0]), f"{angle[1]:.1f}", most.get(f"{end} {name}", ""),
                ))  # fmt: skip
        unit, at = self.units, [f"{height / self.scale:.3g}" for height in self.heights]
        head = (
            "rod", f"eye to eye before [{unit}]", f"after [{unit}]", "±", "less rod ends", "cut to",
            *(f"angle at {height} [deg]" for height in at), "±", f"rod end tilts [deg] (limit {self.limit:g})",
        )  # fmt: skip
        note = (
            f"Angles at these rises of the axle ({unit}), from the level: rising toward the front, of rods across the car to the left. "
            "Fill in what both rod ends take at the middle of their thread, and saw. Tilt: the most over travel and 4 deg of roll; bolts across the car (a splayed link's bolt belongs square to the link; its angle is then less)."
        )
        return Table(head, tuple(rows), note)

    def _tilts(self) -> Iterator[tuple[str, str]]:
        for end, axle in self.after.axles():
            if isinstance(axle, LiveAxle) and not axle.leaves:
                for name, first, second, fits in tilt_table(axle, self.limit, self.heights).rows:
                    most = f"{max(float(first), float(second)):.1f}"
                    yield f"{end} {name}", most if fits == "fits" else f"{most} {fits}"

    def _told(self, value: Scalar) -> tuple[Array, float]:
        """Return what stands at each height, and the widest plus or minus."""
        many = np.atleast_2d(np.asarray(value, dtype=float))
        many = np.broadcast_to(many, (SAMPLES + 1, many.shape[1]))
        low, high = np.nanquantile(many, (0.02275, 0.97725), axis=0)
        return many[0], float(np.max(high - low)) / 2

    def adjusters(self) -> Table:
        """Return what one turn of each adjuster does."""
        rows, turn, unit = [], self.per_turn, self.units
        for end, axle in self.after.axles():
            if isinstance(axle, LiveAxle) and not axle.leaves:
                for name, found in rates(axle).items():
                    angles = (written(math.degrees(found[part]) * turn, 2, "+") for part in ("pitch", "yaw"))
                    digits, ways = 3 if unit == "in" else 2, (found[part] * turn / self.scale for part in ("y", "x"))
                    rows.append((f"{end} {name}", *angles, *(written(way, digits, "+") for way in ways)))
        head = (
            f"one turn, {self.length(turn)} {unit} longer", "pinion down [deg]", "nose left [deg]",
            f"axle left [{unit}]", f"forward [{unit}]",
        )  # fmt: skip
        return Table(head, tuple(rows))

    def forces(self) -> Table:
        """Return each rod's force by case, with its lowest margin, the lowest of all marked."""
        given, cells, rest = self.given, [], replace(self.built, heights=np.zeros(1))
        for end, by_rod in rest.forces.items() if self.cases else ():
            for name, link in rods(getattr(rest.car, end)):
                told = [self._told(force) for force in by_rod[name]]
                force, length = np.array([value[0] for value, _ in told]), self._told(link.length)[0][0]
                found = margin(force, length, given.outer, given.rating, given.wall, yield_strength=given.strength)
                least = float(np.min(found.lowest))
                cells.append((least, f"{end} {name}", [f"{written(value[0], 0)} ± {by:.0f}" for value, by in told]))
        lowest, rows = min((least for least, _, _ in cells), default=math.inf), []
        for least, name, texts in cells:
            mark = " LOWEST" if math.isclose(least, lowest, rel_tol=1e-9) else ""
            rows.append((name, *texts, ("over 99" if least > 99 else f"{least:.1f}") + mark))
        missing = [name for name in given.cases if name not in self.cases]
        tube = f"{given.outer:g} mm" + ("" if given.wall is None else f" x {given.wall:g} mm")
        note = f"Plus pulls, minus pushes. Margin: how often the force fits a straight rod of {tube}, {given.strength:g} N/mm^2, rod ends of {given.rating:g} N. "
        note += "Cases: " + "; ".join(f"{name}: {case_in_words(case)}" for name, case in self.cases.items()) + "."
        if missing:
            note += f" Not told: {', '.join(missing)}; weight, brakes or springs are not in the car's file."
        return Table(("rod force [N]", *self.cases, "lowest margin"), tuple(rows), note if rows or missing else "")

    def shaft(self) -> Table | None:
        """Return how the propeller shaft bends and slides over the travel; None where it was not measured."""
        if self.after.shaft is None or self.after.rear is None:
            return None
        rows = []
        for name in ("rear gearbox joint angle", "rear pinion joint angle", "shaft length since rest"):
            value, by = self._told(self.built.value(name))
            mm = name.startswith("shaft")
            texts = [self.length(float(v)) if mm else f"{v:.2f}" for v in value]
            rows.append((f"{name} [{self.units if mm else 'deg'}]", *texts, self.length(by) if mm else f"{by:.2f}"))
        heights = (f"{height / self.scale:g}" for height in self.heights)
        return Table(("propeller shaft, axle risen by", *heights, "±"), tuple(rows))

    def numbers(self) -> Table:
        """Return the car's numbers before and after, with their tolerance after."""
        old, rows = numbers(self.before, NAMES), []
        new = tolerances(self.after, self.error / self.scale, names=NAMES, units=self.units, samples=2000)
        for name, found in new.items():
            if math.isnan(found.value):
                continue
            was = in_units(as_number(old[name]), find(name)[0].unit, self.units)[0] if name in old else math.nan
            told = (shown(value, found.unit) for value in (was, found.value, found.plus_minus))
            rows.append((name, *told, found.unit))
        return Table(("the car's numbers", "before", "after", "±", "unit"), tuple(rows))


def case_in_words(case: Mapping[str, float]) -> str:
    """Return how hard a load case is.

    >>> case_in_words({"braking": 7.0, "bump": 2.0})
    '7 m/s^2 of braking, 2 times the load'
    """
    words = {
        "drive": "{:g} m/s^2 forward", "braking": "{:g} m/s^2 of braking",
        "lateral": "{:g} m/s^2 to the left", "bump": "{:g} times the load",
    }  # fmt: skip
    return ", ".join(words.get(name, name + " {:g}").format(value) for name, value in case.items())


def rods(axle: Axle) -> list[tuple[str, Link]]:
    """Return every rod, or leg of an arm, by name; of an independent front those of the left side."""
    if isinstance(axle, LiveAxle):
        return [] if axle.leaves else [(rod.name, rod) for rod in straight_rods(axle)]
    return [(rod.name, rod) for rod in knuckle_rods(axle)]


def _angle(link: Link, rest: Link) -> Scalar:
    """Return a rod's angle in degrees, in the view in which it is longer at rest."""
    line = link.line
    along = np.all(np.abs(rest.line.dx) >= np.abs(rest.line.dy))
    across = line.dx if along else line.dy
    return np.degrees(np.arctan2(np.where(across < 0, -1, 1) * line.dz, np.abs(across)))
