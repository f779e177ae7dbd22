"""One's own car on one page: measure, enter, look, by hand, choose, build, explain."""

import html
import re
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from .. import __version__, draw
from ..answers.by_hand import check_by_hand
from ..answers.lesson import Lesson
from ..answers.page import WIDE, Sheet
from ..answers.question import Page
from ..answers.written import written_out
from ..bench.controls import Slider, heave, roll
from ..bench.live import bench
from ..bench.words import meaning
from ..car.axle import LiveAxle
from ..car.car import Car
from ..car.pickup import dimensions
from ..car.write import save_car
from ..draw.vector import vector
from ..errors import SusgeoError
from ..files import in_turn
from ..geometry.measure import MM_PER_INCH
from ..loads.corner import corner_end
from ..loads.cornering import holds, linear_limit
from ..results.many import Conditions
from ..results.places import dimension_name
from ..results.quantities import QUANTITIES, find, numbers, summary
from ..results.quantities import remarks as left_out
from ..results.rows import SOLVED
from ..results.tolerance import Tolerance, tolerance_table, tolerances
from ..travel.live import solve_travel
from .choose import ChoosePage
from .entries import Entries
from .explain import explanation_page, explanations
from .form import Form, Measure
from .remarks import remarks
from .sheet import build_page

PARTS = {
    "side-view instant center x": "Where the lines meet", "bump steer": "The front wheel as it rises",
    "roll center height": "Roll center, roll axis, roll steer", "anti-squat": "Driving off and braking",
    "spring motion ratio": "Springs and bars", "load transfer": "In a turn", "pinion by upper link": "What each mm of an adjuster does",
    "gearbox joint angle": "Propeller shaft", "caster": "Steering axis", "anti-roll bar stiffness": "Springs and bars", "scales' gain": "On the scales",
    "front part of load transfer": "In a turn", "shaft torque transfer": "Driving off and braking", "linear limit": "In a turn",
}  # fmt: skip
"""What the numbers are about, by the first of each kind in the order of the summary."""
FOLLOWED = ["roll center height", "side-view instant center x", "roll steer"]
FOLLOWED_IN_FRONT = ["roll center height", "front-view instant center y", "camber change", "bump steer"]


class Step(Sheet):
    """A step that works on the car as it now is, when its button is pressed."""

    def __init__(self, desk: "Desk", name: str, *controls: Any) -> None:
        self.desk, self.controls = desk, controls
        self.saved = Page(f"<p>{name}: this step works when the page is awake.</p>", f"{name}: wake the page.")
        self.button = widgets.Button(description=name, tooltip=f"{name}, with the car as it is now entered")
        self.button.on_click(lambda _: self.work())
        self.result = widgets.VBox()
        desk.steps.append(self)
        super().__init__([*controls, self.button, self.result])

    @in_turn
    def work(self) -> None:
        """Do the step; what the car lacks for it is said in a sentence."""
        try:
            self.result.children = tuple(self.made(self.desk.entries.car()))
        except SusgeoError as problem:
            self.result.children = (widgets.HTML(f'<p role="alert">{html.escape(str(problem))}</p>'),)

    def made(self, car: Car) -> list[Any]:
        """Return what the step shows."""
        raise NotImplementedError


def spoken(sentences: list[str]) -> Any:
    """Return sentences as a list on the page."""
    return widgets.HTML("<ul>" + "".join(f"<li>{html.escape(one)}</li>" for one in sentences) + "</ul>")


def _box(what: str, such_as: str) -> Any:
    return widgets.Combobox(placeholder=such_as, description=what, ensure_option=False, layout=WIDE)


class Look(Step):
    """The third step: views, numbers with their tolerance, what they mean, travel and corner."""

    def __init__(self, desk: "Desk") -> None:
        words, style = "plus or minus, in mm", {"description_width": "initial"}
        self.error = widgets.BoundedFloatText(2.0, min=0.0, max=50.0, description=words, style=style)
        super().__init__(desk, "Look", self.error)

    def made(self, car: Car) -> list[Any]:
        found = [str(each) for each in remarks(car)] + list(left_out(car)) + not_measured(car)
        views = vector(draw.car(car, ("side", "plan", "front")))
        wanted = [name for name in numbers(car) if name not in SOLVED]
        error = self.error.value / (MM_PER_INCH if car.units == "in" else 1.0)
        kinds: dict[str, dict[str, Tolerance]] = {}
        for name, each in tolerances(car, error, names=wanted, units=car.units).items():
            kinds.setdefault(_part(name), {})[name] = each
        tables = ""
        for kind, some in kinds.items():
            table = tolerance_table(some, lambda place: dimension_name(car, place))
            tables += f"<h4>{kind}</h4>{table._repr_mimebundle_()['text/html']}"
        now = {name.partition(" [")[0]: value for name, value in summary(car).items()}
        road = [f"{name}: {words}" for name, value in now.items() if (words := meaning({name: value}))]
        made = [spoken(found), widgets.HTML(views + tables),
                widgets.HTML("<h4>What they mean on the road (common practice)</h4>"), spoken(road + corner(car))]  # fmt: skip
        for _, axle in car.axles():
            if isinstance(axle, LiveAxle):
                made.append(bench(solve_travel(axle, 0), [heave(), roll()], numbers=FOLLOWED))
            else:
                rise = Slider("Wheels up in the body", lambda rest, mm: solve_travel(rest, mm).moved, -60, 60, 0)
                made.append(bench(axle, [rise], views=("front",), show=["roll center"], numbers=FOLLOWED_IN_FRONT))
        return made


def _part(name: str) -> str:
    """Return what a number of the summary is about."""
    names = [each.name for each in QUANTITIES]
    return [PARTS[each] for each in names[: names.index(find(name)[0].name) + 1] if each in PARTS][-1]


def not_measured(car: Car) -> list[str]:
    """Say what is left out because it was not measured."""
    found = []
    if car.weight is None:
        found.append("The car was not weighed: anti-squat, load transfer, roll and the corner are left out.")
    for end, _ in car.axles():
        if getattr(car, f"{end}_springs") is None:
            found.append(f"The {end} springs were not measured: roll stiffness and the corner are left out.")
    if car.front is None:
        found.append("There is no front axle: the car's roll axis and the corner are left out.")
    return found


def corner(car: Car) -> list[str]:
    """Say how the car stands in a steady corner, solved, where weight, springs and both axles are known."""
    try:
        ends = [corner_end(car, way).sentence for way in ("left", "right")]
        return [*ends, holds(linear_limit(car))]
    except SusgeoError:
        return []


class ByHand(Step):
    """The fourth step: the way on paper to any quantity, or a check of one's own."""

    def __init__(self, desk: "Desk") -> None:
        self.name = _box("quantity", "rear roll center height")
        words = "your number or lines; empty shows the way on paper"
        self.mine = widgets.Textarea(placeholder=words, layout={**WIDE, "height": "90px"})
        super().__init__(desk, "By hand", self.name, self.mine)

    def made(self, car: Car) -> list[Any]:
        self.name.options = [name for name in numbers(car) if name not in SOLVED]
        name = self.name.value or "rear roll center height"
        shown: Any = check_by_hand(car, name, self.mine.value) if self.mine.value.strip() else written_out(car, name)
        return [widgets.HTML(shown._repr_mimebundle_()["text/html"])]


class Choose(Step):
    """The fifth step: targets, brackets, a search, and a slider between its choices."""

    page: ChoosePage | None = None
    path: Path | None = None

    def made(self, car: Car) -> list[Any]:
        if self.page is None or self.path != self.desk.entries.path or dimensions(self.page.car) != dimensions(car):
            earlier, self.page = self.page, ChoosePage(car, told=self.desk.take)
            self.desk.after = None
            if earlier is not None and self.path == self.desk.entries.path:  # nothing that was typed is lost
                self.page.again(earlier)
            self.path = self.desk.entries.path
        return [self.page]


class Build(Step):
    """The sixth step: the sheet that one builds from, as files beside the car's own, and shown."""

    def __init__(self, desk: "Desk") -> None:
        def box(value: float, words: str) -> Any:
            return widgets.FloatText(value, description=words, style={"description_width": "initial"})

        self.paper = widgets.Dropdown(options=("A4", "Letter"), description="paper")
        self.limit = box(12.0, "rod ends tilt, at most, in deg")
        self.rating = box(32_000.0, "rod ends' rating, in N")
        self.outer, self.wall = box(30.0, "tubes' outer diameter, in mm"), box(3.0, "their wall, in mm")
        super().__init__(desk, "Build", self.paper, self.limit, self.rating, self.outer, self.wall)

    def made(self, car: Car) -> list[Any]:
        given = Conditions(outer=self.outer.value, wall=self.wall.value or None, rating=self.rating.value)
        after = self.desk.new(car)
        sheet = build_page(car, after, paper=self.paper.value, limit=self.limit.value, given=given)
        own, said = self.desk.entries.path, []
        for ending in ("pdf", "html"):
            path = own.with_name(f"{own.stem}, sheet.{ending}")
            sheet.save(path)
            said.append(f"Written: {path.name}. Print it at 100 %, and check the ruled line.")
        if after is not car:
            path = own.with_name(f"{own.stem}, as it shall be.toml")
            save_car(after, path)
            said.append(f"Written: {path.name}, the car as chosen.")
        else:
            said.append("Nothing was chosen: the sheet shows the car as it is.")
        return [spoken(said), widgets.HTML(sheet._repr_mimebundle_()["text/html"])]


class Explain(Step):
    """The seventh step: the hand calculation of a number on the sheet, as a page for someone else."""

    def __init__(self, desk: "Desk") -> None:
        self.name = _box("number", "rear upper link, length")
        super().__init__(desk, "Explain", self.name)

    def made(self, car: Car) -> list[Any]:
        car = self.desk.new(car)
        self.name.options = explanations(car)
        name = self.name.value.strip() or "rear left lower link, length"
        sheet = explanation_page(car, name)
        own = self.desk.entries.path
        path = own.with_name(f"{own.stem}, {re.sub(r'[^A-Za-z0-9 ,-]', '', name)}.html")
        sheet.save(path)
        return [spoken([f"Written: {path.name}."]), widgets.HTML(sheet._repr_mimebundle_()["text/html"])]


class Desk:
    """The steps of one car, each a box of the page; made by :func:`your_car`."""

    def __init__(self, path: Path) -> None:
        self.entries = Entries(path)
        self.after: Car | None = None
        self._base: Car | None = None
        self._enter: Form | None = None
        self.steps: list[Step] = []

    def take(self, car: Car) -> None:
        """Keep the car that was chosen, with the one that it was chosen for."""
        self.after, self._base = car, self.entries.car()

    def new(self, car: Car) -> Car:
        """Return the car that was chosen for this one; without a choice, this one."""
        chosen = self._base is not None and dimensions(self._base) == dimensions(car)
        return self.after if chosen and self.after is not None else car

    def _chosen(self) -> None:
        if self._enter is not None:
            self._enter.refresh()
        for step in self.steps:  # what was shown is of another car now
            step.result.children = ()

    def measure(self) -> Sheet:
        """Choose what the car has, and print the sheet to measure it with."""
        return Measure(self.entries, self._chosen)

    def enter(self) -> Sheet:
        """Enter what was measured."""
        self._enter = Form(self.entries)
        return self._enter

    def look(self) -> Sheet:
        """See the car, its numbers with their tolerances, its travel and its corner."""
        return Look(self)

    def by_hand(self) -> Sheet:
        """See the way on paper to any number, or have one's own checked."""
        return ByHand(self)

    def choose(self) -> Sheet:
        """Say what is wanted and what may move, and choose among what is found."""
        return Choose(self, "Choose")

    def build(self) -> Sheet:
        """Get the sheet that one builds from."""
        return Build(self)

    def explain(self) -> Sheet:
        """Get the hand calculation of a number on the sheet, as a page."""
        return Explain(self)


def your_car(name: str = "my car", folder: str | Path = ".", version: str = __version__) -> Desk:
    """Open the desk of one's own car: ``measure()``, ``enter()``, ``look()``, ``by_hand()``, ``choose()``, ``build()``, ``explain()``.

    Args:
        name: of the car's file, without its ending; a file that is there is opened.
        folder: where it is. version: the library's, that the page was made for.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     desk = your_car("my car", folder)
    """
    Lesson("00", version=version)  # refuses a page of another version
    return Desk(Path(folder) / f"{name}.toml")
