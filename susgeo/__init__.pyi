"""What ``import susgeo`` offers, for editors and type checkers; ``__init__.py`` loads it when it is used."""

from .car.axle import LiveAxle as LiveAxle
from .car.car import Car as Car, Springs as Springs, Weight as Weight
from .car.carfile import load_car as load_car, read_car as read_car
from .car.front import Arm as Arm, IndependentFront as IndependentFront, StrutLeg as StrutLeg, shim as shim
from .car.links import Link as Link, pair as pair
from .car.locators import MumfordLinkage as MumfordLinkage, PanhardBar as PanhardBar, WattsLinkage as WattsLinkage
from .car.pickup import dimension as dimension, dimensions as dimensions, moved as moved
from .car.write import save_car as save_car
from .errors import (
    CarFileError as CarFileError,
    LinkageError as LinkageError,
    SusgeoError as SusgeoError,
    UndefinedError as UndefinedError,
)
from .geometry.flat import FlatLine as FlatLine, FlatPoint as FlatPoint
from .geometry.incidence import join as join, meet as meet, project as project, residual as residual
from .geometry.measure import coordinates as coordinates, distance as distance, slope as slope
from .geometry.space import Line as Line, Plane as Plane, Point as Point
from .loads.anti import anti_dive as anti_dive, anti_lift as anti_lift, anti_squat as anti_squat
from . import draw as draw
from .loads.cornering import (
    GRAVITY as GRAVITY,
    car_roll_axis as car_roll_axis,
    cornering as cornering,
    linear_limit as linear_limit,
    roll_gradient as roll_gradient,
)
from .loads.forces import (
    TireForces as TireForces,
    buckling_load as buckling_load,
    margin as margin,
    rod_forces as rod_forces,
    tire_forces as tire_forces,
)
from .results.compare import compare as compare, compare_table as compare_table
from .results.many import Conditions as Conditions, Obstacle as Obstacle
from .results.places import Bracket as Bracket
from .results.search import search as search
from .results.design import Target as Target, best_design as best_design, solve_for as solve_for
from .results.quantities import numbers as numbers, summary as summary
from .workshop.page import your_car as your_car
from .workshop.remarks import Remark as Remark, remarks as remarks
from .results.tolerance import effects as effects, tolerance_table as tolerance_table, tolerances as tolerances
from .travel.clearance import clearance as clearance
from .travel.live import binding as binding, solve_travel as solve_travel

__version__: str
from .car.coils import AntiRollBar as AntiRollBar
from .car.coils import Coil as Coil
from .car.coils import Damper as Damper
from .car.shaft import PropellerShaft as PropellerShaft
from .loads.scales import perch as perch
from .loads.scales import raised_weighing as raised_weighing
from .loads.springs import motion_ratio as motion_ratio
from .loads.springs import spring_table as spring_table
from .results.turns import tilt_table as tilt_table
from .results.turns import turns_for as turns_for
from .results.turns import turns_table as turns_table
from .travel.shaft import shaft_table as shaft_table
from .loads.corner import solve_corner as solve_corner
from .loads.corner import corner_end as corner_end
from .loads.forces import shaft_torque_transfer as shaft_torque_transfer
from .answers.written import written_out as written_out
from .answers.by_hand import check_by_hand as check_by_hand
