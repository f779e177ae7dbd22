"""Do the tests bite? Small random faults are put into the library, one at a time, and the tests have to see each.

    python tests/mutants.py --count 200 --seed 1          # all folders, in proportion to their size
    python tests/mutants.py --count 30 geometry travel    # some

A fault is one changed operator, comparison, condition or number. It is put into a copy of the checkout. One run of each
folder's tests, and of those of the floor above it, under coverage says which reach the faulty line, no result kept from the
function before; these run, the quickest first, then all others of that run, and the first failure ends it. A fault
that no test sees is a survivor: it gets a case, or the line that it is in goes, or DEVELOPERS.md says why it
cannot matter. Needs fork (Linux, macOS). ``--turn COMMAND`` puts a command before each test run, such as one that waits for a
free processor. A run that takes over four times the processor's seconds of the faultless one is ended, and the fault counts as seen.
"""

import argparse
import ast
import contextlib
import functools
import importlib
import multiprocessing
import os
import pickle
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import coverage
import pytest

ROOT = Path(__file__).resolve().parent.parent
TESTS = {
    "geometry": ["susgeo/geometry", "tests/geometry", "susgeo/car", "tests/car"],
    "car": ["susgeo/car", "tests/car", "susgeo/travel", "tests/travel"],
    "travel": ["susgeo/travel", "tests/travel", "susgeo/loads", "tests/loads"],
    "loads": ["susgeo/loads", "tests/loads", "susgeo/results", "tests/results"],
    "results": ["susgeo/results", "tests/results", "tests/workshop"],
    "answers": ["susgeo/answers", "tests/answers"],
}
SLOW = ["--deselect=tests/answers/test_matrix.py"]
SWAPS = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.And: ast.Or,
    ast.Or: ast.And,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}


def places(tree: ast.AST) -> list[ast.AST]:
    """Return the nodes that can be made wrong: none in annotations, docstrings and what is for the type checker."""
    found, todo = [], [tree]
    while todo:
        node = todo.pop()
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            continue
        for name, value in ast.iter_fields(node):
            if name not in ("annotation", "returns", "decorator_list"):
                todo += [each for each in (value if isinstance(value, list) else [value]) if isinstance(each, ast.AST)]
        number = isinstance(node, ast.Constant) and type(node.value) in (int, float, bool)
        operator = isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in SWAPS
        sign = isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub)
        compared = isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS
        if number or operator or sign or compared or isinstance(node, ast.If | ast.IfExp):
            found.append(node)
    return sorted(found, key=lambda node: (node.lineno, node.col_offset, type(node).__name__))


def spoil(source: str, number: int) -> tuple[str, str]:
    """Return the source with its place of that number made wrong, and in words what was changed."""
    tree = ast.parse(source)
    node = places(tree)[number]
    before = ast.unparse(node.test if isinstance(node, ast.If | ast.IfExp) else node)
    if isinstance(node, ast.Constant):
        value = node.value
        node.value = not value if type(value) is bool else value + 1 if type(value) is int else value * 2 + (value == 0)
    elif isinstance(node, ast.Compare):
        node.ops[0] = SWAPS[type(node.ops[0])]()
    elif isinstance(node, ast.UnaryOp):
        node.op = ast.UAdd() if isinstance(node.op, ast.USub) else node.op
        if isinstance(node.op, ast.Not):
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
    elif isinstance(node, ast.If | ast.IfExp):
        node.test = ast.UnaryOp(ast.Not(), node.test)
    else:
        node.op = SWAPS[type(node.op)]()
    ast.fix_missing_locations(tree)
    after = ast.unparse(node.test if isinstance(node, ast.If | ast.IfExp) else node)
    return ast.unparse(tree), f"line {node.lineno}: {before}  ->  {after}"[:200]


class Ordered:
    """A pytest plugin that runs the tests of these names, or all others, the quickest files first."""

    def __init__(self, names: set[str], others: bool, seconds: dict[str, float]) -> None:
        self.names, self.others, self.seconds, self.files = names, others, seconds, Counter()
        for name, each in seconds.items():
            self.files[name.split("::")[0]] += each

    @pytest.hookimpl(wrapper=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]):
        yield
        items[:] = [item for item in items if (item.nodeid in self.names) != self.others]
        items.sort(key=lambda item: (self.files[item.nodeid.split("::")[0]], self.seconds.get(item.nodeid, 0)))


def forget() -> None:
    """Clear all that functions of the library and of its tests keep, so that the next test reaches what it rests on."""
    for name, module in list(sys.modules.items()):
        if name.startswith(("susgeo", "tests")):
            for thing in list(vars(module).values()):
                for each in (thing, *vars(thing).values()) if isinstance(thing, type) else (thing,):
                    if isinstance(each, functools._lru_cache_wrapper):
                        each.cache_clear()


class Reached:
    """A pytest plugin that notes which test reaches which line of the library, and how long each test takes."""

    def __init__(self, place: Path) -> None:
        self.place, self.seconds, self.failed, self.name = place, {}, [], ""
        self.watch = coverage.Coverage(data_file=str(place.with_suffix(".coverage")), source_pkgs=["susgeo"])
        self.watch.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item):
        name, _, _ = item.nodeid.partition("[")
        if name != self.name:  # before each case of a test it would take too long
            forget()
        start, self.name = time.process_time(), name
        self.watch.switch_context(item.nodeid)
        yield
        self.watch.switch_context("")
        self.seconds[item.nodeid] = time.process_time() - start

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(report.nodeid)

    def pytest_sessionfinish(self) -> None:
        self.watch.stop()
        data, lines = self.watch.get_data(), {}
        for name in data.measured_files():
            for line, tests in data.contexts_by_lineno(name).items():
                lines[Path(name).name, Path(name).parent.name, line] = tests
        self.place.write_bytes(pickle.dumps((lines, self.seconds, self.failed)))


def run(copy: Path, options: list[str], limit: float, plugin: Any) -> None:
    """Run tests in a copy, in this process, for so many seconds of the processor; exit with pytest's status."""
    resource.setrlimit(resource.RLIMIT_CPU, (int(limit), int(limit)))
    with (copy / "log.txt").open("w") as file:
        os.dup2(file.fileno(), 1)
        os.dup2(file.fileno(), 2)
    os.chdir(copy)
    os.environ["PYTHONPATH"] = str(copy)
    sys.path[:0] = [str(copy)]
    sys.dont_write_bytecode = True
    os._exit(pytest.main(["-q", "--tb=no", "-p", "no:cacheprovider", *SLOW, *options], [plugin()]))


def outcome(copy: Path, options: list[str], limit: float, plugin: Any) -> str:
    """Return "passed", "failed" or "too long"."""
    fork = multiprocessing.get_context("fork")
    child = fork.Process(target=run, args=(copy, options, limit, plugin))
    child.start()
    child.join(20 * limit)  # one that sleeps for ever
    if child.is_alive():
        child.kill()
        child.join()
    return (
        "passed"
        if child.exitcode in (0, pytest.ExitCode.NO_TESTS_COLLECTED)
        else "failed"
        if child.exitcode > 0
        else "too long"
    )


def tried(copy: Path, folder: str, name: str, source: str, number: int, reached: Any) -> str:
    """Return what became of one fault."""
    lines, seconds, failed = reached
    node = places(ast.parse(source))[number]
    body = range(node.lineno, node.end_lineno + 1)
    few = {test for line in body for test in lines.get((Path(name).name, folder, line), ())} - {"", *failed}
    files, limit = sorted({test.split("::")[0] for test in few}), 60 + 4 * sum(seconds[test] for test in few)
    found = outcome(copy, ["-x", *files], limit, lambda: Ordered(few, False, seconds)) if few else "passed"
    if found == "passed":
        limit, known = 60 + 4 * sum(seconds.values()), few.union(failed)
        found = outcome(copy, ["-x", *TESTS[folder]], limit, lambda: Ordered(known, True, seconds))
    return found


@contextlib.contextmanager
def turn(command: str) -> Iterator[None]:
    """Wait until a command that runs another one has begun to, and end it after the work."""
    if not command:
        yield
        return
    with subprocess.Popen([*command.split(), "sh", "-c", "echo; cat"], stdin=-1, stdout=-1) as waiting:
        waiting.stdout.readline()
        yield
        waiting.stdin.close()


def main() -> None:
    """Try the mutants and print what became of them."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("folders", nargs="*", default=list(TESTS))
    options.add_argument("--count", type=int, default=200)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--turn", default="")
    given = options.parse_args()
    for name in ("hypothesis", "matplotlib.figure", "mujoco", "nbval.plugin", "scipy.optimize", "shapely", "sympy"):
        importlib.import_module(name)  # what every run needs is loaded once

    everywhere = [
        (folder, path.relative_to(ROOT).as_posix(), number)
        for folder in given.folders
        for path in sorted((ROOT / "susgeo" / folder).glob("*.py"))
        for number in range(len(places(ast.parse(path.read_text("utf-8")))))
    ]
    chosen = sorted(random.Random(given.seed).sample(everywhere, min(given.count, len(everywhere))))
    count: Counter[str] = Counter()
    killed: Counter[str] = Counter()
    survivors = []
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place) / "course"
        skip = shutil.ignore_patterns(".*", "__pycache__", "browser")
        shutil.copytree(ROOT, copy, ignore=skip)
        reached = {}
        for folder in dict.fromkeys(folder for folder, _, _ in chosen):
            with turn(given.turn):
                outcome(copy, TESTS[folder], 1800, lambda: Reached(copy / "reached.pickle"))
            reached[folder] = pickle.loads((copy / "reached.pickle").read_bytes())
            _, seconds, failed = reached[folder]
            print(
                f"{folder}: {sum(seconds.values()):.0f} s without a fault; left out, since it fails: {failed}",
                flush=True,
            )
        random.Random(given.seed).shuffle(chosen)
        for folder, name, number in chosen:
            source = (copy / name).read_text("utf-8")
            spoilt, words = spoil(source, number)
            (copy / name).write_text(spoilt, "utf-8")
            with turn(given.turn):
                found = tried(copy, folder, name, source, number, reached[folder])
            (copy / name).write_text(source, "utf-8")
            count[name] += 1
            killed[name] += found != "passed"
            print(f"{'SURVIVED' if found == 'passed' else found}  {name} {words}", flush=True)
            if found == "passed":
                survivors.append(f"- {name} {words}")
    print("\n| module | mutants | killed |\n| --- | --- | --- |")
    for name in sorted(count):
        print(f"| {name.removeprefix('susgeo/')} | {count[name]} | {killed[name]} |")
    total, dead = sum(count.values()), sum(killed.values())
    print(f"| all | {total} | {dead} ({dead / total:.0%}) |\n\nSurvivors:\n" + "\n".join(survivors))


if __name__ == "__main__":
    main()
