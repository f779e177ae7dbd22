"""Marking a lesson of a whole class with nbgrader, in one or several processes; it goes on where it was stopped."""

import json
import multiprocessing
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import wait
from pathlib import Path
from typing import Any

import nbformat
from nbformat import NotebookNode

from ..errors import SusgeoError
from ..files import sweep, write_whole
from .assignment import role_of, typed, with_answers
from .collect import keep, same
from .course import class_list, fingerprint, nbgrader_api, reason, source_of
from .grades import STAMP, marks_by_hand
from .names import master
from .running import can_fork, warm
from .submission import LARGEST, normalized

BATCH = 25
"""Students marked by one process. nbgrader keeps a little of each; when the process ends, it is given back."""


@dataclass(frozen=True)
class Marked:
    """What a run of the marking did.

    Args:
        now, before: students marked now, and those who were marked and handed in nothing new.
        failed: those that could not be marked, with why.
        dropped: students who handed in anew, and tasks whose mark an instructor had changed by hand on the
            earlier work: that mark no longer counts.
    """

    now: tuple[str, ...]
    before: tuple[str, ...]
    failed: dict[str, str]
    dropped: dict[str, tuple[str, ...]]


def mark(
    course: Path,
    lesson: str,
    tell: Callable[[str], None] = lambda line: None,
    workers: int = 1,
    part: tuple[int, int] = (1, 1),
    again: tuple[str, ...] = (),
) -> Marked:
    """Mark what was collected, and write each student's feedback.

    This is ``nbgrader autograde`` and ``generate_feedback``, through nbgrader's own Python interface. A student who
    is marked already, and handed in nothing newer, is passed over; so a run that was stopped or killed is simply
    started again. A mark that was changed by hand since gets a new feedback page.

    Args:
        course: the folder of the course.
        lesson: "02", or the assignment's whole name.
        tell: is given one line for each student.
        workers: processes side by side on this machine.
        part: (k, n) marks the k-th of n equal parts of the class, for engines that run the parts as jobs.
        again: students to mark once more, whatever was done.
    """
    assignment = master(lesson).stem
    course = course.resolve()
    students = class_list(course)  # this and the next say at once what is not there
    source_of(course, assignment)
    strangers = [one for one in again if one not in students]
    if strangers:
        raise SusgeoError(f"{', '.join(strangers)} is not on the class list.")
    waiting = sorted(path.parent.name for path in course.glob(f"submitted/*/{assignment}"))
    if not waiting:
        raise SusgeoError(f"Nothing of {assignment} was collected yet: collect it first.")
    waiting = waiting[part[0] - 1 :: part[1]]
    by_hand = marks_by_hand(course, assignment)
    for student in again:
        stamp_of(course, student, assignment).unlink(missing_ok=True)
    before = tuple(one for one in waiting if _state(course, one, assignment, by_hand) == "done")
    done: dict[str, str] = {}
    for student, why in _side_by_side(course, assignment, [s for s in waiting if s not in before], workers):
        done[student] = why
        number = len(before) + len(done)
        tell(f"{number} of {len(waiting)}: {student}{' could not be marked' if why else ''}")
    now = tuple(student for student, why in done.items() if not why)
    after = marks_by_hand(course, assignment)
    gone = {one: by_hand.get(one, {}).keys() - after.get(one, {}).keys() for one in now}
    dropped = {one: tuple(sorted({role_of(cell)[1] for cell in cells})) for one, cells in gone.items() if cells}
    return Marked(now, before, {student: why for student, why in done.items() if why}, dropped)


def _side_by_side(course: Path, assignment: str, students: list[str], workers: int) -> Iterator[tuple[str, str]]:
    """Mark students in some processes at a time; yield each with what went wrong, or nothing.

    A process is forked from this one where the system can, with all loaded; what it prints goes to ``marking.log``.
    """
    size = min(BATCH, -(-len(students) // workers)) or 1
    batches = [students[start : start + size] for start in range(0, len(students), size)]
    way: Any = multiprocessing.get_context("fork" if can_fork() else "spawn")
    running: dict[Any, tuple[Any, list[str]]] = {}
    ended: Any
    if batches and can_fork():
        warm(assignment[:2])
    try:
        while batches or running:
            while batches and len(running) < workers:
                batch = batches.pop(0)
                here, there = way.Pipe(duplex=False)
                process = way.Process(target=_mark_batch, args=(there, course, assignment, batch), daemon=True)
                process.start()
                there.close()
                running[here] = process, batch
            for ended in wait(list(running)):
                process, left = running[ended]
                try:
                    why = json.loads(ended.recv_bytes())
                except (EOFError, OSError):  # the process has ended
                    del running[ended]
                    ended.close()
                    process.join()
                    why = "the marking ended unexpectedly here; marking.log says more"
                    batches[:0] = [left[1:]] if left[1:] else []  # the others are not to suffer for it
                if left:
                    yield left.pop(0), why
    finally:
        for process, _ in running.values():
            process.kill()


def _mark_batch(told: Any, course: Path, assignment: str, students: list[str]) -> None:
    """Mark some students, and tell, for one after the other, what went wrong; end when the process that asked for it has ended."""
    log = os.open(course / "marking.log", os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    os.dup2(log, 1)
    os.dup2(log, 2)
    sys.stdout = sys.stderr = os.fdopen(log, "w", encoding="utf-8", errors="replace", buffering=1)
    asked_by: Any = multiprocessing.parent_process()
    api, source = nbgrader_api(course), source_of(course, assignment)
    _one_engine()
    by_hand = marks_by_hand(course, assignment)
    for student in students:
        if not (asked_by.is_alive() if os.name == "nt" else os.getppid() == asked_by.pid):
            return
        try:
            why = _mark_one(api, course, assignment, student, source, by_hand)
        except Exception as problem:  # one student's trouble is not the others'
            why = f"{type(problem).__name__}: {problem}"
        told.send_bytes(json.dumps(why).encode())


def _one_engine() -> None:
    """Let nbgrader open its gradebook once in this process, instead of ten times for each student."""
    from nbgrader.api import Gradebook
    from sqlalchemy.orm import scoped_session, sessionmaker

    opening, engines = Gradebook.__init__, {}

    def reopen(self: Any, db_url: str, course_id: str = "default_course", authenticator: Any = None) -> None:
        if db_url not in engines:
            opening(self, db_url, course_id, authenticator)
            engines[db_url] = self.engine
        self.engine, self.course_id, self.authenticator = engines[db_url], course_id, authenticator
        self.db = scoped_session(sessionmaker(autoflush=True, bind=self.engine, future=True))

    Gradebook.__init__, Gradebook.close = reopen, lambda self: self.db.remove()


def _mark_one(api: Any, course: Path, assignment: str, student: str, source: Any, by_hand: dict[str, Any]) -> str:
    """Mark a student's submission and write the feedback; return what went wrong."""
    _tidy(course, student, assignment, source)
    answer: dict[str, Any] = {"success": True}
    if _state(course, student, assignment, by_hand) == "new":
        if stamp_of(course, student, assignment).exists():
            _drop_marks_by_hand(api, assignment, student)  # they were given to the earlier work
        for _ in range(2):  # once in some hundreds another program takes the port that a kernel has just chosen
            answer = api.autograde(assignment, student, force=True, create=student in class_list(course))
            if answer["success"] or "ort" not in str(answer.get("error", "")):
                break
    if answer["success"]:
        answer = api.generate_feedback(assignment, student, force=True)
    if answer["success"]:
        now = marks_by_hand(course, assignment, student).get(student, {})
        write_whole(stamp_of(course, student, assignment), "\n".join(_signs(course, student, assignment, now)))
        return ""
    with suppress(OSError):  # the disk may be full, which is then what is told
        print(answer.get("error"), answer.get("log"), sep="\n", file=sys.stderr, flush=True)
    return f"nbgrader failed: {reason(answer)}; marking.log may say more"


def _drop_marks_by_hand(api: Any, assignment: str, student: str) -> None:
    with api.gradebook as gradebook:
        for notebook in gradebook.find_submission(assignment, student).notebooks:
            for grade in notebook.grades:
                grade.manual_score = None
        gradebook.db.commit()


def _tidy(course: Path, student: str, assignment: str, source: NotebookNode) -> None:
    """Make sure that nbgrader can read a submission, whatever way it came; a file that is replaced is kept.

    On a hub nbgrader itself collects, and takes files as they are: damaged ones, and under any name.
    """
    folder = course / "submitted" / student / assignment
    sweep(folder)
    right = folder / f"{assignment}.ipynb"
    found = [right] if right.is_file() else sorted(folder.glob("*.ipynb"), key=lambda path: path.stat().st_mtime)
    with open(found[-1] if found else os.devnull, "rb") as file:
        raw = file.read(LARGEST + 1)
    notebook = normalized(with_answers(raw, typed(student, assignment[:2], folder)), source)  # a hub brings the record
    if found == [right]:
        with suppress(Exception):  # whatever nbformat cannot read is written anew
            if same(nbformat.reads(raw.decode("utf-8"), as_version=4), notebook):
                return
    if found:
        keep(found[-1], course / "received" / assignment, student)
    right.unlink(missing_ok=True)  # it may be write-protected
    write_whole(right, nbformat.writes(notebook) + "\n")


def stamp_of(course: Path, student: str, assignment: str) -> Path:
    """Return the file that says for which submission, and which marks by hand, the feedback was completed."""
    return course / "feedback" / student / assignment / STAMP


def _signs(course: Path, student: str, assignment: str, by_hand: dict[str, tuple[float, str]]) -> tuple[str, str]:
    """Return what tells a submission, and the marks given to it by hand, from any other."""
    folder = course / "submitted" / student / assignment
    parts = [path.read_bytes() for path in (folder / f"{assignment}.ipynb", folder / "timestamp.txt") if path.is_file()]
    return fingerprint(b"\n".join(parts)), fingerprint(repr(sorted(by_hand.items())).encode())


def _state(course: Path, student: str, assignment: str, by_hand: dict[str, Any]) -> str:
    """Return "done", "changed by hand" where only the feedback is out of date, or "new"."""
    stamp = stamp_of(course, student, assignment)
    lines = stamp.read_text("utf-8").split("\n") if stamp.is_file() else []
    signs = _signs(course, student, assignment, by_hand.get(student, {}))
    if lines == list(signs):
        return "done"
    return "changed by hand" if lines[:1] == [signs[0]] else "new"
