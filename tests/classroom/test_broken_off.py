"""Commands killed at random moments, and disks that fill up: the end is that of an undisturbed run, byte by byte.

    python tests/classroom/test_broken_off.py 100 30

kills each command at 100 random moments and fills a real disk under it at 30 (Linux, as root); the tests do it a little.
Names of commands behind the numbers try these alone. Each command is given in a process forked from this one, where all is loaded: so the moments fall into its work.
"""

import errno
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import nbformat
import pytest

from classroom.forked import apart
from susgeo.classroom.command import main
from susgeo.classroom.practice import answered, practice_class

LESSON = "02_side_view"
KINDS = ("perfect", "slips", "blank", "twice")
COMPARED = ("source", "hand_out", "received", "submitted", "feedback", "hand_back")


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


def begun(step, said=os.devnull):
    """Give a command in a process of its own."""
    return apart(main, [str(word) for word in step], said=said)


def content(course):
    files = [path for part in COMPARED for path in (course / part).rglob("*") if path.is_file()]
    files += [*course.glob("*.csv"), course / "nbgrader_config.py"]
    return {path.relative_to(course).as_posix(): path.read_bytes() for path in files if path.exists()}


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory):
    return prepare(tmp_path_factory.mktemp("broken"), 3)


def prepare(place, many=6):
    """Take a course through its steps, in a folder for the state before each; return them, and what it holds after each."""
    students = practice_class(len(KINDS), KINDS)
    (place / "0" / "inbox").mkdir(parents=True)
    lines = ["ID number,First name,Surname", *(f"{s.id},{s.first_name},{s.last_name}" for s in students)]
    (place / "0" / "list.csv").write_text("\n".join(lines), "utf-8")
    ends = []
    for number in range(many):
        course = copy_of(place, place / str(number + 1), number)
        run(steps(course)[number])
        if number == 1:
            for student in students:
                path = course / "hand_out" / LESSON / f"{LESSON}--{student.id}.ipynb"
                kind = student.id.rpartition("-")[0]
                work = answered(nbformat.read(path, as_version=4), "02", student.id, kind)
                sent = course.parent / "inbox" / path.name
                sent.write_text(json.dumps(work), "utf-8")
                os.utime(sent, (1.8e9, 1.8e9))
            for early in "01":  # what came in is there from the start, for whoever goes on from there
                shutil.copytree(course.parent / "inbox", place / early / "inbox", dirs_exist_ok=True)
        ends.append(content(course))
    return place, ends


def copy_of(place, folder, number):
    """Lay a course as it is before a step."""
    shutil.rmtree(folder, ignore_errors=True)
    return shutil.copytree(place / str(number), folder) / "course"


def finish(course, ends, number, last, told):
    """Give a step again, and those after it up to the last; compare with the undisturbed course."""
    for step in steps(course)[number : last + 1]:
        run(step)
    found = content(course)
    assert found.keys() == ends[last].keys(), (number, told, found.keys() ^ ends[last].keys())
    for name, raw in ends[last].items():
        assert found[name] == raw, (number, told, name)


def kill_once(place, folder, ends, number, last, moment):
    """Kill a step after some seconds, give the command again, and compare."""
    course = copy_of(place, folder, number)
    work = begun(steps(course)[number])
    work.join(moment)
    work.kill()
    work.join()
    finish(course, ends, number, last, moment)


def test_a_killed_command_given_again_ends_as_if_nothing_had_happened(undisturbed, tmp_path):
    place, ends = undisturbed
    kill_once(place, tmp_path / "again", ends, 2, 2, random.Random(2).uniform(0.05, 0.3))


def test_what_a_killed_command_left_half_written_is_swept_away(undisturbed, tmp_path):
    """A part of a file lies beside every file; nbgrader would give out, and hand back, what lies there."""
    place, ends = undisturbed
    course = copy_of(place, tmp_path / "parts", 3)
    files = [path for part in COMPARED for path in (course / part).rglob("*") if path.is_file()]
    for folder in {course, *(path.parent for path in files)}:
        (folder / ".writing-killed.part").write_text("half a fi", "utf-8")
    for step in steps(course)[:3]:
        run(step)
    assert len(files) > 10 and not list(course.rglob(".writing-*.part"))
    assert content(course) == ends[2]


@pytest.mark.parametrize("number", [0, 2])
def test_a_full_disk_is_a_sentence_and_what_is_there_stays_whole(undisturbed, tmp_path, number, monkeypatch, capsys):
    """The disk is full at the k-th file that is written; then it has room again and the command is given again."""
    place, ends = undisturbed
    real = os.fsync
    for trial in range(2):
        course = copy_of(place, tmp_path / f"full-{trial}", number)
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
        finish(course, ends, number, number, left)


def fill_once(place, disk, ends, number, last, room):
    """Run a step on a disk with some bytes of room left, make room, give it again, and compare; return what it refused with."""
    course = copy_of(place, disk / "again", number)
    whole, said = content(course), disk.parent / "said.txt"
    (disk / "ballast").write_bytes(bytes(max(0, shutil.disk_usage(disk).free - room)))
    work = begun(steps(course)[number], said)
    work.join()
    (disk / "ballast").unlink()
    text = said.read_text("utf-8").strip()
    assert "Traceback" not in text, text
    assert work.exitcode == 0 or text, (number, room, "failed without a word")
    now = content(course)
    for name in whole:
        assert now[name] in (whole[name], ends[number].get(name)), (number, room, name)
    finish(course, ends, number, last, room)
    return text.splitlines()[-1] if work.exitcode else ""


def used(place):
    return sum(path.stat().st_size for path in place.rglob("*") if path.is_file())


if __name__ == "__main__":
    kills, fills = map(int, sys.argv[1:3] or (100, 30))
    wanted = sys.argv[3:]
    with tempfile.TemporaryDirectory() as folder:
        place, ends = prepare(Path(folder) / "whole")
        dice, disk = random.Random(1), Path(folder) / "disk"

        def last(number, trial):
            """Every tenth time the whole way is gone on to its end: that the gradebook is whole shows in the marks."""
            return number if trial % 10 else 5

        for number in range(6):
            name, start = steps(place)[number][0], time.monotonic()
            if wanted and name not in wanted:
                continue
            work = begun(steps(copy_of(place, Path(folder) / "timed", number))[number])
            work.join()
            assert work.exitcode == 0
            whole = time.monotonic() - start
            for trial in range(kills):
                moment = dice.uniform(0, whole)
                kill_once(place, Path(folder) / "again", ends, number, last(number, trial), moment)
            print(f"{name}: killed {kills} times within {whole:.1f} s, every end as undisturbed", flush=True)
            if not fills:
                continue
            grown = max(used(place / str(number + 1)) - used(place / str(number)), 50_000)
            disk.mkdir(exist_ok=True)
            subprocess.run(["mount", "-t", "tmpfs", "-o", "size=100m", "tmpfs", disk], check=True)
            try:
                rooms = [dice.randrange(grown) for _ in range(fills)]
                tried = [fill_once(place, disk, ends, number, last(number, k), room) for k, room in enumerate(rooms)]
            finally:
                subprocess.run(["umount", disk], check=True)
            refused = [text for text in tried if text]
            print(f"{name}: disk full {fills} times, {len(refused)} refused with a sentence, ends as undisturbed")
            print(*sorted(set(refused)), sep="\n", flush=True)
