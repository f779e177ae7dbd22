"""Car files: read, written, and refused in one sentence that says where, what and how to mend it."""

import math
import os
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from susgeo import (
    Arm,
    CarFileError,
    FlatPoint,
    Link,
    LiveAxle,
    Point,
    Springs,
    SusgeoError,
    Weight,
    dimension,
    dimensions,
    load_car,
    moved,
    numbers,
    pair,
    project,
    read_car,
    save_car,
    solve_travel,
    summary,
)
from susgeo.car.fields import SIZE_LIMIT
from susgeo.car.write import write_car

DATA = Path(__file__).resolve().parents[2] / "data"
GOOD = (DATA / "three_link.toml").read_text("utf-8")
FOUR = (DATA / "converging_four_link.toml").read_text("utf-8")
MUMFORD = (DATA / "mumford.toml").read_text("utf-8")
BARLESS = GOOD[: GOOD.index("[rear.panhard_bar]")]
WATT = """
[rear.watts_linkage]
pivot_on = "axle"
pivot = [-120, 0, 300]
left_crank = [-120, 0, 380]
left_end = [-120, 500, 380]
right_crank = [-120, 0, 220]
right_end = [-120, -500, 220]
"""
STRUT = """
[front]
type = "strut"
track = 1450
tire_radius = 300
[front.lower_arm]
ball_joint = [0, 700, 180]
front_pivot = [150, 380, 190]
rear_pivot = [-150, 380, 190]
[front.strut]
top_mount = [-20, 560, 800]
lower_point = [0, 640, 300]
"""

# What is replaced in a good file, by what, and what the one sentence must say.
BAD = {
    "missing title": (GOOD, 'title = "Club coupe: three links and a bar"', "", ["top of the file", "title is missing"]),
    "missing units": (GOOD, 'units = "mm"', "", ["top of the file", "units is missing", '"mm" or "in"']),
    "missing wheelbase": (GOOD, "wheelbase = 2700", "", ["wheelbase is missing", "between the wheel-center lines"]),
    "missing track": (GOOD, "track = 1400", "", ["[rear]", "track is missing", "length above zero"]),
    "missing chassis end": (GOOD, "chassis = [600, 400, 290]", "", ["[rear.lower_links]", "chassis is missing", "[x, y, z]"]),
    "missing axle end": (GOOD, "axle = [-50, 0, 470]", "", ["[rear.upper_link]", "axle is missing"]),
    "misspelt wheelbase": (GOOD, "wheelbase", "wheelbse", ["no field called wheelbse", "did you mean wheelbase?"]),
    "misspelt track": (GOOD, "track = 1400", "trak = 1400", ["[rear]", "trak", "did you mean track?"]),
    "misspelt end": (GOOD, "chassis = [600", "chasis = [600", ["[rear.lower_links]", "chasis", "did you mean chassis?"]),
    "misspelt table": (GOOD, "[rear.panhard_bar]", "[rear.panhardbar]", ["panhardbar", "did you mean [rear.panhard_bar]?"]),
    "misspelt lower links": (GOOD, "[rear.lower_links]", "[rear.lower_lnks]", ["lower_lnks", "did you mean [rear.lower_links]?"]),
    "misspelt rear": (GOOD, "rear", "raer", ["raer", "did you mean rear?"]),
    "British tyre": (GOOD, "tire_radius", "tyre_radius", ["tyre_radius", "did you mean tire_radius?"]),
    "unknown field": (GOOD, "track = 1400", "track = 1400\npaint = 3", ["[rear]", "no field called paint", "expected type, track"]),
    "two numbers": (GOOD, "[600, 400, 290]", "[600, 400]", ["[rear.lower_links]", "chassis", "2 numbers", "three numbers"]),
    "four numbers": (GOOD, "[600, 400, 290]", "[600, 400, 290, 1]", ["chassis", "4 numbers", "three numbers"]),
    "a number for a point": (GOOD, "[600, 400, 290]", "600", ["chassis", "got 600", "three numbers [x, y, z]"]),
    "a table for a point": (GOOD, "[600, 400, 290]", "{x = 600}", ["[rear.lower_links]", "chassis", "got {x = 600}", "three numbers [x, y, z]"]),
    "text for a number": (GOOD, "wheelbase = 2700", 'wheelbase = "2700"', ["wheelbase", '"2700"', "expected a number", "write 2700 without quotes"]),
    "text in a point": (GOOD, "[600, 400, 290]", '[600, "400", 290]', ["chassis y", '"400"', "expected a number"]),
    "true for a number": (GOOD, "track = 1400", "track = true", ["[rear]", "track", "got true", "expected a number"]),
    "a date for a number": (GOOD, "track = 1400", "track = 2026-11-25", ["[rear]", "track", "got 2026-11-25", "expected a number"]),
    "nan": (GOOD, "[600, 400, 290]", "[600, nan, 290]", ["chassis y", "got nan", "finite"]),
    "inf": (GOOD, "[600, 400, 290]", "[inf, 400, 290]", ["chassis x", "got inf", "finite"]),
    "nan track": (GOOD, "track = 1400", "track = nan", ["track", "nan", "finite"]),
    "a light-year": (GOOD, "[600, 400, 290]", "[600, 400, 9.46e18]", ["chassis z", "finite number of a car's size"]),
    "zero track": (GOOD, "track = 1400", "track = 0", ["track", "got 0", "length above zero"]),
    "negative wheelbase": (GOOD, "wheelbase = 2700", "wheelbase = -2700", ["wheelbase", "-2700", "length above zero"]),
    "unknown unit": (GOOD, 'units = "mm"', 'units = "furlong"', ["units", '"furlong"', '"mm" or "in"']),
    "nearly a unit": (GOOD, 'units = "mm"', 'units = "inch"', ["units", '"inch"', "did you mean in?"]),
    "inches called mm": (GOOD, "wheelbase = 2700", "wheelbase = 106.3", ["wheelbase", "106.3 mm", 'write units = "in"']),
    "mm called inches": (GOOD, 'units = "mm"', 'units = "in"', ["wheelbase", "2700 in", 'write units = "mm"']),
    "a number for the title": (GOOD, '"Club coupe: three links and a bar"', "7", ["title", "got 7", "text in quotes"]),
    "unknown type": (GOOD, '"live axle"', '"live axel"', ["[rear]", "type", '"live axel"', "did you mean live axle?"]),
    "no length": (GOOD, "chassis = [400, 0, 450]", "chassis = [-50, 0, 470]", ["[rear.upper_link]", "field chassis", "[-50, 0, 470]", "no length", "expected two different ends"]),
    "a bar of no length": (GOOD, "[-120, -470, 300]", "[-120, 480, 300]", ["[rear.panhard_bar]", "field chassis", "[-120, 480, 300]", "no length", "expected two different ends"]),
    "left and right exchanged": (GOOD, "[0, 500, 240]", "[0, -500, 240]", ["[rear.lower_links]", "field axle", "[0, -500, 240]", "expected y above zero"]),
    "left and right exchanged at both ends": (GOOD, "[0, 500, 240]            # middle of the bolt at the axle bracket\nchassis = [600, 400", "[0, -500, 240]\nchassis = [600, -400", ["[rear.lower_links]", "left link on the right side", "exchange left and right"]),
    "one end on the other side": (GOOD, "[600, 400, 290]", "[600, -400, 290]", ["[rear.lower_links]", "field chassis", "[600, -400, 290]", "expected y above zero"]),
    "sides exchanged": (
        GOOD, "[rear.lower_links]              # the left link; the right one mirrors it\naxle = [0, 500, 240]            # middle of the bolt at the axle bracket\nchassis = [600, 400, 290]       # middle of the bolt at the chassis bracket",
        "[rear.lower_links.left]\naxle = [0, -500, 240]\nchassis = [600, -400, 290]\n[rear.lower_links.right]\naxle = [0, 500, 240]\nchassis = [600, 400, 290]",
        ["[rear.lower_links.left]", "left link on the right side", "exchange left and right"],
    ),
    "one side alone": (
        GOOD, "[rear.lower_links]              # the left link; the right one mirrors it",
        "[rear.lower_links.left]", ["[rear.lower_links]", "table [rear.lower_links.right] is missing"],
    ),
    "given twice": (
        GOOD[: GOOD.index("[rear.panhard_bar]")] + "[rear.panhard_bar]\naxle = [-50, 0, 470]\nchassis = [400, 0, 450]\n", "", "",
        ["[rear]", "upper link and the Panhard bar", "[-50, 0, 470] and [400, 0, 450]", "given twice"],
    ),
    "pair in the middle": (GOOD, "[rear.upper_link]", "[rear.upper_links]", ["[rear.upper_links]", "center plane", "rear.upper_link"]),
    "link and links": (FOUR, "[rear.upper_links]", "[rear.upper_link]\naxle = [0, 0, 440]\nchassis = [400, 0, 430]\n[rear.upper_links]", ["rear.upper_link", "given as well", "keep one"]),
    "two locators": (
        GOOD, "[rear.panhard_bar]",
        WATT + "[rear.panhard_bar]",
        ["two sideways locators", "keep one"],
    ),
    "not located": (GOOD[: GOOD.index("[rear.panhard_bar]")], "", "", ["table [rear], the axle is not located", "free to move sideways"]),
    "nothing in pitch": (
        GOOD[: GOOD.index("[rear.upper_link]")] + GOOD[GOOD.index("[rear.panhard_bar]") :], "", "",
        ["[rear]", "not located", "free to move in pitch"],
    ),
    "no lower links": (
        GOOD[: GOOD.index("[rear.lower_links]")] + GOOD[GOOD.index("[rear.upper_link]") :], "", "",
        ["[rear]", "[rear.lower_links] is missing; every live axle"],
    ),
    "no axle": (GOOD[: GOOD.index("[rear]")], "", "", ["no axle", "[rear] or [front]"]),
    "a table written as a field": (GOOD[: GOOD.index("[rear.panhard_bar]")], "track = 1400", "panhard_bar = 5\ntrack = 1400", ["field panhard_bar", "got 5", "write [rear.panhard_bar]"]),
    "rear is no table": ('title = "x"\nunits = "mm"\nwheelbase = 2700\nrear = 3\n', "", "", ["field rear", "got 3", "expected a table"]),
    "a list of rears": (GOOD, "[rear]", "[[rear]]", ["field rear", "got [{type = ", "expected a table; write [rear]"]),
    "a number of 401 digits": (GOOD, "track = 1400", "track = 1" + 400 * "0", ["[rear]", "track", "more than 30 digits", "finite number"]),
    "a number of 5001 digits": (GOOD, "track = 1400", "track = 1" + 5000 * "0", ["rules of TOML", "a number is too long"]),
    "a comma in a number": (GOOD, "track = 1400", "track = 1400,5", ["rules of TOML", "decimal point instead of a comma"]),
    "words for a number": (GOOD, "track = 1400", 'track = "wide"', ["[rear]", "track", '"wide"', "expected a number."]),
    "a line break in a name": (GOOD, "units", '"a\\nb" = 1\nunits', ["no field called", '"a\\nb"', "expected title"]),
    "a line break in a unit": (GOOD, 'units = "mm"', 'units = "m\\nm"', ["units", '"m\\nm"', '"mm" or "in"']),
    "a name of nothing": (GOOD, "units", '"" = 1\nunits', ['no field called ""', "expected title"]),
    "a crank without arms": (
        BARLESS + WATT.replace("380", "300").replace("220", "300"), "", "",
        ["[rear.watts_linkage]", "run through the crank's pivot", "move a crank's joint"],
    ),
    "both rods on top of the crank": (BARLESS + WATT.replace("220", "380"), "", "", ["[rear.watts_linkage]", "or both along one line"]),
    "a Watt the wrong way round": (BARLESS + WATT, "left_end = [-120, 500", "left_end = [-120, -600", ["[rear.watts_linkage]", "left_end", "[-120, -600, 380]", "right of right_end"]),
    "a crank on the road": (BARLESS + WATT, '"axle"', '"road"', ["[rear.watts_linkage]", "pivot_on", '"road"', '"axle" or "chassis"']),
    "a Mumford that frees what it should hold": (
        MUMFORD, "right_center = [-150, -180, 230]", "right_center = [-150, -180, 330]", ["[rear.mumford_linkage]", "not held sideways", "opposite arms of the cranks"],
    ),
    "no mass": (FOUR, "mass = 1120", "mass = 0", ["[weight]", "field mass", "got 0 kg", "expected more than"]),
    "axles heavier than the car": (GOOD, "mass = 1150", "mass = 100", ["[weight]", "field mass", "got 100 kg", "more than the 140 kg"]),
    "percent for a share": (FOUR, "front_share = 0.53", "front_share = 53", ["[weight]", "front_share", "between 0 and 1", "write 0.53"]),
    "negative mass": (FOUR, "mass = 1120", "mass = -1", ["[weight]", "mass", "zero or more"]),
    "strut and arm": (GOOD + STRUT + "[front.upper_arm]\nball_joint = [0, 650, 500]\nfront_pivot = [90, 420, 520]\nrear_pivot = [-90, 420, 520]\n", "", "", ["[front.upper_arm]", "a strut has none"]),
    "strut without a leg": ((GOOD + STRUT)[: (GOOD + STRUT).index("[front.strut]")], "", "", ["[front.strut] is missing"]),
    "front on the wrong side": (GOOD + STRUT, "[0, 700, 180]", "[0, -700, 180]", ["[front.lower_arm]", "ball_joint", "[0, -700, 180]", "left side", "expected y above zero"]),
    "arm of one line": (GOOD + STRUT, "[0, 700, 180]", "[0, 380, 190]", ["[front.lower_arm]", "one line"]),
    "independent rear": (GOOD, '"live axle"', '"strut"', ["[rear]", "field type", 'got "strut"', 'expected "live axle"']),
    "no TOML": ("three links, 600 mm long", "", "", ["does not follow the rules of TOML", "line 1"]),
    "a field twice": (GOOD, "track = 1400", "track = 1400\ntrack = 1500", ["rules of TOML"]),
    "brackets without end": ("x = " + "[" * 20_000, "", "", ["rules of TOML"]),
    "empty": ("", "", "", ["is empty", "data folder"]),
    "blank": ("  \n\n", "", "", ["is empty"]),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_gets_one_sentence(name):
    text, old, new, wanted = BAD[name]
    assert old in text
    with pytest.raises(CarFileError) as caught:
        read_car(text.replace(old, new) if old else text, "mira.toml")
    said = str(caught.value)
    assert said.startswith("mira.toml")
    assert said.isprintable() and len(said) < 400
    assert said[-1] in ".?" and not re.search(r"[.?!] +[A-Z]", said), "more than one sentence"
    for word in ("None", "True", "datetime", "{'", "Point("):
        assert word not in said, said  # a file's own words, not Python's
    for words in wanted:
        assert words in said, said


def test_the_files_are_bad_by_one_thing_only():
    for text in (GOOD, FOUR, MUMFORD, BARLESS + WATT, GOOD + STRUT):
        read_car(text)
    assert len(BAD) >= 60


def test_what_never_ends_and_what_may_not_be_read_is_refused_in_a_sentence(tmp_path, monkeypatch):
    endless = Path("/dev/zero")
    if endless.exists():  # Windows has none
        with pytest.raises(CarFileError, match=r"^zero .{10,200}$"):
            load_car(endless)
    locked = tmp_path / "locked" / "car.toml"
    locked.parent.mkdir()

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied", str(locked))

    for name in ("open", "read_text", "read_bytes", "stat"):
        monkeypatch.setattr(Path, name, refuse)
    with pytest.raises(CarFileError, match=r"car\.toml.{5,200}$"):
        load_car(locked)


def test_a_file_of_100_mb_is_refused_unread(tmp_path, monkeypatch):
    with (tmp_path / "big.toml").open("wb") as file:
        file.truncate(100_000_000)
    monkeypatch.setattr(Path, "read_bytes", lambda path: pytest.fail(f"{path.name} was read"))
    with pytest.raises(CarFileError, match="big.toml has 100 MB; a car file has a few kB"):
        load_car(tmp_path / "big.toml")


def test_what_is_no_file_of_text(tmp_path):
    with pytest.raises(CarFileError, match="is a folder"):
        load_car(tmp_path)
    (tmp_path / "three_link.toml").write_text(GOOD, "utf-8")
    with pytest.raises(CarFileError, match="did you mean three_link.toml?"):
        load_car(tmp_path / "threelink.toml")
    (tmp_path / "photo.toml").write_bytes(bytes(range(256)))
    with pytest.raises(CarFileError, match="photo.toml is not a text file"):
        load_car(tmp_path / "photo.toml")
    with pytest.raises(CarFileError, match="MB"):
        read_car("#" * (SIZE_LIMIT + 1))


def test_a_notebook_shows_the_sentence_alone():
    with pytest.raises(CarFileError) as caught:
        read_car("", "mine.toml")
    assert caught.value._render_traceback_() == [f"CarFileError: {caught.value}"]


def test_windows_line_ends_and_a_byte_order_mark(tmp_path):
    (tmp_path / "car.toml").write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert summary(load_car(tmp_path / "car.toml")) == summary(read_car(GOOD))


@pytest.mark.parametrize("path", sorted(DATA.glob("*.toml")), ids=lambda path: path.stem)
def test_every_bundled_car_is_read_and_written(path, tmp_path):
    car = load_car(path)
    save_car(car, tmp_path / "copy.toml")
    copy = load_car(tmp_path / "copy.toml")
    assert write_car(copy) == write_car(car)
    assert summary(copy) == pytest.approx(summary(car), rel=1e-12)
    for name, value in summary(car).items():
        assert type(value) is float and not math.isnan(value), name
        assert name.endswith("]") and "[" in name


def test_a_strut_front_is_read_and_written():
    car = read_car(GOOD + STRUT)
    assert write_car(read_car(write_car(car))) == write_car(car)
    assert "front roll center height [mm]" in summary(car)


BUNDLED = {path.stem: load_car(path) for path in sorted(DATA.glob("*.toml"))}


@st.composite
def cars(draw):
    """Any car: each bundled one with all its kinds of parts, and any of its measurements a little different."""
    base = BUNDLED[draw(st.sampled_from(sorted(BUNDLED)))]
    number = len(dimensions(base))
    factors = draw(st.lists(st.sampled_from([1.0]) | st.floats(0.98, 1.02), min_size=number, max_size=number))
    car = moved(base, {place: value * by for (place, value), by in zip(dimensions(base).items(), factors, strict=True)})
    title = draw(st.text(st.characters(exclude_categories=["Cs"]), min_size=1).filter(str.strip))
    return replace(car, title=title, units=draw(st.sampled_from(["mm", "in"])))


@settings(max_examples=50)
@given(cars())
def test_reading_what_was_written_gives_the_same_car(car):
    text = write_car(car)
    again = read_car(text)
    assert (again.title, again.units) == (car.title, car.units)
    kept, before = dimensions(again), dimensions(car)
    assert kept.keys() == before.keys()
    # Twelve digits are written, of lengths up to some meters; an inch is 25.4 of them.
    assert all(float(kept[place]) == pytest.approx(float(before[place]), rel=1e-11, abs=1e-9) for place in kept)
    assert [rod.name for rod in links(again)] == [rod.name for rod in links(car)]
    assert write_car(again) == text
    for name, value in summary(again).items():
        assert type(value) is float and not math.isnan(value), name


TITLES = ['"quoted"', "a\\b", "two\nlines", "tab\tand bell\a", "\x7f", "\x00", "Žluťoučký 🏁", "#", "a = 1"]


@pytest.mark.parametrize("title", TITLES, ids=ascii)
def test_a_title_of_any_characters(title):
    assert read_car(write_car(replace(BUNDLED["three_link"], title=title))).title == title


def links(car):
    return [rod for _, axle in car.axles() if isinstance(axle, LiveAxle) for rod in (*axle.lower, *axle.upper)]


def test_what_no_file_can_hold_is_not_written(tmp_path):
    many = moved(read_car(GOOD), {"rear.track": np.array([1400.0, 1500.0])})
    with pytest.raises(CarFileError, match="holds numbers, and this car has ndarray"):
        save_car(many, tmp_path / "many.toml")
    watt = read_car(BARLESS + WATT)
    lifted = replace(watt, rear=solve_travel(watt.rear, heave=30.0).at())
    with pytest.raises(CarFileError, match="has moved"):
        save_car(lifted, tmp_path / "lifted.toml")
    assert list(tmp_path.iterdir()) == []


def in_inches(text):
    """Return the text of a car file in mm with every length in inches, by hand: what is no length stays."""
    lines = []
    for line in text.splitlines():
        name, sign, rest = line.partition(" = ")
        if sign and rest[0] in "-[0123456789" and "mass" not in name and not name.endswith(("share", "rate", "angle")):
            inches = ", ".join(repr(float(n) / 25.4) for n in rest.split("#")[0].strip().strip("[]").split(","))
            line = f"{name} = [{inches}]" if rest[0] == "[" else f"{name} = {inches}"
        lines.append(line.replace('"mm"', '"in"'))
    return "\n".join(lines)


IN_MM = [path for path in sorted(DATA.glob("*.toml")) if 'units = "mm"' in path.read_text("utf-8")]


@pytest.mark.parametrize("path", IN_MM, ids=lambda path: path.stem)
def test_the_same_car_in_inches(path):
    text = path.read_text("utf-8")
    inches, mm = read_car(in_inches(text)), read_car(text)
    assert inches.units == "in" and summary(inches) == pytest.approx(summary(mm), rel=1e-9, abs=1e-9)
    shown, known = summary(inches, units="in"), summary(mm)
    assert len(shown) == len(known)
    for name, value in known.items():
        scales = dict.fromkeys(("[mm]", "[mm/g]", "[mm/kg]"), 1 / 25.4) | {"[deg/mm]": 25.4}
        scale = scales.get(name[name.index("[") :], 1.0)  # 25.4 mm to the inch, exact
        name = name.replace("mm", "in") if scale != 1 else name
        assert shown[name] == pytest.approx(value * scale, rel=1e-9, abs=1e-9), name


def test_pounds_and_pound_feet_are_read_by_their_definitions():
    """One lb is 0.45359237 kg and one lbf 4.4482216152605 N, exactly (NIST SP 811, B.8: 1 lbf ft = 1.355818 N m)."""
    text = (DATA / "club_coupe.toml").read_text("utf-8")
    kg, lb = (
        read_car(text),
        read_car(text.replace('units = "mm"', 'units = "mm"\nmass_units = "lb"\nrate_units = "lb/in"')),
    )
    assert lb.weight.mass == pytest.approx(kg.weight.mass * 0.45359237, rel=1e-15)
    assert lb.front_springs.rate == pytest.approx(kg.front_springs.rate * 4.4482216152605 / 25.4, rel=1e-15)
    assert lb.front_springs.anti_roll_rate == pytest.approx(kg.front_springs.anti_roll_rate * 1.355818, rel=5e-7)


def test_a_misspelt_place_gets_the_nearest_name():
    with pytest.raises(SusgeoError, match="There is no chasis in .*; did you mean chassis"):
        dimension(read_car(GOOD), "rear.lower.left.chasis.z")


def test_a_car_in_mm_called_one_in_inches_is_another_car():
    assert read_car(in_inches(GOOD)).rear.track == pytest.approx(1400)
    with pytest.raises(CarFileError, match="wheelbase"):
        read_car(GOOD.replace('"mm"', '"in"'))


def test_points_at_infinity_are_infinite_and_never_nan():
    known = summary(read_car(GOOD.replace("[600, 400, 290]", "[600, 500, 290]")))
    assert known["rear lower link convergence x [mm]"] == math.inf
    assert known["rear lower link convergence z [mm]"] == math.inf
    assert known["rear roll center height [mm]"] == pytest.approx(310)
    level = summary(
        read_car(GOOD.replace("[600, 400, 290]", "[600, 400, 240]").replace("[400, 0, 450]", "[400, 0, 470]"))
    )
    assert math.isinf(level["rear side-view instant center x [mm]"])
    assert level["rear pinion angle rate [deg/mm]"] == 0


def test_what_cannot_be_loaded_again_is_not_saved_and_the_old_file_stays_whole(tmp_path):
    place = tmp_path / "mine.toml"
    save_car(BUNDLED["three_link"], place)
    before = place.read_bytes()
    for bad in (
        moved(BUNDLED["three_link"], {"rear.lower.chassis.x": 1e8}),
        replace(BUNDLED["three_link"], title="half \ud800"),
    ):
        with pytest.raises(CarFileError):
            save_car(bad, place)
        assert place.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["mine.toml"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes in folders are Unix's")
def test_a_pipe_a_broken_link_and_a_long_name_are_refused_in_a_sentence(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "broken.toml").symlink_to(tmp_path / "gone.toml")
    for name, words in (
        ("pipe.toml", "device or a pipe"),
        ("broken.toml", "is a link to a file that is not there"),
        ("a" * 300, "cannot be read"),
    ):
        with pytest.raises(CarFileError, match=words):
            load_car(tmp_path / name)


def test_a_zero_has_no_sign():
    text = write_car(read_car(GOOD.replace("front_share = 0.65", "front_share = -0.0")))
    assert "= -0" not in text and write_car(read_car(text)) == text


def test_types_guard_themselves():
    car = BUNDLED["three_link"]
    with pytest.raises(SusgeoError, match="for 53 % write 0.53"):
        Weight(1150, 53, 500)
    with pytest.raises(SusgeoError, match="for 100 % write 1[.]"):
        Weight(1150, 100, 500)
    with pytest.raises(SusgeoError, match="unsprung masses"):
        Weight(100, 0.5, 500, 60, 60)
    with pytest.raises(SusgeoError, match="brake_front_share: got 60"):
        replace(car, brake_front_share=60)
    axle = replace(car.rear, lower=list(car.rear.lower), upper=car.rear.upper[0])
    assert float(axle.roll_steer) == float(car.rear.roll_steer) and isinstance(axle.upper, tuple)


def test_a_choice_of_a_hole_can_be_built_in():
    car = moved(BUNDLED["three_link"], {"rear.lower.chassis": (600, 400, 260)})
    assert car.rear.lower[0].chassis.z == 260 and car.rear.lower[1].chassis.y == -400
    with pytest.raises(SusgeoError, match="expected three"):
        moved(car, {"rear.lower.chassis": (600, 400)})


LEFT = Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link")


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: FlatPoint("top", 1, 2), 'no view "top"; expected "side", "plan" or "front"'),
        (lambda: project(Point(1, 2, 3), "top"), 'no view "top"'),
        (lambda: pair(LEFT.mirrored()), "left link on the right side"),
        (lambda: Arm(Point(0, 700, 180), Point(9, 0.0, 190), Point(0, 380, 190)), "front_pivot: .*left side"),
        (lambda: Arm(Point(0, 700, 180), Point(0, 500, 180), Point(0, 380, 180)), "lie on one line"),
        (lambda: replace(BUNDLED["three_link"].rear, end="middle"), 'end: got "middle", expected "rear" or "front"'),
        (lambda: replace(BUNDLED["three_link"].rear, track=-1400), "track: got -1400, expected a length above zero"),
        (lambda: replace(BUNDLED["three_link"].rear, upper=(LEFT, LEFT.mirrored()), lower=pair(LEFT)), "given twice"),
        (lambda: replace(BUNDLED["three_link"], wheelbase=2.7), "wheelbase: 2.7 mm is no wheelbase .*did you mean 2700"),
        (lambda: replace(BUNDLED["inches_three_link"], wheelbase=106.3), "106.3 mm is no wheelbase .*for 106.3 in write 106.3 [*] 25.4"),
        (lambda: Springs(-20, 900), "rate: got -20, expected a number, zero or more"),
        (lambda: Link(Point(1, 2, 3), Point(1, 2, 3)), r"chassis: \[1, 2, 3\] is the axle end as well"),
    ],
)  # fmt: skip
def test_a_class_refuses_what_the_reader_refuses_and_speaks_of_no_file(make, words):
    with pytest.raises(SusgeoError, match=words) as caught:
        make()
    assert "file" not in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "words", "never"),
    [
        ("wheelbase = 2700", "wheelbase = 27000", "did you mean 2700?", "units"),
        ("wheelbase = 2700", "wheelbase = 2.7", "did you mean 2700?", "units"),
        ("track = 1400", "track = 1e-300", "as small as that", "Error"),
        ("track = 1400", "track = 1e6", "of a car's size", "Error"),
        ("track = 1400", "x" * 100_000 + " = 1", "there is no field", "x" * 100),
        ("[rear.panhard_bar]", "[rear]", "the table [rear] stands twice", "declare"),
        ("track = 1400", "track = 14OO", '"track = 14OO', "Expected"),
        ("track = 1400", "track = 1400 mm", "more stands there than a value", "Expected"),
        ("track = 1400", "track 1400", "there is no = between a name and its value", "Expected"),
        ("track = 1400", "track =", "behind the = is no number", "Invalid"),
        ("[rear.panhard_bar]", "[rear.panhard_bar", "a table's name lacks its ]", "Expected"),
        ('"live axle"', '"live axle', "a text lacks its closing quote", "Illegal"),
        ("track = 1400", "track = 1400\ntrack = 1500", "this name, or this table, stands twice", "overwrite"),
        ('"live axle"', '"live \\u202eaxle"', 'got "live \u25a1axle"', "\u202e"),
    ],
)
def test_advice_helps_and_nothing_huge_is_echoed(old, new, words, never):
    with pytest.raises(CarFileError) as caught:
        read_car(GOOD.replace(old, new), "mira.toml")
    assert words in str(caught.value) and never not in str(caught.value)


@pytest.mark.parametrize("place", ["rear.upper.chassis.x", "rear.upper.chassis.z"])
def test_an_array_in_any_dimension_of_an_a_frame(place):
    """Truth: each element alone, as a plain car."""
    for name, car in BUNDLED.items():
        if car.rear is None or len(car.rear.upper) != 2:
            continue
        values = np.array([1.0, 1.02]) * float(dimension(car, place))
        many = numbers(moved(car, {place: values}))
        for index, value in enumerate(values):
            for quantity, number in numbers(moved(car, {place: float(value)})).items():
                got = float(np.broadcast_to(many[quantity], 2)[index])
                assert got == pytest.approx(float(number), rel=1e-9, abs=1e-9), (name, quantity)


def test_an_axle_and_one_name_suffice_for_numbers():
    axle, name = BUNDLED["three_link"].rear, "rear roll center height"
    assert numbers(axle, name) == numbers(BUNDLED["three_link"], [name])
