"""Every lesson as a reader has it: opened in JupyterLab, run, its bench moved, its answers tried."""

import ast
import json
import os
from pathlib import Path

import nbformat
import pytest
from axe_playwright_python.sync_playwright import Axe

from labpage import free_of_problems
from lesson_tools import is_page
from susgeo.answers.calculation import library
from susgeo.classroom.practice import answers_of

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


RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21aa"]}}
HANDLES = {"include": [[".jp-OutputArea"]], "exclude": [[".noUi-handle"], [".jp-OutputPrompt"]]}
"""The handle of ipywidgets' slider can be given no name; the field beside it has one and does the same."""
TRACKS = "cell => [...cell.querySelectorAll('.noUi-base')].map(one => one.getBoundingClientRect().width)"


def follows_the_keys(lab, path):
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


def fits(lab):
    """At four widths, and at twice the size of 1280: room to drag, nothing cut off, numbers beside the sliders."""
    cell = lab.cell("bench")
    for width in (390, 640, 800, 1280):
        lab.page.set_viewport_size({"width": width, "height": 700})
        lab.wait_for(lambda: min(cell.evaluate(TRACKS)) >= 150, f"150 pixels of track at {width}")
        for row in cell.locator(".susgeo-slider").all():
            box = row.bounding_box()
            assert 0 <= box["x"] and box["x"] + box["width"] <= width
    handle, table = cell.locator(".noUi-handle").last, cell.locator("table").first
    assert table.bounding_box()["y"] - handle.bounding_box()["y"] < 350
    lab.page.set_viewport_size({"width": 1280, "height": 900})


def answers_in_boxes(lab, path, folder):
    """The first task: right, wrong, unreadable, blank, by keys alone; then every other, right; and reopened."""
    lesson = path.stem[:2]
    right = answers_of(lesson, "", "perfect")
    boxes = {key: lab.page.locator(".susgeo-task").nth(k) for k, key in enumerate(right)}
    assert lab.page.locator(".susgeo-task").count() == len(right)

    def verdict(key):
        said = boxes[key].locator("[role=status]")
        return said.first.inner_text().partition(" ")[2] if said.count() else ""

    def answer(key, text, word):
        fields = boxes[key].locator("input[type=text], textarea")
        lines = [line.partition("= ")[2] for line in text.split("\n")]
        for number in range(fields.count()):
            several = library()[1][key].kind == "choice"
            fields.nth(number).fill((lines[number] if text else "") if several else text)
        fields.last.press("Tab") if library()[1][key].kind == "working" else fields.last.press("Enter")
        if library()[1][key].kind == "working":
            lab.page.keyboard.press("Enter")  # on Check
        lab.wait_for(lambda: verdict(key).startswith(word), f"{word} for {key}; it says {verdict(key)!r}")

    first = next(iter(right))
    for text, word in (("-77777", "Not yet"), ('say 5 \\ "', "Cannot be read"), ("", "Still open")):
        answer(first, text, word)
    for key, text in right.items():
        answer(key, text, "Right")
    kept = [json.loads(line) for line in (folder / "my_answers.jsonl").read_text("utf-8").splitlines()]
    last = {one["task"]: one for one in kept if one["task"] in right}
    assert {key: one["verdict"] for key, one in last.items()} == dict.fromkeys(right, "right")
    lab.open(path.name)  # as after a crash: nothing was saved but the record
    assert lab.page.locator(".susgeo-asleep").count() > len(right)
    lab.run_all()
    for key in right:
        lab.wait_for(lambda key=key: verdict(key).startswith("Right"), f"the verdict on {key} once more")


PLAYED = ("00", "01", "02")
"""Lessons that are played whole in a live page. The others were made into pages later, and are to be added one by one."""


@pytest.mark.parametrize("path", [path for path in LESSONS if path.stem[:2] in PLAYED], ids=lambda path: path.stem)
def test_a_lesson_is_woken_dragged_and_answered(lab, lab_server, path):
    page = is_page(nbformat.read(path, as_version=4))
    lab.open(path.name)
    if page:
        assert "press the double arrow" in lab.cell("bench").inner_text()
    lab.run_all()
    follows_the_keys(lab, path)
    fits(lab)
    assert lab.pictures_without_alt() == []
    if page:
        found = Axe().run(lab.page, context=HANDLES, options=RULES).response["violations"]
        assert [f"{one['id']}: {node['html'][:150]}" for one in found for node in one["nodes"]] == []
        answers_in_boxes(lab, path, lab_server.folder)
    free_of_problems(lab)
