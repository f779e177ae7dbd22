"""What the type checker must know, and must refuse, of ``susgeo``; mypy reads it with the library, no test runs it.

A refusal that is not needed is one that mypy complains of, so each line marked so is a check.
"""

from typing import assert_type

import susgeo
from susgeo import FlatLine, FlatPoint, Line, Plane, Point, join, load_car, meet, project


def kinds() -> None:
    """What joins, meets and drawings are."""
    point, line = Point(1, 2, 3), join(Point(0, 0, 0), Point(1, 0, 0))
    assert_type(line, Line)
    assert_type(join(point, line), Plane)
    assert_type(join(point, Point(0, 0, 0), Point(4, 5, 5)), Plane)
    assert_type(meet(join(point, line), line), Point)
    assert_type(project(point, "side"), FlatPoint)
    assert_type(meet(project(line, "side"), FlatLine("side", 1, 2, 3)), FlatPoint)
    assert_type(load_car("three_link").title, str)
    meet(line, line)  # type: ignore[call-overload]
    project(point, "below")  # type: ignore[call-overload]
    print(susgeo.nonsense)  # type: ignore[attr-defined]
