"""Curves and bars in the look of the drawings, with a description made from their numbers.

plots.curves(heave, {"roll center": heights}, across="heave [mm]", up="height over the ground [mm]")
plots.bars({"upper link, axle end, height": 12.3, "bar height": 4.5}, unit="mm")
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib import style

from ..errors import SusgeoError
from .look import ACCENT, FONT, INK, OTHER, PALE, PENCIL, PIXELS_PER_INCH, SIZE
from .still import Still, indexed, paper, pixels_of, png

LOOKS: tuple[dict[str, Any], ...] = (
    {"color": ACCENT, "lw": 2.2},
    {"color": OTHER, "lw": 2.0, "ls": (0, (5, 2))},
    {"color": INK, "lw": 1.8, "ls": (0, (1.5, 1.5))},
    {"color": PENCIL, "lw": 1.6, "ls": (0, (9, 2, 1.5, 2))},
)
"""Of the first, second, ... curve: color and line style together."""


def curves(
    x: Sequence[float] | Any,
    lines: Mapping[str, Sequence[float] | Any],
    *,
    across: str,
    up: str,
    at: float | None = None,
    at_name: str = "at rest",
) -> Still:
    """Draw up to four curves over one axis.

    Args:
        x: the values across.
        lines: name and values of each curve; nan leaves a gap.
        across, up: what the axes show, with the unit, as "heave [mm]".
        at: a place across to mark with an upright line, such as the rest position; None marks nothing.
        at_name: what that line is called.
    """
    if not 1 <= len(lines) <= len(LOOKS):
        raise SusgeoError(f"A plot has room for 1 to {len(LOOKS)} curves, not {len(lines)}; make several plots.")
    places = np.asarray(x, float)
    values = {name: np.asarray(line, float) for name, line in lines.items()}
    for name, line in values.items():
        if line.shape != places.shape:
            raise SusgeoError(f"The curve {name!r} has {line.size} values for {places.size} places across.")
    canvas, axes = _paper(320, left=78, below=48, above=16 + 20 * (len(lines) > 1))
    for (name, line), look in zip(values.items(), LOOKS, strict=False):
        axes.plot(places, line, label=name, **look)
    _name(axes, across, up, len(lines) if len(lines) > 1 else 0)
    axes.set_xlim(float(places.min()), float(places.max()))
    axes.margins(y=0.12)
    axes.grid(color=PALE, lw=0.6)
    if at is not None:
        axes.axvline(at, color=PENCIL, lw=0.9, ls=(0, (12, 3, 2, 3)))
        units = {"xycoords": ("data", "axes fraction"), "textcoords": "offset points"}
        axes.annotate(at_name, (at, 1), (4, -13), **units, **TEXT)
    words = [f"Curves of {up} over {across}." if len(lines) > 1 else f"Curve of {up} over {across}."]
    words += [_described(name, places, line) for name, line in values.items()]
    return _still(canvas, " ".join(words))


def bars(values: Mapping[str, float], *, unit: str, digits: int = 1, title: str = "") -> Still:
    """Draw horizontal bars, each with its name and number.

    Args:
        values: name and length of each bar, from top to bottom.
        unit: of the numbers.
        digits: decimals shown.
        title: what they are, over the plot and first in the description.
    """
    numbers = [float(value) for value in values.values()]
    if not numbers or not all(map(math.isfinite, numbers)):
        raise SusgeoError("Bars need at least one number, and all of them finite.")
    height = 30 * len(numbers) + 50 + 22 * bool(title)
    left = 24 + 6.6 * max(map(len, values))
    canvas, axes = _paper(height, left=left, below=40, above=10 + 22 * bool(title))
    rows = range(len(numbers))
    axes.barh(rows, numbers, height=0.55, color=[ACCENT if number >= 0 else OTHER for number in numbers])
    axes.set_yticks(rows, list(values), **TEXT)
    axes.set_ylim(len(numbers) - 0.4, -0.6)
    axes.axvline(0, color=INK, lw=1)
    span = max(max(numbers), 0) - min(min(numbers), 0) or 1.0
    axes.set_xlim(min(min(numbers), 0) - 0.14 * span, max(max(numbers), 0) + 0.14 * span)
    for row, number in zip(rows, numbers, strict=True):
        side, far = ("left", 5) if number >= 0 else ("right", -5)
        text = {**TEXT, "ha": side, "va": "center", "textcoords": "offset points"}
        axes.annotate(f"{number:.{digits}f}", (number, row), (far, 0), **text)
    axes.set_xlabel(f"[{unit}]", **TEXT)
    if title:
        axes.set_title(title, loc="left", **{**TEXT, "color": INK})
    said = "; ".join(f"{name} {number:.{digits}f} {unit}" for name, number in zip(values, numbers, strict=True))
    return _still(canvas, f"{title + ': ' if title else 'Bars: '}{said}.")


def trade(
    tried: tuple[Any, Any], choices: tuple[Sequence[float], Sequence[float]], before: tuple[float, float], *,
    across: str, up: str, at: int, bands: tuple[tuple[float, float], tuple[float, float]],
) -> Still:  # fmt: skip
    """Draw what one target costs another: all that was tried, the choices that nothing beats, and the car as it is.

    Args:
        tried, choices, before: values of the first and of the second target.
        across, up: the targets' names with their units.
        at: the number of the choice to mark.
        bands: lowest and highest wanted of each; infinite where there is no limit.
    """
    canvas, axes = _paper(360, left=78, below=48, above=38)
    xs, ys = (np.asarray(part, dtype=float) for part in choices)
    room = [np.array([*part[np.isfinite(part)], old]) for part, old in zip((xs, ys), before, strict=True)]
    ways = ((axes.set_xlim, axes.axvspan), (axes.set_ylim, axes.axhspan))
    for part, wanted, (limit, span) in zip(room, bands, ways, strict=True):
        part = part[np.isfinite(part)]
        low, high = (float(part.min()), float(part.max())) if len(part) else (0.0, 1.0)
        pad = 0.15 * (high - low) or 1.0
        limit(low - pad, high + pad)
        span(max(wanted[0], low - 9 * pad), min(wanted[1], high + 9 * pad), color=PALE, alpha=0.35, lw=0)
    axes.plot(*tried, ".", color=PALE, ms=4, label="tried")
    axes.plot(xs, ys, "D", mfc="white", mec=ACCENT, ms=8, mew=1.6, label="beaten by no other")
    axes.plot(xs[at : at + 1], ys[at : at + 1], "D", color=ACCENT, ms=10, label=f"choice {at + 1}")
    axes.plot(*before, "s", mfc="white", mec=OTHER, ms=8, mew=1.6, label="as it is")
    for number, place in enumerate(zip(xs, ys, strict=True), 1):
        axes.annotate(f"{number}", place, (8, 6), textcoords="offset points", **TEXT)
    _name(axes, across, up, 4)
    said = "; ".join(f"choice {n}: {x:.4g} and {y:.4g}" for n, (x, y) in enumerate(zip(xs, ys, strict=True), 1))
    alt = f"{up} over {across}, gray where both are as wanted. As it is: {before[0]:.4g} and {before[1]:.4g}; {said}."
    return _still(canvas, alt)


WIDTH = 760
"""In pixels of the page, of every plot."""
TEXT: dict[str, Any] = {"size": SIZE, "family": FONT, "color": PENCIL}


def _paper(height: float, left: float, below: float, above: float) -> tuple[Any, Any]:
    with style.context("default"):
        figure = paper(WIDTH, height, 2 * PIXELS_PER_INCH)
        box = (left / WIDTH, below / height, (WIDTH - left - 20) / WIDTH, (height - below - above) / height)
        axes = figure.add_axes(box)
    axes.set_axisbelow(True)
    for side in axes.spines.values():
        side.set(color=PALE, lw=0.8)
    axes.tick_params(color=PALE, labelsize=SIZE, labelcolor=PENCIL, labelfontfamily=FONT)
    return figure.canvas, axes


def _name(axes: Any, across: str, up: str, count: int) -> None:
    """Name the axes, and above the plot so many lines."""
    axes.set_xlabel(across, **TEXT)
    axes.set_ylabel(up, **TEXT)
    if count:
        look = {"prop": {"size": SIZE, "family": FONT}, "labelcolor": PENCIL, "frameon": False, "handlelength": 3.2}
        axes.legend(ncols=count, loc="lower left", bbox_to_anchor=(0, 1), borderaxespad=0.3, **look)


def _still(canvas: Any, alt: str) -> Still:
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())
    return Still(png(indexed(pixels_of(pixels)), 9), alt, WIDTH, len(pixels) // 2)


def _described(name: str, x: Any, line: Any) -> str:
    """Say where a curve starts, ends, and is lowest and highest.

    >>> _described("shift", np.array([0.0, 1.0, 2.0]), np.array([4.0, 1.0, 9.0]))
    'shift: 4 at 0, 9 at 2; lowest 1 at 1, highest 9 at 2.'
    """
    known = np.isfinite(line)
    if not known.any():
        return f"{name}: no value."
    x, line = x[known] + 0.0, line[known] + 0.0  # -0 becomes 0
    low, high = line.argmin(), line.argmax()
    said = [f"{line[k]:.4g} at {x[k]:.4g}" for k in (0, -1, low, high)]
    return f"{name}: {said[0]}, {said[1]}; lowest {said[2]}, highest {said[3]}."
