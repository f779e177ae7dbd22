"""Equalities that others published for checkers of answers, each with its source; and those in SymPy's own tests.

Two sources are quoted case by case, as facts, since the one has no license and the other a stricter one than ours:

- the answers that a physics course has taken as right: github.com/isaacphysics/equality-checker, utils/test_cases.json,
  commit d1276c53, the target and what it "shouldMatch" (4,430 of its answers are in the language read here);
- the AlgEquiv cases of STACK: github.com/maths/moodle-qtype_stack, tests/fixtures/answertestfixtures.class.php, commit
  007981b2, with 1 for equal and 0 for not.

The third is read where it is installed: what the tests of SymPy (3-clause BSD) assert to be equal.
"""

import ast
import re
from pathlib import Path

import sympy

FUNCTIONS = {"sqrt", "sin", "cos", "tan", "asin", "acos", "atan", "atan2", "pi", "abs"}

TRIANGLE = "((2*d*tan(theta)*sin(theta))/(n))"
ROOTS = "(2/27)*a**(-1/2)*b**(-3/2)"
MEAN = "((1)/(2))*(T_2 + T_1) (l_2 - l_1)"
LADDER = "((M)/(2) + (m*x)/(L)) * g*tan(theta)"
WAVE = "2*A*cos(2*pi*f*t - (2*pi*x)/(lambda)) * cos(phi)"
PHYSICS = [
    (TRIANGLE, "(2*d*(1 - cos(theta)**(2)) * 1/cos(theta))/(n)"),
    (TRIANGLE, "((((2*d))/((n))) * (((sin(theta)**(2)))/((cos(theta)))))"),
    (TRIANGLE, "2*d*(sin(theta))/(n) * sqrt((1)/(cos(theta)**(2)) - 1)"),
    (TRIANGLE, "(2*sin(theta))/(n) * sqrt((d**(2))/(cos(theta)**(2)) - d**(2))"),
    (TRIANGLE, "(2*sin(theta)**(2) * d)/(n*cos(theta))"),
    (TRIANGLE, "2*d*tan(theta) * ((1)/(n)) * sin(theta)"),
    (ROOTS, "(2)/(27) * ((1)/(a) * (1)/(b**(3)))**((1)/(2))"),
    (ROOTS, "(2)/(27) * a**((-1)/(2))*b**((3)/( - 2))"),
    (ROOTS, "((2)/(27)) * ((sqrt(a))/(a)) * ((sqrt(b))/(b**(2)))"),
    (ROOTS, "(2)/(27*sqrt(a) * (sqrt(b))**(3))"),
    (ROOTS, "2*((9**(3)) * a*(b**(3)))**( - (1)/(2))"),
    (ROOTS, "2*a*b**((3)/(2))*(1)/(27) * (1)/(sqrt(a**(3))) * (1)/(b**(3))"),
    (ROOTS, "(2*a*sqrt(b)**(3))/(27*sqrt(a)**(3) * b**(3))"),
    (ROOTS, "(2*sqrt(a**(2)*b**(3)))/(27*(a*b**(2))**((3)/(2)))"),
    (ROOTS, "sqrt(4*a**(2)*b**(3)) * (1)/(sqrt((9*a*b**(2))**(3)))"),
    (ROOTS, "(sqrt(4*a**(2)*b**(3)))/(sqrt(729*a**(3)*b**(6)))"),
    (ROOTS, "(2)/(27) * sqrt(a)**( - 1) * sqrt(b)**( - 3)"),
    (MEAN, "- (1)/(2) * (T_1 + T_2) * (l_1 - l_2)"),
    (MEAN, "(1)/(2) * (T_2*l_2 - T_1*l_1 + (T_1*(T_2*l_1 - T_1*l_2) - T_2*(T_2*l_1 - T_1*l_2))/(T_2 - T_1))"),
    (MEAN, "(1)/(2) * (T_2*(l_2 - ( - T_1*l_2 + T_2*l_1)/(T_2 - T_1)) - T_1*(l_1 - ( - T_1*l_2 + T_2*l_1)/(T_2 - T_1)))"),
    (MEAN, "(1)/(2) * ((T_2 + T_1)/(l_2 - l_1)) * (l_2 - l_1)**(2)"),
    (MEAN, "(l_1 - l_2)/(2*(T_1 - T_2)) * (T_2**(2) - T_1**(2))"),
    (MEAN, "(T_1 - T_2)/( - 2) * (l_2 - l_1 + (2*T_1*(l_1 - l_2))/(T_1 - T_2))"),
    (LADDER, "((1)/(2*L)) * g*((sin(theta))/(cos(theta))) * (2*m*x + M*L)"),
    (LADDER, "((1)/(2) * L*M*g*sin(theta) + x*m*g*sin(theta))/(L*cos(theta))"),
    (LADDER, "(((1)/(2) * M + m) * g - (L - x)/(L) * m*g) * tan(theta)"),
    (LADDER, "(g*(M + m) * L*sin(theta) - ((1)/(2)) * M*g*L*sin(theta) - m*g*(L - x) * sin(theta))/(L*cos(theta))"),
    (LADDER, "g*tan(theta) * (M + m) - g*(tan(theta))/(L) * ((L - x) * m + (L)/(2) * M)"),
    (WAVE, "2*A*cos( - (2*pi)/(lambda) * x + 2*pi*f*t) * cos(phi)"),
    (WAVE, "2*A*cos((2*(pi) * f*t) - (2*x*(pi))/(lambda)) * cos(phi)"),
    (WAVE, "2*A*cos(phi) * cos(2*pi*f*t - x*(2*(pi)/(lambda)))"),
    (WAVE, "(A*cos(2*pi*f*t - (2*(pi)/(lambda)) * x)) * (2*cos(phi))"),
]  # fmt: skip
"""A target and an answer that the course took as right; angles and lengths are positive, angles acute."""

STACK = [
    ("cos(x)", "cos(-x)", True),
    ("cos(x)^2+sin(x)^2", "1", True),
    ("cos(x+y)", "cos(x)*cos(y)-sin(x)*sin(y)", True),
    ("cos(x+y)", "cos(x)*cos(y)+sin(x)*sin(y)", False),
    ("2*cos(x)^2-1", "cos(2*x)", True),
    ("1.0*cos(1200*pi*x)", "cos(1200*pi*x)", True),
    ("2*cos(2*x)+x+1", "-sin(x)^2+3*cos(x)^2+x", True),
    ("(2/cos(2*t)^2-2)/2",
     "-(sin(4*t)^2-2*sin(4*t)+cos(4*t)^2-1)*(sin(4*t)^2+2*sin(4*t)+cos(4*t)^2-1)/(sin(4*t)^2+cos(4*t)^2+2*cos(4*t)+1)^2", True),
    ("-4/cos(4*z)^2*sin(6*z)-6*tan(4*z)*cos(6*z)", "4/cos(4*z)^2*sin(6*z)+6*tan(4*z)*cos(6*z)", False),
    ("1/sin(6*x)^2*(7*sin(6*x)*cos(7*x)-6*cos(6*x)*sin(7*x))",
     "-(6*cos(6*x)*sin(7*x)-7*sin(6*x)*cos(7*x))/sin(6*x)^2", True),
    ("1/sin(6*x)^2*(7*sin(6*x)*cos(7*x)-6*cos(6*x)*sin(7*x))",
     "(6*cos(6*x)*sin(7*x)-7*sin(6*x)*cos(7*x))/sin(6*x)^2", False),
    ("-(7*x^6+4*x^3)/sin(7*y+x^7+x^4+1)^2", "-(7*x^6+4*x^3)*(1/sin(7*y+x^7+x^4+1))^2", True),
    ("sin((2*pi*n-pi)/2)", "-cos(n*pi)", True),
    ("sin(x/2)/(1+tan(x)*tan(x/2))", "sin(x/2)*cos(x)", True),
]  # fmt: skip
"""Two formulas, and whether STACK holds them for equal; sec and csc are written as 1/cos and 1/sin, and %pi as pi."""

_SIMPLIFIERS = set(
    "trigsimp simplify radsimp ratsimp together cancel factor expand powsimp powdenest sqrtdenest nsimplify expand_trig"
    " fu apart signsimp collect rcollect expand_mul expand_power_base exptrigsimp futrig separatevars"
    " TR1 TR2 TR2i TR3 TR4 TR5 TR6 TR7 TR8 TR9 TR10 TR10i TR11 TR12 TR13 TR14 TR15 TR16 TR0 TRmorrie".split()
)
_PLACES = (
    "simplify/tests/test_*.py", "core/tests/test_expand.py", "polys/tests/test_partfrac.py",
    "functions/elementary/tests/test_trigonometric.py",
)  # fmt: skip


def of_sympy():
    """Yield file, line and two texts that a test of SymPy asserts to be equal, of plain symbols alone."""
    root = Path(sympy.__file__).parent
    for path in sorted(path for place in _PLACES for path in root.glob(place)):
        module = ast.parse(path.read_text(encoding="utf-8"))
        for function in (node for node in module.body if isinstance(node, ast.FunctionDef)):
            made = _other_than_symbols(module.body) | _other_than_symbols(ast.walk(function))
            for node in ast.walk(function):
                test = node.test if isinstance(node, ast.Assert) else None
                if not (isinstance(test, ast.Compare) and len(test.ops) == 1 and isinstance(test.ops[0], ast.Eq)):
                    continue
                one, other = (ast.unparse(_bare(side)).replace("Abs", "abs") for side in (test.left, *test.comparators))
                names = names_in(f"{one} {other}")
                if one != other and names and max(map(len, names)) == 1 and not names & made:
                    yield path.name, node.lineno, one, other


def _other_than_symbols(nodes):
    """The names that are given a value, unless that of plain symbols, which stand for any number."""
    made = {"I", "E", "O", "L"}
    for node in nodes:
        if isinstance(node, ast.Assign) and not re.fullmatch(r"(symbols|Symbol)\('[^']*'\)", ast.unparse(node.value)):
            made |= names_in(" ".join(map(ast.unparse, node.targets)))
        elif isinstance(node, ast.For | ast.comprehension):
            made |= names_in(ast.unparse(node.target))
    return made


def names_in(text):
    return set(re.findall(r"[A-Za-z]\w*", text)) - FUNCTIONS


def _bare(side):
    """A side without the simplification under test."""
    while isinstance(side, ast.Call) and not side.keywords:
        if isinstance(side.func, ast.Name) and side.func.id in _SIMPLIFIERS and side.args:
            side = side.args[0]
        elif isinstance(side.func, ast.Attribute) and side.func.attr in _SIMPLIFIERS and not side.args:
            side = side.func.value
        else:
            break
    return side
