"""What the library's own geometry says to the calculations of lesson 13."""

from dataclasses import replace

from susgeo import FlatLine, FlatPoint, Point, coordinates, join, meet, moved, project, slope
from susgeo.geometry.space import Plane
from susgeo.loads.anti import anti_squat
from susgeo.results.rows import place


def _near(found, wanted):
    """Hold what a moved bracket gives against what was wanted of it."""
    assert abs(float(found) - wanted) < 1e-8 * (1 + abs(wanted)), (found, wanted)


def _bar(car):
    center, point = car.rear.convergence("lower"), car.rear.locator_point
    axis = join(Point(0, 0, 285), center)
    height = place(meet(axis, Plane(1, 0, 0, -place(point, "x"))), "z")
    ends = {"rear.locator.axle.z": height, "rear.locator.chassis.z": height}
    level = moved(car, {place: float(value) for place, value in ends.items()})
    _near(level.rear.roll_center_height, 285)
    return {"x_Q": place(center, "x"), "z_Q": place(center, "z"), "b": slope(axis), "z_P": height}


def _upper(car, wanted=60):
    """Draw it: the wanted line from the contact patch meets the lower link; the upper link points there."""
    line = join(FlatPoint("side", 0, 0), FlatPoint("side", car.wheelbase, wanted * car.weight.cg_height / 100))
    center = meet(line, project(car.rear.lower[0].line, "side"))
    upper = car.rear.upper[0]
    bracket = meet(join(project(upper.axle, "side"), center), FlatLine("side", 1, 0, -coordinates(upper.chassis)[0]))
    height = bracket.v / bracket.w
    _near(anti_squat(moved(car, {"rear.upper.chassis.z": float(height)})), wanted)
    return {"k": slope(line), "x_IC": place(center, "x"), "z_IC": place(center, "z"), "z_UC": height}


def _rear(car, steer=-0.03):
    """Roll steer is a straight line in the bracket's height: two cars give the third, exactly."""
    low, high = (moved(car, {"rear.lower.chassis.z": z}).rear.roll_steer for z in (100.0, 200.0))
    height = 100.0 + 100.0 * (steer - low) / (high - low)
    first = moved(car, {"rear.lower.chassis.z": float(height)})
    _near(first.rear.roll_steer, steer)
    then = _upper(first)
    center = place(first.rear.convergence("lower"), "z")
    return {"z_Q": center, "z_L": height, "s_L": slope(project(first.rear.lower[0].line, "side")), "z_U": then["z_UC"]} | {
        name: then[name] for name in ("k", "x_IC", "z_IC")
    }  # fmt: skip


def _ball(car, wanted=130):
    """The upper arm's plane and the line to the contact patch meet at x = 0; the lower arm's plane goes through there."""
    car = replace(car, front=replace(car.front, tie_rod=None))  # the paper way: two planes
    front = car.front
    upper = meet(front.upper.plane, Plane(1, 0, 0, 0))
    center = meet(join(FlatPoint("front", 0, wanted), FlatPoint("front", front.track / 2, 0)), project(upper, "front"))
    y, z = place(center, "y"), place(center, "z")
    arm = join(front.lower.front_pivot, front.lower.rear_pivot, Point(0, y, z))
    upright = join(front.lower.ball_joint, Point(0, 0, 1, 0))
    height = place(meet(arm, upright), "z")
    _near(moved(car, {"front.lower.ball_joint.z": float(height)}).front.roll_center_height, wanted)
    return {"y_N": y, "z_N": z, "z_J": height}


TRUTH = {"mend_bar": _bar, "mend_upper": _upper, "mend_rear": _rear, "mend_ball": _ball}
