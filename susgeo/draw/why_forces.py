"""The pictures behind the forces: an axle cut free, and its forces laid end to end."""

import math
from typing import Any

import numpy as np

from ..car.axle import LiveAxle
from ..loads.forces import TireForces, rod_forces
from .drawings import OPENINGS, TITLES
from .live_parts import links
from .picture import Panel, Picture
from .scenes import windows
from .sketch import Sketch


def free_body(axle: LiveAxle, push: float, reach: float = 1150.0) -> Picture:
    """Draw an axle from the side with every force on it, and below it the same forces end to end: they close.

    Args:
        axle: with two lower links and one or two upper ones.
        push: of the road on both tires together, forward, in N.
        reach: how far the paper goes ahead, in mm.

    >>> from susgeo import load_car
    >>> free_body(load_car("data/three_link.toml").rear, 3450).alt.split(". ")[-1]
    'Laid end to end they close: road 3450 N, upper link 3639 N, tire less springs 752 N, both lower links 7110 N.'
    """
    tension = rod_forces(axle, TireForces((push / 2, 0, 0), (push / 2, 0, 0))).tension
    sums, tails = dict[str, tuple[float, float]](), {}
    for height in ("upper", "lower"):
        group = getattr(axle, height)
        x, z = np.sum([np.array(_way(link)) * float(tension[link.name]) for link in group], axis=0)
        sums[height] = float(x), float(z)
        tails[height] = group[0].axle
    upright = -(sums["upper"][1] + sums["lower"][1])
    word = {height: "both lower links" if height == "lower" else "upper link" if len(axle.upper) == 1 else "both upper links"
            for height in sums}  # fmt: skip
    forces = {"road": (push, 0.0), word["upper"]: sums["upper"], "tire less springs": (0.0, upright),
              word["lower"]: sums["lower"]}  # fmt: skip
    window = windows([axle], ("side",), reach)["side"]
    wide, high = window[1] - window[0], window[3] - window[2]
    corners = np.cumsum([(0.0, 0.0), *forces.values()], axis=0)
    span = np.ptp(corners, axis=0)
    mm = float(min(0.66 * wide / span[0], 0.3 * high / max(span[1], 1.0)))  # of paper for a newton
    shift = -mm * (corners.min(axis=0) + span / 2)

    def paint(sketch: Sketch) -> None:
        if sketch.name == "forces":
            places = [(float(x), float(z)) for x, z in corners * mm + shift]
            for name, start, end in zip(forces, places, places[1:], strict=False):
                sketch.arrow(name, start, end, "result arrow" if "link" in name else "arrow")
                part = 0.7 if "lower" in name else 0.5  # so that the words of two long sides stand apart
                middle = (start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1]))
                sketch.label(f"{name} size", middle, f"{name} {math.hypot(*forces[name]):.0f} N",
                             "result name" if "link" in name else "name")  # fmt: skip
            told = ", ".join(f"{name} {math.hypot(*force):.0f} N" for name, force in forces.items())
            sketch.say(f"Laid end to end they close: {told}.")
            return
        sketch.say(OPENINGS["side"])
        aside = sketch.aside()
        links(aside, axle)
        aside.marks = [mark for mark in aside.marks if mark.role not in ("name", "link", "chassis end")]
        sketch.include(aside, "axle")
        radius = float(axle.tire_radius)
        own: dict[str, Any] = {"road": (0.0, 0.0), "tire less springs": (0.0, radius)}
        own |= {word[height]: sketch.at(tail) for height, tail in tails.items()}
        for name, force in forces.items():
            tail = own[name]
            link, pushes = "link" in name, "link" in name and force[0] < 0  # a push comes from where the link was
            start, end = ((-force[0], -force[1]), (0.0, 0.0)) if pushes else ((0.0, 0.0), force)
            ends = [(tail[0] + x * mm, tail[1] + z * mm) for x, z in (start, end)]
            sketch.arrow(name, ends[0], ends[1], "result arrow" if link else "arrow")
            free = ends[0] if pushes else ends[1]
            sketch.label(f"{name} name", free, name, "result name" if link else "name")
        sketch.say("The axle cut free: where a link was, stands its pull or push along its line.")

    below = -wide / 2, wide / 2, -0.22 * high, 0.22 * high
    first = Panel("side", "side", window, TITLES["side"], scale=False)
    second = Panel("forces", "side", below, "The same forces, end to end", scale=False)
    return Picture([[first], [second]], 540, {}, tallest=360).draw(paint)


def _way(link: Any) -> tuple[float, float]:
    """Return the direction of a pull on the axle, forward and up, for a pull of 1."""
    line = link.line
    size = math.sqrt(float(line.dx) ** 2 + float(line.dy) ** 2 + float(line.dz) ** 2)
    return float(line.dx) / size, float(line.dz) / size
