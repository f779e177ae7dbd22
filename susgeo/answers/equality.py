"""Tells whether two formulas are the same: proved, refuted by a car on which they differ, or undecided.

First both are put to numbers on admissible cars, exactly or to 60 digits: one difference refutes, and is shown
to the student. Agreement on cars alone never counts as proof. The proof is algebra: the difference brought to
one fraction, with each root and each sine a generator of its own that obeys its own equation, must have a
numerator that is zero. It is bounded in size, so that every question is answered; what it cannot settle is
undecided, and said to be.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice

import sympy as sp

Samples = Callable[[], Iterator[Mapping[str, Fraction]]]

CARS = 12
"""Cars on which formulas are compared before a proof is tried."""
DIGITS = 60
SAME_TO = sp.Float(10, DIGITS) ** -40
LARGEST = 1500
"""Operations beyond which no proof is tried."""


@dataclass(frozen=True, slots=True)
class Same:
    """Proved equal wherever both have a value."""


@dataclass(frozen=True, slots=True)
class Different:
    """Refuted: the values of the symbols on a car, and what each formula gives there (nan: no value)."""

    witness: Mapping[str, Fraction]
    student: float
    truth: float


@dataclass(frozen=True, slots=True)
class Undecided:
    """Neither proved nor refuted, and why."""

    reason: str


def compare(student: sp.Expr, truth: sp.Expr, samples: Samples) -> Same | Different | Undecided:
    """Compare a student's formula with the true one.

    Args:
        samples: a function that starts an iterator of admissible values of the symbols, by name.

    >>> x, y = sp.symbols("x y", positive=True)
    >>> def cars():
    ...     while True:
    ...         yield {"x": Fraction(3), "y": Fraction(5)}
    >>> compare((x + y) ** 2, x**2 + 2 * x * y + y**2, cars)
    Same()
    >>> compare(x + y, x - y, cars).student
    8.0
    """
    if student == truth:
        return Same()
    compared = 0
    for values in islice(samples(), CARS):
        one, other = _value(student, values), _value(truth, values)
        if other is None:
            continue
        compared += 1
        if one is None or abs(one - other) > SAME_TO * (abs(one) + abs(other)):
            return Different(values, float("nan") if one is None else float(one), float(other))
    if not compared:
        return Undecided("the formulas have no value on any car that was tried.")
    if _is_zero(student - truth):
        return Same()
    return Undecided(f"it agrees with the right one on {compared} cars, and no proof was found that it always does.")


def _value(expression: sp.Expr, values: Mapping[str, Fraction]) -> sp.Expr | None:
    """Return an expression's value: exact if it is rational, else to 60 digits; None where it has none."""
    put = {item: sp.Rational(values[item.name].numerator, values[item.name].denominator) for item in expression.free_symbols}
    try:
        value = expression.xreplace(put)
        value = value if value.is_Rational else sp.N(value, DIGITS)
    except (ZeroDivisionError, ValueError, TypeError):
        return None
    return value if value.is_real and value.is_finite else None


def _is_zero(difference: sp.Expr) -> bool:
    """Prove that an expression is zero, or return False when this algebra cannot."""
    if difference.count_ops() > LARGEST:
        return False
    relations: dict[sp.Symbol, sp.Expr] = {}
    fraction = _with_generators(_plain(difference), relations)
    if fraction is None:
        return False
    numerator = sp.expand(sp.fraction(sp.together(fraction))[0])
    # Newest generators first: their squares may hold older ones, never newer.
    for generator in reversed(list(relations)):
        if numerator.has(generator):
            square = generator**2 - relations[generator]
            numerator = sp.expand(sp.fraction(sp.together(sp.rem(numerator, square, generator)))[0])
    return numerator == 0


def _plain(expression: sp.Expr) -> sp.Expr:
    """Return an expression with tangents as sines over cosines, sums and multiples of angles taken apart."""
    return sp.expand_trig(expression.rewrite(sp.atan2, sp.atan2)).replace(sp.tan, lambda a: sp.sin(a) / sp.cos(a))


def _with_generators(node: sp.Expr, relations: dict[sp.Symbol, sp.Expr]) -> sp.Expr | None:
    """Return a rational expression in symbols and generators; None where a part has no such form.

    A generator stands for a square root, with its square known, or for a sine, with sin^2 = 1 - cos^2. Other
    functions become symbols of their own, which keeps the proof valid: it can only miss an equality.
    """
    if node.is_Symbol or node.is_Rational:
        return node
    if isinstance(node, (sp.Add, sp.Mul)):
        parts = [_with_generators(part, relations) for part in node.args]
        return None if any(part is None for part in parts) else node.func(*parts)
    if isinstance(node, sp.Pow) and node.exp.is_Rational:
        base = _with_generators(node.base, relations)
        if base is None or node.exp.q > 2:
            return None
        return base**node.exp if node.exp.is_Integer else _root(base, relations) ** node.exp.p
    parts = [_with_generators(part, relations) for part in node.args]
    if any(part is None for part in parts):
        return None
    inside = [sp.factor(part) for part in parts if part is not None]
    if isinstance(node, sp.sin):
        cosine = _named("cos", inside)
        sine = _named("sin", inside)
        relations.setdefault(sine, 1 - cosine**2)
        return sine
    return node if not node.args else _named(type(node).__name__, inside)


def _root(base: sp.Expr, relations: dict[sp.Symbol, sp.Expr]) -> sp.Expr:
    """Return the square root of a rational expression as a generator times what comes out of it."""
    top, bottom = (sp.factor_list(part) for part in sp.fraction(sp.together(base)))
    outside, inside = sp.Integer(1), sp.Rational(top[0], bottom[0])
    for factors, sign in ((top[1], 1), (bottom[1], -1)):
        for factor, power in factors:
            outside *= factor ** (sign * (power // 2)) if factor.is_positive else 1
            inside *= factor ** (sign * (power % 2 if factor.is_positive else power))
    top_inside, bottom_inside = sp.fraction(sp.together(inside))
    radicand = sp.expand(top_inside * bottom_inside)
    root = sp.sqrt(radicand)
    if not root.is_Rational:
        root = _named("sqrt", [radicand])
        relations.setdefault(root, radicand)
    return outside * root / bottom_inside if bottom_inside.is_positive or bottom_inside == 1 else outside * _named("sqrt", [inside])


def _named(name: str, inside: list[sp.Expr]) -> sp.Symbol:
    """Return one symbol for one function of one argument; equal arguments give the same symbol."""
    return sp.Symbol(f"{name} of {', '.join(sp.srepr(part) for part in inside)}")
