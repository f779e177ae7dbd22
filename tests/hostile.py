"""What nobody would write and somebody will: Hypothesis strategies for answers, cars, records and submissions.

``tests/test_hostile.py`` tries some hundreds of each with every run. A long run is done by hand:

    python tests/hostile.py --answers 1000000 --cars 100000 --report hostile.txt

It counts what it tried, keeps every text that broke something, and names the slowest.
"""

import argparse
import faulthandler
import json
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import sympy
from hypothesis import strategies as st

from susgeo import SusgeoError, load_car, read_car
from susgeo.answers import record
from susgeo.answers.calculation import library
from susgeo.answers.check import check
from susgeo.answers.contents import contents
from susgeo.answers.verdict import HEADS
from susgeo.car.write import write_car
from susgeo.classroom.assignment import class_notebook
from susgeo.classroom.names import master
from susgeo.classroom.practice import answered, answers_of
from susgeo.classroom.submission import _read
from susgeo.desk import last_lesson
from susgeo.files import DATA

TASKS = library()[1]
car_of = cache(load_car)
GLYPHS = (
    *"0123456789abeilmnoxyzALPQU_=+-*/^.,;:()[]{}<>|&%$#@!?'\"\\~` \n\t\r\0",
    *"−–×·÷√²³½⅓°′″πθφ∞Σ€ﬁＡ１٣१Ⅷ①", "\u202e", "\u200b", "\ufeff", "\u2028", "\ud800", "🚗", "e\u0301", "\u00a0",
)  # fmt: skip
WORDS = (
    "sqrt(", "sin", "cos(", "atan2(", "asin(", "deg(", "abs(", "pi", "log(", "mm", " in", " deg", " N", "kg", "%", "rad",
    "1e30", "1e-30", "1e999", "9" * 60, "0" * 60 + "1", "**", "^^", "^(1/2)", "^-1", "^2^3^4", "/0", "1/0", "nan", "-inf",
    "1,5", "1.234,5", "1 628", "3 1/2", "0x1F", "1_000", "x_IC", "z_UA", "c_U", "l_1", "AS", "hello", "x_IC = ", "lambda",
    "import os", "__class__", "eval(", "True", "None", "(" * 60, ")" * 60, "--" * 60, "+1" * 300, "*x_IC" * 60, "\n" * 60,
    "9**9**9", "a" * 400, "# note", '"""', "f'{x}'", "…", "=" * 9, "; ", "\n= ", "or", "is", "about", "rise", "left",
)  # fmt: skip


def edited(rng, text, most=4):
    """A text that comes of a good one by a few cuts, doublings, moves and insertions."""
    for _ in range(rng.randint(0, most)):
        place = rng.randint(0, len(text))
        if rng.random() < 0.5:
            text = text[:place] + rng.choice(GLYPHS + WORDS) + text[place:]
        else:
            end = place + rng.randint(1, 12)
            part, rest = text[place:end], text[:place] + text[end:]
            text = rng.choice([rest, text[:place] + part + text[place:], rest + part])
    return text


def anything(rng, most):
    """Characters from all of Unicode, halves of pairs among them."""
    return "".join(chr(rng.randint(0, rng.choice([127, 0x2FFF, 0x10FFFF]))) for _ in range(rng.randint(0, most)))


@cache
def known():
    """Right answers, answers with a mistake, and workings with a slip, by task."""
    found = {}
    for lesson in sorted({task.lesson for task in TASKS.values()}):
        for kind in ("perfect", "mistaken", "slips"):
            for key, answer in answers_of(lesson, "club", kind).items():
                found.setdefault(key, {})[str(answer)] = None
    return {key: list(given) for key, given in found.items()}


THINGS = (
    None, True, False, 0, -1, 12, 1.5, -0.0, 5e-324, 1e308, float("nan"), float("inf"), 1j, 10**5000, -(10**400), ..., object(), b"12",
    Decimal("1E+999999"), Decimal("sNaN"), Decimal("310.25"), Fraction(1, 10**400), [], [1, 2], {}, {"z": 1}, {"z_LC": "300 mm"},
    {1: None}, {"\x0e": 300}, {"x" * 900: 1}, np.float64(300), np.array([1.0, 2.0]), np.array(300), sympy.Symbol("x"), sympy.oo, str,
)  # fmt: skip


def answer(rng, keys=tuple(TASKS)):
    """A task and what somebody may answer to it: mostly nearly right, else anything at all."""
    key, kind = rng.choice(keys), rng.randint(0, 9)
    if kind < 6:
        return key, edited(rng, rng.choice(known()[key]))
    if kind < 8:
        return key, "".join(rng.choice(GLYPHS + WORDS) for _ in range(rng.randint(0, 14)))
    return key, anything(rng, 60) if kind == 8 else rng.choice(THINGS)


def try_answer(given):
    """Check an answer; what comes back must be a verdict that can be shown."""
    key, answer = given
    verdict = check(TASKS[key], answer, car_of(TASKS[key].car))
    said = "".join(verdict.sentences)
    assert verdict.kind in HEADS and said and 0 <= verdict.credit <= 1, verdict
    assert all(c.isprintable() for c in said if c not in "\n…"), ascii(said)
    assert not isinstance(answer, str) or not echoed(answer, said), said
    return verdict.kind


def echoed(given, said):
    """Whether more than 200 characters that were given come back in one piece."""
    return any(given[k : k + 200] in said for k in range(0, max(0, len(given) - 399) + (len(given) > 200), 200))


FILES = [path.read_text("utf-8") for path in sorted(DATA.glob("*.toml"))]
NAMES = sorted({line.partition("=")[0].strip() for text in FILES for line in text.splitlines() if "=" in line})
TABLES = sorted({line for text in FILES for line in text.splitlines() if line.startswith("[")})
VALUES = (
    "0", "-1", "1e-300", "1e300", "5e-324", "nan", "inf", "-0.0", "1e6", "29999", "27000", "2.7", "9" * 400, "1,5", "true",
    '"mm"', '"in"', '"lb"', '"axle"', '"lower link"', '"strut"', '""', "[]", "[0, 0, 0]", "[1, 2]", "[1e300, 0, 0]",
    "[[1, 2, 3]]", "[600, 400, 290]", "[600, 0, 290]", "{x = 1}", "2026-11-26", "'''", '"\\ud800"', '"' + "x" * 900 + '"', "0x10",
)  # fmt: skip


def car_text(rng):
    """The text of a car file with a few lines changed, doubled, moved or lost, or some characters."""
    lines = rng.choice(FILES).splitlines()
    for _ in range(rng.randint(0, 3)):
        at, how = rng.randint(0, len(lines)), rng.randint(0, 7)
        line = lines[at % len(lines)] if lines else ""
        if how < 3:
            lines[at : at + 1] = [f"{line.partition('=')[0].strip() or 'x'} = {rng.choice(VALUES)}"]
        elif how == 3:
            lines[at:at] = [f"{rng.choice(NAMES)} = {rng.choice(VALUES)}"]
        elif how == 4:
            lines[at:at] = [rng.choice(TABLES)]
        elif how == 5:
            lines[at : at + rng.randint(1, 4)] = []
        elif how == 6:
            lines.append(line)
        else:
            lines[at : at + 1] = [edited(rng, line)]
    text = "\n".join(lines)
    return edited(rng, text) if rng.random() < 0.25 else text


def try_car(text):
    """Read a car; a car comes back that can be written and read again, or one sentence."""
    try:
        car = read_car(text, "mine.toml")
    except SusgeoError as error:
        said = str(error)
        assert said.startswith("mine.toml") and said.isprintable() and len(said) < 900, ascii(said)
        assert said[-1] in ".?" and not echoed(text, said), said
        return "refused"
    again = write_car(car)
    assert write_car(read_car(again)) == again
    return "read"


LINE = '{"time": "2026-11-26T10:00:00+00:00", "student": "", "task": "02.1", "answer": "5", "verdict": "wrong"}'
LINES = (
    "",
    "[" * 50_000,
    '{"task": ' * 20_000,
    "null",
    "5",
    "NaN",
    "9" * 5000,
    '{"task": ["02.1"], "verdict": ["right"]}',
    "\0" * 99,
)


def records(rng):
    """A record with lines torn, foreign, huge and nested."""
    lines = [
        rng.choice([edited(rng, LINE), edited(rng, LINE), rng.choice(LINES), anything(rng, 30)])
        for _ in range(rng.randint(0, 5))
    ]
    return "\n".join(lines).encode("utf-8", "surrogatepass")


FOLDER = tempfile.TemporaryDirectory(prefix="susgeo-hostile-")


def try_record(raw):
    """Keep an answer after what stands in a record: all stays, the answer is found, and nothing stops the reading."""
    path = Path(FOLDER.name) / record.NAME
    path.write_bytes(raw)
    assert record.keep("kim", "03.1", "12 mm", "right", path.parent)
    assert path.read_bytes().startswith(raw)
    assert record.progress("kim", path.parent) == {"03.1": "right"}
    assert last_lesson(path.parent) == "03" and str(contents("", path.parent, "02"))
    return "kept"


SOURCE = class_notebook(master("02"))
DONE = []
for _kind in ("perfect", "twice", "altered"):
    _copy = answered(class_notebook(master("02")), "02", "kim", _kind)
    _cells = [
        {"cell_type": "code", "source": c.source, "metadata": c.metadata} for c in _copy.cells if ".check(" in c.source
    ]
    DONE.append(json.dumps({"cells": _cells, "metadata": _copy.metadata}))  # drawings and outputs are not read


def submission(rng):
    """The bytes of a notebook: cells with strange text, strange in their shape, or damaged as a whole."""
    notebook = json.loads(rng.choice(DONE))
    for cell in notebook["cells"]:
        how = rng.randint(0, 9)
        if how < 4:
            cell["source"] = edited(rng, cell["source"])
        elif how == 4:
            cell[rng.choice(["source", "metadata", "cell_type"])] = rng.choice(
                [None, 7, [], [None, "x"], {"nbgrader": 5}, "\ud800"]
            )
    raw = json.dumps(notebook)
    return (edited(rng, raw, 2) if rng.random() < 0.5 else raw).encode("utf-8", "surrogatepass")


def try_submission(raw):
    """Read a submission with nothing caught: plain values or notes come of it."""
    found = _read(raw, SOURCE)
    assert all(
        type(value) in (str, int, float, bool, dict, list, tuple, type(None)) for value in found.answers.values()
    ), found
    return "read" if found.readable else "refused"


KINDS = {
    "answers": (answer, try_answer), "cars": (car_text, try_car), "records": (records, try_record), "submissions": (submission, try_submission),
}  # fmt: skip
STRATEGIES = {kind: st.randoms(use_true_random=False).map(make) for kind, (make, _) in KINDS.items()}


def long_run(kind, count, seed, report):
    """Try so many of one kind, each from a seed of its own; return how many broke something."""
    make, attempt = KINDS[kind]
    outcomes, broken, slow, begun, worked = Counter(), set(), [], time.time(), time.process_time()
    for tried in range(1, count + 1):
        thing = make(random.Random(f"{seed} {kind} {tried}"))
        if tried % 200 == 1:
            faulthandler.dump_traceback_later(600, exit=True, file=report)  # 200 of them: a hang
        start = time.process_time()
        try:
            outcomes[attempt(thing)] += 1
        except Exception as error:
            where = traceback.extract_tb(error.__traceback__)[-1]
            mark = f"{type(error).__name__} in {Path(where.filename).name}:{where.lineno}"
            outcomes[mark] += 1
            if mark not in broken:
                broken.add(mark)
                print(
                    f"BROKEN, number {tried}, {mark}: {ascii(error):.300}\n  {ascii(thing):.2000}",
                    file=report,
                    flush=True,
                )
        took = time.process_time() - start  # of computing: other programs on the machine do not count
        if took > 0.5:
            slow.append(took)
            print(f"SLOW, number {tried}, {took:.2f} s: {ascii(thing):.2000}", file=report, flush=True)
        if tried % 10_000 == 0 or tried == count:
            print(
                f"{kind}: {tried} tried in {time.process_time() - worked:.0f} s of computing, {dict(outcomes)}",
                file=report,
                flush=True,
            )
    faulthandler.cancel_dump_traceback_later()
    print(
        f"DONE {kind}: {tried} tried in {time.time() - begun:.0f} s; {len(broken)} kinds of fault; {len(slow)} took over 0.5 s, "
        f"{sum(took > 1 for took in slow)} over 1 s of computing, the longest {max(slow, default=0):.2f} s", file=report, flush=True,
    )  # fmt: skip
    return len(broken) + sum(took > 1 for took in slow)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="A long run of hostile input.")
    for kind_ in KINDS:
        parser.add_argument(f"--{kind_}", type=int, default=0)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--report", type=argparse.FileType("a"), default=sys.stdout)
    asked = parser.parse_args()
    print(f"seed {asked.seed}", file=asked.report)
    sys.exit(
        sum(
            long_run(kind_, getattr(asked, kind_), asked.seed, asked.report) for kind_ in KINDS if getattr(asked, kind_)
        )
        > 0
    )
