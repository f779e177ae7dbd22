"""Drawn backwards: from the number that is wanted to the place of the bracket that gives it; parts for ``draw.steps``."""

from collections.abc import Callable

from ..car.axle import LiveAxle
from ..car.car import Car, weighed
from ..car.front import Arm, IndependentFront
from ..geometry.flat import FlatLine, FlatPoint
from ..geometry.incidence import join, meet, project
from ..geometry.measure import coordinates
from ..geometry.space import WHEEL_PLANE
from .sketch import Sketch


def back_to_bar(height: float) -> Callable[[Sketch, LiveAxle], None]:
    """Return a part that goes from a wanted rear roll center, in mm, to where the bar must cross the center line."""

    def part(sketch: Sketch, axle: LiveAxle) -> None:
        wanted, center = FlatPoint("side", 0, height), project(axle.convergence("lower"), "side")
        axis, place = join(wanted, center), FlatLine("side", 1, 0, -coordinates(axle.locator_point)[0])
        sketch.step(f"Mark the wanted roll center R, here at {height:g} mm.")
        sketch.dot("R", wanted)
        sketch.label("R name", wanted, "R", "result name")
        sketch.step("Join it with Q, where the lower links meet.")
        sketch.line("axis", axis, "construction")
        sketch.spot("Q", center, "Q", wanted, role="meet")
        sketch.step("Go back to the bar's place: there it must cross.")
        sketch.spot("bar", meet(axis, place), "bar", wanted)

    return part


def back_to_upper(percent: float) -> Callable[[Sketch, Car], None]:
    """Return a part that goes from a wanted anti-squat, in percent, to the upper link's bracket."""

    def part(sketch: Sketch, car: Car) -> None:
        rear, ahead = car.rear, float(car.wheelbase)
        assert rear is not None
        share = (ahead, percent / 100 * float(weighed(car).cg_height))
        lower, upper = rear.lower[0], rear.upper[0]
        line = join(FlatPoint("side", 0, 0), FlatPoint("side", *share))
        center, axle_end = meet(line, project(lower.line, "side")), project(upper.axle, "side")
        bracket = meet(join(axle_end, center), FlatLine("side", 1, 0, -coordinates(upper.chassis)[0]))
        sketch.step(f"Mark {percent:g} % of h over the front wheels; join it with the rear contact patch.")
        sketch.dot("share", share, "meet")
        sketch.label("share name", share, f"{percent:g} %", "note")
        sketch.path("wanted line", [(0.0, 0.0), share], "construction")
        sketch.step("Extend the lower link to that line: the instant center.")
        sketch.reach("lower line", lower.axle, lower.chassis, center)
        sketch.spot("center", center, "IC", lower.axle, role="meet")
        sketch.step("Join it with the upper link's axle end: on that line the bracket belongs.")
        sketch.path("upper line", [axle_end, center], "construction")
        sketch.spot("bracket", bracket, "bracket", axle_end)

    return part


def back_to_ball(height: float) -> Callable[[Sketch, IndependentFront], None]:
    """Return a part that goes from a wanted front roll center, in mm, to the ball joint of the lower arm."""

    def part(sketch: Sketch, axle: IndependentFront) -> None:
        wanted, patch = FlatPoint("front", 0, height), project(axle.contact_patch, "front")
        normal, pivot = project(meet(axle.upper.plane, WHEEL_PLANE), "front"), project(axle.lower.front_pivot, "front")
        center = meet(join(patch, wanted), normal)
        upright = FlatLine("front", 1, 0, -coordinates(axle.lower.ball_joint)[1])
        upper = axle.upper.ball_joint if isinstance(axle.upper, Arm) else axle.upper.top_mount
        start = meet(normal, FlatLine("front", 1, 0, -coordinates(upper)[1]))
        sketch.step(f"Join the contact patch with the wanted roll center R, here at {height:g} mm.")
        sketch.dot("R", wanted, "meet")
        sketch.label("R name", wanted, "R", "note")
        sketch.reach("patch line", patch, patch, center)
        sketch.step("Where it meets the line square to the strut is the instant center.")
        sketch.reach("normal", start, start, center)
        sketch.spot("center", center, "IC", pivot, role="meet")
        sketch.step("Join it with the arm's pivots: on that line the ball joint belongs.")
        ball = meet(join(pivot, center), upright)
        sketch.reach("arm line", ball, ball, center)
        sketch.spot("ball joint", ball, "ball joint", pivot)

    return part
