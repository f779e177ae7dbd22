"""Figures of one's own: the same for ever, plausible, fair."""

import hashlib
import os
from dataclasses import replace
from functools import cache

import pytest

from susgeo import load_car
from susgeo.answers.calculation import LESSONS, library
from susgeo.answers.choices import outcomes
from susgeo.answers.figures import figures
from susgeo.answers.variant import clearly_apart, draws, is_open, variant, variants

TASKS = library()[1]
CARS = sorted({(task.lesson, task.car) for task in TASKS.values()})
STUDENTS = [str(number) for number in range(int(os.environ.get("SUSGEO_STUDENTS", "40")))]
"""Forty students in every test run, 200 by hand."""


@cache
def dealt(lesson, name):
    """The tasks that are asked on a car, and every student's own, dealt together, which is quicker."""
    tasks = tuple(task for task in TASKS.values() if (task.lesson, task.car) == (lesson, name))
    return tasks, variants(STUDENTS, lesson, load_car(LESSONS.parent / f"{name}.toml"), tasks)


def test_the_draws_are_the_written_algorithm():
    stream = draws("  Kim ", "02", 3)
    for n in range(5):
        digest = hashlib.sha256(f"kim|02|3|{n}".encode()).digest()  # FIPS 180-4
        assert next(stream) == int.from_bytes(digest, "big")


def test_figures_that_were_handed_out_never_change():
    tasks = [task for task in TASKS.values() if task.lesson == "02"]
    car = variant("kim", "02", load_car(LESSONS.parent / "three_link.toml"), tasks)
    assert [figures(car)[name].value for name in ("z_LC", "x_LC", "z_UC", "x_UA", "y_LA")] == KIM


KIM = [296.0, 571.0, 435.0, -53.0, 521.0]


@pytest.mark.parametrize(("lesson", "name"), CARS)
def test_every_student_gets_fair_figures(lesson, name):
    base, seen = load_car(LESSONS.parent / f"{name}.toml"), set()
    tasks, cars = dealt(lesson, name)
    alone = [figures(variant(one, lesson, base, tasks)) for one in (STUDENTS[0], STUDENTS[-1])]
    assert alone == [figures(cars[0]), figures(cars[-1])]
    for number, car in enumerate(cars):
        if number % 8 == 0:  # one by one, as no batch could spoil it
            assert all(clearly_apart(car, task) for task in tasks if task.find)
        for task in (
            task for task in tasks if task.want and number % 4 == 0
        ):  # nothing is chosen yet, and its words are true
            assert not all(one.met for one in outcomes(task, car, {})), (number, task.key)
            for one in outcomes(
                replace(task, want=task.start), car, {}
            ):  # lowest and highest stand in as wanted, within
                assert one.wanted <= one.value <= one.within, (number, task.key, str(one))
        measured = figures(car)
        for symbol, figure in figures(base).items():
            if figure.unit == "mm":
                assert abs(measured[symbol].value - figure.value) <= 100 and measured[symbol].value == round(
                    measured[symbol].value
                )
        seen.add(tuple(figure.value for figure in measured.values()))
    assert len(seen) == len(STUDENTS)


@pytest.mark.parametrize("key", [key for key, task in TASKS.items() if task.want])
def test_a_choice_is_still_open_on_the_clubs_own_car(key):
    task = TASKS[key]
    assert is_open(load_car(LESSONS.parent / f"{task.car}.toml"), task)


def middles(task, car):
    """The choice that meets each wish in its middle, drawn on paper: the lower links' line goes through the wanted
    instant center, which lies on the line of the wanted anti-squat, and through Q, where left and right link meet."""
    at = {name: figure.value for name, figure in figures(car).items()}
    want = {name.split(" [")[0].removeprefix("rear "): middle for name, (middle, _) in task.want.items()}
    x, steer = want["side-view instant center x"], want["roll steer"]
    z = want["anti-squat"] / 100 * at["h"] / at["L"] * x
    x_q = at["x_LA"] + at["y_LA"] / (at["y_LA"] - at["y_LC"]) * (at["x_LC"] - at["x_LA"])
    part = at["y_BA"] / (at["y_BA"] - at["y_BC"])
    x_p, z_p = (at[f"{axis}_BA"] + part * (at[f"{axis}_BC"] - at[f"{axis}_BA"]) for axis in "xz")
    z_p = want["roll center height"] + steer * x_p if "roll center height" in want else z_p
    lower = (z_p + steer * (x_q - x_p) - z) / (x_q - x)
    upper = (z - at["z_UA"]) / (x - at["x_UA"])
    found = {"z_LA": z + lower * (at["x_LA"] - x), "z_LC": z + lower * (at["x_LC"] - x)}
    found["z_UC"] = at["z_UA"] + upper * (at["x_UC"] - at["x_UA"])
    return found | ({"z_BA": z_p, "z_BC": z_p} if "z_BA" in task.move else {})


@pytest.mark.parametrize("key", ["13.8", "13.9"])
def test_the_middles_of_the_wishes_for_the_rear_fit_together_within_the_brackets(key):
    task, base = TASKS[key], load_car(LESSONS.parent / "club_coupe.toml")
    for number, car in enumerate([base, *dealt("13", "club_coupe")[1]]):
        found = middles(task, car)
        assert all(task.move[name][1] <= value <= task.move[name][2] for name, value in found.items()), (number, found)
        if number % 20 == 0:
            rest = {name: figures(car)[name].value for name in task.move if name not in found}
            for one in outcomes(task, car, found | rest):
                assert "front" in one.name or abs(one.value - one.wanted) < 1e-9 * max(1, abs(one.wanted)), (
                    number,
                    one,
                )


def test_a_blank_name_gives_the_clubs_own_car():
    base = load_car(LESSONS.parent / "three_link.toml")
    assert variant("  ", "02", base, ()) is base
