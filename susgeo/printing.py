"""Pages on paper: a page of HTML as a PDF, printed by a browser of this machine. Standard library only."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from .errors import SusgeoError
from .files import write_whole

SIZES = ("A4", "Letter")
SECONDS = 180
"""After so long a browser that has not printed a page never will."""


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


def print_page(page: Path, target: Path) -> None:
    """Print a page of HTML as a PDF, with its fonts and without a browser's own lines on top and bottom.

    Raises:
        SusgeoError: there is no browser that prints, or it fails.
    """
    browser = find_browser()
    if browser is None:
        raise SusgeoError("No Chromium, Chrome or Edge was found to print with.")
    with tempfile.TemporaryDirectory(prefix="susgeo-print-", ignore_cleanup_errors=True) as scratch:
        made = Path(scratch) / "printed.pdf"
        options = ["--headless", "--disable-gpu", "--no-first-run", "--no-pdf-header-footer", f"--user-data-dir={scratch}"]  # fmt: skip
        if hasattr(os, "geteuid") and os.geteuid() == 0:  # Chromium's sandbox does not start for root
            options.append("--no-sandbox")
        try:
            subprocess.run([browser, *options, f"--print-to-pdf={made}", page.resolve().as_uri()], capture_output=True, timeout=SECONDS, check=False)  # fmt: skip
            write_whole(target, made.read_bytes())
        except (OSError, subprocess.TimeoutExpired):
            raise SusgeoError(f"{Path(browser).name} did not print {page.name}.") from None
