"""What to sketch of a live axle, and the constructions upon it; see :mod:`susgeo.draw.scenes`."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from ..car.axle import LiveAxle
from ..car.links import Link
from ..car.locators import MumfordLinkage, PanhardBar, WattsLinkage
from ..car.pickup import mapped
from ..geometry.flat import FlatLine, FlatPoint
from ..geometry.incidence import meet, project
from ..geometry.measure import coordinates
from ..geometry.space import Point
from .sketch import Pair, Place, Sketch, whereabouts

Part = Callable[[Sketch, Any], None]
TIRE_WIDTH = 180.0  # drawn, not measured


def has_torque_arm(axle: Any) -> bool:
    """Tell whether the only upper link hangs on an arm of the axle, far from the wheels."""
    return isinstance(axle, LiveAxle) and len(axle.upper) == 1 and abs(axle.upper[0].axle.x) > 2 * axle.tire_radius


def scenery(sketch: Sketch, axle: Any) -> None:
    """Draw ground, center line, wheels, axle beam and torque arm."""
    left, right, bottom, top = sketch.window
    radius, half = float(axle.tire_radius), float(axle.track) / 2
    plan = sketch.view == "plan"
    if not plan:
        ground(sketch)
    if sketch.view == "side":
        wheel(sketch, "tire", 0, radius)
    else:
        for side in (1, -1):
            place = (0, side * half, radius, TIRE_WIDTH / 2) if plan else (side * half, radius, TIRE_WIDTH / 2, radius)
            block(sketch, f"tire {side}", *place)
        if isinstance(axle, LiveAxle):
            sketch.path("beam", [(0, -half), (0, half)] if plan else [(-half, radius), (half, radius)], "beam")
        sketch.path("center line", [(left, 0), (right, 0)] if plan else [(0, bottom), (0, top)], "center line")
    if has_torque_arm(axle):
        sketch.path("torque arm", [Point(0, 0, axle.tire_radius), axle.upper[0].axle])


def ground(sketch: Sketch) -> None:
    """Draw the ground with its hatching."""
    left, right, bottom, _ = sketch.window
    sketch.path("ground", [(left, 0), (right, 0)], "ground")
    step, size = 12 * sketch.mm, 7 * sketch.mm
    feet = [k * step for k in range(math.ceil(left / step), math.floor(right / step) + 1)]
    strokes = [place for foot in feet for place in ((foot, 0), (foot - size, max(bottom, -size)), (foot, 0))]
    sketch.path("hatch", strokes, "hatch")


LEAF_NOTE = "Roll axis and roll steer hold; instant center, anti-squat, anti-lift and pinion angle are not told, since leaves wind up."


def links(sketch: Sketch, axle: LiveAxle) -> None:
    """Draw wheels, beam, links and locator; joints on the axle are filled, those on the chassis open."""
    scenery(sketch, axle)
    for height in ("lower", "upper"):
        group: tuple[Link, ...] = getattr(axle, height)
        one_line = len(group) == 2 and axle.is_symmetric and sketch.view == "side"
        for link in group[:1] if one_line else group:
            rod(sketch, link.name, link.axle, link.chassis)
        if group:
            word = f"{height} links" if len(group) == 2 else f"{height} link"
            if axle.leaves:
                word = "leaf springs as links, pitch held"
                sketch.say(f"On leaf springs, drawn as the links that move alike. {LEAF_NOTE}")
            elif height == "upper" and has_torque_arm(axle):
                word = "front mount of the torque arm"
            sketch.label(f"{height} word", middle(group[0].axle, group[0].chassis), word)
    locator(sketch, axle)


def rod(sketch: Sketch, name: str, axle_end: Place, chassis_end: Place, role: str = "link") -> None:
    """Draw one link."""
    sketch.path(name, [axle_end, chassis_end], role)
    sketch.dot(f"{name} axle end", axle_end, "axle end")
    sketch.dot(f"{name} chassis end", chassis_end, "chassis end")


def locator(sketch: Sketch, axle: LiveAxle) -> None:
    """Draw what holds the axle sideways; from the side one sees only the ends of its joints."""
    held = axle.locator
    if isinstance(held, PanhardBar):
        rod(sketch, "Panhard bar", held.axle, held.chassis)
    elif isinstance(held, WattsLinkage):
        on_axle = held.pivot_on == "axle"
        sketch.path("crank", [held.left_crank, held.right_crank], "crank")
        sketch.dot("pivot", held.pivot, "pivot")  # a ring: the line of force may run through its middle
        for side in ("left", "right"):
            ends = getattr(held, f"{side}_crank"), getattr(held, f"{side}_end")
            sketch.path(f"{side} rod", ends)
            sketch.dot(f"{side} rod end", ends[1], "chassis end" if on_axle else "axle end")
    elif isinstance(held, MumfordLinkage):
        for side in ("left", "right"):
            names = ("pivot", "crank", "end", "center")
            pivot, crank, end, center = (getattr(held, f"{side}_{name}") for name in names)
            sketch.path(f"{side} crank", [crank, pivot, center], "crank")
            sketch.path(f"{side} rod", [crank, end])
            sketch.dot(f"{side} pivot", pivot, "chassis end")
            sketch.dot(f"{side} rod end", end, "axle end")
        sketch.path("center link", [held.left_center, held.right_center])
    if held is not None and sketch.view != "side":
        ends = ("axle", "chassis") if isinstance(held, PanhardBar) else ("right_crank", "right_end")
        sketch.label("locator word", middle(*(getattr(held, end) for end in ends)), axle.locator_name)


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
    start, hint = middle(*(link.axle for link in ends)), middle(*(link.chassis for link in ends))
    sketch.spot("instant center", center, "instant center" if sketch.roomy else "IC", start, hint)
    place = words_for(sketch, center)
    meet_there = "are parallel and meet at infinity" if place == "at infinity" else f"meet {place}: the instant center"
    sketch.say(f"The lower and upper link lines {meet_there}.")


def trials(error: float = 2.0, count: int = 200, seed: int = 1) -> Part:
    """Return a part that marks the instant center of many measurements of the same axle.

    Each joint is off by a random error, within plus or minus ``error`` mm 95 times in 100 (two standard
    deviations), each by itself; the same seed gives the same errors.
    """

    def part(sketch: Sketch, axle: LiveAxle) -> None:
        if sketch.view != "side":
            return
        random = np.random.default_rng(seed)
        many = mapped(axle, lambda _, value: value + error / 2 * random.standard_normal(count))
        x, z = coordinates(many.side_view_instant_center)
        known = np.isfinite(x) & np.isfinite(z)
        sketch.path("trials", zip(x[known].tolist(), z[known].tolist(), strict=True), "trial")
        low, high = np.quantile(x[known], (0.025, 0.975))
        sketch.say(
            f"Of {count} measurements within {error:g} mm, 95 in 100 put the instant center "
            f"from {low / 1000:.2f} to {high / 1000:.2f} m ahead."
        )

    return part


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
        letter = {"lower": "Q", "upper": "P"}[height]
        near = sketch.roomy and sketch.mm < 8  # seen from far the links are short: no room for words beside them
        name = f"{letter}, {height} links meet" if near else letter
        start, hint = middle(*(link.axle for link in group)), middle(*(link.chassis for link in group))
        sketch.spot(f"{height} meeting", meeting, name, start, hint, role="meet")
        place = words_for(sketch, meeting)
        if place == "at infinity":
            sketch.say(f"The {height} links are parallel in plan and meet at infinity.")
        else:
            sketch.say(f"The {height} links meet {place.split(',')[0]}, on the center line.")


def levers(sketch: Sketch, axle: LiveAxle) -> None:
    """Draw the road's push and the heights at which the links' lines pass the upright through the wheel centers."""
    if sketch.view != "side" or not (axle.lower and axle.upper and axle.is_symmetric):
        return
    top = sketch.window[3] - 8 * sketch.mm
    sketch.step("Draw the road's push, on the ground.")
    sketch.arrow("push", (0, 0), (0.9 * float(axle.tire_radius), 0), "result arrow")
    sketch.label("push name", (0.9 * float(axle.tire_radius), 0), "push", "result name")
    sketch.step("Draw the upright through the hub.")
    sketch.path("wheel plane", [(0, 0), (0, top)], "center line")
    heights = {}
    for name, letter in (("lower", "D"), ("upper", "E")):
        link = getattr(axle, name)[0]
        point = meet(project(link.line, "side"), FlatLine("side", 1, 0, 0))
        sketch.step(f"Extend the {name} link to it: {letter}.")
        sketch.reach(f"{name} lever line", link.chassis, link.axle, point)
        if sketch.shows(point):
            sketch.named(letter, point, letter, "meet")
            heights[letter] = sketch.at(point)[1]
    sketch.step(f"Measure both heights, and the gap between them: the levers, in {sketch.units}.")
    room = (72 if sketch.roomy else 42) * sketch.mm  # for a number, in either column
    column = {letter: sketch.window[1] - k * room for k, letter in enumerate("DE", 1)}

    def number(size: float) -> str:
        return sketch.long(size) if sketch.roomy else sketch.long(size).split()[0]

    for letter, height in heights.items():
        at, part = column[letter], heights["D"] / 2 / height if "D" in heights else 0.5  # both numbers below D's level
        sketch.path(f"{letter} level", [(column["D"], height), (0, height)], "dimension")
        sketch.dimension(f"{letter} lever", (at, 0), (at, height), number(height), part=part)
        sketch.say(f"{letter}, on the upright through the wheel centers, lies {sketch.long(height)} above the ground.")
    if len(heights) == 2:
        gap = heights["E"] - heights["D"]
        sketch.dimension("gap", (column["D"], heights["D"]), (column["D"], heights["E"]), number(gap))
        sketch.say(f"The gap between them is {sketch.long(gap)}.")


def roll_axis(sketch: Sketch, axle: LiveAxle) -> None:
    """Join the points through which the axle is held, and read the roll center in the wheel-center plane."""
    if sketch.view == "plan":
        return
    axis = axle.roll_axis
    if sketch.view == "side":
        if axle.is_symmetric:
            for letter, (name, point) in zip("PQ", axle.axis_points, strict=True):
                meet = "meet" if name.endswith("links") else "crosses the center plane"
                sketch.step(f"Mark where the {name} {meet}.")
                start = (0.0, float(axle.roll_center_height))
                hint = (1.0, start[1] + float(axle.roll_axis_slope))
                words = f"{letter}, {name}{' meet' * name.endswith('links')}" if sketch.roomy else letter
                sketch.spot(f"{name} point", point, words, start, hint, "meet")
        sketch.step("Join them: the roll axis.")
        sketch.line("roll axis", axis)
        sketch.step("Read its height in the wheel-center plane: the roll center.")
        top = sketch.window[3] - 8 * sketch.mm
        sketch.path("wheel plane", [(0, 0), (0, top)], "center line")
        slope = math.degrees(math.atan(axle.roll_axis_slope))
        way = f"{'rises' if slope > 0 else 'falls'} toward the front by {abs(slope):.2f} deg"
        sketch.say(f"The roll axis {'is level' if abs(slope) < 0.005 else way}.")
    sketch.spot("roll center", axle.roll_center, "roll center", (0, 0), (0, 1))
    sketch.say(f"The roll center lies {words_for(sketch, axle.roll_center).split(', ')[-1]}.")


def roll_center_height(sketch: Sketch, axle: LiveAxle) -> None:
    """Measure the roll center's height over the ground; for the front view."""
    if sketch.view == "front":
        at, height = -0.12 * sketch.window[0], float(axle.roll_center_height)
        sketch.dimension("roll center height", (at, 0), (at, height), sketch.long(height), part=0.3)  # below the body
        sketch.path("roll center level", [(at, height), (0, height)], "dimension")
        sketch.dot("roll center", axle.roll_center)


def locator_point(sketch: Sketch, axle: LiveAxle) -> None:
    """Mark where the sideways force between axle and body crosses the center plane."""
    point = axle.locator_point
    if axle.locator is not None and sketch.view == "front":
        sketch.step(f"Where the {axle.locator_name} crosses the center line is its point.")
        sketch.line("locator line", axle.locator.line, "construction")
    if sketch.shows(point):
        sketch.dot("locator point", point, "meet")


LIVE: dict[str, Part] = {
    "instant center": instant_center, "convergence": convergence, "levers": levers, "locator": locator_point,
    "roll axis": roll_axis, "roll center height": roll_center_height,
}  # fmt: skip
"""The constructions by name."""


def words_for(sketch: Sketch, place: Point | FlatPoint) -> str:
    return whereabouts(sketch.view, sketch.flat(place), True, sketch.units)


def middle(first: Point, second: Point) -> Point:
    (a, b, c), (x, y, z) = coordinates(first), coordinates(second)
    return Point((a + x) / 2, (b + y) / 2, (c + z) / 2)


def around(count: int) -> list[float]:
    return [2 * math.pi * k / count for k in range(count)]


def wheel(sketch: Sketch, key: str, ahead: float, radius: float) -> None:
    rim = [(ahead + radius * math.cos(t), radius + radius * math.sin(t)) for t in around(72)]
    sketch.path(key, rim, "tire")


def block(sketch: Sketch, key: str, h: float, v: float, half_width: float, half_height: float) -> None:
    corners = [(h + a * half_width, v + b * half_height) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    sketch.path(key, corners, "tire")


def zigzag(sketch: Sketch, key: str, foot: Pair, head: Pair, role: str = "thin link", size: float = 42.0) -> None:
    """Draw a coil spring from the axle to the body."""
    run, rise = head[0] - foot[0], head[1] - foot[1]
    length = math.hypot(run, rise) or 1.0
    places = [foot]
    for k in range(1, 8):
        side = size / length * (1 if k % 2 else -1)
        places.append((foot[0] + k / 8 * run - side * rise, foot[1] + k / 8 * rise + side * run))
    sketch.path(key, [*places, head], role)
