"""How well a bench keeps up with the hand, measured in JupyterLab in a real browser; run by hand.

    python tests/benchmarks/bench_speed.py            about a minute
    python tests/benchmarks/bench_speed.py --moves 10000   also the memory, about ten minutes more

Three sliders stand in one notebook: a bench; `interact`, which draws the same figure anew with the inline
backend; and the floor, ready images of one color, pushed the same way as the bench's and as large. Nothing here
is a test: times are one machine's, ratios are what counts.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "browser")]

from playwright.sync_api import sync_playwright  # noqa: E402

from labpage import CHROMIUM_OPTIONS, LabPage, find_chromium  # noqa: E402
from lesson_tools import pack, to_text  # noqa: E402
from susgeo.start import environment, lab_command  # noqa: E402

NOTEBOOK = """\
# %% setup
%matplotlib inline
import json, os, time
import ipywidgets as widgets
import numpy as np
from IPython.display import display
from susgeo import draw, load_car, moved, paper
from susgeo.bench import Slider, bench

axle = load_car("three_link.toml").rear
PLACE, SHOW, VIEWS = "upper.axle.z", ("instant center", "roll axis", "convergence"), ("side", "plan")
spent = {}
handle = widgets.Widget._handle_msg
def timed(self, message):
    start = time.perf_counter()
    handle(self, message)
    name = getattr(self, "description", "").removesuffix(" [mm]")
    spent.setdefault(name, []).append(1000 * (time.perf_counter() - start))
    if name == "report":
        with open("spent.json", "w") as file:
            json.dump(spent, file)
widgets.Widget._handle_msg = timed
with open("pid", "w") as file:
    file.write(str(os.getpid()))

# %% bench
bench(axle, [Slider("bench", PLACE, 410, 530)], views=VIEWS, show=SHOW,
      numbers=["side-view instant center x", "side-view instant center z", "roll center height"])

# %% interact
def anew(interact):
    picture = draw.frame(axle, VIEWS, ghost=axle)
    picture.draw(draw.painter(moved(axle, {PLACE: interact}), SHOW, ghost=axle))
    for artist in picture.figure.findobj():
        artist.set_animated(False)
    display(picture.figure)
slider = widgets.FloatSlider(description="interact", min=410, max=530, value=470, step=1)
_ = widgets.interact(anew, interact=slider)

# %% floor
slider = widgets.FloatSlider(description="floor", min=410, max=530, value=470, step=1)
view = widgets.HTML()
grays = [paper.png(np.full((400, 760, 4), gray, np.uint8), 1) for gray in (200, 220)]
pushed = 0
def swap(change):  # no two alike, and as large as the bench's: what follows the end of a PNG is not looked at
    global pushed
    pushed += 1
    data = grays[pushed % 2] + b"%08d" % pushed + b"-" * 15_000
    view.value = paper.Still(data, "gray", 760, 400).html()
slider.observe(swap, "value")
swap(None)
widgets.VBox([slider, view])

# %% report
widgets.Button(description="report")
"""

# Presses an arrow key again and again; each time waits for another picture, loaded, and then for a pause.
PRESS = """async ([number, count, pause]) => {
  const cell = window.jupyterapp.shell.currentWidget.content.widgets[number].node;
  const handle = cell.querySelector('.noUi-handle');
  const picture = () => [...cell.querySelectorAll('.jp-OutputArea img')].pop();
  const times = [];
  handle.focus();
  for (let k = 0; k < count; k++) {
    const old = picture() && picture().src;
    const key = k % 100 < 50 ? 'ArrowRight' : 'ArrowLeft';
    const start = performance.now();
    const shown = new Promise((resolve, reject) => {
      const look = () => {
        const now = picture();
        if (!now || now.src === old) return;
        watch.disconnect();
        const end = () => { times.push(performance.now() - start); resolve(); };
        now.complete ? end() : now.addEventListener('load', end, {once: true});
      };
      const watch = new MutationObserver(look);
      watch.observe(cell, {subtree: true, childList: true, attributes: true, attributeFilter: ['src']});
      setTimeout(() => reject(new Error('no new picture within 20 s')), 20000);
    });
    handle.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true, cancelable: true}));
    await shown;
    await new Promise(resolve => setTimeout(resolve, pause));
  }
  return times;
}"""

# Fifty keys in one second; then the time from the last key to the last change of the picture.
BURST = """async number => {
  const cell = window.jupyterapp.shell.currentWidget.content.widgets[number].node;
  const handle = cell.querySelector('.noUi-handle');
  let changed = 0;
  const watch = new MutationObserver(() => { changed = performance.now(); });
  const area = cell.querySelector('.jp-OutputArea');
  watch.observe(area, {subtree: true, childList: true, attributeFilter: ['src']});
  handle.focus();
  let last = 0;
  for (let k = 0; k < 50; k++) {
    last = performance.now();
    handle.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', bubbles: true, cancelable: true}));
    await new Promise(resolve => setTimeout(resolve, 20));
  }
  await new Promise(resolve => setTimeout(resolve, 3000));
  watch.disconnect();
  return [changed - last, cell.querySelector('td').innerText];
}"""


def line(name: str, times: list[float]) -> str:
    """Write median and 95th percentile."""
    ordered = sorted(times)
    return f"{name:36}{statistics.median(ordered):8.1f}{ordered[int(0.95 * (len(ordered) - 1))]:8.1f}"


def resident(pid: int) -> float:
    """Return the memory of a process in MB (Linux)."""
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def measure(lab: LabPage, folder: Path, long: int) -> None:
    page = lab.page
    lab.open("speed.ipynb")
    lab.run_all()
    if lab.problems:
        sys.exit("\n".join(lab.problems))
    cells = {"bench": 1, "interact": 2, "floor": 3}
    pages: dict[str, list[float]] = {}
    for name, number in cells.items():
        page.evaluate(PRESS, [number, 5, 100])  # warm
        pages[name] = page.evaluate(PRESS, [number, 30, 100])
    page.get_by_role("button", name="report").click()
    lab.wait_for((folder / "spent.json").exists, "report from the kernel")
    page.wait_for_timeout(500)
    spent: dict[str, list[float]] = json.loads((folder / "spent.json").read_text())
    kernel = {name: spent[name][-30:] for name in cells}
    print(f"{'ms':36}{'median':>8}{'95 %':>8}")
    for name in cells:
        print(line(f"kernel, slider message, {name}", kernel[name]))
    for name in cells:
        print(line(f"page, key to new picture, {name}", pages[name]))
    medians = {name: statistics.median(times) for name, times in kernel.items()}
    share = medians["bench"] / medians["interact"]
    print(f"kernel: the bench takes {share:.2f} of interact's time (aim: 0.25 at most)")
    lab.press("bench [mm]", "Home")
    page.wait_for_timeout(500)
    late, number = page.evaluate(BURST, cells["bench"])
    print(f"fifty keys in a second: last picture {late:.0f} ms after the last key (aim: 150), at {number}")
    print(f"   the slider stands at {lab.slider_value('bench [mm]'):g}")
    if long:
        for name in (
            "bench",
            "floor",
        ):  # what grows with the floor as well is JupyterLab's and the browser's own
            print(f"memory, {name}:")
            lab.press("bench [mm]" if name == "bench" else name, "Home")
            page.wait_for_timeout(500)
            memory(lab, folder, cells[name], long)


def memory(lab: LabPage, folder: Path, number: int, moves: int) -> None:
    """Print how much kernel and page grow over many moves."""
    kernel = int((folder / "pid").read_text())
    session = lab.page.context.new_cdp_session(lab.page)

    def sizes() -> list[float]:
        # What the browser caches it gives back when memory is short.
        session.send("Memory.simulatePressureNotification", {"level": "critical"})
        for _ in range(3):
            session.send("HeapProfiler.collectGarbage")
            lab.page.wait_for_timeout(300)
        metrics = {
            entry["name"]: entry["value"] for entry in session.send("Performance.getMetrics")["metrics"]
        }
        pages = [int(place.parent.name) for place in Path("/proc").glob("[0-9]*/cmdline") if is_page(place)]
        return [
            resident(kernel),
            sum(map(resident, pages)),
            metrics["JSHeapUsedSize"] / 1e6,
            metrics["Nodes"],
        ]

    def is_page(place: Path) -> bool:
        try:
            words = place.read_bytes().decode(errors="replace")
        except OSError:  # it has ended
            return False
        return "--type=renderer" in words and str(folder) in words

    session.send("Performance.enable")
    lab.page.evaluate(PRESS, [number, 1000, 0])
    before, start = sizes(), time.monotonic()
    for _ in range(moves // 500):
        lab.page.evaluate(PRESS, [number, 500, 0])
    after, spent = sizes(), time.monotonic() - start
    print(f"{moves} moves in {spent:.0f} s, after 1000 to warm up (aim: below 5 % growth)")
    for name, one, two in zip(
        ("kernel, MB", "page, MB", "page heap, MB", "page nodes"), before, after, strict=True
    ):
        print(f"   {name:16}{one:10.1f}{two:10.1f}{100 * (two / one - 1):+8.1f} %")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--moves", type=int, default=0, help="also make that many moves and look at the memory"
    )
    moves = parser.parse_args().moves
    program = find_chromium()
    if program is None:
        sys.exit("This needs Chromium, Chrome or Edge.")
    with tempfile.TemporaryDirectory() as name, socket.socket() as probe:
        folder = Path(name)
        (folder / "speed.ipynb").write_text(to_text(pack(NOTEBOOK)), "utf-8")
        (folder / "three_link.toml").write_bytes((ROOT / "data" / "three_link.toml").read_bytes())
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        python = Path(sys.executable)
        own = {f"JUPYTER_{kind}_DIR": str(folder / kind) for kind in ("CONFIG", "DATA", "RUNTIME")}
        options = ("--no-browser", "--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}")
        more = ("--IdentityProvider.token=", "--LabApp.expose_app_in_browser=True")
        settings = {**environment(python), **own, "PYTHONPATH": str(ROOT)}
        quiet: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        server = subprocess.Popen(
            lab_command(python, folder, *options, *more), env=settings, cwd=folder, **quiet
        )
        try:
            for _ in range(300):
                with socket.socket() as knock:
                    if knock.connect_ex(("127.0.0.1", port)) == 0:
                        break
                time.sleep(0.1)
            with sync_playwright() as playwright:
                context = playwright.chromium.launch_persistent_context(
                    str(folder / "profile"), executable_path=program, headless=True,
                    args=CHROMIUM_OPTIONS, viewport={"width": 1100, "height": 4000},
                )  # fmt: skip
                print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
                measure(LabPage(context.new_page(), f"http://127.0.0.1:{port}"), folder, moves)
                context.close()
        finally:
            server.terminate()
            server.wait(20)


if __name__ == "__main__":
    main()
