"""Taking in what students handed in, from a folder of files: whose each is, and which one counts."""

import stat
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import nbformat
from nbformat import NotebookNode

from ..errors import SusgeoError
from ..files import sweep, write_whole
from .assignment import typed, with_answers
from .course import class_list, fingerprint, source_of
from .inbox import Found, look_into
from .names import Student, as_id, master, owner
from .submission import LARGEST, Submission, cells_of, normalized, read_submission

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
    notebook: NotebookNode
    own: Submission
    notes: tuple[str, ...]
    stamp: str = ""

    @property
    def rank(self) -> tuple[bool, bool, int, float, str]:
        """What decides which of several counts: it can be read, it says something, its name is sure, it is the newest."""
        return self.own.readable, bool(self.own.answers), self.sure, self.time, self.file


KEPT = ""
"""The file's name of a piece that was taken in before."""


def collect(course: Path, lesson: str, inbox: Path) -> list[Arrival]:
    """Lay what students handed in before nbgrader: one notebook for each student, in ``submitted``.

    The files come as notebooks or zips, in one folder or one for each student. A file's name says whose it
    is; failing that the name of its folder, then what stands in it. If several come for one student, also in
    different runs, the newest counts that can be read and has an answer: neither a damaged or blank one nor an
    older one takes the place of work. The files in the inbox are left alone, and a copy of each, byte by byte,
    is kept in ``received``. Nothing in them is run.

    Returns one entry for each file, those that need a look first.
    """
    assignment = master(lesson).stem
    students, source = class_list(course), source_of(course, assignment)
    if not inbox.is_dir():
        raise SusgeoError(f"There is no folder {inbox.name} to collect from.")
    for name in ("received", "submitted"):
        sweep(course / name)
    arrivals: list[Arrival] = []
    by_student: dict[str, list[_Piece]] = {}
    for found in look_into(inbox):
        taken = _taken(course, assignment, source, students, inbox, found)
        if isinstance(taken, Arrival):
            arrivals.append(taken)
        else:
            by_student.setdefault(taken.student, []).append(taken)
    for student, several in by_student.items():
        before = _before(course, assignment, source, student)
        chosen = max([*several, *before], key=lambda piece: piece.rank)
        _lay(course, assignment, chosen, before)
        for piece in several:
            notes = piece.notes
            if piece is not chosen and not (before and same(piece.notebook, before[0].notebook)):
                notes += (f"Not marked, since {_why(piece, chosen)}; it is kept in received.",)
            elif piece is chosen and len(several) > 1:
                notes += (f"{len(several)} files came from {student}; this one is marked.",)
            arrivals.append(Arrival(piece.file, student, piece is chosen, notes))
    return sorted(arrivals, key=lambda one: (not one.notes, one.student, one.file))


def _taken(
    course: Path, assignment: str, source: NotebookNode, students: dict[str, Student], inbox: Path, found: Found
) -> "_Piece | Arrival":
    """Find out whose a file is, and keep a copy of it; what goes wrong with one file stays with that file."""

    def left(why: str) -> Arrival:
        return Arrival(found.name, "", False, (why,))

    try:
        whole, _, inside = found.told.partition("\n")  # the zip's name goes before that of what is in it
        named_lesson, claimed = owner(whole)
        if not claimed and inside:
            named_lesson, claimed = owner(inside)
        if not found.notebook and not claimed:
            return left(f"Not taken. {found.problem}")
        raw, own = found.raw, read_submission(found.raw, source)
        if not inside and own.student:  # not packed: the record may lie beside it
            raw = with_answers(raw, typed(own.student, assignment[:2], found.path.parent))
            own = read_submission(raw, source)
        if not named_lesson and own.readable:
            named_lesson = str(cells_of(found.raw)[1].get("assignment", ""))
        if named_lesson and named_lesson[:2] != assignment[:2]:
            return left(f"It belongs to lesson {named_lesson[:2]}, which is collected by its own command.")
        folder = as_id(found.path.parent.name) if found.path.parent != inbox else ""
        ways = ((3, claimed), (2, folder), (1, own.student))
        sure, student = next(((sure, one) for sure, one in ways if one in students), (0, ""))
        if not student:
            who = claimed or own.student
            who = f"{who} is not on the class list" if who else "it says nobody's name"
            return left(f"Not taken: {who}. Rename it to {assignment}--ID.ipynb.")
        notes = [found.problem] if found.problem else []
        if claimed and claimed != student:
            notes.append(f"Its file name says {claimed}, who is not on the class list; it is taken for {student}'s.")
        ordinary = stat.S_ISREG(found.path.lstat().st_mode)  # a link's target is not the student's, a pipe never ends
        if ordinary and not keep(found.path, course / "received" / assignment, "" if inside else student):
            notes.append("It is too large to be copied to the folder received, so keep it where it is.")
        if not found.notebook:
            return Arrival(found.name, student, False, ("Not taken.", *notes))
        notebook = normalized(raw, source)
        notes += own.notes_for(student)
        time = found.path.stat().st_mtime
        return _Piece(found.name, student, sure, time, notebook, own, tuple(notes))
    except SusgeoError:
        raise  # the course's own trouble, such as a full disk
    except Exception as problem:  # whatever one file brings about, the others are taken in
        return left(f"Not taken: reading it failed ({type(problem).__name__}). Ask for it again.")


def _why(piece: _Piece, chosen: _Piece) -> str:
    other = "what was taken in before" if chosen.file == KEPT else chosen.file
    if piece.own.readable < chosen.own.readable:
        return f"it cannot be read and {other} can"
    if chosen.own.answers and not piece.own.answers:
        return f"it has no answer and {other} has"
    if piece.sure < chosen.sure:
        return f"the name of {other} says more surely whose it is"
    return f"{other} is newer"


def keep(path: Path, folder: Path, student: str) -> bool:
    """Copy a file, byte by byte, to ``folder/STUDENT--FINGERPRINT.ending``; tell whether it is there now.

    A copy that was torn or changed is mended. A file with the work of several has no student in its name.
    """
    if path.stat().st_size > 10 * LARGEST:
        return False
    raw = path.read_bytes()
    write_whole(folder / f"{student or 'several'}--{fingerprint(raw)[:12]}{path.suffix.lower()}", raw)
    return True


def _before(course: Path, assignment: str, source: NotebookNode, student: str) -> list[_Piece]:
    """Return what was taken in for a student before, if anything, as one more piece to choose from."""
    path = course / "submitted" / student / assignment / f"{assignment}.ipynb"
    if not path.is_file():
        return []
    raw = path.read_bytes()
    own = read_submission(raw, source)
    try:
        told = cells_of(raw)[1]
        time, sure, stamp = float(told.get("came", "")), int(told.get("sure", "")), told["stamp"]
        datetime.strptime(stamp, FORMAT)
    except (ValueError, KeyError):  # torn, or laid there by nbgrader's own collecting
        time, sure, stamp = path.stat().st_mtime, 3, ""
    notebook = normalized(raw, source)
    return [_Piece(KEPT, student, sure, time, notebook, own, own.notes, stamp)]


def same(one: NotebookNode, other: NotebookNode) -> bool:
    """Tell whether the same is written in the cells of two notebooks."""
    return [cell.source for cell in one.cells] == [cell.source for cell in other.cells]


def _lay(course: Path, assignment: str, piece: _Piece, before: list[_Piece]) -> None:
    """Write a submission into nbgrader's folder; a changed one gets a newer time, by which nbgrader knows it.

    The time stands in the notebook as well, so that a run that was killed between the two files is mended by the
    next one, and ends as if nothing had happened.
    """
    folder = course / "submitted" / piece.student / assignment
    if before and before[0].stamp and same(piece.notebook, before[0].notebook):
        piece = before[0]
    stamp = piece.stamp
    if not stamp:
        time = datetime.fromtimestamp(piece.time, UTC)
        if before and before[0].stamp:
            last = datetime.strptime(before[0].stamp, FORMAT).replace(tzinfo=UTC)
            time = max(time, last + timedelta(seconds=1))
        stamp = time.strftime(FORMAT)
    about = {"came": f"{piece.time:.6f}", "sure": str(piece.sure), "stamp": stamp}
    piece.notebook.metadata.susgeo.update(about)
    write_whole(folder / f"{assignment}.ipynb", nbformat.writes(piece.notebook) + "\n")
    write_whole(folder / "timestamp.txt", stamp + "\n")
