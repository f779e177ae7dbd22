"""What to sketch of a live axle, of an independent front and of a whole car, and the constructions upon it.

Every function here takes a :class:`susgeo.paper.Sketch` and the thing, and adds marks and sentences in the
sketch's view. A construction begins each of its lines with ``sketch.step``. :data:`SCENES` lists them all;
:mod:`susgeo.draw` makes pictures of them.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

import numpy as np

from .axle import LiveAxle
from .car import Car
from .flat import FlatLine, FlatPoint
from .front import Arm, IndependentFront
from .incidence import join, meet, project
from .links import Link, mirror
from .loads import moment_arm
from .locators import MumfordLinkage, PanhardBar, WattsLinkage
from .measure import coordinates
from .paper import Sketch, Window, plain, whereabouts
from .pickup import mapped
from .space import WHEEL_PLANE, Plane, Point
from .travel import Travel

Part = Callable[[Sketch, Any], None]

TIRE_WIDTH = 180.0  # drawn, not measured


# A live axle: what there is


def scenery(sketch: Sketch, axle: Any) -> None:
    """Draw ground, center line, wheels and axle beam."""
    left, right, bottom, top = sketch.window
    radius, half = float(axle.tire_radius), float(axle.track) / 2
    if sketch.view == "plan":
        for side in (1, -1):
            _block(sketch, f"tire {side}", 0, side * half, radius, TIRE_WIDTH / 2)
        if isinstance(axle, LiveAxle):
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
            if isinstance(axle, LiveAxle):
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
    """Draw wheels, beam, links and locator; joints on the axle are filled, those on the chassis open."""
    scenery(sketch, axle)
    for height in ("lower", "upper"):
        group: tuple[Link, ...] = getattr(axle, height)
        one_line = len(group) == 2 and axle.is_symmetric and sketch.view == "side"
        for link in group[:1] if one_line else group:
            rod(sketch, link.name, link.axle, link.chassis)
        if group:
            word = f"{height} links" if len(group) == 2 else f"{height} link"
            sketch.label(f"{height} word", _middle(group[0].axle, group[0].chassis), word)
    locator(sketch, axle)


def rod(sketch: Sketch, name: str, axle_end: Point, chassis_end: Point, role: str = "link") -> None:
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


# A live axle: what one constructs


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
        sketch.add("trials", "trial", list(zip(x[known].tolist(), z[known].tolist(), strict=True)))
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
        name = f"{height} links meet"
        start, hint = _middle(*(link.axle for link in group)), _middle(*(link.chassis for link in group))
        sketch.spot(f"{height} meeting", meeting, name, start, hint, role="meet")
        place = _words(sketch, meeting)
        if place == "at infinity":
            sketch.say(f"The {height} links are parallel in plan and meet at infinity.")
        else:
            sketch.say(f"The {height} links meet {place.split(',')[0]}, on the center line.")


def levers(sketch: Sketch, axle: LiveAxle) -> None:
    """Draw the road's push and the heights at which the links' lines pass the upright through the wheel centers."""
    if sketch.view != "side" or not (axle.lower and axle.upper and axle.is_symmetric):
        return
    top, beside = sketch.window[3] - 8 * sketch.mm, sketch.window[0] + 12 * sketch.mm
    sketch.step("Draw the road's push, on the ground.")
    sketch.arrow("push", (0, 0), (0.9 * float(axle.tire_radius), 0), "result arrow")
    sketch.label("push name", (0.45 * float(axle.tire_radius), 0), "push", "result name")
    sketch.step("Draw the upright through the hub.")
    sketch.path("wheel plane", [(0, 0), (0, top)], "center line")
    heights = {}
    for name, letter in (("lower", "D"), ("upper", "E")):
        link = getattr(axle, name)[0]
        point = meet(project(link.line, "side"), FlatLine("side", 1, 0, 0))
        sketch.step(f"Extend the {name} link to it: {letter}.")
        sketch.reach(f"{name} lever line", link.chassis, link.axle, point)
        if sketch.shows(point):
            sketch.dot(letter, point, "meet")
            sketch.label(f"{letter} name", point, letter, "note")
            heights[letter] = sketch.at(point)[1]
    sketch.step("Measure both heights: the levers.")
    for letter, height in heights.items():
        at = beside if letter == "E" else 0.0
        sketch.path(f"{letter} level", [(at, height), (0, height)], "dimension")
        sketch.dimension(f"{letter} lever", (at, 0), (at, height), f"{height:.1f} mm")
        sketch.say(
            f"{letter}, on the upright through the wheel centers, lies {height:.1f} mm above the ground."
        )


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
                start = (0.0, float(axle.roll_center_height))
                hint = (1.0, start[1] + float(axle.roll_axis_slope))
                words = f"{name} meet" if name.endswith("links") else name
                sketch.spot(f"{name} point", point, words, start, hint, "meet")
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


# An independent front


def arms(sketch: Sketch, axle: IndependentFront) -> None:
    """Draw wheels, arms or strut, and tie rod; joints on the knuckle are filled, those on the body open."""
    scenery(sketch, axle)
    for side in ("left",) if sketch.view == "side" else ("left", "right"):
        turn = mirror if side == "right" else _same
        for word, arm in (("lower", axle.lower), ("upper", axle.upper)):
            if isinstance(arm, Arm):
                for end, pivot in (("front", arm.front_pivot), ("rear", arm.rear_pivot)):
                    rod(sketch, f"{side} {word} arm, {end} leg", turn(arm.ball_joint), turn(pivot))
            else:
                rod(sketch, f"{side} strut", turn(arm.lower_point), turn(arm.top_mount))
        if axle.tie_rod is not None:
            rod(sketch, f"{side} tie rod", turn(axle.tie_rod.axle), turn(axle.tie_rod.chassis), "thin link")
    upper = axle.upper
    if isinstance(upper, Arm):
        sketch.label("upper word", _middle(upper.ball_joint, upper.front_pivot), "upper arm")
    else:
        sketch.label("upper word", _middle(upper.lower_point, upper.top_mount), "strut")
    sketch.label("lower word", _middle(axle.lower.ball_joint, axle.lower.front_pivot), "lower arm")


def front_view_center(sketch: Sketch, axle: IndependentFront) -> None:
    """Find the front-view instant center of the left wheel, and with it the roll center."""
    if sketch.view != "front":
        return
    center = axle.front_view_instant_center
    _two_planes(sketch, axle, WHEEL_PLANE, center, "front-view instant center", axle.contact_patch)
    sketch.step("Join it with the tire's contact patch.")
    sketch.reach("patch line", axle.contact_patch, axle.contact_patch, center)
    sketch.step("Where that line crosses the center line is the roll center.")
    sketch.spot("roll center", axle.roll_center, "roll center", (0, 0), (0, 1))
    sketch.say(f"The roll center lies {_words(sketch, axle.roll_center).split(', ')[-1]}.")


def side_view_center(sketch: Sketch, axle: IndependentFront) -> None:
    """Find the side-view instant center of the left wheel."""
    if sketch.view != "side":
        return
    wheel = Plane(0, 2, 0, -axle.track)
    patch = Point(0, 0, 0)
    _two_planes(sketch, axle, wheel, axle.side_view_instant_center, "side-view instant center", patch)
    sketch.step("Join it with the tire's contact patch.")
    sketch.reach("patch line", patch, patch, axle.side_view_instant_center, "result")


def _two_planes(
    sketch: Sketch, axle: IndependentFront, cut: Plane, center: FlatPoint, name: str, patch: Point
) -> None:
    """Draw where the planes of the lower arm and of the upper arm or strut cut a plane, up to their meet."""
    strut = not isinstance(axle.upper, Arm)
    starts: list[tuple[float, float]] = []
    for word, arm in (("lower", axle.lower), ("upper", axle.upper)):
        joint = arm.ball_joint if isinstance(arm, Arm) else arm.top_mount
        trace = project(meet(arm.plane, cut), sketch.view)
        across = project(joint, sketch.view)
        start = meet(trace, FlatLine(sketch.view, across.w, 0, -across.u))
        if word == "upper" and strut:
            sketch.step("Draw the line square to the strut through its top mount.")
        else:
            sketch.step(f"Extend the {word} arm's plane.")
        sketch.reach(f"{word} line", start, start, center)
        starts.append(sketch.at(start))
    sketch.step(f"Where they meet is the {name}.")
    (a, b), (c, d) = starts
    sketch.spot("instant center", center, "instant center", ((a + c) / 2, (b + d) / 2), sketch.at(patch))
    place = _words(sketch, center)
    sketch.say(f"The planes of the suspension meet {place}: the {name} of the left wheel.")


# An axle in heave and roll


def travelled(sketch: Sketch, travel: Travel) -> None:
    """Draw a solved position over the ground; from behind, with an outline of the body that leans."""
    links(sketch, travel.moved)
    if sketch.view == "front":
        rest = travel.axle
        half, joints = 0.4 * float(rest.track), [link.chassis for link in (*rest.lower, *rest.upper)]
        low, high = min(plain(joint)[2] for joint in joints) - 60, 2 * float(rest.tire_radius)
        corners = [Point(0, y, z) for y, z in ((half, high), (half, low), (-half, low), (-half, high))]
        sketch.path("body", [travel.carried(corner, "chassis") for corner in corners], "body")
        sketch.label("body word", travel.carried(corners[2], "chassis"), "body", "note")
        sketch.say(
            f"The axle is raised by {travel.heave:.1f} mm and rolled by {math.degrees(travel.roll):.2f} deg."
        )


def _of_moved(part: Part) -> Part:
    return lambda sketch, travel: part(sketch, travel.moved)


# A whole car


def both_ends(sketch: Sketch, car: Car) -> None:
    """Draw the rear axle where it is and the front one a wheelbase ahead, without their names."""
    if sketch.view != "plan":
        ground(sketch)
    else:
        sketch.path("center line", [(sketch.window[0], 0), (sketch.window[1], 0)], "center line")
    left_out = ("name", "ground", "hatch", "center line")
    for end, axle in car.axles():
        ahead = 0.0 if end == "rear" or sketch.view == "front" else float(car.wheelbase)
        aside = Sketch(sketch.view, sketch.window, sketch.mm, shift=ahead)
        SCENES[type(axle)].there(aside, axle)
        aside.marks = [mark for mark in aside.marks if mark.role not in left_out]
        sketch.include(aside, end)


def car_roll_axis(sketch: Sketch, car: Car) -> None:
    """Join the front and rear roll centers."""
    if sketch.view != "side":
        return
    ends = {end: (0.0 if end == "rear" else float(car.wheelbase), axle) for end, axle in car.axles()}
    places = {end: (x, float(axle.roll_center_height)) for end, (x, axle) in ends.items()}
    roomy = sketch.window[1] - sketch.window[0] > 400 * sketch.mm  # a frame of a film is not
    for end, place in places.items():
        sketch.step(f"Mark the {end} roll center.")
        sketch.dot(f"{end} roll center", place)
        sketch.label(f"{end} roll center name", place, f"{end} roll center" if roomy else end, "result name")
        sketch.say(f"The {end} roll center lies {_words(sketch, FlatPoint('side', *place)).split(', ')[-1]}.")
    if len(places) == 2:
        sketch.step("Join them: the car's roll axis.")
        one, two = (FlatPoint("side", *places[end]) for end in ("rear", "front"))
        sketch.line("roll axis", join(one, two))


def center_of_gravity(sketch: Sketch, car: Car) -> None:
    """Mark the center of gravity and measure its height over the roll axis."""
    if sketch.view != "side" or car.weight is None:
        return
    place = (float(car.weight.front_share * car.wheelbase), float(car.weight.cg_height))
    sketch.dot("center of gravity", place, "weight")
    sketch.label("center of gravity name", place, "center of gravity", "name")
    words = _words(sketch, FlatPoint("side", *place)).replace("the wheels", "the rear wheels")
    sketch.say(f"The center of gravity lies {words}.")
    if car.rear is not None and car.front is not None:
        rear, front = float(car.rear.roll_center_height), float(car.front.roll_center_height)
        below = rear + (front - rear) * float(car.weight.front_share)
        sketch.dimension("arm", (place[0], below), place, f"{place[1] - below:.1f} mm")


def body_over_axis(sketch: Sketch, car: Car) -> None:
    """Mark the center of gravity of the body alone, and measure its height over the roll axis."""
    if sketch.view != "side" or car.weight is None or car.rear is None or car.front is None:
        return
    weight, height = car.weight, float(moment_arm(car))
    body = weight.mass - weight.front_unsprung_mass - weight.rear_unsprung_mass
    share = float((weight.mass * weight.front_share - weight.front_unsprung_mass) / body)
    rear, front = float(car.rear.roll_center_height), float(car.front.roll_center_height)
    ahead, below = share * float(car.wheelbase), rear + share * (front - rear)
    sketch.step("Mark the body's center of gravity, and measure down to the roll axis: H.")
    sketch.dot("body", (ahead, below + height), "weight")
    sketch.dimension("H", (ahead, below), (ahead, below + height), "H")
    sketch.say(f"The body's center of gravity lies {height / 1000:.2f} m over the roll axis.")


def squat_line(sketch: Sketch, car: Car) -> None:
    """Draw the line from the rear contact patch through the instant center to above the front wheels.

    It lies as high there, in parts of the height of the center of gravity, as the anti-squat is in percent.
    """
    if sketch.view != "side" or car.rear is None:
        return
    center, ahead = car.rear.side_view_instant_center, float(car.wheelbase)
    sketch.step("Draw the line from the rear contact patch through the instant center.")
    sketch.spot("instant center", center, "instant center", (0, float(car.rear.tire_radius)), (1, 0))
    slope = float(center.v / center.u)
    sketch.path("squat line", [(0, 0), (ahead, ahead * slope)], "result")
    sketch.path("front wheel plane", [(ahead, 0), (ahead, sketch.window[3])], "center line")
    if car.weight is not None:
        height = float(car.weight.cg_height)
        sketch.step("Draw the level of the center of gravity: 100 %.")
        sketch.path("level", [(sketch.window[0], height), (sketch.window[1], height)], "construction")
        sketch.label("level name", (0.3 * ahead, height), "100 %", "note")
        share, beside = 100 * ahead * slope / height, sketch.window[1] - 60
        sketch.path("share level", [(ahead, ahead * slope), (beside, ahead * slope)], "dimension")
        sketch.dimension("share", (beside, 0), (beside, ahead * slope), f"{share:.1f} %")
        sketch.say(f"The line from the rear contact patch rises to {share:.1f} % of that height.")


# What there is of each kind


@dataclass(frozen=True, slots=True)
class Scene:
    """How one kind of thing is drawn.

    Args:
        there: draws what is there.
        parts: the constructions by name.
        usual: those that are drawn unless told otherwise.
    """

    there: Part
    parts: dict[str, Part]
    usual: tuple[str, ...]


_LIVE: dict[str, Part] = {
    "instant center": instant_center,
    "convergence": convergence,
    "levers": levers,
    "locator": locator_point,
    "roll axis": roll_axis,
    "roll center height": roll_center_height,
}

SCENES: dict[type, Scene] = {
    LiveAxle: Scene(links, _LIVE, ("instant center", "convergence", "roll axis")),
    Travel: Scene(
        travelled,
        {name: _of_moved(part) for name, part in _LIVE.items()},
        ("instant center", "roll axis"),
    ),
    IndependentFront: Scene(
        arms,
        {
            "roll center": front_view_center,
            "instant center": side_view_center,
            "roll center height": roll_center_height,
        },
        ("roll center", "instant center"),
    ),
    Car: Scene(
        both_ends,
        {
            "roll axis": car_roll_axis,
            "center of gravity": center_of_gravity,
            "body over the axis": body_over_axis,
            "anti-squat": squat_line,
        },
        ("roll axis", "center of gravity"),
    ),
}


def windows(things: list[Any], views: tuple[str, ...], reach: float | None = None) -> dict[str, Window]:
    """Return the part of each view that shows the things whole, and beyond the wheels as far as ``reach`` mm.

    That is ahead of a rear axle and behind a front one, where their lines meet; in a front view alone, to the right,
    where those of the left wheel meet.
    """
    axles = [(axle, shift) for thing in things for axle, shift in _axles(thing)]
    places = [
        (x / w + shift, y / w, z / w) for axle, shift in axles for x, y, z, w in map(plain, _joints(axle))
    ]
    outer = [(float(axle.tire_radius), shift) for axle, shift in axles]
    half = max(float(axle.track) for axle, _ in axles) / 2 + TIRE_WIDTH / 2 + 90
    ahead = max(*(x + 150 for x, _, _ in places), *(shift + radius + 110 for radius, shift in outer))
    behind = min(*(x - 110 for x, _, _ in places), *(shift - radius - 110 for radius, shift in outer))
    top = max(*(z + 150 for _, _, z in places), *(2 * radius + 110 for radius, _ in outer))
    right = half if reach is None or set(views) != {"front"} else max(half, reach)
    if reach is None:
        reach = 1150.0 if "front" in views and "side" in views else 2000.0
    bottom = -90.0 if all(isinstance(axle, LiveAxle) for axle, _ in axles) else -170.0
    ends = {axle.end for axle, _ in axles}
    if ends == {"rear"}:
        ahead = max(ahead, reach)
    elif ends == {"front"} and not any(isinstance(thing, Car) for thing in things):
        behind = min(behind, -reach)
    return {
        "side": (behind, ahead, bottom, top),
        "plan": (behind, ahead, -half, half),
        "front": (-half, right, bottom, top),
    }


# Helpers


def _axles(thing: Any) -> list[tuple[Any, float]]:
    """Return the axles of a thing, each with its place along the car."""
    if not isinstance(thing, Car):
        return [(thing.moved if isinstance(thing, Travel) else thing, 0.0)]
    return [(axle, 0.0 if end == "rear" else float(thing.wheelbase)) for end, axle in thing.axles()]


def _joints(thing: Any) -> list[Point]:
    """Return every point among the fields of a thing, and of the things in them."""
    if isinstance(thing, Point):
        return [thing]
    if isinstance(thing, tuple):
        return [point for part in thing for point in _joints(part)]
    if is_dataclass(thing):
        return [point for part in fields(thing) for point in _joints(getattr(thing, part.name))]
    return []


def _same(point: Point) -> Point:
    return point


def _words(sketch: Sketch, place: Point | FlatPoint) -> str:
    return whereabouts(sketch.view, sketch.flat(place), long=True)


def _middle(first: Point, second: Point) -> Point:
    (a, b, c), (x, y, z) = coordinates(first), coordinates(second)
    return Point((a + x) / 2, (b + y) / 2, (c + z) / 2)


def _turn(count: int) -> list[float]:
    return [2 * math.pi * k / count for k in range(count)]


def _block(sketch: Sketch, key: str, h: float, v: float, half_width: float, half_height: float) -> None:
    corners = [(h + a * half_width, v + b * half_height) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    sketch.path(key, corners, "tire")
