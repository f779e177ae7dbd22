"""What to sketch of a live axle, of an independent front and of a whole car, and the constructions upon it.

Every function here takes a :class:`susgeo.draw.picture.Sketch` and the thing, and adds marks and sentences in the
sketch's view. A construction begins each of its lines with ``sketch.step``. :data:`SCENES` lists them all;
:mod:`susgeo.draw.drawings` makes pictures of them.
"""

import math
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from ..car.axle import LiveAxle
from ..car.car import Car, as_number, weighed
from ..car.coils import on_the_right
from ..car.front import Arm, IndependentFront
from ..car.links import mirror
from ..geometry.flat import FlatLine, FlatPoint
from ..geometry.incidence import join, meet, project
from ..geometry.space import WHEEL_PLANE, Plane, Point
from ..loads.cornering import moment_arm
from ..travel.live import Travel
from .live_parts import (
    LIVE,
    TIRE_WIDTH,
    Part,
    ground,
    links,
    middle,
    rod,
    roll_center_height,
    scenery,
    wheel,
    words_for,
    zigzag,
)
from .sketch import Place, Sketch, Window, plain
from .why_space import ROOM, Walk, in_space

SEEN = 0.5
"""A tie rod that moves the roll center by less, in mm, is left out of the drawing."""


def arms(sketch: Sketch, axle: IndependentFront) -> None:
    """Draw wheels, arms or strut, and tie rod; joints on the knuckle are filled, those on the body open."""
    scenery(sketch, axle)
    for side in ("left",) if sketch.view == "side" else ("left", "right"):
        turn: Any = mirror if side == "right" else lambda point: point
        for word, arm in (("lower", axle.lower), ("upper", axle.upper)):
            if isinstance(arm, Arm):
                for end, pivot in (("front", arm.front_pivot), ("rear", arm.rear_pivot)):
                    rod(sketch, f"{side} {word} arm, {end} leg", turn(arm.ball_joint), turn(pivot))
            else:
                rod(sketch, f"{side} strut", turn(arm.lower_point), turn(arm.top_mount))
        if axle.tie_rod is not None:
            rod(sketch, f"{side} tie rod", turn(axle.tie_rod.axle), turn(axle.tie_rod.chassis), "thin link")
    arm = axle.upper
    ends = (arm.ball_joint, arm.front_pivot) if isinstance(arm, Arm) else (arm.lower_point, arm.top_mount)
    sketch.label("upper word", middle(*ends), "upper arm" if isinstance(arm, Arm) else "strut")
    sketch.label("lower word", middle(axle.lower.ball_joint, axle.lower.front_pivot), "lower arm")
    if axle.tie_rod is not None:
        place: Place = middle(axle.tie_rod.axle, axle.tie_rod.chassis)
        if sketch.view == "side":  # seen end on, and crowded: its word stands behind and above it
            (x, z), (h, v) = sketch.at(axle.tie_rod.axle), sketch.at(axle.tie_rod.chassis)
            place = min(x, h) - 40 - sketch.shift, max(z, v) + 40
        sketch.label("tie rod word", place, "tie rod")


def front_view_center(sketch: Sketch, axle: IndependentFront) -> None:
    """Find the front-view instant center of the left wheel, and with it the roll center."""
    if sketch.view != "front":
        return
    center = axle.front_view_instant_center
    _two_planes(sketch, axle, WHEEL_PLANE, center, "front-view instant center", axle.contact_patch)
    sketch.step("Join it with the tire's contact patch.")
    sketch.reach("patch line", axle.contact_patch, axle.contact_patch, center)
    sketch.step("Where that line crosses the center line is the roll center.")
    if sketch.shows(axle.roll_center):  # also where the instant center is on the other side of the tire
        sketch.path("patch line to the roll center", [axle.contact_patch, axle.roll_center], "construction")
    sketch.spot("roll center", axle.roll_center, "roll center", (0, 0), (0, 1))
    sketch.say(f"The roll center lies {words_for(sketch, axle.roll_center).split(', ')[-1]}.")


def tie_rod_line(sketch: Sketch, axle: IndependentFront) -> None:
    """Extend the tie rod: pointed at the front-view instant center, it steers next to nothing in bump."""
    if sketch.view == "front" and axle.tie_rod is not None:
        sketch.step("Extend the tie rod.")
        ends = axle.tie_rod.axle, axle.tie_rod.chassis
        sketch.reach("tie rod line", *ends, axle.front_view_instant_center, "result")


def side_view_center(sketch: Sketch, axle: IndependentFront) -> None:
    """Find the side-view instant center of the left wheel."""
    if sketch.view != "side":
        return
    wheel, patch = Plane(0, 2, 0, -axle.track), Point(0, 0, 0)
    _two_planes(sketch, axle, wheel, axle.side_view_instant_center, "side-view instant center", patch)
    sketch.step("Join it with the tire's contact patch.")
    sketch.reach("patch line", patch, patch, axle.side_view_instant_center, "result")


def _two_planes(sketch: Sketch, axle: IndependentFront, cut: Plane, center: FlatPoint, name: str, patch: Point) -> None:
    """Draw where the planes of the lower arm and of the upper arm or strut cut a plane, up to their meet."""
    strut = not isinstance(axle.upper, Arm)
    bare = replace(axle, tie_rod=None)
    planes = bare.front_view_instant_center if sketch.view == "front" else bare.side_view_instant_center
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
        sketch.reach(f"{word} line", start, start, planes)
        starts.append(sketch.at(start))
    (a, b), (c, d) = starts
    middle_, away = ((a + c) / 2, (b + d) / 2), sketch.at(patch)
    shift = axle.roll_center_height - bare.roll_center_height
    if abs(shift) > SEEN:
        if sketch.shows(planes):  # elsewhere it is too near to the instant center for an arrow of its own
            sketch.step(f"Here they meet: with a tie rod in the arm's plane, the {name}.")
            sketch.spot("meet of the planes", planes, "meet of the planes", middle_, away)
        sketch.step(f"The tie rod steers the wheel as it rises, and that moves the {name}.")
        sketch.say(f"The tie rod, out of the lower arm's plane, moves the roll center by {sketch.long(shift)}.")
    else:
        sketch.step(f"Where they meet is the {name}.")
    sketch.spot("instant center", center, "instant center" if sketch.roomy else "IC", middle_, away)
    place = words_for(sketch, center)
    met = "The knuckle turns about a point" if abs(shift) > SEEN else "The planes of the suspension meet"
    sketch.say(f"{met} {place}: the {name} of the left wheel.")


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
        raised, rolled = sketch.long(travel.heave), f"{math.degrees(travel.roll):.2f} deg"
        sketch.say(f"The axle is raised by {raised} and rolled by {rolled}.")


def _of_moved(part: Part) -> Part:
    return lambda sketch, travel: part(sketch, travel.moved)


def springs(sketch: Sketch, car: Car, end: str) -> None:
    """Draw an axle's coils, dampers and drop links, if their ends are known: lines from what moves to the body."""
    given = getattr(car, f"{end}_springs")
    lines = {"coil spring": "coil", "damper": "damper", "drop link": "bar"} if given is not None else {}
    named = {word: getattr(given, part) for word, part in lines.items() if getattr(given, part) is not None}
    for word, at in named.items():
        for side in ("left",) if sketch.view == "side" else ("left", "right"):
            line = at if side == "left" else on_the_right(at)
            ends = line.axle, line.chassis
            if word == "coil spring":
                foot, head = ((h - sketch.shift, v) for h, v in map(sketch.at, ends))
                zigzag(sketch, f"{side} {word}", foot, head, word, 30 if side == "left" else -30)
            else:
                sketch.path(f"{side} {word}", ends, word)
            sketch.dot(f"{side} {word} axle end", line.axle, "axle end")
            sketch.dot(f"{side} {word} chassis end", line.chassis, "chassis end")
        two, place = car.rear is not None and car.front is not None, middle(at.axle, at.chassis)
        place = middle(place, at.chassis) if word == "damper" else place  # its middle is often the coil's
        if not (two and sketch.view == "front"):  # there both axles lie over each other
            sketch.label(f"{word} word", place, word, "note")
    if named:
        sketch.say(f"At their places, {end}: {', '.join(named)}.")


def both_ends(sketch: Sketch, car: Car) -> None:
    """Draw the rear axle where it is and the front one a wheelbase ahead, without their names, and springs where they are."""
    if sketch.view != "plan":
        ground(sketch)
    else:
        sketch.path("center line", [(sketch.window[0], 0), (sketch.window[1], 0)], "center line")
    left_out = ("name", "ground", "hatch", "center line")
    for end, axle in car.axles():
        ahead = 0.0 if end == "rear" or sketch.view == "front" else float(car.wheelbase)
        aside = sketch.aside(ahead)
        SCENES[type(axle)].there(aside, axle)
        aside.marks = [mark for mark in aside.marks if mark.role not in left_out]
        springs(aside, car, end)
        sketch.include(aside, end)
        sketch.sentences += [words for words in aside.sentences if words.startswith("At their places")]
    if car.front is None and car.rear is not None and sketch.view == "side":  # not measured, yet it stands there
        wheel(sketch, "front tire", float(car.wheelbase), float(car.rear.tire_radius))


def car_roll_axis(sketch: Sketch, car: Car) -> None:
    """Join the front and rear roll centers."""
    if sketch.view != "side":
        return
    ends = {end: (0.0 if end == "rear" else float(car.wheelbase), axle) for end, axle in car.axles()}
    places = {end: (x, float(axle.roll_center_height)) for end, (x, axle) in ends.items()}
    for end, place in places.items():
        sketch.step(f"Mark the {end} roll center.")
        sketch.named(f"{end} roll center", place, f"{end} roll center" if sketch.roomy else end)
        sketch.say(f"The {end} roll center lies {words_for(sketch, FlatPoint('side', *place)).split(', ')[-1]}.")
    if len(places) == 2:
        sketch.step("Join them: the car's roll axis.")
        one, two = (FlatPoint("side", *places[end]) for end in ("rear", "front"))
        sketch.line("roll axis", join(one, two))


def axis_height(car: Car, share: float) -> float:
    """Return how high a car's roll axis is in mm, at a share of the wheelbase ahead of the rear wheels."""
    heights = {end: float(axle.roll_center_height) for end, axle in car.axles()}
    return heights["rear"] + share * (heights["front"] - heights["rear"])


def body_share(car: Car) -> float:
    """Return the front axle's share of the body's mass: of the car's without what is not sprung."""
    weight = weighed(car)
    body = weight.mass - weight.front_unsprung_mass - weight.rear_unsprung_mass
    return float((weight.mass * weight.front_share - weight.front_unsprung_mass) / body)


def center_of_gravity(sketch: Sketch, car: Car) -> None:
    """Mark the center of gravity and measure its height over the roll axis."""
    if sketch.view != "side" or car.weight is None:
        return
    place = (float(car.weight.front_share * car.wheelbase), float(car.weight.cg_height))
    if sketch.shows(place):
        sketch.dot("center of gravity", place, "weight")
        sketch.label("center of gravity name", place, "center of gravity", "name")
    words = words_for(sketch, FlatPoint("side", *place)).replace("the wheels", "the rear wheels")
    sketch.say(f"The center of gravity lies {words}.")
    if car.rear is not None and car.front is not None:
        below = axis_height(car, float(car.weight.front_share))
        sketch.dimension("arm", (place[0], below), place, sketch.long(place[1] - below))


def body_over_axis(sketch: Sketch, car: Car) -> None:
    """Mark the center of gravity of the body alone, and measure its height over the roll axis."""
    if sketch.view != "side" or car.weight is None or car.rear is None or car.front is None:
        return
    height, share = float(moment_arm(car)), body_share(car)
    ahead, below = share * float(car.wheelbase), axis_height(car, share)
    measured = "h_s above the ground, z_A to the roll axis, H between"
    sketch.step(f"Mark the body's center of gravity, and measure: {measured}.")
    sketch.dot("body", (ahead, below + height), "weight")
    aside = ahead + 30 * sketch.mm
    sketch.path("body level", [(ahead, below + height), (aside, below + height)], "leader")
    for letter, x, low, high in (("H", ahead, below, below + height), ("z_A", ahead, 0.0, below), ("h_s", aside, 0.0, below + height)):  # fmt: skip
        sketch.dimension(letter, (x, low), (x, high), letter)
    sketch.say(f"The body's center of gravity lies h_s = {(below + height) / 1000:.2f} m above the ground, the roll axis under it "
               f"z_A = {below / 1000:.2f} m. Between them is H = {height / 1000:.2f} m.")  # fmt: skip


def squat_line(sketch: Sketch, car: Car) -> None:
    """Draw the line from the rear contact patch through the instant center to above the front wheels.

    It lies as high there, in parts of the height of the center of gravity, as the anti-squat is in percent.
    """
    if sketch.view != "side" or car.rear is None:
        return
    center, ahead = car.rear.side_view_instant_center, float(car.wheelbase)
    for link in (*car.rear.lower[:1], *car.rear.upper[:1]) if car.rear.is_symmetric else ():
        sketch.reach(f"{link.name} line", link.axle, link.chassis, center)
    sketch.step("Draw the line from the rear contact patch through the instant center.")
    name = "instant center" if sketch.roomy else "IC"
    sketch.spot("instant center", center, name, (0, float(car.rear.tire_radius)), (1, 0))
    slope = float(center.v / center.u)
    sketch.path("squat line", [(0, 0), (ahead, ahead * slope)], "result")
    sketch.path("front wheel plane", [(ahead, 0), (ahead, sketch.window[3])], "center line")
    if car.weight is not None:
        height = float(car.weight.cg_height)
        sketch.step("Draw the level of the center of gravity: 100 %.")
        sketch.path("level", [(sketch.window[0] if sketch.roomy else 0.8 * ahead, height), (sketch.window[1], height)],
                    "construction")  # fmt: skip
        if sketch.roomy:
            sketch.label("level name", (0.3 * ahead, height), "h: 100 %", "note")
        share, beside = 100 * ahead * slope / height, sketch.window[1] - 60
        sketch.path("share level", [(ahead, ahead * slope), (beside, ahead * slope)], "dimension")
        sketch.arrow("share", (beside, 0), (beside, ahead * slope), "dimension")
        top = f"{'H: ' * sketch.roomy}{share:.1f} %"
        sketch.label("share height", (ahead, ahead * slope), top, "result name")
        sketch.say(f"The line from the rear contact patch rises to {share:.1f} % of that height.")


@dataclass(frozen=True, slots=True)
class Scene:
    """How one kind of thing is drawn.

    Args:
        there: draws what is there.
        parts: the constructions by name.
        usual: those that are drawn unless told otherwise.
        title: over a drawing that is none of the three views, and so has no scale; "" for one that is.
    """

    there: Part
    parts: dict[str, Part]
    usual: tuple[str, ...]
    title: str = ""


_FRONT: dict[str, Part] = {
    "roll center": front_view_center, "instant center": side_view_center, "tie rod": tie_rod_line,
    "roll center height": roll_center_height,
}  # fmt: skip
_WHOLE: dict[str, Part] = {
    "roll axis": car_roll_axis, "center of gravity": center_of_gravity, "body over the axis": body_over_axis,
    "anti-squat": squat_line,
}  # fmt: skip

SCENES: dict[type, Scene] = {
    LiveAxle: Scene(links, LIVE, ("instant center", "convergence", "roll axis")),
    Travel: Scene(travelled, {name: _of_moved(part) for name, part in LIVE.items()}, ("instant center", "roll axis")),
    Walk: Scene(in_space, {}, (), "In space, from behind and above"),
    IndependentFront: Scene(arms, _FRONT, ("roll center", "instant center")),
    Car: Scene(both_ends, _WHOLE, ("roll axis", "center of gravity")),
}


def windows(things: list[Any], views: tuple[str, ...], reach: float | None = None) -> dict[str, Window]:
    """Return the part of each view that shows the things whole, and beyond the wheels as far as ``reach`` mm.

    That is ahead of a rear axle and behind a front one, where their lines meet; in a front view alone, to the right,
    where those of the left wheel meet.
    """
    if isinstance(things[0], Walk):
        return dict.fromkeys(views, ROOM)
    axles = [(axle, shift) for thing in things for axle, shift in _axles(thing)]
    cars = [thing for thing in things if isinstance(thing, Car)]
    sprung = [(getattr(one, f"{axle.end}_springs"), shift) for one in cars for axle, shift in _axles(one)]
    joints = [(joint, shift) for part, shift in axles + sprung for joint in map(plain, _joints(part))]
    places = [(x / w + shift, y / w, z / w) for (x, y, z, w), shift in joints if w]  # a pin is a direction
    outer = [(as_number(axle.tire_radius), shift) for axle, shift in axles]
    half = max(as_number(axle.track) for axle, _ in axles) / 2 + TIRE_WIDTH / 2 + 90
    ahead = max([*(x + 150 for x, _, _ in places), *(shift + radius + 110 for radius, shift in outer)])
    behind = min([*(x - 110 for x, _, _ in places), *(shift - radius - 110 for radius, shift in outer)])
    top = max([*(z + 150 for _, _, z in places), *(2 * radius + 110 for radius, _ in outer)])
    right = half if reach is None or set(views) != {"front"} else max(half, reach)
    if reach is None:
        reach = 1150.0 if "front" in views and "side" in views else 2000.0
    fronts = [float(axle.roll_center_height) for axle, _ in axles if not isinstance(axle, LiveAxle)]
    bottom = max(-400.0, min(-170.0, *(height - 70 for height in fronts))) if fronts else -90.0
    ends = {axle.end for axle, _ in axles}
    if ends == {"rear"}:
        ahead = max(ahead, reach)
    elif ends == {"front"} and not cars:
        behind = min(behind, -reach)
    along, up = (behind, ahead), (bottom, top)
    return {"side": (*along, *up), "plan": (*along, -half, half), "front": (-half, right, *up)}


def _axles(thing: Any) -> list[tuple[Any, float]]:
    """Return the axles of a thing, each with its place along the car."""
    if not isinstance(thing, Car):
        return [(thing.moved if isinstance(thing, Travel) else thing, 0.0)]
    return [(axle, 0.0 if end == "rear" else as_number(thing.wheelbase)) for end, axle in thing.axles()]


def _joints(thing: Any) -> list[Point]:
    """Return every point among the fields of a thing, and of the things in them."""
    if isinstance(thing, Point):
        return [thing]
    if isinstance(thing, tuple):
        return [point for part in thing for point in _joints(part)]
    if is_dataclass(thing):
        return [point for part in fields(thing) for point in _joints(getattr(thing, part.name))]
    return []
