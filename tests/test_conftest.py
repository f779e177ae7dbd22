"""The rule about tests that could not run: told on a laptop, a failure where all must run."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent


@pytest.mark.parametrize(("must_run", "status", "workers"), [("", 0, "0"), ("1", 1, "0"), ("1", 1, "2")])
def test_a_test_that_did_not_run(tmp_path, must_run, status, workers):
    lines = ["import pytest", "def test_fine(): pass", "def test_page(): pytest.skip('no browser here')"]
    (tmp_path / "test_some.py").write_text("\n".join(lines), "utf-8")
    # The rule is in conftest.py alone; the other plugins take seconds to load.
    variables = {"PYTHONPATH": str(HERE), "SUSGEO_ALL_TESTS": must_run, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    options = [part for name in ("xdist.plugin", "conftest", "no:cacheprovider") for part in ("-p", name)]
    answer = subprocess.run(
        [sys.executable, "-m", "pytest", *options, "-n", workers, "."],
        cwd=tmp_path,
        env={**os.environ, **variables},
        capture_output=True,
        text=True,
    )
    assert answer.returncode == status, answer.stdout + answer.stderr
    assert "NOT RUN, 1 of the tests: no browser here" in answer.stdout
    assert ("counts as a failure" in answer.stdout) == (status == 1)
    assert "1 passed, 1 skipped" in answer.stdout.splitlines()[-1]
