"""A number that knows its derivatives.

Passed through a formula made of + - x and division, it comes out with the exact derivative by every dimension
that went in: no limit is taken and no step is chosen. Source: forward-mode automatic differentiation,
Griewank and Walther, Evaluating Derivatives, 2nd edition, SIAM 2008, chapter 3 (title and chapter from
memory).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from numbers import Real
from operator import ge, gt, le, lt
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray


def _by_value(compare: Callable[[float, float], bool]) -> Callable[["Dual", Any], bool]:
    return lambda self, other: compare(self.value, _parts(other)[0])


@dataclass(frozen=True, slots=True, eq=False)
class Dual:
    """A value and its slopes: the derivatives by each of n dimensions, an array of shape (n,).

    It compares by its value. It has no ``__float__`` on purpose: a function that does not know it fails,
    instead of dropping the derivatives without a word.

    >>> x, y = seeds([3.0, 4.0])
    >>> area = x * y
    >>> area.value, area.slopes.tolist()
    (12.0, [4.0, 3.0])
    """

    value: float
    slopes: NDArray[np.float64]

    __array_ufunc__: ClassVar[None] = None
    __hash__: ClassVar[None] = None  # type: ignore[assignment]

    def __add__(self, other: Any) -> "Dual":
        value, slopes = _parts(other)
        return Dual(self.value + value, self.slopes + slopes)

    def __mul__(self, other: Any) -> "Dual":
        value, slopes = _parts(other)
        return Dual(self.value * value, self.slopes * value + self.value * slopes)

    def __truediv__(self, other: Any) -> "Dual":
        value, slopes = _parts(other)
        ratio = self.value / value
        return Dual(ratio, (self.slopes - ratio * slopes) / value)

    def __neg__(self) -> "Dual":
        return Dual(-self.value, -self.slopes)

    def __sub__(self, other: Any) -> "Dual":
        return self + -other

    def __rsub__(self, other: Any) -> "Dual":
        return -self + other

    def __rtruediv__(self, other: Any) -> "Dual":
        return Dual(float(other), 0 * self.slopes) / self

    def __abs__(self) -> "Dual":
        return -self if self.value < 0 else self

    def __bool__(self) -> bool:
        return self.value != 0

    def __eq__(self, other: object) -> bool:
        return bool(self.value == _parts(other)[0])

    __radd__, __rmul__ = __add__, __mul__
    __lt__, __le__, __gt__, __ge__ = map(_by_value, (lt, le, gt, ge))


def seeds(values: list[float]) -> list[Dual]:
    """Return each value as a dimension to differentiate by: its own slope is 1, that of the others 0."""
    return [Dual(float(value), row) for value, row in zip(values, np.eye(len(values)), strict=True)]


def through(name: str, *values: Any) -> Dual:
    """Return a function of :mod:`math` of one or two numbers, one of them a dual, by the chain rule."""
    parts = [_parts(value) for value in values]
    plain = [value for value, _ in parts]
    slopes = sum(rate * slope for rate, (_, slope) in zip(_RATES[name](*plain), parts, strict=True))
    return Dual(getattr(math, name)(*plain), slopes)


def _over(numerator: float, denominator: float) -> float:
    """Divide; infinite where a root or an angle stands upright."""
    return numerator / denominator if denominator else math.inf


_RATES: dict[str, Callable[..., tuple[float, ...]]] = {
    "sqrt": lambda x: (_over(1, 2 * math.sqrt(x)),),
    "sin": lambda x: (math.cos(x),),
    "cos": lambda x: (-math.sin(x),),
    "tan": lambda x: (1 + math.tan(x) ** 2,),
    "asin": lambda x: (_over(1, math.sqrt(1 - x * x)),),
    "acos": lambda x: (-_over(1, math.sqrt(1 - x * x)),),
    "atan": lambda x: (1 / (1 + x * x),),
    "atan2": lambda y, x: (_over(x, x * x + y * y), -_over(y, x * x + y * y)),
}
"""The derivative of each function by each of its arguments."""


def _parts(number: Any) -> tuple[float, Any]:
    if isinstance(number, Dual):
        return number.value, number.slopes
    if isinstance(number, Real):
        return float(number), 0.0
    raise TypeError(f"A number with derivatives cannot be combined with {type(number).__name__}.")
