"""Numbers and tables: what is written, character by character (a doctest would let digits pass)."""

import math

import pytest

from susgeo.tables import Table, html_rows, shown


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        *((307.308, "mm", "307.3"), (-0.04, "mm", "0.0"), (-0.0, "mm", "0.0"), (-0.06, "mm", "-0.1")),
        *((12.1, "in", "12.10"), (1.2345, "deg", "1.23"), (0.05, "furlong", "0.050"), (-0.4, "N", "0")),
        *((5.0, "-", "5"), (5.5, "-", "5.500"), (math.inf, "mm", "infinite"), (-math.inf, "mm", "-infinite")),
        (math.nan, "mm", "none"),
    ],
)
def test_a_number_has_honest_digits_and_no_minus_before_a_zero(value, unit, text):
    assert shown(value, unit) == text


def test_numbers_stand_flush_right_and_words_flush_left():
    table = Table(("what", "mm"), (("height", "307.3"), ("far", "-infinite")), "a note")
    assert str(table) == "what           mm\nheight      307.3\nfar     -infinite\na note"
    page = table._repr_mimebundle_()["text/html"]
    assert page.count("text-align: right") == page.count("text-align: left") == 3
    missed = Table(("what", "deg"), (("camber", "! 0.35"), ("toe", "-0.02")))
    assert str(missed) == "what       deg\ncamber  ! 0.35\ntoe      -0.02"


def test_what_stands_in_a_row_is_text_and_no_markup():
    assert "&lt;b&gt;" in html_rows([["<b>", "x"]])
    assert html_rows([["a"], ["b"]]).count("<tr>") == 2
