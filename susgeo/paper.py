"""Paper and pencil: sketches of a view in mm, and the picture that shows them and can be redrawn in place.

A :class:`Sketch` is plain data: marks with a key (which thing), a role (how it looks) and points in mm. A
:class:`Picture` keeps one matplotlib artist per key. Drawing again with other points moves the artists;
nothing is built anew, and what never moved is kept as a finished background. The static figures of the
lessons and the moving ones of the benches are the same picture.

This module knows no car. :mod:`susgeo.draw` tells it what to sketch.
"""

import base64
import html
import io
import math
import textwrap
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib import style
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon
from matplotlib.text import Text
from PIL import Image  # it comes with Matplotlib

from .errors import SusgeoError, ViewError
from .flat import FlatLine, FlatPoint, View
from .incidence import project
from .scalars import is_array, is_symbolic
from .space import Line, Point

INK, STEEL, PENCIL, PALE = "#1d2730", "#8b96a0", "#56636e", "#c3cad0"
ACCENT, OTHER, TIRE = "#b14a00", "#1c5fa6", "#eef1f3"
"""Ink for the car, pencil for construction lines, one accent (burnt orange) for what follows from them, blue
for a second car. Orange and blue differ for every kind of color vision; each also has its own line style."""

PIXELS_PER_INCH = 96  # of a notebook page at 1:1
SIZE = 9.5  # of all text, in points at the size shown
FONT = "DejaVu Sans"  # comes with matplotlib, so that every machine draws the same

ROLES: dict[str, tuple[str, float, dict[str, Any]]] = {
    # role: kind, order (later ones lie on top), matplotlib's properties
    "tire": ("area", 1, {"fc": TIRE, "ec": STEEL, "lw": 1.2}),
    "hatch": ("path", 1, {"color": STEEL, "lw": 0.8}),
    "ground": ("path", 1.1, {"color": PENCIL, "lw": 1.4}),
    "center line": ("path", 1.2, {"color": STEEL, "lw": 0.8, "ls": (0, (12, 3, 2, 3))}),
    "beam": ("path", 1.3, {"color": PALE, "lw": 7, "solid_capstyle": "butt"}),
    "body": ("path", 1.35, {"color": STEEL, "lw": 1.4}),
    "ghost": ("path", 1.4, {"color": PALE, "lw": 3.2, "solid_capstyle": "round"}),
    "construction": ("path", 2, {"color": PENCIL, "lw": 0.9}),
    "result": ("path", 2.2, {"color": ACCENT, "lw": 1.8}),
    "link": ("path", 3, {"color": INK, "lw": 3.2, "solid_capstyle": "round"}),
    "thin link": ("path", 3, {"color": INK, "lw": 1.8, "solid_capstyle": "round"}),
    "other result": ("path", 3.1, {"color": OTHER, "lw": 1.4, "ls": (0, (2, 1.6))}),
    "other link": ("path", 3.2, {"color": OTHER, "lw": 2, "ls": (0, (5, 2))}),
    "dimension": ("path", 3.3, {"color": PENCIL, "lw": 0.8}),
    "arrow": ("path", 3.4, {"color": INK, "lw": 1.2}),
    "result arrow": ("path", 3.4, {"color": ACCENT, "lw": 1.8}),
    "leader": ("path", 3.5, {"color": STEEL, "lw": 0.7}),
    "trial": ("dot", 2.1, {"color": OTHER, "marker": ".", "ms": 3, "ls": "none"}),
    "axle end": ("dot", 4, {"color": INK, "marker": "o", "ms": 6}),
    "chassis end": ("dot", 4, {"mec": INK, "mfc": "white", "marker": "o", "ms": 6.5, "mew": 1.6}),
    "other point": ("dot", 4.1, {"mec": OTHER, "mfc": "white", "marker": "s", "ms": 7, "mew": 1.6}),
    "weight": ("dot", 4.2, {"mec": INK, "mfc": PALE, "marker": "o", "ms": 10, "mew": 1.6}),
    "meet": ("dot", 4.2, {"mec": PENCIL, "mfc": "white", "marker": "D", "ms": 6.5, "mew": 1.4}),
    "result point": ("dot", 4.3, {"mec": "white", "mfc": ACCENT, "marker": "D", "ms": 8, "mew": 0.8}),
    "name": ("label", 5, {"color": INK}),
    "note": ("label", 5, {"color": PENCIL}),
    "result name": ("label", 5, {"color": ACCENT}),
    "other name": ("label", 5, {"color": OTHER}),
}
"""Every look there is; a new kind of mark needs a line here and nothing else."""

SECOND = {
    "link": "other link", "result": "other result", "result point": "other point",
    "result name": "other name", "result arrow": "other result",
}  # fmt: skip
"""The roles of a second car drawn over the first; its other marks are left out."""

GHOST = {"link": "ghost"}
"""The roles of the rest position, kept as a faint shadow."""

MOVING = 2
"""Roles of this order and above are drawn in every frame; those below are scenery until one of them moves."""

_AVOIDED = {
    "link": 25.0, "thin link": 15.0, "other link": 12.0, "construction": 8.0, "result": 8.0,
    "other result": 6.0, "arrow": 8.0, "result arrow": 8.0, "dimension": 6.0, "ground": 6.0, "beam": 4.0,
    "body": 4.0, "center line": 8.0, "tire": 3.0, "ghost": 1.0,
}  # fmt: skip
"""How much words avoid lying on a line of each role."""

Window = tuple[float, float, float, float]
"""Left, right, bottom and top of a drawing, in mm."""

Pair = tuple[float, float]
Place = Point | FlatPoint | Pair


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing on the paper: which (key), how it looks (role), where (mm, right and up), which words."""

    key: str
    role: str
    points: tuple[Pair, ...]
    text: str = ""
    step: int = 0


@dataclass
class Sketch:
    """Marks drawn in one view; every method adds one.

    Places may be points in space, points of this view, or pairs (right, up) in mm. In the front view, seen
    from behind, right is -y.

    Args:
        view: "side", "plan" or "front".
        window: the part of the view that is shown.
        mm: how many mm one pixel is, for things of a fixed size on paper.
        name: of the panel it is drawn for.
        shift: how far to the right points are drawn, for an axle that is measured from its own wheels.
    """

    view: View
    window: Window
    mm: float = 4.0
    name: str = ""
    shift: float = 0.0
    marks: list[Mark] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)
    captions: list[str] = field(default_factory=list)

    def step(self, caption: str) -> None:
        """Begin the next line of a construction; what follows belongs to it."""
        self.captions.append(caption)

    def say(self, sentence: str) -> None:
        """Add a sentence to the description of the drawing."""
        self.sentences.append(sentence)

    def flat(self, place: Place) -> tuple[float, float, float]:
        """Return a place as (right, up, weight)."""
        if isinstance(place, tuple):
            return place[0] + self.shift, place[1], 1.0
        point = project(place, self.view) if isinstance(place, Point) else place
        if point.view != self.view:
            raise ViewError(f"A point of the {point.view} view cannot be drawn in the {self.view} view.")
        u, v, w = plain(point)
        return (-u if self.view == "front" else u + self.shift * w, v, w)

    def at(self, place: Place) -> Pair:
        """Return a place as (right, up) in mm; at infinity it has none, and is an error."""
        if isinstance(place, tuple):
            return place[0] + self.shift, place[1]
        h, v, w = self.flat(place)
        if w == 0:
            raise SusgeoError(
                f"A point at infinity cannot be drawn in the {self.view} view; draw an arrow to it."
            )
        return h / w, v / w

    def shows(self, place: Place) -> bool:
        """Tell whether a place lies inside the window."""
        h, v, w = self.flat(place)
        left, right, bottom, top = self.window
        return w != 0 and left < h / w < right and bottom < v / w < top

    def add(self, key: str, role: str, places: Iterable[Place], text: str = "") -> None:
        """Add a mark of any role."""
        self.marks.append(Mark(key, role, tuple(map(self.at, places)), text, len(self.captions)))

    def path(self, key: str, places: Iterable[Place], role: str = "link") -> None:
        """Draw straight from place to place."""
        self.add(key, role, places)

    def dot(self, key: str, place: Place, role: str = "result point") -> None:
        """Mark a place."""
        self.add(key, role, [place])

    def label(self, key: str, place: Place, text: str, role: str = "name") -> None:
        """Write words beside a place, where they cover nothing."""
        self.add(key, role, [place], text)

    def edge(self, start: Pair, direction: Pair) -> float:
        """Return how far it is from a place to the edge of the window, in lengths of the direction."""
        left, right, bottom, top = self.window
        far = math.inf
        for at, step, low, high in zip(start, direction, (left, bottom), (right, top), strict=True):
            if step:
                far = min(far, ((high if step > 0 else low) - at) / step)
        return max(far, 0.0)

    def toward(self, first: Pair, second: Pair, goal: Place) -> Pair:
        """Return the unit direction from the first place to a goal; at infinity, the way of the second."""
        h, v, w = self.flat(goal)
        w = 0.0 if is_far(h, v, w) else w
        run, rise = h - first[0] * w, v - first[1] * w
        along = run * (second[0] - first[0]) + rise * (second[1] - first[1])
        size = math.hypot(run, rise) * (-1 if w < 0 or (w == 0 and along < 0) else 1)
        return (run / size, rise / size) if size else (1.0, 0.0)

    def reach(self, key: str, first: Place, second: Place, goal: Place, role: str = "construction") -> None:
        """Extend the line through two places a little beyond the goal on it, or to the edge of the paper."""
        a, b = self.at(first), self.at(second)
        run, rise = self.toward(a, b, goal)
        start = max(a, b, key=lambda place: place[0] * run + place[1] * rise)
        length = self.edge(start, (run, rise))
        if self.flat(goal)[2]:
            h, v = self.at(goal)
            length = min(length, max(0.0, (h - start[0]) * run + (v - start[1]) * rise) + 30 * self.mm)
        self.path(key, [start, (start[0] + length * run, start[1] + length * rise)], role)

    def line(self, key: str, thing: Line | FlatLine, role: str = "result") -> None:
        """Draw a line across the whole window."""
        flat = project(thing, self.view) if isinstance(thing, Line) else thing
        a, b, c = map(float, flat)
        a = -a if self.view == "front" else a
        left, right, bottom, top = self.window
        size = math.hypot(a, b)
        if not size:
            return  # the line at infinity
        a, b, c = a / size, b / size, c / size
        h, v = (left + right) / 2, (bottom + top) / 2
        off = a * h + b * v + c
        foot = (h - off * a, v - off * b)
        low, high = -math.inf, math.inf
        for at, step, least, most in zip(foot, (b, -a), (left, bottom), (right, top), strict=True):
            if step:
                one, two = sorted(((least - at) / step, (most - at) / step))
                low, high = max(low, one), min(high, two)
            elif not least < at < most:
                return
        if low < high:
            self.path(key, [(foot[0] + t * b, foot[1] - t * a) for t in (low, high)], role)

    def arrow(self, key: str, tail: Place, tip: Place, role: str = "arrow") -> None:
        """Draw an arrow."""
        (x, y), (h, v) = self.at(tail), self.at(tip)
        size = math.hypot(h - x, v - y) / (7 * self.mm) or 1.0
        run, rise = (h - x) / size, (v - y) / size
        barbs = [(h - run + side * rise * 0.45, v - rise - side * run * 0.45) for side in (1, -1)]
        self.path(key, [(x, y), (h, v), barbs[0], (h, v), barbs[1]], role)

    def dimension(self, key: str, start: Place, end: Place, text: str, role: str = "note") -> None:
        """Draw a measure between two places, with its number."""
        (x, y), (h, v) = self.at(start), self.at(end)
        size = math.hypot(h - x, v - y) / (4 * self.mm) or 1.0
        run, rise = (h - x) / size, (v - y) / size
        ticks = [
            [(a - run + rise, b - rise - run), (a + run - rise, b + rise + run)] for a, b in ((x, y), (h, v))
        ]
        self.path(key, [ticks[0][0], ticks[0][1], (x, y), (h, v), ticks[1][0], ticks[1][1]], "dimension")
        self.label(f"{key} number", ((x + h) / 2, (y + v) / 2), text, role)

    def spot(
        self, key: str, goal: Place, name: str, start: Place, hint: Place | None = None, role: str = "result"
    ) -> None:
        """Mark a meeting point; beyond the edge of the paper, point an arrow at it and write its distance.

        Args:
            goal: the point; it may be at infinity.
            start: where the lines come from that meet there; the arrow lies on the way from it.
            hint: a second place that gives the direction when the goal is at infinity.
        """
        if self.shows(goal):
            self.dot(key, goal, f"{role} point" if role == "result" else role)
            self.label(f"{key} name", goal, name, "result name" if role == "result" else "note")
            return
        a = self.at(start)
        b = self.at(hint) if hint is not None else (a[0] + (0 if self.view == "front" else 1), a[1])
        run, rise = self.toward(a, b, goal)
        length = self.edge(a, (run, rise)) - 4 * self.mm
        tail, tip = max(0.0, length - 34 * self.mm), length
        foot, head = ((a[0] + t * run, a[1] + t * rise) for t in (tail, tip))
        self.arrow(f"{key} arrow", foot, head, "result arrow" if role == "result" else "arrow")
        where = whereabouts(self.view, self.flat(goal))
        if self.window[1] - self.window[0] < 400 * self.mm:  # a small frame has room for the distance alone
            where = where.split(",")[0]
        self.label(f"{key} name", foot, f"{name}\n{where}", "result name" if role == "result" else "note")

    def until(self, step: int) -> None:
        """Take back what comes after a step of the construction; draw that step's own lines in the accent."""
        fresh = {"construction": "result", "meet": "result point"}
        self.marks = [
            replace(mark, role=fresh.get(mark.role, mark.role) if mark.step == step else mark.role)
            for mark in self.marks
            if mark.step <= step
        ]
        self.sentences = [*self.sentences[:1], *self.captions[:step]]

    def include(self, other: "Sketch", prefix: str, roles: dict[str, str] | None = None) -> None:
        """Copy marks of another sketch: all of them, or those whose roles are listed, in the roles given."""
        for mark in other.marks:
            role = mark.role if roles is None else roles.get(mark.role)
            if role:
                self.marks.append(replace(mark, key=f"{prefix} {mark.key}", role=role, step=0))


def plain(point: Iterable[Any]) -> list[float]:
    """Return coordinates as floats; a drawing shows one car, so arrays and symbols are refused."""
    parts = list(point)
    if any(is_array(part) or is_symbolic(part) for part in parts):
        kind = "an array" if any(map(is_array, parts)) else "a symbol"
        raise SusgeoError(f"A drawing shows one car, but one of its coordinates is {kind}; give it numbers.")
    return [float(part) for part in parts]


def is_far(h: float, v: float, w: float) -> bool:
    """Tell whether a place is to be called infinitely far, for words and arrows: beyond 1000 km."""
    return math.hypot(h, v) > abs(w) * 1e9


def whereabouts(view: View, place: tuple[float, float, float], long: bool = False) -> str:
    """Say where a place (right, up, weight) of a drawing is, in m.

    >>> whereabouts("side", (1630, 410, 1))
    '1.63 m ahead, 0.41 m up'
    >>> whereabouts("side", (1630, 410, 1), long=True)
    '1.63 m ahead of the wheels, 0.41 m above the ground'
    >>> whereabouts("side", (1, 0.1, 0))
    'at infinity'
    """
    h, v, w = place
    if is_far(h, v, w):
        return "at infinity"
    ends = {
        "side": ("ahead", "behind"),
        "plan": ("ahead", "behind"),
        "front": ("to the right", "to the left"),
    }[view]
    rises = ("to the left", "to the right") if view == "plan" else ("up", "below ground")
    if long:
        ends = {"front": ("right of the center line", "left of the center line")}.get(
            view, ("ahead of the wheels", "behind the wheels")
        )
        rises = ("left of the center line", "right of the center line") if view == "plan" else (
            "above the ground", "below the ground")  # fmt: skip
    words = []
    for length, (plus, minus), centered in ((h / w, ends, view == "front"), (v / w, rises, view == "plan")):
        if centered and abs(length) < 0.5:
            words.append("on the center line" if long else "")
        else:
            size = f"{abs(length) / 1000:.2f} m" if abs(length) < 1e6 else "more than 1 km"
            words.append(f"{size} {plus if length >= 0 else minus}")
    return ", ".join(filter(None, words))


# Words on paper


@lru_cache(maxsize=512)
def _glyph(letter: str) -> Any:
    """Return a letter's coverage, 0 to 255, as matplotlib draws it: rows by columns, its advance wide."""
    font = get_font(findfont(FontProperties(family=FONT)))
    font.set_size(SIZE, PIXELS_PER_INCH)
    advance = max(1, round(font.load_char(ord(letter)).linearHoriAdvance / 65536))
    figure = Figure(figsize=((advance + 8) / PIXELS_PER_INCH, LINE / PIXELS_PER_INCH), dpi=PIXELS_PER_INCH)
    canvas: Any = FigureCanvasAgg(figure)
    figure.patch.set_alpha(0)
    figure.text(4 / (advance + 8), DESCENT / LINE, letter, size=SIZE, family=FONT)
    canvas.draw()
    return np.array(canvas.buffer_rgba())[:, 4 : 4 + advance, 3]


LINE, DESCENT = 16, 4  # height of a line of text and of what hangs below its baseline, in pixels


@lru_cache(maxsize=256)
def _lettering(words: str) -> Any:
    """Return the coverage of one or more lines of text, put together from letters drawn once."""
    lines = [np.hstack([_glyph(letter) for letter in line]) for line in words.split("\n")]
    width = max(line.shape[1] for line in lines)
    return np.vstack([np.pad(line, ((0, 0), (0, width - line.shape[1]))) for line in lines])


class _Words(Text):
    """A label. At the bench's resolution it is put together from ready letters, ten times faster."""

    def draw(self, renderer: Any) -> None:
        if self.figure.dpi != PIXELS_PER_INCH or not self.get_visible() or not self.get_text():
            return super().draw(renderer)
        cover = _lettering(self.get_text())
        image = np.empty((*cover.shape, 4), np.uint8)
        image[..., :3] = _rgb(str(self.get_color()))
        image[..., 3] = cover
        x, y = self.get_transform().transform(self.get_position())
        gc = renderer.new_gc()
        renderer.draw_image(gc, round(x), round(y) - cover.shape[0], image[::-1])
        gc.restore()
        return None


def _place_labels(
    labels: list[Mark], anchors: Any, box: Any, strokes: Any, weights: Any, dots: Any
) -> list[Any]:
    """Return for each label the box of its words in pixels, chosen in order so that they cover least.

    Candidates lie in eight directions at six distances. None may leave the panel; covering another label
    is worse than any number of lines; a line costs its weight; distance costs a little.
    """
    taken = np.empty((0, 4))
    chosen = []
    for label, (x, y) in zip(labels, anchors, strict=True):
        high, wide = _lettering(label.text).shape
        half = np.array([wide, high]) / 2
        center = np.array([x, y]) + _AROUND * (half + _RINGS)
        inside = np.clip(center, box[:2] + half, np.maximum(box[2:] - half, box[:2] + half))
        boxes = np.hstack([inside - half, inside + half])
        cost = _CALM + np.abs(inside - center).sum(1) / 5
        cost += 1e4 * _overlaps(boxes, taken).sum(1)
        cost += 8 * _overlaps(boxes, dots).sum(1)
        cost += _crosses(boxes, strokes) @ weights
        best = boxes[int(cost.argmin())]
        taken = np.vstack([taken, best + [-2, -1, 2, 1]])
        chosen.append(best)
    return chosen


_DIRECTIONS = np.array([(1, 1), (1, -1), (-1, 1), (-1, -1), (0, 1), (0, -1), (1, 0), (-1, 0)], float)
_DISTANCES = np.array([3.0, 14.0, 30.0, 52.0, 80.0, 120.0])
_AROUND = np.tile(_DIRECTIONS, (len(_DISTANCES), 1))
_RINGS = np.repeat(_DISTANCES, len(_DIRECTIONS))[:, None]
_CALM = np.repeat(_DISTANCES / 5, len(_DIRECTIONS)) + np.tile(
    np.arange(len(_DIRECTIONS)) * 0.1, len(_DISTANCES)
)


def _overlaps(boxes: Any, others: Any) -> Any:
    """Tell which boxes (left, bottom, right, top) overlap which others."""
    a, b = boxes[:, None, :], others[None, :, :]
    return (
        (a[..., 0] < b[..., 2]) & (a[..., 2] > b[..., 0]) & (a[..., 1] < b[..., 3]) & (a[..., 3] > b[..., 1])
    )


def _crosses(boxes: Any, strokes: Any) -> Any:
    """Tell which boxes are crossed by which strokes (x, y, x, y)."""
    start, step = strokes[None, :, :2], (strokes[:, 2:] - strokes[:, :2])[None]
    step = np.where(np.abs(step) < 1e-9, 1e-9, step)
    one, two = (boxes[:, None, :2] - 1 - start) / step, (boxes[:, None, 2:] + 1 - start) / step
    enter, leave = np.minimum(one, two).max(2), np.maximum(one, two).min(2)
    return (np.maximum(enter, 0) <= np.minimum(leave, 1)).astype(float)


# The picture


@dataclass(frozen=True, slots=True)
class Panel:
    """One drawing of a picture: name, view, window, title, and whether a scale stands beside it."""

    name: str
    view: View
    window: Window
    title: str = ""
    scale: bool = True


Painter = Callable[[Sketch], None]

MARGIN = (62.0, 22.0, 46.0, 26.0)  # pixels left, right, below, above a panel with a scale
BARE = (6.0, 6.0, 8.0, 26.0)


class Picture:
    """Panels on one sheet, all to one scale, drawn by a painter and redrawn in place.

    Args:
        rows: the panels, row by row.
        width: of the sheet in pixels, which is also its width on the page.
        legend: words for the roles that need one, such as {"ghost": "at rest"}.
        tallest: the greatest height of a panel in pixels.
    """

    def __init__(
        self,
        rows: Sequence[Sequence[Panel]],
        width: int = 760,
        legend: dict[str, str] | None = None,
        tallest: float = 560,
    ) -> None:
        self.width, self.panels = width, [panel for row in rows for panel in row]
        margins = {panel.name: MARGIN if panel.scale else BARE for panel in self.panels}
        scales = [tallest / (panel.window[3] - panel.window[2]) for panel in self.panels]
        for row in rows:
            spare = width - sum(margins[panel.name][0] + margins[panel.name][1] for panel in row)
            scales.append(spare / sum(panel.window[1] - panel.window[0] for panel in row))
        self.scale = min(scales)  # pixels per mm, the same everywhere
        self._titles: dict[str, list[str]] = {}
        heights = []
        for row in rows:
            needs = []
            for panel in row:
                _, _, below, above = margins[panel.name]
                left, right, bottom, top = panel.window
                beside = 0 if panel.view == "front" else 90  # for the word forward
                room = max(12, int((self.scale * (right - left) - beside) / 7))  # letters
                self._titles[panel.name] = textwrap.wrap(panel.title, room)
                extra = 15 * max(0, len(self._titles[panel.name]) - 1)
                needs.append(self.scale * (top - bottom) + below + above + extra)
            heights.append(max(needs))
        above = 22.0 if legend else 0.0
        self.height = math.ceil(sum(heights) + above)
        inches = (width / PIXELS_PER_INCH, self.height / PIXELS_PER_INCH)
        self.figure: Any = Figure(figsize=inches, dpi=PIXELS_PER_INCH, facecolor="white")
        self.canvas: Any = FigureCanvasAgg(self.figure)
        self._boxes: dict[str, Any] = {}
        self._axes: dict[str, Any] = {}
        self._artists: dict[tuple[str, str], Any] = {}
        self._shown: dict[tuple[str, str], Any] = {}
        self._moving: set[tuple[str, str]] = set()
        self._background: Any = None
        self.alt = ""
        y = self.height - above
        for row, high in zip(rows, heights, strict=True):
            x = 0.0
            for panel in row:
                left, right, below, _ = margins[panel.name]
                w = self.scale * (panel.window[1] - panel.window[0])
                h = self.scale * (panel.window[3] - panel.window[2])
                bottom = y - high + below
                self._boxes[panel.name] = np.array([x + left, bottom, x + left + w, bottom + h])
                with style.context("default"):  # whatever the reader has set for plots of their own
                    self._axes[panel.name] = self._prepare(panel, (x + left, bottom, w, h))
                x += left + w + right
            y -= high
        self._legend(legend or {})

    def _prepare(self, panel: Panel, box: tuple[float, float, float, float]) -> Any:
        """Make a panel's axes: one scale for both directions, numbers every 500 mm."""
        x, y, w, h = box
        axes = self.figure.add_axes((x / self.width, y / self.height, w / self.width, h / self.height))
        left, right, bottom, top = panel.window
        axes.set(xlim=(left, right), ylim=(bottom, top), facecolor="none")
        text: dict[str, Any] = {"size": SIZE, "family": FONT, "color": PENCIL}
        title = "\n".join(self._titles[panel.name])
        axes.set_title(title, loc="left", pad=6, **{**text, "color": INK, "linespacing": 1.2})
        if panel.view != "front":
            axes.set_title("forward \N{LONG RIGHTWARDS ARROW}", loc="right", pad=6, **text)
        for side in axes.spines.values():
            side.set(color=PALE, lw=0.8)
        if not panel.scale:
            axes.set(xticks=[], yticks=[])
            return axes
        sign = -1 if panel.view == "front" else 1
        for axis, low, high, turn in ((axes.xaxis, left, right, sign), (axes.yaxis, bottom, top, 1)):
            step = 500 if self.scale * 500 > 50 else 1000
            ticks = [step * k for k in range(math.ceil(low / step), math.floor(high / step) + 1)]
            axis.set_ticks(ticks, [f"{turn * tick}" for tick in ticks], **text)
            axis.set_tick_params(color=PALE, length=4)
        names = {"side": ("x ahead [mm]", "z up [mm]"), "plan": ("x ahead [mm]", "y left [mm]")}
        across, up = names.get(panel.view, ("y left [mm]", "z up [mm]"))
        axes.set_xlabel(across, labelpad=3, **text)
        axes.set_ylabel(up, labelpad=3, **text)
        return axes

    def _legend(self, legend: dict[str, str]) -> None:
        """Write what the roles mean along the top of the sheet, with a sample of each."""
        x, y = 66.0, self.height - 14.0
        for role, words in legend.items():
            look = ROLES[role][2]
            ends = [x + 14] if ROLES[role][0] == "dot" else [x, x + 28]
            places = [end / self.width for end in ends], [y / self.height for _ in ends]
            self.figure.add_artist(Line2D(*places, **look, transform=self.figure.transFigure))
            self.figure.text(
                (x + 36) / self.width, (y - 4) / self.height, words, size=SIZE, family=FONT, color=PENCIL
            )
            x += 36 + 7.5 * len(words) + 26

    def sketch(self, panel: Panel) -> Sketch:
        """Return an empty sketch for a panel."""
        return Sketch(panel.view, panel.window, 1 / self.scale, panel.name)

    def draw(self, painter: Painter) -> "Picture":
        """Draw what the painter sketches in each panel's empty sketch, moving what is there already.

        Nothing changes when the painter raises an error.
        """
        sketches = [self.sketch(panel) for panel in self.panels]
        for sketch in sketches:
            painter(sketch)
        wanted: dict[tuple[str, str], Any] = {}
        for sketch in sketches:
            wanted |= self._laid_out(sketch)
        for name in self._shown.keys() - wanted.keys():
            self._artists[name].set_visible(False)
            self._note_change(name)
        for name, look in wanted.items():
            if self._shown.get(name) != look:
                self._move(name, *look)
        self._shown = wanted
        self.alt = " ".join(sentence for sketch in sketches for sentence in sketch.sentences)
        return self

    def _laid_out(self, sketch: Sketch) -> dict[tuple[str, str], Any]:
        """Return (role, points, text) of every mark by name, with labels placed and their leaders drawn."""
        left, bottom = sketch.window[0], sketch.window[2]
        box, scale = self._boxes[sketch.name], self.scale
        found: dict[tuple[str, str], Any] = {}
        labels, strokes, weights, dots = [], [], [], []
        for mark in sketch.marks:
            kind = ROLES[mark.role][0]
            if kind == "label":
                labels.append(mark)
                continue
            found[sketch.name, mark.key] = (mark.role, mark.points, "")
            if kind == "dot":
                dots.append(mark.points[0])
            if mark.role in _AVOIDED:
                strokes += [(*a, *b) for a, b in zip(mark.points, mark.points[1:], strict=False)]
                weights += [_AVOIDED[mark.role]] * (len(mark.points) - 1)
        if not labels:
            return found
        labels.sort(key=lambda mark: -mark.text.count("\n"))  # the larger ones choose first
        shift = np.array([box[0] - scale * left, box[1] - scale * bottom])
        anchors = scale * np.array([mark.points[0] for mark in labels]) + shift
        lines = scale * np.array(strokes or np.empty((0, 4))) + np.tile(shift, 2)
        centers = scale * np.array(dots or np.empty((0, 2))) + shift
        around = np.hstack([centers - 5, centers + 5])
        inside = box + [2, 2, -2, -2]
        if sketch.view != "plan" and bottom < 0:
            inside[1] = max(inside[1], shift[1] + 2)  # words stay above the ground
        chosen = _place_labels(labels, anchors, inside, lines, np.array(weights), around)
        for mark, anchor, words in zip(labels, anchors, chosen, strict=True):
            found[sketch.name, mark.key] = (mark.role, ((float(words[0]), float(words[3])),), mark.text)
            near = np.clip(anchor, words[:2], words[2:])
            if np.hypot(*(near - anchor)) > 12:
                ends = [
                    tuple(float(number) for number in (place - shift) / scale) for place in (near, anchor)
                ]
                found[sketch.name, f"{mark.key} leader"] = ("leader", tuple(ends), "")
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
                artist = _Words(
                    0, 0, "", size=SIZE, family=FONT, va="top", linespacing=1.2, transform=inches, **look
                )
                self.figure.add_artist(artist)
            elif kind == "area":
                artist = axes.add_patch(Polygon(np.zeros((3, 2)), closed=True, **look))
            else:
                artist = axes.add_line(Line2D([], [], **look))
            artist.set_zorder(order)
            self._artists[name] = artist
            # What may lie over a moving line is never part of the background, so that its order stays right.
            if order >= MOVING or self._shown:
                self._moving.add(name)
                artist.set_animated(True)
            self._background = None
        else:
            if name in self._shown and self._shown[name][0] != role:
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
        """Return the picture as it is now, at the size shown, fast: only what moves is drawn again."""
        if self._background is None:
            self.canvas.draw()
            self._background = self.canvas.copy_from_bbox(self.figure.bbox)
        self.canvas.restore_region(self._background)
        return self._finish(1)

    def still(self) -> "Still":
        """Return the picture as it is now, twice as fine as shown, for print and for sharp screens."""
        self.figure.set_dpi(2 * PIXELS_PER_INCH)
        self.canvas.draw()
        still = self._finish(9)
        self.figure.set_dpi(PIXELS_PER_INCH)
        self._background = None
        return still

    def _finish(self, level: int) -> "Still":
        renderer = self.canvas.get_renderer()
        moving = [artist for name, artist in self._artists.items() if name in self._moving]
        for artist in sorted(moving, key=lambda artist: artist.zorder):
            artist.draw(renderer)
        return Still(png(np.asarray(self.canvas.buffer_rgba()), level), self.alt, self.width, self.height)

    def save(self, path: str | Path) -> None:
        """Write the picture to a PNG file, twice as fine as shown."""
        Path(path).write_bytes(self.still().data)

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> Any:
        return self.still()._repr_mimebundle_(include, exclude)


@dataclass(frozen=True, slots=True)
class Still:
    """A finished picture: PNG data, its description, its size on the page in pixels.

    A notebook shows it as an HTML image because that is the only form for which JupyterLab, static HTML and
    hosting sites all keep the description as the image's alt text; plain text is the description itself.
    """

    data: bytes
    alt: str
    width: int
    height: int

    def html(self) -> str:
        """Return it as an HTML image with alt text."""
        code = base64.b64encode(self.data).decode()
        size = f'width="{self.width}" height="{self.height}" style="max-width: 100%; height: auto"'
        return (
            f'<img src="data:image/png;base64,{code}" alt="{html.escape(self.alt)}" {size} decoding="sync">'
        )

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> Any:
        return {"text/html": self.html(), "text/plain": self.alt}


def _rgb(color: str) -> tuple[int, int, int]:
    return tuple(int(color[k : k + 2], 16) for k in (1, 3, 5))  # type: ignore[return-value]


@lru_cache(maxsize=1)
def _palette() -> tuple[bytes, Any]:
    """Return 256 colors, red, green and blue in turn, and the nearest of them to each 15-bit color (blue, green, red).

    The colors are those of the look, each in 32 strengths on white, which is what smooth edges are made of.
    """
    colors = np.array(
        [_rgb(color) for color in (INK, STEEL, PENCIL, PALE, ACCENT, OTHER, TIRE, "#000000")], float
    )
    mixed = np.vstack([255 + (color - 255) * np.linspace(1, 0, 32)[:, None] for color in colors]).round()
    cells = np.stack(np.meshgrid(*[np.arange(32) * 8 + 3.5] * 3, indexing="ij"), -1).reshape(-1, 1, 3)
    nearest = np.concatenate([((part - mixed) ** 2).sum(2).argmin(1) for part in np.array_split(cells, 32)])
    table = nearest.reshape(32, 32, 32)
    full = np.append(np.arange(0, len(mixed), 32), 31)  # each at full strength, and white
    table[tuple((mixed[full].astype(int) >> 3).T)] = full  # a color of the look stays itself
    return mixed.astype(np.uint8).tobytes(), table.transpose(2, 1, 0).ravel().astype(np.uint8)


def png(rgba: Any, level: int) -> bytes:
    """Encode an image in the colors of the look: half the size of full color, and seven times faster.

    >>> png(np.full((2, 3, 4), 255, np.uint8), 1)[1:4]
    b'PNG'
    """
    colors, nearest = _palette()
    whole = rgba.view("<u4")[..., 0]  # alpha, blue, green, red
    packed = (whole >> 3) & 0x1F
    packed |= (whole >> 6) & 0x3E0
    packed |= (whole >> 9) & 0x7C00
    image = Image.fromarray(np.take(nearest, packed))
    image.putpalette(colors)
    data = io.BytesIO()
    image.save(data, "PNG", compress_level=level)
    return data.getvalue()
