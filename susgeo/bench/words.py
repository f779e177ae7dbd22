"""The words of a bench: numbers with honest digits, tables of them, and what a number means on the road."""

import html
import math
from collections.abc import Callable, Mapping, Sequence

from .. import tables


def shown(value: float | None, unit: str) -> str:
    """Write a number with honest digits.

    >>> shown(307.308, "mm"), shown(float("inf"), "mm"), shown(None, "mm")
    ('307.3', 'at infinity', 'none')
    """
    if value is None:
        return "none"
    if math.isinf(value) or (unit in ("mm", "in") and abs(value) > 1e9):
        return "at infinity" if value > 0 else "at infinity, behind"
    return tables.shown(value, unit)


def _meeting(x: float) -> str:
    if abs(x) > 1e9:
        return "The lines are parallel: the pinion keeps its angle as the axle rises."
    way = "ahead" if x > 0 else "behind"
    nod = "one degree of pinion" if x > 0 else "one degree of pinion, the other way,"
    return f"The lines meet {abs(x) / 1000:.1f} m {way}: {nod} for every {abs(math.radians(x)):.0f} mm."


def _steer(value: float) -> str:
    if abs(value) < 5e-4:
        return "The axle does not steer as the body rolls."
    way = "out of the turn" if value > 0 else "into the turn"
    return f"For each degree of body roll the rear axle steers {abs(value):.2f} degrees {way}."


def _carried(verb: str) -> Callable[[float], str]:
    def say(value: float) -> str:
        if value < 0:
            return f"The links pull the body down by {-value:.0f} % of the load transfer as the car {verb}."
        other = f"carry the other {100 - value:.0f} %" if value < 100 else "give nothing, and more"
        return f"The links carry {value:.0f} % of the load transfer as the car {verb}; the springs {other}."

    return say


MEANING: Mapping[str, Callable[[float], str]] = {
    "side-view instant center x": _meeting,
    "lower link convergence x": lambda x: (
        "The lower links are parallel, seen from above." if abs(x) > 1e9
        else f"Seen from above, the lower links point at a spot {abs(x) / 1000:.1f} m {'ahead' if x > 0 else 'behind'}."
    ),
    "roll center height": lambda z: (
        f"A push on the body at {abs(z):.0f} mm {'over' if z >= 0 else 'below'} the ground makes it roll on no spring."
    ),
    "roll steer": _steer,
    "roll axis slope": lambda slope: (
        f"The axis {'rises' if slope > 0 else 'falls'} toward the front by "
        f"{abs(math.tan(math.radians(slope))) * 1000:.0f} mm in each meter."
    ),
    "anti-squat": _carried("drives off"),
    "anti-lift": _carried("brakes"),
    "anti-dive": _carried("brakes"),
    "roll gradient": lambda value: f"In a bend of half a g the body leans {abs(value) / 2:.1f} degrees.",
    "inner tire lift": lambda value: f"On paper the inner tire carries nothing more at {value:.2f} g.",
}  # fmt: skip
"""For quantities by name: one sentence that says what the number means on the road or the floor."""


def meaning(values: Mapping[str, float | None]) -> str:
    """Return the sentence of the first quantity that has one, out of names and values.

    >>> meaning({"side-view instant center x": 1782.6})
    'The lines meet 1.8 m ahead: one degree of pinion for every 31 mm.'
    """
    for name, value in values.items():
        say = MEANING.get(name.removeprefix("front ").removeprefix("rear "))
        if say is not None and value is not None and not math.isnan(value):
            return say(value)
    return ""


def html_table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return rows of text as HTML, the first column flush left."""
    tight = "padding: 0.1em 0.8em; line-height: 1.3"
    right = f'style="text-align: right; {tight}; font-variant-numeric: tabular-nums"'
    left = f'style="text-align: left; {tight}"'

    def row(tag: str, scope: str, words: Sequence[str]) -> str:
        first, *others = map(html.escape, words)
        cells = "".join(f"<{tag} {right}>{word}</{tag.split()[0]}>" for word in others)
        return f'<tr><th scope="{scope}" {left}>{first}</th>{cells}</tr>'

    body = "".join(row("td", "row", words) for words in rows)
    head = row('th scope="col"', "col", heads)
    return f"<table><thead>{head}</thead><tbody>{body}</tbody></table>"
