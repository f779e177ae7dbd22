"""The bench: sliders that move pick-up points while drawing and numbers follow.

    bench(car.rear, [Slider("Upper link, axle end, height", "upper.axle.z", 410, 530)],
          numbers=["roll center height", "side-view instant center x"])

Where no slider runs (a saved notebook on a hosting site, paper, a screen reader) the same place shows a film
strip and a table over each slider's range.

How it keeps up with the hand: the drawing's artists are moved, not made anew (:mod:`susgeo.draw.picture`), and each
position is drawn inside the slider's own message. The page sends a slider's next value only when the last one
has been dealt with, and then only the latest, so no queue of old positions can build up.
"""

import asyncio
import html
import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import ipywidgets as widgets

from .. import draw
from ..car.car import Car, whole
from ..draw.sketch import Sketch
from ..draw.still import Still
from ..errors import SusgeoError, nearest
from ..files import in_turn
from ..results.quantities import QUANTITIES
from ..tables import ASLEEP, Table
from ..travel.live import Travel
from .controls import STYLE, Control, Slider
from .words import html_table, meaning, shown

Numbers = Sequence[str] | Mapping[str, Callable[[Any], float]]


class Bench(widgets.VBox):  # type: ignore[misc]
    """Sliders, the drawing that follows them, and the numbers, in one box: ``bench(axle, [height])`` makes it.

    Args:
        thing: the axle at rest, kept in the drawing as a faint shadow.
        sliders: what moves.
        numbers: names from the table of quantities, such as "roll center height"; or a mapping from a name
            with its unit, such as "lower link length [mm]", to a function of the axle.
        says: a function of the axle that returns one sentence on what the numbers mean; None takes the one of
            the first quantity that has one.
        views, show, names, reach, width: as for :func:`susgeo.draw.drawings.axle`.

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

    def __init__(
        self,
        thing: Any,
        sliders: Sequence[Slider],
        *,
        numbers: Numbers = (),
        views: Sequence[Any] = ("side",),
        show: Sequence[Any] | None = None,
        names: Mapping[str, str] | None = None,
        reach: float | None = None,
        width: int = 760,
        says: Callable[[Any], str] | None = None,
    ) -> None:
        if not sliders:
            raise SusgeoError("A bench needs at least one slider.")
        self.says, self.sentence = says, ""
        self.rest, self.thing, self.sliders = thing, thing, list(sliders)
        self.starts = [slider.start(thing) for slider in self.sliders]
        self.numbers = _functions(numbers)
        self.views, self.reach, self.names = views, reach, dict(names or {})
        self.show = draw.usual(thing, views) if show is None else show
        ends = [(slider, value) for slider in self.sliders for value in (slider.low, slider.high)]
        room = [end for end in itertools.starmap(self._moved, ends) if end is not None]
        self.picture = draw.frame(thing, views, ghost=thing, names=names, room=room, reach=reach, width=width)
        # Numbers and picture travel in one message, so that they never disagree; HTML is what carries alt text.
        self.view, self.message, self.spoken = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.spoken.add_class("susgeo-unseen")
        self._settling: Any = None
        pairs = zip(sliders, self.starts, strict=True)
        self.rows = [Control(slider, value, self._say, self._update) for slider, value in pairs]
        self.controls = [row.slider for row in self.rows]
        words = "Put every slider back to the rest position"
        self.reset_button = widgets.Button(description="Reset", tooltip=words, layout={"width": "80px"})
        self._quiet = False
        self._update()
        for control in self.controls:
            control.observe(self._changed, "value")
        self.reset_button.on_click(self.reset)
        controls = widgets.Box(self.rows, layout={"flex_flow": "row wrap"})
        super().__init__([widgets.HTML(STYLE), controls, self.reset_button, self.message, self.view, self.spoken])

    @property
    def values(self) -> list[float]:
        """Where the sliders stand."""
        return [row.value for row in self.rows]

    @in_turn
    def reset(self, _: Any = None) -> None:
        """Put every slider back to the rest position."""
        self._quiet = True
        try:
            for row, value in zip(self.rows, self.starts, strict=True):
                row.exact = None
                row.slider.value = value
                row.stop()  # last, so that the page does not send back a frame of the play
        finally:
            self._quiet = False
        self._update()
        self._speak_later()

    @in_turn
    def _changed(self, _: Any) -> None:
        if not self._quiet:
            self._update()
            self._speak_later()

    def _say(self, sentence: str) -> None:
        self.message.value = f'<p role="alert">{html.escape(sentence)}</p>' if sentence else ""

    def _speak_later(self) -> None:
        """Once nothing has moved for a while, give the new numbers to those who hear them."""
        if self._settling is not None:
            self._settling.cancel()
        try:
            self._settling = asyncio.get_running_loop().call_later(0.8, self._speak)
        except RuntimeError:  # no page to speak to
            self._settling = None

    @in_turn
    def _speak(self) -> None:
        told = [f"{row[0]} {row[1]}" for row in self._numbers(self.thing)]
        self.spoken.value = f'<p role="alert">{html.escape(". ".join([self.sentence, *told]))}</p>'

    @in_turn
    def _update(self) -> None:
        """Draw the position at which the sliders stand; if it cannot be, say why and keep the last one."""
        try:
            thing = self.rest
            for slider, value in zip(self.sliders, self.values, strict=True):
                thing = slider.moved(thing, value)
            if self.values == self.starts:  # at rest words stand where they stood first, whatever came between
                self.picture.forget()
            self.picture.draw(draw.painter(thing, self.show, ghost=self.rest))
            table = self._table(thing)
        except Exception as error:  # whatever went wrong, the bench goes on and shows no traceback
            sentence = str(error) if isinstance(error, SusgeoError) else f"This position cannot be drawn ({error})."
            self._say(f"{sentence} The last position is still shown.")
            return
        self.thing = thing
        self.view.value = table + self.picture.frame().html()
        if self.message.value:
            self._say("")

    def _numbers(self, thing: Any) -> list[list[str]]:
        """Return the rows of numbers: of the thing now, and at rest."""
        return [
            [f"{name} [{unit}]", *(shown(value_of(function, one), unit) for one in (thing, self.rest))]
            for (name, unit), function in self.numbers.items()
        ]

    def _table(self, thing: Any) -> str:
        """Return the numbers as HTML, and below them what they mean."""
        rows = self._numbers(thing)
        heads = ["", "now", self.names.get("ghost", "at rest")]
        if self.says is None:
            self.sentence = meaning({name: value_of(function, thing) for (name, _), function in self.numbers.items()})
        else:
            self.sentence = self.says(thing)
        words = f'<p style="min-height: 1.4em; margin: 0.3em 0"><strong>{html.escape(self.sentence)}</strong></p>'
        return (html_table(heads, rows) if rows else "") + words

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
            rows = [[slider.title, *(f"{name} [{unit}]" for name, unit in self.numbers)]]
            for value, thing in zip(span, things, strict=True):
                results = (shown(value_of(function, thing), unit) for (_, unit), function in self.numbers.items())
                rows.append([f"{value:.{digits}f}", *results])
            frames = [k for k in (0, 2, 4) if things[k] is not None]
            still = None
            if frames:
                shot, captions = [things[k] for k in frames], [f"{rows[k + 1][0]} {slider.unit}" for k in frames]
                settings = {"ghost": self.rest, "reach": self.reach, "width": self.picture.width}
                still = draw.strip(shot, self.views[0], captions, self.show, **settings).still()
                still = replace(still, alt=f"{slider.title}. {still.alt}")
            found.append((slider, still, rows))
        return found

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Give the live box, and for readers without a kernel the film strip and the tables."""
        bundle = super()._repr_mimebundle_(**kwargs) or {}
        page, text = [ASLEEP], []
        for slider, still, rows in self.film():
            page.append(f"<p>{html.escape(slider.title)}</p>{still.html() if still else ''}")
            text.append(still.alt if still else slider.title)
            if self.numbers:  # a table of the slider's places alone says nothing
                page.append(html_table(rows[0], rows[1:]))
                text[-1] += f"\n{Table(tuple(rows[0]), tuple(map(tuple, rows[1:])))}"
        return {**bundle, "text/html": "".join(page), "text/plain": "\n\n".join(text)}


bench = Bench


def value_of(function: Callable[[Any], Any], thing: Any) -> float | None:
    """Return a number, or None where this thing does not have it."""
    try:
        value = None if thing is None else function(thing)
        return None if value is None else float(value)
    except SusgeoError:
        return None


def _functions(numbers: Numbers) -> dict[tuple[str, str], Callable[[Any], Any]]:
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
            raise SusgeoError(f"There is no quantity {name!r}; the nearest are {nearest(name, table)}.")
        found[name, quantity.unit] = partial(_taken, quantity.of, end)
    return found


def _taken(of: Callable[[Car, str], Any], end: str, thing: Any) -> Any:
    """Return a quantity of a car, or of an axle alone."""
    one: Any = thing.moved if isinstance(thing, Travel) else thing
    return of(whole(one), end if isinstance(one, Car) else one.end)
