"""What a user at the Python prompt types by mistake: each is refused in a sentence of the library's own, none answered wrongly.

No check here asks for a number that the library itself has worked out: what must come is the sentence, or nan for an impossible
element of an array (the house's rule, DEVELOPERS.md: "an error for one case, nan in an array" in the docstrings of join and meet).
"""

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
import sympy

import susgeo
from susgeo import (
    AntiRollBar,
    Arm,
    Bracket,
    Car,
    Coil,
    Conditions,
    Damper,
    FlatLine,
    FlatPoint,
    IndependentFront,
    Line,
    Link,
    LiveAxle,
    Obstacle,
    PanhardBar,
    Plane,
    Point,
    PropellerShaft,
    Springs,
    StrutLeg,
    SusgeoError,
    Target,
    TireForces,
    Weight,
    draw,
    load_car,
    pair,
)
from susgeo.answers.lesson import Lesson

A, B = Point(0, 500, 240), Point(600, 400, 290)
LOWER, UPPER = Link(A, B), Link(Point(-50, 0, 470), Point(400, 0, 450))
BAR = PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300))
ARM, LEG = (
    Arm(Point(0, 640, 190), Point(150, 340, 177), Point(-190, 340, 177)),
    StrutLeg(Point(-35, 560, 800), Point(5, 620, 300)),
)
COUPE, OURS = load_car("club_coupe"), load_car("three_link")
STEER, Z, Q = Target("rear roll steer", -0.02, 0.05), "rear.locator.axle.z", sympy.Symbol("q")
BRACKET = Bracket("rear.lower.chassis", z=(240, 300))
MANY, LETTERS = (susgeo.moved(OURS, {"rear.lower.chassis.z": each}) for each in (np.array([250.0, 260.0]), Q))


def axle(**other):
    return LiveAxle(**({"lower": pair(LOWER), "upper": (UPPER,), "locator": BAR} | other))


def car(**other):
    return Car(**({"title": "ours", "wheelbase": 2700, "rear": axle()} | other))


REFUSED = {
    # points, lines, planes
    "join a tuple": (lambda: susgeo.join(A, (1, 2, 3)), "second is (1, 2, 3); expected a Point or a Line: write Point(1, 2, 3)."),
    "join across views": (lambda: susgeo.join(FlatPoint("side", 0, 0), A), "expected a FlatPoint"),
    "join with a view's line": (lambda: susgeo.join(FlatPoint("side", 0, 0), FlatLine("side", 1, 2, 3)), "expected a FlatPoint"),
    "join with a plane": (lambda: susgeo.join(Line(1, 0, 0, 0, 0, 0), Plane(1, 2, 3, 4)), "first is Plane"),
    "join three of a view": (lambda: susgeo.join(*[FlatPoint("side", k, k * k) for k in range(3)]), "expected a Point"),
    "meet a point": (lambda: susgeo.meet(Plane(0, 0, 1, 0), A), "expected a Plane or a Line"),
    "meet a plane in a view": (lambda: susgeo.meet(FlatLine("side", 0, 1, 0), Plane(0, 0, 1, 0)), "expected a FlatLine"),
    "project a plane": (lambda: susgeo.project(Plane(0, 0, 1, 0), "side"), "expected a Point or a Line"),
    "project a direction at the viewer": (lambda: susgeo.project(Point(0, 1, 0, 0), "side"), "This direction runs straight at the viewer"),
    "a list for a view": (lambda: FlatPoint(["side"], 1, 2), "There is no view"),
    "two points touch": (lambda: susgeo.residual(A, B), "second is Point(x 600, y 400, z 290 mm); expected a Plane"),
    "coordinates of a line": (lambda: susgeo.coordinates(Line(1, 2, 3, 4, 5, 6)), "expected a Point or a FlatPoint"),
    "coordinates of a tuple": (lambda: susgeo.coordinates((1, 2, 3)), "write Point(1, 2, 3)"),
    "distance across views": (lambda: susgeo.distance(FlatPoint("side", 0, 0), FlatPoint("plan", 1, 1)), "draw both in the same view"),
    "distance to a view's point": (lambda: susgeo.distance(A, FlatPoint("side", 0, 0)), "expected a FlatPoint"),
    "slope of a point": (lambda: susgeo.slope(A), "expected a FlatLine, a FlatPoint or a Line"),
    "an imaginary length": (lambda: Point(sympy.I, 0, 0), "x of a point is I; a measurement must be a finite number"),
    "coordinates of a direction": (lambda: susgeo.coordinates(Point(1, 0, 0, 0)), "Point(at infinity in the direction 1 : 0 : 0) has no coordinates"),
    "no point at all": (lambda: Point(0, 0, 0, 0), "All coordinates of a point are 0"),
    "no point of a view": (lambda: FlatPoint("side", 0, 0.0, Fraction(0)), "All coordinates of a point are 0"),
    # parts
    "link of tuples": (lambda: Link((0, 500, 240), B), "axle is (0, 500, 240); expected a Point: write Point(0, 500, 240)."),
    "link called 5": (lambda: Link(A, B, 5), "name is 5; expected text in quotes"),
    "pair of a pair": (lambda: pair(pair(LOWER)), "expected a Link"),
    "arm of a tuple": (lambda: Arm((0, 640, 190), A, B), "ball_joint is (0, 640, 190)"),
    "arm on the right, exactly": (lambda: Arm(Point(0, Fraction(-640), 190), B, B), "not on the left side"),
    "strut of one point": (lambda: StrutLeg(A, A), "the strut has no axis"),
    "Watt's linkage of a tuple": (lambda: susgeo.WattsLinkage(A, A, A, A, (0, -450, 220)), "right_end is (0, -450, 220)"),
    "shaft of a tuple": (lambda: PropellerShaft((1350, 0, 360), A), "gearbox is (1350, 0, 360)"),
    "coil on nothing": (lambda: Coil(A, B, on="frame", rate=30), 'on: got "frame", expected one of axle, lower link'),
    "coil on two things": (lambda: Coil(A, B, on=np.array(["axle", "knuckle"])), "on: got \"['axle' 'knuckle']\", expected one of"),
    "bar of no length": (lambda: AntiRollBar(A, B, diameter=18, span=-900, arm=220), "span: got -900, expected a length above zero"),
    "coil on the right": (lambda: Springs(coil=Coil(Point(0, -400, 250), Point(0, -380, 600), rate=30)), "on the right side"),
    "coil that is a number": (lambda: Springs(coil=30), "coil is 30; expected a Coil or None"),
    "axle without links": (lambda: axle(upper=None), "upper is None; expected links"),
    "axle of points": (lambda: axle(lower=(A, B)), "expected links"),
    "a link for a locator": (lambda: axle(locator=LOWER), "expected a PanhardBar, a WattsLinkage, a MumfordLinkage or None"),
    "leaves of no kind": (lambda: axle(upper=(), leaves="half"), "leaves: got \"half\", expected 'uniform strength'"),
    "front without an arm": (lambda: IndependentFront(LOWER, LEG), "expected an Arm"),
    "front with a track for a tie rod": (lambda: IndependentFront(ARM, LEG, 1400), "tie_rod is 1400; expected a Link or None"),
    "rear axle made for the front": (lambda: car(rear=axle(end="front")), "rear: this axle is made as the front one"),
    "front axle made for the rear": (lambda: car(front=axle()), 'front: this axle is made as the rear one; write end="front"'),
    "a link for an axle": (lambda: car(rear=LOWER), "expected a LiveAxle or None"),
    "numbers for a weight": (lambda: car(weight=(1150, 0.53, 540)), "expected a Weight or None"),
    "a unit that is none": (lambda: car(units="cm"), 'units: got "cm", expected "mm" or "in"'),
    "a title that is none": (lambda: car(title=None), "title is None; expected text in quotes"),
    "percent as a fraction": (lambda: Weight(1150, Fraction(53), 540), "for 53 % write 0.53"),
    "percent as a symbol's number": (lambda: Weight(1150, sympy.Integer(53), 540), "for 53 % write 0.53"),
    "percent in an array": (lambda: Weight(1150, np.linspace(50, 56, 4), 540), "for 50 % write 0.5"),
    "a car lighter than its axles": (lambda: Weight(Fraction(100), 0.5, 540, 60, 60), "expected more than the 120 kg"),
    "degrees in an array": (lambda: PropellerShaft(B, A, np.array([2.0, 3.0])), "Were 2 degrees meant?"),
    # places
    "place that is no text": (lambda: susgeo.dimension(OURS, None), "place is None; expected text in quotes"),
    "moved without a place": (lambda: susgeo.moved(OURS, [(Z, 300)]), "expected a value for each place"),
    "moved to a number": (lambda: susgeo.moved(OURS, {"rear.upper.chassis": 400}), "rear.upper.chassis is 400; expected a Point"),
    "dimensions of a number": (lambda: susgeo.dimensions(5), "Expected a car, an axle or a part of one, got 5"),
    # results
    "quantity that is no text": (lambda: susgeo.numbers(OURS, [5]), "names is 5; expected text in quotes"),
    "quantity that is an array's number": (lambda: susgeo.numbers(OURS, np.array(3.0)), "names is array(3.); expected one or several"),
    "a choice that is an array's number": (lambda: susgeo.best_design(OURS, {Z: np.array(300.0)}, [STEER]), "expected one or several"),
    "holes that are a number": (lambda: susgeo.search(OURS, Bracket(Z, holes=np.array(300.0)), STEER), "expected one or several"),
    "a search in two units": (lambda: susgeo.search(OURS, BRACKET, STEER, units=np.array(["mm", "in"])), "units is array(["),
    "wheelbases in meters": (lambda: susgeo.moved(OURS, {"wheelbase": np.array([math.nan, 2.7, 2.8])}), "2.7 mm is no wheelbase of a car"),
    "summary in cm": (lambda: susgeo.summary(OURS, "cm"), "units is 'cm'; expected \"mm\" or \"in\""),
    "compare by a name": (lambda: susgeo.compare(OURS, COUPE, "rear anti-squat"), 'expected "mm" or "in"'),
    "tolerance of a name": (lambda: susgeo.tolerances(OURS, "rear anti-squat"), "expected a number"),
    "tolerances of many cars": (lambda: susgeo.tolerances(susgeo.moved(OURS, {Z: np.array([300.0, 310.0])})), "This car is many cars"),
    "table of a car": (lambda: susgeo.tolerance_table(OURS), "found is Car"),
    "a target in quotes": (lambda: susgeo.solve_for(OURS, Z, "rear locator height", "320"), "target is '320'; expected a number"),
    "many targets at once": (lambda: susgeo.solve_for(OURS, Z, "rear locator height", np.array([320.0])), "give one target"),
    "no quantity": (lambda: susgeo.solve_for(OURS, Z, None, 320), "give one quantity, not 0"),
    "letters as numbers": (lambda: susgeo.solve_for(OURS, Z, "rear locator height", sympy.Symbol("h")).values, "ask for exact"),
    "a limit in quotes": (lambda: Target("rear roll steer", "1", 2), "low is '1'; expected a number"),
    "a choice that is none": (lambda: susgeo.best_design(OURS, {Z: 300}, [STEER]), "expected one or several"),
    "a hole of two numbers": (lambda: susgeo.best_design(OURS, {"rear.locator.axle": [(1, 2)]}, [STEER]), "(x, y, z) for each hole"),
    "a hole without a number": (lambda: susgeo.best_design(OURS, {Z: [None]}, [STEER]), "expected numbers"),
    "targets that are names": (lambda: susgeo.best_design(OURS, {Z: [300]}, ["rear roll steer"]), "expected a Target"),
    "one end of a range": (lambda: susgeo.search(OURS, [Bracket("rear.lower.chassis", z=250)], [STEER]), "low below high"),
    "brackets that are names": (lambda: susgeo.search(OURS, ["rear.lower.chassis"], [STEER]), "expected a Bracket"),
    # on paper, and in lessons
    "a way of many cars": (lambda: susgeo.written_out(susgeo.moved(OURS, {Z: np.array([300.0, 2.0])}), "rear roll steer"), "many cars"),
    "a way of letters": (lambda: susgeo.written_out(susgeo.moved(OURS, {"rear.track": sympy.Symbol("t")}), "rear roll steer"), "letters"),
    "a way to two quantities": (lambda: susgeo.written_out(OURS, ["rear roll steer"]), "expected text in quotes"),
    "a lesson by a number": (lambda: Lesson(2).check(1, "3"), 'There is no lesson 2 with tasks; there are "00", "01"'),
    "a student by a number": (lambda: Lesson("02", 5), "student is 5; expected text in quotes"),
    "views that are a number": (lambda: draw.axle(OURS.rear, views=5), "views is 5"),
    "parts that are a number": (lambda: draw.axle(OURS.rear, show=5), "show is 5"),
    "a view that is none": (lambda: draw.axle(OURS.rear, "top"), "There is no view 'top'"),
    "a drawing of many": (lambda: draw.axle(susgeo.moved(OURS.rear, {"track": np.array([1400.0, 1500.0])})), "many cars"),
    "steps of none": (lambda: draw.steps(OURS.rear, "front", "roll center height"), "choose other parts"),
    # files
    "a file that is none": (lambda: load_car(None), "path is None; expected text in quotes or the path of a file"),
    "a text that is none": (lambda: susgeo.read_car(b"wheelbase = 2700"), "expected text in quotes"),
    "an axle to save": (lambda: susgeo.save_car(OURS.rear, "axle.toml"), "car is LiveAxle"),
    # travel and loads
    "travel of a car": (lambda: susgeo.solve_travel(OURS, 60), "expected a LiveAxle or an IndependentFront"),
    "roll in degrees": (lambda: susgeo.solve_travel(OURS.rear, 60, np.array([0, -3])), "Were 3 degrees meant?"),
    "roll in quotes": (lambda: susgeo.solve_travel(OURS.rear, 60, "3"), "roll is '3'; expected a number"),
    "roll in letters": (lambda: susgeo.solve_travel(OURS.rear, 60, sympy.Symbol("r")), "Travel is solved in numbers"),
    "no grid": (lambda: susgeo.solve_travel(OURS.rear, np.zeros(3), np.zeros(4)), "give those of one grid"),
    "joints that push": (lambda: susgeo.binding(OURS.rear, -5), "joint_rates is -5; expected one number above zero"),
    "rates of two joints": (lambda: susgeo.solve_travel(OURS.rear, 60, joint_rates=[1, 2]), "for each of the 4 rods"),
    "binding of a front": (lambda: susgeo.binding(COUPE.front, 1000), "expected a LiveAxle"),
    "clearance of an axle": (lambda: susgeo.clearance(OURS.rear, "upper link", [A], 16, [B]), "expected a Travel"),
    "no obstacle": (lambda: susgeo.clearance(susgeo.solve_travel(OURS.rear, 0), "upper link", [A], 16, []), "Expected points"),
    "a link of less than nothing": (
        lambda: susgeo.clearance(susgeo.solve_travel(OURS.rear, 0), "upper link", [A], -16, [B]),
        "radius: got -16",
    ),
    "tires of an axle": (lambda: susgeo.tire_forces(OURS.rear, drive=4), "has not been weighed"),
    "drive in letters": (lambda: susgeo.tire_forces(OURS, drive=sympy.Symbol("a")), "expected one number"),
    "a force of two numbers": (lambda: TireForces((1, 2), (3, 4)), "expected a force (forward, left, up)"),
    "a force that is none": (lambda: TireForces((1, 2, math.nan), (0, 0, 0)), "left of the tire forces is nan"),
    "forces in letters": (
        lambda: susgeo.rod_forces(OURS.rear, TireForces((sympy.Symbol("F"), 0, 0), (0, 0, 0))),
        "put a number in the place of every symbol",
    ),
    "rods of a car": (lambda: susgeo.rod_forces(COUPE, TireForces((0, 0, 0), (0, 0, 0))), "axle is Car"),
    "springs of an axle": (lambda: susgeo.spring_table(OURS.rear), "springs are not known"),
    "springs of an end that is none": (lambda: susgeo.spring_table(COUPE, "Rear"), 'end: got "Rear"'),
    "motion ratio of a car": (lambda: susgeo.motion_ratio(COUPE, Coil(A, B)), "axle is Car"),
    "shaft torque without a rear axle": (lambda: susgeo.shaft_torque_transfer(COUPE.front), "no rear axle; add a table [rear]"),
    "perches of one axle": (lambda: susgeo.perch(OURS, "rear", 5), "no front axle; add a table [front]"),
    "a perch at an end that is none": (lambda: susgeo.perch(COUPE, "Rear", 5), 'end: got "Rear"'),
    "tires of an end that is none": (lambda: susgeo.tire_forces(COUPE, drive=1, end="Rear"), 'end: got "Rear"'),
    "roll axis of one axle": (lambda: susgeo.car_roll_axis(OURS), "no front axle; add a table [front]"),
    "scales that are nan": (lambda: susgeo.raised_weighing(OURS, math.nan), "gain is nan"),
    "a perch in quotes": (lambda: susgeo.perch(COUPE, "rear", "5"), "raised is '5'"),
    "shim of a car": (lambda: susgeo.shim(COUPE), "expected an IndependentFront"),
    "turns of no length": (lambda: susgeo.turns_table(OURS.rear, 0), "expected a number above zero"),
    "pinion by 200 degrees": (lambda: susgeo.turns_for(OURS.rear, pinion=200), "pinion is 200; expected a change in degrees, at most 45"),
    "tilt of a front": (lambda: susgeo.tilt_table(COUPE.front, 12), "expected a LiveAxle"),
    "shaft of an axle": (lambda: susgeo.shaft_table(OURS.rear), "The propeller shaft is not known"),
    # many cars, letters and words where one number belongs
    "turns of many": (lambda: susgeo.turns_table(MANY.rear), "This car is many cars"),
    "turns for many": (lambda: susgeo.turns_for(MANY.rear, pinion=1), "This car is many cars"),
    "tilt of many": (lambda: susgeo.tilt_table(MANY.rear, 12), "This car is many cars"),
    "binding of many": (lambda: susgeo.binding(MANY.rear, 1000), "This car is many cars"),
    "search from many": (lambda: susgeo.search(MANY, [BRACKET], [STEER]), "This car is many cars"),
    "design from letters": (lambda: susgeo.best_design(LETTERS, {Z: [300]}, [STEER]), "has letters in it"),
    "solved for many": (lambda: susgeo.solve_for(MANY, Z, "rear roll steer", 0), "give one car"),
    "a shaft of many": (lambda: susgeo.shaft_table(susgeo.moved(load_car("torque_arm"), {Z: np.array([300.0, 2.0])})), "many cars"),
    "forces of many": (lambda: susgeo.rod_forces(MANY.rear, susgeo.tire_forces(OURS, drive=2)).table(), "the table of one car"),
    "moved off the grid": (lambda: susgeo.moved(OURS, {Z: np.ones(2), "rear.upper.chassis.z": np.ones(3)}), "(2,), (3,) cannot be put together"),
    "corner of a mass in letters": (lambda: susgeo.tire_forces(susgeo.moved(COUPE, {"weight.mass": Q}), drive=2), "in the place of letters"),
    "margin of letters": (lambda: susgeo.margin(Q, 526, 30, 10_000), "in the place of letters"),
    "a rod of letters": (lambda: susgeo.buckling_load(Q, 30), "expected a number above zero"),
    "a rod as thick as letters": (lambda: susgeo.buckling_load(526, Q), "outer is q; expected a number"),
    "a word misspelled": (lambda: susgeo.linear_limit(COUPE, sharing="eqal"), "sharing is 'eqal'; expected 'load' or 'equal'"),
    "a word that is an array": (lambda: susgeo.summary(OURS, np.array(["mm"])), 'expected "mm" or "in"'),
    "own mass by a number": (lambda: susgeo.anti_squat(COUPE, 0.6), "own_mass is 0.6; expected True or False"),
    "changed by a name": (lambda: susgeo.compare_table(OURS, OURS, "mm", "rear roll steer"), "changed is 'rear roll steer'; expected True"),
    "an edge that pulls": (lambda: susgeo.tire_forces(COUPE, bump=3, edge=-1), "edge is -1; expected one number, zero or more"),
    "a load of no kind": (lambda: Conditions(cases={"off": {"driv": 4}}), "the case off: there is no load driv; expected drive, braking"),
    "a corner in quotes": (lambda: Conditions(lateral="5"), "lateral is '5'; expected a number"),
    "an obstacle of numbers": (lambda: Obstacle("pipe", "upper link", [(1, 2, 3)]), "points is (1, 2, 3); expected a Point"),
    "an obstacle thinner than none": (lambda: Obstacle("pipe", "upper link", A, radius=-3), "radius: got -3"),
    "conditions that are none": (lambda: susgeo.search(OURS, BRACKET, STEER, given=5), "given is 5; expected a Conditions"),
    "a target that weighs nothing": (lambda: Target("rear roll steer", 0, 1, weight=0), "weight is 0; expected a number above zero"),
    "a search at no height": (lambda: susgeo.search(OURS, BRACKET, STEER, heights=()), "and a ride height"),
    "no choice to be shown": (lambda: susgeo.search(OURS, BRACKET, STEER, most=0), "most is 0; expected 1 or more"),
    "tolerances of no car": (lambda: susgeo.tolerances(OURS, samples=0), "samples is 0 and seed 1; expected at least 2 cars"),
    "tolerances of half a car": (lambda: susgeo.tolerances(OURS, samples=100.5), "samples is 100.5; expected a whole number"),
    "pinions": (lambda: susgeo.turns_for(OURS.rear, pinion=np.array([1, 2])), "pinion is array([1, 2]); expected a number"),
    "tilt at no height": (lambda: susgeo.tilt_table(OURS.rear, 12, heaves=[]), "Expected a limit above zero and heaves"),
    "a function that gives a word": (lambda: susgeo.solve_for(OURS, Z, lambda car: car.title, 0), "expected a number or an expression"),
    "a shaft from the rear": (lambda: PropellerShaft(A, B), "gearbox: [0, 500, 240] is not ahead of the pinion's joint, [600, 400, 290]"),
    "a strut upside down": (lambda: StrutLeg(LEG.lower_point, LEG.top_mount), "top_mount: [5, 620, 300] lies below the lower point"),
    "springs without an anti-roll bar's rate": (lambda: Springs(20, 900, None), "anti_roll_rate of a spring is None"),
    "stiffness of a damper": (lambda: susgeo.roll_gradient(replace(COUPE, rear_springs=Springs(damper=Damper(A, LEG.top_mount)))), "The rate of an axle's springs is not known"),
    "drawn against another kind": (lambda: draw.axle(COUPE.rear, other=COUPE.front), "other is IndependentFront"),
    "a ghost that is none": (lambda: draw.axle(OURS.rear, ghost=5), "There is no drawing of a int"),
    "a drawing as wide as a word": (lambda: draw.axle(OURS.rear, width="wide"), "width is 'wide'; expected a number"),
    "a drawing in cm": (lambda: draw.axle(OURS.rear, units="cm"), "units is 'cm'"),
    "a drawing of no width": (lambda: draw.axle(OURS.rear, width=0), "width and across above zero; got 1 things, 0 and 1"),
    "words for a legend in one text": (lambda: draw.axle(OURS.rear, names="mine"), "names is 'mine'"),
    "frames of a view that is none": (lambda: draw.strip([OURS.rear], "top", ["a"]), "There is no view 'top'"),
    "steps in a view that is none": (lambda: draw.steps(OURS.rear, "top", "roll axis"), "There is no view 'top'"),
    "two things and one caption": (lambda: draw.strip([OURS.rear] * 2, "side", ["a"]), "2 things to draw and 1 captions"),
    "no frames in a row": (lambda: draw.steps(OURS.rear, "side", "instant center", across=0), "760 and 0"),
    "nothing to draw": (lambda: draw.strip([], "side", []), "Expected a thing to draw"),
    "saved to a number": (lambda: draw.axle(OURS.rear).save(5), "path is 5"),
    "an axle of no rods": (lambda: draw.axle(LiveAxle((), ())), "Nothing holds this axle sideways"),
    "a drawing without an end": (lambda: draw.axle(OURS.rear, reach=math.inf), "reach is inf"),
}  # fmt: skip


@pytest.mark.parametrize("typed", REFUSED)
def test_what_cannot_be_is_refused_in_a_sentence(typed):
    call, sentence = REFUSED[typed]
    with pytest.raises(SusgeoError) as said:
        call()
    assert sentence in str(said.value)
    assert str(said.value).endswith((".", ")", "?"))


@pytest.mark.parametrize("number", [float, Fraction, sympy.Integer])
def test_links_given_the_wrong_way_round_are_put_in_order(number):
    """The left one is the one with the greater y (ISO 8855), and is called so, whichever comes first."""
    left = Link(Point(0, number(500), 240), Point(600, number(400), 290))
    turned = axle(lower=(left.mirrored(), left))
    assert turned.lower[0].axle.y == 500
    assert turned.names == axle().names
    frame = axle(lower=(), upper=pair(Link(Point(0, 0, 470), Point(400, 300, 450)))[::-1], locator=None)
    assert [(link.name, link.chassis.y) for link in frame.upper] == [
        ("left upper link", 300),
        ("right upper link", -300),
    ]


def test_exact_fractions_are_numbers():
    """What the tables and the Monte Carlo make of a fraction is what they make of its number."""
    exact = susgeo.moved(OURS, {"rear.lower.chassis.z": Fraction(290)})
    mine, theirs = (susgeo.tolerances(each, names="rear roll steer")["rear roll steer"] for each in (exact, OURS))
    assert (mine.low, mine.high, mine.plus_minus) == (theirs.low, theirs.high, theirs.plus_minus)
    assert susgeo.turns_table(exact.rear).rows == susgeo.turns_table(OURS.rear).rows
    assert susgeo.margin(Fraction(-8000), Fraction(526), Fraction(30), 32_000).rod_end == 4


def test_an_element_that_cannot_be_has_no_result():
    cars = susgeo.moved(replace(OURS, weight=OURS.weight), {"weight.front_share": np.array([0.53, 53.0])})
    assert np.isnan(cars.weight.front_share).tolist() == [False, True]
    cars = susgeo.moved(OURS, {"wheelbase": np.array([-2700.0, 2700.0, math.nan])})
    assert np.isnan(susgeo.anti_squat(cars)).tolist() == [True, False, True]
    cars = susgeo.moved(OURS, {"wheelbase": np.array([2.7, 1000.0, 2700.0, 6000.0, 6001.0])})
    assert np.isnan(cars.wheelbase).tolist() == [True, False, False, False, True]
    rates = susgeo.moved(
        COUPE, {"rear_springs.rate": np.array([-20.0, -1e-6, 20.0])}
    )  # a hair below zero is a step for a slope
    assert np.isnan(susgeo.roll_gradient(rates)).tolist() == [True, False, False]


def test_a_single_state_is_shown_in_plain_numbers():
    """Python's own, since NumPy's are shown as np.float64(...) and np.True_ (its reference manual, scalars, from version 2)."""
    state, corner = susgeo.solve_travel(OURS.rear, 10), susgeo.solve_corner(COUPE, 3)
    assert "np." not in repr(
        (state.x, state.reached, state.link_angles("side"), corner.roll, corner.rod_forces("rear"))
    )
    assert "np." not in repr(susgeo.clearance(state, "upper link", A, 16, B))


def test_one_of_a_kind_stands_for_several():
    """A single target, bracket, height or obstacle's point is a list of one."""
    alone = susgeo.best_design(OURS, {Z: range(280, 330, 10)}, STEER, heaves=0)
    assert alone.choice == susgeo.best_design(OURS, {Z: range(280, 330, 10)}, [STEER], heaves=(0,)).choice
    state = susgeo.solve_travel(OURS.rear, 0)
    found = susgeo.clearance(state, "left lower link", A, 16, B)
    assert found == pytest.approx(math.dist((0, 500, 240), (600, 400, 290)) - 16)
    car = load_car("torque_arm")
    assert susgeo.spring_table(car, heaves=0).rows == susgeo.spring_table(car, heaves=[0]).rows
    assert len(susgeo.shaft_table(car, heaves=30).rows) == 1


@pytest.mark.parametrize("holes", [np.array([(600, 400, 290), (600, 400, 260)]), [Point(600, 400, 290), B]])
def test_a_choice_can_be_built_whatever_it_was_given_as(holes):
    found = susgeo.best_design(OURS, {"rear.lower.chassis": holes}, [STEER])
    assert len(susgeo.search(OURS, Bracket("rear.lower.chassis", holes=holes), STEER).tried["rear roll steer"]) == 2
    built = susgeo.moved(OURS, found.choice).rear.lower[0].chassis
    assert tuple(built) == tuple(found.car.rear.lower[0].chassis)


def test_a_string_is_one_name():
    """One view and one part are taken like lists of one; an axle alone is written out and checked like a car."""
    one, several = draw.axle(OURS.rear, "side", "roll axis"), draw.axle(OURS.rear, ["side"], ["roll axis"])
    assert one.alt == several.alt
    assert draw.steps(OURS.rear, "side", "instant center").alt == draw.steps(OURS.rear, "side", ["instant center"]).alt
    name = "rear roll center height"
    assert str(susgeo.written_out(OURS.rear, name)) == str(susgeo.written_out(OURS, name))
    assert (
        susgeo.check_by_hand(OURS.rear, name, "307.3").kind == susgeo.check_by_hand(OURS, name, "307.3").kind == "right"
    )


def test_a_point_with_a_weight_is_saved_where_it_is(tmp_path):
    car = susgeo.moved(OURS, {"rear.lower.axle.w": 2.0})  # (0, 500, 240) with weight 2 is at (0, 250, 120)
    susgeo.save_car(car, tmp_path / "car.toml")
    assert tuple(load_car(tmp_path / "car.toml").rear.lower[0].axle) == (0, 250, 120, 1)


@pytest.mark.parametrize("name", ["Panhard bar", "Panhard bar, number 2", "rod"])
def test_no_rod_is_lost_whatever_it_is_called(name):
    """No result depends on a name: forces, turns and clearance are those of the links under their usual names."""
    links = [Link(link.axle, link.chassis, name) for link in pair(LOWER)]
    odd, usual = axle(lower=links, upper=Link(UPPER.axle, UPPER.chassis, name)), axle()
    forces = TireForces((1000, 300, 3000), (1000, 300, 3000))
    tensions = [susgeo.rod_forces(each, forces).tension for each in (odd, usual)]
    assert list(tensions[0].values()) == list(tensions[1].values())
    rows = [[row[1:] for row in susgeo.turns_for(each, pinion=1, sideways=5).rows] for each in (odd, usual)]
    assert rows[0] == rows[1] and len(rows[0]) == 4
    states = susgeo.solve_travel(odd, 60)
    assert len(set(states.names)) == 4
    gaps = [susgeo.clearance(susgeo.solve_travel(each, 60), states.names[3], A, 0, B) for each in (odd,)]
    assert gaps == [susgeo.clearance(susgeo.solve_travel(usual, 60), "Panhard bar", A, 0, B)]
