"""Pages from the notebooks as committed: prose, formulas as MathML, pictures as files, benches and tasks that answer.

nbconvert makes them with the template in this folder. Formulas become MathML, which today's browsers typeset by
themselves: a sixth of the size of drawn ones, and a screen reader speaks them. Nothing is fetched when a page is read.
"""

import base64
import hashlib
import html
import re
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import nbformat
from latex2mathml.converter import convert
from nbconvert import TemplateExporter
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath
from nbformat import NotebookNode

from ..answers.contents import NOTEBOOKS, titles
from ..answers.lesson import Lesson
from ..answers.printed import LAYOUT, task_on_paper
from ..errors import SusgeoError
from ..files import write_whole
from .flipbook import FEWEST, benches, films, flip_book
from .questions import answer_form, guess_form

TEMPLATE = Path(__file__).parent / "template"
TASK = re.compile(r"lesson\.task\((\d+)\)")
PICTURE = re.compile(r'(src(?:set)?=")data:image/(png|svg)(?:\+xml)?;base64,([^"]+)')
IMAGE = re.compile(r'<img src="data:image/[^>]+>')
BESIDE = {
    "instructors_guide": "The instructor's guide",
    "what_the_checker_knows": "What the checker knows: answers and what is said of them",
}
LONG = 28
"""Characters of a formula that may be wider than a telephone."""


@dataclass(frozen=True)
class Plan:
    """What is made: where, from how many frames a slider, and whether benches move and tasks answer."""

    folder: Path
    fewest: int = FEWEST
    live: bool = True


def mathml(formula: str, display: str = "inline") -> str:
    r"""Return a formula as MathML; lines that are aligned become a table.

    >>> mathml(r"x_{IC}").startswith("<math")
    True
    """
    plain = re.sub(r"\\\\\[[^]]*\]", r"\\\\", formula.strip().strip("$")).replace("{aligned}", "{align*}")
    made = convert(plain, display=display)
    return f'<span class="wide" tabindex="0">{made}</span>' if display == "block" else made


class Prose(IPythonRenderer):  # type: ignore[misc]
    """Text of a notebook as HTML, with its formulas typeset."""

    def inline_math(self, body: str) -> str:
        """Return a formula in a line of text; a long one may be pushed aside on a telephone."""
        made = mathml(body)
        return f'<span class="wide run" tabindex="0">{made}</span>' if len(body) > LONG else made

    def block_math(self, body: str) -> str:
        """Return a formula on a line of its own."""
        return mathml(body, "block")

    def heading(self, text: str, level: int, **attrs: object) -> str:
        """Return a heading with the name by which links find it."""
        name = html.unescape(re.sub(r"<[^>]+>", "", text)).replace(" ", "-")
        return f'<h{level} id="{html.escape(name)}">{text}</h{level}>'


def prose(source: str) -> str:
    """Return text as HTML; links lead to pages."""
    kept = "\n".join(line for line in source.split("\n") if "ipynb#Contents)" not in line)
    return linked(MarkdownWithMath(renderer=Prose(escape=False)).render(kept))


def linked(page: str) -> str:
    """Return a page whose links lead to pages in the place of notebooks, and whose tables may be pushed aside."""
    page = re.sub(r'<a href="your_car\.ipynb">(.*?)</a>', r"\1 (a notebook of the course)", page)
    page = re.sub(r'(href="\w+)\.(?:ipynb|md)\b', r"\1.html", page)
    return re.sub(r"<table.*?</table>", r'<div class="wide" tabindex="0">\g<0></div>', page, flags=re.DOTALL)


def filed(page: str, folder: Path) -> str:
    """Write the pictures of a page as files, each once, and return the page with links to them."""

    def write(found: re.Match[str]) -> str:
        data = base64.b64decode(found[3])
        name = f"pictures/{hashlib.sha256(data).hexdigest()[:12]}.{found[2]}"
        write_whole(folder / name, data)
        return found[1] + name

    return PICTURE.sub(write, page)


def output(cell: NotebookNode) -> str:
    """Return what a cell showed when it was committed."""
    shown = []
    for one in cell.outputs:
        data = one.get("data", {})
        if "text/html" in data:
            bare = re.sub(r'<style>.*?</style><p class="susgeo-asleep">.*?</p>', "", data["text/html"])
            shown.append(IMAGE.sub(r'<div class="drawn" tabindex="0">\g<0></div>', linked(bare)))
        elif "text/latex" in data:
            shown.append(mathml(data["text/latex"], "block"))
        else:
            shown.append(f"<pre>{html.escape(one.get('text') or data.get('text/plain', ''))}</pre>")
    return "".join(shown)


def cells(notebook: NotebookNode, number: str, plan: Plan) -> NotebookNode:
    """Write into each cell what its page shows of it."""
    moving = benches(notebook) if plan.live else {}
    lesson = Lesson(number, folder=str(plan.folder))
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            cell.metadata.page = prose(cell.source)
            continue
        page, task = output(cell), TASK.fullmatch(cell.source.strip())
        if task:
            page = answer_form(lesson, int(task[1])) if plan.live else task_on_paper(lesson, int(task[1]))
        elif cell.id in moving:
            book = flip_book(
                [list(films(one, plan.fewest)) for one in moving[cell.id]], f"{number}-{cell.id}", plan.folder
            )
            page = f'{book}<div class="strip">{page}</div>'
        elif "lesson.guess" in cell.source:
            page = guess_form(page)
        elif "lesson.progress(" in cell.source:
            page = f'<div class="progress script-only">{page}</div>'
        page = re.sub(r"\b0 of (\d+) tasks done", r"\1 tasks", page)
        cell.metadata.page = filed(page, plan.folder)
    return notebook


def write_page(name: str, plan: Plan) -> str:
    """Write the page of a lesson or of the guide, and return its name."""
    files = [file.removesuffix(".ipynb") for file, _ in titles().values()]
    if name in files:
        notebook = cells(nbformat.read(NOTEBOOKS / f"{name}.ipynb", as_version=4), name[:2], plan)
        place = files.index(name)
        around = files[place - 1] if place else "", files[place + 1] if place + 1 < len(files) else ""
        title = titles()[name[:2]][1]
    else:
        text = (NOTEBOOKS / f"{name}.md").read_text("utf-8") if name in BESIDE else contents()
        cell = nbformat.v4.new_markdown_cell(text)
        cell.metadata.page = prose(text)
        notebook, around = nbformat.v4.new_notebook(cells=[cell]), ("", "")
        title = text.partition("\n")[0].lstrip("# ")
    exporter = TemplateExporter(template_name="template", extra_template_basedirs=[str(TEMPLATE.parent)], template_file="page.html.j2")  # fmt: skip
    made, _ = exporter.from_notebook_node(notebook, {"title": title, "around": around, "home": name == "index"})
    write_whole(plan.folder / f"{name}.html", made)
    return name


def contents() -> str:
    """Return the page that leads to all others."""
    rows = []
    for file, title in titles().values():
        first = nbformat.read(NOTEBOOKS / file, as_version=4).cells[0].source
        able = re.search(r"\*\*After this lesson you can\*\* (.*)", first)
        rows.append(f"- [{title}]({file})" + (f"<br>{able[1]}" if able else ""))
    start, lessons = next(iter(titles().values()))[0], "\n".join(rows)
    beside = "\n".join(f"- [{title}]({name}.md)" for name, title in BESIDE.items())
    return f"""\
# Where the Lines Meet

A course on the geometry of live-axle cars, to read, to move and to answer on any screen. Take paper, a ruler and a \
calculator. Nothing here is fetched from a network, and nothing that you type is kept.

The notebooks of the same course check formulas and workings too, and keep your answers.

## Lessons

{lessons}

## Beside the lessons

- [Glossary]({start}#Glossary)
- [The card: one formula for each number]({start}#card)
{beside}"""


def make_pages(
    folder: Path | str, lessons: Sequence[str] = (), fewest: int = FEWEST, workers: int = 2, live: bool = True
) -> list[Path]:
    """Write the course as plain pages into a folder, and return the files of the pages.

    Args:
        folder: where ``index.html`` goes, with the pages, ``pictures`` and ``frames`` beside it.
        lessons: which, by their two digits; all where none is named.
        fewest: frames of a slider, at least.
        workers: how many lessons are made at a time; with one, in this process.
        live: whether benches move and tasks answer; on paper neither does.

    Raises:
        SusgeoError: there is no such lesson, or the notebooks are not beside the library.
    """
    place = Path(folder)
    if not titles():
        raise SusgeoError("The lessons are not here: make the pages in the course's own folder, where README.md is.")
    if unknown := [one for one in lessons if one not in titles()]:
        raise SusgeoError(f"There is no lesson {unknown[0]}; there are {', '.join(titles())}.")
    write_whole(place / "page.js", (TEMPLATE / "page.js").read_bytes())
    write_whole(place / "style.css", f"{(TEMPLATE / 'style.css').read_text('utf-8')}\n@media print {{ {LAYOUT} }}\n")
    plan = Plan(place.resolve(), fewest, live)
    wanted = [titles()[one][0].removesuffix(".ipynb") for one in (lessons or titles())]
    names = ["index", *BESIDE, *wanted]
    if workers == 1:
        return [place / f"{write_page(name, plan)}.html" for name in names]
    with ProcessPoolExecutor(min(workers, len(wanted)), mp_context=get_context("spawn")) as pool:
        return [place / f"{name}.html" for name in pool.map(write_page, names, [plan] * len(names))]
