"""Each calculation of the lessons, as written for paper, against the library's own geometry on many cars."""

import math
import runpy
from functools import cache
from pathlib import Path

import pytest

from susgeo import FlatPoint, join, load_car, moved
from susgeo.answers import Lesson
from susgeo.answers.calculation import LESSONS, library
from susgeo.answers.figures import POINTS, figures
from susgeo.answers.variant import draws, shaken
from susgeo.geometry.measure import coordinates, distance, slope
from susgeo.loads.anti import anti_lift, anti_squat
from susgeo.results.rows import place

CALCULATIONS, TASKS = library()


def _meeting(axle, height):
    return {axis: place(axle.convergence(height), axis) for axis in "xz"}


def _parallel(car, rise):
    """Return the car with all its links rising alike: the line from the contact patch then does, too."""
    runs = {name: getattr(car.rear, name)[0] for name in ("lower", "upper")}
    heights = {
        f"rear.{name}.chassis.z": link.axle.z + rise * (link.chassis.x - link.axle.x) for name, link in runs.items()
    }
    return moved(car, heights)


# For each calculation: the lines that the library knows, from the geometry and not from the lesson file.
TRUTH = {
    "link": lambda car: {
        "l": car.rear.lower[0].length,
        "l_in": distance(car.rear.lower[0].axle, car.rear.lower[0].chassis) / 25.4,
        "s": slope(car.rear.lower[0].line),
    },
    "bar_length": lambda car: {"l": distance(car.rear.locator.axle, car.rear.locator.chassis)},
    "plan_view": lambda car: {"x_Q": _meeting(car.rear, "lower")["x"], "z_Q": _meeting(car.rear, "lower")["z"]},
    "side_view": lambda car: {
        "x_IC": coordinates(car.rear.side_view_instant_center)[0],
        "z_IC": coordinates(car.rear.side_view_instant_center)[1],
        "turn": 40 * car.rear.pinion_rate,
    },
    "squat": lambda car: {
        "k": slope(join(FlatPoint("side", 0, 0), car.rear.side_view_instant_center)),
        "AS": anti_squat(car),
        "links": anti_squat(car) / 100 * car.weight.mass * 3 * car.weight.cg_height / car.wheelbase,
    },
    "braking": lambda car: {"AL": anti_lift(_parallel(car, math.tan(math.radians(10))))},
    "roll_axis": lambda car: {
        "x_P": place(car.rear.locator_point, "x"),
        "z_P": place(car.rear.locator_point, "z"),
        "x_Q": _meeting(car.rear, "lower")["x"],
        "z_Q": _meeting(car.rear, "lower")["z"],
        "b": car.rear.roll_steer,
        "z_R": car.rear.roll_center_height,
        "steer": -math.radians(2) * car.rear.roll_steer,
    },
    "roll_axis_parallel": lambda car: {"b": car.rear.roll_steer, "z_R": car.rear.roll_center_height},
    "roll_axis_links": lambda car: {
        "x_P": _meeting(car.rear, "upper")["x"],
        "z_P": _meeting(car.rear, "upper")["z"],
        "b": car.rear.roll_axis_slope,
        "z_R": car.rear.roll_center_height,
    },
}
for path in sorted(Path(__file__).parent.glob("truth_*.py")):  # of the later lessons, one file each
    TRUTH |= runpy.run_path(str(path))["TRUTH"]


@cache
def cars_of(key):
    """The base cars on which a calculation's tasks are asked, and others like them."""
    names = sorted({task.car for task in TASKS.values() if key in task.drawn_by})
    bases = [load_car(LESSONS.parent / f"{name}.toml") for name in names]
    return [car for base in bases for car in (base, *(shaken(base, draws("a test", key, n)) for n in range(20)))]


@pytest.mark.parametrize("key", sorted(CALCULATIONS))
def test_the_lines_on_paper_give_what_the_geometry_gives(key):
    assert key in TRUTH, f"add {key} to TRUTH: what does the library say to it?"
    calculation, compared = CALCULATIONS[key], 0
    for car in cars_of(key):
        known = {name: figure.value for name, figure in calculation.known(figures(car)).items()}
        values = calculation.values(known)
        for name, truth in TRUTH[key](car).items():
            assert values[name] == pytest.approx(float(truth), rel=1e-9, abs=1e-9), (key, name)
            compared += 1
    assert compared > 20


@pytest.mark.parametrize("key", sorted(CALCULATIONS))
def test_every_known_mistake_changes_some_line(key):
    calculation = CALCULATIONS[key]
    for wrong in calculation.mistakes:
        moved = 0
        for car in cars_of(key):
            known = {name: figure.value for name, figure in calculation.known(figures(car)).items()}
            right, found = calculation.values(known), calculation.values(known, wrong.put)
            moved += any(found[step.name] != right[step.name] for step in calculation.steps)
        assert moved, f"{key}: {wrong.name} is no mistake on any car"


@pytest.mark.parametrize("key", sorted(CALCULATIONS))
def test_the_formula_of_a_line_is_its_value(key):
    calculation = CALCULATIONS[key]
    car = cars_of(key)[0]
    known = {name: figure.value for name, figure in calculation.known(figures(car)).items()}
    values = calculation.values(known)
    for step in calculation.steps:
        whole = calculation.expression(step.name)
        number = float(whole.evalf(30, subs={item: values[item.name] for item in whole.free_symbols}))
        assert number == pytest.approx(values[step.name], rel=1e-12, abs=1e-12)


def test_there_are_at_least_six_tasks_of_every_kind_in_each_lesson():
    lessons = {task.lesson for task in TASKS.values()}
    for lesson in lessons:
        kinds = [task.kind for task in TASKS.values() if task.lesson == lesson]
        assert len(kinds) >= 6 and set(kinds) == {"number", "formula", "working", "choice"}, (lesson, kinds)


def test_every_lesson_carries_its_idea_to_something_it_did_not_show():
    """Its transfer task is worked, has slips with a name and a drawing, and asks what no other task of it asks."""
    lessons = {task.lesson for task in TASKS.values()}
    assert {task.lesson for task in TASKS.values() if task.transfer} == lessons
    for key, task in TASKS.items():
        if not task.transfer:
            continue
        same = [one for one in TASKS.values() if one.lesson == task.lesson and one is not task]
        assert (task.car, task.of, task.find) not in {(one.car, one.of, one.find) for one in same}, key
        lesson = Lesson(task.lesson, "kim")
        assert str(lesson.solution(key)).count("=") >= 1, key
        jointed = any(name.partition("_")[2] in POINTS for name in task.needed())
        assert ("<img" in lesson.question(key).page) == jointed, key
        if task.find:
            known = {name: figure.value for name, figure in lesson.known(key).items()}
            assert len(CALCULATIONS[task.of].wrong_turns(known, task.find)) >= 3, key


def test_at_least_forty_mistakes_are_known():
    assert sum(len(calculation.mistakes) for calculation in CALCULATIONS.values()) >= 40


def test_a_mistake_is_drawn_where_it_moves_a_point_of_the_drawing():
    """The two constructions lie one over the other; a slip that the drawing does not show has none."""
    lesson = Lesson("06", "club")
    seen = lesson.check(2, 370.0, keep=False)  # the height of the bar
    assert seen.mistakes and "With the height of the bar" in seen.picture.alt
    unseen = lesson.check(4, -0.2978, keep=False)  # the sign of roll steer
    assert unseen.mistakes and unseen.picture is None


def test_a_near_formula_is_shown_with_the_digits_in_which_it_differs():
    said = str(Lesson("05", "club").check(3, "d^2/(2*l)", keep=False))
    yours, right = said.split("your formula gives ")[1].split(", and e is ")
    assert yours != right.split(".  ")[0][: len(yours)]


def test_what_is_asked_for_is_said_once():
    """Where it has no unit, what was read says it already."""
    plain, length = (Lesson(number, "club").check(key, text, keep=False).sentences
                     for number, key, text in (("12", 4, "163 mm"), ("01", 7, "163 deg")))  # fmt: skip
    assert len(plain) == 1 and plain[0].endswith("answer as a plain number.")
    assert length[1:] == ("A number is expected here in mm.",)
