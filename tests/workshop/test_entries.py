"""What is typed about a car: kept at every change, whole or not, and given back."""

import pytest

from susgeo import CarFileError, dimensions, load_car, moved
from susgeo.draw.printed import moves
from susgeo.files import DATA
from susgeo.workshop.entries import Entries
from susgeo.workshop.form import Form

CARS = sorted(DATA.glob("*.toml"))


@pytest.mark.parametrize("path", CARS, ids=lambda path: path.stem)
def test_an_existing_file_opens_and_is_written_as_the_same_car(path, tmp_path):
    copy = tmp_path / path.name
    copy.write_bytes(path.read_bytes())
    entries = Entries(copy)
    assert dimensions(entries.car()) == pytest.approx(dimensions(load_car(path)), rel=1e-11)
    entries.save()
    assert dimensions(load_car(copy)) == pytest.approx(dimensions(load_car(path)), rel=1e-11)
    assert (tmp_path / f"{path.stem}, as it was.toml").read_bytes() == path.read_bytes()  # its remarks are not lost


def test_half_filled_entries_and_tables_set_aside_are_kept(tmp_path):
    entries = Entries(tmp_path / "mine.toml")
    entries.typed[""] |= {"title": "Mine", "wheelbase": "270,5 cm"}
    entries.typed["rear.lower_links"] = {"axle.x": "0", "axle.y": "about 500"}
    entries.typed["rear.upper_link"] = {"axle.x": "-50", "axle.y": "0", "axle.z": "18 1/2 in"}
    entries.choose(("rear.upper_link",), ("rear.upper_links.left", "rear.upper_links.right"))
    entries.save()
    again = Entries(tmp_path / "mine.toml")
    assert again.typed[""]["wheelbase"] == "2705" and again.typed["rear.lower_links"]["axle.y"] == "about 500"
    assert again.typed["rear.upper_link"]["axle.z"] == "469.9" and "rear.upper_link" not in again.chosen
    assert "the field track is missing" in again.missing()


def test_sides_measured_each_start_from_those_measured_alike(tmp_path):
    entries = Entries(tmp_path / "mine.toml")
    entries.typed["rear.lower_links"] = {"axle.x": "0", "axle.y": "500", "axle.z": "240"}
    entries.choose(("rear.lower_links",), ("rear.lower_links.left", "rear.lower_links.right"))
    assert entries.typed["rear.lower_links.right"] == {"axle.x": "0", "axle.y": "-500", "axle.z": "240"}


def test_a_file_that_cannot_be_opened_is_left_as_it_is(tmp_path):
    place = tmp_path / "mine.toml"
    place.write_text("title = ", "utf-8")
    entries = Entries(place)
    entries.save()
    assert place.read_text("utf-8") == "title = "
    with pytest.raises(CarFileError, match="cannot be opened"):
        entries.car()


def test_a_sheet_of_a_car_in_inches_speaks_inches():
    """12 mm up is 0.47 in (25.4 mm to the inch, exact); the same move of the same car in mm says mm."""
    told = {}
    for name in ("three_link", "inches_three_link"):
        car = load_car(name)
        told[name] = str(moves(car, moved(car, {"rear.upper.chassis.z": 462})))
    assert "12.0 mm up" in told["three_link"] and "0.47 in up" in told["inches_three_link"]
    assert "17.72" in told["inches_three_link"] and "mm" not in told["inches_three_link"]


def test_the_form_names_its_open_boxes_and_what_is_no_number(tmp_path):
    """In the words of the page: nobody who fills in boxes reads of fields, quotes and tables of a file."""
    entries = Entries(tmp_path / "my car.toml")
    form = Form(entries)
    assert "The whole car: title, wheelbase." in form.still_open()
    assert "Rear: Panhard bar: A x, A y, A z, B x, B y, B z." in form.still_open()
    entries.typed["rear"] = {"track": "55 1/8 in", "tire_radius": "a foot"}
    assert form.still_open()[0] == "Rear: tire radius: a foot is no number that can be read here."
    for number, table in enumerate(entries.tables()[2:]):
        entries.typed[table] = {f"{joint}.{axis}": f"{300 * k + 7 * number}" for k, joint in enumerate(("axle", "chassis")) for axis in "xyz"}  # fmt: skip
    entries.typed[""].update(title="ours", wheelbase="2.7 m")
    entries.typed["rear"]["tire_radius"] = "310"
    assert form.still_open() == []
