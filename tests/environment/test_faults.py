"""What a start cannot mend is one sentence, and ``check`` says the same."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from environment.tiny import change, project
from susgeo import start


def no_modules(made, patch):
    shutil.rmtree(made / ".venv")
    patch.setattr(start.importlib.util, "find_spec", lambda name: None if name == "ensurepip" else 1)


def a_link(made, patch):
    shutil.rmtree(made / ".venv")
    (made / ".venv").symlink_to("nowhere")


def full(made, patch):
    shutil.rmtree(made / ".venv")
    patch.setattr(start.shutil, "disk_usage", lambda place: shutil._ntuple_diskusage(9e9, 9e9, 12e6))


def locked(made, patch):
    (made / ".venv/susgeo-ready.json").unlink()
    patch.setattr(start.os, "access", lambda place, mode: place != made)


def locked_desk(made, patch):
    (made / "my_course").mkdir()
    patch.setattr(start.os, "access", lambda place, mode: place.name != "my_course")


def file_for_a_desk(made, patch):
    (made / "my_course").write_text("precious")


def slow(made, patch):
    patch.setattr(start, "python_version", lambda python: real_version(made / "slow"))
    patch.setattr(start.subprocess, "run", lambda command, **_: late(command))


def late(command):
    raise subprocess.TimeoutExpired(command, 60)


real_version = start.python_version
FAULTS = {
    "no project": (lambda made, patch: (made / "pyproject.toml").rename(made / "away"), "There is no pyproject.toml in .*README"),
    "no lessons": (lambda made, patch: (made / "notebooks").rename(made / "away"), "There is no notebooks in .*fetch it again"),
    "no modules": (no_modules, "sudo apt install python3-venv"),
    "a link": (a_link, r"\.venv has no working Python: delete it"),
    "no space": (full, "has 12 MB free, and the course needs 1 GB"),
    "locked": (locked, "You may not write in"),
    "locked desk": (locked_desk, "my_course is no folder that you may write in"),
    "file for a desk": (file_for_a_desk, "my_course is no folder that you may write in"),
    "slow": (slow, "does not answer"),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_check_says_what_course_stops_at_and_the_next_try_goes_on(made, copied, pip, monkeypatch, capsys, fault):
    spoil, words = FAULTS[fault]
    monkeypatch.setattr(start, "ROOT", made)
    monkeypatch.setattr(start, "lay_out", lambda root: pytest.fail("the course went on"))
    with pytest.MonkeyPatch.context() as patch:
        spoil(made, patch)
        before = sorted(path.name for path in made.iterdir())
        said = []
        for command in ("course", "check", "class"):
            assert start.main([command]) == 1
            output = capsys.readouterr()
            said.append([line for line in (output.out + output.err).splitlines() if re.search(words, line)])
        assert said[0] == said[1] == said[2] and len(said[0]) == 1 and len(said[0][0]) < 420
        assert sorted(path.name for path in made.iterdir()) == before and not pip
    for path in (made / ".venv", made / "my_course"):
        if path.is_symlink() or path.is_file():
            path.unlink()
    if (made / "away").exists():
        (made / "away").rename(made / ("pyproject.toml" if fault == "no project" else "notebooks"))
    start.prepare(made)


@pytest.mark.parametrize("place", ["prepare", "lay_out"])
def test_a_folder_that_cannot_be_written_to_is_a_sentence(monkeypatch, capsys, place):
    def locked(*_):
        raise PermissionError(13, "Permission denied", "somewhere")

    monkeypatch.setattr(start, "prepare", lambda *_: Path("python"))
    monkeypatch.setattr(start, place, locked)
    assert start.main(["course"]) == 1
    said = capsys.readouterr()
    assert "Permission denied: somewhere" in said.err and "rights in this folder" in said.err and not said.out


def test_a_file_named_like_the_environment_is_not_deleted(tmp_path):
    project(tmp_path)
    (tmp_path / ".venv").write_text("precious", "utf-8")
    with pytest.raises(start.SetupError, match="delete it"):
        start.prepare(tmp_path)
    assert (tmp_path / ".venv").read_text("utf-8") == "precious"


@pytest.mark.parametrize(
    ("found", "fine"),
    [
        *(("1.26.4", False), ("2.0", True), ("2.0.0", True), ("2.10.1", True), ("3.0", False)),
        *(("3.0.0rc1", False), ("", False)),
    ],
)
def test_a_version_that_will_not_do_is_seen_by_check_and_mended_by_course(made, no_venv, pip, capsys, found, fine):
    """Versions compare as numbers; somebody may have installed another one by hand."""
    change(made, 'dependencies = ["numpy>=2.0,<3"]\n')
    start.write_stamp(made / ".venv", start.wanted(made / ".venv", made, "")[0])
    if found:
        info = start.packages(made / ".venv")[0] / f"numpy-{found}.dist-info"
        info.mkdir()
        (info / "INSTALLER").write_text("pip\n")
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: numpy\nVersion: {found}\n")
    assert start.check(made, made / ".venv") == (0 if fine else 1)
    said = capsys.readouterr().out
    assert (f"numpy {found}: fine" in said) == fine
    assert ("Not ready" in said) == (not fine)
    start.prepare(made)
    assert bool(pip) == (not fine)
