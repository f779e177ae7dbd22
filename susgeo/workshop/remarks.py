"""What looks wrong in a car as it was measured: a second look at the tape, never a refusal.

Most slips of a tape (an inch number among mm, ends exchanged, a sign, a height from the wheel center) put a joint
where no car has one. So each joint has a box, in tire radii and half tracks, and each part a few proportions. All
spans are common practice, no source: as narrow as every sound car that the course knows of allows.
"""

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from ..car.axle import LiveAxle
from ..car.car import Axle, Car, Springs, as_number, whole
from ..car.fields import UNITS
from ..car.front import StrutLeg
from ..car.links import Group, is_symmetric
from ..geometry.measure import MM_PER_INCH, coordinates
from ..geometry.scalars import degrees
from ..loads.springs import ride_frequency
from ..tables import shown

Span = tuple[float, float]
Place = tuple[float, float, float]

CENTER, LEFT, RIGHT = (-0.6, 0.6), (0.1, 0.98), (-0.98, -0.1)
BOXES: dict[str, dict[str, tuple[Span, Span, Span]]] = {
    "lower links": {"axle": ((-0.45, 0.45), LEFT, (0.4, 1.15)), "chassis": ((1.0, 5.0), LEFT, (0.28, 1.5))},
    "lower link": {"axle": ((-0.45, 0.45), CENTER, (0.4, 1.15)), "chassis": ((1.0, 5.0), CENTER, (0.28, 1.5))},
    "upper links": {"axle": ((-0.6, 0.6), (0.06, 0.9), (1.03, 2.4)), "chassis": ((0.6, 4.0), LEFT, (0.8, 2.4))},
    "upper link": {"axle": ((-0.6, 0.6), CENTER, (1.03, 2.4)), "chassis": ((0.6, 4.0), CENTER, (0.8, 2.4))},
    "A-frame": {"axle": ((-0.6, 0.6), (-0.3, 0.3), (1.03, 2.4)), "chassis": ((0.6, 4.0), (0.2, 0.98), (0.8, 2.4))},
    "upright link": {"axle": ((1.5, 6.0), CENTER, (0.5, 2.0)), "chassis": ((1.5, 6.0), CENTER, (0.5, 2.2))},
    "leaf springs": {"axle": ((-0.3, 0.9), (0.4, 0.95), (0.5, 1.5)), "chassis": ((1.0, 4.0), (0.4, 0.95), (0.5, 1.8))},
    "Panhard bar": dict.fromkeys(("axle", "chassis"), ((-1.5, 1.5), (-0.95, 0.95), (0.45, 1.9))),
    "Watt's linkage": {"pivot": ((-1.5, 1.5), (-0.4, 0.4), (0.4, 1.8))} | {
        f"{side}_{joint}": ((-1.5, 1.5), span, (0.3, 2.0)) for side, end in (("left", (0.4, 0.97)), ("right", (-0.97, -0.4)))
        for joint, span in (("crank", (-0.45, 0.45)), ("end", end))},
    "Mumford linkage": {f"{side}_{joint}": ((-1.5, 1.5), span, (0.3, 2.0)) for side, span in (("left", LEFT), ("right", RIGHT))
                        for joint in ("pivot", "crank", "end", "center")},
    "lower arm": {"ball_joint": ((-0.3, 0.3), (0.7, 1.0), (0.4, 0.95)), "front_pivot": ((0.1, 1.6), (0.2, 0.85), (0.35, 1.2)),
                  "rear_pivot": ((-1.8, -0.1), (0.2, 0.85), (0.35, 1.2))},
    "upper arm": {"ball_joint": ((-0.4, 0.3), (0.6, 1.0), (1.05, 2.3)), "front_pivot": ((0.05, 1.6), (0.25, 0.88), (0.9, 2.3)),
                  "rear_pivot": ((-1.8, -0.1), (0.25, 0.88), (0.9, 2.3))},
    "strut": {"top_mount": ((-0.6, 0.3), (0.5, 0.97), (1.8, 3.4)), "lower_point": ((-0.3, 0.3), (0.65, 1.0), (0.45, 1.8))},
    "tie rod": {"axle": ((-0.9, 0.9), (0.65, 1.0), (0.4, 1.5)), "chassis": ((-0.9, 0.9), (0.12, 0.8), (0.4, 1.5))},
    "coil spring": {"axle": ((-1.0, 1.0), (0.3, 0.98), (0.4, 2.0)), "chassis": ((-1.0, 1.0), (0.2, 0.98), (1.0, 3.4))},
    "damper": {"axle": ((-1.0, 1.0), (0.25, 0.98), (0.3, 2.0)), "chassis": ((-1.2, 1.2), (0.1, 0.98), (0.9, 3.4))},
    "drop link": dict.fromkeys(("axle", "chassis"), ((-1.5, 1.5), (0.3, 0.98), (0.3, 2.6))),
    "propeller shaft": {"pinion": ((0.3, 1.7), (-0.35, 0.35), (0.6, 1.8)), "gearbox": ((1.8, 7.5), (-0.35, 0.35), (0.6, 1.9))},
}  # fmt: skip
"""Where the joints of each part are: x and z in tire radii, y in half tracks; links of a front axle may run rearward."""

BETWEEN: dict[str, tuple[tuple[str, str, str, Span], ...]] = {
    **dict.fromkeys(("lower links", "lower link", "upper links", "upper link", "A-frame"), (("axle", "chassis", "rise", (-23, 23)),)),
    "Panhard bar": (("axle", "chassis", "width", (1.0, 1.9)), ("axle", "chassis", "tilt", (-8, 8)), ("axle", "chassis", "skew", (-6.5, 6.5))),
    "Watt's linkage": (
        ("left_crank", "right_crank", "distance", (0.3, 1.2)),
        *((f"{side}_crank", f"{side}_end", *rest) for side in ("left", "right") for rest in (("tilt", (-14, 14)), ("width", (0.4, 1.0)), ("lead", (-0.25, 0.25)))),
        *(("pivot", f"{side}_crank", *rest) for side in ("left", "right") for rest in (("distance", (0.1, 0.6)), ("lead", (-0.25, 0.25)))),
    ),
    "Mumford linkage": (
        ("left_pivot", "right_pivot", "lead", (-0.25, 0.25)),
        *((f"{side}_crank", f"{side}_end", *rest) for side in ("left", "right") for rest in (("tilt", (-14, 14)), ("width", (0.3, 1.0)), ("lead", (-0.25, 0.25)))),
        *((f"{side}_pivot", f"{side}_{joint}", *rest) for side in ("left", "right") for joint in ("crank", "center")
          for rest in (("distance", (0.1, 0.6)), ("lead", (-0.25, 0.25)))),
    ),
    **dict.fromkeys(("lower arm", "upper arm"), (
        ("ball_joint", "front_pivot", "rise", (-24, 24)), ("ball_joint", "rear_pivot", "rise", (-24, 24)),
        ("ball_joint", "front_pivot", "lead", (0.1, 2.2)), ("rear_pivot", "ball_joint", "lead", (0.1, 2.2)),
        ("rear_pivot", "front_pivot", "height", (-0.35, 0.35)), ("rear_pivot", "front_pivot", "width", (0, 0.3)))),
    "strut": (("lower_point", "top_mount", "lean", (0, 24)),),
    "tie rod": (("axle", "chassis", "tilt", (-15, 15)), ("axle", "chassis", "skew", (-18, 18))),
    "coil spring": (("axle", "chassis", "lean", (0, 50)), ("axle", "chassis", "height", (0.3, 2.6))),
    "damper": (("axle", "chassis", "lean", (0, 50)), ("axle", "chassis", "height", (0.3, 2.6))),
    "drop link": (("axle", "chassis", "distance", (0.1, 1.5)),),
}  # fmt: skip
"""How two joints of a part stand to each other: angles in degrees, lead, height and distance in tire radii, width in half tracks."""
POUND, POUND_AN_INCH = UNITS["mass_units"]["lb"], UNITS["rate_units"]["lb/in"]
SLIPS: dict[str, tuple[tuple[str, float], ...]] = {
    "mm": (("Read in inches it is", MM_PER_INCH), ("With the other sign it is", -1)),
    "in": (("Read in mm it is", 1 / MM_PER_INCH), ("With the other sign it is", -1)),
    "kg": (("Pounds would be", POUND),),
    "lb": (("Kilograms would be", 1 / POUND),),
    "N/mm": (("Pounds per inch would be", POUND_AN_INCH),),
    "lb/in": (("Newtons per mm would be", 1 / POUND_AN_INCH),),
    "N m/deg": (("Per radian it would be", math.pi / 180),),
}
"""What may have been meant by a number in each unit: words, and how many times the number it then is."""
SLIPPED_POINT = tuple(("The decimal point may have slipped:", ten) for ten in (10, 0.1, 100, 0.01, 1000, 0.001))
AXES = ("forward (x)", "sideways (y)", "height (z)")
WORDS = {"axle": "axle end", "chassis": "chassis end"}
AGAIN = "Measure both ends again."
OTHER_SIDE = "Its ends are on the two sides of the car, and y has the other sign there."


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing that looks wrong: the dimension's place, as :func:`susgeo.moved` takes it, and a sentence or two.

    >>> print(Remark("rear.track", "55.1 mm is no track: inches?"))
    55.1 mm is no track: inches?
    """

    place: str
    says: str

    def __str__(self) -> str:
        return self.says


@dataclass(frozen=True, slots=True)
class Part:
    """One part of an axle: its place, its name in :data:`BOXES`, its joints in mm, and its signs of x and y there."""

    place: str
    name: str
    joints: dict[str, Place]
    ahead: int = 1
    side: int = 1


@dataclass(frozen=True, slots=True)
class Rule:
    """A measurement or proportion with its usual span; ``why`` says what may be amiss outside it."""

    place: str
    what: str
    value: float
    span: Span
    unit: str = ""
    why: str = ""


def remarks(thing: Car | Axle) -> tuple[Remark, ...]:
    """Return what looks wrong in a car or an axle as it was measured; nothing is refused, and a sound car has none.

    Args:
        thing: one car, or an axle alone, with numbers for measurements. Lengths are told in the unit of its file.

    >>> from susgeo import load_car, moved
    >>> car = load_car("data/three_link.toml")
    >>> remarks(car)
    ()
    >>> print(remarks(moved(car, {"rear.upper.axle.z": 18.5}))[0])
    Rear upper link, axle end, height (z): 18.5 mm; usual here is 319.3 to 744.0 mm. Read in inches it is 469.9 mm.
    """
    car = whole(thing)
    found: list[Remark] = []
    for end, axle in car.axles():
        sizes = _outside(car, _sizes(car, end, axle))
        found += sizes
        if not sizes:  # boxes of a wrong size would only add to the noise
            parts = list(_parts(car, end, axle))
            found += [remark for part in parts for remark in _misplaced(car, part, axle)]
            found += _outside(car, _proportions(end, axle, parts))
    weighed = _outside(car, _weight(car))
    found += weighed or _outside(car, _springs(car))
    return tuple({remark.place: remark for remark in reversed(found)}.values())[::-1]


def _outside(car: Car, rules: Iterable[Rule]) -> list[Remark]:
    """Return a remark for each value outside its span."""
    return [_remark(car, rule) for rule in rules if not rule.span[0] <= rule.value <= rule.span[1]]


def _remark(car: Car, rule: Rule) -> Remark:
    """Return what is said of a value outside its span, with the likeliest slip that would bring it back."""
    value, (low, high) = rule.value, rule.span
    own = {"mm": ("units", car.units), "kg": ("mass_units", car.mass_units), "N/mm": ("rate_units", car.rate_units)}
    kind, unit = own.get(rule.unit, ("", rule.unit))
    scale = 1 / UNITS[kind][unit] if kind else 1.0
    value, low, high = value * scale, low * scale, high * scale

    def told(number: float) -> str:
        return f"{shown(number, unit or '-')} {unit}".rstrip()

    slips = ((words, value * factor) for words, factor in [*SLIPS.get(unit, ()), *SLIPPED_POINT])
    likely = next((f" {words} {told(number)}." for words, number in slips if low <= number <= high), "")
    why = f" {rule.why}" if rule.why else likely
    what = rule.what[0].upper() + rule.what[1:]
    return Remark(rule.place, f"{what}: {told(value)}; usual here is {shown(low, unit or '-')} to {told(high)}.{why}")


def _misplaced(car: Car, part: Part, axle: Axle) -> Iterator[Remark]:
    """Yield a remark for each coordinate out of its box; or one alone, if two joints exchanged would both be in."""
    radius, half = as_number(axle.tire_radius), as_number(axle.track) / 2

    def spans(joint: str) -> list[Span]:
        signs, sizes = (part.ahead, part.side, 1), (radius, half, radius)
        boxes = zip(BOXES[part.name][joint], signs, sizes, strict=True)
        return [(min(s * low, s * high) * size, max(s * low, s * high) * size) for (low, high), s, size in boxes]

    def wrong(joint: str, at: Place) -> list[int]:
        return [axis for axis, (low, high) in enumerate(spans(joint)) if not low <= at[axis] <= high]

    joints, place = part.joints, part.place
    amiss = {joint: wrong(joint, at) for joint, at in joints.items()}
    if not any(amiss.values()):
        return
    for first, second in ((a, b) for a in joints for b in joints if a < b):
        swapped = {**joints, first: joints[second], second: joints[first]}
        if not any(wrong(joint, at) for joint, at in swapped.items()):
            what = f"{_words(part)}: {_joint(first)} and {_joint(second)}"
            yield Remark(f"{place}.{first}", f"{what} look exchanged; each lies where the other usually is.")
            return
    for joint, axes in amiss.items():
        for axis in axes:
            value, span = joints[joint][axis], spans(joint)[axis]
            why = ""
            if axis == 2 and span[0] <= value + radius <= span[1] and not span[0] <= value * MM_PER_INCH <= span[1]:
                why = "Heights count from the ground: from the wheel center upward it would be right."
            elif axis == 1 and span[0] <= value / 2 <= span[1]:
                why = "Sideways counts from the car's middle: half of it would be right."
            what = f"{_words(part)}, {_joint(joint)}, {AXES[axis]}"
            yield _remark(car, Rule(f"{place}.{joint}.{'xyz'[axis]}", what, value, span, "mm", why))


def _words(part: Part) -> str:
    side = next((f"{side} " for side in ("left", "right") if f".{side}" in part.place), "")
    end = part.place.partition(".")[0].removesuffix("_springs").removesuffix("shaft")
    return f"{end} {side}{part.name}".strip()


def _joint(name: str) -> str:
    return WORDS.get(name, name.replace("_", " "))


def _points(thing: object, name: str) -> dict[str, Place]:
    found: dict[str, Any] = {joint: coordinates(getattr(thing, joint)) for joint in BOXES[name]}
    return {joint: (as_number(x), as_number(y), as_number(z)) for joint, (x, y, z) in found.items()}


def _parts(car: Car, end: str, axle: Axle) -> Iterator[Part]:
    """Yield the parts of an axle, of its springs, and behind it of the propeller shaft."""
    if isinstance(axle, LiveAxle):
        links = [link for group in (axle.lower, axle.upper) for link in group]
        ahead = 1 if end == "rear" or all(link.chassis.x > 0 for link in links) else -1
        for height in ("lower", "upper"):
            group: Group = getattr(axle, height)
            for number, link in enumerate(group):
                joints = _points(link, "lower link")
                (x, y, z), (u, v, w) = joints.values()
                name = f"{height} link" + ("s" if len(group) == 2 else "")
                if height == "upper" and len(group) == 2 and y == 0:
                    name = "A-frame"
                elif height == "upper" and len(group) == 1 and min(x, u) > as_number(axle.tire_radius):
                    name = "upright link"
                elif height == "lower" and axle.leaves:
                    name = "leaf springs"
                alike = len(group) == 1 or is_symmetric(group)
                side = "" if alike else (".left", ".right")[number]
                if not (alike and number):  # the right one of a pair alike says nothing new
                    yield Part(f"{end}.{height}{side}", name, joints, ahead, -1 if number else 1)
        others: list[tuple[str, str, Any]] = [(f"{end}.locator", axle.locator_name, axle.locator)]
    else:
        upper = "strut" if isinstance(axle.upper, StrutLeg) else "upper arm"
        names = {"lower": "lower arm", "upper": upper, "tie_rod": "tie rod"}
        others = [(f"{end}.{field}", name, getattr(axle, field)) for field, name in names.items()]
    for field, name in {"coil": "coil spring", "damper": "damper", "bar": "drop link"}.items():
        others.append((f"{end}_springs.{field}", name, getattr(getattr(car, f"{end}_springs"), field, None)))
    others.append(("shaft", "propeller shaft", car.shaft if end == "rear" else None))
    yield from (Part(place, name, _points(thing, name)) for place, name, thing in others if thing is not None)


def _sizes(car: Car, end: str, axle: Axle) -> Iterator[Rule]:
    """Yield what gives every box its size: a slip here is told alone."""
    track, radius = as_number(axle.track), as_number(axle.tire_radius)
    across = "It is measured from the ground to the wheel center, not across the tire."
    yield Rule(f"{end}.tire_radius", f"{end} tire radius", radius, (230, 480), "mm", across if radius > 480 else "")
    yield Rule(f"{end}.track", f"{end} track", track, (1000, 1900), "mm")
    yield Rule(f"{end}.track", f"{end} track over its tire radius", track / radius, (3.3, 6.2))
    if car.title:  # an axle alone has none, and no wheelbase
        yield Rule("wheelbase", f"wheelbase over {end} track", as_number(car.wheelbase) / track, (1.35, 2.6))
    if end == "front" and car.rear is not None:
        yield Rule("front.track", "front track over rear track", track / as_number(car.rear.track), (0.84, 1.19))


def _angle(rise: float, run: float) -> float:
    return math.degrees(math.atan2(rise, abs(run)))


def _measured(how: str, apart: Place) -> float:
    """Return one way in which two joints stand to each other, from what lies between them in x, y and z."""
    x, y, z = apart
    return {"rise": _angle(z, math.hypot(x, y)), "tilt": _angle(z, y), "skew": _angle(x, y), "lean": _angle(math.hypot(x, y), z),
            "lead": x, "width": abs(y), "height": z, "distance": math.hypot(x, y, z)}[how]  # fmt: skip


def _less(second: Place, first: Place) -> Place:
    return second[0] - first[0], second[1] - first[1], second[2] - first[2]


def _proportions(end: str, axle: Axle, parts: list[Part]) -> Iterator[Rule]:
    """Yield how the joints of one part, both sides, and the parts of one axle stand to each other."""
    radius, half = as_number(axle.tire_radius), as_number(axle.track) / 2
    sizes = {"lead": radius, "height": radius, "distance": radius, "width": half}
    axis = {"width": "y", "skew": "x", "lead": "x"}
    for part in parts:
        for first, second, how, (low, high) in BETWEEN.get(part.name, ()):
            size, unit = sizes.get(how, 1.0), "mm" if how in sizes else "deg"
            what = f"{_words(part)}, {how} from {_joint(first)} to {_joint(second)}"
            value = _measured(how, _less(part.joints[second], part.joints[first]))
            why = OTHER_SIDE if (how, part.name) == ("width", "Panhard bar") else AGAIN
            yield Rule(f"{part.place}.{second}.{axis.get(how, 'z')}", what, value, (low * size, high * size), unit, why)
    by_place = {part.place: part for part in parts}
    for left in parts:
        right = by_place.get(re.sub(r"\.left$", ".right", left.place), left)
        for joint, (x, y, z) in left.joints.items() if right is not left else ():
            apart = _less(right.joints[joint], (x, -y, z))
            for letter, value, most in zip("xyz", apart, (0.3, 0.35, 0.25), strict=True):
                what = f"{_words(left).replace('left ', '')}, {_joint(joint)}, {letter}: right side against left"
                yield Rule(f"{right.place}.{joint}.{letter}", what, value, (-most * radius, most * radius), "mm", AGAIN)
    if isinstance(axle, LiveAxle):
        if axle.upper and not any(part.name == "upright link" for part in parts):
            above = as_number(axle.upper[0].axle.z) - as_number(axle.lower[0].axle.z)
            what, why = f"{end} upper links over the lower ones, axle ends", "Are upper and lower links exchanged?"
            yield Rule(f"{end}.upper", what, above, (0.3 * radius, 1.6 * radius), "mm", why)
    elif "ball_joint" in (top := by_place[f"{end}.upper"].joints):
        lean = _less(by_place[f"{end}.lower"].joints["ball_joint"], top["ball_joint"])
        for letter, way, out, span in (
            ("x", "rearward", lean[0], (-11.0, 22.0)),
            ("y", "inward", lean[1], (-8.0, 25.0)),
        ):
            what, value = f"{end} steering axis, top {way}", _angle(out, lean[2])
            yield Rule(f"{end}.upper.ball_joint.{letter}", what, value, span, "deg", AGAIN)


def _weight(car: Car) -> Iterator[Rule]:
    if car.brake_front_share is not None:
        share, why = as_number(car.brake_front_share), "Sound brakes do more than half in front."
        yield Rule("brake_front_share", "front share of the brakes", share, (0.5, 0.85), "", why)
    if (weight := car.weight) is None:
        return
    mass, share, (_, axle) = as_number(weight.mass), as_number(weight.front_share), next(car.axles())
    area, radius = as_number(car.wheelbase) * as_number(axle.track) / 1e6, as_number(axle.tire_radius)
    height, why = as_number(weight.cg_height), "It is front mass over whole mass."
    yield Rule("weight.mass", "mass of the car", mass, (120 * area, 520 * area), "kg")
    yield Rule("weight.front_share", "front share of the mass", share, (0.38, 0.7), "", why)
    yield Rule("weight.cg_height", "height of the center of gravity", height, (radius, 2.6 * radius), "mm")
    for end, part, most in (("front", share, 0.16), ("rear", 1 - share, 0.24)):
        if own := as_number(getattr(weight, f"{end}_unsprung_mass")):
            why = "The scales show less on this axle than it weighs itself." if own >= part * mass else ""
            span = (0.035 * mass, min(most, 0.6 * part) * mass)
            yield Rule(f"weight.{end}_unsprung_mass", f"{end} unsprung mass", own, span, "kg", why)


def _springs(car: Car) -> Iterator[Rule]:
    for end, axle in car.axles():
        springs: Springs | None = getattr(car, f"{end}_springs")
        if springs is None:
            continue
        track, radius, place = as_number(axle.track), as_number(axle.tire_radius), f"{end}_springs"
        rate, where = (springs.rate, "rate") if springs.coil is None else (springs.coil.rate, "coil.rate")
        if rate is not None:
            span = (8.0, 120.0)
            if car.weight is not None:  # what gives the body 0.75 to 2.9 Hz
                hertz = as_number(ride_frequency(car, end))
                span = (as_number(rate) * (0.75 / hertz) ** 2, as_number(rate) * (2.9 / hertz) ** 2) if hertz else span
            yield Rule(f"{place}.{where}", f"{end} spring rate", as_number(rate), span, "N/mm")
        if springs.spacing is not None:
            low, high = (0.42, 1.03) if isinstance(axle, LiveAxle) else (0.85, 1.1)
            why = "It is from the left spring to the right one; for an independent wheel it is the track."
            span = (low * track, high * track)
            yield Rule(f"{place}.spacing", f"{end} spring spacing", as_number(springs.spacing), span, "mm", why)
        stiff = as_number(springs.anti_roll_rate)
        yield Rule(f"{place}.anti_roll_rate", f"{end} anti-roll bar", stiff, (0, 450), "N m/deg")
        sizes = {"diameter": (10.0, 40.0), "span": (0.35 * track, track), "arm": (0.3 * radius, 1.6 * radius)}
        for field, span in sizes.items() if springs.bar else ():
            value = as_number(getattr(springs.bar, field))
            yield Rule(f"{place}.bar.{field}", f"{end} anti-roll bar, {field}", value, span, "mm")
    for joint, bend in zip(("gearbox", "pinion"), car.shaft.joint_angles if car.shaft else (), strict=False):
        what = f"{joint} joint of the propeller shaft, bend"
        why = "Look at the sign of its angle: positive is rising toward the front."
        yield Rule(f"shaft.{joint}_angle", what, as_number(degrees(bend)), (0, 4.6), "deg", why)
