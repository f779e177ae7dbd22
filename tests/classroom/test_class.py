"""A class with every kind of student, handed out, collected and marked by nbgrader itself; the marking killed in the middle.

nbgrader is the outside here: what a student earns is read from its own export, and compared with what the kind
of student must earn by the points of the tasks.
"""

import csv
import hashlib
import json
import os
import shutil
import time
import zipfile
from pathlib import Path

import nbformat
import pytest
from IPython.core.interactiveshell import InteractiveShell
from nbgrader.apps import AutogradeApp, ExportApp, GenerateFeedbackApp

from classroom.earned import TASKS, WHOLE, bounds, kind_of
from classroom.forked import apart
from susgeo.classroom import marking
from susgeo.classroom.collect import collect
from susgeo.classroom.command import main
from susgeo.classroom.course import hand_out, make
from susgeo.classroom.glance import glance
from susgeo.classroom.grades import export
from susgeo.classroom.marking import _side_by_side, mark
from susgeo.classroom.practice import HOSTILE, KINDS, hand_in_all, practice_class
from susgeo.classroom.running import can_fork, warm

LESSON = "02_side_view"
STUDENTS = practice_class(len(KINDS) + 1)


def one_after_the_other(course, commands):
    """What ``nbgrader autograde`` and so on start, in one process: its start takes longer than its work."""
    apps = {"autograde": AutogradeApp, "generate_feedback": GenerateFeedbackApp, "export": ExportApp}
    os.chdir(course)
    for line in commands:
        command, *words = line.split()
        apps[command].launch_instance(words)
        apps[command].clear_instance()


def nbgrader(course, *commands):
    """Run commands of nbgrader in a course, in a process of their own."""
    said = course.parent / "nbgrader.txt"
    run = apart(one_after_the_other, course, commands, said=said)
    run.join()
    assert run.exitcode == 0, f"nbgrader {commands} failed; its last words: {said.read_text('utf-8').strip()[-600:]}"


@pytest.fixture(scope="module")
def course(tmp_path_factory):
    """Make, hand out, collect and mark; in the middle of the marking its process is killed, and no other."""
    place = tmp_path_factory.mktemp("class") / "course"
    make(place, ["02"], STUDENTS)
    assert len(hand_out(place, "02")[0]) == len(STUDENTS)
    hand_in_all(place, LESSON, STUDENTS, place / "inbox")
    collect(place, "02", place / "inbox")
    if can_fork():
        warm("02")  # here, and so in every process that is forked from this one
    told = place.parent / "told.txt"
    told.touch()
    run = apart(main, ["mark", str(place), "02"], said=told)
    while run.is_alive() and told.read_text("utf-8").count("\n") < 3:
        time.sleep(0.02)
    run.kill()
    run.join()
    again = mark(place, "02", workers=2)
    assert again.failed == {}
    export(place)
    assert len(again.before) >= 3 and len(again.now) + len(again.before) == len(STUDENTS)  # it went on, and lost nobody
    return place


@pytest.fixture(scope="module")
def grades(course):
    with (course / "grades.csv").open(encoding="utf-8") as file:
        return {row["student_id"]: row for row in csv.DictReader(file)}


def test_everybody_earns_what_their_kind_earns(grades):
    for student, row in grades.items():
        least, most = bounds(student)
        assert float(row["max_score"]) == WHOLE
        assert least <= float(row["score"]) <= most, student
    assert len(grades) == len(STUDENTS)


def test_the_class_at_a_glance_says_what_nbgrader_says(course, grades):
    seen = glance(course)
    for student, _, marks in seen.marks.rows:
        assert float(marks.split(" of ")[0]) == pytest.approx(float(grades[student]["score"]))
    said = {(row[1], row[2]) for row in seen.mistakes.rows}
    assert said and {row[1] for row in seen.mistakes.rows} <= {
        key for key, task in TASKS.items() if task.kind in ("number", "formula", "working")
    }
    assert f"Lesson 02: right answers, of {len(STUDENTS)} students" in seen.picture(LESSON).alt
    rows = {row[0]: row for row in seen.tasks.rows}
    assert int(rows["02.1"][1]) == sum(
        kind_of(s.id) not in ("blank", "mistaken", "lost cell", "stranger") for s in STUDENTS
    )


def test_a_right_answer_is_silent_and_a_wrong_one_raises(course):
    for student, silent in (("perfect-000", True), ("blank-004", False)):
        path = course / "autograded" / student / LESSON / f"{LESSON}.ipynb"
        for cell in nbformat.read(path, as_version=4).cells:
            if cell.metadata.get("nbgrader", {}).get("grade"):
                kinds = [output.output_type for output in cell.outputs]
                assert kinds == ([] if silent else ["error"]), (student, cell.source)


def test_nbgraders_own_commands_do_the_same(course, grades):
    one = f"{LESSON} --student slips-002 --force"
    nbgrader(course, f"autograde {one}", f"generate_feedback {one}", "export --to again.csv")
    with (course / "again.csv").open(encoding="utf-8") as file:
        again = {row["student_id"]: row["score"] for row in csv.DictReader(file)}
    assert again == {student: row["score"] for student, row in grades.items()}
    page = (course / "feedback" / "slips-002" / LESSON / f"{LESSON}.html").read_text("utf-8")
    assert " from line 1, and change" in page and "Worked solution" in page


def test_nothing_that_was_handed_in_is_lost(course):
    kept = {hashlib.sha256(path.read_bytes()).hexdigest() for path in (course / "received").rglob("*.ipynb")}
    sent = {hashlib.sha256(path.read_bytes()).hexdigest() for path in (course / "inbox").glob("*.ipynb")}
    assert sent <= kept and len(sent) == len(STUDENTS)


def test_no_code_of_a_submission_is_in_what_was_run(course):
    for student in STUDENTS:
        path = course / "autograded" / student.id / LESSON / f"{LESSON}.ipynb"
        text = "\n".join(cell.source for cell in nbformat.read(path, as_version=4).cells)
        assert not any(code.splitlines()[-1].strip() in text for code in HOSTILE.values()), student.id


def test_the_second_fence_stood_while_marking(course):
    path = course / "autograded" / "endless-010" / LESSON / f"{LESSON}.ipynb"
    said = [c.outputs for c in nbformat.read(path, as_version=4).cells if "fence_in()" in c.source]
    assert said[0][0].text.startswith("Limits:") and "time" in said[0][0].text


def test_what_a_hub_lays_there_as_it_came_is_marked_too(course, grades, tmp_path):
    """nbgrader's own collecting takes every file along, and damaged ones; nothing of them may be run."""
    place, canary = tmp_path / "course", tmp_path / "canary"
    shutil.copytree(course, place)
    trap = f"open({str(canary)!r}, 'w').write('run')"
    folder = place / "submitted" / "perfect-000" / LESSON
    notebook = nbformat.read(course / "inbox" / f"{LESSON}--perfect-000.ipynb", as_version=4)
    notebook.cells.insert(0, nbformat.v4.new_code_cell(trap))
    nbformat.write(notebook, folder / f"{LESSON}.ipynb")
    for name in ("sympy.py", "susgeo/__init__.py", "ipykernel_launcher.py"):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(trap, "utf-8")
    nbgrader(place, f"autograde {LESSON} --student perfect-000 --force")
    assert not canary.exists()
    assert not list((place / "autograded" / "perfect-000").rglob("*.py"))  # a kernel would import them

    broken = place / "submitted" / "half-003" / LESSON
    (broken / f"{LESSON}.ipynb").write_bytes(b'{"cells": [{"sou')
    (place / "feedback" / "half-003" / LESSON / "marked.txt").unlink()
    renamed = place / "submitted" / "perfect-015" / LESSON
    (renamed / f"{LESSON}.ipynb").rename(renamed / "my work.ipynb")
    (place / "feedback" / "perfect-015" / LESSON / "marked.txt").unlink()
    done = mark(place, "02")
    export(place)
    assert {"half-003", "perfect-015"} <= set(done.now) and done.failed == {}
    with (place / "grades.csv").open(encoding="utf-8") as file:
        again = {row["student_id"]: float(row["score"]) for row in csv.DictReader(file)}
    assert again == {**{s: float(row["score"]) for s, row in grades.items()}, "half-003": 0}
    kept = [path.read_bytes() for path in (place / "received" / LESSON).glob("half-003--*")]
    assert b'{"cells": [{"sou' in kept
    page = (place / "feedback" / "half-003" / LESSON / f"{LESSON}.html").read_text("utf-8")
    assert "its text cannot be read" in page


def test_a_students_own_copy_runs_and_is_handed_in(course, tmp_path):
    """In the student's hands no open task stops "Run all", and the last cell packs the saved file."""
    path = tmp_path / f"{LESSON}--half-003.ipynb"
    shutil.copy(course / "inbox" / path.name, path)
    run = apart(run_all, path, said=tmp_path / "said.txt")
    run.join()
    assert run.exitcode == 0, (tmp_path / "said.txt").read_text("utf-8")[-600:]
    shown = json.loads((tmp_path / "shown.json").read_text("utf-8"))
    assert shown["marks-02-1"] == "Task 02.1: 2 of 2 marks as it stands."
    assert shown["marks-02-2"] == "Task 02.2: 0 of 2 marks as it stands."
    assert shown["hand-in"].startswith("Hand in the file 02_side_view--half-003.zip")
    assert (tmp_path / "02_side_view--half-003.zip").is_file()


def run_all(path):
    """Run a notebook's cells in its folder, in the shell that a kernel has; keep what they show. An error ends it."""
    os.chdir(path.parent)
    shell, shown = InteractiveShell(ipython_dir=str(path.parent)), {}
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type == "code":
            ran = shell.run_cell(cell.source)
            ran.raise_error()
            shown[cell.id] = shell.display_formatter.format(ran.result)[0].get("text/plain", "")
    Path("shown.json").write_text(json.dumps(shown), "utf-8")


def test_files_come_in_under_many_names_and_nobody_is_mixed_up(course, tmp_path):
    """As browsers, Windows and students name them; zips; a folder for each; a stranger; a broken file."""
    inbox, source = tmp_path / "inbox", course / "inbox"
    inbox.mkdir()
    shutil.copy(source / f"{LESSON}--perfect-000.ipynb", inbox / f"{LESSON}--perfect-000 (1).ipynb")
    shutil.copy(source / f"{LESSON}--half-003.ipynb", inbox / f"{LESSON.upper()}--HALF-003-Copy1.ipynb")
    (inbox / "slips-002").mkdir()
    shutil.copy(source / f"{LESSON}--slips-002.ipynb", inbox / "slips-002" / "homework.ipynb")
    shutil.copy(source / f"{LESSON}--blank-004.ipynb", inbox / "untitled.ipynb")  # its content says whose it is
    with zipfile.ZipFile(inbox / f"{LESSON}--mistaken-001.zip", "w") as archive:
        archive.write(source / f"{LESSON}--mistaken-001.ipynb", f"{LESSON}--mistaken-001.ipynb")
    shutil.copy(source / f"{LESSON}--perfect-015.ipynb", inbox / f"{LESSON}--nobody-99.ipynb")
    ghost = (source / f"{LESSON}--perfect-015.ipynb").read_text("utf-8").replace("perfect-015", "ghost")
    (inbox / f"{LESSON}--ghost.ipynb").write_text(ghost, "utf-8")
    (inbox / f"{LESSON}--twice-006.ipynb").write_text('{"cells": [', "utf-8")
    shutil.copy(  # somebody else's notebook under one's own name
        source / f"{LESSON}--perfect-015.ipynb", inbox / f"{LESSON}--altered-007.ipynb"
    )
    (inbox / f"{LESSON}--lost-cell-005.zip").write_bytes(b"PK no zip")
    with zipfile.ZipFile(inbox / f"{LESSON}--memory-011.zip", "w", zipfile.ZIP_DEFLATED) as bomb:
        for number in range(3):  # a small file that holds much
            bomb.writestr(f"{number}.ipynb", bytes(20_000_000))
    place = tmp_path / "course"
    make(place, ["02"], STUDENTS)
    found = {one.file: one for one in collect(place, "02", inbox)}
    counted = {one.student for one in found.values() if one.counts}
    assert counted >= {"perfect-000", "half-003", "slips-002", "blank-004", "mistaken-001", "twice-006"}
    assert not found[f"{LESSON}--ghost.ipynb"].counts and "ghost" not in counted
    assert "nobody-99, who is not on the class list" in found[f"{LESSON}--nobody-99.ipynb"].notes[0]
    assert any("damaged" in note for note in found[f"{LESSON}--twice-006.ipynb"].notes)
    assert any("of altered-007, as whose" in note for note in found[f"{LESSON}--altered-007.ipynb"].notes)
    assert "cannot be opened" in found[f"{LESSON}--lost-cell-005.zip"].notes[0]
    assert (
        (place / "received" / LESSON)
        .joinpath(  # what cannot be opened is kept as it came
            f"lost-cell-005--{hashlib.sha256(b'PK no zip').hexdigest()[:12]}.zip"
        )
        .read_bytes()
        == b"PK no zip"
    )
    large = [one for one in found.values() if one.student == "memory-011"]
    assert len(large) == 3 and any("is not read: clear its outputs" in note for note in large[0].notes)
    for student in ("perfect-000", "half-003", "slips-002", "blank-004", "mistaken-001"):
        text = Path(place / "submitted" / student / LESSON / f"{LESSON}.ipynb").read_text("utf-8")
        assert f'who(\\"{student}\\")' in text


@pytest.mark.skipif(os.name != "posix", reason="what stands in for the marking is known to a forked process only")
def test_a_marking_process_that_dies_costs_the_others_nothing(course, monkeypatch):
    """It is stood in for by one that dies at a certain student."""
    monkeypatch.setattr(marking, "_mark_one", lambda *told: os._exit(1) if told[3] == "bo" else "")
    done = dict(_side_by_side(course, LESSON, ["ada", "bo", "cy", "dee"], 2))
    assert sorted(done) == ["ada", "bo", "cy", "dee"] and "ended unexpectedly" in done.pop("bo")
    assert set(done.values()) == {""}
