"""Travel: where an axle is after heave and roll, solved from its rods' lengths for a whole grid at once.

Two frames. *Body axes* are the car file's: everything on the chassis stands still in them. *Ground axes* have
their origin on the ground below the middle of the axle, z square to the ground, x along the body's own x: in
them both wheels stand on z = 0 at any heave and roll, and the moved axle is an ordinary
:class:`susgeo.car.car.axle.LiveAxle`, so that roll center, instant center and roll steer come from the same code as
at rest. A picture of a car that heaves and rolls over a road is a picture in ground axes.

Heave is the rise of the middle of the wheel-center line against the body, in mm along the body's z; roll is
the axle's roll against the body, about x, left side up. The body's own heave and roll are the opposite: a
body that sinks 30 mm and leans by phi is heave = 30, roll = -phi. The axle turns first by pitch (about the
wheel-center line), then by yaw (about the ground's normal), then by roll (about the body's x); so yaw is the
steer seen on the ground, and roll the lean of the wheel-center line. Positive pitch is pinion down, positive
yaw turns to the left (ISO 8855). Angles in radians.

The method, and what makes it safe at dead points, is in :mod:`susgeo.travel.newton`.
"""

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, cast, overload

import numpy as np

from ..car.axle import LiveAxle
from ..car.front import IndependentFront
from ..car.links import Link
from ..car.locators import Locator, MumfordLinkage, PanhardBar, WattsLinkage
from ..car.pickup import in_numbers, mapped
from ..car.rods import METER, RANK_TOLERANCE
from ..errors import LinkageError, MeasurementError, SusgeoError, expect
from ..geometry.flat import VIEWS, View
from ..geometry.measure import coordinates
from ..geometry.scalars import Scalar, alone, finite, is_array, is_symbolic, row
from ..geometry.space import Point, outside
from . import newton as linkage
from .newton import HEAVE, PITCH, ROLL, YAW, Array, Crank, Part, Rods, X, Y, about_x, floats, spin, turn
from .wheel import WheelTravel, wheel_travel

UNKNOWN, GIVEN = (X, Y, PITCH, YAW), (HEAVE, ROLL)


def straight_rods(axle: LiveAxle) -> tuple[Link, ...]:
    """Return every rod between two joints, lower links first, then upper ones, then the locator's.

    Where a rod ends at a crank, the crank's joint stands for the part that carries the crank; the center link
    of a Mumford linkage runs from the left crank to the right one.
    """
    return (*axle.lower, *axle.upper, *axle.held, *(axle.locator.rods if axle.locator else ()))


def cranks(axle: LiveAxle) -> tuple[Crank, ...]:
    """Return the cranks of the axle's locator; joints count the rods of :func:`straight_rods`."""
    first, at = len(axle.lower) + len(axle.upper) + len(axle.held), axle.locator
    if isinstance(at, WattsLinkage):
        return (Crank(at.pivot, at.pivot_on, ((first, at.pivot_on), (first + 1, at.pivot_on))),)
    if isinstance(at, MumfordLinkage):
        return (
            Crank(at.left_pivot, "chassis", ((first, "chassis"), (first + 2, "axle"))),
            Crank(at.right_pivot, "chassis", ((first + 1, "chassis"), (first + 2, "chassis"))),
        )
    return ()


@dataclass(frozen=True, eq=False)
class Travel:
    """A live axle at every state of a grid; see the module for frames, order of turns and signs.

    Every number has the grid's shape, and is nan where the linkage cannot reach.

    Args:
        axle: at rest.
        heave, roll: as given, in mm and rad.
        x, y: shift of the middle of the wheel-center line in body axes, forward and to the left, in mm.
        pitch, yaw: turn of the pinion, positive down, and steer of the axle, positive to the left, in rad.
        turns: of each crank on its pin, about x, in rad.
        stretch: of each rod in mm, in the order of :attr:`names`: nothing, or, with a rod too many, what its
            two joints must give.
        reached: False where the linkage ends before the state.
    """

    axle: LiveAxle
    heave: Scalar
    roll: Scalar
    x: Scalar
    y: Scalar
    pitch: Scalar
    yaw: Scalar
    turns: tuple[Scalar, ...]
    stretch: tuple[Scalar, ...]
    reached: Any

    @property
    def names(self) -> tuple[str, ...]:
        """A name for each rod, in the order of :func:`straight_rods`."""
        return tuple(rod.name for rod in straight_rods(self.axle))

    def carried(self, point: Point, by: Part = "axle") -> Point:
        """Return where a point, given at rest and fixed to axle or chassis, comes to: in ground axes."""
        x, y, z, r = floats(*coordinates(point), self.axle.tire_radius)
        if by == "axle":
            x, y, z = spin(turn(self.pitch), turn(self.yaw), x, y, z - r)
        else:
            x, y, z = about_x(turn(-self.roll), x - self.x, y - self.y, z - r - self.heave)
        return Point(x, y, z + r)

    def in_body(self, point: Point) -> Point:
        """Return the same point, given in ground axes, in body axes: as one sees it who sits in the car."""
        x, y, z, r = floats(*coordinates(point), self.axle.tire_radius)
        x, y, z = about_x(turn(self.roll), x, y, z - r)
        return Point(x + self.x, y + self.y, z + r + self.heave)

    @cached_property
    def moved(self) -> LiveAxle:
        """The axle at every state, in ground axes: all its properties then have the grid's shape.

        Raises:
            LinkageError: there is one state only, and it is out of reach.
        """
        linkage.require(self.reached, self.heave, self.roll)

        def link(at: Link) -> Link:
            return replace(at, axle=self.carried(at.axle), chassis=self.carried(at.chassis, "chassis"))

        at, lower, upper = self.axle.locator, tuple(map(link, self.axle.lower)), tuple(map(link, self.axle.upper))
        locator: Any = link(at) if isinstance(at, PanhardBar) else at and self._moved_cranks(at)
        return replace(self.axle, lower=lower, upper=upper, locator=locator)

    def _moved_cranks(self, at: Any) -> Locator:
        watts = isinstance(at, WattsLinkage)
        on: Part = at.pivot_on if watts else "chassis"
        far: Part = "axle" if on == "chassis" else "chassis"
        places: dict[str, Point] = {}
        if on == "axle":
            places["pin"] = Point(*spin(turn(self.pitch), turn(self.yaw), 1.0, 0.0, 0.0), 0)
        for field in fields(at):
            point, (side, _, kind) = getattr(at, field.name), field.name.rpartition("_")
            if kind in ("crank", "center"):
                x, y, z = floats(*coordinates(point))
                a, b, c = floats(*coordinates(at.pivot if watts else getattr(at, f"{side}_pivot")))
                u, v, w = about_x(turn(self.turns[not watts and side == "right"]), x - a, y - b, z - c)
                point = Point(u + a, v + b, w + c)
            if isinstance(point, Point):
                places[field.name] = self.carried(point, far if kind == "end" else on)
        return cast(Locator, replace(at, **places))

    def at(self, *index: int) -> LiveAxle:
        """Return the axle at one state of the grid, as plain numbers, to draw it: one that was solved."""
        linkage.require(np.asarray(self.reached)[index], np.asarray(self.heave)[index], np.asarray(self.roll)[index])
        found: LiveAxle = mapped(self.moved, lambda _, number: number[index] if is_array(number) else number)
        return found

    @property
    def wheelbase_change(self) -> Scalar:
        """How much longer the wheelbase is than at rest, in mm."""
        return -self.x if self.axle.end == "rear" else self.x

    def link_angles(self, view: View) -> tuple[Scalar, ...]:
        """Return each rod's angle in a view, in rad: rising toward the front, in the front view to the left.

        From -90 to 90 degrees, over the ground. A rod that runs straight at the viewer has none: nan.
        """
        sizes = ((getattr(rod.line, f"d{letter}") for letter in VIEWS[view]) for rod in straight_rods(self.moved))
        with np.errstate(all="ignore"):
            return tuple(alone(np.arctan(np.divide(up, across))) for across, up in sizes)


@overload
def solve_travel(axle: LiveAxle, heave: Any, roll: Any = 0.0, joint_rates: Any = None) -> Travel: ...


@overload
def solve_travel(axle: IndependentFront, heave: Any) -> WheelTravel: ...


def solve_travel(axle: Any, heave: Any, roll: Any = 0.0, joint_rates: Any = None) -> Any:
    """Solve an axle's position for every heave (mm) and roll (rad) of a grid; arrays broadcast.

    Dimensions of the axle may be arrays as well. With as many rods as needed every rod keeps its length. With
    one too many (five rods) the upper pair counts as one link, which is the rule of the roll axis
    (:attr:`susgeo.car.car.axle.LiveAxle.locating_lines`); or, if the rates of the joints are given, all of them share,
    and the position is the one of least energy. ``stretch`` tells what each rod's joints must give. An
    independent wheel takes heave alone.

    Args:
        axle: at rest; its dimensions are where the travel starts.
        heave, roll: of the axle against the body; see the module for signs.
        joint_rates: rate of each rubber joint along its rod in N/mm, one number or one for each rod in the
            order of :func:`straight_rods`; a rod has two joints in series. Without effect on an axle that
            does not bind.

    Raises:
        LinkageError: the axle is not located, or stands at a dead point at rest.

    >>> import numpy as np
    >>> from susgeo import load_car
    >>> rear = load_car("data/three_link.toml").rear
    >>> states = solve_travel(rear, heave=np.linspace(-60, 60, 5)[:, None], roll=np.radians([-3, 0, 3]))
    >>> states.moved.roll_center_height.shape, bool(states.reached.all())
    ((5, 3), True)
    >>> float(solve_travel(rear, heave=60).y)
    -2.1...
    """
    expect(LiveAxle | IndependentFront, axle=axle)
    turned = finite(np.asarray(roll) if np.ndim(roll) else roll, "roll")
    largest = 0.0 if is_symbolic(turned) else float(np.max(np.abs(turned), initial=0.0))
    if problem := outside("angle", largest):
        raise MeasurementError("roll", problem)
    if isinstance(axle, IndependentFront):
        if np.any(roll):
            raise LinkageError("Left and right wheel move each on its own here: give each wheel's heave, and no roll.")
        return wheel_travel(axle, heave)
    if isinstance(axle.locator, WattsLinkage) and axle.locator.pin is not None:
        raise LinkageError(
            "This axle has moved already; start from the axle at rest, with its crank's pin fore and aft."
        )
    if not any(is_array(value) for line in axle.lines for value in line) and not cranks(axle):
        axle.require_located()
    system, shape, target = held_axle(axle, heave=heave, roll=roll)
    rods, rates = replace(system, as_one=None), None
    if joint_rates is not None:
        rates = _rates(joint_rates, len(rods.lengths))
        system = rods
    solved, kept, reached = linkage.follow(system, UNKNOWN, GIVEN, target, rates)
    kept = rods.evaluate(solved, ())[0] if system.as_one else kept
    given, q, stretch = (tuple(alone(row.reshape(shape)) for row in rows) for rows in (target, solved, kept))
    heave, roll = given
    done = alone(reached.reshape(shape)[()])
    return Travel(axle, heave, roll, q[X], q[Y], q[PITCH], q[YAW], q[6:], stretch, done)


def _rates(joint_rates: Any, count: int) -> Array:
    """Return the rate of each rod with its two joints in series."""
    rates = row(joint_rates, "joint_rates")
    if len(rates) not in (1, count) or not np.all(rates > 0):
        raise SusgeoError(
            f"joint_rates is {joint_rates}; expected one number above zero, in N/mm, or one for each of the {count} rods."
        )
    return np.broadcast_to(rates / 2, count)


def held_axle(axle: LiveAxle, **given: Scalar) -> tuple[Rods, tuple[int, ...], Array]:
    """Return a live axle's rods as arrays, the shape of its states, and the given coordinates.

    Two upper links beside a locator and lower links count as one (:attr:`LiveAxle.locating_lines`).
    """
    rods, turning, middle = straight_rods(axle), cranks(axle), (0, 0, axle.tire_radius)
    on_axle, on_chassis, pivots = ([r.axle for r in rods], [r.chassis for r in rods], [c.pivot for c in turning])
    shape, target = linkage.grid([*on_axle, *on_chassis, *pivots], **given)
    pins = tuple((linkage.stack([crank.pivot], middle, shape)[:, 0], crank) for crank in turning)
    ends = linkage.stack(on_axle, middle, shape), linkage.stack(on_chassis, middle, shape)
    pair = (len(axle.lower), len(axle.lower) + 1) if axle.over_located else None
    return Rods(ends[0], ends[1], pins, as_one=pair), shape, target


@dataclass(frozen=True, eq=False)
class Binding:
    """What a rod too many does to an axle at rest.

    Args:
        roll_stiffness: that the rods add, in N m per degree.
        heave_rate: that the rods add, in N/mm.
        direction: "nothing", "in roll", "in heave" or "in heave and roll together".
    """

    roll_stiffness: float
    heave_rate: float
    direction: str


def binding(axle: LiveAxle, joint_rates: Any) -> Binding:
    """Return the stiffness that an axle with a rod too many owes to its rubber joints at rest.

    The least energy in the joints for a given heave and roll; derived here. All zero where nothing binds.

    Args:
        axle: with any number of rods that locate it.
        joint_rates: as in :func:`solve_travel`: of each joint along its rod in N/mm, two joints in series.

    >>> from susgeo import Link, PanhardBar, Point, pair
    >>> five = LiveAxle(
    ...     lower=pair(Link(Point(0, 500, 240), Point(600, 500, 290), "left lower link")),
    ...     upper=pair(Link(Point(-40, 500, 480), Point(350, 500, 470), "left upper link")),
    ...     locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
    ... )
    >>> found = binding(five, joint_rates=1000)
    >>> found.direction, round(found.roll_stiffness, 1)
    ('in roll', 25.8)
    """
    axle = in_numbers(axle, LiveAxle)
    axle.require_located()
    system = replace(held_axle(axle)[0], as_one=None)
    size = len(system.at_rest)
    jacobian = system.evaluate(system.at_rest, range(size))[1][..., 0]
    root = np.sqrt(_rates(joint_rates, len(jacobian)))[:, None]
    # What the rods keep of a heave, and of a roll (an arc at a meter), once the axle has settled as it likes.
    given, free = root * jacobian[:, GIVEN] / [1.0, METER], root * jacobian[:, [*UNKNOWN, *range(6, size)]]
    kept = given - free @ np.linalg.lstsq(free, given, rcond=None)[0]
    heave, roll = np.sum(kept**2, axis=0)
    # Rounding does not count, nor a movement that is hardly resisted beside the other.
    least = max(RANK_TOLERANCE**2 * np.sum(given**2), 1e-4 * max(heave, roll))
    binds = [bool(rate > least) for rate in (heave, roll)]
    words = {(False, False): "nothing", (False, True): "in roll", (True, False): "in heave"}
    direction = words.get((binds[0], binds[1]), "in heave and roll together")
    return Binding(float(roll * np.radians(METER)), float(heave), direction)
