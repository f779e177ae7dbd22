"""Checking of hand calculations: numbers, formulas, workings and choices; solutions written out."""

from . import derivation
from .by_hand import check_by_hand
from .lesson import Lesson
from .written import formula_card, written_out

__all__ = ["Lesson", "check_by_hand", "derivation", "formula_card", "written_out"]
