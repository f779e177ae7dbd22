"""Every notebook as a reader has it, opened in JupyterLab: lessons are woken, benches moved, answers tried; one's own car.

The first lesson is run whole, and has every kind of thing that a lesson shows; of the others the cells that a bench and a task
rest on. What all cells give is compared by nbval, and examined as pages in test_pages.py and test_plain_pages.py.
"""

import json
import re
import symtable
import tomllib
from pathlib import Path

import nbformat
import pytest

from labpage import LabPage, found_by_axe, free_of_problems
from lesson_tools import is_page
from susgeo.answers.calculation import library
from susgeo.car.fields import UNITS
from susgeo.classroom.practice import answers_of
from susgeo.workshop.entries import fields_of
from susgeo.workshop.form import heading

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
LESSONS = sorted(NOTEBOOKS.glob("[0-9]*.ipynb"))
HANDLES = (".noUi-handle", ".jp-OutputPrompt")
"""The handle of ipywidgets' slider can be given no name; the field beside it has one and does the same."""
TRACKS = "cell => [...cell.querySelectorAll('.noUi-base')].map(one => one.getBoundingClientRect().width)"
KINDS = ("number", "formula", "working", "choice")
ROWS = "table => [...table.tBodies[0].rows].map(row => [...row.cells].slice(1).map(cell => cell.innerText))"

CONVERGING = {  # an invented four-link in inches, its sides uneven, its housing tilted: joints fore and aft of the wheel centers
    "lists": {"lengths in": "in", "masses in": "lb", "spring rates in": "lb/in",
              "rear: lower links": "two, left and right each measured", "rear: upper links": "two, left and right each measured",
              "rear: held sideways by": "converging links", "rear: springs": "rate and spacing", "weight": "measured"},
    "file": {"": {"title": "Invented: converging in inches", "wheelbase": "104 1/2"},
             "weight": {"mass": "2450", "front_share": "0.53", "cg_height": "20.5", "rear_unsprung_mass": "290"},
             "rear": {"track": "55.5", "tire_radius": "12.1"},
             "rear.lower_links.left": {"axle": "0.5, 20.5, 9", "chassis": "22.5, 18.5, 10.5"},
             "rear.lower_links.right": {"axle": "0.3, -20.4, 9.1", "chassis": "22.2, -18.7, 10.2"},
             "rear.upper_links.left": {"axle": "-1.6, 4.4, 17.5", "chassis": "13, 15.8, 16.8"},
             "rear.upper_links.right": {"axle": "-1.4, -4.6, 17.4", "chassis": "12.8, -15.6, 16.6"},
             "rear.springs": {"rate": "150", "spacing": "37"}},
}  # fmt: skip


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

        def has_room(width=width):
            boxes = [row.bounding_box() for row in cell.locator(".susgeo-slider").all()]
            inside = all(0 <= box["x"] and box["x"] + box["width"] <= width for box in boxes)
            return inside and min(cell.evaluate(TRACKS)) >= 150

        lab.wait_for(has_room, f"sliders with 150 pixels of track within {width}")
    handle, table = cell.locator(".noUi-handle").last, cell.locator("table").first
    assert table.bounding_box()["y"] - handle.bounding_box()["y"] < 350
    lab.page.set_viewport_size({"width": 1280, "height": 900})


def rests_on(sources, place):
    """The places of the cells that make what the cell at this place uses, and its own."""
    found, needed = [], set()
    for number in range(place, -1, -1):
        top = symtable.symtable(sources[number], "cell", "exec")
        made = {one.get_name() for one in top.get_symbols() if one.is_assigned() or one.is_imported()}
        if number == place or made & needed:
            found, needed = [number, *found], needed - made | taken(top)
    return found


def taken(scope):
    """The names that a cell, or a function in it, takes from without."""
    inner = set().union(*map(taken, scope.get_children()))
    return inner | {one.get_name() for one in scope.get_symbols() if one.is_referenced() and one.is_global()}


def answer(lab, box, task, text, word):
    """Type an answer into a task's boxes, by keys alone, and wait for the verdict's first word."""
    fields = box.locator("input[type=text], textarea")
    lines = [part.partition("= ")[2] for part in text.split(", ")] if task.kind == "choice" else [text]
    for number, line in enumerate(lines):
        fields.nth(number).fill(line)
    assert fields.count() == len(lines)
    fields.last.press("Tab" if task.kind == "working" else "Enter")
    if task.kind == "working":
        lab.page.keyboard.press("Enter")  # on Check
    says(lab, box, word)


def says(lab, box, word):
    said = box.locator("[role=status]").first
    lab.wait_for(lambda: said.count() and said.inner_text().partition(" ")[2].startswith(word), f"{word} in a box")


def examined(lab):
    """Every picture is described, and axe-core finds nothing in what the cells gave."""
    assert lab.pictures_without_alt() == []
    assert found_by_axe(lab.page, ".jp-OutputArea", HANDLES, practice=False) == []


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_is_woken_dragged_and_answered(lab, lab_server, path):
    """In the first lesson a task is also answered wrong, unreadably and not at all, one of each kind right, and it is opened again."""
    notebook, lesson, whole = nbformat.read(path, as_version=4), path.stem[:2], path == LESSONS[0]
    assert is_page(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    sources = [cell.source for cell in code]
    setup, bench = (next(place for place, source in enumerate(sources) if re.search(f"(?m)^{call}", source))
                    for call in (r"lesson = Lesson\(", r"bench\("))  # fmt: skip
    right = answers_of(lesson, "", "perfect")
    place_of = {key: sources.index(f"lesson.task({key[3:]})") for key in right}
    of_each_kind = {library()[1][key].kind: key for key in reversed(right)}
    tried = [*of_each_kind.values()] if whole else [of_each_kind[KINDS[LESSONS.index(path) % len(KINDS)]]]
    lab.open(path.name)
    assert "press the double arrow" in lab.cell(code[bench].id).inner_text()
    saved = lab.cell(code[bench].id).locator("table").first.evaluate(ROWS)
    asleep = lab.page.locator(".susgeo-asleep").count()
    assert asleep > len(right)
    if whole:
        lab.run_all()
        assert lab.page.locator(".susgeo-task").count() == len(right)
    else:
        awake = sorted({setup, *rests_on(sources, bench), *(place_of[key] for key in tried)})
        lab.run_cells(*(code[place].id for place in awake))
    follows_the_keys(lab, code[bench].id, saved)
    fits(lab, code[bench].id)
    boxes = {key: lab.cell(code[place].id).locator(".susgeo-task") for key, place in place_of.items()}
    if whole:
        examined(lab)
        for text, word in (("-77777", "Not yet"), ('say 5 \\ "', "Cannot be read"), ("", "Still open")):
            answer(lab, boxes[tried[-1]], library()[1][tried[-1]], text, word)
    for key in tried:
        answer(lab, boxes[key], library()[1][key], right[key], "Right")
    kept = [json.loads(line) for line in (lab_server.folder / "my_answers.jsonl").read_text("utf-8").splitlines()]
    last = {one["task"]: one["verdict"] for one in kept}
    assert {key: last[key] for key in tried} == dict.fromkeys(tried, "right")
    if whole:  # opened again as after a crash: nothing was saved but the record
        lab.open(path.name)
        assert lab.page.locator(".susgeo-asleep").count() == asleep
        lab.run_cells(*(code[place].id for place in (setup, *(place_of[key] for key in tried))))
        for key in tried:
            says(lab, boxes[key], "Right")
    free_of_problems(lab)


def put(lab: LabPage, table: str, place: str, text: str) -> None:
    """Type into a box of a table, or choose in its list, and leave it; boxes follow each other as the fields do."""
    order = [one for name, field in fields_of(table).items() if field.kind not in UNITS
             for one in ([f"{name}.{axis}" for axis in "xyz"] if field.kind == "point" else [name])]  # fmt: skip
    head = f"//h4[normalize-space()=\"{heading(table)}\"]/ancestor::div[contains(concat(@class, ' '), 'widget-html ')][1]/following-sibling::*[1]"
    box = lab.page.locator(f"xpath={head}//*[self::input or self::select]").nth(order.index(place))
    if box.evaluate("one => one.tagName") == "SELECT":
        box.select_option(label=text)
    else:
        box.fill(text)
        box.press("Tab")


def play(lab: LabPage, name: str, car: dict) -> None:
    """Fill in one car as a reader does, on the page that is open."""
    box = lab.page.get_by_label("name of its file")
    box.fill(name)
    box.press("Tab")
    lab.wait_for(lambda: lab.page.get_by_text(f"The file is {name}.toml").count() > 0, "new file")
    for label, choice in car["lists"].items():
        lab.page.get_by_label(label, exact=True).first.select_option(label=choice)
    lab.wait_until_idle()
    for table, fields in car["file"].items():
        for field, typed in fields.items():
            parts = [part.strip() for part in typed.split(",")]
            places = [f"{field}.{axis}" for axis in "xyz"] if len(parts) == 3 else [field]
            for place, part in zip(places, parts, strict=True):
                put(lab, table, place, part)


def choose_and_build(lab: LabPage, folder: Path, name: str, range_: str) -> None:
    """One bracket may move, the search is made, and its choice becomes a sheet."""
    page = lab.page
    page.get_by_role("button", name="Choose", exact=True).click()
    lab.wait_for(lambda: page.get_by_role("button", name="Search", exact=True).count() > 0, "the rows of wishes", 60)
    page.get_by_label("z, or size").first.fill(range_)
    page.get_by_label("z, or size").first.press("Tab")
    page.get_by_role("button", name="Search", exact=True).click()
    lab.wait_for(lambda: page.get_by_text("beaten by no other").count() > 0, "the choices", 90)
    page.get_by_role("button", name="Build", exact=True).click()
    lab.wait_for(lambda: page.get_by_text("Print it at 100 %, and check the ruled line").count() > 1, "the sheet", 60)
    assert (folder / f"{name}, sheet.pdf").read_bytes().startswith(b"%PDF")
    page.get_by_role("button", name="Explain", exact=True).click()
    lab.wait_for(lambda: page.get_by_text("pocket calculator").count() > 0, "the explanation", 60)


def test_a_car_goes_from_an_empty_sheet_to_a_printed_one(lab: LabPage, lab_server):
    """One's own car from an empty sheet to the sheet that is built from, in inches and pounds, typed into the boxes.

    ``tests/workshop/test_sheet.py`` takes three cars this way and has every number confirmed.
    """
    lab.open("your_car.ipynb")
    lab.run_all()
    page, name = lab.page, "converging"
    play(lab, name, CONVERGING)
    lab.wait_for(lambda: page.get_by_text("Kept. It is a whole car.").count() > 0, "a whole car")
    kept = tomllib.loads((lab_server.folder / f"{name}.toml").read_text("utf-8"))
    assert kept["title"] == CONVERGING["file"][""]["title"]
    page.get_by_role("button", name="Look", exact=True).click()
    lab.wait_for(lambda: page.get_by_text("95 of 100 lie from").count() > 0, "numbers", 60)
    assert page.get_by_text("roll center height").count() > 0
    page.get_by_role("button", name="By hand", exact=True).click()
    choose_and_build(lab, lab_server.folder, name, "9 to 10")
    free_of_problems(lab)
