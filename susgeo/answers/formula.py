"""Reads a formula typed by a student into a SymPy expression of known names, operators and functions.

Nothing is ever run as code: text is cut into tokens and parsed by precedence. Size, depth, digits and powers
are bounded, so that every text is answered at once, by an expression or by one sentence.
"""

import difflib
import math
import numbers
import operator
import re
import unicodedata
from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import lru_cache
from typing import Any, NamedTuple

import sympy as sp

from .numbers import Blank, Unreadable, clean, shorten

LONGEST_FORMULA = 2000  # characters
MOST_TOKENS = 400
MOST_NODES = 1200  # of an expression
DEEPEST = 60  # brackets, signs and powers inside one another
HIGHEST_POWER = 8
MOST_DIGITS = 40  # of a number as typed
TOO_HIGH = f"A power must be a whole number or a half, {HIGHEST_POWER} at most."

Names = Mapping[str, sp.Symbol]

_FUNCTIONS: dict[str, tuple[int, Callable[..., sp.Expr]]] = {
    "sqrt": (1, sp.sqrt),
    "√": (1, sp.sqrt),
    "abs": (1, sp.Abs),
    "atan2": (2, sp.atan2),
    "hypot": (2, lambda a, b: sp.sqrt(a**2 + b**2)),
    "cot": (1, lambda angle: sp.cos(angle) / sp.sin(angle)),
    "sec": (1, lambda angle: 1 / sp.cos(angle)),
    "csc": (1, lambda angle: 1 / sp.sin(angle)),
    "deg": (1, lambda angle: angle * 180 / sp.pi),  # radians to degrees
    "rad": (1, lambda angle: angle * sp.pi / 180),  # degrees to radians
} | {f.__name__: (1, f) for f in (sp.sin, sp.cos, sp.tan, sp.asin, sp.acos, sp.atan)}
_OTHER_FUNCTIONS = {"degrees": "deg", "radians": "rad"} | {f"arc{f}": f"a{f}" for f in ("sin", "cos", "tan", "tan2")}

_SIGNS = str.maketrans("×·⋅∙•÷∕⁄:º˚", "*****////°°")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_TOKEN = re.compile(
    r"(?P<number>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)|(?P<name>[^\W\d]\w*)|(?P<sign>\*\*|[-+*/^()\[\]{},°√])|(?P<other>\S)"
)
_BINDING = {"+": 10, "-": 10, "*": 20, "/": 20, "^": 40}
_ARITHMETIC = {"+": operator.add, "-": operator.sub, "*": operator.mul, "/": operator.truediv}
_PREFIX = 30  # a sign in front: -z^2 is -(z^2), -a*b is (-a)*b
_CLOSING = {"(": ")", "[": "]", "{": "}"}
_HINTS = {
    "=": "give the right-hand side alone",
    ".": "a point belongs inside a number only",
    "|": "write abs(...) for the size of a number",
    "%": "write /100 for a percentage",
}


class Where(sp.Function):  # type: ignore[misc]
    """A value that is real only where no condition is negative: the roots and arcs that reading has simplified away."""

    def _pythoncode(self, printer: Any) -> str:
        value, *conditions = map(printer._print, self.args)
        return f"({value} if min(0, {', '.join(conditions)}) >= 0 else nan)"


_SYMPY_FUNCTIONS = {Where, *(getattr(sp, f) for f in "Abs sin cos tan cot sec csc asin acos atan atan2".split())}


@lru_cache(1000)
def _fold(word: str) -> str:
    """A name without what people write differently: θ1, theta_1 and theta₁ are one."""
    letters = ""
    for c in word:
        greek = re.match(r"GREEK SMALL LETTER (?:FINAL )?(\w+)$|GREEK (\w+) SYMBOL|(MICRO)", unicodedata.name(c, ""))
        letters += (greek[1] or greek[2] or "mu").lower().replace("lamda", "lambda") if greek else c
    return unicodedata.normalize("NFKC", letters).replace("_", "")


def find_name(word: str, names: Names) -> str | None:
    """The lesson's name for a word: itself, or the one alike but for underscores and Greek."""
    if word in names:
        return word
    alike = [name for name in names if _fold(name) == _fold(word)]
    return alike[0] if len(alike) == 1 else None


def _unknown(word: str, names: Names) -> Unreadable:
    known, plain = {_fold(name): name for name in (*_FUNCTIONS, *names)}, _fold(word)
    by_case = {name.lower(): known[name] for name in known}
    pieces = re.findall("|".join(sorted(map(re.escape, known), key=len, reverse=True)), plain)
    near = difflib.get_close_matches(plain[:30], known, n=1)
    if plain.lower() in by_case:
        hint = f", but {by_case[plain.lower()]} is: capital and small letters differ"
    elif 0 < len(pieces) < 6 and "".join(pieces) == plain:
        hint = f": for a product write {'*'.join(known[piece] for piece in pieces)}"
    else:
        hint = f": did you mean {known[near[0]]}?" if near else ""
    here = ", ".join(name if len(name) <= 30 else shorten(name) for name in names)
    return Unreadable(f"{shorten(word)} is no name here{hint} (the names here: {here or 'none'}).")


class _Token(NamedTuple):
    kind: str  # number, name, sign or end
    text: str


def powers(text: str) -> str:
    """Write raised digits as powers, l² as l^2, and what a calculator's key says: tan⁻¹(s) as atan(s)."""
    text = re.sub("[⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+", lambda power: f"^{power[0].translate(_SUPERSCRIPTS)} ", text)
    return re.sub(r"\b(sin|cos|tan) ?\^ ?(?:-1\b|\(-1\)) ?(?=\()", r"a\1", text, flags=re.IGNORECASE)


def _tokens(text: str) -> list[_Token]:
    if re.search("[0-9] ?[½⅓⅔¼¾]", text):
        raise Unreadable("A mixed number such as 3½ is not read inside a formula: write it as 3.5.")
    text = re.sub("[½⅓⅔¼¾]", lambda part: f"({unicodedata.normalize('NFKC', part[0])})", text)
    text = powers(text).translate(_SIGNS).replace("π", " pi ")
    text = re.sub(r"(?<=[0-9.]) ?(?:deg|degrees)\b(?! ?\()", "°", text)  # 180 deg, as a page prints it
    text = re.sub(r"(?<=[0-9.]) ?(?:rad|radians)\b(?! ?\()", "", text)
    found = []
    for match in _TOKEN.finditer(text):
        one = _Token(str(match.lastgroup), match[0].replace("**", "^"))
        if one.kind == "other":
            hint = f": {_HINTS[one.text]}" if one.text in _HINTS else ""
            raise Unreadable(f"The character {one.text} (U+{ord(one.text):04X}) cannot stand in a formula{hint}.")
        found.append(one)
        if len(found) > MOST_TOKENS:
            raise Unreadable(f"The formula has more than {MOST_TOKENS} parts: shorten it.")
    return [*found, _Token("end", "")]


def _number(text: str) -> sp.Rational:
    digits, _, exponent = text.lower().partition("e")
    if len(digits) > MOST_DIGITS or len(exponent) > 3 or abs(int(exponent or 0)) > MOST_DIGITS:
        raise Unreadable(f"The number {shorten(text)} is out of range: {MOST_DIGITS} digits at most.")
    return sp.Rational(Fraction(text))


def _power(base: sp.Expr, exponent: sp.Expr) -> sp.Expr:
    if not exponent.is_Rational or abs(exponent) > HIGHEST_POWER or exponent.q not in (1, 2, 4, 8):
        raise Unreadable(TOO_HIGH)
    if base.is_zero and exponent <= 0:
        raise Unreadable("The formula divides by zero." if exponent < 0 else "0^0 has no value.")
    if exponent.q > 1 and base.is_negative:
        raise Unreadable("The formula takes the square root of a negative number.")
    return _bounded(base**exponent)


def _bounded(result: sp.Expr) -> sp.Expr:
    """The same expression, if it is real and its numbers are of a bearable size."""
    if any(max(abs(number.p), number.q).bit_length() > 400 for number in result.atoms(sp.Rational)):
        raise Unreadable("The formula holds a number that is far too large.")
    parts = result.atoms(
        sp.Pow, sp.Function
    )  # to ask SymPy whether plain arithmetic is real takes most of the time of reading
    arithmetic = all(part.is_Pow and part.exp.is_Integer for part in parts)
    if (not arithmetic and result.is_extended_real is False) or result.has(sp.nan, sp.zoo, sp.oo, -sp.oo, sp.I):
        raise Unreadable("The formula has no real value: it divides by zero, or takes the root of a negative number.")
    return result


class _Parser:
    """Precedence climbing over tokens; brackets, signs and powers count toward `depth`."""

    def __init__(self, text: str, names: Names) -> None:
        self.tokens, self.at, self.names = _tokens(text), 0, names
        self.domain: dict[sp.Expr, sp.Expr] = {}  # roots and arcs, and what must not be negative for them

    @property
    def next(self) -> _Token:
        return self.tokens[self.at]

    def take(self) -> _Token:
        self.at += 1
        return self.tokens[self.at - 1]

    def formula(self) -> sp.Expr:
        result = self.expression(0, 0)
        if self.next.kind != "end":
            if self.next.text == ",":
                raise Unreadable("A comma separates two values in brackets only: write decimals with a point.")
            raise Unreadable(
                f"The formula makes no sense from {shorten(self.next.text)} on: a bracket or a sign is missing."
            )
        return result

    def expression(self, floor: int, depth: int) -> sp.Expr:
        if depth > DEEPEST:
            raise Unreadable(f"The formula is nested more than {DEEPEST} deep: simplify it.")
        left, divided = self.operand(depth), False
        while True:
            beside = self.next.kind in ("number", "name") or self.next.text in ("√", *_CLOSING)  # 2 x, x(y + z)
            sign = "*" if beside else self.next.text
            if _BINDING.get(sign, 0) <= floor:
                return left
            if not beside:
                self.take()
            elif self.next.kind == "number":
                raise Unreadable(f"A sign is missing before the number {shorten(self.next.text)}.")
            elif divided:
                raise Unreadable(
                    f"It is not clear whether {shorten(self.next.text)} is below the division: "
                    "write a/(b*c) or a/b*c, with brackets and signs."
                )
            if sign == "^":
                left = self.power(left, self.expression(_BINDING["^"] - 1, depth + 1))
                continue
            right = self.expression(_BINDING[sign], depth)
            if sign == "/" and right.is_zero:
                raise Unreadable("The formula divides by zero.")
            left = _ARITHMETIC[sign](left, right)
            divided = sign == "/"

    def operand(self, depth: int) -> sp.Expr:
        kind, text = token = self.take()
        if kind == "sign" and text in "+-":
            value = self.expression(_PREFIX, depth + 1)
            return -value if text == "-" else value
        if kind == "number":
            if re.search("[eE](?![+-]0)", text) and {"e", "E"} & {*self.names}:
                raise Unreadable(f"{shorten(text)} could be a power of ten or the name e: write it with a * sign.")
            value = _number(text)
        elif text in _CLOSING:
            self.at -= 1
            (value,) = self.arguments("The bracket", 1, depth)
        elif kind == "name" or text == "√":
            value = self.named(text, depth)
        elif kind == "end":
            raise Unreadable("The formula ends too early: something is missing after its last sign.")
        else:
            raise Unreadable(f"A name or number is expected where {shorten(token.text)} stands.")
        if self.next.text == "°":
            self.take()
            value = value * sp.pi / 180
        return value

    def named(self, word: str, depth: int) -> sp.Expr:
        name = find_name(word, self.names)
        if name is not None:
            return self.names[name]
        if word.lower() == "pi":
            return sp.pi
        function = _OTHER_FUNCTIONS.get(word.lower(), word.lower())
        if function not in _FUNCTIONS:
            raise _unknown(word, self.names)
        exponent = "1"
        if self.next.text == "^":  # sin^2(a)
            self.take()
            kind, exponent = self.take()
            if kind != "number":
                raise Unreadable(
                    f"{word}^{exponent} can be read in two ways: write 1/{function}(...) or a{function}(...)."
                )
        count, build = _FUNCTIONS[function]
        if self.next.text in _CLOSING:
            values = self.arguments(word, count, depth + 4)  # twelve in one another: SymPy takes minutes over forty
        else:
            values = [self.bare_argument(word, depth + 4)]
        if count != len(values):
            raise Unreadable(f"{word} takes {count} values in brackets.")
        made = _bounded(build(*values))
        if build in (sp.asin, sp.acos):
            self.domain[made] = 1 - values[0] ** 2
        elif build is sp.sqrt:
            self.domain[made] = values[0]
        return self.power(made, _number(exponent))

    def power(self, base: sp.Expr, exponent: sp.Expr) -> sp.Expr:
        made = _power(base, exponent)
        if exponent.q > 1:
            self.domain[made] = base
        return made

    def real(self, formula: sp.Expr) -> sp.Expr:
        """A formula, with what its roots and arcs ask for where they no longer stand in it."""
        lost = [e for made, e in self.domain.items() if not (e.is_nonnegative or formula.has(made, sp.sqrt(e)))]
        return Where(formula, *lost) if lost else formula

    def bare_argument(self, word: str, depth: int) -> sp.Expr:
        """The single name or number of `sin a`, where what follows leaves no doubt that it ends there."""
        value = self.operand(depth + 1) if self.next.kind in ("name", "number") and depth < DEEPEST else None
        ends = self.next.kind == "end" or self.next.text in ("+-),]}" + "*/" * (word == "√"))
        if value is None or not (ends or self.next.text.lower() in {*_FUNCTIONS, *_OTHER_FUNCTIONS}):
            raise Unreadable(
                f"It is not clear where the argument of {word} ends: put it in brackets, as in {word}(...)."
            )
        return value

    def arguments(self, word: str, count: int, depth: int) -> list[sp.Expr]:
        opening = self.take().text
        values = [self.expression(0, depth + 1)]
        while self.next.text == ",":
            self.take()
            values.append(self.expression(0, depth + 1))
        if len(values) != count:
            decimal = " (a decimal comma is not read inside a formula)" if count == 1 else ""
            raise Unreadable(f"{word} takes {count} value{'s' * (count > 1)}, and {len(values)} came{decimal}.")
        if self.next.text != _CLOSING[opening]:
            raise Unreadable(f"A bracket {opening} is not closed by {_CLOSING[opening]}.")
        self.take()
        return values


def _rebuilt(node: sp.Basic, names: Names) -> sp.Expr:
    """An expression made anew from allowed parts, its symbols found by name: same name, same symbol."""
    if node in names.values():
        return node
    if isinstance(node, sp.Symbol):
        name = find_name(node.name, names)
        if name is None:
            raise _unknown(node.name, names)
        return names[name]
    if isinstance(node, sp.Float):
        return _rational(float(node))
    if node is sp.pi or isinstance(node, sp.Number) or node in (sp.zoo, sp.I):
        return _bounded(node)
    if isinstance(node, sp.Add | sp.Mul | sp.Pow) or node.func in _SYMPY_FUNCTIONS:
        parts = [_rebuilt(part, names) for part in node.args]
        return _bounded(_power(*parts) if isinstance(node, sp.Pow) else node.func(*parts))
    if isinstance(node, sp.Equality):
        raise Unreadable("An equation came where a formula is expected: give its right-hand side alone.")
    raise Unreadable(f"{shorten(type(node).__name__)} cannot stand in a formula here.")


def _require_small(expression: sp.Basic) -> None:
    """Count the parts before any is made anew: one that is small in memory may be a tree of millions."""
    level, count = [expression], 0
    for _ in range(DEEPEST + 1):
        count += len(level)
        level = [part for node in level for part in node.args] if count <= MOST_NODES else level
        if not level:
            return
    raise Unreadable(f"The expression is too large: {MOST_NODES} parts, {DEEPEST} deep, at most.")


def _rational(value: float) -> sp.Rational:
    """The simplest fraction that a float may stand for: 0.1 is 1/10, 0.333... to its last digit is 1/3."""
    if not math.isfinite(value):
        raise Unreadable("The formula holds a number that is not finite.")
    simple = Fraction(value).limit_denominator(1000)
    return sp.Rational(simple if float(simple) == value else Fraction(repr(value)))


def read_formula(answer: object, names: Names) -> sp.Expr:
    """A formula in the lesson's own symbols, from text, a SymPy expression or a number; else `Unreadable`.

    `names` maps each name of the lesson, and each other spelling of it, to its symbol. Text is typed as on paper: `100 z L/(x h)`, `l − √(l² − z²)`, `2 k sin²(θ)`, `atan2(z, x)`, `sin(30°)`. Functions
    take radians; deg(...) makes degrees of radians, rad(...) the reverse. Decimals are exact: 0.1 is 1/10.

    >>> z, x = sp.symbols("z x", positive=True)
    >>> read_formula("0.5 z/x", {"z": z, "x": x})
    z/(2*x)
    """
    parser = None
    if answer is None or answer is ...:
        raise Blank("Nothing has been answered here yet.")
    if isinstance(answer, str):
        text = clean(answer, LONGEST_FORMULA)
        if not text:
            raise Blank("Nothing has been answered here yet.")
        parser = _Parser(text, names)
        answer = parser.formula()
    elif isinstance(answer, int) and abs(answer) >= 10**MOST_DIGITS:
        raise Unreadable(f"The number is out of range: {MOST_DIGITS} digits at most.")
    elif isinstance(answer, numbers.Real) and not isinstance(answer, bool | sp.Basic):
        answer = _rational(float(answer)) if not isinstance(answer, numbers.Rational) else sp.Rational(str(answer))
    if not isinstance(answer, sp.Basic):
        raise Unreadable(f"A value of type {type(answer).__name__} came where a formula is expected.")
    _require_small(answer)
    if parser is None:
        return _rebuilt(answer, names)
    if any(abs(power.exp) > HIGHEST_POWER for power in answer.atoms(sp.Pow)):
        raise Unreadable(TOO_HIGH)
    return _shared(parser.real(_bounded(answer)))


@lru_cache(maxsize=4096)
def _shared(formula: sp.Expr) -> sp.Expr:
    """The first of equal formulas: what is kept of one is found at once, without comparing them part by part."""
    return formula
