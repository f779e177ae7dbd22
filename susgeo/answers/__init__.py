"""Checking of hand calculations: numbers, formulas, workings and choices; solutions written out."""

from . import derivation
from .lesson import Lesson
from .written import formula_card, written_out

__all__ = ["Lesson", "derivation", "formula_card", "written_out"]
