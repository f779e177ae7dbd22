"""Pages made from the library's own tables: glossary, symbols, and the sheet for measuring a car.

They are made anew each time, so that they cannot drift from what the library computes and reads.
"""

from typing import Literal

from ..car.fields import TABLES
from ..results.quantities import QUANTITIES
from ..tables import Table


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
