"""Fixtures of the browser tests: a JupyterLab on a copy of the lessons, and a page in a real browser."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, sync_playwright

from labpage import CHROMIUM_OPTIONS, LabPage
from susgeo.printing import find_browser
from susgeo.start import environment, lab_command

ROOT = Path(__file__).resolve().parent.parent.parent


@dataclass(frozen=True)
class LabServer:
    """Where the JupyterLab of the tests answers, and the folder of notebooks that it shows."""

    url: str
    folder: Path


@pytest.fixture(scope="session")
def chromium() -> str:
    program = find_browser()
    if program is None:
        pytest.skip("this machine has no Chromium, Chrome or Edge; install one of them for the browser tests")
    return program


@pytest.fixture(scope="session")
def lab_server(chromium: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[LabServer]:
    """Start one JupyterLab, with the launcher's own options, on a copy of the lessons and cars."""
    base = tmp_path_factory.mktemp("course")
    for name in ("notebooks", "data"):
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, base / name, ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    folder = base / "notebooks"
    folder.mkdir(exist_ok=True)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    python = Path(sys.executable)
    own = {f"JUPYTER_{kind}_DIR": str(base / kind) for kind in ("CONFIG", "DATA", "RUNTIME")}
    log = base / "lab.log"
    with log.open("wb") as output:
        server = subprocess.Popen(
            lab_command(
                *(python, folder, "00", "--no-browser", "--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}"),
                *("--ServerApp.port_retries=0", "--IdentityProvider.token="),
                "--LabApp.expose_app_in_browser=True",
            ),
            env={**environment(python), **own, "IPYTHONDIR": str(base / "ipython")},
            cwd=folder,
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    url = f"http://127.0.0.1:{port}"
    try:
        wait_until_it_answers(url, server, log)
        yield LabServer(url, folder)
    finally:
        server.terminate()
        try:
            server.wait(20)
        except subprocess.TimeoutExpired:
            server.kill()


def wait_until_it_answers(url: str, server: subprocess.Popen[bytes], log: Path) -> None:
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    for _ in range(600):
        if server.poll() is not None:
            break
        try:
            with opener.open(f"{url}/api/status", timeout=5):
                return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError(f"JupyterLab did not start:\n{log.read_text('utf-8', 'replace')[-3000:]}")


@pytest.fixture(scope="module")  # no longer: while it is open its event loop is running in this thread
def browser(chromium: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[BrowserContext]:
    """Open a browser with a fresh profile."""
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            str(tmp_path_factory.mktemp("profile")),
            executable_path=chromium,
            headless=True,
            args=CHROMIUM_OPTIONS,
            viewport={"width": 1280, "height": 900},
        )
        yield context
        context.close()


@pytest.fixture(scope="module")
def lab(browser: BrowserContext, lab_server: LabServer) -> Iterator[LabPage]:
    """Give one page on the server for all tests of a file: each opens a notebook in it, with a kernel of its own."""
    page = LabPage(browser.new_page(), lab_server.url)
    yield page
    page.close()
    page.page.close()
