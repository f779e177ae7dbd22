"""The picture of roll steer: an axle from above that turns as the body leans."""

import math
from typing import Any

from ..geometry.measure import coordinates
from ..geometry.space import Point
from ..travel.live import solve_travel
from .drawings import OPENINGS, TITLES
from .live_parts import TIRE_WIDTH
from .picture import Panel, Picture
from .scenes import windows
from .sketch import Pair, Sketch


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
            sketch.path(link.name, [leaning(link.axle), link.chassis])
            sketch.dot(f"{link.name} axle end", leaning(link.axle), "axle end")
            sketch.dot(f"{link.name} chassis end", link.chassis, "chassis end")
        ahead = leaning(Point(300, 0, radius))
        sketch.arrow("heading", leaning(Point(0, 0, radius)), ahead, "result arrow")
        sketch.label("heading word", ahead, f"points {way}", "result name")
        sketch.say(f"The body leans by {abs(math.degrees(lean)):.1f} deg; the axle turns {abs(degrees):.3f} deg "
                   f"to the {way}, drawn {times:g} times as large.")  # fmt: skip

    panel = Panel("plan", "plan", windows([axle], ("plan",), 0)["plan"], TITLES["plan"], scale=False)
    return Picture([[panel]], 320, {"ghost": "body level"}, tallest=420).draw(paint)
