"""How well a bench keeps up with the hand, measured in JupyterLab in a real browser; run by hand.

    python tests/benchmarks/bench_speed.py            about a minute
    python tests/benchmarks/bench_speed.py --moves 10000   also the memory, about ten minutes more (Linux)

Three sliders stand in one notebook: a bench; `interact`, which draws the same figure anew with the inline
backend; and the floor, ready images of one color, pushed the same way as the bench's and as large. Nothing here
is a test: times are one machine's, ratios are what counts.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "browser")]

from playwright.sync_api import Page, Playwright, sync_playwright  # noqa: E402

from labpage import CHROMIUM_OPTIONS, RUN_ALL, LabPage  # noqa: E402
from lesson_tools import pack, to_text  # noqa: E402
from susgeo.printing import find_browser  # noqa: E402
from susgeo.start import environment, lab_command  # noqa: E402

NOTEBOOK = """\
# %% setup
%matplotlib inline
import json, os, time
import ipywidgets as widgets
import numpy as np
from IPython.display import display
from susgeo.draw.still import Still, indexed, pixels_of, png
from susgeo import draw, load_car, moved
from susgeo.bench import Slider, bench

axle = load_car("three_link.toml").rear
PLACE, SHOW, VIEWS = "upper.axle.z", ("instant center", "roll axis", "convergence"), ("side", "plan")
spent, moves = {}, {}
handle = widgets.Widget._handle_msg
def timed(self, message):
    start = time.perf_counter()
    handle(self, message)
    name = getattr(self, "description", "").removesuffix(" [mm]")
    spent.setdefault(name, []).append(1000 * (time.perf_counter() - start))
    del spent[name][:-1000]
    moves[name] = moves.get(name, 0) + 1
    if moves[name] % 10 == 0:
        with open("moves", "w") as file:
            file.write(str(moves.get("bench", 0)))
    if name == "report":
        with open("spent.json", "w") as file:
            json.dump(spent, file)
widgets.Widget._handle_msg = timed
with open("pid", "w") as file:
    file.write(str(os.getpid()))

# %% bench
made = bench(axle, [Slider("bench", PLACE, 410, 530)], views=VIEWS, show=SHOW,
      numbers=["side-view instant center x", "side-view instant center z", "roll center height"])
made

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
high, wide = made.picture.height, made.picture.width
grays = [png(indexed(pixels_of(np.full((high, wide, 4), gray, np.uint8))), 1) for gray in (200, 220)]
rest = b"-" * (len(made.picture.frame().data) - len(grays[0]))
pushed = 0
def swap(change):  # no two alike, and as large as the bench's: what follows the end of a PNG is not looked at
    global pushed
    pushed += 1
    data = grays[pushed % 2] + b"%08d" % pushed + rest
    view.value = Still(data, "gray", wide, high).html()
slider.observe(swap, "value")
swap(None)
widgets.VBox([slider, view])

# %% report
widgets.Button(description="report")
"""

# The next picture in a cell after something was done to it, loaded.
NEXT = """(cell, act) => new Promise((resolve, reject) => {
  const picture = () => [...cell.querySelectorAll('.jp-OutputArea img')].pop();
  const old = picture() && picture().src;
  const late = setTimeout(() => reject(new Error('no new picture within 20 s')), 20000);
  const watch = new MutationObserver(() => {
    const now = picture();
    if (!now || now.src === old) return;
    watch.disconnect();
    clearTimeout(late);
    now.complete ? resolve() : now.addEventListener('load', resolve, {once: true});
  });
  watch.observe(cell, {subtree: true, childList: true, attributes: true, attributeFilter: ['src']});
  act();
})"""
# Presses an arrow key again and again; each time waits for another picture, and then for a pause.
PRESS = f"""async ([number, count, pause]) => {{
  const cell = window.jupyterapp.shell.currentWidget.content.widgets[number].node, next = {NEXT};
  const handle = cell.querySelector('.noUi-handle'), times = [];
  handle.focus();
  for (let k = 0; k < count; k++) {{
    const key = k % 100 < 50 ? 'ArrowRight' : 'ArrowLeft';
    const start = performance.now();
    await next(cell, () => handle.dispatchEvent(
      new KeyboardEvent('keydown', {{key, bubbles: true, cancelable: true}})));
    times.push(performance.now() - start);
    await new Promise(resolve => setTimeout(resolve, pause));
  }}
  return times;
}}"""
# Drags the handle to and fro over fifty positions, each a step from the last one, and goes on by itself when the
# connection to the browser has been cut. What the page has used it gives back often.
DRAG_ON = f"""([number, count]) => {{
  const cell = window.jupyterapp.shell.currentWidget.content.widgets[number].node, next = {NEXT};
  const handle = cell.querySelector('.noUi-handle'), box = handle.getBoundingClientRect();
  const step = cell.querySelector('.noUi-base').getBoundingClientRect().width / 120;
  const mouse = (type, x) => handle.dispatchEvent(new MouseEvent(type, {{
    bubbles: true, cancelable: true, buttons: 1, clientX: box.x + box.width / 2 + x, clientY: box.y + box.height / 2
  }}));
  mouse('mousedown', 0);
  (async () => {{
    for (let k = 1; k <= count; k++) {{
      await next(cell, () => mouse('mousemove', step * (k % 100 < 50 ? k % 50 : 50 - k % 50)));
      if (k % 100 === 0) window.gc();
    }}
    mouse('mouseup', 0);
  }})();
}}"""

# Fifty keys in one second; then the time from the last key to the last change of the picture.
BURST = """async number => {
  const cell = window.jupyterapp.shell.currentWidget.content.widgets[number].node;
  const handle = cell.querySelector('.noUi-handle');
  const area = cell.querySelector('.jp-OutputArea'), picture = () => area.querySelector('img')?.src;
  let changed = 0, seen = picture();  // words for the ear change as well, most of a second later
  const watch = new MutationObserver(() => {
    if (picture() !== seen) { seen = picture(); changed = performance.now(); }
  });
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


CELLS = {"bench": 1, "interact": 2, "floor": 3}


def free_ports() -> tuple[int, int]:
    """Return two ports that nothing listens on."""
    with socket.socket() as one, socket.socket() as two:
        for probe in (one, two):
            probe.bind(("127.0.0.1", 0))
        return one.getsockname()[1], two.getsockname()[1]


def line(name: str, times: list[float]) -> str:
    """Write median and 95th percentile."""
    ordered = sorted(times)
    return f"{name:36}{statistics.median(ordered):8.1f}{ordered[int(0.95 * (len(ordered) - 1))]:8.1f}"


def resident(pid: int) -> float:
    """Return the memory of a process in MB (Linux)."""
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def measure(lab: LabPage, folder: Path) -> None:
    """Print the times."""
    page = lab.page
    lab.open("speed.ipynb")
    lab.run_all()
    if lab.problems:
        sys.exit("\n".join(lab.problems))
    pages: dict[str, list[float]] = {}
    for name, number in CELLS.items():
        page.evaluate(PRESS, [number, 5, 100])  # warm
        pages[name] = page.evaluate(PRESS, [number, 30, 100])
    page.get_by_role("button", name="report").click()
    lab.wait_for((folder / "spent.json").exists, "report from the kernel")
    page.wait_for_timeout(500)
    spent: dict[str, list[float]] = json.loads((folder / "spent.json").read_text())
    kernel = {name: spent[name][-30:] for name in CELLS}
    print(f"{'ms':36}{'median':>8}{'95 %':>8}")
    for name in CELLS:
        print(line(f"kernel, slider message, {name}", kernel[name]))
    for name in CELLS:
        print(line(f"page, key to new picture, {name}", pages[name]))
    medians = {name: statistics.median(times) for name, times in kernel.items()}
    share = medians["bench"] / medians["interact"]
    print(
        f"page: the bench takes {statistics.median(pages['bench']) / statistics.median(pages['floor']):.2f} of the floor (aim: 1.6)"
    )
    print(f"kernel: the bench takes {share:.2f} of interact's time (aim: 0.11 at most)")
    lab.press("bench [mm]", "Home")
    page.wait_for_timeout(500)
    late, number = page.evaluate(BURST, CELLS["bench"])
    print(f"fifty keys in a second: last picture {late:.0f} ms after the last key (aim: 150), at {number}")
    print(f"   the slider stands at {lab.slider_value('bench [mm]'):g}")
    lab.press("bench [mm]", "Home")
    page.wait_for_timeout(500)


def wake(lab: LabPage) -> None:
    """Print how long a lesson takes from Run All to its first live bench, in a fresh kernel, three times."""
    times = []
    for _ in range(3):
        lab.open("lessons/02_side_view.ipynb")
        lab.page.wait_for_timeout(2000)
        start = time.monotonic()
        lab.page.evaluate(RUN_ALL)
        lab.page.locator(".noUi-handle").first.wait_for(timeout=120_000)
        times.append(time.monotonic() - start)
        lab.wait_until_idle()
        lab.page.evaluate("window.jupyterapp.shell.currentWidget.sessionContext.shutdown()")
    print(f"lesson 02, Run All to live bench: {statistics.median(times):.1f} s (aim: 3)")


@contextmanager
def connected(playwright: Playwright, port: int) -> Iterator[Page]:
    """Give the browser's page to Playwright for a while; the page goes on when it is let go."""
    for _ in range(100):
        with socket.socket() as knock:
            if knock.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.1)
    browser = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
    try:
        yield browser.contexts[0].pages[0]
    finally:
        browser.close()


def memory(playwright: Playwright, port: int, folder: Path, count: int) -> None:
    """Print how much kernel and page grow over many moves, none of them watched.

    A page that is being debugged, as by Playwright, keeps the address of every picture it has loaded for the
    debugger, and here the address is the picture: about 20 kB a move, which no reader's page keeps. The handle
    is dragged, since JupyterLab keeps every event of a key for as long as the page is open, whatever the key does.
    """

    def settled() -> list[float]:
        """Have the page give back what it caches and what it has freed; return what is left in use."""
        with connected(playwright, port) as page:
            session = page.context.new_cdp_session(page)
            session.send("Performance.enable")
            session.send("Memory.simulatePressureNotification", {"level": "critical"})
            for _ in range(3):
                session.send("HeapProfiler.collectGarbage")
                page.wait_for_timeout(300)
            found = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
        time.sleep(2)
        return [*processes(), found["JSHeapUsedSize"] / 1e6, found["Nodes"]]

    def processes() -> list[float]:
        pages = [int(place.parent.name) for place in Path("/proc").glob("[0-9]*/cmdline") if is_page(place)]
        return [resident(int((folder / "pid").read_text())), sum(map(resident, pages))]

    def is_page(place: Path) -> bool:
        try:
            words = place.read_bytes().decode(errors="replace")
        except OSError:  # it has ended
            return False
        return "--type=renderer" in words and str(folder) in words

    def wait_for(number: int) -> None:
        while made() < number:
            if time.monotonic() - start > count + 300:
                sys.exit(f"The page stopped after {made() - first} moves.")
            time.sleep(0.2)

    def made() -> int:
        file = folder / "moves"
        return int(file.read_text() or 0) if file.exists() else 0

    def drag(moves: int) -> None:
        with connected(playwright, port) as page:
            page.evaluate(DRAG_ON, [CELLS["bench"], moves])

    start, first = time.monotonic(), made()
    drag(1000)
    wait_for(first + 1000)
    before = settled()
    drag(count)
    for number in range(1000, count + 1, 1000):
        wait_for(first + 1000 + number)
        kernel, page = processes()
        print(f"   while dragging, move {number:6}: kernel {kernel:7.1f} MB, page {page:7.1f} MB", flush=True)
    after = settled()
    print(f"{count} moves after 1000 to warm up (aim: below 5 % growth), at rest")
    for name, one, two in zip(("kernel, MB", "page, MB", "page heap, MB", "page nodes"), before, after, strict=True):
        print(f"   {name:16}{one:10.1f}{two:10.1f}{100 * (two / one - 1):+8.1f} %")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--moves", type=int, default=0, help="also make that many moves and look at the memory")
    moves = parser.parse_args().moves
    program = find_browser()
    if program is None:
        sys.exit("This needs Chromium, Chrome or Edge.")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = Path(name)
        (folder / "speed.ipynb").write_text(to_text(pack(NOTEBOOK)), "utf-8")
        (folder / "three_link.toml").write_bytes((ROOT / "data" / "three_link.toml").read_bytes())
        shutil.copytree(ROOT / "data", folder / "data")
        (folder / "lessons").mkdir()
        shutil.copy(ROOT / "notebooks" / "02_side_view.ipynb", folder / "lessons")
        port, debug = free_ports()
        python = Path(sys.executable)
        own = {f"JUPYTER_{kind}_DIR": str(folder / kind) for kind in ("CONFIG", "DATA", "RUNTIME")}
        options = ("--no-browser", "--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}")
        more = ("--IdentityProvider.token=", "--LabApp.expose_app_in_browser=True")
        settings = {**environment(python), **own, "PYTHONPATH": str(ROOT)}
        quiet: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        server = subprocess.Popen(lab_command(python, folder, "00", *options, *more), env=settings, cwd=folder, **quiet)
        browser = None
        try:
            for _ in range(300):
                with socket.socket() as knock:
                    if knock.connect_ex(("127.0.0.1", port)) == 0:
                        break
                time.sleep(0.1)
            browser = subprocess.Popen(
                [program, *CHROMIUM_OPTIONS, "--headless=new", "--window-size=1100,4000",
                 "--js-flags=--expose-gc", f"--remote-debugging-port={debug}",
                 f"--user-data-dir={folder / 'profile'}", "about:blank"], **quiet,
            )  # fmt: skip
            with sync_playwright() as playwright:
                print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
                with connected(playwright, debug) as page:
                    lab = LabPage(page, f"http://127.0.0.1:{port}")
                    wake(lab)
                    measure(lab, folder)
                if moves:
                    memory(playwright, debug, folder, moves)
        finally:
            if browser is not None:
                browser.terminate()
                browser.wait(20)
            server.terminate()
            server.wait(20)


if __name__ == "__main__":
    main()
