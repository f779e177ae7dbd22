"""What holds an axle sideways: each locator is one line of force between axle and body.

A locator made of several parts (cranks and rods) has one free movement inside. Eliminating it leaves one
condition on the axle, a combination of the rods' lines: the line along which the locator can push. That line
meets the center plane at the locator's point, through which the roll axis passes. Source: derived here from
the balance of each crank about its pivot.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import ClassVar, Literal

from ..errors import LinkageError, MeasurementError, UndefinedError, expect
from ..geometry.incidence import meet
from ..geometry.scalars import Scalar, settle
from ..geometry.space import CENTER_PLANE, Line, Point
from .links import Link


@dataclass(frozen=True, eq=False)
class PanhardBar(Link):
    """A bar across the car with one end on the axle and one on the chassis.

    Args:
        axle, chassis: the middles of its joints, in mm from the axle's origin.

    >>> round(PanhardBar(Point(-40, 460, 290), Point(-40, -440, 330)).length, 1)  # joints measured to the millimeter
    900.9
    """

    name: str = "Panhard bar"

    @property
    def rods(self) -> tuple[Link, ...]:
        """The bar itself."""
        return (self,)


@dataclass(frozen=True, eq=False)
class WattsLinkage:
    """A crank on a pivot, with a rod from each of its ends out to the other part.

    With the pivot on the axle the rods' far ends are on the chassis; with the pivot on the chassis they are
    on the axle. The crank turns about a fore-and-aft pin through ``pivot``.

    Args:
        pivot: the crank's pivot.
        left_crank: joint between the crank and the rod to the left.
        left_end: far end of that rod.
        right_crank: joint between the crank and the rod to the right.
        right_end: far end of that rod.
        pivot_on: "axle" or "chassis".
        pin: direction of the crank's pin; None: fore and aft. A pin on the axle turns with it in travel.

    >>> crank = Point(0, 0, 300), Point(0, 0, 380), Point(0, 450, 380), Point(0, 0, 220), Point(0, -450, 220)
    >>> from susgeo import Plane, coordinates, meet
    >>> coordinates(meet(WattsLinkage(*crank).line, Plane(0, 1, 0, 0)))  # both rods level: it pushes across through the pivot
    (0, 0, 300)
    """

    pivot: Point
    left_crank: Point
    left_end: Point
    right_crank: Point
    right_end: Point
    pivot_on: Literal["axle", "chassis"] = "axle"
    pin: Point | None = None
    name: ClassVar[str] = "Watt's linkage"

    def __post_init__(self) -> None:
        if str(self.pivot_on) not in ("axle", "chassis"):
            raise MeasurementError("pivot_on", f'got "{self.pivot_on}", expected "axle" or "chassis".')
        _left_to_right(self)

    @cached_property
    def rods(self) -> tuple[Link, ...]:
        """Both rods, left one first, from the axle's side to the chassis's."""
        near, far = ("crank", "end") if self.pivot_on == "axle" else ("end", "crank")
        sides = ((side, getattr(self, f"{side}_{near}"), getattr(self, f"{side}_{far}")) for side in ("left", "right"))
        return tuple(Link(axle, chassis, f"{side} rod of the {self.name}") for side, axle, chassis in sides)

    @property
    def line(self) -> Line:
        """The line along which it pushes the axle, through the pivot and the meet of the two rods' lines."""
        left, right = (rod.line for rod in self.rods)
        # The crank balances when the rods' forces have opposite moments about its pin.
        pivot, pin = self.pivot, self.pin
        return _pushing(
            (_about(right, pivot, pin), left),
            (-_about(left, pivot, pin), right),
            (pivot,),
            self.name,
            "its rods run through the crank's pivot, or both along one line",
            "join its rods to opposite arms of the crank, and let them run across the car",
        )


@dataclass(frozen=True, eq=False)
class MumfordLinkage:
    """Two cranks on the chassis joined by a center link, with a rod from each crank out to the axle.

    The center link joins *opposite* arms of the cranks: above one pivot and below the other. Joined on the
    same side it would lock heave and leave the axle free sideways.

    Args:
        left_pivot: pivot of the left crank.
        left_crank: joint between the left crank and its outer rod.
        left_end: the outer rod's end on the axle.
        left_center: joint between the left crank and the center link.
        right_pivot, right_crank, right_end, right_center: the same on the right.

    >>> left = [Point(0, y, z) for y, z in ((250, 300), (250, 220), (620, 230), (250, 360))]
    >>> right = [Point(0, y, z) for y, z in ((-250, 300), (-250, 220), (-620, 230), (-250, 240))]
    >>> from susgeo import Plane, coordinates, meet
    >>> coordinates(meet(MumfordLinkage(*left, *right).line, Plane(0, 1, 0, 0)))  # where both outer rods point
    (0, 0, 213.24324324324326)
    """

    left_pivot: Point
    left_crank: Point
    left_end: Point
    left_center: Point
    right_pivot: Point
    right_crank: Point
    right_end: Point
    right_center: Point
    name: ClassVar[str] = "Mumford linkage"

    def __post_init__(self) -> None:
        _left_to_right(self)

    @cached_property
    def rods(self) -> tuple[Link, ...]:
        """Both outer rods, left one first, from the axle, and the center link, from the left crank to the right one."""
        left = Link(self.left_end, self.left_crank, f"left rod of the {self.name}")
        right = Link(self.right_end, self.right_crank, f"right rod of the {self.name}")
        return left, right, Link(self.left_center, self.right_center, f"center link of the {self.name}")

    @property
    def line(self) -> Line:
        """The line along which it pushes the axle, through the meet of the two outer rods' lines."""
        left, right, center = (rod.line for rod in self.rods)
        # Each crank balances its rod against the center link; the link pulls both cranks with the same force.
        left_share = _about(center, self.left_pivot) * _about(right, self.right_pivot)
        right_share = _about(center, self.right_pivot) * _about(left, self.left_pivot)
        return _pushing(
            (left_share, left),
            (-right_share, right),
            (center, self.left_pivot, self.right_pivot),
            self.name,
            "its cranks stand at a dead point, with a rod or the center link in line with a pivot",
            "join the center link to opposite arms of the cranks, above one pivot and below the other",
        )


def _left_to_right(linkage: "WattsLinkage | MumfordLinkage") -> None:
    """Refuse what is no point, and ends that are exchanged; arrays and expressions pass."""
    expect(Point, **{each.name: getattr(linkage, each.name) for each in fields(linkage) if each.type is Point})
    left, right = linkage.left_end, linkage.right_end
    if isinstance(left.y, int | float) and isinstance(right.y, int | float) and left.y <= right.y:
        mend = "y is positive to the left, so exchange left and right or the signs of y."
        raise MeasurementError("left_end", f"{{}} lies to the right of right_end; {mend}", left)


Locator = PanhardBar | WattsLinkage | MumfordLinkage


def combine(first_share: Scalar, first: Line, second_share: Scalar, second: Line) -> Line:
    """Return a combination of two lines of force, as six numbers."""
    return Line(*(first_share * a + second_share * b for a, b in zip(first, second, strict=True)))


def center_point(line: Line) -> Point:
    """Return where a line of force crosses the center plane.

    For a Panhard bar that is where the bar crosses the car's center line, in space, so with its x.

    >>> tuple(center_point(PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)).line))
    (114000, 0, -285000, -950)
    """
    return meet(CENTER_PLANE, line)


Share = tuple[Scalar, Line]
"""A rod's line, and how much of it a locator's push contains."""


def _pushing(left: Share, right: Share, others: Sequence[Iterable[Scalar]], kind: str, dead: str, across: str) -> Line:
    """Return a locator's line from its two rods', unless the cranks balance whatever the rods do, or the rods push
    against each other sideways, so that together they push up and down: it then holds nothing."""
    line = combine(*left, *right)
    try:
        push = settle(tuple(line)[:3], (left[1], right[1], *others), dead)
    except UndefinedError:
        raise LinkageError(
            f"This axle is not held sideways by its {kind}: {dead}, so they turn it instead of holding it; "
            "move a crank's joint off that line."
        ) from None
    one, other = (share * rod.dy for share, rod in (left, right))
    if all(isinstance(part, int | float) for part in (one, other)) and 10 * abs(one + other) < abs(one) + abs(other):
        raise LinkageError(f"This axle is not held sideways by its {kind}, which pushes up and down; {across}.")
    return Line(*push, *tuple(line)[3:])


def _about(line: Line, pivot: Point, pin: Point | None = None) -> Scalar:
    """Return the moment of a unit force along a line about a pin through a pivot, fore and aft if None."""
    x, y, z, w = pivot
    moment = line.mx * w - (y * line.dz - z * line.dy)
    if pin is None:
        return moment
    across, up = line.my * w - (z * line.dx - x * line.dz), line.mz * w - (x * line.dy - y * line.dx)
    return pin.x * moment + pin.y * across + pin.z * up
