"""Links: rods with a joint at each end."""

from dataclasses import dataclass
from functools import cached_property

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
