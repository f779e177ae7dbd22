"""Where drawn lines meet, by two general-purpose libraries: SymPy's geometry (exact) and Shapely (floats)."""

import numpy as np
import shapely
import sympy

VIEWS = {"side": (0, 2), "plan": (0, 1), "front": (1, 2)}


def drawn(place, view):
    """Return a point of space as one draws it in a view: (to the right, up)."""
    return tuple(place[axis] for axis in VIEWS[view])


def crossing(first, second):
    """Return where the lines through two segments cross, exactly, as SymPy numbers; None when parallel.

    Coordinates are taken as the numbers they are: a float counts as the fraction it holds.
    """
    one, other = (sympy.Line(*(sympy.Point(*map(sympy.Rational, end)) for end in s)) for s in (first, second))
    found = one.intersection(other)
    return (found[0].x, found[0].y) if found and isinstance(found[0], sympy.Point) else None


def crossing_by_shapely(first, second, reach=1e4):
    """Return the same as floats, by prolonging both segments ``reach`` times each way; None beyond that."""
    long = []
    for a, b in (np.array(first, float), np.array(second, float)):
        long.append(shapely.LineString([a - reach * (b - a), b + reach * (b - a)]))
    found = long[0].intersection(long[1])
    return (found.x, found.y) if found.geom_type == "Point" and not found.is_empty else None
