"""What a made-up student of a kind must earn in lesson 02, by the points of its tasks."""

from susgeo.answers.calculation import library
from susgeo.classroom.assignment import points
from susgeo.classroom.practice import HOSTILE, answers_of

TASKS = {key: task for key, task in library()[1].items() if task.lesson == "02"}
WHOLE = sum(map(points, TASKS))


def kind_of(student):
    return student.rpartition("-")[0].replace("-", " ")


def worth(*kinds):
    return sum(points(key) for key, task in TASKS.items() if task.kind in kinds)


def bounds(student):
    """Return the least and the most that a student can earn; mostly the same."""
    kind = kind_of(student)
    if kind in {"perfect", "twice", "altered", "nameless", *HOSTILE}:
        return WHOLE, WHOLE
    if kind == "blank":
        return 0, 0
    if kind == "mistaken":  # every number wrong by a known mistake, all else right
        return (WHOLE - worth("number"),) * 2
    if kind == "slips":  # one early slip in the working: the rest follows, and is credited
        return WHOLE - worth("working") + 0.25, WHOLE - 0.25
    if kind == "half":
        return (sum(points(key) for key in list(TASKS)[::2]),) * 2
    if kind == "lost cell":
        return (WHOLE - points("02.1"),) * 2
    assert kind == "stranger"  # right on the club's figures: a formula and perhaps a choice stay right
    return worth("formula"), WHOLE - worth("number") + by_chance(student)


def by_chance(student):
    """Return the points of numbers that are the same, within the tolerance, on the club's figures and on one's own."""
    own, club = (answers_of("02", student, kind) for kind in ("perfect", "stranger"))
    return sum(
        points(key)
        for key, task in TASKS.items()
        if task.kind == "number" and abs(float(own[key].split()[0]) - float(club[key].split()[0])) <= task.tolerance
    )
