"""Every lesson as a reader has it: opened in JupyterLab, run, its bench moved, its answers tried."""

import ast
import os
from pathlib import Path

import nbformat
import pytest

from labpage import free_of_problems

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
LESSONS = sorted(NOTEBOOKS.glob("[0-9]*.ipynb"))


def bench_of(path):
    """Return the lesson's bench, made in this process by the lesson's own cells."""
    names: dict = {}
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type != "code" or cell.id not in ("setup", "bench"):
            continue
        tree = ast.parse(cell.source)
        if cell.id == "bench":
            made = ast.Expression(tree.body.pop().value)
            exec(compile(tree, path.name, "exec"), names)  # noqa: S102
            return eval(compile(made, path.name, "eval"), names)  # noqa: S307
        exec(compile(tree, path.name, "exec"), names)  # noqa: S102
    raise AssertionError(f"{path.name} has no cell called bench")


def numbers_of(made):
    """Return the numbers that a bench shows for where its sliders stand."""
    from susgeo.bench import shown, value_of

    return [shown(value_of(function, made.thing), unit) for (_, unit), function in made.numbers.items()]


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_the_bench_of_a_lesson_follows_the_keys(lab, lab_server, path):
    lab.open(path.name)
    lab.run_all()
    before = os.getcwd()
    os.chdir(NOTEBOOKS)
    try:
        made = bench_of(path)
    finally:
        os.chdir(before)
    title = lab.sliders()[0]
    cell = lab.cell("bench")
    rows = cell.locator("tbody tr")

    def shown():
        return [rows.nth(k).locator("td").first.inner_text() for k in range(rows.count())]

    assert shown() == numbers_of(made)
    picture = lab.pictures(cell)
    rest = lab.slider_value(title)
    assert lab.after(shown, lambda: lab.press(title, "ArrowRight", 7)) != numbers_of(made)
    lab.wait_for(lambda: lab.slider_value(title) == rest + 7, "the slider to stand 7 steps on")
    made.controls[0].value = lab.slider_value(title)
    lab.wait_for(lambda: shown() == numbers_of(made), "the numbers of the library")
    assert lab.pictures(cell) != picture
    cell.get_by_role("button", name="Reset").click()
    lab.wait_for(lambda: lab.slider_value(title) == rest, "the slider to be back")
    made.reset()
    lab.wait_for(lambda: shown() == numbers_of(made), "the numbers at rest")
    assert lab.pictures_without_alt() == []
    free_of_problems(lab)
