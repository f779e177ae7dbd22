"""The harness of the browser tests itself, on a throw-away notebook with a real slider."""

import pytest

from labpage import free_of_problems
from lesson_tools import pack, to_text

LESSON = """\
# %% [markdown] title
# # A slider

# %% bench
import ipywidgets as widgets
slider = widgets.IntSlider(description="height [mm]", min=0, max=100, value=40)
said = widgets.HTML("twice is 80")
slider.observe(lambda change: setattr(said, "value", f"twice is {2 * change.new}"), "value")
widgets.VBox([slider, said])

# %% picture
class Both:
    def _repr_mimebundle_(self, include=None, exclude=None):
        pixel = ("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk"
                 "+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==")
        return {"image/png": pixel, "text/html": f'<img alt="one dot" src="data:image/png;base64,{pixel}">'}
Both()
"""
WRONG = {
    "zero": ("1 / 0", "ZeroDivisionError"),
    "warned": ("import warnings; warnings.warn('old')", "old"),
    "script": ("from IPython.display import Javascript\nJavascript('console.error(\"odd\")')", "odd"),
    "lost": ('from IPython.display import HTML\nHTML(\'<img alt="x" src="missing.png">\')', "missing.png"),
}
EARLY = {
    "asleep": ("lesson.task(1)", "The page is not awake yet: lesson is not known here."),
    "broken": ('x = "5', "Line 1 of this cell cannot be read by Python"),
    "ninth": ("from susgeo.answers import Lesson\nLesson('02').task(9)", "Lesson 02 has no task 9"),
}


@pytest.fixture(scope="module")
def opened(lab, lab_server):
    """A notebook with all these cells, none of them run."""
    cells = "".join(f"\n# %% {name}\n{code}\n" for name, (code, _) in (WRONG | EARLY).items())
    (lab_server.folder / "harness.ipynb").write_text(to_text(pack(LESSON + cells)), "utf-8")
    lab.open("harness.ipynb")
    return lab


@pytest.fixture
def page(opened):
    opened.page.evaluate("window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    opened.problems.clear()
    return opened


def test_a_slider_is_moved_by_keys_and_the_page_follows(page):
    page.run_cells("bench")
    page.wait_for(lambda: page.sliders() == ["height [mm]"], "a slider")
    assert page.slider_value("height [mm]") == 40

    def shown():
        return page.cell("bench").locator(".widget-html-content").inner_text()

    assert shown() == "twice is 80"
    assert page.after(shown, lambda: page.press("height [mm]", "ArrowRight", times=3)) == "twice is 86"
    assert page.slider_value("height [mm]") == 43
    assert page.after(shown, lambda: page.press("height [mm]", "ArrowLeft")) == "twice is 84"
    free_of_problems(page)


def test_alt_text_reaches_the_page_by_way_of_html(page):
    page.run_cells("picture")
    image = page.cell("picture").locator("img")
    image.wait_for()
    assert image.get_attribute("alt") == "one dot"
    assert image.evaluate("image => image.naturalWidth") == 1
    assert page.pictures_without_alt() == []
    assert page.pictures(page.cell("picture"))[0].startswith("data:image/png")
    free_of_problems(page)


@pytest.mark.parametrize("name", WRONG)
def test_what_goes_wrong_in_the_page_is_noted(page, name):
    page.run_cells(name)

    def noted():
        page.note_outputs()
        return any(WRONG[name][1] in problem for problem in page.problems)

    page.wait_for(noted, f"a note of {name}")
    with pytest.raises(AssertionError, match=WRONG[name][1]):
        free_of_problems(page)


@pytest.mark.parametrize("name", EARLY)
def test_a_cell_run_too_early_or_broken_gets_one_sentence(page, name):
    page.run_cells(name)
    text = page.cell(name).locator(".jp-OutputArea-output").inner_text()
    assert EARLY[name][1] in text and "Traceback" not in text and len(text.splitlines()) == 1


def test_the_course_opens_without_news_and_prompts(lab, lab_server):
    (lab_server.folder / "quiet.ipynb").write_text(to_text(pack("# %% [markdown] title\n# # Quiet\n")), "utf-8")
    lab.open("quiet.ipynb", mode="lab")
    lab.page.wait_for_timeout(1500)  # what would come by itself has had its time
    assert lab.page.locator(".jp-Dialog, .Toastify__toast").all_inner_texts() == []
    free_of_problems(lab)
