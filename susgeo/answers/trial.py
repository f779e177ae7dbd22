"""Values of formulas on trial cars, exact or to many digits, and cars spread evenly over ranges."""

import math
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from typing import Any

import mpmath
import sympy as sp

from .formula import Where

DIGITS = (50, 100, 400)
SAME_TO = 1e-25
"""Difference, relative to the values, up to which two values count as one; their error is below 1e-30."""


def scatter(ranges: Mapping[str, tuple[Any, Any]]) -> Iterator[dict[str, Fraction]]:
    """Yield values spread evenly over ranges, without end and always the same.

    Each name steps through its range by the square root of its own prime (a Kronecker sequence).

    >>> next(scatter({"x": (0, 1), "y": (0, 10)}))
    {'x': Fraction(829, 2000), 'y': Fraction(293, 40)}
    """
    steps = [math.isqrt(sp.prime(i + 1) * 10**12) for i in range(len(ranges))]
    n = 0
    while True:
        n += 1
        parts = [Fraction(2 * (n * step % 10**6 // 1000) + 1, 2000) for step in steps]
        ends = ((Fraction(low), Fraction(high)) for low, high in ranges.values())
        places = (low + (high - low) * part for (low, high), part in zip(ends, parts, strict=True))
        yield dict(zip(ranges, places, strict=True))


POLE = object()  # the value of a division by zero


def value_of(expression: sp.Expr, car: Mapping[str, Fraction]) -> Any:
    """An expression's value: a Fraction, or 100 digits of a number; POLE, or None for no real value."""
    try:
        if all(map(_is_rational, sp.preorder_traversal(expression))):
            return _put(expression, car, Fraction)
        coarse = None
        for digits in DIGITS:  # more of them where large parts cancel
            with mpmath.workdps(digits):
                value = _put(expression, car, lambda top, bottom=1: mpmath.mpf(top) / bottom)
                if coarse is not None and abs(coarse - value) < 1e-30 * (1 + abs(value)):
                    return value
                coarse = value
        return POLE
    except ZeroDivisionError:
        return POLE
    except ValueError:
        return None


def _is_rational(e: sp.Expr) -> bool:
    return bool(e.is_Symbol or e.is_Rational or e.is_Add or e.is_Mul or (e.is_Pow and e.exp.is_Integer))


def _put(e: sp.Expr, car: Mapping[str, Fraction], number: Callable[..., Any]) -> Any:
    if e.is_Symbol:
        return number(car[e.name].numerator, car[e.name].denominator)
    if e.is_Rational:
        return number(e.p, e.q)
    if e is sp.pi:
        return +mpmath.pi
    parts = [_put(part, car, number) for part in e.args]
    if e.is_Add:
        return sum(parts)
    if e.is_Mul:
        return math.prod(parts)
    if e.is_Pow and e.exp.is_Integer:
        return parts[0] ** int(e.exp)
    if e.func is Where:
        no_value = any(part < 0 for part in parts[1:])
    else:
        no_value = (e.is_Pow and parts[0] < 0) or (e.func in (sp.asin, sp.acos) and abs(parts[0]) > 1)
    if no_value:
        raise ValueError("no real value")
    if e.is_Pow or e.func is Where:
        return parts[0] ** parts[1] if e.is_Pow else parts[0]
    return getattr(mpmath, "fabs" if e.func is sp.Abs else e.func.__name__)(*parts)


def apart(a: Any, b: Any) -> bool:
    if isinstance(a, Fraction) and isinstance(b, Fraction):
        return a != b
    with mpmath.workdps(DIGITS[1]):
        a, b = (mpmath.mpf(x.numerator) / x.denominator if isinstance(x, Fraction) else x for x in (a, b))
        return bool(abs(a - b) > SAME_TO * (abs(a) + abs(b)) + 1e-29)
