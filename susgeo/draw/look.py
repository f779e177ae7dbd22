"""How every kind of mark looks: colors, line styles, letters. A new kind of mark needs a line here."""

from typing import Any

INK, STEEL, PENCIL, PALE = "#1d2730", "#8b96a0", "#56636e", "#c3cad0"
ACCENT, OTHER, TIRE = "#b14a00", "#1c5fa6", "#eef1f3"
"""Ink for the car, pencil for construction lines, one accent (burnt orange) for what follows from them, blue
for a second car. Orange and blue differ for every kind of color vision; each also has its own line style."""
PIXELS_PER_INCH = 96  # of a notebook page at 1:1
SIZE = 9.5  # of all text, in points at the size shown
FONT = "DejaVu Sans"  # comes with matplotlib, so that every machine draws the same

ROLES: dict[str, tuple[str, float, dict[str, Any]]] = {
    # role: kind, order (later ones lie on top), matplotlib's properties
    "tire": ("area", 1, {"fc": TIRE, "ec": STEEL, "lw": 1.2}),
    "hatch": ("path", 1, {"color": STEEL, "lw": 0.8}),
    "ground": ("path", 1.1, {"color": PENCIL, "lw": 1.4}),
    "center line": ("path", 1.2, {"color": STEEL, "lw": 0.8, "ls": (0, (12, 3, 2, 3))}),
    "beam": ("path", 1.3, {"color": PALE, "lw": 7, "solid_capstyle": "butt"}),
    "body": ("path", 1.35, {"color": STEEL, "lw": 1.4}),
    "ghost": ("path", 1.4, {"color": PENCIL, "lw": 2.0, "ls": (0, (1, 1.4))}),
    "construction": ("path", 2, {"color": PENCIL, "lw": 0.9}),
    "result": ("path", 2.2, {"color": ACCENT, "lw": 1.8}),
    "link": ("path", 3, {"color": INK, "lw": 3.2, "solid_capstyle": "round"}),
    "crank": ("path", 2.9, {"color": PENCIL, "lw": 8, "solid_capstyle": "round"}),
    "thin link": ("path", 3, {"color": INK, "lw": 1.8, "solid_capstyle": "round"}),
    "coil spring": ("path", 3.05, {"color": PENCIL, "lw": 1.5, "solid_joinstyle": "round"}),
    "damper": ("path", 3.06, {"color": PENCIL, "lw": 2.4, "ls": (0, (4, 1.2))}),
    "drop link": ("path", 3.05, {"color": INK, "lw": 1.8}),
    "other result": ("path", 3.1, {"color": OTHER, "lw": 1.4, "ls": (0, (2, 1.6))}),
    "other link": ("path", 3.2, {"color": OTHER, "lw": 2, "ls": (0, (5, 2))}),
    "dimension": ("path", 3.3, {"color": PENCIL, "lw": 0.8}),
    "arrow": ("path", 3.4, {"color": INK, "lw": 1.2}),
    "result arrow": ("path", 3.4, {"color": ACCENT, "lw": 1.8}),
    "leader": ("path", 3.5, {"color": STEEL, "lw": 0.7}),
    "trial": ("dot", 2.1, {"color": OTHER, "marker": ".", "ms": 3, "ls": "none"}),
    "axle end": ("dot", 4, {"color": INK, "marker": "o", "ms": 6}),
    "chassis end": ("dot", 4, {"mec": INK, "mfc": "white", "marker": "o", "ms": 6.5, "mew": 1.6}),
    "other end": ("dot", 3.9, {"mec": OTHER, "mfc": "white", "marker": "o", "ms": 6.5, "mew": 1.6}),
    "other point": ("dot", 4.1, {"mec": OTHER, "mfc": "white", "marker": "s", "ms": 7, "mew": 1.6}),
    "pivot": ("dot", 4.2, {"mec": INK, "mfc": "white", "marker": "o", "ms": 14, "mew": 1.8}),
    "weight": ("dot", 4.2, {"mec": INK, "mfc": PALE, "marker": "o", "ms": 10, "mew": 1.6}),
    "meet": ("dot", 4.2, {"mec": PENCIL, "mfc": "white", "marker": "D", "ms": 6.5, "mew": 1.4}),
    "result point": ("dot", 4.3, {"mec": "white", "mfc": ACCENT, "marker": "D", "ms": 8, "mew": 0.8}),
    "name": ("label", 5, {"color": INK}),
    "note": ("label", 5, {"color": PENCIL}),
    "result name": ("label", 5, {"color": ACCENT}),
    "other name": ("label", 5, {"color": OTHER}),
}
"""Every look there is; a new kind of mark needs a line here and nothing else."""

SECOND = {
    "link": "other link", "crank": "other link", "thin link": "other link", "result": "other result", "result point": "other point",
    "result name": "other name", "result arrow": "other result", "other end": "other end",
}  # fmt: skip
"""The roles of a second car drawn over the first; its other marks are left out."""
GHOST = {"link": "ghost", "crank": "ghost"}
"""The roles of the rest position, kept as a faint shadow."""
MOVING = 2
"""Roles of this order and above are drawn in every frame; those below are scenery until one of them moves."""


def rgb(color: str) -> tuple[int, int, int]:
    return tuple(int(color[k : k + 2], 16) for k in (1, 3, 5))  # type: ignore[return-value]
