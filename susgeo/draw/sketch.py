"""Sketches: marks in mm of one view, as plain data, before anything is drawn."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from ..errors import SusgeoError, ViewError
from ..geometry.flat import FlatLine, FlatPoint, View
from ..geometry.incidence import project
from ..geometry.measure import MM_PER_INCH
from ..geometry.scalars import is_array, is_symbolic
from ..geometry.space import Line, Point

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
        units: of the lengths that are written, "mm" or "in".
    """

    view: View
    window: Window
    mm: float = 4.0
    name: str = ""
    shift: float = 0.0
    units: str = "mm"
    marks: list[Mark] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)
    captions: list[str] = field(default_factory=list)

    @property
    def roomy(self) -> bool:
        """Whether there is room for every word; a frame of a film has none."""
        return self.window[1] - self.window[0] > 400 * self.mm

    def aside(self, shift: float = 0.0) -> "Sketch":
        """Return an empty sketch on the same paper, to be included in this one."""
        return Sketch(self.view, self.window, self.mm, shift=shift, units=self.units)

    def long(self, length: float) -> str:
        """Write a length, given in mm."""
        return f"{length / MM_PER_INCH:.2f} in" if self.units == "in" else f"{length:.1f} mm"

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
        h, v, w = self.flat(place)
        if w == 0:
            raise SusgeoError(f"A point at infinity cannot be drawn in the {self.view} view; draw an arrow to it.")
        return h / w, v / w

    def shows(self, place: Place) -> bool:
        """Tell whether a place lies inside the window."""
        h, v, w = self.flat(place)
        left, right, bottom, top = self.window
        return w != 0 and left < h / w < right and bottom < v / w < top

    def path(self, key: str, places: Iterable[Place], role: str = "link", text: str = "") -> None:
        """Draw straight from place to place; or add a mark of another kind, as its role has it."""
        self.marks.append(Mark(key, role, tuple(map(self.at, places)), text, len(self.captions)))

    def dot(self, key: str, place: Place, role: str = "result point") -> None:
        """Mark a place."""
        self.path(key, [place], role)

    def label(self, key: str, place: Place, text: str, role: str = "name") -> None:
        """Write words beside a place, where they cover nothing."""
        self.path(key, [place], role, text)

    def named(self, key: str, place: Place, name: str, role: str = "result") -> None:
        """Mark a place, and write its name beside it; as a result, or as a step toward one."""
        point, words = ("result point", "result name") if role == "result" else (role, "note")
        self.dot(key, place, point)
        self.label(f"{key} name", place, name, words)

    def edge(self, start: Pair, direction: Pair) -> float:
        """Return how far it is from a place to the edge of the window, in lengths of the direction."""
        ways = zip(start, direction, self.window[::2], self.window[1::2], strict=True)
        far = [((high if step > 0 else low) - at) / step for at, step, low, high in ways if step]
        return max(min(far, default=math.inf), 0.0)

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
        ends = [(h, -(a * h + c) / b) for h in (left, right) if b] + [(-(b * v + c) / a, v) for v in (bottom, top) if a]
        inside = [(h, v) for h, v in ends if left <= h <= right and bottom <= v <= top]
        inside.sort(key=lambda place: place[0] * b - place[1] * a)
        if len(inside) > 1:
            self.path(key, [inside[0], inside[-1]], role)

    def arrow(self, key: str, tail: Place, tip: Place, role: str = "arrow") -> None:
        """Draw an arrow."""
        (x, y), (h, v) = self.at(tail), self.at(tip)
        size = math.hypot(h - x, v - y) / (7 * self.mm) or 1.0
        run, rise = (h - x) / size, (v - y) / size
        barbs = [(h - run + side * rise * 0.45, v - rise - side * run * 0.45) for side in (1, -1)]
        self.path(key, [(x, y), (h, v), barbs[0], (h, v), barbs[1]], role)

    def angle(self, key: str, tip: Pair, first: Pair, second: Pair, size: float, text: str) -> None:
        """Draw an arc from one leg of an angle, to the left round to the other, with its letter."""
        start, end = (math.atan2(leg[1] - tip[1], leg[0] - tip[0]) for leg in (first, second))
        turns = [start + k / 16 * ((end - start) % math.tau) for k in range(17)]
        arc = [(tip[0] + size * math.cos(turn), tip[1] + size * math.sin(turn)) for turn in turns]
        self.path(key, arc, "dimension")
        self.label(f"{key} letter", arc[8], text, "note")

    def dimension(self, key: str, start: Place, end: Place, text: str, part: float = 0.5) -> None:
        """Draw a measure between two places, with its number beside the middle, or another part of the way.

        Where there is nothing to measure, the number stands alone.
        """
        (x, y), (h, v) = self.at(start), self.at(end)
        if size := math.hypot(h - x, v - y) / (4 * self.mm):
            run, rise = (h - x) / size, (v - y) / size
            ticks = [((a - run + rise, b - rise - run), (a + run - rise, b + rise + run)) for a, b in ((x, y), (h, v))]
            self.path(key, [*ticks[0], (x, y), (h, v), *ticks[1]], "dimension")
        self.label(f"{key} number", (x + part * (h - x), y + part * (v - y)), text, "note")

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
            return self.named(key, goal, name, role)
        a = self.at(start)
        b = self.at(hint) if hint is not None else (a[0] + (0 if self.view == "front" else 1), a[1])
        run, rise = self.toward(a, b, goal)
        length = self.edge(a, (run, rise)) - 4 * self.mm
        tail, tip = max(0.0, length - 34 * self.mm), length
        foot, head = ((a[0] + t * run, a[1] + t * rise) for t in (tail, tip))
        self.arrow(f"{key} arrow", foot, head, "result arrow" if role == "result" else "arrow")
        where = whereabouts(self.view, self.flat(goal), units=self.units)
        if not self.roomy:  # a small frame has room for the distance alone
            where = where.split(",")[0].replace("to the ", "")
        between = "\n" if self.roomy or len(f"{name} {where}") > 18 else " "
        self.label(f"{key} name", foot, f"{name}{between}{where}", "result name" if role == "result" else "note")

    def until(self, step: int) -> None:
        """Take back what comes after a step of the construction; draw that step's own lines in the accent."""
        fresh = {"construction": "result", "meet": "result point"}
        kept = [mark for mark in self.marks if mark.step <= step]
        self.marks = [replace(m, role=fresh.get(m.role, m.role)) if m.step == step else m for m in kept]
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
    if all(type(part) is float for part in parts):  # nearly always, and then told at once
        return parts
    if any(is_array(part) or is_symbolic(part) for part in parts):
        kind = "an array" if any(map(is_array, parts)) else "a symbol"
        raise SusgeoError(f"A drawing shows one car, but one of its coordinates is {kind}; give it numbers.")
    return [float(part) for part in parts]


def is_far(h: float, v: float, w: float) -> bool:
    """Tell whether a place is to be called infinitely far, for words and arrows: beyond 1000 km."""
    return math.hypot(h, v) > abs(w) * 1e9


def whereabouts(view: View, place: tuple[float, float, float], long: bool = False, units: str = "mm") -> str:
    """Say where a place (right, up, weight) of a drawing is, in m, or in inches.

    >>> whereabouts("side", (1630, 410, 1))
    '1.63 m ahead, 0.41 m up'
    >>> whereabouts("side", (1630, 410, 1), long=True)
    '1.63 m ahead of the wheels, 0.41 m above the ground'
    >>> whereabouts("side", (1630, 410, 1), units="in")
    '64.2 in ahead, 16.1 in up'
    >>> whereabouts("side", (1, 0.1, 0))
    'at infinity'
    """
    h, v, w = place
    if is_far(h, v, w):
        return "at infinity"
    if long:
        aside = "left of the center line", "right of the center line"
        along, rise = ("ahead of the wheels", "behind the wheels"), ("above the ground", "below the ground")
    else:
        aside, along, rise = ("to the left", "to the right"), ("ahead", "behind"), ("up", "below ground")
    ends = aside[::-1] if view == "front" else along
    rises = aside if view == "plan" else rise
    words = []
    for length, (plus, minus), centered in ((h / w, ends, view == "front"), (v / w, rises, view == "plan")):
        if centered and abs(length) < 0.5:
            words.append("on the center line" if long else "")
        else:
            near = f"{abs(length) / MM_PER_INCH:.1f} in" if units == "in" else f"{abs(length) / 1000:.2f} m"
            size = near if abs(length) < 1e6 else "more than 1 km"
            words.append(f"{size} {plus if length >= 0 else minus}")
    return ", ".join(filter(None, words))
