"""The house: the contracts of pyproject.toml hold, they bite, and DEVELOPERS.md draws what they say.

Import-linter checks the contracts. ``python tests/test_house.py`` puts the drawing into DEVELOPERS.md anew.
"""

import ast
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).resolve().parent.parent
LINT = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports())"


def contracts() -> dict[str, dict]:
    """Return the contracts by their ids."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]
    return {contract["id"]: contract for contract in settings["contracts"]}


def drawing() -> str:
    """Return the house as a table, from the top floor to the ground: the contract's layers, each room in its own words."""
    rows = []
    packages = [contract for contract in contracts().values() if contract["type"] == "protected"]
    for layer in contracts()["floors"]["layers"]:
        for room in layer.split(" | "):
            place = ROOT / "susgeo" / room
            file = place / "__init__.py" if place.is_dir() else place.with_suffix(".py")
            words = ast.get_docstring(ast.parse(file.read_text("utf-8"))).splitlines()[0]
            uses = [
                package
                for contract in packages
                if any(f"{each}.".startswith(f"susgeo.{room}.") for each in contract["allowed_importers"])
                for package in contract["protected_modules"]
                if package != "numpy"
            ]
            mark = f"`{room}/`" if place.is_dir() else f"`{room}`"
            beside = "" if layer.startswith(room) else " (beside it)"
            rows.append(f"| {mark}{beside} | {words} | {', '.join(uses)} |")
    return "\n".join(["| room | what it holds | packages it may use |", "| --- | --- | --- |", *rows])


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    """Run import-linter on the house that stands in ``folder``."""
    return subprocess.run([sys.executable, "-c", LINT], cwd=folder, capture_output=True, text=True)


def test_every_contract_holds():
    answer = lint(ROOT)
    assert answer.returncode == 0, answer.stdout
    assert f"{len(contracts())} kept, 0 broken" in answer.stdout


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """A copy of the house, to be broken."""
    folder = tmp_path_factory.mktemp("house")
    shutil.copy(ROOT / "pyproject.toml", folder)
    shutil.copytree(ROOT / "susgeo", folder / "susgeo", ignore=shutil.ignore_patterns("__pycache__"))
    return folder


@pytest.mark.parametrize(
    ("path", "source", "contract"),
    [
        ("geometry/space.py", "from ..car.axle import LiveAxle", "floors"),
        ("geometry/space.py", "def f():\n    from susgeo.car.car import Car", "floors"),
        ("bench/words.py", "from ..answers.numbers import check", "floors"),
        ("start.py", "from .geometry import scalars", "floors"),
        ("files.py", "from . import tables", "floors"),
        ("novel.py", "", "floors"),
        ("geometry/scalars.py", "from . import flat", "circles"),
        ("car/links.py", "def f():\n    from . import axle", "circles"),
        ("__init__.py", "from .errors import SusgeoError", "names"),
        ("__init__.py", "import numpy", "names"),
        ("start.py", "import numpy", "arrays"),
        ("car/axle.py", "import sympy", "symbols"),
        ("results/compare.py", "import matplotlib.pyplot as plt", "figures"),
        ("draw/still.py", "import ipywidgets", "widgets"),
        ("answers/check.py", "import nbformat", "notebooks"),
    ],
)
def test_the_check_sees_a_forbidden_import(copy, path, source, contract):
    file = copy / "susgeo" / path
    before = file.read_text("utf-8") if file.exists() else None
    file.write_text(f"{before or ''}\n{source}\n", "utf-8")
    try:
        answer = lint(copy)
    finally:
        file.unlink() if before is None else file.write_text(before, "utf-8")
    assert answer.returncode == 1
    assert re.search(re.escape(contracts()[contract]["name"]) + r"\s+BROKEN", answer.stdout), answer.stdout


def test_what_is_for_the_type_checker_alone_goes_down_too(copy):
    file = copy / "susgeo/geometry/space.py"
    before = file.read_text("utf-8")
    file.write_text(f"{before}\nif TYPE_CHECKING:\n    from ..car.axle import LiveAxle\n", "utf-8")
    try:
        assert lint(copy).returncode == 1
    finally:
        file.write_text(before, "utf-8")


def test_every_package_from_outside_is_named_in_a_contract():
    """So that a new one is thought about: a contract says which floors may use it."""
    graph = grimp.build_graph("susgeo", include_external_packages=True)
    outside = {name for name in graph.modules if not name.startswith("susgeo")} - set(sys.stdlib_module_names)
    protected = {name for contract in contracts().values() for name in contract.get("protected_modules", ())}
    assert outside == protected


def test_the_drawing_in_the_developers_guide_is_the_contract():
    assert drawing() in (ROOT / "DEVELOPERS.md").read_text("utf-8"), "run: python tests/test_house.py"


@pytest.mark.parametrize(
    ("modules", "heavy"),
    [
        ("susgeo", {"numpy", "sympy", "matplotlib", "ipywidgets"}),
        ("susgeo.car.car, susgeo.car.carfile", {"sympy", "matplotlib", "ipywidgets"}),
    ],
)
def test_an_import_is_light(modules, heavy):
    ask = f"import {modules}, sys; print(sorted({heavy!r} & set(sys.modules)))"
    answer = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True, cwd=ROOT)
    assert answer.stdout.strip() == "[]"


def test_the_library_has_few_rooms_and_no_long_module():
    assert len(list((ROOT / "susgeo").glob("*.py"))) <= 8
    lines = {path.name: len(path.read_text("utf-8").splitlines()) for path in (ROOT / "susgeo").rglob("*.py")}
    assert {name: count for name, count in lines.items() if count > 450} == {}


def test_the_top_level_is_as_agreed():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if tracked.returncode == 0:
        top = {name.partition("/")[0] for name in tracked.stdout.splitlines()}
    else:  # a downloaded archive
        top = {path.name for path in ROOT.iterdir()}
    visible = {name for name in top if not name.startswith(".")}
    assert visible == {*("README.md", "DEVELOPERS.md", "pyproject.toml", "susgeo", "notebooks", "tests", "data")}


if __name__ == "__main__":
    guide = ROOT / "DEVELOPERS.md"
    text = re.sub(r"\| room \|.*?\n\n", lambda _: drawing() + "\n\n", guide.read_text("utf-8"), flags=re.DOTALL)
    guide.write_text(text, "utf-8")
