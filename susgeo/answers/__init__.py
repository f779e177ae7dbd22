"""Checking hand calculations: every answer gets a true verdict and a sentence that helps."""

from .lesson import Lesson

__all__ = ["Lesson"]
