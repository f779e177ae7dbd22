"""What the class gets as pages, opened with the network cut: the feedback, and the tasks and key to print."""

import re

import nbformat
import pytest

from susgeo.classroom import course
from susgeo.classroom.assignment import class_notebook, marking_sheet, personal
from susgeo.classroom.command import main
from susgeo.classroom.course import make, print_tasks
from susgeo.classroom.feedback import feedback_page
from susgeo.classroom.names import Student, master
from susgeo.classroom.practice import answered
from susgeo.classroom.running import run_sheet
from susgeo.classroom.submission import read_submission

SOURCE = class_notebook(master("02"))


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A feedback page of a student with mistakes, as the marking makes it; tasks and key of a class of two."""
    folder = tmp_path_factory.mktemp("pages")
    work = answered(personal(SOURCE, "kim-001"), "02", "kim-001", "mistaken")
    own = read_submission(nbformat.writes(work).encode(), SOURCE)
    sheet = marking_sheet(SOURCE, "kim-001", own.answers, own.notes)
    run_sheet(sheet, 60)
    about = {"student": "kim-001", "score": 9, "max_score": 18, "late_penalty": 0}
    (folder / "feedback.html").write_text(feedback_page(sheet, about), "utf-8")
    make(folder, ["02"], [Student("kim", "Kim"), Student("jo", "Jo")])
    return [folder / "feedback.html", *(file.with_suffix(".html") for file in print_tasks(folder, "02"))]


def test_no_page_of_a_class_asks_anything_of_a_network(browser, files):
    asked = []
    browser.set_offline(True)
    try:
        for file in files:
            page = browser.new_page()
            page.on("request", lambda request: asked.append(request.url))
            page.goto(file.as_uri(), wait_until="networkidle")
            for fold in page.locator("summary:visible").all():
                fold.click()
            assert page.locator("img").count() >= (0 if "key" in file.name else 5), file.name
            assert page.evaluate("[...document.images].every(one => one.naturalWidth > 0)"), file.name
            page.close()
    finally:
        browser.set_offline(False)
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert [url for url in asked if url.startswith("file:")] == [file.as_uri() for file in files]


def test_each_student_has_tasks_of_their_own_on_paper(files):
    tasks, key = (file.read_text("utf-8") for file in files[1:])
    first, second = tasks.split("break-before: page")
    assert "Kim (kim)" in first and "Jo (jo)" in second
    assert first.count("Task 02.") == second.count("Task 02.") >= 7 and first.partition("</h1>")[2] != second
    for student in ("kim", "jo"):
        right = answered(personal(SOURCE, student), "02", student, "perfect")
        value = float(read_submission(nbformat.writes(right).encode(), SOURCE).answers["02.1"].split()[0])
        assert f"= {value:.1f} mm" in key, student


def test_the_class_is_printed_in_one_go_on_the_paper_that_is_asked_for(files):
    """Tasks and key are PDFs of A4; of thirty sheets none is blank, so two students have as many pages each."""
    for file, most in zip(files[1:], (4, 2), strict=True):
        raw = file.with_suffix(".pdf").read_bytes()
        sides = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", raw)
        assert {(round(float(w)), round(float(h))) for w, h in sides} == {(595, 842)}
        assert len(sides) % 2 == 0 and len(sides) <= 2 * most


def test_without_a_browser_the_class_gets_pages_to_print_and_is_told_so(files, monkeypatch, capsys):
    monkeypatch.setattr(course, "find_browser", lambda: None)
    assert main(["print", str(files[0].parent), "02", "--paper", "Letter"]) == 0
    assert "open both in the browser that you have, and print from there" in capsys.readouterr().out
    assert "size: Letter" in files[1].read_text("utf-8")
