"""Workings as students write them: letters and figures mixed in one line."""

import itertools
import re
from dataclasses import replace

import pytest

from susgeo import load_car, moved
from susgeo.answers import Lesson
from susgeo.answers.calculation import LESSONS, Task, library
from susgeo.answers.check import check
from susgeo.answers.figures import figures
from susgeo.answers.lesson import CLUB
from susgeo.answers.paper import last_digit


def test_a_figure_put_into_a_line_may_stand_below_the_fraction():
    """H_U/2*l_U/500 holds the run in figures, as the lines before it do; it is no slip of this car."""
    lines = """F = -1190*6*(1 - 0.66)
        s_L = (250 - 215)/640
        s_U = -5/500
        z_D = 215 - s_L*20
        z_E = 430 - s_U*(-10)
        H_L = -F - F*z_D/(z_E - z_D)
        H_U = -F - H_L
        l_U = sqrt(500^2 + 5^2)
        T_U = H_U/2*l_U/500"""
    assert Lesson("10", "club").check("10.5", lines, keep=False).kind == "right"
    wrong = lines.replace("H_U/2*", "H_U*")
    assert Lesson("10", "club").check("10.5", wrong, keep=False).kind == "wrong"


def test_what_holds_on_this_car_only_is_said_with_what_is_missing():
    """Student 5's upper links are level and straight: true length over run is 1, and is left out."""
    lesson, lines = Lesson("10", "5"), [f"{one.name} = {one.formula}" for one in library()[0]["brake_links"].steps[:-1]]
    verdict = lesson.check("10.5", "\n".join([*lines, "T_U = H_U/2"]), keep=False)
    assert verdict.kind == "wrong" and "this car only" in str(verdict) and "true length over run" in str(verdict)
    gives, is_so = re.search(r"gives (\S+) N, and T_U is (\S+) N\.", str(verdict)).groups()
    assert gives != is_so and len(verdict.mistakes) == 1
    other = lesson.check("10.5", "\n".join([*lines, "T_U = H_U/2*l_U/l_U"]), keep=False)
    assert other.kind == "wrong" and other.mistakes == verdict.mistakes


def test_three_digits_of_a_large_number_count_however_many_zeros_follow():
    """1.9e7 was meant to a few thousand; a millionth part of it is not what its zeros leave open."""
    assert last_digit("19000000") == 1e5 and last_digit("29695000") == 1e3 and last_digit("1.9e7") == 1e6


def test_the_slope_of_a_level_link_is_zero_and_no_slip():
    """Figures that cancel leave a last digit of rounding; a slope of a hundredth is a slip all the same."""
    car = moved(load_car(LESSONS.parent / "three_link.toml"), {"rear.lower.chassis.z": 240.1 + 0.2})
    car = moved(car, {"rear.lower.axle.z": 240.3})
    task = Task("02.x", "working", "", "three_link", of="side_view", find="s_L")
    for line in ("s_L = (z_LC - z_LA)/(x_LC - x_LA)", "s_L = (240.1 + 0.2 - 240.3)/600", "s_L = 0"):
        assert check(task, line, car).kind == "right", line
    assert check(task, "s_L = 0.01", car).kind == "wrong"


def test_a_slope_is_a_bare_number_and_no_angle():
    """For small angles the two look alike in radians; only the plain number is the slope."""
    lesson = Lesson("05", "club")
    rest = "\ns_2 = (z_WS - z_WR)/(y_WS - y_WR)"
    said = lesson.check(5, "s_1 = -0.99645 deg" + rest, keep=False)
    assert said.kind == "unreadable" and "Line 1" in str(said)
    assert "Line 1" not in str(lesson.check(5, "s_1 = -0.0173913" + rest, keep=False))


def test_an_angle_without_a_unit_is_read_in_radians_also_over_a_rounded_line():
    """D is 357.04 mm; acos gives 76.339 deg, which is 1.3324 rad."""
    lesson, put = Lesson("09", CLUB), {"D": "357", "gamma": "1.3324"}
    sides = [line.split(" = ") for line, _ in lesson.solution("09.6").lines]
    for gamma, credit in (("1.3324", 1), ("1.3824", 0.93)):
        put["gamma"] = gamma
        lines = "\n".join(f"{side[0]} = {put.get(side[0], side[-1])}" for side in sides)
        said = lesson.check("09.6", lines, keep=False)
        assert said.credit == credit and ("Line 11 was read in radians" in str(said)) == (credit == 1), str(said)


def test_a_share_may_stand_before_its_percent_also_over_a_rounded_slip():
    """0.21 m leaves 10 mm open: of 520 mm that is 40.4 %, give or take a whole one."""
    for share, words in (("0.413 = 41.3", "Line 2 follows from line 1"), ("0.433 = 43.3", "Line 2 does not follow")):
        said = Lesson("03", CLUB).check("03.6", f"H = 0.21 m\nAS = {share} %", keep=False)
        assert words in str(said), str(said)


def test_lines_of_ones_own_are_tried_on_a_car_that_could_be_built():
    """This reader's figures hold one near a multiple of pi; the triangle of three lengths closes all the same."""
    lesson = Lesson("09", "3")
    sides = [line.split(" = ") for line, _ in lesson.solution("09.6").lines]
    own = {side[0]: f"own{number}" for number, side in enumerate(sides[:-1])}
    lines = "\n".join(f"{side[0]} = {side[1]}" for side in sides)
    assert lesson.check("09.6", re.sub(r"(?<![\w.])[A-Za-z]\w*", lambda word: own.get(word[0], word[0]), lines), keep=False).credit == 1  # fmt: skip


def test_what_two_sides_of_a_line_say_is_told_apart_before_last_digits():
    """140 N m per degree are 8.02 million N mm per radian; times pi/180 they are 2443, and no last digit mends that."""
    lines = "K_f = 34*820^2/2 + 140*1000*pi/180 = 19453000\nphi = 3.99"
    said = str(Lesson("08", CLUB).check("08.5", lines, keep=False))
    assert "the two sides of an equals sign differ, 11433000 N mm/rad and 19453000 N mm/rad" in said, said
    assert "off only in its last digit" in str(
        Lesson("08", CLUB).check("08.5", "K_f = 19454000\nphi = 3.99", keep=False)
    )


def test_runs_between_figures_are_figures_on_both_sides_of_an_axis():
    """From -40 to 330 it is 370; a line of runs alone rests on the figures, one of a run that is none does not."""
    for line, words in (
        ("2*290²/(290² + 370²)*100", "Every line follows"),
        ("2*290²/(370² + 291²)*100", "where 291 came from"),
    ):
        said = Lesson("04", CLUB).check("04.2", line, keep=False)
        assert said.kind == "right" and words in str(said), str(said)


def test_a_line_may_be_reckoned_in_the_unit_that_stands_at_its_end():
    """706.9 N at 0.9 m are 636.2 N m, and neither a thousand times that nor a force."""
    for unit, words in (("N m", "Every line follows"), ("kN m", "does not follow"), ("N", "636.2 N is a force")):
        lines = f"give = 23.56\npush = 706.9 N\nM = 706.9*0.9 = 636.2 {unit}\nF_e = 636.2/1.4 = 454.4 N"
        assert words in str(Lesson("08", CLUB).check("08.1", lines, keep=False)), unit

    for line, words in (("40/1782.6", "Every line follows"), ("40/1782.6*pi/180", "the two sides of an equals sign")):
        assert words in str(Lesson("02", CLUB).check("02.4", f"turn = {line} = 0.02244 rad", keep=False)), line
    for line, words in (
        ("(440 - 40*0.0405)/25.4", "Right."),
        ("(z_UA + s_U*40)/25.4", "differ"),
        ("z_UA + s_U*40", "Right."),
    ):
        lines = f"s_L = 35/560\ns_U = -15/370\nc_L = 230\nc_U = {line} = 17.26 in\nx_IC = 2022"
        assert words in str(Lesson("02", CLUB).check("02.5", lines, keep=False)), line


def test_a_letter_of_the_course_may_stand_for_something_else_in_figures():
    """Counted backward, the links meet 110/290 lengths behind; the course's g counts ahead."""
    for g in (
        "110/290 = 0.379\nx_P = -40 - 0.379*370",
        "400 - 110\nx_P = -40 - 110/g*370",
        "110/290\nx_P = -40 - g*370",
    ):
        assert Lesson("04", CLUB).check("04.1", f"g = {g}", keep=False).credit == 1, g
        assert Lesson("04", CLUB).check("04.1", f"g = {g.replace('-40 -', '-40 +')}", keep=False).credit < 1, g


def strut(**put):
    """Return the whole working of task 07.4 with lines exchanged, as check's verdict."""
    calculation = library()[0]["strut_front"]
    lines = [f"{step.name} = {put.get(step.name, step.formula)}" for step in calculation.steps]
    return Lesson("07", "club").check("07.4", "\n".join(lines), keep=False)


def test_a_slope_may_be_rounded_as_on_paper_while_the_result_stays_within_its_tolerance():
    """13/300 is 0.04333; 0.04 stands for it too, but leads to a result that is off by more than is allowed."""
    for rounded in ("0.0433", "0.043", "(z_J - z_A)/(y_J - y_A) = 0.043"):
        assert strut(s_L=rounded).kind == "right", rounded
    said = strut(s_L="0.04")
    assert said.kind == "wrong" and "carry more digits" in str(said)
    for other in ("0.05", "-0.04", "0.4", "0.0417", "0"):
        assert "Carry four digits" not in str(strut(s_L=other)), other
    assert "the arithmetic is not" in str(strut(s_L="13/300 = 0.0417"))
    assert "leaning the wrong way" in str(strut(s_N="-0.12"))  # a known mistake is called by its name


def test_a_line_that_is_off_in_its_last_digit_is_said_to_be_just_that():
    """c_U is 450 - 43*33/370 = 446.1649; the slopes before it are fractions, which leave nothing open."""
    above = "s_L = 46/595\ns_U = -33/370\nc_L = 207\nc_U = {}\nx_IC = (c_U - c_L)/(s_L - s_U)"
    for number, words in (("446.16", "Right"), ("446.17", "only in its last digit"), ("446.2", "Right"), ("446.4", "first line")):  # fmt: skip
        assert words in str(Lesson("02", "a").check("02.5", above.format(number), keep=False)), number


def test_a_line_that_comes_near_by_luck_is_not_called_right():
    """The normal 35 mm ahead is 2.8 mm higher, out of 800: within four digits, and not the same line."""
    said = str(strut(z_N="z_S"))
    assert "Line 5 is the first line that does not follow" in said


def test_a_slip_in_numbers_is_not_called_right_however_near_it_comes():
    """The club's axle with its upper line started above the wheel centers: 2038 for 2022, less than 1 %."""
    calculation, lesson = library()[0]["side_view"], Lesson("02", CLUB)
    known = calculation.known(figures(lesson.car("converging_four_link")))
    known = {name: figure.value for name, figure in known.items()}
    names = ("s_L", "s_U", "c_L", "c_U", "x_IC")
    for digits in (0, 1, 2, 3):
        for put, kind in (({}, "right"), ({"c_U": "z_UA"}, "wrong")):
            values = calculation.values(known, put)
            lines = [f"{name} = {values[name]:.{digits + 4 * (name[0] == 's')}f}" for name in names]
            said = lesson.check("02.5", "\n".join(lines), keep=False)
            assert said.kind == kind, (digits, put, str(said))
            assert not put or "Line 4 is the first line" in str(said) and said.mistakes


def test_a_line_in_letters_is_exact_or_wrong():
    """The length seen from above is 0.2 % short of the true one, and another length all the same."""
    calculation = library()[0][library()[1]["00.5"].of]
    step = calculation.lines_to(library()[1]["00.5"].find)[-1]
    assert Lesson("00", CLUB).check("00.5", f"{step.name} = sqrt(dx^2 + dy^2)", keep=False).kind != "right"


def test_idle_lines_and_sums_do_not_make_a_bare_result_a_working():
    lesson = Lesson("02", CLUB)
    for text in ("x_IC = 2022", "hello = 3\nx_IC = 2022", "x_IC = 2022.3*1", "a = 2022\nx_IC = a", "x_IC = 2000 + 22"):
        said = lesson.check("02.5", text, keep=False)
        assert said.kind == "wrong" and said.credit == 0.5, text


def test_a_line_that_has_the_other_sign_on_this_car_only_is_wrong():
    """The axle end of Tobi's link is at x = 0, so that -x_LC - x_LA is the run backward here, and nowhere else."""
    lines = "dx = {}\ndy = y_LA - y_LC\ndz = z_LC - z_LA\nl = sqrt(dx^2 + dy^2 + dz^2)"
    for run, kind in (("x_LA - x_LC", "right"), ("-x_LC - x_LA", "wrong")):
        assert Lesson("00", CLUB).check("00.5", lines.format(run), keep=False).kind == kind


def test_the_lines_after_a_slip_are_named_in_one_sentence():
    said = strut(s_L="0.05")
    assert said.sentences[-1] == "Lines 2, 7, 8, 10 and 11 follow from line 1, and change when that is mended."


@pytest.mark.parametrize("route", ["F*z_D/(z_E - z_D)", "-H_L*z_D/z_E", "-F - H_L"])
def test_a_moment_about_either_joint_is_as_good(route):
    """H_U by the sum of the forces, by the moment about D, and by the one about the ground."""
    lesson = Lesson("10", "kim")
    sides = [line.split(" = ") for line, _ in lesson.solution("10.5").lines]
    text = "\n".join(f"{one[0]} = {route if one[0] == 'H_U' else one[-1]}" for one in sides)
    said = lesson.check("10.5", text, keep=False)
    assert said.kind == "right" and said.credit == 1, str(said)
    wrong = lesson.check("10.5", text.replace(route, "F*z_D/(z_E + z_D)"), keep=False)
    assert wrong.kind == "wrong" and "H_U" in str(wrong)


def test_a_result_alone_is_half_of_a_working():
    lesson, key = Lesson("07", "club"), "07.4"
    alone = lesson.check(key, "z_R = -14.119 mm", keep=False)
    assert alone.kind == "wrong" and alone.credit == 0.5 and "The number is right" in str(alone)
    assert lesson.check(key, "z_R = -0.019746876*1430/2 = -14.119 mm", keep=False).kind == "right"
    assert lesson.check(key, "z_R = 14.119 mm", keep=False).credit == 0


def test_slips_of_scale_are_named_within_what_their_size_allows():
    """A newton's tolerance is a thousandth of a kilonewton: 0.641 is the right one in kN, 2 is nothing."""
    lesson = Lesson("08", "club")
    assert "kilonewtons" in str(lesson.check("08.4", "0.6413", keep=False))
    assert lesson.check("08.4", "0.6413 kN", keep=False).kind == "right"
    assert not lesson.check("08.4", "2", keep=False).mistakes
    assert "in meters" in str(Lesson("02", "club").check("02.1", "1.78", keep=False))
    assert "twice" in str(Lesson("06", "club").check("06.4", "17.06", keep=False))


@pytest.mark.parametrize("key", [key for key, task in library()[1].items() if task.kind != "choice"])
def test_what_the_course_prints_as_a_solution_can_be_pasted_as_an_answer(key):
    """As printed, with title and figures and without; its arithmetic alone; its last side alone."""
    lesson = Lesson(key[:2], "kim")
    lines = [line.split(" = ") for line, _ in lesson.solution(key).lines]
    for text in (
        str(lesson.solution(key)),
        "\n".join(" = ".join(sides) for sides in lines),
        "\n".join(" = ".join([sides[0], *sides[-2:-1]] if len(sides) > 2 else sides) for sides in lines),
        "\n".join(f"{sides[0]} = {sides[-1]}" for sides in lines),
    ):
        said = lesson.check(key, text, keep=False)
        assert said.kind == "right" and said.credit == 1, (text, str(said))


@pytest.mark.parametrize(
    ("number", "lines"),
    [  # numbers copied from the lines above, as one does with a pocket calculator; raised digits; degrees as shown
        ("00.5", "a = 560 − 0\nb = 520 − 470\nc = 265 − 230\nl = √(560² + 50² + 35²)"),
        ("04.5", "g = 520/50 = 10.4\nx = 10.4*560 = 5824\nh = 110/(110 - 400) = -0.37931\nq = -40 - 0.37931*370 = -180.345\nu = 100*5824/(5824 + 180.345)"),
        ("08.6", "a = 1780*0.51 - 230\nb = 1780*0.49 - 205\nh = (1780*600 - 435*360)/1345 = 677.621\nz = (677.8*330 + 667.2*430)/1345 = 379.606\n"
                 "k = 34*820²/2 + 140*1000*180/pi = 19452200 Nmm/rad\nq = 38*1000²/2\ns = 1345*6*298.015/(19452200 + 19000000 - 1345*9.80665*298.015)*180/pi = 3.99159°\n"
                 "F = (667.2*6*430 + 19000000*(3.99159°) + 205*6*360)/1450 = 2405.4\nW = 1780*0.49*9.80665/2 = 4276.68\nF_in = 4276.68 - 2405.4"),
    ],
)  # fmt: skip
def test_a_number_may_be_copied_from_a_line_above(number, lines):
    assert Lesson(number[:2], CLUB).check(number, lines, keep=False).credit == 1
    gone = "\n".join(lines.splitlines()[-1:])  # without the lines it rests on nothing
    assert Lesson(number[:2], CLUB).check(number, gone, keep=False).credit < 1 or number == "00.5"


def test_a_formula_may_come_in_lines():
    lesson = Lesson("02", CLUB)
    assert lesson.check("02.3", "n = s_L - s_U\nx = (c_U - c_L)/n; z_IC = c_U + s_U*x", keep=False).kind == "right"
    assert lesson.check("02.3", "x = (c_U - c_L)/(s_L + s_U)\nz_IC = c_U + s_U*x", keep=False).kind == "wrong"
    said = str(lesson.check("02.3", "z_IC = c_L + s_L*x_IC\nx_IC = (c_U - c_L)/(s_L - s_U)", keep=False))
    assert "'x_IC' is no name here" in said  # it stands below
    said = str(lesson.check("02.3", "x = (c_U - c_L)/(s_L - s_U)\ny = c_L + s_L*x", keep=False))
    assert "The last line should be that of z_IC; it is that of 'y'" in said
    doubled = "a = c_L + 1\n" + "\n".join("a = (a + 1)*(a + c_U)" for _ in range(10)) + "\nz_IC = a"
    assert lesson.check("02.3", doubled, keep=False).kind == "unreadable"
    rooted = Lesson("00", CLUB).check("00.4", "a = sqrt(dx)^2\nl = sqrt(a^2 + dy^2 + dz^2)", keep=False)
    assert rooted.kind == "wrong" and "your formula gives no value" in str(rooted)  # where dx is negative


def test_a_name_written_twice_is_no_other_meaning():
    """The first of the two leads nowhere, and is wrong."""
    lines = [line.rpartition(" = ")[0] for line, _ in Lesson("12", CLUB).solution("12.5").lines]
    at = next(number for number, line in enumerate(lines) if line.startswith("m_z"))
    assert Lesson("12", CLUB).check("12.5", "\n".join(lines), keep=False).credit == 1
    said = Lesson("12", CLUB).check("12.5", "\n".join([*lines[:at], "m_z = d_y", *lines[at:]]), keep=False)
    assert said.kind == "wrong" and said.sentences[0].startswith(f"Line {at + 1} is the first")


TYPED = (
    "1e999", "(" * 900, "\ud800", "x = \ud800", "0x" + "f" * 5000, 1 << 20000, "sqrt(" * 70, "=" * 99999, (" " * 900 + "=\n") * 99, "= = =", "a = b\nb = a",
)  # fmt: skip


@pytest.mark.parametrize("number", range(len(TYPED)))
def test_nothing_typed_raises(number):
    for key in ("02.1", "02.5", "08.3", "03.7"):
        said = Lesson(key[:2], CLUB).check(key, TYPED[number], keep=False)
        assert said.kind in ("unreadable", "wrong", "blank")


def test_a_name_in_another_case_is_said_to_be_another():
    said = str(Lesson("02", CLUB).check("02.5", "X_IC = 2022.3", keep=False))
    assert "X_IC is another name: capital and small letters differ" in said
    assert "number0" not in str(Lesson("02", CLUB).check("02.5", "x_IC = 2022.3 + 0*c_L", keep=False))


ZOE = [  # lines for task 03.6 on one reader's figures, their credit, and what is said of them
    ("s_L = -57/507\ns_U = -137/293\nx_IC = 251.7/0.3552 = 708.6\nz_IC = 189 - 0.1124*708.6 = 109.4\nAS = 75.7", 1, "Every line follows"),
    ("s_L = -57/507\ns_U = -137/293\nx_IC = 251.7/0.3552 = 708.8\nz_IC = 109.3\nAS = 75.7", 0.8, "it gives 708.6 mm, not 708.8 mm"),
    ("x_IC = 706.6\nz_IC = 109.6\nAS = 76.1", 0.67, "Lines 2 and 3 follow from line 1"),  # k and H left out
    ("x_IC = 706.6\nz_IC = 109.6\nAS = 77.1", 0.33, "Line 3 does not follow either"),
    ("x_IC = 708.7\nz_IC = 109.3\nAS = 109.3/708.7*2600/530 = 0.757 = 75.7 %", 1, "Every line follows"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "credit", "words"), ZOE)
def test_arithmetic_is_blamed_only_where_it_is_wrong_and_lines_left_out_carry_a_slip_on(text, credit, words):
    places = {"lower.axle.x": 0, "lower.axle.z": 189, "lower.chassis.x": 507, "lower.chassis.z": 132}
    places |= {"upper.axle.x": -37, "upper.axle.z": 458, "upper.chassis.x": 256, "upper.chassis.z": 321}
    car = moved(
        load_car(LESSONS.parent / "club_coupe.toml"), {f"rear.{place}": value for place, value in places.items()}
    )
    verdict = check(library()[1]["03.6"], text, replace(car, wheelbase=2600, weight=replace(car.weight, cg_height=530)))
    assert round(verdict.credit, 2) == credit and words in str(verdict), str(verdict)


OWN = "rise = 265 - 230\nm1 = rise/560\nm2 = -15/370\nb2 = 440 + m2*40\nx_IC = (b2 - 230)/(m1 - m2)"
PLACED = [  # what is put in for what, and the line that is named, with what its name is used as; 0 where nothing is proved
    ("rise = 265 - 230", "rise = 265 + 230", 1, "rise is used as z_LC - z_LA."),
    ("m1 = rise/560", "m1 = 560/rise", 2, "m1 is used as s_L, the slope of the lower link"),
    ("m2 = -15/370", "m2 = -15/410", 3, "m2 is used as s_U, the slope of the upper link"),
    ("b2 = 440 + m2*40", "b2 = 440 - m2*40", 4, "b2 is used as c_U, "),
    ("b2 = 440 + m2*40", "b2 = 440", 4, "b2 is used as c_U, "),
    ("m1 - m2", "m1 + m2", 0, ""),  # each line above is right
    ("m1 - m2", "m1*m2", 0, ""),
]


@pytest.mark.parametrize(("of", "put", "number", "words"), PLACED)
def test_a_slip_in_a_line_of_ones_own_is_placed_where_that_is_proved(of, put, number, words):
    lesson, typed = Lesson("02", CLUB), OWN.replace(of, put)
    assert lesson.check("02.5", OWN, keep=False).credit == 1
    said = lesson.check("02.5", typed, keep=False)
    assert said.kind == "wrong" and said.credit == 0 and "Line 5 is not right" in str(said)
    found = re.findall(r"Line (\d) does not fit it: (.*)", said.sentences[0])
    assert [(int(line), rest.startswith(words)) for line, rest in found] == [(number, True)] * bool(number), str(said)
    twice = typed.replace("b2 - 230", "b2 + 230")  # with another slip no single line mends it
    assert "does not fit" not in str(lesson.check("02.5", twice, keep=False))


def test_of_a_working_in_names_of_ones_own_no_line_is_named_but_the_one_that_was_spoiled():
    """Every line of every working, with the other sign and with something added."""
    named = tried = 0
    for key in (key for key, task in library()[1].items() if task.kind == "working"):
        lesson = Lesson(key[:2], "3")
        sides = [line.split(" = ") for line, _ in lesson.solution(key).lines]
        own = {side[0]: f"own{number}" for number, side in enumerate(sides[:-1])}
        for at, wrong in zip(range(len(sides)), itertools.cycle(("-({})", "2*({}) + 1"))):
            lines = [f"{side[0]} = {wrong.format(side[1]) if at == n else side[1]}" for n, side in enumerate(sides)]
            text = re.sub(r"(?<![\w.])[A-Za-z]\w*", lambda word: own.get(word[0], word[0]), "\n".join(lines))  # noqa: B023
            said = str(lesson.check(key, text, keep=False))
            found = re.findall(r"Line (\d+) does not fit it", said)
            assert found in ([], [str(at + 1)]), (key, text, said)
            named, tried = named + len(found), tried + 1
    assert named > tried / 2
