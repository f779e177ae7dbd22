"""Link geometry for live-axle cars: where the lines meet, and what follows from it.

Everything public is listed here and loaded when it is first used, so that ``import susgeo`` is quick and works
before the packages of the course are installed: the launcher (``python -m susgeo course``) runs this file first.
"""

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_HOME = {
    "Point": "space", "Line": "space", "Plane": "space",
    "FlatPoint": "flat", "FlatLine": "flat",
    "join": "incidence", "meet": "incidence", "project": "incidence", "residual": "incidence",
    "coordinates": "measure", "distance": "measure", "slope": "measure",
    "Link": "links", "pair": "links",
    "PanhardBar": "locators", "WattsLinkage": "locators", "MumfordLinkage": "locators",
    "LiveAxle": "axle",
    "moved": "pickup", "dimension": "pickup", "dimensions": "pickup",
    "Car": "car", "Weight": "car", "Springs": "car",
    "Arm": "front", "StrutLeg": "front", "IndependentFront": "front",
    "anti_squat": "anti", "anti_lift": "anti", "anti_dive": "anti",
    "cornering": "loads", "roll_gradient": "loads", "car_roll_axis": "loads", "first_lift": "loads",
    "rod_forces": "forces", "tire_forces": "forces", "TireForces": "forces",
    "buckling_load": "forces", "margin": "forces",
    "numbers": "quantities",
    "tolerances": "tolerance", "tolerance_table": "tolerance", "effects": "tolerance",
    "solve_for": "design", "best_design": "design", "Target": "design",
    "compare": "before_after", "compare_table": "before_after",
    "solve_travel": "travel", "binding": "travel", "clearance": "metal",
    "load_car": "carfile", "read_car": "carfile", "save_car": "carfile",
    "SusgeoError": "errors", "UndefinedError": "errors", "LinkageError": "errors", "CarFileError": "errors",
}  # fmt: skip

__all__ = [*_HOME, "__version__"]  # noqa: PLE0604


def __getattr__(name: str) -> Any:
    if name in _HOME:
        return getattr(import_module(f".{_HOME[name]}", __name__), name)
    raise AttributeError(f"module 'susgeo' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
