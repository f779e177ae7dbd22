"""A live axle on its links: instant center, points of convergence, roll axis, roll center, roll steer."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any, Literal

import numpy as np

from ..errors import LinkageError, UndefinedError
from ..geometry.flat import FlatPoint
from ..geometry.incidence import join, meet, project
from ..geometry.measure import coordinates, slope
from ..geometry.scalars import Scalar, choose, is_symbolic, quotient
from ..geometry.space import CENTER_PLANE, WHEEL_PLANE, Line, Point, tidy
from . import rods
        for height in ("lower", "upper"):
            group = getattr(self, height)
            if not isinstance(group, tuple):
                object.__setattr__(self, height, (group,) if isinstance(group, Link) else tuple(group))
