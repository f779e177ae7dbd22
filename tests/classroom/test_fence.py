"""The second fence, tried by programs that a hostile student might write: each in a process of its own.

The limits are the operating system's (POSIX ``setrlimit``; Landlock of Linux): what is tested is that they are
put up and hold, and that :func:`fence_in` promises no more than that.
"""

import os
import subprocess
import sys

import pytest

if sys.platform != "linux":
    pytest.skip("the limits tried here are Linux's", allow_module_level=True)


def behind_the_fence(code, scratch, **limits):
    """Run code behind the fence; return what it printed, last line first, and how it ended."""
    words = ", ".join(f"{name}={value!r}" for name, value in {"scratch": str(scratch), **limits}.items())
    program = f"from susgeo.classroom.fence import fence_in\nheld = fence_in({words})\n{code}"
    answer = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=120, cwd=scratch)
    return answer.stdout, answer.returncode, answer.stderr


def held(scratch):
    return set(behind_the_fence("print(*sorted(held))", scratch)[0].split())


def test_the_fence_says_what_it_holds(tmp_path):
    assert held(tmp_path) >= {"memory", "time", "files"}


def test_memory_time_and_file_size_are_limited(tmp_path):
    text, _, said = behind_the_fence("hoard = bytearray(10**9)\nprint('full')", tmp_path, memory=200_000_000)
    assert "full" not in text and "MemoryError" in said
    text, ended, _ = behind_the_fence("while True: pass", tmp_path, seconds=1)
    assert ended != 0  # the system ended it, not this test's own time limit
    code = "open('big', 'wb').write(bytes(3_000_000))\nprint('written')"
    text, _, said = behind_the_fence(code, tmp_path, file_size=1_000_000)
    assert "written" not in text and "File too large" in said
    assert os.path.getsize(tmp_path / "big") <= 1_000_000


def test_writing_outside_the_scratch_folder_is_refused(tmp_path):
    if "writing" not in held(tmp_path / "."):
        pytest.skip("Landlock is not switched on in this system")
    scratch, outside = tmp_path / "scratch", tmp_path / "outside"
    scratch.mkdir()
    outside.mkdir()
    (outside / "marks.csv").write_text("kim,16")
    tries = [
        f"open({str(outside / 'new')!r}, 'w')",
        f"open({str(outside / 'marks.csv')!r}, 'w')",
        f"open({str(outside / 'marks.csv')!r}, 'a')",
        f"os.remove({str(outside / 'marks.csv')!r})",
        f"os.rename({str(outside / 'marks.csv')!r}, 'mine')",
        f"os.mkdir({str(outside / 'folder')!r})",
        f"os.symlink('x', {str(outside / 'link')!r})",
        f"subprocess.run(['rm', {str(outside / 'marks.csv')!r}], check=True)",  # its children too
    ]
    code = "import os, subprocess, tempfile\nopen('mine.txt', 'w').write('fine')\ntempfile.TemporaryFile()\n"
    for number, one in enumerate(tries):
        code += f"try:\n    {one}\n    print('done', {number})\nexcept (OSError, subprocess.SubprocessError): pass\n"
    text, ended, said = behind_the_fence(code, scratch)
    assert (text, ended) == ("", 0), said
    assert (scratch / "mine.txt").read_text() == "fine"
    assert [path.name for path in outside.iterdir()] == ["marks.csv"]
    assert (outside / "marks.csv").read_text() == "kim,16"


def test_no_new_connection_is_made(tmp_path):
    if "network" not in held(tmp_path):
        pytest.skip("this system's Landlock does not know the network")
    code = (
        "import socket\n"
        "for act in (lambda s: s.connect(('127.0.0.1', 9)), lambda s: s.bind(('127.0.0.1', 0))):\n"
        "    try:\n        act(socket.socket())\n        print('done')\n"
        "    except PermissionError:\n        print('refused')\n"
    )
    assert behind_the_fence(code, tmp_path)[0].split() == ["refused", "refused"]
