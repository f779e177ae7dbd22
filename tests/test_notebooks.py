"""Every lesson keeps the rules, and the comparison of its stored outputs is a real one.

That each notebook runs and gives its stored outputs is tested by nbval itself, one test a cell: see the
settings of pytest in pyproject.toml.
"""

import subprocess
import sys
from pathlib import Path

import nbformat

from lesson_tools import MACHINE_PATH, lint, pack, to_text

ROOT = Path(__file__).resolve().parent.parent
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))


def test_every_lesson_keeps_the_rules():
    assert LESSONS
    assert [fault for path in LESSONS for fault in lint(nbformat.read(path, as_version=4), path.name)] == []


def test_no_text_beside_the_lessons_names_a_path_of_a_machine():
    texts = [*ROOT.glob("*.md"), *(ROOT / "notebooks").glob("*.md")]
    assert len(texts) >= 3
    assert [path.name for path in texts if MACHINE_PATH.search(path.read_text("utf-8"))] == []


def test_a_stored_output_that_is_not_what_the_code_gives_fails(tmp_path):
    picture = 'from IPython.display import HTML as H\nH(\'<img alt="a line" src="data:image/png;base64,AA">\')'
    notebook = pack(
        "# %% right\nprint(3 * 14)\n\n"
        "# %% wrong\nprint(3 * 15)\n\n"
        f"# %% other-pixels\n{picture}\n\n"
        f"# %% other-alt-text\n{picture.replace('a line', 'two lines')}\n"
    )
    stored = nbformat.v4.new_output("stream", name="stdout", text="42\n")
    drawn = {"text/html": '<img alt="a line" src="data:image/png;base64,BBBB">', "text/plain": None}
    drawn["text/plain"] = "<IPython.core.display.HTML object>"
    for number, cell in enumerate(notebook.cells):
        cell.execution_count = number + 1
        shown = nbformat.v4.new_output("execute_result", data=drawn, execution_count=number + 1)
        cell.outputs = [stored if number < 2 else shown]
    (tmp_path / "lesson.ipynb").write_text(to_text(notebook), "utf-8")
    command = [sys.executable, "-m", "pytest", "-c", "pyproject.toml", "--color=no", "-p", "no:cacheprovider"]
    answer = subprocess.run([*command, str(tmp_path)], cwd=ROOT, capture_output=True, text=True)
    assert "2 failed, 2 passed" in answer.stdout.splitlines()[-1], answer.stdout
    assert "Cell 1" in answer.stdout and "Cell 3" in answer.stdout
