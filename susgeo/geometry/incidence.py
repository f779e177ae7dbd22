"""Join and meet: the one idea of the library.

Join makes the line through two points, or the plane through a point and a line. Meet makes the point, or
line, that two lines or planes share. Both are sums of products, so they never divide and need no special
case: parallel lines meet in a point with w = 0. Two things that are the same determine nothing; see
:func:`susgeo.geometry.scalars.settle` for what happens then.

Source: homogeneous and Plücker coordinates as in any textbook of projective geometry; signs derived here.
"""

from typing import Any, overload

from ..errors import KindError, expect
from .flat import VIEWS, FlatLine, FlatPoint, View, check_view, same_view
from .scalars import Scalar, cross, determinant, dot, settle
from .space import Line, Plane, Point

SAME = "A point joined with itself gives no line: the two points are the same."


@overload
def join(first: Point, second: Point) -> Line: ...
@overload
def join(first: FlatPoint, second: FlatPoint) -> FlatLine: ...
@overload
def join(first: Point, second: Line) -> Plane: ...
@overload
def join(first: Line, second: Point) -> Plane: ...
@overload
def join(first: Point, second: Point, third: Point) -> Plane: ...
def join(first: Any, second: Any, third: Any = None) -> Any:
    """Join points and lines.

    Two points give the line through them, in space or in a view; a point and a line, or three points, give
    the plane through them. Points at infinity count as points. A point joined with itself, or with a line
    through it, is undefined: an error for one case, zeros in an array.

    Args:
        first, second, third: points and lines of space, or two points of one view; mm, each coordinate a number, an array or an expression.

    Raises:
        KindError: a view's point with a point of space, or something that is neither point nor line.

    >>> level = join(Point(0, 0, 300), Point(1, 0, 0, 0))
    >>> tuple(level)
    (1, 0, 0, 0, 300, 0)
    """
    if third is not None:
        expect(Point, first=first, second=second, third=third)
        return join(join(first, second), third)
    if isinstance(first, Line):
        first, second = second, first
    if isinstance(first, FlatPoint):
        expect(FlatPoint, second=second)
        return FlatLine(same_view(first, second), *settle(cross(first, second), (first, second), SAME))
    expect(Point, first=first)
    expect(Point | Line, second=second)
    x, y, z, w = first
    if isinstance(second, Point):
        p, q, r, s = second
        d = determinant(w, x, s, p), determinant(w, y, s, q), determinant(w, z, s, r)
        return Line(*settle((*d, *cross((x, y, z), (p, q, r))), (first, second), SAME))
    dx, dy, dz, mx, my, mz = second
    n = (w * m - side for m, side in zip((mx, my, mz), cross((x, y, z), (dx, dy, dz)), strict=True))
    parts = (*n, -dot((x, y, z), (mx, my, mz)))
    sentence = "The point lies on the line, so together they determine no plane."
    return Plane(*settle(parts, (first, second), sentence))


@overload
def meet(first: FlatLine, second: FlatLine) -> FlatPoint: ...
@overload
def meet(first: Plane, second: Line) -> Point: ...
@overload
def meet(first: Line, second: Plane) -> Point: ...
@overload
def meet(first: Plane, second: Plane) -> Line: ...
def meet(first: Any, second: Any) -> Any:
    """Meet lines and planes.

    Two lines of the same view give their point; a plane and a line give the point where it pierces; two
    planes give their line. Parallel ones meet at infinity. Coinciding ones are undefined: an error for one
    case, zeros in an array. Two lines in space meet in a view, or through a plane, never directly.

    Args:
        first, second: two lines of one view, a plane and a line, or two planes.

    Raises:
        KindError: two lines in space, a view's line with a plane, or something that is neither line nor plane.

    >>> ceiling = Plane(0, 0, 1, -2000)
    >>> upright = join(Point(5, 6, 0), Point(5, 6, 1))
    >>> tuple(meet(ceiling, upright))
    (5, 6, 2000, 1)
    """
    if isinstance(first, FlatLine):
        expect(FlatLine, second=second)
        view = same_view(first, second)
        sentence = f"The two lines are the same line in the {view} view, so they meet everywhere."
        return FlatPoint(view, *settle(cross(first, second), (first, second), sentence))
    if isinstance(first, Line):
        first, second = second, first
    if isinstance(first, Line):
        raise KindError("Two lines in space need not meet; project both into one view, or meet one with a plane.")
    expect(FlatLine | Plane, first=first)
    expect(Plane | Line, second=second)
    a, b, c, k = first
    if isinstance(second, Plane):
        e, f, g, h = second
        m = determinant(k, a, h, e), determinant(k, b, h, f), determinant(k, c, h, g)
        return Line(*settle((*cross((a, b, c), (e, f, g)), *m), (first, second), "The two planes are the same plane."))
    dx, dy, dz, mx, my, mz = second
    p = (side - k * d for side, d in zip(cross((a, b, c), (mx, my, mz)), (dx, dy, dz), strict=True))
    parts = (*p, dot((a, b, c), (dx, dy, dz)))
    sentence = "The line lies in the plane, so it pierces it everywhere."
    return Point(*settle(parts, (first, second), sentence))


@overload
def project(thing: Point, view: View) -> FlatPoint: ...
@overload
def project(thing: Line, view: View) -> FlatLine: ...
def project(thing: Any, view: View) -> Any:
    """Draw a point or a line of space in a view.

    A line's drawing is three of its six numbers. A line that runs straight at the viewer is a dot there, not
    a line: undefined (an error for one case, zeros in an array).

    Args:
        thing: a point or a line of space. view: "side", "plan" or "front".

    >>> tuple(project(Point(600, 400, 290), "side"))
    (600, 290, 1)
    """
    check_view(view)
    expect(Point | Line, thing=thing)
    if isinstance(thing, Point):
        parts = tuple(getattr(thing, axis) for axis in (*VIEWS[view], "w"))
        sentence = f"This direction runs straight at the viewer in the {view} view, so it points nowhere there."
        return FlatPoint(view, *settle(parts, (thing,), sentence))
    dx, dy, dz, mx, my, mz = thing
    parts = {"side": (-dz, dx, -my), "plan": (-dy, dx, mz), "front": (-dz, dy, mx)}[view]
    sentence = f"This line runs straight at the viewer in the {view} view: it is drawn as a dot there, not a line."
    return FlatLine(view, *settle(parts, (thing,), sentence))


TOUCHES: dict[type, type] = {FlatPoint: FlatLine, FlatLine: FlatPoint, Point: Plane, Plane: Point, Line: Line}
"""What a thing can touch, each of its own kind."""


def residual(first: Any, second: Any) -> Scalar:
    """Return the number that is zero exactly when two things touch.

    For a point and a line of a view, a point and a plane, or two lines in space (that meet, at infinity or
    not). Its size depends on how the coordinates are scaled; only zero has a meaning.

    Args:
        first, second: the two things.

    >>> residual(Point(0, 0, 0), Plane(0, 0, 1, 0))
    0
    """
    expect(Point | Plane | Line | FlatPoint | FlatLine, first=first)
    expect(TOUCHES[type(first)], second=second)
    if isinstance(first, Line):
        dx, dy, dz, *moment = second
        return dot(first, (*moment, dx, dy, dz))
    if isinstance(first, FlatPoint | FlatLine):
        same_view(first, second)
    return sum(a * b for a, b in zip(first, second, strict=True))
