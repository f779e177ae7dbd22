"""Figures of one's own: the same for ever, plausible, fair."""

import hashlib

import pytest

from susgeo import load_car
from susgeo.answers.calculation import LESSONS, library
from susgeo.answers.figures import figures
from susgeo.answers.variant import clearly_apart, draws, variant, variants

TASKS = library()[1]
CARS = sorted({(task.lesson, task.car) for task in TASKS.values()})


def test_the_draws_are_the_written_algorithm():
    stream = draws("  Kim ", "02", 3)
    for n in range(5):
        digest = hashlib.sha256(f"kim|02|3|{n}".encode()).digest()  # FIPS 180-4
        assert next(stream) == int.from_bytes(digest, "big")


def test_figures_that_were_handed_out_never_change():
    car = variant("kim", "02", load_car(LESSONS.parent / "three_link.toml"))
    assert [figures(car)[name].value for name in ("z_LC", "x_LC", "z_UC", "x_UA", "y_LA")] == KIM


KIM = [296.0, 571.0, 435.0, -53.0, 521.0]


@pytest.mark.parametrize(("lesson", "name"), CARS)
def test_two_hundred_students_get_fair_figures(lesson, name):
    base = load_car(LESSONS.parent / f"{name}.toml")
    tasks = tuple(task for task in TASKS.values() if task.lesson == lesson and task.car == name)
    seen = set()
    cars = variants([str(number) for number in range(200)], lesson, base, tasks)  # dealt together, which is quicker
    alone = [figures(variant(str(number), lesson, base, tasks)) for number in (0, 99)]
    assert alone == [figures(cars[0]), figures(cars[99])]
    for number, car in enumerate(cars):
        if number % 10 == 0:  # one by one, as no batch could spoil it
            assert all(clearly_apart(car, task) for task in tasks if task.find)
        measured = figures(car)
        for symbol, figure in figures(base).items():
            if figure.unit == "mm":
                assert abs(measured[symbol].value - figure.value) <= 100 and measured[symbol].value == round(
                    measured[symbol].value
                )
        seen.add(tuple(figure.value for figure in measured.values()))
    assert len(seen) == 200


def test_a_blank_name_gives_the_clubs_own_car():
    base = load_car(LESSONS.parent / "three_link.toml")
    assert variant("  ", "02", base) is base
