"""The sheet that one builds from: three views to scale, before and after, and the tables; as PDF and as a page of a browser."""

import html
import io
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D

from ..car.pickup import dimensions
from ..errors import SusgeoError
from ..files import write_whole
from ..geometry.flat import View
from ..results.build import Plan
from ..results.turns import ORDER
from ..tables import Table
from .drawings import painter
from .look import FONT, INK, PALE, PENCIL, PIXELS_PER_INCH, SECOND
from .picture import Panel, Picture
from .printed import Sheet
from .scenes import windows
from .sketch import Sketch
from .still import paper as sheet_of

MM = PIXELS_PER_INCH / 25.4
"""Pixels per mm of paper."""
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
MARGIN, GAP = 12.0, 3.0  # mm
SCALES = {"mm": (5, 10, 15, 20, 25, 30, 40, 50), "in": (6, 8, 10, 12, 16, 20, 24, 32, 40, 48)}
TIGHT = "<style>@media print { td, th { font-size: 6.5pt; padding: 0 1.5mm 0 0 !important } p { margin: 1mm 0; font-size: 8pt } }</style>"
UNITS = {"mm": "mm", "in": "inches"}
BODY, LEAST = 8.5, 4.8  # points: usual and least

VIEWS: tuple[tuple[View, str], ...] = (("side", "side"), ("front", "from behind"), ("plan", "from above"))

DATUM = (
    "Zero of each axle: on the ground, below the middle of its wheel-center line, car at ride height, driver's weight in, wheels straight. "
    "x forward, y left, z up. Measure from this zero, not from the old bracket; tack, put the car on its wheels, measure again, then weld."
)
CAUTIONS = (
    "For learning; no proof of a safe car. Brackets, rods and welds carry the whole car and everyone near it: design and welding by someone "
    "qualified, local rules, inspection and insurance first.",
    "Under the car only on rated stands on level ground, wheels chocked, never on a jack. A loaded spring can kill. Battery off before welding; no fuel, no lines near the heat.",
    "Forces are those of slow loads on a smooth road; potholes and curbs give several times as much.",
    "After building: turn every joint through the whole travel by hand with the springs out, lock to lock, and look for what binds or touches; then the order of adjusting.",
)
CHECKED = "Measured by ________________  on __________     Calculation checked by ________________  on __________     Built as drawn, by ________________  on __________"


@dataclass(frozen=True, eq=False)
class BuildSheet:
    """The sheet: ``save("sheet.pdf")`` or ``save("sheet.html")``; in a notebook it shows itself.

    Args:
        plan: what is built. paper: "A4" or "Letter".
        pages: as Matplotlib figures, exactly as large as the paper.
        scale: 1 : scale. drawing: the box of the drawing on its page in mm: left, bottom, right, top.
        sheet: the page for a browser.
    """

    plan: Plan
    paper: str
    pages: tuple[Any, ...]
    scale: int
    drawing: tuple[float, float, float, float]
    sheet: Sheet

    def save(self, path: str | Path) -> None:
        """Write the sheet as PDF or as HTML, by the name's ending."""
        path = Path(path)
        if path.suffix == ".html":
            self.sheet.save(path)
        elif path.suffix == ".pdf":
            whole = io.BytesIO()
            with PdfPages(whole, metadata={"Title": self.sheet.title, "CreationDate": None}) as pages:
                for page in self.pages:
                    pages.savefig(page)
            write_whole(path, whole.getvalue())
        else:
            raise SusgeoError(f"{path.name}: give a name that ends in .pdf or .html.")

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        return self.sheet._repr_mimebundle_()


class Page:
    """A page being written from its top down, in mm from its left and upper edge; without a figure it is only measured."""

    def __init__(self, figure: Any, size: tuple[float, float], y: float = MARGIN) -> None:
        self.figure, self.size, self.y = figure, size, y

    def line(self, x: Sequence[float], y: Sequence[float], **look: Any) -> None:
        """Draw a line."""
        if self.figure is None:
            return
        places = [value / self.size[0] for value in x], [1 - value / self.size[1] for value in y]
        self.figure.add_artist(Line2D(*places, transform=self.figure.transFigure, **{"color": INK, "lw": 0.8, **look}))

    def text(self, words: str, x: float, y: float, size: float = BODY, **look: Any) -> None:
        """Write one line of text, its top at y."""
        if self.figure is None:
            return
        at = x / self.size[0], 1 - y / self.size[1]
        self.figure.text(*at, words, size=size, family=FONT, va="top", **{"color": INK, **look})

    def paragraph(self, words: str, x: float, width: float, size: float, **look: Any) -> None:
        """Write text over as many lines as it needs, and go on below it."""
        for line in wrapped(words, width, size):
            self.text(line, x, self.y, size, **look)
            self.y += size * 0.43
        self.y += 1.0

    def body(self, tables: Sequence[Table], notes: Sequence[str], size: float) -> float:
        """Write tables and notes over the page's width, and return where they end."""
        inner = self.size[0] - 2 * MARGIN
        for table in tables:
            self.table(table, MARGIN, inner, size)
        for note in notes:
            self.paragraph(note, MARGIN, inner, size)
        return self.y

    def table(self, table: Table, x: float, width: float, size: float) -> None:
        """Write a table, its columns as wide as their texts, and its note below."""
        grid = [_headed(table.head), *table.rows] if table.rows else []
        pad, row = size * 0.3, size * 0.47
        columns = range(len(table.head) if grid else 0)
        wide = [max(length(part, size) for line in grid for part in line[k].split("\n")) + pad for k in columns]
        if sum(wide) > width:  # a table of many columns in smaller letters
            by = width / sum(wide)
            size, pad, row, wide = size * by, pad * by, row * by, [by * column for column in wide]
        spare = max(0.0, width - sum(wide)) / max(len(wide), 1)
        edges = [x]
        for column in wide:
            edges.append(edges[-1] + column + min(spare, 3.0))
        deep = max((head.count("\n") + 1 for line in grid[:1] for head in line), default=0)
        for number, line in enumerate(grid):
            color = INK if number else PENCIL  # the head's is the pencil
            for k, cell in enumerate(line):
                at, look = (edges[k + 1] - pad, {"ha": "right"}) if k else (x, {})
                lines = cell.split("\n")
                for down, part in enumerate(lines):
                    above = 0.0 if number else (deep - len(lines) + down) * size * 0.4
                    self.text(part, at, self.y + above, size, color=color, **look)
            self.y += row if number else deep * size * 0.4 + 0.7
            rule = {"color": PALE, "lw": 0.4} if number else {"color": PENCIL, "lw": 0.7}
            self.line([x, edges[-1] - pad], [self.y - 0.4] * 2, **rule)
        self.y += 0.8
        if table.note:
            self.paragraph(table.note, x, width, size * 0.93, color=PENCIL)
        self.y += GAP - 1


@lru_cache(maxsize=4096)
def _width(words: str) -> float:
    """Return how wide a line of text is at one point, in mm."""
    font = get_font(findfont(FontProperties(family=FONT)))
    font.set_size(100, 72)
    font.set_text(words, 0.0)
    return float(font.get_width_height()[0]) / 64 / 100 / 72 * 25.4


def length(words: str, size: float) -> float:
    """Return how wide a line of text is, in mm, at a size in points."""
    return _width(words) * size


def wrapped(words: str, width: float, size: float) -> list[str]:
    """Return text in lines that fit a width in mm."""
    lines: list[str] = []
    space = length("n n", size) - length("nn", size)
    for part in words.splitlines():
        lines.append("")
        used = 0.0
        for word in part.split():
            wide = 1.04 * (length(word, size) + space)  # a screen's letters are wider than a printer's
            if lines[-1] and used + wide > width:
                lines.append("")
                used = 0.0
            lines[-1] = f"{lines[-1]} {word}".lstrip()
            used += wide
    return lines


def _headed(head: Sequence[str]) -> tuple[str, ...]:
    """Return a table's head with long titles on two or three lines."""
    first, *others = head
    broken = (textwrap.wrap(title, max(11, -(-len(title) // 3)), break_long_words=False) for title in others)
    return first, *map("\n".join, broken)


def build_sheet(plan: Plan, paper: str = "A4") -> BuildSheet:
    """Return the sheet of a plan on one or two pages.

    Args:
        plan: the car before and after, and how it is built.
        paper: "A4" or "Letter".
    """
    if paper not in PAPERS:
        raise SusgeoError(f"There is no paper {paper!r} here; choose from {', '.join(PAPERS)}.")
    size = PAPERS[paper]
    title = f"{plan.after.title}: what to build"
    picture, scale, foot = _drawing(plan, size)
    first = Page(picture.figure, size)
    _head(first, title, plan, scale)
    box = (MARGIN, size[1] - foot, size[0] - MARGIN, size[1] - _TOP)
    first.y = foot + 1
    _ruler(first, plan)
    for artist in picture.figure.findobj():
        artist.set_animated(False)
    drawn = _svg(
        picture, (MARGIN, _TOP, size[0] - 2 * MARGIN, first.y - _TOP + 0.5)
    )  # nothing but the drawing is there yet
    every = (plan.joints(), plan.rods(), plan.adjusters(), plan.forces(), plan.shaft(), plan.numbers())
    tables = [table for table in every if table is not None and (table.rows or table.note)]
    second = Page(sheet_of(size[0] * MM, size[1] * MM), size)
    notes, room = [f"Order of adjusting. {ORDER}", *CAUTIONS], size[1] - MARGIN - 4
    body, here = BODY, 0
    while body > LEAST:  # as large as it can be on two pages: what fits below the drawing stands there
        here = 0
        while here < len(tables) and Page(None, size, first.y).body(tables[: here + 1], (), body) <= room:
            here += 1
        if Page(None, size, MARGIN + 5).body(tables[here:], notes, body) <= room:
            break
        body -= 0.1
    first.body(tables[:here], (), body)
    second.text(title, MARGIN, second.y, 8.5, weight="bold")
    second.y += 5
    second.body(tables[here:], notes, body)
    for page, number in ((first, 1), (second, 2)):
        page.text(CHECKED, MARGIN, size[1] - MARGIN + 1.5, 6.0, color=PENCIL)
        page.text(f"page {number} of 2", size[0] - MARGIN, MARGIN - 6, 6.5, ha="right", color=PENCIL)
    words = f"{_key(plan, scale)} Print at 100 %."
    parts = [TIGHT, f"<p>{words}</p>", f"<p>{DATUM}</p>", drawn]
    parts += [table._repr_mimebundle_()["text/html"] for table in tables]
    parts += [f"<p>{html.escape(note)}</p>" for note in (*notes, CHECKED)]
    text = "\n\n".join([words, DATUM, picture.alt, *map(str, tables), *notes, CHECKED])
    sheet = Sheet(title, "".join(parts), text, paper)
    return BuildSheet(plan, paper, (first.figure, second.figure), scale, box, sheet)


_TOP = MARGIN + 19.0
"""In mm from the upper edge: where the drawing begins."""


def _head(page: Page, title: str, plan: Plan, scale: int) -> None:
    page.text(title, MARGIN, page.y, 11, weight="bold")
    page.text(_key(plan, scale), MARGIN, page.y + 6, BODY)
    page.y += 10
    page.paragraph(DATUM, MARGIN, page.size[0] - 2 * MARGIN, 6.6, color=PENCIL)


def _key(plan: Plan, scale: int) -> str:
    return f"Scale 1:{scale}. Lengths in {UNITS[plan.units]}. Black: as it shall be. Dashed blue: as it is."


def _ruler(page: Page, plan: Plan) -> None:
    """Draw a length to check the print by: 100 mm, or 4 in."""
    step, count, unit = (25.4, 4, "in") if plan.units == "in" else (10.0, 10, "mm")
    left, y = MARGIN, page.y + 2.5
    page.line([left, left + step * count], [y, y], gid="check length")
    for k in range(count + 1):
        page.line([left + k * step] * 2, [y - 2, y])
    whole = f"{count * (1 if unit == 'in' else 10)} {unit}"
    beside = left + step * count + 4
    words = f"This line is {whole} long on the paper. If not, print again at 100\N{NO-BREAK SPACE}%, without fitting to the page."
    for k, text in enumerate(wrapped(words, page.size[0] - MARGIN - beside, 7)):
        page.text(text, beside, y - 3.6 + 3 * k, 7)
    page.y = y + 4


def _drawing(plan: Plan, size: tuple[float, float]) -> tuple[Picture, int, float]:
    """Return the views to the largest scale that fits, its number, and where they end, in mm from the upper edge."""
    old, now = dict(plan.before.axles()), dict(plan.after.axles())
    changed = [end for end, axle in now.items() if end not in old or dimensions(axle) != dimensions(old[end])]
    shown = changed or list(now)
    flat: list[list[Panel]] = []
    for end in shown:
        area = windows([one[end] for one in (now, old) if end in one], ("side", "front", "plan"), 100.0)
        for view in ("side", "plan"):  # wide enough for its title
            spare = max(0.0, 1250.0 - (area[view][1] - area[view][0])) / 2
            area[view] = (area[view][0] - spare, area[view][1] + spare, *area[view][2:])
        name = end.title()
        flat.append([Panel(f"{end} {view}", view, area[view], f"{name}, {words}", False) for view, words in VIEWS])
    most = size[1] - MARGIN - _TOP - (16 if len(shown) > 1 else 64)
    legend = {"link": "as it shall be", "other link": "as it is"}

    def paint(sketch: Sketch) -> None:
        end: Any = sketch.name.split()[0]
        painter(now[end], [])(sketch)
        if end in old:
            aside = sketch.aside()
            painter(old[end], [])(aside)
            there = {mark.points for mark in sketch.marks}  # what stays is drawn once
            aside.marks = [mark for mark in aside.marks if mark.points not in there]
            sketch.include(aside, "as it is", SECOND)

    page = (size[0] * MM, size[1] * MM, MARGIN * MM, _TOP * MM)
    for scale in SCALES[plan.units]:
        for rows in ([part for row in flat for part in (row[:2], row[2:])], flat):
            wide = max(sum((p.window[1] - p.window[0]) / scale + 12 / MM for p in row) for row in rows)
            tall = sum(max((p.window[3] - p.window[2]) / scale + 34 / MM for p in row) for row in rows) + 22 / MM
            if (wide <= size[0] - 2 * MARGIN and tall <= most) or scale == SCALES[plan.units][-1]:
                picture = Picture(rows, int(page[0]), legend, scale=MM / scale, page=page)
                return picture.draw(paint), scale, _TOP + picture.drawn / MM
    raise AssertionError


def _svg(picture: Picture, box: tuple[float, float, float, float]) -> str:
    """Return a part of the page as vectors, as large as on paper; box: left, top, width, height in mm."""
    store = io.BytesIO()
    with rc_context({"svg.hashsalt": "susgeo", "svg.fonttype": "path"}):
        picture.figure.savefig(store, format="svg", metadata={"Date": None})
    text = re.sub(r"<metadata>.*?</metadata>", "", store.getvalue().decode(), flags=re.DOTALL)
    left, top, width, height = (part / 25.4 * 72 for part in box)
    head = f'<svg role="img" aria-label="{html.escape(picture.alt)}" width="{width:.3f}pt" height="{height:.3f}pt" viewBox="{left:.3f} {top:.3f} {width:.3f} {height:.3f}" '
    head += 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">'
    return head + text[text.index(">", text.index("<svg")) + 1 :]
