"""Drawings with dimensions: lettered joints, measured from ground and wheel centers as on a sheet of paper."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from ..geometry.flat import VIEWS, View
from .drawings import OPENINGS, TITLES
from .live_parts import scenery
from .picture import Panel, Picture
from .scenes import windows
from .sketch import Sketch, Window

ON_THE_AXLE = ("J", "T", "K", "W", "WL", "WR", "ME")
"""Joints that go with the wheels, though their letters do not say so."""
ROW, COLUMN = 27.0, 58.0  # pixels between dimension lines one above, or one beside, the other
TALLEST = 420.0  # pixels, of a view

Joints = Mapping[str, Mapping[str, float]]
"""Letters of a joint to its coordinates, each by the letter of its axis, in mm."""


def dimensioned(
    axle: Any,
    joints: Joints,
    view: View = "side",
    links: Sequence[tuple[str, str]] = (),
    write: Callable[[str, float], str] = lambda name, value: f"{name} = {value:g}",
    measured: Sequence[str] | None = None,
    width: int = 760,
) -> Picture:
    """Draw joints by their letters, each coordinate a dimension line from ground, wheel or center line.

    Args:
        axle: what stands around them: wheels and ground.
        joints: letters to coordinates, such as ``{"LC": {"x": 600, "z": 290}}``; one that is not named is zero.
        view: "side", "plan" or "front"; a coordinate that it does not show gets a second view of its own.
        links: pairs of letters with a link between them.
        write: the words of a dimension, of its symbol and value.
        measured: symbols, such as "z_LC", that get a dimension; None takes all coordinates given.

    >>> from susgeo import load_car
    >>> rear = load_car("data/three_link.toml").rear
    >>> drawing = dimensioned(rear, {"LA": {"x": 0, "z": 240}, "LC": {"x": 600, "z": 290}}, links=[("LA", "LC")])
    >>> drawing.alt
    'Side view, forward to the right. Joint LA: x_LA = 0, z_LA = 240. Joint LC: x_LC = 600, z_LC = 290.'
    """
    wanted = [(axis, code) for code, place in joints.items() for axis in place
              if measured is None or f"{axis}_{code}" in measured]  # fmt: skip
    shown = {view: [pair for pair in wanted if pair[0] in VIEWS[view]]}
    if other := [pair for pair in wanted if pair not in shown[view]]:  # of the one axis that it does not show
        shown["front" if other[0][0] == "z" else "plan"] = other
    bounds = {one: _bounds(axle, joints, one) for one in shown}
    rooms = {one: _rooms(joints, one, pairs) for one, pairs in shown.items()}
    mm = max(  # for each pixel, where there is the least room
        need / max(200.0, most - sum(rooms[one][side:end]))
        for one, (left, right, bottom, top) in bounds.items()
        for need, most, side, end in ((right - left, width - 12, 0, 2), (top - bottom, TALLEST, 2, 3))
    )
    panels = []
    for one, (left, right, bottom, top) in bounds.items():
        more = [mm * room for room in rooms[one]]
        window = left - more[0], right + more[1], bottom, top + more[2]
        panels.append([Panel(one, one, window, TITLES[one], scale=False)])

    def paint(sketch: Sketch) -> None:
        sketch.say(OPENINGS[sketch.view])
        scenery(sketch, axle)
        places = {code: _place(sketch.view, place) for code, place in joints.items()}
        for pair in links:
            if set(pair) <= joints.keys():
                sketch.path(" ".join(pair), [places[code] for code in pair])
        for code, at in places.items():
            on_axle = code[1:2] == "A" or code in ON_THE_AXLE
            if code != "E":  # an elbow is no joint
                sketch.dot(code, at, "axle end" if on_axle else "chassis end")
            sketch.label(f"{code} letter", at, code)
        _dimension(sketch, joints, shown[sketch.view], write)
        for code in dict.fromkeys(code for _, code in shown[sketch.view]):
            told = [write(f"{axis}_{code}", joints[code][axis]) for axis, other in shown[sketch.view] if other == code]
            sketch.say(f"Joint {code}: {', '.join(told)}.")

    return Picture(panels, width, tallest=TALLEST).draw(paint)


def _place(view: str, place: Mapping[str, float]) -> tuple[float, float]:
    h, v = (float(place.get(axis, 0.0)) for axis in VIEWS[view])
    return (-h if view == "front" else h), v


def _bounds(axle: Any, joints: Joints, view: View) -> Window:
    """Return the part of a view that holds axle and joints."""
    left, right, bottom, top = windows([axle], (view,), 0)[view]
    for place in joints.values():
        h, v = _place(view, place)
        left, right, bottom, top = min(left, h - 60), max(right, h + 60), min(bottom, v - 60), max(top, v + 60)
    if view == "plan" and all(_place(view, place)[1] >= 0 for place in joints.values()):
        bottom = -60.0  # the right half of the car is the left one's mirror image
    return left, right, bottom, top


def _rooms(joints: Joints, view: View, shown: Sequence[tuple[str, str]]) -> tuple[float, float, float]:
    """Return how many pixels the dimension lines need to the left, to the right and above."""
    across, up = VIEWS[view]
    before, behind = _sides(joints, view, [code for axis, code in shown if axis == up])
    return COLUMN * len(before), COLUMN * len(behind), ROW * (sum(axis == across for axis, _ in shown) + 0.5)


def _sides(joints: Joints, view: str, codes: Sequence[str]) -> tuple[list[str], list[str]]:
    """Share joints between the two sides of a drawing, the nearest to the edge having the inmost line."""
    order = sorted(codes, key=lambda code: _place(view, joints[code])[0])
    half = len(order) // 2
    return order[:half], order[half:][::-1]


def _dimension(sketch: Sketch, joints: Joints, shown: Sequence[tuple[str, str]], write: Any) -> None:
    """Lay the dimension lines: heights beside the drawing, lengths above it, the longest outermost."""
    across, up = VIEWS[sketch.view]
    left, right, _, top = sketch.window
    lengths = sorted((code for axis, code in shown if axis == across),
                     key=lambda code: abs(_place(sketch.view, joints[code])[0]))  # fmt: skip
    told: dict[float, list[str]] = {}  # one line for joints as far from zero, with a number for each
    for number, code in enumerate(lengths):
        h, v = _place(sketch.view, joints[code])
        told.setdefault(h, []).append(write(f"{across}_{code}", joints[code][across]))
        level = top - sketch.mm * ROW * (len(lengths) - number - 0.1)
        sketch.path(f"{across} {code} extension", [(h, v), (h, level + 3 * sketch.mm)], "leader")
        if number + 1 == len(lengths) or _place(sketch.view, joints[lengths[number + 1]])[0] != h:
            sketch.dimension(f"{across} {code}", (0, level), (h, level), "\n".join(told[h]))
    if lengths:
        sketch.path("datum", [(0, 0), (0, top)], "center line")
    before, behind = _sides(joints, sketch.view, [code for axis, code in shown if axis == up])
    for codes, edge, way in ((before, left, 1), (behind, right, -1)):
        for number, code in enumerate(codes):
            h, v = _place(sketch.view, joints[code])
            # Its number stands to the right of each line, on either side of the drawing.
            at = edge + way * sketch.mm * COLUMN * (len(codes) - number - (0.85 if way > 0 else 0.15))
            sketch.path(f"{up} {code} extension", [(h, v), (at - way * 3 * sketch.mm, v)], "leader")
            text = write(f"{up}_{code}", joints[code][up]).replace(" = ", "\n")
            short = abs(v) < 44 * sketch.mm  # its number has no room beside it, and stands over its end
            sketch.dimension(f"{up} {code}", (at, 0), (at, v), text, 1.0 if short else 0.5)
