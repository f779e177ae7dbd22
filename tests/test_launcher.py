"""The front door: what each command says, which lesson it opens, and what an old Python is told."""

import ast
import glob
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import susgeo
from susgeo import start
from susgeo.desk import lay_out

ROOT = Path(__file__).resolve().parent.parent
HOUSE = ROOT / "susgeo"


def run(*arguments, **more):
    command = [sys.executable, "-m", "susgeo", *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, **more)


def test_usage():
    bare = run()
    assert bare.returncode == 0
    assert run("--help").stdout == bare.stdout
    assert run("cuorse").returncode == 2
    for command in ("course", "test", "check"):
        assert f"python -m susgeo {command}" in bare.stdout


def test_the_readme_gives_the_two_commands():
    readme = (ROOT / "README.md").read_text("utf-8")
    for command in ("course", "test"):
        assert f"\n    python -m susgeo {command}\n" in readme


def test_check_names_every_part_and_its_version():
    """Of the environment that runs, if it is one of this folder's; else of the course's."""
    answer = run("check")
    lines = answer.stdout.splitlines()
    ours = Path(sys.prefix).resolve()
    venv = ours if ours.parent == ROOT else ROOT / ".venv"
    assert [line.partition(" ")[0] for line in lines[:-1]] == [
        "Python",
        *(row[0] for row in start.versions(venv, ROOT)),
    ]
    ready = "Everything that the course needs is here." if ours == venv else lines[-1]
    assert lines[-1] == ready and answer.returncode == (0 if ready.startswith("Everything") else 1)
    assert all(line.endswith(": fine") for line in lines[:-1]) or not venv.exists()


def test_the_lesson_asked_for_is_opened(tmp_path):
    python = Path("python")
    assert "--LabApp.default_url=/lab" in start.lab_command(python, tmp_path)
    for name in ("00 start.ipynb", "02-side.ipynb"):
        (tmp_path / name).touch()
    assert "--LabApp.default_url=/doc/tree/00%20start.ipynb" in start.lab_command(python, tmp_path)
    assert "--LabApp.default_url=/doc/tree/02-side.ipynb" in start.lab_command(python, tmp_path, "02", "--x")
    assert start.lab_command(python, tmp_path, "02", "--x")[-1] == "--x"
    with pytest.raises(start.SusgeoError, match="no lesson 77"):
        start.lab_command(python, tmp_path, "77")


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
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    variables = start.environment(Path("here/bin/python"))
    assert variables["PATH"].startswith(str(Path("here/bin")) + os.pathsep)
    assert not {"PYTHONHOME", "PYTHONDONTWRITEBYTECODE"} & variables.keys()


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


def pythons():
    """Every Python of this machine that can be found, by the version that it says: 2.7, 3.6 and so on."""
    homes = [*os.environ["PATH"].split(os.pathsep), *glob.glob(os.path.expanduser("~/.pyenv/versions/*/bin"))]
    found = {}
    for place in (path for home in homes for path in glob.glob(f"{home}/*python[23].[0-9]*")):
        if re.fullmatch(r"python\d\.\d+", Path(place).name) and "shims" not in place:
            found.setdefault(os.path.realpath(place), place)
    return sorted(found.values(), key=lambda place: start.numbers(Path(place).name))


@pytest.mark.parametrize("python", ["pretended", *pythons()])
def test_a_python_of_any_source_starts_or_is_told_what_is_missing(python, tmp_path):
    """Those older than 3.11 get one sentence; the rest run the launcher, without any package. Truth: themselves."""
    ask = "import sys; print('%d.%d' % sys.version_info[:2])"
    pretend = (
        "import sys, runpy; sys.version_info = (3, 9, 1); sys.argv = ['susgeo', 'check'];"
        "runpy.run_module('susgeo', run_name='__main__')"
    )
    there = tmp_path / "new user ü"
    shutil.copytree(HOUSE, there / "susgeo", ignore=shutil.ignore_patterns("__pycache__", "[a-z]*[a-z]", "[d-z]*.py"))
    for name in ("desk.py", "errors.py", "files.py", "start.py", "tables.py"):
        shutil.copy(HOUSE / name, there / "susgeo")
    command = [python, "-s", "-m", "susgeo", "check"] if python != "pretended" else [sys.executable, "-c", pretend]
    variables = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    answer = subprocess.run(command, cwd=there, capture_output=True, env=variables)
    said = (answer.stdout + answer.stderr).decode("utf-8", "replace")
    version = "3.9" if python == "pretended" else subprocess.check_output([python, "-c", ask], text=True).strip()
    assert answer.returncode == 1 and "Traceback" not in said and len(said.splitlines()) == 1
    if start.numbers(version) < [3, 11]:
        assert f"needs Python 3.11 or newer; this is Python {version}" in said
    else:
        assert "There is no pyproject.toml in" in said  # the launcher itself ran


def test_the_launcher_runs_on_a_python_without_any_package():
    answer = subprocess.run(
        [sys.executable, "-I", "-S", "-c", f"import sys; sys.path.insert(0, {str(ROOT)!r}); import susgeo.start"],
        capture_output=True,
        text=True,
    )
    assert answer.stderr == ""
