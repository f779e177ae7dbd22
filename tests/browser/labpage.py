"""Driving a lesson as a reader does: JupyterLab in a real browser, keys pressed on the sliders.

``LabPage`` opens a notebook, runs it, and reads what the page shows. Whatever goes wrong in the page is
collected in its list ``problems``, which a test asserts to be empty at its end.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from typing import Any, TypeVar
from urllib.parse import quote

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page

T = TypeVar("T")
CHROMIUM_OPTIONS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync", "--disable-dev-shm-usage"),
    *("--font-render-hinting=none", "--force-color-profile=srgb"),
]

# What the notebook on the page is doing: its kernel, and how many of its cells have been run.
STATE = """() => {
  const panel = window.jupyterapp && window.jupyterapp.shell.currentWidget;
  if (!panel || !panel.content || !panel.content.widgets) return null;
  const kernel = panel.sessionContext && panel.sessionContext.session && panel.sessionContext.session.kernel;
  const code = panel.content.widgets.filter(
    c => c.model.type === 'code' && c.model.sharedModel.getSource().trim());
  return {path: panel.context.path, status: kernel ? kernel.status : null, code: code.length,
          done: code.filter(c => c.model.executionCount != null).length,
          waiting: code.filter(c => c.model.executionState === 'running'
                                 || (c.promptNode && c.promptNode.textContent.includes('*'))).length};
}"""
RUN_ALL = """() => {
  const app = window.jupyterapp;
  app.shell.activateById(app.shell.currentWidget.id);
  app.commands.execute('notebook:run-all-cells');   // not awaited: it ends only after the last cell
}"""
RUN_CELLS = """async numbers => {
  const app = window.jupyterapp, notebook = app.shell.currentWidget.content;
  app.shell.activateById(app.shell.currentWidget.id);
  for (const number of numbers) {
    notebook.activeCellIndex = number;
    await app.commands.execute('notebook:run-cell');
  }
}"""
OPEN = "path => { window.jupyterapp.commands.execute('docmanager:open', {path, factory: 'Notebook'}); }"
# Nothing is saved, and nothing asked.
CLOSE = """async () => {
  const panel = window.jupyterapp && window.jupyterapp.shell.currentWidget;
  if (!panel || !panel.sessionContext) return;
  await panel.sessionContext.shutdown();
  panel.context.model.dirty = false;
  panel.close();
}"""
# All cells stay in the page, however far down they are.
SHOW_ALL = """() => {
  const notebook = window.jupyterapp.shell.currentWidget.content;
  notebook.notebookConfig = {...notebook.notebookConfig, windowingMode: 'none'};
}"""
CELL_NUMBER = "id => window.jupyterapp.shell.currentWidget.content.widgets.findIndex(c => c.model.id === id)"
# Mark the first three things with text of each look that is not known: colors of letters and of all grounds below them,
# size, weight.
LOOKS = """([within, without, known]) => {
  const grounds = new Map(), seen = new Map(known.map(look => [look, 3]));
  const ground = one => {
    if (!one) return '';
    if (!grounds.has(one)) {
      const {backgroundColor, backgroundImage, opacity, filter} = getComputedStyle(one);
      const own = backgroundColor === 'rgba(0, 0, 0, 0)' ? '' : backgroundColor;
      grounds.set(one, [ground(one.parentElement), own, backgroundImage, opacity, filter].join('').replaceAll('none1none', ''));
    }
    return grounds.get(one);
  };
  for (const one of document.querySelectorAll(`${within} *`)) {
    const worded = [...one.childNodes].some(node => node.nodeType === Node.TEXT_NODE && node.data.trim());
    if (!worded && !one.matches('input, select, textarea') || without && one.closest(without)) continue;
    if (!one.checkVisibility({visibilityProperty: true}) || one.getBoundingClientRect().width <= 1) continue;
    const {color, fontSize, fontWeight, textShadow} = getComputedStyle(one);
    const look = [color, fontSize, fontWeight, textShadow, ground(one)].join();
    seen.set(look, (seen.get(look) || 0) + 1);
    if (seen.get(look) <= 3) one.dataset.look = look;
  }
  return [...seen.keys()];
}"""
PANEL = ".jp-NotebookPanel:not(.lm-mod-hidden)"


class LabPage:
    """One notebook in one page of a browser, on a running JupyterLab."""

    def __init__(self, page: Page, server: str) -> None:
        self.page = page
        self.server, self.mode = server, ""
        self.problems: list[str] = []
        page.on("pageerror", lambda error: self.problems.append(f"page error: {error}"))
        page.on("console", self._note_console)

    def _note_console(self, message: Any) -> None:
        if message.type == "error":
            self.problems.append(f"console: {message.text} ({message.location.get('url', '')})")

    def open(self, notebook: str, mode: str = "doc") -> None:
        """Open a notebook, alone (mode "doc") or in the whole of JupyterLab ("lab"), and wait for its kernel.

        The page is loaded once; a notebook that was open in it is closed, and its kernel stopped.
        """
        self.close()
        self.problems.clear()
        if self.mode == mode:
            self.page.evaluate(OPEN, notebook)
        else:
            self.page.goto(f"{self.server}/{mode}/tree/{quote(notebook)}?reset", wait_until="domcontentloaded")
            self.mode = mode

        def ready() -> bool:
            state = self.state() or {}
            return state.get("path") == notebook and state.get("status") == "idle"

        self.wait_for(ready, "an idle kernel", seconds=90)
        self.page.evaluate(SHOW_ALL)
        self.page.wait_for_selector(f"{PANEL} .jp-Cell")

    def close(self) -> None:
        """Close the notebook, and stop its kernel."""
        if self.mode:
            self.page.evaluate(CLOSE)

    def state(self) -> dict[str, Any] | None:
        """Return the kernel's status and the numbers of code cells, of those run, and of those waiting."""
        state: dict[str, Any] | None = self.page.evaluate(STATE)
        return state

    def run_all(self, seconds: float = 120) -> None:
        """Run every cell and wait until all are done and the page is quiet."""
        for _ in range(3):  # JupyterLab silently drops a command that comes too early
            self.page.evaluate(RUN_ALL)
            self.wait_until_idle(seconds)
            state = self.state()
            if state and state["done"] == state["code"]:
                break
            self.page.wait_for_timeout(1000)
        else:
            self.problems.append(f"not all cells were run: {self.state()}")
        self.note_outputs()

    def run_cells(self, *cells: str | int) -> None:
        """Run some cells, by id or number, one after the other."""
        numbers = [self.page.evaluate(CELL_NUMBER, cell) if isinstance(cell, str) else cell for cell in cells]
        self.page.evaluate(RUN_CELLS, numbers)
        self.note_outputs()

    def wait_until_idle(self, seconds: float = 60) -> None:
        """Wait until no cell is waiting and the kernel has stayed idle for three looks."""
        quiet = 0

        def is_quiet() -> bool:
            nonlocal quiet
            state = self.state()
            quiet = quiet + 1 if state and state["status"] == "idle" and not state["waiting"] else 0
            return quiet >= 3

        self.wait_for(is_quiet, "an idle kernel", seconds)

    def note_outputs(self) -> None:
        """Note errors and warnings of cells, and widgets that could not be shown, as problems."""
        shown = self.page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']")
        self.problems += [f"a cell wrote: {text[-400:]}" for text in shown.all_inner_texts() if text.strip()]
        broken = self.page.get_by_text(re.compile("Error (displaying|creating) widget"))
        self.problems += [f"widget: {text}" for text in broken.all_inner_texts()]

    def wait_for(self, condition: Callable[[], bool], what: str, seconds: float = 20) -> None:
        """Wait until ``condition()`` is true; the test fails, naming ``what``, when it does not come."""
        end = time.monotonic() + seconds
        while not condition():
            if time.monotonic() > end:
                raise TimeoutError(f"No {what} within {seconds:g} s; state {self.state()}, {self.problems}")
            self.page.wait_for_timeout(50)

    def after(self, read: Callable[[], T], act: Callable[[], Any], seconds: float = 20) -> T:
        """Do ``act()``, wait until ``read()`` gives another value than before and has stopped changing."""
        before = read()
        act()
        self.wait_for(lambda: read() != before, f"change from {str(before)[:80]!r}", seconds)
        value = read()
        while True:
            self.page.wait_for_timeout(200)
            if read() == value:
                return value
            value = read()

    def cell(self, cell_id: str) -> Locator:
        """Return the cell with that id, as the notebook file names it."""
        number = self.page.evaluate(CELL_NUMBER, cell_id)
        assert number >= 0, f"no cell {cell_id!r}"
        return self.page.locator(f"{PANEL} .jp-Notebook .jp-Cell").nth(number)

    def sliders(self) -> list[str]:
        """Return the labels of all sliders, from top to bottom."""
        labels = self.page.locator(".widget-slider .widget-label").all_inner_texts()
        return [text.strip() for text in labels]

    def slider(self, label: str) -> Locator:
        """Return the handle of the slider with that label; of several, the first."""
        exactly = re.compile(rf"^\s*{re.escape(label)}\s*$")
        labelled = self.page.locator(".widget-label", has_text=exactly)
        row = self.page.locator(".widget-slider").filter(has=labelled).first
        return row.locator(".noUi-handle")

    def slider_value(self, label: str) -> float:
        """Return where the slider stands."""
        return float(self.slider(label).get_attribute("aria-valuenow") or "nan")

    def press(self, label: str, key: str, times: int = 1) -> None:
        """Focus a slider and press a key (ArrowRight, PageUp, Home, ...), as a keyboard user does."""
        self.slider(label).focus()
        for _ in range(times):
            self.page.keyboard.press(key)

    def pictures(self, within: Locator | None = None) -> list[str]:
        """Return the sources of all pictures in the outputs, or in one cell."""
        images = (within or self.page.locator(".jp-Notebook")).locator(".jp-OutputArea img")
        return [image.get_attribute("src") or "" for image in images.all()]

    def pictures_without_alt(self) -> list[str]:
        """Return the start of each picture's source that has no text for those who do not see it."""
        images = self.page.locator(".jp-Notebook img").all()
        silent = [image for image in images if not (image.get_attribute("alt") or "").strip()]
        return [(image.get_attribute("src") or "")[:60] for image in silent]


def free_of_problems(lab: LabPage) -> None:
    """Assert that nothing went wrong in the page; called last."""
    lab.note_outputs()
    assert lab.problems == [], "\n".join(lab.problems)


def found_by_axe(page: Page, within: str = "html", without: tuple[str, ...] = (), practice: bool = True) -> list[str]:
    """Return what axe-core finds in a page; contrast, by far the dearest rule, in three places of each look not seen before.

    axe-core is Deque's open-source accessibility checker (rules of WCAG 2.1 A and AA, contrast of at least 4.5 to 1
    among them, and good practice beside them); it comes in the package axe-playwright-python.
    """
    tags = ["wcag2a", "wcag2aa", "wcag21aa", *["best-practice"] * practice]
    rest = {"runOnly": {"type": "tag", "values": tags}, "rules": {"color-contrast": {"enabled": False}}}
    runs = [(within, rest)]
    looks = page.evaluate(LOOKS, [within, ", ".join(without), [*LEGIBLE]])
    if len(looks) > len(LEGIBLE):
        runs.append(("[data-look]", {"runOnly": {"type": "rule", "values": ["color-contrast"]}}))
    found = []
    for place, options in runs:
        context = {"include": [[place]], "exclude": [[one] for one in without]}
        options["resultTypes"] = ["violations"]
        found += Axe().run(page, context=context, options=options).response["violations"]
    LEGIBLE.update(() if found else looks)
    return [f"{rule['id']}: {node['html'][:200]}" for rule in found for node in rule["nodes"]]


LEGIBLE: set[str] = set()
"""The looks of text in which no fault was found, on any page."""
