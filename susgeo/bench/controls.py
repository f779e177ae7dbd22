"""What the hand moves on a bench: a slider with its exact value beside it, and a button that plays it."""

import asyncio
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import ipywidgets as widgets

from ..car.pickup import dimension, moved
from ..errors import SusgeoError
from ..files import in_turn
from ..travel.live import solve_travel

STYLE = """<style>
.susgeo-slider > .widget-label {text-align: left; width: 100%; max-width: 100%}
.susgeo-slider .slider-container {min-height: 22px}
.susgeo-exact > .widget-label {position: absolute; clip-path: inset(50%); width: 1px; overflow: hidden}
.susgeo-unseen {position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden}
</style>"""
"""A slider's name on a line of its own; a field's name, and what is spoken, for screen readers alone."""
SIZES = {"mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, '"': 25.4, "″": 25.4}}
SIZES |= {"in": {unit: size / 25.4 for unit, size in SIZES["mm"].items()}, "deg": {"°": 1.0, "rad": 180 / math.pi}}
FRAMES, INTERVAL = 60, 0.07
"""Pictures of one run there and back, and the seconds between two of them."""


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

    @property
    def title(self) -> str:
        """Its name with the unit."""
        return f"{self.name} [{self.unit}]"

    def start(self, thing: Any) -> float:
        """Return the value at rest."""
        if self.rest is not None:
            return float(self.rest)
        return float(dimension(thing, self.change)) if isinstance(self.change, str) else 0.0

    def moved(self, thing: Any, value: float) -> Any:
        """Return the thing with this value."""
        return moved(thing, {self.change: value}) if isinstance(self.change, str) else self.change(thing, value)

    def read(self, text: str) -> float:
        """Return a value as typed, with a decimal comma or a unit if one was written.

        >>> Slider("Height", "upper.axle.z", 400, 520).read("437,5"), Slider("Roll", "x", -5, 5, unit="deg").read("2.5°")
        (437.5, 2.5)
        """
        match = re.fullmatch(r"([+-]?\d+(?:[.,]\d*)?|[+-]?[.,]\d+)\s*(\S*)", text.strip().replace("−", "-"))
        size = {self.unit: 1.0, "": 1.0, **SIZES.get(self.unit, {})}.get(match[2]) if match else None
        if match is None or size is None:
            raise SusgeoError(f"{text[:30]!r} is no number in {self.unit}; write one such as {self.low:g}.")
        value = float(match[1].replace(",", ".")) * size
        if not self.low <= value <= self.high:
            span = f"from {self.low:g} to {self.high:g} {self.unit}"
            raise SusgeoError(f"{self.name} goes {span}; {text[:30]} is beyond.")
        return value


def heave(low: float = -60, high: float = 60) -> Slider:
    """Return a slider that raises an axle against the body; of a bench made for ``solve_travel(axle, 0)``."""
    return Slider(
        "Heave of the axle", lambda state, value: solve_travel(state.axle, value, state.roll), low, high, play=True
    )


def roll(low: float = -5, high: float = 5) -> Slider:
    """Return a slider that rolls an axle against the body; of a bench made for ``solve_travel(axle, 0)``."""
    return Slider(
        "Roll of the axle",
        lambda state, value: solve_travel(state.axle, state.heave, math.radians(value)),
        *(low, high), unit="deg", step=0.5, play=True,
    )  # fmt: skip


class Control(widgets.HBox):  # type: ignore[misc]
    """A slider, its name above it, the exact value in a field beside it, and Play where it has one.

    Args:
        made: what it moves.
        value: where it starts.
        complain: called with a sentence when what was typed is no value, and with "" when it is one.
        again: draws the bench once more.
    """

    def __init__(self, made: Slider, value: float, complain: Callable[[str], None], again: Callable[[], None]) -> None:
        self.made, self.complain, self.again, self._frame = made, complain, again, False
        self.exact: float | None = None
        self._playing: object = None
        self._task: asyncio.Task[None] | None = None  # kept, as its loop does not keep it
        self.slider = widgets.FloatSlider(
            value=value, min=made.low, max=made.high, step=made.step, description=made.title, tooltip=made.title,
            readout=False, style={"description_width": "100%"},
            layout={"flex": "1 1 180px", "min_width": "160px", "width": "auto", "height": "auto", "flex_flow": "row wrap"},
        )  # fmt: skip
        self.slider.add_class("susgeo-slider")
        self.field = widgets.Text(
            f"{value:.6g}", description=f"{made.title}, exact value", tooltip="Type an exact value", continuous_update=False,
            layout={"width": "72px", "align_self": "flex-end"},
        )  # fmt: skip
        self.field.add_class("susgeo-exact")
        self.slider.observe(self._moved, "value")
        self.field.observe(self._typed, "value")
        row, narrow = [self.slider, self.field], {"width": "64px", "align_self": "flex-end"}
        if made.play:
            self.play_button = widgets.Button(description="Play", tooltip=f"Play {made.name}", layout=narrow)
            self.play_button.on_click(self._play_pressed)
            row.append(self.play_button)
        wide = {"flex": "1 1 300px", "max_width": "560px", "min_width": "0", "margin": "0 16px 0 0"}
        super().__init__(row, layout=wide)

    @property
    def value(self) -> float:
        """Where it stands: what was typed, exactly, until the slider is moved."""
        return float(self.slider.value) if self.exact is None else self.exact

    @in_turn
    def _moved(self, change: Any) -> None:
        if self.exact is not None and change["new"] in (self.exact, self._step(self.exact)):
            return  # what was typed, or the page's slider coming to rest on the step next to it, however often
        self.exact = None
        self.field.value = f"{change['new']:.6g}"
        if not self._frame:
            self.stop()  # a hand on the slider ends the play

    def _step(self, value: float) -> float:
        """Return the step next to a value, where the page's slider shows it."""
        low, size = self.made.low, self.made.step
        return low + size * math.floor((value - low) / size + 0.5)

    @in_turn
    def _typed(self, change: Any) -> None:
        if change["new"] == f"{self.value:.6g}":
            return
        try:
            value = self.made.read(change["new"])
        except SusgeoError as problem:
            self.field.value = f"{self.value:.6g}"
            self.complain(str(problem))
            return
        self.complain("")
        self.stop()
        self.exact = value
        if self.slider.value == value:  # though another value was typed before, and is drawn
            self.again()
        self.slider.value = value
        self.field.value = f"{value:.6g}"

    @in_turn
    def _play_pressed(self, _: Any) -> None:
        if self._playing is not None:
            self.stop()
            return
        self.slider.continuous_update = False  # else the page sends each frame back, rounded to a step, as if by hand
        self._playing = object()
        self._task = asyncio.get_running_loop().create_task(self.play(self._playing))
        self.play_button.description = "Stop"

    @in_turn
    def stop(self) -> None:
        """End the play where it is."""
        if self._playing is not None:
            self._playing = None
            self.play_button.description = "Play"
            self.slider.continuous_update = True

    async def play(self, run: object = None) -> None:
        """Run through the range, up, down, and back to where it began, or until another run or none is the one playing."""
        began = self.slider.value
        for number in range(1, FRAMES + 1):
            if not self._shows(number, began, run):
                return
            await asyncio.sleep(INTERVAL)

    @in_turn
    def _shows(self, number: int, began: float, run: object) -> bool:
        """Show one frame of a run, if that run is still playing."""
        if self._playing is not run:
            return False
        low, high = self.made.low, self.made.high
        way = began - low + 2 * (high - low) * number / FRAMES  # folded at both ends of the range
        folded = way % (2 * (high - low))
        self._frame = True
        try:
            self.slider.value = began if number == FRAMES else low + min(folded, 2 * (high - low) - folded)
        finally:
            self._frame = False
        if number == FRAMES:
            self.stop()
        return True
