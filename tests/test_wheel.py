"""A built wheel works away from the checkout: what the library needs travels in it. Nothing is fetched."""

import json
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
USE = """
import json, sys
sys.path.insert(0, sys.argv[1])
import susgeo
import susgeo.classroom
early = {"nbformat", "nbgrader", "ipywidgets"} & set(sys.modules)
from susgeo.answers import Lesson, written_out
car = susgeo.load_car("three_link")
lesson = Lesson("02", "club")
lesson.task(1)
print(json.dumps({
    "home": susgeo.__file__,
    "early": sorted(early),
    "height": susgeo.summary(car)["rear roll center height [mm]"],
    "tasks": [lesson.question(key).text for key in lesson.tasks],
    "right": bool(lesson.check(1, "1782.6 mm")),
    "wrong": bool(lesson.check(1, "12 mm")),
    "written": written_out(car, "rear roll center height")._repr_mimebundle_()["text/plain"],
}))
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The folder in which the built wheel was unpacked, alone: more is not needed for pure Python (PEP 427)."""
    folder = tmp_path_factory.mktemp("elsewhere")
    build = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", folder]
    subprocess.run(build, cwd=ROOT, check=True)
    (built,) = folder.glob("susgeo-*-py3-none-any.whl")
    with zipfile.ZipFile(built) as archive:
        archive.extractall(folder / "site")
    return folder / "site"


def test_a_wheel_has_all_that_it_needs(wheel):
    answer = subprocess.run([sys.executable, "-I", "-c", USE, wheel], cwd=wheel.parent, capture_output=True, text=True)
    assert answer.returncode == 0, answer.stderr
    found = json.loads(answer.stdout)
    assert Path(found["home"]).parent == wheel / "susgeo"
    # The marking does not wait for what it does not need: with these each submission would cost half as much again.
    assert found["early"] == []
    assert found["height"] == pytest.approx(307.308, abs=5e-4)
    assert len(found["tasks"]) > 3
    assert all(found["tasks"])
    assert (found["right"], found["wrong"]) == (True, False)
    assert "307.3" in found["written"]


def test_types_and_names_travel_with_it(wheel):
    assert {"py.typed", "__init__.pyi"} <= {path.name for path in (wheel / "susgeo").iterdir()}
    inside = {path.relative_to(wheel / "susgeo/data").as_posix() for path in (wheel / "susgeo/data").rglob("*.toml")}
    beside = {path.relative_to(ROOT / "data").as_posix() for path in (ROOT / "data").rglob("*.toml")}
    assert inside == beside
