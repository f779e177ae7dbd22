"""Link geometry for live-axle cars: where the lines meet, and what follows from it.

Everything public is listed here and loaded when it is first used, so that ``import susgeo`` is quick and works
before the packages of the course are installed: the launcher (``python -m susgeo course``) runs this file first.
Any Python from 2.7 can run it, so that an old one is told what is missing; for types see ``__init__.pyi``.
"""

from importlib import import_module

__version__ = "0.2.0"

_HOME = {
    "Point": "geometry.space", "Line": "geometry.space", "Plane": "geometry.space",
    "FlatPoint": "geometry.flat", "FlatLine": "geometry.flat",
    "join": "geometry.incidence", "meet": "geometry.incidence", "project": "geometry.incidence", "residual": "geometry.incidence",
    "coordinates": "geometry.measure", "distance": "geometry.measure", "slope": "geometry.measure",
    "Link": "car.links", "pair": "car.links",
    "PanhardBar": "car.locators", "WattsLinkage": "car.locators", "MumfordLinkage": "car.locators",
    "LiveAxle": "car.axle",
    "moved": "car.pickup", "dimension": "car.pickup", "dimensions": "car.pickup",
    "Car": "car.car", "Weight": "car.car", "Springs": "car.car",
    "Arm": "car.front", "StrutLeg": "car.front", "IndependentFront": "car.front",
    "anti_squat": "loads.anti", "anti_lift": "loads.anti", "anti_dive": "loads.anti",
    "GRAVITY": "loads.cornering", "cornering": "loads.cornering", "roll_gradient": "loads.cornering", "car_roll_axis": "loads.cornering", "linear_limit": "loads.cornering",
    "solve_corner": "loads.corner", "corner_end": "loads.corner",
    "rod_forces": "loads.forces", "tire_forces": "loads.forces", "shaft_torque_transfer": "loads.forces", "TireForces": "loads.forces",
    "buckling_load": "loads.forces", "margin": "loads.forces",
    "numbers": "results.quantities", "summary": "results.quantities", "remarks": "workshop.remarks", "Remark": "workshop.remarks", "your_car": "workshop.page",
    "tolerances": "results.tolerance", "tolerance_table": "results.tolerance", "effects": "results.tolerance",
    "solve_for": "results.design", "best_design": "results.design", "Target": "results.design",
    "search": "results.search", "Bracket": "results.places", "Conditions": "results.many", "Obstacle": "results.many",
    "written_out": "answers.written", "check_by_hand": "answers.by_hand",
    "compare": "results.compare", "compare_table": "results.compare",
    "solve_travel": "travel.live", "binding": "travel.live", "clearance": "travel.clearance",
    "Coil": "car.coils", "Damper": "car.coils", "AntiRollBar": "car.coils", "PropellerShaft": "car.shaft", "shim": "car.front",
    "motion_ratio": "loads.springs", "spring_table": "loads.springs", "raised_weighing": "loads.scales", "perch": "loads.scales",
    "turns_table": "results.turns", "turns_for": "results.turns", "tilt_table": "results.turns", "shaft_table": "travel.shaft",
    "load_car": "car.carfile", "read_car": "car.carfile", "save_car": "car.write",
    "SusgeoError": "errors", "UndefinedError": "errors", "LinkageError": "errors", "CarFileError": "errors",
}  # fmt: skip

__all__ = list(_HOME) + ["__version__"]


def __getattr__(name):
    if name in _HOME:
        return getattr(import_module("." + _HOME[name], __name__), name)
    if name == "draw":
        return import_module(".draw", __name__)
    raise AttributeError("module 'susgeo' has no attribute {!r}".format(name))


def __dir__():
    return sorted(__all__ + ["draw"])
