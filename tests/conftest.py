"""Settings of all tests, and the rule about tests that could not run.

A laptop without a browser still passes: its browser tests are reported as NOT RUN, with the reason. Where
SUSGEO_ALL_TESTS=1 is set, as .ci/run does, a test that did not run is a failure.
"""

import os
from collections import Counter
from pathlib import Path

import hypothesis
import pytest

ALL_TESTS_MUST_RUN = os.environ.get("SUSGEO_ALL_TESTS") == "1"

# No test depends on how fast the machine is; where all must run, every run tries the same examples.
hypothesis.settings.register_profile(
    "susgeo", deadline=None, derandomize=ALL_TESTS_MUST_RUN, print_blob=True, database=None
)
hypothesis.settings.load_profile("susgeo")


LONGEST_FIRST = (
    *("browser/test_lessons.py", "browser/test_plain_pages.py", "answers/test_by_hand.py", "answers/test_matrix.py"),
    *("answers/test_way_on.py", "answers/test_variant.py", "classroom/test_class.py", "classroom/test_broken_off.py"),
    *("answers/test_rewriting.py", "test_launcher.py", "answers/test_written.py", "answers/test_calculations.py"),
    *("browser/test_bench.py", "browser/test_harness.py", "classroom/test_fence.py", "browser/test_pages.py"),
)
"""Files of tests that take longest: begun first, so that at the end no worker waits for the other's long file."""


def pytest_configure(config: pytest.Config) -> None:
    config.option.loadscopereorder = False  # xdist would begin with the file of the most tests


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    place = {Path(__file__).parent / name: number for number, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: place.get(item.path, len(place)))


def reasons_not_run(config: pytest.Config) -> Counter[str]:
    """Count the skipped tests by their reason."""
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    reports = ((report.nodeid, report.longrepr) for report in skipped)
    return Counter(why[2] if isinstance(why, tuple) else f"{name}: {why}" for name, why in reports)


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    is_worker = hasattr(session.config, "workerinput")
    if ALL_TESTS_MUST_RUN and not is_worker and session.exitstatus == 0 and reasons_not_run(session.config):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    for reason, number in reasons_not_run(config).items():
        terminalreporter.write_line(f"NOT RUN, {number} of the tests: {reason.removeprefix('Skipped: ')}")
    if ALL_TESTS_MUST_RUN and reasons_not_run(config):
        terminalreporter.write_line("This counts as a failure, since SUSGEO_ALL_TESTS=1 is set.", red=True)
