"""Formulas as people type them: read as meant or refused with a sentence; never run, never endless."""

import cProfile
import re
from contextlib import contextmanager
from fractions import Fraction

import numpy as np
import pytest
import sympy as sp
from hypothesis import example, given, settings
from hypothesis import strategies as st

from susgeo.answers.formula import Where, find_name, read_formula
from susgeo.answers.lines import read_lines
from susgeo.answers.numbers import Blank, Quantity, Unreadable

z, x, L, h, k, s, theta, phi = sp.symbols("z x L h k s theta phi", positive=True)
y1, y2 = sp.symbols("y1 y2", real=True)
z_P, x_LA = sp.symbols("z_P x_LA", real=True)
NAMES = {symbol.name: symbol for symbol in (z, x, L, h, k, s, theta, phi, y1, y2, z_P, x_LA)}
SPELLINGS = {"wheelbase": L, "alpha": theta}


def read(text):
    return read_formula(text, NAMES | SPELLINGS)


ANTI_SQUAT = 100 * z * L / (x * h)
PATH = L - sp.sqrt(L**2 - z**2)


@pytest.mark.parametrize(
    ("text", "expression"),
    [
        ("100*z/x*L/h", ANTI_SQUAT),
        ("100 z L/(x h)", ANTI_SQUAT),
        ("100·z·L÷(x·h)", ANTI_SQUAT),
        ("100×z⁄x × L∕h", ANTI_SQUAT),
        ("1e2 z L/(x h)", ANTI_SQUAT),
        ("100(z L)/(x h)", ANTI_SQUAT),
        ("100*z/x*wheelbase/h", ANTI_SQUAT),
        ("L - sqrt(L^2 - z^2)", PATH),
        ("L − √(L² − z²)", PATH),
        ("L – SQRT(L**2 – z**2)", PATH),
        ("{L - [sqrt((L)^2 - (z)^2)]}", PATH),
        ("L - (L^2 - z^2)^(1/2)", PATH),
        ("L - (L^2 - z^2)^0.5", PATH),
        ("2*k*sin(theta)^2", 2 * k * sp.sin(theta) ** 2),
        ("2 k sin^2(θ)", 2 * k * sp.sin(theta) ** 2),
        ("2 k sin²(ϑ)", 2 * k * sp.sin(theta) ** 2),
        ("2 k sin² θ", 2 * k * sp.sin(theta) ** 2),
        ("2 k sin(alpha)²", 2 * k * sp.sin(theta) ** 2),
        ("sin θ cos ϕ", sp.sin(theta) * sp.cos(phi)),
        ("k s²/2", k * s**2 / 2),
        ("0.5 k s^2", k * s**2 / 2),
        ("½ k s²", k * s**2 / 2),
        ("k*s^2*2^-1", k * s**2 / 2),
        ("k s⁻²", k / s**2),
        ("√2/2*z", sp.sqrt(2) * z / 2),
        ("z^2^3", z**8),
        ("-z^2", -(z**2)),
        ("(-z)^2", z**2),
        ("2^-1", sp.Rational(1, 2)),
        ("z - -x", z + x),
        ("z*-x", -z * x),
        ("-z x", -z * x),
        ("z/x/L", z / (x * L)),
        ("z/x*L", z * L / x),
        ("z - x - L", z - (x + L)),
        ("z - x + L", z + L - x),
        ("z(x + L)", z * (x + L)),
        ("(z + x)(z - x)", (z + x) * (z - x)),
        ("2(z + x)", 2 * z + 2 * x),
        ("0.1", sp.Rational(1, 10)),
        ("1.25e-3 z", z / 800),
        ("atan2(z, x)", sp.atan(z / x)),
        ("arctan(z/x)", sp.atan(z / x)),
        ("tan⁻¹(z/x)", sp.atan(z / x)),
        ("Sin^(-1) (z/L)", sp.asin(z / L)),
        ("2 : (4 : z)", z / 2),
        ("ArcTan2(y1, y2)", sp.atan2(y1, y2)),
        ("asin(z/L) + arccos(z/L)", sp.asin(z / L) + sp.acos(z / L)),
        ("hypot(x, z)", sp.sqrt(x**2 + z**2)),
        ("abs(y1)", sp.Abs(y1)),
        ("deg(atan(z/x))", 180 * sp.atan(z / x) / sp.pi),
        ("degrees(theta)", 180 * theta / sp.pi),
        ("rad(30)", sp.pi / 6),
        ("radians(theta)", sp.pi * theta / 180),
        ("sin(30°)", sp.Rational(1, 2)),
        ("sin(theta°)", sp.sin(sp.pi * theta / 180)),
        ("2π z", 2 * sp.pi * z),
        ("tan(pi/2 - theta)", sp.cot(theta)),
        ("y₁ + y_2", y1 + y2),
        ("zP*xLA", z_P * x_LA),
        ("ｚ＋１", z + 1),
        ("\u200bz\u00a0+\u20091", z + 1),
    ],
)
def test_text_is_read_as_it_is_meant(text, expression):
    assert read(text) == expression


# SymPy's own way of reading text knows Python's spelling only, and runs code; here it serves as a second opinion.
@given(st.recursive(
    st.sampled_from(["z", "x", "L", "2", "3", "0.5", "7"]),
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from(["+", "-", "*", "/", " - ", " * "]), inner).map("".join),
        inner.map("({})".format), inner.map("-{}".format), inner.map("({})**2".format),
        inner.map("sqrt({})".format), inner.map("atan({})".format),
    ),
    max_leaves=8,
))  # fmt: skip
@settings(max_examples=200)
def test_precedence_is_that_of_arithmetic(text):
    try:
        ours = read(text)
    except Unreadable:  # a division by zero, the root of a negative number
        return
    plain = sp.parse_expr(text, {name: NAMES[name] for name in "zxL"}, evaluate=True)
    point = {z: 0.7, x: 1.9, L: 2.3}
    value = complex(plain.subs(point))
    ours = ours.replace(Where, lambda value, *conditions: value)  # SymPy has no such condition; the value is the same
    np.testing.assert_allclose(complex(ours.subs(point)), value, rtol=1e-9, atol=1e-9 * (1 + abs(value)))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("100 z L/x h", "It is not clear whether 'h' is below the division"),
        ("1/2 k s^2", "It is not clear whether 'k' is below the division"),
        ("1/2(z + x)", "It is not clear whether '('"),
        ("sin theta/2", "where the argument of sin ends"),
        ("sin theta^2", "where the argument of sin ends"),
        ("sin theta z", "where the argument of sin ends"),
        ("sin 2 theta", "where the argument of sin ends"),
        ("√z x", "where the argument of √ ends"),
        ("√z^2", "where the argument of √ ends"),
        ("sin", "where the argument of sin ends"),
        ("sin^-1 z", "can be read in two ways: write 1/sin(...) or asin(...)"),
        ("sin^n(z)", "can be read in two ways"),
        ("z 2", "A sign is missing before the number '2'"),
        ("2 3", "A sign is missing before the number '3'"),
        ("z²3", "A sign is missing before the number '3'"),
        ("1 628 z", "A sign is missing before the number '628'"),
        ("3½ z", "A mixed number"),
        ("3 ½ z", "A mixed number"),
        ("1,5 z", "write decimals with a point"),
        ("sqrt(1,5)", "sqrt takes 1 value, and 2 came (a decimal comma is not read inside a formula)"),
        ("(1,628)*z", "a decimal comma is not read"),
        ("atan2(z)", "atan2 takes 2 values"),
        ("atan2 z", "atan2 takes 2 values"),
        ("hypot(z, x, L)", "hypot takes 2 values, and 3 came"),
        ("Z", "'Z' is no name here, but z is: capital and small letters differ (the names here: z, x, L,"),
        ("l", "'l' is no name here, but L is: capital and small letters differ"),
        ("zL", "'zL' is no name here: for a product write z*L"),
        ("kθ", "for a product write k*theta"),
        ("zLzLz", "for a product write z*L*z*L*z"),
        ("zLzLzL", "'zLzLzL' is no name here (the names here:"),
        ("_", "'_' is no name here (the names here:"),
        ("teta", "'teta' is no name here: did you mean theta?"),
        ("wheelbas", "did you mean wheelbase?"),
        ("squrt(z)", "did you mean sqrt?"),
        ("foo(z)", "'foo' is no name here (the names here:"),
        ("12 mm", "'mm' is no name here"),
        ("z = x", "The character = (U+003D) cannot stand in a formula: give the right-hand side alone"),
        ("z.x", "a point belongs inside a number only"),
        ("|z|", "write abs(...)"),
        ("100%", "write /100 for a percentage"),
        ("z;x", "The character ; (U+003B)"),
        ("z!", "The character !"),
        ("'z'", "The character '"),
        ("(z", "A bracket ( is not closed by )"),
        ("(z]", "A bracket ( is not closed by )"),
        ("z)", "makes no sense from ')' on"),
        ("z+", "ends too early"),
        ("*z", "A name or number is expected where '*' stands"),
        ("()", "A name or number is expected where ')' stands"),
        ("z/0", "divides by zero"),
        ("z/(x - x)", "divides by zero"),
        ("1/(sqrt(8) - 2*sqrt(2))", "divides by zero"),
        ("0/0", "divides by zero"),
        ("1/(1/(z - z))", "The formula divides by zero."),
        ("0^-1", "divides by zero"),
        ("0^0", "0^0 has no value"),
        ("tan(90°)", "no real value"),
        ("sqrt(-4)", "no real value"),
        ("sqrt(-z)", "no real value"),
        ("asin(2)", "no real value"),
        ("(-8)^(1/2)", "square root of a negative number"),
        ("z^9", "A power must be a whole number or a half, 8 at most"),
        ("z^x", "A power must be a whole number"),
        ("z^(1/3)", "A power must be a whole number"),
        ("(z^8)^8", "A power must be a whole number"),
        ("9**9**9", "A power must be a whole number"),
        ("((((9^8)^8)^8)^8)^8", "far too large"),
        ("1e999999999", "out of range"),
        ("1" * 50, "out of range"),
        ("__import__('os')", "The character '"),
        ("__import__", "'__import__' is no name here"),
        ("().__class__", "a point belongs inside a number"),
        ("z.__class__.__mro__", "a point belongs"),
        ("lambda: z", "'lambda' is no name here"),
        ("exec(z)", "'exec' is no name here"),
        ("z if x else h", "'if' is no name here"),
        ("[z for z in x]", "'for' is no name here"),
        ("z\x00", "invisible character, a control character (U+0000)"),
        ("z\u202e+x", "right-to-left override (U+202E)"),
        ("z\u200fx", "right-to-left mark (U+200F)"),
        ("😀", "U+1F600"),
        ("z\ud800", "invisible character"),
        ("z" * 10_000_000, "10,000,000 characters long"),
        ("(" * 10_000 + "z" + ")" * 10_000, "20,001 characters long"),
        ("(" * 100 + "z" + ")" * 100, "nested more than 60 deep"),
        ("-" * 100 + "z", "nested more than 60 deep"),
        ("2^" * 100 + "z", "nested more than 60 deep"),
        ("sin " * 100 + "z", "where the argument of sin ends"),
        ("z+" * 300 + "z", "more than 400 parts"),
    ],
)
def test_what_cannot_be_read_gets_one_sentence(text, message):
    with pytest.raises(Unreadable, match=re.escape(message)) as caught:
        read(text)
    assert len(str(caught.value)) < 300 and "\n" not in str(caught.value)
    str(caught.value).encode()  # it can be printed


@pytest.mark.parametrize("blank", [None, ..., "", "  \n", "\u200b"])
def test_blank_is_told_apart(blank):
    with pytest.raises(Blank):
        read(blank)


def test_the_letter_e_beside_a_number_is_not_taken_for_a_power_of_ten():
    e = sp.Symbol("e")
    assert read_formula("2e - 3", {"e": e}) == 2 * e - 3
    with pytest.raises(Unreadable, match="could be a power of ten or the name e"):
        read_formula("2e-3", {"e": e})
    assert read_formula("2e-3 z", NAMES) == z / 500


def test_a_name_is_found_by_any_spelling_that_means_only_one():
    names = {"theta_1": theta, "y1": y1, "lambda": phi, "t": s, "t_f": k}
    for word, name in [("θ1", "theta_1"), ("θ_1", "theta_1"), ("theta1", "theta_1"), ("y_1", "y1"), ("λ", "lambda")]:
        assert find_name(word, names) == name
    assert find_name("tf", names) == "t_f" and find_name("T", names) is None
    two = {"y_1": y1, "y1_": y2}
    assert find_name("y1", two) is None and find_name("y_1", two) == "y_1"


@pytest.mark.parametrize(
    ("answer", "expression"),
    [
        (100 * sp.Symbol("z") / sp.Symbol("x"), 100 * z / x),
        (sp.sqrt(sp.Symbol("x") ** 2), x),  # x is positive here, whatever it was there
        (sp.Symbol("x", negative=True) - sp.Dummy("x"), sp.Integer(0)),
        (0.1 * sp.Symbol("x"), x / 10),
        (1 / 3 * sp.Symbol("x"), x / 3),
        (sp.Symbol("wheelbase") + sp.Symbol("θ"), L + theta),
        (sp.sin(sp.Symbol("theta")) ** 2 + sp.atan2(sp.Symbol("y1"), 2), sp.sin(theta) ** 2 + sp.atan2(y1, 2)),
        (sp.pi * sp.Symbol("z"), sp.pi * z),
        (5, sp.Integer(5)),
        (0.5, sp.Rational(1, 2)),
        (np.float64(0.25), sp.Rational(1, 4)),
        (Fraction(1, 3), sp.Rational(1, 3)),
    ],
)
def test_an_expression_is_rebuilt_from_the_lessons_own_symbols(answer, expression):
    assert read(answer) == expression


def _shared(depth):
    """An expression that is small in memory, but a tree of 2^depth parts."""
    big = sp.Symbol("x")
    for _ in range(depth):
        big = sp.Mul(big, sp.Add(big, 1, evaluate=False), evaluate=False)
    return big


def _nested(depth):
    big = sp.Symbol("x")
    for _ in range(depth):
        big = sp.sin(big)
    return big


@pytest.mark.parametrize(
    ("answer", "message"),
    [
        (sp.Symbol("q") * x, "'q' is no name here"),
        (sp.exp(x), "'exp' cannot stand in a formula here"),
        (sp.Function("f")(x), "'f' cannot stand"),
        (sp.Integral(x, x), "'Integral' cannot stand"),
        (sp.Piecewise((x, y1 > 0), (z, True)), "'Piecewise' cannot stand"),
        (sp.Eq(x, z), "give its right-hand side alone"),
        (sp.nan, "no real value"),
        (sp.zoo, "no real value"),
        (sp.oo * x, "no real value"),
        (sp.I * x, "no real value"),
        (sp.Float("inf"), "no real value"),
        (float("nan"), "not finite"),
        (sp.Integer(10) ** 500, "far too large"),
        (x**100, "A power must be"),
        (x**z, "A power must be"),
        (_shared(20), "too large: 1200 parts"),
        (_nested(61), "too large: 1200 parts, 60 deep"),
        (sp.Matrix([x]), "A value of type MutableDenseMatrix"),
        (True, "A value of type bool"),
        (sp.true, "'BooleanTrue' cannot stand"),
        (1j, "A value of type complex"),
        ([x], "A value of type list"),
        (b"z", "A value of type bytes"),
        (lambda: z, "A value of type function"),
    ],
)
def test_an_expression_of_anything_else_is_refused(answer, message):
    with pytest.raises(Unreadable, match=re.escape(message)):
        read(answer)


@contextmanager
def bounded(most):
    """Counts Python calls, so that 'never hangs' is tested without a clock; 3 million take about a second."""
    with cProfile.Profile(builtins=False) as profile:
        yield
    assert sum(function.callcount for function in profile.getstats()) < most


pieces = st.sampled_from(
    "z x L h theta y1 zL sin cos tan asin acos atan atan2 hypot sqrt √ abs deg rad pi π 2 3 0.5 7 1e9 9 100 "
    "+ - * / ^ ** ² ⁻¹ ( ) [ ] { } , ° . ; = _ __class__ lambda import os ' \" \\ 😀".split()
    + [" ", "("]
)


@given(st.text(max_size=200) | st.lists(pieces, max_size=60).map("".join) | st.lists(pieces).map(" ".join))
@example("(" * 59 + "z" + "/3)" * 59)
@example("*".join(f"sqrt({n})" for n in range(2, 70)))
@example("+".join(f"sqrt(y1 + {n})" for n in range(2, 60)))
@example("sqrt(2 + " * 28 + "3" + ")" * 28)
@example("abs(y1 - " * 28 + "y2" + ")" * 28)
@example("atan2(y1, " * 28 + "y2" + ")" * 28)
@example("sin(" * 58 + "3" + ")" * 58)
@settings(max_examples=300)
def test_any_text_gives_an_expression_of_the_names_or_a_sentence(text):
    for reader in (read, lambda line: read_lines(f"a = {line}", NAMES)[0].sides[-1].part):
        with bounded(3_000_000):
            try:
                found = reader(text)
            except Unreadable as error:
                assert str(error).endswith(".") and len(str(error)) < 300
                continue
        assert isinstance(found, (sp.Expr, Quantity))
        if isinstance(found, sp.Expr):
            assert {item.name for item in found.free_symbols} <= {"a", *NAMES}
            assert not found.has(sp.nan, sp.zoo, sp.oo, sp.I)


tree = st.recursive(
    st.sampled_from(["z", "x", "y1", "y2", "2", "0.5", "7", "pi"]),
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({''.join(t)})"),
        st.tuples(st.sampled_from("sqrt abs sin cos tan asin acos atan deg".split()), inner).map(
            lambda t: f"{t[0]}({t[1]})"
        ),
        st.tuples(st.sampled_from(["atan2", "hypot"]), inner, inner).map(lambda t: f"{t[0]}({t[1]}, {t[2]})"),
        st.tuples(inner, st.sampled_from(["2", "8", "-1", "-2", "(1/2)", "(3/2)"])).map(lambda t: f"({t[0]})^{t[1]}"),
    ),
    max_leaves=40,
)


@given(tree)
@settings(max_examples=200)
def test_any_well_formed_formula_is_read_in_bounded_work(text):
    with bounded(3_000_000):
        try:
            read(text)
        except Unreadable as error:
            assert any(word in str(error) for word in ("zero", "real", "power", "root", "large", "deep", "parts"))


@pytest.mark.parametrize(
    ("line", "name", "answer"),
    [
        ("h = 388.5 mm", "h", Quantity(388.5, "mm")),
        ("h = 15 1/4 in", "h", Quantity(15.25, "in")),
        ("h = 307,3", "h", Quantity(307.3, None, "The comma in 307,3 was read as a decimal comma: 307.3.")),
        ("h = 1/3", "h", sp.Rational(1, 3)),
        ("θ = 3.5°", "theta", Quantity(3.5, "°")),
        ("zP=−12", "z_P", Quantity(-12.0, None)),
        ("slope = (z - h)/x", "slope", (z - h) / x),
        ("AS = 100 z L/(x h)  # in %", "AS", ANTI_SQUAT),
        ("a = -z", "a", -z),
        ("a = 3 z", "a", 3 * z),
        ("a = 388.5 - 310", "a", sp.Rational(157, 2)),
    ],
)
def test_a_line_of_working(line, name, answer):
    (found,) = read_lines(line, NAMES)
    part = found.sides[0].part
    assert len(found.sides) == 1
    assert found.name == name and type(part) is type(answer)
    assert part == answer if isinstance(answer, Quantity) else str(part) == str(answer)  # in the course's own symbols


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("h", "not of the form: name = formula, or name = number and unit"),
        ("h =", "not of the form"),
        ("= 3", "not of the form"),
        ("h == 3", "not of the form"),
        ("roll center = 3", "not of the form"),
        ("3 = h", "not of the form"),
        ("h = 12 mmm", "'mmm' after the number is no unit"),
        ("h = 1,62,3", "cannot be read as one number"),
        ("h = 3 q z", "'q z' after the number is no unit"),
        ("h = z/0", "divides by zero"),
        ("h = 'z'", "''z'' does not start with a number"),
        ("h = " + "x" * 3000, "3,004 characters long"),
    ],
)
def test_a_line_that_cannot_be_read(line, message):
    with pytest.raises(Unreadable, match=re.escape(message)):
        read_lines(line, NAMES)


@pytest.mark.parametrize("blank", ["", "   ", "# nothing yet"])
def test_an_empty_line_is_blank(blank):
    with pytest.raises(Blank):
        read_lines(blank, NAMES)
