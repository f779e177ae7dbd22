"""The form in which a reader enters a car, and the sheet to measure it with: each field beside what it measures."""

import html
import tomllib
from collections.abc import Callable
from functools import cache, partial
from typing import Any

import ipywidgets as widgets

from ..answers.page import Sheet
from ..answers.question import Page
from ..car.carfile import load_car
from ..car.fields import KINDS, TABLES, UNITS
from ..draw.dimensioned import dimensioned
from ..draw.printed import HOW_TO_MEASURE
from ..draw.printed import Sheet as Printed
from ..draw.vector import vector
from ..errors import SusgeoError
from ..files import DATA, in_turn
from ..tables import html_rows
from .entries import KINDS_OF_AXLE, WHOLE, Entries, fields_of, options
from .remarks import remarks

EXAMPLES = ("three_link", "club_coupe", "double_wishbone", "parallel_four_link_watt", "converging_four_link", "mumford",
            "a_frame", "leaf_springs", "torque_arm", "live_front")  # fmt: skip
LINKED = {"watts_linkage": [("B", "C"), ("D", "F"), ("B", "D")], "lower_arm": [("A", "B"), ("A", "C")], "upper_arm": [("A", "B"), ("A", "C")],
          "mumford_linkage": [("A", "B"), ("B", "C"), ("A", "D"), ("F", "G"), ("G", "H"), ("F", "I"), ("D", "I")]}  # fmt: skip
"""What joins the joints of a part that has more than two."""
STYLES = {"description_width": "initial"}
ROW = {"flex_flow": "row wrap", "align_items": "center"}


def letters(table: str) -> dict[str, str]:
    """Return a letter for each joint of a table, in the order of its fields; a drawing takes E for an elbow."""
    joints = [name for name, field in fields_of(table).items() if field.kind == "point"]
    return dict(zip(joints, "ABCDFGHI", strict=False))


def called(name: str) -> str:
    """Return the words of a dimension: its joint's letter, then its axis."""
    words = {"y_W": "half of the track", "z_W": "tire radius"}
    return words.get(name, " ".join(reversed(name.split("_"))))


@cache
def picture(table: str) -> str:
    """Return a drawing of what a table measures as HTML, on a car of the course that has it; "" where there is none."""
    end, _, part = table.removesuffix(".left").removesuffix(".right").partition(".")
    for name in ("double_wishbone", *EXAMPLES) if table == "front" else EXAMPLES:
        content = tomllib.loads((DATA / f"{name}.toml").read_text("utf-8"))
        for at in dict.fromkeys((end, "rear", "front")):
            found, axle = content.get(at, {}).get(part, {}) if part else {}, getattr(load_car(name), at, None)
            if axle is None or (part and not found):
                continue
            named = {letter: found[field] for field, letter in letters(table).items() if field in found}
            joints = {letter: dict(zip("xyz", place, strict=True)) for letter, place in named.items()}
            if not part and end in ("rear", "front"):
                joints = {"W": {"y": axle.track / 2, "z": axle.tire_radius}}
            if not joints:
                return ""
            across = part in ("panhard_bar", "watts_linkage", "mumford_linkage") or not part
            links = LINKED.get(part, [("A", "B")] if set(joints) == {"A", "B"} else [])
            drawn = dimensioned(axle, joints, "front" if across else "side", links, lambda name, _: called(name))
            return vector(drawn)
    return ""


def heading(table: str) -> str:
    """Return a table's name in words."""
    words = (table or "the whole car").replace(".", ": ").replace("_", " ")
    for written, name in {"watts": "Watt's", "panhard": "Panhard", "mumford": "Mumford"}.items():
        words = words.replace(written, name)
    return words[:1].upper() + words[1:]


def measuring(entries: Entries) -> Printed:
    """Return the sheet to print for the kinds of axles chosen: each table with its drawing, and room for each number."""
    head, blank = entries.typed[""], "________"
    units = f"Lengths in {head['units']}, masses in {head.get('mass_units', 'kg')}, spring rates in {head.get('rate_units', 'N/mm')}."
    parts = [f"<p>{HOW_TO_MEASURE} {units}</p>"]
    for table in entries.tables():
        marks, rows = letters(table), []
        for name, field in fields_of(table).items():
            if field.kind in UNITS or field.kind == "text":
                continue
            room = [f"{axis} {blank}" for axis in "xyz"] if field.kind == "point" else [blank, "", ""]
            rows.append((marks.get(name, ""), *room, f"{name.replace('_', ' ')}: {field.measure}"))
        body = f"<h2>{heading(table)}</h2>{picture(table)}{html_rows(rows)}"
        parts.append(f'<div style="break-inside: avoid">{body}</div>')
    return Printed("Measuring sheet. Car: ____________________", "".join(parts), HOW_TO_MEASURE)


class Chooser(widgets.HBox):  # type: ignore[misc]
    """What kinds of axles a car has, and what of it was measured."""

    def __init__(self, entries: Entries, again: Callable[[str], None]) -> None:
        self.entries, self.again = entries, again
        super().__init__(layout=ROW)
        self.show()

    def show(self) -> None:
        """Make the lists anew: other axles have other parts."""
        head, made = self.entries.typed[""], []
        for name, sizes in UNITS.items():
            words = {"units": "lengths in", "mass_units": "masses in", "rate_units": "spring rates in"}[name]
            made.append(self._list(words, list(sizes), head.get(name, next(iter(sizes))), partial(self._unit, name)))
        for end, kinds in (("rear", ("live axle", "not measured")), ("front", tuple(KINDS_OF_AXLE))):
            kind = self.entries.kinds[end]
            made.append(self._list(f"{end} axle", list(kinds), kind, partial(self._kind, end)))
            for name, choice in options(end, kind).items():
                made.append(self._tables(f"{end}: {name}", choice))
        for name, tables in WHOLE.items():
            made.append(self._tables(name, {"not measured": (), "measured": tables}))
        self.children = tuple(made)

    def _unit(self, name: str, new: str) -> str:
        self.entries.typed[""][name] = new
        typed = any(text for table, texts in self.entries.typed.items() if table for text in texts.values())
        return f"What was typed stays as it is, and now counts in {new}; look at each number again." if typed else ""

    def _kind(self, end: str, new: str) -> None:
        first = options(end, new).items()
        self.entries.kinds[end] = new
        if not any(table.startswith(f"{end}.") for table in self.entries.tables()):
            for _, choice in first:
                self.entries.choose((), next(iter(choice.values())))
        parts = {kind: tuple(f"{end}.{part}" for part in names) for kind, names in KINDS_OF_AXLE.items()}
        self.entries.choose(sum(parts.values(), ()), parts[new])
        self.show()

    def _tables(self, name: str, choice: dict[str, tuple[str, ...]]) -> Any:
        every = {table for tables in choice.values() for table in tables}
        here = self.entries.chosen & every
        now = next((words for words, tables in choice.items() if set(tables) == here), next(iter(choice)))
        return self._list(name, list(choice), now, lambda new: self.entries.choose(tuple(every), choice[new]))

    def _list(self, name: str, words: list[str], now: str, act: Callable[[str], Any]) -> Any:
        one = widgets.Dropdown(options=words, value=now if now in words else words[0], description=name, style=STYLES)

        @in_turn
        def chosen(change: Any) -> None:
            self.again(act(change["new"]) or "")

        one.observe(chosen, "value")
        return one


class Measure(Sheet):
    """The first step: choose what the car has, and print the sheet to measure it with."""

    def __init__(self, entries: Entries, changed: Callable[[], None]) -> None:
        self.entries, self.changed = entries, changed
        self.saved = Page(measuring(entries).body, "Choose what your car has; the sheet to print follows.")
        self.shown, self.said = widgets.HTML(), widgets.HTML()
        name = entries.path.stem
        self.file = widgets.Text(name, description="name of its file", continuous_update=False, style=STYLES)
        self.file.observe(lambda change: self.take(change["new"]), "value")
        save = widgets.Button(description="Sheet to print", tooltip="Write the measuring sheet as a page to print")
        save.on_click(lambda _: self.write())
        self.chooser = Chooser(entries, self.chosen)
        super().__init__([self.file, self.chooser, save, self.said, self.shown])
        self.refresh()

    @in_turn
    def take(self, name: str) -> None:
        """Open another car's file, or begin one."""
        bare = name.strip().removesuffix(".toml")
        if not bare or set(bare) & set('/\\:*?"<>|'):
            self.said.value = '<p role="alert">Give a name without slashes, such as my car.</p>'
            return
        self.entries.open(self.entries.path.with_name(f"{bare}.toml"))
        self.chooser.show()
        self.refresh()
        self.changed()
        self.said.value = f'<p role="status">{html.escape(self.entries.locked or f"The file is {bare}.toml.")}</p>'

    @in_turn
    def chosen(self, words: str) -> None:
        """Follow what was chosen, here and in the form, and say what it means for what was typed."""
        self.entries.save()
        self.refresh()
        self.changed()
        self.said.value = f'<p role="status">{html.escape(words)}</p>' if words else ""

    def refresh(self) -> None:
        """Show the sheet anew."""
        body = measuring(self.entries).body
        self.shown.value = f"<details><summary>The sheet, to look at</summary>{body}</details>"

    @in_turn
    def write(self) -> None:
        """Write the sheet beside the car's file."""
        place = self.entries.path.with_name(f"{self.entries.path.stem}, to measure.html")
        measuring(self.entries).save(place)
        words = f"Written: {html.escape(place.name)}. Open it from the list of files and print it."
        self.said.value = f'<p role="status">{words}</p>'


class Form(Sheet):
    """The second step: a box for each measurement; the file is written at every change."""

    def __init__(self, entries: Entries) -> None:
        self.entries = entries
        self.saved = Page("<p>Here the car is entered, each number beside its drawing.</p>", "Here the car is entered.")
        self.said = widgets.HTML()
        super().__init__()
        self.refresh()

    def refresh(self) -> None:
        """Show the boxes of the tables that the car now has."""
        made: list[Any] = [self.said]
        for table in self.entries.tables():
            rows = [self._field(table, name) for name, field in fields_of(table).items() if field.kind not in UNITS]
            drawing = picture(table)
            beside = [widgets.HTML(drawing, layout={"flex": "1 1 340px"})] if drawing else []
            fields = widgets.VBox(rows, layout={"flex": "1 1 340px"})
            made.append(widgets.HTML(f"<h4>{heading(table)}</h4>"))
            made.append(widgets.HBox([*beside, fields], layout={"flex_flow": "row wrap"}))
        self.children = tuple(made)
        self.tell()

    def _field(self, table: str, name: str) -> Any:
        field, typed = TABLES.get(table, fields_of(table))[name], self.entries.typed.setdefault(table, {})
        mark = letters(table).get(name, "")
        words = html.escape(f"{name.replace('_', ' ')}: {field.measure}")
        label = widgets.HTML(f"<strong>{mark}</strong> {words}")
        choices = KINDS[field.kind].split('"')[1::2] if '"' in KINDS[field.kind] else []
        boxes: list[Any] = []
        for place in [f"{name}.{axis}" for axis in "xyz"] if field.kind == "point" else [name]:
            common = {"description": f"{mark} {place[-1]}" if field.kind == "point" else "", "style": {"description_width": "26px"},
                      "tooltip": f"{heading(table)}, {place}"}  # fmt: skip
            now = typed.get(place, "")
            if choices:
                box = widgets.Dropdown(options=["", *choices], value=now if now in choices else "", **common)
            else:
                wide = {"width": "120px" if field.kind != "text" else "260px"}
                box = widgets.Text(now, continuous_update=False, layout=wide, **common)
            box.observe(lambda change, place=place: self._typed(table, place, change["new"]), "value")
            boxes.append(box)
        return widgets.VBox([label, widgets.HBox(boxes, layout=ROW)])

    @in_turn
    def _typed(self, table: str, place: str, text: str) -> None:
        self.entries.typed[table][place] = text
        try:
            self.entries.save()
            self.tell()
        except SusgeoError as problem:
            self.said.value = f'<p role="alert">{html.escape(str(problem))}</p>'

    def still_open(self) -> list[str]:
        """Return which boxes nothing was typed in yet, a sentence for each table, and first what was typed and is no number."""
        if self.entries.locked:
            return []
        said, wrong = dict[str, list[str]](), []
        for table, name, axis, text in self.entries.boxes():
            box = f"{letters(table)[name]} {axis}" if axis else name.replace("_", " ")
            if not text:
                said.setdefault(table, []).append(box)
            elif not self.entries.reads(fields_of(table)[name], text):
                wrong.append(f"{heading(table)}: {box}: {text[:40]} is no number that can be read here.")
        return [*wrong, *(f"{heading(table)}: {', '.join(boxes)}." for table, boxes in said.items())]

    def tell(self) -> None:
        """Say what is still missing, or what looks wrong."""
        missing = self.still_open() or list(filter(None, [self.entries.missing()]))
        found = missing or [str(each) for each in remarks(self.entries.car())]
        head = "Kept. Still open: " if missing else "Kept. It is a whole car." + (" Look again at:" if found else "")
        rows = "".join(f"<li>{html.escape(one)}</li>" for one in found)
        self.said.value = f'<div role="status"><p><strong>{head}</strong></p><ul>{rows}</ul></div>'
