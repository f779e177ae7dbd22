"""The instructor's commands as a shell meets them."""

import os
import subprocess
import sys

import pytest


@pytest.mark.skipif(os.name == "nt", reason="pipes of POSIX")
def test_who_stops_reading_stops_no_command_with_a_traceback(tmp_path):
    command = [sys.executable, "-m", "susgeo.classroom.command", "help"]
    reader, writer = os.pipe()
    os.close(reader)
    run = subprocess.run(command, cwd=tmp_path, stdout=writer, stderr=subprocess.PIPE, text=True, check=False)
    os.close(writer)
    assert run.returncode == 1 and run.stderr == ""
