"""The launcher: it makes, mends and updates its environment, and says in one sentence what it cannot do.

Real environments are made here, with a tiny project that needs no package in the place of the library, so
that nothing is fetched and the checkout's own ``.venv`` is left alone.
"""

import ast
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

import susgeo
from susgeo import start
from susgeo.desk import lay_out

ROOT = Path(__file__).resolve().parent.parent
HOUSE = ROOT / "susgeo"

# A build system within the project itself: pip needs no network for it.
BACKEND = """
import base64, hashlib, pathlib, zipfile

def get_requires_for_build_editable(config_settings=None):
    return []

def build_editable(wheel_directory, config_settings=None, metadata_directory=None):
    if pathlib.Path("no-network").exists():
        raise RuntimeError("no network")
    info = "tiny-1.0.dist-info"
    files = {
        "tiny.pth": str(pathlib.Path.cwd()),
        f"{info}/METADATA": "Metadata-Version: 2.1\\nName: tiny\\nVersion: 1.0\\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\\nGenerator: x\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n",
    }
    record = "".join(f"{name},,\\n" for name in [*files, f"{info}/RECORD"])
    with zipfile.ZipFile(pathlib.Path(wheel_directory) / "tiny-1.0-py3-none-any.whl", "w") as wheel:
        for name, text in {**files, f"{info}/RECORD": record}.items():
            wheel.writestr(name, text)
    return "tiny-1.0-py3-none-any.whl"
"""
PROJECT = """
[build-system]
requires = []
build-backend = "backend"
backend-path = ["."]
[project]
name = "tiny"
version = "1.0"
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A project in a folder with a space and an umlaut in its name, after its first preparation."""
    root = tmp_path_factory.mktemp("new user ü")
    (root / "pyproject.toml").write_text(PROJECT, "utf-8")
    (root / "backend.py").write_text(BACKEND, "utf-8")

    def keep(venv, *more):
        shutil.copytree(venv, root / "as made by Python", symlinks=True)
        return install(venv, *more)

    install = start.install
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(start, "install", keep)
        python = start.prepare(root)
    assert subprocess.run([str(python), "-c", "import backend"], cwd=root.parent).returncode == 0
    return root


@pytest.fixture
def copied(made, monkeypatch):
    """In the place of Python's venv, which takes seconds, a copy of what it made the first time."""

    def run(command, **more):
        if "venv" not in command:
            return real(command, **more)
        assert command[1:-1] == ["-m", "venv", "--clear"]
        shutil.rmtree(command[-1], ignore_errors=True)
        shutil.copytree(made / "as made by Python", command[-1], symlinks=True)
        return subprocess.CompletedProcess(command, 0)

    real = subprocess.run
    monkeypatch.setattr(start.subprocess, "run", run)


@pytest.fixture
def no_pip(monkeypatch):
    """Fail the test if pip is called."""
    monkeypatch.setattr(start, "install", lambda *arguments: pytest.fail("pip was called"))


@pytest.fixture
def no_venv(monkeypatch):
    """Fail the test if an environment is made."""
    monkeypatch.setattr(start, "make_venv", lambda venv: pytest.fail("an environment was made"))


def change(made, text):
    project = made / "pyproject.toml"
    project.write_text(project.read_text("utf-8") + text, "utf-8")


def test_a_second_start_installs_nothing(made, no_pip, no_venv):
    assert start.prepare(made) == start.venv_python(made / ".venv")


def test_a_setting_of_a_tool_installs_nothing(made, no_pip, no_venv):
    change(made, "[tool.ruff]\nline-length = 100\n")
    start.prepare(made)


def test_the_classroom_needs_more_and_the_course_is_content_with_that(made, no_venv, monkeypatch):
    start.prepare(made, "classroom")
    monkeypatch.setattr(start, "install", lambda *arguments: pytest.fail("pip was called"))
    start.prepare(made, "classroom")
    start.prepare(made)


def test_the_tests_have_an_environment_of_their_own(made, copied):
    before = start.read_stamp(made / ".venv")
    assert start.prepare(made, "test") == start.venv_python(made / ".venv-test")
    assert start.read_stamp(made / ".venv-test")["extra"] == "test"
    assert start.read_stamp(made / ".venv") == before


def test_a_changed_project_is_installed_anew(made, no_venv):
    before = start.read_stamp(made / ".venv")
    change(made, '[project.urls]\nhome = "x"\n')
    start.prepare(made)
    after = start.read_stamp(made / ".venv")
    assert after["project"] != before["project"]
    assert after == {**before, "project": after["project"], "extra": ""}


def test_without_a_network_a_complete_environment_starts_and_says_so(made, no_venv, capfd):
    (made / "no-network").touch()
    change(made, 'mail = "y"\n')
    before = start.read_stamp(made / ".venv")
    try:
        start.prepare(made)
    finally:
        (made / "no-network").unlink()
    assert "Starting with the packages that are here" in capfd.readouterr().err
    assert start.read_stamp(made / ".venv") == before  # so that the next start tries again


def test_without_a_network_what_was_never_complete_is_refused(made, no_venv):
    (made / ".venv/susgeo-ready.json").unlink()
    (made / "no-network").touch()
    try:
        with pytest.raises(start.SetupError, match="needs the internet"):
            start.prepare(made)
    finally:
        (made / "no-network").unlink()
    assert "no network" in (made / ".venv/susgeo-install.log").read_text("utf-8")
    start.prepare(made)


@pytest.mark.parametrize("stamp", ["", "{", "[]", "null", '{"python": "3.11"}'])
def test_a_spoilt_stamp_is_renewed(made, no_venv, stamp):
    path = made / ".venv/susgeo-ready.json"
    (good,) = start.wanted(made / ".venv", made, "")[:1]
    path.write_text(stamp.replace("3.11", good["python"]), "utf-8")
    start.prepare(made)
    assert json.loads(path.read_text("utf-8")) == good


def test_a_package_that_pip_left_half_done_is_installed_again(made, no_venv):
    (info,) = (made / ".venv").rglob("tiny-1.0.dist-info")
    (info / "INSTALLER").unlink()
    (made / ".venv/susgeo-ready.json").unlink()
    (info.parent / "tiny.pth").unlink()
    start.prepare(made)
    assert (info / "INSTALLER").exists()
    assert (info.parent / "tiny.pth").exists()


@pytest.mark.parametrize("damage", ["no python", "another version", "an empty folder"])
def test_a_broken_environment_is_made_anew(made, copied, damage, capfd):
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
    assert start.read_stamp(venv) == stamp
    assert start.python_version(python) == stamp["python"]


def test_a_missing_pip_is_brought_back_and_erases_nothing(made, no_venv):
    (pip,) = (made / ".venv").rglob("site-packages/pip/__init__.py")
    pip.unlink()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(start, "install", lambda *arguments: pytest.fail("pip was called"))
        start.prepare(made)  # nothing is to be installed: nobody needs pip
    (made / ".venv/susgeo-ready.json").unlink()
    start.prepare(made)
    assert pip.exists()


def test_a_folder_copied_with_its_environment_starts_without_a_network(made, no_pip, no_venv, tmp_path):
    there = tmp_path / "copied folder"
    shutil.copytree(made, there, symlinks=True)
    (there / "backend.py").write_text("place = 'there'", "utf-8")
    python = start.prepare(there)
    ask = [str(python), "-c", "import backend; print(backend.place)"]
    assert subprocess.run(ask, cwd=tmp_path, capture_output=True, text=True).stdout == "there\n"
    assert start.prepare(there) == python
    for path in (there / ".venv").rglob("*"):
        text = b"" if path.is_symlink() or path.is_dir() else path.read_bytes()
        assert b"\0" in text or f"{made}/".encode() not in text or path.suffix in (".pyc", ".json"), path


def test_two_set_ups_at_once_wait_for_each_other(made, tmp_path):
    for name in ("pyproject.toml", "backend.py"):
        shutil.copy(made / name, tmp_path)
    ask = "import sys, pathlib, susgeo.start as s; print(s.prepare(pathlib.Path(sys.argv[1])))"
    both = [
        subprocess.Popen(
            [sys.executable, "-c", ask, tmp_path], cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        for _ in range(2)
    ]
    said = [one.communicate()[0] for one in both]
    assert [one.returncode for one in both] == [0, 0], said
    assert sum("Making .venv" in text for text in said) == 1
    assert sum("waiting for it to end" in text for text in said) == 1


@pytest.mark.parametrize("place", ["prepare", "lay_out"])
def test_a_folder_that_cannot_be_written_to_is_a_sentence(monkeypatch, capsys, place):
    def locked(*_):
        raise PermissionError(13, "Permission denied", "somewhere")

    monkeypatch.setattr(start, "prepare", lambda *_: Path("python"))
    monkeypatch.setattr(start, place, locked)
    assert start.main(["course"]) == 1
    said = capsys.readouterr()
    assert "Permission denied: somewhere" in said.err and "rights in this folder" in said.err and not said.out


def test_an_environment_whose_python_is_slow_is_not_made_anew(made, no_venv, no_pip, monkeypatch):
    def slow(command, **more):
        raise subprocess.TimeoutExpired(command, 60)

    monkeypatch.setattr(start.subprocess, "run", slow)
    with pytest.raises(start.SetupError, match="does not answer"):
        start.prepare(made)


def test_a_lock_is_tried_first_and_a_new_one_is_installed(made, monkeypatch):
    """One that cannot be had gives way to the versions that pyproject.toml allows."""
    called = []
    monkeypatch.setattr(start, "run_pip", lambda command, *_: called.append(command) or "-r" not in command)
    (made / ".locks").mkdir()
    (made / ".locks" / "course.txt").write_text("tiny==1.0 --hash=sha256:00", "utf-8")
    before = start.project_hash(made)
    start.prepare(made)
    assert ["-r" in command for command in called] == [True, False]
    assert "--require-hashes" in called[0] and "--no-build-isolation" not in called[1]
    (made / ".locks" / "course.txt").unlink()
    assert start.project_hash(made) != before
    start.prepare(made)


@pytest.mark.parametrize("name", ["course", "classroom", "test"])
def test_the_locks_hold_what_the_project_asks_for_with_hashes(name):
    """Every package of it in a version that pyproject.toml allows, none without its hashes."""
    lines = (ROOT / ".locks" / f"{name}.txt").read_text("utf-8").replace("\\\n", "").splitlines()
    assert all("==" in line and "--hash=sha256:" in line for line in lines)
    held = {Requirement(line.partition("--hash")[0]).name: line for line in lines}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    wanted = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    wanted += [
        one for extra in {name} & {"classroom", "test"} for one in project["project"]["optional-dependencies"][extra]
    ]
    for one in map(Requirement, wanted):
        if one.name != "susgeo":
            version = re.search(r"==([^\s;]+)", held[one.name])[1]
            assert one.specifier.contains(version), f"{one} and {version}: run python tests/locks.py"


def test_what_is_no_checkout_is_refused(tmp_path):
    with pytest.raises(start.SetupError, match=r"no pyproject.toml in .*README"):
        start.prepare(tmp_path)


def test_a_python_without_venv_says_how_to_mend_it(tmp_path, monkeypatch):
    (tmp_path / "pyproject.toml").write_text(PROJECT, "utf-8")
    monkeypatch.setattr(start.importlib.util, "find_spec", lambda name: None if name == "ensurepip" else 1)
    with pytest.raises(start.SetupError, match="sudo apt install python3-venv"):
        start.prepare(tmp_path)
    assert not (tmp_path / ".venv").exists()


def test_a_file_named_like_the_environment_is_not_deleted(tmp_path):
    (tmp_path / "pyproject.toml").write_text(PROJECT, "utf-8")
    (tmp_path / ".venv").write_text("precious", "utf-8")
    with pytest.raises(start.SetupError, match="delete it"):
        start.prepare(tmp_path)
    assert (tmp_path / ".venv").read_text("utf-8") == "precious"


def run(*arguments, **more):
    command = [sys.executable, "-m", "susgeo", *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, **more)


def test_usage():
    assert run().returncode == 0
    assert run("--help").stdout == run().stdout
    assert run("cuorse").returncode == 2
    for command in ("course", "test", "check"):
        assert f"python -m susgeo {command}" in run().stdout


def test_the_readme_gives_the_two_commands():
    readme = (ROOT / "README.md").read_text("utf-8")
    for command in ("course", "test"):
        assert f"\n    python -m susgeo {command}\n" in readme


def test_check_names_every_part_and_its_version():
    answer = run("check")
    lines = answer.stdout.splitlines()
    assert answer.returncode == 0
    assert [line.partition(" ")[0] for line in lines[:-1]] == [row[0] for row in start.versions()]
    assert all(line.endswith(": fine") for line in lines[:-1])
    assert lines[-1] == "Everything that the course needs is here."


@pytest.mark.parametrize(
    ("found", "fine"),
    [
        *(("1.26.4", False), ("2.0", True), ("2.0.0", True), ("2.10.1", True), ("3.0", False)),
        *(("3.0.0rc1", False), ("", False)),
    ],
)
def test_check_compares_versions_as_numbers(monkeypatch, capsys, found, fine):
    def version(name):
        if name != "numpy":
            return real(name)
        if not found:
            raise start.importlib.metadata.PackageNotFoundError(name)
        return found

    real = start.importlib.metadata.version
    monkeypatch.setattr(start.importlib.metadata, "version", version)
    assert start.check() == (0 if fine else 1)
    said = capsys.readouterr().out
    assert (f"numpy {found}: fine" in said) == fine
    assert ("Not ready" in said) == (not fine)


def test_the_lesson_asked_for_is_opened(tmp_path):
    python = Path("python")
    assert "--LabApp.default_url=/lab" in start.lab_command(python, tmp_path)
    for name in ("00 start.ipynb", "02-side.ipynb"):
        (tmp_path / name).touch()
    assert "--LabApp.default_url=/doc/tree/00%20start.ipynb" in start.lab_command(python, tmp_path)
    assert "--LabApp.default_url=/doc/tree/02-side.ipynb" in start.lab_command(python, tmp_path, "02", "--x")
    assert start.lab_command(python, tmp_path, "02", "--x")[-1] == "--x"
    with pytest.raises(start.SetupError, match="no lesson 77"):
        start.lab_command(python, tmp_path, "77")
    with pytest.raises(start.SetupError, match="incomplete"):
        start.lab_command(python, tmp_path / "gone")


def course_in(folder, *lessons):
    """A checkout's lessons: two cells each, one of them without output."""
    (folder / "notebooks").mkdir(exist_ok=True)
    for name, text in lessons:
        cells = [{"cell_type": "markdown", "source": [text]}, {"cell_type": "code", "source": "1", "outputs": []}]
        (folder / "notebooks" / name).write_text(json.dumps({"cells": cells}), "utf-8")


def test_the_desk_gets_each_lesson_and_an_update_never_meets_the_learners_work(tmp_path):
    course_in(tmp_path, ("00_start.ipynb", "a"), ("01_more.ipynb", "b"), ("02_side.ipynb", "c"))
    desk = lay_out(tmp_path)
    assert sorted(path.name for path in desk.glob("*.ipynb")) == ["00_start.ipynb", "01_more.ipynb", "02_side.ipynb"]
    opened = json.loads((desk / "01_more.ipynb").read_text("utf-8"))
    opened["cells"][1]["outputs"] = ["something"]  # run and saved, not written in
    (desk / "01_more.ipynb").write_text(json.dumps(opened), "utf-8")
    (desk / "02_side.ipynb").write_text(json.dumps({"cells": [{"source": "my own notes"}]}), "utf-8")
    (desk / "my_answers.jsonl").write_text("kept", "utf-8")
    lay_out(tmp_path)  # nothing new: nothing happens
    assert "my own notes" in (desk / "02_side.ipynb").read_text("utf-8")
    assert "something" in (desk / "01_more.ipynb").read_text("utf-8")
    course_in(tmp_path, ("01_more.ipynb", "b2"), ("02_side.ipynb", "c2"))  # an update of the course
    lay_out(tmp_path)
    lay_out(tmp_path)
    assert "b2" in (desk / "01_more.ipynb").read_text("utf-8") and "c2" in (desk / "02_side.ipynb").read_text("utf-8")
    (kept,) = desk.glob("*as I left it*")
    assert "my own notes" in kept.read_text("utf-8") and kept.name.startswith("02_side")
    assert (desk / "my_answers.jsonl").read_text("utf-8") == "kept"


def test_answers_of_a_time_before_the_desk_are_taken_along(tmp_path):
    course_in(tmp_path, ("00_start.ipynb", "a"))
    (tmp_path / "notebooks" / "my_answers.jsonl").write_text("old", "utf-8")
    assert (lay_out(tmp_path) / "my_answers.jsonl").read_text("utf-8") == "old"


@pytest.mark.parametrize(
    ("record", "lesson"),
    [
        (None, "00"), ("", "00"), ('{"task": "03.1"}\n{"task": "02 guess: how far?"}\n', "02"),
        ('{"task": "05.2"}\n{"torn', "05"), ("[]\n5\n", "00"),
    ],
)  # fmt: skip
def test_the_lesson_last_worked_on_is_opened_and_three_lines_say_so(tmp_path, monkeypatch, record, lesson):
    monkeypatch.setenv("JUPYTER_TOKEN", "secret")
    for name in ("00_a.ipynb", "02_b.ipynb", "05_c.ipynb"):
        (tmp_path / name).touch()
    if record is not None:
        (tmp_path / "my_answers.jsonl").write_text(record, "utf-8")
    command, said = start.open_course(Path("python"), tmp_path)
    page = next(one for one in command if "default_url" in one)
    assert page.startswith(f"--LabApp.default_url=/doc/tree/{lesson}_")
    assert len(said) == 3 and said[0].startswith(f"Lesson {lesson} opens") and "token=secret" in said[0]
    assert str(tmp_path) in said[1] and "Ctrl+C" in said[2]
    command, said = start.open_course(Path("python"), tmp_path, "05", "--no-browser", "--ServerApp.port=9")
    assert said[0] == "Lesson 05 opens in your browser." and command[-1] == "--ServerApp.port=9"


def test_the_programs_of_the_environment_come_first(monkeypatch):
    monkeypatch.setenv("PYTHONHOME", "elsewhere")
    variables = start.environment(Path("here/bin/python"))
    assert variables["PATH"].startswith(str(Path("here/bin")) + os.pathsep)
    assert "PYTHONHOME" not in variables


@pytest.mark.parametrize("name", ["__init__.py", "__main__.py"])
def test_an_old_python_can_run_the_front_door(name):
    """No annotation and no f-string: Python 3.8 fails on the first when it runs them, 2.7 on both."""
    source = (HOUSE / name).read_text("ascii")
    new = (ast.JoinedStr, ast.AnnAssign, ast.Starred, ast.NamedExpr)
    for node in ast.walk(ast.parse(source, feature_version=(3, 7))):
        assert not isinstance(node, new), ast.unparse(node)
        if isinstance(node, ast.FunctionDef):
            assert node.returns is None
            assert not any(argument.annotation for argument in node.args.args), node.name


def test_editors_are_told_the_names_that_are_there():
    stub = ast.parse((HOUSE / "__init__.pyi").read_text("utf-8"))
    offered = {
        alias.asname: node.module for node in stub.body if isinstance(node, ast.ImportFrom) for alias in node.names
    }
    assert offered.pop("draw", None) is None and offered == susgeo._HOME  # draw is a folder


def test_an_old_python_is_told_what_is_missing():
    pretend = (
        "import sys, runpy; sys.version_info = (3, 9, 1); sys.argv = ['susgeo', 'course'];"
        "runpy.run_module('susgeo', run_name='__main__')"
    )
    answer = subprocess.run([sys.executable, "-c", pretend], cwd=ROOT, capture_output=True, text=True)
    assert answer.returncode == 1
    assert "needs Python 3.11 or newer; this is Python 3.9" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_the_launcher_runs_on_a_python_without_any_package():
    answer = subprocess.run(
        [sys.executable, "-I", "-S", "-c", f"import sys; sys.path.insert(0, {str(ROOT)!r}); import susgeo.start"],
        capture_output=True,
        text=True,
    )
    assert answer.stderr == ""
