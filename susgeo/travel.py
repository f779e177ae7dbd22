"""Travel: where an axle is after heave and roll, solved from the lengths of its rods for a whole grid at once.

Two frames. *Body axes* are the car file's: everything on the chassis stands still in them. *Ground axes* have
their origin on the ground below the middle of the axle, z square to the ground, x along the body's own x: in
them both wheels stand on z = 0 at any heave and roll, and the moved axle is an ordinary
:class:`susgeo.axle.LiveAxle`, so that roll center, instant center and roll steer come from the same code as at
rest. A picture of a car that heaves and rolls over a road is a picture in ground axes.

Heave is the rise of the middle of the wheel-center line against the body, in mm along the body's z; roll is
the axle's roll against the body, about x, left side up. The body's own heave and roll are the opposite: a body
that sinks 30 mm and leans by phi is heave = 30, roll = -phi. The axle turns first by pitch (about the
wheel-center line), then by yaw (about the ground's normal), then by roll (about the body's x); so yaw is the
steer seen on the ground, and roll the lean of the wheel-center line. Positive pitch is pinion down, positive
yaw turns to the left (ISO 8855). Angles in radians.

Method: Newton's iteration with the rods' own lines as Jacobian, the rows of :mod:`susgeo.rods`, carried along
the straight path from rest to each state. A step is kept only if its second correction is at most a quarter of
the first (step control after P. Deuflhard, Newton Methods for Nonlinear Problems, 2004, chapter 5; from
memory), nothing turned by more than half a radian in it, and the determinant kept its sign; else it is halved.
A state beyond a dead point is thus never reached by a leap; it is marked: nan, and ``reached`` False.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cached_property
from typing import Any, Literal, NamedTuple, cast, overload

import numpy as np
from numpy.typing import NDArray

from .axle import LiveAxle
from .errors import LinkageError
from .flat import View
from .front import Arm, IndependentFront, StrutLeg
from .incidence import project
from .links import Group, Link
from .locators import Locator, MumfordLinkage, PanhardBar, WattsLinkage
from .measure import coordinates, slope
from .rods import METER, RANK_TOLERANCE
from .scalars import Scalar, asin, atan, atan2, cos, degrees, is_array, is_symbolic, quotient, sin, sqrt
from .space import Point

Array = NDArray[Any]
Part = Literal["axle", "chassis"]
X, Y, HEAVE, ROLL, PITCH, YAW = range(6)

RESIDUAL = 1e-10
"""Newton stops when every rod has its length within this, in mm (with a rod too many: when nothing moves)."""
CORRECTIONS = 12
CONTRACTION = 0.25
LARGEST_TURN = 0.5
SMALLEST_STEP = 2.0**-20
"""Where so small a step along the path from rest fails, the linkage ends."""


class Crank(NamedTuple):
    """A crank on a fore-and-aft pin: its pivot, the part that carries it, and its joints as (rod, end)."""

    pivot: Point
    on: Part
    joints: tuple[tuple[int, Part], ...]


def straight_rods(axle: LiveAxle) -> tuple[Link, ...]:
    """Return every rod between two joints, lower links first, then upper ones, then the locator's.

    Where a rod ends at a crank, the crank's joint stands for the part that carries the crank; the center link
    of a Mumford linkage runs from the left crank to the right one.
    """
    at, found = axle.locator, [*axle.lower, *axle.upper]
    if isinstance(at, PanhardBar):
        found += [Link(at.axle, at.chassis, "Panhard bar")]
    elif isinstance(at, WattsLinkage):
        for side, crank, end in (
            ("left", at.left_crank, at.left_end),
            ("right", at.right_crank, at.right_end),
        ):
            ends = (crank, end) if at.pivot_on == "axle" else (end, crank)
            found += [Link(*ends, f"{side} rod of the Watt's linkage")]
    elif isinstance(at, MumfordLinkage):
        found += [Link(at.left_end, at.left_crank, "left rod of the Mumford linkage")]
        found += [Link(at.right_end, at.right_crank, "right rod of the Mumford linkage")]
        found += [Link(at.left_center, at.right_center, "center link of the Mumford linkage")]
    return tuple(found)


def cranks(axle: LiveAxle) -> tuple[Crank, ...]:
    """Return the cranks of the axle's locator; joints count the rods of :func:`straight_rods`."""
    first, at = len(axle.lower) + len(axle.upper), axle.locator
    if isinstance(at, WattsLinkage):
        return (Crank(at.pivot, at.pivot_on, ((first, at.pivot_on), (first + 1, at.pivot_on))),)
    if isinstance(at, MumfordLinkage):
        return (
            Crank(at.left_pivot, "chassis", ((first, "chassis"), (first + 2, "axle"))),
            Crank(at.right_pivot, "chassis", ((first + 1, "chassis"), (first + 2, "chassis"))),
        )
    return ()


Vector = tuple[Scalar, Scalar, Scalar]
Turn = tuple[Scalar, Scalar]
"""Cosine and sine of an angle."""


def _floats(point: Point) -> Any:
    """Return the coordinates as floats: fractions would turn arrays into arrays of objects."""
    return (np.asarray(value, dtype=float)[()] for value in coordinates(point))


def _spin(pitch: Turn, yaw: Turn, x: Scalar, y: Scalar, z: Scalar) -> Vector:
    """Turn a vector by pitch, then by yaw: from the axle to ground axes."""
    (cp, sp), (cy, sy) = pitch, yaw
    x, z = x * cp + z * sp, z * cp - x * sp
    return x * cy - y * sy, x * sy + y * cy, z


def _about_x(turn: Turn, x: Scalar, y: Scalar, z: Scalar) -> Vector:
    """Turn a vector about the x axis; by the roll: from ground to body axes."""
    c, s = turn
    return x, y * c - z * s, y * s + z * c


def _turn(angle: Scalar) -> Turn:
    return cos(angle), sin(angle)


@dataclass(frozen=True, eq=False)
class _Rods:
    """All rods as arrays: ends on axle and chassis, (3, rods, states or 1), from the wheel center at rest.

    ``slides`` are unit vectors fixed to the axle, one for each of the last rows. Such a row keeps the joint on
    the chassis in the plane square to it through the joint on the axle: half of what a strut does.
    """

    axle: Array
    chassis: Array
    cranks: tuple[tuple[Array, Crank], ...] = ()
    slides: Array | None = None

    @cached_property
    def lengths(self) -> Array:
        """What every row measures at rest."""
        return self._measure(np.zeros((6 + len(self.cranks), 1)), [])[0]

    def evaluate(self, q: Array, columns: list[int], states: Any = slice(None)) -> tuple[Array, Array]:
        """Return the rods' stretch, (rods, states), and its derivatives, (rods, columns, states)."""
        measured, jacobian = self._measure(q, columns, states)
        return measured - _some(self.lengths, states), jacobian

    def _measure(self, q: Array, columns: list[int], states: Any = slice(None)) -> tuple[Array, Array]:
        x, y, heave = q[:3]
        (back, pitch, yaw), turns = zip(np.cos(q[3:6]), np.sin(q[3:6]) * [[-1], [1], [1]], strict=True), q[6:]
        ends = {"axle": _some(self.axle, states), "chassis": _some(self.chassis, states)}
        shape = np.broadcast_shapes(*(end.shape[1:] for end in ends.values()), (1, q.shape[1]))
        swept, inner = [], []
        if self.cranks:
            ends = {part: np.array(np.broadcast_to(end, (3, *shape))) for part, end in ends.items()}
        for number, (pivot, crank) in enumerate(self.cranks):
            pin, turn = _some(pivot, states), (np.cos(turns[number]), np.sin(turns[number]))
            for rod, end in crank.joints:
                arm = np.stack(_about_x(turn, *(ends[end][:, rod] - pin)))
                ends[end][:, rod] = pin + arm
                swept.append((number, rod, end, crank.on, (0 * arm[0], -arm[2], arm[1])))
                inner += [rod] if end != crank.on else []  # A Mumford linkage's center link ends on no axle.

        def tilt(points: Array) -> Vector:
            return _about_x(back, points[0] - x, points[1] - y, points[2] - heave)

        axle, (bx, by, bz) = _spin(pitch, yaw, *ends["axle"]), tilt(ends["chassis"])
        if inner:
            for part, value in zip(axle, tilt(ends["axle"][:, inner]), strict=True):
                part[inner] = value
        apart = axle[0] - bx, axle[1] - by, axle[2] - bz
        measured = np.sqrt(apart[0] * apart[0] + apart[1] * apart[1] + apart[2] * apart[2])
        u = ux, uy, uz = apart[0] / measured, apart[1] / measured, apart[2] / measured
        if self.slides is not None:
            rows = slice(-self.slides.shape[1], None)
            for part, value in zip(u, _spin(pitch, yaw, *_some(self.slides, states)), strict=True):
                part[rows] = value
            measured[rows] = sum(p[rows] * a[rows] for p, a in zip(u, apart, strict=True))
        # Direction and moment about the wheel center: the rod's row as in susgeo.rods, on each motion's axis.
        mx, my, mz = by * uz - bz * uy, bz * ux - bx * uz, bx * uy - by * ux
        (cr, sr), (cy, sy) = back, yaw
        full = [ux, uy * cr + uz * sr, uz * cr - uy * sr, mx, my * cy - mx * sy, mz]
        jacobian = np.zeros((shape[0], len(columns), shape[1]))
        for place, column in enumerate(columns):
            if column < 6:
                jacobian[:, place] = full[column]
        jacobian[inner] = 0.0
        for number, rod, end, part, arm in swept:
            if 6 + number in columns:
                way = _spin(pitch, yaw, *arm) if part == "axle" else _about_x(back, *arm)
                along = sum(p[rod] * w for p, w in zip(u, way, strict=True))
                jacobian[rod, columns.index(6 + number)] += along if end == "axle" else -along
        return measured, jacobian


def _some(values: Array, states: Any) -> Array:
    """Return the values of some states; values with a last axis of one serve every state."""
    return values if values.shape[-1] == 1 else values[..., states]


def _normal(jacobian: Array, right: Array, weights: Array) -> tuple[Array, Array]:
    """Return matrices (states, n, n) and columns; where J has rows to spare, those of least squares."""
    square, column = np.moveaxis(jacobian, -1, 0), right.T[..., None]
    if square.shape[1] > square.shape[2]:
        turned = np.swapaxes(square, 1, 2) * weights
        square, column = turned @ square, turned @ column
    return square, column


def _newton(jacobian: Array, right: Array, weights: Array) -> Array:
    """Solve J d = -right by state; nan where J is singular."""
    square, column = _normal(jacobian, right, weights)
    try:
        return -np.linalg.solve(square, column)[..., 0].T
    except np.linalg.LinAlgError:
        singular = np.linalg.det(square) == 0
        return -np.linalg.solve(np.where(singular[:, None, None], np.nan, square), column)[..., 0].T


def _follow(
    rods: _Rods, unknown: list[int], given: list[int], target: Array, weights: Array
) -> tuple[Array, Array, Array]:
    """Follow every state from rest to its target; return the coordinates, the stretch, and whether it arrived."""
    unknown = [*unknown, *range(6, 6 + len(rods.cranks))]
    scale = np.array([1.0 if i in (X, Y, HEAVE) else METER for i in unknown])[:, None]
    count, exact = target.shape[1], len(unknown) == len(rods.lengths)
    q, stretch = np.zeros((6 + len(rods.cranks), count)), np.full((len(rods.lengths), count), np.nan)
    _, jacobian = rods.evaluate(q[:, :1], unknown)
    values = np.linalg.svd(np.moveaxis(jacobian / scale, -1, 0), compute_uv=False)
    if len(values) == 1 and values[0, -1] < RANK_TOLERANCE * values[0, 0]:
        raise LinkageError(
            "At rest the linkage stands at a dead point, or its rods leave a movement free beside heave and roll; "
            "look for a crank in line with its rod, or for two rods on one line."
        )
    sign = _side(jacobian, weights)

    def ahead_of(jacobian: Array, at: Array, states: Any) -> Array:
        """Return how the unknowns change along the path."""
        along = np.einsum("rgn,gn->rn", rods.evaluate(at, given, states)[1], target[:, states])
        return _newton(jacobian, along, weights)

    here, step = np.zeros(count), np.ones(count)
    tangent = ahead_of(jacobian, q[:, :1], slice(None))
    states = np.flatnonzero(np.isfinite(target).all(axis=0))
    while states.size:
        ahead = np.minimum(step[states], 1 - here[states])
        start = q[:, states]
        trial = start.copy()
        trial[given] = (here[states] + ahead) * target[:, states]
        trial[unknown] += ahead * tangent[:, states]
        kept = np.ones(states.size, dtype=bool)
        for number in range(CORRECTIONS):
            found, jacobian = rods.evaluate(trial, unknown, states)
            done = np.max(np.abs(found), axis=0) <= RESIDUAL
            if exact and np.all(done | ~kept):
                break
            change = _newton(jacobian, found, weights)
            moved = np.max(np.abs(scale * change), axis=0)
            done = done if exact else moved <= RESIDUAL
            if number == 0:
                first = moved
            elif number == 1:
                kept = (moved <= CONTRACTION * first) | done
            if np.all(done | ~kept):
                break
            trial[unknown] += np.where(done, 0.0, change)
        turned = np.max(np.abs((trial - start)[[ROLL, PITCH, YAW, *range(6, len(q))]]), axis=0)
        kept &= done & (turned <= LARGEST_TURN) & (_side(jacobian, weights) == _some(sign, states))
        arrived = states[kept]
        q[:, arrived], stretch[:, arrived] = trial[:, kept], found[:, kept]
        here[arrived] = np.where(ahead[kept] == 1 - here[arrived], 1.0, here[arrived] + ahead[kept])
        step[states] = np.where(kept, 2 * ahead, ahead / 2)
        more = kept & (here[states] < 1)
        if np.any(more):
            tangent[:, states[more]] = ahead_of(jacobian[..., more], trial[:, more], states[more])
        states = states[(here[states] < 1) & (step[states] >= SMALLEST_STEP)]
    reached = here == 1
    q[:, ~reached], stretch[:, ~reached] = np.nan, np.nan
    return q, stretch, reached


def _side(jacobian: Array, weights: Array) -> Array:
    """Return the sign of the determinant: it changes where the linkage passes a dead point."""
    return np.sign(np.linalg.det(_normal(jacobian, jacobian[:, 0], weights)[0]))


def _stack(points: Sequence[Point], middle: Vector, shape: tuple[int, ...]) -> Array:
    """Return coordinates from a middle as (3, points, states), or (3, points, 1) where no point is an array."""
    values = [[a - b for a, b in zip(coordinates(point), middle, strict=True)] for point in points]
    shape = shape if any(is_array(value) for point in values for value in point) else ()
    flat = [
        [np.broadcast_to(np.asarray(v, dtype=float), shape).reshape(-1) for v in point] for point in values
    ]
    return np.moveaxis(np.array(flat), 1, 0)


def _states(points: Sequence[Point], *given: Scalar) -> tuple[tuple[int, ...], Array]:
    """Return the shape of all states, and the given coordinates as (given, states)."""
    if any(map(is_symbolic, (*given, *(value for point in points for value in point)))):
        raise LinkageError("Travel is solved in numbers; put a number in the place of every symbol first.")
    shape = np.broadcast_shapes(
        *(np.shape(value) for point in points for value in point), *map(np.shape, given)
    )
    return shape, np.array([np.broadcast_to(np.asarray(v, dtype=float), shape).reshape(-1) for v in given])


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
        stretch: of each rod in mm, by name: nothing, or, with a rod too many, what its bushings must give.
        reached: False where the linkage ends before the state.
        rates: of each rod with its two joints, in N/mm.
    """

    axle: LiveAxle
    heave: Scalar
    roll: Scalar
    x: Scalar
    y: Scalar
    pitch: Scalar
    yaw: Scalar
    turns: tuple[Scalar, ...]
    stretch: dict[str, Scalar]
    reached: Any
    rates: Array

    def carried(self, point: Point, by: Part = "axle") -> Point:
        """Return where a point, given at rest and fixed to the axle or the chassis, comes to, in ground axes."""
        (x, y, z), r = _floats(point), self.axle.tire_radius
        if by == "axle":
            x, y, z = _spin(_turn(self.pitch), _turn(self.yaw), x, y, z - r)
        else:
            x, y, z = _about_x(_turn(-self.roll), x - self.x, y - self.y, z - r - self.heave)
        return Point(x, y, z + r)

    def in_body(self, point: Point) -> Point:
        """Return the same point, given in ground axes, in body axes: as one sees it who sits in the car."""
        (x, y, z), r = _floats(point), self.axle.tire_radius
        x, y, z = _about_x(_turn(self.roll), x, y, z - r)
        return Point(x + self.x, y + self.y, z + r + self.heave)

    @cached_property
    def moved(self) -> LiveAxle:
        """The axle at every state, in ground axes: all its properties then have the grid's shape.

        Raises:
            LinkageError: there is one state only, and it is out of reach.
        """
        _require(self.reached, self.heave, self.roll)

        def links(group: Group) -> Group:
            return tuple(
                Link(self.carried(k.axle), self.carried(k.chassis, "chassis"), k.name) for k in group
            )

        at = self.axle.locator
        locator = None if at is None else self._moved_locator(at)
        return replace(self.axle, lower=links(self.axle.lower), upper=links(self.axle.upper), locator=locator)

    def _moved_locator(self, at: Locator) -> Locator:
        if isinstance(at, PanhardBar):
            return PanhardBar(self.carried(at.axle), self.carried(at.chassis, "chassis"))
        watts = isinstance(at, WattsLinkage)
        on: Part = at.pivot_on if watts else "chassis"
        far: Part = "axle" if on == "chassis" else "chassis"
        places = {}
        for field in fields(at):
            side, _, kind = field.name.rpartition("_")
            if kind not in ("pivot", "crank", "center", "end"):
                continue
            point = getattr(at, field.name)
            if kind in ("crank", "center"):
                _, *pin = _floats(at.pivot if watts else getattr(at, f"{side}_pivot"))
                x, *p = _floats(point)
                _, y, z = _about_x(
                    _turn(self.turns[not watts and side == "right"]), 0, p[0] - pin[0], p[1] - pin[1]
                )
                point = Point(x, y + pin[0], z + pin[1])
            places[field.name] = self.carried(point, far if kind == "end" else on)
        return replace(at, **places)

    def at(self, *index: int) -> LiveAxle:
        """Return the axle at one state of the grid, as plain numbers, to draw it: one that was solved."""
        _require(np.asarray(self.reached)[index], np.asarray(self.heave)[index], np.asarray(self.roll)[index])
        return cast(LiveAxle, _pick(self.moved, index))

    @property
    def wheelbase_change(self) -> Scalar:
        """How much longer the wheelbase is than at rest, in mm."""
        return -self.x if self.axle.end == "rear" else self.x

    def link_angles(self, view: View) -> dict[str, Scalar]:
        """Return the angle of each rod in a view, in rad: from the horizontal, rising forward (or to the left)."""
        return {rod.name: atan(slope(project(rod.line, view))) for rod in straight_rods(self.moved)}

    @property
    def binding_moment(self) -> Scalar:
        """Roll moment in N m with which the stretched rods turn the axle back; zero unless it has one too many."""
        moment: Scalar = 0.0
        for rod, rate in zip(straight_rods(self.moved), self.rates, strict=True):
            if not rod.name.startswith("center link"):
                lever = -(rod.line.mx + self.axle.tire_radius * rod.line.dy) / rod.length
                moment = moment + rate * self.stretch[rod.name] * lever
        return moment / METER


def _require(reached: Any, heave: Scalar, roll: Scalar = 0.0) -> None:
    if not np.ndim(reached) and not reached:
        raise LinkageError(
            f"The linkage cannot reach a heave of {heave:.6g} mm with {degrees(roll):.4g} degrees of roll: "
            "it comes to a dead point before."
        )


def _pick(thing: Any, index: tuple[int, ...]) -> Any:
    """Return a dataclass with every array in it replaced by one of its elements."""
    if is_dataclass(thing) and not isinstance(thing, type):
        changes = {field.name: _pick(getattr(thing, field.name), index) for field in fields(thing)}
        return replace(thing, **changes)
    if isinstance(thing, tuple):
        return tuple(_pick(part, index) for part in thing)
    return thing[index] if is_array(thing) else thing


@overload
def travel(axle: LiveAxle, heave: Any, roll: Any = 0.0, joint_rates: Any = 1.0) -> Travel: ...
@overload
def travel(axle: IndependentFront, heave: Any) -> "WheelTravel": ...
def travel(axle: Any, heave: Any, roll: Any = 0.0, joint_rates: Any = 1.0) -> Any:
    """Solve an axle's position for every heave (mm) and roll (rad) of a grid; arrays broadcast.

    Dimensions of the axle may be arrays as well. With as many rods as needed every rod keeps its length. With
    one too many (five rods) the bushings give: the position is the one of least energy in them, and
    ``stretch`` tells what each must give. An independent wheel takes heave alone.

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
    >>> states = travel(rear, heave=np.linspace(-60, 60, 5)[:, None], roll=np.radians([-3, 0, 3]))
    >>> states.moved.roll_center_height.shape, bool(states.reached.all())
    ((5, 3), True)
    >>> float(travel(rear, heave=60).y)
    -1.89...
    """
    if isinstance(axle, IndependentFront):
        return _wheel_travel(axle, heave)
    if not any(is_array(value) for line in axle.lines for value in line):
        axle.require_located()
    system, shape, target = _system(axle, heave, roll)
    rates = np.broadcast_to(np.asarray(joint_rates, dtype=float) / 2, len(system.lengths))
    q, stretch, reached = _follow(system, [X, Y, PITCH, YAW], [HEAVE, ROLL], target, rates)
    grid = [row.reshape(shape)[()] for row in q]
    names = [rod.name for rod in straight_rods(axle)]
    return Travel(
        axle, *(row.reshape(shape)[()] for row in target), grid[X], grid[Y], grid[PITCH], grid[YAW], tuple(grid[6:]),
        dict(zip(names, (row.reshape(shape)[()] for row in stretch), strict=True)), reached.reshape(shape)[()], rates,
    )  # fmt: skip


def _system(axle: LiveAxle, *given: Scalar) -> tuple[_Rods, tuple[int, ...], Array]:
    """Return a live axle's rods as arrays, the shape of its states, and the given coordinates."""
    rods, middle = straight_rods(axle), (0, 0, axle.tire_radius)
    shape, target = _states([point for rod in rods for point in (rod.axle, rod.chassis)], *given)
    ends = (_stack([getattr(rod, part) for rod in rods], middle, shape) for part in ("axle", "chassis"))
    return (
        _Rods(*ends, tuple((_stack([crank.pivot], middle, shape)[:, 0], crank) for crank in cranks(axle))),
        shape,
        target,
    )


@dataclass(frozen=True, eq=False)
class Binding:
    """What a rod too many does at rest: see :func:`binding`."""

    rank: int
    roll_stiffness: float
    heave_rate: float
    direction: str
    stretch_in_roll: dict[str, float]


def binding(axle: LiveAxle, joint_rates: Any) -> Binding:
    """Return the stiffness that the rods of an axle with one too many add at rest, through their rubber joints.

    ``roll_stiffness`` in N m per degree and ``heave_rate`` in N/mm, both zero for an axle that does not bind;
    ``direction``: "nothing", "in roll", "in heave" or "in heave and roll together"; ``stretch_in_roll``: what
    each rod is stretched by, in mm per degree of roll. Source: least energy in the joints, derived here.

    Args:
        axle: with any number of rods that locate it.
        joint_rates: as in :func:`travel`; a rod has two joints in series.
    """
    axle.require_located()
    system, _, _ = _system(axle)
    jacobian = system.evaluate(np.zeros((6 + len(system.cranks), 1)), list(range(6 + len(system.cranks))))[1][
        ..., 0
    ]
    root = np.sqrt(np.broadcast_to(np.asarray(joint_rates, dtype=float) / 2, len(jacobian)))[:, None]
    unknown = [X, Y, PITCH, YAW, *range(6, jacobian.shape[1])]
    # What is left of heave and roll (a radian at a meter) in the rods after the axle has settled as it likes.
    given = jacobian[:, [HEAVE, ROLL]] * root / [1.0, METER]
    left = (
        given
        - root * jacobian[:, unknown] @ np.linalg.lstsq(root * jacobian[:, unknown], given, rcond=None)[0]
    )
    stiff = left.T @ left
    total = np.trace(stiff)
    binds = [
        RANK_TOLERANCE * np.sum(given**2) < total and stiff[i, i] > RANK_TOLERANCE * total for i in range(2)
    ]
    words = {(False, False): "nothing", (False, True): "in roll", (True, False): "in heave"}
    per_degree = np.radians(1.0) * METER
    return Binding(
        int(axle.rank), stiff[1, 1] * METER * np.radians(1.0), stiff[0, 0],
        words.get((bool(binds[0]), bool(binds[1])), "in heave and roll together"),
        {rod.name: float(mm) for rod, mm in zip(straight_rods(axle), left[:, 1] / root[:, 0] * per_degree, strict=True)},
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class WheelTravel:
    """The left wheel of an independent axle at every heave; the right one mirrors it.

    Args:
        axle: at rest.
        heave: rise of the wheel center against the body, in mm.
        x, y: shift of the wheel center, forward and to the left, in mm.
        roll, pitch, yaw: turns of the knuckle against the body, in rad; the order and the signs of the module.
        reached: False where the linkage ends before the state.
    """

    axle: IndependentFront
    heave: Scalar
    x: Scalar
    y: Scalar
    roll: Scalar
    pitch: Scalar
    yaw: Scalar
    reached: Any

    @property
    def _spindle(self) -> Vector:
        return _about_x(_turn(self.roll), *_spin(_turn(self.pitch), _turn(self.yaw), 0.0, 1.0, 0.0))

    @property
    def camber(self) -> Scalar:
        """Change of camber against the body, in rad; positive leans the wheel's top outward."""
        return -asin(self._spindle[2])

    @property
    def toe_in(self) -> Scalar:
        """Change of toe, in rad; positive turns the wheel's front edge inward. Zero if no tie rod was measured."""
        return atan2(self._spindle[0], self._spindle[1])

    @property
    def caster_change(self) -> Scalar:
        """Turn of the knuckle that leans the steering axis' top rearward, in rad."""
        return -self.pitch

    @cached_property
    def moved(self) -> IndependentFront:
        """The suspension at every heave, with its origin on the ground again, below the wheel centers.

        The tire is a thin disk that stood upright at rest: it touches the ground at its lowest point.
        """
        _require(self.reached, self.heave)
        axle, (_, ny, nz) = self.axle, self._spindle
        r, half = axle.tire_radius, quotient(axle.track, 2)
        lean = sqrt(1 - nz * nz)
        origin = (self.x, 0 * self.y, self.heave + r * (1 - lean))

        def body(point: Point) -> Point:
            return Point(*(a - b for a, b in zip(_floats(point), origin, strict=True)))

        def knuckle(point: Point) -> Point:
            x, y, z = _floats(point)
            x, y, z = _about_x(
                _turn(self.roll), *_spin(_turn(self.pitch), _turn(self.yaw), x, y - half, z - r)
            )
            return Point(x, y + half + self.y, z + r * lean)

        def arm(a: Arm) -> Arm:
            return Arm(knuckle(a.ball_joint), body(a.front_pivot), body(a.rear_pivot))

        rod, top = axle.tie_rod, axle.upper
        upper = arm(top) if isinstance(top, Arm) else StrutLeg(body(top.top_mount), knuckle(top.lower_point))
        return replace(
            axle, lower=arm(axle.lower), upper=upper, track=axle.track + 2 * (self.y + r * ny * nz / lean),
            tie_rod=None if rod is None else Link(knuckle(rod.axle), body(rod.chassis), rod.name),
            tire_radius=r * lean,
        )  # fmt: skip

    def at(self, *index: int) -> IndependentFront:
        """Return the suspension at one heave, as plain numbers, to draw it."""
        _require(np.asarray(self.reached)[index], np.asarray(self.heave)[index])
        return cast(IndependentFront, _pick(self.moved, index))


def _wheel_travel(axle: IndependentFront, heave: Any) -> WheelTravel:
    """Solve the left knuckle: two rods for each arm, a slide for a strut, and the tie rod or no steer at all."""
    middle = (0, quotient(axle.track, 2), axle.tire_radius)
    arms = [axle.lower, axle.upper] if isinstance(axle.upper, Arm) else [axle.lower]
    ends = [(a.ball_joint, pivot) for a in arms for pivot in (a.front_pivot, a.rear_pivot)]
    ends += [] if axle.tie_rod is None else [(axle.tie_rod.axle, axle.tie_rod.chassis)]
    ends += [(axle.upper.lower_point, axle.upper.top_mount)] * 2 if isinstance(axle.upper, StrutLeg) else []
    shape, target = _states([point for pair in ends for point in pair], heave)
    on_axle, on_chassis = (_stack(side, middle, shape) for side in zip(*ends, strict=True))
    slides = None
    if isinstance(axle.upper, StrutLeg):
        leg = (on_chassis - on_axle)[:, -1]
        across = np.stack([0 * leg[0], leg[2], -leg[1]])
        both = np.stack([across, np.cross(leg, across, axis=0)], axis=1)
        slides = both / np.linalg.norm(both, axis=0)
    unknown = [X, Y, ROLL, PITCH] if axle.tie_rod is None else [X, Y, ROLL, PITCH, YAW]
    q, _, reached = _follow(
        _Rods(on_axle, on_chassis, (), slides), unknown, [HEAVE], target, np.ones(len(ends))
    )
    rows = (row.reshape(shape)[()] for row in (target[0], *q[[X, Y, ROLL, PITCH, YAW]]))
    return WheelTravel(axle, *rows, reached.reshape(shape)[()])


def clearance(
    states: Travel, rod: str, shape: Sequence[Point], radius: float, obstacle: Sequence[Point], obstacle_radius: float = 0.0,
    on: Part = "chassis",
) -> Scalar:  # fmt: skip
    """Return the gap between a link's real shape and an obstacle at every state, in mm; negative: they touch.

    Both are tubes along a line of points, given at rest in body axes. The link goes from its rest position to
    each state with its joints, turned the shortest way in the body, without a twist about the line between its
    joints: as rubber joints hold it. One on rod ends can flop: leave it room on every side.

    Args:
        states: what :func:`travel` returned.
        rod: name of the link, as in ``states.stretch``.
        shape: points along the middle of the metal, straight or bent, two or more.
        radius: half of the link's thickness in mm.
        obstacle: points along the obstacle's middle; a single one for a ball.
        obstacle_radius: half of its thickness in mm.
        on: the part that carries the obstacle, "chassis" or "axle".
    """
    names = list(states.stretch)
    if rod not in names:
        raise LinkageError(f"This axle has no rod called {rod}; its rods are: {', '.join(names)}.")
    still, now = (straight_rods(axle)[names.index(rod)] for axle in (states.axle, states.moved))

    count = int(np.size(states.reached))

    def place(point: Point) -> Array:
        return np.stack(
            [np.broadcast_to(value, np.shape(states.reached)).reshape(count) for value in _floats(point)]
        )

    foot, head = place(states.in_body(now.chassis)), place(states.in_body(now.axle))
    base, was, goes = place(still.chassis), place(still.axle) - place(still.chassis), head - foot
    was, goes = was / np.linalg.norm(was, axis=0), goes / np.linalg.norm(goes, axis=0)
    axis, cosine = np.cross(was, goes, axis=0), np.sum(was * goes, axis=0)

    def carry(point: Point) -> Array:
        arm = place(point) - base  # turned by Rodrigues' formula from the one direction to the other
        return (
            foot
            + arm * cosine
            + np.cross(axis, arm, axis=0)
            + axis * np.sum(axis * arm, axis=0) / (1 + cosine)
        )

    line = [carry(point) for point in shape]
    other = [place(states.in_body(states.carried(point)) if on == "axle" else point) for point in obstacle]
    pairs = [(piece, edge) for piece in _pieces(line) for edge in _pieces(other)]
    gap = np.min([_apart(*piece, *edge) for piece, edge in pairs], axis=0) - radius - obstacle_radius
    return np.where(states.reached, gap.reshape(np.shape(states.reached)), np.nan)[()]


def _pieces(points: list[Array]) -> list[tuple[Array, Array]]:
    return list(zip(points, points[1:] or points, strict=False))


def _apart(a: Array, b: Array, c: Array, d: Array) -> Array:
    """Return the distance between the segments ab and cd, of any length, zero included.

    Source: C. Ericson, Real-Time Collision Detection, 2005, section 5.1.9 (from memory).
    """
    u, v, w = b - a, d - c, a - c
    uu, uv, vv, uw, vw = (np.sum(p * q, axis=0) for p, q in ((u, u), (u, v), (v, v), (u, w), (v, w)))

    def share(numerator: Array, denominator: Array) -> Array:
        return np.clip(numerator / np.where(denominator > 0, denominator, np.inf), 0, 1)

    s = share(uv * vw - vv * uw, uu * vv - uv * uv)
    t = share(uv * s + vw, vv)
    s = share(uv * t - uw, uu)
    return cast(Array, np.linalg.norm(w + s * u - t * v, axis=0))
