"""All marks of several lessons, as nbgrader's table and as one for a learning-management system for each lesson.

What each made-up student must earn is the sum of the points of the tasks that the kind of student has right.
"""

import csv

from susgeo.answers.calculation import library
from susgeo.classroom.assignment import points
from susgeo.classroom.collect import collect
from susgeo.classroom.command import main
from susgeo.classroom.course import hand_out, make
from susgeo.classroom.marking import mark
from susgeo.classroom.names import Student, master
from susgeo.classroom.practice import hand_in_all

PERFECT, HALF, IDLE = Student("perfect-000", "=Kim", "O'Neil, jr"), Student("half-001", "李", ""), Student("late-002")
CAME = {"01": [PERFECT], "02": [PERFECT, HALF]}


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_several_lessons_are_exported_each_with_its_tasks_and_nobody_is_left_out(tmp_path, capsys):
    course = tmp_path / "course"
    make(course, list(CAME), [PERFECT, HALF, IDLE])
    for lesson, came in CAME.items():
        hand_out(course, lesson)
        hand_in_all(course, master(lesson).stem, came, course / "inbox" / lesson)
        collect(course, lesson, course / "inbox" / lesson)
        mark(course, lesson)
    assert main(["export", str(course)]) == 0
    assert "grades.csv, marks_01.csv, marks_02.csv" in capsys.readouterr().out
    all_marks = {(row["assignment"], row["student_id"]): float(row["score"]) for row in rows(course / "grades.csv")}
    assert len(all_marks) == len(CAME) * 3
    for lesson in CAME:
        worth = {key: points(key) for key, task in library()[1].items() if task.lesson == lesson}
        table = rows(course / f"marks_{lesson}.csv")
        assert list(table[0])[4:] == [*worth, "late", "total", "of"]
        due = {PERFECT.id: worth, HALF.id: {key: got * (k % 2 == 0) for k, (key, got) in enumerate(worth.items())}}
        assert [row["ID number"] for row in table] == [PERFECT.id, HALF.id, IDLE.id]
        for row in table:
            whose = row["ID number"]
            got = due[whose] if whose in {one.id for one in CAME[lesson]} else dict.fromkeys(worth, "")
            assert {key: row[key] and float(row[key]) for key in worth} == got, (lesson, whose)
            total = sum(got.values()) if any(got.values()) else ""
            assert (row["total"] and float(row["total"])) == total and float(row["of"]) == sum(worth.values())
            assert all_marks[master(lesson).stem, whose] == (total or 0)
        assert not any(cell.startswith(("=", "+", "-", "@")) for row in table for cell in row.values())
        assert table[0]["Last name"] == "O'Neil  jr" and table[1]["First name"] == "李"
    assert main(["deadline", str(course), "01", "2020-01-01 20:00"]) == 0  # what is marked already is late as well
    assert mark(course, "01").now == (PERFECT.id,) and mark(course, "02").now == ()
    assert main(["export", str(course)]) == 0
    assert [row["late"] for row in rows(course / "marks_01.csv")] == ["yes", "", ""]
