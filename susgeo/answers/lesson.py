"""What a lesson's notebook calls: show a task, check an answer, open a solution, keep a guess, see progress."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .contents import contents
from .question import Page, paragraphs
from .tasks import CLUB, LessonTasks

if TYPE_CHECKING:  # boxes are loaded when the first is shown: checking and marking need none
    from .page import GuessBox, Live, TaskBox

__all__ = ["CLUB", "Lesson", "Page"]


@dataclass(frozen=True)
class Lesson(LessonTasks):
    """One lesson for one student.

    Args:
        number: "00" to "13".
        student: a name or number; it gives figures of one's own. Blank gives those of whoever reads in this folder,
            the same for good (:func:`susgeo.answers.record.reader`); "club" takes the club's cars as they are.
        version: the library's version that the notebook was made for.
        folder: where the record of answers is kept.
        solutions: whether a task's box offers the worked solution.
        test: the seal of a test (:func:`susgeo.answers.record.opened`): no verdicts, hints or solutions till it is broken.
    """

    def task(self, number: int | str) -> "TaskBox":
        """Show a task: question, drawing, a box for the answer, and what the course says of it."""
        from .page import TaskBox

        return TaskBox(self, number, self.solutions)

    def guess(self, question: str, *, choices: Sequence[str] = (), unit: str = "") -> "GuessBox":
        """Ask for a guess: in a box, or with a button for each choice. It is never marked."""
        from .page import GuessBox

        return GuessBox(self, question, choices, unit)

    def guessed(self, question: str, answer: str) -> "Live":
        """Show the guess again beside what turned out; it follows a guess that is made later."""
        from .page import Live

        def words() -> Page:
            last = self.last(self.guess_key(question))
            yours = f"Your guess was {last.answer}." if last else "You have made no guess yet."
            return paragraphs(f"{question} {yours} {answer}")

        return Live(self, words)

    def progress(self) -> "Live":
        """Show what is done and what is open in this lesson; it follows each answer."""
        from .page import Live

        return Live(self, lambda: contents(self.student, self.folder, self.number))

    def contents(self) -> "Live":
        """Show all lessons with a link to each and how many of their tasks are done."""
        from .page import Live

        return Live(self, lambda: contents(self.student, self.folder))
