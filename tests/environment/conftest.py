"""A real environment, made once; in the place of pip a list of its calls."""

import os
import shutil
import subprocess

import pytest

from environment.tiny import PROJECT, project
from susgeo import start


@pytest.fixture(scope="session")
def first(tmp_path_factory):
    """A project in a folder with a space and an umlaut in its name, after its first preparation."""
    root = project(tmp_path_factory.mktemp("new user ü"))

    def keep(venv, *more):
        shutil.copytree(venv, root / "as made by Python", symlinks=True, copy_function=os.link)
        return install(venv, *more)

    install = start.install
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(start, "install", keep)
        python = start.prepare(root)
    assert subprocess.run([str(python), "-c", "import backend"], cwd=root.parent).returncode == 0
    shutil.copytree(root / ".venv", root / "complete", symlinks=True, copy_function=os.link)
    return root


@pytest.fixture
def made(first):
    """The same project, complete, whatever the test before did to it."""
    for name in (".venv", ".venv-old", ".venv-test", ".locks", "my_course"):
        shutil.rmtree(first / name, ignore_errors=True)
    shutil.copytree(first / "complete", first / ".venv", symlinks=True, copy_function=os.link)
    (first / "pyproject.toml").write_text(PROJECT, "utf-8")
    (first / "no-network").unlink(missing_ok=True)
    return first


@pytest.fixture
def copied(made, monkeypatch):
    """In the place of Python's venv, which takes seconds, a copy of what it made the first time."""

    def run(command, **more):
        if "venv" not in command:
            return real(command, **more)
        assert command[1:-1] == ["-m", "venv", "--clear"]
        shutil.rmtree(command[-1], ignore_errors=True)
        shutil.copytree(made / "as made by Python", command[-1], symlinks=True, copy_function=os.link)
        return subprocess.CompletedProcess(command, 0)

    real = subprocess.run
    monkeypatch.setattr(start.subprocess, "run", run)


@pytest.fixture
def pip(monkeypatch):
    """In the place of pip a list of its calls; while it holds the word "offline", each of them fails."""
    called = []

    def run_pip(command, root, python, said):
        called.append(command)
        said.append("ERROR: NewConnectionError\n" if "offline" in called else "done\n")
        return "offline" not in called

    monkeypatch.setattr(start, "run_pip", run_pip)
    return called


@pytest.fixture
def no_pip(monkeypatch):
    """Fail the test if pip is called."""
    monkeypatch.setattr(start, "install", lambda *arguments: pytest.fail("pip was called"))


@pytest.fixture
def no_venv(monkeypatch):
    """Fail the test if an environment is made."""
    monkeypatch.setattr(start, "make_venv", lambda *arguments: pytest.fail("an environment was made"))
