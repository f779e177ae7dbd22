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


def write(lab_server, name, text):
    (lab_server.folder / name).write_text(to_text(pack(text)), "utf-8")
    return name


def test_a_slider_is_moved_by_keys_and_the_page_follows(lab, lab_server):
    lab.open(write(lab_server, "harness.ipynb", LESSON))
    lab.run_all()
    assert lab.sliders() == ["height [mm]"]
    assert lab.slider_value("height [mm]") == 40

    def shown():
        return lab.cell("bench").locator(".widget-html-content").inner_text()

    assert shown() == "twice is 80"
    assert lab.after(shown, lambda: lab.press("height [mm]", "ArrowRight", times=3)) == "twice is 86"
    assert lab.slider_value("height [mm]") == 43
    assert lab.after(shown, lambda: lab.press("height [mm]", "ArrowLeft")) == "twice is 84"
    free_of_problems(lab)


def test_alt_text_reaches_the_page_by_way_of_html(lab, lab_server):
    lab.open(write(lab_server, "alt.ipynb", LESSON))
    lab.run_all()
    (image,) = lab.cell("picture").locator("img").all()
    assert image.get_attribute("alt") == "one dot"
    assert image.evaluate("image => image.naturalWidth") == 1
    assert lab.pictures_without_alt() == []
    assert lab.pictures(lab.cell("picture"))[0].startswith("data:image/png")
    free_of_problems(lab)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("1 / 0", "ZeroDivisionError"),
        ("import warnings; warnings.warn('old')", "old"),
        ("from IPython.display import Javascript\nJavascript('console.error(\"odd\")')", "odd"),
        ('from IPython.display import HTML\nHTML(\'<img alt="x" src="missing.png">\')', "missing.png"),
    ],
)
def test_what_goes_wrong_in_the_page_is_noted(lab, lab_server, code, said):
    lab.open(write(lab_server, "wrong.ipynb", f"# %% wrong\n{code}\n"))
    lab.run_all()
    with pytest.raises(AssertionError, match=said):
        free_of_problems(lab)


@pytest.mark.parametrize(
    ("code", "said"), [("lesson.task(1)", "The page is not awake yet: lesson is not known here."),
                       ('x = "5', "Line 1 of this cell cannot be read by Python"),
                       ("from susgeo.answers import Lesson\nLesson('02').task(9)", "Lesson 02 has no task 9")],
)  # fmt: skip
def test_a_cell_run_too_early_or_broken_gets_one_sentence(lab, lab_server, code, said):
    lab.open(write(lab_server, "early.ipynb", f"# %% early\n{code}\n"))
    lab.run_all()
    text = lab.cell("early").locator(".jp-OutputArea-output").inner_text()
    assert said in text and "Traceback" not in text and len(text.splitlines()) == 1


def test_the_course_opens_without_news_and_prompts(lab, lab_server):
    lab.open(write(lab_server, "quiet.ipynb", "# %% [markdown] title\n# # Quiet\n"), mode="lab")
    lab.page.wait_for_timeout(3000)
    assert lab.page.locator(".jp-Dialog, .Toastify__toast").all_inner_texts() == []
    free_of_problems(lab)
