"""How long a learner's environment takes to set up, how large it is, and how both compare with pip left to itself.

    python tests/benchmarks/setup_speed.py

needs the internet, or pip's usual index. Each environment is made from nothing in a folder of its own: the launcher's, which
installs what the lock names, with its hashes, and one by ``python -m venv`` and ``pip install``, which chooses by itself.
"""

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIMIT = 600
"""What a learner's environment may take, in MB."""


def megabytes(folder: Path) -> float:
    """Return how much a folder takes, as a file manager counts it."""
    return sum(path.lstat().st_size for path in folder.rglob("*") if not path.is_dir()) / 1e6


def made(folder: Path, *commands: list[str]) -> tuple[float, float]:
    """Copy the project, give the commands there, and return seconds and MB of the environment."""
    kept = shutil.ignore_patterns(".venv*", ".git", "my_course", "__pycache__")
    shutil.copytree(ROOT, folder, ignore=kept)
    start = time.monotonic()
    for command in commands:
        subprocess.run(command, cwd=folder, check=True, stdout=subprocess.DEVNULL)
    return time.monotonic() - start, megabytes(folder / ".venv")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        ask = "from susgeo.start import ROOT, prepare; prepare(ROOT)"
        ours, large = made(Path(place) / "launcher", [sys.executable, "-c", ask])
        python = str(Path(".venv", "Scripts" if sys.platform == "win32" else "bin", "python"))
        pip = [sys.executable, "-m", "venv", ".venv"], [python, "-m", "pip", "install", "-q", "-e", "."]
        theirs, plain = made(Path(place) / "pip", *pip)
        print(f"the launcher: {ours:.0f} s, {large:.0f} MB ({'within' if large <= LIMIT else 'beyond'} {LIMIT} MB)")
        print(f"against pip left to itself: {ours / theirs:.2f} times as long, {large / plain:.2f} times as large")
        again = [sys.executable, "-c", ask]
        start = time.monotonic()
        subprocess.run(again, cwd=Path(place) / "launcher", check=True)
        print(f"a second start: {(time.monotonic() - start) / ours:.3f} of the first")
