"""The sheet to build from, for the reader's own car."""

from typing import Literal

from ..car.car import Car
from ..draw.build_sheet import BuildSheet, build_sheet
from ..errors import SusgeoError
from ..geometry.measure import MM_PER_INCH
from ..results.build import Plan
from ..results.many import Conditions


def build_page(
    car: Car,
    after: Car | None = None,
    *,
    paper: str = "A4",
    heights: tuple[float, ...] | None = None,
    given: Conditions | None = None,
    error: float | None = None,
    limit: float = 12.0,
    per_turn: float | None = None,
    units: Literal["mm", "in"] | None = None,
) -> BuildSheet:
    """Return the sheet: ``build_page(car, after).save("sheet.pdf")``, or ``"sheet.html"``.

    Args:
        car: as it is. after: as it shall be; None shows the car as it is.
        paper: "A4" or "Letter".
        heights: droop, rest and bump of the axles; plus or minus 60 mm, or 2.5 in.
        given: load cases, tubes and rod ends.
        error: how well a joint is placed, plus or minus: 1 mm, or 1/32 in.
        limit: tilt of the rod ends by their maker, in degrees.
        per_turn: how much longer a rod gets by a turn of its adjuster: 3 mm, or a tenth of an inch.
        units: of all lengths here and on the sheet; None takes the car file's.
    """
    unit: Literal["mm", "in"] = units or car.units
    inches = unit == "in"
    scale = MM_PER_INCH if inches else 1.0
    low_to_high = tuple(height * scale for height in heights or ((-2.5, 0.0, 2.5) if inches else (-60.0, 0.0, 60.0)))
    error = (1 / 32 if inches else 1.0) if error is None else error
    per_turn = (0.1 if inches else 3.0) if per_turn is None else per_turn
    rising = len(low_to_high) == 3 and sorted(low_to_high) == list(low_to_high)
    if not rising or not all(one > 0 for one in (error, per_turn, limit)):
        problem = "The sheet needs three heights, droop, rest and bump, and error, limit and per_turn above zero."
        raise SusgeoError(problem)
    plan = Plan(car, after or car, unit, low_to_high, given or Conditions(), error * scale, limit, per_turn * scale)
    return build_sheet(plan, paper)
