"""Paper and pencil: sketches of a view in mm, and the picture that shows them and can be redrawn in place.

A :class:`Sketch` is plain data: marks with a key (which thing), a role (how it looks) and points in mm. A
:class:`Picture` keeps one matplotlib artist per key. Drawing again with other points moves the artists;
nothing is built anew, and what never moved is kept as a finished background. The static figures of the
lessons and the moving ones of the benches are the same picture.

This module knows no car. :mod:`susgeo.draw.drawings` tells it what to sketch.
"""

import math
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from os import PathLike
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib import style
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from ..errors import expect
from ..files import write_whole
from ..geometry.flat import View
from .lettering import Words, leader, place_labels
from .look import FONT, INK, MOVING, PALE, PENCIL, PIXELS_PER_INCH, ROLES, SIZE
from .sketch import Pair, Sketch, Window
from .still import Still, indexed, paper, pixels_of, png


@dataclass(frozen=True, slots=True)
class Panel:
    """One drawing of a picture: name, view, window, title, and whether a scale stands beside it."""

    name: str
    view: View
    window: Window
    title: str = ""
    scale: bool = True


Painter = Callable[[Sketch], None]
Marks = dict[tuple[str, str], Any]
"""What belongs to each mark, by the names of its panel and its own."""
MARGIN = (62.0, 22.0, 46.0, 26.0)  # pixels left, right, below, above a panel with a scale
BARE = (6.0, 6.0, 8.0, 26.0)
FARTHEST = 60
"""In a small frame a part's name farther from it than so many pixels is left out, for its leader reads as a link."""
SCALES = {"side": ("x ahead", "z up"), "plan": ("x ahead", "y left"), "front": ("y left", "z up")}
STEPS: dict[str, tuple[float, tuple[float, ...]]] = {
    "mm": (1.0, (10, 20, 50, 100, 200, 500, 1000)),
    "in": (25.4, (0.5, 1, 2, 5, 10, 20, 40)),
}
"""Of a unit of length: how many mm it has, and what the numbers on a scale may step by."""


class Picture:
    """Panels on one sheet, all to one scale, drawn by a painter and redrawn in place.

    Args:
        rows: the panels, row by row.
        width: of the sheet in pixels, which is also its width on the page.
        legend: words for the roles that need one, such as {"ghost": "at rest"}.
        tallest: the greatest height of a panel in pixels.
        scale: pixels per mm; None takes what fits.
        page: width, height, left and top margin of a page in pixels, where the picture is but a part of one.
        units: of the numbers on the scales, "mm" or "in"; places are in mm.
    """

    def __init__(
        self,
        rows: Sequence[Sequence[Panel]],
        width: int = 760,
        legend: dict[str, str] | None = None,
        tallest: float = 560,
        scale: float | None = None,
        page: tuple[float, float, float, float] | None = None,
        units: str = "mm",
    ) -> None:
        self.units = units
        self.width, self.panels = width, [panel for row in rows for panel in row]
        margins = {panel.name: MARGIN if panel.scale else BARE for panel in self.panels}
        scales = [tallest / (panel.window[3] - panel.window[2]) for panel in self.panels]
        for row in rows:
            spare = width - sum(margins[panel.name][0] + margins[panel.name][1] for panel in row)
            scales.append(spare / sum(panel.window[1] - panel.window[0] for panel in row))
        self.scale = min(scales) if scale is None else scale  # pixels per mm, the same everywhere
        self.titles: dict[str, list[str]] = {}
        heights = []
        for row in rows:
            needs = []
            for panel in row:
                _, _, below, above = margins[panel.name]
                left, right, bottom, top = panel.window
                beside = 0 if panel.view == "front" else 90  # for the word forward
                room = max(12, int((self.scale * (right - left) - beside) / 7))  # letters
                self.titles[panel.name] = textwrap.wrap(panel.title, room)
                extra = 15 * max(0, len(self.titles[panel.name]) - 1)
                needs.append(self.scale * (top - bottom) + below + above + extra)
            heights.append(max(needs))
        above = 22.0 if legend else 0.0
        self.height = self.drawn = math.ceil(sum(heights) + above)
        self._corner = 0.0, 0.0
        if page is not None:
            self.width, self.height, *self._corner = page  # type: ignore[assignment]
        self.legend = legend or {}
        self.boxes: dict[str, Any] = {}
        self._artists: Marks = {}
        self._shown: Marks = {}
        self._drawn: Marks = {}
        self._places: dict[tuple[str, str], int] = {}
        self._moving: set[tuple[str, str]] = set()
        self._background: Any = None
        self.alt = ""
        y = self.height - self._corner[1] - above
        for row, high in zip(rows, heights, strict=True):
            x = self._corner[0]
            for panel in row:
                left, right, below, _ = margins[panel.name]
                w = self.scale * (panel.window[1] - panel.window[0])
                h = self.scale * (panel.window[3] - panel.window[2])
                bottom = y - high + below
                self.boxes[panel.name] = np.array([x + left, bottom, x + left + w, bottom + h])
                x += left + w + right
            y -= high

    @cached_property
    def figure(self) -> Any:
        """The sheet as matplotlib's figure, made when it is first looked at; from then on its artists are moved."""
        self.figure = paper(self.width, self.height)
        with style.context("default"):  # whatever the reader has set for plots of their own
            self._axes = {panel.name: self._prepare(panel, self.boxes[panel.name]) for panel in self.panels}
        self._write_legend()
        self._redraw()
        return self.figure

    def _prepare(self, panel: Panel, box: Any) -> Any:
        """Make a panel's axes: one scale for both directions, numbers every 500 mm."""
        (x, y), (w, h) = box[:2], box[2:] - box[:2]
        axes = self.figure.add_axes((x / self.width, y / self.height, w / self.width, h / self.height))
        left, right, bottom, top = panel.window
        axes.set(xlim=(left, right), ylim=(bottom, top), facecolor="none")
        text: dict[str, Any] = {"size": SIZE, "family": FONT, "color": PENCIL}
        title = "\n".join(self.titles[panel.name])
        axes.set_title(title, loc="left", pad=6, **{**text, "color": INK, "linespacing": 1.2})
        if panel.view != "front":
            axes.set_title("forward \N{LONG RIGHTWARDS ARROW}", loc="right", pad=6, **text)
        for side in axes.spines.values():
            side.set(color=PALE, lw=0.8)
        if not panel.scale:
            axes.set(xticks=[], yticks=[])
            return axes
        for axis, ticks in zip((axes.xaxis, axes.yaxis), self.ticks(panel), strict=True):
            axis.set_ticks([*ticks], [*ticks.values()], **text)
            axis.set_tick_params(color=PALE, length=4)
        across, up = self.scale_names(panel)
        axes.set_xlabel(across, labelpad=3, **text)
        axes.set_ylabel(up, labelpad=3, **text)
        return axes

    def scale_names(self, panel: Panel) -> tuple[str, str]:
        """Return what a panel's scales show, across and up."""
        across, up = SCALES[panel.view]
        return f"{across} [{self.units}]", f"{up} [{self.units}]"

    def ticks(self, panel: Panel) -> tuple[dict[float, str], dict[float, str]]:
        """Return what stands on a panel's scales, across and up: place in mm to the number written there."""
        left, right, bottom, top = panel.window
        unit, (*fine, rough, roughest) = STEPS[self.units]

        def along(low: float, high: float, sign: int, least: float = 60) -> dict[float, str]:
            step = rough if self.scale * unit * rough >= 50 else roughest
            if self.scale >= 1:
                step = next((step for step in fine if self.scale * unit * step > least), rough)
            places = range(math.ceil(low / unit / step), math.floor(high / unit / step) + 1)
            return {unit * step * k: f"{sign * step * k + 0.0:g}" for k in places}

        return along(left, right, -1 if panel.view == "front" else 1), along(bottom, top, 1, 30)

    def samples(self) -> list[tuple[str, str, list[float], float]]:
        """Return the legend along the top of the sheet: role, words, ends of the sample, and height, in pixels."""
        x, y, found = 66.0 + self._corner[0], self.height - self._corner[1] - 14.0, []
        for role, words in self.legend.items():
            found.append((role, words, [x + 14] if ROLES[role][0] == "dot" else [x, x + 28], y))
            x += 36 + 7.5 * len(words) + 26
        return found

    def _write_legend(self) -> None:
        for role, words, ends, y in self.samples():
            places = [end / self.width for end in ends], [y / self.height for _ in ends]
            self.figure.add_artist(Line2D(*places, **ROLES[role][2], transform=self.figure.transFigure))
            x = (ends[0] + (22 if len(ends) == 1 else 36)) / self.width
            self.figure.text(x, (y - 4) / self.height, words, size=SIZE, family=FONT, color=PENCIL)

    def sketch(self, panel: Panel) -> Sketch:
        """Return an empty sketch for a panel."""
        return Sketch(panel.view, panel.window, 1 / self.scale, panel.name, units=self.units)

    def draw(self, painter: Painter) -> "Picture":
        """Draw what the painter sketches in each panel's empty sketch, moving what is there already.

        Nothing changes when the painter raises an error.
        """
        sketches = [self.sketch(panel) for panel in self.panels]
        for sketch in sketches:
            painter(sketch)
        self._shown = {name: mark for sketch in sketches for name, mark in self._laid_out(sketch).items()}
        self.alt = " ".join(sentence for sketch in sketches for sentence in sketch.sentences)
        if "figure" in self.__dict__:
            self._redraw()
        return self

    def marks(self, panel: str) -> list[tuple[str, Any, str]]:
        """Return what is shown in a panel: role, points in mm and text; a label's place is in pixels of the sheet."""
        return [mark for (name, _), mark in self._shown.items() if name == panel]

    def _redraw(self) -> None:
        merged = _merged(self._shown)
        for name in self._drawn.keys() - merged.keys():
            self._artists[name].set_visible(False)
            self._note_change(name)
        for name, look in merged.items():
            if self._drawn.get(name) != look:
                self._move(name, *look)
        self._drawn = merged

    def forget(self) -> None:
        """Place every label afresh in the next drawing; otherwise each stays beside its place as long as it can."""
        self._places.clear()

    def _laid_out(self, sketch: Sketch) -> Marks:
        """Return (role, points, text) of every mark by name, with labels placed and their leaders drawn."""
        left, bottom = sketch.window[0], sketch.window[2]
        box, scale = self.boxes[sketch.name], self.scale
        found: Marks = {}
        labels, strokes, pens, around = [], [], [], []
        centers: list[Pair] = []
        for mark in sketch.marks:
            kind, order, look = ROLES[mark.role]
            if kind == "label":
                labels.append(mark)
                continue
            found[sketch.name, mark.key] = (mark.role, mark.points, "")
            if kind == "dot":
                centers += mark.points[:1]
                around.append(look["ms"] * 0.7)
            elif mark.role != "hatch":  # what lies on top is worst to cover
                ends = (*mark.points[1:], mark.points[0]) if kind == "area" else mark.points[1:]
                strokes += [(*a, *b) for a, b in zip(mark.points, ends, strict=False)]
                pens += [(max(1.0, look["lw"] * 0.7), 20 * order)] * len(ends)
        if not labels:
            return found
        # Numbers and results choose first, then the larger ones. What finds no room in a small frame is left to its table.
        labels.sort(key=lambda mark: (mark.key.endswith(" word"), -mark.text.count("\n")))
        shift = np.array([box[0] - scale * left, box[1] - scale * bottom])  # where zero is
        anchors = scale * np.array([mark.points[0] for mark in labels]) + shift
        lines = scale * np.array(strokes or np.empty((0, 4))) + np.tile(shift, 2)
        dots = scale * np.array(centers or np.empty((0, 2))) + shift
        radii = np.array(around)[:, None]
        inside = box + [2, 2, -2, -2]
        if sketch.view != "plan" and shift[1] < (box[1] + box[3]) / 2:
            if (anchors[:, 1] > shift[1] - 12).all():
                inside[1] = max(inside[1], shift[1] + 2)  # words stay above the ground
            else:  # and out of its hatching, where a point lies below it
                lines, pens = np.vstack([lines, [box[0], shift[1] - 4, box[2], shift[1] - 4]]), [*pens, (4.0, 60.0)]
        before = [self._places.get((sketch.name, mark.key)) for mark in labels]
        inks, around_dots = np.reshape(pens, (-1, 2)), np.hstack([dots - radii, dots + radii])
        chosen = place_labels(labels, anchors, inside, lines, inks, around_dots, before)
        ways, fars = leader(np.array([one[0] for one in chosen]), anchors)
        for mark, way, far, (words, number, text, free) in zip(labels, ways, fars, chosen, strict=True):
            stray = np.hypot(*(way[2:] - way[:2])) > FARTHEST and mark.key.endswith(" word") or text.count("\n") > 2
            if not sketch.roomy and (stray or not free):
                continue
            self._places[sketch.name, mark.key] = number
            found[sketch.name, mark.key] = (mark.role, ((float(words[0]), float(words[3])),), text)
            if far:
                line = [tuple(float(number) for number in (place - shift) / scale) for place in (way[:2], way[2:])]
                found[sketch.name, f"{mark.key} leader"] = ("leader", tuple(line), "")
        return found

    def _note_change(self, name: tuple[str, str]) -> None:
        """Keep a mark that changes out of the background from now on."""
        if name not in self._moving:
            self._moving.add(name)
            self._artists[name].set_animated(True)
            self._background = None

    def _move(self, name: tuple[str, str], role: str, points: tuple[Pair, ...], text: str) -> None:
        """Bring one artist to where it now belongs; make it if it is new."""
        kind, order, look = ROLES[role]
        artist: Any = self._artists.get(name)
        if artist is None:
            axes = self._axes[name[0]]
            if kind == "label":
                inches = self.figure.dpi_scale_trans
                artist = Words(0, 0, "", size=SIZE, family=FONT, va="top", linespacing=1.2, transform=inches, **look)
                self.figure.add_artist(artist)
            elif kind == "area":
                artist = axes.add_patch(Polygon(np.zeros((3, 2)), closed=True, **look))
            else:
                straight = axes.transLimits + axes.transAxes  # transData without its curved scales, in half the time
                artist = axes.add_line(Line2D([], [], transform=straight, **look))
            artist.set_zorder(order)
            self._artists[name] = artist
            # What may lie over a moving line is never part of the background, so that its order stays right.
            if order >= MOVING or self._drawn:
                self._moving.add(name)
                artist.set_animated(True)
            self._background = None
        else:
            if name in self._drawn and self._drawn[name][0] != role:
                artist.set(**look)
            self._note_change(name)
        artist.set_visible(True)
        if kind == "label":
            (x, y) = points[0]
            artist.set_position((x / PIXELS_PER_INCH, y / PIXELS_PER_INCH))
            artist.set_text(text)
        elif kind == "area":
            artist.set_xy(points)
        else:
            artist.set_data(*zip(*points, strict=True))

    def frame(self) -> "Still":
        """Return the picture as it is now, at the size shown, fast: only what moves is drawn and encoded again."""
        if self._background is None:
            self.figure.canvas.draw()
            pixels = pixels_of(self.figure.canvas.buffer_rgba()).copy()
            self._background = self.figure.canvas.copy_from_bbox(self.figure.bbox), pixels, indexed(pixels)
        region, before, colors = self._background
        self.figure.canvas.restore_region(region)
        self._draw_moving()
        pixels = pixels_of(self.figure.canvas.buffer_rgba())
        changed = np.flatnonzero(pixels != before)
        colors = colors.copy()
        colors.flat[changed] = indexed(pixels.flat[changed])
        return Still(png(colors, 1), self.alt, self.width, self.height)

    def still(self) -> "Still":
        """Return the picture as it is now, twice as fine as shown, for print and for sharp screens."""
        self.figure.set_dpi(2 * PIXELS_PER_INCH)
        self.figure.canvas.draw()
        self._draw_moving()
        data = png(indexed(pixels_of(self.figure.canvas.buffer_rgba())), 6)
        self.figure.set_dpi(PIXELS_PER_INCH)
        self._background = None
        return Still(data, self.alt, self.width, self.height)

    def _draw_moving(self) -> None:
        renderer = self.figure.canvas.get_renderer()
        moving = [artist for name, artist in self._artists.items() if name in self._moving]
        for artist in sorted(moving, key=lambda artist: artist.zorder):
            artist.draw(renderer)

    def save(self, path: str | Path) -> None:
        """Write the picture to a PNG file, twice as fine as shown."""
        expect(str | PathLike, path=path)
        write_whole(path, self.still().data)

    def html(self) -> str:
        """Return it as an HTML image of pixels with alt text; :func:`susgeo.draw.vector.vector` gives one of lines."""
        return self.still().html()

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> Any:
        return self.still()._repr_mimebundle_(include, exclude)


_GAP = (math.nan, math.nan)


def _merged(marks: Marks) -> Marks:
    """Put all lines, and all dots, of one look in a panel together: one artist draws them with gaps between."""
    found: Marks = {}
    for (panel, key), (role, points, text) in marks.items():
        if ROLES[role][0] not in ("path", "dot"):
            found[panel, key] = (role, points, text)
            continue
        name = (panel, f"every {role}")
        before = (*found[name][1], _GAP) if name in found else ()
        found[name] = (role, (*before, *points), "")
    return found
