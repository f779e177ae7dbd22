"""The lessons on paper: the plain pages without what moves, printed by a browser of this machine, one PDF a lesson."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

from ..errors import SusgeoError
from ..files import write_whole
from .site import make_pages

SIZES = ("A4", "Letter")
SECONDS = 120
"""After so long a browser that has not printed a lesson never will."""


def find_browser() -> str | None:
    """Return the program of a Chromium, Chrome or Edge on this machine, or None. Nothing is downloaded."""
    names = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge"]
    places = [Path(f"/Applications/{app}.app/Contents/MacOS/{app}") for app in ("Chromium", "Google Chrome")]
    for variable in ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA"):
        folder = Path(os.environ.get(variable, "nowhere"))
        for program in ("Google/Chrome/Application/chrome.exe", "Microsoft/Edge/Application/msedge.exe"):
            places.append(folder / program)
    found = [shutil.which(name) for name in names] + [str(place) for place in places if place.is_file()]
    return next((program for program in found if program), None)


def make_paper(folder: Path | str, lessons: Sequence[str] = (), sizes: Sequence[str] = SIZES) -> list[Path]:
    """Print lessons, each as a PDF, into a folder for each size of paper, and return the files.

    Args:
        folder: where the folders ``A4`` and ``Letter`` go.
        lessons: which, by their two digits; all, and the instructor's guide, where none is named.
        sizes: of the paper, as CSS names them.

    Raises:
        SusgeoError: there is no browser that prints, it fails, or there is no such lesson.
    """
    browser = find_browser()
    if browser is None:
        raise SusgeoError(
            "No Chromium, Chrome or Edge was found to print with. Make the pages by python -m susgeo pages FOLDER, "
            "open them in the browser that you have, and print from there."
        )
    with tempfile.TemporaryDirectory(prefix="susgeo-paper-") as scratch:
        pages = make_pages(Path(scratch) / "pages", lessons, live=False)
        wanted = [page for page in pages if page.stem != "index" and (not lessons or page.stem[:2] in lessons)]
        look = wanted[0].with_name("style.css")
        plain, made = look.read_text("utf-8"), []
        for size in sizes:
            write_whole(look, f"{plain}\n@page {{ size: {size}; }}\n")
            for page in wanted:
                target = Path(folder) / size / f"{page.stem}.pdf"
                write_whole(target, _printed(browser, page, Path(scratch)))
                made.append(target)
    return made


def _printed(browser: str, page: Path, scratch: Path) -> bytes:
    """Return a page as a PDF, with its fonts and without a browser's own lines on top and bottom."""
    target = scratch / "printed.pdf"
    target.unlink(missing_ok=True)
    options = ["--headless", "--disable-gpu", "--no-first-run", "--no-pdf-header-footer", f"--user-data-dir={scratch / 'browser'}"]  # fmt: skip
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # Chromium's sandbox does not start for root
        options.append("--no-sandbox")
    try:
        subprocess.run([browser, *options, f"--print-to-pdf={target}", page.as_uri()], capture_output=True, timeout=SECONDS, check=False)  # fmt: skip
        return target.read_bytes()
    except (OSError, subprocess.TimeoutExpired):
        raise SusgeoError(
            f"{Path(browser).name} did not print {page.stem}. Open the pages (python -m susgeo pages FOLDER) in a browser "
            "and print from there."
        ) from None
