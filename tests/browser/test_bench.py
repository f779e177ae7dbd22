"""The bench under the hand: keys on its sliders in JupyterLab, and what the page then shows."""

import pytest

from labpage import free_of_problems
from lesson_tools import pack, to_text

LESSON = """\
# %% bench
from susgeo import Link, LinkageError, LiveAxle, PanhardBar, Point, pair
from susgeo.bench import Slider, bench
axle = LiveAxle(
    lower=pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link")),
    upper=(Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),),
    locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
)
def broken(thing, value):
    if value > 0:
        raise LinkageError("Nothing holds this axle.")
    return thing
made = bench(axle, [Slider("Height", "upper.axle.z", 410, 530), Slider("Trouble", broken, 0, 5)],
             numbers=["side-view instant center x"])
made
"""


@pytest.fixture(scope="module")
def opened(lab, lab_server):
    (lab_server.folder / "bench.ipynb").write_text(to_text(pack(LESSON)), "utf-8")
    lab.open("bench.ipynb")
    lab.run_all()
    return lab


@pytest.fixture
def bench(opened):
    opened.page.get_by_role("button", name="Reset").click()
    opened.wait_for(lambda: number(opened) == ahead(470), "the bench at rest")
    return opened


def number(lab):
    return lab.cell("bench").locator("td").first.inner_text()


def ahead(upper_z):
    """The instant center's x, by hand from the two slopes."""
    slopes = 50 / 600, (450 - upper_z) / 450
    return f"{(upper_z + 50 * slopes[1] - 240) / (slopes[0] - slopes[1]):.1f}"


def test_keys_move_drawing_and_numbers_and_reset_brings_them_back(bench):
    assert bench.sliders() == ["Height [mm]", "Trouble [mm]"]
    assert number(bench) == ahead(470)
    pictures = [bench.pictures(bench.cell("bench"))]
    for key, times, stands in [("ArrowRight", 5, 475), ("Home", 1, 410), ("End", 1, 530), ("ArrowLeft", 2, 528)]:
        read = lambda: number(bench)  # noqa: E731
        assert bench.after(read, lambda key=key, times=times: bench.press("Height [mm]", key, times)) == ahead(stands)
        assert bench.slider_value("Height [mm]") == stands
        pictures.append(bench.pictures(bench.cell("bench")))
    assert all(len(shown) == 1 for shown in pictures)
    assert len({shown[0] for shown in pictures}) == len(pictures)
    image = bench.cell("bench").locator("img").first
    assert "meet 1.09 m ahead of the wheels" in image.get_attribute("alt")
    assert image.evaluate("image => [image.width, image.naturalWidth]") == [760, 760]  # pixel for pixel
    reset = bench.page.get_by_role("button", name="Reset")
    assert bench.after(lambda: number(bench), reset.click) == ahead(470)
    assert bench.slider_value("Height [mm]") == 470
    assert bench.pictures(bench.cell("bench")) == pictures[0]
    assert bench.pictures_without_alt() == []
    free_of_problems(bench)


def test_an_exact_value_is_typed_and_spoken_numbers_come_when_all_is_still(bench):
    cell = bench.cell("bench")
    field = cell.get_by_label("Height [mm], exact value")
    assert bench.after(lambda: number(bench), lambda: (field.fill("437,5"), field.press("Enter"))) == ahead(437.5)
    assert field.input_value() == "437.5"
    bench.press("Height [mm]", "ArrowRight", 3)
    spoken = bench.page.get_by_role("alert").filter(has_text="side-view instant center x [mm]")
    bench.wait_for(lambda: spoken.count() == 1 and number(bench) in spoken.inner_text(), "the spoken numbers")
    assert cell.locator(".susgeo-unseen").bounding_box()["width"] <= 1  # heard, not seen
    free_of_problems(bench)


def test_a_burst_of_keys_ends_in_the_right_picture(bench):
    bench.press("Height [mm]", "Home")
    for _ in range(50):
        bench.page.keyboard.press("ArrowRight")
    bench.wait_for(lambda: number(bench) == ahead(460), "number of the last position")
    shown = bench.pictures(bench.cell("bench"))
    bench.page.wait_for_timeout(1000)  # nothing older comes after it
    assert (number(bench), bench.pictures(bench.cell("bench"))) == (ahead(460), shown)
    bench.press("Height [mm]", "ArrowLeft")
    bench.press("Height [mm]", "ArrowRight")
    bench.wait_for(lambda: bench.pictures(bench.cell("bench")) == shown, "same picture at the same place")
    free_of_problems(bench)


def test_a_position_without_an_answer_says_so_in_the_bench(bench):
    before = number(bench)
    bench.press("Trouble [mm]", "ArrowRight")
    alert = bench.page.get_by_role("alert").filter(has_text="still shown")
    bench.wait_for(lambda: alert.count() == 1, "sentence")
    assert alert.inner_text() == "Nothing holds this axle. The last position is still shown."
    assert number(bench) == before
    bench.press("Trouble [mm]", "ArrowLeft")
    bench.wait_for(lambda: alert.count() == 0, "end of the sentence")
    free_of_problems(bench)


@pytest.mark.parametrize("width", [700, 1280])
def test_the_drawing_fits_the_page(bench, width):
    bench.page.set_viewport_size({"width": width, "height": 900})
    area = bench.cell("bench").locator(".jp-OutputArea-output").last
    for thing in [bench.cell("bench").locator("img").first, *bench.page.locator(".widget-slider").all()]:
        box, frame = thing.bounding_box(), area.bounding_box()
        assert box["x"] >= frame["x"]
        assert box["x"] + box["width"] <= frame["x"] + frame["width"] + 1
    free_of_problems(bench)


def test_play_goes_there_and_back_and_reset_ends_it_in_the_first_picture(lab, lab_server):
    """Most of its frames stand between two steps of the slider, which the page alone rounds: no test without a page sees it."""
    rough = LESSON.replace('"upper.axle.z", 410, 530', '"upper.axle.z", 420, 520, step=25, play=True')
    (lab_server.folder / "play.ipynb").write_text(to_text(pack(rough)), "utf-8")
    lab.open("play.ipynb")
    lab.run_all()
    cell, seen = lab.cell("bench"), set()
    first = lab.pictures(cell)
    play, stop = (cell.get_by_role("button", name=name) for name in ("Play", "Stop"))

    def ended():
        seen.add(lab.slider_value("Height [mm]"))
        return play.count() == 1

    play.click()
    lab.wait_for(lambda: stop.count() == 1, "a play")
    lab.wait_for(ended, "end of the play", 120)
    assert {420, 520} <= seen
    assert number(lab) == ahead(470)  # its words may stand elsewhere than at first
    for _ in range(3):
        lab.after(lambda: number(lab) != ahead(470), play.click)
        cell.get_by_role("button", name="Reset").click()
        lab.page.wait_for_timeout(1500)  # nothing older comes after it
        assert (number(lab), lab.pictures(cell), lab.slider_value("Height [mm]")) == (ahead(470), first, 470)
        assert play.count() == 1
    free_of_problems(lab)
