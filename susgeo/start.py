"""The launcher: makes the course's own Python environment, then opens the course or runs the tests in it.

Standard library only, since it runs before anything is installed. All that it makes is in the folder
``.venv`` beside README.md, and in ``.venv-test`` what the tests need; deleting these folders is always safe.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.metadata
import importlib.util
import json
import os
import re
import secrets
import shutil
import socket
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any, NoReturn
from urllib.parse import quote

from .desk import NAME as DESK
from .desk import last_lesson, lay_out
from .errors import SusgeoError
from .files import alone_in, read_notes, write_whole

ROOT = Path(__file__).resolve().parent.parent
SETTINGS = ROOT / ".jupyterlab"
USAGE = """\
python -m susgeo course               set up what is missing, then open the lesson last worked on
python -m susgeo course 02            the same, at lesson 02
python -m susgeo course --no-browser  the same without a browser window; further options go to JupyterLab
python -m susgeo test                 set up what is missing, then run all tests; further options go to pytest
python -m susgeo check                say what is installed, one line each, and what a start would stop at
python -m susgeo class                for instructors: hand out, collect, mark; says how
python -m susgeo pages FOLDER         the course as plain pages, for a phone, a stick or a web server
python -m susgeo paper FOLDER         the lessons as PDFs, A4 and Letter; a browser of this machine prints them
(On Windows: py -m susgeo ...)"""


REASONS = {
    "DO NOT MATCH THE HASHES": "what came is not what was tried, so it was not installed; try another network, and tell your instructor",
    "No space left|Disk quota": "the disk is full; make 1 GB free",
    "(?i)(No module named|from) '?pip\\b": "this Python cannot bring pip back; delete the folder .venv where there is a network",
    "(ERROR|WARNING).*(?i:proxy|tunnel)": "the proxy that this machine's settings name does not answer as it should; see to HTTPS_PROXY",
    "(ERROR|WARNING).*(timed? ?out|NewConnection|resolution)": "the internet cannot be reached; see to the network",
}
"""Why pip failed, by what it says; where the reason is none of these, other versions may help."""


def main(arguments: list[str]) -> int:
    """Carry out one command and return the exit status."""
    command, *rest = arguments or ["help"]
    try:
        if command == "course":
            python = prepare(ROOT)
            desk = lay_out(ROOT)
            program, said = open_course(python, desk, *rest)
            print(*said, sep="\n")
            run(program, desk, python, ROOT / ".venv" / "course.log")
        if command == "test":
            python = prepare(ROOT, "test")
            workers = min(4, (os.cpu_count() or 2) + 1)  # one more than processors: much of the time is waiting
            pytest = [str(python), "-m", "pytest", "-n", str(workers), "--dist", "loadscope"]
            run(pytest + rest, ROOT, python)
        if command in ("class", "pages", "paper"):
            python = prepare(ROOT, "classroom")
            program = ["susgeo.classroom.command"] if command == "class" else ["susgeo.pages.command", command]
            run([str(python), "-m", *program, *rest], Path.cwd(), python)
        if command == "check":
            ours = Path(sys.prefix).resolve()
            return check(ROOT, ours if ours.parent == ROOT else ROOT / ".venv")
    except SusgeoError as error:
        print(error, file=sys.stderr)
    except OSError as error:
        print(
            f"The course could not do its work here ({error.strerror or error}: {error.filename or ROOT}): see to space on the "
            "disk and to your rights in this folder, then give this command again.", file=sys.stderr,
        )  # fmt: skip
    except KeyboardInterrupt:
        print("\nStopped. The same command goes on from here.", file=sys.stderr)
        return 130
    else:
        print(USAGE)
        return 0 if command in ("help", "-h", "--help") else 2
    return 1


# The environment


def prepare(root: Path, extra: str = "") -> Path:
    """Return the Python of a complete environment in ``root``, after making, mending or updating it as needed.

    ``extra`` names a group of further packages in pyproject.toml; those of the tests have an environment of
    their own, so that nobody who takes the course meets them. A stamp in the environment tells for what it was
    last completed, so that the usual start costs one short call of its Python.
    """
    venv = root / (".venv-test" if extra == "test" else ".venv")
    for fault in faults(venv, root, extra):
        raise SusgeoError(fault)
    if not is_ready(venv, root, extra):
        with alone_in(root):  # a second set-up waits for the first, and finds all done
            if not is_ready(venv, root, extra):
                complete(venv, root, extra)
    return venv_python(venv)


def faults(venv: Path, root: Path, extra: str) -> list[str]:
    """Return what a start cannot mend, a sentence each: ``prepare`` stops at it, and ``check`` says it.

    Nothing is changed, and no network is asked.
    """
    missing = [name for name in ("pyproject.toml", "notebooks") if not (root / name).exists()]
    if missing:
        return [f"There is no {missing[0]} in {root}: give this command in the folder of README.md, or fetch it again."]
    found, desk = [], root / DESK
    if os.path.lexists(desk) and not (desk.is_dir() and os.access(desk, os.W_OK)):
        found.append(
            f"{desk} is no folder that you may write in: rename it, or give yourself the right to write there."
        )
    ready = is_ready(venv, root, extra)
    if not (ready and desk.exists()) and not os.access(root, os.W_OK):
        found.append(
            f"You may not write in {root}: move the folder to a place of your own, and give this command there."
        )
    if ready or python_version(venv_python(venv)):
        return found
    if venv.is_symlink() or venv.is_file() or Path(sys.prefix) == venv:
        found.append(f"{venv} has no working Python: delete it, then give this command again.")
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        found.append(
            f"This Python ({sys.executable}) lacks the modules venv and ensurepip: on Debian or Ubuntu install them with 'sudo apt "
            "install python3-venv' (on other systems install Python from python.org), then give this command again."
        )
    if (free := shutil.disk_usage(root).free) < 1e9:
        found.append(f"The disk of {root} has {free / 1e6:.0f} MB free, and the course needs 1 GB: make room for it.")
    return found


def is_ready(venv: Path, root: Path, extra: str) -> bool:
    """Return whether the environment runs, and is complete for this project in this folder."""
    return read_stamp(venv) in wanted(venv, root, extra) and all(fine for *_, fine in versions(venv, root))


def wanted(venv: Path, root: Path, extra: str) -> list[dict[str, str]]:
    """Return the stamps that will do: that of ``extra``, or of more; none if its Python does not run."""
    version = python_version(venv_python(venv))
    stamp = {"project": project_hash(root), "python": version, "root": str(root)}
    return [{**stamp, "extra": each} for each in ([extra] if extra else ["", "classroom"])] if version else []


def complete(venv: Path, root: Path, extra: str) -> None:
    """Make the environment, or mend it, or bring it up to date, and write its stamp."""
    before = venv.with_name(venv.name + "-old")
    if is_ready(before, root, extra):  # its Python runs again, and its successor was never finished
        shutil.rmtree(venv, ignore_errors=True)
        before.rename(venv)
        return
    version = python_version(venv_python(venv))
    if not version or read_stamp(venv).get("python", version) != version:
        make_venv(venv, before)
    stamp = read_stamp(venv)
    if stamp.get("root", str(root)) != str(root):  # copied, with its folder, from another place
        relocate(venv, stamp["root"], str(root))
        stamp = {**stamp, "root": str(root)}
        write_stamp(venv, stamp)
    if not is_ready(venv, root, extra):
        pip_failure = install(venv, root, extra)
        stamps = wanted(venv, root, extra)
        if not pip_failure:
            write_stamp(venv, stamps[0])
        elif {**stamp, "project": project_hash(root)} in stamps and is_whole(venv):  # for an earlier version
            print(f"{pip_failure}\nStarting with the packages that are here.", file=sys.stderr)
        else:
            raise SusgeoError(pip_failure)
    shutil.rmtree(before, ignore_errors=True)


def is_whole(venv: Path) -> bool:
    """Return whether every package that is installed finds those that it needs: an update may have been broken off."""
    return subprocess.run([venv_python(venv), "-I", "-m", "pip", "check"], capture_output=True).returncode == 0


def relocate(venv: Path, old: str, new: str) -> None:
    """Put the new folder's name wherever the environment holds its old one, in scripts and in what Python reads."""
    for pattern in ("bin/*", "Scripts/*", "pyvenv.cfg", "lib/python*/site-packages/*.pth", "Lib/site-packages/*.pth"):
        for path in venv.glob(pattern):
            content = b"" if path.is_symlink() or path.is_dir() else path.read_bytes()
            if old.encode() in content and b"\0" not in content:  # a program of Windows is left alone
                write_whole(path, content.replace(old.encode(), new.encode()))


def venv_python(venv: Path) -> Path:
    """Return where an environment keeps its Python."""
    return venv / "Scripts" / "python.exe" if os.name == "nt" else venv / "bin" / "python"


def python_version(python: Path) -> str:
    """Return ``"3.11"`` or the like, as that Python says itself; empty if it does not run."""
    ask = "import sys; print('%d.%d' % sys.version_info[:2])"
    try:
        answer = subprocess.run([str(python), "-I", "-c", ask], capture_output=True, text=True, timeout=60)
    except OSError:
        return ""
    except subprocess.TimeoutExpired:  # a working one on a very slow disk is not to be made anew
        raise SusgeoError(f"{python} does not answer: close what else runs, then give this command again.") from None
    return answer.stdout.strip() if answer.returncode == 0 else ""


def read_stamp(venv: Path) -> dict[str, str]:
    """Return what the environment was last completed for; empty if it never was."""
    return read_notes(venv / "susgeo-ready.json")


def write_stamp(venv: Path, stamp: dict[str, str]) -> None:
    """Note what the environment is complete for, in one step, so that the note is never half written."""
    write_whole(venv / "susgeo-ready.json", json.dumps(stamp))


def project_hash(root: Path) -> str:
    """Return a fingerprint of what decides about the packages; the settings of tools are left out."""
    project = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))
    parts = {key: project.get(key) for key in ("build-system", "project")}
    parts["locks"] = [path.read_text("utf-8") for path in sorted(root.glob(".locks/*.txt"))]
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def make_venv(venv: Path, before: Path) -> None:
    """Make the environment from scratch; one that does not run is kept as ``before`` until this one is complete."""
    print(f"Making the folder {venv.name} anew: it is broken." if venv.exists() else f"Making {venv.name}.", flush=True)
    if venv.exists() and not before.exists():
        venv.rename(before)
    made = subprocess.run([sys.executable, "-m", "venv", "--clear", str(venv)])
    if made.returncode != 0 or not python_version(venv_python(venv)):
        raise SusgeoError(
            f"Python could not make {venv} (its own message stands above): check that the disk has 1 GB free "
            "and that you may write in this folder, then give this command again."
        )


def install(venv: Path, root: Path, extra: str) -> str:
    """Install the library, editable, with all it needs; return what failed, or an empty text."""
    print("Fetching and installing the packages: done once, takes one to ten minutes.", flush=True)
    python = venv_python(venv)
    pip_runs = subprocess.run([python, "-I", "-c", "from pip import __version__"], capture_output=True).returncode == 0
    for info in (info for folder in packages(venv) for info in folder.glob("*.dist-info")):
        half_done = not (info / "INSTALLER").exists()  # written last: pip was killed within this package
        if half_done or (info.name.startswith("pip-") and not pip_runs):
            shutil.rmtree(info)  # so that pip does not take it for installed
    if not pip_runs:
        subprocess.run([str(python), "-I", "-m", "ensurepip"], capture_output=True)  # it needs no network
    command = [str(python), "-m", "pip", "install", "--disable-pip-version-check", "--retries", "2"]
    lock, own = root / ".locks" / f"{extra or 'course'}.txt", ["-e", f".[{extra}]" if extra else "."]
    said: list[str] = []
    hashed, quick = ["--require-hashes", "-r"], False
    if extra == "test":
        command += ["--no-compile"]  # the tests load a small part of it: half the time
        uv = [str(python), "-m", "uv", "pip", "install", "--no-cache", "--python", str(python)]  # a quarter of pip's
        steps = [*command, *hashed, str(lock.with_name("uv.txt"))], [*uv, *hashed, str(lock)]
        quick = lock.exists() and all(run_pip(step, root, python, []) for step in steps)
    if quick or (lock.exists() and run_pip([*command, *hashed, str(lock)], root, python, said)):
        own, said = ["--no-build-isolation", *own], []  # what builds it is locked too
    elif lock.exists() and not why(said):
        print("The tried versions could not be had here; taking the newest that fit.", flush=True)
    if not why(said) and run_pip([*command, *own], root, python, said):
        return ""
    log = venv / "susgeo-install.log"
    with contextlib.suppress(SusgeoError):  # a full disk is the likeliest reason
        write_whole(log, "".join(said))
    print("".join(said[-6:]), file=sys.stderr)
    reason = why(said) or "this needs the internet and 1 GB of disk; see to both"
    return f"The packages could not be installed (pip's last words stand above, all of them in {log}): {reason}, then give this command again."


def why(said: list[str]) -> str:
    """Return why no other versions need be tried, and what to do; empty if pip's words do not tell."""
    words = "".join(said)
    return next((reason for pattern, reason in REASONS.items() if re.search(pattern, words)), "")


def run_pip(command: list[str], root: Path, python: Path, said: list[str]) -> bool:
    """Run pip, show which packages it is at, keep all that it says, and return whether it did what was asked."""
    variables = {**environment(python), "PIP_USER": "0"}  # a user's own setting would install elsewhere
    pipes: dict[str, Any] = {"text": True, "errors": "replace", "stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
    with subprocess.Popen(command, cwd=root, env=variables, **pipes) as pip:
        assert pip.stdout is not None
        for line in pip.stdout:
            said.append(line)
            if line.startswith(("Collecting ", "Installing collected packages")):
                print(" ", line.split(" (from")[0].split(":")[0].strip(), flush=True)
    return pip.returncode == 0


def environment(python: Path) -> dict[str, str]:
    """Return the variables under which a program of the environment runs."""
    # Its packages are compiled when they are first used: a start that may not keep that takes ten seconds more.
    left_out = ("PYTHONHOME", "PYTHONDONTWRITEBYTECODE")
    variables = {name: value for name, value in os.environ.items() if name.upper() not in left_out}
    variables["VIRTUAL_ENV"] = str(python.parent.parent)
    variables["PATH"] = str(python.parent) + os.pathsep + variables.get("PATH", "")
    variables["JUPYTER_PREFER_ENV_PATH"] = "1"  # our kernel, not one of the same name in the user's home
    variables["PYTHONSTARTUP"] = str(SETTINGS / "kernel.py")  # IPython runs it when a kernel starts
    return variables


def run(command: list[str], folder: Path, python: Path, log: Path | None = None) -> NoReturn:
    """Hand over to a program of the environment: this one ends with the other's exit status.

    What the program says goes into the file ``log`` where one is given.
    """
    sys.stdout.flush()
    with open(log or os.devnull, "wb") as said:
        if os.name == "posix":  # replaced, so that whoever stops this process stops the program
            if log is not None:
                os.dup2(said.fileno(), 1)
                os.dup2(said.fileno(), 2)
            os.chdir(folder)
            os.execve(command[0], command, environment(python))
        output = said if log is not None else None
        child = subprocess.Popen(command, cwd=folder, env=environment(python), stdout=output, stderr=output)
    while True:
        try:
            sys.exit(child.wait())
        except KeyboardInterrupt:  # the program has had it too, and decides for itself
            continue


# The course


def open_course(python: Path, desk: Path, *options: str) -> tuple[list[str], list[str]]:
    """Return the command that opens the course, and the three lines that say what opens, where work is kept, how to stop.

    Without a number it is the lesson last worked on.
    """
    named = bool(options) and re.fullmatch(r"\d\d", options[0])
    lesson, *rest = options if named else (last_lesson(desk), *options)
    command, address = lab_command(python, desk, lesson, *rest), ""
    os.environ["JUPYTER_TOKEN"] = os.environ.get("JUPYTER_TOKEN") or secrets.token_hex(16)
    if not any("port" in option for option in rest):
        port, page = free_port(), next(one for one in command if "default_url" in one).partition("=")[2]
        command.append(f"--ServerApp.port={port}")
        address = f" (or open http://localhost:{port}{page}?token={os.environ['JUPYTER_TOKEN']})"
    return command, [
        f"Lesson {lesson} opens in your browser{address}.",
        f"Your answers and your copies of the lessons are kept in {desk}.",
        "To stop, close the page and press Ctrl+C here. The same command goes on where you were.",
    ]


def free_port() -> int:
    """Return a port on this machine that nothing listens on, 8888 if it can be had."""
    for port in (*range(8888, 8908), 0):
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return int(probe.getsockname()[1])
    return 8888


def lab_command(python: Path, notebooks: Path, lesson: str = "00", *options: str) -> list[str]:
    """Return the command that opens JupyterLab on a lesson, with the settings in ``.jupyterlab`` and further options."""
    found = sorted(notebooks.glob(f"{lesson}*.ipynb"))
    if not found and lesson != "00":
        raise SusgeoError(f"There is no lesson {lesson}: the folder {notebooks} has none of that number.")
    page = f"/doc/tree/{quote(found[0].name)}" if found else "/lab"
    command = [
        *(str(python), "-m", "jupyterlab"),
        f"--ServerApp.root_dir={notebooks}",
        f"--LabApp.default_url={page}",
        f"--LabApp.app_settings_dir={SETTINGS}",
        f"--config={SETTINGS / 'server.py'}",
        "--LabApp.extension_manager=readonly",
        "--ServerApp.answer_yes=True",  # Ctrl+C stops it, and does not ask into the log
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # in a container; JupyterLab refuses otherwise
        command.append("--ServerApp.allow_root=True")
    return [*command, *options]


# The set-up check


def check(root: Path, venv: Path) -> int:
    """Print what is installed, one line each, and what a start would meet; return 0 if it would just start, else 1."""
    found = faults(venv, root, "test" if venv.name == ".venv-test" else "")
    if not (root / "pyproject.toml").is_file():
        print(*found)
        return 1
    python, rows = python_version(venv_python(venv)), versions(venv, root)
    for name, version, wanted, fine in [("Python", python, "3.11 or newer", bool(python)), *rows]:
        print(f"{name} {version or 'is missing'}: {'fine' if fine else f'the course needs {name} {wanted}'}")
    ready = is_ready(venv, root, read_stamp(venv).get("extra", ""))
    if not (ready or found):
        moved = all(fine for *_, fine in rows) and read_stamp(venv).get("root") != str(root)
        need = "needs no network" if moved else "needs the internet and 1 GB of disk"
        found = [
            f'Not ready: close this, and start the course with "python -m susgeo course"; it sets up what is missing, and {need}.'
        ]
    print(*(found or ["Everything that the course needs is here."]), sep="\n")
    return 1 if found else 0


def packages(venv: Path) -> list[Path]:
    """Return the folders in which an environment keeps its packages."""
    return [*venv.glob("Lib/site-packages" if os.name == "nt" else "lib/python*/site-packages")]


def versions(venv: Path, root: Path) -> list[tuple[str, str, str, bool]]:
    """Return name, version found (or empty), versions wanted, and whether it will do, for each part."""
    project = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]
    needs, rows = "\n".join(project.get("dependencies", [])), []
    for name, lowest, below in re.findall(r"^([\w-]+)>=([\d.]+),<([\d.]+)$", needs, re.MULTILINE):
        here = importlib.metadata.distributions(name=name, path=[*map(str, packages(venv))])
        found = next((one.version for one in here), "")
        fine = bool(found) and numbers(lowest) <= numbers(found) < numbers(below)
        rows.append((name, found, f"{lowest} or newer, but older than {below}", fine))
    return rows


def numbers(version: str) -> list[int]:
    """Return a version's numbers, by which versions compare: 2.10 is newer than 2.9."""
    return [int(part) for part in re.findall(r"\d+", version)]
