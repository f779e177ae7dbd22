"""Links: rods with a joint at each end."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from numbers import Real
from typing import Literal

from ..errors import MeasurementError, UndefinedError, expect
from ..geometry.incidence import join
from ..geometry.measure import distance
from ..geometry.scalars import Scalar, agree, is_array, quotient
from ..geometry.space import Line, Point

UNNAMED = "link"
"""The name of a link until it is known where it sits."""


@dataclass(frozen=True, eq=False)
class Link:
    """A rod between a pick-up point on the axle and one on the chassis.

    It acts along the straight line between its joints, whatever the shape of the metal between them.

    Args:
        axle, chassis: the middles of its joints, in mm from the axle's origin.
        name: for people; an axle names a link that has none after its place, such as "left lower link".

    >>> Link(Point(0, 500, 240), Point(600, 400, 290)).length
    610.3277807866851
    """

    axle: Point
    chassis: Point
    name: str = UNNAMED

    __array_ufunc__ = None

    def __post_init__(self) -> None:
        expect(Point, axle=self.axle, chassis=self.chassis)
        expect(str, name=self.name)
        if not any(is_array(value) for value in (*self.axle, *self.chassis)):
            _ = self.line  # A link of no length is refused here, by name.

    @cached_property
    def line(self) -> Line:
        """The line it acts along, from the axle end to the chassis end."""
        try:
            return join(self.axle, self.chassis)
        except UndefinedError:
            problem = f"{{}} is the axle end as well, so the {self.name} has no length; expected two different ends."
            raise MeasurementError("chassis", problem, self.chassis) from None

    @property
    def length(self) -> Scalar:
        """Distance between its joints in mm."""
        return distance(self.axle, self.chassis)

    def mirrored(self) -> "Link":
        """Return the same link on the other side of the car."""
        return self._mirrored

    @cached_property
    def _mirrored(self) -> "Link":  # kept, so that a pair made of it is known at sight to be symmetric
        name = {"left": "right", "right": "left"}
        words = " ".join(name.get(word, word) for word in self.name.split())
        return Link(mirror(self.axle), mirror(self.chassis), words)


Group = tuple[Link, ...]
"""The links of one height: none, one in the center plane, or (left, right)."""


Leaves = Literal["", "uniform strength", "uniform section"]
"""How a leaf spring is made: leaves of stepped length bend to one radius; a single leaf of one section does not."""

LEAF_SHARES = {"uniform strength": (3, 4), "uniform section": (5, 6)}
"""The part of the way from the front eye to the seat, as numerator and denominator: letters stay exact."""


def leaf_link(eye: Point, seat: Point, leaves: Leaves) -> Link:
    """Return the link that moves as the front half of a leaf spring does, its seat kept from turning.

    Its chassis end is the front eye, its axle end lies back from there by 3/4 of the way to the seat (uniform strength) or
    5/6 (uniform section), as high as the main leaf at the seat. Source: the shortening of a bent beam, any textbook; derived here.

    Args:
        eye: the front eye. seat: the main leaf at the middle of its seat on the axle. leaves: how the spring is made.

    >>> leaf_link(Point(620, 480, 330), Point(0, 480, 300), "uniform strength").axle.x
    155
    """
    upper, lower = LEAF_SHARES[leaves]
    x, y = (a + quotient(upper * (b - a), lower) for a, b in ((eye.x, seat.x), (eye.y, seat.y)))
    return Link(Point(x, y, seat.z), eye, "left leaf spring")


def named(group: Group, height: str, taken: Iterable[Link] = ()) -> Group:
    """Return the links of one height under names that tell them apart, also from links whose names are taken.

    One without a name is called after its place.

    >>> [link.name for link in named(pair(Link(Point(0, 500, 240), Point(600, 400, 290))), "lower")]
    ['left lower link', 'right lower link']
    """
    own = [f"{height} link" if link.name == UNNAMED else link.name for link in group]
    if len(set(own)) < len(own):
        own = [f"{side} {name}" for side, name in zip(("left", "right"), own, strict=True)]
    if not {link.name for link in taken}.isdisjoint(own):
        own = [f"{height} {name}" for name in own]
    if own == [link.name for link in group]:
        return group
    first, *rest = (replace(link, name=name) for link, name in zip(group, own, strict=True))
    return (first, first.mirrored()) if rest and group[1] is group[0].mirrored() else (first, *rest)


def mirror(point: Point) -> Point:
    """Return the point on the other side of the center plane."""
    return Point(point.x, -point.y, point.z, point.w)


def check_end(end: str) -> None:
    """Refuse an end of the car that does not exist."""
    if str(end) not in ("front", "rear"):
        raise MeasurementError("end", f'got "{end}", expected "rear" or "front".')


def check_side(ends: Mapping[str, Point], side: str = "left") -> None:
    """Refuse ends, axle's first, that do not lie on their side of the car; arrays and expressions pass."""
    sign, other = (1, "right") if side == "left" else (-1, "left")
    places = [point.y * sign for point in ends.values()]
    if not all(isinstance(y, Real) for y in places):
        return
    mend = "y is positive to the left, so exchange left and right or the signs of y."
    if all(y < 0 for y in places):
        first, second = ends
        raise MeasurementError(
            first, f"{{}} and {second} {{}} put the {side} link on the {other} side; {mend}", *ends.values()
        )
    for (field, point), y in zip(ends.items(), places, strict=True):
        if y < 0 or not any(places):
            where = f"expected y {'above' if sign > 0 else 'below'} zero, because y is positive to the left"
            raise MeasurementError(field, f"{{}} is not on the {side} side; {where}.", point)


def left_first(group: Group) -> Group:
    """Return two links in order, the left one first; arrays and expressions stay as they are given."""
    ends = [(link.axle.y, link.chassis.y) for link in group]
    known = len(group) == 2 and all(isinstance(y, Real) for pair in ends for y in pair)
    return group[::-1] if known and ends[0] < ends[1] else group


def check_distinct(links: Group) -> None:
    """Refuse a link that is given twice; arrays and expressions pass."""
    known: dict[frozenset[tuple[Scalar, ...]], Link] = {}
    for link in links:
        ends = tuple(link.axle), tuple(link.chassis)
        if all(isinstance(value, Real) for end in ends for value in end):
            if other := known.get(frozenset(ends)):
                raise MeasurementError(
                    "", f"the {other.name} and the {link.name} have the same two ends, {{}} and {{}}; one link is "
                    "given twice, expected different ones.", other.axle, other.chassis,
                )  # fmt: skip
            known[frozenset(ends)] = link


def pair(left: Link) -> Group:
    """Return a left link and its mirror image; a link whose axle end is on the right, or that lies in the middle, is refused.

    The chassis end may cross the center line: a slider may take it there. A car file says so of neither end.

    Args:
        left: the link on the left, y above zero.

    >>> [link.axle.y for link in pair(Link(Point(0, 500, 240), Point(600, 400, 290)))]
    [500, -500]
    """
    expect(Link, left=left)
    if not (isinstance(left.axle.y, int | float) and left.axle.y > 0):
        check_side({"axle": left.axle, "chassis": left.chassis})
    return left, left.mirrored()


def is_symmetric(group: Group) -> bool:
    """Tell whether links are mirror images of each other, or a single one lies in the center plane."""
    if not group:
        return True
    image, other = group[0].mirrored(), group[-1]
    return image is other or (_coincide(image.axle, other.axle) and _coincide(image.chassis, other.chassis))


def _coincide(a: Point, b: Point) -> bool:
    return all((p is q and a.w is b.w) or agree(p * b.w, q * a.w) for p, q in ((a.x, b.x), (a.y, b.y), (a.z, b.z)))
