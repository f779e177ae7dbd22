"""Reading and writing car files: TOML that one can read aloud.

A file says in which unit its lengths are, ``mm`` or ``in``. Points are ``[x, y, z]`` from the axle's own origin
on the ground below the middle of its wheel-center line: x forward, y left, z up. The tables and fields are
listed once, in :data:`TABLES`, with a sentence on how each is measured; reading, the complaints about a bad
file, and the comments in a written file all come from that list.
"""

import difflib
import math
import re
import tomllib
from collections.abc import Callable
from os import PathLike
from pathlib import Path
from typing import Any, TypeVar

from ..errors import CarFileError, MeasurementError, SusgeoError, expect
from ..files import DATA
from ..geometry.space import Point, outside
from .axle import LiveAxle
from .car import Axle, Car, Springs, Weight, check_wheelbase
from .coils import acting
from .fields import (
    AXLE,
    FRONT_TABLES,
    KINDS,
    LINK,
    LIVE_TABLES,
    LOCATORS,
    ROLL_RATES,
    SIZE_LIMIT,
    SPRINGS,
    SPRUNG,
    TABLES,
    UNITS,
    Field,
    as_typed,
    digits,
    field_name,
)
from .front import Arm, IndependentFront, StrutLeg
from .links import Group, Link, check_side, leaf_link, pair
from .locators import Locator
from .shaft import PropellerShaft
from .spelling import misspelled

Thing = TypeVar("Thing")
LARGEST = 30_000.0
"""In mm; nothing on a car is as long."""


def load_car(path: str | Path) -> Car:
    """Read a car from a TOML file; a bare name, such as "three_link", is one of the course's own cars.

    Args:
        path: of the file.

    Raises:
        CarFileError: one sentence that names file, table, field and value, says what was expected, and how
            to mend it.

    >>> load_car("three_link").wheelbase
    2700.0
    """
    expect(str | PathLike, path=path)
    path = Path(path)
    if path.name == str(path) and not path.suffix and len(path.name) < 100 and not path.exists():
        path = DATA / f"{path}.toml"
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        mode = 0
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise CarFileError(f"{path.name[:60]} cannot be read: {reason}.") from None
    if path.is_dir():
        folder = path.resolve().name
        raise CarFileError(f"{folder} is a folder; give the name of a car file in it, such as {folder}/my_car.toml.")
    if not mode and path.is_symlink():
        raise CarFileError(f"{path.name} is a link to a file that is not there; give the file's own name.")
    if not mode:
        others = sorted(file.name for file in path.parent.glob("*.toml")) if path.parent.is_dir() else []
        close = difflib.get_close_matches(path.name, others, 1, 0.4)
        hint = f"did you mean {close[0]}?" if close else f"car files there: {', '.join(others[:8]) or 'none'}."
        raise CarFileError(f"There is no file {path.name} in the folder {path.parent.name or '.'}; {hint}")
    if not path.is_file():
        raise CarFileError(f"{path.name} is a device or a pipe, not a file; give the name of a car file.")
    size = path.stat().st_size
    if size > SIZE_LIMIT:
        raise CarFileError(f"{path.name} has {size / 1e6:.0f} MB; a car file has a few kB, so this is something else.")
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise CarFileError(f"{path.name} is not a text file in UTF-8; save it again as plain text (UTF-8).") from None
    except OSError as error:
        raise CarFileError(f"{path.name} cannot be read: {error.strerror}.") from None
    return read_car(text, path.name)


def read_car(text: str, name: str = "the car file") -> Car:
    """Read a car from the text of a car file; raises as :func:`load_car`.

    Args:
        text: of the file. name: for complaints.

    >>> from susgeo.car.write import write_car
    >>> read_car(write_car(load_car("three_link"))).rear.track
    1400.0
    """
    expect(str, text=text)
    if len(text) > SIZE_LIMIT:
        raise CarFileError(f"{name} has {len(text) / 1e6:.0f} MB; a car file has a few kB, so this is something else.")
    if not text.strip():
        raise CarFileError(f"{name} is empty; copy one of the files in the data folder and change its numbers.")
    try:
        text = text.removeprefix("\ufeff").replace("\r\n", "\n")
        content = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: also a number of 5000 digits
        raise CarFileError(
            f"{name} does not follow the rules of TOML: {misspelled(text, error)}; write fields as name = value, text in quotes, "
            "points as [x, y, z], tables as [rear.lower_links], and a decimal point instead of a comma."
        ) from None
    return _Reader(name, content).car()


class _Reader:
    """One pass over a file's content; keeps the name and the unit for complaints."""

    def __init__(self, name: str, content: dict[str, Any]) -> None:
        self.name, self.content, self.scale = name, content, 1.0

    def fail(self, table: str, field: str, problem: str) -> CarFileError:
        where = f"table [{table}]" if table else "top of the file"
        problem = problem[0].lower() + problem[1:]
        return CarFileError(f"{self.name}, {where}, {f'field {field}: ' if field else ''}{problem}")

    def shown(self, point: Point) -> str:
        """Return a point as it stands in the file."""
        return "[" + ", ".join(digits(value / self.scale) for value in (point.x, point.y, point.z)) + "]"

    def car(self) -> Car:
        tops = {path.split(".")[0] for path in TABLES if path}
        head = {name: value for name, value in self.content.items() if name not in tops}
        units: dict[str, Any] = {
            name: self.value("", name, head.get(name, next(iter(sizes))), TABLES[""][name])
            for name, sizes in UNITS.items()
        }
        self.scale, mass, rate = (UNITS[name][unit] for name, unit in units.items())
        self.sizes = {"length": self.scale, "mass": mass, "rate": rate, "angle": math.pi / 180}
        self.sizes["roll rate"] = ROLL_RATES[units["rate_units"]]
        top = self.fields("", head)
        self.made("", check_wheelbase, top["wheelbase"], units["units"])
        if "rear" not in self.content and "front" not in self.content:
            raise self.fail("", "", "there is no axle; expected a table [rear] or [front], or both.")
        brakes: Any = self.part("brakes", dict)
        weight, shaft = self.part("weight", Weight), self.part("propeller_shaft", PropellerShaft)
        held: dict[str, Any] = {}
        for end in ("rear", "front"):
            if end in self.content:
                held[end], held[f"{end}_springs"] = self.axle(end)
        share = brakes and brakes["front_share"]
        return Car(top["title"], top["wheelbase"], weight=weight, brake_front_share=share, shaft=shaft, **held, **units)

    def made(self, table: str, kind: Callable[..., Thing], *given: Any, **values: Any) -> Thing:
        """Make a part; what it refuses, the file is told, with table and field, in its own unit."""
        try:
            return kind(*given, **values)
        except CarFileError:
            raise
        except MeasurementError as error:
            raise self.fail(table, error.args[0], error.told(self.shown)) from None
        except SusgeoError as error:
            raise self.fail(table, "", str(error)) from None

    def part(self, table: str, kind: Callable[..., Thing], **more: Any) -> Thing | None:
        """Make a part from its table, where there is one."""
        if self.find(table) is None:
            return None
        return self.made(table, kind, **self.fields(table, self.table(table)), **more)

    def find(self, table: str) -> Any:
        found: Any = self.content
        for step in table.split("."):
            found = found.get(step) if isinstance(found, dict) else None
        return found

    def table(self, table: str) -> dict[str, Any]:
        found = self.find(table)
        if not isinstance(found, dict):
            parent, _, last = table.rpartition(".")
            if found is None:
                raise self.fail(parent, "", f"the table [{table}] is missing; write it with its fields below.")
            raise self.fail(
                parent, last, f"got {as_typed(found)}, expected a table; write [{table}] on a line of its own."
            )
        return found

    def fields(self, table: str, found: dict[str, Any], known: dict[str, Field] | None = None) -> dict[str, Any]:
        """Return the checked values of one table's fields; lengths in mm."""
        known = TABLES[table] if known is None else known
        for field, value in found.items():
            if field not in known:
                names = [*known, *(path for path in TABLES if path and "." not in path)] if not table else list(known)
                close = difflib.get_close_matches(field, names, 1, 0.5)
                what = "table" if isinstance(value, dict) else "field"
                hint = f"did you mean {close[0]}?" if close else f"expected {', '.join(names)}."
                raise self.fail(table, "", f"there is no {what} called {field_name(field)}; {hint}")
        for field, rule in known.items():
            if field not in found and not rule.optional:
                raise self.fail(
                    table, "", f"the field {field} is missing; expected {KINDS[rule.kind]}: {rule.measure}."
                )  # fmt: skip
        return {field: self.value(table, field, value, known[field]) for field, value in found.items()}

    def value(self, table: str, field: str, value: Any, rule: Field) -> Any:
        """Return one checked value; lengths and points in mm."""
        expected, largest = f"got {as_typed(value)}, expected {KINDS[rule.kind]}", LARGEST / self.scale
        if rule.kind in ("text", *UNITS, "type", "part", "carrier", "leaf"):
            choices = KINDS[rule.kind].split('"')[1::2]
            if not isinstance(value, str) or not value.strip() or (choices and value not in choices):
                close = difflib.get_close_matches(str(value), choices, 1, 0.5)
                raise self.fail(table, field, f"{expected}{f'; did you mean {close[0]}?' if close else '.'}")
            return value
        if rule.kind == "point":
            if not isinstance(value, list):
                raise self.fail(table, field, f"{expected}, for example [600, 400, 290].")
            if len(value) != 3:
                raise self.fail(
                    table, field, f"got {len(value)} numbers in {as_typed(value)}, expected {KINDS['point']}."
                )
            axes = zip("xyz", value, strict=True)
            return Point(*(self.number(table, f"{field} {axis}", part, largest) * self.scale for axis, part in axes))
        number = self.number(table, field, value, largest if rule.kind == "length" and table else 1e6)
        if rule.kind == "angle":
            problem = f"{expected}." if abs(number) > 45 else ""
        else:
            small = f"got {as_typed(value)}, expected no number as small as that."
            problem = outside(rule.kind.removeprefix("roll "), number) or small * (0 < number < 1e-3)
        if problem:
            raise self.fail(table, field, problem)
        return number * self.sizes.get(rule.kind, 1.0)

    def number(self, table: str, field: str, value: Any, largest: float) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            bare = value.strip() if isinstance(value, str) else ""
            hint = f"; write {bare} without quotes" if re.fullmatch(r"[-+]?\d{1,9}(\.\d{1,9})?", bare) else ""
            raise self.fail(table, field, f"got {as_typed(value)}, expected a number{hint}.")
        if not abs(value) <= largest:  # not even nan is
            raise self.fail(table, field, f"got {as_typed(value)}, expected a finite number of a car's size.")
        return float(value) + 0.0  # a zero has no sign in a file

    def axle(self, end: str) -> tuple[Axle, Springs | None]:
        """Read one axle and its springs."""
        found = self.table(end)
        kind = self.value(end, "type", found["type"], AXLE["type"]) if "type" in found else "live axle"
        if end == "rear" and kind != "live axle":
            raise self.fail(end, "type", f'got "{kind}", expected "live axle", as every rear axle of this course.')
        tables = LIVE_TABLES if kind == "live axle" else FRONT_TABLES
        head = {name: value for name, value in found.items() if name not in tables}
        for name, value in head.items():
            if isinstance(value, (dict, list)) and name not in AXLE:
                close = difflib.get_close_matches(name, tables, 1, 0.5)
                hint = f"did you mean [{end}.{close[0]}]?" if close else f"expected one of {', '.join(tables)}."
                raise self.fail(end, "", f"there is no table {field_name(name)} for a {kind}; {hint}")
        values = self.fields(end, head)
        build: Callable[..., Axle] = self.live if kind == "live axle" else self.independent
        axle = self.made(end, build, end, kind, values["track"], values["tire_radius"])
        return axle, self.springs(end, axle)

    def springs(self, end: str, axle: Axle) -> Springs | None:
        """Read the springs by rate and spacing, or springs, dampers and anti-roll bar as lines."""
        parts: dict[str, Any] = {}
        for name, kind in SPRUNG.items():
            table = f"{end}.{name}"
            if made := self.part(table, kind):
                self.made(table, check_side, {"axle": made.axle, "chassis": made.chassis})
                self.made(table, acting, axle, made)
                parts["bar" if name == "anti_roll_bar" else name] = made
        table, known = f"{end}.springs", dict(SPRINGS)
        found = None if self.find(table) is None else self.table(table)
        for field in SPRINGS:
            part, other = ("bar", "anti_roll_bar") if field == "anti_roll_rate" else ("coil", "coil")
            if part in parts:
                known.pop(field)
                if found and field in found:
                    raise self.fail(table, field, f"[{end}.{other}] says it as well; keep one of the two.")
        values = {} if found is None else self.fields(table, found, known)
        return Springs(**values, **parts) if values or parts else None

    def live(self, end: Any, kind: str, track: float, radius: float) -> LiveAxle:
        lower, upper = (self.group(end, height) for height in ("lower", "upper"))
        locators = [locator for locator in (self.locator(end, name) for name in LOCATORS) if locator is not None]
        if len(locators) > 1:
            raise self.fail(
                end, "", "there are two sideways locators; keep one of panhard_bar, watts_linkage and mumford_linkage."
            )
        leaf = (self.find(f"{end}.leaf_springs") or {}).get("leaf", "")
        axle = LiveAxle(lower, upper, locators[0] if locators else None, track, radius, end, leaf)
        axle.require_located()
        return axle

    def group(self, end: str, height: str) -> Group:
        """Read the links of one height, in whichever of the ways they are given."""
        names = [f"{height}_links", f"{height}_link", "a_frame" if height == "upper" else "leaf_springs"]
        given = [name for name in names if self.find(f"{end}.{name}") is not None]
        if len(given) > 1:
            raise self.fail(f"{end}.{given[1]}", "", f"{given[0]} is given as well; keep one of the two.")
        if not given:
            if height == "upper":
                return ()
            raise self.fail(
                end, "", f"the table [{end}.lower_links] is missing; every live axle of this course has lower links."
            )
        table = f"{end}.{given[0]}"
        found = self.table(table)
        if "left" in found or "right" in found:
            if not given[0].endswith("_links"):
                raise self.fail(table, "", f"left and right belong in [{end}.{height}_links].")
            extra = sorted(set(found) - {"left", "right"})
            if extra:
                raise self.fail(table, extra[0], "give either left and right, or one link and let the right mirror it.")
            sides = []
            for side in ("left", "right"):
                values = self.fields(f"{table}.{side}", self.table(f"{table}.{side}"), LINK)
                self.made(f"{table}.{side}", check_side, values, side)
                sides.append(self.made(f"{table}.{side}", Link, name=f"{side} {height} link", **values))
            return tuple(sides)
        values = self.fields(table, found)
        if given[0] == "leaf_springs":
            self.made(table, check_side, {name: values[name] for name in ("eye", "seat")})
            return pair(leaf_link(values["eye"], values["seat"], values["leaf"]))
        if given[0].endswith("link"):
            return (self.made(table, Link, name=f"{height} link", **values),)
        if values["axle"].y == 0 and values["chassis"].y == 0:
            raise self.fail(
                table, "axle", f"this link lies in the center plane (y = 0); put it into [{end}.{height}_link]."
            )
        self.made(table, check_side, {field: values[field] for field in ("axle", "chassis")})
        name = f"left {'leg of the A-frame' if given[0] == 'a_frame' else f'{height} link'}"
        return pair(self.made(table, Link, name=name, **values))

    def locator(self, end: str, name: str) -> Locator | None:
        found: Locator | None = self.part(f"{end}.{name}", LOCATORS[name])
        self.made(f"{end}.{name}", lambda: found and found.line)  # a crank that holds nothing is refused here
        return found

    def independent(self, end: Any, kind: str, track: float, radius: float) -> IndependentFront:
        wanted, spare = ("strut", "upper_arm") if kind == "strut" else ("upper_arm", "strut")
        if self.find(f"{end}.{spare}") is not None:
            raise self.fail(
                f"{end}.{spare}", "", f"a {kind} has none; expected [{end}.{wanted}], or another type in [{end}]."
            )
        for name in ("lower_arm", wanted):
            if self.find(f"{end}.{name}") is None:
                raise self.fail(end, "", f"the table [{end}.{name}] is missing; a {kind} needs it.")
        lower: Any = self.part(f"{end}.lower_arm", Arm)
        upper: Any = self.part(f"{end}.{wanted}", StrutLeg if kind == "strut" else Arm)
        axle = IndependentFront(lower, upper, self.part(f"{end}.tie_rod", Link, name="tie rod"), track, radius, end)
        _ = axle.instant_axis
        return axle
