"""The way on from a choice that is not right yet: what the sentence says is tried on the car itself."""

import os
import random
import re
from dataclasses import replace

import pytest

from susgeo.answers import Lesson
from susgeo.answers.calculation import library
from susgeo.answers.check import check
from susgeo.answers.choices import next_step, one_way, outcomes
from susgeo.answers.figures import figures

CHOICES = [key for key, task in library()[1].items() if task.kind == "choice"]
STUDENTS = ["", *map(str, range(int(os.environ.get("SUSGEO_STUDENTS", "7"))))]
"""Seven students in every test run, more by hand; and how many choices each types."""
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
    told = mixed = 0
    for student in STUDENTS:
        car = Lesson(key[:2], student or "club").car(task.car)
        right = {
            name: float(value) for name, value in re.findall(r"(\w+) = ([-\d.]+)", one_way(task, car).lines[-1][0])
        }
        for _ in range(TYPED if mixed or student != STUDENTS[-1] else 60):  # until one wish is met and another missed
            there = typed(task, right, stream)
            verdict = check(task, there, car)
            if verdict.kind == "right" or "axle does not work" in str(verdict) or "has no" in str(verdict):
                continue
            before = off(task, car, there)
            missed = {name for name, (_, met) in before.items() if not met}
            said = verdict.sentences[-1]
            at = (key, student, there, said, before)
            assert re.match(r"Move |For .*, move ", said), at  # there is always a way on
            told, mixed = told + 1, mixed + (len(missed) < len(before))
            steps = steps_of(said)
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
                assert "takes from" in said or all(after[name][1] for name, (_, met) in before.items() if met), at
                nearer |= better
            assert wished <= nearer, at
    assert told and (mixed or len(task.want) == 1), (told, mixed)


def steps_of(said):
    """What a verdict's sentence says to move: each symbol with its sign and its share, the first one's being one."""
    return {n: (1 if way in PLUS else -1) * float(far or 1) for n, far, way in WAY.findall(said)}


def follow(task, car, there):
    """The verdicts that one gets who does what the last sentence says: 16 mm at first, half as far where it turns round."""
    there, sizes, signs, said = dict(there), dict.fromkeys(there, 16.0), {}, []
    while len(said) <= 25:
        verdict = check(task, there, car)
        said.append((dict(there), verdict.sentences[-1]))
        if verdict.kind == "right":
            return said
        steps = steps_of(said[-1][1]) if re.match(r"Move |For .*, move ", said[-1][1]) else {}
        assert steps, said[-3:]
        for name, step in steps.items():
            sizes[name] /= 2 if signs.get(name, 0) * step < 0 else 1
            signs[name] = step
        for name, step in steps.items():
            _, low, high = task.move[name]
            size = sizes[next(iter(steps)) if "together" in said[-1][1] else name]
            there[name] = round(min(max(there[name] + size * step, low), high), 1)
    return [*said, "not there yet"]


@pytest.mark.parametrize("key", CHOICES)
def test_who_does_what_each_verdict_says_arrives(key):
    """From the car as it is, from the middle of each bracket, and from anywhere in them."""
    task, stream = library()[1][key], random.Random(key)
    for student in ("", "club"):
        car = Lesson(key[:2], student).car(task.car)
        measured = figures(car)
        starts = [
            {name: min(max(float(measured[name].value), low), high) for name, (_, low, high) in task.move.items()},
            {name: (low + high) / 2 for name, (_, low, high) in task.move.items()},
            *({name: round(stream.uniform(low, high)) for name, (_, low, high) in task.move.items()} for _ in range(TYPED)),
        ]  # fmt: skip
        for start in starts:
            way = follow(task, car, start)
            assert len(way) <= 26, (key, student, way[-4:])


def test_a_reader_who_went_round_in_a_circle_arrives():
    """Tries and targets of a reader: the last of 13.8, and that of 13.9, once had no way on."""
    car, side = Lesson("13", "").car("club_coupe"), {"rear side-view instant center x [mm]": (1350, 200)}
    steer = {"rear roll steer [deg/deg]": (-0.03, 0.02)}
    task = replace(library()[1]["13.8"], want={"rear anti-squat [%]": (54, 5), **side, **steer})
    for tried in ((179, 189, 422), (184, 189, 417), (190, 189, 415), (192, 189, 413)):
        assert len(follow(task, car, dict(zip(("z_LA", "z_LC", "z_UC"), tried, strict=True)))) <= 26, tried
    task = library()[1]["13.9"]
    task = replace(task, want={**task.want, "rear anti-squat [%]": (56, 5), **side})
    rest = {"z_BA": 304, "z_BC": 304, "z_J": 159, "z_TA": 241.7}
    assert len(follow(task, car, {"z_LA": 179, "z_LC": 189, "z_UC": 422, **rest})) <= 26


def test_where_wishes_do_not_fit_together_the_verdict_says_what_to_give_up():
    want = {"rear anti-squat [%]": (54, 1), "rear side-view instant center x [mm]": (1350, 20)}
    task = replace(library()[1]["13.8"], want={**want, "rear roll steer [deg/deg]": (-0.02, 0.002)})
    car = Lesson("13", "club").car(task.car)
    *way, last = follow(task, car, {"z_LA": 179, "z_LC": 189, "z_UC": 422})
    told = [(there, said) for there, said in way if "takes from" in said]
    assert last == "not there yet" and told  # z_LA would have to stand below its bracket
    for there, said in told:
        wish, cost = re.match(r"For (.*), move .* This takes from (.*): bring that back afterward\.", said).groups()
        before, steps = off(task, car, there), steps_of(said)
        assert ("together" in said) == (len(steps) > 1)
        little, far = (off(task, car, {n: there[n] + part * steps.get(n, 0) for n in there}) for part in (0.25, 20))
        assert little[wish][0] < before[wish][0] and not before[wish][1]
        assert all(before[name][1] and not far[name][1] for name in cost.split(" and "))


def test_a_dimension_at_the_end_of_its_bracket_stays_there_and_the_other_does_it():
    """One end of a bar as low as it goes, the other as high, and the roll center too high."""
    task, car = library()[1]["06.6"], Lesson("06", "club").car("three_link")
    there = {"z_BA": task.move["z_BA"][1], "z_BC": task.move["z_BC"][2]}
    steps = next_step(task, car, there)
    assert steps["z_BA"] == 0 > steps["z_BC"]
    assert all(one.met for one in outcomes(task, car, {name: there[name] + step for name, step in steps.items()}))
