"""What a reader typed about a car, half of it missing perhaps; its file holds all of it at every moment.

The file is a car file. A blank is left out of it, what is no number stands there in quotes, and tables that were set
aside follow as remarks: so nothing typed is lost, and the reader of car files says what is still amiss.
"""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

from ..answers.numbers import Unreadable, read_number
from ..car.car import Car
from ..car.carfile import read_car
from ..car.fields import KINDS, LINK, TABLES, Field, digits, quoted
from ..car.spelling import misspelled
from ..errors import CarFileError, SusgeoError
from ..files import write_whole

ASIDE = "#: "
"""How a line of a table begins that was filled in and is not part of the car now."""
EACH = ("left and right alike", "left and right each measured")
LINKS = {f"two, {EACH[0]}": ("{}_links",), f"two, {EACH[1]}": ("{}_links.left", "{}_links.right"), "one": ("{}_link",)}
LIVE: dict[str, dict[str, tuple[str, ...]]] = {
    "lower links": {words: tuple(name.format("lower") for name in names) for words, names in LINKS.items()}
    | {"leaf springs": ("leaf_springs",)},
    "upper links": {words: tuple(name.format("upper") for name in names) for words, names in reversed(LINKS.items())}
    | {"A-frame": ("a_frame",), "none": ()},
    "held sideways by": {"Panhard bar": ("panhard_bar",), "Watt's linkage": ("watts_linkage",),
                         "Mumford linkage": ("mumford_linkage",), "converging links": ()},
}  # fmt: skip
SPRUNG: dict[str, dict[str, tuple[str, ...]]] = {
    "springs": {"not measured": (), "rate and spacing": ("springs",), "where they stand": ("coil",)},
    "damper": {"not measured": (), "where it stands": ("damper",)},
    "anti-roll bar": {"none, or by its rate": (), "where it stands": ("anti_roll_bar",)},
}
KINDS_OF_AXLE: dict[str, tuple[str, ...]] = {
    "not measured": (), "live axle": (), "strut": ("lower_arm", "strut"), "double wishbone": ("lower_arm", "upper_arm"),
}  # fmt: skip
"""What an axle may be, and the tables that each kind has in any case."""
WHOLE = {"weight": ("weight",), "brakes": ("brakes",), "propeller shaft": ("propeller_shaft",)}


def fields_of(table: str) -> dict[str, Field]:
    """Return the fields of a table; of one side of a pair those of a link."""
    return LINK if table.endswith((".left", ".right")) else {k: v for k, v in TABLES[table].items() if k != "type"}


def options(end: str, kind: str) -> dict[str, dict[str, tuple[str, ...]]]:
    """Return what one chooses about an axle: words to the tables that each brings."""
    if kind == "not measured":
        return {}
    tie = {"steering": {"tie rod measured": ("tie_rod",), "not measured": ()}}
    found: dict[str, dict[str, tuple[str, ...]]] = {}
    for name, choice in ((LIVE if kind == "live axle" else tie) | SPRUNG).items():
        found[name] = {words: tuple(f"{end}.{one}" for one in tables) for words, tables in choice.items()}
    return found


class Entries:
    """What stands in the form of one car: texts by table and field, and which tables are part of the car.

    Args:
        path: of the car's file; one that is there is opened, and kept as it was under a name that says so.

    Attributes:
        typed: by table and field, of a point by field and axis as in "axle.x": what was typed.
        kinds: of the rear and the front axle, such as "live axle". chosen: the tables that are part of the car.
        locked: why the file that is there cannot be opened; it is then left as it is.
    """

    def __init__(self, path: Path) -> None:
        self.open(path)

    def open(self, path: Path) -> None:
        """Take a car's file, in place of the one before; one that is not there is begun."""
        self.path, self.locked = path, ""
        self.typed: dict[str, dict[str, str]] = {"": {"units": "mm", "mass_units": "kg", "rate_units": "N/mm"}}
        self.kinds = {"rear": "live axle", "front": "not measured"}
        self.chosen = {"rear.lower_links", "rear.upper_link", "rear.panhard_bar"}
        before = path.read_text("utf-8-sig") if path.is_file() else ""
        if before:
            aside = "\n".join(line.removeprefix(ASIDE) for line in before.splitlines() if line.startswith(ASIDE))
            try:
                now, other = tomllib.loads(before), tomllib.loads(aside)
            except tomllib.TOMLDecodeError as problem:
                self.locked = f"{path.name} is there and cannot be opened ({misspelled(before, problem)}). It is left as it is: mend it, or give another name."
                return
            for end in self.kinds:
                self.kinds[end] = str(now[end].get("type", "live axle")) if end in now else "not measured"
            self.chosen = {table for table in self._note(now) if table}
            self._note(other)
            kept = path.with_name(f"{path.stem}, as it was.toml")
            if before != self.text() and not kept.exists():  # it was written by hand, perhaps with remarks of its own
                write_whole(kept, before)

    def _note(self, content: dict[str, object], table: str = "") -> Iterator[str] | list[str]:
        found = [table]
        for name, value in content.items():
            if isinstance(value, dict):
                found += self._note(value, f"{table}.{name}".lstrip("."))
                continue
            here = self.typed.setdefault(table, {})
            parts = zip("xyz", value, strict=False) if isinstance(value, list) else [("", value)]
            for axis, part in parts:
                here[f"{name}.{axis}".rstrip(".")] = part if isinstance(part, str) else digits(part)
        return found

    def tables(self) -> list[str]:
        """Return the tables of the car, in the order of a car file."""
        found = [""]
        for table in TABLES:
            if table in ("rear", "front"):
                found += [table] if self.kinds[table] != "not measured" else []
            elif table:
                found += [one for one in (table, f"{table}.left", f"{table}.right") if one in self.chosen]
        return [one for one in found if self.kinds.get(one.partition(".")[0], "") != "not measured"]

    def choose(self, old: tuple[str, ...], new: tuple[str, ...]) -> None:
        """Put other tables into the car; sides measured each start from those measured alike."""
        self.chosen = (self.chosen - set(old)) | set(new)
        for table in new:
            alike, _, side = table.rpartition(".")
            if side in ("left", "right") and table not in self.typed and alike in self.typed:
                self.typed[table] = {place: _mirrored(text) if side == "right" and place.endswith(".y") else text
                                     for place, text in self.typed[alike].items()}  # fmt: skip

    def value(self, field: Field, text: str) -> str:
        """Return what was typed as the file has it: a number in the file's unit, or the text in quotes."""
        unit = "deg" if field.kind == "angle" else self.typed[""]["units"] if field.kind in ("length", "point") else ""
        if KINDS[field.kind].startswith(('"', "text")):
            return quoted(text)
        try:
            number = read_number(text)
            return digits(number.to(unit).value) if unit or number.unit is None else quoted(text)
        except Unreadable:
            return quoted(text)

    def reads(self, field: Field, text: str) -> bool:
        """Return whether what was typed is what the field must hold: a number, or words where words are wanted."""
        return KINDS[field.kind].startswith(('"', "text")) or self.value(field, text) != quoted(text)

    def text(self) -> str:
        """Return the car file."""
        tables = self.tables()
        lines = list(self._lines(tables))
        aside = [table for table in self.typed if table not in tables and any(self.typed[table].values())]
        if aside:
            lines += ["", "# Set aside, kept for later:", *(ASIDE + line for line in self._lines(aside) if line)]
        return "\n".join(lines) + "\n"

    def _lines(self, tables: list[str]) -> Iterator[str]:
        for table in tables:
            if table:
                yield from ("", f"[{table}]")
            if table in self.kinds:
                yield f"type = {quoted(self.kinds[table])}"
            typed, known = self.typed.get(table, {}), fields_of(table)
            for name, field in known.items():
                boxes = [f"{name}.{axis}" for axis in "xyz"] if field.kind == "point" else [name]
                parts = [typed.get(box, "").strip() for box in boxes]
                if any(parts):
                    shown = ", ".join(self.value(field, part) if part else '""' for part in parts)
                    line = f"{name} = [{shown}]" if field.kind == "point" else f"{name} = {shown}"
                    yield f"{line:<44}# {field.measure}"

    def save(self) -> None:
        """Write the file, whole."""
        if not self.locked:
            write_whole(self.path, self.text())

    def car(self) -> Car:
        """Return the car.

        Raises:
            CarFileError: something is missing or no measurement yet; the sentence says what.
        """
        if self.locked:
            raise CarFileError(self.locked)
        return read_car(self.text(), self.path.name)

    def boxes(self) -> Iterator[tuple[str, str, str, str]]:
        """Go through the boxes that a whole car needs: table, field, axis or "", and what was typed, "" for nothing yet."""
        for table in self.tables():
            for name, field in fields_of(table).items():
                for axis in () if field.optional else "xyz" if field.kind == "point" else ("",):
                    place = f"{name}.{axis}" if axis else name
                    yield table, name, axis, self.typed.get(table, {}).get(place, "").strip()

    def missing(self) -> str:
        """Return in one sentence what keeps this from being a whole car, or ""."""
        try:
            self.car()
        except SusgeoError as problem:
            return str(problem)
        return ""


def _mirrored(text: str) -> str:
    bare = text.strip()
    return re.sub(r"^[-−]", "", bare) if bare[:1] in ("-", "−") else f"-{bare}" if bare else ""
