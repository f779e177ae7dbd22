"""Truth from outside: the same mechanisms by means that share no formula and no import with susgeo.

``Mechanism`` is plain data. It is solved in three ways: positions by SciPy's root finder on the rods' lengths,
rates by differences of such positions, and equilibrium under load by MuJoCo, a general-purpose rigid-body
engine. No construction line, instant center or Plücker coordinate appears here.
"""

from dataclasses import dataclass, field

import mujoco
import numpy as np
from scipy.optimize import root


@dataclass
class Crank:
    """A crank on a fore-and-aft pin: where it is carried, and its joints, as points at rest."""

    on_axle: bool
    pivot: tuple


@dataclass
class Mechanism:
    """Rods between two carriers each: (carrier, point, carrier, point); a carrier is "axle", "body" or a crank's number."""

    rods: list = field(default_factory=list)
    cranks: list = field(default_factory=list)

    def rod(self, one, first, other, second):
        self.rods.append((one, np.array(first, float), other, np.array(second, float)))
        return self


def rotation(roll, pitch, yaw):
    """The matrix of a turn about x, then y, then z of the body."""
    (a, b, c), (d, e, f) = np.cos([roll, pitch, yaw]), np.sin([roll, pitch, yaw])
    about_x = np.array([[1, 0, 0], [0, a, -d], [0, d, a]])
    about_y = np.array([[b, 0, e], [0, 1, 0], [-e, 0, b]])
    about_z = np.array([[c, -f, 0], [f, c, 0], [0, 0, 1]])
    return about_z @ about_y @ about_x


def place(mechanism, carrier, point, pose, angles):
    """Where a carrier's point is, in the body's axes."""
    x, y, heave, roll, pitch, yaw = pose
    if carrier == "body":
        return point
    if carrier == "axle":
        return rotation(roll, pitch, yaw) @ point + np.array([x, y, heave])
    crank = mechanism.cranks[carrier]
    pivot = np.array(crank.pivot, float)
    turned = rotation(angles[carrier], 0, 0) @ (point - pivot) + pivot
    return place(mechanism, "axle", turned, pose, angles) if crank.on_axle else turned


def solve(mechanism, heave, roll):
    """Return (x, y, pitch, yaw) of the axle and the cranks' angles for a heave and a roll, from rod lengths alone."""
    count = len(mechanism.cranks)
    lengths = [np.linalg.norm(first - second) for _, first, _, second in mechanism.rods]

    def residual(unknown):
        x, y, pitch, yaw = unknown[0], unknown[1], unknown[2] / 1000, unknown[3] / 1000
        angles, pose = unknown[4:] / 100, (x, y, heave, roll, pitch, yaw)
        return [
            np.linalg.norm(place(mechanism, a, p, pose, angles) - place(mechanism, b, q, pose, angles))
            - length
            for (a, p, b, q), length in zip(mechanism.rods, lengths, strict=True)
        ]

    found = root(residual, np.zeros(4 + count), method="hybr", options={"xtol": 1e-13})
    assert np.max(np.abs(found.fun)) < 1e-8, found.message
    return found.x[0], found.x[1], found.x[2] / 1000, found.x[3] / 1000, *(found.x[4:] / 100)


def _rates(function, step):
    ahead, back, far, far_back = (np.array(function(k * step)) for k in (1, -1, 2, -2))
    return (8 * (ahead - back) - (far - far_back)) / (12 * step)


def rates(mechanism):
    """Return what the axle does at rest, from differences of solved positions."""
    lift = _rates(lambda h: solve(mechanism, h, 0.0), 0.5)
    lean = _rates(lambda r: solve(mechanism, 0.0, r), 1e-3)
    return {
        "roll center height": lean[1],  # at this height the axle's sideways speed y' - z is zero
        "roll steer": lean[3],
        "instant center": (1 / lift[2], -lift[0] / lift[2]),
        "pinion rate": lift[2],
    }


def engine_pose(mechanism, load, seconds=4.0):
    """Return (x, y, heave, roll, pitch, yaw) in MuJoCo's equilibrium under a force (3) and moment (3) on the axle.

    Rods are tendons held at their length, cranks are bodies on hinges; two springs stand in for the car's.
    Lengths in meters inside. Constraint settings are the stiffest that stay stable at this time step.
    """
    bodies = {"axle": "", "world": ""}
    for number, crank in enumerate(mechanism.cranks):
        text = (
            f'<body name="crank{number}" pos="{_m(crank.pivot)}"><joint type="hinge" axis="1 0 0" damping="5"/>'
            f'<geom type="sphere" size="0.02" mass="1"/>%s</body>'
        )
        sites = "".join(
            f'<site name="s{index}{side}" pos="{_m(point - np.array(crank.pivot))}"/>'
            for index, (a, p, b, q) in enumerate(mechanism.rods)
            for side, carrier, point in (("a", a, p), ("b", b, q))
            if carrier == number and not isinstance(carrier, str)
        )
        bodies["axle" if crank.on_axle else "world"] += text % sites
    for index, (a, p, b, q) in enumerate(mechanism.rods):
        for side, carrier, point in (("a", a, p), ("b", b, q)):
            if isinstance(carrier, str):
                bodies["axle" if carrier == "axle" else "world"] += (
                    f'<site name="s{index}{side}" pos="{_m(point)}"/>'
                )
    tendons = "".join(
        f'<spatial name="t{index}"><site site="s{index}a"/><site site="s{index}b"/></spatial>'
        for index in range(len(mechanism.rods))
    )
    held = "".join(
        f'<tendon tendon1="t{index}" solref="0.002 1" solimp="0.9999 0.9999 0.0001"/>'
        for index in range(len(mechanism.rods))
    )
    model = mujoco.MjModel.from_xml_string(f"""
    <mujoco><option timestep="0.0005" gravity="0 0 0" iterations="200" tolerance="1e-14" integrator="implicitfast"/>
    <worldbody>{bodies["world"]}
      <body name="axle"><freejoint/><inertial pos="0 0 0.3" mass="100" diaginertia="25 5 25"/>{bodies["axle"]}</body>
    </worldbody><tendon>{tendons}</tendon><equality>{held}</equality></mujoco>""")
    data = mujoco.MjData(model)
    axle = model.body("axle").id
    start = model.jnt_qposadr[model.body_jntadr[axle]]
    speed = model.jnt_dofadr[model.body_jntadr[axle]]
    for _ in range(int(seconds / model.opt.timestep)):
        position, quaternion = data.qpos[start : start + 3], data.qpos[start + 3 : start + 7]
        turn = np.zeros(9)
        mujoco.mju_quat2Mat(turn, quaternion)
        turn = turn.reshape(3, 3)
        roll = np.arctan2(turn[2, 1], turn[2, 2])
        # Springs against heave and roll, and damping of all motion: they only decide where it comes to rest.
        force = np.array(load[:3], float) - [0, 0, 60_000 * position[2]] - 3000 * data.qvel[speed : speed + 3]
        moment = (
            np.array(load[3:], float) - [20_000 * roll, 0, 0] - 600 * turn @ data.qvel[speed + 3 : speed + 6]
        )
        data.qfrc_applied[:] = 0
        mujoco.mj_applyFT(model, data, force, moment, position, axle, data.qfrc_applied)
        mujoco.mj_step(model, data)
    turn = turn.reshape(3, 3)
    pitch, yaw = -np.arcsin(turn[2, 0]), np.arctan2(turn[1, 0], turn[0, 0])
    return (*(1000 * position), roll, pitch, yaw)


def _m(point):
    return " ".join(f"{value / 1000:.9f}" for value in point)


def spring_forces(rods, left_spring, right_spring, force, at):
    """Return the two springs' forces (up on the body) that hold a body on rods under a force at a point.

    Free-body equilibrium of the body alone: six equations, four rods along their own lines, two upright
    springs. ``rods`` are (axle end, chassis end).
    """
    columns = []
    for axle_end, chassis_end in rods:
        along = np.array(chassis_end, float) - axle_end
        columns.append(np.r_[along, np.cross(chassis_end, along)] / np.linalg.norm(along))
    for spring in (left_spring, right_spring):
        columns.append(np.r_[[0, 0, 1], np.cross(spring, [0, 0, 1])])
    load = np.r_[force, np.cross(at, force)]
    return np.linalg.solve(np.array(columns).T, -load)[-2:]
