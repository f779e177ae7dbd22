"""What lies in an inbox: notebooks and zips under any name, and a sentence for everything that is neither."""

import os
import stat
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path, PurePosixPath

from .submission import LARGEST

NOTEBOOKS = (".ipynb", ".json", ".ipynb.txt")
PACKED = (".rar", ".7z", ".tar", ".gz", ".tgz", ".bz2", ".xz", ".zst")
MOST_FILES = 5_000
"""Notebooks that are taken from one zip: a whole class's, as learning-management systems pack it."""
RATIO = 60
"""How many times its own size a zip may unfold to, beyond :data:`LARGEST`; a notebook packs to a fifth."""
LONGEST_NAME = 255


@dataclass(frozen=True)
class Found:
    """One thing in the inbox.

    Args:
        path: the file in the inbox.
        name: where it was found, below the inbox; what is in a zip stands behind the zip's name.
        told: the name that may say whose it is.
        raw: its content; empty where it cannot be had.
        problem: what is wrong, for the instructor; "" if nothing.
        notebook: whether ``raw`` is to be read as a notebook, damaged or not.
    """

    path: Path
    name: str
    told: str
    raw: bytes = b""
    problem: str = ""
    notebook: bool = True


def look_into(inbox: Path) -> Iterator[Found]:
    """Yield everything in a folder and below, in order of names; nothing is passed over without a word."""
    for folder, below, files in os.walk(inbox):
        below[:] = sorted(name for name in below if name not in (".ipynb_checkpoints", "__MACOSX"))
        for name in sorted(files):
            path = Path(folder) / name
            told = path.relative_to(inbox).as_posix()
            if name.startswith(".") or name == "Thumbs.db":
                continue  # what operating systems leave in every folder
            yield from _look_at(path, told)


def _look_at(path: Path, name: str) -> Iterator[Found]:
    other, small = partial(Found, path, name, name, b"", notebook=False), path.name.lower()
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
            yield other("It is a link or no ordinary file, and is not followed: put the file itself there.")
        elif len(path.name.encode()) > LONGEST_NAME - 40:
            yield other("Its name is too long to be kept: rename it.")
        elif small.endswith(NOTEBOOKS):
            with path.open("rb") as file:
                yield Found(path, name, name, file.read(LARGEST + 1))
        elif small.endswith(".zip"):
            yield from _in_zip(path, name)
        elif small.endswith(PACKED):
            yield other("Only zips are opened: unpack it here, or ask for the notebook itself.")
        else:
            yield other("It is no notebook and no zip: ask for the notebook itself (.ipynb).")
    except OSError as problem:
        yield other(f"It cannot be read ({problem.strerror}).")


def _in_zip(path: Path, name: str) -> Iterator[Found]:
    other = partial(Found, path, told=name, notebook=False)
    taken, left = 0, LARGEST + RATIO * path.stat().st_size
    try:
        with zipfile.ZipFile(path) as archive:
            for member in archive.infolist():
                inside = PurePosixPath(member.filename[: 2 * LONGEST_NAME])
                if member.is_dir() or {"__MACOSX", ".ipynb_checkpoints"} & set(inside.parts):
                    continue
                where = f"{name}/{inside}"
                if len(member.filename) > LONGEST_NAME:
                    yield other(where[:80], problem="Its name in the zip is too long.")
                elif not str(inside).lower().endswith(NOTEBOOKS):
                    if not inside.name.startswith("."):
                        yield other(where, problem="It is no notebook, and is left in the zip.")
                elif taken == MOST_FILES or left <= 0:
                    why = "The zip unfolds to far more than notebooks do; from here on it is not opened."
                    yield other(where, problem=why)
                    return
                else:
                    with archive.open(member) as file:
                        raw = file.read(min(LARGEST, left) + 1)
                    taken, left = taken + 1, left - len(raw)
                    yield Found(path, where, f"{name}\n{inside}", raw)
    except (zipfile.BadZipFile, OSError, RuntimeError, ValueError, NotImplementedError, EOFError, zlib.error):
        why = "The zip is damaged or has a password, and cannot be opened to the end."
        yield Found(path, name, name, problem=why)
        return
    if not taken:
        yield Found(path, name, name, problem="The zip holds no notebook.")
