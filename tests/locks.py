"""Renew the locks: ``python tests/locks.py`` writes ``.locks/*.txt``, the newest versions that pyproject.toml allows.

Each has every package with its hashes, for Linux, macOS and Windows; pip reads them. It needs ``uv`` (pip install uv).
"""

import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OURS = ["pyproject.toml", "-"]
LOCKS = {
    "course": (OURS, "hatchling>=1.27,<2\n"),
    "classroom": (["--extra", "classroom", *OURS], "hatchling>=1.27,<2\n"),
    "test": (["--extra", "test", *OURS], "hatchling>=1.27,<2\n"),
    "uv": (["-"], "uv>=0.9,<1\n"),  # installs the test environment
}

if __name__ == "__main__":
    uv = shutil.which("uv") or sys.exit("uv is missing: pip install uv")
    for name, (sources, more) in LOCKS.items():
        command = f"{uv} pip compile -q --upgrade --universal --python-version 3.11 --generate-hashes --no-header --no-annotate --no-strip-extras".split()
        place = ROOT / ".locks" / f"{name}.txt"
        place.parent.mkdir(exist_ok=True)
        subprocess.run([*command, "-o", str(place), *sources], cwd=ROOT, input=more, text=True, check=True)
