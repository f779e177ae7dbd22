"""The launcher's environment: made, mended and brought up to date; what it cannot do is one sentence, and ``check`` says it too.

A real environment is made once, with a tiny project that needs no package in the place of the library, so that nothing
is fetched and the checkout's own ``.venv`` is left alone. Where pip itself is not what is tried, it is only counted.
"""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from environment.tiny import change, project, renewed
from susgeo import start

ROOT = Path(__file__).resolve().parent.parent.parent


def test_a_second_start_installs_nothing(made, no_pip, no_venv):
    assert start.prepare(made) == start.venv_python(made / ".venv")


def test_a_setting_of_a_tool_installs_nothing(made, no_pip, no_venv):
    change(made, "[tool.ruff]\nline-length = 100\n")
    start.prepare(made)


def test_the_classroom_needs_more_and_the_course_is_content_with_that(made, no_venv, pip):
    start.prepare(made, "classroom")
    assert pip.pop()[-2:] == ["-e", ".[classroom]"]
    start.prepare(made, "classroom")
    start.prepare(made)
    assert not pip


def test_the_tests_have_an_environment_of_their_own(made, copied, pip):
    before = start.read_stamp(made / ".venv")
    assert start.prepare(made, "test") == start.venv_python(made / ".venv-test")
    assert start.read_stamp(made / ".venv-test")["extra"] == "test" and len(pip) == 1
    assert start.read_stamp(made / ".venv") == before


def test_a_changed_project_is_installed_anew(made, no_venv, pip):
    before = start.read_stamp(made / ".venv")
    change(made, '[project.urls]\nhome = "x"\n')
    start.prepare(made)
    after = start.read_stamp(made / ".venv")
    assert after["project"] != before["project"] and len(pip) == 1
    assert after == {**before, "project": after["project"], "extra": ""}


def test_without_a_network_a_complete_environment_starts_and_says_so(made, no_venv, pip, capfd):
    """An update that was broken off, so that a package lacks what it needs, is no complete one."""
    pip.append("offline")
    change(made, '[project.urls]\nmail = "y"\n')
    before = start.read_stamp(made / ".venv")
    start.prepare(made)
    assert "Starting with the packages that are here" in capfd.readouterr().err
    assert start.read_stamp(made / ".venv") == before  # so that the next start tries again
    (folder,) = start.packages(made / ".venv")
    torn = folder / "torn-1.0.dist-info"
    torn.mkdir()
    (torn / "INSTALLER").write_text("pip\n")
    (torn / "METADATA").write_text("Metadata-Version: 2.1\nName: torn\nVersion: 1.0\nRequires-Dist: absent\n")
    with pytest.raises(start.SetupError, match="internet cannot be reached"):
        start.prepare(made)
    pip.remove("offline")
    start.prepare(made)


def test_without_a_network_what_was_never_complete_is_refused(made, no_venv, monkeypatch):
    (made / ".venv/susgeo-ready.json").unlink()
    (made / "no-network").touch()
    with pytest.raises(start.SetupError, match="needs the internet"):
        start.prepare(made)
    assert "no network" in (made / ".venv/susgeo-install.log").read_text("utf-8")
    monkeypatch.setattr(start, "run_pip", lambda *_: True)  # the network is back
    start.prepare(made)


@pytest.mark.parametrize("stamp", ["", "{", "[]", "null", '{"python": "3.11"}'])
def test_a_spoilt_stamp_is_renewed(made, no_venv, pip, stamp):
    path = made / ".venv/susgeo-ready.json"
    good = start.read_stamp(made / ".venv")
    renewed(path, stamp.replace("3.11", good["python"]))
    start.prepare(made)
    assert json.loads(path.read_text("utf-8")) == good and len(pip) == 1


def test_a_package_that_pip_left_half_done_is_installed_again(made, no_venv):
    (info,) = (made / ".venv").rglob("tiny-1.0.dist-info")
    (info / "INSTALLER").unlink()
    (made / ".venv/susgeo-ready.json").unlink()
    (info.parent / "tiny.pth").unlink()
    start.prepare(made)
    assert (info / "INSTALLER").exists()
    assert (info.parent / "tiny.pth").exists()


@pytest.mark.parametrize("damage", ["no python", "another version", "an empty folder"])
def test_a_broken_environment_is_made_anew(made, copied, pip, damage, capfd):
    venv = made / ".venv"
    python = start.venv_python(venv)
    stamp = start.read_stamp(venv)
    if damage == "no python":
        python.unlink()
    elif damage == "another version":
        start.write_stamp(venv, {**stamp, "python": "3.10"})
    else:
        shutil.rmtree(venv)
        venv.mkdir()
    start.prepare(made)
    assert "anew" in capfd.readouterr().out
    assert start.read_stamp(venv) == stamp and not (made / ".venv-old").exists()
    assert start.python_version(python) == stamp["python"]


def test_a_dead_environment_stays_until_its_successor_is_whole(made, copied, pip):
    """Its Python was taken away; no network; Python comes back: nothing of the old one is lost on the way."""
    venv, python = made / ".venv", start.venv_python(made / ".venv")
    (venv / "precious").write_text("half an hour of fetching")
    python.rename(venv / "away")
    pip.append("offline")
    for _ in range(2):
        with pytest.raises(start.SetupError, match="internet cannot be reached"):
            start.prepare(made)
        assert (made / ".venv-old" / "precious").exists() and not (venv / "precious").exists()
    old = made / ".venv-old"
    (old / "away").rename(start.venv_python(old))
    start.prepare(made)
    assert (venv / "precious").exists() and not old.exists()
    python.unlink()
    pip.remove("offline")
    start.prepare(made)
    assert not (venv / "precious").exists() and not old.exists()


def test_a_missing_pip_is_brought_back_and_erases_nothing(made, no_venv, monkeypatch):
    (pip,) = (made / ".venv").rglob("site-packages/pip/__init__.py")
    pip.unlink()
    start.prepare(made)  # nothing is to be installed: nobody needs pip
    (made / ".venv/susgeo-ready.json").unlink()
    with monkeypatch.context() as patch:
        nothing = lambda command, **more: subprocess.CompletedProcess(command, 1)  # noqa: E731
        patch.setattr(start.subprocess, "run", lambda c, **more: (nothing if "ensurepip" in c else real)(c, **more))
        with pytest.raises(start.SetupError, match="cannot bring pip back"):
            start.prepare(made)
    monkeypatch.setattr(start, "run_pip", lambda *_: True)  # what it would install is another test's
    start.prepare(made)
    ask = [start.venv_python(made / ".venv"), "-I", "-c", "import pip; print(pip.__file__)"]
    assert subprocess.run(ask, capture_output=True, text=True).stdout.strip() == str(pip)


real = subprocess.run


def test_a_folder_copied_with_its_environment_starts_without_a_network(made, no_pip, no_venv, tmp_path, capsys):
    there = tmp_path / "copied folder"
    shutil.copytree(made, there, symlinks=True, ignore=shutil.ignore_patterns("complete", "as made by Python"))
    (there / "backend.py").write_text("place = 'there'", "utf-8")
    assert start.check(there, there / ".venv") == 1 and "needs no network" in capsys.readouterr().out
    python = start.prepare(there)
    ask = [str(python), "-c", "import backend; print(backend.place)"]
    assert subprocess.run(ask, cwd=tmp_path, capture_output=True, text=True).stdout == "there\n"
    assert start.prepare(there) == python and start.check(there, there / ".venv") == 0
    for path in (there / ".venv").rglob("*"):
        text = b"" if path.is_symlink() or path.is_dir() else path.read_bytes()
        assert b"\0" in text or f"{made}/".encode() not in text or path.suffix in (".pyc", ".json"), path


ONE_OF_TWO = """
import os, pathlib, sys, time, susgeo.start as s
def make_venv(venv, before):
    print("Making", venv.name)
    s.venv_python(venv).parent.mkdir(parents=True)
    s.venv_python(venv).symlink_to(sys.executable)
s.make_venv, s.install = make_venv, lambda *_: time.sleep(1.5) or ""
print(s.prepare(pathlib.Path(sys.argv[1])))
"""


def test_two_set_ups_at_once_wait_for_each_other(tmp_path):
    """Two real processes; making an environment and installing are stand-ins that take their time."""
    project(tmp_path)
    command = [sys.executable, "-c", ONE_OF_TWO, str(tmp_path)]
    pipes = {"cwd": ROOT, "text": True, "stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
    both = [subprocess.Popen(command, **pipes) for _ in range(2)]
    said = [one.communicate()[0] for one in both]
    assert [one.returncode for one in both] == [0, 0], said
    assert sum("Making .venv" in text for text in said) == 1
    assert sum("waiting for it to end" in text for text in said) == 1


def test_an_environment_whose_python_is_slow_is_not_made_anew(made, no_venv, no_pip, monkeypatch):
    def slow(command, **more):
        raise subprocess.TimeoutExpired(command, 60)

    monkeypatch.setattr(start.subprocess, "run", slow)
    with pytest.raises(start.SetupError, match="does not answer"):
        start.prepare(made)
