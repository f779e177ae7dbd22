"""The tables and fields of a car file, with a sentence on how each is measured; and values as they stand in one."""

import json
import re
from dataclasses import dataclass
from typing import Any

from ..errors import CarFileError
from ..files import legible
from ..geometry.measure import MM_PER_INCH
from ..geometry.space import LIMITS
from .coils import AntiRollBar, Coil, Damper
from .locators import MumfordLinkage, PanhardBar, WattsLinkage

SIZE_LIMIT = 1_000_000
"""Bytes; a car needs about two thousand."""

KG_PER_POUND = 0.45359237
POUND_FORCE = KG_PER_POUND * 9.80665
"""One pound in kg, and its weight in N: exact by definition (1959 and 1901; from memory)."""
UNITS = {
    "units": {"mm": 1.0, "in": MM_PER_INCH},
    "mass_units": {"kg": 1.0, "lb": KG_PER_POUND},
    "rate_units": {"N/mm": 1.0, "lb/in": POUND_FORCE / MM_PER_INCH},
}
"""The units that a file may declare, each by its size in mm, kg and N/mm."""
ROLL_RATES = {"N/mm": 1.0, "lb/in": POUND_FORCE * 12 * MM_PER_INCH / 1000}
"""What an anti-roll bar's rate is in, by the file's unit of rates: N m, or lb ft, for each degree of roll."""

KINDS = {
    "text": "text in quotes",
    **{name: " or ".join(f'"{unit}"' for unit in sizes) for name, sizes in UNITS.items()},
    "type": '"live axle", "strut" or "double wishbone"',
    "part": '"axle" or "chassis"',
    "carrier": '"axle", "lower link" or "upper link"; of an independent wheel "knuckle", "lower arm" or "upper arm"',
    **LIMITS,
    "roll rate": LIMITS["rate"],
    "leaf": '"uniform strength" or "uniform section"',
    "angle": "an angle in degrees between -45 and 45",
    "point": "three numbers [x, y, z]",
}


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a table: what it must hold, how to measure it, and whether it may be left out."""

    kind: str
    measure: str
    optional: bool = False


LINK = {
    "axle": Field("point", "middle of the joint on the axle"),
    "chassis": Field("point", "middle of the joint on the chassis"),
}

LEFT_LINK = {
    "axle": Field("point", "left link, middle of the joint on the axle; the right link mirrors it"),
    "chassis": Field("point", "left link, middle of the joint on the chassis"),
}

ARM = {
    "ball_joint": Field("point", "left side, middle of the ball joint"),
    "front_pivot": Field("point", "left side, middle of the front pivot on the body"),
    "rear_pivot": Field("point", "left side, middle of the rear pivot on the body"),
}

AXLE = {
    "type": Field("type", "what kind of axle it is"),
    "track": Field("length", "between the middles of the two tires, on the ground"),
    "tire_radius": Field("length", "from the ground to the wheel center, car on its wheels"),
}

SPRINGS = {
    "rate": Field("rate", "one spring, as it acts at the spacing below"),
    "spacing": Field("length", "between left and right spring; for an independent wheel the track"),
    "anti_roll_rate": Field(
        "roll rate", "anti-roll bar, N m (or lb ft beside lb/in) per degree of roll", optional=True
    ),
}

ON = Field("carrier", "what the moving end sits on; left out: the axle or knuckle itself", optional=True)

SPRUNG_TABLES = {
    "coil": {
        "axle": Field("point", "left spring, middle of its seat on what moves, car at ride height"),
        "chassis": Field("point", "left spring, middle of its seat on the body"),
        "rate": Field("rate", "one spring, along its own line: compress it at two heights, divide"),
        "on": ON,
    },
    "damper": {
        "axle": Field("point", "left damper, middle of its eye on what moves"),
        "chassis": Field("point", "left damper, middle of its eye on the body"),
        "on": ON,
    },
    "anti_roll_bar": {
        "axle": Field("point", "left drop link, middle of the joint nearer to what moves"),
        "chassis": Field("point", "left drop link, middle of the joint nearer to the body"),
        "diameter": Field("length", "of the bar, calipers on bare metal"),
        "span": Field("length", "of the part across the car, from arm to arm"),
        "arm": Field("length", "from the bar's axis to the drop link's joint, square to the axis"),
        "bore": Field("length", "of a tube: outer diameter less two walls", optional=True),
        "on": ON,
    },
}

SPRUNG: dict[str, Any] = {"coil": Coil, "damper": Damper, "anti_roll_bar": AntiRollBar}

WATT = {
    "pivot_on": Field("part", "which part carries the crank's pivot"),
    "pivot": Field("point", "middle of the crank's pivot"),
    "left_crank": Field("point", "joint between crank and left rod"),
    "left_end": Field("point", "far end of the left rod"),
    "right_crank": Field("point", "joint between crank and right rod"),
    "right_end": Field("point", "far end of the right rod"),
}

MUMFORD = {
    f"{side}_{part}": Field("point", f"{side} side, {words}")
    for side in ("left", "right")
    for part, words in (
        ("pivot", "pivot of the crank on the chassis"),
        ("crank", "joint between crank and outer rod"),
        ("end", "outer rod's end on the axle"),
        ("center", "joint between crank and center link"),
    )
}

LIVE_TABLES = {
    "lower_links": LEFT_LINK,
    "lower_link": LINK,
    "upper_links": LEFT_LINK,
    "upper_link": LINK,
    "a_frame": {
        "axle": Field("point", "the joint on the axle, in the center plane"),
        "chassis": Field("point", "left leg, middle of the joint on the chassis; the right leg mirrors it"),
    },
    "leaf_springs": {
        "eye": Field("point", "left spring, middle of the front eye, car at ride height"),
        "seat": Field("point", "left spring, main leaf at the middle of its seat on the axle"),
        "leaf": Field("leaf", "stepped leaves: uniform strength; a single leaf of one thickness: uniform section"),
    },
    "panhard_bar": LINK,
    "watts_linkage": WATT,
    "mumford_linkage": MUMFORD,
    "springs": SPRINGS,
    **SPRUNG_TABLES,
}

FRONT_TABLES = {
    "lower_arm": ARM,
    "upper_arm": ARM,
    "strut": {
        "top_mount": Field("point", "left side, middle of the top mount on the body"),
        "lower_point": Field("point", "left side, a point low on the strut's axis"),
    },
    "tie_rod": {
        "axle": Field("point", "left side, joint on the knuckle"),
        "chassis": Field("point", "left side, joint on the rack or relay rod"),
    },
    "springs": SPRINGS,
    **SPRUNG_TABLES,
}

TABLES: dict[str, dict[str, Field]] = {
    "": {
        "title": Field("text", "a name for the car"),
        "units": Field("units", "the unit of every length in this file"),
        "mass_units": Field("mass_units", "the unit of every mass in this file", optional=True),
        "rate_units": Field("rate_units", "the unit of every spring rate in this file", optional=True),
        "wheelbase": Field("length", "between the wheel-center lines"),
    },
    "weight": {
        "mass": Field("mass", "car as driven, on scales"),
        "front_share": Field("share", "part of the mass on the front wheels"),
        "cg_height": Field("length", "height of the center of gravity over the ground"),
        "front_unsprung_mass": Field("mass", "all that moves with the front wheels", optional=True),
        "rear_unsprung_mass": Field("mass", "rear axle with wheels", optional=True),
    },
    "brakes": {"front_share": Field("share", "part of the braking force at the front wheels")},
    "propeller_shaft": {
        "gearbox": Field("point", "middle of the joint at the gearbox, from the rear axle's origin"),
        "pinion": Field("point", "middle of the joint at the axle's pinion"),
        "gearbox_angle": Field("angle", "output shaft, protractor on its yoke; positive: rising toward the front"),
        "pinion_angle": Field("angle", "pinion, protractor on its yoke; positive: rising toward the front"),
    },
    "rear": AXLE,
    **{f"rear.{name}": fields for name, fields in LIVE_TABLES.items()},
    "front": AXLE,
    **{f"front.{name}": fields for name, fields in (LIVE_TABLES | FRONT_TABLES).items()},
}

LOCATORS: dict[str, Any] = {"panhard_bar": PanhardBar, "watts_linkage": WattsLinkage, "mumford_linkage": MumfordLinkage}


def as_typed(value: Any) -> str:
    """Return a value as it might stand in the file, cut short."""
    if isinstance(value, dict):
        text = "{" + ", ".join(f"{field_name(name)} = {as_typed(each)}" for name, each in value.items()) + "}"
    elif isinstance(value, list):
        text = "[" + ", ".join(map(as_typed, value[:20])) + "]"
    elif isinstance(value, (str, bool)):
        text = quoted(value)
    elif isinstance(value, int) and abs(value) >= 10**30:
        text = "a number of more than 30 digits"
    else:
        text = f"{value:.12g}" if isinstance(value, float) else str(value)
    text = legible(text, 61)
    return text if len(text) <= 60 else text[:57] + "..."


def field_name(field: str) -> str:
    """Return the name of a field as it might stand in the file."""
    return field if re.fullmatch(r"[\w-]{1,60}", field) else as_typed(field)


def quoted(value: str | bool) -> str:
    """Return text in quotes, or true or false: TOML writes them as JSON does, but for one character."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def digits(value: Any) -> str:
    try:
        return f"{float(value):.12g}"
    except TypeError:
        raise CarFileError(
            f"A car file holds numbers, and this car has {type(value).__name__} for one; save one car at a time."
        ) from None
