"""Commands killed at random moments, and disks that fill up: the end is that of an undisturbed run, byte by byte.

python tests/classroom/test_broken_off.py 100      kills each command so often (half an hour); the tests do it a little
"""

import errno
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from susgeo.classroom.command import main
from susgeo.classroom.practice import answered, practice_class

LESSON = "02_side_view"
KINDS = ("perfect", "slips", "blank", "twice")
COMPARED = ("source", "hand_out", "received", "submitted", "feedback", "hand_back")
HALF_WAY = (".ipynb", ".html", ".csv", ".txt", ".zip", ".json", ".py")


def steps(course):
    return [
        ["make", course, course.parent / "list.csv", "02"],
        ["hand_out", course, "02"],
        ["collect", course, "02", course.parent / "inbox"],
        ["mark", course, "02"],
        ["hand_back", course, "02"],
        ["export", course],
    ]


def run(step):
    assert main([str(word) for word in step]) == 0


def content(course):
    files = [path for part in COMPARED for path in (course / part).rglob("*") if path.is_file()]
    files += [*course.glob("*.csv"), course / "nbgrader_config.py"]
    return {path.relative_to(course).as_posix(): path.read_bytes() for path in files if path.exists()}


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory):
    return prepare(tmp_path_factory.mktemp("broken"))


def prepare(place):
    """Return a course that went through all steps, its inbox beside it, and what it holds after each."""
    import json

    import nbformat

    students = practice_class(len(KINDS), KINDS)
    lines = ["ID number,First name,Surname", *(f"{s.id},{s.first_name},{s.last_name}" for s in students)]
    (place / "list.csv").write_text("\n".join(lines), "utf-8")
    (place / "inbox").mkdir()
    ends = []
    for number, step in enumerate(steps(place / "course")):
        if number == 2:
            for student in students:
                path = place / "course" / "hand_out" / LESSON / f"{LESSON}--{student.id}.ipynb"
                kind = student.id.rpartition("-")[0]
                work = answered(nbformat.read(path, as_version=4), "02", student.id, kind)
                sent = place / "inbox" / path.name
                sent.write_text(json.dumps(work), "utf-8")
                os.utime(sent, (1.8e9, 1.8e9))
        run(step)
        ends.append(content(place / "course"))
    return place, ends


def copy_of(place, folder, ends, number):
    """Lay a course as it is before a step."""
    course = folder / "course"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(place, folder)
    if number < 1:
        shutil.rmtree(course)
        return course
    for name in set(content(course)) - set(ends[number - 1]):
        (course / name).unlink()
    if number < 4:
        (course / "gradebook.db").unlink()
        shutil.rmtree(course / "autograded", ignore_errors=True)
    if 1 < number < 4:
        run(steps(course)[1])
    return course


def kill_once(place, folder, ends, number, moment):
    """Kill a step after some seconds, give the command again, and compare."""
    course = copy_of(place, folder, ends, number)
    command = [sys.executable, "-m", "susgeo.classroom.command", *map(str, steps(course)[number])]
    work = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        work.wait(moment)
    except subprocess.TimeoutExpired:
        work.kill()
        work.wait()
    for step in steps(course)[number:]:
        run(step)
    found = content(course)
    assert found.keys() == ends[-1].keys(), (number, moment, found.keys() ^ ends[-1].keys())
    for name, raw in ends[-1].items():
        assert found[name] == raw, (number, moment, name)


@pytest.mark.parametrize("number", [2])
def test_a_killed_command_given_again_ends_as_if_nothing_had_happened(undisturbed, tmp_path, number):
    place, ends = undisturbed
    kill_once(place, tmp_path / "again", ends, number, random.Random(number).uniform(1.0, 4.0))


@pytest.mark.parametrize("number", [0, 2])
def test_a_full_disk_is_a_sentence_and_what_is_there_stays_whole(undisturbed, tmp_path, number, monkeypatch, capsys):
    """The disk is full at the k-th file that is written; then it has room again and the command is given again."""
    place, ends = undisturbed
    real = os.fsync
    for trial in range(2):
        course = copy_of(place, tmp_path / f"full-{trial}", ends, number)
        left = [random.Random(10 * number + trial).randrange(5)]

        def full(handle, left=left):
            left[0] -= 1
            if left[0] < 0:
                raise OSError(errno.ENOSPC, "No space left on device")
            real(handle)

        capsys.readouterr()
        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", full)
            status = main([str(word) for word in steps(course)[number]])
        if status:
            assert "could not be written (No space left on device)" in capsys.readouterr().err
        assert not list(course.rglob(".writing-*.part"))
        for name, raw in content(course).items():
            assert raw == ends[number].get(name, raw), name
        run(steps(course)[number])
        after = content(course)
        assert {name: after.get(name) for name in ends[number]} == ends[number]


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        place, ends = prepare(Path(folder) / "whole")
        dice, times = random.Random(1), int(sys.argv[1]) if len(sys.argv) > 1 else 100
        for number in range(len(ends)):
            start = time.monotonic()
            course = copy_of(place, Path(folder) / "timed", ends, number)
            run(steps(course)[number])
            whole = time.monotonic() - start + 1.0
            for _ in range(times):
                kill_once(place, Path(folder) / "again", ends, number, dice.uniform(0, whole))
            print(f"{steps(course)[number][0]}: killed {times} times, every end as undisturbed")
