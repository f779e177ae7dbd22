"""The hand calculation of a number on the sheet, as a page for someone else: its figures, its lines, its drawing."""

import html
import math

import numpy as np

from ..answers.calculation import Calculation, Step
from ..answers.figures import Figure
from ..answers.worked import Worked, work_out
from ..answers.written import chain, written_out
from ..car.axle import LiveAxle
from ..car.car import Car
from ..draw import drawings
from ..draw.printed import Sheet
from ..draw.vector import vector
from ..errors import SusgeoError
from ..geometry.measure import MM_PER_INCH, coordinates
from ..loads.forces import CAUTIONS, rod_forces, tire_forces
from ..results.build import case_in_words, rods
from ..results.many import CASES
from ..results.quantities import find, numbers
from ..tables import Table
from ..travel.live import straight_rods

HOW = "Each line below needs a pocket calculator and the figures above it. Angles in degrees; x forward, y left, z up."


def explanations(car: Car) -> tuple[str, ...]:
    """Return the names of everything on this car's sheet that has an explanation."""
    found = []
    for name in numbers(car):
        try:
            chain(car, name)
        except SusgeoError:
            continue
        found.append(name)
    for end, axle in car.axles():
        found += [f"{end} {rod}, {what}" for rod, _ in rods(axle) for what in ("length", "angle")]
        if isinstance(axle, LiveAxle) and not axle.leaves:
            found += [f"{end} rod forces, {case}" for case, loads in CASES.items() if _held(car, end, loads)]
    return tuple(found)


def explanation_page(car: Car, quantity: str) -> Sheet:
    """Return the page: ``explanation_page(car, "rear roll center height").save("why.html")``.

    Args:
        car: any car; in the unit of its file.
        quantity: a name of the summary, or ``"rear upper link, length"``, ``"rear upper link, angle"``, ``"rear rod forces, braking"``;
            :func:`explanations` lists them.

    Raises:
        SusgeoError: this car has no such number, or no way on paper leads to it.

    >>> from susgeo import load_car
    >>> print(explanation_page(load_car("data/three_link.toml"), "rear upper link, length").text.splitlines()[-1].strip())
    l = sqrt(dx^2 + dy^2 + dz^2) = sqrt(450^2 + 0^2 + (-20)^2) = 450.4 mm   eye to eye
    """
    part, _, what = quantity.rpartition(", ")
    if what in ("length", "angle"):
        return _page(car, quantity, _of_a_rod(car, part, what), "")
    if part.endswith(" rod forces"):
        return _balance(car, part.partition(" ")[0], what)
    item, _ = find(quantity)
    words = f"{item.meaning} Positive: {item.sign}. Source: {item.source}."
    return _page(car, quantity, written_out(car, quantity), words)


def _page(car: Car, title: str, worked: Worked, words: str) -> Sheet:
    rows = []
    for one in worked.figures:
        value = math.degrees(one.value) if one.unit.startswith("deg") else one.value
        rows.append((one.symbol, f"{value:.9g} {one.unit}", one.words))
    given = Table(("given", "", "what it is"), tuple(rows))
    lines = "".join(
        f'<li><p style="font-family: monospace; font-size: 10pt">{html.escape(line)}</p><p>{html.escape(said)}</p></li>'
        for line, said in worked.lines
    )
    parts = [f"<p>{html.escape(text)}</p>" for text in (words, HOW) if text]
    body = "".join([*parts, given._repr_mimebundle_()["text/html"], f"<ol>{lines}</ol>", worked.image])
    return Sheet(f"{car.title}: {title}, by hand", body, "\n".join(filter(None, [words, HOW, str(worked)])))


def _of_a_rod(car: Car, name: str, what: str) -> Worked:
    """Write out a rod's length, or its angle in the view in which it is longer."""
    end, _, rod = name.partition(" ")
    axle = dict(car.axles()).get(end)  # type: ignore[call-overload]
    link = dict(rods(axle)).get(rod) if axle is not None else None
    if link is None:
        known = [f"{e} {n}" for e, a in car.axles() for n, _ in rods(a)]
        raise SusgeoError(f"There is no rod called {name} on this car; there are {', '.join(known)}.")
    scale, unit = (MM_PER_INCH, "in") if car.units == "in" else (1.0, "mm")
    ends = [[float(part) / scale for part in coordinates(joint)] for joint in (link.axle, link.chassis)]
    known_ = {
        f"{axis}_{letter}": Figure(f"{axis}_{letter}", f"{rod}, {words}, {axis}", unit, value)
        for letter, words, place in (("A", "end on axle or knuckle", ends[0]), ("C", "end on the body", ends[1]))
        for axis, value in zip("xyz", place, strict=True)
    }
    words = "along {0}, from the axle to the body"
    steps = [Step(f"d{axis}", words.format(axis), unit, f"{axis}_C - {axis}_A") for axis in "xyz"]
    lengthwise = abs(ends[1][0] - ends[0][0]) >= abs(ends[1][1] - ends[0][1])
    view, axis, way = ("side", "x", "toward the front") if lengthwise else ("front", "y", "to the left")
    last = Step("a", f"from the level, rising {way}", "deg", f"atan(dz/d{axis})")
    if what == "length":
        view, last = "side", Step("l", "eye to eye", unit, "sqrt(dx^2 + dy^2 + dz^2)")
    lines = Calculation(last.name, name, "side", (*steps, last))
    worked = work_out(f"{name}, {what}", lines, known_, last.name, None, False)
    return Worked(worked.title, worked.figures, worked.lines, lambda: drawings.axle(axle, (view,), []), False)  # type: ignore[arg-type]


def _held(car: Car, end: str, case: object) -> bool:
    try:
        rod_forces(getattr(car, end), tire_forces(car, end=end, **case))  # type: ignore[arg-type]
    except SusgeoError:
        return False
    return True


def _balance(car: Car, end: str, case: str) -> Sheet:
    """Show that the rods' forces hold the axle: every one's part along x, y, z and its moments, and their sums."""
    axle = dict(car.axles()).get(end)  # type: ignore[call-overload]
    if case not in CASES or not isinstance(axle, LiveAxle):
        known = ", ".join(CASES)
        raise SusgeoError(f"There are no rod forces, {case}, of a {end} axle on this car; the cases are {known}.")
    loads = tire_forces(car, end=end, **CASES[case])  # type: ignore[arg-type]
    found = rod_forces(axle, loads)
    scale, unit = (MM_PER_INCH, "in") if car.units == "in" else (1.0, "mm")
    half, radius = float(axle.track) / 2, float(axle.tire_radius)
    pushes = [
        ("left tire", loads.left, (0.0, half, 0.0)), ("right tire", loads.right, (0.0, -half, 0.0)),
        ("axle's own weight and inertia", loads.own, (0.0, 0.0, radius)), ("springs", (0.0, 0.0, -found.springs), (0.0, 0.0, radius)),
    ]  # fmt: skip
    acting = [rod for rod in straight_rods(axle) if not rod.name.startswith("center link")]  # that one joins two cranks
    for (name, force), rod in zip(found.tension.items(), acting, strict=False):
        start, stop = (np.array([float(part) for part in coordinates(p)]) for p in (rod.axle, rod.chassis))
        pull = force * (stop - start) / np.linalg.norm(stop - start)
        pushes.append((f"{name}: {force:.0f} N", tuple(pull), tuple(start)))
    rows, total = [], np.zeros(6)
    for name, force, place in pushes:
        six = np.r_[np.array(force, dtype=float), np.cross(place, np.array(force, dtype=float)) / scale]
        total += six
        rows.append((name, *(f"{part / scale:.1f}" for part in place), *(f"{part:.1f}" for part in six)))
    springs = found.roll_moment / scale
    rows.append(("springs and anti-roll bar, against roll", "", "", "", "", "", "", f"{springs:.1f}", "", ""))
    total[3] += springs
    rows.append(("sum", "", "", "", *(f"{part:.1f}".replace("-0.0", "0.0") for part in total)))
    columns = (
        f"{letter}{axis} [{of}]" for letter, of in (("", unit), ("F", "N"), ("M", f"N {unit}")) for axis in "xyz"
    )
    head = ("what acts on the axle", *columns)
    words = (
        f"The case {case}: {case_in_words(CASES[case])}. The axle is cut free. What acts on it must come to nothing, along x, y and z and in moment about each: then these forces hold it. "
        "A rod pulls along its own line: its part along x is its force times dx over its length. Moments about the ground below the axle's "
        "middle: Mx = y Fz - z Fy, My = z Fx - x Fz, Mz = x Fy - y Fx. Plus pulls, minus pushes. The springs' force stands in the plane of the wheel centers."
    )  # fmt: skip
    table = Table(head, tuple(rows), f"{loads.corner.warning if loads.corner else ''} {CAUTIONS}".lstrip())
    body = f"<p>{words}</p>{table._repr_mimebundle_()['text/html']}{vector(drawings.axle(axle, ('side',), []))}"
    return Sheet(f"{car.title}: {end} rod forces, {case}", body, f"{words}\n{table}")
