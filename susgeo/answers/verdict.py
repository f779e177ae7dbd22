"""What a check says, and the cars on which formulas are compared."""

import html
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any, Literal

from ..car.car import Car
from ..draw.picture import Picture
from ..errors import SusgeoError
from .calculation import Calculation, Mistake, Task, symbol
from .figures import Figure, figures, values_of
from .variant import draws, shaken
from .worked import Drawn

Kind = Literal["right", "wrong", "unreadable", "blank", "undecided", "kept"]

HEADS = {
    "right": "Right", "wrong": "Not yet", "unreadable": "Cannot be read", "blank": "Still open",
    "undecided": "Cannot be decided", "kept": "Kept",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Verdict(Drawn):
    """What a check found: its kind, sentences for the student, and a drawing of what was computed.

    Args:
        kind: "right", "wrong", "unreadable", "blank", "undecided"; in a test "kept", which tells nothing.
        task: the task's key.
        sentences: the verdict in words, most important first.
        mistakes: the known mistakes that explain a wrong answer, on the student's own figures.
        drawing: makes :attr:`picture` when it is looked at.
        credit: part of the task's worth, 0 to 1; a working that follows from one slip keeps a part.
    """

    kind: Kind
    task: str
    sentences: tuple[str, ...]
    mistakes: tuple[Mistake, ...] = ()
    drawing: Callable[[], Picture | None] | None = None
    credit: float = 0.0

    def __bool__(self) -> bool:
        """Whether the answer is right."""
        return self.kind == "right"

    def __str__(self) -> str:
        return f"{self.task} {HEADS[self.kind]}. " + " ".join(self.sentences)

    def page(self) -> str:
        """Return it as HTML, its drawing as lines."""
        bar = {"right": "#1c5fa6", "wrong": "#b14a00"}.get(self.kind, "#56636e")
        first, *rest = self.sentences or ("",)
        more = "".join(f"<p style='margin: 0.3em 0'>{html.escape(sentence)}</p>" for sentence in rest)
        return (
            f'<div style="border-left: 4px solid {bar}; padding: 0.2em 0.8em"><p style="margin: 0.3em 0">'
            f"<strong>{self.task} {HEADS[self.kind]}.</strong> {html.escape(first)}</p>{more}{self.image}</div>"
        )

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        return {"text/html": self.page(), "text/plain": str(self)}


def samples(task: Task, calculation: Calculation, car: Car) -> Iterator[dict[str, Fraction]]:
    """Yield admissible values of a formula's symbols: this car first, then others like it, without end.

    After the first few, what lies ahead or behind, to one side or the other, or rises or falls, is now and then
    turned round: an instant center may lie on either side.
    """
    trial = 0
    while True:
        trial += 1
        try:
            found = calculation.known(_measured(car, task.key, trial - 1), task.given)
        except SusgeoError:  # a short link, such as an upright one, may have no length when it is moved
            continue
        known = values_of(found)
        if trial > 1:  # what happens to be zero on this car, such as a joint at the axle, is not always
            offsets = draws("a joint that is not at zero", task.key, trial)
            known = {name: value or float(next(offsets) % 61 - 30) for name, value in known.items()}
        values = calculation.values(known)
        chosen = {name: values[name] for name in task.symbols if name in values}  # a slip may use one that is not there
        if trial > 6:
            turns = draws("which way", task.key, trial)
            turned = {name for name in chosen if either_way(calculation, name) and next(turns) % 2}
            chosen = {name: -value if name in turned else value for name, value in chosen.items()}
        if all(map(math.isfinite, chosen.values())):
            # Decimals such as people write; the exact value of a float would be a fraction of 50 digits.
            yield {name: Fraction(f"{value:.6g}") for name, value in chosen.items()}


@lru_cache(maxsize=256)
def _measured(car: Car, key: str, trial: int) -> Mapping[str, Figure]:
    """Return the figures of a car, or of one like it; kept, since a formula meets them once for each known mistake."""
    return figures(shaken(car, draws("a car to compare on", key, trial)) if trial else car)


def either_way(calculation: Calculation, name: str) -> bool:
    """Tell whether a length or slope may have either sign on a car that this one could become."""
    if symbol(name).is_positive or name in calculation.given:
        return False
    line = calculation.by_name.get(name)
    return name[:2] in ("x_", "y_") if line is None else line.unit in ("mm", "")
