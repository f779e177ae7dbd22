"""The second fence, tried by what a hostile student might write: each in a process of its own.

The limits are the operating system's (POSIX ``setrlimit``; Landlock of Linux): what is tested is that they are
put up and hold, and that :func:`fence_in` promises no more than that.
"""

import os
import socket
import subprocess
import sys
import tempfile

import pytest

from classroom.forked import apart
from susgeo.classroom.fence import fence_in

if sys.platform != "linux":
    pytest.skip("the limits tried here are Linux's", allow_module_level=True)


def fenced(work, scratch, limits):
    os.chdir(scratch)
    work(fence_in(scratch=str(scratch), **limits))


def behind_the_fence(work, scratch, **limits):
    """Do work behind the fence; return what it printed, how it ended, and what was said of mistakes."""
    with tempfile.TemporaryFile("w+") as said, tempfile.TemporaryFile("w+") as mistakes:
        run = apart(fenced, work, scratch, limits, said=said.fileno(), mistakes=mistakes.fileno())
        run.join(120)
        run.kill()
        texts = [os.pread(file.fileno(), 100_000, 0).decode() for file in (said, mistakes)]
        return texts[0], run.exitcode, texts[1]


def held(scratch):
    return set(behind_the_fence(lambda held: print(*held), scratch)[0].split())


def hoard(_):
    print("full", len(bytearray(10**9)))


def endless(_):
    while True:
        pass


def large(_):
    with open("big", "wb") as file:
        file.write(bytes(3_000_000))
    print("written")


def test_the_fence_says_what_it_holds(tmp_path):
    assert held(tmp_path) >= {"memory", "time", "files"}


def test_memory_time_and_file_size_are_limited(tmp_path):
    text, _, said = behind_the_fence(hoard, tmp_path, memory=200_000_000)
    assert "full" not in text and "MemoryError" in said
    _, ended, _ = behind_the_fence(endless, tmp_path, seconds=1)
    assert ended not in (0, None)  # the system ended it, not this test's own time limit
    text, _, said = behind_the_fence(large, tmp_path, file_size=1_000_000)
    assert "written" not in text and "File too large" in said
    assert os.path.getsize(tmp_path / "big") <= 1_000_000


def test_writing_outside_the_scratch_folder_is_refused(tmp_path):
    if "writing" not in held(tmp_path):
        pytest.skip("Landlock is not switched on in this system")
    scratch, outside = tmp_path / "scratch", tmp_path / "outside"
    scratch.mkdir()
    outside.mkdir()
    (outside / "marks.csv").write_text("kim,16")
    tries = [
        lambda: open(outside / "new", "w"),
        lambda: open(outside / "marks.csv", "w"),
        lambda: open(outside / "marks.csv", "a"),
        lambda: os.remove(outside / "marks.csv"),
        lambda: os.rename(outside / "marks.csv", "mine"),
        lambda: os.mkdir(outside / "folder"),
        lambda: os.symlink("x", outside / "link"),
        lambda: subprocess.run(["rm", outside / "marks.csv"], check=True),  # its children too
    ]

    def work(_):
        with open("mine.txt", "w") as file:
            file.write("fine")
        tempfile.TemporaryFile().close()
        for number, one in enumerate(tries):
            try:
                one()
                print("done", number)
            except (OSError, subprocess.SubprocessError):
                pass

    text, ended, said = behind_the_fence(work, scratch)
    assert (text, ended) == ("", 0), said
    assert (scratch / "mine.txt").read_text() == "fine"
    assert [path.name for path in outside.iterdir()] == ["marks.csv"]
    assert (outside / "marks.csv").read_text() == "kim,16"


def test_no_new_connection_is_made(tmp_path):
    if "network" not in held(tmp_path):
        pytest.skip("this system's Landlock does not know the network")

    def work(_):
        for act in (lambda s: s.connect(("127.0.0.1", 9)), lambda s: s.bind(("127.0.0.1", 0))):
            with socket.socket() as one:
                try:
                    act(one)
                    print("done")
                except PermissionError:
                    print("refused")

    assert behind_the_fence(work, tmp_path)[0].split() == ["refused", "refused"]
