"""Drawings of axles and cars with their constructions, to scale, one line at a time if wanted.

``draw.axle(car.rear)`` in the last line of a notebook cell shows the drawing, ``draw.car(car)`` the whole
car. Forward is to the right in every side and plan view; the front view is seen from behind, so that left is
left. What a drawing shows beyond the links is a list of parts: names from :data:`susgeo.draw.scenes.SCENES`, or
functions of one's own that take a sketch and the thing drawn.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from numbers import Integral, Real
from typing import Any

from ..car.car import Car
from ..car.front import IndependentFront
from ..errors import SusgeoError, expect, several
from ..geometry.flat import View
from ..geometry.measure import in_units
from ..geometry.scalars import finite
from .live_parts import Part
from .look import GHOST, SECOND
from .picture import Painter, Panel, Picture
from .scenes import SCENES, Scene, windows
from .sketch import Mark, Sketch, Window

TITLES = {"side": "Side view", "plan": "Plan view, from above", "front": "Front view, seen from behind"}

OPENINGS = {
    "side": "Side view, forward to the right.",
    "plan": "Plan view, forward to the right, the left side of the car above.",
    "front": "Front view, seen from behind.",
}


def painter(
    thing: Any, show: Iterable[str | Part] | None = None, other: Any = None, ghost: Any = None, step: int | None = None
) -> Painter:
    """Return a function that sketches a thing in any view: what a picture, or a bench, draws.

    Args:
        thing: an axle or a car.
        show: parts by name, or functions of (sketch, thing); None takes the usual ones.
        other: a second one to compare with, drawn dashed in blue.
        ghost: the same one at rest, kept as a faint shadow.
        step: how many lines of the construction to draw; None draws all.
    """
    scene = _scene(thing)
    parts = [_part(scene, part) for part in (scene.usual if show is None else show)]

    def paint(sketch: Sketch) -> None:
        sketch.say(scene.title + "." if scene.title else OPENINGS[sketch.view])
        if ghost is not None and not scene.title:  # in space nothing is compared
            sketch.marks += _at_rest(ghost, sketch.view, sketch.window, sketch.mm)
        if other is not None and not scene.title:
            aside = sketch.aside()
            for part in (_scene(other).there, *parts):
                part(aside, other)
            sketch.include(aside, "second", SECOND)
        for part in (scene.there, *parts):
            part(sketch, thing)
        if step is not None:
            sketch.until(step)

    return paint


@lru_cache(maxsize=32)
def _at_rest(thing: Any, *paper: Any) -> list[Mark]:
    """Return the marks of a rest position, on paper of one view, window and scale; a bench wants them in each frame."""
    aside, shadow = Sketch(*paper), Sketch(*paper)
    _scene(thing).there(aside, thing)
    shadow.include(aside, "at rest", GHOST)
    return shadow.marks


def _listed(show: str | Part | Iterable[str | Part]) -> list[str | Part]:
    """Return the parts to draw as a list: one name, or one function, is one part."""
    if isinstance(show, str) or callable(show):
        return [show]
    expect(Iterable, show=show)
    return list(show)


def usual(thing: Any, views: Sequence[str]) -> tuple[str, ...]:
    """Return the parts that views have room for: side by side they are too small for the instant center."""
    names = _scene(thing).usual
    crowded = {"side", "front"} <= set(views)
    return tuple(name for name in names if not (crowded and name == "instant center"))


def axle(
    thing: Any,
    views: View | Sequence[View] = ("side",),
    show: str | Part | Iterable[str | Part] | None = None,
    *,
    other: Any = None,
    ghost: Any = None,
    names: Mapping[str, str] | None = None,
    reach: float | None = None,
    width: int = 760,
    units: str | None = None,
) -> Picture:
    """Draw an axle, or a car, and its constructions, to one scale.

    Args:
        thing: the axle or car; its coordinates are numbers.
        views: one or several of "side", "plan", "front"; the plan stands below the side view, the front view beside it.
        show: parts by name (see :data:`susgeo.draw.scenes.SCENES`), or functions of (sketch, thing) of your own;
            None takes what the views have room for.
        other: a second one to compare with, dashed in blue.
        ghost: an earlier position of the same one, as a faint shadow.
        names: words for the legend, such as {"other link": "parallel four links"}.
        reach: how far the paper goes, in mm: ahead of a rear axle, behind a front one, or, in a front view
            alone, to the right.
        width: of the drawing in pixels.
        units: of the lengths written on it, "mm" or "in"; None takes a car's own, and mm for an axle.

    A meeting point beyond the edge of the paper is an arrow with its distance. Alt text comes from the
    geometry.

    Raises:
        SusgeoError: there is no such view or part, or this is no one car of numbers.

    >>> from susgeo import load_car
    >>> print(axle(load_car("three_link").rear, "front").alt)
    Front view, seen from behind. The roll center lies 0.31 m above the ground.
    """
    views, show = several(str, views=views), show if show is None else _listed(show)
    picture = frame(thing, views, other=other, ghost=ghost, names=names, reach=reach, width=width, units=units)
    return picture.draw(painter(thing, usual(thing, views) if show is None else show, other, ghost))


car = axle


def frame(
    thing: Any,
    views: Sequence[View],
    *,
    other: Any = None,
    ghost: Any = None,
    names: Mapping[str, str] | None = None,
    room: Sequence[Any] = (),
    reach: float | None = None,
    width: int = 760,
    units: str | None = None,
) -> Picture:
    """Return the empty picture for an axle or car: its panels, their scale and the legend.

    The paper is large enough for the thing, the second one, its rest position, and all those in ``room``.
    """
    title = _scene(thing).title
    expect(type(thing) | None, other=other)
    expect(dict | None, names=names)
    units = units or str(getattr(thing, "units", "mm"))
    in_units(1.0, "mm", units)
    area = _areas([one for one in (thing, other, ghost, *room) if one is not None], views, reach, width)
    panels = [Panel(view, view, area[view], title or TITLES[view], not title) for view in views]
    upper, lower = ([panel for panel in panels if (panel.view == "plan") == plan] for plan in (False, True))
    legend = {"ghost": "at rest"} if ghost is not None and not title else {}
    legend |= {"link": "this axle", "other link": "second axle"} if other is not None else {}
    rows = [row for row in (upper, lower) if row]
    return Picture(rows, width, legend | dict(names or {}), units=units)


def strip(
    things: Sequence[Any],
    view: View,
    captions: Sequence[str],
    show: Iterable[str | Part] | None = None,
    *,
    ghost: Any = None,
    across: int = 3,
    reach: float | None = None,
    width: int = 760,
) -> Picture:
    """Draw several axles, or one in several positions, in one view, like frames of a film.

    Args:
        things, captions: what to draw, and what stands over each.
        view, show, ghost, reach, width: as for :func:`axle`.
        across: frames in a row.

    >>> from susgeo import load_car
    >>> strip([load_car("three_link").rear], "front", ["at rest"], "roll center height").alt
    'at rest: Front view, seen from behind.'
    """
    parts = None if show is None else _listed(show)
    things = [things] if type(things) in SCENES else list(things)
    area = _areas(things, (view,), reach, width, across)[view]
    captions = several(str, captions=captions)
    if len(captions) != len(things):
        raise SusgeoError(
            f"There are {len(things)} things to draw and {len(captions)} captions; expected one for each."
        )
    painters = [painter(thing, parts, ghost=ghost) for thing in things]
    if _scene(things[0]).title:
        across = 1  # what is seen in space needs room
    elif view == "side" and isinstance(things[0], Car):
        across, width = 1, min(width, 560)  # and so does a whole car
    elif view == "front" and isinstance(things[0], IndependentFront):
        across = min(across, 2)  # its instant center is far off: the arrow to it needs room for its distance
    return _frames(painters, view, area, captions, across, width)


def steps(
    thing: Any, view: View, show: Iterable[str | Part] | None = None, *, across: int = 2, reach: float | None = None
) -> Picture:
    """Draw a construction one line at a time: a frame for each line, with what to do written over it.

    Args:
        thing, show, reach, width: as for :func:`axle`. view: one of "side", "plan", "front". across: frames in a row.

    >>> from susgeo import load_car
    >>> steps(load_car("three_link").rear, "side", "instant center").alt.partition(" 2.")[0]
    "Side view, forward to the right. One line at a time. 1. Extend the lower link's line."
    """
    area = _areas([thing], (view,), reach, across=across)[view]
    parts = None if show is None else _listed(show)
    trial = Sketch(view, area)
    painter(thing, parts)(trial)
    captions = [f"{number}. {caption}" for number, caption in enumerate(trial.captions, 1)]
    if not captions:
        raise SusgeoError(
            f"None of these parts is constructed line by line in the {view} view; choose other parts, or axle()."
        )
    painters = [painter(thing, parts, step=number) for number in range(1, len(captions) + 1)]
    picture = _frames(painters, view, area, captions, across, 760)
    picture.alt = " ".join([trial.sentences[0], "One line at a time.", *captions, *trial.sentences[1:]])
    return picture


def _areas(
    things: list[Any], views: Sequence[View], reach: float | None, width: float = 760, across: int = 1
) -> dict[str, Window]:
    """Return the paper that each view of these things needs, once all that it is made of can be."""
    unknown = [view for view in views if str(view) not in TITLES]
    if unknown or not views:
        raise SusgeoError(f"There is no view {unknown[0] if unknown else '(none)'!r}; choose from {', '.join(TITLES)}.")
    expect(Real, width=width)
    expect(Real | None, reach=reach)
    expect(Integral, across=across)
    finite(reach or 0, "reach")
    if not (things and across > 0 and 0 < width < math.inf):
        raise SusgeoError(
            f"Expected a thing to draw, width and across above zero; got {len(things)} things, {width} and {across}."
        )
    for thing in things:
        _scene(thing)
    return windows(things, tuple(views), reach)


def _frames(
    painters: Sequence[Painter], view: View, area: Window, captions: Sequence[str], across: int, width: int
) -> Picture:
    panels = [Panel(f"{number}", view, area, caption, scale=False) for number, caption in enumerate(captions)]

    def paint(sketch: Sketch) -> None:
        number = int(sketch.name)
        painters[number](sketch)
        sketch.sentences.insert(0, f"{captions[number].removesuffix('.')}:")

    return Picture([panels[k : k + across] for k in range(0, len(panels), across)], width).draw(paint)


def _scene(thing: Any) -> Scene:
    scene = SCENES.get(type(thing))
    if scene is None:
        kinds = ", ".join(kind.__name__ for kind in SCENES)
        raise SusgeoError(f"There is no drawing of a {type(thing).__name__}; there is one of: {kinds}.")
    return scene


def _part(scene: Scene, part: str | Part) -> Part:
    if callable(part):
        return part
    if part not in scene.parts:
        raise SusgeoError(f"There is no part {part!r} of this drawing; choose from {', '.join(scene.parts)}.")
    return scene.parts[part]
