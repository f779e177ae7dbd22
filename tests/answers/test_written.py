"""Any quantity of a car written out: on every bundled car, on cars like it, and refused where there is no way."""

import math
import re
from contextlib import suppress
from dataclasses import replace

import pytest

from susgeo import Link, Point, Springs, SusgeoError, load_car, numbers, summary
from susgeo.answers import written
from susgeo.answers.calculation import LESSONS, names_in, symbol
from susgeo.answers.formula import read_formula
from susgeo.answers.paper import on_paper
from susgeo.answers.variant import draws, shaken
from susgeo.answers.written import chain, formula_card, symbol_of, written_out
from susgeo.car.coils import AntiRollBar, Coil, Damper
from susgeo.car.shaft import PropellerShaft
from susgeo.geometry.measure import in_units
from susgeo.results.quantities import QUANTITIES, find, plain_name
from susgeo.results.rows import SOLVED

CARS = sorted(LESSONS.parent.glob("*.toml"))
COUNTED = "rods that locate"


@pytest.mark.parametrize("path", CARS, ids=lambda path: path.stem)
def test_every_number_of_every_car_can_be_written_out(path):
    """The last line ends with the summary's number, in the same unit, to the digits that are written."""
    base, compared = load_car(path), 0
    names = [plain_name(name) for name in summary(base) if COUNTED not in name and not name.startswith(SOLVED)]
    rolls = [name for name in names if "roll" in name and path.stem != "mumford"]
    likes = ((shaken(base, draws("written out", path.stem, trial)), rolls) for trial in range(5))
    for car, some in ((base, names), *likes):
        # on its likes only what rests on most; a Mumford linkage then has unequal sides
        for name, number in numbers(car, some).items():
            value, _ = in_units(float(number), find(name)[0].unit, car.units)
            if not math.isfinite(value):
                continue
            line, _ = written_out(car, name).lines[-1]
            assert line.split(" = ")[0] == symbol_of(*find(name))
            shown = float(line.rpartition(" = ")[2].split()[0])
            assert shown == pytest.approx(value, rel=1e-3, abs=0.06), (name, line)
            compared += 1
    assert compared > 10


@pytest.mark.parametrize("stem", ["club_coupe", "double_wishbone", "live_front", "mumford"])
def test_the_drawings_of_an_inch_car_are_in_inches(stem):
    """Scales, arrows to far points, measures and the words for the ear; a length in mm or m stands nowhere."""
    car, seen = replace(load_car(stem), units="in"), set()
    for name in summary(car):
        with suppress(SusgeoError):
            picture = written_out(car, name).picture
            if picture is None or picture.alt in seen:
                continue
            seen.add(picture.alt)
            written_there = [text for panel in picture.panels for *_, text in picture.marks(panel.name)]
            scales = [word for panel in picture.panels for word in picture.scale_names(panel)]
            assert all(word.endswith("[in]") for word in scales), (name, scales)
            assert not re.search(r"\d (mm|m)\b", " ".join((picture.alt, *written_there))), (name, picture.alt)
    assert sum(bool(re.search(r"\d in\b", alt)) for alt in seen) >= 2


def test_a_way_that_does_not_meet_the_library_is_not_shown(monkeypatch, request):
    car = load_car(LESSONS.parent / "three_link.toml")
    for kept in (written._finder, written.chain):
        kept.cache_clear()
        request.addfinalizer(kept.cache_clear)
    wrong = tuple(
        replace(way, steps=tuple(replace(s, formula=s.formula.replace("e*x_P", "(-e)*x_P")) for s in way.steps))
        for way in written.ways()
    )
    monkeypatch.setattr(written, "ways", lambda: wrong)
    with pytest.raises(SusgeoError, match="no way on paper to the rear roll center height"):
        written_out(car, "rear roll center height")
    assert written_out(car, "rear locator height").lines  # what does not rest on it is there


def test_what_has_no_way_is_said_in_a_sentence():
    car = load_car(LESSONS.parent / "three_link.toml")
    uneven = replace(
        car.rear, lower=(car.rear.lower[0], Link(Point(0, -480, 240), Point(600, -400, 280), "right lower link"))
    )
    for asked, name, words in (
        (replace(car, rear=uneven), "rear roll center height", "two sides differ"),
        (car, "rear roll centre height", "did you mean rear roll center height"),
        (car, "front roll center height", "no front roll center height"),
        (load_car(LESSONS.parent / "club_coupe.toml"), "linear limit", "no way on paper leads to it"),
        (load_car(LESSONS.parent / "parallel_four_link_watt.toml"), "rear lower link convergence x", "at infinity"),
    ):
        with pytest.raises(SusgeoError, match=words):
            written_out(asked, name)


def test_a_solution_shows_its_figures_its_lines_and_the_construction():
    worked = written_out(load_car(LESSONS.parent / "club_coupe.toml"), "front roll center height [mm]")
    assert {figure.symbol for figure in worked.figures} >= {"z_J", "z_AR", "t_f", "z_S"}
    assert "x_LA" not in {figure.symbol for figure in worked.figures}
    page = worked._repr_mimebundle_()["text/html"]
    assert "<img" in page and "roll center" in page and "<details>" not in page
    assert (
        "<details>" in written_out(load_car(CARS[0]), "rear anti-squat", folded=True)._repr_mimebundle_()["text/html"]
    )


def test_the_card_has_every_quantity_and_formulas_that_can_be_read():
    card = formula_card()
    names = {row[0] for row in card.rows}
    for item in QUANTITIES:
        assert item.name in (COUNTED, *SOLVED) or names & {f"{end} {item.name}".strip() for end in item.ends}
    for _, result, formula, *_ in card.rows:
        read_formula(formula, {name: symbol(name) for name in names_in(formula)})
        assert result not in names_in(formula)


SEATS = [
    ("double_wishbone", "front", "knuckle"), ("double_wishbone", "front", "upper arm"), ("club_coupe", "front", "lower arm"),
    ("live_front", "front", "lower link"), ("offset_watt", "rear", "axle"), ("tilted_bar", "rear", "upper link"),
]  # fmt: skip


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize(("stem", "end", "on"), SEATS)
def test_springs_as_lines_on_every_seat_end_in_the_librarys_number(stem, end, on, units):
    """Also beside a bar that is not level, and every line in inches gives what stands behind it."""
    seat, top = Point(-20, 560, 260), Point(-50, 420, 580)
    lines = Springs(
        coil=Coil(seat, top, on, rate=27), bar=AntiRollBar(seat, top, on, 18, 900, 220), damper=Damper(seat, top, on)
    )
    car = replace(load_car(stem), units=units, **{f"{end}_springs": lines})
    if end == "rear":
        car = replace(car, shaft=PropellerShaft(Point(1350, 20, 360), Point(260, 0, 320), 0.05, 0.05))
    names = [
        "spring motion ratio",
        "spring roll arm",
        "damper motion ratio",
        "drop link roll arm",
        "wheel rate",
        "roll stiffness",
    ]
    names += ["shaft plunge"] if end == "rear" else ["camber change"] if stem != "live_front" else []
    for name in (f"{end} {name}" for name in names):
        found, (quantity, _), lines = numbers(car, [name])[name], find(name), chain(car, name)
        calculation = lines.calculation
        values = calculation.values({symbol: figure.value for symbol, figure in lines.known.items()})
        unit = {step.name: step.unit for step in calculation.steps}[lines.symbol]
        assert on_paper(values[lines.symbol], unit) == pytest.approx(
            in_units(float(found), quantity.unit, units)[0], rel=1e-8
        )
