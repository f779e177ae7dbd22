"""The course without Python: every page in a browser, on a phone, a tablet and a screen; benches, boxes and print.

The pages are made once for this file, with the fewest frames, for a telephone those of the first lesson alone; the benches that made them are kept, so that what a
page shows at each end of a slider is compared with what the library draws and counts there. What a box says is
compared with what the notebook says.
"""

import base64
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Page

from labpage import found_by_axe
from susgeo.answers.contents import titles
from susgeo.answers.lesson import Lesson
from susgeo.bench import Bench, shown, value_of
from susgeo.errors import SusgeoError
from susgeo.pages import flipbook, make_pages, make_paper, paper, site

NAMES = ["index", *site.BESIDE, *(file.removesuffix(".ipynb") for file, _ in titles().values())]
WIDTHS = (360, 800, 1280)
PAPER = 673
"""The width between the margins of a sheet of A4, in pixels of 1/96 inch."""

BEYOND = """() => [...document.querySelectorAll("body *")].filter(one => {
    const box = one.getBoundingClientRect(), room = document.documentElement.clientWidth + 1;
    return box.width > 1 && (box.right > room || box.left < -1) && !(matchMedia("screen").matches && one.closest(".wide, .drawn, pre, .skip"))
        && getComputedStyle(one).position !== "absolute";
}).map(one => one.tagName + ": " + one.textContent.slice(0, 60))"""
"""What reaches beyond the page. On a screen a table or a drawing may be pushed aside; on paper nothing may."""
BROKEN = """() => [...document.images].filter(one => !one.naturalWidth || !one.alt.trim()).map(one => one.src)"""
LOST = """() => [...document.links].filter(one => one.protocol !== "file:" || (one.pathname === location.pathname
    && one.hash && !document.getElementById(decodeURIComponent(one.hash.slice(1))))).map(one => one.href)"""


SHOWN = "one => one.decode().then(() => [one.currentSrc, one.naturalWidth])"


@dataclass(frozen=True)
class Made:
    """The folder of the pages, and the benches of each lesson."""

    folder: Path
    benches: dict[str, list[Bench]]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder, kept = tmp_path_factory.mktemp("pages"), []

    def keep(notebook):
        sets = flipbook.benches(notebook)
        kept.append([sizes[0] for sizes in sets.values()])
        for bench in kept[-1]:  # lines that once moved are drawn over those that never did: let all have moved
            for slider, control in zip(bench.sliders, bench.controls, strict=True):
                control.value = slider.low
            bench.reset()
        return sets if len(kept) == 1 else {cell: sizes[:1] for cell, sizes in sets.items()}

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(site, "benches", keep)
        make_pages(folder, fewest=1, workers=1)
    return Made(folder, dict(zip(titles(), kept, strict=True)))


@dataclass(frozen=True)
class Reader:
    """A page of the course in a browser, and all that it asked for."""

    page: Page
    folder: Path
    asked: list[str]

    def open(self, name: str, width: int = 1280) -> None:
        """Open a page by its name or its two digits."""
        whole = titles()[name][0].removesuffix(".ipynb") if name in titles() else name
        self.page.set_viewport_size({"width": width, "height": 900})
        self.page.goto((self.folder / f"{whole}.html").as_uri(), wait_until="load")


@pytest.fixture
def reader(browser: BrowserContext, made: Made) -> Iterator[Reader]:
    page, asked, wrong = browser.new_page(), [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield Reader(page, made.folder, asked)
    page.close()
    inside = (made.folder.as_uri() + "/", "data:,")
    assert [url for url in asked if not url.startswith(inside)] == []
    assert wrong == []


@pytest.mark.parametrize("name", NAMES)
def test_a_page_reads_well_on_every_screen_and_on_paper(reader, name):
    page = reader.page
    reader.open(name)
    assert page.evaluate(BROKEN) == []
    assert page.evaluate(LOST) == []
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert (width, page.evaluate(BEYOND)) == (width, [])
        if width == 360:  # light and dark by turns: the look is one for all pages
            page.emulate_media(color_scheme="dark" if NAMES.index(name) % 2 else "light")
            assert found_by_axe(page) == []
    page.emulate_media(media="print", color_scheme="light")
    page.set_viewport_size({"width": PAPER, "height": 900})
    assert page.evaluate(BEYOND) == []
    links = re.findall(r'href="([^"#:]+)"?[#"]', (made_page := reader.folder / f"{name}.html").read_text("utf-8"))
    assert [link for link in links if not (made_page.parent / link).is_file()] == []


@pytest.mark.parametrize("lesson", list(titles()))
def test_each_slider_shows_what_the_library_draws_and_counts(reader, made, lesson):
    page = reader.page
    reader.open(lesson)
    assert page.locator(".flip input").count() == sum(len(bench.sliders) for bench in made.benches[lesson])
    for bench, flip in zip(made.benches[lesson], page.locator(".flip").all(), strict=True):
        for number in range(len(bench.sliders)):
            follows(page, flip, bench, number, made.folder)
    if lesson == next(iter(titles())):  # the one that was drawn for a telephone as well
        wide = page.locator(".flip img").first.evaluate(SHOWN)
        page.set_viewport_size({"width": 360, "height": 900})
        narrow = page.locator(".flip img").first.evaluate(SHOWN)
        assert narrow[0] == wide[0].replace(".webp", "s.webp") and 300 < narrow[1] < wide[1]


def follows(page, flip, bench, number, folder):
    """A slider at both its ends shows what the library draws and counts there, and the other sliders stand at rest."""
    slider, control = bench.sliders[number], flip.locator("input").nth(number)
    assert control.get_attribute("id") == flip.locator("label").nth(number).get_attribute("for")
    others = [flip.locator("output").nth(one) for one in range(len(bench.sliders)) if one != number]
    resting = [
        f"{start:.6g} {one.unit}" for one, start in zip(bench.sliders, bench.starts, strict=True) if one is not slider
    ]
    picture = flip.locator("img")
    seen = set()
    for key, value in (("Home", slider.low), ("End", slider.high)):
        control.focus()
        page.keyboard.press(key)
        said = control.get_attribute("aria-valuetext")
        assert said == flip.locator("output").nth(number).inner_text() == f"{value:.6g} {slider.unit}"
        bench.reset()  # words keep near where they stood, so what is drawn rests on the way there
        for step in flipbook.stops(slider.low, slider.high, bench.starts[number], 1):
            if step <= value:
                bench.controls[number].value = step
        thing = slider.moved(bench.rest, value)
        due = [shown(value_of(function, thing), unit) for (_, unit), function in bench.numbers.items()]
        rows = flip.locator(".numbers tr").evaluate_all(
            "rows => rows.filter(row => row.querySelector('td') && row.querySelector('th[scope=row], td + td')).map(row => row.innerText.split('\\t').map(one => one.trim()))"
        )
        now = [row[1] for row in rows if row[1] != "now"]
        drawn = re.search('base64,([^"]+)" alt="([^"]*)"', bench.view.value)
        assert now == due
        file = folder / picture.get_attribute("src")
        assert np.array_equal(np.array(Image.open(file).convert("RGB")), np.array(Image.open(io.BytesIO(base64.b64decode(drawn[1]))).convert("RGB")))  # fmt: skip
        assert picture.evaluate("one => one.decode().then(() => one.naturalWidth)") > 300
        assert [one.inner_text() for one in others] == resting
        seen.add(file.read_bytes())
    assert len(seen) == 2


def typed(task: dict) -> list[list[str]]:
    """Return what people may type into a task's boxes: right, off, each slip, with units, blank, words."""
    if task["kind"] == "choice":
        names = [name for name, _, _ in task["move"]]
        places = [
            [f"{low + (high - low) * part:.1f}" for _, low, high in task["move"]]
            for part in (0.02, 0.3, 0.5, 0.81, 0.97)
        ]
        return [*places, [""] * len(names), ["high"] * len(names), ["99999"] * len(names)]
    due, unit = task["due"], task["unit"]
    numbers = [
        due,
        due + 0.9 * task["within"],
        due * 1.3 + 7 * task["within"],
        -due,
        *(slip[0] for slip in task["slips"]),
    ]
    texts = [f"{number:.7g}" for number in numbers]
    texts += [
        f"{task['find']} = {due:.7g} {unit}",
        f"{due:.7g}".replace(".", ","),
        f"{due:.7g} kg",
        "low",
        "",
        "12 apples",
    ]
    return [[text] for text in texts]


@pytest.mark.parametrize("lesson", list(titles()))
def test_a_box_says_what_the_notebook_says(reader, lesson):
    page = reader.page
    reader.open(lesson)
    desk = Lesson(lesson, folder=str(reader.folder))
    forms = page.locator("form.answer")
    assert forms.count() >= 3
    for place in range(forms.count()):
        form = forms.nth(place)
        task = form.evaluate("form => dataOf(form)")
        answers = typed(task)
        said = page.evaluate("([task, answers]) => answers.map(one => check(task, one))", [task, answers])
        for answer, (kind, *sentences) in zip(answers, said, strict=True):
            entry = (
                dict(zip((one[0] for one in task["move"]), answer, strict=True))
                if task["kind"] == "choice"
                else answer[0]
            )
            due = desk.check(task["key"], entry, keep=False)
            assert (task["key"], answer, kind) == (task["key"], answer, due.kind), (sentences, str(due))
            for mistake in due.mistakes:
                assert any(mistake.name in one for one in sentences), (task["key"], answer, mistake.name, sentences)
    form = forms.first
    box = form.locator("input").first
    for text, head in (("", "Still open"), ("low", "Cannot be read")):
        box.fill(text)
        box.press("Enter")
        assert head in form.locator("[role=status]").inner_text()


def test_a_lesson_is_printed_on_either_paper_in_few_pages(chromium, tmp_path):
    made = make_paper(tmp_path, ["02"])
    assert [file.relative_to(tmp_path).as_posix() for file in made] == [
        "A4/02_side_view.pdf",
        "Letter/02_side_view.pdf",
    ]
    for file, (width, height) in zip(made, ((595, 842), (612, 792)), strict=True):
        raw = file.read_bytes()
        assert len(re.findall(rb"/Type\s*/Page\b", raw)) <= 6
        sides = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", raw)
        assert {(round(float(w)), round(float(h))) for w, h in sides} == {(width, height)}


def test_without_a_browser_paper_says_what_to_do(monkeypatch, tmp_path):
    monkeypatch.setattr(paper, "find_browser", lambda: None)
    with pytest.raises(SusgeoError, match="susgeo pages FOLDER"):
        make_paper(tmp_path, ["02"])
    assert not list(tmp_path.iterdir())
