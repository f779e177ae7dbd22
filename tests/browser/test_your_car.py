"""One's own car in the real page: an invented car from an empty sheet to the sheet that is built from.

This one in inches and pounds, typed into the boxes; ``tests/workshop/test_sheet.py`` takes three cars this way and has every number confirmed.
"""

import tomllib
from pathlib import Path

from labpage import LabPage, free_of_problems
from susgeo.car.fields import UNITS
from susgeo.workshop.entries import fields_of
from susgeo.workshop.form import heading

CONVERGING = {  # a four-link in inches, its sides uneven, its housing tilted: joints fore and aft of the wheel centers
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
