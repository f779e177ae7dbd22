"""The only module that tells numbers, arrays and symbols apart.

Everything above works with ``+ - *`` alone, so that one formula serves floats, integers, fractions, NumPy
arrays (element by element, broadcasting), SymPy expressions and numbers that carry their derivatives
(:class:`susgeo.geometry.dual.Dual`). What differs between them is here: division, roots, angles, comparison and the
recognition of "all zero". SymPy is never imported by this module: whoever passes an expression has imported
it already.
"""

import itertools
import math
import sys
from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import reduce
from operator import add, mul
from typing import Any

import numpy as np

from ..errors import NotFiniteError, SusgeoError, UndefinedError
from .dual import Dual, through

Scalar = Any
"""A float, int, Fraction, NumPy array of floats, SymPy expression, or Dual."""
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
            function = {"atan2": "arctan2", "atan": "arctan", "asin": "arcsin", "acos": "arccos"}
            floats = (np.asarray(value, dtype=float) for value in values)  # a fraction makes them objects
            with np.errstate(invalid="ignore"):  # nan, the mark of an element without a result
                return getattr(np, function.get(name, name))(*floats)
        if any(isinstance(value, Dual) for value in values):
            return through(name, *values)
        return getattr(math, name)(*values)

    apply.__name__ = apply.__qualname__ = name
    apply.__doc__ = f"Return {name} of a number, an array (by element) or an expression; angles in radians."
    return apply


sqrt, sin, cos, tan = map(_function, ("sqrt", "sin", "cos", "tan"))
asin, acos, atan, atan2 = map(_function, ("asin", "acos", "atan", "atan2"))


def degrees(angle: Scalar) -> Scalar:
    """Return an angle given in radians in degrees, to show it.

    >>> degrees(math.pi)
    180.0
    """
    return angle * 180 / sys.modules["sympy"].pi if is_symbolic(angle) else angle * (180 / math.pi)


def alone(value: Scalar) -> Scalar:
    """Return an array as it is, and what has no axis as a plain float or bool: NumPy's own shows as ``np.float64(...)``.

    >>> alone(np.float64(1.5)), alone(np.array([1.5]))
    (1.5, array([1.5]))
    """
    if is_array(value):
        return value
    return bool(value) if isinstance(value, np.bool) else float(value)


def plain(value: Scalar) -> Scalar:
    """Return the value without its derivatives, where it has any."""
    return value.value if isinstance(value, Dual) else value


def hypot(*parts: Scalar) -> Scalar:
    """Return the root of the sum of squares: a length from its components.

    >>> hypot(3, 4)
    5.0
    """
    return sqrt(sum(part * part for part in parts))


def quotient(numerator: Scalar, denominator: Scalar, infinite: Callable[[], Scalar] | None = None) -> Scalar:
    """Divide; the one place where the library does.

    A number over zero is infinite, with the numerator's sign: that is what a point at infinity looks like as
    a coordinate. Zero over zero is undefined: a single value raises :class:`UndefinedError`, an array carries
    nan at that element. Fractions stay exact, and whole numbers where the division comes out even. ``infinite``
    gives what to put in place of anything over zero.

    >>> quotient(1, 4), quotient(8, 4), quotient(Fraction(1), 4)
    (0.25, 2, Fraction(1, 4))
    >>> quotient(-2.0, 0.0)
    -inf
    """
    if is_array(numerator) or is_array(denominator):
        zero = np.equal(denominator, 0)  # of either sign: -0.0 would turn the sign of infinity
        if not zero.any():
            return numerator / denominator
        far = infinite() if infinite else np.where(numerator == 0, np.nan, np.copysign(np.inf, numerator))
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(zero, far, np.divide(numerator, denominator))
    if denominator == 0:
        if infinite:
            return infinite()
        if numerator == 0:
            raise UndefinedError("Zero divided by zero: these lines determine no point, so there is no number to show.")
        if is_symbolic(numerator):
            return sys.modules["sympy"].oo * sys.modules["sympy"].sign(numerator)
        return math.copysign(math.inf, plain(numerator))
    if isinstance(numerator, int) and isinstance(denominator, int) and numerator % denominator == 0:
        return numerator // denominator
    return numerator / denominator


def dot(first: Iterable[Scalar], second: Iterable[Scalar]) -> Scalar:
    """Return the sum of the products of corresponding numbers.

    >>> dot((1, 2, 3), (4, 5, 6))
    32
    """
    return reduce(add, map(mul, first, second))


def cross(first: Iterable[Scalar], second: Iterable[Scalar]) -> tuple[Scalar, Scalar, Scalar]:
    """Return the cross product of two vectors.

    >>> cross((1, 0, 0), (0, 1, 0))
    (0, 0, 1)
    """
    (a, b, c), (u, v, w) = first, second
    return b * w - c * v, c * u - a * w, a * v - b * u


def determinant(a: Scalar, b: Scalar, c: Scalar, d: Scalar) -> Scalar:
    """Return a d - b c.

    >>> determinant(1, 2, 3, 4)
    -2
    """
    return a * d - b * c


def choose(condition: Any, yes: Scalar, no: Scalar) -> Scalar:
    """Return one of two values, element by element where the condition is an array.

    >>> choose(np.array([True, False]), 1, 2).tolist()
    [1, 2]
    """
    return np.where(condition, yes, no) if is_array(condition) else yes if condition else no


def magnitude(parts: Iterable[Scalar]) -> Scalar:
    """Return the sum of absolute values: a quick size for comparing with rounding."""
    return reduce(add, map(abs, parts))


def settle(parts: tuple[Scalar, ...], factors: Iterable[Iterable[Scalar]], sentence: str) -> tuple[Scalar, ...]:
    """Pass the parts of a point, line or plane through, unless all of them are zero.

    Such parts determine nothing. For a single construction this raises :class:`UndefinedError` with the
    sentence; in an array the elements concerned become exact zeros, the mark of 'undefined', and every number
    read from them is nan. Floats count as zero when products of the factors' size have cancelled to rounding
    (:data:`ROUNDING`); integers, fractions and expressions when they are zero exactly.

    Args:
        parts: the homogeneous coordinates.
        factors: the points, lines and planes of whose products they are made.
        sentence: what to tell the reader.
    """
    if any(map(is_array, parts)):
        lost = reduce(np.maximum, map(np.abs, parts)) <= ROUNDING * math.prod(map(magnitude, factors))
        return tuple(np.where(lost, 0.0, part) for part in parts) if np.any(lost) else parts
    if any(map(is_symbolic, parts)):
        undefined = all(map(_vanishes, parts))
    elif any(isinstance(part, float | Dual) for part in parts):
        limit = ROUNDING * math.prod(map(magnitude, factors))
        zero = (abs(part) <= limit for part in parts)  # the size may be an array's
        undefined = all(one.all() if is_array(one) else one for one in zero)
    else:
        undefined = not any(parts)
    if undefined:
        raise UndefinedError(sentence)
    return parts


def _vanishes(expression: Any) -> bool:
    """Tell whether an expression is zero whatever its symbols are; a trial with numbers comes first."""
    sympy = sys.modules["sympy"]
    expression = sympy.S.Zero + expression  # a whole number, too, becomes an expression; text never does
    numbers = map(sympy.Integer, itertools.count(23, 4))
    trial = expression.xreplace(dict(zip(sorted(expression.free_symbols, key=str), numbers, strict=False)))
    if trial.is_number and abs(trial.evalf(30)) > 1e-9:
        return False
    return bool(sympy.expand(expression) == 0)


def finite(value: Scalar, what: str) -> Scalar:
    """Pass a measurement on in the form that the formulas work with, refusing what is no finite number.

    NumPy's own integers would overflow and its short floats would round, so they become plain numbers, and
    arrays of them arrays of floats. Arrays may hold nan, the mark of an element without a result. Expressions
    pass.

    >>> finite(1.5, "track"), finite(np.int64(3), "track")
    (1.5, 3)
    """
    kind = type(value)
    if kind is np.ndarray and value.dtype == float and value.ndim:
        return value
    if kind is float or kind is Dual:
        known = math.isfinite(plain(value))
    elif kind is int or kind is Fraction:
        known = abs(value) <= sys.float_info.max
    elif isinstance(value, np.ndarray | np.generic) and value.dtype.kind in "fiu":
        return value.astype(float, copy=False) if value.ndim else finite(value.item(), what)
    elif is_symbolic(value):
        known = not value.is_number or (value.is_real is not False and value is not sys.modules["sympy"].nan)
    elif isinstance(value, float):
        return finite(float(value), what)
    else:
        held = f"an array of {value.dtype}" if isinstance(value, np.ndarray) else repr(value)
        raise SusgeoError(f"{what} is {held}; expected a number, a NumPy array of numbers or a SymPy expression.")
    if not known:
        raise NotFiniteError(
            f"{what} is {plain(value) if kind is not int else 'a number too large'}; a measurement must be a finite number."
        )
    return value


def row(values: Any, what: str) -> Any:
    """Return one number, or several, as a row of floats.

    >>> row(60, "heaves"), row((-60, 60), "heaves").tolist()
    (array([60.]), [-60.0, 60.0])
    """
    return np.atleast_1d(finite(np.asarray(values), what)).astype(float)


def together(*values: Scalar) -> tuple[int, ...]:
    """Return the shape that arrays have together, among numbers or not; refuse those that do not fit.

    >>> together(3, np.zeros((2, 1)), np.zeros(5))
    (2, 5)
    """
    shapes = [value.shape for value in values if is_array(value)]
    try:
        return np.broadcast_shapes(*shapes)
    except ValueError:
        told = ", ".join(map(str, dict.fromkeys(shapes)))
        raise SusgeoError(
            f"Arrays of the shapes {told} cannot be put together; give those of one grid, one as a[:, None]."
        ) from None


def agree(first: Scalar, second: Scalar) -> bool:
    """Tell whether two values are the same: within a millionth of a micrometer for numbers, exactly for expressions.

    >>> agree(0.1 + 0.2, 0.3)
    True
    """
    if is_symbolic(first) or is_symbolic(second):
        return bool(sys.modules["sympy"].expand(first - second) == 0)
    return first is second or bool(np.all(abs(first - second) <= 1e-9))
