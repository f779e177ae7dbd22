"""What the library's geometry says to lesson 12: moments from joins, distances from NumPy, the axis from the matrix."""

import numpy as np

from susgeo import Point, coordinates, join
from susgeo.car.rods import transversals


def _apart(line, other):
    """Return the distance of two lines in space, from two points and two directions."""
    (p, q), (r, s) = (np.array([coordinates(point) for point in ends], float) for ends in (line, other))
    across = np.cross(q - p, s - r)
    return abs((r - p) @ across) / np.linalg.norm(across)


def _string(car):
    link = car.rear.lower[0]
    low, string = ((Point(0, 0, z), Point(1000, 0, z)) for z in (0, 330))
    return {
        "m_x": join(link.axle, link.chassis).mx,
        "low": _apart(low, (link.axle, link.chassis)),
        "apart": _apart(string, (link.axle, link.chassis)),
    }


def _axis(car):
    axis = transversals(car.rear.lines)[0]
    return {"b": axis.dz / axis.dx, "z_R": axis.my / axis.dx}


TRUTH = {"string_and_link": _string, "axis_by_moments": _axis}
