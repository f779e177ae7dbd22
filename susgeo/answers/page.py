"""What the hand meets on a lesson's page: boxes for answers and guesses, buttons, and words that follow them.

Every box opens with what the record has, and keeps what is typed there at once. Where no kernel runs the same
place shows the question, its drawing, and room to write.
"""

import html
from collections.abc import Callable, Sequence
from typing import Any, cast

import ipywidgets as widgets

from ..files import in_turn
from ..tables import ASLEEP
from . import record
from .question import Page, hints, paragraphs, ruled
from .tasks import LessonTasks
from .verdict import HEADS, Verdict

STYLE = "<style>.susgeo-lines > .widget-label {text-align: left; width: 100%; max-width: 100%}</style>"
WIDE = {"width": "auto", "max_width": "760px"}
BLANK = "Nothing has been answered here yet. Write your answer in the box, then press Check."


class Sheet(widgets.VBox):  # type: ignore[misc]
    """A box of controls that leaves a page behind where no kernel runs."""

    saved: Page

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs) or {}
        return {**bundle, "text/html": ASLEEP + self.saved.page, "text/plain": self.saved.text}


class Live(widgets.HTML):  # type: ignore[misc]
    """Words that are written anew whenever an answer is kept."""

    def __init__(self, lesson: LessonTasks, make: Callable[[], Page]) -> None:
        self.make, self.saved = make, make()
        super().__init__(self.saved.page)
        lesson.watchers.append(self.refresh)

    def refresh(self) -> None:
        """Write the words anew."""
        self.value = self.make().page

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs) or {}
        return {**bundle, **self.saved._repr_mimebundle_()}


class TaskBox(Sheet):
    """One task: question and drawing, a box for each thing that is asked for, verdict, hints, worked solution.

    Args:
        lesson: whose record keeps the answers.
        number: of the task.
        solved: whether the worked solution may be opened.
    """

    def __init__(self, lesson: LessonTasks, number: int | str, solved: bool = True) -> None:
        self.lesson, self.task = lesson, lesson.find(number)
        asked = lesson.question(number)
        lines = {"working": 8, "choice": len(self.task.move)}.get(self.task.kind, 2)
        last = lesson.last(self.task.key)
        state = f" ({HEADS[last.verdict].lower()})" if last and last.verdict in HEADS else ""
        kept = f"Your last answer: {last.answer}{state}" if last else ""
        below = Page(f"<p>{html.escape(kept)}</p>", f"\n{kept}") if kept else Page(ruled(lines), "")
        self.saved = Page(asked.page + below.page, asked.text + below.text)
        self.boxes = self._boxes(last.answer if last else "")
        self._looked = self.answer if last else None
        for box in self.boxes.values():
            box.observe(self._typed, "value")
            box.on_msg(self._entered)
        self.check_button = widgets.Button(description="Check", tooltip=f"Check the answer to task {self.task.key}")
        self.check_button.on_click(lambda _: self.look())
        self.hint_button = widgets.Button(description="Hint", tooltip="Show the next hint")
        self.hint_button.on_click(lambda _: self.hint())
        self.solution_button = widgets.Button(description="Worked solution", tooltip="Show or hide the worked solution")
        self.solution_button.on_click(lambda _: self.solve())
        self.hints, self.given = [] if lesson.sealed else hints(self.task), 0
        buttons = [self.check_button, *([self.hint_button] if self.hints else [])]
        buttons += [self.solution_button] if solved or lesson.test and not lesson.sealed else []
        self.verdict, self.help, self.solution = widgets.HTML(), widgets.HTML(), widgets.HTML()
        if last and last.verdict in HEADS:
            again = "Press Check to read again what the course sees in it."
            self._show(Verdict(cast(Any, last.verdict), self.task.key, (again,)))
        row = widgets.HBox(buttons, layout={"flex_flow": "row wrap"})
        super().__init__(
            [widgets.HTML(STYLE + asked.page), *self.boxes.values(), row, self.verdict, self.help, self.solution]
        )
        self.add_class("susgeo-task")

    def _boxes(self, last: str) -> dict[str, Any]:
        task, common = self.task, {"continuous_update": False, "layout": WIDE}
        style = {"description_width": "initial"}
        if task.kind == "choice":
            pairs = (line.partition("=") for line in last.splitlines())
            before = {name.strip(): value.strip() for name, _, value in pairs}
            return {
                name: widgets.Text(before.get(name, ""), description=f"{name} [mm]", style=style, **common)
                for name in task.move
            }
        if task.kind == "working":
            words = "Your lines, one below the other"
            layout = {**WIDE, "height": "auto", "flex_flow": "row wrap"}
            box = widgets.Textarea(
                last, description=words, rows=8, continuous_update=False, layout=layout,
                style={"description_width": "100%"},
            )  # fmt: skip
            box.add_class("susgeo-lines")
            return {task.find: box}
        unit = self.lesson.unit(task)
        name = f"{task.find} = " if task.kind == "formula" or not unit else f"{task.find} [{unit}]"
        return {task.find: widgets.Text(last, description=name, style=style, **common)}

    @property
    def answer(self) -> str:
        """What stands in the boxes, as it is kept."""
        if self.task.kind != "choice":
            return str(next(iter(self.boxes.values())).value)
        return "\n".join(f"{name} = {box.value.strip()}" for name, box in self.boxes.items())

    @in_turn
    def _typed(self, _: Any) -> None:
        """Check what was entered; of several boxes not before all are filled, and lines not before they are done."""
        if self.task.kind == "working":
            if not self.lesson.keep(self.task.key, self.answer, "draft"):
                self.verdict.value = f'<p role="status">{record.LOST}</p>'
        elif len(self.boxes) == 1 or all(box.value.strip() for box in self.boxes.values()):
            self._look_if_new()

    @in_turn
    def _entered(self, _: Any, content: Any, __: Any) -> None:
        if content.get("event") == "submit":  # sent before the new value: a changed one is checked by itself
            self._look_if_new()

    def _look_if_new(self) -> None:
        if self.answer != self._looked:
            self.look()

    @in_turn
    def look(self) -> None:
        """Check what stands in the boxes, keep it, and say what is true of it."""
        filled = {name: box.value for name, box in self.boxes.items()}
        answer: Any = filled if self.task.kind == "choice" else self.answer
        if self.task.kind == "choice" and not any(value.strip() for value in filled.values()):
            answer = ""
        verdict = self.lesson.check(self.task.key, answer, keep=False)
        if verdict.kind == "blank":
            verdict = Verdict("blank", self.task.key, (BLANK,))
        elif self.answer != self._looked:
            verdict = self.lesson.kept(verdict, self.answer)
        self._looked = self.answer
        self._show(verdict)

    def _show(self, verdict: Verdict) -> None:
        self.verdict.value = f'<div role="status">{verdict._repr_mimebundle_()["text/html"]}</div>'

    @in_turn
    def hint(self) -> None:
        """Show one hint more."""
        self.given = min(self.given + 1, len(self.hints))
        heads = (f"Hint {number} of {len(self.hints)}." for number in range(1, self.given + 1))
        shown = paragraphs(*(f"{head} {words}" for head, words in zip(heads, self.hints, strict=False))).page
        self.help.value = f'<div role="status">{shown}</div>'
        self.hint_button.disabled = self.given == len(self.hints)

    @in_turn
    def solve(self) -> None:
        """Open the worked solution, or close it."""
        if self.solution.value:
            self.solution.value = ""
        else:
            worked = self.lesson.solution(self.task.key, folded=False)
            self.solution.value = worked._repr_mimebundle_()["text/html"]


class GuessBox(Sheet):
    """A guess: a box, or a button for each choice; kept, never marked."""

    def __init__(self, lesson: LessonTasks, question: str, choices: Sequence[str] = (), unit: str = "") -> None:
        self.lesson, self.question = lesson, question
        words = f"Your guess{f' [{unit}]' if unit else ''}"
        head = paragraphs(f"Before you go on: {question}")
        room = paragraphs(f"{words}: {' / '.join(choices)}") if choices else Page(ruled(1), f"{words}:")
        self.saved = Page(head.page + room.page, f"{head.text}\n{room.text}")
        self.said = widgets.HTML()
        controls: list[Any] = []
        for choice in choices:
            button = widgets.Button(description=choice, tooltip=f"Guess: {choice}", layout={"width": "auto"})
            button.on_click(lambda _, choice=choice: self.keep(choice))
            controls.append(button)
        if not choices:
            self.box = widgets.Text(
                self.made, description=words, continuous_update=False, style={"description_width": "initial"}
            )
            self.box.observe(lambda change: self.keep(change["new"]), "value")
            button = widgets.Button(description="Keep my guess")
            button.on_click(lambda _: self.keep(self.box.value))
            controls = [self.box, button]
        row = widgets.HBox(controls, layout={"flex_flow": "row wrap"})
        super().__init__([widgets.HTML(head.page), row, self.said])
        self._say()

    @property
    def made(self) -> str:
        """The guess that is kept, or ""."""
        last = self.lesson.last(self.lesson.guess_key(self.question))
        return last.answer if last else ""

    @in_turn
    def keep(self, guess: str) -> None:
        """Keep a guess."""
        mine = guess.strip()
        if mine in ("", self.made) or self.lesson.keep(self.lesson.guess_key(self.question), mine, "guess"):
            self._say()
        else:
            self.said.value = f'<p role="status">{record.LOST}</p>'

    def _say(self) -> None:
        words = f"Your guess is kept: {self.made}" if self.made else ""
        self.said.value = f'<p role="status">{html.escape(words)}</p>' if words else ""
