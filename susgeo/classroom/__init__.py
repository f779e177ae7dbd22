"""The classroom: hand lessons out, collect them, mark them with nbgrader, and see what a class misunderstands.

What a student's notebook calls is offered here and needs no package beyond those of the course.
"""

from pathlib import Path

from ..answers.lesson import Page
from .student import data, marks, who

__all__ = ["data", "hand_in", "marks", "who"]


def hand_in(assignment: str, student: str, folder: Path | str = ".") -> Page:
    """Check the saved notebook and pack it for handing in: what would be marked, and what is missing or damaged."""
    # Here and not above: it loads nbformat, which takes longer than all the rest, and the marking needs none of it.
    from .handin import check_and_pack

    return check_and_pack(assignment, student, Path(folder))
