"""Equality against what others published: nothing equal is called different, and nearly nothing is left undecided."""

from collections import Counter

import pytest
import sympy as sp

from answers.published import PHYSICS, STACK, names_in, of_sympy
from susgeo.answers.equality import Different, Same, Undecided, compare
from susgeo.answers.formula import Unreadable, read_formula
from susgeo.answers.trial import scatter


def judged(one, other, low=0.1, high=1.4, ranges=None):
    """What is said of two texts whose symbols are positive; by default as wide as an acute angle."""
    names = {name: sp.Symbol(name, positive=True) for name in names_in(f"{one} {other}") - {"pi"}}
    student, truth = (read_formula(text, names) for text in (one, other))
    return compare(student, truth, lambda: scatter(dict.fromkeys(names, (low, high))), ranges)


@pytest.mark.parametrize(("target", "answer"), PHYSICS)
def test_what_a_physics_course_took_as_right_is_proved(target, answer):
    acute = dict.fromkeys(("theta", "phi"), (0, 1.57))
    assert isinstance(judged(answer, target, ranges=acute), Same)


@pytest.mark.parametrize(("one", "other", "equal"), STACK)
def test_the_verdicts_of_another_checker_of_algebra(one, other, equal):
    assert isinstance(judged(one, other), Same if equal else Different)


def test_what_the_tests_of_sympy_assert_to_be_equal_is_proved():
    """SymPy's symbols may be complex, ours are positive: what holds there holds here, where both sides have a value."""
    said, undecided = Counter(), []
    for path, line, one, other in of_sympy():
        try:
            verdict = judged(one, other)
        except Unreadable:  # a function that is none of ours
            continue
        assert not isinstance(verdict, Different), (path, line, one, other)
        said[type(verdict)] += 1
        if isinstance(verdict, Undecided):
            undecided.append((path, line, one, other))
    assert said[Same] >= 120 and len(undecided) <= 0.02 * said[Same], undecided
