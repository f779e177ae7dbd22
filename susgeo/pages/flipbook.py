"""A bench that moves without Python: every place of each slider drawn beforehand, moved by a few lines of script.

The frames are those of the bench itself: a lesson's own cells make it, its sliders are moved one at a time, and what it
then shows is kept: drawing, numbers and sentence.
"""

import base64
import contextlib
import html
import io
import json
import re
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from IPython.core.interactiveshell import InteractiveShell
from nbformat import NotebookNode
from PIL import Image

from ..bench import Bench, Slider, bench
from ..errors import SusgeoError
from ..files import DATA, write_whole

FEWEST, NARROW = 25, 400
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
    words = re.sub(r' style="[^"]*"', "", shown["words"]).replace('<th scope="col"></th>', "<td></td>")
    size = int(shown["width"]), int(shown["height"])
    return Frame(f"{value:.6g} {slider.unit}", words, data.getvalue(), html.unescape(shown["alt"]), size)


def benches(notebook: NotebookNode) -> dict[str, list[Bench]]:
    """Run a lesson's own cells, away from the lessons' folder, and return its benches by the id of their cell.

    A bench with one view comes a second time, made for a telephone.
    """
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    last = max((place for place, cell in enumerate(code) if "bench(" in cell.source), default=-1)
    made: dict[str, list[Bench]] = {}
    shown: list[Bench] = []
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        shutil.copytree(DATA, Path(folder) / "data")
        (Path(folder) / "notebooks").mkdir()
        with contextlib.chdir(Path(folder) / "notebooks"):
            shell: Any = InteractiveShell(ipython_dir=folder)
            shell.display_formatter.ipython_display_formatter.for_type(Bench, shown.append)
            for cell in code[: last + 1]:
                # Nothing but a bench is displayed, so that nothing else is drawn.
                shell.ast_node_interactivity = "last_expr" if "bench(" in cell.source else "none"
                if not cell.source.startswith("lesson."):
                    shell.run_cell(cell.source, store_history=False).raise_error()
                if shown and len(shown[0].views) == 1:
                    shell.user_ns["bench"] = partial(bench, width=NARROW)
                    shell.run_cell(cell.source, store_history=False).raise_error()
                    shell.user_ns["bench"] = bench
                if shown:
                    made[cell.id] = list(shown)
                    shown.clear()
            shell.history_manager.end_session()
    return made


def flip_book(sets: Sequence[Sequence[Film]], name: str, folder: Path) -> str:
    """Write the frames into ``folder/frames`` and return the figure that moves them.

    Args:
        sets: the films of one bench, and after them those made for a telephone, if there are any.
        name: what the files' names begin with.
        folder: of the page.
    """
    rows, data, sources = [], [], []
    for which, found in enumerate(sets):
        for number, film in enumerate(found):
            for place, frame in enumerate(film.frames):
                write_whole(folder / f"frames/{name}-{number}-{place:02}{'s' * which}.webp", frame.picture)
        first = found[0].frames[found[0].rest]
        size = f'width="{first.size[0]}" height="{first.size[1]}"'
        start = f"frames/{name}-0-{found[0].rest:02}{'s' * which}.webp"
        sources.append(
            f'<source media="(max-width: 480px)" srcset="{start}" {size}>' if which
            else f'<img src="{start}" alt="{html.escape(first.alt)}" {size}>'
        )  # fmt: skip
    for number, film in enumerate(sets[0]):
        rest = html.escape(film.frames[film.rest].value)
        rows.append(
            f'<div class="slide"><label for="{name}-{number}">{html.escape(film.name)}</label>'
            f'<output for="{name}-{number}">{rest}</output><input type="range" id="{name}-{number}" min="0" '
            f'max="{len(film.frames) - 1}" step="1" value="{film.rest}" aria-valuetext="{rest}"></div>'
        )
        each = {key: [getattr(frame, key[:-1]) for frame in film.frames] for key in ("values", "alts")}
        words = [frame.words for frame in film.frames]
        data.append({"frames": f"frames/{name}-{number}-", "rest": film.rest, "words": words, **each})
    note = "<p class='small'>One slider at a time: the others go back to rest.</p>" if len(rows) > 1 else ""
    return (
        f'<div class="flip script-only">{"".join(rows)}{note}<div class="numbers">{sets[0][0].frames[sets[0][0].rest].words}</div>'
        f'<picture>{"".join(reversed(sources))}</picture><div class="unseen" role="status"></div>{as_data(data)}</div>'
    )


def as_data(what: Any) -> str:
    """Return data for the page's script, in the page itself: a page from a stick may not fetch a file."""
    text = json.dumps(what, separators=(",", ":")).replace("</", "<\\/")
    return f'<script type="application/json">{text}</script>'
