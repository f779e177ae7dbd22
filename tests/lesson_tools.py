"""Making lessons: a notebook as plain text and back, a clean run, and the rules that every lesson keeps.

    python tests/lesson_tools.py unpack notebooks/02.ipynb > 02.py   the notebook as text, to edit
    python tests/lesson_tools.py pack 02.py notebooks/02.ipynb       the text as a notebook, without outputs
    python tests/lesson_tools.py run notebooks/02.ipynb ...          run in place, unless a rule is broken
    python tests/lesson_tools.py lint notebooks/02.ipynb ...         the rules alone

The notebook is the master; the text is only for comfortable editing. In it a cell starts with a line such as

    # %% [markdown] opening {"tags": ["guess"]}

where ``[markdown]`` is left out for code, ``opening`` is the cell's id (made from its first words if left
out) and the braces hold the cell's metadata, if any. The lines of a markdown cell start with "# ".
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from html.parser import HTMLParser
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError
from nbformat import NotebookNode

from susgeo.answers.calculation import library

MOST_CELLS = 48
MOST_WORDS = 119
MOST_CODE_LINES = 11
MOST_OPEN_LINES = 40
OPEN = "derivation"
"""The tag of a code cell that stays open on the page; all others are folded."""
MOST_BYTES = 700_000
SECONDS_A_CELL = 60
METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
CELL_METADATA = {"tags", "nbgrader", "jupyter", "slideshow", "deletable", "editable"}
PROTECTED = {"deletable", "editable", "jupyter"}
"""What :func:`protect` writes into a cell by itself."""
MACHINE_PATH = re.compile(
    r"(?<![\w.])/(?:home|root|tmp|work|Users|private|var/folders)/[\w.]|\b[A-Z]:\\\w|\bipykernel_\d"
)
HEADER = re.compile(r"# %%(?P<markdown> \[markdown\])?(?: (?P<id>[\w-]+))?(?: (?P<metadata>\{.*\}))?\s*")


# Text and notebook


def pack(text: str) -> NotebookNode:
    """Return the notebook that a text in the percent format describes, without outputs."""
    cells: list[NotebookNode] = []
    used: set[str] = set()
    for number, chunk in enumerate(re.split(r"(?m)^(?=# %%)", text)):
        header, _, body = chunk.partition("\n")
        if number == 0:
            if chunk.strip():
                raise ValueError(f"The text before the first cell would be lost: {chunk.strip()[:60]!r}.")
            continue
        match = HEADER.fullmatch(header)
        if match is None:
            raise ValueError(f"This is no head of a cell: {header!r}.")
        lines = body.rstrip().split("\n")
        if match["markdown"]:
            stray = [line for line in lines if line and not re.match(r"#( |$)", line)]
            if stray:
                raise ValueError(f"Each line of a markdown cell starts with '# ', but not {stray[0]!r}.")
            lines = [line[2:] for line in lines]
        source = "\n".join(lines).strip("\n")
        cell_id = match["id"] or id_from(source, used)
        if cell_id in used:
            raise ValueError(f"Two cells have the id {cell_id!r}.")
        used.add(cell_id)
        metadata = json.loads(match["metadata"] or "{}")
        new = nbformat.v4.new_markdown_cell if match["markdown"] else nbformat.v4.new_code_cell
        cells.append(new(source, id=cell_id, metadata=metadata))
    notebook = nbformat.v4.new_notebook(cells=cells, metadata=METADATA)
    notebook.nbformat_minor = 5
    return notebook


def id_from(source: str, used: set[str]) -> str:
    """Make an id from a cell's first words: the same text gets the same id."""
    words = re.findall(r"[a-z0-9]+", source.lower())[:5] or ["empty"]
    stem = "-".join(words)[:40]
    return next(name for name in (stem, *(f"{stem}-{n}" for n in range(2, 1000))) if name not in used)


def unpack(notebook: NotebookNode) -> str:
    """Return a notebook as text in the percent format; outputs are left out."""
    parts = []
    for cell in notebook.cells:
        if cell.cell_type not in ("markdown", "code") or cell.get("attachments"):
            raise ValueError(f"The cell {cell.id!r} is neither plain markdown nor code: it cannot be text.")
        head = ["# %%", *(["[markdown]"] if cell.cell_type == "markdown" else []), cell.id]
        metadata = {k: v for k, v in cell.metadata.items() if k not in PROTECTED}
        if metadata:
            head.append(json.dumps(metadata, sort_keys=True, ensure_ascii=False))
        lines = cell.source.split("\n")
        if cell.cell_type == "markdown":
            lines = [f"# {line}" if line else "#" for line in lines]
        if any(line.startswith("# %%") for line in lines):
            raise ValueError(f"The cell {cell.id!r} has a line that would be taken for the head of a cell.")
        parts.append("\n".join([" ".join(head), *lines]))
    return "\n\n".join(parts) + "\n"


# Running


def run(path: Path) -> list[str]:
    """Run a notebook in place from a fresh kernel; if a rule is broken, leave it as it was and say which."""
    notebook = nbformat.read(path, as_version=4)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    client = NotebookClient(
        notebook,
        timeout=SECONDS_A_CELL,
        kernel_name="python3",
        store_widget_state=False,  # with it, the picture that a saved slider leaves is not shown
        record_timing=False,
        coalesce_streams=True,  # else how a text is cut into pieces depends on the load of the machine
        resources={"metadata": {"path": str(path.parent.resolve())}},
    )
    try:
        client.execute()
    except CellExecutionError as error:
        return [f"{path.name}: a cell raised {error.ename}: {error.evalue}"]
    clean(notebook)
    if re.match(r"\d\d_", path.name):
        link_up(notebook, links(path.name, path.parent))
        first = notebook.cells[0]
        first.source = TIME.sub(lambda _: stated_time(notebook, path.name[:2]), first.source)
    faults = lint(notebook, path.name)
    if not faults:
        path.write_text(to_text(notebook), "utf-8")
    return faults


def clean(notebook: NotebookNode) -> None:
    """Take out all that differs from run to run or machine to machine."""
    notebook.metadata = nbformat.from_dict(METADATA)
    for cell in notebook.cells:
        cell.metadata = nbformat.from_dict({k: v for k, v in cell.metadata.items() if k in CELL_METADATA})
        protect(cell, is_page(notebook))
        for output in cell.get("outputs", []):
            if "data" in output:  # the live widget's number, of no use to a reader without its kernel
                output.data.pop("application/vnd.jupyter.widget-view+json", None)


def is_page(notebook: NotebookNode) -> bool:
    """Tell whether a lesson is answered in boxes, and so keeps the rules of a page."""
    code = [cell.source for cell in notebook.cells if cell.cell_type == "code"]
    return any("lesson.task(" in source or "your_car(" in source for source in code) and not any(
        re.search(r"lesson\.check\((?!1, answer)", source) for source in code
    )


def protect(cell: NotebookNode, page: bool) -> None:
    """Keep a cell from being deleted, or text from being opened by mistake; fold the machinery of a page."""
    for name in PROTECTED:
        cell.metadata.pop(name, None)
    cell.metadata["deletable"] = False
    if cell.cell_type == "markdown":
        cell.metadata["editable"] = False
    elif page and OPEN not in cell.metadata.get("tags", []):
        cell.metadata["jupyter"] = {"source_hidden": True}


def to_text(notebook: NotebookNode) -> str:
    """Return the text of a notebook file, always laid out alike."""
    return nbformat.writes(notebook, version=nbformat.NO_CONVERT).rstrip("\n") + "\n"


# The rules


def lint(notebook: NotebookNode, name: str) -> list[str]:
    """Return one sentence for each rule of a lesson that the notebook breaks."""
    faults: list[str] = []
    if (notebook.nbformat, notebook.nbformat_minor) != (4, 5):
        return [f"{name}: its format is {notebook.nbformat}.{notebook.nbformat_minor}, not 4.5"]
    ids = [cell.get("id") for cell in notebook.cells]
    if len(set(ids)) < len(ids):  # nbformat.validate would mend this in silence
        return [f"{name}: two cells have the same id: {ids}"]
    try:
        nbformat.validate(notebook)
    except nbformat.ValidationError as error:
        return [f"{name}: it is no valid notebook: {error.message}"]
    if notebook.metadata != METADATA:
        faults.append(f"its metadata say more, or else, than {METADATA}")
    if len(notebook.cells) > MOST_CELLS:
        faults.append(f"it has {len(notebook.cells)} cells, more than {MOST_CELLS}")
    size = len(to_text(notebook).encode())
    if size > MOST_BYTES:
        faults.append(f"it has {size} bytes, more than {MOST_BYTES}")
    faults += heading_faults(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    if not code or not re.search(r"susgeo[\s\S]*version", code[0].source):
        faults.append("its first code cell does not check the version of susgeo")
    counts = [cell.execution_count for cell in code]
    if counts != list(range(1, len(code) + 1)):
        faults.append(f"its code cells were not all run once, from top to bottom in a fresh kernel: {counts}")
    faults += time_faults(notebook, name)
    if is_page(notebook):
        faults += page_faults(notebook)
        if sum("ipynb#Contents)" in cell.source for cell in notebook.cells) < 2:
            faults.append("it has no links to its neighbors and the contents; run writes them")
    for cell in notebook.cells:
        rules = code_faults(cell) if cell.cell_type == "code" else prose_faults(cell)
        faults += [f"the cell {cell.id!r} {fault}" for fault in rules]
    return [f"{name}: {fault}" for fault in faults]


TIME = re.compile(r"\*\*Time:\*\* about \d+ minutes(?: in two sittings \(\d+ to the halfway mark, \d+ after it\))?")
SITTING = 60  # minutes that nobody is asked to exceed without a place to stop


def sittings(notebook: NotebookNode, number: str) -> list[int]:
    """Return the minutes up to the halfway mark and after it, in fives; DEVELOPERS.md tells the formula."""
    calculations, tasks = library()
    parts = [0.0]
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            for part, text in enumerate(TIME.sub("", cell.source).split("**Halfway.**")):
                parts += [0.0] * min(part, 1)
                parts[-1] += len(re.findall(r"[\w'’-]+", text)) / 40
        elif match := re.fullmatch(r"lesson\.task\((\d+)\)", cell.source.strip()):
            task = tasks[f"{number}.{match[1]}"]
            parts[-1] += {"formula": 5, "choice": 15}.get(task.kind, 0)
            if task.kind in ("number", "working"):
                parts[-1] += len(calculations[task.of].lines_to(task.find)) / 3
        elif "derivation.show(" in cell.source or re.search(r"\bbench\(", cell.source):
            parts[-1] += 2
    return [5 * round(part / 5) for part in parts]


def stated_time(notebook: NotebookNode, number: str) -> str:
    """Return the sentence that states a lesson's time."""
    parts = sittings(notebook, number)
    split = f" in two sittings ({parts[0]} to the halfway mark, {parts[1]} after it)" if len(parts) == 2 else ""
    return f"**Time:** about {sum(parts)} minutes{split}"


def time_faults(notebook: NotebookNode, name: str) -> list[str]:
    """The stated time is the formula's; no sitting is longer than an hour, and a lesson that is has a place to stop."""
    if not (re.match(r"\d\d_", name) and is_page(notebook)):
        return []
    wanted, told = stated_time(notebook, name[:2]), TIME.search(notebook.cells[0].source)
    faults = [] if told and told[0] == wanted else [f"its time should be stated so: {wanted}"]
    parts = sittings(notebook, name[:2])
    if max(parts) > SITTING or len(parts) > 2 or (len(parts) == 2 and sum(parts) <= SITTING):
        faults.append(
            f"its sittings are {parts} minutes: **Halfway.** parts a lesson of more than {SITTING}, and no other, in two"
        )
    return faults


def heading_faults(notebook: NotebookNode) -> list[str]:
    """One title, in the first cell; below it no level left out."""
    levels: list[int] = []
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            prose = re.sub(r"(?ms)^```.*?^```", "", cell.source)
            levels += [len(marks) for marks in re.findall(r"(?m)^(#{1,6}) ", prose)]
    faults = []
    first = notebook.cells[0] if notebook.cells else None
    if first is None or first.cell_type != "markdown" or not first.source.startswith("# "):
        faults.append("its first cell does not start with the title")
    if levels.count(1) != 1:
        faults.append(f"it has {levels.count(1)} titles (headings of the first level), not one")
    if any(after > before + 1 for before, after in zip(levels, levels[1:], strict=False)):
        faults.append(f"its headings leave out a level: {levels}")
    return faults


def page_faults(notebook: NotebookNode) -> list[str]:
    """What meets the eye: folded machinery, typeset results, one task a cell, no word of Python's marks."""
    faults, lines, tasks = [], 0, []
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            if re.search(r"quotation mark|run (the|this|each|your) cell|Shift ?\+ ?Enter", cell.source, re.I):
                faults.append(f"the cell {cell.id!r} speaks of quotation marks or of running a cell")
            continue
        if OPEN in cell.metadata.get("tags", []):
            lines += sum(bool(line.strip()) for line in cell.source.split("\n"))
        elif not cell.metadata.get("jupyter", {}).get("source_hidden"):
            faults.append(f"the cell {cell.id!r} is neither folded nor tagged {OPEN!r}")
        if ".task(" in cell.source:
            tasks += re.findall(r"\.task\((\w+)\)", cell.source)
            if not re.fullmatch(r"lesson\.task\(\w+\)", cell.source.strip()):
                faults.append(f"the cell {cell.id!r} holds more than its one task")
        for output in cell.outputs:
            kinds = set(output.get("data", {}))
            if output.output_type == "execute_result" and not kinds & {"text/html", "text/latex"}:
                faults.append(f"the cell {cell.id!r} shows plain text; give it a name with derivation.show(...)")
    if len(set(tasks)) < len(tasks):
        faults.append(f"a task stands there twice: {tasks}")
    if lines > MOST_OPEN_LINES:
        faults.append(f"it has {lines} open lines of code, more than {MOST_OPEN_LINES}")
    return faults


def links(name: str, folder: Path) -> str:
    """Return the line of links to a lesson's neighbors, the contents and the glossary."""
    files = sorted(path.name for path in folder.glob("[0-9][0-9]_*.ipynb"))
    place = files.index(name)
    ways = [("Back", files[place - 1])] if place else []
    ways += [("Next", files[place + 1])] if place + 1 < len(files) else []
    found = [f"[{word}: lesson {file[:2]}]({file})" for word, file in ways]
    return " · ".join([*found, *(f"[{word}]({files[0]}#{word})" for word in ("Contents", "Glossary"))])


def link_up(notebook: NotebookNode, line: str) -> None:
    """Write the line of links below the title and below the last words."""
    prose = [cell for cell in notebook.cells if cell.cell_type == "markdown"]
    for cell in (prose[0], prose[-1]):
        kept = [one for one in cell.source.split("\n") if "ipynb#Contents)" not in one]
        cell.source = "\n".join(kept).rstrip() + f"\n\n{line}"


def prose_faults(cell: NotebookNode) -> list[str]:
    faults = []
    # A formula counts as one word; tables and tags are not read as prose.
    prose = re.sub(r"\$\$.+?\$\$|\$[^$\n]+\$", "formula", cell.source, flags=re.DOTALL)
    prose = re.sub(r"(?m)^\|.*$|<[^>]+>|```[\s\S]*?```", " ", prose)
    words = len(re.findall(r"\w[^\s]*", prose))
    if words > MOST_WORDS:
        faults.append(f"has {words} words, more than {MOST_WORDS}")
    if re.search(r"!\[\s*\]\(", cell.source) or pictures_without_alt(cell.source):
        faults.append("has a picture without alt text")
    if MACHINE_PATH.search(cell.source):
        faults.append("names a path of somebody's machine")
    return faults


def code_faults(cell: NotebookNode) -> list[str]:
    faults = []
    lines = [line for line in cell.source.split("\n") if line.strip()]
    if len(lines) > MOST_CODE_LINES:
        faults.append(f"has {len(lines)} lines of code, more than {MOST_CODE_LINES}")
    if not lines:
        faults.append("is empty")
    shown = []
    for output in cell.outputs:
        if output.output_type == "error":
            faults.append(f"ended in an error: {output.ename}: {output.evalue}")
        elif output.output_type == "stream":
            shown.append(output.text)
            if output.name == "stderr":
                faults.append(f"wrote a warning or an error: {output.text.strip()[:200]}")
        else:
            shown += [str(value) for kind, value in output.data.items() if not kind.startswith("image/")]
            html = "".join(output.data.get("text/html", ""))
            if pictures_without_alt(html):
                faults.append("shows a picture without alt text")
            elif any(kind.startswith("image/") for kind in output.data) and not has_picture(html):
                faults.append("shows a bare image: only text/html can give its alt text to the page")
    text = re.sub(r"data:image/[^\"']+", "", "\n".join(shown))
    if MACHINE_PATH.search(text) or MACHINE_PATH.search(cell.source):
        faults.append("shows a path of somebody's machine")
    if "Warning:" in text:
        faults.append("shows a warning")
    return faults


class Pictures(HTMLParser):
    """Collects the pictures of a piece of HTML, each as its text for those who do not see it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.alts: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "img":
            self.alts.append(dict(attrs).get("alt") or "")
        if tag == "svg" and dict(attrs).get("aria-hidden") != "true":
            self.alts.append(dict(attrs).get("aria-label") or "")


def pictures_without_alt(html: str) -> bool:
    return not all(alt.strip() for alt in Pictures(html).alts)


def has_picture(html: str) -> bool:
    return bool(Pictures(html).alts)


def main() -> int:
    plain = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=plain)
    parser.add_argument("command", choices=["pack", "unpack", "run", "lint"])
    parser.add_argument("files", nargs="+", type=Path)
    arguments = parser.parse_args()
    faults: list[str] = []
    if arguments.command == "pack":
        source, target = arguments.files
        target.write_text(to_text(pack(source.read_text("utf-8"))), "utf-8")
        return 0
    for path in arguments.files:
        if arguments.command == "run":
            faults += run(path)
        else:
            notebook = nbformat.read(path, as_version=4)
            if arguments.command == "unpack":
                sys.stdout.write(unpack(notebook))
            else:
                faults += lint(notebook, path.name)
    print("\n".join(faults), file=sys.stderr, end="\n" if faults else "")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
