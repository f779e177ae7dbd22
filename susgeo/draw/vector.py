"""A picture as lines and letters (SVG) instead of pixels: a twentieth of the time and of the size, and sharp in print.

It is written from the same marks, placed the same, in the same looks as :meth:`susgeo.draw.picture.Picture.still`.
Where a reader's machine lacks the letters it takes others as wide, or narrower ones.
"""

import base64
import html
import math
from collections.abc import Sequence

from .look import FONT, INK, PALE, PENCIL, PIXELS_PER_INCH, ROLES, SIZE
from .picture import Panel, Picture

POINT = PIXELS_PER_INCH / 72
"""Pixels in a point, the unit of the looks."""
LETTERS = f"font-family='{FONT}, Verdana, sans-serif' font-size='{SIZE * POINT:.1f}'"
LINE = 16.0
"""Height of a line of text in pixels."""


def vector(picture: Picture) -> str:
    """Return a drawn picture as an HTML image with alt text that holds an SVG drawing."""
    parts = [part for panel in picture.panels for part in _panel(picture, panel)]
    for role, words, ends, y in picture.samples():
        parts.append(_mark(role, [(x, picture.height - y) for x in ends]))
        parts.append(_text(ends[0] + (22 if len(ends) == 1 else 36), picture.height - y + 4, words, PENCIL))
    size = f'width="{picture.width}" height="{picture.height}"'
    drawing = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {picture.width} {picture.height}">'
        f'<rect width="100%" height="100%" fill="white"/>{"".join(parts)}</svg>'
    )
    code, alt = base64.b64encode(drawing.encode()).decode(), html.escape(picture.alt)
    return f'<img src="data:image/svg+xml;base64,{code}" alt="{alt}" {size} style="max-width: 100%; height: auto">'


def _panel(picture: Picture, panel: Panel) -> list[str]:
    """Return a panel: its frame and scales, its titles, and its marks from the lowest to the highest."""
    left, low, right, high = (float(edge) for edge in picture.boxes[panel.name])
    top, bottom = picture.height - high, picture.height - low

    def at(h: float, v: float) -> tuple[float, float]:
        return left + picture.scale * (h - panel.window[0]), bottom - picture.scale * (v - panel.window[2])

    name, lines = f"panel-{picture.panels.index(panel)}", picture.titles[panel.name]
    box = f"<rect x='{left:.1f}' y='{top:.1f}' width='{right - left:.1f}' height='{bottom - top:.1f}'"
    parts = [f"<clipPath id='{name}'>{box}/></clipPath>"]
    parts.append(_text(left, top - 9 - 15 * (len(lines) - 1), "\n".join(lines), INK))
    if panel.view != "front":
        parts.append(_text(right, top - 9, "forward \N{LONG RIGHTWARDS ARROW}", PENCIL, "end"))
    if panel.scale:
        across, up = picture.ticks(panel)
        name_across, name_up = picture.scale_names(panel)
        for mm, word in across.items():
            x = at(mm, 0)[0]
            parts.append(_path([(x, bottom), (x, bottom + 5)], PALE, 1) + _text(x, bottom + 18, word, PENCIL, "middle"))
        for mm, word in up.items():
            y = at(0, mm)[1]
            parts.append(_path([(left, y), (left - 5, y)], PALE, 1) + _text(left - 9, y + 4, word, PENCIL, "end"))
        parts.append(_text((left + right) / 2, bottom + 36, name_across, PENCIL, "middle"))
        turned = f"transform='translate({left - 48:.1f} {(top + bottom) / 2:.1f}) rotate(-90)'"
        parts.append(f"<g {turned}>{_text(0, 0, name_up, PENCIL, 'middle')}</g>")
    marks = sorted(picture.marks(panel.name), key=lambda mark: ROLES[mark[0]][1])
    parts.append(f"<g clip-path='url(#{name})'>")
    parts += [_mark(role, [at(*point) for point in points]) for role, points, _ in marks if ROLES[role][0] != "label"]
    parts.append("</g>")
    for role, ((x, y),), words in (mark for mark in marks if ROLES[mark[0]][0] == "label"):
        parts.append(_text(x, picture.height - y + 12, words, ROLES[role][2]["color"]))
    return [*parts, f"{box} fill='none' stroke='{PALE}'/>"]


def _mark(role: str, points: Sequence[tuple[float, float]]) -> str:
    kind, _, look = ROLES[role]
    if kind == "path":
        wide = look["lw"] * POINT
        dashes = " ".join(f"{wide * part:.1f}" for part in look["ls"][1]) if "ls" in look else ""
        cap = look.get("solid_capstyle", "butt" if dashes else "square")
        return _path(points, look["color"], wide, dashes, cap)
    if kind == "area":
        return _path(points, look["ec"], look["lw"] * POINT, fill=look["fc"], close=True)
    (x, y), r = points[0], look["ms"] * POINT / 2
    color = look.get("color", INK)
    fill, edge = look.get("mfc", color), look.get("mec", color)
    ink = f"fill='{fill}' stroke='{edge}' stroke-width='{look.get('mew', 1) * POINT:.1f}'"
    if look["marker"] in "o.":
        return f"<circle cx='{x:.1f}' cy='{y:.1f}' r='{r if look['marker'] == 'o' else r / 2:.1f}' {ink}/>"
    turn = f" transform='rotate(45 {x:.1f} {y:.1f})'" if look["marker"] == "D" else ""
    return f"<rect x='{x - r:.1f}' y='{y - r:.1f}' width='{2 * r:.1f}' height='{2 * r:.1f}' {ink}{turn}/>"


def _path(
    points: Sequence[tuple[float, float]], color: str, wide: float, dashes: str = "", cap: str = "butt",
    fill: str = "none", close: bool = False,
) -> str:  # fmt: skip
    """Return a line through points; one that is not a number parts it."""
    text, pen = "", "M"
    for x, y in points:
        if math.isfinite(x) and math.isfinite(y):
            text, pen = f"{text}{pen}{x:.1f} {y:.1f}", "L"
        else:
            pen = "M"
    dashed = f" stroke-dasharray='{dashes}'" if dashes else ""
    ends = "" if cap == "butt" else f" stroke-linecap='{cap}'"
    return (
        f"<path d='{text}{'Z' if close else ''}' fill='{fill}' stroke='{color}' stroke-width='{wide:.1f}'"
        f" stroke-linejoin='round'{ends}{dashed}/>"
    )


def _text(x: float, y: float, words: str, color: str, anchor: str = "start") -> str:
    """Return words, one line below the other, the first with its foot at a place."""
    return "".join(
        f"<text x='{x:.1f}' y='{y + LINE * number:.1f}' text-anchor='{anchor}' fill='{color}' {LETTERS}>"
        f"{html.escape(line)}</text>"
        for number, line in enumerate(words.split("\n"))
    )
