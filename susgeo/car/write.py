"""Writing car files."""

import math
from collections.abc import Iterable, Iterator
from os import PathLike
from pathlib import Path
from typing import Any

from ..errors import CarFileError, expect
from ..files import write_whole
from ..geometry.measure import coordinates
from ..geometry.space import Point
from .axle import LiveAxle
from .car import Car, Springs
from .carfile import read_car
from .fields import LINK, LOCATORS, ROLL_RATES, SPRUNG, TABLES, UNITS, digits, quoted
from .front import IndependentFront, StrutLeg
from .links import LEAF_SHARES, is_symmetric
from .locators import WattsLinkage


def write_car(car: Car) -> str:
    """Return the text of a car file that reads back as the same car, with a comment on each measurement.

    Raises:
        CarFileError: the car is no car at rest with numbers for measurements, so that no file can hold it.
    """
    sizes = {"length": UNITS["units"][car.units], "mass": UNITS["mass_units"][car.mass_units],
             "rate": UNITS["rate_units"][car.rate_units], "roll rate": ROLL_RATES[car.rate_units],
             "angle": math.pi / 180}  # fmt: skip
    lines: list[str] = []
    for table, holder in _tables(car):
        lines += ["", f"[{table}]"] if table else []
        for field, rule in TABLES.get(table, LINK).items():  # one side of a pair has none of its own
            value = holder[field] if isinstance(holder, dict) else getattr(holder, field)
            usual = rule.kind in UNITS and value == next(iter(UNITS[rule.kind]))
            if value is None or (rule.optional and (usual or not value)):
                continue
            if isinstance(value, str):
                shown = quoted(value)
            elif rule.kind == "point":
                shown = "[" + ", ".join(digits(part / sizes["length"]) for part in coordinates(value)) + "]"
            else:
                shown = digits(value / sizes.get(rule.kind, 1.0))
            lines.append(f"{f'{field} = {shown}':<44}# {rule.measure}")
    return "\n".join(lines) + "\n"


Part = tuple[str, Any]
"""A table of the file: its name, and what holds its values."""


def _tables(car: Car) -> Iterator[Part]:
    yield "", car
    brakes = None if car.brake_front_share is None else {"front_share": car.brake_front_share}
    for name, holder in {"weight": car.weight, "brakes": brakes, "propeller_shaft": car.shaft}.items():
        if holder is not None:
            yield name, holder
    for end, axle in car.axles():
        kind, tables = ("live axle", _live_tables(axle)) if isinstance(axle, LiveAxle) else _front_tables(axle)
        yield end, {"type": kind, "track": axle.track, "tire_radius": axle.tire_radius}
        for name, holder in (*tables, *_spring_tables(getattr(car, f"{end}_springs"))):
            yield f"{end}.{name}", holder


def _live_tables(axle: LiveAxle) -> Iterator[Part]:
    for height, group in (("lower", axle.lower), ("upper", axle.upper)):
        if axle.leaves and group:
            (x, y, _), (u, v, _) = coordinates(group[0].chassis), coordinates(group[0].axle)
            upper, lower = LEAF_SHARES[axle.leaves]
            seat = Point(x + (u - x) * lower / upper, y + (v - y) * lower / upper, group[0].axle.z)
            yield "leaf_springs", {"eye": group[0].chassis, "seat": seat, "leaf": axle.leaves}
        elif len(group) == 1:
            yield f"{height}_link", group[0]
        elif group and is_symmetric(group):
            yield "a_frame" if height == "upper" and group[0].axle.y == 0 else f"{height}_links", group[0]
        elif group:
            for side, link in zip(("left", "right"), group, strict=True):
                yield f"{height}_links.{side}", link
    if isinstance(axle.locator, WattsLinkage) and axle.locator.pin is not None:
        raise CarFileError("This axle has moved, and a car file holds the axle at rest; save the car it came from.")
    for name, kind in LOCATORS.items():
        if isinstance(axle.locator, kind):
            yield name, axle.locator


def _front_tables(front: IndependentFront) -> tuple[str, Iterable[Part]]:
    kind, upper = ("strut", "strut") if isinstance(front.upper, StrutLeg) else ("double wishbone", "upper_arm")
    tie = [] if front.tie_rod is None else [("tie_rod", front.tie_rod)]
    return kind, [("lower_arm", front.lower), (upper, front.upper), *tie]


def _spring_tables(springs: Springs | None) -> Iterator[Part]:
    if springs is not None and (springs.rate is not None or springs.anti_roll_rate):
        yield "springs", springs
    for name in SPRUNG:
        line = getattr(springs, "bar" if name == "anti_roll_bar" else name, None)
        if line is not None:
            yield name, line


def save_car(car: Car, path: str | Path) -> None:
    """Write a car file; a file that stands there is replaced whole, or not at all.

    It holds no names of links: read again, they are called after their places.

    Args:
        car: a car at rest, with numbers for measurements.
        path: where to; the folder is made if need be.

    Raises:
        CarFileError: no file can hold this car, or :func:`susgeo.load_car` would refuse it: one sentence says why.
        SusgeoError: the disk is full, the folder may not be written to, or the like.

    >>> import tempfile
    >>> from susgeo import load_car
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     save_car(load_car("three_link"), f"{folder}/copy.toml")
    ...     load_car(f"{folder}/copy.toml").rear.track
    1400.0
    """
    expect(Car, car=car)
    expect(str | PathLike, path=path)
    text, name = write_car(car), Path(path).name
    try:
        raw = text.encode("utf-8")
    except UnicodeEncodeError:
        raise CarFileError("The title holds half a character, which no file can hold; type the title again.") from None
    try:
        read_car(text, name)
    except CarFileError as error:
        raise CarFileError(f"Not saved, since it could not be loaded again: {error}") from None
    write_whole(path, raw)
