"""A lesson's tasks for one student: ask one, check an answer, keep it, open a solution. No page is known here."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from pathlib import Path

from .. import __version__
from ..car.car import Car
from ..car.carfile import load_car
from ..errors import SusgeoError, expect
from ..files import DATA
from . import record
from .calculation import Task, library
from .check import check
from .choices import one_way
from .figures import Figure, figures, values_of
from .question import WIDTH, Page, question
from .variant import variant
from .verdict import Verdict
from .worked import Worked, work_out

CLUB = "club"
"""The student whose figures are those of the club's cars."""


@dataclass(frozen=True)
class LessonTasks:
    """One lesson's tasks for one student: asked, checked, kept and solved, without a page's boxes; arguments as in Lesson."""

    number: str
    student: str = ""
    version: str = __version__
    folder: str = "."
    solutions: bool = True
    test: str = ""

    def __post_init__(self) -> None:
        expect(str, student=self.student)
        if self.version.split(".")[:2] != __version__.split(".")[:2]:
            raise SusgeoError(
                f"This notebook was made for susgeo {self.version}, and {__version__} is installed; "
                "get notebooks and library from the same copy of the course."
            )
        if self.test and self.seal != self.test:
            record.keep(self.student, f"{self.number} test", self.test, "test", self.folder)

    @property
    def seal(self) -> str:
        """The seal of the test that this lesson is for this student, by the record in the folder; "" if it is none."""
        last = self.last(f"{self.number} test")
        return last.answer if last else ""

    @property
    def sealed(self) -> bool:
        """Whether this is a test whose verdicts and solutions the instructor has not yet given out."""
        seal = self.test or self.seal
        return bool(seal) and not record.opened(seal, self.folder)

    @cached_property
    def tasks(self) -> dict[str, Task]:
        """The lesson's tasks by number."""
        return {key: task for key, task in library()[1].items() if task.lesson == self.number}

    def car(self, name: str) -> Car:
        """Return the student's own version of a car of the club."""
        path = DATA / f"{name}.toml"
        whose = "" if self.student == CLUB else self.student or record.reader(self.folder)
        return _car(str(path), path.stat().st_mtime_ns if path.exists() else 0, whose, self.number)

    def find(self, number: int | str) -> Task:
        """Return a task by its number, 3 or "02.3"."""
        key = str(number) if "." in str(number) else f"{self.number}.{number}"
        if not self.tasks:
            lessons = ", ".join(sorted({f'"{task.lesson}"' for task in library()[1].values()}))
            raise SusgeoError(f"There is no lesson {self.number!r} with tasks; there are {lessons}.")
        if key not in self.tasks:
            raise SusgeoError(f"Lesson {self.number} has no task {number}; it has {', '.join(self.tasks)}.")
        return self.tasks[key]

    def known(self, number: int | str) -> dict[str, Figure]:
        """Return the figures of a task."""
        task = self.find(number)
        return task.calculation.known(figures(self.car(task.car)), task.given) if task.find else {}

    def values(self, calculation: str, car: str = "three_link") -> dict[str, float]:
        """Return every figure and every line of a calculation on a car of the club, as the lesson's text has it."""
        lines, club = library()[0][calculation], load_car(car)
        return lines.values(values_of(lines.known(figures(club))))

    def unit(self, task: Task) -> str:
        """Return the unit of what a task asks for."""
        return task.calculation.step(task.find).unit if task.find else ""

    def question(self, number: int | str, width: int = WIDTH) -> Page:
        """Return a task without its boxes: the question, the figures drawn, and how to write the answer."""
        task = self.find(number)
        return question(task, self.car(task.car), self.known(number), width)

    def check(self, number: int | str, answer: object = None, keep: bool = True) -> Verdict:
        """Check an answer, keep it in the record unless told not to, and say what is true of it.

        Without an answer it takes the one that was last typed into the task's box.
        """
        task = self.find(number)
        if answer is None:
            last = self.last(task.key)
            answer, keep = (last.answer if last else ""), False
        verdict = check(task, answer, self.car(task.car))
        if (keep or self.test) and verdict.kind not in ("blank", "unreadable") and self.sealed:
            verdict = Verdict("kept", task.key, ("This is a test: your instructor marks it.",))
        if keep and verdict.kind != "blank":
            verdict = self.kept(verdict, answer)
        return verdict

    def kept(self, verdict: Verdict, answer: object) -> Verdict:
        """Keep an answer with its verdict; return the verdict, which says so where it could not be kept."""
        if self.keep(verdict.task, answer, verdict.kind):
            return verdict
        return replace(verdict, sentences=(*verdict.sentences, record.LOST))

    @cached_property
    def watchers(self) -> list[Callable[[], None]]:
        """What is called whenever an answer or a guess is kept."""
        return []

    def keep(self, key: str, answer: object, verdict: str) -> bool:
        """Add an answer to the record, tell those who watch, and return whether it could be kept."""
        kept = record.keep(self.student, key, answer, verdict, self.folder)
        for watcher in self.watchers:
            watcher()
        return kept

    def last(self, key: str) -> record.Entry | None:
        """Return the student's last answer to a task, or None."""
        mine = [one for one in record.entries(self.folder) if (one.student, one.task) == (self.student, key)]
        return mine[-1] if mine else None

    def solution(self, number: int | str, folded: bool = True) -> Worked:
        """Return the worked solution of a task on the student's own figures, folded until opened."""
        task = self.find(number)
        if self.sealed:
            raise SusgeoError(
                f"Lesson {self.number} is a test: its solutions open once your instructor's file, which ends in "
                "--solutions.txt, lies beside your notebook."
            )
        car = self.car(task.car)
        if task.kind == "choice":
            return one_way(task, car, folded)
        title = f"Worked solution of task {task.key}"
        return work_out(title, task.calculation, self.known(number), task.find, car, folded, task.symbols)

    def guess_key(self, question: str) -> str:
        """Return the name under which a guess is kept."""
        return f"{self.number} guess: {question}"


@lru_cache(maxsize=64)
def _car(path: str, changed: int, student: str, number: str) -> Car:
    """Return a student's car; ``changed``, the time of the file's last change, makes an edited file count."""
    tasks = tuple(task for task in library()[1].values() if task.lesson == number and task.car == Path(path).stem)
    return variant(student, number, load_car(path), tasks)
