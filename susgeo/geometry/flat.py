"""Points and lines in one named view: what one draws on paper.

=======  ==========  ======================
view     horizontal  vertical
=======  ==========  ======================
side     u = x       v = z
plan     u = x       v = y
front    u = y       v = z
=======  ==========  ======================
"""

from dataclasses import dataclass
from typing import Literal

from ..errors import ViewError
from .scalars import Scalar
from .space import Homogeneous, place

View = Literal["side", "plan", "front"]
VIEWS: dict[str, tuple[str, str]] = {"side": ("x", "z"), "plan": ("x", "y"), "front": ("y", "z")}
"""The axes drawn to the right and up in each view."""


def check_view(view: str) -> None:
    """Refuse a view that does not exist."""
    if str(view) not in VIEWS:
        raise ViewError(f'There is no view "{view}"; expected "side", "plan" or "front".')


@dataclass(frozen=True, eq=False)
class _Flat(Homogeneous):
    view: View

    def __post_init__(self) -> None:
        check_view(self.view)
        super().__post_init__()


@dataclass(frozen=True, eq=False)
class FlatPoint(_Flat):
    """A point (u/w, v/w) of a view in mm; w = 0 is a direction.

    >>> FlatPoint("side", 3000, 735, 2)
    FlatPoint(side view, x 1500, z 367.5 mm)
    """

    u: Scalar
    v: Scalar
    w: Scalar = 1

    _coordinates, _what = ("u", "v", "w"), "of a point"

    def __repr__(self) -> str:
        return f"FlatPoint({self.view} view, {place(tuple(self), ''.join(VIEWS[self.view]))})"


@dataclass(frozen=True, eq=False)
class FlatLine(_Flat):
    """The points of a view with a u + b v + c w = 0.

    >>> from susgeo import meet, coordinates
    >>> ground, sloped = FlatLine("side", 0, 1, 0), FlatLine("side", 1, 10, -2000)
    >>> coordinates(meet(ground, sloped))
    (2000, 0)
    """

    a: Scalar
    b: Scalar
    c: Scalar

    _coordinates, _what = ("a", "b", "c"), "of a line"


def same_view(first: FlatPoint | FlatLine, second: FlatPoint | FlatLine) -> View:
    """Return the view of two things; two views are not combined."""
    if first.view != second.view:
        raise ViewError(
            f"One is drawn in the {first.view} view and the other in the {second.view} view; "
            "draw both in the same view first."
        )
    return first.view
