"""The same linkages in MuJoCo, a general-purpose rigid-body engine: poses over a grid, and forces at rest.

The axle is a body with three slides and three hinges, a crank a body on one hinge, a bar a tendon of fixed
length between two sites. Poses come from the engine's own constraint residuals and Jacobian, put to zero
(``travel``), or from letting it move until it rests (``settle``), which also gives the forces in the bars.
Meters inside the engine; mm, rad, N, N m outside.
"""

from typing import NamedTuple

import mujoco
import numpy as np

MM = 0.001
JOINTS = ("x", "y", "heave", "roll", "yaw", "pitch")
POSE = tuple(JOINTS.index(name) for name in ("x", "y", "heave", "roll", "pitch", "yaw"))
# Constraints are soft by default (25 mm off); the stiffest that is stable at this time step.
STIFF = 'solref="0.002 1" solimp="0.9999 0.9999 0.0001"'


def build(mechanism, heave_rate=60.0, roll_rate=20_000.0):
    """Return a MuJoCo model; the rates, N/mm and N m/rad, stand for the car's springs (``settle`` needs them)."""

    def text(place):
        return " ".join(f"{float(value) * MM:.12g}" for value in place)

    sites: dict = dict.fromkeys(("axle", "body", *range(len(mechanism.cranks))), "")
    tendons = fixed = ""
    for number, (one, first, other, second) in enumerate(mechanism.bars):
        for end, part, place in (("a", one, first), ("b", other, second)):
            # Every body's frame is at the ground's origin at rest, so all points are given alike.
            sites[part] += f'<site name="{end}{number}" pos="{text(place)}"/>'
        tendons += f'<spatial name="bar{number}"><site site="a{number}"/><site site="b{number}"/></spatial>'
        fixed += f'<tendon tendon1="bar{number}" {STIFF}/>'
    for number, (on, pivot, pin) in enumerate(mechanism.cranks):
        axis = " ".join(map(str, pin))
        sites[on] += (
            f'<body name="crank{number}"><joint type="hinge" axis="{axis}" pos="{text(pivot)}" damping="1"/>'
            f'<inertial pos="{text(pivot)}" mass="1" diaginertia=".01 .01 .01"/>{sites[number]}</body>'
        )
    hinges = "".join(
        f'<joint name="{name}" type="{kind}" axis="{axis}" pos="{text(mechanism.middle)}" damping="{damping}" '
        f'stiffness="{stiffness}"/>'
        for name, kind, axis, damping, stiffness in (
            ("x", "slide", "1 0 0", 3000, 0),
            ("y", "slide", "0 1 0", 3000, 0),
            ("heave", "slide", "0 0 1", 3000, heave_rate / MM),
            ("roll", "hinge", "1 0 0", 600, roll_rate),
            ("yaw", "hinge", "0 0 1", 600, 0),
            ("pitch", "hinge", "0 1 0", 600, 0),
        )
    )
    return mujoco.MjModel.from_xml_string(f"""<mujoco>
      <compiler angle="radian"/>
      <option timestep="0.001" gravity="0 0 0" iterations="200" tolerance="1e-14" integrator="implicitfast"
        jacobian="dense"><flag contact="disable"/></option>
      <worldbody>{sites["body"]}<body name="axle">{hinges}
        <inertial pos="{text(mechanism.middle)}" mass="100" diaginertia="25 5 25"/>{sites["axle"]}</body></worldbody>
      <tendon>{tendons}</tendon><equality>{fixed}</equality></mujoco>""")


def _pose(model, position):
    values = np.array([position[model.joint(name).qposadr[0]] for name in JOINTS])
    values[:3] /= MM
    return values[list(POSE)]


def travel(model, heaves, rolls, steps=6):
    """Return poses (x, y, heave, roll, pitch, yaw), mm and rad, for heaves and rolls that broadcast: (..., 6)."""
    heaves, rolls = np.broadcast_arrays(np.asarray(heaves, float), np.asarray(rolls, float))
    poses = np.empty((*heaves.shape, 6))
    for index in np.ndindex(heaves.shape):
        poses[index] = _pose(model, _placed(model, heaves[index] * MM, rolls[index], steps).qpos)
    return poses


def _placed(model, heave, roll, steps):
    """Return data with heave and roll given and everything else where the engine's constraints hold."""
    data = mujoco.MjData(model)
    given = [model.joint(name).qposadr[0] for name in ("heave", "roll")]
    free = [k for k in range(model.nq) if k not in given]
    for share in np.linspace(0, 1, steps + 1)[1:]:
        data.qpos[given] = share * heave, share * roll
        for _ in range(20):
            mujoco.mj_fwdPosition(model, data)
            if np.max(np.abs(data.efc_pos)) < 1e-13:
                break
            jacobian = data.efc_J.reshape(data.nefc, model.nv)[:, free]
            data.qpos[free] -= np.linalg.lstsq(jacobian, data.efc_pos, rcond=None)[0]
        else:
            raise ValueError(f"the engine's bars stretch by {np.max(np.abs(data.efc_pos)) / MM} mm")
    return data


class Rest(NamedTuple):
    """What the engine came to: the axle's pose, the bars' tensions in N, and how far the bars gave, in mm."""

    pose: np.ndarray
    tensions: np.ndarray
    stretch: np.ndarray


def settle(model, force, place, seconds=3.0):
    """Let the axle come to rest under a force (N) on it at a point (mm, at rest, moving with it)."""
    data, axle = mujoco.MjData(model), model.body("axle").id
    for _ in range(round(seconds / model.opt.timestep)):
        data.qfrc_applied[:] = 0
        at = data.xpos[axle] + data.xmat[axle].reshape(3, 3) @ (np.array(place) * MM)
        mujoco.mj_applyFT(model, data, np.array(force, float), np.zeros(3), at, axle, data.qfrc_applied)
        mujoco.mj_step(model, data)
    if np.max(np.abs(data.qvel)) > 1e-6:
        raise ValueError(f"the engine still moves by {np.max(np.abs(data.qvel))} m/s")
    mujoco.mj_forward(model, data)
    # A bar's constraint force acts along its growing length: a push is positive there.
    return Rest(_pose(model, data.qpos), -data.efc_force.copy(), data.efc_pos / MM)
