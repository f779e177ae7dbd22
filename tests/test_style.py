"""The linter, the formatter and the type checker have nothing to say; each is one test."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.parametrize(
    "command", ["ruff check .", "ruff format --check .", "mypy"], ids=lambda command: command.replace(" ", "-")
)
def test_nothing_to_say(command):
    answer = subprocess.run([sys.executable, "-m", *command.split()], cwd=ROOT, capture_output=True, text=True)
    assert answer.returncode == 0, answer.stdout + answer.stderr
