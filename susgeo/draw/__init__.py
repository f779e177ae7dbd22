"""Drawings to scale, made with Matplotlib; no widget. ``from susgeo import draw``, then ``draw.axle(car.rear)``."""

from .drawings import OPENINGS, TITLES, axle, car, frame, painter, steps, strip, usual

__all__ = ["OPENINGS", "TITLES", "axle", "car", "frame", "painter", "steps", "strip", "usual"]
