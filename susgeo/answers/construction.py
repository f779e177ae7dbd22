"""The construction of a calculation drawn to scale, and what a slip makes of it laid over it in the second color."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from ..car.car import Car
from ..draw.drawings import TITLES
from ..draw.live_parts import scenery
from ..draw.look import SECOND
from ..draw.picture import Panel, Picture
from ..draw.scenes import windows
from ..draw.sketch import Pair, Sketch, Window
from ..geometry.flat import VIEWS
from .calculation import Calculation, evaluate, read
from .figures import POINTS

ZERO: dict[str, str] = {"O": "xz", "C": "z", "P": "y", "Q": "y", "R": "xy", "D": "x", "E": "x"}
"""Coordinates that are zero by what a point is: contact patches, points of the center line, of x = 0."""
ON_THE_AXLE = (".axle", ".ball_joint", ".lower_point")
"""How the place of a joint ends that moves with the wheel; the others are on the body."""
SLIP = SECOND | {"construction": "other result", "meet": "other point", "note": "other name"}
FAR = {"h": 3500, "v": 1500}
"""Points beyond these, in mm, do not widen the paper; an arrow points at them."""
CLOSEST = 60
"""The least width of a drawing, in mm, when it is enlarged to show where two constructions part."""

ALIKE = 30
"""Two constructions look alike if nothing on the paper parts by more than the paper's width over this."""


def place(calculation: Calculation, code: str, values: Mapping[str, float]) -> Pair:
    """Return where a point code stands in the calculation's drawing: right and up in mm."""
    axes = VIEWS[calculation.view]
    if code in calculation.at:
        found = [evaluate(read(formula), values) for formula in calculation.at[code]]
    else:
        known = {f"{axis}_{code}": 0.0 for axis in ZERO.get(code, "")} | dict(values)
        found = [known[f"{axis}_{code}"] for axis in axes]
    return (-found[0] if calculation.view == "front" else found[0]), found[1]


def draw_construction(
    calculation: Calculation, car: Car, cases: Sequence[tuple[str, Mapping[str, float]]]
) -> Picture | None:
    """Draw a calculation's construction; of two cases the second is laid over the first, where they part.

    Args:
        calculation: with links, lines and a point to draw.
        car: the car whose axle stands behind it, and whose unit of length is on its scales.
        cases: each a title and the values it comes out with: what is asked for, and what a slip makes of it.

    Returns:
        None where there is nothing to draw, or where two cases look the same.
    """
    ends_of = (code for pair in (*calculation.links, *calculation.lines) for code in pair)
    codes = [*dict.fromkeys(filter(None, (*ends_of, calculation.point)))]
    ends = [POINTS[code][0].split(".")[0] for code in codes if code in POINTS] or ["rear"]
    axle = getattr(car, ends[0], None)
    if axle is None or not calculation.lines:
        return None
    places = [{code: place(calculation, code, values) for code in codes} for _, values in cases]
    parted = {code: both for code in codes if len({*(both := tuple(found[code] for found in places))}) > 1}
    if len(cases) > 1 and not parted:
        return None
    view: Any = calculation.view
    window = _around(windows([axle], (view,))[view], [at for found in places for at in found.values()])
    if view == "plan" and all(not at[1] < 0 for found in places for at in found.values()):
        window = (*window[:2], -150.0, window[3])  # the right half is the left one's mirror image
    title, enlarged = cases[0][0] or TITLES[view], False
    if len(cases) > 1:
        window, enlarged = _enlarged(window, parted, calculation.point)
        slip = f"{cases[1][0][:1].lower()}{cases[1][0][1:]}"
        title = f"{title}; in blue: {slip}{'; enlarged' if enlarged else ''}"

    def paint(sketch: Sketch) -> None:
        scenery(sketch, axle)
        for number, (name, _) in enumerate(cases):
            aside = sketch.aside()
            aside.say(f"{name or TITLES[view]}.")
            _sketch(aside, calculation, places[number], enlarged)
            sketch.sentences += aside.sentences
            drawn = {(mark.role, mark.points) for mark in sketch.marks}
            aside.marks = [mark for mark in aside.marks if (mark.role, mark.points) not in drawn]
            sketch.include(aside, ("right", "slip")[number], SLIP if number else None)

    return Picture([[Panel(view, view, window, title)]], 760, tallest=420, units=car.units).draw(paint)


def draw_slip(
    calculation: Calculation, car: Car, known: Mapping[str, float], title: str, put: Mapping[str, str]
) -> Picture | None:
    """Draw what comes out with some lines replaced over the right construction."""
    cases = [("What is asked for", calculation.values(known)), (title, calculation.values(known, put))]
    return draw_construction(calculation, car, cases)


def _sketch(sketch: Sketch, calculation: Calculation, places: Mapping[str, Pair], enlarged: bool) -> None:
    """Sketch links, lines and the points they lead to; on an enlarged drawing no arrow tells of points outside."""
    joints = [code for pair in calculation.links for code in pair]
    for one, other in calculation.links:
        sketch.path(f"{one} {other}", (places[one], places[other]))
    for code in dict.fromkeys(joints):
        role = "meet" if code not in POINTS else "axle end" if POINTS[code][0].endswith(ON_THE_AXLE) else "chassis end"  # fmt: skip
        if sketch.shows(places[code]):
            sketch.dot(code, places[code], role)
            sketch.label(f"{code} name", places[code], code)
    ends = {code: pair[0] for pair in calculation.lines[::-1] for code in pair if code not in joints}
    for one, other in calculation.lines:
        a, b = places[one], places[other]
        if all(map(math.isfinite, (*a, *b))) and a != b:
            sketch.reach(f"{one} {other} line", a, a, b)
    for code, start in (ends | ({calculation.point: calculation.lines[0][0]} if calculation.point else {})).items():
        at, found = places[code], code == calculation.point
        if all(map(math.isfinite, at)) and (sketch.shows(at) or sketch.shows(places[start]) and not enlarged):
            sketch.spot(code, at, code, places[start], role="result" if found else "meet")
        if found and all(map(math.isfinite, at)):
            across, up = VIEWS[calculation.view]
            shown = (-at[0] if calculation.view == "front" else at[0]), at[1]
            one, two = map(sketch.long, shown)
            sketch.say(f"{code} lies at {across} = {one}, {up} = {two}.")


def _around(window: Window, places: Sequence[Pair]) -> Window:
    """Widen a window to points that are not far."""
    left, right, bottom, top = window
    for h, v in places:
        if abs(h) < FAR["h"] and abs(v) < FAR["v"]:
            left, right = min(left, h - 120), max(right, h + 120)
            bottom, top = min(bottom, v - 120), max(top, v + 120)
    return left, right, bottom, top


def _enlarged(window: Window, parted: Mapping[str, Sequence[Pair]], point: str) -> tuple[Window, bool]:
    """Return the part of a window around places that part, where that is so small that one sees more; and whether it is.

    Where the two constructions can hardly be told apart in the window, it is the part around the point that is found.
    """
    left, right, bottom, top = window
    inside = {code: [left <= h <= right and bottom <= v <= top for h, v in both] for code, both in parted.items()}
    gaps = [math.dist(*parted[code]) for code, both in inside.items() if any(both)]
    if all(inside.get(point, [False])) and max(gaps) < (right - left) / ALIKE:
        places = parted[point]
    elif all(all(both) for both in inside.values()):
        places = [at for both in parted.values() for at in both]
    else:
        return window, False
    hs, vs = zip(*places, strict=True)
    high = max(1.6 * (max(vs) - min(vs)), CLOSEST / 2)
    wide = max(1.6 * (max(hs) - min(hs)), 2 * high)
    high = max(high, wide / 4)
    if 1.5 * wide > right - left:
        return window, False
    h, v = (max(hs) + min(hs)) / 2, (max(vs) + min(vs)) / 2
    return (h - wide / 2, h + wide / 2, v - high / 2, v + high / 2), True
