"""A lesson's bench on the projector: served as a page by Voila, without code, the slider followed."""

import socket
import subprocess
import sys
import time
from pathlib import Path

from susgeo import load_car, moved
from susgeo.results.quantities import numbers

ROOT = Path(__file__).resolve().parents[2]
TABLE = "[...document.querySelectorAll('table')].map(t => t.innerText).filter(t => t.includes('at rest'))[0]"


def test_the_bench_follows_the_keys_on_a_page_of_voila(browser):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    lesson = str(ROOT / "notebooks" / "02_side_view.ipynb")
    options = ["--no-browser", f"--port={port}", "--strip_sources=True"]
    server = subprocess.Popen(
        [sys.executable, "-m", "voila", lesson, *options],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=ROOT,
    )  # fmt: skip
    page = browser.new_page()
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
    finally:
        page.close()
        server.terminate()
        server.wait(20)
