"""Taking in what students handed in, from a folder of files: whose each is, and which one counts."""

import hashlib
import shutil
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path, PurePosixPath

import nbformat

from ..errors import SusgeoError
from .assignment import typed, with_answers
from .course import class_list, source_of
from .names import master, owner, valid_id
from .submission import LARGEST, cells_of, normalized, read_submission

MOST_FILES = 100
"""Files that are looked at in one zip."""
FORMAT = "%Y-%m-%d %H:%M:%S.%f UTC"


@dataclass(frozen=True)
class Arrival:
    """One file that came in.

    Args:
        file: where it was found, below the folder that was collected.
        student: whose it is taken for; "" if nobody's.
        counts: whether it is the one that is marked.
        notes: sentences for the instructor.
    """

    file: str
    student: str
    counts: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Piece:
    file: str
    student: str
    sure: int
    time: float
    text: str
    readable: bool
    notes: tuple[str, ...]


def collect(course: Path, lesson: str, inbox: Path) -> list[Arrival]:
    """Lay what students handed in before nbgrader: one notebook for each student, in ``submitted``.

    The files come as notebooks or zips, in one folder or one for each student. A file's name says whose it
    is; failing that the name of its folder, then what stands in it. If several come for one student, the
    newest that can be read counts. The files in the inbox are left alone, and a copy of each, byte by byte, is
    kept in ``received``. Nothing in them is run.

    Returns one entry for each file, those that need a look first.
    """
    assignment = master(lesson).stem
    students, source = class_list(course), source_of(course, assignment)
    if not inbox.is_dir():
        raise SusgeoError(f"There is no folder {inbox.name} to collect from.")
    pieces: list[_Piece] = []
    arrivals: list[Arrival] = []
    for path, file, named, raw, problem in _files(inbox):
        named_lesson, student = owner(named)
        sure, notes = 3, [problem] if problem else []
        own = read_submission(raw, source)
        if path.suffix.lower() == ".ipynb" and own.student:  # not packed: the record may lie beside it
            raw = with_answers(raw, typed(own.student, assignment[:2], path.parent))
            own = read_submission(raw, source)
        if not named_lesson and own.readable:
            named_lesson = str(cells_of(raw)[1].get("assignment", ""))
        if named_lesson not in ("", assignment):
            continue  # another lesson's, which is collected by its own command
        if student not in students:
            sure, student = 2, _as_id(path.parent.name if path.parent != inbox else "")
        if student not in students:
            sure, student = 1, own.student
        if student not in students:
            claimed = owner(named)[1] or own.student
            who = f"{claimed} is not on the class list" if claimed else "it says nobody's name"
            arrivals.append(
                Arrival(file, "", False, (f"Not taken: {who}. Rename it to {assignment}--ID.ipynb.",))
            )
            continue
        claimed = owner(named)[1]
        if claimed and claimed != student:
            notes.append(
                f"Its file name says {claimed}, who is not on the class list; it is taken for {student}'s."
            )
        if not keep(path, course / "received" / assignment, student):
            notes.append("It is too large to be copied to the folder received, so keep it where it is.")
        text = nbformat.writes(normalized(raw, source)) + "\n"
        notes += own.notes_for(student)
        pieces.append(_Piece(file, student, sure, path.stat().st_mtime, text, own.readable, tuple(notes)))
    by_student: dict[str, list[_Piece]] = {}
    for piece in pieces:
        by_student.setdefault(piece.student, []).append(piece)
    for student, several in by_student.items():
        several.sort(key=lambda piece: (piece.readable, piece.sure, piece.time, piece.file))
        chosen = several[-1]
        more = (f"{len(several)} files came from {student}; this one is marked.",) if len(several) > 1 else ()
        _lay(course, assignment, chosen)
        arrivals.append(Arrival(chosen.file, student, True, (*chosen.notes, *more)))
        arrivals += [Arrival(piece.file, student, False, piece.notes) for piece in several[:-1]]
    return sorted(arrivals, key=lambda one: (not one.notes, one.student, one.file))


def keep(path: Path, folder: Path, student: str) -> bool:
    """Copy a file, byte by byte, to ``folder/STUDENT--FINGERPRINT.ending``; tell whether it is there now."""
    if path.stat().st_size > LARGEST:
        return False
    fingerprint = hashlib.sha256(path.read_bytes()).hexdigest()[:12]
    kept = folder / f"{student}--{fingerprint}{path.suffix.lower()}"
    kept.parent.mkdir(parents=True, exist_ok=True)
    if not kept.exists():
        shutil.copyfile(path, kept)
    return True


def _lay(course: Path, assignment: str, piece: _Piece) -> None:
    """Write a submission into nbgrader's folder; a changed one gets a newer time, by which nbgrader knows it."""
    folder = course / "submitted" / piece.student / assignment
    path, stamp = folder / f"{assignment}.ipynb", folder / "timestamp.txt"
    if path.is_file() and path.read_text("utf-8") == piece.text:
        return
    time = datetime.fromtimestamp(piece.time, UTC)
    if stamp.is_file():
        try:
            before = datetime.strptime(stamp.read_text("ascii").strip(), FORMAT).replace(tzinfo=UTC)
        except ValueError:  # written by somebody else
            before = datetime.now(UTC)
        time = max(time, before + timedelta(seconds=1))
    folder.mkdir(parents=True, exist_ok=True)
    path.write_text(piece.text, "utf-8", newline="\n")
    stamp.write_text(time.strftime(FORMAT) + "\n", "ascii")


def _as_id(text: str) -> str:
    try:
        return valid_id(text)
    except SusgeoError:
        return ""


def _files(inbox: Path) -> Iterator[tuple[Path, str, str, bytes, str]]:
    """Yield (file, where it is, name that says whose it is, content, problem) for each notebook, also within zips."""
    for path in sorted(inbox.rglob("*")):
        name = path.relative_to(inbox).as_posix()
        if path.is_symlink() or not path.is_file() or ".ipynb_checkpoints" in name:
            continue
        if path.suffix.lower() == ".ipynb":
            with path.open("rb") as file:
                yield path, name, name, file.read(LARGEST + 1), ""
        elif path.suffix.lower() == ".zip":
            for inside, raw, why in _in_zip(path):
                told = name if owner(name)[1] else inside
                yield path, f"{name}/{inside}" if inside else name, told, raw, why


def _in_zip(path: Path) -> Iterator[tuple[str, bytes, str]]:
    """Yield (name, content, problem) for the notebooks in a zip; the name is blank where none can be got."""
    try:
        with zipfile.ZipFile(path) as archive:
            members = [
                one
                for one in archive.infolist()[:MOST_FILES]
                if one.filename.lower().endswith(".ipynb")
                and not {"__MACOSX", ".ipynb_checkpoints"} & set(PurePosixPath(one.filename).parts)
            ]
            left = LARGEST + 1  # for all of them, since a small zip may hold gigabytes
            for member in members:
                with archive.open(member) as file:
                    raw = file.read(left)
                left -= len(raw)
                yield member.filename, raw, ""
            if not members:
                yield "", b"", "The zip holds no notebook."
    except (zipfile.BadZipFile, OSError, RuntimeError, ValueError, NotImplementedError, EOFError, zlib.error):
        yield "", b"", "The zip is damaged or has a password, and cannot be opened."
