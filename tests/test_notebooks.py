"""Every lesson keeps the rules, and the comparison of its stored outputs is a real one.

That each notebook runs and gives its stored outputs is tested by nbval itself, one test a cell: see the
settings of pytest in pyproject.toml.
"""

import re
import subprocess
import sys
from pathlib import Path

import nbformat

from lesson_tools import MACHINE_PATH, lint, pack, to_text
from susgeo.answers.calculation import library

ROOT = Path(__file__).resolve().parent.parent
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))


def test_every_lesson_keeps_the_rules():
    assert LESSONS
    assert [fault for path in LESSONS for fault in lint(nbformat.read(path, as_version=4), path.name)] == []


def test_each_lesson_from_02_on_opens_with_one_unmarked_question_on_the_one_before():
    """Its answer a click away, before the story begins, and no box that keeps or marks what is thought of."""
    asked = 0
    for path in LESSONS:
        number = int(path.name[:2]) if path.name[:2].isdigit() else 0
        if number < 2:
            continue
        cells = nbformat.read(path, as_version=4).cells
        texts = [cell.source for cell in cells]
        story = next(k for k, text in enumerate(texts) if "## The real thing" in text)
        opening = "\n".join(texts[: story + 1]).split("## The real thing")[0]
        assert re.findall(r"From lesson (\d\d)", opening) == [f"{number - 1:02d}"], path.name
        folded = re.findall(r"<details>(.*?)</details>", opening, re.DOTALL)
        assert len(folded) == 1 and "?" in opening and len(re.sub(r"<[^>]*>", "", folded[0]).split()) > 4, path.name
        assert "lesson.task(" not in opening and "lesson.guess(" not in opening
        asked += 1
    assert asked == 12


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


ONE_TERM = {
    "instant center": r"instantaneous center|swing center|\bpole\b",
    "roll center": r"rolling center",
    "load transfer": r"weight transfer|load shift",
    "anti-lift": r"anti-rise",
    "Panhard bar": r"track bar|panhard rod|track rod",
    "Watt's linkage": r"watts? link\b|watt's link\b|watt linkage",
    "lower link": r"trailing (arm|link)s?|control arms?|lower bars?\b",
    "anti-roll bar": r"sway bar|stabili[sz]er bar|anti-sway",
    "damper": r"shock absorber|\bshocks?\b",
    "rod end": r"heim|rose joint|ball end",
    "steering axis": r"king ?pin",
    "tie rod": r"steering link|toe link",
    "pick-up point": r"hard ?points?\b|mounting points?",
    "droop": r"rebound travel",
    "bump": r"jounce",
    "final drive": r"\bdiffs?\b|differential|pumpkin",
    "propeller shaft": r"drive ?shafts?\b|prop ?shaft",
    "center of gravity": r"center of mass|mass center|\bcog\b",
    "contact patch": r"tire print|footprint|contact point of the tire",
    "ride height": r"static height|trim height",
    "center line": r"centerline|middle line",
    "roll steer": r"axle steer\b|rear steer\b",
    "tire": r"tyre",
    "center": r"centre",
}
"""The course's word for each thing, and what else the trade says for it."""


def told(source):
    """Return a lesson's prose without formulas, code and marks, piece by piece as one reads it."""
    text = re.sub(r"(?ms)^```.*?^```|\$\$.*?\$\$", "\n\n", source)
    text = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", re.sub(r"<[^>]+>", "\n\n", text))
    return re.split(r"\n\s*\n|\n(?=[-#]|\d+\. )|\||(?<=\|)\n", re.sub(r"`[^`]*`|\$[^$]*\$", "x", text))


def prose():
    """Return name and text of all that a reader reads: cells of lessons, the guide, the words of tasks."""
    for path in LESSONS:
        for cell in nbformat.read(path, as_version=4).cells:
            if cell.cell_type == "markdown":
                yield f"{path.name} {cell.id}", cell.source
    for key, task in library()[1].items():
        yield f"task {key}", f"{task.ask}\n\n{task.hint}"


def test_no_sentence_has_more_than_25_words():
    long = []
    for where, source in prose():
        for piece in told(source):
            for sentence in re.split(r"(?<=[.!?:;])[\"”)*]*\s+", piece.replace("\n", " ")):
                words = re.findall(r"[\w'’-]+", sentence)
                long += [f"{where} ({len(words)}): {sentence.strip()[:90]}"] if len(words) > 25 else []
    assert long == []


def test_one_thing_has_one_name():
    texts = [*prose(), *((path.name, path.read_text("utf-8")) for path in (ROOT / "notebooks").glob("*.md"))]
    found = [f"{where}: {match[0]!r} for {term!r}" for where, text in texts for term, others in ONE_TERM.items()
             for match in [re.search(others, text, re.I)] if match]  # fmt: skip
    assert found == []
