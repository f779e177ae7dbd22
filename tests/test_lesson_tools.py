"""The tool for making lessons: text and back, a clean run, and each rule broken once."""

import copy

import nbformat
import pytest

from lesson_tools import lint, pack, run, stated_time, to_text, unpack

LESSON = """\
# %% [markdown] title {"tags": ["guess"]}
# # Two lines
#
# They meet.  $a + b$ is short.

# %% check-version
import susgeo
assert susgeo.__version__, "the version of susgeo"

# %% [markdown]
# ## By hand
# ![two lines that meet](two.png)

# %%
from IPython.display import HTML
for i in range(3):

    print(i)
HTML("<img alt='a line' src='data:image/png;base64,AAAA'>")
"""


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """A small lesson that keeps every rule, after its run."""
    path = tmp_path_factory.mktemp("lesson") / "lesson.ipynb"
    path.write_text(to_text(pack(LESSON)), "utf-8")
    assert run(path) == []
    return path


def test_text_and_notebook_turn_into_each_other():
    notebook = pack(LESSON)
    assert [cell.id for cell in notebook.cells] == ["title", "check-version", "by-hand-two-lines-that",
                                                    "from-ipython-display-import-html"]  # fmt: skip
    assert notebook.cells[0].metadata == {"tags": ["guess"]}
    assert notebook.cells[0].source == "# Two lines\n\nThey meet.  $a + b$ is short."
    assert to_text(pack(unpack(notebook))) == to_text(notebook)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x = 1\n# %%\n", "before the first cell"),
        ("# %% [markdown]\n# fine\nforgotten", "forgotten"),
        ("# %% a\n1\n# %% a\n2", "id 'a'"),
        ("# %% a {tags}\n1", "property name"),
    ],
)
def test_a_text_that_would_lose_something_is_refused(text, said):
    with pytest.raises(ValueError, match=said):
        pack(text)


def test_a_second_run_changes_no_byte(good):
    before = good.read_bytes()
    assert run(good) == []
    assert good.read_bytes() == before
    assert b'"0\\n",\n' in before


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("1 / 0", "ZeroDivisionError"),
        ("import warnings; warnings.warn('old')", "old"),
        ("import sys; print('odd', file=sys.stderr)", "odd"),
        ("import sys; print(sys.prefix + '/ho' + 'me/me/x')", "path"),
        ("import logging; logging.error('odd')", "odd"),
    ],
)
def test_a_run_that_shows_what_a_lesson_may_not_leaves_the_file_alone(good, tmp_path, code, said):
    notebook = nbformat.read(good, as_version=4)
    notebook.cells[3].source = code
    path = tmp_path / "bad.ipynb"
    path.write_text(to_text(notebook), "utf-8")
    before = path.read_bytes()
    assert said in run(path)[0]
    assert path.read_bytes() == before


def test_a_lesson_states_the_time_that_the_formula_gives_and_marks_a_stop():
    tasks = "\n".join(f"# %% t{n}\nlesson.task({n})" for n in (1, 2, 3, 6))
    text = (
        f"# %% [markdown] top\n# # A\n# **Time:** about 5 minutes\n# {'word ' * 200}\n# %% [markdown] b\n# c\n{tasks}"
    )
    notebook = pack(text)
    # 206 words in 5.2 minutes; 5 and 6 lines of 02.1 and 02.2, a formula, a choice: 5 + 25, each to 5.
    assert stated_time(notebook, "02") == "**Time:** about 30 minutes"
    assert any("about 30 minutes" in fault for fault in lint(notebook, "02_x"))
    notebook.cells[1].source = "word " * 1600 + "**Halfway.**"
    assert "two sittings (45 to the halfway mark, 25 after it)" in stated_time(notebook, "02")
    notebook.cells[0].source = f"# A\n\n{stated_time(notebook, '02')} {'word ' * 200}"
    assert not any("time" in fault or "Halfway" in fault for fault in lint(notebook, "02_x"))
    for words in ("word " * 1600, "word " * 2600 + "**Halfway.**"):  # no stop at all, or one after 70 minutes
        notebook.cells[1].source = words
        assert any("Halfway" in fault for fault in lint(notebook, "02_x"))


def html(text):
    return [nbformat.v4.new_output("display_data", data={"text/html": text})]


def image(**data):
    return [nbformat.v4.new_output("display_data", data={"image/png": "AAAA", "text/plain": "<Image>", **data})]


def set_source(number, source):
    return lambda notebook: notebook.cells[number].update(source=source)


def set_outputs(outputs):
    return lambda notebook: notebook.cells[3].update(outputs=outputs)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda notebook: notebook.cells[3].update(execution_count=None), "not all run once"),
        (lambda notebook: notebook.cells[3].update(execution_count=7), "not all run once"),
        (lambda notebook: notebook.metadata.update(widgets={}), "metadata"),
        (lambda notebook: notebook.update(nbformat_minor=4), "4.4"),
        (lambda notebook: notebook.cells[3].update(id="title"), "same id"),
        (lambda notebook: notebook.cells[3].outputs.append({"output_type": "novel"}), "valid"),
        (lambda notebook: notebook.cells[2].update(source=notebook.cells[2].source * 30_000), "bytes"),
        (set_source(1, "import susgeo"), "version"),
        (set_source(0, "## Two lines"), "title"),
        (set_source(2, "# Another title"), "2 titles"),
        (set_source(2, "#### Too deep"), "leave out a level"),
        (set_source(2, "word " * 120), "120 words"),
        (set_source(2, "![](two.png)"), "alt text"),
        (set_source(2, "<img src='two.png'>"), "alt text"),
        (set_source(2, "see /ho" + "me/me/car.toml"), "path"),
        (set_source(3, "x = 1\n" * 12), "12 lines"),
        (set_source(3, ""), "empty"),
        (set_source(3, "open(r'C:\\cars\\mine.toml')"), "path"),
        (set_outputs(html("<img src='data:image/png;base64,AAAA'>")), "alt text"),
        (set_outputs(html("<img alt=' ' src='data:image/png;base64,AAAA'>")), "alt text"),
        (set_outputs(html("<svg width='9'></svg>")), "alt text"),
        (set_outputs(image()), "bare image"),
        (set_outputs([nbformat.v4.new_output("error", ename="E", evalue="v")]), "error"),
    ],
)
def test_each_rule_is_seen_to_be_broken(good, change, said):
    notebook = copy.deepcopy(nbformat.read(good, as_version=4))
    assert lint(notebook, "lesson") == []
    change(notebook)
    assert any(said in fault for fault in lint(notebook, "lesson")), lint(notebook, "lesson")


@pytest.mark.parametrize(
    "outputs",
    [
        image(**{"text/html": "<img alt='a line' src='data:image/png;base64,AAAA'>"}),
        html("<svg role='img' aria-label='two lines'></svg><svg aria-hidden='true'></svg>"),
        html("<p>no picture</p>"),
    ],
)
def test_pictures_with_alt_text_pass(good, outputs):
    notebook = copy.deepcopy(nbformat.read(good, as_version=4))
    set_outputs(outputs)(notebook)
    assert lint(notebook, "lesson") == []


def test_prose_is_counted_without_formulas_and_tables(good):
    notebook = copy.deepcopy(nbformat.read(good, as_version=4))
    notebook.cells[2].source = "word " * 118 + "$$a + b = c + d$$\n" + "| a | b |\n" * 30
    assert lint(notebook, "lesson") == []
