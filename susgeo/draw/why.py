"""Pictures for the why of a lesson: a motion or a force that its formula stands for; parts for ``draw`` and ``bench``."""

import math

from ..car.axle import LiveAxle
from .live_parts import middle, words_for
from .sketch import Pair, Sketch


def meeting_point(sketch: Sketch, axle: LiveAxle) -> None:
    """Extend the lower links, in any view, to the one point Q where they meet, and say what that view tells of it."""
    left, right = axle.lower
    meeting = axle.convergence("lower")
    for link in (left,) if sketch.view == "side" else (left, right):
        sketch.reach(f"{link.name} line", link.axle, link.chassis, meeting)
    name = "Q"
    if sketch.shows(meeting):
        h, v = sketch.at(meeting)
        name = {"side": f"Q: x {h:.0f}, z {v:.0f}", "plan": f"Q: x {h:.0f}"}.get(sketch.view, "Q")
        if sketch.view == "side":
            sketch.path("plumb line", [(h, 0), (h, v)], "dimension")
    sketch.spot("Q", meeting, name, middle(left.axle, right.axle), middle(left.chassis, right.chassis), "meet")
    sketch.say(f"The lower links meet {words_for(sketch, meeting)}: Q.")


def free_axle(sketch: Sketch, axle: LiveAxle) -> None:
    """Draw the axle cut free under power: the road's push F, the links' V, both with their levers about the center."""
    center = axle.side_view_instant_center
    if sketch.view != "side" or not sketch.shows(center):
        return
    for link in (axle.lower[0], axle.upper[0]):
        sketch.reach(f"{link.name} line", link.axle, link.chassis, center)
    sketch.spot("instant center", center, "instant center", (0, 0))
    (x, z), radius = sketch.at(center), float(axle.tire_radius)
    for name, tip in (("F", (radius, 0.0)), ("V", (0.0, 0.6 * radius))):
        sketch.arrow(name, (0, 0), tip, "result arrow")
        sketch.label(f"{name} name", tip, name, "result name")
    sketch.dimension("x", (0, 2.1 * radius), (x, 2.1 * radius), "x")
    sketch.dimension("z", (x, 0), (x, z), "z")
    sketch.say("The road pushes F forward on the ground; V, tire less spring, pushes up under the wheel center.")


def push_aside(sketch: Sketch, axle: LiveAxle) -> None:
    """Push the axle 100 mm to the left: where the upper links' axle ends go, and by how much each link stretches."""
    if sketch.view != "plan":
        return
    aside = 100.0
    for link in axle.upper:
        (x, y), (h, v) = sketch.at(link.axle), sketch.at(link.chassis)
        sketch.path(f"{link.name} moved", [(x, y + aside), (h, v)], "construction")
        sketch.arrow(f"{link.name} push", (x, y), (x, y + aside), "result arrow")
        grown = math.hypot(h - x, v - y - aside) - math.hypot(h - x, v - y)
        sketch.label(f"{link.name} stretch", ((x + h) / 2, (y + v + aside) / 2), f"{grown:+.0f} mm", "result name")
        sketch.say(f"Pushed {aside:.0f} mm to the left, the {link.name} changes by {grown:+.0f} mm.")


def square_to_links(sketch: Sketch, axle: LiveAxle, up: float = 60.0) -> None:
    """Let the wheel centers rise a little: each joint goes square to its link, the nose of the housing less high.

    Arcs about the chassis ends show where the joints can go. A rise of ``up`` mm turns the axle about its instant
    center, here without the arcs' bend, which is what a small rise does.
    """
    if sketch.view != "side":
        return
    u, v, w = axle.side_view_instant_center
    radius, nose = float(axle.tire_radius), 1.15 * float(axle.tire_radius)

    def moved(x: float, z: float) -> Pair:
        return x + up * float((v - z * w) / -u), z + up * float((u - x * w) / u)

    for link in (axle.lower[0], axle.upper[0]):
        (x, z), (h, up_there) = sketch.at(link.axle), sketch.at(link.chassis)
        reach, start = math.hypot(x - h, z - up_there), math.atan2(z - up_there, x - h)
        turns = [start + (k - 10) * 0.028 for k in range(21)]
        arc = [(h + reach * math.cos(turn), up_there + reach * math.sin(turn)) for turn in turns]
        sketch.path(f"{link.name} arc", arc, "construction")
        sketch.arrow(f"{link.name} way", (x, z), moved(x, z), "result arrow")
    sketch.path("nose", [(0, radius), (nose, radius)], "beam")
    for name, x in (("wheel center", 0.0), ("nose", nose)):
        tip = moved(x, radius)
        sketch.dot(f"{name} place", (x, radius), "other point")
        sketch.arrow(f"{name} way", (x, radius), tip, "result arrow")
        sketch.label(f"{name} rise", tip, f"{name} {tip[1] - radius:+.0f} mm", "result name")
    sketch.say(f"Each joint moves square to its link. The wheel center rises {up:.0f} mm, the nose of the housing "
               f"{moved(nose, radius)[1] - radius:.0f}.")  # fmt: skip
