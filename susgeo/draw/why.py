"""Pictures for the why of a lesson: a motion or a force that its formula stands for; parts for ``draw`` and ``bench``."""

from ..car.axle import LiveAxle
from .live_parts import middle, words_for
from .sketch import Sketch


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
    sketch.spot(
        "Q", meeting, name, middle(left.axle, right.axle), middle(left.chassis, right.chassis), "meet"
    )
    sketch.say(f"The lower links meet {words_for(sketch, meeting)}: Q.")
