"""What a lesson's notebook calls: show a task, check an answer, open a solution, keep a guess, see progress."""

import html
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from .. import __version__
from ..car.car import Car
from ..car.carfile import load_car
from ..errors import SusgeoError
from ..tables import CELL
from . import record
from .calculation import LESSONS, Task, library
from .check import check
from .figures import AXES, LENGTHS, POINTS, Figure, figures
from .numbers import Tolerance
from .variant import variant
from .verdict import HEADS, Verdict
from .worked import Worked, as_given, work_out


@dataclass(frozen=True)
class Page:
    """Words and a table for a notebook: HTML on screen, text elsewhere."""

    page: str
    text: str

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        return {"text/html": self.page, "text/plain": self.text}


@dataclass(frozen=True)
class Lesson:
    """One lesson for one student.

    Args:
        number: "00" to "13".
        student: a name or number; it gives figures of one's own. Blank takes the club's cars as they are.
        version: the library's version that the notebook was made for.
        folder: where the record of answers is kept.
    """

    number: str
    student: str = ""
    version: str = __version__
    folder: str = "."

    def __post_init__(self) -> None:
        if self.version.split(".")[:2] != __version__.split(".")[:2]:
            raise SusgeoError(
                f"This notebook was made for susgeo {self.version}, and {__version__} is installed; "
                "get notebooks and library from the same copy of the course."
            )

    @cached_property
    def tasks(self) -> dict[str, Task]:
        """The lesson's tasks by number."""
        return {key: task for key, task in library()[1].items() if task.lesson == self.number}

    def car(self, name: str) -> Car:
        """Return a car of the club, or the student's own version of it."""
        path = LESSONS.parent / f"{name}.toml"
        return _car(str(path), path.stat().st_mtime_ns if path.exists() else 0, self.student, self.number)

    def _task(self, number: int | str) -> Task:
        key = str(number) if "." in str(number) else f"{self.number}.{number}"
        if key not in self.tasks:
            raise SusgeoError(f"Lesson {self.number} has no task {number}; it has {', '.join(self.tasks)}.")
        return self.tasks[key]

    def known(self, number: int | str) -> dict[str, Figure]:
        """Return the figures of a task."""
        task = self._task(number)
        return library()[0][task.of].known(figures(self.car(task.car)), task.given) if task.find else {}

    def task(self, number: int | str) -> Page:
        """Show a task: the question, the figures, and how to write the answer."""
        task = self._task(number)
        how, rows = _how(task), []
        if task.kind in ("number", "working"):
            calculation = library()[0][task.of]
            measured = self.known(number)
            names = sorted(
                calculation.needed_for(task.find),
                key=lambda name: name[2:] + name[:2] if name[1:2] == "_" else "~" + name,
            )
            rows = [
                (name, as_given(measured[name]), measured[name].words) for name in names if name in measured
            ]
        elif task.kind == "formula":
            rows = [(name, "", _words(task, name)) for name in task.symbols]
        else:
            present = figures(self.car(task.car))
            rows = [
                (name, f"{low:g} to {high:g} mm, now {as_given(present[name])}", words)
                for name, (words, low, high) in task.move.items()
            ]
            rows += [
                (name.split(" [")[0], f"{want:g} {name.split(' [')[1][:-1]}, within {off:g}", "wanted")
                for name, (want, off) in task.want.items()
            ]
        cells = "".join(
            "<tr>" + "".join(f'<td style="{CELL}left">{html.escape(cell)}</td>' for cell in row) + "</tr>"
            for row in rows
        )
        head = f"<p><strong>Task {task.key}.</strong> {html.escape(task.ask)}</p>"
        text = "\n".join(
            [f"Task {task.key}. {task.ask}", *("  " + "  ".join(filter(None, row)) for row in rows), how]
        )
        return Page(f"{head}<table>{cells}</table><p>{html.escape(how)}</p>", text)

    def check(self, number: int | str, answer: object = "", keep: bool = True) -> Verdict:
        """Check an answer, keep it in the record unless told not to, and say what is true of it."""
        task = self._task(number)
        verdict = check(task, answer, self.car(task.car))
        if keep and verdict.kind != "blank":
            record.keep(self.student, task.key, answer, verdict.kind, self.folder)
        return verdict

    def solution(self, number: int | str, folded: bool = True) -> Worked:
        """Return the worked solution of a task on the student's own figures, folded until opened."""
        task = self._task(number)
        if not task.find:
            raise SusgeoError(f"Task {task.key} has many right answers; the bench above finds one.")
        car = self.car(task.car)
        return work_out(
            f"Worked solution of task {task.key}",
            library()[0][task.of],
            self.known(number),
            task.find,
            car,
            folded,
        )

    def guess(self, question: str, value: object = "") -> Page:
        """Keep a guess; it is never marked, and shown again by :meth:`guessed`."""
        if str(value).strip():
            record.keep(self.student, f"{self.number} guess: {question}", value, "guess", self.folder)
            text = f"Your guess is kept: {value}"
        else:
            text = (
                f"Before you go on: {question} Write your guess between the quotation marks and run the cell."
            )
        return Page(f"<p>{html.escape(text)}</p>", text)

    def guessed(self, question: str, answer: str) -> Page:
        """Show the guess again beside what turned out."""
        guesses = [
            entry.answer
            for entry in record.entries(self.folder)
            if entry.student == self.student and entry.task == f"{self.number} guess: {question}"
        ]
        yours = (
            f"Your guess was {guesses[-1]}."
            if guesses
            else "You made no guess; there is still time for the next one."
        )
        text = f"{question} {yours} {answer}"
        return Page(f"<p>{html.escape(text)}</p>", text)

    def progress(self) -> Page:
        """Show what is done and what is open in this lesson."""
        kept = record.progress(self.student, self.folder)
        rows = [(key, HEADS.get(kept.get(key, "blank"), "Still open")) for key in self.tasks]
        cells = "".join(
            f'<tr><td style="{CELL}left">{key}</td><td style="{CELL}left">{word}</td></tr>'
            for key, word in rows
        )
        return Page(f"<table>{cells}</table>", "\n".join(f"{key}  {word}" for key, word in rows))


@lru_cache(maxsize=64)
def _car(path: str, changed: int, student: str, number: str) -> Car:
    """Return a student's car; ``changed``, the time of the file's last change, makes an edited file count."""
    tasks = tuple(
        task for task in library()[1].values() if task.lesson == number and task.car == Path(path).stem
    )
    return variant(student, number, load_car(path), tasks)


def _how(task: Task) -> str:
    if task.kind == "choice":
        return (
            "Answer with a line for each: "
            + ", ".join(f"{name} = ... mm" for name in task.move)
            + ". Any choice that meets the target is right."
        )
    if task.kind == "formula":
        return f"Answer with a formula in {', '.join(task.symbols)}, such as (a + b)/c or sqrt(a^2 + b^2)."
    unit = library()[0][task.of].step(task.find).unit
    if task.kind == "working":
        return (
            f"Write your lines one below the other, each name = formula or name = number; the last one is {task.find}"
            + (f" in {unit}." if unit else ".")
        )
    return f"Answer with a number in {unit or 'plain figures, no unit'}; it counts as right {Tolerance(task.tolerance, unit=unit)}."


def _words(task: Task, name: str) -> str:
    calculation = library()[0][task.of]
    for step in calculation.steps:
        if step.name == name:
            return step.words
    if name in calculation.given or name in task.given:
        return {**calculation.given, **task.given}[name][2]
    if name in LENGTHS:
        return LENGTHS[name][1]
    axis, _, code = name.partition("_")
    return f"{POINTS[code][1]}: {AXES[axis]}"
