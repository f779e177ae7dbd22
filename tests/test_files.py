"""Files written whole: killed or on a full disk, the old content stands; two commands in a folder wait."""

import errno
import os
import subprocess
import sys
import time

import pytest

from susgeo.errors import SusgeoError
from susgeo.files import alone_in, sweep, write_whole


def test_a_file_is_replaced_whole_and_a_full_disk_leaves_the_old_one(tmp_path, monkeypatch):
    place = tmp_path / "new" / "car.toml"
    write_whole(place, "one\nline")
    assert place.read_bytes() == b"one\nline"

    def full(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SusgeoError, match=r"car\.toml could not be written \(No space left"):
        write_whole(place, "two")
    assert place.read_bytes() == b"one\nline" and list(place.parent.iterdir()) == [place]


def test_the_same_content_is_not_written_again(tmp_path):
    place = tmp_path / "a.txt"
    write_whole(place, "same")
    before = place.stat()
    write_whole(place, b"same")
    assert place.stat().st_ino == before.st_ino


def test_what_a_killed_process_left_is_swept(tmp_path):
    (tmp_path / "deep").mkdir()
    left = tmp_path / "deep" / ".writing-abc.part"
    left.write_text("half")
    sweep(tmp_path)
    assert not left.exists()


def test_a_second_command_waits_for_the_first_and_goes_on_when_that_is_killed(tmp_path):
    code = "import sys, time; from pathlib import Path; from susgeo.files import alone_in\nwith alone_in(Path(sys.argv[1])):\n print('in', flush=True); time.sleep(60)"
    first = subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    assert first.stdout.readline() == "in\n"
    second = subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    assert second.stdout.readline().startswith("Another command works in")
    time.sleep(0.5)
    assert second.poll() is None
    first.kill()
    assert second.stdout.readline() == "in\n"
    for one in (first, second):
        one.kill()
        one.communicate()
    with alone_in(tmp_path):
        pass
