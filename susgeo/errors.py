"""Errors named by what went wrong; each carries one sentence that a reader can act on."""


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
    """A construction that determines nothing, such as the line through a point and itself."""


class NotFiniteError(SusgeoError):
    """A measurement that is nan or infinite."""


class ViewError(SusgeoError):
    """Two drawings of different views were combined."""


class LinkageError(SusgeoError):
    """An axle that is not located, binds, or lacks the part that was asked for."""


class CarFileError(SusgeoError):
    """A car file that cannot be read as a car; the sentence names file, table, field and value."""
