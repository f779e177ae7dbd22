"""Files written whole or not at all, and folders and pages on which one thing works at a time. Standard library only."""

import contextlib
import functools
import json
import os
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from .errors import SusgeoError

_HOUSE = Path(__file__).resolve().parent
DATA = (_HOUSE if (_HOUSE / "data").is_dir() else _HOUSE.parent) / "data"
"""Cars, calculations and solutions of the course: within an installed package, beside the library in a checkout."""


def write_whole(path: Path | str, content: str | bytes) -> None:
    """Write a file beside its place and rename it: whoever looks finds the old content or the new, never a part.

    Text is written as UTF-8 with plain line ends. Nothing is written where the file holds this content already.

    Raises:
        SusgeoError: the disk is full, the folder may not be written to, or the like; the old file is unharmed.
    """
    place, beside = Path(path), ""
    try:
        raw = content if isinstance(content, bytes) else content.encode("utf-8")
        place = place.resolve()  # a link stays one, and what it leads to is written
        if place.exists() and not place.is_file():
            raise OSError("a folder, a device or a pipe has this name")
        mode = place.stat().st_mode & 0o777 if place.exists() else 0o644
        if place.exists() and place.stat().st_size == len(raw) and place.read_bytes() == raw:
            return
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=place.parent, prefix=".writing-", suffix=".part")
        with os.fdopen(handle, "wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, mode)
        os.replace(beside, place)
    except (OSError, ValueError, RuntimeError) as problem:  # Python 3.11 and 3.12 tell of links in a circle by the last
        if beside:
            with contextlib.suppress(OSError):
                os.unlink(beside)
        name = legible(place.name, 60)
        reason = getattr(problem, "strerror", None) or str(problem)[:100]
        raise SusgeoError(
            f"{name} could not be written ({reason}); what was there before is unharmed. "
            "See to space on the disk and to the rights of its folder, then do it again."
        ) from None


def read_notes(path: Path) -> dict[str, Any]:
    """Return what one of our own notes (JSON) holds by name; empty where it is missing or damaged."""
    try:
        found = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def legible(text: str, most: int) -> str:
    """Return the beginning of a text with a square for each character that cannot be shown.

    >>> legible("track\\x07", 60)
    'track□'
    """
    return "".join(c if c.isprintable() else "\u25a1" for c in text[:most])


def sweep(folder: Path, below: bool = True) -> None:
    """Take away what a killed :func:`write_whole` left in a folder, and in those below it."""
    for left in (folder.rglob if below else folder.glob)(".writing-*.part"):
        with contextlib.suppress(OSError):
            left.unlink()


P = ParamSpec("P")
R = TypeVar("R")
_TURN = threading.RLock()


def in_turn(handler: Callable[P, R]) -> Callable[P, R]:
    """Return a handler of what a reader does on a page, which waits while another one is at work.

    JupyterLab hands the messages of one page's controls to several threads of its kernel: a play could draw in one
    of them while its Reset was drawing the same picture in another.
    """

    @functools.wraps(handler)
    def one(*args: P.args, **kwargs: P.kwargs) -> R:
        with _TURN:
            return handler(*args, **kwargs)

    return one


@contextlib.contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Let one process at a time work in a folder; another waits until the first has ended, however it ends."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / ".one_at_a_time").open("a+b") as file:
        waiting = False
        while not _locked(file.fileno()):
            if not waiting:
                print(f"Another command works in {folder.name}; waiting for it to end.")
                waiting = True
            time.sleep(0.2)
        yield  # the system gives the lock back when the file is closed, also of a process that was killed


def _locked(handle: int) -> bool:
    try:
        if os.name == "nt":
            import msvcrt

            os.lseek(handle, 0, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
