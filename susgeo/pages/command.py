"""The commands ``python -m susgeo pages FOLDER`` and ``paper FOLDER``; started by the launcher."""

import argparse
import sys
from pathlib import Path

from ..errors import SusgeoError
from .paper import make_paper
from .site import make_pages


def main(arguments: list[str]) -> int:
    """Carry out one command and return the exit status."""
    words = argparse.ArgumentParser(prog="python -m susgeo", description="The course without Python.")
    words.add_argument("command", choices=["pages", "paper"])
    words.add_argument("folder", type=Path, help="where the files go")
    words.add_argument("lessons", nargs="*", help="two digits each, such as 02; all where none is named")
    told = words.parse_args(arguments)
    try:
        if told.command == "paper":
            sheets = make_paper(told.folder, told.lessons)
            print(f"{len(sheets)} files, for A4 and for Letter, are in {told.folder}. Print them from any program that shows a PDF.")  # fmt: skip
            return 0
        made = make_pages(told.folder, told.lessons)
        size = sum(file.stat().st_size for file in told.folder.rglob("*") if file.is_file()) / 1e6
        print(f"{len(made)} pages, {size:.1f} MB. Open {told.folder / 'index.html'} in a browser, or put the folder on a web server.")  # fmt: skip
    except (SusgeoError, OSError) as problem:
        print(problem, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
