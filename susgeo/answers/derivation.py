"""Derivations typeset: each result with its name on the left, and a formula tried on a car's own figures."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import sympy

from ..errors import SusgeoError
from ..tables import Table, shown


@dataclass(frozen=True, eq=False)
class Derivation:
    """Lines ``name = value``, typeset in a notebook, plain text elsewhere."""

    lines: tuple[tuple[str, Any], ...]

    def __str__(self) -> str:
        return "\n".join(f"{name} = {_written(value, str, '(', ')')}" for name, value in self.lines)

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        typeset = ((name, _written(value, sympy.latex, r"\left(", r"\right)")) for name, value in self.lines)
        body = r" \\[0.5em] ".join(rf"{sympy.latex(sympy.Symbol(name))} &= {value}" for name, value in typeset)
        return {"text/latex": rf"$$\begin{{aligned}} {body} \end{{aligned}}$$", "text/plain": str(self)}


def show(**named: Any) -> Derivation:
    """Show results of a derivation with their names; a point or a line shows its parts, in proportion.

    >>> from sympy import symbols
    >>> c, s = symbols("c s")
    >>> print(show(x_0=-c / s))
    x_0 = -c/s
    """
    return Derivation(tuple(named.items()))


def both_ways(figures: Mapping[str, float], unit: str = "mm", **pairs: tuple[Any, float]) -> Table:
    """Put a car's figures into formulas, and hold each result against the library's own number.

    Args:
        figures: the value of each letter in the formulas.
        unit: of the results.
        pairs: name to (formula, the library's number).

    Raises:
        SusgeoError: the two differ by more than a billionth.

    >>> from sympy import Symbol
    >>> print(both_ways({"a": 3.0}, x=(Symbol("a") ** 2, 9.0)))
    mm  by the formula  by the library
    x              9.0             9.0
    """
    rows = []
    for name, (formula, number) in pairs.items():
        letters = {one: figures[one.name] for one in formula.free_symbols}
        value, library = float(formula.subs(letters)), float(number)
        if abs(value - library) > 1e-9 * max(1.0, abs(library)):
            raise SusgeoError(f"{name} is {value} by the formula, and {library} by the library: look for the slip.")
        rows.append((name, shown(value, unit), shown(library, unit)))
    return Table((unit, "by the formula", "by the library"), tuple(rows))


def _written(value: Any, write: Callable[[Any], str], before: str, behind: str) -> str:
    """Write a single expression; or the parts of a point, a line or a tuple, which count in proportion."""
    if isinstance(value, sympy.Basic | int | float) or not hasattr(value, "__iter__"):
        return write(value)
    return f"{before}{' : '.join(write(sympy.expand(part)) for part in value)}{behind}"
