"""Every lesson as a reader has it: opened in JupyterLab, run, its bench moved, its answers tried."""

import json
import re
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
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21aa"]}, "resultTypes": ["violations"]}
HANDLES = {"include": [[".jp-OutputArea"]], "exclude": [[".noUi-handle"], [".jp-OutputPrompt"]]}
"""The handle of ipywidgets' slider can be given no name; the field beside it has one and does the same."""
TRACKS = "cell => [...cell.querySelectorAll('.noUi-base')].map(one => one.getBoundingClientRect().width)"
ROWS = "table => [...table.tBodies[0].rows].map(row => [...row.cells].slice(1).map(cell => cell.innerText))"
CELL_OF = "task => [...task.closest('.jp-Notebook').querySelectorAll('.jp-Cell')].indexOf(task.closest('.jp-Cell'))"


def follows_the_keys(lab, bench, saved):
    """The first slider at both its ends gives the numbers that the saved page has there; Reset brings back the first."""
    title, cell = lab.sliders()[0], lab.cell(bench)
    table = cell.locator("table").first

    def shown(column=0):
        return [row[column] for row in table.evaluate(ROWS)]

    at_rest, rest, picture = shown(), lab.slider_value(title), lab.pictures(cell)
    assert shown(1) == at_rest
    ends = {key: row for key, row in (("Home", saved[0]), ("End", saved[-1])) if "none" not in row}
    assert any(row != at_rest for row in ends.values())
    for key, row in ends.items():
        lab.press(title, key)
        lab.wait_for(lambda row=row: shown() == row, f"{row} after {key}")
        assert shown(1) == at_rest
        assert row == at_rest or lab.pictures(cell) != picture
    cell.get_by_role("button", name="Reset").click()
    lab.wait_for(lambda: lab.slider_value(title) == rest and shown() == at_rest, "slider and numbers at rest")
    lab.wait_for(lambda: lab.pictures(cell) == picture, "the first picture again")


def fits(lab, bench):
    """At four widths, 640 being also twice the size of 1280: room to drag, nothing cut off, numbers beside the sliders."""
    cell = lab.cell(bench)
    for width in (390, 640, 800, 1280):
        lab.page.set_viewport_size({"width": width, "height": 700})
        lab.wait_for(lambda: min(cell.evaluate(TRACKS)) >= 150, f"150 pixels of track at {width}")
        for row in cell.locator(".susgeo-slider").all():
            box = row.bounding_box()
            assert 0 <= box["x"] and box["x"] + box["width"] <= width
    handle, table = cell.locator(".noUi-handle").last, cell.locator("table").first
    assert table.bounding_box()["y"] - handle.bounding_box()["y"] < 350
    lab.page.set_viewport_size({"width": 1280, "height": 900})


def answers_in_boxes(lab, path, setup, folder):
    """The first task: wrong, unreadable, blank; then one task of each kind, right, by keys alone; and opened again."""
    lesson, tasks = path.stem[:2], library()[1]
    right = answers_of(lesson, "", "perfect")
    boxes = {key: lab.page.locator(".susgeo-task").nth(k) for k, key in enumerate(right)}
    assert lab.page.locator(".susgeo-task").count() == len(right)

    def verdict(key):
        said = boxes[key].locator("[role=status]")
        return said.first.inner_text().partition(" ")[2] if said.count() else ""

    def answer(key, text, word):
        fields, kind = boxes[key].locator("input[type=text], textarea"), tasks[key].kind
        lines = [part.partition("= ")[2] for part in text.split(", ")] if kind == "choice" else [text]
        for number, line in enumerate(lines):
            fields.nth(number).fill(line)
        assert fields.count() == len(lines)
        fields.last.press("Tab" if kind == "working" else "Enter")
        if kind == "working":
            lab.page.keyboard.press("Enter")  # on Check
        lab.wait_for(lambda: verdict(key).startswith(word), f"{word} for {key}; it says {verdict(key)!r}")

    first = next(iter(right))
    for text, word in (("-77777", "Not yet"), ('say 5 \\ "', "Cannot be read"), ("", "Still open")):
        answer(first, text, word)
    of_each_kind = {tasks[key].kind: key for key in reversed(right)}.values()
    for key in of_each_kind:
        answer(key, right[key], "Right")
    kept = [json.loads(line) for line in (folder / "my_answers.jsonl").read_text("utf-8").splitlines()]
    last = {one["task"]: one["verdict"] for one in kept}
    assert {key: last[key] for key in of_each_kind} == dict.fromkeys(of_each_kind, "right")
    if path == LESSONS[0]:  # as after a crash: nothing was saved but the record
        lab.open(path.name)
        assert lab.page.locator(".susgeo-asleep").count() > len(right)
        lab.run_all()
    else:
        lab.run_cells(setup, *(boxes[key].evaluate(CELL_OF) for key in of_each_kind))
    for key in of_each_kind:
        lab.wait_for(lambda key=key: verdict(key).startswith("Right"), f"the verdict on {key} once more")


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_is_woken_dragged_and_answered(lab, lab_server, path):
    notebook = nbformat.read(path, as_version=4)
    assert is_page(notebook)
    setup, bench = (next(cell.id for cell in notebook.cells if re.search(f"(?m)^{call}", cell.source))
                    for call in (r"lesson = Lesson\(", r"bench\("))  # fmt: skip
    lab.open(path.name)
    assert "press the double arrow" in lab.cell(bench).inner_text()
    saved = lab.cell(bench).locator("table").first.evaluate(ROWS)
    lab.run_all()
    follows_the_keys(lab, bench, saved)
    fits(lab, bench)
    assert lab.pictures_without_alt() == []
    found = Axe().run(lab.page, context=HANDLES, options=RULES).response["violations"]
    assert [f"{one['id']}: {node['html'][:150]}" for one in found for node in one["nodes"]] == []
    answers_in_boxes(lab, path, setup, lab_server.folder)
    free_of_problems(lab)
