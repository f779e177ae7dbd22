"""The lessons on paper: the plain pages without what moves, printed by a browser of this machine, one PDF a lesson."""

import tempfile
from collections.abc import Sequence
from pathlib import Path

from ..errors import SusgeoError
from ..files import write_whole
from ..printing import SIZES, find_browser, print_page
from .site import make_pages


def make_paper(folder: Path | str, lessons: Sequence[str] = ()) -> list[Path]:
    """Print lessons, each as a PDF, into a folder for each size of paper, and return the files.

    Args:
        folder: where the folders ``A4`` and ``Letter`` go.
        lessons: which, by their two digits; all, and the instructor's guide, where none is named.

    Raises:
        SusgeoError: there is no browser that prints, it fails, or there is no such lesson.
    """
    if find_browser() is None:
        raise SusgeoError(
            "No Chromium, Chrome or Edge was found to print with. Make the pages by python -m susgeo pages FOLDER, "
            "open them in the browser that you have, and print from there."
        )
    with tempfile.TemporaryDirectory(prefix="susgeo-paper-") as scratch:
        pages = make_pages(Path(scratch), lessons, live=False)
        wanted = [page for page in pages if page.stem != "index" and (not lessons or page.stem[:2] in lessons)]
        look = wanted[0].with_name("style.css")
        plain, made = look.read_text("utf-8"), []
        for size in SIZES:
            write_whole(look, f"{plain}\n@page {{ size: {size}; }}\n")
            for page in wanted:
                made.append(Path(folder) / size / f"{page.stem}.pdf")
                print_page(page, made[-1])
    return made
