"""The bench: sliders that move pick-up points while drawing and numbers follow."""

from .controls import Slider, heave, roll
from .live import Bench, bench, value_of
from .words import shown

__all__ = ["Bench", "Slider", "bench", "heave", "roll", "shown", "value_of"]
