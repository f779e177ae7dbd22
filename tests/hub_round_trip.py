"""A hub that is run: two students fetch a lesson, answer in boxes and submit; the instructor marks and gives back.

    python tests/hub_round_trip.py

Needs JupyterHub and configurable-http-proxy (data/hub/README.md) and a Chromium. Everything happens on the loopback,
in a temporary folder; it takes two to three minutes and prints what was done. Exit status 0: the whole way was gone.
"""

import os
import re
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT)]

from susgeo.answers.lesson import Lesson  # noqa: E402
from susgeo.classroom.command import main as instructor  # noqa: E402
from susgeo.classroom.practice import answers_of  # noqa: E402
from susgeo.printing import find_browser  # noqa: E402

LESSON, STUDENTS = "02_side_view", {"kim": "perfect", "jo": "mistaken"}


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def environment_of(user):
    """Return the variables of a user's running server: what a terminal opened on the hub has."""
    for process in Path("/proc").glob("[0-9]*/environ"):
        try:
            words = process.read_bytes().decode("utf-8", "replace").split("\0")
        except OSError:  # it has ended, or is another's
            continue
        if f"JUPYTERHUB_USER={user}" in words:
            return dict(word.split("=", 1) for word in words if "=" in word)
    raise SystemExit(f"{user} has no server on the hub.")


def run(folder, *words, user="", exchange):
    """Run a command of nbgrader: as the instructor, or as a student in a terminal on the hub."""
    variables = environment_of(user) if user else {
        **os.environ, "SUSGEO_EXCHANGE": str(exchange),
        "JUPYTER_CONFIG_PATH": str(ROOT / "data" / "hub"), "PYTHONPATH": str(ROOT),
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-m", "nbgrader", *words], cwd=folder, env=variables, capture_output=True, text=True
    )
    if done.returncode:
        raise SystemExit(f"{user or 'instructor'}: nbgrader {' '.join(words)} failed:\n{done.stdout}{done.stderr}")
    return done.stdout + done.stderr


def wait_for(url, seconds=60):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            return urllib.request.urlopen(url, timeout=5).status
        except (urllib.error.URLError, OSError):
            time.sleep(0.5)
    raise SystemExit(f"Nothing answers at {url}.")


def log_in(browser, hub, student):
    """Log in; return the page when the student's own server runs."""
    page = browser.new_context(viewport={"width": 1200, "height": 900}).new_page()
    page.goto(f"{hub}/hub/login?next=/hub/spawn")
    page.fill("input[name=username]", student)
    page.fill("input[name=password]", "any")
    page.click("input[type=submit], button[type=submit]")
    page.wait_for_url(re.compile(f"/user/{student}/"), timeout=400_000, wait_until="commit")
    return page


def answer_in_boxes(page, hub, student, kind):
    """Open the fetched lesson, wake it, type every answer into its box and press Check."""
    page.goto(f"{hub}/user/{student}/lab/tree/{LESSON}/{LESSON}.ipynb")
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=300_000)
    page.wait_for_timeout(5000)  # the kernel starts
    page.locator("li.lm-MenuBar-item", has_text="Run").first.click()
    page.get_by_text("Run All Cells", exact=True).click()
    type_all(page, student, kind)
    page.context.close()


def main():
    with tempfile.TemporaryDirectory() as place, sync_playwright() as driver:
        folder = Path(place)
        exchange, homes, course = folder / "exchange", folder / "homes", folder / "evenings"
        exchange.mkdir(mode=0o777)
        exchange.chmod(0o777)
        (folder / "list.csv").write_text("ID number,First name\nkim,Kim\njo,Jo\n", "utf-8")
        assert instructor(["make", str(course), str(folder / "list.csv"), "02"]) == 0
        assert instructor(["hand_out", str(course), "02"]) == 0
        with (course / "nbgrader_config.py").open("a") as settings:
            settings.write(f'c.Exchange.root = "{exchange}"\n')
        run(course, "release_assignment", LESSON, exchange=exchange)
        hub = f"http://127.0.0.1:{free_port()}"
        variables = {
            **os.environ, "SUSGEO_EXCHANGE": str(exchange), "SUSGEO_HOMES": str(homes), "SUSGEO_HUB_URL": hub,
            "PYTHONPATH": str(ROOT), "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
            "CONFIGPROXY_AUTH_TOKEN": "loopback-only",
        }  # fmt: skip
        ports = [
            f"--JupyterHub.hub_port={free_port()}",
            f"--ConfigurableHTTPProxy.api_url=http://127.0.0.1:{free_port()}",
        ]
        with (folder / "hub.log").open("w") as log:
            server = subprocess.Popen(
                [sys.executable, "-m", "jupyterhub", "-f", str(ROOT / "data/hub/jupyterhub_config.py"), *ports],
                cwd=folder, env=variables, stdout=log, stderr=log,
            )  # fmt: skip
        try:
            wait_for(f"{hub}/hub/login")
            print("The hub answers.")
            browser = driver.chromium.launch(executable_path=find_browser(), args=["--no-sandbox"])
            for student, kind in STUDENTS.items():
                page = log_in(browser, hub, student)
                run(homes / student, "fetch_assignment", LESSON, user=student, exchange=exchange)
                answer_in_boxes(page, hub, student, kind)
                run(homes / student, "submit", LESSON, user=student, exchange=exchange)
                print(f"{student} has answered in boxes and submitted.")
            run(course, "collect", LESSON, exchange=exchange)
            there = sorted(path.name for path in (course / "submitted").iterdir())
            assert there == sorted(STUDENTS), there
            assert instructor(["mark", str(course), "02"]) == 0
            assert instructor(["export", str(course)]) == 0
            print((course / "marks_02.csv").read_text("utf-8"))
            run(course, "release_feedback", LESSON, exchange=exchange)
            for student in STUDENTS:
                run(homes / student, "fetch_feedback", LESSON, user=student, exchange=exchange)
                (back,) = (homes / student).rglob(f"feedback/*/{LESSON}.html")
                text = back.read_text("utf-8")
                assert f"feedback for {student}" in text
                assert not any(f"{other}" in re.findall(r"[a-z]+", text) for other in STUDENTS if other != student)
                got, whole = re.search(r"<p>([0-9.]+) of ([0-9]+) marks", text).groups()
                assert (got == whole) == (STUDENTS[student] == "perfect") and float(got) > 0, (student, got, whole)
                print(f"{student} has fetched feedback: {got} of {whole} marks.")
            browser.close()
        finally:
            server.terminate()
            server.wait(120)
            if sys.exc_info()[0] or server.returncode not in (0, -15, 143):
                print((folder / "hub.log").read_text()[-4000:])
    print("The whole way was gone.")


def type_all(page, student, kind):
    """Type the answers into the boxes of the lesson, task by task."""
    wanted = answers_of("02", student, kind)
    page.wait_for_selector(".susgeo-task", timeout=180_000)
    for key in Lesson("02", student).tasks:
        button = page.get_by_title(f"Check the answer to task {key}", exact=True)
        button.wait_for(timeout=180_000)
        sheet = page.locator(".susgeo-task", has=button)
        boxes = sheet.locator("textarea, input[type=text]")
        lines = str(wanted[key]).splitlines()
        if boxes.count() == len(lines) > 1 or "=" in lines[0] and boxes.count() == 1 and key.endswith("6"):
            lines = [line.partition("=")[2].strip() for line in lines]
        for number in range(boxes.count()):
            text = "\n".join(lines) if boxes.count() == 1 else lines[number]
            boxes.nth(number).fill(text)
        button.click()
        sheet.get_by_text(re.compile(f"{key} (Right|Not yet)")).first.wait_for(timeout=60_000)


if __name__ == "__main__":
    main()
