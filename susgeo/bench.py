"""The bench: sliders that move pick-up points while drawing and numbers follow.

    bench(car.rear, [Slider("Upper link, axle end, height", "upper.axle.z", 410, 530)],
          numbers=["roll center height", "side-view instant center x"])

Where no slider runs (a saved notebook on a hosting site, paper, a screen reader) the same place shows a film
strip and a table over each slider's range.

How it keeps up with the hand: the drawing's artists are moved, not made anew (:mod:`susgeo.draw.picture`), and each
position is drawn inside the slider's own message. The page sends a slider's next value only when the last one
has been dealt with, and then only the latest, so no queue of old positions can build up.
"""

import html
import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import ipywidgets as widgets

from . import draw
from .car.car import Car
from .car.pickup import dimension, moved
from .draw.sketch import Sketch
from .draw.still import Still
from .errors import SusgeoError
from .results.quantities import QUANTITIES
from .travel.live import Travel, solve_travel

DIGITS = {"mm": 1, "in": 3, "m": 3, "deg": 2, "%": 1, "N": 0, "kg": 1, "deg/mm": 4, "deg/in": 3, "deg/deg": 4}
DIGITS |= {"deg/g": 2, "g": 2, "N/g": 0, "N m/deg": 0}
"""Decimals shown of a number in each unit; three of anything else."""


@dataclass(frozen=True, slots=True)
class Slider:
    """One thing that moves.

    Args:
        name: in trade terms, such as "Upper link, axle end, height".
        change: the place of the dimension, such as "upper.axle.z" (see :func:`susgeo.car.pickup.moved`), or a
            function of (thing, value) that returns the changed thing, such as an axle lifted by a heave.
        low, high: the range, in ``unit``.
        rest: where it starts; None reads it at the place, or takes 0 for a function.
        unit: of the value.
        step: of one press of an arrow key.
        play: whether a button runs it through its range.
    """

    name: str
    change: str | Callable[[Any, float], Any]
    low: float
    high: float
    rest: float | None = None
    unit: str = "mm"
    step: float = 1.0
    play: bool = False

    def start(self, thing: Any) -> float:
        """Return the value at rest."""
        if self.rest is not None:
            return float(self.rest)
        return float(dimension(thing, self.change)) if isinstance(self.change, str) else 0.0

    def moved(self, thing: Any, value: float) -> Any:
        """Return the thing with this value."""
        return (
            moved(thing, {self.change: value}) if isinstance(self.change, str) else self.change(thing, value)
        )


def heave(low: float = -60, high: float = 60) -> Slider:
    """Return a slider that raises an axle against the body; of a bench made for ``solve_travel(axle, 0)``."""
    return Slider(
        "Heave of the axle",
        lambda state, value: solve_travel(state.axle, value, state.roll),
        low,
        high,
        play=True,
    )


def roll(low: float = -5, high: float = 5) -> Slider:
    """Return a slider that rolls an axle against the body; of a bench made for ``solve_travel(axle, 0)``."""
    return Slider(
        "Roll of the axle",
        lambda state, value: solve_travel(state.axle, state.heave, math.radians(value)),
        *(low, high), unit="deg", step=0.5, play=True,
    )  # fmt: skip


Numbers = Sequence[str] | Mapping[str, Callable[[Any], float]]


class Bench(widgets.VBox):  # type: ignore[misc]
    """Sliders, drawing and numbers in one box; made by :func:`bench`."""

    def __init__(
        self,
        thing: Any,
        sliders: Sequence[Slider],
        numbers: Numbers,
        views: Sequence[Any],
        show: Sequence[Any] | None,
        other: Any,
        names: Mapping[str, str],
        reach: float | None,
        width: int,
    ) -> None:
        self.rest, self.thing, self.sliders = thing, thing, list(sliders)
        self.starts = [slider.start(thing) for slider in self.sliders]
        self.numbers = _functions(numbers)
        self.views, self.reach, self.names, self.other = views, reach, names, other
        self.show = draw.usual(thing, views) if show is None else show
        ends = [(slider, value) for slider in self.sliders for value in (slider.low, slider.high)]
        room = [end for end in itertools.starmap(self._moved, ends) if end is not None]
        self.picture = draw.frame(
            thing, views, other=other, ghost=thing, names=names, room=room, reach=reach, width=width
        )
        letters = max(len(_title(slider)) for slider in self.sliders)
        self.controls = [
            self._control(slider, value, letters) for slider, value in zip(sliders, self.starts, strict=True)
        ]
        self.reset_button = widgets.Button(
            description="Reset", tooltip="Put every slider back to the rest position"
        )
        # Picture and table travel in one message, so that they never disagree; HTML is what carries alt text.
        self.view, self.message = widgets.HTML(), widgets.HTML()
        self._quiet = False
        self._update()
        for control in self.controls:
            control.observe(self._changed, "value")
        self.reset_button.on_click(self.reset)
        rows = [
            widgets.HBox([widgets.Play(
                value=round(control.value), min=math.ceil(control.min), max=math.floor(control.max),
                interval=80, show_repeat=True,
            ), control]) if slider.play else control
            for slider, control in zip(self.sliders, self.controls, strict=True)
        ]  # fmt: skip
        for row in rows:
            if isinstance(row, widgets.HBox):
                widgets.jslink((row.children[0], "value"), (row.children[1], "value"))
        super().__init__([*rows, self.reset_button, self.message, self.view])

    def _control(self, slider: Slider, value: float, letters: int) -> Any:
        return widgets.FloatSlider(
            value=value, min=slider.low, max=slider.high, step=slider.step,
            description=_title(slider), continuous_update=True,
            readout_format=".0f" if float(slider.step).is_integer() else ".1f",
            style={"description_width": f"{0.56 * letters + 1:.0f}em"},
            layout={"width": "auto", "max_width": "760px", "flex": "1 1 auto" if slider.play else None},
        )  # fmt: skip

    @property
    def values(self) -> list[float]:
        """Where the sliders stand."""
        return [control.value for control in self.controls]

    def reset(self, _: Any = None) -> None:
        """Put every slider back to the rest position."""
        self._quiet = True
        try:
            for control, value in zip(self.controls, self.starts, strict=True):
                control.value = value
        finally:
            self._quiet = False
        self._update()

    def _changed(self, _: Any) -> None:
        if not self._quiet:
            self._update()

    def _update(self) -> None:
        """Draw the position at which the sliders stand; if it cannot be, say why and keep the last one."""
        try:
            thing = self.rest
            for slider, value in zip(self.sliders, self.values, strict=True):
                thing = slider.moved(thing, value)
            self.picture.draw(draw.painter(thing, self.show, self.other, self.rest))
            table = self._table(thing)
        except Exception as error:  # whatever went wrong, the bench goes on and shows no traceback
            sentence = (
                str(error) if isinstance(error, SusgeoError) else f"This position cannot be drawn ({error})."
            )
            self.message.value = (
                f'<p role="alert">{html.escape(sentence)} The last position is still shown.</p>'
            )
            return
        self.thing = thing
        self.view.value = self.picture.frame().html() + table
        if self.message.value:
            self.message.value = ""

    def _table(self, thing: Any) -> str:
        """Return the numbers as HTML."""
        things = [thing, self.rest, *([] if self.other is None else [self.other])]
        heads = ["now", "at rest", self.names.get("other link", "second axle")][: len(things)]
        rows = [
            [f"{name} [{unit}]", *(shown(value_of(function, one), unit) for one in things)]
            for (name, unit), function in self.numbers.items()
        ]
        return _html_table(["", *heads], rows) if rows else ""

    def _moved(self, slider: Slider, value: float) -> Any:
        """Return the thing at rest but for one slider; None where that cannot be drawn."""
        try:
            thing = slider.moved(self.rest, value)
            for view in self.views:
                draw.painter(thing, self.show)(Sketch(view, (-1e4, 1e4, -1e4, 1e4)))
        except Exception:
            return None
        return thing

    def film(self) -> list[tuple[Slider, Still | None, list[list[str]]]]:
        """Return, for each slider, a strip of three frames and a table of five rows over its range.

        Positions that cannot be drawn have no frame, and none for their numbers.
        """
        found = []
        for slider in self.sliders:
            digits = 0 if float(slider.step).is_integer() else 1
            span = [slider.low + (slider.high - slider.low) * k / 4 for k in range(5)]
            things = [self._moved(slider, value) for value in span]
            rows = [[_title(slider), *(f"{name} [{unit}]" for name, unit in self.numbers)]]
            for value, thing in zip(span, things, strict=True):
                results = (
                    shown(value_of(function, thing), unit) for (_, unit), function in self.numbers.items()
                )
                rows.append([f"{value:.{digits}f}", *results])
            frames = [k for k in (0, 2, 4) if things[k] is not None]
            still = None
            if frames:
                captions = [f"{rows[k + 1][0]} {slider.unit}" for k in frames]
                settings = {"ghost": self.rest, "reach": self.reach, "width": self.picture.width}
                shot = [things[k] for k in frames]
                still = draw.strip(shot, self.views[0], captions, self.show, **settings).still()
                still = replace(still, alt=f"{_title(slider)}. {still.alt}")
            found.append((slider, still, rows))
        return found

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Give the live box, and for readers without a kernel the film strip and the tables."""
        bundle = super()._repr_mimebundle_(**kwargs) or {}
        page, text = [], []
        for slider, still, rows in self.film():
            page.append(f"<p>{html.escape(_title(slider))}</p>{still.html() if still else ''}")
            page.append(_html_table(rows[0], rows[1:]))
            text.append(f"{still.alt if still else _title(slider)}\n{_text_table(rows)}")
        return {**bundle, "text/html": "".join(page), "text/plain": "\n\n".join(text)}


def bench(
    thing: Any,
    sliders: Sequence[Slider],
    *,
    numbers: Numbers = (),
    views: Sequence[Any] = ("side",),
    show: Sequence[Any] | None = None,
    other: Any = None,
    names: Mapping[str, str] | None = None,
    reach: float | None = None,
    width: int = 760,
) -> Bench:
    """Make a bench: sliders, the drawing that follows them, and the numbers.

    Args:
        thing: the axle at rest, kept in the drawing as a faint shadow.
        sliders: what moves.
        numbers: names from the table of quantities, such as "roll center height"; or a mapping from a name
            with its unit, such as "lower link length [mm]", to a function of the axle.
        views, show, other, names, reach, width: as for :func:`susgeo.draw.drawings.axle`.

    >>> from susgeo import Link, LiveAxle, PanhardBar, Point, pair
    >>> axle = LiveAxle(
    ...     lower=pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link")),
    ...     upper=(Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),),
    ...     locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
    ... )
    >>> height = Slider("Panhard bar, chassis end, height", "locator.chassis.z", 250, 350)
    >>> made = bench(axle, [height], numbers=["roll center height"])
    >>> made.controls[0].value = 320
    >>> round(made.thing.roll_center_height, 1)
    317.0
    """
    if not sliders:
        raise SusgeoError("A bench needs at least one slider.")
    return Bench(thing, sliders, numbers, views, show, other, dict(names or {}), reach, width)


def shown(value: float | None, unit: str) -> str:
    """Write a number with honest digits.

    >>> shown(307.308, "mm"), shown(float("inf"), "mm"), shown(None, "mm")
    ('307.3', 'at infinity', 'none')
    """
    if value is None:
        return "none"
    if math.isinf(value) or (unit in ("mm", "in") and abs(value) > 1e9):
        return "at infinity" if value > 0 else "at infinity, behind"
    text = f"{value:.{DIGITS.get(unit, 3)}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text


def value_of(function: Callable[[Any], Any], thing: Any) -> float | None:
    """Return a number, or None where this thing does not have it."""
    try:
        value = None if thing is None else function(thing)
        return None if value is None else float(value)
    except SusgeoError:
        return None


def _functions(numbers: Numbers) -> dict[tuple[str, str], Callable[[Any], Any]]:
    """Return a function for each number, by name and unit."""
    found: dict[tuple[str, str], Callable[[Any], Any]] = {}
    if isinstance(numbers, Mapping):
        for title, function in numbers.items():
            name, _, unit = title.removesuffix("]").partition(" [")
            found[name, unit or "-"] = function
        return found
    table = {quantity.name: quantity for quantity in QUANTITIES}
    for name in numbers:
        end = next((end for end in ("rear", "front") if name.startswith(f"{end} ")), "")
        quantity = table.get(name) or table.get(name.removeprefix(f"{end} "))
        if quantity is None:
            raise SusgeoError(f"There is no quantity {name!r}; the names are: {', '.join(table)}.")
        found[name, quantity.unit] = _taker(quantity.of, end)
    return found


def _taker(of: Callable[[Car, str], Any], end: str) -> Callable[[Any], Any]:
    def take(thing: Any) -> Any:
        if isinstance(thing, Car):
            return of(thing, end)
        axle: Any = thing.moved if isinstance(thing, Travel) else thing
        return of(Car("", 1.0, **{str(axle.end): axle}), axle.end)

    return take


def _title(slider: Slider) -> str:
    return f"{slider.name} [{slider.unit}]"


def _html_table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    right = 'style="text-align: right; padding: 0 0.8em; font-variant-numeric: tabular-nums"'
    left = 'style="text-align: left; padding: 0 0.8em"'
    head = "".join(f'<th scope="col" {right}>{html.escape(word)}</th>' for word in heads)
    body = "".join(
        f'<tr><th scope="row" {left}>{html.escape(row[0])}</th>'
        + "".join(f"<td {right}>{html.escape(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _text_table(rows: Sequence[Sequence[str]]) -> str:
    wide = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return "\n".join(
        "  ".join(cell.rjust(width) for cell, width in zip(row, wide, strict=True)) for row in rows
    )
