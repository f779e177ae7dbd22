"""The whole car in a steady corner, in MuJoCo: body, axles, knuckles, cranks, and rods of fixed length, at rest.

The engine turns and carries the parts, measures the rods, and says what a force at a point or in a rod does along each
joint. Its constraints are soft when it steps; so it does not step: Newton's iteration, with differences of what the engine
says, seeks the place where all rods keep their lengths, all tires touch, and nothing is left along any joint. Springs act along two joints, or as lines
between two points.

Meters and kN inside, mm, rad and N outside. Angles of the body: pitch about a level line, then roll.
"""

from typing import NamedTuple

import mujoco
import numpy as np

from .fronts import Front
from .mechanism import Mechanism

MM, GRAVITY = 0.001, 9.80665
INERTIA = '<inertial pos="0 0 0" mass="1" diaginertia="1 1 1"/>'


class Axle(NamedTuple):
    """An axle of the car: how it is held, and plain numbers; spring rates in N/mm, the bar's in N m/deg."""

    held: Mechanism | Front
    track: float
    radius: float
    own_mass: float
    rate: float
    spacing: float
    bar: float
    as_one: tuple | None = None  # two bars of which only the lengths' sum is kept
    coil: tuple | None = None  # left seat on axle or knuckle, and top on the body; then ``rate`` is along that line


class Settled(NamedTuple):
    """Where the body came to, loads and side forces on the tires by name, and each axle's rods' tensions in order."""

    heave: float
    pitch: float
    roll: float
    loads: dict
    sides: dict
    tensions: dict


def _text(place):
    return " ".join(f"{float(value) * MM:.15g}" for value in place)


AXES = {"x": "1 0 0", "y": "0 1 0", "heave": "0 0 1", "roll": "1 0 0", "yaw": "0 0 1", "pitch": "0 1 0"}


def _joints(name, place, kinds):
    return "".join(
        f'<joint name="{name} {kind}" armature="1" axis="{AXES[kind]}" pos="{_text(place)}" '
        f'type="{"slide" if kind in ("x", "y", "heave") else "hinge"}"/>'
        for kind in kinds
    )


def _part(name, middle, sites, kinds=tuple(AXES)):
    return f'<body name="{name}">{_joints(name, middle, kinds)}{INERTIA}{sites}</body>'


class Model:
    """The engine's model of a car: ``axles`` are {"rear": Axle, "front": Axle}; mass in kg, the rest in mm."""

    def __init__(self, axles, wheelbase, mass, front_share, cg_height):
        self.mass = mass
        self.wheels = {}  # by name: part, wheel center in its frame, spindle, radius, own mass
        self.springs = []  # joints, preload, rates
        lines = []  # coils by name: joints, and what they carry together at rest
        tendons = fixed = on_body = parts = ""
        carried = {"rear": mass * (1 - front_share), "front": mass * front_share}
        body = mass - sum(axle.own_mass for axle in axles.values())
        own = {"rear": 0.0, "front": wheelbase}
        self.center = np.array([
            sum((carried[end] - axle.own_mass) * own[end] for end, axle in axles.items()) / body, 0.0,
            (mass * cg_height - sum(axle.own_mass * axle.radius for axle in axles.values())) / body,
        ])  # fmt: skip
        self.body_mass = body
        for end, axle in axles.items():
            shift = np.array([own[end], 0.0, 0.0])
            over = (carried[end] - axle.own_mass) * GRAVITY
            rate = 0.0 if axle.coil else axle.rate
            roll_rate = rate * axle.spacing**2 / 2 * MM + axle.bar * 180 / np.pi  # N m per rad
            if isinstance(axle.held, Mechanism):
                sites = dict.fromkeys(("axle", "body", *range(len(axle.held.cranks))), "")
                bars = [(b.one, b.first, b.other, b.second) for b in axle.held.bars]
                middle = np.array(axle.held.middle)
                groups = [(end, bars, sites, middle, tuple(AXES))]
                self.springs.append(
                    ([f"{end} heave", f"{end} roll"], [over, 0.0], [[2 * rate / MM, 0], [0, roll_rate]])
                )
                for side, sign in (("left", 1), ("right", -1)):
                    self.wheels[f"{end} {side}"] = end, middle + shift + [0, sign * axle.track / 2, 0], axle
            else:
                groups, half = [], axle.track / 2
                bar = roll_rate / MM**2 / (2 * half) ** 2 - rate / MM / 2
                own_rate = rate / MM + bar
                names = [f"{end} {side}" for side in ("left", "right")]
                self.springs.append(
                    ([f"{n} heave" for n in names], [over / 2, over / 2], [[own_rate, -bar], [-bar, own_rate]])
                )
                kinds = [kind for kind in AXES if axle.held.tie_rod or kind != "yaw"]
                for name, flip in zip(names, (np.ones(3), np.array([1, -1, 1])), strict=True):
                    bars = [("axle", one * flip, "body", other * flip) for one, other in axle.held.rods]
                    sites = {"axle": "", "body": ""}
                    middle = axle.held.center * flip
                    if axle.held.strut is not None:  # a tube in the knuckle; its top is pinned to the body
                        low, top = (place * flip for place in axle.held.strut)
                        way = " ".join(map(repr, map(float, (top - low) / np.linalg.norm(top - low))))
                        sites["axle"] += (
                            f'<body name="{name} tube"><joint name="{name} tube" type="slide" armature="1" axis="{way}"/>{INERTIA}'
                            f'<site name="{name} top" pos="{_text(top + shift)}"/></body>'
                        )
                        sites["body"] += f'<site name="{name} mount" pos="{_text(top + shift)}"/>'
                        fixed += f'<connect site1="{name} top" site2="{name} mount"/>'
                    groups.append((name, bars, sites, middle, kinds))
                    self.wheels[name] = name, middle + shift, axle
            if axle.coil:
                joints, held, bar_rates = self.springs.pop()
                self.springs.append((joints, [0.0, 0.0], bar_rates))
                lines.append((end, joints, held, axle.rate))
                for (_, _, sites, _, _), side in zip(groups * (3 - len(groups)), ("left", "right"), strict=True):
                    flip, label = np.array([1, 1 if side == "left" else -1, 1]), f"{end} coil {side}"
                    for mark, part, place in zip("ab", ("axle", "body"), axle.coil, strict=True):
                        sites[part] += f'<site name="{label} {mark}" pos="{_text(place * flip + shift)}"/>'
                    tendons += f'<spatial name="{label}"><site site="{label} a"/><site site="{label} b"/></spatial>'
            for name, bars, sites, middle, kinds in groups:
                for number, (one, first, other, second) in enumerate(bars):
                    label = f"{name} bar {number}"
                    for mark, part, place in (("a", one, first), ("b", other, second)):
                        sites[part] += f'<site name="{label} {mark}" pos="{_text(place + shift)}"/>'
                    tendons += f'<spatial name="{label}"><site site="{label} a"/><site site="{label} b"/></spatial>'
                for number, (on, pivot, pin) in enumerate(getattr(axle.held, "cranks", ())):
                    sites[on] += (
                        f'<body name="{name} crank {number}"><joint name="{name} crank {number}" type="hinge" armature="1" '
                        f'axis="{" ".join(map(str, pin))}" pos="{_text(pivot + shift)}"/>{INERTIA}{sites[number]}</body>'
                    )
                parts += _part(name, middle + shift, sites["axle"], kinds)
                on_body += sites["body"]
                one, other = axle.as_one or (None, None)
                for number in sorted({*range(len(bars))} - {other}):
                    fixed += f'<tendon tendon1="{name} bar {number}"'
                    fixed += f' tendon2="{name} bar {other}" polycoef="0 -1 0 0 0"/>' if number == one else "/>"
        # Nothing pushes the car lengthwise: there it stays.
        joints = _joints("body", self.center, ("y", "heave", "yaw", "pitch", "roll"))
        self.model = mujoco.MjModel.from_xml_string(f"""<mujoco><compiler angle="radian" autolimits="true"/>
          <option gravity="0 0 0" jacobian="dense"><flag contact="disable"/></option>
          <worldbody><body name="body">{joints}{INERTIA}{on_body}{parts}</body></worldbody>
          <tendon>{tendons}</tendon><equality>{fixed}</equality></mujoco>""")
        self.data = mujoco.MjData(self.model)
        mujoco.mj_fwdPosition(self.model, self.data)
        self.count = self.data.nefc
        self.body = self.model.body("body").id
        self.dofs = {self.model.joint(k).name: self.model.joint(k).dofadr[0] for k in range(self.model.njnt)}
        self.coils = []  # tendon, length at rest in m, force there in kN, rate in kN/m
        for end, joints, carried, rate in lines:
            pair = [self.model.tendon(f"{end} coil {side}").id for side in ("left", "right")]
            given = [self.dofs[joint] for joint in joints]
            others = [k for name, k in self.dofs.items() if k not in given and not name.startswith("body ")]
            fixed = self.data.efc_J.reshape(self.count, -1)
            slopes = self._tendons()[pair]  # as the axle moves, all that must follow it following
            slopes = slopes[:, given] - slopes[:, others] @ np.linalg.pinv(fixed[:, others]) @ fixed[:, given]
            forces = np.linalg.solve(-slopes.T, np.array(carried) * MM)
            self.coils += [(k, self.data.ten_length[k], f, rate) for k, f in zip(pair, forces, strict=True)]
        # All frames are at the ground's origin at rest, so a place is the same in each.
        self.placed = [(self.model.body(part).id, place * MM, axle) for part, place, axle in self.wheels.values()]

    def _tendons(self):
        """Return how the lengths of all tendons go with the joints, (tendons, joints)."""
        found, model = np.zeros((self.model.ntendon, self.model.nv)), self.model
        sparse = model.ten_J_rownnz, model.ten_J_rowadr, model.ten_J_colind.reshape(-1)
        mujoco.mju_sparse2dense(found, self.data.ten_J.reshape(-1), *sparse)
        return found

    def _left_over(self, unknown, acceleration, by_load):
        model, data, size = self.model, self.data, self.model.nv
        data.qpos[:], multipliers = unknown[:size], unknown[size : size + self.count]
        loads, sides = unknown[size + self.count : -2], unknown[-2:]
        mujoco.mj_fwdPosition(model, data)
        pull = np.zeros(size)

        def push(body, place, force):
            mujoco.mj_applyFT(model, data, np.asarray(force, float), np.zeros(3), place, body, pull)

        def at(body, place):
            return data.xpos[body] + data.xmat[body].reshape(3, 3) @ place

        touching = []
        for number, (body, center, axle) in enumerate(self.placed):
            hub, spindle = at(body, center), data.xmat[body].reshape(3, 3)[:, 1]
            down = spindle * spindle[2] - [0.0, 0.0, 1.0]
            patch = hub + axle.radius * MM * down / np.linalg.norm(down)
            pair = slice(number // 2 * 2, number // 2 * 2 + 2)
            share = loads[number] / loads[pair].sum() if by_load else 0.5
            push(body, patch, [0.0, share * sides[number // 2], loads[number]])
            push(body, hub, np.array([0.0, -acceleration, -GRAVITY]) * axle.own_mass / 2 * MM)
            touching.append(patch[2])
        push(self.body, at(self.body, self.center * MM), np.array([0.0, -acceleration, -GRAVITY]) * self.body_mass * MM)
        for joints, preload, rates in self.springs:
            dofs = [self.dofs[joint] for joint in joints]
            # A spring lifts the body as much as it presses the axle down.
            pull[dofs] -= (np.array(preload) + np.array(rates) @ data.qpos[dofs]) * MM
        slopes = self._tendons() if self.coils else ()
        for tendon, length, force, rate in self.coils:
            pull += slopes[tendon] * (force + rate * (length - data.ten_length[tendon]))
        pull += data.efc_J.reshape(self.count, size).T @ multipliers
        held = [data.qpos[self.dofs["body y"]], data.qpos[self.dofs["body yaw"]]]
        return np.concatenate([pull, data.efc_pos * 100, np.array(touching) * 100, held])

    def _slopes(self, unknown, *case):
        steps = 1e-6 * np.eye(len(unknown))
        here = self._left_over(unknown, *case)
        return np.array([self._left_over(unknown + e, *case) - here for e in steps]).T / 1e-6

    def settle(self, acceleration, by_load=True, steps=4):
        """Return the car at rest in a steady corner, reached in steps from standing."""
        size, wheels = self.model.nv, list(self.wheels)
        unknown = np.zeros(size + self.count + 6)
        unknown[-6:-2] = self.mass * GRAVITY / 4 * MM
        for share in np.linspace(0, 1, steps + 1):
            for _ in range(20):
                left = self._left_over(unknown, share * acceleration, by_load)
                if np.max(np.abs(left)) < 1e-8:
                    break
                unknown = unknown - np.linalg.solve(self._slopes(unknown, share * acceleration, by_load), left)
            else:
                raise ValueError(f"the engine's car is not at rest: {np.max(np.abs(left))}")
        q, forces = unknown[:size], unknown[size:] / MM
        loads = dict(zip(wheels, forces[self.count : -2], strict=True))
        sides = {}
        for number, name in enumerate(wheels):
            pair = wheels[number // 2 * 2 : number // 2 * 2 + 2]
            share = loads[name] / sum(loads[one] for one in pair) if by_load else 0.5
            sides[name] = share * forces[-2:][number // 2]
        # A rod's constraint force acts along its growing length: a push is positive there.
        order = self._order()
        tensions = {label: -forces[row] for row, label in order.items()}
        place = [q[self.dofs[f"body {joint}"]] for joint in ("heave", "pitch", "roll")]
        return Settled(place[0] / MM, place[1], place[2], loads, sides, tensions)

    def _order(self):
        """Return {row of the engine's equalities: rod}, from the tendons' own numbers."""
        rows, row = {}, 0
        for kind, number in zip(self.model.eq_type, self.model.eq_obj1id, strict=True):
            if kind == mujoco.mjtEq.mjEQ_TENDON:
                rows[row] = self.model.tendon(number).name
            row += 1 if kind == mujoco.mjtEq.mjEQ_TENDON else 3
        return rows
