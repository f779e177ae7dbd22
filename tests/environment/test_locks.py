"""What a lock names is what is installed, or nothing is."""

import hashlib
import re
import socket
import subprocess
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from susgeo import start

ROOT = Path(__file__).resolve().parent.parent.parent


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
    with pytest.raises(start.SetupError, match="not what was tried, so it was not installed"):
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
            with pytest.raises(start.SetupError, match="proxy that this machine's settings name"):
                start.prepare(made)
    (made / ".locks" / "course.txt").unlink()
    monkeypatch.setattr(start, "run_pip", lambda *_: True)  # the next try goes on
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
