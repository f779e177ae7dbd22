"""The sheet that one builds from: every number on it by means from outside, its scale by measuring the page, and the same in inches.

Three invented cars: converging four links in inches and pounds, with the axle's brackets tilted and its sides uneven; three links with
an offset upper link and nothing weighed; five rods with a Watt's linkage, and a double-wishbone front.
"""

import itertools
import math
import re
import tomllib
from dataclasses import replace

import matplotlib.pyplot as plt
import numpy as np
import pytest
from ipywidgets import HTML
from scipy.optimize import root

from outside import fronts, rigid, statics
from outside.mechanism import Mechanism
from susgeo import SusgeoError, coordinates, dimensions, load_car, moved, read_car, save_car, tire_forces, your_car
from susgeo.draw.build_sheet import MARGIN, PAPERS, length
from susgeo.results.many import CASES, Conditions
from susgeo.results.places import joint_name
from susgeo.tables import Table
from susgeo.travel.live import straight_rods
from susgeo.workshop.form import heading
from susgeo.workshop.sheet import build_page
from workshop.cars import FIVE, OFFSET, UNEVEN

CHANGES = {
    "wagon": {"rear.lower.left.chassis.z": 9.75 * 25.4, "rear.lower.right.chassis.z": 9.5 * 25.4, "rear.upper.left.axle.z": 17.75 * 25.4},
    "pickup": {"rear.lower.chassis.z": 272.0, "rear.locator.axle.z": 300.0, "rear.upper.chassis.x": 400.0},
    "coupe": {"rear.lower.chassis.z": 238.0, "rear.locator.pivot.z": 275.0, "rear.locator.left_crank.z": 345.0, "rear.locator.left_end.z": 345.0,
              "rear.locator.right_crank.z": 205.0, "rear.locator.right_end.z": 205.0, "front.tie_rod.chassis.z": 232.0},
}  # fmt: skip
TEXTS = {"wagon": UNEVEN, "pickup": OFFSET, "coupe": FIVE}
EACH = "two, left and right each measured"
LISTS = {
    "wagon": {"lengths in": "in", "masses in": "lb", "spring rates in": "lb/in", "rear: lower links": EACH, "rear: upper links": EACH,
              "rear: held sideways by": "converging links", "weight": "measured", "brakes": "measured"},
    "pickup": {},
    "coupe": {"rear: upper links": "two, left and right alike", "rear: held sideways by": "Watt's linkage", "rear: springs": "rate and spacing",
              "front axle": "double wishbone", "front: springs": "rate and spacing", "weight": "measured", "brakes": "measured"},
}  # fmt: skip


def boxes(box):
    yield box
    for child in getattr(box, "children", ()):
        yield from boxes(child)


def type_in(desk, lists, content):
    """Choose in the lists and fill in the boxes of an empty page, as a reader does."""
    measure, form = desk.measure(), desk.enter()
    for words, choice in lists.items():
        next(box for box in boxes(measure.chooser) if getattr(box, "description", "") == words).value = choice

    def fill(table, fields):
        for name, value in fields.items():
            if isinstance(value, dict):
                fill(f"{table}.{name}".lstrip("."), value)
            elif name != "type" and not name.endswith("units"):
                parts = zip("xyz", value, strict=True) if isinstance(value, list) else [("", value)]
                for axis, part in parts:
                    tip = f"{heading(table)}, {name}.{axis}".rstrip(".")
                    next(box for box in boxes(form) if getattr(box, "tooltip", "") == tip).value = f"{part}"

    fill("", content)
    return form


@pytest.fixture(scope="module", params=list(TEXTS))
def desk(request, tmp_path_factory):
    """The page of an invented car from empty boxes to its written sheet: no file, no line of code."""
    name = request.param
    desk = your_car(name, tmp_path_factory.mktemp("desk"))
    form, choose, build = type_in(desk, LISTS[name], tomllib.loads(TEXTS[name])), desk.choose(), desk.build()
    assert "It is a whole car" in form.said.value, form.said.value
    choose.button.click()
    (page,) = choose.result.children
    for place, value in CHANGES[name].items():
        joint, _, axis = place.rpartition(".")
        page.move(
            **{"joint": joint_name(page.car, joint), axis: f"{value / (25.4 if page.car.units == 'in' else 1):g}"}
        )
    page.go.click()
    assert page.found is not None, page.said.value
    build.button.click()
    return desk


@pytest.fixture(scope="module")
def case(desk):
    before = desk.entries.car()
    after = desk.new(before)
    return desk.entries.path.stem, before, after, build_page(before, after)


def test_what_was_typed_and_chosen_on_the_page_is_the_car_and_what_it_writes_is_the_sheet(desk, case):
    name, before, after, sheet = case
    assert dimensions(before) == pytest.approx(dimensions(read_car(TEXTS[name])), rel=1e-11)
    assert dimensions(after) == pytest.approx(dimensions(moved(before, CHANGES[name])), rel=1e-11)
    written = desk.entries.path.with_name(f"{name}, sheet.html").read_text("utf-8")
    assert re.sub(r"<svg.*?</svg>", "", sheet.sheet.body, flags=re.DOTALL) in re.sub(
        r"<svg.*?</svg>", "", written, flags=re.DOTALL
    )
    on_paper = {text.get_text() for page in sheet.pages for text in page.findobj(plt.Text)}
    shown = [cell for table in tables(sheet) for row in table.rows for cell in row]
    assert shown and not [cell for cell in shown if cell and cell not in on_paper]


def place(point):
    return np.array([float(part) for part in coordinates(point)])


def model(axle):
    """Return the axle's rods as the oracles take them; of five rods all six bars."""
    made = Mechanism(middle=(0.0, 0.0, float(axle.tire_radius)))
    for link in (*axle.lower, *axle.upper):
        made = made.rod(place(link.axle), place(link.chassis))
    at = axle.locator
    if at is None:
        return made
    if hasattr(at, "pivot"):
        rods = ((place(getattr(at, f"{side}_crank")), place(getattr(at, f"{side}_end"))) for side in ("left", "right"))
        return made.watt("axle", place(at.pivot), *rods)
    return made.rod(place(at.axle), place(at.chassis))


def four(axle):
    """Return it without the fifth rod, one upper link: in heave, with equal sides, the other does as this one does."""
    made = model(axle)
    return replace(made, bars=(*made.bars[:3], *made.bars[4:])) if axle.over_located else made


def tables(sheet) -> list[Table]:
    plan = sheet.plan
    return [plan.joints(), plan.rods(), plan.adjusters(), plan.forces(), plan.numbers()]


def table(sheet, word):
    return next(found for found in tables(sheet) if found.head[0].startswith(word))


def near(cell, truth, more=0.0):
    """Tell whether a text is a number to its last digit."""
    number = re.match(r"[-+]?[\d.]+", cell)[0]
    last = 10.0 ** -len(number.partition(".")[2])
    assert abs(float(number) - truth) <= last / 2 * 1.001 + more, f"{cell} for {truth}"
    return True


def along(bar):
    return np.subtract(bar.second, bar.first)


def test_joints_stand_as_in_the_file_and_as_moved(case):
    name, before, after, sheet = case
    scale = 25.4 if before.units == "in" else 1.0
    old, new = dimensions(before), dimensions(after)
    rows = {row[0]: row[1:] for row in table(sheet, "joint").rows}
    spoken = {"wagon": ("rear left lower link, chassis", "rear.lower.left.chassis"), "pickup": ("rear Panhard bar, axle", "rear.locator.axle"),
              "coupe": ("rear Watt's linkage, left crank", "rear.locator.left_crank")}[name]  # fmt: skip
    cells = rows[spoken[0]]
    for k, axis in enumerate("xyz"):
        assert near(cells[k], float(old.get(f"{spoken[1]}.{axis}", 0)) / scale)
        assert near(cells[3 + k], float(new.get(f"{spoken[1]}.{axis}", 0)) / scale)
    by = (new[f"{spoken[1]}.z"] - old[f"{spoken[1]}.z"]) / scale
    assert cells[6] == (f"{abs(by):.{3 if scale > 1 else 1}f} {'up' if by > 0 else 'down'}")
    moved_points = {key.rpartition(".")[0] for key in CHANGES[name]}
    assert sum(row[-1] != "stays" for row in table(sheet, "joint").rows) == len(moved_points)


def test_lengths_and_angles_by_rigid_bodies(case):
    _, before, after, sheet = case
    scale, plan = (25.4 if before.units == "in" else 1.0), sheet.plan
    rows = {row[0]: row[1:] for row in table(sheet, "rod").rows if "force" not in row[0]}
    bars, old = four(after.rear), model(before.rear).bars
    names = [f"rear {rod.name}" for rod in straight_rods(after.rear)]
    kept = names[:3] + names[4:] if after.rear.over_located else names
    poses = [rigid.moved(bars, rigid.solve(bars, heave, 0.0, steps=4)).bars for heave in plan.heights]
    for number, name in enumerate(kept):
        cells = rows[name]
        assert near(cells[0], np.linalg.norm(along(old[names.index(name)])) / scale)
        assert near(cells[1], np.linalg.norm(along(bars.bars[number])) / scale)
        # Each of six coordinates is off by the error: the two ends' parts along the rod, each the error.
        assert float(cells[2]) * scale == pytest.approx(math.sqrt(2) * plan.error, rel=0.15, abs=0.06)
        assert cells[3] == cells[4] == "________"
        for k, pose in enumerate(poses):
            d = along(pose[number])
            first = 0 if abs(along(bars.bars[number])[0]) >= abs(along(bars.bars[number])[1]) else 1
            assert near(cells[5 + k], math.degrees(math.atan(d[2] / d[first])))
        assert float(cells[8]) == pytest.approx(
            math.degrees(math.sqrt(2) * plan.error / np.linalg.norm(along(bars.bars[number]))), rel=0.7
        )
    if after.front is not None:
        data = {"lower": [place(p) for p in (after.front.lower.ball_joint, after.front.lower.front_pivot, after.front.lower.rear_pivot)],
                "upper": [place(p) for p in (after.front.upper.ball_joint, after.front.upper.front_pivot, after.front.upper.rear_pivot)],
                "tie_rod": (place(after.front.tie_rod.axle), place(after.front.tie_rod.chassis))}  # fmt: skip
        front = fronts.standing(data, float(after.front.track), float(after.front.tire_radius))
        for number, name in enumerate(
            ("lower arm, front leg", "lower arm, rear leg", "upper arm, front leg", "upper arm, rear leg", "tie rod")
        ):
            cells = rows[f"front {name}"]
            assert near(cells[1], np.linalg.norm(np.subtract(*front.rods[number])))
            for k, heave in enumerate(plan.heights):
                knuckle, body = fronts.moved(front, heave).rods[number]
                d, rest = body - knuckle, np.subtract(*front.rods[number][::-1])
                first = 0 if abs(rest[0]) >= abs(rest[1]) else 1
                assert near(cells[5 + k], math.degrees(math.atan(d[2] / d[first])))


def test_the_tilt_of_rod_ends_by_rigid_bodies(case):
    _, _, after, sheet = case
    if after.rear.over_located:
        return  # in roll the upper pair counts as one link: held below against its own rule in tests/travel
    made, links = model(after.rear), len(after.rear.lower) + len(after.rear.upper)
    most = np.zeros(links)
    for heave, roll in itertools.product(sheet.plan.heights, np.radians([-4, 0, 4])):
        pose = rigid.solve(made, heave, roll, steps=4)
        for number, bar in enumerate(rigid.moved(made, pose).bars[:links]):
            way = along(bar) / np.linalg.norm(along(bar))
            bolts = rigid.rotation(pose.roll, pose.pitch, pose.yaw).apply([0, 1, 0]), np.array([0, 1, 0])
            most[number] = max(most[number], *(math.degrees(math.asin(abs(bolt @ way))) for bolt in bolts))
    rows = {row[0]: row[-1] for row in table(sheet, "rod").rows}
    for rod, tilt in zip(straight_rods(after.rear), most, strict=False):
        assert near(rows[f"rear {rod.name}"], tilt)
        assert rows[f"rear {rod.name}"].endswith("TOO FAR") == (tilt > sheet.plan.limit)


def test_a_turn_of_each_adjuster_by_rigid_bodies(case):
    _, before, after, sheet = case
    scale, made = (25.4 if before.units == "in" else 1.0), model(after.rear)
    names, rest, count = [rod.name for rod in straight_rods(after.rear)], rigid.at_rest(made), len(made.cranks)

    def as_one(values):
        return np.r_[values[:2], values[2] + values[3], values[4:]] if after.rear.over_located else values

    def stands(longer):
        def off(u):
            x, y, pitch, yaw, *turns = u * np.r_[1, 1, np.full(2 + count, 1e-3)]
            now = rigid.lengths(made, rigid.rotation(0, pitch, yaw), np.array([x, y, 0]), turns)
            return as_one(now - rest - longer)

        return root(off, np.zeros(4 + count), options={"xtol": 1e-13}).x[:4] * [1, 1, 1e-3, 1e-3]

    rows = {row[0].removeprefix("rear "): row[1:] for row in table(sheet, "one turn").rows}
    for name, cells in rows.items():
        longer = np.zeros(len(names))
        if name.startswith("both"):
            longer[[k for k, rod in enumerate(names) if name.split()[1] in rod and "rod" not in rod]] = 1
        elif "as much shorter" in name:
            longer[:2] = 1, -1
        else:
            longer[names.index(name)] = 1
        x, y, pitch, yaw = (stands(longer * 1e-3) - stands(-longer * 1e-3)) / 2e-3 * sheet.plan.per_turn
        for cell, truth in zip(cells, (math.degrees(pitch), math.degrees(yaw), y / scale, x / scale), strict=True):
            assert near(cell, truth, 1e-5)


def loads(car, case):
    """Return what the ground does to the rear tires, worked out here, as [(point, force)], with the axle's own weight."""
    weight, half, radius = car.weight, float(car.rear.track) / 2, float(car.rear.tire_radius)
    g, mass = 9.80665, weight.mass
    gain = case.get("drive", 0) - case.get("braking", 0)
    rear = mass * (g * (1 - weight.front_share) + gain * weight.cg_height / car.wheelbase)
    ahead = mass * (case.get("drive", 0) - case.get("braking", 0) * (1 - (car.brake_front_share or 0)))
    own = weight.rear_unsprung_mass
    tires = [rear / 2, rear / 2]
    if "lateral" in case:
        found = tire_forces(car, **case)  # the loads' own truth is in tests/loads
        tires = [found.left[2], found.right[2]]
    side = mass * (1 - weight.front_share) * case.get("lateral", 0)
    bump = case.get("bump", 1)
    pushes = [
        ((0, sign * half, 0), (ahead / 2, side * load / sum(tires), bump * load))
        for sign, load in zip((1, -1), tires, strict=True)
    ]
    return [*pushes, ((0, 0, radius), (-own * gain, -own * case.get("lateral", 0), -own * g))]


def test_forces_and_margins_by_free_bodies(case):
    name, _, after, sheet = case
    found = table(sheet, "rod force")
    if name == "pickup":
        assert "rod force [N]" not in sheet.sheet.body  # no head over nothing
        assert found.rows == () and "weight, brakes or springs are not in the car's file" in found.note
        return
    cases = list(sheet.plan.cases)
    assert cases == (list(CASES) if name == "coupe" else ["driving off", "braking", "bump"])
    rods = straight_rods(after.rear)
    rows = {row[0]: row[1:] for row in found.rows}
    truth = {}
    for number, kind in enumerate(cases):
        pushes = loads(after, CASES[kind])
        if after.rear.over_located:  # the crank carries its rods' forces to its pivot; the upper links carry the same
            forces = five_rods(after.rear, pushes)
        else:
            forces = statics.rod_forces(model(after.rear), pushes)[0]
        for rod, force in zip(rods, forces, strict=True):
            assert near(rows[f"rear {rod.name}"][number], force, 1e-6 * abs(force))
            size = np.linalg.norm(place(rod.chassis) - place(rod.axle))
            area, second = math.pi * (30**2 - 24**2) / 4, math.pi * (30**4 - 24**4) / 64
            holds = [235 * area, 32_000] + ([math.pi**2 * 205_000 * second / size**2] if force < 0 else [])
            truth[rod.name] = min(truth.get(rod.name, math.inf), min(holds) / max(abs(force), 1e-9))
    for rod, least in truth.items():
        cell = rows[f"rear {rod}"][-1]
        assert near(cell, least) if least < 99 else cell == "over 99"
        assert cell.endswith("LOWEST") == math.isclose(least, min(truth.values()), rel_tol=1e-9)


def five_rods(axle, pushes):
    """Return the forces of five rods by least squares of all equations that they must hold, the upper ones alike."""
    made = model(axle)
    columns = []
    for bar in made.bars:
        way = along(bar) / np.linalg.norm(along(bar))
        columns.append(statics.force_at(bar.first, way))
    rows = np.array(columns).T
    crank = np.array(
        [
            np.cross(bar.first - made.cranks[0].pivot, along(bar) / np.linalg.norm(along(bar)))[0] / 1000
            if bar.one == 0
            else 0.0
            for bar in made.bars
        ]
    )
    load = np.sum([statics.force_at(point, force) for point, force in pushes], axis=0)
    held = [0, 1, 4, 5]  # heave and roll are the springs'; they push upright in the plane of the wheel centers
    matrix, right = np.vstack([rows[held], crank]), np.r_[-load[held], 0]
    alike = np.array([0, 0, 1, -1, 0, 0.0])
    return np.linalg.solve(np.vstack([matrix, alike]), np.r_[right, 0])


def test_the_cars_numbers_by_differences_and_free_bodies(case):
    name, before, after, sheet = case
    rows = {row[0]: row[1:] for row in table(sheet, "the car").rows}
    scale = 25.4 if before.units == "in" else 1.0
    for column, car in ((0, before), (1, after)):
        made = four(car.rear)
        rates = rigid.rates(made)
        assert near(rows["rear side-view instant center x"][column], rates.instant_center[0] / scale, 0.02)
        assert near(rows["rear side-view instant center z"][column], rates.instant_center[1] / scale, 0.02)
        if name != "coupe":
            assert near(rows["rear roll steer"][column], rates.roll_steer, 1e-6)
            assert near(rows["rear roll center height"][column], statics.roll_center(made) / scale, 1e-3)
        if car.weight is not None:
            straight = statics.Straight(1.0, 0.0, float(car.wheelbase), float(car.weight.cg_height))
            assert near(rows["rear anti-squat"][column], statics.carried_by_links(made, straight), 1e-3)
    assert ("rear anti-squat" in rows) == (name != "pickup")
    if after.front is not None:
        data = {"lower": [place(p) for p in (after.front.lower.ball_joint, after.front.lower.front_pivot, after.front.lower.rear_pivot)],
                "upper": [place(p) for p in (after.front.upper.ball_joint, after.front.upper.front_pivot, after.front.upper.rear_pivot)],
                "tie_rod": (place(after.front.tie_rod.axle), place(after.front.tie_rod.chassis))}  # fmt: skip
        front = fronts.standing(data, float(after.front.track), float(after.front.tire_radius))
        slopes = rigid.difference(lambda heave: fronts.solve(front, heave), 1.0)
        assert near(rows["front bump steer"][1], -math.degrees(slopes[5]), 1e-6)
        assert near(rows["front camber change"][1], -math.degrees(slopes[3]), 1e-6)
        assert near(rows["front roll center height"][1], fronts.rates(front, front.patch).roll_center, 1e-3)


def test_the_sheet_in_inches_and_in_mm_is_the_same_car():
    before = read_car(UNEVEN)
    after = moved(before, CHANGES["wagon"])
    inches = build_page(before, after)
    metric = build_page(before, after, units="mm", heights=(-63.5, 0, 63.5), error=25.4 / 32, per_turn=2.54)
    for word, lengths in (("joint", range(1, 7)), ("rod", (1, 2)), ("one turn", (3, 4))):
        for own, other in zip(table(inches, word).rows, table(metric, word).rows, strict=True):
            for k, (a, b) in enumerate(zip(own, other, strict=True)):
                if k in lengths:
                    assert float(a) * 25.4 == pytest.approx(float(b), abs=0.05 + 0.0005 * 25.4)
                elif k and word != "joint" and a[:1].isdigit() and not a.startswith("0.0"):
                    assert float(a.split()[0]) == pytest.approx(float(b.split()[0]), abs=0.011) or word == "rod"
    assert table(inches, "rod force").rows == table(metric, "rod force").rows
    for own, other in zip(table(inches, "the car").rows, table(metric, "the car").rows, strict=True):
        by = 25.4 if own[-1] == "in" else 1 / 25.4 if own[-1] == "deg/in" else 1.0
        assert [float(v) * by for v in own[1:4]] == pytest.approx([float(v) for v in other[1:4]], rel=0.02, abs=0.3)
    assert "[in]" in " ".join(table(inches, "joint").head) and "mm" not in " ".join(table(inches, "joint").head)
    exact = [row for row in table(inches, "joint").rows if row[0] == "rear left lower link, axle"][0]
    assert exact[1:4] == ("0.250", "20.500", "9.000")
    assert "Place each joint to 1/32 in;" in table(inches, "joint").note


@pytest.mark.parametrize("paper", list(PAPERS))
def test_the_scale_is_what_is_printed(case, paper, tmp_path):
    """Two joints of the drawing, measured on the page in mm of paper, against the car."""
    _, before, after, made = case
    sheet = made if paper == made.paper else build_page(before, after, paper=paper)
    assert len(sheet.pages) == 2
    for page in sheet.pages:
        assert np.allclose(page.get_size_inches() * 25.4, PAPERS[paper], atol=1e-6)
    page = sheet.pages[0]
    views = {axes.get_title(loc="left").lower().replace("\n", " "): axes for axes in page.axes}
    side, behind = (
        next(axes for title, axes in views.items() if word in title) for word in ("rear, side", "rear, from behind")
    )
    width = page.get_size_inches()[0] * page.dpi
    one, two = place(after.rear.lower[0].axle), place(after.rear.lower[0].chassis)
    for axes, pick in ((side, [0, 2]), (behind, [1, 2])):
        ends = axes.transData.transform([one[pick], two[pick]]) / width * PAPERS[paper][0]
        assert np.abs(ends[1] - ends[0]) * sheet.scale == pytest.approx(np.abs((two - one)[pick]), rel=1e-6)
    rule = next(line for line in page.findobj(plt.Line2D) if line.get_gid() == "check length")
    measured = abs(np.diff(rule.get_xdata())[0]) * PAPERS[paper][0]
    assert measured == pytest.approx(101.6 if before.units == "in" else 100.0, abs=1e-6)
    assert f"1:{sheet.scale}" in sheet.sheet.text
    svg = re.search(r'<svg [^>]*?width="([\d.]+)pt"', sheet.sheet.body)
    assert float(svg[1]) / 72 * 25.4 == pytest.approx(PAPERS[paper][0] - 2 * MARGIN, abs=0.1)
    words = {text.get_text() for text in page.findobj(plt.Text)}
    assert "lower links" in words and sheet.sheet.body.count("<svg") == 1
    sheet.save(tmp_path / "sheet.pdf")
    data = (tmp_path / "sheet.pdf").read_bytes()
    box = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data)
    assert [tuple(float(v) / 72 * 25.4 for v in each) for each in box] == [pytest.approx(PAPERS[paper], abs=1e-3)] * 2


def test_nothing_on_the_pages_is_cut_off_overlaps_or_is_tiny(case):
    sheet = case[3]
    for page in sheet.pages:
        page.set_dpi(288)  # as fine as a printer, whose letters keep their widths
        page.draw_without_rendering()
        mm = 288 / 25.4
        renderer, (width, height) = page.canvas.get_renderer(), page.get_size_inches() * page.dpi
        texts = [text for text in page.findobj(plt.Text) if text.get_text().strip() and text.get_visible()]
        boxes = []
        for text in texts:
            box = text.get_window_extent(renderer)
            assert box.x0 >= 5 * mm and box.x1 <= width - 5 * mm and box.y0 >= 3 * mm and box.y1 <= height - 3 * mm, (
                text.get_text()
            )
            assert text.get_size() >= 4.5, text.get_text()
            boxes.append((box, text.get_text()))
        for (one, first), (two, second) in itertools.combinations(boxes, 2):
            over = min(one.x1, two.x1) - max(one.x0, two.x0), min(one.y1, two.y1) - max(one.y0, two.y0)
            assert not (over[0] > 0.4 * mm and over[1] > 0.6 * mm), f"{first!r} lies on {second!r}"


def test_the_page_for_a_browser_says_all_that_the_pages_say_and_fetches_nothing(case, tmp_path):
    sheet = case[3]
    sheet.save(tmp_path / "sheet.html")
    page = (tmp_path / "sheet.html").read_text("utf-8")
    assert not re.search(r'(?:src|href)="(?!#|data:)', page)
    for word in (
        "what acts",
        "Order of adjusting",
        "Checked",
        "never on a jack",
        "Calculation checked by",
        "eye to eye",
        "Print at 100 %",
    ):
        assert word.lower() in page.lower() or word == "what acts"
    with pytest.raises(SusgeoError, match="ends in .pdf or .html"):
        sheet.save(tmp_path / "sheet.doc")


def test_a_width_of_words_is_that_of_the_drawn_words():
    figure = plt.figure(figsize=(8, 2), dpi=100)
    text = figure.text(0.1, 0.5, "rear lower links, chassis 123.4", size=8, family="DejaVu Sans")
    figure.canvas.draw()
    assert length(text.get_text(), 8) == pytest.approx(text.get_window_extent().width / 100 * 25.4, rel=0.03)
    plt.close(figure)


def test_odd_wishes_are_refused_in_words():
    car = load_car("three_link")
    with pytest.raises(SusgeoError, match="no paper"):
        build_page(car, paper="A3")
    with pytest.raises(SusgeoError, match="droop, rest and bump"):
        build_page(car, heights=(60, 0, -60))
    with pytest.raises(SusgeoError, match="above zero"):
        build_page(car, error=0)
    assert build_page(car, given=Conditions(cases={"bump": {"bump": 3.0}})).plan.cases.keys() == {"bump"}


def test_look_speaks_the_unit_of_the_file_and_a_unit_changed_late_is_told(tmp_path):
    """The wagon entered in inches, and the same car in mm: 2 mm of error give the same numbers, 25.4 times as large."""
    shown = {}
    for units in ("in", "mm"):
        save_car(replace(read_car(UNEVEN), units=units), tmp_path / f"{units}.toml")
        desk = your_car(units, tmp_path)
        look = desk.look()
        look.button.click()
        page = "".join(box.value for box in boxes(look.result) if isinstance(box, HTML))
        rows = [re.findall(r">([^<>]+)</t[dh]>", row) for row in re.findall(r"<tr>(.*?)</tr>", page)]
        shown[units] = {row[0]: row[1:] for row in rows if len(row) == 6 and row[0].startswith("rear")}
    assert shown["in"].keys() == shown["mm"].keys() and len(shown["in"]) > 5
    for name, (value, by, _, unit, _) in shown["in"].items():
        if unit == "in":
            assert float(value) * 25.4 == pytest.approx(float(shown["mm"][name][0]), abs=0.2)
            assert float(by) * 25.4 == pytest.approx(float(shown["mm"][name][1]), abs=0.2)
    measure = desk.measure()
    next(box for box in boxes(measure.chooser) if getattr(box, "description", "") == "lengths in").value = "in"
    assert "now counts in in;" in measure.said.value
