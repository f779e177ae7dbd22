"""What is typed gets the verdict that the list says, and the page of the list is current."""

import pytest

from answers.forms import BY_HAND, NUMBERS, PAGE, RIGHT, WORKINGS, WRONG, formulas, page, said_of


@pytest.mark.parametrize(
    "table", [NUMBERS, formulas(RIGHT, "right"), formulas(WRONG, "wrong")], ids=["numbers", "right", "wrong"]
)
def test_numbers_and_formulas(table):
    for typed, words, due, verdict in said_of(table):
        assert verdict.kind == due and words in str(verdict), (typed, str(verdict))


@pytest.mark.parametrize("table", [WORKINGS, BY_HAND], ids=["workings", "by hand"])
def test_lines_are_worth_what_they_lead_to(table):
    """A right number earns half; lines and arithmetic count where each number in them has a source."""
    for typed, words, due, verdict in said_of(table):
        assert verdict.credit == due and words in str(verdict), (typed, str(verdict))
        assert (verdict.kind == "right") == (
            due == 1 or due == 0.5 and table is BY_HAND and "Line 1" not in str(verdict)
        ), typed


def test_the_page_is_made_from_this_list():
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python tests/answers/forms.py"
