"""The lessons of the course, in order, with a link to each and what is done in it."""

import html
from functools import cache
from pathlib import Path

from ..files import DATA
from ..tables import CELL
from . import record
from .calculation import library
from .question import Page
from .verdict import HEADS

NOTEBOOKS = DATA.parent / "notebooks"


@cache
def titles() -> dict[str, tuple[str, str]]:
    """Return the file and the title of each lesson by its two digits."""
    import json

    found = {}
    for path in sorted(NOTEBOOKS.glob("[0-9][0-9]_*.ipynb")):
        first = json.loads(path.read_text("utf-8"))["cells"][0]["source"]
        line = ("".join(first) if isinstance(first, list) else first).partition("\n")[0]
        found[path.name[:2]] = (path.name, line.lstrip("# "))
    return found


def contents(student: str = "", folder: Path | str = ".", lesson: str = "") -> Page:
    """Return all lessons with their progress, or the tasks of one lesson."""
    kept = record.progress(student, folder)
    tasks = library()[1]
    if lesson:
        rows = [(key, "", HEADS.get(kept.get(key, "blank"), HEADS["blank"])) for key in tasks if key[:2] == lesson]
    else:
        rows = []
        for number, (file, title) in titles().items():
            keys = [key for key in tasks if key[:2] == number]
            done = sum(kept.get(key) == "right" for key in keys)
            rows.append((title, file, f"{done} of {len(keys)} tasks done" if keys else ""))
    linked = ((f'<a href="{file}">{html.escape(name)}</a>' if file else name, word) for name, file, word in rows)
    cell = f'<td style="{CELL}left">'
    table = "".join(f"<tr>{cell}{name}</td>{cell}{word}</td></tr>" for name, word in linked)
    return Page(f"<table>{table}</table>", "\n".join(f"{name}  {word}".rstrip() for name, _, word in rows))
