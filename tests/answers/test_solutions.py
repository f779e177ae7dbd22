"""Worked solutions: the arithmetic shown gives the number shown, they answer the question, and drawings are right."""

import ast
import math
import operator

import pytest

from susgeo import SusgeoError, load_car, summary
from susgeo.answers import Lesson, written_out
from susgeo.answers.calculation import LESSONS, library
from susgeo.answers.construction import draw_construction, place
from susgeo.answers.figures import figures
from susgeo.answers.formula import read_formula

CALCULATIONS, TASKS = library()
STUDENTS = ("", "7", "kim")
SIGNS = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv, ast.Pow: operator.pow,
}  # fmt: skip


def calculator(text):
    """What a pocket calculator, set to degrees, shows: written for the tests, with nothing of the library's."""

    def value(e):
        if isinstance(e, ast.Constant):
            return float(e.value)
        if isinstance(e, ast.Name):
            return {"pi": math.pi}[e.id]
        if isinstance(e, ast.UnaryOp):
            return {ast.USub: operator.neg, ast.UAdd: operator.pos}[type(e.op)](value(e.operand))
        if isinstance(e, ast.BinOp):
            return SIGNS[type(e.op)](value(e.left), value(e.right))
        name, parts = e.func.id, [value(part) for part in e.args]
        if name in ("sin", "cos", "tan"):
            return getattr(math, name)(math.radians(parts[0]))
        if name in ("asin", "acos", "atan", "atan2"):
            return math.degrees(getattr(math, name)(*parts))
        return {"sqrt": math.sqrt, "abs": abs, "hypot": math.hypot}[name](*parts)

    return value(ast.parse(text.replace("^", "**").replace("°", ""), mode="eval").body)


def half_a_digit(number):
    digits, _, power = number.lower().lstrip("-").partition("e")
    whole, _, decimals = digits.partition(".")
    worth = 10.0 ** (int(power or 0) - len(decimals))
    if not decimals and len(whole) > 5:  # 29695000 has five digits that count
        worth *= 10.0 ** (len(whole) - len(whole.rstrip("0")))
    return worth / 2 * (1 + 1e-9)


def arithmetic_holds(lines):
    """Each line's figures give its number to half of its last digit, and a figure stands as its own line has it."""
    seen, checked = {}, 0
    for line, _ in lines:
        name, *sides = line.split(" = ")
        number = sides[-1].split()[0]
        seen[name] = number
        if len(sides) > 2:
            shown = calculator(sides[-2])
            assert abs(shown - float(number)) <= half_a_digit(number), line
            checked += 1
            used = {part.id for part in ast.walk(ast.parse(sides[0].replace("^", "**"))) if isinstance(part, ast.Name)}  # fmt: skip
            assert all(seen[other].strip("-") in sides[-2] for other in used & seen.keys() - {name}), line
    return checked


def test_the_test_s_calculator():
    assert calculator("100*(1 - 0.5)*tan(45°)^2/2") == pytest.approx(25)
    assert half_a_digit("1782.6") == pytest.approx(0.05) and half_a_digit("29695000") == pytest.approx(500)
    with pytest.raises(AssertionError):
        arithmetic_holds([("turn = lift/x = 40/1782.6 = 1.286 deg", "")])


@pytest.mark.parametrize("key", [key for key, task in TASKS.items() if task.kind in ("number", "working")])
def test_every_printed_line_holds_on_a_pocket_calculator(key):
    checked = sum(arithmetic_holds(Lesson(key[:2], one).solution(key).lines) for one in STUDENTS)
    assert checked >= len(STUDENTS)


@pytest.mark.parametrize("path", sorted(LESSONS.parent.glob("*.toml")), ids=lambda path: path.stem)
def test_every_line_of_every_quantity_holds_on_a_pocket_calculator(path):
    car, checked = load_car(path), 0
    for name in summary(car):
        try:
            worked = written_out(car, name)
        except SusgeoError:  # no way on paper, or at infinity: tests/answers/test_written.py says which
            continue
        checked += arithmetic_holds(worked.lines)
    assert checked > 30


@pytest.mark.parametrize("key", [key for key, task in TASKS.items() if task.kind == "formula"])
def test_the_solution_of_a_formula_task_ends_in_its_formula_in_the_symbols_asked_for(key):
    lesson, task = Lesson(key[:2], "club"), TASKS[key]
    line, _ = lesson.solution(key).lines[-1]
    name, formula = line.split(" = ")
    symbols = CALCULATIONS[task.of].symbols
    used = {one.name for one in read_formula(formula, symbols).free_symbols}
    assert name == task.find and used <= set(task.symbols)
    assert lesson.check(key, formula, keep=False).kind == "right"


HARD = {"13.8": ("1", "5", "9", "42", "59"), "13.9": ("10", "31", "113")}
"""Readers whose figures leave little room: the first had no right choice once, or none was found."""


@pytest.mark.parametrize("key", [key for key, task in TASKS.items() if task.kind == "choice"])
def test_a_choice_has_one_worked_way(key):
    for student in (*STUDENTS, *HARD.get(key, ())):
        lesson = Lesson(key[:2], student)
        worked = lesson.solution(key)
        assert lesson.check(key, worked.lines[-1][0], keep=False).kind == "right", student
        assert "bench" not in str(worked)


DRAWN = [key for key, task in TASKS.items() if task.find and CALCULATIONS[task.of].lines]


@pytest.mark.parametrize("key", DRAWN)
def test_a_worked_solution_has_its_construction(key):
    assert Lesson(key[:2], "kim").solution(key).picture is not None


def values_of(key, student="", put=None):
    task, calculation = TASKS[key], CALCULATIONS[TASKS[key].of]
    car = Lesson(key[:2], student).car(task.car)
    known = {name: one.value for name, one in calculation.known(figures(car), task.given).items()}
    return calculation, car, calculation.values(known, put)


@pytest.mark.parametrize("key", DRAWN)
def test_every_point_of_a_drawing_has_a_place_and_links_keep_their_lines(key):
    """Nothing is drawn at zero for want of a number, and each construction line that starts at a link's end and
    ends where the lines meet passes through the link's other end."""
    for student in ("", "7"):
        calculation, _, values = values_of(key, student)
        at = {
            code: place(calculation, code, values) for pair in (*calculation.links, *calculation.lines) for code in pair
        }
        assert all(map(math.isfinite, (part for both in at.values() for part in both)))
        if calculation.point != "IC":
            continue
        for one, other in calculation.links:
            if (one, "IC") not in calculation.lines or "E" in (one, other):
                continue
            (a, b), (c, d), (h, v) = at[one], at[other], at["IC"]
            off = abs((c - a) * (v - b) - (d - b) * (h - a)) / math.hypot(h - a, v - b)
            assert off < 1e-6 * math.hypot(h, v) + 1e-6, (key, one, other, off)


def test_a_lowered_strut_and_the_plane_of_a_level_arm_are_drawn():
    calculation, _, values = values_of("07.5")
    at = {code: place(calculation, code, values) for code in ("S", "A", "J", "N", "IC", "R", "C")}
    assert at["S"][1] == values["z_S"] - 20 and at["A"][1] == values["z_A"] - 20 and at["J"][1] == values["z_J"]
    normal = (at["IC"][1] - at["N"][1]) / (at["IC"][0] - at["N"][0])
    strut = (values["z_S"] - values["z_T"]) / (values["y_T"] - values["y_S"])  # rises to the right, as drawn
    assert normal * strut == pytest.approx(-1)
    patch = (at["IC"][1] - at["C"][1]) / (at["IC"][0] - at["C"][0])
    assert at["R"] == (pytest.approx(0), pytest.approx(at["C"][1] - patch * at["C"][0]))
    calculation, _, values = values_of("07.6")
    assert place(calculation, "V", values)[1] == place(calculation, "IC", values)[1]


def test_a_slip_is_laid_over_the_right_construction_and_enlarged_where_they_part():
    calculation, car, right = values_of("02.1")
    *_, wrong = values_of("02.1", put=calculation.mistakes[0].put)
    picture = draw_construction(calculation, car, [("What is asked for", right), ("With a slip", wrong)])
    (panel,) = picture.panels
    left, edge, bottom, top = panel.window
    assert edge - left < 200 and "in blue: with a slip; enlarged" in panel.title  # the two part by 20 mm
    roles = {name[1]: look[0] for name, look in picture._shown.items()}
    assert roles["right IC"] == "result point" and roles["slip IC"] == "other point"
    for code, values in (("right IC", right), ("slip IC", wrong)):
        ((h, v),) = picture._shown["side", code][1]
        assert (h, v) == (values["x_IC"], values["z_IC"]) and left < h < edge and bottom < v < top
    for low, high, name in ((left, edge, "x_IC"), (bottom, top, "z_IC")):  # the two in the middle of the paper
        assert low + high == pytest.approx(right[name] + wrong[name])
    assert draw_construction(calculation, car, [("", right), ("", right)]) is None
    far = draw_construction(
        calculation, car, [("", right), ("", values_of("02.1", put=calculation.mistakes[1].put)[2])]
    )
    assert far.panels[0].window[1] - far.panels[0].window[0] > 1500


def test_there_is_no_drawing_without_lines_or_without_the_axle():
    assert Lesson("08", "kim").solution(1).picture is None and Lesson("02", "kim").solution(1).picture
    calculation, _, values = values_of("07.1")
    assert draw_construction(calculation, load_car("three_link"), [("", values)]) is None  # a car without a front
