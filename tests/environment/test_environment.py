"""The launcher's environment: made, mended and brought up to date; what it cannot do is one sentence, and ``check`` says it too.

A real environment is made once, with a tiny project that needs no package in the place of the library, so that nothing
is fetched and the checkout's own ``.venv`` is left alone. Where pip itself is not what is tried, it is only counted.
"""

import hashlib
import json
import re
import shutil
import socket
import subprocess
import sys
import zipfile
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
    with pytest.raises(start.SusgeoError, match="internet cannot be reached"):
        start.prepare(made)
    pip.remove("offline")
    start.prepare(made)


def test_without_a_network_what_was_never_complete_is_refused(made, no_venv, monkeypatch):
    (made / ".venv/susgeo-ready.json").unlink()
    (made / "no-network").touch()
    with pytest.raises(start.SusgeoError, match="needs the internet"):
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
        with pytest.raises(start.SusgeoError, match="internet cannot be reached"):
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
        with pytest.raises(start.SusgeoError, match="cannot bring pip back"):
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
    with pytest.raises(start.SusgeoError, match="does not answer"):
        start.prepare(made)


# What a start cannot mend is one sentence, and ``check`` says the same


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
    with pytest.raises(start.SusgeoError, match="delete it"):
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


# What a lock names is what is installed, or nothing is


def wheel(folder):
    """A package of one line, built here, and a lock's line for it."""
    place, info = folder / "small-1.0-py3-none-any.whl", "small-1.0.dist-info"
    with zipfile.ZipFile(place, "w") as file:
        file.writestr("small.py", "here = True\n")
        file.writestr(f"{info}/METADATA", "Metadata-Version: 2.1\nName: small\nVersion: 1.0\n")
        file.writestr(f"{info}/WHEEL", "Wheel-Version: 1.0\nGenerator: x\nRoot-Is-Purelib: true\nTag: py3-none-any\n")
        file.writestr(f"{info}/RECORD", "")
    return f"./{place.name} --hash=sha256:{hashlib.sha256(place.read_bytes()).hexdigest()}\n"


def test_what_a_lock_names_is_installed_and_what_is_not_what_was_tried_is_not(made, no_venv):
    """By pip itself: the right hash, then another content of the same name, which must not come by another way."""
    (made / ".locks").mkdir()
    lock = made / ".locks" / "course.txt"
    lock.write_text(wheel(made))
    start.prepare(made)
    assert (start.packages(made / ".venv")[0] / "small.py").exists()
    lock.write_text(re.sub("sha256:.*", "sha256:" + "0" * 64, lock.read_text()) + "# changed\n")
    subprocess.run([start.venv_python(made / ".venv"), "-m", "pip", "uninstall", "-qy", "small"], check=True)
    before = start.read_stamp(made / ".venv")
    (made / ".venv/susgeo-ready.json").unlink()
    with pytest.raises(start.SusgeoError, match="not what was tried, so it was not installed"):
        start.prepare(made)
    assert before["project"] != start.project_hash(made) and not start.read_stamp(made / ".venv")
    assert not (start.packages(made / ".venv")[0] / "small.py").exists()


def test_a_lock_is_tried_first_and_a_new_one_is_installed(made, monkeypatch, capsys):
    """One that cannot be had gives way to the versions that pyproject.toml allows; without a network nothing more is tried."""
    called, words = [], ["ERROR: No matching distribution found for tiny==1.0\n"]

    def run_pip(command, root, python, said):
        called.append("-r" in command)
        said += words
        return not called[-1]

    monkeypatch.setattr(start, "run_pip", run_pip)
    (made / ".locks").mkdir()
    (made / ".locks" / "course.txt").write_text("tiny==1.0 --hash=sha256:00", "utf-8")
    start.prepare(made)
    assert called == [True, False] and "taking the newest that fit" in capsys.readouterr().out
    (made / ".locks" / "course.txt").write_text("tiny==1.1 --hash=sha256:00", "utf-8")
    words[:] = ["WARNING: Retrying after connection broken by 'NewConnectionError'\n", *words]
    start.prepare(made)
    assert called == [True, False, True] and "internet cannot be reached" in capsys.readouterr().err


@pytest.mark.parametrize("fails", ["", "uv.txt", "-m uv"])
def test_the_tests_are_installed_by_uv_and_by_pip_where_it_cannot(made, copied, monkeypatch, fails):
    """What cannot be had: nothing, uv itself, or a package by it."""
    called = []

    def run_pip(command, root, python, said):
        called.append(" ".join(command[1:]))
        return not (fails and fails in called[-1])

    monkeypatch.setattr(start, "run_pip", run_pip)
    (made / ".locks").mkdir()
    (made / ".locks" / "test.txt").write_text("tiny==1.0 --hash=sha256:00", "utf-8")
    start.prepare(made, "test")
    by_lock = [each for each in called if "--require-hashes" in each and each.endswith("test.txt")]
    assert ["-m uv" in each for each in by_lock] == {"": [True], "uv.txt": [False], "-m uv": [True, False]}[fails]
    assert called[-1].startswith("-m pip") and called[-1].endswith("--no-build-isolation -e .[test]")


def test_a_proxy_that_hangs_or_refuses_ends_in_a_sentence(made, no_venv, monkeypatch):
    """By pip itself, against a server of this machine that never answers, or always says no."""
    (made / ".locks").mkdir()
    (made / ".locks" / "course.txt").write_text("absent==1.0 --hash=sha256:00", "utf-8")
    (made / ".venv/susgeo-ready.json").unlink()
    with socket.create_server(("127.0.0.1", 0)) as silent:
        for port in (silent.getsockname()[1], 9):
            for name, value in (("HTTPS_PROXY", f"http://127.0.0.1:{port}"), ("NO_PROXY", ""), ("PIP_FIND_LINKS", "")):
                monkeypatch.setenv(name, value)
                monkeypatch.setenv(name.lower(), value)
            monkeypatch.setenv("PIP_INDEX_URL", "https://127.0.0.1:9/simple")
            monkeypatch.setenv("PIP_DEFAULT_TIMEOUT", "0.3")
            with pytest.raises(start.SusgeoError, match="proxy that this machine's settings name"):
                start.prepare(made)
    (made / ".locks" / "course.txt").unlink()
    monkeypatch.setattr(start, "run_pip", lambda *_: True)  # the next try goes on
    start.prepare(made)
