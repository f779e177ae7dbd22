"""Numbers in rows, for people: as text in a terminal, as a table in a notebook."""

import html
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

DIGITS = {"mm": 1, "in": 2, "deg": 2, "deg/mm": 4, "deg/in": 3, "deg/deg": 4, "%": 1, "N": 0, "kg": 0}
DIGITS |= {"deg/g": 2, "g": 2, "N/g": 0, "N m/deg": 0, "mm/mm": 4, "mm/rad": 1, "N/mm": 1, "Hz": 2}
DIGITS |= {"mm/g": 1, "in/g": 2, "mm/kg": 1, "in/kg": 2}
"""Decimals of a number in each unit, on the screen and on paper; three of any other."""
CELL = "padding: 0.1em 0.8em 0.1em 0; text-align: "
"""How a cell of a table stands on a page; not every page that shows a notebook keeps cells apart by itself."""

SLEEPS = "This page sleeps. To wake it, press the double arrow ⏩ at the top."
"""The first line of whatever shows only a picture until a kernel runs."""
ASLEEP = (
    "<style>@media print{.susgeo-asleep{display:none}.susgeo-whole{break-inside:avoid}}</style>"
    f'<p class="susgeo-asleep"><em>{SLEEPS}</em></p>'
)


def written(value: float, digits: int, sign: str = "") -> str:
    """Return a number with so many decimals, and zero without a sign.

    >>> written(-0.04, 1), written(2.5, 1, "+")
    ('0.0', '+2.5')
    """
    text = f"{value:{sign}.{digits}f}"
    return text if text.strip("+-0.") else text.lstrip("+-")


def shown(value: float, unit: str) -> str:
    """Return a number with honest digits, without its unit.

    >>> shown(307.308, "mm"), shown(-0.04, "mm"), shown(-float("inf"), "mm")
    ('307.3', '0.0', '-infinite')
    """
    if not math.isfinite(value):
        return "none" if math.isnan(value) else "infinite" if value > 0 else "-infinite"
    count = unit == "-" and value == round(value)
    return written(value, 0 if count else DIGITS.get(unit, 3))


def html_rows(rows: Iterable[Iterable[str]]) -> str:
    """Return rows of text without a head as a table of a page."""
    cells = ("".join(f'<td style="{CELL}left">{html.escape(cell)}</td>' for cell in row) for row in rows)
    return f"<table>{''.join(f'<tr>{row}</tr>' for row in cells)}</table>"


@dataclass(frozen=True, eq=False)
class Table:
    """A head and rows of text; a note below says in sentences what the rows mean.

    >>> print(Table(("quantity", "mm"), (("roll center height", "307.3"),)))
    quantity               mm
    roll center height  307.3
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""

    @property
    def _columns(self) -> list[tuple[tuple[str, ...], bool]]:
        """The columns with their heads, and whether they are set flush right."""
        columns = list(zip(self.head, *self.rows, strict=True))
        return [(column, all(map(_is_number, column[1:]))) for column in columns]

    def __str__(self) -> str:
        padded = [
            [cell.rjust(width) if right else cell.ljust(width) for cell in column]
            for column, right in self._columns
            for width in [max(map(len, column))]
        ]
        lines = ["  ".join(row).rstrip() for row in zip(*padded, strict=True)]
        return "\n".join([*lines, *([self.note] if self.note else [])])

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        cells = [
            [
                f'<{tag} style="{CELL}{"right" if right else "left"}">{html.escape(cell)}</{tag}>'
                for tag, cell in zip(["th" if column[0] else "td", *["td"] * len(self.rows)], column, strict=True)
            ]
            for column, right in self._columns
        ]
        head, *body = ("".join(row) for row in zip(*cells, strict=True))
        rows = "".join(f"<tr>{row}</tr>" for row in body)
        table = f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>" if self.rows else ""
        note = "".join(f"<p>{html.escape(line)}</p>" for line in self.note.splitlines())
        return {"text/plain": str(self), "text/html": table + note}


def _is_number(cell: str) -> bool:
    value = cell.removeprefix("! ")  # a target that is missed
    return (
        value in ("", "none", "infinite", "-infinite", "at infinity", "at infinity, behind")
        or value.lstrip("+-").replace(".", "", 1).isdigit()
    )
