"""What a control of a page calls takes its turn: JupyterLab runs the controls of one page in several threads."""

import ast
import shutil
import sys
from collections import defaultdict
from pathlib import Path

import ipywidgets

from susgeo import files, load_car
from susgeo.answers import Lesson
from susgeo.bench import Slider, bench
from susgeo.workshop.page import Desk

HOUSE = Path(files.__file__).parent
FOLDERS = ("answers", "bench", "workshop")
WAYS = {"observe": ipywidgets.Widget, "on_msg": ipywidgets.Widget, "on_click": ipywidgets.Button, "on_submit": ipywidgets.Text}  # fmt: skip


class Asked(BaseException):
    """A handler asked for its turn before it did anything."""


class Turn:
    """A lock that nobody gets; it is asked in time by the handler itself, or by what lambdas alone lead to."""

    def __enter__(self):
        caller = sys._getframe(2)
        while caller.f_code.co_name == "<lambda>":
            caller = caller.f_back
        raise Asked if caller.f_code.co_filename == __file__ else RuntimeError("asked too late")

    def __exit__(self, *_):
        pass


def written():
    """Return where the source hands a handler to a control: file, first and last line."""
    found = set()
    for path in (path for folder in FOLDERS for path in (HOUSE / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in WAYS:
                found.add((path.relative_to(HOUSE).as_posix(), node.lineno, node.end_lineno))
    return found


def build(folder):
    """Build every page: a bench that plays, tasks of each kind, guesses, and the workshop with all its steps."""
    bench(load_car("three_link").rear, [Slider("Bar", "locator.chassis.z", 250, 350, play=True)])
    lesson = Lesson("02", "club", folder=str(folder))
    lesson.task(1)
    lesson.guess("How high?", unit="mm")
    lesson.guess("Which?", choices=["one", "two"])
    shutil.copy(files.DATA / "club_coupe.toml", folder / "mine.toml")
    desk = Desk(folder / "mine.toml")
    for name in ("measure", "enter", "look", "by_hand", "choose", "build", "explain"):
        step = getattr(desk, name)()
        if name == "choose":
            step.work()


def test_every_handler_of_a_control_takes_its_turn(tmp_path, monkeypatch):
    handlers = []

    def noting(way):
        hand_over = getattr(WAYS[way], way)

        def note(control, handler, *more, **options):
            frame = sys._getframe(1)
            if HOUSE in (path := Path(frame.f_code.co_filename)).parents:
                handlers.append((way, path.relative_to(HOUSE).as_posix(), frame.f_lineno, handler))
            return hand_over(control, handler, *more, **options)

        return note

    for way, kind in WAYS.items():
        if hasattr(kind, way):
            monkeypatch.setattr(kind, way, noting(way))
    build(tmp_path)
    met = {(name, at) for _, name, at, _ in handlers}
    unmet = [
        where for where in written() if not any(where[0] == name and where[1] <= at <= where[2] for name, at in met)
    ]
    assert not unmet, f"No page that this test builds has these controls: {unmet}"
    monkeypatch.setattr(files, "_TURN", Turn())
    unasked = []
    for way, name, at, handler in handlers:
        try:
            handler(*(("control", {"event": "submit"}, []) if way == "on_msg" else (defaultdict(str),)))
        except Asked:
            continue
        except Exception as error:
            unasked.append(f"{name}, line {at}: {way} ({error!r})")
        else:
            unasked.append(f"{name}, line {at}: {way}")
    assert not unasked, f"Not wrapped in files.in_turn: {unasked}"
