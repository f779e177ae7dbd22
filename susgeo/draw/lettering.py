"""Words on a picture: letters drawn once and put together, and the places where they cover least."""

import itertools
import textwrap
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.text import Text

from .look import FONT, PIXELS_PER_INCH, SIZE, rgb
from .sketch import Mark
from .still import paper


@lru_cache(maxsize=512)
def _glyph(letter: str) -> Any:
    """Return a letter's coverage, 0 to 255, as matplotlib draws it: rows by columns, its advance wide."""
    font = get_font(findfont(FontProperties(family=FONT)))
    font.set_size(SIZE, PIXELS_PER_INCH)
    advance = max(1, round(font.load_char(ord(letter)).linearHoriAdvance / 65536))
    figure = paper(advance + 8, LINE)
    figure.patch.set_alpha(0)
    figure.text(4 / (advance + 8), DESCENT / LINE, letter, size=SIZE, family=FONT)
    figure.canvas.draw()
    return np.array(figure.canvas.buffer_rgba())[:, 4 : 4 + advance, 3]


LINE, DESCENT = 16, 4  # height of a line of text and of what hangs below its baseline, in pixels


@lru_cache(maxsize=256)
def lettering(words: str) -> Any:
    """Return the coverage of one or more lines of text, put together from letters drawn once."""
    lines = [np.hstack([_glyph(letter) for letter in line]) for line in words.split("\n")]
    width = max(line.shape[1] for line in lines)
    return np.vstack([np.pad(line, ((0, 0), (0, width - line.shape[1]))) for line in lines])


@lru_cache(maxsize=256)
def _inked(words: str, color: str) -> Any:
    """Return words as an image in a color, the lowest row first."""
    cover = lettering(words)[::-1]
    return np.dstack([np.broadcast_to(np.array(rgb(color), np.uint8), (*cover.shape, 3)), cover])


class Words(Text):
    """A label. At the bench's resolution it is put together from ready letters, ten times faster."""

    def draw(self, renderer: Any) -> None:
        if self.figure.dpi != PIXELS_PER_INCH or not self.get_visible() or not self.get_text():
            return super().draw(renderer)
        image = _inked(self.get_text(), str(self.get_color()))
        x, y = self.get_transform().transform(self.get_position())
        gc = renderer.new_gc()
        renderer.draw_image(gc, round(x), round(y) - image.shape[0], image)
        gc.restore()
        return None


def place_labels(
    labels: list[Mark], anchors: Any, box: Any, strokes: Any, pens: Any, dots: Any, before: Sequence[int | None]
) -> list[tuple[Any, int, str, bool]]:
    """Return for each label the box of its words in pixels, its candidate, the words in their lines, and if it is free.

    Candidates lie in sixteen directions at thirteen distances; none leaves the panel. The nearest that covers no word,
    dot or line, and whose leader crosses no other and no word, is taken, a little farther away where its leader then
    crosses no joint and no link; if there is none, words are broken into shorter lines, then those that found no place choose first, then what covers least has to do. A label keeps its candidate
    of before, in a drawing that moves, as long as that covers nothing.

    Args:
        labels, anchors: the words, and the places that they stand for.
        box: where words may stand: left, bottom, right, top, as all boxes here.
        strokes, pens: lines (x, y, x, y); how far their ink reaches to each side, and what it costs to cover them.
        dots: their boxes.
        before: the candidates of the last drawing, or None.
    """

    names, points = _lettered(labels, np.asarray(anchors), dots)

    parts = strokes[pens[:, 1] >= 40]  # what lies on top: links and their lines

    def others(place: Any) -> Any:
        return dots[((place < dots[:, :2]) | (dots[:, 2:] < place)).any(1)]

    def look(k: int, words: str, which: Any, taken: Any, leaders: Any) -> tuple[float, Any, int]:
        place, kept = np.asarray(anchors)[k], before[k]
        half = np.array(lettering(words).shape[::-1]) / 2
        aside = _AROUND * (half + _RINGS)
        center = place + aside[which]
        inside = np.clip(center, box[:2] + half, np.maximum(box[2:] - half, box[:2] + half))
        boxes = np.hstack([inside - half, inside + half])
        ways, far = leader(boxes, place)
        covered = 1e4 * _overlaps(boxes, taken).sum(1) + 30 * _overlaps(boxes, dots).sum(1)
        covered += _crosses(boxes, strokes, pens[:, 0]) @ pens[:, 1] + 80 * _crosses(boxes, leaders).sum(1)
        covered += far * 80 * (_crosses(taken, ways).sum(0) + _cut(ways, leaders).sum(1))
        short = np.hstack([ways[:, :2], place + (ways[:, :2] - place) * 0.15])
        covered += far * CROSSED * (_crosses(others(place), short).sum(0) + _cut(short, parts).sum(1))
        covered += 1e3 * (2 * half > box[2:] - box[:2]).any()
        if names[k]:
            covered += 60 * (~far & _strays(ways, boxes, points))
        calm = _CALM[which] + np.abs(inside - center).sum(1) / 5
        if kept is not None:  # words do not hop
            calm += np.abs(aside[which] - aside[kept]).sum(1) / 4
        number = int((covered + calm).argmin())
        return covered[number], boxes[number], number + (which.start or 0)

    last = [one for one in before if one is not None]
    if len(last) == len(labels) and (boxes := _all_free(labels, anchors, box, strokes, pens, dots, last)) is not None:
        return [(one, number, mark.text, True) for one, number, mark in zip(boxes, last, labels, strict=True)]
    order = list(range(len(labels)))
    best: tuple[float, list[Any]] = np.inf, []
    for _ in range(5):
        taken, leaders = np.empty((0, 4)), np.empty((0, 4))
        found: dict[int, Any] = {}
        for k in order:
            words, place, kept = labels[k].text, np.asarray(anchors)[k], before[k]
            tries = [(words, slice(kept, kept + 1))] if kept is not None else []
            if labels[k].key.endswith(" number"):
                tries.append((words, slice(4, 8)))  # upon or beside its own line
            tries += [(words, slice(_NEAR)), (words, slice(None))]
            broken = (shorter(labels[k].text, room) for room in (16, 7))
            again = ((short, slice(None)) for short in broken if short != labels[k].text)
            for words, which in itertools.chain(tries, again):
                one = (*look(k, words, which, taken, leaders), words)
                if k not in found or one[0] < found[k][0]:
                    found[k] = one
                last_or_kept = which == slice(None) or (kept is not None and which == tries[0][1])
                if not one[0] or (found[k][0] < COVERED and last_or_kept):
                    break
            boxes = found[k][1][None]
            taken = np.vstack([taken, boxes + [-2, -1, 2, 1]])
            way, far = leader(boxes, place)
            leaders = np.vstack([leaders, way[far]])
        best = min(best, (sum(one[0] for one in found.values()), [(*found[k][1:], found[k][0] < COVERED) for k in range(len(labels))]),
                   key=lambda one: one[0])  # fmt: skip
        stuck = [k for k in order if found[k][0] >= COVERED]
        if not stuck:
            break
        order = stuck + [k for k in reversed(order) if k not in stuck]
    return best[1]


def _all_free(labels: list[Mark], places: Any, box: Any, strokes: Any, pens: Any, dots: Any, kept: list[int]) -> Any:
    """Return the boxes of words that all keep their candidates, or None where any of them would cover something.

    The usual case of a drawing that moves, told for all words at once: what choosing in turn comes to as well.
    """
    half = np.array([lettering(mark.text).shape[::-1] for mark in labels]) / 2
    names, points = _lettered(labels, places, dots)
    center = places + _AROUND[kept] * (half + _RINGS[kept])
    inside = np.clip(center, box[:2] + half, np.maximum(box[2:] - half, box[:2] + half))
    boxes = np.hstack([inside - half, inside + half])
    ways, far = leader(boxes, places)
    room = boxes + [-2, -1, 2, 1]
    covers = (
        (2 * half > box[2:] - box[:2]),
        _overlaps(boxes, dots), _crosses(boxes, strokes, pens[:, 0]),
        np.tril(_overlaps(boxes, room), -1), np.tril(_crosses(boxes, ways) * far, -1),
        np.tril(_crosses(room, ways).T * far[:, None], -1), np.tril(_cut(ways, ways) * far * far[:, None], -1),
        names & ~far & _strays(ways, boxes, points),
    )  # fmt: skip
    return None if any(each.any() for each in covers) else boxes


def shorter(words: str, room: int) -> str:
    """Return words in lines of at most so many letters, where the words themselves are not longer."""
    return "\n".join(textwrap.fill(line, room, break_long_words=False) for line in words.split("\n"))


CLOSE = 12
"""Words up to so many pixels from their place need no leader."""
CROSSED, COVERED = 4.0, 20.0
"""What a leader costs that crosses a link or a joint, as 20 pixels of length do; from where on words cover something."""
_DISTANCES = np.array([3.0, 8, 14, 22, 32, 46, 64, 86, 112, 142, 180, 230, 290])
_DIRECTIONS = np.array([(1, 1), (1, -1), (-1, 1), (-1, -1), (0, 1), (0, -1), (1, 0), (-1, 0),
                        (0.5, 1), (0.5, -1), (-0.5, 1), (-0.5, -1), (1, 0.5), (1, -0.5), (-1, 0.5), (-1, -0.5)])  # fmt: skip
_AROUND = np.tile(_DIRECTIONS, (len(_DISTANCES), 1))
_RINGS = np.repeat(_DISTANCES, len(_DIRECTIONS))[:, None]
_CALM = np.repeat(_DISTANCES / 5, len(_DIRECTIONS)) + np.tile(np.arange(len(_DIRECTIONS)) * 0.1, len(_DISTANCES))
_NEAR = 4 * len(_DIRECTIONS)


def leader(boxes: Any, place: Any) -> tuple[Any, Any]:
    """Return the line (x, y, x, y) from each box to the place that it stands for, and whether it is wanted."""
    near = np.clip(place, boxes[:, :2], boxes[:, 2:])
    return np.hstack([near, np.broadcast_to(place, near.shape)]), np.hypot(*(near - place).T) > CLOSE


def _lettered(labels: Sequence[Mark], anchors: Any, dots: Any) -> tuple[Any, Any]:
    """Tell which labels are the letters of a dot, and where all dots are; longer words say themselves what they are of."""
    points = (dots[:, :2] + dots[:, 2:]) / 2
    marked = (np.abs(anchors[:, None] - points).max(2, initial=0.0) < 1).any(1)
    return marked & [len(mark.text) <= 2 for mark in labels], points


def _strays(ways: Any, boxes: Any, points: Any) -> Any:
    """Tell which letters would be read as another dot's, which is about as near as the end of their own way."""
    gaps = np.clip(points, boxes[:, None, :2], boxes[:, None, 2:]) - points
    other = np.abs(points - ways[:, None, 2:]).max(2, initial=0.0) > 1
    own = np.hypot(*(ways[:, :2] - ways[:, 2:]).T)
    return (other & (np.hypot(gaps[..., 0], gaps[..., 1]) < own[:, None] + 4)).any(1)


def _overlaps(boxes: Any, others: Any) -> Any:
    """Tell which boxes (left, bottom, right, top) overlap which others."""
    a, b = boxes[:, None, :], others[None, :, :]
    return (a[..., 0] < b[..., 2]) & (a[..., 2] > b[..., 0]) & (a[..., 1] < b[..., 3]) & (a[..., 3] > b[..., 1])


def _crosses(boxes: Any, strokes: Any, pens: Any = 1.0) -> Any:
    """Tell which boxes are crossed by which strokes (x, y, x, y), whose ink reaches so far to each side."""
    enter: Any = 0.0  # along each stroke, from its start to its end at 1
    leave: Any = 1.0
    for low, high in ((0, 2), (1, 3)):
        start, step = strokes[:, low], strokes[:, high] - strokes[:, low]
        step = np.where(np.abs(step) < 1e-9, 1e-9, step)
        one, two = (boxes[:, low, None] - pens - start) / step, (boxes[:, high, None] + pens - start) / step
        enter, leave = np.maximum(enter, np.minimum(one, two)), np.minimum(leave, np.maximum(one, two))
    return (enter <= leave).astype(float)


def _cut(lines: Any, others: Any) -> Any:
    """Tell which lines (x, y, x, y) cut which others."""
    a, b = lines[:, None, :], others[None, :, :]

    def side(one: Any, x: Any, y: Any) -> Any:
        return (one[..., 2] - one[..., 0]) * (y - one[..., 1]) - (one[..., 3] - one[..., 1]) * (x - one[..., 0])

    apart = side(a, b[..., 0], b[..., 1]) * side(a, b[..., 2], b[..., 3])
    return (apart < 0) & (side(b, a[..., 0], a[..., 1]) * side(b, a[..., 2], a[..., 3]) < 0)
