"""A live axle on its links: instant center, points of convergence, roll axis, roll center, roll steer."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np

from ..errors import KindError, LinkageError, MeasurementError, UndefinedError, expect
from ..geometry.flat import FlatPoint
from ..geometry.incidence import join, meet, project
from ..geometry.measure import coordinates, slope
from ..geometry.scalars import Scalar, choose, is_symbolic, quotient
from ..geometry.space import CENTER_PLANE, WHEEL_PLANE, Line, Point, tidy
from . import rods
from .links import LEAF_SHARES, Group, Leaves, Link, check_distinct, check_end, is_symmetric, left_first, named
from .locators import Locator, PanhardBar, center_point, combine


@dataclass(frozen=True, eq=False)
class LiveAxle:
    """A rigid axle beam held by links, and by a locator where the links do not hold it sideways.

    Origin on the ground below the middle of the axle; x forward from the wheel-center line, y left, z up, mm.
    Links given as ``(left, right)``, ``(single,)`` or one link; :func:`susgeo.car.car.links.pair` mirrors a left link. When all
    of it is symmetric the answers come from the constructions that one draws on paper, exact for numbers,
    arrays and symbols alike. When it is not, they come from the rods' matrix (numbers and arrays).

    Args:
        lower: the lower links.
        upper: the upper link or links; an A-frame is a pair that shares its axle end.
        locator: Panhard bar, Watt's linkage, Mumford linkage, or None when a pair of links converges.
        track: distance between the middles of the two tires.
        tire_radius: height of the wheel centers over the ground.
        end: "rear" or "front".
        leaves: the kind of its leaf springs, or "": the lower links then are their equivalent links
            (:func:`susgeo.car.links.leaf_link`) and the pitch is held. What rests on how leaves wind up (instant center, anti-squat,
            anti-lift, pinion) is then left out.

    >>> from susgeo import Link, PanhardBar, Point, pair
    >>> axle = LiveAxle(
    ...     lower=pair(Link(Point(0, 500, 240), Point(600, 400, 290))),
    ...     upper=(Link(Point(-50, 0, 470), Point(400, 0, 450)),),
    ...     locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
    ...     track=1400, tire_radius=310,
    ... )
    >>> axle.roll_center_height, axle.roll_center, axle.names[0]
    (307.3076923076923, Point(x 0, y 0, z 307.3077 mm), 'left lower link')
    """

    lower: Group
    upper: Group
    locator: Locator | None = None
    track: Scalar = 1400.0
    tire_radius: Scalar = 310.0
    end: Literal["rear", "front"] = "rear"
    leaves: Leaves = ""

    def __post_init__(self) -> None:
        check_end(self.end)
        tidy(self, ("track", "tire_radius"), f"of the {self.end} axle", "length")
        expect(Locator | None, locator=self.locator)
        if self.leaves and str(self.leaves) not in LEAF_SHARES:
            raise MeasurementError("leaves", f'got "{self.leaves}", expected {" or ".join(map(repr, LEAF_SHARES))}.')
        taken = () if self.locator is None else self.locator.rods
        for height in ("lower", "upper"):
            group = getattr(self, height)
            given = tuple(group) if isinstance(group, tuple | list) else (group,)
            if not all(isinstance(link, Link) for link in given):
                raise KindError(
                    f"{height} is {repr(group)[:60]}; expected links: pair(left), (left, right), a single one, or () for none."
                )
            if len(given) > 2:
                raise LinkageError(f"An axle has at most two {height} links; got {len(given)}.")
            object.__setattr__(self, height, named(left_first(given), height, taken))
            taken += getattr(self, height)
        bar = (self.locator,) if isinstance(self.locator, PanhardBar) else ()
        check_distinct((*self.lower, *self.upper, *bar))
        if self.leaves and self.upper:
            raise LinkageError(
                f"The {self.end} axle has leaf springs and upper links; give the leaves alone, or links alone."
            )

    @cached_property
    def held(self) -> Group:
        """A rod that is not there: with the leaves' equivalent links it keeps the pitch of an axle on leaf springs.

        It is as long as they are from the side, a meter above them, so that the axle moves without turning.
        """
        if not self.leaves:
            return ()
        ends = map(coordinates, (self.lower[0].axle, self.lower[0].chassis))
        axle, chassis = (Point(x, 0 * x, z + 1000) for x, _, z in ends)
        return (Link(axle, chassis, "wind-up of the leaves"),)

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """The line of every rod, lower links first, then upper ones, then the locator's."""
        links = tuple(link.line for link in (*self.lower, *self.upper, *self.held))
        return links if self.locator is None else (*links, self.locator.line)

    @cached_property
    def over_located(self) -> bool:
        """Whether an upper pair stands beside a lower pair and a locator: a rod too many."""
        return len(self.lower) == len(self.upper) == 2 and self.locator is not None

    @cached_property
    def locating_lines(self) -> tuple[Line, ...]:
        """The lines that decide how the axle moves: :attr:`lines`, with a rod too many resolved.

        Five rods bind in roll, and no rigid motion is left in it. One rule then holds in the whole library,
        at rest and in travel, for equal and unequal sides, and it is the trade's: locator and lower links
        keep their lengths, and the two upper links count as one, so that in roll one stretches as much as
        the other shrinks. Stiff lower joints and soft upper ones come to the same. What all five joints give
        together, and what it costs, is in :func:`susgeo.travel.live.binding`.
        """
        if not self.over_located:
            return self.lines
        left, right = self.upper
        one = combine(right.length, left.line, left.length, right.line)  # the sum, each of unit length
        return (*self.lines[:2], one, self.lines[4])

    @cached_property
    def names(self) -> tuple[str, ...]:
        """A name for each of :attr:`lines`."""
        links = tuple(link.name for link in (*self.lower, *self.upper, *self.held))
        return links if self.locator is None else (*links, self.locator_name)

    @property
    def locator_name(self) -> str:
        """What holds the axle sideways, in words."""
        return "converging links" if self.locator is None else self.locator.name

    @cached_property
    def is_symmetric(self) -> bool:
        """Whether left and right links mirror each other and a single link lies in the center plane."""
        return is_symmetric(self.lower) and is_symmetric(self.upper)

    def convergence(self, height: Literal["lower", "upper"]) -> Point:
        """Return the point where a mirror pair of links meets, in the center plane.

        For links parallel in plan it is at infinity (w = 0), in the links' own direction.

        Raises:
            LinkageError: there is no pair at this height, or its two sides differ.
        """
        group: Group = getattr(self, height)
        if len(group) != 2:
            raise LinkageError(f"This axle has no pair of {height} links, so there is no point where they meet.")
        if not is_symmetric(group):
            raise LinkageError(
                f"The left and right {height} links are not mirror images, so their lines need not meet; "
                "use the two axes of the whole axle (transversals)."
            )
        return meet(CENTER_PLANE, group[0].line)

    @cached_property
    def locator_point(self) -> Point:
        """Where the sideways force between axle and body crosses the center plane.

        The locator's point, or, without a locator, the point of the pair that converges more steeply (the
        other pair then only gives the direction of the roll axis).
        """
        self._judge()
        if self.locator is not None:
            return center_point(self.locator.line)
        if len(self.upper) != 2 or len(self.lower) != 2:
            return self.convergence("upper" if len(self.upper) == 2 else "lower")
        upper, lower = self.upper[0].line, self.lower[0].line
        first, second = abs(upper.dy * lower.dx), abs(lower.dy * upper.dx)
        steeper: Any = first >= second
        if is_symbolic(steeper) and steeper not in (True, False):
            raise LinkageError(
                "Of two pairs of links the steeper one locates, and letters, such as an unknown that is solved for, cannot "
                "tell which that is; give numbers for the x and y of both pairs' ends, or try values with best_design."
            )
        both = zip(self.convergence("upper"), self.convergence("lower"), strict=True)
        return Point(*(choose(steeper, *parts) for parts in both))

    @cached_property
    def axis_points(self) -> tuple[tuple[str, Point], ...]:
        """The named points of the center plane whose join is the roll axis of a symmetric axle.

        A locator's point and the lower pair's, or the two pairs' points. A pair of upper links beside a
        locator and a lower pair is a fifth rod; it has no say (:attr:`locating_lines`).
        """
        points = [] if self.locator is None else [(self.locator_name, center_point(self.locator.line))]
        for height in ("upper", "lower") if self.locator is None else ("lower", "upper"):
            if len(getattr(self, height)) == 2 and len(points) < 2:
                points.append((f"{height} links", self.convergence(height)))
        return tuple(points)

    @cached_property
    def roll_axis(self) -> Line:
        """The line about which the axle rolls relative to the body, running forward.

        Symmetric axle: in the center plane, the join of the locator's point with the point where the links
        meet. Otherwise the transversal of all rods that runs fore and aft. With unequal sides a turn about it also
        heaves the axle; roll steer and roll center are those of a roll without heave, and differ from its slope and
        height: the tow car with one lower bracket 40 mm lower has a roll steer of 0.048 and an axis that rises by 0.061.
        """
        if not self.is_symmetric:
            return rods.transversals(self.locating_lines)[0]
        if len(self.axis_points) < 2:
            raise LinkageError(
                "Nothing holds this axle sideways, so it has no roll axis; "
                "add a Panhard bar, a Watt's linkage or a pair of links that converge."
            )
        (one, first), (other, second) = self.axis_points
        try:
            axis: Line = join(first, second)
        except UndefinedError:
            raise LinkageError(
                f"The {one} and the {other} act through the same point, so the axle can turn about any line "
                "through it; move one of them."
            ) from None
        self._judge()  # two directions have a line at infinity, and an axle that is free sideways no axis
        return axis

    @cached_property
    def roll_center(self) -> Point:
        """Where the roll axis pierces the vertical plane through the wheel centers (SAE J670).

        For an axle with unequal sides: the point of the center line at the height where a lateral force on
        the body puts no roll on the springs, which is the same definition as a force; not a point of the roll axis.
        """
        if self.is_symmetric:
            return meet(WHEEL_PLANE, self.roll_axis)
        return Point(0, 0, self.rolling[1], self.rolling[3])

    @cached_property
    def rolling(self) -> tuple[Scalar, ...]:
        """The motion (vx, vy, vz, wx, wy, wz) in roll without heave, up to a factor; v of the axle's origin."""
        return self._motion("heave")

    @cached_property
    def lifting(self) -> tuple[Scalar, ...]:
        """The motion in heave without roll, up to a factor."""
        return self._motion("roll")

    def _motion(self, held: Literal["heave", "roll"]) -> tuple[Scalar, ...]:
        """Return the motion without heave, or without roll, of an axle whose sides may differ."""
        try:
            return rods.free_motion(self.locating_lines, held)
        except UndefinedError as error:
            self.require_located()
            raise LinkageError(str(error)) from None

    @property
    def roll_center_height(self) -> Scalar:
        """Height of the roll center over the ground in mm."""
        return quotient(self.roll_center.z, self.roll_center.w)

    @cached_property
    def roll_axis_slope(self) -> Scalar:
        """Rise of the roll axis per unit of length toward the front."""
        return slope(self.roll_axis)

    @property
    def roll_steer(self) -> Scalar:
        """Yaw of the axle per unit of its own roll, without heave, relative to the body.

        The slope of the roll axis where both sides are equal. With unequal sides it is not: a turn about the axis
        there heaves the axle besides.

        A body roll of phi over an axle that stays flat steers the axle by -phi times this number. Positive at
        a rear axle: it steers out of the turn (roll oversteer); negative: roll understeer.
        """
        if self.is_symmetric:
            return self.roll_axis_slope
        return quotient(self.rolling[5], self.rolling[3])

    @cached_property
    def side_view_instant_center(self) -> FlatPoint:
        """The point about which the axle turns in heave, seen from the side.

        Symmetric axle: the meet of the projected lower and upper links, exact over the whole travel.
        Otherwise the point without velocity when the axle is lifted level. Parallel links: at infinity (w =
        0).
        """
        if self.leaves:
            raise LinkageError(
                "An axle on leaf springs has no instant center of links: its pitch is held by the leaves, which wind up. "
                "Anti-squat, anti-lift and the pinion's angle cannot be told from points."
            )
        if not (self.lower and self.upper):
            raise LinkageError(
                "The side-view instant center needs a lower and an upper link; this axle lacks one of them."
            )
        if not self.is_symmetric:
            return FlatPoint("side", self.lifting[2], -self.lifting[0], self.lifting[4])
        try:
            return meet(project(self.lower[0].line, "side"), project(self.upper[0].line, "side"))
        except UndefinedError:
            raise LinkageError(
                "Lower and upper link lie on one line in the side view, or a link runs straight across the "
                "car: nothing holds the axle in pitch."
            ) from None

    @property
    def pinion_rate(self) -> Scalar:
        """Pitch of the axle per mm of its lift against the body, in rad/mm; positive is pinion (nose) down.

        One over the horizontal distance from the wheel centers forward to the side-view instant center.
        """
        return quotient(self.side_view_instant_center.w, self.side_view_instant_center.u)

    @cached_property
    def rank(self) -> Any:
        """How many rods locate independently; 4 is right, more bind in roll, fewer leave a movement free."""
        return rods.rank(self.lines)

    def require_located(self) -> None:
        """Raise :class:`LinkageError` unless the axle keeps heave and roll and no other free movement."""
        if self._loose:
            raise LinkageError(f"The axle is not located: {self._loose} move {rods.free_movement(self.lines)}.")

    @cached_property
    def _loose(self) -> str:
        """Why the axle is not located; nothing where it is."""
        if np.any(self.rank < 4):
            return f"its {len(self.lines)} rods hold it in {np.min(self.rank)} ways and 4 are needed; it is free to"
        if not np.all(rods.leaves_heave_and_roll(self.lines)):
            return "its rods hold it in roll or heave instead, and it is free, or nearly free, to"
        return ""

    def _judge(self) -> None:
        """Refuse an axle that is not located where single numbers say so; arrays and expressions pass."""
        if rods.single(self.lines):
            self.require_located()
