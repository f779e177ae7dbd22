"""Numbers as people write them: read rightly, or refused with a sentence; never read wrongly in silence."""

import math
import re
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
import sympy as sp
from hypothesis import given
from hypothesis import strategies as st

from susgeo.answers.numbers import Blank, Quantity, Unreadable, WrongUnit, read_number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1628.5", 1628.5),
        ("1/3", Fraction(1, 3)),
        ("-1/3", -Fraction(1, 3)),
        ("1,628.5", 1628.5),
        ("12,345,678", 12345678),
        ("1 628", 1628),
        ("1\u00a0628.5", 1628.5),  # no-break space
        ("1\u2009628", 1628),  # thin space
        ("1\u202f628,5", 1628.5),  # narrow no-break space, decimal comma
        ("1'628", 1628),
        ("1_628", 1628),
        ("1.628,5", 1628.5),
        ("307,3", 307.3),
        ("0,5", 0.5),
        ("0,125", 0.125),
        ("1,62", 1.62),
        ("1234,567", 1234.567),
        (".5", 0.5),
        (",5", 0.5),
        ("12.", 12),
        ("+12", 12),
        *((f"{minus}12.5", -12.5) for minus in "-−–—‐‑‒﹣－"),
        ("− 12", -12),
        ("1.6285e3", 1628.5),
        ("1.6285E+3", 1628.5),
        ("1628500e-3", 1628.5),
        ("1.6285e+00003", 1628.5),
        ("1e30", 1e30),
        ("3 1/2", 3.5),
        ("-3 1/2", -3.5),
        ("3½", 3.5),
        ("½", 0.5),
        ("1 628 3/4", 1628.75),
        ("1⁄2", 0.5),
        ("１２．５", 12.5),  # full-width digits
        ("\u200b12.5\ufeff", 12.5),
        ("  12.5\n", 12.5),
        (12, 12),
        (12.5, 12.5),
        (Fraction(1, 3), Fraction(1, 3)),
        (Decimal("12.5"), 12.5),
        (np.float32(12.5), 12.5),
        (np.int64(12), 12),
        (np.array(12.5), 12.5),
        (np.str_("12.5"), 12.5),
        (sp.Rational(1, 3), Fraction(1, 3)),
        (sp.Float("12.5"), 12.5),
        (sp.pi / 2, math.pi / 2),
        (sp.sqrt(2), math.sqrt(2)),
    ],
)
def test_a_number_in_any_dress(text, value):
    quantity = read_number(text).to("mm")
    np.testing.assert_allclose(quantity.value, float(value), rtol=1e-15)
    assert quantity.unit == "mm" and type(quantity.value) is float


# Sizes of the units: the inch is 25.4 mm and the pound 0.45359237 kg by the International Yard and Pound Agreement
# of 1959; the pound-force follows with standard gravity 9.80665 m/s2 (BIPM SI Brochure).
@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12 mm", "mm", 12),
        ("12mm", "mm", 12),
        ("12 MM.", "mm", 12),
        ("0.5 in", "mm", 12.7),
        ('1/2"', "mm", 12.7),
        ("1/2''", "mm", 12.7),
        ("5' 6\"", "mm", 1676.4),  # 66 in
        ("-5 ft 6 1/2 in", "in", -66.5),
        ("3 1/2 inches", "mm", 88.9),
        ("3½″", "mm", 88.9),
        ("12.7 mm", "in", 0.5),
        ("1.2 m", "mm", 1200),
        ("3 cm", "mm", 30),
        ("30°", "deg", 30),
        ("30 degrees", "deg", 30),
        ("1 rad", "deg", 180 / math.pi),
        ("180 deg", "rad", math.pi),
        ("85 %", "%", 85),
        ("85 percent", "", 0.85),
        ("0.85", "%", 0.85),
        ("0.85 plain", "%", 85),
        ("0.85", "", 0.85),
        ("0.06 mm/mm", "", 0.06),
        ("0.06 deg/deg", "%", 6),
        ("2 kN", "N", 2000),
        ("10 lbf", "N", 10 * 0.45359237 * 9.80665),
        ("10 lb", "kg", 4.5359237),
        ("30 N/mm", "N/mm", 30),
        ("30 kN/m", "N/mm", 30),
        ("3 N m", "N mm", 3000),
        ("3 N·m", "N*mm", 3000),
        ("0.18 deg/mm", "rad/mm", 0.18 * math.pi / 180),
        ("1 deg per mm", "rad/mm", math.pi / 180),
    ],
)
def test_units_of_the_same_kind_are_converted(text, unit, value):
    quantity = read_number(text).to(unit)
    np.testing.assert_allclose(quantity.value, value, rtol=1e-14)
    assert quantity.unit == unit


def test_what_was_decided_in_reading_is_said():
    assert read_number("1,628").to("mm").note == "The comma in 1,628 was read as marking thousands: 1628."
    assert read_number("307,3").to("mm").note == "The comma in 307,3 was read as a decimal comma: 307.3."
    assert read_number("0,5 in").to("mm").note == (
        "The comma in 0,5 was read as a decimal comma: 0.5. 0.5 in was read as 12.7 mm."
    )
    assert read_number("12").to("mm").note == read_number("1628.5 mm").to("mm").note == ""


@pytest.mark.parametrize("value", [None, ..., "", "   ", "\n\t", "\u200b"])
def test_blank_is_told_apart(value):
    with pytest.raises(Blank, match="Nothing has been answered"):
        read_number(value).to("mm")


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("12 deg", "mm", "12 deg is an angle, but a length is asked for: answer in mm"),
        ("12 mm", "deg", "12 mm is a length, but an angle is asked for: answer in deg"),
        ("12 %", "mm", "plain number or percentage, but a length"),
        ("12 rad", "", "12 rad is an angle, but a plain number or percentage is asked for: answer as a plain"),
        ("12 N", "kg", "12 N is a force, but a mass"),
        ("12 mm", "rad/mm", "12 mm is a length, but a quantity in rad/mm is asked for: answer in rad/mm"),
        ("12 N/mm", "N", "12 N/mm is a quantity in N/mm, but a force"),
        ("12 N mm", "N/mm", "a quantity in N mm, but a quantity in N/mm"),
    ],
)
def test_a_unit_of_another_kind_is_recognized(text, unit, message):
    with pytest.raises(WrongUnit, match=re.escape(message)):
        read_number(text).to(unit)


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("hello", "does not start with a number"),
        ("about 12", "does not start with a number"),
        ("(12)", "does not start with a number"),
        ("--3", "does not start with a number"),
        ("z = 12", "holds an equals sign"),
        ("12 foo", "'foo' after the number is no unit that is known here (mm, cm, m, ft, in, deg,"),
        ("10²", "'²' after the number is no unit"),
        ("12 mm/", "no unit"),
        ("5 - 3", "more than one number"),
        ("5' 6\" 7", "more than one number"),
        ("12 mm 3", "more than one number"),
        ("12 34", "cannot be read as one number"),
        ("1.2.3", "cannot be read as one number"),
        ("1,62,3", "cannot be read as one number"),
        ("1 62 8", "cannot be read as one number"),
        ("½ 3", "cannot be read as one number"),
        ("1 500/600", "can be read in two ways"),
        ("1 628/2", "can be read in two ways"),
        ("3 4/2", "can be read in two ways"),
        ("1/0", "divides by zero"),
        ("inf", "not a finite number"),
        ("-∞", "not a finite number"),
        ("NaN", "not a finite number"),
        ("1e31", "out of range: 30 at most"),
        ("1e999999999", "power of ten"),
        ("1e-31", "power of ten"),
        ("1" * 10_000_000, "10,000,000 characters long"),
        ("12\x00", "invisible character, a control character (U+0000)"),
        ("12\u202e3", "invisible character, right-to-left override (U+202E)"),
        ("1\u200f2", "invisible character, right-to-left mark (U+200F)"),
        ("12\ud800", "invisible character"),
        ("😀", "does not start with a number"),
        ("12 😀", "no unit"),
        ("__import__('os')", "does not start with a number"),
        ("9**9**9", "more than one number"),
        (math.inf, "not a finite real one"),
        (math.nan, "not a finite real one"),
        (np.float64("nan"), "not a finite real one"),
        (Decimal("NaN"), "not a finite real one"),
        (Decimal("sNaN"), "not a finite real one"),
        (Decimal("1e400"), "not a finite real one"),
        (10**400, "far too large"),
        (sp.nan, "not a finite real one"),
        (sp.zoo, "not a finite real one"),
        (sp.I, "not a finite real one"),
        (sp.Symbol("x"), "A formula came"),
        (True, "True is a truth value"),
        (np.True_, "True is a truth value"),
        (sp.true, "BooleanTrue"),
        (1j, "type complex"),
        (np.complex128(1), "type complex"),
        (np.array([12.0]), "table or array"),
        ([12], "type list"),
        (b"12", "type bytes"),
        (object(), "type object"),
    ],
)
def test_what_is_no_number_is_refused_with_one_sentence(value, message):
    with pytest.raises(Unreadable, match=re.escape(message)) as caught:
        read_number(value).to("mm")
    assert not isinstance(caught.value, (Blank, WrongUnit))
    assert len(str(caught.value)) < 250 and "\n" not in str(caught.value)


@given(st.text(max_size=120) | st.text(alphabet="0123456789.,-−+/ e°%½'\"mindegra²", max_size=30))
def test_any_text_gives_a_finite_number_or_a_sentence(text):
    try:
        quantity = read_number(text).to("mm")
    except Unreadable as error:
        assert str(error).endswith(".")
    else:
        assert math.isfinite(quantity.value) and any(c.isdigit() or c.isnumeric() for c in text)


@given(st.fractions(min_value=-(10**9), max_value=10**9, max_denominator=10**6), st.integers(0, 3))
def test_a_number_survives_being_written(number, style):
    shown = f"{float(number):,.4f}"
    text = [shown, shown.replace(",", " "), shown.replace(",", "").replace("-", "−"), f"{float(number):.12e}"][style]
    np.testing.assert_allclose(read_number(text).value, float(number), rtol=1e-11, atol=0.00006)


def test_an_unknown_unit_is_the_authors_error_and_not_the_students():
    with pytest.raises(ValueError, match="'furlong'") as caught:
        read_number("12").to("furlong")
    assert not isinstance(caught.value, Unreadable)


def test_a_quantity_prints_as_one_would_write_it():
    assert str(Quantity(12.5, "mm")) == "12.5 mm" and str(Quantity(12.5, None)) == "12.5"


def test_units_to_a_power():
    """An area moment of a tube is in mm^4: 1 cm^4 is 10 000 of them (SI)."""
    for text in ("49000 mm^2", "49000 mm²", "490 cm^2", "0.049 m**2", "49000 mm*mm", "4.9e4 mm ^ 2"):
        assert read_number(text).to("mm^2").value == pytest.approx(49000, rel=1e-12)
    assert read_number("1.5 cm^4").to("mm^4").value == pytest.approx(15000, rel=1e-12)
    for text in ("49000 mm", "49000 mm^3"):
        with pytest.raises(WrongUnit):
            read_number(text).to("mm^2")
    for text in ("49000 mm^22", "490 2", "3 mm 2", "49000 ^2"):
        with pytest.raises(Unreadable):
            read_number(text).to("mm^2")


@pytest.mark.parametrize(
    ("text", "worth"),
    [
        ("1782.60 mm", 0.01), ("1,782.6", 0.1), ("1 782", 1), ("29695000", 1000), ("-1.5e3", 100), ("0.00", 0.01),
        ("0", 0), ("1/3", 0), ("3½ in", 0), ("5' 11.5\"", 0.1), ("3°30'", 1 / 60), ("3°30'10\"", 1 / 3600),
    ],
)  # fmt: skip
def test_a_number_knows_what_its_last_digit_is_worth(text, worth):
    """By the rule of significant digits: each text has its last digit in the place that stands beside it."""
    assert read_number(text).digit == pytest.approx(worth, abs=1e-15)


def test_the_last_digit_goes_with_the_unit():
    assert read_number("1.5 in").to("mm").digit == pytest.approx(2.54)
