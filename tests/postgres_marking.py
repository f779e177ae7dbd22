"""The gradebook in PostgreSQL: a class marked by two parts side by side earns what it earns with SQLite.

    python tests/postgres_marking.py

Needs a PostgreSQL server's programs (Debian: ``apt-get install postgresql``) and ``pip install psycopg2-binary``. A server
of its own is started in a temporary folder, on the loopback, and ended. Exit status 0: all marks and tables are the same.
"""

import os
import shutil
import socket
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from susgeo.classroom.collect import collect  # noqa: E402
from susgeo.classroom.command import main as instructor  # noqa: E402
from susgeo.classroom.course import hand_out, make, nbgrader_api  # noqa: E402
from susgeo.classroom.glance import glance  # noqa: E402
from susgeo.classroom.practice import KINDS, hand_in_all, practice_class  # noqa: E402

LESSON = "02_side_view"


@contextmanager
def server(folder):
    """Start a PostgreSQL server; yield the address of its database."""
    found = shutil.which("initdb") or max(map(str, Path("/usr/lib/postgresql").glob("*/bin/initdb")), default="")
    if not found:
        raise SystemExit("No PostgreSQL server is installed (Debian: apt-get install postgresql).")
    programs, place = Path(found).parent, folder / "server"
    place.mkdir()
    other = {"user": "postgres"} if os.name == "posix" and os.geteuid() == 0 else {}  # it refuses to be run by root
    if other:
        folder.chmod(0o755)
        shutil.chown(place, "postgres")
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    data, log = place / "data", place / "log"
    plain = {"check": True, "stdout": subprocess.DEVNULL, "cwd": place, **other}
    subprocess.run([programs / "initdb", "-D", data, "-U", "teacher", "-A", "trust", "-E", "UTF8", "-N"], **plain)
    settings = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='{place}'"
    subprocess.run([programs / "pg_ctl", "-D", data, "-l", log, "-w", "-o", settings, "start"], **plain)
    try:
        yield f"postgresql+psycopg2://teacher@127.0.0.1:{port}/postgres"
    finally:
        subprocess.run([programs / "pg_ctl", "-D", data, "-m", "fast", "-w", "stop"], **plain)


def marked(course, students, parts):
    """Take a class the whole way; mark it in some parts at once, the first of them killed on its way; return its tables."""
    hand_out(course, "02")
    hand_in_all(course, LESSON, students, course / "inbox")
    for path in (course / "inbox").iterdir():
        os.utime(path, (1.8e9, 1.8e9))  # the time of the hand-in stands in the tables
    collect(course, "02", course / "inbox")
    command = [sys.executable, "-m", "susgeo.classroom.command", "mark", str(course), "02"]
    quiet = {"stdout": subprocess.PIPE, "env": {**os.environ, "PYTHONPATH": str(ROOT)}, "text": True}
    jobs = [subprocess.Popen([*command, "--part", f"{k + 1}/{parts}"], **quiet) for k in range(parts)]
    jobs[0].stdout.readline()
    jobs[0].kill()
    jobs[0].wait()
    jobs[0] = subprocess.Popen([*command, "--part", f"1/{parts}"], **quiet)
    for job in jobs:
        print(job.communicate()[0].strip().splitlines()[-2], flush=True)
        assert job.returncode == 0
    with nbgrader_api(course).gradebook as gradebook:  # as formgrader does it
        grade = gradebook.find_grade("marks-02-1", LESSON, LESSON, students[0].id)
        grade.manual_score = 0.5
        gradebook.db.commit()
    assert instructor(["mark", str(course), "02"]) == 0
    assert instructor(["hand_back", str(course), "02"]) == 0
    assert instructor(["export", str(course)]) == 0
    tables = {path.name: sorted(path.read_text("utf-8").splitlines()) for path in sorted(course.glob("*.csv"))}
    pages = {path.name: path.read_text("utf-8") for path in (course / "hand_back").rglob("*.html")}
    return tables, pages, str(glance(course).marks)


def main():
    students = practice_class(len(KINDS), KINDS)
    with tempfile.TemporaryDirectory() as place, server(Path(place)) as address:
        ends = []
        for name in ("sqlite", "postgresql"):
            course = Path(place) / name
            make(course, ["02"], students)
            if name == "postgresql":
                with (course / "nbgrader_config.py").open("a") as settings:
                    settings.write(f'c.CourseDirectory.db_url = "{address}"\n')
            ends.append(marked(course, students, 2))
            assert (course / "gradebook.db").exists() == (name == "sqlite")
            print(f"{name}: {len(students)} marked, exported, handed back", flush=True)
        for here, there in zip(*ends, strict=True):
            if isinstance(here, dict):
                assert here.keys() == there.keys()
                assert all(here[name] == there[name] for name in here), [n for n in here if here[n] != there[n]]
            assert here == there
        assert "*" in ends[1][2]  # the mark by hand counts in both
    print("Tables, pages and the class at a glance are the same with both.")


if __name__ == "__main__":
    main()
