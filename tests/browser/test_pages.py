"""Every lesson as a page without a kernel: static HTML, wide and narrow, measured.

Those that test_plain_pages.py does not examine, and the first lesson, are examined by axe-core.
"""

from collections.abc import Iterator
from pathlib import Path

import nbformat
import pytest
from nbconvert import HTMLExporter
from playwright.sync_api import BrowserContext, Page

from labpage import found_by_axe

ROOT = Path(__file__).resolve().parents[2]
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))
THEIRS = (".jp-InputPrompt", ".jp-OutputPrompt", ".highlight")
"""Numbers of cells and colors of code are nbconvert's own."""
WIDER = """() => [...document.querySelectorAll(".jp-Cell *")].filter(one => {
    const box = one.getBoundingClientRect(), style = getComputedStyle(one);
    return box.width && box.right > document.documentElement.clientWidth + 1 && style.position !== "absolute"
        && !one.closest(".jp-RenderedHTMLCommon table, pre, mjx-container, .MathJax");
}).map(one => one.tagName + ": " + one.textContent.slice(0, 60))"""


@pytest.fixture
def page(browser: BrowserContext) -> Iterator[Page]:
    page = browser.new_page()
    page.route("http*://**", lambda route: route.abort())  # nothing from the network
    yield page
    page.close()


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_reads_well_without_a_kernel(page, path, tmp_path):
    html, _ = HTMLExporter(embed_images=True).from_notebook_node(nbformat.read(path, as_version=4))
    place = tmp_path / f"{path.stem}.html"
    place.write_text(html, "utf-8")
    page.goto(place.as_uri(), wait_until="load")
    if path.stem[:2] == "00" or not path.stem[0].isdigit():
        assert found_by_axe(page, without=THEIRS) == []
    for width in (1280, 800):
        page.set_viewport_size({"width": width, "height": 900})
        assert (width, page.evaluate(WIDER)) == (width, [])
