"""Tables for adjusting: what each rod end does, how many turns a wanted axle takes, how far rod ends tilt.

A tube with left- and right-hand thread gets longer by two pitches a turn: 3 mm for M16 x 1.5. One with a thread at one end by one pitch,
and only by half turns.
"""

import math
from collections.abc import Sequence
from numbers import Real

import numpy as np

from ..car.axle import LiveAxle
from ..car.pickup import in_numbers
from ..errors import SusgeoError, expect
from ..geometry.measure import coordinates
from ..geometry.scalars import finite, row
from ..geometry.space import Point
from ..tables import Table, shown, written
from ..travel.adjust import lengths_for, rates
from ..travel.live import solve_travel
from ..travel.newton import Array, Part

MOST = 45.0
"""In degrees: no axle turns as far."""
PARTS: tuple[Part, Part] = ("axle", "chassis")

ORDER = (
    "In this order: center the axle (bar or Watt's linkage); square it (lower links, one longer and the other as much "
    "shorter); set the pinion (upper links); look at the first two again; then set the front wheels to the thrust line. Car on its "
    "wheels at ride height, on four equal ramps or a drive-on lift, never on a jack. Lock nuts tight; a thread stays in by at "
    "least 1.5 times its diameter (common practice, no source), or by what the maker says."
)

LIMIT_NOTE = (
    "Beyond the limit on the maker's sheet the shank is levered against its housing and snaps. Bolts across the car; a bolt "
    "that stands otherwise has its own angle. Look at full droop and at one wheel up as well."
)


def turns_table(axle: LiveAxle, per_turn: float = 3.0) -> Table:
    """Return what each adjustable rod does to the axle, per mm and per turn; heave and roll held.

    Args:
        axle: a live axle of plain numbers. per_turn: by how many mm a turn makes a rod longer.

    >>> from susgeo import load_car
    >>> turns_table(load_car("data/three_link.toml").rear).rows[2][:3]
    ('upper link', '-0.252', '-0.76')
    """
    axle = in_numbers(axle, LiveAxle)
    _check_turn(per_turn)
    cells = []
    for name, found in rates(axle).items():
        pinion, thrust = math.degrees(found["pitch"]), math.degrees(found["yaw"])
        turned = [(pinion, 3), (pinion * per_turn, 2), (thrust, 3), (thrust * per_turn, 2)]
        cells.append((name, *(written(*number) for number in (*turned, (found["y"], 3), (found["x"], 3)))))
    head = (
        "1 mm longer", "pinion, deg", f"deg a turn of {per_turn:g} mm", "thrust angle, deg", f"deg a turn of {per_turn:g} mm",
        "axle to the left, mm", "axle forward, mm",
    )  # fmt: skip
    return Table(head, tuple(cells), f"Positive: pinion down, nose of the axle left. {ORDER}")


def turns_for(
    axle: LiveAxle,
    pinion: float = 0.0,
    thrust: float = 0.0,
    sideways: float = 0.0,
    forward: float = 0.0,
    per_turn: float = 3.0,
) -> Table:
    """Return how far to turn every rod so that the axle changes as wanted, all at once; exact for large changes too.

    Args:
        axle: a live axle of plain numbers. pinion: change wanted, degrees, pinion down. thrust: degrees, nose left.
        sideways: mm to the left. forward: mm. per_turn: as for :func:`turns_table`.

    >>> from susgeo import load_car
    >>> print(turns_for(load_car("data/three_link.toml").rear, pinion=-2, thrust=0.2).rows)
    (('left lower link', '-0.7', '-0.23'), ('right lower link', '-4.1', '-1.37'), ('upper link', '5.5', '1.82'), ('Panhard bar', '-0.4', '-0.14'))
    """
    axle = in_numbers(axle, LiveAxle)
    expect(Real, pinion=pinion, thrust=thrust, sideways=sideways, forward=forward)
    _check_turn(per_turn)
    for name, change in {"pinion": pinion, "thrust": thrust}.items():
        if abs(finite(change, name)) > MOST:
            raise SusgeoError(f"{name} is {change}; expected a change in degrees, at most {MOST:g} either way.")
    sideways, forward = finite(sideways, "sideways"), finite(forward, "forward")
    found = lengths_for(axle, pitch=math.radians(pinion), yaw=math.radians(thrust), y=sideways, x=forward)
    rows = [(name, shown(change, "mm"), f"{change / per_turn:.2f}") for name, change in found.items()]
    return Table(("rod", "mm longer", f"turns of {per_turn:g} mm, longer"), tuple(rows), ORDER)


def _check_turn(per_turn: float) -> None:
    expect(Real, per_turn=per_turn)
    if not finite(per_turn, "per_turn") > 0:
        raise SusgeoError(
            f"A turn makes a rod longer by {per_turn} mm; expected a number above zero: two pitches, or one."
        )


def tilt_table(
    axle: LiveAxle, limit: float, heaves: Sequence[float] = (-60, 0, 60), rolls: Sequence[float] = (-4, 0, 4)
) -> Table:
    """Return how far each link's rod ends tilt, at most, over a grid of heaves and rolls, against the maker's limit.

    A rod end lets its rod lean by the angle out of the plane square to its bolt: asin(lean / length). Bolts stand across the car; the
    axle's bolts turn with the axle.

    Args:
        axle: a live axle of plain numbers. limit: from the maker's sheet, degrees. heaves: mm. rolls: degrees.

    >>> from susgeo import load_car
    >>> tilt_table(load_car("data/three_link.toml").rear, limit=12).rows[2]
    ('upper link', '1.3', '2.0', 'fits')
    """
    axle = in_numbers(axle, LiveAxle)
    expect(Real, limit=limit)
    rises, leans = row(heaves, "heaves"), row(rolls, "rolls")
    if not (limit > 0 and len(rises) and len(leans)) or np.abs(leans).max(initial=0.0) > MOST:
        raise SusgeoError(
            f"Expected a limit above zero and heaves and rolls, these of at most {MOST:g} degrees; got {limit}, {heaves} and {rolls}."
        )
    states = solve_travel(axle, rises[:, None], np.radians(leans))
    rows = []
    for link in (*axle.lower, *axle.upper):
        most, along = [], _apart(states.carried(link.axle), states.carried(link.chassis, "chassis"))
        for place, by in zip((link.axle, link.chassis), PARTS, strict=True):
            x, y, z = coordinates(place)
            bolt = _apart(states.carried(place, by), states.carried(Point(x, y + 1.0, z), by))
            lean = np.abs(np.sum(bolt * along, axis=0)) / np.linalg.norm(along, axis=0)
            most.append(float(np.degrees(np.arcsin(lean)).max()))
        rows.append((link.name, *(f"{each:.1f}" for each in most), "fits" if max(most) <= limit else "TOO FAR"))
    head = ("link", "at the axle, deg", "at the chassis, deg", f"limit {limit:g} deg")
    return Table(head, tuple(rows), LIMIT_NOTE)


def _apart(first: Point, second: Point) -> Array:
    """Return the vectors from one point to another over a grid, (3, ...)."""
    return np.stack(np.broadcast_arrays(*(b - a for a, b in zip(coordinates(first), coordinates(second), strict=True))))
