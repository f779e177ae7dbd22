"""The numbers that a lesson prints, in its text and its outputs: none may be an answer on figures of one's own.

    python tests/answers/printed.py     writes data/solutions/printed.toml anew

``susgeo/answers/variant.py`` reads that file, so a student's figures may change with it: write it only for a new
middle figure of the version. A test tells when a number printed since then has become an answer.
"""

import html
import re
import textwrap
import tomllib
from pathlib import Path

import nbformat

ROOT = Path(__file__).resolve().parents[2]
PLACE = ROOT / "data" / "solutions" / "printed.toml"
NUMBER = re.compile(r"(?<![\w.^])[-−]?(?:\d{1,3}(?:,\d{3})+(?!\d)|\d+)(?:\.\d+)?(?!\w)")


def lessons() -> dict[str, Path]:
    """Return the notebook of each lesson, by its two digits."""
    return {path.name[:2]: path for path in sorted((ROOT / "notebooks").glob("[0-9]*.ipynb"))}


def numbers_in(path: Path) -> set[float]:
    """Return the numbers that a lesson prints; a task's own cell shows each reader other ones."""
    found: set[float] = set()
    for cell in nbformat.read(path, as_version=4).cells:
        if ".task(" in cell.source:
            continue
        shown = [cell.source] if cell.cell_type == "markdown" else []
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            shown += [
                data.get("text/html", ""),
                data.get("text/plain", ""),
                data.get("text/latex", ""),
                output.get("text", ""),
            ]
        for text in shown:
            text = re.sub(r"data:[\w/;+]+,[^\"')]*", " ", text)
            text = re.sub(r"<(?:style|script)\b.*?</(?:style|script)>", " ", text, flags=re.DOTALL)
            words = " ".join(re.findall(r'\balt="([^"]*)"', text)) + " " + re.sub(r"<[^>]*>", " ", text)
            found |= {float(one.replace(",", "").replace("−", "-")) for one in NUMBER.findall(html.unescape(words))}
    return found


def write() -> None:
    """Write down what all lessons print."""
    text = "# The numbers that each lesson prints: none is an answer on figures of one's own. tests/answers/printed.py writes it.\n"
    for number, path in lessons().items():
        rows = textwrap.fill(
            ", ".join(f"{one:g}" if one == float(f"{one:g}") else repr(one) for one in sorted(numbers_in(path))), 116
        )
        text += f'\n"{number}" = [\n' + textwrap.indent(rows, "    ") + "\n]\n"
    tomllib.loads(text)
    PLACE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write()
