"""Workings as students write them: letters and figures mixed in one line."""

from susgeo import load_car, moved
from susgeo.answers import Lesson
from susgeo.answers.calculation import LESSONS, Task
from susgeo.answers.check import check


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
    assert Lesson("10").check("10.5", lines, keep=False).kind == "right"
    wrong = lines.replace("H_U/2*", "H_U*")
    assert Lesson("10").check("10.5", wrong, keep=False).kind == "wrong"


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
    lesson = Lesson("05")
    rest = "\ns_2 = (z_WS - z_WR)/(y_WS - y_WR)"
    said = lesson.check(5, "s_1 = -0.99645 deg" + rest, keep=False)
    assert said.kind == "unreadable" and "Line 1" in str(said)
    assert "Line 1" not in str(lesson.check(5, "s_1 = -0.0173913" + rest, keep=False))
