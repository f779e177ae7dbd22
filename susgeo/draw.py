"""Drawings of axles and cars with their constructions, to scale, one line at a time if wanted.

``draw.axle(car.rear)`` in the last line of a notebook cell shows the drawing. Forward is to the right in
every side and plan view; the front view is seen from behind, so that left is left. What a drawing shows
beyond the links is a list of parts: names from :data:`PARTS`, or functions of one's own that take a sketch
and an axle.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from .axle import LiveAxle
from .errors import SusgeoError
from .flat import FlatPoint, View
from .links import Link
from .locators import MumfordLinkage, PanhardBar, WattsLinkage
from .measure import coordinates
from .paper import GHOST, SECOND, Painter, Panel, Picture, Sketch, Window, plain, whereabouts
from .space import Point

Part = Callable[[Sketch, LiveAxle], None]

TITLES = {"side": "Side view", "plan": "Plan view, from above", "front": "Front view, seen from behind"}
OPENINGS = {
    "side": "Side view, forward to the right.",
    "plan": "Plan view, forward to the right, the left side of the car above.",
    "front": "Front view, seen from behind.",
}
TIRE_WIDTH = 180.0  # drawn, not measured


# What there is


def scenery(sketch: Sketch, axle: Any) -> None:
    """Draw ground, center line, wheels and axle beam."""
    left, right, bottom, top = sketch.window
    radius, half = float(axle.tire_radius), float(axle.track) / 2
    if sketch.view == "plan":
        for side in (1, -1):
            _block(sketch, f"tire {side}", 0, side * half, radius, TIRE_WIDTH / 2)
        sketch.path("beam", [(0, -half), (0, half)], "beam")
        sketch.path("center line", [(left, 0), (right, 0)], "center line")
    else:
        ground(sketch)
        if sketch.view == "side":
            circle = [(radius * math.cos(t), radius + radius * math.sin(t)) for t in _turn(72)]
            sketch.path("tire", circle, "tire")
        else:
            for side in (1, -1):
                _block(sketch, f"tire {side}", side * half, radius, TIRE_WIDTH / 2, radius)
            sketch.path("beam", [(-half, radius), (half, radius)], "beam")
            sketch.path("center line", [(0, bottom), (0, top)], "center line")


def ground(sketch: Sketch) -> None:
    """Draw the ground with its hatching."""
    left, right, bottom, _ = sketch.window
    sketch.path("ground", [(left, 0), (right, 0)], "ground")
    step, size = 12 * sketch.mm, 7 * sketch.mm
    zigzag: list[tuple[float, float]] = []
    for k in range(math.ceil(left / step), math.floor(right / step) + 1):
        zigzag += [(k * step, 0), (k * step - size, max(bottom, -size)), (k * step, 0)]
    sketch.path("hatch", zigzag, "hatch")


def links(sketch: Sketch, axle: LiveAxle) -> None:
    """Draw every link and the locator, heavy, with filled joints on the axle and open ones on the chassis."""
    for height in ("lower", "upper"):
        group: tuple[Link, ...] = getattr(axle, height)
        one_line = len(group) == 2 and axle.is_symmetric and sketch.view == "side"
        for link in group[:1] if one_line else group:
            rod(sketch, link.name, link.axle, link.chassis)
        if group:
            word = f"{height} links" if len(group) == 2 else f"{height} link"
            sketch.label(f"{height} word", _middle(group[0].axle, group[0].chassis), word)
    locator(sketch, axle)


def rod(sketch: Sketch, name: str, axle_end: Point, chassis_end: Point) -> None:
    """Draw one link."""
    sketch.path(name, [axle_end, chassis_end])
    sketch.dot(f"{name} axle end", axle_end, "axle end")
    sketch.dot(f"{name} chassis end", chassis_end, "chassis end")


def locator(sketch: Sketch, axle: LiveAxle) -> None:
    """Draw what holds the axle sideways; from the side one sees only the ends of its joints."""
    held = axle.locator
    if isinstance(held, PanhardBar):
        rod(sketch, "Panhard bar", held.axle, held.chassis)
    elif isinstance(held, WattsLinkage):
        on_axle = held.pivot_on == "axle"
        sketch.path("crank", [held.left_crank, held.right_crank])
        sketch.dot("pivot", held.pivot, "axle end" if on_axle else "chassis end")
        for side in ("left", "right"):
            ends = getattr(held, f"{side}_crank"), getattr(held, f"{side}_end")
            sketch.path(f"{side} rod", ends)
            sketch.dot(f"{side} rod end", ends[1], "chassis end" if on_axle else "axle end")
    elif isinstance(held, MumfordLinkage):
        for side in ("left", "right"):
            pivot, crank, end, center = (
                getattr(held, f"{side}_{part}") for part in ("pivot", "crank", "end", "center")
            )
            sketch.path(f"{side} crank", [crank, pivot, center])
            sketch.path(f"{side} rod", [crank, end])
            sketch.dot(f"{side} pivot", pivot, "chassis end")
            sketch.dot(f"{side} rod end", end, "axle end")
        sketch.path("center link", [held.left_center, held.right_center])
    if held is not None and sketch.view != "side":
        ends = {"PanhardBar": ("axle", "chassis"), "WattsLinkage": ("right_crank", "right_end")}.get(
            type(held).__name__, ("right_crank", "right_end")
        )
        sketch.label("locator word", _middle(*(getattr(held, end) for end in ends)), axle.locator_name)


# What one constructs


def instant_center(sketch: Sketch, axle: LiveAxle) -> None:
    """Extend the lower and the upper link in the side view to the instant center."""
    if sketch.view != "side" or not (axle.lower and axle.upper):
        return
    center = axle.side_view_instant_center
    if axle.is_symmetric:
        for height in ("lower", "upper"):
            link = getattr(axle, height)[0]
            sketch.step(f"Extend the {height} link's line.")
            sketch.reach(f"{height} line", link.axle, link.chassis, center)
        sketch.step("Where they meet is the instant center.")
    ends = [getattr(axle, height)[0] for height in ("lower", "upper")]
    start, hint = _middle(*(link.axle for link in ends)), _middle(*(link.chassis for link in ends))
    sketch.spot("instant center", center, "instant center", start, hint)
    place = _words(sketch, center)
    if place == "at infinity":
        sketch.say("The lower and upper link lines are parallel and meet at infinity.")
    else:
        sketch.say(f"The lower and upper link lines meet {place}: the instant center.")


def convergence(sketch: Sketch, axle: LiveAxle) -> None:
    """Extend each pair of links in the plan view to the point where it meets."""
    if sketch.view != "plan" or not axle.is_symmetric:
        return
    for height in ("lower", "upper"):
        group = getattr(axle, height)
        if len(group) != 2:
            continue
        meeting = axle.convergence(height)
        sketch.step(f"Extend the {height} links' lines.")
        for link in group:
            sketch.reach(f"{link.name} line", link.axle, link.chassis, meeting)
        name = f"{height} links meet"
        start, hint = _middle(*(link.axle for link in group)), _middle(*(link.chassis for link in group))
        sketch.spot(f"{height} meeting", meeting, name, start, hint, role="meet")
        place = _words(sketch, meeting)
        if place == "at infinity":
            sketch.say(f"The {height} links are parallel in plan and meet at infinity.")
        else:
            sketch.say(f"The {height} links meet {place.split(',')[0]}, on the center line.")


def roll_axis(sketch: Sketch, axle: LiveAxle) -> None:
    """Join the points through which the axle is held, and read the roll center in the wheel-center plane."""
    if sketch.view == "plan":
        return
    axis = axle.roll_axis
    if sketch.view == "side":
        if axle.is_symmetric:
            for name, point in axle.axis_points:
                meet = "meet" if name.endswith("links") else "crosses the center plane"
                sketch.step(f"Mark where the {name} {meet}.")
                start = (0.0, _height(axle))
                words = f"{name} meet" if name.endswith("links") else name
                sketch.spot(
                    f"{name} point", point, words, start, (1.0, _height(axle) + axle.roll_axis_slope), "meet"
                )
        sketch.step("Join them: the roll axis.")
        sketch.line("roll axis", axis)
        sketch.step("Read its height in the wheel-center plane: the roll center.")
        top = sketch.window[3] - 8 * sketch.mm
        sketch.path("wheel plane", [(0, 0), (0, top)], "center line")
        slope = math.degrees(math.atan(axle.roll_axis_slope))
        way = (
            "level"
            if abs(slope) < 0.005
            else f"{'rises' if slope > 0 else 'falls'} toward the front by {abs(slope):.2f} deg"
        )
        sketch.say(f"The roll axis {'is ' if way == 'level' else ''}{way}.")
    sketch.spot("roll center", axle.roll_center, "roll center", (0, 0), (0, 1))
    sketch.say(f"The roll center lies {_words(sketch, axle.roll_center).split(', ')[-1]}.")


def roll_center_height(sketch: Sketch, axle: LiveAxle) -> None:
    """Measure the roll center's height over the ground; for the front view."""
    if sketch.view == "front":
        at, height = 0.28 * sketch.window[0], float(axle.roll_center_height)
        sketch.dimension("roll center height", (at, 0), (at, height), f"{height:.1f} mm")
        sketch.path("roll center level", [(at, height), (0, height)], "dimension")


def locator_point(sketch: Sketch, axle: LiveAxle) -> None:
    """Mark where the sideways force between axle and body crosses the center plane."""
    point = axle.locator_point
    if axle.locator is not None and sketch.view == "front":
        sketch.step(f"Where the {axle.locator_name} crosses the center line is its point.")
        sketch.line("locator line", axle.locator.line, "construction")
    if sketch.shows(point):
        sketch.dot("locator point", point, "meet")


PARTS: dict[str, Part] = {
    "instant center": instant_center,
    "convergence": convergence,
    "locator": locator_point,
    "roll axis": roll_axis,
    "roll center height": roll_center_height,
}
"""The constructions by name."""

USUAL = ("instant center", "convergence", "roll axis")
"""What a drawing shows unless told otherwise."""


# Whole drawings


def windows(axles: Sequence[Any], views: Sequence[str], reach: float | None = None) -> dict[str, Window]:
    """Return the part of each view that shows the axles whole, and ahead of them as far as ``reach`` mm."""
    points = [point for axle in axles for point in _joints(axle)]
    places = [(x / w, y / w, z / w) for x, y, z, w in map(plain, points)]
    radius = max(float(axle.tire_radius) for axle in axles)
    half = max(float(axle.track) for axle in axles) / 2 + TIRE_WIDTH / 2 + 90
    front = max(x for x, _, _ in places)
    if reach is None:
        reach = 1150.0 if "front" in views and "side" in views else 2000.0
    ahead = max(front + 150, reach)
    behind = -max(radius + 110, 110 - min(x for x, _, _ in places))
    top = max(2 * radius + 110, max(z for _, _, z in places) + 150)
    return {
        "side": (behind, ahead, -90.0, top),
        "plan": (behind, ahead, -half, half),
        "front": (-half, half, -90.0, top),
    }


def painter(
    axle: LiveAxle,
    show: Iterable[str | Part] = USUAL,
    other: LiveAxle | None = None,
    ghost: LiveAxle | None = None,
    step: int | None = None,
) -> Painter:
    """Return a function that sketches an axle in any view: what a picture, or a bench, draws.

    Args:
        axle: the axle.
        show: parts by name, or functions of (sketch, axle).
        other: a second axle to compare with, drawn dashed in blue.
        ghost: the same axle at rest, kept as a faint shadow.
        step: how many lines of the construction to draw; None draws all.
    """
    parts = [_part(part) for part in show]

    def paint(sketch: Sketch) -> None:
        sketch.say(OPENINGS[sketch.view])
        scenery(sketch, axle)
        for extra, prefix, roles, shown in ((ghost, "at rest", GHOST, ()), (other, "second", SECOND, parts)):
            if extra is not None:
                aside = Sketch(sketch.view, sketch.window, sketch.mm)
                for part in (links, *shown):
                    part(aside, extra)
                sketch.include(aside, prefix, roles)
        for part in (links, *parts):
            part(sketch, axle)
        if step is not None:
            sketch.until(step)

    return paint


def usual(views: Sequence[str]) -> tuple[str, ...]:
    """Return the parts that views have room for: side by side they are too small for the instant center."""
    return USUAL[1:] if {"side", "front"} <= set(views) else USUAL


def axle(
    axle: LiveAxle,
    views: Sequence[View] = ("side",),
    show: Iterable[str | Part] | None = None,
    *,
    step: int | None = None,
    other: LiveAxle | None = None,
    ghost: LiveAxle | None = None,
    names: Mapping[str, str] | None = None,
    reach: float | None = None,
    width: int = 760,
) -> Picture:
    """Draw an axle and its constructions, to one scale.

    Args:
        axle: the axle; its coordinates are numbers.
        views: any of "side", "plan", "front"; the plan stands below the side view, the front view beside it.
        show: parts of :data:`PARTS` by name, or functions of (sketch, axle) of your own; None takes what
            the views have room for.
        step: how many lines of the construction to draw; None draws all.
        other: a second axle to compare with, dashed in blue.
        ghost: an earlier position of the same axle, as a faint shadow.
        names: words for the legend, such as {"other link": "parallel four links"}.
        reach: how far ahead of the wheels the paper goes, in mm.
        width: of the drawing in pixels.

    A meeting point beyond the edge of the paper is an arrow with its distance. Alt text comes from the
    geometry.
    """
    picture = frame(axle, views, other=other, ghost=ghost, names=names, reach=reach, width=width)
    return picture.draw(painter(axle, usual(views) if show is None else show, other, ghost, step))


def frame(
    axle: Any,
    views: Sequence[View],
    *,
    other: Any = None,
    ghost: Any = None,
    names: Mapping[str, str] | None = None,
    room: Sequence[Any] = (),
    reach: float | None = None,
    width: int = 760,
) -> Picture:
    """Return the empty picture for an axle: its panels, their scale and the legend.

    The paper is large enough for the axle, the second one, its rest position, and all those in ``room``.
    """
    unknown = [view for view in views if view not in TITLES]
    if unknown or not views:
        raise SusgeoError(
            f"There is no view {unknown[0] if unknown else '(none)'!r}; choose from {', '.join(TITLES)}."
        )
    shown = [thing for thing in (axle, other, ghost, *room) if thing is not None]
    area = windows(shown, views, reach)
    upper = [Panel(view, view, area[view], TITLES[view]) for view in views if view != "plan"]
    lower = [Panel(view, view, area[view], TITLES[view]) for view in views if view == "plan"]
    legend = {}
    if ghost is not None:
        legend["ghost"] = "at rest"
    if other is not None:
        legend |= {"link": "this axle", "other link": "second axle"}
    return Picture([row for row in (upper, lower) if row], width, legend | dict(names or {}))


def strip(
    axles: Sequence[LiveAxle],
    view: View,
    captions: Sequence[str],
    show: Iterable[str | Part] = USUAL,
    *,
    ghost: LiveAxle | None = None,
    across: int = 3,
    reach: float | None = None,
    width: int = 760,
) -> Picture:
    """Draw several axles, or one in several positions, in one view, like frames of a film.

    Args:
        axles, captions: what to draw, and what stands over each.
        view, show, ghost, reach, width: as for :func:`axle`.
        across: frames in a row.
    """
    area = windows(axles, (view,), reach)[view]
    painters = [painter(axle, show, ghost=ghost) for axle in axles]
    return _frames(painters, view, area, captions, across, width)


def steps(
    axle: LiveAxle,
    view: View,
    show: Iterable[str | Part] = USUAL,
    *,
    across: int = 2,
    reach: float | None = None,
    width: int = 760,
) -> Picture:
    """Draw a construction one line at a time: a frame for each line, with what to do written over it."""
    area = windows([axle], (view,), reach)[view]
    parts = list(show)
    trial = Sketch(view, area)
    painter(axle, parts)(trial)
    captions = [f"{number}. {caption}" for number, caption in enumerate(trial.captions, 1)]
    painters = [painter(axle, parts, step=number) for number in range(1, len(captions) + 1)]
    picture = _frames(painters, view, area, captions, across, width)
    picture.alt = " ".join([trial.sentences[0], "One line at a time.", *captions, *trial.sentences[1:]])
    return picture


def _frames(
    painters: Sequence[Painter], view: View, area: Window, captions: Sequence[str], across: int, width: int
) -> Picture:
    panels = [Panel(f"{number}", view, area, caption, scale=False) for number, caption in enumerate(captions)]

    def paint(sketch: Sketch) -> None:
        number = int(sketch.name)
        painters[number](sketch)
        sketch.sentences.insert(0, f"{captions[number].removesuffix('.')}:")

    return Picture([panels[k : k + across] for k in range(0, len(panels), across)], width).draw(paint)


# Helpers


def _words(sketch: Sketch, place: Point | FlatPoint) -> str:
    return whereabouts(sketch.view, sketch.flat(place), long=True)


def _part(part: str | Part) -> Part:
    if callable(part):
        return part
    if part not in PARTS:
        raise SusgeoError(f"There is no part {part!r} of a drawing; choose from {', '.join(PARTS)}.")
    return PARTS[part]


def _joints(axle: Any) -> list[Point]:
    held = (
        [] if axle.locator is None else [value for value in vars_of(axle.locator) if isinstance(value, Point)]
    )
    return [point for link in (*axle.lower, *axle.upper) for point in (link.axle, link.chassis)] + held


def vars_of(thing: Any) -> list[Any]:
    """Return the fields of a dataclass."""
    return [getattr(thing, name) for name in thing.__dataclass_fields__]


def _middle(first: Point, second: Point) -> Point:
    (a, b, c), (x, y, z) = coordinates(first), coordinates(second)
    return Point((a + x) / 2, (b + y) / 2, (c + z) / 2)


def _height(axle: LiveAxle) -> float:
    return float(axle.roll_center_height)


def _turn(count: int) -> list[float]:
    return [2 * math.pi * k / count for k in range(count)]


def _block(sketch: Sketch, key: str, h: float, v: float, half_width: float, half_height: float) -> None:
    corners = [(h + a * half_width, v + b * half_height) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    sketch.path(key, corners, "tire")
