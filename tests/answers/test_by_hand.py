"""A hand calculation of any quantity of any car: its own way is right, a spoiled line is the line named."""

import os
import re
from dataclasses import replace
from itertools import islice

import pytest

import susgeo
from susgeo import SusgeoError, load_car, moved, summary
from susgeo.answers import check_by_hand, written_out
from susgeo.answers.by_hand import known_mistakes
from susgeo.answers.calculation import library
from susgeo.answers.choices import place_of
from susgeo.answers.variant import draws, shaken
from susgeo.answers.written import chain
from susgeo.files import DATA

CARS = sorted(DATA.glob("*.toml"))
RANDOM = int(os.environ.get("SUSGEO_STUDENTS", "26"))
"""Two cars of each kind in every test run, more by hand."""


def ways(car):
    """Every quantity of a car that has a way on paper, with the lines of its own way."""
    for name in summary(car):
        try:
            yield name, [line for line, _ in written_out(car, name).lines]
        except SusgeoError:  # at infinity, or counted, or no way: tests/answers/test_written.py says which
            continue


def spoiled(line, factor=1.05):
    """A line whose number is some percent off; a zero becomes 1.5."""
    head, _, number = line.rpartition(" = ")
    value, *unit = number.split()
    return f"{head} = {' '.join([f'{float(value) * factor:.8g}' if float(value) else '1.5', *unit])}"


def named(verdict, number):
    return verdict.kind == "wrong" and re.match(rf"Line {number}\b", verdict.sentences[0])


def holds(car, name, lines, at):
    """The own way is right; the lines at some places, spoiled, are named; the number is right, and wrong 5 % off."""
    own = check_by_hand(car, name, "\n".join(lines))
    assert own.kind == "right" and own.credit == 1, (name, str(own))
    for number in at:
        typed = [spoiled(line) if number == k else line for k, line in enumerate(lines)]
        verdict = check_by_hand(car, name, "\n".join(typed))
        one = len(lines) == 1 and verdict.kind == "wrong"  # a line alone is a result
        assert one or named(verdict, number + 1), (name, typed[number], str(verdict))
    result = lines[-1].rpartition(" = ")[2]
    assert check_by_hand(car, name, result).kind == "right", (name, result)
    off = spoiled(lines[-1]).rpartition(" = ")[2].split()[0]
    assert check_by_hand(car, name, off).kind == "wrong", (name, off)


@pytest.mark.parametrize("path", CARS, ids=lambda path: path.stem)
def test_every_quantity_of_every_bundled_car_line_by_line(path):
    """Every line is spoiled; one that several ways share, in the shortest of them."""
    car, checked, spoilt = load_car(path), 0, set()
    for name, lines in sorted(ways(car), key=lambda way: len(way[1])):
        holds(car, name, lines, [k for k, line in enumerate(lines) if line not in spoilt])
        spoilt |= {*lines}
        checked += 1
    assert checked >= 10


@pytest.mark.parametrize("number", range(RANDOM))
def test_every_quantity_of_cars_of_no_member_of_the_club(number):
    path = CARS[number % len(CARS)]
    car = shaken(load_car(path), draws("nobody's car", path.stem, number))
    if number % 3 == 0:
        car = replace(car, units="in")
    checked = 0
    for count, (name, lines) in enumerate(ways(car)):
        if count % 4 == number % 4:
            holds(car, name, lines, [(number + count) % len(lines)])
            checked += 1
    assert checked


def test_inches_are_shown_and_read():
    car = load_car(DATA / "inches_three_link.toml")
    name = "rear roll center height"
    worked = written_out(car, name)
    assert worked.lines[-1][0].endswith(" in") and {one.unit for one in worked.figures} == {"in"}
    assert "12.099 in" in worked.lines[-1][0]  # 307.308 mm
    for answer in ("12.1", "12.099 in", "307.3 mm", "z_R = 12.1 in", "z_P - e*x_P"):
        assert check_by_hand(car, name, answer), answer
    assert "inches and millimeters" in str(check_by_hand(load_car(DATA / "three_link.toml"), name, "12.099"))
    assert not check_by_hand(car, name, "307.3")


@pytest.mark.parametrize("name", ["three_link", "parallel_four_link_watt", "torque_arm"])
def test_a_car_measured_in_mm_and_shown_in_inches_has_figures_that_give_its_lines(name):
    """Its inches have no end: cut too early they do not give the results that stand beside them."""
    car = replace(load_car(DATA / f"{name}.toml"), units="in")
    for quantity, lines in ways(car):
        if len(lines) <= 30:
            assert check_by_hand(car, quantity, "\n".join(lines)), quantity


def test_a_wrong_line_in_inches_is_drawn_where_it_is():
    """The pivot 1 in too high, over the right one, on scales in inches."""
    car = replace(load_car(DATA / "three_link.toml"), units="in")
    lines = [line for line, _ in written_out(car, "rear roll center height").lines]
    at = next(k for k, line in enumerate(lines) if line.startswith("z_P = "))
    right = float(lines[at].split()[-2])
    verdict = check_by_hand(car, "rear roll center height", "\n".join([*lines[:at], f"z_P = {right + 1:.4f} in"]))
    heights = [float(z) for z in re.findall(r"P lies at y = [-\d.]+ in, z = ([-\d.]+) in", verdict.picture.alt)]
    assert heights[0] == pytest.approx(right, abs=0.01) and heights[1] - heights[0] == pytest.approx(1, abs=0.011)
    panel = verdict.picture.panels[0]
    (place, shown), *_ = verdict.picture.ticks(panel)[1].items()
    assert place == pytest.approx(25.4 * float(shown)) and "[in]" in verdict.picture.scale_names(panel)[0]


def test_another_route_is_right_where_it_leads_to_the_value():
    """Similar triangles with names of one's own, one of them a name that the library uses for something else."""
    car = load_car(DATA / "club_coupe.toml")
    route = "a = 370 + 425\nb = 5200 + 140\nf = 140/b\nz_R = 370 - a*f"
    assert check_by_hand(car, "rear roll center height", route)
    assert not check_by_hand(car, "rear roll center height", route.replace("a*f", "2*a*f"))
    assert not check_by_hand(car, "rear roll center height", "a = 1\nb = 2\nz_R = 370")
    idle = str(check_by_hand(car, "rear roll center height", "hello = 3\nz_R = 349.2"))  # 349.16
    assert "no line was checked" in idle and "follows" not in idle
    assert not check_by_hand(car, "rear roll center height", "hello = 3\nz_R = 350.1")


def test_five_lines_of_a_builder_with_one_wrong_name_the_line_and_the_slip_and_draw_it():
    car = load_car(DATA / "club_coupe.toml")
    typed = """s_L = (124 - 185)/520 = -0.1173
s_U = (329 - 440)/(260 + 40) = -0.37
c_L = 185
c_U = 440
x_IC = (c_U - c_L)/(s_L - s_U) = 1009"""
    verdict = check_by_hand(car, "rear side-view instant center x", typed)
    assert named(verdict, 4) and "the upper link started above the wheel centers" in verdict.sentences[0]
    assert "Line 5 follows from line 4" in str(verdict)
    assert "x = 950.6 mm" in verdict.picture.alt and "x = 1009.1 mm" in verdict.picture.alt
    alone = check_by_hand(car, "rear side-view instant center x", "1009 mm")
    assert alone.mistakes == verdict.mistakes and alone.picture is not None
    unnamed = check_by_hand(car, "rear side-view instant center x", typed.replace("c_U = 440", "c_U = 415"))
    assert named(unnamed, 4) and not unnamed.mistakes and "With c_U as you have it" in unnamed.picture.alt


def test_the_lessons_mistakes_are_known_in_the_ways():
    """Stated once, in the lessons: those of the lines that a way shares, in the way's own names."""
    for path, name, least in (
        ("three_link", "rear side-view instant center z", 6),
        ("three_link", "rear roll center height", 8),
        ("club_coupe", "front roll center height", 2),
        ("live_front", "front roll center height", 5),
        ("live_front", "rear anti-squat", 8),
    ):
        lines = chain(load_car(DATA / f"{path}.toml"), name)
        found = known_mistakes(lines.calculation.steps)
        own = {step.name for step in lines.calculation.steps}
        assert len(found) >= least, (path, name, len(found))
        assert all(set(wrong.put) <= own for wrong in found)
        lessons = {wrong.name for calculation in library()[0].values() for wrong in calculation.mistakes}
        assert {wrong.name for wrong in found} <= lessons
        values = {key: one.value for key, one in lines.known.items()}
        told = [wrong for wrong, made in lines.calculation.wrong_turns(values, lines.symbol)]
        assert not any(wrong in found for wrong in told)  # the way itself states none


def test_a_formula_is_right_on_this_car_and_told_whether_on_every_car():
    car = load_car(DATA / "three_link.toml")
    name = "rear roll center height"
    assert "on every car" in str(check_by_hand(car, name, "z_P - (z_L - z_P)/(x_L - x_P)*x_P"))
    lucky = check_by_hand(car, name, "z_BA - e*x_P")  # the bar is level here
    assert lucky and "rests on what happens to be so" in str(lucky)
    wrong = check_by_hand(car, name, "z_P + e*x_P")
    assert wrong.kind == "wrong" and wrong.mistakes and "your formula gives 292.7 mm" in str(wrong)
    assert check_by_hand(car, name, "z_R").kind == "unreadable"


def in_own_names(car, name):
    """The printed way to a quantity, each line but the last under a name of one's own."""
    lines = [line for line, _ in written_out(car, name).lines]
    names = {line.split(" = ")[0]: f"own{number}" for number, line in enumerate(lines[:-1])}
    return re.sub(r"(?<![\w.])[A-Za-z]\w*", lambda word: names.get(word[0], word[0]), "\n".join(lines))


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("name", ["rear elastic load transfer", "rear centering by Panhard bar"])
def test_degrees_for_a_unit_are_read_in_names_of_ones_own(name, units):
    """5.2 deg/g, 0.011 deg/mm and 0.29 deg/in, used in the next line with *pi/180."""
    car = replace(load_car(DATA / "live_front.toml"), units=units)
    verdict = check_by_hand(car, name, in_own_names(car, name))
    assert verdict.kind == "right" and verdict.credit == 1, str(verdict)


def test_own_lines_that_lead_to_the_value_on_this_car_only_are_said_to():
    """The bar lies across the car, so that f falls out of x_P; the other car's slip is off by 0.01 deg."""
    car = load_car(DATA / "tilted_bar.toml")
    ends = "part = y_BA/(y_BA - y_BC)\nx_P = x_BA + part*(x_BC - x_BA)"
    assert check_by_hand(car, "rear locator x", ends).credit == 1
    lucky = check_by_hand(car, "rear locator x", ends.replace(" - y_BC", " + y_BC"))
    assert lucky.credit == 0.5 and "on other figures your lines do not lead to it" in str(lucky)
    car = shaken(load_car(DATA / "leaf_springs.toml"), draws("attack9", "leaf_springs", 11))
    near = in_own_names(car, "rear roll axis slope").replace("z_BA + own0*", "z_BA - own0*")
    letters = [" = ".join(line.split(" = ")[:2]) for line in near.splitlines()]
    verdict = check_by_hand(car, "rear roll axis slope", "\n".join(letters) + " = 6.447 deg")
    assert verdict.kind == "wrong" and "carry more digits" not in str(verdict), str(verdict)


def test_a_short_link_that_cannot_be_moved_is_no_error():
    """The upright link of a torque arm has no length on one of the cars that a formula is compared on."""
    car = shaken(load_car(DATA / "torque_arm.toml"), draws("attack9d", "torque_arm", 5))
    assert check_by_hand(car, "rear side-view instant center x", "x_UA + 0*(x_UC - x_UA)").kind == "right"


TYPED = (
    "", " \n ", "about three", "5 deg", "1e999", "(" * 9999, 1 << 20000, None, [1], object(), True, "1/0", "=", "= 3",
    "z_R = 1e999", "z_R = 3 = ", "z_R = (3", "x = " * 50, "a = 1\n" * 60, "z_R := 3", "🚗", "z_R = z_R", "9^9^9^9", "sin(" * 40 + "1" + ")" * 40,
)  # fmt: skip


@pytest.mark.parametrize("number", range(len(TYPED)))
def test_nothing_that_is_typed_raises(number):
    verdict = check_by_hand(load_car(DATA / "three_link.toml"), "rear roll center height", TYPED[number])
    assert verdict.kind in ("blank", "unreadable", "wrong") and all(verdict.sentences)


def test_what_has_no_way_is_said_as_written_out_says_it():
    car = load_car(DATA / "three_link.toml")
    for quantity in ("rear roll centre height", "front roll center height"):
        with pytest.raises(SusgeoError) as one:
            written_out(car, quantity)
        with pytest.raises(SusgeoError) as other:
            check_by_hand(car, quantity, "3")
        assert str(one.value) == str(other.value)


def test_both_are_public_names():
    assert susgeo.check_by_hand is check_by_hand and susgeo.written_out is written_out
    assert list(islice(ways(load_car(CARS[0])), 1))


@pytest.mark.parametrize(
    ("quantity", "typed", "words"),
    [  # in letters, and in numbers of so few digits that some sum or product of figures comes near each
        ("rear lower link convergence x", "a = 6*y_LA\nx_L = a", "on other figures your lines do not lead to it"),
        ("rear locator x", "x_P = 470*-0.2553", "where 0.2553 came from"),
        ("rear locator height", "a = 3\nz_P = 120*2.5", "where 2.5 came from"),
        ("rear roll stiffness", "K = k_r*8.04", "where 8.04 came from"),
        ("rear unsprung load transfer", "dF_u = 145*2.1", "where 2.1 came from"),
    ],
)  # fmt: skip
def test_a_fit_to_this_car_is_no_way(quantity, typed, words):
    car = load_car(DATA / ("club_coupe.toml" if "unsprung" in quantity else "three_link.toml"))
    said = check_by_hand(car, quantity, typed)
    assert said.credit == 0.5 and words in str(said), str(said)


def test_a_wrong_line_on_which_nothing_rests_is_named():
    """The bar is level, so its share does not matter for the height; it is wrong all the same, and no other meaning."""
    car = load_car(DATA / "three_link.toml")
    lines = [line for line, _ in written_out(car, "rear locator height").lines]
    wrong = "\n".join(["f = 1/(y_BA - y_BC)", *lines[1:]])
    assert named(check_by_hand(car, "rear locator height", wrong), 1)
    turned = "s_L = (z_LA - z_LC)/x_LC\ns_U = (z_UA - z_UC)/(x_UC - x_UA)\nc_L = 240\nc_U = 470 - s_U*50\n"
    turned += "x_IC = (c_U - c_L)/(s_U - s_L)"  # falling counts plus
    assert check_by_hand(car, "rear side-view instant center x", turned)


MM = shaken(load_car("three_link"), draws("nobody", "x", 7))
BRACKETS = {"z_LC": 10.75, "z_LA": 9.5, "x_LC": 23.5, "z_UC": 17.25, "z_UA": 18.5, "x_UC": 15.75, "x_UA": -2}
INCH = moved(load_car("inches_three_link"), {place_of(name): 25.4 * value for name, value in BRACKETS.items()})
CENTER = "rear side-view instant center x"  # 2515.3 mm on the one, 71.668 in on the other
BUILDERS = [  # a car of nobody in the club, a quantity, what is typed; the verdict's kind, its credit, and words of it
    (MM, CENTER, "sl=0.1115\nsu=0.0127\nc=465.6\nx=(c-217)/(sl-su)\nx_IC=x", "right", 1, ""),
    (MM, CENTER, "s_L = 11.15 %\ns_U = 1.27 %\nx_IC = 2515", "right", 1, ""),  # rounded as paper rounds
    (MM, CENTER, "s_L = 0.1115\ns_U = 0.0127\nc_L = 217\nc_U = 464.4\nx_IC = 2504", "wrong", 0.8, "followed the wrong way"),
    (MM, "rear ride frequency", "f_b = 1.96 Hz", "right", 1, "agrees to the digits"),
    (MM, CENTER, "x_IC =", "blank", 0, ""),
    (MM, CENTER, "s_L =\ns_U =", "blank", 0, ""),
    (MM, "rear anti-squat", "x_IC = 2515.3\nz_IC = 497.4\nA_s = 497.4/2515.3*2730/510 = 1.0586 = 105.9 %", "right", 1, ""),
    (MM, "rear anti-squat", "x_IC = 2515.3\nz_IC = 497.4\nA_s = 497.4/2515.3*2730/510 = 1.0586", "wrong", 0.67, "multiply by 100"),
    (MM, "rear anti-squat", "x_IC = 2515.3\nz_IC = 497.4\nA_s = 1.0386 = 105.9 %", "wrong", 0.67, "sides of an equals sign differ"),
    (MM, "rear anti-squat", "x_IC = 2515\nz_IC = 497\nk = 0.198\nA_s = 106", "right", 1, ""),
    (MM, "rear roll center height", "e = 4.549 deg\nz_R = 304.37 + tan(e)*96", "unreadable", 0, "give it another name"),
    (INCH, CENTER, "s_L = 1.25/23.5 = 0.0532\ns_U = -1.25/17.75 = -0.0704\nc_L = 9.5\nc_U = 18.36\nx_IC = 8.86/0.1236 = 71.7", "right", 1, ""),
    (INCH, CENTER, "c_L = 241.3 mm\nc_U = 466.3 mm\ns_L=0.05319\ns_U=-0.07042\nx_IC = 71.67 in", "right", 1, ""),
    (INCH, CENTER, "5' 11.7\"", "right", 1, ""),
    (INCH, CENTER, "5 ft 11 11/16 in", "right", 1, ""),
    (INCH, CENTER, "6' 1/2\"", "wrong", 0, ""),
    (INCH, CENTER, "1820", "wrong", 0, "inches and millimeters mixed"),
]  # fmt: skip


@pytest.mark.parametrize(("car", "quantity", "text", "kind", "credit", "words"), BUILDERS)
def test_what_a_builder_types_on_a_car_of_nobody_in_the_club(car, quantity, text, kind, credit, words):
    verdict = check_by_hand(car, quantity, text)
    assert (verdict.kind, round(verdict.credit, 2)) == (kind, credit), str(verdict)
    assert words in str(verdict)


@pytest.mark.parametrize("quantity", [CENTER, "rear roll center height", "rear anti-squat"])
def test_a_printed_way_is_pasted_with_its_words(quantity):
    for car in (MM, INCH):
        whole = str(written_out(car, quantity))
        lines = whole.partition("Lines:\n")[2]
        for typed in (whole, lines, lines.replace("   ", "\t")):  # as a terminal and as a table give them
            verdict = check_by_hand(car, quantity, typed)
            assert (verdict.kind, verdict.credit) == ("right", 1), str(verdict)


@pytest.mark.parametrize("typed", ["5 mm", "f_b = 5 mm", "a = 3\nf_b = 5 mm", "a = 3\nb = 5"])
def test_a_unit_that_only_a_way_has_is_told_from_others(typed):
    """A ride frequency is in Hz, to which nothing is converted."""
    verdict = check_by_hand(load_car(DATA / "club_coupe.toml"), "rear ride frequency", typed)
    words = "5 mm is a length, but the answer is in Hz" if "mm" in typed else "The last line is missing: f_b"
    assert verdict.kind in ("unreadable", "wrong") and words in str(verdict)


@pytest.mark.parametrize("text", ["#", "//", ";;;", "# a remark\n#", " ; "])
def test_remarks_alone_are_no_answer(text):
    verdict = check_by_hand(load_car("three_link"), "rear roll center height", text)
    assert verdict.kind == "blank", text
