"""Link geometry for live-axle cars: where the lines meet, and what follows from it.

Everything public is listed here and loaded when it is first used, so that ``import susgeo`` is quick and works
before the packages of the course are installed: the launcher (``python -m susgeo course``) runs this file first.
Any Python from 2.7 can run it, so that an old one is told what is missing; for types see ``__init__.pyi``.
"""

from importlib import import_module

__version__ = "0.1.0"

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
