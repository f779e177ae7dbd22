"""The picture of a body that leans: from behind, with the arm H, the springs, and what each tire gains or loses by."""

import math

from ..car.car import Car
from ..loads.cornering import GRAVITY, cornering, moment_arm
from .drawings import OPENINGS, TITLES
from .live_parts import TIRE_WIDTH, block, ground, zigzag
from .picture import Panel, Picture
from .scenes import axis_height, body_share
from .sketch import Pair, Sketch


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
