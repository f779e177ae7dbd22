"""The way on from a choice that is not right yet: what the sentence says is tried on the car itself."""

import os
import random
import re

import pytest

from susgeo.answers import Lesson
from susgeo.answers.calculation import library
from susgeo.answers.check import check
from susgeo.answers.choices import one_way, outcomes

CHOICES = [key for key, task in library()[1].items() if task.kind == "choice"]
STUDENTS = ["", *map(str, range(int(os.environ.get("SUSGEO_STUDENTS", "20"))))]
"""Twenty students in every test run, more by hand; and how many choices each types."""
TYPED = int(os.environ.get("SUSGEO_CHOICES", "2"))
WAY = re.compile(r"([a-zA-Z]\w*) (?:as far |([\d.e-]+) times as far )?(forward|rearward|outward|inward|up|down)")
PLUS = ("forward", "outward", "up")  # ISO 8855: x forward, z up; y of the left side, so that more of it is outward


def typed(task, right, stream):
    """A right choice of which some brackets are moved elsewhere: of its wishes some are met, others missed."""
    there = dict(right)
    share = stream.choice((0.01, 0.1, 0.3, 1))
    for name in stream.sample(list(there), stream.randint(1, len(there))):
        _, low, high = task.move[name]
        value = there[name] + share * (stream.uniform(low, high) - there[name])
        there[name] = round(stream.choice((value, value, value, low, high)), 1)
    return there


def off(task, car, there):
    """How far off each wish is, and whether it is met; a point where lines meet, by its reciprocal: it goes from
    ahead to behind by way of infinity (join of two parallel lines, homogeneous coordinates)."""

    def far(one):
        return abs(1 / one.value - 1 / one.wanted) if one.name.endswith(" x") else abs(one.value - one.wanted)

    return {one.name: (far(one), one.met) for one in outcomes(task, car, there)}


@pytest.mark.parametrize("key", CHOICES)
def test_the_way_that_is_told_leads_nearer_and_breaks_nothing_that_is_met(key):
    task, stream = library()[1][key], random.Random(key)
    told = mixed = silent = 0
    for student in STUDENTS:
        car = Lesson(key[:2], student or "club").car(task.car)
        right = {
            name: float(value) for name, value in re.findall(r"(\w+) = ([-\d.]+)", one_way(task, car).lines[-1][0])
        }
        for _ in range(TYPED):
            there = typed(task, right, stream)
            verdict = check(task, there, car)
            if verdict.kind == "right" or "axle does not work" in str(verdict) or "has no" in str(verdict):
                continue
            before = off(task, car, there)
            missed = {name for name, (_, met) in before.items() if not met}
            said = verdict.sentences[-1]
            at = (key, student, there, said, before)
            if not re.match(r"Move |For .*, move ", said):
                assert said.endswith((": met.", ": missed.")), at
                silent += 1
                continue
            told, mixed = told + 1, mixed + (len(missed) < len(before))
            steps = {n: (1 if way in PLUS else -1) * float(far or 1) for n, far, way in WAY.findall(said)}
            assert steps and set(steps) <= set(task.move), at
            wished = missed if said.startswith("Move") else {re.match(r"For (.*), move", said)[1]}
            assert wished <= missed, at
            nearer = set()
            for moved in [steps] if "together" in said else [{name: step} for name, step in steps.items()]:
                for name, step in moved.items():  # not beyond where the bracket ends
                    _, low, high = task.move[name]
                    assert there[name] < high if step > 0 else there[name] > low, at
                after = off(task, car, {**there, **{n: there[n] + 0.25 * step for n, step in moved.items()}})
                better = {name for name in missed if after[name][0] < before[name][0]}
                assert better, at  # each bracket that is named brings something nearer
                assert all(after[name][1] for name, (_, met) in before.items() if met), at
                nearer |= better
            assert wished <= nearer, at
    assert told > 9 * silent and (mixed or len(task.want) == 1), (told, mixed, silent)
