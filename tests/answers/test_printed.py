"""No number that a lesson prints is an answer to one of its tasks, for whoever reads it."""

import os

import pytest

from answers.printed import lessons, numbers_in
from susgeo.answers import Lesson
from susgeo.answers.calculation import library
from susgeo.answers.record import ANYBODY
from susgeo.answers.variant import printed

TASKS = library()[1]
READERS = [str(number) for number in range(int(os.environ.get("SUSGEO_STUDENTS", "6")))]
ASKED = [key for key, task in TASKS.items() if task.kind in ("number", "working")]
"""Not the others: a formula takes no figure, and of a choice any place is right that brings the car where it should be."""


@pytest.mark.parametrize("key", ASKED)
def test_no_printed_number_is_an_answer(key):
    """Whoever they are, no number printed since the figures were dealt; for two of them every other one, too."""
    numbers = numbers_in(lessons()[key[:2]])
    assert len(numbers) > 30
    for reader in (ANYBODY, "kim", *READERS):
        lesson = Lesson(key[:2], reader)
        since = numbers.difference(printed()[key[:2]]) if reader in READERS else numbers
        right = [one for one in since if lesson.check(key, f"{one:.12g}", keep=False).credit]
        assert right == [], f"{reader}: {right} stand in the lesson; change its text, or write the list anew"


def test_what_is_an_answer_would_be_found():
    """The club's own figures are those of the text: there many a printed number is right."""
    found = 0
    for key in ("01.1", "02.1", "06.2", "13.1"):
        found += any(Lesson(key[:2], "club").check(key, str(one), keep=False) for one in numbers_in(lessons()[key[:2]]))
    assert found >= 3
