"""What nobody would write and somebody will: Hypothesis strategies for answers, cars, records and submissions.

``tests/test_hostile.py`` tries some hundreds of each with every run. A long run is done by hand:

    python tests/hostile.py --answers 1000000 --cars 100000 --report hostile.txt

It counts what it tried, keeps every text that broke something, and names the slowest.
"""

import argparse
import faulthandler
import json
import sys
import tempfile
import time
import traceback
from collections import Counter
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import hypothesis
import nbformat
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
CARS = {task.car: load_car(task.car) for task in TASKS.values()}
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


def edited(seeds, most=4):
    """Texts that come of good ones by a few cuts, doublings, moves and insertions."""
    cut = st.tuples(st.sampled_from(["cut", "double", "move"]), st.integers(0, 999), st.integers(1, 12))
    put = st.tuples(st.just("put"), st.integers(0, 999), st.sampled_from(GLYPHS + WORDS))
    return st.builds(_edit, seeds, st.lists(put | cut, max_size=most))


def _edit(text, edits):
    for how, at, what in edits:
        place = at * (len(text) + 1) // 1000
        if how == "put":
            text = text[:place] + what + text[place:]
        else:
            part, rest = text[place : place + what], text[:place] + text[place + what :]
            text = {"cut": rest, "double": text[:place] + part + text[place:], "move": rest + part}[how]
    return text


def _known():
    """Right answers, answers with a mistake, and workings with a slip, by task."""
    found = {}
    for lesson in sorted({task.lesson for task in TASKS.values()}):
        for kind in ("perfect", "mistaken", "slips"):
            for key, answer in answers_of(lesson, "club", kind).items():
                found.setdefault(key, {})[str(answer)] = None
    return {key: list(given) for key, given in found.items()}


KNOWN = _known()
THINGS = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.complex_numbers(), st.decimals(), st.fractions(),
    st.sampled_from([10**5000, -(10**400), Decimal("1E+999999"), Decimal("sNaN"), Fraction(1, 10**400), ..., object(), b"12"]),
    st.lists(st.integers(), max_size=3), st.dictionaries(st.text(max_size=5), st.floats(), max_size=3),
)  # fmt: skip


@st.composite
def answers(draw, keys=tuple(TASKS)):
    """A task and what somebody may answer to it: mostly nearly right, else anything at all."""
    key = draw(st.sampled_from(keys))
    kind = draw(st.integers(0, 9))
    if kind < 6:
        return key, draw(edited(st.sampled_from(KNOWN[key])))
    if kind < 8:
        return key, "".join(draw(st.lists(st.sampled_from(GLYPHS + WORDS), max_size=14)))
    return key, draw(st.text(max_size=60) if kind == 8 else THINGS)


def try_answer(given):
    """Check an answer; what comes back must be a verdict that can be shown."""
    key, answer = given
    verdict = check(TASKS[key], answer, CARS[TASKS[key].car])
    said = "".join(verdict.sentences)
    assert verdict.kind in HEADS and said and 0 <= verdict.credit <= 1, verdict
    assert said.replace("\n", "").isprintable() or "\ud800" in str(answer), ascii(said)
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


@st.composite
def car_texts(draw):
    """The text of a car file with a few lines changed, doubled, moved or lost, or some characters."""
    lines = draw(st.sampled_from(FILES)).splitlines()
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, len(lines)))
        how = draw(st.integers(0, 7))
        line = lines[at % len(lines)] if lines else ""
        if how < 3:
            lines[at : at + 1] = [f"{line.partition('=')[0].strip() or 'x'} = {draw(st.sampled_from(VALUES))}"]
        elif how == 3:
            lines[at:at] = [f"{draw(st.sampled_from(NAMES))} = {draw(st.sampled_from(VALUES))}"]
        elif how == 4:
            lines[at:at] = [draw(st.sampled_from(TABLES))]
        elif how == 5:
            lines[at : at + draw(st.integers(1, 4))] = []
        elif how == 6:
            lines.append(line)
        else:
            lines[at : at + 1] = [draw(edited(st.just(line)))]
    text = "\n".join(lines)
    return draw(edited(st.just(text))) if draw(st.integers(0, 3)) == 3 else text


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


LINES = st.one_of(
    edited(st.just('{"time": "2026-11-26T10:00:00+00:00", "student": "", "task": "02.1", "answer": "5", "verdict": "wrong"}')),
    st.sampled_from(["", "[" * 50_000, '{"task": ' * 20_000, "null", "5", "NaN", '{"task": ["02.1"], "verdict": ["right"]}', "\0" * 99]),
    st.text(max_size=30), st.recursive(st.none() | st.text(max_size=3), lambda part: st.lists(part, max_size=2)).map(json.dumps),
)  # fmt: skip
records = st.lists(LINES, max_size=5).map(lambda lines: "\n".join(lines).encode("utf-8", "surrogatepass"))
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
DONE = {kind: answered(class_notebook(master("02")), "02", "kim", kind) for kind in ("perfect", "twice", "altered")}
for _one in DONE.values():  # drawings and outputs are not read
    _one.cells = [nbformat.v4.new_code_cell(c.source, metadata=c.metadata) for c in _one.cells if ".check(" in c.source]
SOURCES = [cell.source for cell in DONE["perfect"].cells]


@st.composite
def submissions(draw):
    """The bytes of a notebook: cells with strange text, strange in their shape, or damaged as a whole."""
    notebook = json.loads(json.dumps(DONE[draw(st.sampled_from(sorted(DONE)))]))
    for cell in notebook["cells"]:
        how = draw(st.integers(0, 9))
        if how < 4:
            cell["source"] = draw(edited(st.just("".join(cell["source"]))))
        elif how == 4:
            name = draw(st.sampled_from(["source", "metadata", "cell_type"]))
            cell[name] = draw(st.none() | st.integers() | st.lists(st.text(max_size=3) | st.none(), max_size=2))
    raw = json.dumps(notebook)
    return (draw(edited(st.just(raw), 2)) if draw(st.booleans()) else raw).encode("utf-8", "surrogatepass")


def try_submission(raw):
    """Read a submission with nothing caught: plain values or notes come of it."""
    found = _read(raw, SOURCE)
    assert all(type(value) in (str, int, float, bool, dict, list, tuple, type(None)) for value in found.answers.values()), found
    return "read" if found.readable else "refused"


KINDS = {
    "answers": (answers(), try_answer), "cars": (car_texts(), try_car),
    "records": (records, try_record), "submissions": (submissions(), try_submission),
}  # fmt: skip


def long_run(kind, count, seed, report):
    """Try so many of one kind, in rounds, each from a seed of its own; return how many broke something."""
    strategy, attempt = KINDS[kind]
    outcomes, broken, slow, tried, begun = Counter(), {}, [], 0, time.time()

    def one(thing):
        nonlocal tried
        faulthandler.dump_traceback_later(60, exit=False)
        start = time.process_time()
        try:
            outcomes[attempt(thing)] += 1
        except Exception as error:
            where = traceback.extract_tb(error.__traceback__)[-1]
            mark = f"{type(error).__name__} in {Path(where.filename).name}:{where.lineno}"
            outcomes[mark] += 1
            if mark not in broken:
                broken[mark] = thing
                print(f"BROKEN {mark}: {error!s:.300}\n  {thing!a:.2000}", file=report, flush=True)
        took = time.process_time() - start
        tried += 1
        if took > 0.5:
            slow.append((took, ascii(thing)[:600]))
            print(f"SLOW {took:.2f} s: {thing!a:.2000}", file=report, flush=True)

    while tried < count:
        size = min(5000, count - tried)
        seed += 1
        settings = hypothesis.settings(
            max_examples=size, deadline=None, database=None, phases=[hypothesis.Phase.generate],
            suppress_health_check=list(hypothesis.HealthCheck),
        )  # fmt: skip
        before = tried
        hypothesis.seed(seed)(settings(hypothesis.given(strategy)(one)))()
        rate = tried / (time.time() - begun)
        print(f"{kind}: {tried} tried, {rate:.0f} a second, {dict(outcomes)}", file=report, flush=True)
        if tried == before:
            break
    faulthandler.cancel_dump_traceback_later()
    longest = max(slow, default=(0, ""))
    print(
        f"DONE {kind}: {tried} tried in {time.time() - begun:.0f} s; {len(broken)} kinds of fault; {len(slow)} took over 0.5 s, "
        f"{sum(took > 1 for took, _ in slow)} over 1 s of computing, the longest {longest[0]:.2f} s", file=report, flush=True,
    )  # fmt: skip
    return len(broken) + sum(took > 1 for took, _ in slow)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="A long run of hostile input.")
    for kind_ in KINDS:
        parser.add_argument(f"--{kind_}", type=int, default=0)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--report", type=argparse.FileType("a"), default=sys.stdout)
    asked = parser.parse_args()
    print(f"seed {asked.seed}", file=asked.report)
    sys.exit(sum(long_run(kind_, getattr(asked, kind_), asked.seed, asked.report) for kind_ in KINDS if getattr(asked, kind_)) > 0)
