"""The page on which one chooses, and the explanation: played as a reader does, right entries and wrong ones."""

import math
import re

import numpy as np
import pytest

from susgeo import Point, SusgeoError, clearance, dimensions, load_car, numbers, solve_travel, your_car
from susgeo.results.many import CASES
from susgeo.workshop.choose import HEIGHTS, ChoosePage, read_move, read_number, read_numbers
from susgeo.workshop.explain import explanation_page, explanations
from workshop.cars import OFFSET


@pytest.fixture
def page():
    made = ChoosePage(load_car("club_coupe"))
    made.targets.children = made.brackets.children = ()
    return made


def fill(page):
    page.want("rear roll steer", "-0,05", "0.05", "0.02", at=HEIGHTS[1])
    page.want("rear roll center height", "290", "340", "10")
    page.move("rear lower links, chassis", z="110 to 200")
    page.move("rear Panhard bar, axle", z="250, 270, 290, 370")
    page.heights.value = "-20, 0, 20"


def test_the_whole_way_without_a_line_of_code(page):
    told = []
    page.told = told.append
    fill(page)
    page.go.click()
    found = page.found
    assert found is not None and page.result.layout.display == "flex"
    best = found.choices[found.best]
    assert best.met and best.places["rear.locator.axle.z"] in (250, 270, 290, 370)
    assert (
        dimensions(page.chosen)["rear.lower.chassis.z"] == best.places["rear.lower.chassis.z"]
        and told[-1] is page.chosen
    )
    assert page.table.value.startswith("<table") and page.drawing.value.count("<img") == 1 and "<img" in page.cost.value
    for number, choice in enumerate(found.choices, 1):  # the slider draws another choice
        page.slider.value = number
        assert page.chosen is choice.car
    assert page.slider.max == len(found.choices)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda page: page.want("rear roll steer", "about 3"), "expected one number"),
        (lambda page: page.want("rear rol steer", "1", "2"), "did you mean rear roll steer"),
        (lambda page: page.want("rear anti-squat", "60"), "a step"),
        (lambda page: page.move("rear lower links, axle", z="high"), "expected 240 to 300, or holes"),
        (lambda page: page.move("rear lower links, axle", z="300 to 240"), "low below high"),
        (lambda page: page.move("rear lower links, axle", x="0, 10", z="180, 190, 200"), "a number for each hole"),
        (lambda page: setattr(page.heights, "value", "up and down"), "Ride heights"),
        (lambda page: setattr(page.lateral, "value", "fast"), "Corner"),
    ],
)
def test_a_wrong_entry_is_answered_in_a_sentence_and_nothing_is_lost(page, spoil, words):
    fill(page)
    spoil(page)
    rows = len(page.targets.children), len(page.brackets.children)
    page.go.click()
    assert re.search(words, page.said.value), page.said.value
    assert "Traceback" not in page.said.value and not page.go.disabled
    assert (len(page.targets.children), len(page.brackets.children)) == rows


def test_rows_come_and_go(page):
    fill(page)
    page.targets.children[0].children[-1].click()
    assert [row.get("name") for row in page.targets.children] == ["rear roll center height"]
    page.brackets.children[1].children[-1].click()
    page.brackets.children[0].children[-1].click()
    page.go.click()
    assert "needs a bracket" in page.said.value


def test_an_inch_car_is_asked_and_answered_in_inches():
    page = ChoosePage(load_car("inches_three_link"))
    page.targets.children = page.brackets.children = ()
    page.want("rear roll center height", "11", "12", "0.5")
    page.move("rear Panhard bar, axle", z="10 to 13")
    page.heights.value = "0"
    assert "11.811" in page.brackets.children[0].children[4].value
    page.run()
    best = page.found.choices[page.found.best]
    assert 10 <= best.places["rear.locator.axle.z"] <= 13 and page.found.units == "in"
    assert numbers(best.car)["rear roll center height"] / 25.4 == pytest.approx(
        best.values["rear roll center height"], abs=0.3
    )


def test_a_spring_is_a_size_and_takes_one_field(page):
    page.want("rear roll steer", "-1", "1")
    page.move("rear springs rate", z="25, 30, 35")
    page.run()
    assert page.found.choices[page.found.best].places["rear_springs.rate"] in (25, 30, 35)
    page.move("rear springs rate", x="25")
    page.run()
    assert "is a size, not a point" in page.said.value


def test_what_stands_in_a_field():
    assert read_number(" 12,5 ", "x") == 12.5 and read_number("", "x") is None
    assert read_numbers("-40, 0;40 5", "x") == [-40, 0, 40, 5]
    assert (
        read_move("240 to 300", "x") == (240, 300)
        and read_move("240,260", "x") == [240, 260]
        and read_move(" ", "x") is None
    )
    assert read_move("-20..20", "x") == (-20, 20)


# The explanation


def test_every_number_of_the_list_has_a_page_and_its_last_line_is_the_number():
    car = load_car("club_coupe")
    names = explanations(car)
    own = numbers(car)
    assert {
        "rear roll center height",
        "rear upper link, length",
        "front tie rod, angle",
        "rear rod forces, braking",
    } <= set(names)
    for name in names:
        page = explanation_page(car, name)
        assert page.text and "<h1>" not in page.body and not re.search(r'(?:src|href)="(?!data:)', page.body)
        if name in own:
            last = page.text.splitlines()[-1].split("   ")[0].rpartition("=")[2].split()[0]
            assert float(last) == pytest.approx(float(own[name]), rel=0.02, abs=0.02), (
                name,
                page.text.splitlines()[-1],
            )


def test_a_rods_length_and_angle_by_pythagoras_and_tangent_in_inches_too():
    for name, scale, unit in (("three_link", 1.0, "mm"), ("inches_three_link", 25.4, "in")):
        car = load_car(name)
        text = explanation_page(car, "rear left lower link, length").text
        assert float(re.findall(rf"= ([\d.]+) {unit} ", text)[-1]) * scale == pytest.approx(
            math.sqrt(600**2 + 100**2 + 50**2), abs=0.05 * scale
        )
        angle = re.findall(r"= (-?[\d.]+) deg ", explanation_page(car, "rear left lower link, angle").text)[-1]
        assert float(angle) == pytest.approx(math.degrees(math.atan2(50, 600)), abs=0.006)


@pytest.mark.parametrize(
    "name", ["club_coupe", "parallel_four_link_watt", "mumford", "offset_watt", "converging_four_link"]
)
def test_what_acts_on_the_axle_comes_to_nothing(name):
    car = load_car(name)
    for case in ("driving off", "braking"):
        page = explanation_page(car, f"rear rod forces, {case}")
        assert f"The case {case}: {'4 m/s^2 forward' if case == 'driving off' else '7 m/s^2 of braking'}." in page.text
        row = next(line for line in page.text.splitlines() if line.startswith("sum"))
        sums = [float(part) for part in row.split()[1:]]
        assert len(sums) == 6 and np.allclose(sums, 0, atol=2.0), row
    assert list(CASES) == ["driving off", "braking", "left turn", "bump"]


def test_what_has_no_explanation_says_why():
    car = load_car("three_link")
    for quantity, words in (
        ("rear lower wing, length", "no rod called"),
        ("rear rod forces, crash", "the cases are"),
        ("rear roll senter", "did you mean"),
    ):
        with pytest.raises(SusgeoError, match=words):
            explanation_page(car, quantity)


# The steps of the page


def test_choose_build_and_explain_on_the_page_of_ones_own_car(tmp_path):
    """The offset car, unweighed: choose, build the sheet for the choice, and explain a number of it; then measure anew."""
    (tmp_path / "mine.toml").write_text(OFFSET, "utf-8")
    desk = your_car("mine", tmp_path)
    step, build, explain = desk.choose(), desk.build(), desk.explain()
    build.button.click()
    assert "Nothing was chosen" in build.result.children[0].value
    step.button.click()
    (page,) = step.result.children
    page.targets.children = page.brackets.children = ()
    page.want("rear roll steer", "-0.05", "0.05")
    page.want("rear clearance, upper link to floor", "20", "", "5", limit=True)
    page.move("rear lower links, chassis", z="240 to 320")
    page.stand("floor", "upper link", "0, 120, 590", "500, 160, 580", "2")
    page.go.click()
    assert page.found is not None and desk.after is page.chosen, page.said.value
    link = page.chosen.rear.upper[0]
    floor = Point(0, 120, 590), Point(500, 160, 580)
    states = solve_travel(page.chosen.rear, np.array([-40.0, 0.0, 40.0]))
    gap = clearance(states, "upper link", (link.axle, link.chassis), 16.0, floor, 2.0)
    best = page.found.choices[page.slider.value - 1]
    assert best.values["rear clearance, upper link to floor"] == pytest.approx(float(gap.min()))
    build.button.click()
    assert (tmp_path / "mine, sheet.pdf").read_bytes().startswith(b"%PDF")
    assert "eye to eye" in (tmp_path / "mine, sheet.html").read_text("utf-8")
    saved = dimensions(load_car(tmp_path / "mine, as it shall be.toml"))
    assert saved["rear.lower.chassis.z"] == pytest.approx(best.places["rear.lower.chassis.z"])
    explain.name.value = "rear upper link, length"
    explain.button.click()
    assert "sqrt" in (tmp_path / "mine, rear upper link, length.html").read_text("utf-8")
    explain.name.value = "rear anti-squat"
    explain.button.click()
    assert re.search("no rear anti-squat|not been weighed", explain.result.children[0].value)
    (tmp_path / "mine.toml").write_text(OFFSET.replace("300]", "302]"), "utf-8")
    desk.entries.open(tmp_path / "mine.toml")
    assert desk.new(desk.entries.car()) is not desk.after  # chosen for a car that was measured otherwise
    step.button.click()
    (anew,) = step.result.children
    assert anew is not page and anew.targets.children[0].get("name") == "rear roll steer"
    assert anew.brackets.children[0].get("z") == "240 to 320" and anew.metal.children[0].get("start") == "0, 120, 590"
