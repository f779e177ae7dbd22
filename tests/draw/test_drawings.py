"""Drawings: true to scale, readable by everyone, and the same however they were arrived at."""

import hashlib
import io
import itertools
import math
import os
import re
import subprocess
import sys
from pathlib import Path

import matplotlib
import numpy as np
import pytest
import sympy
from matplotlib.text import Text
from PIL import Image

from susgeo import Link, LiveAxle, PanhardBar, Point, SusgeoError, draw, moved, pair
from susgeo.car.locators import MumfordLinkage, WattsLinkage
from susgeo.draw import look
from susgeo.draw.lettering import Words
from susgeo.draw.live_parts import scenery
from susgeo.draw.look import ROLES
from susgeo.draw.scenes import windows
from susgeo.draw.sketch import Sketch
from susgeo.errors import ViewError
from susgeo.geometry.flat import FlatLine, FlatPoint

ROOT = Path(__file__).resolve().parents[2]
VIEWS = ("side", "plan", "front")


def three_links(upper_z=470.0, chassis_y=400.0):
    """The course's first axle: three links and a bar."""
    return LiveAxle(
        lower=pair(Link(Point(0, 500, 240), Point(600, chassis_y, 290), "left lower link")),
        upper=(Link(Point(-50, 0, upper_z), Point(400, 0, 450), "upper link"),),
        locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
    )


def four_links():
    """Converging uppers, no bar."""
    return LiveAxle(
        lower=pair(Link(Point(0, 500, 240), Point(600, 480, 270), "left lower link")),
        upper=pair(Link(Point(30, 150, 480), Point(430, 420, 440), "left upper link")),
    )


def watt():
    """Parallel links and a Watt's linkage."""
    return LiveAxle(
        lower=pair(Link(Point(0, 500, 240), Point(600, 500, 290), "left lower link")),
        upper=(Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),),
        locator=WattsLinkage(
            *(Point(-150, 0, 320), Point(-150, 0, 380), Point(-150, 450, 380)),
            *(Point(-150, 0, 260), Point(-150, -450, 260)),
        ),
    )


def mumford():
    return LiveAxle(
        lower=pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link")),
        upper=(Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),),
        locator=MumfordLinkage(
            *(Point(-120, 200, 300), Point(-120, 220, 220), Point(-120, 480, 180), Point(-120, 190, 370)),
            *(Point(-120, -200, 300), Point(-120, -220, 220), Point(-120, -480, 180), Point(-120, -190, 230)),
        ),
    )


def sketched(axle, view="side", show=None, **more):
    """Return the marks by key and the sentences of a sketch of an axle."""
    sketch = Sketch(view, windows([axle], (view,))[view])
    draw.painter(axle, show, **more)(sketch)
    return {mark.key: mark for mark in sketch.marks}, sketch


def pixels(still):
    """Decode with Pillow, which knows nothing of our encoder."""
    return np.asarray(Image.open(io.BytesIO(still.data)).convert("RGB")).astype(int)


def words(picture):
    """Return the boxes, in pixels, of the labels that show, measured by matplotlib."""
    renderer = picture.figure.canvas.get_renderer()
    labels = [thing for thing in picture.figure.findobj(Text) if isinstance(thing, Words)]
    return {
        label.get_text(): label.get_window_extent(renderer)
        for label in labels
        if label.get_visible() and label.get_text()
    }


# Truth


def meet_by_elimination(first, second):
    """Where two lines through two points each meet: two equations, solved by NumPy."""
    (a, b), (c, d) = first, second
    one, two = np.subtract(b, a), np.subtract(d, c)
    t, _ = np.linalg.solve(np.column_stack([one, -two]), np.subtract(c, a))
    return np.add(a, t * one)


@pytest.mark.parametrize("upper_z", [470.0, 530.0, 560.0])
def test_the_drawn_lines_meet_where_the_equations_say(upper_z):
    marks, sketch = sketched(three_links(upper_z), show=["instant center"])
    x, z = meet_by_elimination(((0, 240), (600, 290)), ((-50, upper_z), (400, 450)))
    assert marks["instant center"].points[0] == pytest.approx((x, z), abs=1e-9)
    for key in ("lower line", "upper line"):
        (h, v), (right, up) = marks[key].points
        assert (right - h) * (z - v) == pytest.approx((up - v) * (x - h), abs=1e-6)
    assert f"meet {x / 1000:.2f} m ahead of the wheels, {z / 1000:.2f} m above the ground" in sketch.sentences[1]


def test_each_construction_keeps_to_its_view():
    for view in ("plan", "front"):
        assert "instant center" not in sketched(three_links(), view, ["instant center"])[0]
    for view in ("side", "front"):
        assert "lower meeting arrow" not in sketched(three_links(), view, ["convergence"])[0]
    with pytest.raises(ViewError, match="side view .* plan view"):
        Sketch("plan", WINDOW).dot("center", three_links().side_view_instant_center)
    no_upper = LiveAxle(three_links().lower, (), three_links().locator)
    assert "instant center" not in sketched(no_upper, show=["instant center"])[0]


def test_the_roll_axis_is_drawn_through_the_bar_and_the_links_meeting_point():
    marks, sketch = sketched(three_links(), show=["roll axis"])
    (h, v), (right, up) = marks["roll axis"].points
    rise = (490 - 300) / (3000 + 120)  # from (-120, 300) to (3000, 490), by hand
    assert (up - v) / (right - h) == pytest.approx(rise)
    assert marks["roll center"].points[0] == pytest.approx((0, 300 + 120 * rise))
    assert f"rises toward the front by {math.degrees(math.atan(rise)):.2f} deg" in " ".join(sketch.sentences)


def test_left_is_left_in_the_front_view_and_in_the_plan():
    marks, _ = sketched(three_links(), "front", show=[])
    assert marks["left lower link axle end"].points[0] == (-500, 240)
    marks, _ = sketched(three_links(), "plan", show=[])
    assert marks["left lower link axle end"].points[0] == (0, 500)


@pytest.mark.parametrize(
    ("upper", "said"),
    [
        ((Point(0, 0, 420), Point(600, 0, 470)), "are parallel and meet at infinity"),
        ((Point(0, 0, 400), Point(600, 0, 452)), "behind the wheels"),
        ((Point(0, 0, 400), Point(600, 0, 448)), "48.00 m ahead of the wheels"),
    ],
)
def test_a_far_meeting_point_is_an_arrow_and_does_not_shrink_the_car(upper, said):
    axle = LiveAxle(three_links().lower, (Link(*upper, "upper link"),), three_links().locator)
    marks, sketch = sketched(axle, show=["instant center"])
    assert said in sketch.sentences[1]
    left, right, _, _ = sketch.window
    tip = marks["instant center arrow"].points[1][0]
    assert tip < left + 100 if "behind" in said else tip > right - 100
    assert draw.axle(axle).scale == pytest.approx(draw.axle(three_links()).scale, rel=0.02)
    assert "instant center" not in marks


def test_passing_through_infinity_changes_neither_scale_nor_paper():
    rest = three_links()
    picture = draw.frame(rest, ("side",))
    ahead = []
    for height in np.linspace(405, 425, 81):  # parallel at 412.5
        picture.draw(draw.painter(moved(rest, {"upper.axle.z": float(height)}), ["instant center"]))
        (axes,) = picture.figure.axes
        assert axes.get_xlim() == windows([rest], ("side",))["side"][:2]
        ahead.append("ahead of" in picture.alt or "infinity" in picture.alt)
    assert ahead == sorted(ahead)
    assert set(ahead) == {True, False}


@pytest.mark.parametrize("views", [("side",), ("plan",), ("front",), VIEWS, ("front", "plan"), ("side", "plan")])
def test_one_mm_is_as_long_in_every_direction_and_every_panel(views):
    picture = draw.axle(three_links(), views)
    lengths = []
    for axes in picture.figure.axes:
        (x, y), (h, v) = axes.transData.transform([(0, 0), (100, 100)])
        lengths += [h - x, v - y]
    assert lengths == pytest.approx([100 * picture.scale] * len(lengths))


# For everyone


def contrast(color):
    """Contrast against white (W3C, Web Content Accessibility Guidelines 2.1, relative luminance)."""
    parts = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in color]
    return 1.05 / (np.dot([0.2126, 0.7152, 0.0722], parts) + 0.05)


@pytest.mark.parametrize("views", [VIEWS, ("side",)])
def test_text_is_large_and_dark_enough(views):
    axle = three_links()
    picture = draw.axle(axle, views, ghost=axle, other=four_links())
    texts = [text for text in picture.figure.findobj(Text) if text.get_text() and text.get_visible()]
    assert len(texts) > 10
    assert min(text.get_size() for text in texts) >= 9
    for text in texts:
        assert contrast(matplotlib.colors.to_rgb(text.get_color())) >= 4.5, text.get_text()  # WCAG, level AA


# Machado, Oliveira, Fernandes: A Physiologically-based Model for Simulation of Color Vision Deficiency, IEEE
# TVCG 15 (2009), severity 1.0; values from memory (their rows sum to one, as they must).
BLIND = {
    "protanopia": "0.152286 1.052583 -0.204868  0.114503 0.786281 0.099216  -0.003882 -0.048116 1.051998",
    "deuteranopia": "0.367322 0.860646 -0.227968  0.280085 0.672501 0.047413  -0.011820 0.042940 0.968881",
    "tritanopia": "1.255528 -0.076749 -0.178779  -0.078411 0.930809 0.147602  0.004733 0.691367 0.303900",
}


def lab(linear):
    """Convert linear sRGB to CIE Lab (IEC 61966-2-1, CIE 15)."""
    xyz = np.array([(0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505)]) @ linear
    f = [np.cbrt(t) if t > 216 / 24389 else t * 841 / 108 + 4 / 29 for t in xyz / (0.9505, 1, 1.089)]
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("kind", BLIND)
def test_colors_that_mean_different_things_stay_apart_for_the_color_blind(kind):
    matrix = np.array(BLIND[kind].split(), float).reshape(3, 3)
    assert matrix.sum(1) == pytest.approx(1, abs=1e-5)
    seen = {}
    for name in ("INK", "ACCENT", "OTHER", "PALE"):
        rgb = np.array(matplotlib.colors.to_rgb(getattr(look, name)))
        linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
        seen[name] = lab(np.clip(matrix @ linear, 0, 1))
    for one, other in itertools.combinations(seen, 2):
        # 2.3 is a just noticeable difference (Mahy et al. 1994, from memory); ten of them cannot be mistaken.
        assert np.linalg.norm(seen[one] - seen[other]) > 23, (one, other)


def test_every_meaning_has_its_own_line_style_marker_or_width_besides_its_color():
    def shape(role):
        kind, _, look = ROLES[role]
        return kind, *(str(look.get(name)) for name in ("ls", "lw", "marker", "ms"))

    meanings = ["link", "other link", "ghost", "construction", "result", "other result", "center line"]
    meanings += ["axle end", "chassis end", "meet", "result point", "other point"]
    ghosted = {"link", "ghost"}  # the same thing, in its two positions
    for one, other in itertools.combinations(meanings, 2):
        assert shape(one) != shape(other) or {one, other} == ghosted, (one, other)


@pytest.mark.parametrize("make", [three_links, four_links, watt, mumford])
@pytest.mark.parametrize("views", [("side",), ("plan",), ("front",), ("side", "plan"), VIEWS])
def test_no_label_lies_over_another_or_leaves_its_panel(make, views):
    picture = draw.axle(make(), views, ghost=make())
    boxes = words(picture)
    assert len(boxes) >= 3
    for (one, a), (other, b) in itertools.combinations(boxes.items(), 2):
        overlap = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        assert min(overlap) <= 1, (one, other)
    panels = [axes.get_window_extent() for axes in picture.figure.axes]
    for text, box in boxes.items():
        assert any(
            panel.x0 <= box.x0 and box.x1 <= panel.x1 and panel.y0 <= box.y0 + 1 and box.y1 <= panel.y1 + 1
            for panel in panels
        ), text


def test_labels_stay_apart_while_the_link_moves():
    rest = three_links()
    picture = draw.frame(rest, ("side",), ghost=rest)
    for height in range(410, 531, 6):
        picture.draw(draw.painter(moved(rest, {"upper.axle.z": height}), None, ghost=rest))
        for a, b in itertools.combinations(words(picture).values(), 2):
            assert min(min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)) <= 1, height


def test_a_notebook_gets_alt_text_and_the_same_plain_text():
    picture = draw.axle(three_links(), VIEWS)
    bundle = picture._repr_mimebundle_()
    (alt,) = re.findall(r'<img [^>]*alt="([^"]+)"', bundle["text/html"])
    assert alt == bundle["text/plain"] == picture.alt
    assert alt.startswith("Side view, forward to the right.")
    assert "Front view, seen from behind." in alt


# The picture


def test_the_png_is_what_matplotlib_drew():
    picture = draw.axle(three_links(), ("side", "plan"))
    shown = pixels(picture.frame())
    drawn = np.asarray(picture.figure.canvas.buffer_rgba())[..., :3].astype(int)
    assert shown.shape == drawn.shape == (picture.height, picture.width, 3)
    error = np.abs(shown - drawn)
    assert error.max() <= 60  # a few pixels where two colors blend
    assert error.mean() < 0.2
    assert pixels(picture.still()).shape == (2 * picture.height, 2 * picture.width, 3)


def test_redrawing_in_place_ends_in_the_same_picture_and_makes_nothing_new():
    rest, goal = three_links(), three_links(520.0)
    picture = draw.axle(rest, ("side", "plan"))
    paint = [draw.painter(three_links(430.0 + 5 * step)) for step in range(12)]
    for painter in paint[:6]:
        picture.draw(painter).frame()
    count = len(picture.figure.findobj())
    for painter in paint[6:]:
        picture.draw(painter).frame()
    assert len(picture.figure.findobj()) == count
    fresh = draw.frame(rest, ("side", "plan")).draw(draw.painter(goal))
    picture.forget()  # otherwise words stay where they were, as long as they cover nothing there
    assert picture.draw(draw.painter(goal)).frame().data == fresh.frame().data
    assert picture.still().data == fresh.still().data
    assert pixels(picture.frame()).tolist() != pixels(draw.axle(rest, ("side", "plan")).frame()).tolist()


def test_the_same_axle_gives_the_same_bytes_whatever_the_readers_settings():
    first = draw.axle(three_links(), VIEWS).still().data
    loud = {"axes.grid": True, "grid.color": "black", "axes.linewidth": 5, "xtick.top": True, "font.size": 30}
    with matplotlib.style.context(["dark_background", loud]):
        assert draw.axle(three_links(), VIEWS).still().data == first
    script = (
        "import hashlib, sys, test_drawings as t; from susgeo import draw;"
        "print(hashlib.sha256(draw.axle(t.three_links(), t.VIEWS).still().data).hexdigest(),"
        " 'matplotlib.pyplot' in sys.modules)"
    )
    command = [sys.executable, "-c", script]
    paths = {"PYTHONPATH": f"{ROOT}:{ROOT / 'tests' / 'draw'}".replace(":", ";" if sys.platform == "win32" else ":")}
    said = subprocess.run(command, capture_output=True, text=True, env={**os.environ, **paths}, check=True)
    assert said.stdout.split() == [hashlib.sha256(first).hexdigest(), "False"]


def test_an_error_leaves_the_picture_as_it_was():
    picture = draw.axle(three_links())
    before, alt = picture.frame().data, picture.alt

    def broken(sketch):
        scenery(sketch, three_links())
        raise SusgeoError("not this one")

    with pytest.raises(SusgeoError, match="not this one"):
        picture.draw(broken)
    assert (picture.frame().data, picture.alt) == (before, alt)


def test_a_construction_is_drawn_one_line_at_a_time():
    axle = three_links()
    everything = {"lower line", "upper line", "instant center"}
    for step, there in [(0, set()), (1, {"lower line"}), (2, {"lower line", "upper line"}), (3, everything)]:
        marks, sketch = sketched(axle, show=["instant center"], step=step)
        assert everything & marks.keys() == there
        assert len(sketch.sentences) == 1 + step
    picture = draw.steps(axle, "side", ["instant center"])
    assert len(picture.figure.axes) == 3
    assert "1. Extend the lower link's line. 2. Extend the upper link's line. 3. Where they meet" in picture.alt


def test_rest_position_and_second_axle_lie_under_their_own_roles():
    marks, _ = sketched(three_links(500.0), ghost=three_links(), other=four_links())
    assert marks["at rest upper link"].role == "ghost"
    assert marks["at rest upper link"].points == ((-50, 470), (400, 450))
    assert marks["second left upper link"].role == "other link"
    assert marks["second instant center"].role == "other point"
    assert not [mark for key, mark in marks.items() if key.startswith("second") and mark.role in ("link", "name")]


def test_a_film_strip_shows_each_axle_in_its_frame():
    axles = [three_links(450.0), three_links(470.0), three_links(490.0), three_links(510.0)]
    picture = draw.strip(axles, "side", ["450 mm", "470 mm", "490 mm", "510 mm"], ["instant center"])
    assert len(picture.figure.axes) == 4
    for number, axle in enumerate(axles):
        _, points, _ = picture._shown[str(number), "upper link"]
        assert points[0][1] == axle.upper[0].axle.z
    assert [picture.alt.index(f"{height} mm:") for height in (450, 470, 490, 510)] == sorted(
        picture.alt.index(f"{height} mm:") for height in (450, 470, 490, 510)
    )


def test_ones_own_part_is_a_function():
    def squat_line(sketch, axle):
        sketch.reach("squat line", (0, 0), (0, 0), axle.side_view_instant_center, "result")
        sketch.say("A line from the contact patch.")

    marks, sketch = sketched(three_links(), show=["instant center", squat_line])
    (start, end) = marks["squat line"].points
    assert start == (0, 0)
    assert end[1] / end[0] == pytest.approx(388.551 / 1782.609, rel=1e-5)
    assert sketch.sentences[-1] == "A line from the contact patch."


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: draw.axle(three_links(), ("top",)), "no view 'top'; choose from side, plan, front"),
        (lambda: draw.axle(three_links(), ()), "choose from side"),
        (lambda: draw.axle(three_links(), ("side",), ["squat"]), "no part 'squat' of this drawing; choose from"),
        (lambda: draw.axle(three_links(np.array([1.0, 2.0]))), "but one of its coordinates is an array"),
        (lambda: draw.axle(three_links(sympy.Symbol("z"))), "but one of its coordinates is a symbol"),
    ],
)
def test_errors_say_what_to_do(call, sentence):
    with pytest.raises(SusgeoError, match=sentence):
        call()


# Lines on paper

WINDOW = (-100.0, 300.0, -50.0, 150.0)


@pytest.mark.parametrize(
    ("line", "ends"),
    [
        (FlatLine("side", 0, 1, -20), {(-100, 20), (300, 20)}),  # v = 20
        (FlatLine("side", 1, 0, -40), {(40, -50), (40, 150)}),  # u = 40
        (FlatLine("side", 1, -1, 0), {(-50, -50), (150, 150)}),  # v = u
        (FlatLine("side", 0, 1, -500), set()),  # above the paper
        (FlatLine("side", 0, 0, 1), set()),  # the line at infinity
    ],
)
def test_a_line_is_cut_at_the_edge_of_the_paper(line, ends):
    sketch = Sketch("side", WINDOW)
    sketch.line("line", line)
    assert {tuple(map(round, point)) for mark in sketch.marks for point in mark.points} == ends


def test_a_line_in_the_front_view_is_mirrored_as_its_points_are():
    sketch = Sketch("front", (-500, 500, -50, 500))
    ends = Point(0, 100, 0), Point(0, 300, 400)
    sketch.line("line", Link(*ends).line)
    (x, y), (h, v) = sketch.marks[0].points
    for a, b in map(sketch.at, ends):
        assert (h - x) * (b - y) == pytest.approx((v - y) * (a - x))


@pytest.mark.parametrize(("w", "way"), [(1e-3, 1), (1e-12, 1), (0.0, 1), (-1e-12, 1), (-1e-3, -1)])
def test_the_way_to_a_far_point_is_forward_until_it_lies_behind(w, way):
    sketch = Sketch("side", WINDOW)
    for sign in (1, -1):  # of all coordinates: the same point
        goal = FlatPoint("side", sign * 1.0, 0.0, sign * w)
        assert sketch.toward((0, 0), (1, 0), goal) == pytest.approx((way, 0))
