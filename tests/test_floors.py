"""The floors of the house: a module imports only from floors below, and ``import susgeo`` stays light."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# From the ground up. A module may import from lower floors. Within the core it may import only what is listed
# before it; within another floor anything, as long as no circle arises.
FLOORS = {
    "core": "errors dual scalars space flat incidence measure".split(),
    "car": (
        "tables links locators rods axle front car pickup quantities carfile "
        "linkage wheel travel metal anti loads forces sheets tolerance design before_after"
    ).split(),
    "draw": ["paper", "scenes", "draw", "plots", "printed"],
    "bench": ["bench"],
    "answers": ["answers"],
    "classroom": ["classroom"],
}
PACKAGES = {  # from outside; each floor may also use those of the floors below it
    "core": {"numpy", "sympy"},
    "car": set(),
    "draw": {"matplotlib", "PIL"},
    "bench": {"ipywidgets", "IPython"},
    "answers": {"mpmath"},
    "classroom": {"nbformat", "nbclient", "nbconvert", "nbgrader", "traitlets"},
}
LAUNCHER = {"__main__", "start"}  # standard library only, and nothing of the house but each other


def imports(source: str, package: str) -> list[tuple[str, bool]]:
    """Return (absolute module name, is only for the type checker) for each import, wherever it stands.

    ``package`` is the dotted package that the source belongs to; relative imports are resolved against it.
    """
    tree = ast.parse(source)
    for_types = {
        node
        for block in ast.walk(tree)
        if isinstance(block, ast.If) and "TYPE_CHECKING" in ast.unparse(block.test)
        for node in ast.walk(block)
    }
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, node in for_types) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            parts = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            base = ".".join([*parts, *([node.module] if node.module else [])])
            if base == "susgeo" and all(alias.name == "__version__" for alias in node.names):
                continue  # the package's own number is above no floor
            for alias in node.names:  # "from . import rods" names a module, "from .rods import rank" does not
                found.append((f"{base}.{alias.name}" if base == "susgeo" else base, node in for_types))
    return found


def violations(folder: Path) -> list[str]:
    """Return one sentence for each import in the package ``folder`` that breaks a rule."""
    core = FLOORS["core"]
    level = {floor: number for number, floor in enumerate(FLOORS)}
    home = {module: floor for floor, modules in FLOORS.items() for module in modules}
    faults: list[str] = []
    inside: dict[str, set[str]] = {}
    for path in sorted(folder.rglob("*.py")):
        dotted = path.relative_to(folder).with_suffix("").parts
        name, short = ".".join(dotted), dotted[0]
        package = ".".join(["susgeo", *dotted[:-1]])
        used = imports(path.read_text("utf-8"), package)
        names = {(module, for_types) for module, for_types in used}
        if short in LAUNCHER or name == "__init__":
            allowed = {f"susgeo.{module}" for module in LAUNCHER}
            for module, for_types in names:
                outside = module.partition(".")[0] not in sys.stdlib_module_names
                if outside and module not in allowed and not (name == "__init__" and for_types):
                    faults.append(f"{name} must work before anything is installed, but imports {module}")
            if name == "__init__":
                continue
        if short in LAUNCHER:
            continue
        if short not in home:
            faults.append(f"{name} has no floor: add it to FLOORS in tests/test_floors.py")
            continue
        floor = home[short]
        may_use = set().union(*(PACKAGES[lower] for lower in FLOORS if level[lower] <= level[floor]))
        for module, for_types in names:
            top, _, rest = module.partition(".")
            if top != "susgeo":
                if top not in sys.stdlib_module_names and top not in may_use:
                    faults.append(f"{name} ({floor}) imports {top}, which that floor may not use")
                continue
            target = rest.partition(".")[0]
            if target not in home:
                faults.append(f"{name} imports {module}, which is no module of a floor")
            elif level[home[target]] > level[floor]:
                faults.append(f"{name} ({floor}) imports upward from {target} ({home[target]})")
            elif target in core and short in core and core.index(target) > core.index(short):
                faults.append(f"{name} imports sideways from {target}, which is listed after it")
            if not for_types and home.get(target) == floor:
                inside.setdefault(name, set()).add(rest)
    return faults + circles(inside)


def circles(graph: dict[str, set[str]]) -> list[str]:
    """Return one sentence for each module that imports itself by way of others."""

    def reach(start: str) -> set[str]:
        seen: set[str] = set()
        todo = list(graph.get(start, set()) - {start})
        while todo:
            module = todo.pop()
            if module not in seen:
                seen.add(module)
                todo += graph.get(module, ())
        return seen

    around = {start: sorted(other for other in reach(start) if start in reach(other)) for start in graph}
    return [f"{start} imports itself by way of {', '.join(way)}" for start, way in around.items() if way]


def test_no_import_goes_up_or_sideways():
    assert violations(ROOT / "susgeo") == []


@pytest.mark.parametrize(
    ("path", "source", "fault"),
    [
        ("space.py", "from .axle import LiveAxle", "upward from axle"),
        ("space.py", "def f():\n    from susgeo.car import Car", "upward from car"),
        ("scalars.py", "from . import flat", "sideways from flat"),
        ("scalars.py", "import matplotlib.pyplot as plt", "imports matplotlib"),
        ("axle.py", "from susgeo import draw", "upward from draw"),
        ("draw.py", "import ipywidgets", "imports ipywidgets"),
        ("bench.py", "from .answers.number import check", "upward from answers"),
        ("bench.py", "import scipy.optimize", "imports scipy"),
        ("novel.py", "", "has no floor"),
        ("start.py", "import numpy", "before anything is installed"),
        ("__init__.py", "from .car import Car", "before anything is installed"),
        ("answers/working.py", "from ..classroom import hand_out", "upward from classroom"),
    ],
)
def test_the_check_sees_a_forbidden_import(tmp_path, path, source, fault):
    (tmp_path / path).parent.mkdir(exist_ok=True)
    (tmp_path / path).write_text(source)
    (found,) = violations(tmp_path)
    assert fault in found


def test_the_check_sees_a_circle_within_a_floor(tmp_path):
    (tmp_path / "axle.py").write_text("from .rods import rank")
    (tmp_path / "rods.py").write_text("def f():\n    from . import axle")
    assert len(violations(tmp_path)) == 2
    (tmp_path / "rods.py").write_text("if TYPE_CHECKING:\n    from . import axle")
    assert violations(tmp_path) == []


def test_the_check_lets_good_imports_pass(tmp_path):
    (tmp_path / "axle.py").write_text("import math, numpy\nfrom .space import Line\nfrom . import rods")
    (tmp_path / "__init__.py").write_text("if TYPE_CHECKING:\n    from .axle import LiveAxle")
    (tmp_path / "__main__.py").write_text("from susgeo.start import main")
    assert violations(tmp_path) == []


@pytest.mark.parametrize(
    ("modules", "heavy"),
    [
        ("susgeo", {"numpy", "sympy", "matplotlib", "ipywidgets"}),
        ("susgeo.car, susgeo.carfile", {"sympy", "matplotlib", "ipywidgets"}),
    ],
)
def test_an_import_is_light(modules, heavy):
    ask = f"import {modules}, sys; print(sorted({heavy!r} & set(sys.modules)))"
    answer = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True, cwd=ROOT)
    assert answer.stdout.strip() == "[]"


def test_the_top_level_is_as_agreed():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if tracked.returncode == 0:
        top = {name.partition("/")[0] for name in tracked.stdout.splitlines()}
    else:  # a downloaded archive
        top = {path.name for path in ROOT.iterdir()}
    visible = {name for name in top if not name.startswith(".")}
    assert visible == {
        *("README.md", "DEVELOPERS.md", "pyproject.toml", "susgeo", "notebooks", "tests", "data"),
    }
