"""Pictures of their own for the why of a lesson: an axle cut free, one that steers as the body leans, a body that leans."""

import math
from typing import Any

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car
from ..geometry.measure import coordinates
from ..geometry.space import Point
from ..loads.cornering import GRAVITY, cornering, moment_arm
from ..loads.forces import TireForces, rod_forces
from ..travel.live import solve_travel
from .drawings import OPENINGS, TITLES
from .live_parts import TIRE_WIDTH, block, ground, links, rod, zigzag
from .picture import Panel, Picture
from .scenes import axis_height, body_share, windows
from .sketch import Pair, Sketch


def free_body(axle: LiveAxle, push: float, reach: float = 1150.0) -> Picture:
    """Draw an axle from the side with every force on it, and below it the same forces end to end: they close.

    Args:
        axle: with two lower links and one or two upper ones.
        push: of the road on both tires together, forward, in N.
        reach: how far the paper goes ahead, in mm.

    >>> from susgeo import load_car
    >>> free_body(load_car("data/three_link.toml").rear, 3450).alt.split(". ")[-1]
    'Laid end to end they close: road 3450 N, upper link 3639 N, tire less springs 752 N, both lower links 7110 N.'
    """
    tension = rod_forces(axle, TireForces((push / 2, 0, 0), (push / 2, 0, 0))).tension
    sums, tails = dict[str, tuple[float, float]](), {}
    for height in ("upper", "lower"):
        group = getattr(axle, height)
        x, z = (
            sum(float(getattr(link.line, way) / link.length * tension[link.name]) for link in group)
            for way in ("dx", "dz")
        )
        sums[height] = x, z
        tails[height] = group[0].axle
    upright = -(sums["upper"][1] + sums["lower"][1])
    word = {height: "both lower links" if height == "lower" else "upper link" if len(axle.upper) == 1 else "both upper links"
            for height in sums}  # fmt: skip
    forces = {"road": (push, 0.0), word["upper"]: sums["upper"], "tire less springs": (0.0, upright),
              word["lower"]: sums["lower"]}  # fmt: skip
    window = windows([axle], ("side",), reach)["side"]
    wide, high = window[1] - window[0], window[3] - window[2]
    corners = np.cumsum([(0.0, 0.0), *forces.values()], axis=0)
    span = np.ptp(corners, axis=0)
    mm = float(min(0.66 * wide / span[0], 0.3 * high / max(span[1], 1.0)))  # of paper for a newton
    shift = -mm * (corners.min(axis=0) + span / 2)

    def paint(sketch: Sketch) -> None:
        if sketch.name == "forces":
            places = [(float(x), float(z)) for x, z in corners * mm + shift]
            for name, start, end in zip(forces, places, places[1:], strict=False):
                sketch.arrow(name, start, end, "result arrow" if "link" in name else "arrow")
                part = 0.7 if "lower" in name else 0.5  # so that the words of two long sides stand apart
                middle = (start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1]))
                sketch.label(f"{name} size", middle, f"{name} {math.hypot(*forces[name]):.0f} N",
                             "result name" if "link" in name else "name")  # fmt: skip
            told = ", ".join(f"{name} {math.hypot(*force):.0f} N" for name, force in forces.items())
            sketch.say(f"Laid end to end they close: {told}.")
            return
        sketch.say(OPENINGS["side"])
        aside = sketch.aside()
        links(aside, axle)
        aside.marks = [mark for mark in aside.marks if mark.role not in ("name", "link", "chassis end")]
        sketch.include(aside, "axle")
        radius = float(axle.tire_radius)
        own: dict[str, Any] = {"road": (0.0, 0.0), "tire less springs": (0.0, radius)}
        own |= {word[height]: sketch.at(tail) for height, tail in tails.items()}
        for name, force in forces.items():
            tail = own[name]
            link, pushes = "link" in name, "link" in name and force[0] < 0  # a push comes from where the link was
            start, end = ((-force[0], -force[1]), (0.0, 0.0)) if pushes else ((0.0, 0.0), force)
            ends = [(tail[0] + x * mm, tail[1] + z * mm) for x, z in (start, end)]
            sketch.arrow(name, ends[0], ends[1], "result arrow" if link else "arrow")
            free = ends[0] if pushes else ends[1]
            sketch.label(f"{name} name", free, name, "result name" if link else "name")
        sketch.say("The axle cut free: where a link was, stands its pull or push along its line.")

    below = -wide / 2, wide / 2, -0.22 * high, 0.22 * high
    first = Panel("side", "side", window, TITLES["side"], scale=False)
    second = Panel("forces", "side", below, "The same forces, end to end", scale=False)
    return Picture([[first], [second]], 540, {}, tallest=360).draw(paint)


def roll_steer(axle: Any, lean: float = math.radians(2), times: float = 20.0) -> Picture:
    """Draw a live axle from above as its body sees it, level (dotted) and leaning by an angle in rad, left side up.

    >>> from susgeo import load_car
    >>> roll_steer(load_car("three_link").rear).alt.split(". ")[-1]
    'The body leans by 2.0 deg; the axle turns 0.124 deg to the right, drawn 20 times as large.'
    """
    state = solve_travel(axle, 0.0, -lean)
    degrees, half, radius = math.degrees(float(state.yaw)), float(axle.track) / 2, float(axle.tire_radius)
    way = "left" if degrees > 0 else "right"

    def leaning(place: Point) -> Pair:
        (x, y, _), (h, v, _) = coordinates(place), coordinates(state.in_body(state.carried(place)))
        return float(x + times * (h - x)), float(y + times * (v - y))

    def paint(sketch: Sketch) -> None:
        sketch.say(OPENINGS["plan"])
        sketch.path("center line", [(sketch.window[0], 0), (sketch.window[1], 0)], "center line")
        shapes = {"beam": [Point(0, -half, radius), Point(0, half, radius)]}
        for side in (1, -1):
            corners = [(radius, 1), (radius, -1), (-radius, -1), (-radius, 1), (radius, 1)]
            shapes[f"tire {side}"] = [Point(x, side * half + y * TIRE_WIDTH / 2, radius) for x, y in corners]
        for key, places in shapes.items():
            sketch.path(f"{key} level", places, "ghost")
            sketch.path(key, map(leaning, places), key.split()[0])
        for link in axle.lower:
            sketch.path(f"{link.name} level", [link.axle, link.chassis], "ghost")
            rod(sketch, link.name, leaning(link.axle), link.chassis)
        ahead = leaning(Point(300, 0, radius))
        sketch.arrow("heading", leaning(Point(0, 0, radius)), ahead, "result arrow")
        sketch.label("heading word", ahead, f"points {way}", "result name")
        sketch.say(f"The body leans by {abs(math.degrees(lean)):.1f} deg; the axle turns {abs(degrees):.3f} deg "
                   f"to the {way}, drawn {times:g} times as large.")  # fmt: skip

    panel = Panel("plan", "plan", windows([axle], ("plan",), 0)["plan"], TITLES["plan"], scale=False)
    return Picture([[panel]], 320, {"ghost": "body level"}, tallest=420).draw(paint)


def leaning_body(car: Car, lateral: float = 3.0, times: float = 4.0) -> Picture:
    """Draw the rear axle and the body above it in a left turn at an acceleration in m/s^2, as paper has it.

    The lean is drawn ``times`` as large. At each tire stand the three parts of its load's change, in N.

    >>> from susgeo import load_car
    >>> leaning_body(load_car("data/live_front.toml")).alt.split(". ")[-1]
    'At each rear tire the links move 594 N, the springs 365 N and the axle itself 153 N.'
    """
    corner, axle = cornering(car, lateral), car.rear
    assert axle is not None  # cornering needs both axles
    lean, half, radius = float(corner.roll) * times, float(axle.track) / 2, float(axle.tire_radius)
    low, height = axis_height(car, body_share(car)), float(moment_arm(car))
    spacing = float(car.rear_springs.spacing) / 2 if car.rear_springs and car.rear_springs.spacing else 0.6 * half

    def turned(h: float, v: float) -> Pair:
        """Return where a place of the level body is: turned about the roll axis, to the right."""
        run, rise = h, v - low
        return run * math.cos(lean) + rise * math.sin(lean), low - run * math.sin(lean) + rise * math.cos(lean)

    def paint(sketch: Sketch) -> None:
        sketch.say(OPENINGS["front"])
        ground(sketch)
        sketch.path("beam", [(-half, radius), (half, radius)], "beam")
        for side in (1, -1):
            block(sketch, f"tire {side}", side * half, radius, TIRE_WIDTH / 2, radius)
        floor, roof, wide = max(radius + 130, low - 60), low + 1.75 * height, 0.88 * half
        sketch.path("center line", [(0, 0), (0, sketch.window[3])], "center line")
        outline = [(-wide, floor), (-wide, 0.62 * roof), (-0.7 * wide, roof), (0.7 * wide, roof), (wide, 0.62 * roof),
                   (wide, floor), (-wide, floor)]  # fmt: skip
        sketch.path("body", [turned(*corner) for corner in outline], "body")
        for side in (1, -1):
            zigzag(sketch, f"spring {side}", (side * spacing, radius), turned(side * spacing, floor))
        sketch.dot("axis", (0, low), "meet")
        sketch.label("axis name", (0, low), "roll axis", "note")
        top = turned(0, low + height)
        sketch.path("H", [(0, low), top], "result")
        sketch.label("H name", (top[0] / 2, (low + top[1]) / 2), "H", "result name")
        sketch.dot("G", top, "weight")
        size = 170.0
        push = (top[0] + 1.6 * size, top[1])
        sketch.arrow("side force", top, push, "result arrow")
        sketch.label("side force name", push, "m_s a", "result name")
        down = (top[0], top[1] - size)
        sketch.arrow("weight", top, down, "arrow")
        sketch.label("weight name", down, "m_s g", "name")
        parts = [("links", corner.rear.geometric), ("springs", corner.rear.elastic), ("axle", corner.rear.unsprung)]
        for side, sign, word in ((1, 1, "outer"), (-1, -1, "inner")):
            foot, tip = (side * half, -10.0), (side * half, -10.0 - 150.0)
            sketch.arrow(f"{word} load", *((tip, foot) if sign > 0 else (foot, tip)), "result arrow")
            told = "\n".join(f"{name} {sign * float(value):+.0f}" for name, value in parts)
            beside = side * (half + TIRE_WIDTH / 2 + (10 if side > 0 else 400)), 0.9 * radius
            sketch.label(f"{word} parts", beside, f"{word} tire [N]\n{told}", "result name")
        sketch.say(f"In a left turn at {lateral / GRAVITY:.2f} g the body leans {math.degrees(abs(float(corner.roll))):.2f} "
                   f"degrees to the right about the roll axis, drawn {times:g} times as large. Its center of gravity "
                   f"stands H = {height:.0f} mm over that axis.")  # fmt: skip
        links, springs, own = (f"{float(value):.0f} N" for _, value in parts)
        sketch.say(f"At each rear tire the links move {links}, the springs {springs} and the axle itself {own}.")

    wide, high = half + 640, low + 1.95 * height + 60
    panel = Panel("front", "front", (-wide, wide, -190.0, high), TITLES["front"], scale=False)
    return Picture([[panel]], 620, {}, tallest=460).draw(paint)
