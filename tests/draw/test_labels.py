"""No word of any picture of any lesson lies on a line, a dot or another word, and no two leaders cross.

A letter without a leader is nearer to its own point than to any other.

Read off each picture's own geometry, by sums of this file's own: what a lesson's cells draw, its strips, its bench at
twenty places of each slider, its tasks' drawings and worked solutions, and what each known slip is shown with.
"""

import ast
import itertools
from dataclasses import replace
from pathlib import Path

import nbformat
import numpy as np
import pytest

from susgeo import Point, Springs, load_car, written_out
from susgeo.answers import Lesson
from susgeo.answers.calculation import library
from susgeo.answers.paper import on_paper
from susgeo.bench import live
from susgeo.car.coils import AntiRollBar, Coil, Damper
from susgeo.draw import drawings
from susgeo.draw.lettering import lettering
from susgeo.draw.look import ROLES
from susgeo.draw.picture import Picture
from susgeo.draw.still import Still
from susgeo.errors import SusgeoError

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
LESSONS = sorted(NOTEBOOKS.glob("[01][0-9]_*.ipynb"))
DRAWS = {"axle", "car", "steps", "strip", "bench", "task", "free_body", "leaning_body", "roll_steer"}
HATCH, ASCENT, DESCENT = "hatch", 3, 4  # short strokes below the ground; what a line of words leaves free, in pixels


def faults(picture):
    """Return what lies on what in a picture as it is now."""
    found = []
    for panel in picture.panels:
        box, scale = picture.boxes[panel.name], picture.scale
        zero = box[:2] - scale * np.array([panel.window[0], panel.window[2]])
        words, lines, leaders, dots = [], [], [], []
        for (name, key), (role, points, text) in picture._shown.items():
            kind = ROLES[role][0]
            if name != panel.name or role == HATCH:
                continue
            if kind == "label":
                (x, y), (high, wide) = points[0], lettering(text).shape
                words.append((text, key, np.array([x + 1, y - high + DESCENT, x + wide - 1, y - ASCENT])))
                if x < box[0] or x + wide > box[2] or y - high < box[1] or y > box[3]:
                    found.append(f"{text!r} leaves its panel")
                continue
            places = scale * np.array(points, float) + zero
            if kind == "dot":
                dots += [(key, place) for place in places[:1]]
                continue
            closed = np.vstack([places, places[:1]]) if kind == "area" else places
            lines += [(key, one, other) for one, other in itertools.pairwise(closed)]
            if key.endswith(" leader"):
                leaders.append((key, closed[0], closed[1]))
        for (one, _, a), (other, _, b) in itertools.combinations(words, 2):
            if (a[:2] < b[2:]).all() and (b[:2] < a[2:]).all():
                found.append(f"{one!r} on {other!r}")
        for text, key, area in words:
            found += [f"{text!r} on {line}" for line, one, other in lines if line != f"{key} leader" and hits(area, one, other)]  # fmt: skip
            found += [
                f"{text!r} on {dot}" for dot, at in dots if (at > area[:2] - 3).all() and (at < area[2:] + 3).all()
            ]
            apart = {dot: np.hypot(*(np.clip(at, area[:2], area[2:]) - at)) for dot, at in dots}
            own = apart.get(key.rpartition(" ")[0]) if len(text) <= 2 else None  # the dot that a letter is of
            if own is not None and f"{key} leader" not in {name for name, _, _ in leaders}:
                found += [f"{text!r} is nearer to {dot}" for dot, gap in apart.items() if gap < own - 0.5]
        for (one, a, b), (other, c, d) in itertools.combinations(leaders, 2):
            if turn(a, b, c) * turn(a, b, d) < -1e-6 and turn(c, d, a) * turn(c, d, b) < -1e-6:
                found.append(f"{one} crosses {other}")
    return found


def turn(a, b, c):
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def hits(box, one, other):
    """Tell whether a stroke passes through a box: its middle part, cut off at the four edges, is not empty."""
    part = [0.0, 1.0]
    for edge, sign in ((0, 1), (1, 1), (2, -1), (3, -1)):
        inside, step = sign * (one[edge % 2] - box[edge]), sign * (other[edge % 2] - one[edge % 2])
        if step == 0:
            part = part if inside > 0 else [1.0, 0.0]
        else:
            part = [max(part[0], -inside / step), part[1]] if step > 0 else [part[0], min(part[1], -inside / step)]
    return part[0] < part[1]


def cells_that_draw(notebook):
    """Return the cells that draw, and those that make what they need."""
    kept, wanted = [], set()
    for cell in reversed([cell for cell in notebook.cells if cell.cell_type == "code"]):
        nodes = list(ast.walk(ast.parse(cell.source)))
        made = {node.id for node in nodes if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}
        made |= {node.name for node in nodes if isinstance(node, ast.FunctionDef | ast.ClassDef)}
        made |= {(one.asname or one.name).split(".")[0] for node in nodes if isinstance(node, ast.Import | ast.ImportFrom)
                 for one in node.names}  # fmt: skip
        called = {
            getattr(node.func, "attr", getattr(node.func, "id", "")) for node in nodes if isinstance(node, ast.Call)
        }
        if called & DRAWS or made & wanted:
            kept.append(cell.source)
            used = {node.id for node in nodes if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)}
            wanted = (wanted - made) | used
    return kept[::-1]


def slips(number):
    """Draw each task's worked solution, and what each known slip is shown with."""
    lesson = Lesson(number, "club")
    for key, task in lesson.tasks.items():
        if task.kind not in ("number", "working"):
            continue
        _ = lesson.solution(key).picture
        calculation = library()[0][task.of]
        known = {name: figure.value for name, figure in lesson.known(key).items()}
        for _, values in calculation.wrong_turns(known, task.find):
            lines = calculation.lines_to(task.find)[-1 if task.kind == "number" else 0 :]
            answer = "\n".join(f"{line.name} = {on_paper(values[line.name], line.unit)}" for line in lines)
            _ = lesson.check(key, answer.split(" = ")[1] if task.kind == "number" else answer, keep=False).picture


@pytest.mark.parametrize("path", LESSONS, ids=[path.name[:2] for path in LESSONS])
def test_words_lie_on_no_line_and_on_no_other_word(path, monkeypatch):
    found, count, benches, names = [], [0], [], {"__name__": "lesson"}
    draw, make = Picture.draw, live.Bench.__init__

    def drawn(picture, painter):
        draw(picture, painter)
        count[0] += 1
        found.extend(f"{picture.panels[0].title}: {fault}" for fault in faults(picture))
        return picture

    def made(bench, *args, **more):
        make(bench, *args, **more)
        benches.append(bench)

    def blank(picture):
        return Still(b"", picture.alt, picture.width, picture.height)

    for name, instead in (("draw", drawn), ("still", blank), ("frame", blank)):
        monkeypatch.setattr(Picture, name, instead)
    monkeypatch.setattr(live.Bench, "__init__", made)
    monkeypatch.chdir(NOTEBOOKS)
    for source in cells_that_draw(nbformat.read(path, as_version=4)):
        exec(compile(source, path.name, "exec"), names)  # noqa: S102 (our own notebooks)
    for bench in benches:
        bench.film()
        for slider in bench.sliders:
            for value in np.linspace(slider.low, slider.high, 20):
                try:
                    thing = slider.moved(bench.rest, float(value))
                except SusgeoError:
                    continue  # the bench says so and keeps the last drawing
                bench.picture.draw(drawings.painter(thing, bench.show, ghost=bench.rest))
            bench.picture.forget()
    slips(path.name[:2])
    assert count[0] > 20
    assert found == []


def test_springs_dampers_and_drop_links_stand_where_the_file_has_them():
    """In every view, both sides but from the side; and no word of theirs lies on a line."""
    front = Springs(
        coil=Coil(Point(10, 470, 190), Point(0, 430, 480), "lower arm", rate=60),
        damper=Damper(Point(20, 560, 210), Point(10, 500, 700), "knuckle"),
        bar=AntiRollBar(Point(-70, 520, 185), Point(-75, 515, 330), "lower arm", 20, 900, 220),
    )
    arm, coupe = load_car("torque_arm"), load_car("club_coupe")
    both = replace(coupe, front_springs=front, rear_springs=arm.rear_springs)
    for car, ends in ((replace(arm, front=None), ["rear"]), (both, ["rear", "front"]), (arm, ["rear", "front"])):
        for views in (("side", "plan", "front"), ("side",), ("plan",), ("front",)):
            picture = drawings.car(car, views)
            assert faults(picture) == []
            for end, view, word in itertools.product(ends, views, ("coil", "damper", "bar")):
                line, ahead = getattr(getattr(car, f"{end}_springs"), word), car.wheelbase if end == "front" else 0.0
                name = {"coil": "coil spring", "bar": "drop link"}.get(word, word)
                for side, sign in (("left", 1), ("right", -1)):
                    found = picture._shown.get((view, f"{end} {side} {name}"))
                    if view == "side" and side == "right":
                        assert found is None
                        continue
                    for at, place in zip((line.axle, line.chassis), (found[1][0], found[1][-1]), strict=True):
                        x, y, z = at.x + ahead, sign * at.y, at.z
                        assert place == pytest.approx({"side": (x, z), "plan": (x, y), "front": (-y, z)}[view])
                labels = [text for _, _, text in picture.marks(view)]
                assert name in labels or view == "front" or len(views) > 1
    for name in ("rear spring motion ratio", "front drop link roll arm", "front damper motion ratio"):
        assert faults(written_out(both, name).picture) == []
