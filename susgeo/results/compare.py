"""Before and after: two cars, row by row."""

import math
from dataclasses import dataclass
from typing import Literal

from ..car.car import Axle, Car, whole
from ..errors import expect
from ..tables import Table, shown
from .quantities import Names, find, listed, plain_name, remarks, summary

WAYS = {
    "above": ("higher", "lower"),
    "ahead": ("further ahead", "further back"),
    "to the left": ("further left", "further right"),
    "rising": ("front end higher", "front end lower"),
}
"""What a larger and a smaller number mean, by the beginning of a sign in the table of quantities; else its size is more or less."""
SAME = 1e-9
"""Numbers that differ by less than this share of their size are the same, and the difference is rounding."""


@dataclass(frozen=True, eq=False)
class Difference:
    """One quantity of two cars; nan where a car does not have it."""

    name: str
    unit: str
    before: float
    after: float

    @property
    def change(self) -> float:
        """After less before: infinite where one of them is, nan where one is missing."""
        if self.before == self.after:
            return 0.0
        change = self.after - self.before
        rounding = SAME * (abs(self.before) + 0.001) if math.isfinite(change) else 0.0
        return 0.0 if abs(change) <= rounding else change

    @property
    def way(self) -> str:
        """Which way it changed, in words."""
        if math.isnan(self.before) or math.isnan(self.after):
            return "only after" if math.isnan(self.before) else "only before"
        if self.change == 0:
            return "same"
        if math.isinf(self.after):
            return "now at infinity" if math.isfinite(self.before) else "at infinity, the other way"
        if math.isinf(self.before):
            return "no longer at infinity"
        quantity, end = find(self.name)
        if quantity.name == "roll steer":
            kind = "roll oversteer" if (self.after > 0) == (end == "rear") else "roll understeer"
            if self.after == 0 or self.before * self.after < 0:
                return f"now {kind}" if self.after else "none left"
            return f"{'more' if abs(self.after) > abs(self.before) else 'less'} {kind}"
        for start, pair in WAYS.items():
            if quantity.sign.startswith(start):
                return pair[self.change < 0]
        if self.before * self.after < 0:
            return "now the other way"
        return "more" if abs(self.after) > abs(self.before) else "less"


def compare(before: Car | Axle, after: Car | Axle, units: Literal["mm", "in"] = "mm") -> tuple[Difference, ...]:
    """Return the difference of two cars, or two axles, in every quantity that either of them has.

    Args:
        before, after: two cars, or two axles. units: of lengths, "mm" or "in".

    >>> from susgeo import load_car, moved
    >>> car = load_car("data/three_link.toml")
    >>> rows = compare(car, moved(car, {"rear.lower.chassis.z": 265.0}))
    >>> [(row.name, row.way) for row in rows if row.name == "rear roll steer"]
    [('rear roll steer', 'less roll oversteer')]
    """
    first, second = summary(whole(before), units), summary(whole(after), units)
    rows = []
    for title in dict.fromkeys([*first, *second]):
        name, _, unit = title.removesuffix("]").partition(" [")
        rows.append(Difference(name, unit, first.get(title, math.nan), second.get(title, math.nan)))
    return tuple(rows)


def compare_table(
    before: Car | Axle,
    after: Car | Axle,
    units: Literal["mm", "in"] = "mm",
    changed: bool = False,
    names: Names | None = None,
) -> Table:
    """Return :func:`compare` as a table to print or to show.

    Args:
        before, after, units: as for :func:`compare`. changed: leave out what stayed the same.
        names: the quantities wanted; None for all.

    >>> from susgeo import load_car, moved
    >>> car = load_car("three_link")
    >>> compare_table(car, moved(car, {"rear.lower.chassis.z": 265.0}), names="rear roll center height").rows
    (('rear roll center height', '307.3', '302.5', '-4.8', 'mm', 'lower'),)
    """
    expect(bool, changed=changed)
    rows = [row for row in compare(before, after, units) if not (changed and row.way == "same")]
    if (asked := listed(names)) is not None:
        wanted = {plain_name(name) for name in asked if find(name)}  # a name that does not exist is refused
        rows = [row for row in rows if row.name in wanted]
    cells = [
        (row.name, *(shown(number, row.unit) for number in (row.before, row.after, row.change)), row.unit, row.way)
        for row in rows
    ]
    note = "\n".join(dict.fromkeys([*remarks(before), *remarks(after)]))
    return Table(("quantity", "before", "after", "change", "unit", "which way"), tuple(cells), note)
