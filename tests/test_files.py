"""Files written whole: killed or on a full disk, the old content stands; two commands in a folder wait."""

import ast
import errno
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from susgeo.errors import SusgeoError
from susgeo.files import alone_in, sweep, write_whole

ROOT = Path(__file__).resolve().parent.parent


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


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes in folders are Unix's")
def test_what_is_no_file_is_never_replaced_and_a_link_stays_one(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "round").symlink_to("round")
    (tmp_path / "folder").mkdir()
    for name in ("pipe", "round", "folder", "a" * 300, "nul\0l"):
        with pytest.raises(SusgeoError, match="could not be written") as caught:
            write_whole(tmp_path / name, "x")
        assert len(str(caught.value)) < 300 and str(caught.value).isprintable()
    with pytest.raises(SusgeoError, match="could not be written"):
        write_whole(tmp_path / "half.txt", "half \ud800")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["folder", "pipe", "round"]
    (tmp_path / "folder" / "real.toml").write_text("old")
    (tmp_path / "folder" / "real.toml").chmod(0o600)
    (tmp_path / "link.toml").symlink_to("folder/real.toml")
    write_whole(tmp_path / "link.toml", "new")
    assert (tmp_path / "link.toml").is_symlink() and (tmp_path / "folder" / "real.toml").read_text() == "new"
    assert (tmp_path / "folder" / "real.toml").stat().st_mode & 0o777 == 0o600


def test_every_write_of_the_library_is_whole():
    """Others are few and known: the record is only added to, a log is the program's own, a practice class is made up."""
    found = set()
    for path in ROOT.joinpath("susgeo").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                if node.func.attr in ("write_text", "write_bytes", "copyfile", "savetxt", "to_csv"):
                    found.add(path.name)
    assert found <= {"start.py", "practice.py"}
