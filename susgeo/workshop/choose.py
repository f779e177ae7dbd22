"""The page on which a reader chooses new pick-up points: targets and brackets in rows, a search, and a slider between its choices."""

import html
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car, as_number
from ..car.pickup import dimension, dimensions
from ..draw import drawings, plots
from ..draw.vector import vector
from ..errors import SusgeoError
from ..files import in_turn
from ..geometry.measure import MM_PER_INCH
from ..geometry.space import Point
from ..loads.cornering import GRAVITY
from ..results.build import rods as rods_of
from ..results.design import Target
from ..results.many import Conditions, Many, Obstacle
from ..results.places import Bracket, joint_name
from ..results.quantities import QUANTITIES
from ..results.search import Search, search

HEIGHTS = ("every ride height", "at rest alone", "both ends of the travel")
NUMBER = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)"
HELP = (
    "<p>Give what you want, then what may move, then search. Leave a field empty where there is no limit. <b>Tolerance</b>: how far "
    "beyond is one step too far; it weighs targets against each other. <b>Limit</b>: kept by every choice. "
    "A bracket's coordinate stays where its field is empty; <code>240 to 300</code> may be anywhere between; "
    "<code>240, 260, 280</code> are the holes of a drilled row. "
    "<b>Metal to clear</b>: a floor, tube or housing along a line; then <code>rear clearance, upper link to floor</code> is a target.</p>"
)


def read_number(text: str, what: str) -> float | None:
    """Return the number in a field; None where it is empty; a decimal comma counts as a point."""
    text = text.strip().replace(",", ".")
    if not text:
        return None
    if not re.fullmatch(NUMBER, text):
        raise SusgeoError(f"{what}: got {text[:30]!r}, expected one number, such as 12.5, or nothing.")
    return float(text)


def read_numbers(text: str, what: str) -> list[float]:
    """Return numbers apart by commas, semicolons or spaces."""
    parts = [part for part in re.split(r"[;,\s]+", text.strip()) if part]
    if not parts or not all(re.fullmatch(NUMBER, part) for part in parts):
        got = text.strip()[:30]
        raise SusgeoError(f"{what}: got {got!r}, expected numbers with commas between, such as -40, 0, 40.")
    return [float(part) for part in parts]


def read_move(text: str, what: str) -> tuple[float, float] | list[float] | None:
    """Return a range, a row of holes, or None where the field is empty."""
    if not text.strip():
        return None
    ends = re.fullmatch(rf"\s*({NUMBER})\s*(?:to|\.\.+|-\s)\s*({NUMBER})\s*", text)
    if ends:
        return float(ends[1]), float(ends[2])
    try:
        return read_numbers(text, what)
    except SusgeoError:
        raise SusgeoError(f"{what}: got {text.strip()[:30]!r}, expected 240 to 300, or holes: 240, 260, 280.") from None


def _field(label: str, value: str = "", wide: str = "150px", tip: str = "") -> Any:
    return widgets.Text(
        value, description=label, tooltip=tip or label, layout={"width": wide}, style={"description_width": "initial"}
    )


class _Row(widgets.HBox):  # type: ignore[misc]
    """One row of fields, with a button that takes it away."""

    def __init__(self, fields: dict[str, Any], beside: Sequence[Any]) -> None:
        self.fields = fields
        self.away = widgets.Button(description="Remove", tooltip="Take this row away", layout={"width": "84px"})
        super().__init__([*fields.values(), *beside, self.away], layout={"flex_flow": "row wrap"})

    def get(self, name: str) -> Any:
        return self.fields[name].value


class ChoosePage(widgets.VBox):  # type: ignore[misc]
    """The page; ``found`` is the last search, ``chosen`` the car of the choice that is shown, or the car as it is.

    Args:
        car: to start from.
        told: called with the chosen car whenever it changes.
    """

    def __init__(self, car: Car, told: Callable[[Car], None] | None = None) -> None:
        self.car, self.told = car, told
        self.found: Search | None = None
        self.chosen = car
        unit, inches = car.units, car.units == "in"
        every = [f"{end} {each.name}".strip() for each in QUANTITIES for end in each.ends]
        self.names = [*every, *(name for name in Many(car, np.zeros(1), Conditions()).asked if name not in every)]
        self.places = {joint_name(car, place): place for place in _movable(car)}
        self.targets, self.brackets, self.metal = widgets.VBox(), widgets.VBox(), widgets.VBox()
        self.heights = _field(f"ride heights [{unit}]", "-1.5, 0, 1.5" if inches else "-40, 0, 40", "300px", "Rise of the axles against the body")  # fmt: skip
        self.lateral = _field(
            "corner [g]", f"{Conditions().lateral / GRAVITY:.2g}", "140px", "Lateral acceleration of the solved corner"
        )
        more_targets, more_brackets, more_metal, self.go = (
            widgets.Button(description=words, layout={"width": "150px"})
            for words in ("Another target", "Another bracket", "Metal to clear", "Search")
        )
        for button, add in ((more_targets, self.want), (more_brackets, self.move), (more_metal, self.stand)):
            button.on_click(lambda _, add=add: add())
        self.go.on_click(lambda _: self.run())
        self.said, self.table, self.drawing, self.cost = (widgets.HTML() for _ in range(4))
        self.slider = widgets.IntSlider(
            value=1, min=1, max=1, description="choice", tooltip="Between the choices that nothing beats"
        )
        self.first, self.second = (
            widgets.Dropdown(description=words, layout={"width": "380px"}) for words in ("what", "against")
        )
        for each in (self.slider, self.first, self.second):
            each.observe(lambda _: self.show(), "value")
        self.result = widgets.VBox([self.table, self.slider, self.drawing, widgets.HBox([self.first, self.second], layout={"flex_flow": "row wrap"}), self.cost], layout={"display": "none"})  # fmt: skip
        super().__init__([
            widgets.HTML(f"<h3>What is wanted</h3>{HELP}"), self.targets, more_targets, widgets.HTML(f"<h3>What may move [{unit}]</h3>"),
            self.brackets, more_brackets, self.metal, more_metal, widgets.HBox([self.heights, self.lateral, self.go], layout={"flex_flow": "row wrap"}), self.said, self.result,
        ])  # fmt: skip
        self.want("rear roll steer", "-0.05", "0.02", "0.02")
        self.move()

    def again(self, earlier: "ChoosePage") -> None:
        """Take over what stands in the rows of an earlier page, as far as this car has it."""
        self.targets.children = self.brackets.children = ()
        for rows, add in ((earlier.targets, self.want), (earlier.brackets, self.move), (earlier.metal, self.stand)):
            for row in rows.children:
                if "joint" not in row.fields or row.get("joint") in self.places:
                    add(**{name: box.value for name, box in row.fields.items()})
        if not self.brackets.children:
            self.move()
        self.heights.value, self.lateral.value = earlier.heights.value, earlier.lateral.value

    @in_turn
    def want(self, name: str = "", low: str = "", high: str = "", step: str = "", weight: str = "1", limit: bool = False, at: str = HEIGHTS[0]) -> None:  # fmt: skip
        """Add a row for a target."""
        fields = {
            "name": widgets.Combobox(value=name, options=self.names, ensure_option=False, placeholder="a number of the car", description="target", layout={"width": "380px"}),
            "low": _field("at least", low), "high": _field("at most", high), "step": _field("tolerance", step),
            "weight": _field("weight", weight, "110px"), "limit": widgets.Checkbox(limit, description="limit", indent=False, layout={"width": "70px"}),
            "at": widgets.Dropdown(options=HEIGHTS, value=at, layout={"width": "190px"}, tooltip="At which ride heights"),
        }  # fmt: skip
        self._add(self.targets, fields)

    @in_turn
    def move(self, joint: str = "", x: str = "", y: str = "", z: str = "") -> None:
        """Add a row for a bracket, by the joint's name on this page."""
        now, start = widgets.HTML(), joint or next(iter(self.places))
        what = widgets.Dropdown(options=[*self.places], value=start, description="bracket", layout={"width": "380px"})

        @in_turn
        def stands(_: Any = None) -> None:
            now.value = f"now {_now(self.car, self.places[what.value])}"

        what.observe(stands, "value")
        stands()
        beside = {"x": _field("x", x, "190px"), "y": _field("y", y, "190px"), "z": _field("z, or size", z, "220px")}
        self._add(self.brackets, {"joint": what, **beside}, now)

    @in_turn
    def stand(self, name: str = "floor", rod: str = "", start: str = "", end: str = "", radius: str = "0", on: str = "chassis") -> None:  # fmt: skip
        """Add a row for metal that a link must clear."""
        rods = [each for _, axle in self.car.axles() if isinstance(axle, LiveAxle) for each, _ in rods_of(axle)]
        if not rods:
            return
        fields = {
            "name": _field("metal", name, "170px"), "rod": widgets.Dropdown(options=rods, value=rod if rod in rods else rods[0], description="near", layout={"width": "280px"}),
            "start": _field("from x, y, z", start, "240px"), "end": _field("to x, y, z", end, "230px"), "radius": _field("half thickness", radius, "170px"),
            "on": widgets.Dropdown(options=("chassis", "axle"), value=on, description="on", layout={"width": "170px"}),
        }  # fmt: skip
        self._add(self.metal, fields)

    def obstacles(self) -> tuple[Obstacle, ...]:
        """Return the metal as it stands in the rows; ``clearance, rod to name`` may then be a target."""
        found, scale = [], MM_PER_INCH if self.car.units == "in" else 1.0
        for row in self.metal.children:
            name = row.get("name").strip() or "metal"
            ends = [read_numbers(row.get(part), f"{name}, {part}") for part in ("start", "end")]
            if any(len(each) != 3 for each in ends):
                raise SusgeoError(f"{name}: expected three numbers, x, y, z, for each end, such as 400, 0, 560.")
            radius = read_number(row.get("radius"), f"{name}, half thickness") or 0.0
            points = [Point(*(scale * part for part in each)) for each in ends]
            found.append(Obstacle(name, row.get("rod"), points, scale * radius, row.get("on")))
        return tuple(found)

    def _add(self, box: Any, fields: dict[str, Any], *beside: Any) -> None:
        row = _Row(fields, beside)

        @in_turn
        def gone(_: Any) -> None:
            box.children = tuple(each for each in box.children if each is not row)

        row.away.on_click(gone)
        box.children = (*box.children, row)

    def wanted(self, heights: Sequence[float]) -> list[Target]:
        """Return the targets as they stand in the rows."""
        found = []
        for row in self.targets.children:
            name = row.get("name").strip()
            if not name:
                continue
            parts = {part: read_number(row.get(part), f"{name}, {part}") for part in ("low", "high", "step", "weight")}
            given: dict[str, Any] = {part: value for part, value in parts.items() if value is not None}
            own = {HEIGHTS[1]: (0.0,), HEIGHTS[2]: (min(heights), max(heights))}.get(row.get("at"))
            found.append(Target(name, limit=row.get("limit"), heights=own, **given))
        return found

    def may_move(self) -> list[Bracket]:
        """Return the brackets as they stand in the rows."""
        found = []
        for row in self.brackets.children:
            joint = row.get("joint")
            place = self.places[joint]
            moves = {axis: read_move(row.get(axis), f"{joint}, {axis}") for axis in "xyz"}
            given = {axis: move for axis, move in moves.items() if move is not None}
            rows = {axis: move for axis, move in given.items() if isinstance(move, list)}
            if given and place in dimensions(self.car):  # a size, and no point
                only = given.get("z")
                if only is None:
                    raise SusgeoError(f"{joint} is a size, not a point: fill in its last field alone.")
                found.append(Bracket(place, holes=only) if isinstance(only, list) else Bracket(place, value=only))
            elif rows:
                count = max(map(len, rows.values()))
                if len(rows) != len(given) or any(len(each) != count for each in rows.values()):
                    raise SusgeoError(
                        f"{joint}: holes need a number for each hole in every field that is filled in, and no range beside them."
                    )
                at = _numbers(self.car, place)
                found.append(Bracket(place, holes=[tuple(rows[axis][k] if axis in rows else at[axis] for axis in "xyz") for k in range(count)]))  # fmt: skip
            elif given:
                found.append(Bracket(place, **given))  # type: ignore[arg-type]
        return found

    @in_turn
    def run(self) -> None:
        """Search, and show what was found; what cannot be read is said in a sentence."""
        self.said.value, self.go.disabled = "Searching; this takes some seconds ...", True
        try:
            heights = read_numbers(self.heights.value, "Ride heights")
            lateral = read_number(self.lateral.value, "Corner")
            given = Conditions(obstacles=self.obstacles())
            given = given if lateral is None else replace(given, lateral=lateral * GRAVITY)
            found = search(self.car, self.may_move(), self.wanted(heights), heights, given)
        except SusgeoError as problem:
            self.said.value = f"<b>{html.escape(str(problem))}</b>"
            return
        finally:
            self.go.disabled = False
        self.found, self.said.value = found, ""
        self.table.value = found.table()._repr_mimebundle_()["text/html"]
        names = list(found.target_units)
        with self.hold_trait_notifications():
            self.first.options = self.second.options = names
        self.first.value, self.second.value = found.dearest
        self.slider.max = len(found.choices)
        self.slider.value = found.best + 1
        self.result.layout.display = "flex"
        self.show()

    @in_turn
    def show(self) -> None:
        """Draw the choice that the slider stands on, over the car as it is."""
        found = self.found
        if found is None or self.first.value is None or self.second.value is None:
            return
        number = min(self.slider.value, len(found.choices)) - 1
        choice = found.choices[number]
        self.chosen = choice.car
        moved = [place for place, value in choice.places.items() if value != found.before.places[place]]
        changed = {re.split("[._]", place)[0] for place in moved}
        pictures = []
        for end, axle in choice.car.axles():
            if end in changed or not changed:
                made = drawings.axle(axle, ("side", "front"), [], other=getattr(self.car, end), names={"link": f"choice {number + 1}", "other link": "as it is"})  # fmt: skip
                pictures.append(vector(made))
        self.drawing.value = "".join(pictures)
        first, second, units = self.first.value, self.second.value, found.target_units
        if self.told is not None:
            self.told(self.chosen)
        if first == second:  # nothing to be weighed against itself
            self.cost.value = ""
            return
        self.cost.value = plots.trade(
            (found.tried[first], found.tried[second]),
            ([each.values[first] for each in found.choices], [each.values[second] for each in found.choices]),
            (found.before.values[first], found.before.values[second]),
            across=f"{first} [{units[first]}]", up=f"{second} [{units[second]}]", at=number, bands=(found.bands[first], found.bands[second]),
        ).html()  # fmt: skip


def _movable(car: Car) -> list[str]:
    """Return the joints by place, both sides of a pair as one, and the sizes that springs and bars have."""
    found: dict[str, None] = {}
    for name in dimensions(car):
        place, _, last = name.rpartition(".")
        if last in "xyz":
            both = place.replace(".left.", ".").replace(".right.", ".")
            found |= dict.fromkeys([both] if both == place else [both, place])
        elif name.partition(".")[0].endswith("_springs"):
            found[name] = None
    return list(found)


def _numbers(car: Car, place: str) -> dict[str, float]:
    scale = MM_PER_INCH if car.units == "in" else 1.0
    return {axis: as_number(dimension(car, f"{place}.{axis}")) / scale for axis in "xyz"}


def _now(car: Car, place: str) -> str:
    known = dimensions(car)
    if place in known:
        return f"{as_number(known[place]):.5g}"
    return ", ".join(f"{value:.5g}" for value in _numbers(car, place).values())
