"""Words on a picture: letters drawn once and put together, and the places where they cover least."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.text import Text

from .look import FONT, PIXELS_PER_INCH, SIZE, rgb
from .sketch import Mark

# Words on paper


@lru_cache(maxsize=512)
def _glyph(letter: str) -> Any:
    """Return a letter's coverage, 0 to 255, as matplotlib draws it: rows by columns, its advance wide."""
    font = get_font(findfont(FontProperties(family=FONT)))
    font.set_size(SIZE, PIXELS_PER_INCH)
    advance = max(1, round(font.load_char(ord(letter)).linearHoriAdvance / 65536))
    figure = Figure(figsize=((advance + 8) / PIXELS_PER_INCH, LINE / PIXELS_PER_INCH), dpi=PIXELS_PER_INCH)
    canvas: Any = FigureCanvasAgg(figure)
    figure.patch.set_alpha(0)
    figure.text(4 / (advance + 8), DESCENT / LINE, letter, size=SIZE, family=FONT)
    canvas.draw()
    return np.array(canvas.buffer_rgba())[:, 4 : 4 + advance, 3]


LINE, DESCENT = 16, 4  # height of a line of text and of what hangs below its baseline, in pixels


@lru_cache(maxsize=256)
def lettering(words: str) -> Any:
    """Return the coverage of one or more lines of text, put together from letters drawn once."""
    lines = [np.hstack([_glyph(letter) for letter in line]) for line in words.split("\n")]
    width = max(line.shape[1] for line in lines)
    return np.vstack([np.pad(line, ((0, 0), (0, width - line.shape[1]))) for line in lines])


class Words(Text):
    """A label. At the bench's resolution it is put together from ready letters, ten times faster."""

    def draw(self, renderer: Any) -> None:
        if self.figure.dpi != PIXELS_PER_INCH or not self.get_visible() or not self.get_text():
            return super().draw(renderer)
        cover = lettering(self.get_text())
        image = np.empty((*cover.shape, 4), np.uint8)
        image[..., :3] = rgb(str(self.get_color()))
        image[..., 3] = cover
        x, y = self.get_transform().transform(self.get_position())
        gc = renderer.new_gc()
        renderer.draw_image(gc, round(x), round(y) - cover.shape[0], image[::-1])
        gc.restore()
        return None


def place_labels(
    labels: list[Mark],
    anchors: Any,
    box: Any,
    strokes: Any,
    weights: Any,
    dots: Any,
    before: Sequence[tuple[int, float] | None],
) -> list[tuple[Any, int, float]]:
    """Return for each label the box of its words in pixels, chosen in order so that they cover least; and the choice.

    Candidates lie in eight directions at six distances. None may leave the panel; covering another label
    is worse than any number of lines; a line costs its weight; distance costs a little. A label keeps the
    choice that it made before, in a drawing that moves, until that covers more than it did, and than half a link.
    """
    taken = np.empty((0, 4))
    chosen = []

    def look(half: Any, place: Any, which: Any) -> tuple[Any, Any]:
        center = place + _AROUND[which] * (half + _RINGS[which])
        inside = np.clip(center, box[:2] + half, np.maximum(box[2:] - half, box[:2] + half))
        boxes = np.hstack([inside - half, inside + half])
        cost = _CALM[which] + np.abs(inside - center).sum(1) / 5
        cost += 1e4 * _overlaps(boxes, taken).sum(1)
        cost += 8 * _overlaps(boxes, dots).sum(1)
        return boxes, cost + _crosses(boxes, strokes) @ weights

    for label, place, kept in zip(labels, np.asarray(anchors), before, strict=True):
        high, wide = lettering(label.text).shape
        half = np.array([wide, high]) / 2
        if kept is not None:
            boxes, cost = look(half, place, slice(kept[0], kept[0] + 1))
        if kept is not None and cost[0] <= max(kept[1] + 12, 20):
            best, choice = boxes[0], kept
        else:
            boxes, cost = look(half, place, slice(None))
            choice = (int(cost.argmin()), float(cost.min()))
            best = boxes[choice[0]]
        taken = np.vstack([taken, best + [-2, -1, 2, 1]])
        chosen.append((best, *choice))
    return chosen


_DIRECTIONS = np.array([(1, 1), (1, -1), (-1, 1), (-1, -1), (0, 1), (0, -1), (1, 0), (-1, 0)], float)
_DISTANCES = np.array([3.0, 14.0, 30.0, 52.0, 80.0, 120.0])
_AROUND = np.tile(_DIRECTIONS, (len(_DISTANCES), 1))
_RINGS = np.repeat(_DISTANCES, len(_DIRECTIONS))[:, None]
_CALM = np.repeat(_DISTANCES / 5, len(_DIRECTIONS)) + np.tile(np.arange(len(_DIRECTIONS)) * 0.1, len(_DISTANCES))


def _overlaps(boxes: Any, others: Any) -> Any:
    """Tell which boxes (left, bottom, right, top) overlap which others."""
    a, b = boxes[:, None, :], others[None, :, :]
    return (a[..., 0] < b[..., 2]) & (a[..., 2] > b[..., 0]) & (a[..., 1] < b[..., 3]) & (a[..., 3] > b[..., 1])


def _crosses(boxes: Any, strokes: Any) -> Any:
    """Tell which boxes are crossed by which strokes (x, y, x, y)."""
    start, step = strokes[None, :, :2], (strokes[:, 2:] - strokes[:, :2])[None]
    step = np.where(np.abs(step) < 1e-9, 1e-9, step)
    one, two = (boxes[:, None, :2] - 1 - start) / step, (boxes[:, None, 2:] + 1 - start) / step
    enter, leave = np.minimum(one, two).max(2), np.maximum(one, two).min(2)
    return (np.maximum(enter, 0) <= np.minimum(leave, 1)).astype(float)
