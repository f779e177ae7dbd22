"""Every task x everything a student may write x many students, each with the verdict expected."""

import os

import numpy as np
import pytest

from susgeo import Target, best_design, load_car, moved, numbers
from susgeo.answers import Lesson
from susgeo.answers.calculation import library
from susgeo.answers.check import check
from susgeo.answers.figures import POINTS, figures
from susgeo.answers.paper import in_radians, on_paper, written
from susgeo.answers.variant import APART, variants
from susgeo.classroom.practice import answers_of

CALCULATIONS, TASKS = library()
NUMBERS = [key for key, task in TASKS.items() if task.kind == "number"]
FORMULAS = [key for key, task in TASKS.items() if task.kind == "formula"]
WORKINGS = [key for key, task in TASKS.items() if task.kind == "working"]
CHOICES = [key for key, task in TASKS.items() if task.kind == "choice"]
STUDENTS = [str(number) for number in range(int(os.environ.get("SUSGEO_STUDENTS", "10")))]
"""How many students the matrix of slips is tried for: 10 in every test run, 200 by hand."""
OTHER_UNIT = {"mm": "deg", "deg": "mm", "in": "deg", "%": "mm", "N": "mm", "kg": "mm", "": "deg", "deg/mm": "mm"}
HOSTILE = [
    "__import__('os').system('echo')", "().__class__.__bases__", "lambda x: 0", "exec('1')", "9**9**9**9",
    "1e999999", "x" * 10_000_000, "(" * 10_000 + "1" + ")" * 10_000, "1;2", "\0", "\u202e12", "🚗", "a.b", "[1, 2][0]",
]  # fmt: skip


def lesson_of(key, student=""):
    return Lesson(key.split(".")[0], student or "club")


def truth_of(lesson, key):
    task = TASKS[key]
    calculation = CALCULATIONS[task.of]
    known = {
        name: figure.value for name, figure in calculation.known(figures(lesson.car(task.car)), task.given).items()
    }
    return task, calculation, known, calculation.values(known)[task.find]


@pytest.mark.parametrize("key", NUMBERS)
def test_a_number_is_right_in_many_forms(key):
    for student in ("", "7"):
        lesson = lesson_of(key, student)
        task, calculation, _, truth = truth_of(lesson, key)
        unit = calculation.step(task.find).unit
        right = on_paper(truth, unit)
        ten = f"{right:.10f}"
        for form in (right, repr(right), f"{ten} {unit}", ten.replace("-", "−"), f"  {right:.8e} {unit} "):
            assert lesson.check(key, form, keep=False).kind == "right", (student, form)


SLIPPED = sorted({(task.lesson, task.car) for task in TASKS.values() if task.kind in ("number", "working")})


@pytest.mark.parametrize(("number", "name"), SLIPPED)
def test_every_slip_of_every_student_is_named_as_that_slip_or_as_one_that_gives_the_same(number, name):
    """In a number and in a working alike; none is called right."""
    tasks = tuple(task for task in TASKS.values() if (task.lesson, task.car) == (number, name))
    cars, tried = variants(STUDENTS, number, load_car(name), tasks), 0
    for task in (task for task in tasks if task.kind in ("number", "working")):
        calculation = CALCULATIONS[task.of]
        unit = calculation.step(task.find).unit
        for student, car in zip(STUDENTS, cars, strict=True):
            known = {name: one.value for name, one in calculation.known(figures(car), task.given).items()}
            truth = calculation.values(known)[task.find]
            for wrong, found in calculation.wrong_turns(known, task.find):
                if task.kind == "working" and not wrong.put:
                    continue  # of the result alone: what a number is tried for
                lines = "\n".join(
                    f"{s.name} = {written(found[s.name], s.unit)}" for s in calculation.lines_to(task.find)
                )
                answer = repr(on_paper(found[task.find], unit)) if task.kind == "number" else lines
                verdict = check(task, answer, car)
                at = (task.key, student, wrong.name, answer, str(verdict))
                off = abs(found[task.find] - truth)  # of a working its lines are judged, whatever the result
                assert task.kind == "working" or off > in_radians(task.tolerance, unit), at
                assert verdict.kind == "wrong", at
                same = (calculation.values(known, one.put)[task.find] for one in verdict.mistakes if one.put)
                assert wrong in verdict.mistakes or any(
                    abs(one - found[task.find]) <= 1e-6 * abs(one) for one in same
                ), at
                assert len(verdict.mistakes) == 1 or task.kind == "working", at
                tried += 1
    assert tried >= len(STUDENTS)


@pytest.mark.parametrize("key", NUMBERS)
def test_a_number_that_no_mistake_explains_is_wrong_without_a_guess(key):
    lesson = lesson_of(key)
    task, calculation, known, truth = truth_of(lesson, key)
    step = APART * in_radians(task.tolerance, calculation.step(task.find).unit)
    taken = [truth, *(found[task.find] for _, found in calculation.wrong_turns(known, task.find))]
    free = next(
        value for k in range(2, 500) if all(abs((value := truth + k * step) - other) > step / 2 for other in taken)
    )
    verdict = lesson.check(key, on_paper(free, calculation.step(task.find).unit), keep=False)
    assert verdict.kind == "wrong" and verdict.mistakes == ()


@pytest.mark.parametrize("key", TASKS)
def test_blank_words_wrong_unit_and_hostile_text(key):
    lesson = lesson_of(key)
    task = TASKS[key]
    for blank in ("", "  \n ", None if task.kind != "working" else "\n"):
        assert lesson.check(key, blank, keep=False).kind == "blank", blank
    for words in ("about three", "no idea", "nan", "inf", float("nan"), float("inf"), True, 1j, [1, 2], {}, object()):
        assert lesson.check(key, words, keep=False).kind == "unreadable", words
    for text in HOSTILE:
        verdict = lesson.check(key, text, keep=False)
        assert verdict.kind == "unreadable", text[:40]
        assert ("a line for each step is enough" in verdict.sentences[0]) == (len(text) > 1e6)  # before it is read
    if task.kind == "number":
        unit = CALCULATIONS[task.of].step(task.find).unit
        verdict = lesson.check(key, f"1 {OTHER_UNIT[unit]}", keep=False)
        assert verdict.kind == "unreadable" and "is asked for" in verdict.sentences[0]


@pytest.mark.parametrize("key", FORMULAS)
def test_formulas_right_and_known_mistakes_named(key):
    lesson = lesson_of(key)
    task, calculation = TASKS[key], CALCULATIONS[TASKS[key].of]
    truth = calculation.expression(task.find, task.symbols)
    for form in (str(truth), truth, str(truth.expand()), f"({truth})*2/2 + 0"):
        assert lesson.check(key, form, keep=False).kind == "right", form
    for form in (f"-({truth})", f"2*({truth})", f"({truth}) + {task.symbols[0]}", task.symbols[0]):
        verdict = lesson.check(key, form, keep=False)
        said = " ".join(verdict.sentences)
        assert verdict.kind == "wrong" and ("On a car with" in said or "opposite sign" in said), form
    named = 0
    for wrong in calculation.mistakes:
        formula = calculation.expression(task.find, task.symbols, wrong.put)
        if {item.name for item in formula.free_symbols} <= set(task.symbols) and (formula - truth).simplify() != 0:
            verdict = lesson.check(key, str(formula), keep=False)
            assert verdict.kind == "wrong" and wrong in verdict.mistakes, wrong.name
            named += 1
    assert named >= 1


@pytest.mark.parametrize("key", WORKINGS)
def test_workings_follow_line_by_line_and_a_slip_is_marked_once(key):
    for student in ("", "7", "kim"):
        lesson = lesson_of(key, student)
        task, calculation, known, _ = truth_of(lesson, key)
        values = calculation.values(known)
        last = [step.name for step in calculation.steps].index(task.find) + 1
        steps = calculation.steps[:last]
        formulas = "\n".join(f"{step.name} = {step.formula}" for step in steps)
        assert lesson.check(key, formulas, keep=False).kind == "right"
        numbers = "\n".join(f"{s.name} = {on_paper(values[s.name], s.unit):.8f} {s.unit}" for s in steps)
        assert lesson.check(key, numbers, keep=False).kind == "right"
        slip = [f"{step.name} = {step.formula}" for step in steps]
        slip[0] += f" + {abs(values[steps[0].name]) / 3:.6f}"
        verdict = lesson.check(key, "\n".join(slip), keep=False)
        assert verdict.kind == "wrong" and 0 < verdict.credit < 1
        said = " ".join(verdict.sentences)
        assert "Line 1 is the first line that does not follow" in said
        assert " from line 1, and change" in said and said.count("does not follow") == 1


@pytest.mark.parametrize("key", CHOICES)
def test_choices_are_judged_by_solving_the_car(key):
    lesson = lesson_of(key)
    task = TASKS[key]
    inside = {name: (low + high) / 2 for name, (_, low, high) in task.move.items()}
    outside = "\n".join(f"{name} = {high + 500} mm" for name, (_, _, high) in task.move.items())
    assert lesson.check(key, outside, keep=False).kind == "wrong"
    choices = _grid(task, 7) if len(task.move) <= 2 else _ends_and_best(task, lesson.car(task.car))
    choices = [*choices, answers_of(lesson.number, "club", "perfect")[key]]  # and the worked way
    kinds = set()
    for choice in choices:
        kind = lesson.check(key, choice, keep=False).kind
        kinds.add(kind)
        if not task.of and isinstance(choice, dict):  # what is wanted are quantities: ask the car itself
            car = moved(
                lesson.car(task.car), {f"{POINTS[name[2:]][0]}.{name[0]}": value for name, value in choice.items()}
            )
            found = numbers(car, [name.rpartition(" [")[0] for name in task.want])
            now = {name: found[name.rpartition(" [")[0]] for name in task.want}
            assert (kind == "right") == all(abs(now[name] - want) <= off for name, (want, off) in task.want.items())
    assert kinds == {"right", "wrong"}
    assert lesson.check(key, inside, keep=False).kind in kinds


def _grid(task, count):
    from itertools import product

    spans = [[low + (high - low) * k / count for k in range(count + 1)] for _, low, high in task.move.values()]
    return [dict(zip(task.move, point, strict=True)) for point in product(*spans)]


def _ends_and_best(task, car):
    """Where many dimensions move, a search over a coarse grid must find a right choice; the ends are wrong."""
    places = [f"{POINTS[name[2:]][0]}.{name[0]}" for name in task.move]
    count = int(120_000 ** (1 / len(places)))
    options = [np.linspace(low, high, count) for _, low, high in task.move.values()]
    targets = [Target(name, want - off, want + off) for name, (want, off) in task.want.items()]
    found = best_design(car, dict(zip(places, options, strict=True)), targets)
    picks = [found.choice.values(), *([option[end] for option in options] for end in (0, -1))]
    return [dict(zip(task.move, map(float, pick), strict=True)) for pick in picks]
