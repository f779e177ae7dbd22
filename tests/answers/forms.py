"""What is typed, what is said of it and why: one list for the tests, and for the page that shows it to anyone.

``python tests/answers/forms.py`` writes the page anew, into notebooks/what_the_checker_knows.md.
"""

from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "notebooks" / "what_the_checker_knows.md"

RIGHT = {
    "02.3": ["(s_L*c_U - s_U*c_L)/(s_L - s_U)", "c_U + s_U*(c_U - c_L)/(s_L - s_U)", "c_L + s_L*(c_U - c_L)/(s_L - tan(atan(s_U)))"],
    "03.3": ["100*tan(atan2(z_IC, x_IC))*L/h", "100*z_IC/x_IC/(h/L)", "100*tan(atan(z_IC/x_IC))/tan(atan(h/L))"],
    "04.3": ["2*k*sin(a)*sqrt(1 - cos(a)^2)", "k*(1 - cos(2*a))", "2*k/(1 + 1/tan(a)^2)", "2*k*(1 - cos(a)^2)", "2*k/(1 + cot(a)^2)", "2*k*sin(a)*cos(90° - a)  # by hand"],
    "05.3": [
        "l*(1-sqrt(1-d^2/l^2))", "l*(1-sqrt(1-(d/l)^2))", "l - l*sqrt(1-d^2/l^2)", "l*(1-cos(asin(d/l)))",
        "l - sqrt((l - d)*(l + d))", "d^2/(l + sqrt(l^2 - d^2))", "2*l*sin(asin(d/l)/2)^2", "d*tan(asin(d/l)/2)",
        "l - l*sin(acos(d/l))", "l - d/tan(asin(d/l))", "l - sqrt(l - d)*sqrt(l + d)",
    ],
    "07.3": ["z_IC*(t_f/2)/(t_f/2 - y_IC)", "z_IC/(1 - 2*y_IC/t_f)", "t_f*z_IC/(t_f - 2*y_IC)"],
    "09.3": [
        "l*(sqrt(1-((c_1+d)/l)^2) - sqrt(1-(c_1/l)^2))", "l*sqrt(1-(c_1+d)^2/l^2) - l*sqrt(1-c_1^2/l^2)",
        "l*cos(asin((c_1+d)/l)) - l*cos(asin(c_1/l))", "l*sin(acos((c_1+d)/l)) - l*sin(acos(c_1/l))",
        "-(2*c_1*d + d^2)/(sqrt(l^2-(c_1+d)^2) + sqrt(l^2-c_1^2))",
        "sqrt(l-c_1-d)*sqrt(l+c_1+d) - sqrt(l^2-c_1^2)",
    ],
    "10.8": ["π² E I/l² with I = π (d⁴ - d_i⁴)/64"],
    "10.3": ["-F*l_L*z_E/(2*b_L*(z_E-z_D))", "-F*z_E/(z_E-z_D)/2/cos(acos(b_L/l_L))"],
}  # fmt: skip
WRONG = {
    "04.3": ["2*k*sin(a°)^2", "2*k*sin(a)*cos(90 - a)"],
    "02.3": ["c_L + s_L*(c_U - c_L)/(s_L - sqrt(s_U)^2)", "sin(asin(c_L)) + s_L*(c_U - c_L)/(s_L - s_U)",
             "c_L + s_L*(c_U - c_L)/(s_L - s_U) + 1e-12", "c_L + s_L*abs(c_L - c_U)/abs(s_L - s_U)", "c_L + s_L*(c_U - c_L)/(abs(s_L) + abs(s_U))"],
    "00.4": ["dx*sqrt(1 + (dy/dx)^2 + (dz/dx)^2)", "sqrt(dx)^2 + 0*dy"],
    "03.3": ["100*abs(z_IC/x_IC)*L/h", "100*sqrt(z_IC^2)/x_IC*L/h"],
    "06.3": ["z_P + abs(x_P)*(z_Q - z_P)/(x_Q + abs(x_P))", "z_P - sqrt(x_P)^2*(z_Q - z_P)/(x_Q - x_P)"],
    "07.3": ["z_IC*(t_f/2)/(t_f/2 + abs(y_IC))", "z_IC*(t_f/2)/(t_f/2 + sqrt(y_IC^2))"],
    "09.3": ["sqrt(l^2-(abs(c_1)+d)^2) - sqrt(l^2-c_1^2)", "sqrt(l^2-(c_1-d)^2) - sqrt(l^2-c_1^2)"],
}  # fmt: skip
"""Formulas by their task: right on every car, and those that hold for one sign only or have no real value on many."""

NUMBERS = [
    ("02.1", "x_IC = 1782.6 mm", "right", ""),
    ("02.1", "1 782,6", "right", "decimal comma"),
    ("02.1", "x_ic ≈ 1782.6 [mm]", "right", ""),
    ("02.1", "70.18 in", "right", ""),
    ("02.1", '70-3/16"', "right", "70.1875"),
    ("00.1", "l² = 600² + 100² + 50² = 372500; l = 610.3", "right", ""),
    ("00.1", "length = 610.3 mm", "right", ""),
    ("00.3", "tan α = 50/600 = 0.08333; α = 4.764°", "right", ""),
    ("00.3", "tan(α) = 50/600\nα = atan(tan α)", "right", ""),
    ("02.1", "Answer: 1782.6 mm ✓", "right", ""),
    ("02.1", "x_IC is 1.7826 x 10^3 mm", "right", ""),
    ("02.1", "1782.6 mm = x_IC", "right", ""),
    ("02.1", "1782...1783", "unreadable", ""),
    ("02.1", "(467.78 - 240)/(0.08333 + 0.04444)", "right", ""),
    ("02.1", "=(467,78 - 240)/(0,08333 + 0,04444)", "right", ""),
    ("02.1", "(467.78 mm - 240 mm) : 0.127777", "right", ""),
    ("02.1", "1.7826·10³ mm", "right", ""),
    ("02.1", "~ 1782.6", "right", ""),
    ("02.1", "2,022 - 240", "unreadable", ""),
    ("02.1", "227.78 ÷ 0.12777", "right", ""),  # cut off, and within the tolerance
    ("02.1", "1780", "wrong", "It is near"),
    ("02.1", "1.7826", "wrong", "in meters"),
    ("02.1", "-1782.6", "wrong", "the opposite sign"),
    ("02.1", "1783 ± 5", "unreadable", "is a range"),
    ("02.1", "1783+-1", "unreadable", "is a range"),
    ("02.1", "about 1783", "unreadable", ""),
    ("02.1", "1783 or 1784", "unreadable", "more than one number"),
    ("02.1", "1782.6 deg", "unreadable", "is an angle"),
    ("01.3", "9.462°", "right", ""),
    ("01.3", "0.16515 rad", "right", ""),
    ("01.3", "9° 27' 44\"", "right", "was read as 9.46222 degrees"),
    ("01.3", "9 deg 28 min", "right", "degrees"),
    ("01.3", "atan(100/600)", "right", ""),
    ("01.3", "9° 25'", "wrong", ""),
    ("01.3", "0.16515", "wrong", "multiply by 180/pi"),
    ("01.3", "9.594", "wrong", "the sine in place of the tangent"),
    ("01.3", "tan^-1(1/6)", "right", ""),
    ("01.3", "tan⁻¹(100 mm/600 mm) = 9,462°", "right", ""),
    ("01.3", "tan^-1 1/6", "unreadable", "two ways"),
    ("02.4", "1,286 deg", "right", "decimal comma"),
    ("02.4", "40/1782.6*180/pi", "right", ""),
    ("02.4", "0.02244 rad", "right", ""),
    ("05.4", "0.04938 mm", "right", "thousandths"),
    ("07.6", "8.1", "wrong", "right but rounded"),
    ("03.2", "21.797", "wrong", "wheelbase over height forgotten"),
    ("03.2", "588.51 mm/540 mm × 100 %", "right", ""),
    ("03.2", "1.0898", "wrong", "multiply by 100"),
    ("11.3", "± 146.1 mm", "right", ""),
    ("12.2", "108.3", "wrong", "the string's height taken off"),
    ("03.7", "z_UC = 440 + 20", "wrong", "Move z_UC up"),
    ("03.7", "300", "wrong", "out of reach"),
]  # fmt: skip
"""Numbers: the task, what is typed, the kind of verdict, and words that it holds."""

WORKINGS = [
    ("s_L = 35/560\ns_U = -15/370\nc_L = 230\nc_U = 440 + s_U*40\nx_IC = (c_U - c_L)/(s_L - s_U)", 1, ""),
    ("s_L = 0.0625\ns_U = -0.0405\nc_L = 230\nc_U = 438.4\nx_IC = 208.4/0.103 = 2023", 1, ""),
    ("s_L = 35:560\ns_U == -15 mm/370 mm = -0,0405\nc_L = 230 mm\nc_U = 440 mm - 0,0405*40 mm\nx_IC = (438,4 - 230)/(0,0625 + 0,0405) = 2023 mm", 1, ""),
    ("s_L = 0.0625\ns_U = -0.04054\nc_L = 230\nc_U = 438.3783\nx_IC = 2022.295", 1, ""),  # c_U cut off
    ("s_L = 35/560 = 0.0625004\ns_U = -15/370\nc_L = 230\nc_U = 438.38\nx_IC = 2022", 0.8, "it gives 0.0625, not 0.0625004"),
    ("gap = 440 - 230 - 40*15/370 = 208.378\nspread = 35/560 + 15/370 = 0.103041\nx_IC = 208.378/0.103041", 1, ""),
    ("m1 = 35/560 = 0,0625\nm2 = -15/370 = -0,040541\nb = 440 - 0,040541*40 = 438,378\nx_IC = (438,378 - 230)/(0,0625 + 0,040541)", 1, ""),
    ("1) s_L = 0.0625\n2) s_U ≈ -0.0405\n3) c_L = 230, c_U = 438.4\n4) x_IC = 2022.3", 1, ""),
    ("s_L = 0.0625\ns_U = -0.0405\nx_IC = 2022.3", 1, ""),  # the rest follows from these
    ("x_IC = (438.4 - 230)/(0.0625 + 0.0405) = 208.4/0.103 = 2023", 1, ""),
    ("m1 = 35/560\nm2 = -15/370\nb1 = 230\nb2 = 440 + m2*40\nx_IC = (b2 - b1)/(m1 - m2)", 1, "Your lines lead to it"),
    ("m1 = (265 + 230)/560\nm2 = -15/370\nx_IC = (440 + m2*40 - 230)/(m1 - m2)", 0, "Line 1 does not fit it: m1 is used as s_L"),
    ("m1 = 35/560\nm2 = -15/370\nx_IC = (440 + m2*40 - 230)/(m1 + m2)", 0, "The slip may be in what it rests on: m1, m2."),
    ("s_L = 0.0625\ns_U = -0.0405\nc_L = 230\nc_U = 438.38\nx_IC = (c_U - c_L)/(s_L - s_U) = 2020.5", 0.8, "2023.1 mm and 2020.5 mm"),
    ("m1 = 35/560\nm2 = -15/370\nb1 = 230\nb2 = 440 - m2*40\nx_IC = (b2 - b1)/(m1 - m2)", 0, "followed the wrong way"),
    ("s_L = 35/560 = 0.0625\ns_U = 15/370 = 0.0405\nc_L = 230\nc_U = 440 - 40*0.0405 = 438.4\nx_IC = 208.4/(0.0625 + 0.0405)", 1, "Your lines lead to it"),  # a fall, counted plus
    ("s_L = 35/560\ns_U = 15/370\nc_L = 230\nc_U = 440 - 40*s_U\nx_IC = (c_U - c_L)/(s_L - s_U)", 0.8, "Its size is right and its sign is not"),
    ("s_L = 35/560\ns_U = -15/370\nc_L = 9.055 in\nc_U = 17.26 in\nx_IC = (17.26 - 9.055)/(0.0625 + 0.0405) = 79.7 in", 1, ""),
    ("s_L = 35/560\ns_U = -15/370\nc_L = 230\nc_U = 438.4\nx_IC = (438.4 - 230)/(0.0625 + 0.0405) = 2023 in", 0.8, "not 51384.2 mm"),
    ("alpha = atan(35/560) = 3.576°\nbeta = arctan(15/370) = 2.3215 deg\nc_U = 440 - 40*tan(beta)\nx_IC = (c_U - 230)/(tan(alpha) + tan(beta)) = 2022", 1, ""),
    ("s_L = 0.0625\ns_U = -0.0405\nc_L = 230\nc_U = 440\nx_IC = 2039", 0.8, "the upper link started above the wheel centers"),
    ("s_L = 0.06\ns_U = -0.04\nc_L = 230\nc_U = 438\nx_IC = 208/0.1 = 2080", 0.99, "carry more digits"),
    ("Slopes:\n• s_L → 35/560 → 0.0625\n• s_U ⇒ -15/370 => -4.05·10⁻² (falling forward)\nheights: c_L = 230 mm, and c_U = 438.4\n∴ x_IC = (438.4 - 230)\n  / (0.0625 + 0.0405)\n  = 208.4/0.103\n  = 2023 mm ✓", 1, ""),
    ("- s_L = 0.0625\n- s_U = -0.0405\n- c_L: 230\n- c_U is 438.38…\n- x_IC = 2022", 1, ""),
    ("s_{L} = 6.25e-2    s_{U} = -4.05e-2\nc_{L} = 23 cm  c_{U} = 440 mm - 0.0405 x 40 mm\n$x_{IC} = 2022$\nAnswer: 2022", 1, ""),
    ("s' = 35/560\ns″ = -15/370\nx_IC = (440 + 40*s″ - 230)/(s' - s″)", 1, ""),
    ("x_IC = 560*3.61", 0.5, "Nothing here says where 3.61 came from"),  # made to fit, with few digits
    ("x_IC = 230 + 1792", 0.5, "Nothing here says where 1792 came from"),
    ("x_IC = 208.4/0.103", 0.5, ""),
    ("x_IC = (440 - 230 - 1.62)/0.103", 1, ""),  # worked out aside
    ("x_IC = 2022", 0.5, "The number is right"),
    ("s_L = 0.0625\nx_IC = 2022.3", 0.5, "s_U"),  # one right line does not lead there
    ("c_L = 230\nx_IC = c_L + 1792.3", 0.5, "s_L, s_U"),
    ("x_IC = z_LA + 1792.3", 0.5, "where 1792.3 came from"),  # numbers made to fit
    ("gap = 208.38\nspread = 0.10304\nx_IC = gap/spread", 0.5, "where 208.38 and 0.10304 came from"),
    ("x_IC = 4*x_LC - 217.7", 0.5, ""),
    ("x_IC = 4*x_LC - z_LA + 12.3", 0.5, ""),
    ("k = z_LA\nx_IC = k*8.7926", 0.5, ""),
    ("x_IC = 2022.3 + (z_LA - 230)*17", 0.5, ""),
    ("hello = 3\nx_IC = 2022.3*1", 0.5, ""),
    ("x_IC = x_IC", 0, "used before"),
    ("X_IC = 2022.3", 0, "X_IC is another name: capital and small letters differ"),
]  # fmt: skip
"""Lines for task 02.5 on the club's car: what is typed, its credit, and words of the verdict."""

BY_HAND = [
    ("z_R = 300 + 120*0.0609", 1, ""),  # rounded as on paper
    ("z_R = 300 + 120*tan(3.485°)", 1, ""),
    ("beta = 3.485 deg\nz_R = 300 + tan(beta)*120 = 307.3", 1, ""),
    ("1) e := 190/3120 // the slope\n2) z_R := 300 + e*120", 1, ""),
    ("z_r ≈ 307.3 [mm]", 1, ""),
    ("gap = 490 - 300 = 19 cm\nz_R = 300 + gap*120/3120", 1, ""),
    ("grade = 190/3120 = 6.09 %\nz_R = 300 + grade*120", 1, ""),
    ("grade = 100*190/3120 = 6.09 %\nz_R = 300 + grade/100*120", 1, ""),
    ("gap = 490 - 300 = 109 mm\nz_R = 300 + gap*120/3120 = 304.2", 0, "Line 1: the two sides of an equals sign differ, 190 and 109."),
    ("z_Q = 409\ne = 0.0609\nz_R = 307.3", 1, "No line rests on z_Q, so that was not checked."),
    ("12.1 in", 1, ""),
    ("300 + 120*190/3120 = 307.3", 1, ""),
    ("300 + 120*190/3120 = 317.3", 0, "the arithmetic is not"),
    ("z_P - e*x_P", 1, "on every car of this kind"),
    ("z_BA - e*x_BA", 1, "rests on what happens to be so"),
    ("z_P = 300\nz_R = 307.3", 0.5, "g_L is missing"),
    ("a = 3\nz_R = 300 + 2.44*a", 0.5, "where 2.44 came from"),
    ("e = 0.07\nz_R = 307.3", 0.5, "Line 1"),
    ("z_R = 300 + 120*0.07", 0, ""),
    ("z_P + e*x_P", 0, "your formula gives 292.7 mm"),
    ("z_R = z_R", 0, "holds z_R itself"),
    ("307.3°", 0, "is an angle"),
]  # fmt: skip
"""The rear roll center height of the bundled three-link car: what is typed, its credit, and words of the verdict."""


def said_of(table):
    """Yield what is typed, its words to be, kind or credit to be, and the verdict, for each row of a table."""
    from susgeo import load_car
    from susgeo.answers import Lesson, check_by_hand

    car = load_car("data/three_link.toml") if table is BY_HAND else None
    for *key, typed, due, words in table:
        number = key[0] if key else "02.5"
        if car is not None:
            yield typed, words, due, check_by_hand(car, "rear roll center height", typed)
        else:
            yield typed, words, due, Lesson(number[:2], "club").check(number, typed, keep=False)


def formulas(table, kind):
    """Yield the rows of a table of formulas as those of numbers."""
    return [(key, text, kind, "") for key, texts in table.items() for text in texts]


def page():
    """Return the page as text."""
    from answers.formula_pairs import NEAR, SAME
    from answers.published import PHYSICS, STACK
    from answers.test_equality import UNDECIDED
    from susgeo.answers.calculation import library

    def code(text):
        return "<br>".join(f"`{line}`" for line in text.replace("|", "¦").splitlines())

    def cell(verdict):
        _, _, rest = str(verdict).partition(f"{verdict.task} ")
        return rest.replace("|", "¦").replace("*", "\\*").replace("<", "&lt;")

    def rows(table):
        yield from ("", "| typed | credit | what is said |", "| --- | --- | --- |")
        for typed, _, _, verdict in said_of(table):
            yield f"| {code(typed)} | {verdict.credit:g} | {cell(verdict)} |"
        yield ""

    def pairs(table):
        yield from ("", "| one | other |", "| --- | --- |")
        yield from (f"| {code(one)} | {code(other)} |" for one, other in table)
        yield ""

    lines = [
        "# What the checker knows",
        "",
        "This page is made from the tests. Each row is typed anew in every test run, and must get the verdict shown here.",
        "So you can see what is read, what is refused, and what nobody could decide.",
        "",
        "## The order of judgment",
        "",
        "1. The answer is read. What can be read in two ways is not guessed.",
        "2. Right: a number within the tolerance, a formula by proof, each line by the digits it was written with.",
        "3. Right but rounded, in another unit, or with the other sign.",
        "4. A named slip, followed through.",
        "5. Near. 6. Wrong, or undecided.",
    ]
    for key in dict.fromkeys(key for key, *_ in NUMBERS):
        lines += ["", f"## Task {key}", "", library()[1][key].ask]
        lines += rows([row for row in NUMBERS if row[0] == key])
    lines += ["## Lines: task 02.5", "", library()[1]["02.5"].ask, ""]
    lines += [
        "Credit is for what the result rests on. A right number alone, or one made to fit, earns half.",
        *rows(WORKINGS),
    ]
    lines += [
        "## Any car: a rear roll center height",
        "",
        "`check_by_hand` reads a calculation of any car.",
        *rows(BY_HAND),
    ]
    lines += ["## Formulas: the forms of textbooks", ""]
    for key in sorted({*RIGHT, *WRONG}):
        lines += ["", f"### Task {key}", "", library()[1][key].ask]
        lines += rows([*formulas({key: RIGHT.get(key, [])}, "right"), *formulas({key: WRONG.get(key, [])}, "wrong")])
    lines += ["## Formulas that are the same, and proved", *pairs([pair for pair in SAME if pair not in UNDECIDED])]
    lines += ["## Formulas that are nearly the same, and refuted by a car", *pairs(NEAR)]
    lines += ["## Undecided", "", "They are the same. No proof is found, so nothing is marked.", *pairs(UNDECIDED)]
    lines += [
        "## Against what others published",
        "",
        f"- {len(PHYSICS)} answers that a physics course took as right (github.com/isaacphysics/equality-checker, "
        "utils/test_cases.json): all are proved.",
        f"- {len(STACK)} verdicts of STACK (github.com/maths/moodle-qtype_stack, tests/fixtures): all agree.",
        "- What the tests of SymPy assert to be equal, where our reader reads it: more than 120, none called different.",
        "",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    import sys

    sys.path.insert(0, str(PAGE.parents[1] / "tests"))
    from answers import forms

    PAGE.write_text(forms.page(), encoding="utf-8")
