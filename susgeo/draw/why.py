"""Pictures for the why of a lesson: a motion or a force that its formula stands for; parts for ``draw`` and ``bench``."""

import math
from collections.abc import Callable

from ..car.axle import LiveAxle
from ..car.car import Car, weighed
from ..car.front import Arm, IndependentFront
from ..errors import SusgeoError
from ..geometry.flat import FlatLine, FlatPoint
from ..geometry.incidence import join, meet, project
from ..geometry.measure import coordinates
from ..geometry.space import WHEEL_PLANE
from ..travel.live import Travel, straight_rods
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
    push, hold = 0.5 * x, 0.5 * z  # to scale, so the two together point at the center
    sketch.reach("line", (0, 0), (0, 0), center)
    sketch.path("both", [(0, hold), (push, hold), (push, 0)], "leader")
    for name, tip in (("F", (push, 0.0)), ("V", (0.0, hold)), ("F and V together", (push, hold))):
        sketch.arrow(name, (0, 0), tip, "result arrow")
        sketch.label(f"{name} name", tip, name, "result name")
    sketch.dimension("x", (0, 2.1 * radius), (x, 2.1 * radius), "x")
    sketch.dimension("z", (x, 0), (x, z), "z")
    sketch.say("The road pushes F forward on the ground; V, tire less spring, pushes up under the wheel center.")
    sketch.say("Together they point at the instant center.")


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


def square_to_links(sketch: Sketch, axle: LiveAxle, up: float = 120.0) -> None:
    """Let the wheel centers rise a little: each joint goes square to its link, the nose of the housing less high.

    Arcs about the chassis ends show where the joints can go. A rise of ``up`` mm turns the axle about its instant
    center, here without the arcs' bend, which is what a small rise does.
    """
    if sketch.view != "side":
        return
    center = axle.side_view_instant_center
    u, v, w = center
    radius, nose = float(axle.tire_radius), 1.15 * float(axle.tire_radius)

    def moved(x: float, z: float) -> Pair:
        return x + up * float((v - z * w) / -u), z + up * float((u - x * w) / u)

    for link in (axle.lower[0], axle.upper[0]):
        if sketch.shows(center):
            sketch.reach(f"{link.name} line", link.axle, link.chassis, center)
        (x, z), (h, up_there) = sketch.at(link.axle), sketch.at(link.chassis)
        reach, start = math.hypot(x - h, z - up_there), math.atan2(z - up_there, x - h)
        turns = [start + (k - 10) * 0.028 for k in range(21)]
        arc = [(h + reach * math.cos(turn), up_there + reach * math.sin(turn)) for turn in turns]
        sketch.path(f"{link.name} arc", arc, "construction")
        sketch.arrow(f"{link.name} way", (x, z), moved(x, z), "result arrow")
    sketch.path("nose", [(0, radius), (nose, radius)], "beam")
    sketch.path("nose afterward", [moved(0, radius), moved(nose, radius)], "ghost")
    sketch.spot("instant center", center, "instant center", (0, radius))
    for name, word, x in (("wheel center", "", 0.0), ("nose", "nose ", nose)):
        tip = moved(x, radius)
        sketch.dot(f"{name} place", tip, "other point")
        sketch.label(f"{name} rise", tip, f"{word}{tip[1] - radius:+.0f} mm", "result name")
    sketch.arrow("nose way", (nose, radius), tip, "result arrow")
    if sketch.shows(center):
        sketch.path("nose radius", [(nose, radius), center], "leader")
    sketch.say(f"Each joint moves square to its link. The wheel center rises {up:.0f} mm, the nose of the housing "
               f"{moved(nose, radius)[1] - radius:.0f}.")  # fmt: skip


def bound(sketch: Sketch, travel: Travel) -> None:
    """Lay beside each rod that does not reach its joint the rod as long as it is, its gap drawn 50 times as large."""
    if sketch.view != "plan":
        return
    told = []
    for rod, stretch in zip(straight_rods(travel.moved), map(float, travel.stretch), strict=True):
        (x, y), (h, v) = sketch.at(rod.axle), sketch.at(rod.chassis)
        size = math.hypot(h - x, v - y)
        if abs(stretch) < 0.005:
            continue
        run, rise, aside = (h - x) / size, (v - y) / size, math.copysign(60.0, -y)
        joint, pin = (x - rise * aside, y + run * aside), (h - rise * aside, v + run * aside)
        end = joint[0] + 50 * run * stretch, joint[1] + 50 * rise * stretch
        sketch.path(f"{rod.name} as it is", [pin, end], "other link")
        sketch.arrow(f"{rod.name} gap", end, joint, "result arrow")
        sketch.label(f"{rod.name} gap number", joint, f"{stretch:+.2f} mm", "result name")
        told.append(f"the {rod.name} by {stretch:+.2f} mm")
    turn = f"{math.degrees(travel.roll):.1f} deg of roll"
    sketch.say(f"At {turn} {' and '.join(told)} would have to stretch." if told
               else f"At {turn} every rod reaches its joint.")  # fmt: skip


def all_at_once(rest: Car) -> Callable[[Sketch, Car], None]:
    """Return a part that shows what moved brackets do to all of a car's points at once, from where they were at rest."""

    def points(car: Car) -> dict[str, Pair]:
        rear, front, ahead = car.rear, car.front, float(car.wheelbase)
        if rear is None or front is None:
            raise SusgeoError("This drawing needs a car with both axles.")
        center = rear.side_view_instant_center
        return {"instant center": (float(center.u / center.w), float(center.v / center.w)) if center.w else (math.inf, 0),
                "anti-squat": (ahead, ahead * float(center.v / center.u)),
                "rear": (0.0, float(rear.roll_center_height)), "front": (ahead, float(front.roll_center_height))}  # fmt: skip

    def part(sketch: Sketch, car: Car) -> None:
        was, now = points(rest), points(car)
        for places, role in ((was, "ghost"), (now, "result")):
            sketch.path(f"squat line {role}", [(0.0, 0.0), places["anti-squat"]], role)
            sketch.path(f"roll axis {role}", [places["rear"], places["front"]], role)
        high = float(car.weight.cg_height) if car.weight else 1.0
        words = {"instant center": "instant center", "rear": f"rear {now['rear'][1]:.0f} mm",
                 "front": f"front {now['front'][1]:.0f} mm", "anti-squat": f"anti-squat {100 * now['anti-squat'][1] / high:.0f} %"}  # fmt: skip
        for name, place in now.items():
            if sketch.shows(place):
                if math.dist(place, was[name]) > 3 * sketch.mm and sketch.shows(was[name]):
                    sketch.arrow(f"{name} move", was[name], place, "arrow")
                sketch.named(name, place, words[name])
            elif name == "anti-squat":
                part = sketch.edge((0.0, 0.0), place)
                sketch.label(f"{name} name", (part * place[0], part * place[1]), words[name], "result name")
        sketch.say(f"All at once: {', '.join(one for one in words.values() if one != 'instant center')}.")

    return part


# Drawn backwards: from the number that is wanted to the place of the bracket that gives it; parts for ``draw.steps``.


def back_to_bar(height: float) -> Callable[[Sketch, LiveAxle], None]:
    """Return a part that goes from a wanted rear roll center, in mm, to where the bar must cross the center line."""

    def part(sketch: Sketch, axle: LiveAxle) -> None:
        wanted, center = FlatPoint("side", 0, height), project(axle.convergence("lower"), "side")
        axis, place = join(wanted, center), FlatLine("side", 1, 0, -coordinates(axle.locator_point)[0])
        sketch.step(f"Mark the wanted roll center R, here at {height:g} mm.")
        sketch.named("R", wanted, "R")
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
        sketch.named("share", share, f"{percent:g} %", "meet")
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
        sketch.named("R", wanted, "R", "meet")
        sketch.reach("patch line", patch, patch, center)
        sketch.step("Where it meets the line square to the strut is the instant center.")
        sketch.reach("normal", start, start, center)
        sketch.spot("center", center, "IC", pivot, role="meet")
        sketch.step("Join it with the arm's pivots: on that line the ball joint belongs.")
        ball = meet(join(pivot, center), upright)
        sketch.reach("arm line", ball, ball, center)
        sketch.spot("ball joint", ball, "ball joint", pivot)

    return part
