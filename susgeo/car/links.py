"""Links: rods with a joint at each end."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal

from ..errors import LinkageError, UndefinedError
from ..geometry.incidence import join
from ..geometry.measure import distance
from ..geometry.scalars import Scalar, agree, is_array
from ..geometry.space import Line, Point


@dataclass(frozen=True, eq=False)
class Link:
    """A rod between a pick-up point on the axle and one on the chassis.

    It acts along the straight line between its joints, whatever the shape of the metal between them.

    >>> Link(Point(0, 500, 240), Point(600, 400, 290)).length
    610.3277807866851
    """

    axle: Point
    chassis: Point
    name: str = "link"

    __array_ufunc__ = None

    def __post_init__(self) -> None:
        if not any(is_array(value) for value in (*self.axle, *self.chassis)):
            _ = self.line  # A link of no length is refused here, by name.

    @cached_property
    def line(self) -> Line:
        """The line it acts along, from the axle end to the chassis end."""
        try:
            return join(self.axle, self.chassis)
        except UndefinedError:
            raise LinkageError(
                f"The {self.name} has no length: its axle end and its chassis end are the same point."
            ) from None

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

LEAF_SHARES = {"uniform strength": Fraction(3, 4), "uniform section": Fraction(5, 6)}


def leaf_link(eye: Point, seat: Point, leaves: Leaves, name: str = "left leaf spring") -> Link:
    """Return the link that moves as the front half of a leaf spring does, its seat kept from turning.

    Its chassis end is the front eye, its axle end lies back from there by 3/4 of the way to the seat (uniform strength) or
    5/6 (uniform section), as high as the main leaf at the seat. Source: the shortening of a bent beam, any textbook; derived here.

    Args:
        eye: the front eye. seat: the main leaf at the middle of its seat on the axle. leaves: how the spring is made.

    >>> leaf_link(Point(620, 480, 330), Point(0, 480, 300), "uniform strength").axle.x
    Fraction(155, 1)
    """
    share = LEAF_SHARES[leaves]
    x, y = eye.x + share * (seat.x - eye.x), eye.y + share * (seat.y - eye.y)
    return Link(Point(x, y, seat.z), eye, name)


def mirror(point: Point) -> Point:
    """Return the point on the other side of the center plane."""
    return Point(point.x, -point.y, point.z, point.w)


def pair(left: Link) -> Group:
    """Return a left link and its mirror image."""
    return left, left.mirrored()


def is_symmetric(group: Group) -> bool:
    """Tell whether links are mirror images of each other, or a single one lies in the center plane."""
    if not group:
        return True
    image, other = group[0].mirrored(), group[-1]
    return image is other or (_coincide(image.axle, other.axle) and _coincide(image.chassis, other.chassis))


def _coincide(a: Point, b: Point) -> bool:
    return all(
        (p is q and a.w is b.w) or agree(p * b.w, q * a.w) for p, q in ((a.x, b.x), (a.y, b.y), (a.z, b.z))
    )
