"""The only module that tells numbers, arrays and symbols apart.

Everything above works with ``+ - *`` alone, so that one formula serves floats, integers, fractions, NumPy
arrays (element by element, broadcasting) and SymPy expressions. What differs between them is here: division,
roots, angles, comparison and the recognition of "all zero". SymPy is never imported by this module: whoever
passes an expression has imported it already.
"""

import math
import sys
from fractions import Fraction
from typing import Any

import numpy as np

from .errors import NotFiniteError, UndefinedError

Scalar = Any
"""A float, int, Fraction, NumPy array or SymPy expression."""

ROUNDING = 16 * sys.float_info.epsilon
"""Products that cancel to less than this share of their size count as zero: it is rounding, not a number."""


def is_array(value: Scalar) -> bool:
    """Tell whether a value is a NumPy array with at least one axis."""
    return isinstance(value, np.ndarray) and value.ndim > 0


def is_symbolic(value: Scalar) -> bool:
    """Tell whether a value is a SymPy expression (SymPy numbers included)."""
    sympy = sys.modules.get("sympy")
    return sympy is not None and isinstance(value, sympy.Basic)


def _function(name: str) -> Any:
    """Return one function of one or two numbers that serves every kind of scalar."""

    def apply(*values: Scalar) -> Scalar:
        if any(map(is_symbolic, values)):
            return getattr(sys.modules["sympy"], name)(*values)
        if any(map(is_array, values)):
            return getattr(np, {"atan2": "arctan2", "atan": "arctan", "asin": "arcsin", "acos": "arccos"}.get(name, name))(*values)
        return getattr(math, name)(*values)

    apply.__name__ = apply.__qualname__ = name
    apply.__doc__ = f"Return {name} of a number, an array (by element) or an expression; angles in radians."
    return apply


sqrt, sin, cos, tan = map(_function, ("sqrt", "sin", "cos", "tan"))
asin, acos, atan, atan2 = map(_function, ("asin", "acos", "atan", "atan2"))


def hypot(*parts: Scalar) -> Scalar:
    """Return the root of the sum of squares: a length from its components.

    >>> hypot(3, 4)
    5.0
    """
    return sqrt(sum(part * part for part in parts))


def quotient(numerator: Scalar, denominator: Scalar) -> Scalar:
    """Divide; the one place where the library does.

    A number over zero is infinite, with the numerator's sign: that is what a point at infinity looks like as
    a coordinate. Zero over zero is undefined: a single value raises :class:`UndefinedError`, an array carries
    nan at that element. Integers and fractions stay exact.

    >>> quotient(1, 3)
    Fraction(1, 3)
    >>> quotient(-2.0, 0.0)
    -inf
    """
    if is_array(numerator) or is_array(denominator):
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(
                np.equal(denominator, 0),
                np.where(np.equal(numerator, 0), np.nan, np.copysign(np.inf, numerator)),
                np.divide(numerator, denominator),
            )
    if denominator == 0:
        if numerator == 0:
            raise UndefinedError("Zero divided by zero: these lines determine no point, so there is no number to show.")
        if is_symbolic(numerator):
            return sys.modules["sympy"].oo * sys.modules["sympy"].sign(numerator)
        return math.copysign(math.inf, numerator)
    if isinstance(numerator, int) and isinstance(denominator, int):
        return Fraction(numerator, denominator)
    return numerator / denominator


def magnitude(*parts: Scalar) -> Scalar:
    """Return the sum of absolute values: a quick size for comparing with rounding."""
    total = abs(parts[0])
    for part in parts[1:]:
        total = total + abs(part)
    return total


def settle(parts: tuple[Scalar, ...], size: Any, sentence: str) -> tuple[Scalar, ...]:
    """Pass the parts of a point, line or plane through, unless all of them are zero.

    Such parts determine nothing. For a single construction this raises :class:`UndefinedError` with the
    sentence; in an array the elements concerned become exact zeros, the mark of 'undefined', and every number
    read from them is nan. Floats count as zero when products of the given size have cancelled to rounding
    (:data:`ROUNDING`); integers, fractions and expressions when they are zero exactly.

    Args:
        parts: the homogeneous coordinates.
        size: a function without arguments that returns the size of the products in the parts; it is called
            only when floats have to be judged.
        sentence: what to tell the reader.
    """
    if any(map(is_array, parts)):
        limit = ROUNDING * size()
        largest = np.abs(parts[0])
        for part in parts[1:]:
            largest = np.maximum(largest, np.abs(part))
        lost = largest <= limit
        return tuple(np.where(lost, 0.0, part) for part in parts) if np.any(lost) else parts
    if any(map(is_symbolic, parts)):
        expand = sys.modules["sympy"].expand
        undefined = all(expand(part) == 0 for part in parts)
    elif any(isinstance(part, float) for part in parts):
        limit = ROUNDING * size()
        undefined = all(abs(part) <= limit for part in parts)
    else:
        undefined = not any(parts)
    if undefined:
        raise UndefinedError(sentence)
    return parts


def finite(value: Scalar, what: str) -> Scalar:
    """Pass a measurement through, refusing a nan or infinite number.

    Arrays pass: in them nan marks an element without a result. Expressions pass.

    >>> finite(1.5, "track")
    1.5
    """
    if not is_array(value) and not is_symbolic(value) and not math.isfinite(value):
        raise NotFiniteError(f"{what} is {value}; a measurement must be a finite number.")
    return value


def agree(first: Scalar, second: Scalar, tolerance: float = 1e-9) -> bool:
    """Tell whether two values are the same: within the tolerance for numbers, exactly for expressions.

    >>> agree(0.1 + 0.2, 0.3)
    True
    """
    if is_symbolic(first) or is_symbolic(second):
        return bool(sys.modules["sympy"].expand(first - second) == 0)
    return bool(np.all(np.abs(first - second) <= tolerance))
