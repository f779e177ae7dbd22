"""A lesson's bench on the projector: served as a page by Voila, without code, the slider followed."""

import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path

from susgeo import load_car, moved
from susgeo.results.quantities import numbers

ROOT = Path(__file__).resolve().parents[2]
TABLE = "[...document.querySelectorAll('table')].map(t => t.innerText).filter(t => t.includes('at rest'))[0]"


def test_bench_and_boxes_work_on_a_page_of_voila(browser, tmp_path):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    for folder in ("notebooks", "data"):  # a copy: answers are kept beside the lesson
        shutil.copytree(ROOT / folder, tmp_path / folder)
    lesson = str(tmp_path / "notebooks" / "02_side_view.ipynb")
    options = ["--no-browser", f"--port={port}", "--strip_sources=True"]
    server = subprocess.Popen(
        [sys.executable, "-m", "voila", lesson, *options],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=ROOT,
    )  # fmt: skip
    page = browser.new_page()
    # Voila's own template asks a network for icons; the projector must do without.
    page.route(lambda url: "//127.0.0.1:" not in url, lambda route: route.abort())
    try:
        for _ in range(600):
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        page.goto(f"http://127.0.0.1:{port}", timeout=120_000)
        handle = page.locator(".noUi-handle").first
        handle.wait_for(timeout=120_000)
        page.wait_for_function(f"{TABLE}?.includes('1782.6')", timeout=60_000)
        for _ in range(5):
            handle.press("ArrowRight")
        car = moved(load_car(ROOT / "data" / "three_link.toml"), {"rear.upper.chassis.z": 455})
        ahead = f"{float(numbers(car)['rear side-view instant center x']):.1f}"
        page.wait_for_function(f"{TABLE}.includes('{ahead}')", timeout=60_000)
        assert page.get_by_text("from susgeo import").count() == 0  # no code on the projector
        words = page.locator("body").inner_text().lower()
        assert "quotation" not in words and "this cell" not in words and "page sleeps" not in words
        task = page.locator(".susgeo-task").first
        task.get_by_label("x_IC [mm]").fill("1700")
        task.get_by_role("button", name="Check").click()
        task.get_by_role("status").filter(has_text="Not yet").wait_for(timeout=30_000)
    finally:
        page.close()
        server.terminate()
        server.wait(20)
