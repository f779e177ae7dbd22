"""The record of a student's answers: a plain file beside the notebooks, one line of JSON for each answer.

Lines are only ever added, each in one write that the operating system completes as a whole, and flushed to the
disk before the answer is shown. So nothing is lost by a crash, a restarted kernel or a second open notebook,
and a torn last line, should the power fail, costs that line alone.
"""

import hashlib
import json
import os
from contextlib import suppress
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

NAME, FIGURES = "my_answers.jsonl", "my_figures.txt"
ANYBODY = "a reader"
"""Whose figures a lesson shows where nobody has figures of their own, as in the pages of the course itself."""
LOST = "Your answer could not be kept: the disk is full, or this folder cannot be written to."
LONGEST = 4000
"""Characters of an answer that are kept; no answer on paper is longer."""


class Entry(NamedTuple):
    """One answer: when, who, which task, what was written, and the verdict's kind."""

    time: str
    student: str
    task: str
    answer: str
    verdict: str


def keep(student: str, task: str, answer: object, verdict: str, folder: Path | str = ".") -> bool:
    """Add one answer to the record in a folder, and tell whether it could be kept.

    A full disk, or a folder that cannot be written to, is no reason to withhold the verdict.
    """
    now = datetime.now(UTC).isoformat(timespec="seconds")
    try:
        text = str(answer)
    except ValueError:  # Python writes out no whole number of more than 4300 digits
        text = "a number too long to be written out"
    entry = Entry(now, student, task, text[:LONGEST], verdict)
    line = (json.dumps(entry._asdict(), ensure_ascii=False) + "\n").encode("utf-8", "backslashreplace")
    try:
        handle = os.open(Path(folder) / NAME, os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o644)
    except OSError:
        return False
    try:
        size = os.lseek(handle, 0, os.SEEK_END)
        if size and os.lseek(handle, size - 1, os.SEEK_SET) >= 0 and os.read(handle, 1) != b"\n":
            line = b"\n" + line  # The last line was torn; do not let it take this one along.
        written = os.write(handle, line)
        os.fsync(handle)
    except OSError:
        return False
    finally:
        with suppress(OSError):
            os.close(handle)
    return written == len(line)


def entries(folder: Path | str = ".") -> tuple[Entry, ...]:
    """Return the answers kept in a folder, oldest first; lines that are no answer are passed over, and stay."""
    path = Path(folder) / NAME
    try:
        now = path.stat()
        return _read(path.absolute(), now.st_size, now.st_mtime_ns) if path.is_file() else ()
    except OSError:
        return ()


@lru_cache(maxsize=2)  # a page of ten tasks asks fifty times, and years of answers take a tenth of a second
def _read(path: Path, size: int, changed: int) -> tuple[Entry, ...]:
    found = []
    for line in path.read_bytes().splitlines():
        with suppress(ValueError, TypeError, RecursionError):
            entry = Entry(**json.loads(line.decode("utf-8")))
            if {*map(type, entry)} == {str}:
                found.append(entry)
    return tuple(found)


def reader(folder: Path | str = ".") -> str:
    """Return the name that gives a reader's own figures, from the file that the launcher lays beside the lessons."""
    try:
        with (Path(folder) / FIGURES).open(encoding="utf-8", errors="replace") as file:
            return file.readline(80).strip() or ANYBODY
    except OSError:
        return ANYBODY


def opened(seal: str, folder: Path | str = ".") -> bool:
    """Tell whether the instructor's file ``LESSON--solutions.txt``, of whose content a test's seal is the SHA-256, is there."""
    for path in Path(folder).glob("*--solutions*.txt"):
        with suppress(OSError), path.open("rb") as file:
            if hashlib.sha256(file.read(200).strip()).hexdigest() == seal:
                return True
    return False


def progress(student: str = "", folder: Path | str = ".") -> dict[str, str]:
    """Return the best verdict kept for each task of a student: "right" once it was right."""
    best: dict[str, str] = {}
    for entry in entries(folder):
        if entry.student == student and best.get(entry.task) != "right":
            best[entry.task] = entry.verdict
    return best
