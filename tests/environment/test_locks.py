"""The locks hold what pyproject.toml asks for; what a start makes of them is tried in test_environment.py."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent.parent


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
