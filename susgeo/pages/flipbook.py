"""A bench that moves without Python: every place of each slider drawn beforehand, moved by a few lines of script.

The frames are those of the bench itself: a lesson's own cells make it, its sliders are moved one at a time, and what it
then shows is kept: drawing, numbers and sentence.
"""

import base64
import contextlib
import html
import io
import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from IPython.core.interactiveshell import InteractiveShell
from nbformat import NotebookNode
from PIL import Image

from ..bench import Bench, Slider
from ..errors import SusgeoError
from ..files import DATA, write_whole

FEWEST = 25
"""Frames of a slider, at least; with :func:`stops` they are at most twice as many."""
SHOWN = re.compile(
    r'(?P<words>.*)<img src="data:image/png;base64,(?P<code>[^"]+)" alt="(?P<alt>[^"]*)" width="(?P<width>\d+)" height="(?P<height>\d+)".*',
    re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Frame:
    """One place of a slider: its value, the bench's numbers as HTML, the drawing as lossless WebP and in words."""

    value: str
    words: str
    picture: bytes
    alt: str
    size: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Film:
    """A slider's frames from its lowest place to its highest, and which of them is the place at rest."""

    name: str
    unit: str
    frames: tuple[Frame, ...]
    rest: int


def stops(low: float, high: float, rest: float, fewest: int = FEWEST) -> list[float]:
    """Return the places of a slider that are drawn: both ends, the place at rest, and even steps between.

    >>> stops(400, 520, 437.5, 4)
    [400.0, 437.5, 440.0, 480.0, 520.0]
    """
    sizes = (size * 10.0**power for power in range(5, -6, -1) for size in (5, 4, 2.5, 2, 1))
    step = next(size for size in sizes if (high - low) / size >= fewest - 1 - 1e-9)
    steps = (round(low + step * k, 9) for k in range(int((high - low) / step + 1e-9) + 1))
    return sorted({*steps, float(high), min(max(float(rest), low), high)})


def films(bench: Bench, fewest: int = FEWEST) -> Iterator[Film]:
    """Move each slider of a bench through its range, the others at rest, and yield what the bench shows."""
    for slider, control, rest in zip(bench.sliders, bench.controls, bench.starts, strict=True):
        bench.reset()
        values = stops(slider.low, slider.high, rest, fewest)
        frames = []
        for value in values:
            control.value = value
            frames.append(_frame(slider, value, bench.message.value + bench.view.value))
        bench.reset()
        yield Film(slider.name, slider.unit, tuple(frames), values.index(min(max(rest, slider.low), slider.high)))


def _frame(slider: Slider, value: float, page: str) -> Frame:
    shown = SHOWN.fullmatch(page)
    if shown is None:
        raise SusgeoError(f"The bench shows no drawing at {slider.name} {value:g}.")
    data = io.BytesIO()
    drawn = Image.open(io.BytesIO(base64.b64decode(shown["code"]))).convert("RGB")
    drawn.save(data, "WEBP", lossless=True, quality=40, method=2)
    words = re.sub(r' style="[^"]*"', "", shown["words"])
    size = int(shown["width"]), int(shown["height"])
    return Frame(f"{value:.6g} {slider.unit}", words, data.getvalue(), html.unescape(shown["alt"]), size)


def benches(notebook: NotebookNode) -> dict[str, Bench]:
    """Run a lesson's own cells, away from the lessons' folder, and return its benches by the id of their cell."""
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    last = max((place for place, cell in enumerate(code) if "bench(" in cell.source), default=-1)
    made: dict[str, Bench] = {}
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        shutil.copytree(DATA, Path(folder) / "data")
        (Path(folder) / "notebooks").mkdir()
        with contextlib.chdir(Path(folder) / "notebooks"):
            shell: Any = InteractiveShell(ipython_dir=folder)
            shown: list[Bench] = []
            shell.display_formatter.ipython_display_formatter.for_type(Bench, shown.append)
            for cell in code[: last + 1]:
                # Nothing else is displayed, so that nothing else is drawn.
                shell.ast_node_interactivity = "last_expr" if "bench(" in cell.source else "none"
                if not cell.source.startswith("lesson."):
                    shell.run_cell(cell.source, store_history=False).raise_error()
                made |= {cell.id: shown.pop() for _ in shown[:1]}
            shell.history_manager.end_session()
            os.chdir(folder)
    return made


def flip_book(found: list[Film], name: str, folder: Path) -> str:
    """Write the frames into ``folder/frames`` and return the figure that moves them.

    Args:
        found: the films of one bench.
        name: what the files' names begin with.
        folder: of the page.
    """
    rows, data = [], []
    for number, film in enumerate(found):
        for place, frame in enumerate(film.frames):
            write_whole(folder / f"frames/{name}-{number}-{place:02}.webp", frame.picture)
        start = html.escape(film.frames[film.rest].value)
        rows.append(
            f'<div class="slide"><label for="{name}-{number}">{html.escape(film.name)}</label>'
            f'<output for="{name}-{number}">{start}</output><input type="range" id="{name}-{number}" min="0" '
            f'max="{len(film.frames) - 1}" step="1" value="{film.rest}" aria-valuetext="{start}"></div>'
        )
        data.append(
            {
                "frames": f"frames/{name}-{number}-",
                "rest": film.rest,
                "values": [frame.value for frame in film.frames],
                "words": [frame.words for frame in film.frames],
                "alts": [frame.alt for frame in film.frames],
            }
        )
    first = found[0].frames[found[0].rest]
    note = "<p class='small'>One slider at a time: the others go back to rest.</p>" if len(found) > 1 else ""
    return (
        f'<div class="flip script-only">{"".join(rows)}{note}<div class="numbers">{first.words}</div>'
        f'<img src="frames/{name}-0-{found[0].rest:02}.webp" alt="{html.escape(first.alt)}" width="{first.size[0]}" '
        f'height="{first.size[1]}"><div class="unseen" role="status"></div>'
        f'<script type="application/json">{json.dumps(data, separators=(",", ":")).replace("</", "<" + chr(92) + "/")}'
        "</script></div>"
    )
