"""The sheet before and after: it lists what was moved, by how much, and both cars' numbers, on one page."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from susgeo import SusgeoError, load_car, moved, summary
from susgeo.draw.picture import Picture
from susgeo.draw.printed import before_after_sheet, measuring_page, moves
from susgeo.draw.still import Still

DATA = Path(__file__).resolve().parents[2] / "data"
COUPE = load_car(DATA / "club_coupe.toml")
AFTER = moved(
    COUPE,
    {"rear.locator.axle.x": -200, "rear.lower.chassis.z": 200, "front.lower.ball_joint.z": 160, "front_springs.rate": 30},
)  # fmt: skip


def test_what_was_moved_is_listed_and_nothing_else():
    rows = {row[0]: row[1:] for row in moves(COUPE, AFTER).rows}
    assert rows == {
        "rear lower chassis": ("520.0, 450.0, 124.0", "520.0, 450.0, 200.0", "76.0 mm up"),
        "rear locator axle": ("-140.0, 480.0, 370.0", "-200.0, 480.0, 370.0", "60.0 mm back"),
        "front lower ball joint": ("5.0, 640.0, 190.0", "5.0, 640.0, 160.0", "30.0 mm down"),
        "front springs rate": ("24", "30", ""),
    }
    assert moves(COUPE, COUPE).rows == ()


def test_old_places_of_bar_and_tie_rod_are_drawn_where_the_file_has_them(monkeypatch):
    """From the side both are points: a dashed line of no length cannot be seen. What has not moved is not marked."""
    shown = []
    monkeypatch.setattr(Picture, "still", lambda self: shown.append(self.marks("side")) or Still(b"", "", 1, 1))
    before_after_sheet(COUPE, AFTER)
    before_after_sheet(COUPE, moved(AFTER, {"front.tie_rod.axle.z": 218}))
    bar, rod = (-140.0, 370.0), (2580.0 - 120, 245.0)  # club_coupe.toml
    for marks, old in zip(shown, ({bar: "bar"}, {bar: "bar", rod: "tie rod"}), strict=True):
        assert [points for role, points, _ in marks if role == "other end"] == [(place,) for place in old]
        assert [text for role, _, text in marks if role == "other name" and "roll" not in text] == [*old.values()]


def test_inches():
    after = moved(COUPE, {"rear.upper.chassis.z": 329 + 25.4, "front_springs.rate": 30, "rear.track": 1425.4})
    rows = {row[0]: row[1:] for row in moves(COUPE, after, "in").rows}
    assert rows["rear upper chassis"] == ("10.24, 12.95", "10.24, 13.95", "1.00 in up")
    assert rows["rear track"] == ("55.12", "56.12", "") and rows["front springs rate"][0] == "24"


def test_the_page_is_one_document_with_a_described_picture_and_both_numbers(tmp_path):
    names = ["rear anti-squat", "front roll center height [mm]"]
    sheet = before_after_sheet(COUPE, AFTER, names)
    sheet.save(tmp_path / "sheet.html")
    page = (tmp_path / "sheet.html").read_text("utf-8")
    HTMLParser().feed(page)
    assert page.startswith("<!DOCTYPE html>") and page.count("<h1>") == 1 and page.count("<table>") == 2
    assert len(re.findall(r'<img [^>]*alt="[^"]{40,}"', page)) == 1
    for car in (COUPE, AFTER):
        known = summary(car)
        assert f">{known['rear anti-squat [%]']:.1f}<" in page
        assert f">{known['front roll center height [mm]']:.1f}<" in page
    assert "rear roll steer" not in page and "rear roll steer" in before_after_sheet(COUPE, AFTER).text
    assert "local rules first" in page
    with pytest.raises(SusgeoError, match="no quantity"):
        before_after_sheet(COUPE, AFTER, ["anti squad"])


def test_the_measuring_sheet_is_a_page_with_a_blank_for_every_place_and_the_cautions(tmp_path):
    measuring_page("front.strut", "front.lower_arm", units="in").save(tmp_path / "sheet.html")
    page = (tmp_path / "sheet.html").read_text("utf-8")
    HTMLParser().feed(page)
    assert "x [in]" in page and "never on a jack" in page
    assert page.count("______</td>") == 3 * (2 + 3)  # strut: two points; arm: three
