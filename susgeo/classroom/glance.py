"""The class at a glance: marks, which tasks fail, and which known mistakes a class makes, lesson by lesson.

Made from the submissions that were collected, on this machine; nothing of them is run, and nothing leaves it.
"""

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from ..answers.calculation import library
from ..answers.lesson import Lesson
from ..answers.verdict import HEADS, Verdict
from ..draw.plots import bars
from ..draw.still import Still
from ..errors import SusgeoError
from ..tables import Table
from .assignment import points
from .course import class_list, source_of
from .student import earned
from .submission import read_submission


@dataclass(frozen=True, eq=False)
class Glance:
    """A class, read and checked.

    Args:
        students: id to name.
        verdicts: lesson to student to task key to what the check says; a student who handed in nothing is not
            there.
        notes: lesson to student to what was missing or damaged.
    """

    students: dict[str, str]
    verdicts: dict[str, dict[str, dict[str, Verdict]]]
    notes: dict[str, dict[str, tuple[str, ...]]]

    @cached_property
    def marks(self) -> Table:
        """Each student's marks in each lesson; blank where nothing came."""
        rows = []
        for student, name in self.students.items():
            got = []
            for lesson in self.verdicts:
                found = self.verdicts[lesson].get(student)
                got.append("" if found is None else f"{_sum(found):g} of {sum(map(points, found))}")
            rows.append((student, name, *got))
        return Table(("id", "name", *self.verdicts), tuple(rows))

    @cached_property
    def tasks(self) -> Table:
        """How each task went: how many were right, not yet, unreadable, open."""
        rows = []
        for key, found in self._by_task().items():
            kinds = Counter[str](verdict.kind for verdict in found)
            ask = library()[1][key].ask
            short = ask if len(ask) <= 70 else ask[:69] + "…"
            rows.append((key, *(str(kinds[kind]) for kind in HEADS), short))
        return Table(("task", *(head.lower() for head in HEADS.values()), "question"), tuple(rows))

    @cached_property
    def mistakes(self) -> Table:
        """Which known mistakes the class makes, most frequent first, with what to say about each."""
        counted: Counter[tuple[str, str, str]] = Counter()
        for key, found in self._by_task().items():
            for verdict in found:
                counted.update((key, mistake.name, mistake.why) for mistake in verdict.mistakes)
        rows = [(str(number), key, name, why) for (key, name, why), number in counted.most_common()]
        return Table(("students", "task", "mistake", "what helps"), tuple(rows))

    def picture(self, lesson: str) -> Still:
        """Draw, for one lesson, how many of the class got each task right, in percent."""
        if lesson not in self.verdicts:
            raise SusgeoError(
                f"Nothing was collected of lesson {lesson}; there is {', '.join(self.verdicts) or 'none'}."
            )
        share = {
            key: 100 * sum(map(bool, found)) / len(found)
            for key, found in self._by_task().items()
            if key[:2] == lesson[:2]
        }
        return bars(
            share,
            unit="%",
            digits=0,
            title=f"Lesson {lesson[:2]}: right answers, of {len(self.verdicts[lesson])} students",
        )

    def _by_task(self) -> dict[str, list[Verdict]]:
        found: dict[str, list[Verdict]] = {}
        for by_student in self.verdicts.values():
            for verdicts in by_student.values():
                for key, verdict in verdicts.items():
                    found.setdefault(key, []).append(verdict)
        return dict(sorted(found.items()))


def _sum(found: dict[str, Verdict]) -> float:
    return round(sum(earned(verdict, points(key)) for key, verdict in found.items()), 2)


def glance(course: Path | str) -> Glance:
    """Read and check all that was collected in a course."""
    place = Path(course)
    students = {student.id: student.name for student in class_list(place).values()}
    verdicts: dict[str, dict[str, dict[str, Verdict]]] = {}
    notes: dict[str, dict[str, tuple[str, ...]]] = {}
    for path in sorted(place.glob("submitted/*/*/*.ipynb")):
        student, assignment = path.parts[-3], path.parts[-2]
        own = read_submission(path.read_bytes(), source_of(place, assignment))
        lesson = Lesson(assignment[:2], student)
        verdicts.setdefault(assignment, {})[student] = {
            key: lesson.check(key, own.answers.get(key, ""), keep=False) for key in lesson.tasks
        }
        notes.setdefault(assignment, {})[student] = own.notes_for(student)
    return Glance(students, dict(sorted(verdicts.items())), notes)
