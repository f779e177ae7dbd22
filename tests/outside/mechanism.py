"""An axle and what holds it, as plain data: bars between parts, and cranks on pins."""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np


class Bar(NamedTuple):
    """A straight bar with a joint at each end; a part is "axle", "body" or a crank's number."""

    one: str | int
    first: np.ndarray
    other: str | int
    second: np.ndarray


class Crank(NamedTuple):
    """A crank that turns about a pin of a given direction, carried by "axle" or "body"."""

    on: str
    pivot: np.ndarray
    pin: np.ndarray


def point(values):
    return np.array(values, dtype=float)


@dataclass(frozen=True)
class Mechanism:
    """Bars and cranks at rest; ``middle`` is the middle of the wheel-center line, with which the axle is placed."""

    bars: tuple[Bar, ...] = ()
    cranks: tuple[Crank, ...] = ()
    middle: tuple[float, float, float] = (0.0, 0.0, 310.0)

    def bar(self, one, first, other, second):
        return replace(self, bars=(*self.bars, Bar(one, point(first), other, point(second))))

    def rod(self, axle_end, body_end):
        return self.bar("axle", axle_end, "body", body_end)

    def crank(self, on, pivot, pin=(1, 0, 0)):
        pin = point(pin) / np.linalg.norm(pin)
        return replace(self, cranks=(*self.cranks, Crank(on, point(pivot), pin)))

    def watt(self, on, pivot, left, right, pin=(1, 0, 0)):
        """Add a Watt's linkage; ``left`` and ``right`` are (joint on the crank, far end) of its rods."""
        far, number = {"axle": "body", "body": "axle"}[on], len(self.cranks)
        held = self.crank(on, pivot, pin)
        return held.bar(number, left[0], far, left[1]).bar(number, right[0], far, right[1])

    def mumford(self, left, right):
        """Add a Mumford linkage; each side is (pivot on the body, outer rod's crank end, axle end, center arm)."""
        first, second = len(self.cranks), len(self.cranks) + 1
        held = self.crank("body", left[0]).crank("body", right[0])
        held = held.bar(first, left[1], "axle", left[2]).bar(second, right[1], "axle", right[2])
        return held.bar(first, left[3], second, right[3])
