"""The learner's desk: copies of the lessons beside the course's own, so that an update never meets their work.

Standard library only, since the launcher uses it. Answers are kept in the record on the desk, and every copy
shows them again; so a copy may be replaced by a newer lesson at any time.
"""

import hashlib
import json
import re
import secrets
from datetime import date
from pathlib import Path

from .files import read_notes, write_whole

NAME, STAMP, RECORD, FIGURES = "my_course", ".lessons.json", "my_answers.jsonl", "my_figures.txt"


def lay_out(root: Path) -> Path:
    """Return the desk below ``root``, with a copy of every lesson as it now is.

    A copy that the learner changed is kept under a name that says so, and the new lesson is laid beside it.
    """
    desk, lessons = root / NAME, root / "notebooks"
    desk.mkdir(exist_ok=True)
    earlier = lessons / RECORD  # where answers were kept before there was a desk
    if earlier.exists() and not (desk / RECORD).exists():
        write_whole(desk / RECORD, earlier.read_bytes())
    if not (desk / FIGURES).exists():  # a reader's tasks have figures of their own, the same for good
        write_whole(desk / FIGURES, f"reader {secrets.token_hex(4)}\n")
    known = read_notes(desk / STAMP)
    for master in sorted([*lessons.glob("[0-9][0-9]_*.ipynb"), *lessons.glob("your_car.ipynb")]):
        copy, now = desk / master.name, hashlib.sha256(master.read_bytes()).hexdigest()
        before = known.get(master.name) or ["", ""]
        if copy.exists() and before[0] == now:
            continue
        if copy.exists() and written(copy) not in (before[1], written(master)):
            left, number = f"{copy.stem}, as I left it {date.today().isoformat()}", 1
            kept = desk / f"{left}.ipynb"
            while kept.exists():
                number += 1
                kept = desk / f"{left} ({number}).ipynb"
            copy.rename(kept)
        write_whole(copy, master.read_bytes())
        known[master.name] = [now, written(copy)]
    write_whole(desk / STAMP, json.dumps(known))
    return desk


def written(notebook: Path) -> str:
    """Return a fingerprint of what is written in a notebook's cells; outputs do not count."""
    try:
        cells = json.loads(notebook.read_text("utf-8"))["cells"]
        sources = ["".join(cell["source"]) for cell in cells]
    except (OSError, ValueError, KeyError, TypeError):
        return "unreadable"
    return hashlib.sha256("\0".join(sources).encode("utf-8", "replace")).hexdigest()


def last_lesson(desk: Path) -> str:
    """Return the two digits of the lesson in which something was answered last; "00" if nothing was."""
    try:
        lines = (desk / RECORD).read_bytes().splitlines()
    except OSError:
        return "00"
    for line in reversed(lines):
        try:
            found = re.match(r"\d\d", json.loads(line)["task"])
        except (ValueError, KeyError, TypeError, RecursionError):
            continue
        if found:
            return found[0]
    return "00"
