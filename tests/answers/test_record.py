"""The record of answers: nothing that was written is lost."""

import hashlib
import subprocess
import sys
from pathlib import Path

import pytest

from susgeo.answers import Lesson, record
from susgeo.desk import last_lesson


def test_answers_come_back_as_written(tmp_path):
    for answer in ("1782.6 mm", "x\ny", "ümlaut 🚗", "a" * 10_000):
        record.keep("kim", "02.1", answer, "wrong", tmp_path)
    kept = [entry.answer for entry in record.entries(tmp_path)]
    assert kept[:3] == ["1782.6 mm", "x\ny", "ümlaut 🚗"] and kept[3] == "a" * record.LONGEST


def test_a_torn_last_line_costs_that_line_alone(tmp_path):
    record.keep("kim", "02.1", "1", "wrong", tmp_path)
    with (tmp_path / record.NAME).open("ab") as file:
        file.write(b'{"time": "2026-')
    record.keep("kim", "02.1", "2", "right", tmp_path)
    assert [entry.answer for entry in record.entries(tmp_path)] == ["1", "2"]


def test_a_single_torn_character_costs_no_answer(tmp_path):
    (tmp_path / record.NAME).write_bytes(b"{")
    record.keep("kim", "02.1", "2", "right", tmp_path)
    assert [entry.answer for entry in record.entries(tmp_path)] == ["2"]


def test_a_test_is_opened_by_the_file_of_its_seal_alone(tmp_path):
    lesson = Lesson("02", "kim", folder=str(tmp_path), test=hashlib.sha256(b"the key").hexdigest())
    key = tmp_path / "02_side_view--solutions.txt"
    assert lesson.sealed
    key.write_text("another key\n", "utf-8")
    assert lesson.sealed
    key.write_text("the key\n", "utf-8")
    assert not lesson.sealed


def test_several_notebooks_at_once_lose_nothing(tmp_path):
    code = (  # the file alone: each of the four would take seconds to load the whole library
        "import sys; sys.path.append(sys.argv[3]); import record\n"
        "for n in range(50): record.keep(sys.argv[1], '02.1', 'z' * 900, 'wrong', sys.argv[2])"
    )
    home = Path(record.__file__).parent
    writers = [subprocess.Popen([sys.executable, "-c", code, str(k), str(tmp_path), str(home)]) for k in range(4)]
    assert [writer.wait() for writer in writers] == [0] * 4
    assert len(list(record.entries(tmp_path))) == 200


def test_progress_keeps_the_best_and_survives_a_new_kernel(tmp_path):
    lesson = Lesson("02", "club", folder=str(tmp_path))
    lesson.check(1, "5")
    lesson.check(1, "1782.6")
    lesson.check(1, "7")
    again = Lesson("02", "club", folder=str(tmp_path))
    assert "02.1  Right" in again.progress().saved.text and "02.2  Still open" in again.progress().saved.text
    assert "02.1  Still open" in Lesson("02", "someone else", folder=str(tmp_path)).progress().saved.text


def test_each_reader_has_figures_of_their_own_for_good(tmp_path):
    """Nothing that the text prints for the club's car is an answer; the same file gives the same figures again."""
    anybody = Lesson("02", folder=str(tmp_path)).known(1)
    assert anybody != Lesson("02", "club").known(1)
    (tmp_path / record.FIGURES).write_text("reader 12ab\n", "utf-8")
    mine = Lesson("02", folder=str(tmp_path)).known(1)
    assert mine != anybody and mine == Lesson("02", folder=str(tmp_path)).known(1)
    assert Lesson("02", folder=str(tmp_path)).check(1, "1782.6").kind == "wrong"


def test_a_folder_that_cannot_be_written_to_does_not_withhold_the_verdict(tmp_path):
    said = Lesson("02", "club", folder=str(tmp_path / "nowhere")).check(1, "1782.6")
    assert said.kind == "right" and "could not be kept" in said.sentences[-1]


def test_a_full_disk_or_an_endless_number_does_not_withhold_the_verdict(tmp_path, monkeypatch):
    lesson = Lesson("02", "club", folder=str(tmp_path))
    assert lesson.check(1, 1 << 20_000).kind == "unreadable"
    assert lesson.check(1, "0x" + "f" * 5000).kind == "unreadable"

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(record.os, "write", full)
    said = lesson.check(1, "1782.6")
    assert said.kind == "right" and "could not be kept" in said.sentences[-1]


STRANGE = [
    '{"task": ["a"], "verdict": ["a"], "time": "", "student": "", "answer": ""}',
    "[" * 200_000,
    "null",
    "9" * 5000,
    '{"task"',
    "\ud800",
]


def test_lines_that_are_no_answer_are_passed_over_and_stay(tmp_path):
    raw = "\n".join(STRANGE).encode("utf-8", "surrogatepass")
    (tmp_path / record.NAME).write_bytes(raw)
    assert record.keep("kim", "02.1", "5", "wrong", tmp_path)
    assert record.progress("kim", tmp_path) == {"02.1": "wrong"} and last_lesson(tmp_path) == "02"
    assert (tmp_path / record.NAME).read_bytes().startswith(raw)


def test_a_record_that_cannot_be_read_is_none(tmp_path, monkeypatch):
    record.keep("kim", "02.1", "5", "wrong", tmp_path)

    def locked(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "stat", locked)
    assert record.entries(tmp_path) == ()


def test_a_page_says_when_an_answer_or_a_guess_is_not_kept(tmp_path):
    lesson = Lesson("02", "club", folder=str(tmp_path / "nowhere"))
    box, guess = lesson.task(1), lesson.guess("How far?")
    (box.boxes["x_IC"] if "x_IC" in box.boxes else next(iter(box.boxes.values()))).value = "1782.6 mm"
    guess.keep("600 mm")
    assert "Right" in box.verdict.value and "could not be kept" in box.verdict.value
    assert "could not be kept" in guess.said.value and "is kept" not in guess.said.value


def test_the_record_is_read_once_for_all_that_a_page_asks(tmp_path, monkeypatch):
    record.keep("kim", "02.1", "5", "wrong", tmp_path)
    record.entries(tmp_path)
    monkeypatch.setattr(Path, "read_bytes", lambda path: pytest.fail("it was read again"))
    lesson = Lesson("02", "kim", folder=str(tmp_path))
    assert lesson.last("02.1").answer == "5" and lesson.seal == ""
    monkeypatch.undo()
    record.keep("kim", "02.1", "6", "wrong", tmp_path)  # by whichever notebook
    assert lesson.last("02.1").answer == "6"
