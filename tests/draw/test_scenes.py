"""What is drawn of fronts, whole cars and axles in travel, against constructions made here with NumPy."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from susgeo import Car, Link, LiveAxle, PanhardBar, Point, SusgeoError, coordinates, draw, load_car, pair
from susgeo.car.car import Weight
from susgeo.car.front import Arm, IndependentFront, StrutLeg
from susgeo.draw.live_parts import trials
from susgeo.draw.scenes import car_roll_axis, windows
from susgeo.draw.sketch import Sketch
from susgeo.travel.live import solve_travel

DATA = Path(__file__).resolve().parents[2] / "data"
REAR = LiveAxle(
    lower=pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link")),
    upper=(Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),),
    locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
)
LOWER = Arm(Point(0, 690, 200), Point(20, 330, 210), Point(-280, 340, 215))
STRUT = IndependentFront(
    LOWER,
    StrutLeg(Point(-40, 560, 760), Point(-10, 640, 330)),
    Link(Point(-120, 680, 240), Point(-110, 320, 250), "tie rod"),
    track=1450.0,
)
BARE = replace(STRUT, tie_rod=None)
WISHBONES = IndependentFront(LOWER, Arm(Point(-10, 640, 480), Point(90, 400, 460), Point(-110, 400, 440)), track=1450.0)
CAR = Car("club coupe", 2700.0, rear=REAR, front=STRUT, weight=Weight(1150.0, 0.52, 540.0))


def sketched(thing, view, show=None, **more):
    sketch = Sketch(view, windows([thing], (view,))[view])
    draw.painter(thing, show, **more)(sketch)
    return {mark.key: mark for mark in sketch.marks}, sketch


def xyz(point):
    return np.array([point.x, point.y, point.z], float)


def plane(part):
    """Normal and a point of an arm's plane, or of the plane square to a strut at its top."""
    if isinstance(part, StrutLeg):
        return xyz(part.top_mount) - xyz(part.lower_point), xyz(part.top_mount)
    a, b, c = map(xyz, (part.ball_joint, part.front_pivot, part.rear_pivot))
    return np.cross(b - a, c - a), a


def axis_at(axle, index, value):
    """Where both planes are met by the plane of one fixed coordinate: three equations."""
    normals, offsets = [np.eye(3)[index]], [value]
    for part in (axle.lower, axle.upper):
        normal, point = plane(part)
        normals.append(normal)
        offsets.append(normal @ point)
    return np.linalg.solve(normals, offsets)


@pytest.mark.parametrize("axle", [BARE, WISHBONES])
def test_the_fronts_roll_center_lies_on_the_line_from_the_contact_patch(axle):
    _, y, z = axis_at(axle, 0, 0.0)
    height = z * 725 / (725 - y)  # from (725, 0) through (y, z) to y = 0
    marks, sketch = sketched(axle, "front")
    assert marks["roll center"].points[0] == pytest.approx((0, height), abs=1e-6)
    start, end = marks["patch line"].points
    assert start == (-725, 0)
    assert (end[1] - 0) / (end[0] + 725) == pytest.approx(z / (-y + 725))
    text = " ".join(sketch.sentences)
    assert f"{-y / 1000:.2f} m right of the center line, {z / 1000:.2f} m above the ground" in text
    assert f"The roll center lies {height / 1000:.2f} m above the ground." in text


def test_a_tie_rod_out_of_the_arms_plane_moves_the_instant_center_and_the_drawing_says_so():
    _, y, z = axis_at(STRUT, 0, 0.0)
    marks, sketch = sketched(STRUT, "front", ["roll center"])
    for key in ("lower line", "upper line"):  # still the two planes
        (h, v), (right, up) = marks[key].points
        assert (right - h) * (z - v) == pytest.approx((up - v) * (-y - h), rel=1e-9)
    shift = STRUT.roll_center_height - BARE.roll_center_height
    assert abs(shift) > 0.5
    assert f"moves the roll center by {shift:.1f} mm" in " ".join(sketch.sentences)
    assert marks["roll center"].points[0] == pytest.approx((0, STRUT.roll_center_height))


@pytest.mark.parametrize("axle", [BARE, WISHBONES])
def test_the_planes_are_drawn_through_their_joints_to_the_instant_center(axle):
    _, y, z = axis_at(axle, 0, 0.0)
    marks, _ = sketched(axle, "front", ["roll center"])
    for key, part in (("lower line", axle.lower), ("upper line", axle.upper)):
        (h, v), (right, up) = marks[key].points
        assert (right - h) * (z - v) == pytest.approx((up - v) * (-y - h), rel=1e-9)
        normal, point = plane(part)
        assert normal @ ((0, -h, v) - point) == pytest.approx(0, abs=1e-6 * np.linalg.norm(normal))
    x, _, z = axis_at(axle, 1, 725.0)
    marks, sketch = sketched(axle, "side", ["instant center"])
    for key, part in (("lower line", axle.lower), ("upper line", axle.upper)):
        (h, v), (right, up) = marks[key].points
        assert (right - h) * (z - v) == pytest.approx((up - v) * (x - h), rel=1e-9)
        normal, point = plane(part)
        assert normal @ ((h, 725, v) - point) == pytest.approx(0, abs=1e-6 * np.linalg.norm(normal))
    (h, v), (right, up) = marks["patch line"].points
    assert (h, v) == (0, 0)
    assert up / right == pytest.approx(z / x)
    assert f"meet {-x / 1000:.2f} m behind the wheels" in sketch.sentences[1]


def test_both_sides_of_a_front_are_drawn_from_behind_and_one_from_the_side():
    marks, _ = sketched(STRUT, "front", [])
    assert marks["left strut"].points == ((-640, 330), (-560, 760))
    assert marks["right strut"].points == ((640, 330), (560, 760))
    assert marks["left tie rod"].role == "thin link"
    marks, _ = sketched(STRUT, "side", [])
    assert not [key for key in marks if key.startswith("right")]


def test_a_front_view_alone_reaches_to_the_instant_center_on_the_far_side():
    _, y, _ = axis_at(WISHBONES, 0, 0.0)
    usual, wide = (windows([WISHBONES], ("front",), reach)["front"] for reach in (None, 200 - y))
    assert usual[1] < -y < wide[1] == 200 - y
    assert (usual[0], *usual[2:]) == (wide[0], *wide[2:])
    assert windows([WISHBONES], ("side", "front"), 200 - y)["front"] == usual


def test_a_car_stands_on_both_axles_a_wheelbase_apart():
    marks, _ = sketched(CAR, "side", [])
    assert np.mean(marks["rear tire"].points, 0) == pytest.approx((0, 310))
    assert np.mean(marks["front tire"].points, 0) == pytest.approx((2700, 310))
    assert marks["front left strut"].points == ((2690, 330), (2660, 760))
    marks, _ = sketched(CAR, "plan", [])
    assert marks["front left tie rod"].points == ((2580, 680), (2590, 320))
    marks, _ = sketched(CAR, "front", [])
    assert marks["front left strut"].points == ((-640, 330), (-560, 760))


def test_the_cars_roll_axis_joins_the_roll_centers_and_the_arm_ends_on_it():
    _, y, z = axis_at(STRUT, 0, 0.0)
    front, rear = z * 725 / (725 - y), 300 + 120 * 190 / 3120
    marks, sketch = sketched(replace(CAR, front=BARE), "side")
    (h, v), (right, up) = marks["roll axis"].points
    slope = (up - v) / (right - h)
    assert slope == pytest.approx((front - rear) / 2700)
    assert v - h * slope == pytest.approx(rear)
    assert marks["center of gravity"].points == ((0.52 * 2700, 540),)
    assert marks["arm number"].text == f"{540 - (rear + 0.52 * (front - rear)):.1f} mm"
    assert "1.40 m ahead of the rear wheels, 0.54 m above the ground" in " ".join(sketch.sentences)
    for mm, words in ((4.0, "front roll center"), (14.0, "front")):  # a frame of a film has room for one word
        frame = Sketch("side", windows([CAR], ("side",))["side"], mm)
        car_roll_axis(frame, CAR)
        assert [mark.text for mark in frame.marks if mark.key == "front roll center name"] == [words]


def test_the_body_and_the_axles_together_balance_at_the_cars_center_of_gravity():
    car = replace(CAR, weight=Weight(1150.0, 0.52, 540.0, 80.0, 140.0))
    marks, sketch = sketched(car, "side", ["roll axis", "body over the axis"])
    (x, z), (_, low) = marks["body"].points[0], marks["H"].points[2]
    # Moments about the rear wheels, and about the ground.
    assert 930 * x + 80 * 2700 == pytest.approx(1150 * 0.52 * 2700)
    assert 930 * z + 80 * STRUT.tire_radius + 140 * REAR.tire_radius == pytest.approx(1150 * 540)
    (h, v), (right, up) = marks["roll axis"].points
    assert low == pytest.approx(v + (x - h) * (up - v) / (right - h))
    assert marks["H"].points[3] == (x, z)
    assert marks["z_A"].points[2:4] == ((x, 0.0), (x, low))
    assert [place[1] for place in marks["h_s"].points[2:4]] == [0.0, z]
    for letter, height in (("h_s", z), ("z_A", low), ("H", z - low)):
        assert f"{letter} = {height / 1000:.2f} m" in sketch.sentences[-1]


def test_anti_squat_is_read_over_the_front_wheels():
    marks, sketch = sketched(CAR, "side", ["anti-squat"])
    height = 2700 * 388.551 / 1782.609  # the line through the known instant center
    assert marks["squat line"].points == ((0, 0), pytest.approx((2700, height), rel=1e-5))
    assert marks["share height"].text == f"{'H: ' * sketch.roomy}{100 * height / 540:.1f} %"
    assert marks["share height"].points[0] == pytest.approx((2700, height), rel=1e-5)  # where the line passes them
    assert marks["level"].points[0][1] == 540
    assert f"{100 * height / 540:.1f} % of that height" in sketch.sentences[-1]


def test_the_levers_are_read_where_the_links_lines_pass_the_wheel_centers():
    marks, sketch = sketched(REAR, "side", ["levers"])
    upper = np.interp(0, [-50, 400], [470, 450])  # of the upper link; the lower one starts at the upright
    for letter, height in (("D", 240), ("E", upper)):
        assert marks[letter].points[0] == pytest.approx((0, height))
        assert marks[f"{letter} lever number"].text == f"{height:.1f} mm"
        assert f"{letter}, on the upright through the wheel centers, lies {height:.1f} mm" in " ".join(sketch.sentences)
    assert marks["gap number"].text == f"{upper - 240:.1f} mm" in " ".join(sketch.sentences)
    assert [at[1] for at in marks["gap"].points[2:4]] == pytest.approx([240, upper])
    assert marks["push"].points[0] == (0, 0) and marks["push"].points[1][1] == 0
    assert len(sketch.captions) == 5


def test_a_car_without_front_or_weight_is_drawn_as_far_as_it_is_known():
    bare = Car("rear only", 2700.0, rear=REAR)
    marks, _ = sketched(bare, "side", ["roll axis", "center of gravity", "body over the axis", "anti-squat"])
    assert "rear roll center" in marks and "squat line" in marks
    assert not {"roll axis", "center of gravity", "body", "level"} & marks.keys()


def test_every_frame_of_a_strip_has_the_roll_centers_height():
    states = [solve_travel(REAR, up, np.radians(turn)) for up, turn in ((-60, 0), (0, 0), (60, 0), (0, -4), (0, 4))]
    strip = draw.strip(states, "front", ["up"] * 5, ["roll center height"], ghost=solve_travel(REAR, 0))
    for panel, state in zip(strip.panels, states, strict=True):
        assert f"{state.moved.roll_center_height:.1f} mm" in [
            text.replace("\n", " ") for _, _, text in strip.marks(panel.name)
        ]


def test_the_arc_of_an_angle_runs_from_leg_to_leg():
    """From the first to the second leg, to the left round; both legs and the size by hand."""
    sketch = Sketch("side", (-1e3, 1e3, -1e3, 1e3))
    sketch.angle("eps", (100.0, 50.0), (500.0, 50.0), (100.0, 90.0), 20.0, "eps")
    arc = np.array(sketch.marks[0].points)
    assert arc[0] == pytest.approx((120, 50)) and arc[-1] == pytest.approx((100, 70))
    assert np.hypot(*(arc - (100, 50)).T) == pytest.approx(20)
    assert sketch.marks[1].points[0] == pytest.approx((100 + 20 / 2**0.5, 50 + 20 / 2**0.5))


@pytest.mark.parametrize(("heave", "roll"), [(0.0, 0.0), (40.0, 0.0), (-30.0, 4.0), (20.0, -3.0)])
def test_an_axle_in_travel_is_drawn_as_it_was_solved(heave, roll):
    angle = np.radians(roll)
    state = solve_travel(REAR, heave, angle)
    marks, sketch = sketched(state, "front", ["roll axis"])
    for link in (*state.moved.lower, *state.moved.upper):
        (a, b), (c, d) = marks[link.name].points
        assert (a, b, c, d) == (-link.axle.y, link.axle.z, -link.chassis.y, link.chassis.z)
    # The axle stands on its wheels: where its left side is up against the body, the body's left side is down.
    _, left, right, _ = marks["body"].points
    assert left[1] - right[1] == pytest.approx(-0.8 * 1400 * np.sin(angle))
    assert f"raised by {heave:.1f} mm and rolled by {roll:.2f} deg" in " ".join(sketch.sentences)


def test_what_cannot_be_drawn_is_named():
    with pytest.raises(SusgeoError, match="no drawing of a Link; there is one of: LiveAxle"):
        draw.axle(REAR.upper[0])
    with pytest.raises(SusgeoError, match="no part 'squat' of this drawing; choose from roll axis, center"):
        draw.car(CAR, ("side",), ["squat"])


@pytest.mark.parametrize("thing", [STRUT, WISHBONES, CAR, solve_travel(REAR, 30.0, 0.05)])
@pytest.mark.parametrize("views", [("side",), ("plan",), ("front",), ("side", "plan")])
def test_everything_can_be_drawn_and_says_what_it_shows(thing, views):
    picture = draw.axle(thing, views)
    assert picture.still().html().startswith("<img")
    assert picture.alt.count("view") >= len(views)


def test_measured_again_and_again_the_instant_center_scatters_as_the_two_lines_do():
    """Against the two lines solved here for each trial, and their spread against the tolerance's first order."""
    from susgeo import tolerances

    marks, sketch = sketched(REAR, "side", [trials(2.0, 4000)])
    x, z = np.array(marks["trials"].points).T
    assert len(x) == 4000
    joints = np.array([[0, 240], [600, 290], [-50, 470], [400, 450]], float)
    a, b, c, d = joints[:, None] + np.random.default_rng(3).standard_normal((4, 4000, 2))
    lower, upper = (b - a)[:, 1] / (b - a)[:, 0], (d - c)[:, 1] / (d - c)[:, 0]
    ahead = (c[:, 1] - upper * c[:, 0] - a[:, 1] + lower * a[:, 0]) / (lower - upper)
    assert np.std(x) == pytest.approx(np.std(ahead), rel=0.05)
    assert np.median(x) == pytest.approx(np.median(ahead), abs=5)
    first = tolerances(REAR, 2.0, names=["rear side-view instant center x"])
    assert 2 * np.std(x) == pytest.approx(first["rear side-view instant center x"].plus_minus, rel=0.05)
    assert np.std(z) < np.std(x) / 10
    said = [float(word) for word in sketch.sentences[-1].split() if word.startswith("1.")]
    assert said == pytest.approx(np.quantile(ahead, (0.025, 0.975)) / 1000, abs=0.012)
    assert "trials" not in sketched(REAR, "front", [trials()])[0]


def test_the_measures_of_an_inch_car_are_in_inches():
    """One inch is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    height = float(REAR.roll_center_height)
    for units, wanted in (("mm", f"{height:.1f} mm"), ("in", f"{height / 25.4:.2f} in")):
        picture = draw.axle(REAR, ("front",), ["roll center height"], units=units)
        assert wanted in [text for *_, text in picture.marks("front")]


def test_in_a_strip_of_a_front_each_arrow_to_a_far_instant_center_has_its_distance():
    front = load_car(DATA / "club_coupe.toml").front
    places = [solve_travel(front, lower).moved for lower in (-40, 0, 40)]
    picture = draw.strip(places, "front", ["up", "at rest", "down"], ["roll center"], ghost=front)
    for number, place in enumerate(places):
        marks = picture.marks(f"{number}")
        far = float(coordinates(place.front_view_instant_center)[0]) / 1000
        assert abs(far) > 2 and "result arrow" in [role for role, _, _ in marks]  # the strip is some 1.8 m wide
        words = f"IC {abs(far):.2f} m {'left' if far > 0 else 'right'}"
        assert words in [text.replace("\n", " ") for role, _, text in marks if role == "result name"]


def test_the_roll_center_whose_height_is_measured_is_marked():
    marks, _ = sketched(REAR, "front", ["roll center height"])
    # By similar triangles from the bar, level at 300, 120 behind, to where the lower links meet, 3000 ahead at 490.
    assert marks["roll center"].points == ((0.0, pytest.approx(300 + 190 * 120 / 3120)),)
    assert marks["roll center"].role == "result point"
