"""The class at a glance: marks, which tasks fail, and which known mistakes a class makes, lesson by lesson.

Made from the submissions that were collected and from the marks that were given, on this machine; nothing of them
is run, and nothing leaves it. What was read of a submission is kept beside it until the submission changes.
"""

import json
import math
from collections import Counter
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from pathlib import Path

from .. import __version__
from ..answers.calculation import library
from ..answers.figures import values_of
from ..answers.lesson import Lesson
from ..answers.verdict import HEADS
from ..draw.plots import bars
from ..draw.still import Still
from ..errors import SusgeoError
from ..files import read_notes, write_whole
from ..tables import Table
from .assignment import grade_id, points
from .course import class_list, fingerprint, source_of
from .grades import marks_by_hand
from .student import earned
from .submission import read_submission


@dataclass(frozen=True)
class Seen:
    """What was seen of one answer: the verdict's kind, what it earns, the mistakes by name with why, the answer itself.

    ``by_hand`` tells that an instructor gave the mark.
    """

    kind: str
    earned: float
    mistakes: tuple[tuple[str, str], ...] = ()
    answer: str = ""
    by_hand: bool = False


def seen(lesson: Lesson, answers: Mapping[str, object]) -> dict[str, Seen]:
    """Return what a glance keeps of each task of a lesson: the answer, "" where there is none, and its verdict."""
    found = {}
    for key in lesson.tasks:
        verdict = lesson.check(key, answers.get(key, ""), keep=False)
        named = tuple((mistake.name, mistake.why) for mistake in verdict.mistakes)
        found[key] = Seen(verdict.kind, earned(verdict, points(key)), named, str(answers.get(key, ""))[:400])
    return found


@dataclass(frozen=True, eq=False)
class Glance:
    """A class, read and checked.

    Args:
        students: id to name.
        answers: assignment to student to task key to what was seen; a student who handed in nothing is not there.
        notes: assignment to student to what was missing or damaged.
    """

    students: dict[str, str]
    answers: dict[str, dict[str, dict[str, Seen]]]
    notes: dict[str, dict[str, tuple[str, ...]]] = field(default_factory=dict)

    @cached_property
    def marks(self) -> Table:
        """Each student's marks in each lesson; blank where nothing came, with a star where a mark was given by hand."""
        rows = []
        for student, name in self.students.items():
            got = []
            for by_student in self.answers.values():
                found = by_student.get(student)
                star = "*" if found and any(one.by_hand for one in found.values()) else ""
                whole = sum(map(points, found or ()))
                got.append("" if found is None else f"{sum(s.earned for s in found.values()):g} of {whole}{star}")
            rows.append((student, name, *got))
        return Table(("id", "name", *self.answers), tuple(rows))

    @cached_property
    def tasks(self) -> Table:
        """How each task went: how many were right, not yet, unreadable, open."""
        heads, rows = {kind: head for kind, head in HEADS.items() if kind != "kept"}, []
        for key, found in self._by_task().items():
            kinds = Counter[str](one.kind for _, one in found)
            ask = library()[1][key].ask
            short = ask if len(ask) <= 70 else ask[:69] + "…"
            rows.append((key, *(str(kinds[kind]) for kind in heads), short))
        return Table(("task", *(head.lower() for head in heads.values()), "question"), tuple(rows))

    @cached_property
    def mistakes(self) -> Table:
        """Which known mistakes the class makes, most frequent first, with what to say about each."""
        counted: Counter[tuple[str, str, str]] = Counter()
        for key, found in self._by_task().items():
            for _, one in found:
                counted.update((key, name, why) for name, why in one.mistakes)
        rows = [(str(number), key, name, why) for (key, name, why), number in counted.most_common()]
        return Table(("students", "task", "mistake", "what helps"), tuple(rows))

    def given(self, key: str) -> Table:
        """Show what each student answered to a task, wrong answers first, with what was seen in it."""
        found = self._by_task().get(key)
        if not found:
            raise SusgeoError(f"Nothing was collected of task {key}.")
        rows = [
            (student, HEADS[one.kind], one.answer.replace("\n", "; "), "; ".join(n for n, _ in one.mistakes))
            for student, one in sorted(found, key=lambda pair: (pair[1].kind == "right", pair[0]))
        ]
        return Table(("student", "verdict", "answer", "mistake"), tuple(rows))

    @cached_property
    def copies(self) -> Table:
        """Wrong numbers that are right on another student's figures: no proof of anything, but worth a question."""
        rows = []
        for key, found in self._by_task().items():
            task = library()[1][key]
            if task.kind != "number":
                continue
            truths = {student: _truth(task.lesson, student, key) for student, _ in found}
            for student, one in found:
                if one.kind == "right" or not one.answer.strip():
                    continue
                others = [s for s, truth in truths.items() if abs(truth - truths[student]) > 2 * task.tolerance]
                if fits := [s for s in others if Lesson(task.lesson, s).check(key, one.answer, keep=False)]:
                    rows.append((student, key, one.answer, ", ".join(fits[:5])))
        return Table(("student", "task", "answer", "right on the figures of"), tuple(rows))

    def picture(self, lesson: str = "") -> Still:
        """Draw, for one lesson, the latest if none is named, how many of the class got each task right, in percent."""
        name = lesson or max(self.answers, default="")
        if name not in self.answers:
            there = ", ".join(self.answers) or "none"
            raise SusgeoError(f"Nothing was collected of lesson {name or 'any'}; there is {there}.")
        share = {
            key: 100 * sum(one.kind == "right" for _, one in found) / len(found)
            for key, found in self._by_task().items()
            if key[:2] == name[:2]
        }
        title = f"Lesson {name[:2]}: right answers, of {len(self.answers[name])} students"
        return bars(share, unit="%", digits=0, title=title)

    def _by_task(self) -> dict[str, list[tuple[str, Seen]]]:
        found: dict[str, list[tuple[str, Seen]]] = {}
        for by_student in self.answers.values():
            for student, one in by_student.items():
                for key, what in one.items():
                    found.setdefault(key, []).append((student, what))
        return dict(sorted(found.items()))


def _truth(lesson: str, student: str, key: str) -> float:
    """Return the right number of a task on a student's figures."""
    own = Lesson(lesson, student)
    task = own.find(key)
    return float(task.calculation.values(values_of(own.known(key)))[task.find])


def glance(course: Path | str) -> Glance:
    """Read and check all that was collected in a course; marks given by hand go before the check's own."""
    place = Path(course)
    students = {student.id: student.name for student in class_list(place).values()}
    store = place / ".seen.json"
    kept, known = read_notes(store), {}
    answers: dict[str, dict[str, dict[str, Seen]]] = {}
    notes: dict[str, dict[str, tuple[str, ...]]] = {}
    for path in sorted(place.glob("submitted/*/*/*.ipynb")):
        student, assignment = path.parts[-3], path.parts[-2]
        raw, source = path.read_bytes(), source_of(place, assignment)
        sign = fingerprint(raw + f"{__version__} {student}".encode())
        if sign not in kept:
            own = read_submission(raw, source)
            found = {key: asdict(one) for key, one in seen(Lesson(assignment[:2], student), own.answers).items()}
            kept[sign] = {"answers": found, "notes": own.notes_for(student)}
        known[sign] = kept[sign]
        notes.setdefault(assignment, {})[student] = tuple(kept[sign]["notes"])
        answers.setdefault(assignment, {})[student] = {
            key: Seen(**{**one, "mistakes": tuple(map(tuple, one["mistakes"]))})
            for key, one in kept[sign]["answers"].items()
        }
    write_whole(store, json.dumps(known))
    for assignment, by_student in answers.items():
        with suppress(ImportError):  # the course's own environment has no nbgrader, and nothing was marked there
            for student, given in marks_by_hand(place, assignment).items():
                for key, one in by_student.get(student, {}).items():
                    mark = given.get(grade_id("marks", key), (math.nan, ""))[0]
                    if math.isfinite(mark):
                        by_student[student][key] = replace(one, earned=mark, by_hand=True)
    return Glance(students, dict(sorted(answers.items())), notes)
