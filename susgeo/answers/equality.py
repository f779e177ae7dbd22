"""Tells whether two formulas are the same: proved, refuted by a car on which they differ, or undecided.

First both are put to numbers on admissible cars, exactly or to 50 and to 100 digits: one difference refutes,
and is shown to the student. Agreement on cars alone never counts as proof. The proof is algebra: both are
brought to fractions of polynomials, where every root, modulus, half-angle tangent and arctangent is one more
variable that obeys its own equation; if the numerator of the difference is zero, the formulas are the same.
The work is counted and bounded; what it cannot settle is undecided, and said to be.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import reduce
from itertools import islice
from typing import Any

import sympy as sp
from sympy.polys.rings import PolyElement, ring

from .formula import Where
from .trial import POLE, apart, scatter, value_of

Samples = Callable[[], Iterable[Mapping[str, Fraction]]]
Ranges = Mapping[str, tuple[float, float]]
Ratio = tuple[PolyElement, PolyElement]  # numerator, denominator
Turn = tuple[PolyElement, PolyElement, PolyElement]  # cosine and sine, over one denominator

CARS = 12
"""Cars on which formulas are compared before a proof is tried, and as many near them after it failed."""
SPARE = 24
"""Further variables that a proof may use."""
MOST_WORK = 60_000
"""Products of terms after which a proof is given up."""


@dataclass(frozen=True, slots=True)
class Same:
    """Proved equal wherever both have a value; `except_on`: a car on which the student's divides by zero."""

    except_on: Mapping[str, Fraction] | None = None


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


def compare(
    student: sp.Expr, truth: sp.Expr, samples: Samples, ranges: Ranges | None = None, positive: Iterable[sp.Expr] = ()
) -> Same | Different | Undecided:
    """Compare a student's formula with the true one.

    Args:
        samples: a function that starts an iterator of admissible values of the symbols, by name.
        ranges: the least and largest value of a symbol (angles in radians), where a proof may rely on them;
            else a symbol has any value, or any positive one if it is positive.
        positive: expressions that are positive on every car, such as how far a tube is wider than its bore.

    >>> x, y = sp.symbols("x y", positive=True)
    >>> from susgeo.answers.trial import scatter
    >>> cars = lambda: scatter({"x": (1, 9), "y": (1, 9)})
    >>> compare((x + y) ** 2, x**2 + 2 * x * y + y**2, cars)
    Same(except_on=None)
    >>> compare(x + y, x * y, lambda: [{"x": Fraction(2), "y": Fraction(3)}])
    Different(witness={'x': Fraction(2, 1), 'y': Fraction(3, 1)}, student=5.0, truth=6.0)
    """
    compared, divides_by_zero, first = 0, None, dict[str, Fraction]()
    for car in islice(samples(), CARS):
        first = first or dict(car)
        right = value_of(truth, car)
        if right is None or right is POLE:
            continue
        value = value_of(student, car)
        if value is POLE:
            divides_by_zero = divides_by_zero or car
            continue
        if value is None or apart(value, right):
            return Different(car, math.nan if value is None else float(value), float(right))
        compared += 1
    if not compared and divides_by_zero:
        return Different(divides_by_zero, math.nan, float(value_of(truth, divides_by_zero)))
    if not compared:
        return Undecided("the formulas have no value on any car that was tried.")
    if student == truth or _proved(student, truth, ranges or {}, positive):
        return Same(divides_by_zero)
    # Cars may all share what makes the two agree, such as two equal lengths: look beside them.
    size = max(map(abs, first.values()), default=Fraction(1)) / 20
    reach = {name: abs(x) / 20 or size for name, x in first.items()}
    beside = {name: (x - reach[name], x + reach[name]) for name, x in first.items()}
    for car in islice(scatter(beside), CARS):
        value, right = value_of(student, car), value_of(truth, car)
        if not {None, POLE} & {value, right} and apart(value, right):
            return Different(car, float(value), float(right))
    agrees = f"it agrees with the right one on {compared} cars"
    return Undecided(f"{agrees}, and no proof was found that it always does.")


class _GivenUp(Exception):
    """The algebra has no form for the expression, or too large a one."""


class _Again(Exception):
    """An angle must be cut more finely than it was: start afresh."""


@dataclass
class _Learned:
    """What a proof keeps when it starts afresh."""

    positive: set[PolyElement] = field(default_factory=set)  # under a root, so never negative
    cuts: dict[PolyElement | Ratio, int] = field(default_factory=dict)  # into how many parts an angle is cut
    work: int = 0


def _proved(student: sp.Expr, truth: sp.Expr, ranges: Ranges, positive: Iterable[sp.Expr]) -> bool:
    symbols = sorted(student.free_symbols | truth.free_symbols, key=str)
    variables = ring([f"v{i}" for i in range(len(symbols) + 1 + SPARE)], sp.QQ)[0]
    learned = _Learned()
    while True:
        algebra = _Algebra(symbols, variables, ranges, learned)
        try:
            learned.positive |= {algebra.ratio(fact)[0] for fact in positive if fact.free_symbols <= {*symbols}}
            roots = len(learned.positive)
            if algebra.sum(algebra.ratio(student), algebra.ratio(-truth))[0] == 0:
                return True
        except _Again:
            continue
        except _GivenUp:
            return False
        if len(learned.positive) == roots:
            return False


class _Algebra:
    """Expressions as fractions of polynomials in the symbols, pi, and variables that obey equations."""

    def __init__(self, symbols: list[sp.Symbol], variables: Any, ranges: Ranges, learned: _Learned) -> None:
        self.ring, self.one, self.learned = variables, variables.one, learned
        self.bounds: list[tuple[Any, Any]] = []
        self.squares: dict[int, PolyElement] = {}
        self.known: dict[Any, PolyElement] = {}  # a root, modulus or tangent, by what it is of
        self.arcs: list[Turn] = []  # arctangent of the second by the third
        self.ratios: dict[sp.Expr, Ratio] = {}
        for symbol in symbols:
            low = 0 if symbol.is_nonnegative else -math.inf
            self.ratios[symbol] = self.variable(symbol, *ranges.get(symbol.name, (low, math.inf))), self.one
        self.pi = self.variable(sp.pi, 3, 4)
        self.ratios[sp.pi] = self.pi, self.one
        self.symbols = len(symbols)

    def variable(self, of: Any, low: float, high: float, square: PolyElement | None = None) -> PolyElement:
        """The variable that stands for something, made at first need, with bounds and perhaps its square."""
        if of not in self.known:
            at = len(self.bounds)
            if at == len(self.ring.gens):
                raise _GivenUp
            self.known[of] = self.ring.gens[at]
            self.bounds.append((_end(low), _end(high)))
            if square is not None:
                self.squares[at] = square
        return self.known[of]

    # Polynomials

    def worked(self, steps: int) -> None:
        self.learned.work += steps
        if self.learned.work > MOST_WORK:
            raise _GivenUp

    def times(self, p: PolyElement, q: PolyElement) -> PolyElement:
        self.worked(len(p) * len(q))
        result = p * q
        for i in sorted(self.squares, reverse=True):  # newest first: a square may hold older ones
            while any(powers[i] > 1 for powers in result):
                low = {powers: c for powers, c in result.items() if powers[i] < 2}
                high = {(*m[:i], m[i] - 2, *m[i + 1 :]): c for m, c in result.items() if m[i] > 1}
                self.worked(len(high) * len(self.squares[i]))
                result = self.ring.from_dict(low) + self.ring.from_dict(high) * self.squares[i]
        return result

    def power(self, p: PolyElement, n: int) -> PolyElement:
        return reduce(self.times, [p] * n, self.one)

    def sign(self, p: PolyElement) -> int:
        """1 or -1 where a polynomial is known to be never negative or never positive, else 0."""
        if p in self.learned.positive or -p in self.learned.positive:
            return 1 if p in self.learned.positive else -1
        low, high = Fraction(0), Fraction(0)
        for powers, coefficient in p.terms():
            ends = [_fraction(coefficient)] * 2
            for (least, most), n in zip(self.bounds, powers, strict=False):
                if n:
                    inner = [0] if n % 2 == 0 and least < 0 < most else []
                    reach = (least**n, most**n, *inner)
                    ends = [x * y if x and y else Fraction(0) for x in ends for y in reach]
                    ends = [min(ends), max(ends)]
            low, high = low + ends[0], high + ends[1]
        return 1 if low >= 0 else -1 if high <= 0 else 0

    def factors(self, p: PolyElement) -> tuple[Fraction, list[tuple[PolyElement, int]]]:
        """A number and monic irreducible factors."""
        if len(p) > 40 or any(sum(powers) > 20 for powers in p):
            raise _GivenUp
        self.worked(20 * len(p))
        number, factors = p.factor_list()
        number = math.prod((f.LC**n for f, n in factors), start=number)
        return _fraction(number), [(f.monic(), n) for f, n in factors]

    def modulus(self, p: PolyElement) -> PolyElement:
        number, factors = self.factors(p)
        result, mixed = self.ring(sp.QQ(abs(number))), []
        for f, n in factors:
            result = self.times(result, self.power(f, n - n % 2))
            if n % 2 and self.sign(f):
                result = self.times(result, f * self.sign(f))
            elif n % 2:
                mixed.append(f)
        together = reduce(self.times, mixed, self.one)
        if self.sign(together):
            return self.times(result, together * self.sign(together))
        sizes = [self.variable(("modulus", f), 0, math.inf, self.times(f, f)) for f in mixed]
        return reduce(self.times, sizes, result)

    def root(self, p: PolyElement, q: PolyElement) -> Ratio:
        """Square root of p/q: the root of p q over the modulus of q, taken apart where signs are known."""
        if not p:
            return p, self.one
        number, factors = self.factors(self.times(p, q))
        outside, mixed, inside = self.one, self.one, []
        for f, n in factors:
            outside = self.times(outside, self.power(f, n // 2))
            sign = self.sign(f)
            if n % 2 and sign:
                inside.append(f * sign)
                number *= sign
            elif n % 2:
                mixed = mixed * f
        mixed = mixed if number > 0 else -mixed
        if mixed == -1:
            raise _GivenUp
        if mixed != 1:
            inside.append(mixed)
            if not any(any(powers[self.symbols :]) for powers in mixed):
                self.learned.positive.add(mixed)  # wherever the formula has a value
        outside, number = self.modulus(outside), abs(number)
        for prime, n in sp.factorint(number.numerator * number.denominator, limit=1000).items():
            outside = outside * prime ** (n // 2)
            inside += [self.ring(prime)] * (n % 2)
        roots = [self.variable(("root", f), 0, math.inf, f) for f in inside]
        return self.ratio_of(reduce(self.times, roots, outside), self.modulus(q) * number.denominator)

    # Fractions

    def ratio_of(self, p: PolyElement, q: PolyElement) -> Ratio:
        if not q:
            raise _GivenUp
        if not q.is_ground and len(p) + len(q) < 40:
            self.worked(5 * (len(p) + len(q)))
            p, q = p.cancel(q)
        return p.quo_ground(q.LC), q.monic()

    def sum(self, a: Ratio, b: Ratio) -> Ratio:
        if a[1] == b[1]:
            return a[0] + b[0], a[1]
        return self.ratio_of(self.times(a[0], b[1]) + self.times(b[0], a[1]), self.times(a[1], b[1]))

    def product(self, a: Ratio, b: Ratio) -> Ratio:
        return self.ratio_of(self.times(a[0], b[0]), self.times(a[1], b[1]))

    def ratio(self, e: sp.Expr) -> Ratio:
        """An expression as a fraction of polynomials."""
        if e not in self.ratios:
            self.ratios[e] = self.ratio_anew(e)
        return self.ratios[e]

    def ratio_anew(self, e: sp.Expr) -> Ratio:
        if e.is_Rational:
            return self.ring(sp.QQ(e.p, e.q)), self.one
        if e.is_Add or e.is_Mul:
            return reduce(self.sum if e.is_Add else self.product, map(self.ratio, e.args))
        if e.is_Pow and e.exp.is_Rational and e.exp.q in (1, 2, 4, 8):
            p, q = self.ratio(e.base)
            for _ in range(int(e.exp.q).bit_length() - 1):
                p, q = self.root(p, q)
            p, q = (p, q) if e.exp > 0 else (q, p)
            return self.ratio_of(self.power(p, abs(int(e.exp.p))), self.power(q, abs(int(e.exp.p))))
        if e.func is sp.Abs:
            p, q = self.ratio(e.args[0])
            return self.ratio_of(self.modulus(p), self.modulus(q))
        if e.func is Where:
            return self.ratio(e.args[0])
        if e.func in _TURNS:
            parts = self.turn(*self.ratio(e.args[0]))
            return self.ratio_of(*(parts[part] for part in _TURNS[e.func]))
        if e.func is sp.atan:
            return self.arc(*self.ratio(e.args[0]))
        if e.func is sp.asin:
            p, q = self.ratio(e.args[0])
            root, below = self.root(self.times(q, q) - self.times(p, p), self.times(q, q))
            return self.arc(*self.product((p, q), (below, root)))
        if e.func is sp.acos:
            return self.ratio(sp.pi / 2 - sp.asin(e.args[0]))
        if e.func is sp.atan2:
            y, x = e.args
            side, ahead = (self.sign(self.times(*self.ratio(part))) for part in e.args)
            if ahead > 0:
                return self.ratio(sp.atan(y / x))
            if side:
                return self.ratio(side * sp.pi / 2 - sp.atan(x / y))
            return self.ratio(2 * sp.atan(y / (sp.sqrt(x**2 + y**2) + x)))
        raise _GivenUp

    # Angles

    def arc(self, p: PolyElement, q: PolyElement) -> Ratio:
        """Arctangent of p/q: a variable, unless one stands already for the same, or for the reciprocal's."""
        side = self.sign(self.times(p, q))
        for angle, a, b in self.arcs:
            for sign in (1, -1):
                if self.times(p, b) == sign * self.times(a, q):
                    return sign * angle, self.one
                if side and self.times(p, a) == sign * self.times(b, q):
                    return side * self.pi / 2 - sign * angle, self.one
        angle = self.variable(("arctangent", p, q), 0 if side > 0 else -2, 0 if side < 0 else 2)
        self.arcs.append((angle, p, q))
        return angle, self.one

    def turn(self, p: PolyElement, q: PolyElement) -> Turn:
        """Cosine and sine of an angle p/q, from the angles that it is a sum of multiples of."""
        parts = [((p.monic(), q), p.LC / q.LC)] if p else []
        if q.is_ground:
            terms = ((self.ring.from_dict({powers: sp.QQ(1)}), c) for powers, c in p.terms())
            parts = [((term, self.one), c / q.LC) for term, c in terms]
        whole = self.one, self.ring.zero, self.one
        for angle, coefficient in parts:
            times = _fraction(coefficient)
            if angle == (self.pi, self.one):
                values = [f(sp.Rational(times) * sp.pi) for f in (sp.cos, sp.sin)]
                rest = Fraction(0)
                if any(value.has(sp.cos, sp.sin) for value in values):  # past a quarter turn an angle like any other
                    quarters = Fraction(round(2 * times), 2)
                    values, rest = [f(sp.Rational(quarters) * sp.pi) for f in (sp.cos, sp.sin)], times - quarters
                (c, under_c), (s, under_s) = map(self.ratio, values)
                part = self.times(c, under_s), self.times(s, under_c), self.times(under_c, under_s)
                whole, times = self.turned(whole, part), rest
            cut = self.learned.cuts.get(angle, 1)
            if (times * cut).denominator > 1:
                self.learned.cuts[angle] = math.lcm(cut, times.denominator)
                self.worked(MOST_WORK // 10)
                raise _Again
            c, s, under = self.part(*angle, cut)
            for _ in range(abs(int(times * cut))):
                whole = self.turned(whole, (c, s if times > 0 else -s, under))
        return whole

    def turned(self, one: Turn, other: Turn) -> Turn:
        """Cosine and sine of a sum of two angles."""
        (a, b, c), (d, e, f), t = one, other, self.times
        return t(a, d) - t(b, e), t(a, e) + t(b, d), t(c, f)

    def part(self, p: PolyElement, q: PolyElement, cut: int) -> Turn:
        """Cosine and sine of one part of an angle cut in `cut`."""
        t = self.times
        for arc, a, b in self.arcs:
            if (arc, 1) == (p, q) and cut < 3:
                root, under = self.root(t(a, a) + t(b, b), t(b, b))
                if cut == 2:  # the tangent of the half: a over b and the hypotenuse together
                    a, b = t(a, under), t(b, under + root)
                    root, under = self.root(t(a, a) + t(b, b), t(b, b))
                return t(b, under), t(a, under), t(b, root)
        low, high = -math.inf, math.inf
        if p in self.ring.gens and q == 1:
            low, high = (float(end) / (2 * cut) for end in self.bounds[self.ring.gens.index(p)])
            inside = low > -1.57 and high < 1.57
            low = -math.inf if not inside else 0 if low == 0 else math.tan(low) - 1e-9
            high = math.tan(high) + 1e-9 if inside else math.inf
        tangent = self.variable(("tangent", p, q), low, high)  # of half the part
        square = t(tangent, tangent)
        return self.one - square, 2 * tangent, self.one + square


_TURNS = {sp.cos: (0, 2), sp.sin: (1, 2), sp.tan: (1, 0), sp.cot: (0, 1), sp.sec: (2, 0), sp.csc: (2, 1)}


def _end(bound: float) -> Any:
    return bound if math.isinf(bound) else Fraction(bound)


def _fraction(number: Any) -> Fraction:
    return Fraction(int(number.numerator), int(number.denominator))
