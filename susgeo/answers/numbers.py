"""Reads one number with its unit, however it was written, or says in one sentence why it cannot be read."""

import math
import numbers
import re
import unicodedata
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any

from susgeo.errors import SusgeoError

from ..files import legible
from .paper import last_digit

LONGEST_NUMBER = 100  # characters
LARGEST_POWER = 30  # of ten


class Unreadable(SusgeoError):
    """The answer cannot be read; the message is one sentence for the student."""


class Blank(Unreadable):
    """Nothing was answered yet."""


class WrongUnit(Unreadable):
    """A readable number in a unit of another kind, such as degrees where a length is expected."""


_RATIO = "a plain number or percentage"
_TABLE = [  # kind, size in the first unit of that kind, name and other spellings
    ("a length", 1.0, "mm millimeter millimeters millimetre millimetres"),
    ("a length", 10.0, "cm"),
    ("a length", 1000.0, "m meter meters metre metres"),
    ("a length", 304.8, "ft foot feet"),
    ("a length", 25.4, "in inch inches \" '' ″ ”"),
    ("an angle", 1.0, "deg degree degrees ° º ˚"),
    ("an angle", 180 / math.pi, "rad radian radians"),
    (_RATIO, 1.0, "plain"),
    (_RATIO, 0.01, "% percent"),
    ("a force", 1.0, "N newton newtons"),
    ("a force", 1000.0, "kN"),
    ("a force", 4.4482216152605, "lbf"),
    ("a mass", 1.0, "kg"),
    ("a mass", 0.45359237, "lb lbs"),
    ("a length", 0.001, "µm μm"),
]
_UNITS = {name: (kind, size) for kind, size, names in _TABLE for name in names.split()} | {"": (_RATIO, 1.0)}

_MINUS = "−–—‐‑‒―﹣˗➖"  # every sign that people type or paste for a minus
_INVISIBLE = "\u200b\u200e\u2060\ufeff"  # left by copying from a page; dropping them changes nothing that is seen
_PLAIN: dict[int, Any] = {c + 0xFEE0: c for c in range(ord("!"), ord("~") + 1)}  # from the full-width forms of ASCII
_PLAIN |= str.maketrans(dict.fromkeys(_MINUS, "-")) | dict.fromkeys(map(ord, _INVISIBLE))
_DECIMAL = r"(?:\d+(?:[.,'’_ ]\d+)*\.?|[.,]\d+)"
_NUMBER = re.compile(rf"([+-]?) ?({_DECIMAL})(?:[eE]([+-]?\d+))?(?: ?/ ?({_DECIMAL}))?(.*)", re.ASCII)

_MINUTES = re.compile(
    r"([+-]?) ?(\d{1,3}) ?(?:°|º|˚|deg|degrees) ?(\d{1,2}(?:\.\d+)?) ?(?:'|′|’|min|minutes)?"
    r"(?: ?(\d{1,2}(?:\.\d+)?) ?(?:\"|″|”|''|′′|sec|seconds))?",
    re.ASCII,
)

_FEET = re.compile(
    r"([+-]?) ?(\d{1,3}) ?(?:'|′|’|ft\.?|feet|foot) ?-? ?(\d[^'′’a-z]*(?:\"|″|”|''|′′|in\.?|inch|inches))", re.ASCII
)
"""Feet and inches: 5' 11 3/4"."""


def clean(text: str, longest: int) -> str:
    """Text with every kind of space, minus and full-width letter made plain; refuses what cannot be seen."""
    if len(text) > longest:
        raise Unreadable(f"The answer is {len(text):,} characters long, and at most {longest:,} are read.")
    plain = text.translate(_PLAIN)
    for c in "" if plain.isprintable() else plain:
        if c not in "\t\r\n" and unicodedata.category(c)[0] == "C":
            name = unicodedata.name(c, "a control character").lower()
            raise Unreadable(f"The answer holds an invisible character, {name} (U+{ord(c):04X}): retype it by hand.")
    return " ".join(plain.split())


def shorten(text: str) -> str:
    """Text in quotation marks, cut to a length that fits a sentence; what cannot be seen shows as a box."""
    seen = legible(text, 31)
    return "'" + (seen if len(text) <= 30 else seen[:29] + "…") + "'"


_POWER = re.compile(r"([A-Za-z]+) ?(?:(?:\^|\*\*) ?([234])|([²³⁴]))")


def has_unit(text: str) -> bool:
    """Tell whether a text begins with a number and a unit, as what is meant for one does."""
    found = re.match(r"[-+]? ?[\d.,]+ ?([^\W\d]+|[°%])(?![\w*/^])", text)
    return bool(found and _unit(found[1]))


def _products(unit: str) -> str:
    """Write powers of units as products: mm^2 as mm*mm."""
    return _POWER.sub(
        lambda found: "*".join([found[1]] * (int(found[2]) if found[2] else "²³⁴".index(found[3]) + 2)), unit
    )


@lru_cache(maxsize=1024)
def _unit(text: str) -> tuple[dict[str, int], float] | None:
    """Kind and size of a unit such as 'mm', 'rad/mm', 'N mm'; None for a word that is no unit."""
    powers: dict[str, int] = {}
    size, sign = 1.0, 1
    for part in re.split(r" ?([/*·]| per ) ?|(?<=N) ?(?=m)", _products(text)):
        if part in ("/", " per "):
            sign = -1
        elif part not in (None, "*", "·"):
            part = part.rstrip(".")
            name = part if part in _UNITS else part.lower()
            if name not in _UNITS or (text and not part):
                return None
            kind, factor = _UNITS[name]
            size *= factor**sign
            powers[kind] = powers.get(kind, 0) + sign
    return {kind: power for kind, power in powers.items() if power and kind != _RATIO}, size


def _describe(unit: str, powers: dict[str, int]) -> str:
    """What is measured in a unit, as words in a sentence."""
    return next(iter(powers), _RATIO) if list(powers.values()) in ([], [1]) else f"a quantity in {unit}"


@dataclass(frozen=True)
class Quantity:
    """A number in a unit (None: none was written); `note` says what was decided in reading it.

    Its `digit` is what the last digit is worth as it was written, where trailing zeros count; 0 where it is exact.
    """

    value: float
    unit: str | None
    note: str = ""
    digit: float = field(default=0.0, repr=False, compare=False)

    def to(self, unit: str) -> "Quantity":
        """The same quantity in another unit; a bare number is taken to be in that unit already.

        >>> Quantity(0.5, "in").to("mm").value
        12.7
        """
        wanted, given = _unit(unit), _unit(unit if self.unit is None else self.unit)
        if wanted is None and given and self.unit:  # Hz, N/g: what only a way on paper has is never converted
            raise WrongUnit(f"{self} is {_describe(self.unit, given[0])}, but the answer is in {unit}.")
        if wanted is None or given is None:
            raise ValueError(f"{unit!r} or {self.unit!r} is no unit that susgeo knows.")
        if given[0] != wanted[0]:
            mend = f"in {unit}" if unit else "as a plain number"
            kinds = _describe(str(self.unit), given[0]), _describe(unit, wanted[0])
            raise WrongUnit(f"{self} is {kinds[0]}, but {kinds[1]} is asked for: answer {mend}.")
        if given[1] == wanted[1]:
            return replace(self, unit=unit)
        converted = Quantity(self.value * given[1] / wanted[1], unit, digit=self.digit * given[1] / wanted[1])
        return replace(converted, note=f"{self.note} {self} was read as {converted}.".strip())

    def value_in(self, unit: str) -> float:
        """Return the number in a unit, which may be one that nothing is converted to if the quantity has none."""
        return self.value if self.unit is None else self.to(unit).value

    def __str__(self) -> str:
        return f"{self.value:.10g} {self.unit or ''}".strip()


def _decimal(text: str) -> tuple[str, str] | None:
    """A number written with points, commas or spaces in plain digits, and what was decided; None if it is none."""
    if re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+(\.\d+)?", text):
        digits = text.replace(",", "")
        return digits, f"The comma in {text} was read as marking thousands: {digits}."
    if re.fullmatch(r"[1-9]\d{0,2}([ '’_])\d{3}(\1\d{3})*([.,]\d+)?", text):
        digits = re.sub("[ '’_]", "", text)
    elif re.fullmatch(r"[1-9]\d{0,2}(\.\d{3})+,\d+", text):
        digits = text.replace(".", "")
    else:
        digits = text.removesuffix(".")
    if not re.fullmatch(r"\d+|\d*[.,]\d+", digits):
        return None
    digits = digits.replace(",", ".")
    return digits, f"The comma in {text} was read as a decimal comma: {digits}." if "," in text else ""


@lru_cache(maxsize=4096)
def _read_text(text: str) -> Quantity:
    text = clean(text, LONGEST_NUMBER)
    if not text:
        raise Blank("Nothing has been answered here yet.")
    text = re.sub("[¼-¾⅐-⅟↉]", lambda one: " " + unicodedata.normalize("NFKC", one[0]), text)  # 3½ is 3 1/2, not 31/2
    text = " ".join(text.replace("⁄", "/").split())
    text = re.sub(r"^(\d+)-(\d+/\d+ ?(?:\"|″|in\b))", r"\1 \2", text)  # 70-3/16", as on a tape
    quoted = shorten(text)
    if re.match(r"[+-]? ?(inf|infinity|nan|∞)(\W|$)", text, re.IGNORECASE):
        raise Unreadable(f"{quoted} is not a finite number, and a finite one is expected.")
    if "=" in text:
        raise Unreadable(f"{quoted} holds an equals sign: give the value alone.")
    if parts_of_a_turn := _MINUTES.fullmatch(text):
        sign, degrees, minutes, seconds = parts_of_a_turn.groups()
        value = int(degrees) + float(minutes) / 60 + float(seconds or 0) / 3600
        note, digit = f"{text} was read as {value:.6g} degrees.", 1 / 3600 if seconds else 1 / 60
        return Quantity(-value if sign == "-" else value, "deg", note, digit)
    if feet := _FEET.fullmatch(text):
        inches = _read_text(feet[3])
        value = 12 * int(feet[2]) + inches.value
        note = f"{text} was read as {value:.6g} inches."
        return Quantity(-value if feet[1] == "-" else value, "in", note, inches.digit)
    match = _NUMBER.fullmatch(text)
    if not match:
        raise Unreadable(f"{quoted} does not start with a number: write something like 12.5 mm or 1/3.")
    sign, top, exponent, bottom, unit = match.groups()
    unit = re.sub(r"^ ?[\[(](.*)[\])]$", r"\1", unit)  # as a page writes it: [mm]
    whole = "0"
    if bottom and " " in top:  # a mixed number, 3 1/2; but 1 500/600 could be 1500/600
        whole, top = top.rsplit(" ", 1)
        if len(top) > 2 or not (top + bottom).isdigit() or int(top) >= int(bottom):
            raise Unreadable(f"{quoted} can be read in two ways: write it as a decimal number.")
    parts = [part for part in map(_decimal, (whole, top, bottom or "1")) if part]
    if re.search(r"\d", _products(unit)):
        raise Unreadable(f"{quoted} holds more than one number: give one, with its unit.")
    if len(parts) < 3:
        raise Unreadable(f"The digits in {quoted} cannot be read as one number: write it like 1628.5.")
    unit = unit.strip()
    if unit and _unit(unit) is None:
        known = ", ".join(names.split()[0] for _, _, names in _TABLE)
        raise Unreadable(f"{shorten(unit)} after the number is no unit that is known here ({known}).")
    if exponent and abs(int(exponent)) > LARGEST_POWER:
        raise Unreadable(f"The power of ten in {quoted} is out of range: {LARGEST_POWER} at most.")
    units, upper, lower = (Fraction(part[0]) for part in parts)
    if not lower:
        raise Unreadable(f"{quoted} divides by zero.")
    value = float(units + upper / lower * Fraction(f"1e{exponent or 0}"))
    notes = " ".join(note for _, note in parts if note)
    digit = 0.0 if bottom or top == "0" else last_digit(f"{parts[1][0]}e{exponent or 0}")
    return Quantity(-value if sign == "-" else value, unit or None, notes, digit)


def read_number(value: object) -> Quantity:
    """A number as written, with its unit if one was written.

    Takes any real number type (Fraction, Decimal, NumPy scalar or 0-d array, SymPy number) or text such as
    `1,628.5`, `1 628`, `−3 1/2 in`, `1.6285e3 mm`, `12°`. Raises `Blank` for nothing, else `Unreadable`.

    >>> read_number("3 1/2 in")
    Quantity(value=3.5, unit='in', note='')
    >>> read_number("307,3").note
    'The comma in 307,3 was read as a decimal comma: 307.3.'
    """
    if value is None or value is ...:
        raise Blank("Nothing has been answered here yet.")
    if isinstance(value, str):
        return _read_text(value)
    shape = getattr(value, "shape", None)
    if shape == () and hasattr(value, "item"):  # NumPy scalars and 0-d arrays
        value = value.item()
    elif shape is not None:
        raise Unreadable("A table or array came where one number is expected.")
    if isinstance(value, bool):
        raise Unreadable(f"{value} is a truth value, not a number.")
    if getattr(value, "free_symbols", None):  # SymPy, recognized without importing it
        raise Unreadable("A formula came where a number is expected: put the figures in.")
    if not isinstance(value, numbers.Real | Decimal) and not getattr(value, "is_number", False):
        raise Unreadable(f"A value of type {type(value).__name__} came where a real number is expected.")
    try:
        number = float(value)  # type: ignore[arg-type]
    except (OverflowError, TypeError, ValueError):  # too large, complex or a signaling nan
        number = math.nan
    if not math.isfinite(number):
        raise Unreadable("The number is not a finite real one, or far too large.")
    return Quantity(number, None, digit=last_digit(f"{number:.12g}") if number else 0.0)
