"""The classroom: hand lessons out, collect them, mark them with nbgrader, and see what a class misunderstands.

What a student's notebook calls is offered here and needs no package beyond those of the course.
"""

from .handin import hand_in
from .student import data, marks, who

__all__ = ["data", "hand_in", "marks", "who"]
