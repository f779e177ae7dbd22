"""Car files: read, written, and refused in one sentence that says where, what and how to mend it."""

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from susgeo import CarFileError, load_car, moved, read_car, save_car
from susgeo.carfile import SIZE_LIMIT, write_car

DATA = Path(__file__).resolve().parent.parent / "data"
GOOD = (DATA / "three_link.toml").read_text("utf-8")
FOUR = (DATA / "converging_four_link.toml").read_text("utf-8")
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
    "a table for a point": (GOOD, "[600, 400, 290]", "{x = 600}", ["chassis", "three numbers [x, y, z]"]),
    "text for a number": (GOOD, "wheelbase = 2700", 'wheelbase = "2700"', ["wheelbase", '"2700"', "expected a number", "without quotes"]),
    "text in a point": (GOOD, "[600, 400, 290]", '[600, "400", 290]', ["chassis y", '"400"', "expected a number"]),
    "true for a number": (GOOD, "track = 1400", "track = true", ["track", "True", "expected a number"]),
    "a date for a number": (GOOD, "track = 1400", "track = 2026-11-25", ["track", "expected a number"]),
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
    "no length": (GOOD, "chassis = [400, 0, 450]", "chassis = [-50, 0, 470]", ["[rear]", "upper link has no length", "same point"]),
    "a bar of no length": (GOOD, "[-120, -470, 300]", "[-120, 480, 300]", ["panhard_bar", "no length"]),
    "left and right exchanged": (GOOD, "[0, 500, 240]", "[0, -500, 240]", ["[rear.lower_links]", "exchange left and right"]),
    "sides exchanged": (
        GOOD, "[rear.lower_links]              # the left link; the right one mirrors it\naxle = [0, 500, 240]            # middle of the bolt at the axle bracket\nchassis = [600, 400, 290]       # middle of the bolt at the chassis bracket",
        "[rear.lower_links.left]\naxle = [0, -500, 240]\nchassis = [600, -400, 290]\n[rear.lower_links.right]\naxle = [0, 500, 240]\nchassis = [600, 400, 290]",
        ["[rear.lower_links.left]", "left link on the right side", "exchange left and right"],
    ),
    "one side alone": (
        GOOD, "[rear.lower_links]              # the left link; the right one mirrors it",
        "[rear.lower_links.left]", ["rear.lower_links", "right", "expected a table"],
    ),
    "given twice": (
        GOOD[: GOOD.index("[rear.panhard_bar]")] + "[rear.panhard_bar]\naxle = [-50, 0, 470]\nchassis = [400, 0, 450]\n", "", "",
        ["[rear]", "upper link and the Panhard bar", "given twice"],
    ),
    "pair in the middle": (GOOD, "[rear.upper_link]", "[rear.upper_links]", ["[rear.upper_links]", "center plane", "rear.upper_link"]),
    "link and links": (FOUR, "[rear.upper_links]", "[rear.upper_link]\naxle = [0, 0, 440]\nchassis = [400, 0, 430]\n[rear.upper_links]", ["rear.upper_link", "given as well", "keep one"]),
    "two locators": (
        GOOD, "[rear.panhard_bar]",
        "[rear.watts_linkage]\npivot_on = \"axle\"\npivot = [-120, 0, 300]\nleft_crank = [-120, 0, 380]\nleft_end = [-120, 500, 380]\nright_crank = [-120, 0, 220]\nright_end = [-120, -500, 220]\n[rear.panhard_bar]",
        ["two sideways locators", "keep one"],
    ),
    "not located": (GOOD[: GOOD.index("[rear.panhard_bar]")], "", "", ["[rear]", "not located", "free to move sideways"]),
    "nothing in pitch": (
        GOOD[: GOOD.index("[rear.upper_link]")] + GOOD[GOOD.index("[rear.panhard_bar]") :], "", "",
        ["[rear]", "not located", "free to move in pitch"],
    ),
    "no lower links": (
        GOOD[: GOOD.index("[rear.lower_links]")] + GOOD[GOOD.index("[rear.upper_link]") :], "", "",
        ["[rear]", "[rear.lower_links] is missing"],
    ),
    "no axle": (GOOD[: GOOD.index("[rear]")], "", "", ["no axle", "[rear] or [front]"]),
    "a table written as a field": (GOOD[: GOOD.index("[rear.panhard_bar]")], "track = 1400", "panhard_bar = 5\ntrack = 1400", ["field panhard_bar", "got 5", "write [rear.panhard_bar]"]),
    "rear is no table": (GOOD[: GOOD.index("[rear]")] + "rear = 3\n", "", "", ["rear", "got 3", "expected a table"]),
    "percent for a share": (FOUR, "front_share = 0.53", "front_share = 53", ["[weight]", "front_share", "between 0 and 1", "write 0.53"]),
    "negative mass": (FOUR, "mass = 1120", "mass = -1", ["[weight]", "mass", "zero or more"]),
    "strut and arm": (GOOD + STRUT + "[front.upper_arm]\nball_joint = [0, 650, 500]\nfront_pivot = [90, 420, 520]\nrear_pivot = [-90, 420, 520]\n", "", "", ["[front.upper_arm]", "a strut has none"]),
    "strut without a leg": ((GOOD + STRUT)[: (GOOD + STRUT).index("[front.strut]")], "", "", ["[front.strut] is missing"]),
    "front on the wrong side": (GOOD + STRUT, "[0, 700, 180]", "[0, -700, 180]", ["[front.lower_arm]", "ball_joint", "left side"]),
    "arm of one line": (GOOD + STRUT, "[0, 700, 180]", "[0, 380, 190]", ["[front]", "one line"]),
    "independent rear": (GOOD, '"live axle"', '"strut"', ["rear"]),
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
    assert "\n" not in said and len(said) < 400
    for words in wanted:
        assert words in said, said


def test_there_are_enough_bad_files():
    assert len(BAD) >= 45


def test_what_is_no_file_of_text(tmp_path):
    with pytest.raises(CarFileError, match="is a folder"):
        load_car(tmp_path)
    (tmp_path / "three_link.toml").write_text(GOOD, "utf-8")
    with pytest.raises(CarFileError, match="did you mean three_link.toml?"):
        load_car(tmp_path / "threelink.toml")
    with (tmp_path / "big.toml").open("wb") as file:
        file.truncate(100_000_000)
    with pytest.raises(CarFileError, match="big.toml has 100 MB; a car file has a few kB"):
        load_car(tmp_path / "big.toml")
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
    assert load_car(tmp_path / "car.toml").summary() == read_car(GOOD).summary()


@pytest.mark.parametrize("path", sorted(DATA.glob("*.toml")), ids=lambda path: path.stem)
def test_every_bundled_car_is_read_and_written(path, tmp_path):
    car = load_car(path)
    save_car(car, tmp_path / "copy.toml")
    copy = load_car(tmp_path / "copy.toml")
    assert write_car(copy) == write_car(car)
    assert copy.summary() == pytest.approx(car.summary(), rel=1e-12)
    for name, value in car.summary().items():
        assert type(value) is float and not math.isnan(value), name
        assert name.endswith("]") and "[" in name


def test_a_strut_front_is_read_and_written():
    car = read_car(GOOD + STRUT)
    assert write_car(read_car(write_car(car))) == write_car(car)
    assert "front roll center height [mm]" in car.summary()


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(st.floats(-30, 30), min_size=4, max_size=4),
    st.sampled_from(["mm", "in"]),
)
def test_reading_what_was_written_gives_the_same_car(offsets, units):
    from dataclasses import replace

    places = ["rear.lower.chassis.z", "rear.lower.axle.y", "rear.upper.axle.x", "rear.locator.chassis.z"]
    base = read_car(GOOD)
    car = moved(
        base,
        {place: value + off for place, value, off in zip(places, (290, 500, -50, 300), offsets, strict=True)},
    )
    car = replace(car, units=units, title='a "quoted" \\ title')
    again = read_car(write_car(car))
    assert again.title == car.title and again.units == units
    assert again.summary() == pytest.approx(car.summary(), rel=1e-8)


def test_the_same_car_in_inches():
    lines = []
    for line in GOOD.splitlines():
        name, sign, rest = line.partition(" = ")
        if sign and rest[0] in "[0123456789":
            numbers = rest.split("#")[0].strip().strip("[]").split(",")
            inches = ", ".join(repr(float(number) / 25.4) for number in numbers)
            line = f"{name} = [{inches}]" if rest[0] == "[" else f"{name} = {inches}"
        lines.append(line.replace('"mm"', '"in"'))
    weightless = "\n".join(lines)
    weightless = (
        weightless[: weightless.index("[weight]")] + weightless[weightless.index("[rear]") :]
        if "[weight]" in weightless
        else weightless
    )
    inches, mm = read_car(weightless).summary(), read_car(GOOD).summary()
    for name in inches:
        assert inches[name] == pytest.approx(mm[name], rel=1e-9), name
    shown = read_car(GOOD).summary(units="in")
    assert shown["rear roll center height [in]"] == pytest.approx(mm["rear roll center height [mm]"] / 25.4)


def test_points_at_infinity_are_infinite_and_never_nan():
    summary = read_car(GOOD.replace("[600, 400, 290]", "[600, 500, 290]")).summary()
    assert summary["rear lower link convergence x [mm]"] == math.inf
    assert summary["rear lower link convergence z [mm]"] == math.inf
    assert summary["rear roll center height [mm]"] == pytest.approx(310)
    level = read_car(
        GOOD.replace("[600, 400, 290]", "[600, 400, 240]").replace("[400, 0, 450]", "[400, 0, 470]")
    ).summary()
    assert math.isinf(level["rear side-view instant center x [mm]"])
    assert level["rear pinion angle rate [deg/mm]"] == 0
