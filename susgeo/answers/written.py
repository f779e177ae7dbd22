"""Any quantity of a car, written out as one would by hand: figures, lines, result, and the construction drawn.

The ways are in ``data/solutions/ways.toml``, each a few lines for some quantities of some kind of axle; they are
put together for the car at hand. A way is shown only when its result is the library's own number.
"""

import itertools
import json
import math
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any

from .. import draw
from ..car.axle import LiveAxle
from ..car.car import Axle, Car, as_number, whole
from ..car.front import IndependentFront, StrutLeg
from ..car.pickup import dimensions
from ..errors import SusgeoError, expect
from ..files import DATA
from ..geometry.flat import View
from ..results.quantities import QUANTITIES, Quantity, find, numbers, plain_name
from ..results.rows import SOLVED
from ..tables import Table
from .calculation import Calculation, Step, evaluate, read
from .figures import Figure, figures, values_of
from .paper import on_paper, put, text, tree
from .worked import Worked, work_out

PLACE = DATA / "solutions" / "ways.toml"
AGREE = 1e-9
"""How near a way must come to the library's number, in parts of it."""
INCHES = {"mm": ("in", 25.4), "mm^2": ("in^2", 25.4**2), "1/mm": ("1/in", 1 / 25.4), "deg/mm": ("deg/in", 1 / 25.4)}
INCHES |= {"mm/g": ("in/g", 25.4), "mm/kg": ("in/kg", 25.4)}
"""What a unit becomes on a car that is measured in inches, and how many of the old make one of the new."""
OF_THE_FRONT = {"t": "t_f", "r": "r_f"} | {name: f"{name}f" for name in ("k_c", "d_b", "i_b", "L_b", "a_b")}


@dataclass(frozen=True, slots=True)
class Way:
    """A few lines that give some quantities.

    Args:
        title: for people.
        of: the symbols that it gives.
        axle: what it holds for: "live", "independent", "strut", "wishbone", "rear", "front" or "car".
        steps: its lines.
        after: symbols whose lines come first.
        view, show: how its construction is drawn (:func:`susgeo.draw.drawings.axle`); "" where there is none.
    """

    title: str
    of: tuple[str, ...]
    axle: str
    steps: tuple[Step, ...]
    after: tuple[str, ...] = ()
    view: View | str = ""
    show: tuple[str, ...] = ()

    def at_the_front(self) -> "Way":
        """The same for a live front axle: names get the letter f, and lengths are the front's."""
        own = {step.name for way in ways() if way.axle == "live" for step in way.steps}

        def rename(match: re.Match[str]) -> str:
            name = match[0]
            if name in OF_THE_FRONT:
                return OF_THE_FRONT[name]
            return f"{name}f" if name in own or re.match(r"[xyz]_[A-Z]+$", name) else name

        def at_front(text: str) -> str:
            return re.sub(r"[A-Za-z]\w*", rename, text)

        steps = tuple(replace(step, name=f"{step.name}f", formula=at_front(step.formula)) for step in self.steps)
        of, after = (tuple(f"{name}f" for name in names) for names in (self.of, self.after))
        return replace(self, of=of, steps=steps, after=after)


@cache
def ways() -> tuple[Way, ...]:
    """Return all ways, in the order in which they are tried."""
    return tuple(way for entry in tomllib.loads(PLACE.read_text(encoding="utf-8"))["way"] for way in _spelled(entry))


def _spelled(entry: dict[str, Any]) -> Iterator[Way]:
    """Yield a way once for each combination of the words that it has under ``each``."""
    for words in itertools.product(*entry.pop("each", [])):
        spelled = json.dumps(entry)
        for name, word in itertools.chain(*(each.items() for each in words)):
            spelled = spelled.replace(f"<{name}>", word)
        made = json.loads(spelled)
        lists = {name: tuple(made.get(name, ())) for name in ("of", "after", "show")}
        yield Way(**made | lists | {"steps": tuple(Step(*line) for line in made["steps"])})


def _ways_of(car: Car) -> Iterator[Way]:
    kinds = {"rear", "front", "car"}
    if isinstance(car.front, IndependentFront):
        kinds |= {"independent", "strut" if isinstance(car.front.upper, StrutLeg) else "wishbone"}
    for way in ways():
        if way.axle in kinds or (way.axle == "live" and isinstance(car.rear, LiveAxle)):
            yield way
        if way.axle == "live" and isinstance(car.front, LiveAxle):
            yield way.at_the_front()


def symbol_of(quantity: Quantity, end: str) -> str:
    """Return a quantity's name in the lines: its symbol, with the letter f for the front axle."""
    return quantity.symbol.replace("'", "_g") + ("f" if end == "front" else "")


@lru_cache(maxsize=64)
def _finder(car: Car) -> Callable[[str], tuple[tuple[Step, ...], Way] | None]:
    """Return what finds the lines to a symbol and the way that ends them: the first that meets the library's numbers."""
    known = values_of(figures(car))
    worked = [f"{end} {item.name}".strip() for item in QUANTITIES if item.name not in SOLVED for end in item.ends]
    named = {symbol_of(*find(name)): (name, number) for name, number in numbers(car, worked).items()}
    available = list(_ways_of(car))

    @cache
    def lines(symbol: str) -> tuple[tuple[Step, ...], Way] | None:
        for way in available:
            if symbol not in way.of:
                continue
            before = [lines(name) for name in way.after]
            if None in before:
                continue
            steps = tuple(dict.fromkeys(step for part in before if part for step in part[0])) + way.steps
            calculation = Calculation(symbol, way.title, "side", steps)
            if set(calculation.needed).difference(known):
                continue
            values = calculation.values(known)
            if all(_agrees(values[step.name], step, named) for step in way.steps) and symbol in values:
                return steps, way
        return None

    return lines


def _agrees(value: float, step: Step, named: Mapping[str, tuple[str, object]]) -> bool:
    if step.name not in named:
        return math.isfinite(value)
    right = float(named[step.name][1])  # type: ignore[arg-type]
    return math.isclose(on_paper(value, step.unit), right, rel_tol=AGREE, abs_tol=AGREE)


@dataclass(frozen=True, eq=False)
class Chain:
    """All lines to one quantity of a car, in the car's own unit of length, and the figures they start from.

    :func:`written_out` shows it, :func:`susgeo.answers.by_hand.check_by_hand` reads a person's own against it.
    """

    name: str
    symbol: str
    end: str
    calculation: Calculation
    known: Mapping[str, Figure]
    last: Way


@lru_cache(maxsize=256)
def chain(car: Car, name: str) -> Chain:
    """Return the lines to a quantity of a car; raises what :func:`written_out` says."""
    quantity, end = find(name)
    name = plain_name(name)
    for value in dimensions(car).values():
        as_number(value)  # many cars at once, or letters, are refused in its sentence
    found = numbers(car, [name])
    if name not in found:
        raise SusgeoError(f"This car has no {name}: something that it rests on is not in its file.")
    if not math.isfinite(float(found[name])):
        why = "the lines are parallel, and there is nothing to work out"
        raise SusgeoError(f"On this car the {name} is at infinity: {why}.")
    measured = figures(car)
    symbol = symbol_of(quantity, end)
    way = _finder(car)(symbol)
    if quantity.name in SOLVED:
        raise SusgeoError(f"The {name} is solved step by step: no way on paper leads to it.")
    if way is None:
        raise SusgeoError(
            f"There is no way on paper to the {name} of this car: its two sides differ, or nobody has written it "
            "down yet; the number itself is in the summary."
        )
    steps, last = way
    calculation = Calculation(symbol, last.title, last.view or "side", steps)
    known = calculation.known(measured)
    if car.units == "in":
        calculation, known = _in_inches(calculation, known)
    return Chain(name, symbol, end, calculation, known, last)


def _in_inches(calculation: Calculation, known: Mapping[str, Figure]) -> tuple[Calculation, dict[str, Figure]]:
    """Return lines and figures with lengths in inches; a line that mixes them with numbers in mm, N/mm or N mm says *25.4."""
    values = calculation.values(values_of(known))
    units = {name: figure.unit for name, figure in known.items()} | {s.name: s.unit for s in calculation.steps}
    scaled = {name: value / INCHES.get(units[name], ("", 1.0))[1] for name, value in values.items()}
    units = {name: INCHES.get(unit, (unit,))[0] for name, unit in units.items()}
    inch = {"in": "25.4", "in/g": "25.4", "in/kg": "25.4", "in^2": "25.4^2"}
    scales = {name: inch[unit] for name, unit in units.items() if unit in inch}
    parts = {name: tree(f"{name}*{scale}") for name, scale in scales.items()}
    steps = []
    for step in calculation.steps:
        mixed = text(put(tree(step.formula), parts))
        for formula in (step.formula, mixed, f"({mixed})/{scales.get(step.name, 1)}", f"({mixed})*25.4"):
            if math.isclose(evaluate(read(formula), scaled), scaled[step.name], rel_tol=1e-9, abs_tol=1e-9):
                break
        steps.append(replace(step, formula=formula, unit=units[step.name]))
    in_inches = {name: replace(one, unit=units[name], value=scaled[name]) for name, one in known.items()}
    return replace(calculation, steps=tuple(steps)), in_inches


def written_out(car: Car | Axle, name: str, folded: bool = False) -> Worked:
    """Return the way to a quantity of a car, written out from its measured figures, in mm or as the car's file in inches.

    Args:
        car: any car, or an axle alone.
        name: of the quantity, as in the car's summary.
        folded: whether a notebook shows it closed, to be opened by a click.

    Raises:
        SusgeoError: there is no such quantity; or it is at infinity on this car; or it has no way on paper, as
            when an axle's two sides differ.

    >>> from susgeo import load_car
    >>> print(str(written_out(load_car("data/three_link.toml"), "rear roll center height")).splitlines()[-1].strip())
    z_R = z_P - e*x_P = 300 - 0.060897*(-120) = 307.3 mm   the height of the roll axis at the wheel centers (x = 0)
    """
    expect(str, name=name)
    car = whole(car)
    lines = chain(car, name)
    title = f"{lines.name[0].upper()}{lines.name[1:]}. {lines.last.title}"
    worked = work_out(title, lines.calculation, lines.known, lines.symbol, None, folded)
    view, show = lines.last.view, lines.last.show
    if not view:
        return worked
    if "springs" in show:  # a car draws them, and this one has no other axle
        alone = replace(car, front=None) if lines.end == "rear" else replace(car, rear=None)
        return replace(worked, drawing=lambda: draw.car(alone, (view,), [], units=car.units))  # type: ignore[arg-type]
    thing = car if "anti-squat" in show or not lines.end else getattr(car, lines.end)
    return replace(worked, drawing=lambda: draw.axle(thing, (view,), show, units=car.units))  # type: ignore[arg-type]


def formula_card() -> Table:
    """Return the card of formulas: each quantity's last line, for a rear axle on links and a strut front.

    Where a kind of axle goes another way, each way is a row.
    """
    rows, seen = [], set()
    quantities = {symbol_of(item, end): f"{end} {item.name}".strip() for item in QUANTITIES for end in item.ends}
    for way in ways():
        for step in way.steps:
            if step.name in quantities and (step.name, step.formula) not in seen:
                seen.add((step.name, step.formula))
                rows.append((quantities[step.name], step.name, step.formula, way.title))
    return Table(("quantity", "symbol", "formula", "when"), tuple(rows))
