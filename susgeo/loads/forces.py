"""The force in every rod of a live axle under drive, braking, cornering and bump, from the rods' matrix.

The matrix that says how the rods' lengths change in a small motion says, read by columns instead of rows, how the
rods' forces act (virtual work). Its columns are the axle's six coordinates and one turn for each crank; what
the springs cannot hold (fore and aft, sideways, pitch and yaw, and every crank about its pin) the rods must, and
heave and roll are left to springs and anti-roll bar. So every rod between two joints is found at once: the
cranks' rods and the center link of a Mumford linkage as well.

Assumed: frictionless joints; springs that push upright, side by side; cranks on fore-and-aft pins; the position at
rest; loads that change slowly. Tension is positive. Forces in N on the axle, x
forward, y left, z up; moments in N mm; accelerations in m/s^2.

Source: statics, derived here; the buckling load is Euler's, any textbook of strength of materials.
"""

import math
from dataclasses import dataclass, field, replace
from numbers import Real
from typing import Any, Literal

import numpy as np

from ..car.axle import LiveAxle
from ..car.car import Car, axle_of, brake_share, weighed, whole
from ..car.front import IndependentFront
from ..car.rods import METER
from ..errors import KindError, LinkageError, SusgeoError, expect
from ..geometry.scalars import Scalar, alone, finite, is_array, is_symbolic, plain, quotient
from ..geometry.space import tidy
from ..tables import Table, shown
from ..travel.live import UNKNOWN, held_axle, straight_rods
from ..travel.newton import HEAVE, PITCH, ROLL, YAW, Array, X, Y
from .cornering import GRAVITY, Cornering, cornering
from .springs import NEWTON_METER, roll_stiffness

Force = tuple[Scalar, Scalar, Scalar]

CAUTIONS = (
    "An estimate for a rod with a joint at each end, loaded slowly along the line between them. It knows nothing of "
    "shocks, potholes, curbs, fatigue, welds, brackets, bolts, wear or rust, and real loads can be several "
    "times those of a smooth road. Local codes, the maker's data sheet of a rod end, and the judgment of a qualified "
    "person decide; never cut into, weld or run suspension parts on the strength of this number."
)


@dataclass(frozen=True)
class TireForces:
    """What the ground does to both tires of one axle, and what the axle's own mass adds, in N.

    Args:
        left, right: force at the contact patch, (forward, left, up).
        own: weight and inertia of the axle itself, and what else acts at the middle of the wheel-center line.
        shaft_torque: about x, that the propeller shaft puts on the axle at its pinion, in N mm.
        corner: whose loads these are; its ``warning`` says where they no longer hold.

    >>> forces = TireForces(left=(1500, 0, 3000), right=(1500, 0, 3000))
    >>> forces.left[0] + forces.right[0]  # driving
    3000
    """

    left: Force
    right: Force
    own: Force = (0.0, 0.0, 0.0)
    shaft_torque: Scalar = 0.0
    corner: Cornering | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        for name, force in {"left": self.left, "right": self.right, "own": self.own}.items():
            if not isinstance(force, tuple | list) or len(force) != 3:
                raise KindError(f"{name} is {force!r}; expected a force (forward, left, up) in N.")
            for part in force:
                finite(part, f"{name} of the tire forces")
        tidy(self, ("shaft_torque",), "of the tire forces")


@dataclass(frozen=True, eq=False)
class RodForces:
    """The force in each rod, in N, tension positive, by name; of many axles at once an array, nan where it cannot be held.

    Args:
        tension: by the names of :func:`susgeo.travel.live.straight_rods`.
        springs: upward force of both springs together on the body, in N.
        roll_moment: of springs and anti-roll bar on the axle, in N mm.
        determinate: False where statics alone does not tell (five rods): then both upper links carry the same, which
            is the library's rule for all five-rod axles (:attr:`susgeo.car.axle.LiveAxle.locating_lines`); bushings decide.
        unbalanced: the largest force, or moment over a meter, left over when all is summed, in N.
        corner: whose loads these are, if of one.
    """

    tension: dict[str, Scalar]
    springs: Scalar
    roll_moment: Scalar
    determinate: bool
    unbalanced: Scalar
    corner: Cornering | None = field(default=None, repr=False)

    def table(self) -> Table:
        """Return the forces in rows, with pull and push in words; a rod that carries nothing has none."""
        if any(map(is_array, self.tension.values())):
            raise SusgeoError(
                "These are the forces of many cars at once; ask for tension, or for the table of one car."
            )
        rows = []
        for name, force in self.tension.items():
            rows.append((name, shown(abs(force), "N"), "" if abs(force) < 0.5 else "pull" if force > 0 else "push"))
        note = (
            "One rod too many: statics does not tell how the rods share the load. Shown is what holds the axle if both "
            "upper links carry the same; the stiffness of the bushings decides, and the moment with which they bind comes on top."
        )
        sentences = ["" if self.determinate else note, self.corner.warning if self.corner else ""]
        return Table(("rod", "N", "it must"), tuple(rows), "\n".join(filter(None, sentences)))


def tire_forces(
    car: Car,
    drive: float = 0.0,
    braking: float = 0.0,
    lateral: float = 0.0,
    bump: float = 1.0,
    edge: float = 0.0,
    end: Literal["rear", "front"] = "rear",
    final_drive: float | None = None,
) -> TireForces:
    """Return the forces on one axle of a car that speeds up, brakes, corners and meets a bump, all at once.

    Drive on the rear wheels alone, equal left and right; the propeller shaft's torque only where its ratio to the
    wheels is given, and then it loads the left tire more than the right (:func:`shaft_torque_transfer`); side force as the axle's share of the mass, left and right in proportion to
    load; upright loads at rest, changed by the load transfer lengthwise (m a h / L) and across
    (:func:`susgeo.loads.cornering.cornering`), then multiplied by ``bump``.

    Args:
        car: with that axle and weight; for braking also its share, for cornering all that
            :func:`susgeo.loads.cornering.cornering` needs.
        drive, braking: acceleration and deceleration, in m/s^2, of the whole car.
        lateral: acceleration to the left, in m/s^2.
        bump: how many times its load each tire carries; 1 on a smooth road, 2 or 3 in a bump (common practice, no
            source). Where the springs stand in the plane of the wheel centers they take it all.
        edge: what a bump's edge pushes both wheels rearward with, at their centers, as a part of that load.
        end: which axle.
        final_drive: turns of the propeller shaft for one of the wheels, such as 4.1; None leaves its torque out.

    Raises:
        SusgeoError: something was not measured, or a tire of one car would be in the air.

    >>> from susgeo import load_car
    >>> [round(part) for part in tire_forces(load_car("data/club_coupe.toml"), drive=4.0).left]
    [2160, 0, 2765]
    """
    car, axle = whole(car), axle_of(car, end)
    for what, value in (("drive", drive), ("braking", braking), ("lateral", lateral), ("bump", bump), ("edge", edge)):
        number = not (is_array(finite(value, what)) or is_symbolic(value))
        if not number or (what in ("braking", "bump", "edge") and not plain(value) >= 0):
            raise SusgeoError(f"{what} is {value}; expected one number{'' if is_array(value) else ', zero or more'}.")
    weight, gain, rear = weighed(car), drive - braking, end == "rear"
    share, brakes = weight.front_share, brake_share(car) if braking else 0.0
    if rear:
        share, brakes = 1 - share, 1 - brakes
    ahead = weight.mass * (drive * rear - braking * brakes)
    moved = (1 if rear else -1) * gain * weight.cg_height / car.wheelbase
    loads, corner = [weight.mass * (GRAVITY * share + moved) / 2] * 2, None
    if lateral:
        corner = cornering(car, lateral)
        moved = getattr(corner, end).transfer
        loads = [loads[0] - moved, loads[1] + moved]
    shaft = 0.0
    if final_drive is not None and rear and drive:
        if not finite(final_drive, "final_drive") > 0:
            raise SusgeoError(f"final_drive is {final_drive}; expected a ratio above zero, such as 4.1.")
        shaft = ahead * axle.tire_radius / final_drive
        moved = shaft / NEWTON_METER * shaft_torque_transfer(car)
        loads = [loads[0] + moved, loads[1] - moved]
    if any(map(is_symbolic, loads)):
        raise SusgeoError("Tire forces are for numbers and arrays; put numbers in the place of letters.")
    lightest = np.min([np.min(np.asarray(load, dtype=float)) for load in loads])
    if lightest < 0 and not any(map(is_array, loads)):
        raise SusgeoError(f"A {end} tire would carry {lightest:.0f} N: it is in the air; take smaller accelerations.")
    side, own = weight.mass * share * lateral, getattr(weight, f"{end}_unsprung_mass")
    left, right = (tuple(map(alone, (ahead / 2, side * load / sum(loads), bump * load))) for load in loads)
    push = -own * gain - edge * bump * sum(loads)
    return TireForces(left, right, tuple(map(alone, (push, -own * lateral, -own * GRAVITY))), alone(-shaft), corner)


def shaft_torque_transfer(car: Car) -> Scalar:
    """Return the load that moves from the right rear tire to the left one for each N m of the propeller shaft's torque.

    The shaft twists the axle one way and, through engine and mounts, the body the other way. The body rolls on the
    springs of both axles, and the rear springs give their part back to the axle; what the front springs hold is left
    for the tires: K_f / ((K_f + K_r) t). For the usual rotation, counterclockwise as seen from behind (common practice,
    no source). The body's own weight, which leans with it, is left out.

    Args:
        car: with both axles and their springs.

    >>> from susgeo import load_car
    >>> car = load_car("data/club_coupe.toml")
    >>> force, radius, ratio = 1080 * 4.0, 0.300, 4.1
    >>> round(shaft_torque_transfer(car) * force * radius / ratio)
    160
    """
    car, track = whole(car), axle_of(car, "rear").track
    front, rear = roll_stiffness(car.front_springs, car.front), roll_stiffness(car.rear_springs, car.rear)
    return quotient(NEWTON_METER * front, (front + rear) * track)


def rod_forces(axle: LiveAxle, forces: TireForces, spring_x: float = 0.0) -> RodForces:
    """Return the force in every rod of a live axle at rest that holds given tire forces.

    Args:
        axle: of numbers or arrays, one that has moved included; any locator.
        forces: on the tires and on the axle itself.
        spring_x: how far ahead of the wheel centers the springs stand, in mm.

    Raises:
        LinkageError: this is no live axle, it is not located, or its rods cannot hold these forces.

    >>> from susgeo import load_car
    >>> car = load_car("data/club_coupe.toml")
    >>> found = rod_forces(car.rear, tire_forces(car, drive=4.0))
    >>> {name: round(force) for name, force in found.tension.items()}
    {'left lower link': -3714, 'right lower link': -3714, 'upper link': 3844, 'Panhard bar': 0}
    """
    expect(LiveAxle | IndependentFront, axle=axle)
    expect(TireForces, forces=forces)
    spring_x = finite(spring_x, "spring_x")
    if not isinstance(axle, LiveAxle):
        raise LinkageError("Rod forces are for a live axle on its links; this suspension is an independent one.")
    if axle.leaves:
        raise LinkageError(
            "The forces in leaf springs are not those of rods: they bend and wind up; their maker knows what they bear."
        )
    if any(map(is_symbolic, (*forces.left, *forces.right, *forces.own, forces.shaft_torque, spring_x))):
        raise SusgeoError("Rod forces are solved in numbers; put a number in the place of every symbol first.")
    system, shape, _ = held_axle(axle)
    many = bool(shape)
    if not many:
        axle.require_located()
    size = np.ones(len(system.at_rest))
    size[[ROLL, PITCH, YAW]] = METER
    size[6:] = METER / 10  # a crank's arm
    held = [*UNKNOWN, *range(6, len(size))]
    jacobian = replace(system, as_one=None).evaluate(system.at_rest, range(len(size)))[1]
    rows = np.moveaxis(jacobian, -1, 0).swapaxes(1, 2) / size[:, None]  # (axles, coordinates, rods)
    wrench = np.concatenate([_wrench(axle, forces, shape), np.zeros((len(size) - 6, math.prod(shape)))]).T / size
    for each in (rows, wrench):  # a pitch about the springs' seats, which they do not feel
        each[:, PITCH] += spring_x / METER * each[:, HEAVE]
    share, upper = np.eye(rows.shape[2]), len(axle.lower)
    if axle.over_located:  # the upper pair counts as one link
        share = np.delete(share, upper + 1, axis=1)
        share[upper + 1, upper] = 1.0
    sound = np.isfinite(rows).all(axis=(1, 2), keepdims=True)
    wanted = np.where(sound, wrench[:, held, None], np.nan)
    answer = np.linalg.pinv(np.where(sound, rows[:, held] @ share, 0.0)) @ wanted
    tension = (share @ answer)[..., 0]
    left_over = wrench - (rows @ tension[..., None])[..., 0]
    unbalanced: Any = np.abs(left_over[:, held]).max(axis=1)
    lost: Array = unbalanced > 1e-6 * np.maximum(1.0, np.abs(wrench).max(axis=1))
    if np.any(lost) and not many:
        raise LinkageError(
            f"The rods cannot hold these forces: {unbalanced[0]:.0f} N would be left over. The axle stands at a dead point."
        )

    def out(values: Any) -> Scalar:
        return np.where(lost, np.nan, values).reshape(shape) if many else float(values[0])

    names = {rod.name: out(force) for rod, force in zip(straight_rods(axle), tension.T, strict=True)}
    springs, moment = out(left_over[:, HEAVE]), out(-left_over[:, ROLL] * METER)
    return RodForces(names, springs, moment, not axle.over_located, out(unbalanced), forces.corner)


def _wrench(axle: LiveAxle, forces: TireForces, shape: tuple[int, ...]) -> Array:
    """Return force and moment, about the middle of the wheel-center line, by the axle's coordinates, (6, axles)."""
    half, down = quotient(axle.track, 2), -axle.tire_radius
    total: list[Scalar] = [0.0] * 6
    for (fx, fy, fz), y, z in ((forces.left, half, down), (forces.right, -half, down), (forces.own, 0, 0)):
        added = {X: fx, Y: fy, HEAVE: fz, ROLL: y * fz - z * fy, PITCH: z * fx, YAW: -y * fx}
        total = [part + added[place] for place, part in enumerate(total)]
    total[ROLL] += forces.shaft_torque
    return np.array([np.broadcast_to(np.asarray(part, dtype=float), shape).reshape(-1) for part in total])


YIELD_STRENGTH = 235.0
"""N/mm^2, of plain structural steel (S235, EN 10025; from memory). The maker's certificate of a tube counts."""


def _section(outer: float, wall: float | None) -> tuple[float, float]:
    """Return area in mm^2 and second moment of area in mm^4 of a round rod or tube."""
    expect(Real, outer=outer)
    expect(Real | None, wall=wall)
    outer = float(outer)
    inner = 0.0 if wall is None else outer - 2 * float(wall)
    if not (0 <= inner < outer < math.inf):
        raise SusgeoError(
            f"A rod of diameter {outer:g} mm and wall {wall} mm: expected a diameter above zero and a "
            "wall between zero and half the diameter."
        )
    return math.pi * (outer**2 - inner**2) / 4, math.pi * (outer**4 - inner**4) / 64


def buckling_load(length: Scalar, outer: float, wall: float | None = None, modulus: float = 205_000.0) -> Scalar:
    """Return Euler's load in N at which a straight rod between two joints bows out: pi^2 E I / l^2.

    For slender rods; a stocky one yields first (:class:`Margin`). See :data:`CAUTIONS`.

    Args:
        length: between the joints, mm.
        outer: outer diameter, mm.
        wall: thickness of a tube's wall, mm; None for a solid rod.
        modulus: of elasticity in N/mm^2; 205 000 for steel, 70 000 for aluminum alloys (handbook values, from memory).

    >>> round(buckling_load(526, 30, 3))
    171666
    """
    for what, value in (("length of the rod", length), ("modulus", modulus)):
        if is_symbolic(finite(value, f"The {what}")) or not np.all(np.asarray(value) > 0):
            raise SusgeoError(f"The {what} is {value}; expected a number above zero.")
    return math.pi**2 * modulus * _section(outer, wall)[1] / length**2


@dataclass(frozen=True)
class Margin:
    """How many times the force in a rod could grow; infinite where it cannot bow out because it pulls. The lowest counts.

    Args:
        buckling: until the rod bows out, by Euler. It says nothing of a rod below the limit of slenderness.
        yielding: until the metal stays bent or crushed, the bending of a bent link included.
        rod_end: until the rod end's static rating is reached.
        slenderness: the length over the section's radius of gyration.
        euler_from: slenderness at which Euler's stress is the yield strength. Below it the rod yields first; near it,
            it gives way below both loads.
        cautions: what these numbers leave out; read them.
    """

    buckling: Scalar
    yielding: Scalar
    rod_end: Scalar
    slenderness: Scalar
    euler_from: float
    cautions: str = CAUTIONS

    @property
    def lowest(self) -> Scalar:
        """The margin that counts."""
        return alone(np.minimum(np.minimum(self.buckling, self.yielding), self.rod_end))

    def table(self) -> Table:
        """Return the three margins in rows, the lowest marked, and below them what they leave out; of one rod."""
        if is_array(self.lowest) or is_array(self.slenderness):
            raise SusgeoError(
                "These are the margins of many rods at once; ask for lowest, or for the table of one rod."
            )
        rows = []
        all_three = {"rod bows out": self.buckling, "metal yields": self.yielding, "rod end's rating": self.rod_end}
        for what, times in all_three.items():
            mark = "lowest" if times == self.lowest < math.inf else ""
            rows.append((f"until the {what}", "infinite" if math.isinf(times) else f"{times:.1f}", mark))
        way = "yields" if self.slenderness < self.euler_from else "bows out"
        note = f"Slenderness {self.slenderness:.0f}: Euler's load holds from about {self.euler_from:.0f} on; this rod {way} first."
        return Table(("how often the force fits", "times", "which counts"), tuple(rows), f"{note}\n{self.cautions}")


def margin(
    tension: Scalar,
    length: Scalar,
    outer: float,
    rod_end_rating: float,
    wall: float | None = None,
    offset: float = 0.0,
    yield_strength: float = YIELD_STRENGTH,
    modulus: float = 205_000.0,
) -> Margin:
    """Return the margins of a round rod and its rod ends, as an estimate. See :data:`CAUTIONS`.

    A bent link bends besides: its force acts at ``offset`` from the metal. The stress F/A + F e c/I, in a pushed one
    grown by 1/(1 - F/F_Euler), reaches the yield strength (Ayrton and Perry's formula; any textbook of columns).

    Args:
        tension: force in the rod, N, negative when it pushes; with arrays, here or as length, the margins are arrays.
        length, outer, wall, modulus: as for :func:`buckling_load`.
        rod_end_rating: static radial load of the rod end from its maker's data sheet, N.
        offset: how far a bent link's metal strays from the line between its joints, mm.
        yield_strength: of the metal, N/mm^2.

    >>> found = margin(-8000, 526, 30, 32_000, wall=3)
    >>> round(found.buckling, 1), round(found.yielding, 1), found.rod_end, found.lowest
    (21.5, 7.5, 4.0, 4.0)
    """
    if is_symbolic(tension := finite(tension, "The force in the rod")):
        raise SusgeoError("A margin is for numbers and arrays; put numbers in the place of letters.")
    tension = alone(tension)
    euler, (area, second) = buckling_load(length, outer, wall, modulus), _section(outer, wall)
    rating = 1.0 if rod_end_rating == math.inf else rod_end_rating
    for what, value in {"rating": rating, "offset": offset, "yield strength": yield_strength}.items():
        if not (np.isscalar(value) and (plain(finite(value, f"The {what}")) > 0 or (what == "offset" and value == 0))):
            raise SusgeoError(
                f"The {what} is {value}; expected one number above zero{', or zero' * (what == 'offset')}."
            )
    if np.any(np.isnan(tension)):
        raise SusgeoError(
            "The force in the rod is nan for one rod at least: there it cannot be held, and has no margin."
        )
    bending = offset * outer / 2 / second
    middle = (1 / area + bending + yield_strength / euler) / 2
    pushed = middle + np.sqrt(np.maximum(middle**2 - yield_strength / (area * euler), 0)) if offset else 1 / area
    hold = yield_strength / np.where(np.asarray(tension) < 0, pushed, 1 / area + bending)
    force = np.where(np.asarray(tension) == 0, np.nan, np.abs(tension))
    loads = (np.where(np.asarray(tension) < 0, euler, math.inf), hold, rod_end_rating)
    buckling, yielding, rod_end = (alone(np.where(np.isnan(force), math.inf, load / force)) for load in loads)
    return Margin(
        buckling, yielding, rod_end,
        slenderness=alone(length * math.sqrt(area / second)), euler_from=math.pi * math.sqrt(modulus / yield_strength),
    )  # fmt: skip
