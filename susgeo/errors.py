"""Errors named by what went wrong; each carries one sentence that a reader can act on."""

import difflib
from collections.abc import Callable, Iterable
from typing import Any, TypeVar, get_args

WORDS = {
    "str": "text in quotes",
    "NoneType": "None",
    "PathLike": "the path of a file",
    "Iterable": "one or several",
    "Real": "a number",
    "Integral": "a whole number",
    "bool": "True or False",
    "Expr": "an expression",
    "Mapping": 'a value for each place, as {"rear.track": 1400}',
}
"""What a kind is called that is no part of a car."""


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the three of many names that a word comes nearest to, for a sentence about a name that does not exist.

    >>> nearest("rear role center", ["rear roll steer", "rear roll center height", "anti-dive", "track"])
    'rear roll steer, rear roll center height, anti-dive'
    """
    return ", ".join(difflib.get_close_matches(word, list(known), 3, 0.0))


class SusgeoError(ValueError):
    """Base of every error the library raises on purpose.

    In a notebook it shows as its sentence alone, without a traceback from the library's inside.

    >>> issubclass(UndefinedError, SusgeoError)
    True
    """

    def _render_traceback_(self) -> list[str]:
        # IPython asks an exception for this before it prints a traceback.
        return [f"{type(self).__name__}: {self}"]


class UndefinedError(SusgeoError):
    """A construction that determines nothing, such as the line through a point and itself.

    >>> from susgeo import Point, join
    >>> join(Point(1, 2, 3), Point(1, 2, 3))
    Traceback (most recent call last):
        ...
    susgeo.errors.UndefinedError: A point joined with itself gives no line: the two points are the same.
    """


class KindError(SusgeoError, TypeError):
    """A thing of another kind than belongs there, such as (x, y, z) for a point."""


class NotFiniteError(SusgeoError):
    """A measurement that is nan or infinite."""


class ViewError(SusgeoError):
    """Two drawings of different views were combined."""


class LinkageError(SusgeoError):
    """An axle that is not located, binds, or lacks the part that was asked for.

    >>> from susgeo import Arm, Point
    >>> Arm(Point(0, 600, 200), Point(0, 500, 200), Point(0, 400, 200))
    Traceback (most recent call last):
        ...
    susgeo.errors.LinkageError: The arm's ball joint and its two pivots lie on one line, so the arm has no plane.
    """


class MeasurementError(LinkageError):
    """A measurement that no part can have: which field, and what is wrong, with ``{}`` where a point is shown."""

    def told(self, shown: Callable[[Any], str]) -> str:
        """Return what is wrong, each point as ``shown`` writes it: a file's unit need not be mm."""
        _, problem, *points = self.args
        return str(problem).format(*map(shown, points))

    def __str__(self) -> str:
        said = self.told(lambda point: "[" + ", ".join(map(str, tuple(point)[:3])) + "]")
        return f"{self.args[0]}: {said}" if self.args[0] else said[0].upper() + said[1:]


class CarFileError(SusgeoError):
    """A car file that cannot be read as a car; the sentence names file, table, field and value.

    >>> from susgeo import read_car
    >>> read_car("wheelbase = 27OO")
    Traceback (most recent call last):
        ...
    susgeo.errors.CarFileError: the car file does not follow the rules of TOML: line 1, "wheelbase = 27OO": more stands there than a value (a comma, a unit, the letter O for a zero); write fields as name = value, text in quotes, points as [x, y, z], tables as [rear.lower_links], and a decimal point instead of a comma.
    """


Known = TypeVar("Known")


def known(value: Known | None, sentence: str, kind: type[SusgeoError] = SusgeoError) -> Known:
    """Pass on what was measured, or say that it was not.

    >>> known(0.53, "The car has not been weighed.")
    0.53
    """
    if value is None:
        raise kind(sentence)
    return value


def expect(kinds: Any, **given: Any) -> None:
    """Refuse, by its name, what is of none of these kinds.

    Args:
        kinds: a class, or several, as ``Point | Line``.
        given: what was given, by the name that its giver knows.

    >>> from susgeo import Point
    >>> expect(Point, axle=(0, 500, 240))
    Traceback (most recent call last):
        ...
    susgeo.errors.KindError: axle is (0, 500, 240); expected a Point: write Point(0, 500, 240).
    """
    for name, value in given.items():
        if not isinstance(value, kinds) or kinds is Iterable and getattr(value, "ndim", 1) == 0:
            names = [kind.__name__ for kind in get_args(kinds) or (kinds,)]
            words = [WORDS.get(name) or f"{'an' if name[0] in 'AI' else 'a'} {name}" for name in names]
            wanted = " or ".join(filter(None, (", ".join(words[:-1]), words[-1])))
            bare = "Point" in names and isinstance(value, tuple | list) and len(value) == 3
            mend = f": write Point({', '.join(map(str, value))})" if bare else ""
            raise KindError(f"{name} is {repr(value)[:60]}; expected {wanted}{mend}.")


def several(kind: type, **given: Any) -> list[Any]:
    """Return things of one kind as a list; a single one is a list of one.

    >>> several(str, names="rear roll steer")
    ['rear roll steer']
    """
    ((name, things),) = given.items()
    if isinstance(things, kind):
        return [things]
    expect(Iterable, **{name: things})
    for thing in (found := list(things)):
        expect(kind, **{name: thing})
    return found
