"""What the hand meets on a lesson's page: boxes for answers and guesses, buttons, and words that follow them.

Every box opens with what the record has, and keeps what is typed there at once. Where no kernel runs the same
place shows the question, its drawing, and room to write.
"""

import html
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, cast

import ipywidgets as widgets

from ..files import in_turn
from ..tables import ASLEEP
from . import record
from .question import Page, hints, paragraphs, ruled
from .tasks import LessonTasks
from .verdict import HEADS, Verdict

STYLE = "<style>.susgeo-lines > .widget-label {text-align: left; width: 100%; max-width: 100%}</style>"
WIDE, ROW = {"width": "auto", "max_width": "760px"}, {"flex_flow": "row wrap"}
BLANK = "Nothing has been answered here yet. Write your answer in the box, then press Check."


class Saved:
    """What leaves a page behind where no kernel runs."""

    saved: Page
    head = ""

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs) or {}  # type: ignore[misc]
        return {**bundle, "text/html": self.head + self.saved.page, "text/plain": self.saved.text}


class Sheet(Saved, widgets.VBox):  # type: ignore[misc]
    """A box of controls."""

    head = ASLEEP


class Live(Saved, widgets.HTML):  # type: ignore[misc]
    """Words that are written anew whenever an answer is kept."""

    def __init__(self, lesson: LessonTasks, make: Callable[[], Page]) -> None:
        self.make, self.saved = make, make()
        super().__init__(self.saved.page)
        lesson.watchers.append(self.refresh)

    def refresh(self) -> None:
        """Write the words anew."""
        self.value = self.make().page


def _button(words: str, tip: str | None, act: Callable[[], object], **look: Any) -> Any:
    button = widgets.Button(description=words, tooltip=tip, **look)
    button.on_click(lambda _: act())
    return button


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
        below = (f"<p>{html.escape(kept)}</p>", f"\n{kept}") if kept else (ruled(lines), "")
        self.saved = Page(asked.page + below[0], asked.text + below[1])
        self.boxes = self._boxes(last.answer if last else "")
        self._looked = self.answer if last else None
        for box in self.boxes.values():
            box.observe(self._typed, "value")
            box.on_msg(self._entered)
        self.check_button = _button("Check", f"Check the answer to task {self.task.key}", self.look)
        self.hint_button = _button("Hint", "Show the next hint", self.hint)
        self.solution_button = _button("Worked solution", "Show or hide the worked solution", self.solve)
        self.hints, self.given = [] if lesson.sealed else hints(self.task), 0
        buttons = [self.check_button, *([self.hint_button] if self.hints else [])]
        buttons += [self.solution_button] if solved or lesson.test and not lesson.sealed else []
        self.verdict, self.help, self.solution = widgets.HTML(), widgets.HTML(), widgets.HTML()
        if last and last.verdict in HEADS:
            again = "Press Check to read again what the course sees in it."
            self._show(Verdict(cast(Any, last.verdict), self.task.key, (again,)))
        row, said = widgets.HBox(buttons, layout=ROW), [self.verdict, self.help, self.solution]
        super().__init__([widgets.HTML(STYLE + asked.page), *self.boxes.values(), row, *said])
        self.add_class("susgeo-task")

    def _boxes(self, last: str) -> dict[str, Any]:
        task = self.task
        look: dict[str, Any] = {"continuous_update": False, "layout": WIDE, "style": {"description_width": "initial"}}
        if task.kind == "choice":
            pairs = (line.partition("=") for line in last.splitlines())
            before = {name.strip(): value.strip() for name, _, value in pairs}
            return {one: widgets.Text(before.get(one, ""), description=f"{one} [mm]", **look) for one in task.move}
        if task.kind == "working":
            layout = {**WIDE, "height": "auto", "flex_flow": "row wrap"}
            look |= {"layout": layout, "style": {"description_width": "100%"}, "rows": 8}
            box = widgets.Textarea(last, description="Your lines, one below the other", **look)
            box.add_class("susgeo-lines")
            return {task.find: box}
        unit = self.lesson.unit(task)
        name = f"{task.find} = " if task.kind == "formula" or not unit else f"{task.find} [{unit}]"
        return {task.find: widgets.Text(last, description=name, **look)}

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
        choice = self.task.kind == "choice"
        answer: Any = {name: box.value for name, box in self.boxes.items()} if choice else self.answer
        verdict = self.lesson.check(self.task.key, answer, keep=False)
        if verdict.kind == "blank":
            verdict = Verdict("blank", self.task.key, (BLANK,))
        elif self.answer != self._looked:
            verdict = self.lesson.kept(verdict, self.answer)
        self._looked = self.answer
        self._show(verdict)

    def _show(self, verdict: Verdict) -> None:
        self.verdict.value = f'<div role="status">{verdict.page()}</div>'

    @in_turn
    def hint(self) -> None:
        """Show one hint more."""
        self.given = min(self.given + 1, len(self.hints))
        shown = (
            f"Hint {place} of {len(self.hints)}. {words}" for place, words in enumerate(self.hints[: self.given], 1)
        )
        self.help.value = f'<div role="status">{paragraphs(*shown).page}</div>'
        self.hint_button.disabled = self.given == len(self.hints)

    @in_turn
    def solve(self) -> None:
        """Open the worked solution, or close it."""
        opened = bool(self.solution.value)
        self.solution.value = "" if opened else self.lesson.solution(self.task.key, folded=False).page()


class GuessBox(Sheet):
    """A guess: a box, or a button for each choice; kept, never marked."""

    def __init__(self, lesson: LessonTasks, question: str, choices: Sequence[str] = (), unit: str = "") -> None:
        self.lesson, self.question = lesson, question
        words = f"Your guess{f' [{unit}]' if unit else ''}"
        head = paragraphs(f"Before you go on: {question}")
        room = paragraphs(f"{words}: {' / '.join(choices)}") if choices else Page(ruled(1), f"{words}:")
        self.saved = Page(head.page + room.page, f"{head.text}\n{room.text}")
        self.said = widgets.HTML()
        wide = {"width": "auto"}
        controls = [_button(one, f"Guess: {one}", partial(self.keep, one), layout=wide) for one in choices]
        if not choices:
            style = {"description_width": "initial"}
            self.box = widgets.Text(self.made, description=words, continuous_update=False, style=style)
            self.box.observe(lambda change: self.keep(change["new"]), "value")
            controls = [self.box, _button("Keep my guess", None, lambda: self.keep(self.box.value))]
        super().__init__([widgets.HTML(head.page), widgets.HBox(controls, layout=ROW), self.said])
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
        kept = mine in ("", self.made) or self.lesson.keep(self.lesson.guess_key(self.question), mine, "guess")
        self._say("" if kept else record.LOST)

    def _say(self, lost: str = "") -> None:
        words = lost or (f"Your guess is kept: {self.made}" if self.made else "")
        self.said.value = f'<p role="status">{html.escape(words)}</p>' if words else ""
