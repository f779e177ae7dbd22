"""Pages to print: glossary, symbols, the sheet for measuring a car, and what was moved on one, before and after.

The tables are made anew each time, so that they cannot drift from what the library computes and reads.
"""

import html
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from ..car.car import Axle, Car, as_number, whole
from ..car.fields import TABLES
from ..car.pickup import dimensions
from ..files import write_whole
from ..geometry.measure import in_units
from ..results.compare import compare_table
from ..results.quantities import QUANTITIES
from ..results.tolerance import LENGTHS
from ..tables import Table, shown
from . import drawings as draw
from .sketch import Sketch

WAYS = {"x": ("forward", "back"), "y": ("left", "right"), "z": ("up", "down")}

STYLE = (
    "@page { size: PAPER; margin: 12mm } body { font: 9pt sans-serif; color: #222; max-width: 186mm } "
    "h1 { font-size: 13pt } table { border-collapse: collapse; font-size: 8.5pt } "
    "th, td { padding: 0.3mm 3mm 0.3mm 0; border-bottom: 0.2mm solid #999 } img { width: 100% } "
    "table, svg { break-inside: avoid; break-before: auto }"
)

HOW_TO_MEASURE = (
    "Car at ride height on its own loaded wheels, driver's weight in the seat, level ground, wheels chocked; under "
    "the car only on rated ramps or stands, never on a jack. Zero: the ground below the middle of each axle's own "
    "wheel-center line. x forward, y left, z up. Plumb line from the middle of each bolt; measure twice."
)

CAUTION = (
    "For learning; no proof of a safe car. Brackets carry the whole car: design and welding by someone "
    "qualified, local rules first. Checked by ____________________ on ____________"
)


@dataclass(frozen=True, eq=False)
class Sheet:
    """A page: HTML on screen and in a file, text elsewhere."""

    title: str
    body: str
    text: str
    paper: str = "A4"

    def save(self, path: str | Path, *more: "Sheet") -> None:
        """Write the page, and more of them below it, as a file that any browser prints; it fetches nothing from elsewhere."""
        title = html.escape(self.title)
        head = f'<meta charset="utf-8"><title>{title}</title><style>{STYLE.replace("PAPER", self.paper)}</style>'
        bodies = [f"<h1>{html.escape(one.title)}</h1>{one.body}" for one in (self, *more)]
        page = '<div style="break-before: page"></div>'.join(bodies)
        write_whole(path, f'<!DOCTYPE html><html lang="en"><head>{head}</head><body>{page}</body></html>')

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        head = f"<p><strong>{html.escape(self.title)}</strong></p>"
        return {"text/html": head + self.body, "text/plain": f"{self.title}\n{self.text}"}


def glossary() -> Table:
    """Return every quantity of the course with its meaning.

    >>> "roll center height" in str(glossary())
    True
    """
    return Table(("quantity", "meaning"), tuple((quantity.name, quantity.meaning) for quantity in QUANTITIES))


def symbols() -> Table:
    """Return the page of symbols: symbol, quantity, name in code, unit, what positive means, source."""
    rows = ((one.symbol, one.name, one.code, one.unit, one.sign, one.source) for one in QUANTITIES)
    return Table(("symbol", "quantity", "in code", "unit", "positive", "source"), tuple(rows))


def measuring_sheet(*tables: str, units: Literal["mm", "in"] = "mm") -> Table:
    """Return the sheet to print and fill in at the car: a line for each measurement of some tables.

    Args:
        tables: names of a car file's tables, such as "rear", "rear.lower_links"; "" is the top of the file.
            Without any, those of a rear axle on three links and a bar.
        units: of the lengths.

    >>> print(measuring_sheet("rear.panhard_bar"))
    table             field    x [mm]  y [mm]  z [mm]  how to measure
    rear.panhard_bar  axle     ______  ______  ______  middle of the joint on the axle
    rear.panhard_bar  chassis  ______  ______  ______  middle of the joint on the chassis
    """
    chosen = tables or ("", "rear", "rear.lower_links", "rear.upper_link", "rear.panhard_bar", "weight", "brakes")
    blank, rows = "______", []
    for table in chosen:
        for field, rule in TABLES[table].items():
            cells = (blank,) * 3 if rule.kind == "point" else (blank, "", "")
            rows.append((table or "top of the file", field, *cells, rule.measure))
    head = ("table", "field", *(f"{axis} [{units}]" for axis in "xyz"), "how to measure")
    return Table(head, tuple(rows))


def measuring_page(*tables: str, units: Literal["mm", "in"] = "mm") -> Sheet:
    """Return the measuring sheet as a page to print, with how to measure and the cautions.

    Args:
        tables, units: as for :func:`measuring_sheet`.

    ``measuring_page(units="in").save("sheet.html")`` writes it as a file to print.
    """
    sheet = measuring_sheet(*tables, units=units)
    body = f"<p>{HOW_TO_MEASURE}</p>{sheet._repr_mimebundle_()['text/html']}"
    return Sheet("Measuring sheet. Car: ____________________", body, f"{HOW_TO_MEASURE}\n\n{sheet}")


def moves(before: Car | Axle, after: Car | Axle, units: Literal["mm", "in"] | None = None) -> Table:
    """Return what was changed: a line for each point, or other dimension, that differs; in the unit of the car's file.

    >>> from susgeo import load_car, moved
    >>> car = load_car("data/three_link.toml")
    >>> print(moves(car, moved(car, {"rear.locator.axle.x": -200, "rear.locator.axle.z": 280})))
    what               before                after                 move
    rear locator axle  -120.0, 480.0, 300.0  -200.0, 480.0, 280.0  80.0 mm back, 20.0 mm down
    """
    old, new = dimensions(whole(before)), dimensions(whole(after))
    units = units or whole(before).units
    rows: dict[str, tuple[str, str, str]] = {}
    for place in (place for place in old if place in new and old[place] != new[place]):
        point, _, axis = place.rpartition(".")
        names = [f"{point}.{letter}" for letter in "xyz"] if axis in WAYS else [place]
        # A link in the middle has no y.
        ends = [[_shown(side[name], axis, units) for name in names if name in side] for side in (old, new)]
        by = as_number(new[place]) - as_number(old[place])
        way = f"{_shown(abs(by), axis, units)} {units} {WAYS[axis][by < 0]}" if axis in WAYS else ""
        what = (point if axis in WAYS else place).replace(".", " ").replace("_", " ")
        earlier = rows[what][2] + ", " if what in rows else ""
        rows[what] = (", ".join(ends[0]), ", ".join(ends[1]), earlier + way)
    return Table(("what", "before", "after", "move"), tuple((what, *row) for what, row in rows.items()))


def before_after_sheet(
    before: Car, after: Car, names: Iterable[str] | None = None, units: Literal["mm", "in"] | None = None
) -> Sheet:
    """Return one page: what was moved, both cars in one drawing, and the numbers of both.

    Args:
        before, after: the cars.
        names: the quantities wanted; None for all that changed.
        units: of the lengths; None for that of the car's file.

    ``sheet.save("sheet.html")`` writes it as a file to print.
    """
    units = units or before.units
    legend = {"link": "after", "other link": "before"}

    old, new = dimensions(before), dimensions(after)

    def end_on(sketch: Sketch, car: Car) -> None:
        """Mark where bar and tie rod were: from the side a dash has no length there."""
        for word, joint, ahead in (("bar", "rear.locator.axle", 0), ("tie rod", "front.tie_rod.axle", car.wheelbase)):
            names = [f"{joint}.{axis}" for axis in "xz"]
            if car is before and names[0] in old and any(old[name] != new.get(name) for name in names):
                x, z = (float(as_number(old[name])) for name in names)
                sketch.dot(f"old {word}", (float(ahead) + x, z), "other end")
                sketch.label(f"old {word} name", (float(ahead) + x, z), word, "result name")

    picture = draw.car(after, ("side",), show=["roll axis", end_on], other=before, names=legend).still()
    moved, numbers = moves(before, after, units), compare_table(before, after, units, True, names)
    tables = [table._repr_mimebundle_()["text/html"] for table in (moved, numbers)]
    body = f"{tables[0]}{picture.html()}{tables[1]}<p>{CAUTION}</p>"
    text = "\n\n".join([str(moved), picture.alt, str(numbers), CAUTION])
    return Sheet(f"{before.title}: before and after", body, text)


def _shown(value: Any, dimension: str, units: str) -> str:
    number, unit = in_units(as_number(value), "mm" if dimension in LENGTHS else "-", units)
    return shown(number, unit)
