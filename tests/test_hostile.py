"""Hostile input, some hundreds of each kind with every run; the long run is ``python tests/hostile.py``."""

import pytest
from hypothesis import HealthCheck, given, settings

from hostile import KINDS, STRATEGIES, TASKS, answer, long_run

BUDGET = {"answers": 400, "cars": 200, "records": 100, "submissions": 100}


@pytest.mark.parametrize("kind", KINDS)
def test_what_nobody_would_write_is_survived(kind):
    @settings(max_examples=BUDGET[kind], suppress_health_check=list(HealthCheck))
    @given(STRATEGIES[kind])
    def one(thing):
        KINDS[kind][1](thing)

    one()


def test_the_long_run_tells_what_broke_and_what_was_slow(monkeypatch, tmp_path):
    """It must not call a fault an outcome: one that is planted is found, and the report has the text that did it."""

    def fragile(given):
        if given[0].startswith("02"):
            raise ZeroDivisionError("planted")
        return "fine"

    monkeypatch.setitem(KINDS, "answers", (answer, fragile))
    with (tmp_path / "report").open("w+") as report:
        assert long_run("answers", 3 * len(TASKS), 1, report) == 1
        report.seek(0)
        said = report.read()
    assert "BROKEN" in said and "planted" in said and "1 kinds of fault" in said
