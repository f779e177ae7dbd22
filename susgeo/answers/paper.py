"""Numbers and formulas as one writes them on paper.

A formula of the lesson files counts angles in radians. On paper it is for a pocket calculator set to degrees:
:func:`for_calculator` turns one into the other, so that the arithmetic shown gives the number shown.
"""

import ast
import math
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from ..tables import DIGITS

FINER = {"mm": 0, "deg": 1, "%": 0, "N": 0, "kg": 1, "deg/mm": 1}
"""Decimals beside those of a table, since one goes on from here by hand; five significant digits in any other unit."""
MOST_EXTRA = 7
TURNS, ARCS = ("sin", "cos", "tan"), ("asin", "acos", "atan", "atan2")


def on_paper(value: Any, unit: str) -> Any:
    """Return a value as it stands on paper: angles in degrees."""
    return value * (180 / math.pi) if unit.startswith("deg") else value


def in_radians(value: float, unit: str) -> float:
    """Turn degrees on paper into radians inside; other units stay."""
    return math.radians(value) if unit.startswith("deg") else value


def written(value: float, unit: str = "", extra: int = 0) -> str:
    """Write a value with honest digits and its unit; angles come in radians and are written in degrees.

    >>> written(307.3077, "mm"), written(0.0608974), written(0.0174533, "deg"), written(307.3077, "mm", 2)
    ('307.3 mm', '0.060897', '1.000 deg', '307.308 mm')
    """
    if math.isnan(value):
        return "no value"
    number = on_paper(value, unit) + 0.0  # no minus before a zero
    if unit in ("mm", "kg") and abs(number - round(number)) < 1e-9:
        return f"{number:.0f} {unit}"
    small = unit in ("mm", "%") and 0.05 <= abs(number) < 10  # of a few mm or percent a tenth says too little
    decimals = DIGITS.get(unit, 0) + (FINER.get(unit, 0) or small) + extra
    text = f"{number:.{decimals}f}" if unit in FINER else significant(number, 5 + extra)
    return f"{text} {unit}".strip()


def significant(number: float, digits: int = 5) -> str:
    """Write a number with so many digits that count, and no power of ten as long as people write none.

    >>> significant(0.0608974), significant(29695123.4), significant(14531, 4), significant(1e30)
    ('0.060897', '29695000', '14530', '1e+30')
    """
    text = f"{number + 0.0:.{digits}g}"
    return f"{float(text):.0f}" if 10**digits <= abs(number) + 0.5 < 1e10 else text


def last_digit(text: str) -> float:
    """Return what one in the last digit of a written number is worth; zeros before the point of a large one do not count.
    Three digits of it do: who writes 19000000 rounded to three, and not to two.

    >>> last_digit("1782.6 mm"), last_digit("29695000"), last_digit("19000000")
    (0.1, 1000.0, 100000.0)
    """
    number = text.split()[0].lstrip("+-").lower()
    digits, _, power = number.partition("e")
    whole, _, decimals = digits.partition(".")
    zeros = min(len(whole) - len(whole.rstrip("0")), len(whole) - 3) if not decimals and len(whole) > 5 else 0
    return 10.0 ** (zeros - len(decimals) + int(power or 0))


@lru_cache(maxsize=2048)
def tree(formula: str) -> ast.expr:
    """Return a formula of the lesson files as a tree; it is taken apart, never run and never changed."""
    return ast.parse(formula.replace("^", "**"), mode="eval").body


def text(node: ast.expr) -> str:
    """Write a tree as a formula, with no more brackets than it needs."""
    return ast.unparse(node).replace(" ** ", "^").replace(" * ", "*").replace(" / ", "/")


def put(node: ast.expr, parts: Mapping[str, ast.expr | str]) -> ast.expr:
    """Return a tree with names replaced by other trees, or by figures as written; the given ones stay as they are.

    >>> text(put(tree("a/b"), {"a": tree("c + d"), "b": "-2.5"}))
    '(c + d)/(-2.5)'
    """
    if isinstance(node, ast.Name):
        part = parts.get(node.id, node)
        return ast.Name(f"({part})" if part.startswith("-") else part) if isinstance(part, str) else part
    if isinstance(node, ast.BinOp):
        return ast.BinOp(put(node.left, parts), node.op, put(node.right, parts))
    if isinstance(node, ast.UnaryOp):
        return ast.UnaryOp(node.op, put(node.operand, parts))
    if isinstance(node, ast.Call):
        return ast.Call(node.func, [put(part, parts) for part in node.args], [])
    return node


def put_together(formulas: Mapping[str, str], find: str, keep: Iterable[str]) -> str:
    """Return the formula of a line with earlier lines put in, but for those to be kept.

    >>> put_together({"g": "a/(a - b)", "x": "c + g*(d - c)"}, "x", ["a", "b", "c", "d"])
    'c + a/(a - b)*(d - c)'
    """
    kept, built = set(keep), dict[str, ast.expr]()
    for name, formula in formulas.items():
        made = put(tree(formula), built)
        if name == find:
            break
        if name not in kept:
            built[name] = made
    return text(made)


def for_calculator(node: ast.expr, units: Mapping[str, str], unit: str = "") -> ast.expr:
    """Return a formula, its angles in radians, as a pocket calculator set to degrees takes it.

    Args:
        units: of the names in it; those in degrees are degrees on paper.
        unit: of the result.

    >>> text(for_calculator(tree("lift/x"), {}, "deg")), text(for_calculator(tree("sin(a)*a/2"), {"a": "deg"}))
    ('lift/x*180/pi', 'sin(a°)*a/2*pi/180')
    """

    def is_angle(e: ast.expr) -> bool:
        if isinstance(e, ast.Name):
            return units.get(e.id, "").startswith("deg")
        if isinstance(e, ast.Call):
            name = e.func.id  # type: ignore[attr-defined]
            return name in ARCS or (name == "abs" and is_angle(e.args[0]))
        if isinstance(e, ast.UnaryOp):
            return is_angle(e.operand)
        if not isinstance(e, ast.BinOp) or isinstance(e.op, ast.Pow):
            return False
        left, right = is_angle(e.left), is_angle(e.right)
        return left or right if isinstance(e.op, ast.Add | ast.Sub) else left and not right if isinstance(
            e.op, ast.Div) else left != right  # fmt: skip

    names = {e.id for e in ast.walk(node) if isinstance(e, ast.Name)} - {"pi"} | {"180"}
    marked = {name: f"{name}\N{DEGREE SIGN}" for name in names}  # behind each in the argument of sin, cos or tan

    def turned(e: ast.expr, degrees: bool) -> ast.expr:
        angle = is_angle(e)
        if angle != degrees:
            top, bottom = map(ast.Name, ("180", "pi") if degrees else ("pi", "180"))
            return ast.BinOp(ast.BinOp(turned(e, angle), ast.Mult(), top), ast.Div(), bottom)
        if isinstance(e, ast.Call):
            name = e.func.id  # type: ignore[attr-defined]
            parts = [turned(part, name in TURNS or (name == "abs" and degrees)) for part in e.args]
            return ast.Call(e.func, [put(part, marked) if name in TURNS else part for part in parts], [])
        if isinstance(e, ast.UnaryOp):
            return ast.UnaryOp(e.op, turned(e.operand, degrees))
        if isinstance(e, ast.BinOp):
            both = isinstance(e.op, ast.Add | ast.Sub) and degrees
            left, right = (turned(part, both or (degrees and is_angle(part))) for part in (e.left, e.right))
            return ast.BinOp(left, e.op, right)
        return ast.Name("180") if degrees and isinstance(e, ast.Name) and e.id == "pi" else e

    return turned(node, unit.startswith("deg"))
