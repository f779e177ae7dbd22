"""What is read out of a submission, and the check before handing in: answers as plain values, nothing run."""

import ast
import builtins
import hashlib
import json
import os
import shutil
import zipfile

import nbformat
import pytest

from susgeo import SusgeoError
from susgeo.answers import record
from susgeo.answers.calculation import library
from susgeo.answers.contents import titles
from susgeo.answers.lesson import Lesson
from susgeo.classroom.assignment import class_notebook, grade_id, marking_sheet, personal, points, with_answers
from susgeo.classroom.collect import collect
from susgeo.classroom.command import main
from susgeo.classroom.course import make, make_test, reason
from susgeo.classroom.handin import check_and_pack
from susgeo.classroom.marking import _tidy
from susgeo.classroom.names import Student, file_name, master, owner, read_class, valid_id
from susgeo.classroom.practice import answered, answers_of
from susgeo.classroom.submission import answers_in, normalized, read_submission

LESSON = "02_side_view"
SOURCE = class_notebook(master("02"))


def handed_in(student="kim", kind="perfect"):
    return answered(personal(SOURCE, student), "02", student, kind)


def raw(notebook):
    return json.dumps(notebook).encode()


def cell_of(notebook, role):
    return next(c for c in notebook.cells if c.metadata.get("nbgrader", {}).get("grade_id") == role)


@pytest.mark.parametrize("lesson", list(titles()))
def test_every_lesson_becomes_an_assignment_from_its_one_master(lesson):
    """nbgrader's documented metadata: schema_version 3; each id once; marks for every task in a locked cell."""
    notebook = class_notebook(master(lesson))
    nbformat.validate(notebook)
    roles = [cell.metadata.nbgrader for cell in notebook.cells if "nbgrader" in cell.metadata]
    assert all(role.schema_version == 3 for role in roles)
    assert len({role.grade_id for role in roles}) == len(roles)
    assert 'who("")' in cell_of(notebook, "identity").source
    keys = [key for key, task in library()[1].items() if task.lesson == lesson]
    for key in keys:
        answer, worth = cell_of(notebook, grade_id("answer", key)), cell_of(notebook, grade_id("marks", key))
        assert answer.metadata.nbgrader.solution and not answer.metadata.nbgrader.grade
        assert worth.metadata.nbgrader.grade and worth.metadata.nbgrader.locked
        assert worth.metadata.nbgrader.points == points(key)
    words = {cell.source for cell in nbformat.read(master(lesson), as_version=4).cells if cell.cell_type != "code"}
    told = {cell.source for cell in notebook.cells if cell.cell_type != "code"}
    assert len(words - told) <= 1  # no second copy of any text: the master's own words
    assert not any(".solution(" in cell.source for cell in notebook.cells)


@pytest.mark.parametrize("lesson", list(titles()))
def test_a_students_copy_lacks_nothing_that_its_cells_use(lesson):
    """Worked solutions are left out of it; no other cell may need what they defined, or a path of the master's."""
    code = [ast.parse(c.source) for c in class_notebook(master(lesson)).cells if c.cell_type == "code"]
    nodes = [node for tree in code for node in ast.walk(tree)]
    defined = {node.id for node in nodes if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load)}
    defined |= {
        (alias.asname or alias.name).partition(".")[0]
        for node in nodes
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    defined |= {node.name for node in nodes if isinstance(node, ast.ExceptHandler)}
    defined |= {node.arg for node in nodes if isinstance(node, ast.arg)}
    defined |= {node.name for node in nodes if isinstance(node, ast.FunctionDef)}
    used = {node.id for node in nodes if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)}
    assert used - defined - set(dir(builtins)) <= {"display"}  # which IPython has by itself
    texts = [n.value for n in nodes if isinstance(n, ast.Constant) and isinstance(n.value, str)]
    assert not any("../data" in text for text in texts)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ('lesson.check(1, "1782,6 mm")', "1782,6 mm"),
        ("lesson.check(1, -3.5)", -3.5),
        ("lesson.check(1, 1500 + 282.6)", 1782.6),
        ('x = "1.78 m"\nlesson.check(1, x)', "1.78 m"),
        ('lesson.check("02.1", """\n12 mm\n""")', "\n12 mm\n"),
        ("lesson.check(1, 1782.6 mm)", "1782.6 mm"),  # no Python; what stands in the call counts
        ('answer = lesson.check(1, {"z": 3})', {"z": 3}),
    ],
)
def test_answers_are_read_as_plain_values(text, value):
    assert answers_in(text, "02") == [("02.1", value, "")]


def test_the_last_answer_counts_and_the_answers_own_cell_before_any_other():
    first = handed_in()
    cell = cell_of(first, grade_id("answer", "02.1"))
    cell.source = 'lesson.check(1, "1 mm")\nlesson.check(1, "2 mm")'
    other = nbformat.v4.new_code_cell('lesson.check(1, "3 mm")')
    first.cells.append(other)
    assert read_submission(raw(first), SOURCE).answers["02.1"] == "2 mm"
    cell.source = ""
    assert read_submission(raw(first), SOURCE).answers["02.1"] == "3 mm"
    again = nbformat.from_dict({**other, "source": 'lesson.check(1, "4 mm")', "metadata": cell.metadata})
    first.cells.append(again)
    assert read_submission(raw(first), SOURCE).answers["02.1"] == "4 mm"


@pytest.mark.parametrize(
    "code",
    [
        "open('x').read()",
        "__import__('os').getcwd()",
        "[1 for _ in range(9)][0]",
        "(lambda: 1)()",
        "10**9",
        "f'{1}'",
        "a.b",
    ],
)
def test_an_answer_that_is_code_is_not_run(code):
    ((key, value, problem),) = answers_in(f"lesson.check(1, {code})", "02")
    assert key == "02.1" and value is None and "which is not run" in problem


def test_no_answer_keeps_the_marking_busy():
    """Texts that would grow without end if they were worked out; each is done with at once."""
    doubling = "\n".join(["x0 = 1", *(f"x{n + 1} = x{n} + x{n}" for n in range(60)), "lesson.check(1, x60)"])
    for text in (
        doubling,
        "lesson.check(1, " + "-" * 15_000 + "1)",
        "lesson.check(1, " + "(" * 9_000 + "1" + ")" * 9_000 + ")",
        "lesson.check(1, " + "9*" * 9_000 + "9)",
        "lesson.check(1," * 1_300,
    ):
        assert all(not isinstance(value, float) for _, value, _ in answers_in(text, "02"))
    notebook = handed_in()
    cell_of(notebook, "answer-02-1").source = "lesson.check(1, '5') #" + "x" * 30_000
    found = read_submission(raw(notebook), SOURCE)
    assert "02.1" not in found.answers and "has more than" in found.notes[0]


def test_what_a_student_writes_cannot_run_in_the_page_of_the_feedback():
    notebook = handed_in()
    cell_of(notebook, "identity").source = 'student = who("<script>alert(1)</script>")'
    notebook.metadata.susgeo["damage"] = "<script>alert(2)</script>"
    found = read_submission(raw(notebook), SOURCE)
    first = marking_sheet(SOURCE, "kim", found.answers, found.notes_for("kim")).cells[0].source
    assert "not valid" in first and "<" not in first and "alert2" not in first


def test_what_is_laid_before_nbgrader_stays_as_it_is_when_laid_again():
    for content in (raw(handed_in()), b"{", b'{"cells": []}', b" " * 60_000_001):
        once = nbformat.writes(normalized(content, SOURCE))
        assert nbformat.writes(normalized(once.encode(), SOURCE)) == once
        nbformat.validate(nbformat.reads(once, as_version=4))
        told = read_submission(content, SOURCE)
        assert read_submission(once.encode(), SOURCE).notes == told.notes
        assert read_submission(once.encode(), SOURCE).answers == told.answers


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"null", b'{"cells": 3}', b'{"cells": [1]}', b"\xff\xfe\x00", b"[" * 100_000, b'{"cells": [{}]}',
     b'{"cells": [{"source": ["a", 3], "metadata": []}]}', b"PK\x03\x04 no zip"],
)  # fmt: skip
def test_a_damaged_file_is_said_to_be_one_and_stops_nothing(content):
    found = read_submission(content, SOURCE)
    assert found.answers == {} and (found.notes or found.readable)


def test_what_is_missing_or_altered_is_said():
    notebook = handed_in()
    whole = read_submission(raw(notebook), SOURCE)
    assert whole.student == "kim" and whole.notes == () and len(whole.answers) == 7
    for kind, words in (
        ("lost cell", "the answer's cell is missing"),
        ("twice", "is there 2 times"),
        ("altered", "was altered; the original is used"),
        ("nameless", "whose notebook this is is missing"),
    ):
        assert any(words in note for note in read_submission(raw(handed_in(kind=kind)), SOURCE).notes), kind
    cell_of(notebook, "identity").source = 'student = who("eve")'
    told = read_submission(raw(notebook), SOURCE)
    assert told.student == "eve" and "handed out to kim" in told.notes[0]


def test_the_check_before_handing_in(tmp_path):
    path = tmp_path / file_name(LESSON, "kim")
    with pytest.raises(SusgeoError, match="There is no file 02_side_view--kim.ipynb"):
        check_and_pack(LESSON, "kim", tmp_path)
    path.write_bytes(raw(handed_in(kind="half")))
    said = check_and_pack(LESSON, "kim", tmp_path).text
    assert "earns 11 of 18 marks" in said and "Still open: 02.2, 02.4, 02.6." in said
    with zipfile.ZipFile(tmp_path / "02_side_view--kim.zip") as archive:
        assert archive.read(path.name) == path.read_bytes()
    path.write_bytes(raw(handed_in("eve")))
    assert "it is eve's, and so shows other figures; those of kim" in check_and_pack(LESSON, "kim", tmp_path).text
    path.write_bytes(raw(handed_in(kind="lost cell")))
    assert "the answer's cell is missing" in check_and_pack(LESSON, "kim", tmp_path).text


def test_names_are_safe_on_every_system():
    assert valid_id(" Kim.7 ") == "kim.7"
    for bad in ("", "a b", "con", "nul.txt", "../x", "a--b", "x" * 60, "é", "a.", "com1"):
        with pytest.raises(SusgeoError):
            valid_id(bad)
    assert owner("02_side_view--kim - Copy.ipynb") == ("02_side_view", "kim")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name\nkim\n", "no column id"),
        ("id\nkim\nKim\n", "line 3: the id kim is there twice"),
        ("id\na b\n", "line 2: 'a b' cannot be"),
    ],
)
def test_a_class_list_with_a_fault_gets_a_sentence(tmp_path, text, words):
    (tmp_path / "list.csv").write_text(text, "utf-8")
    with pytest.raises(SusgeoError, match=words):
        read_class(tmp_path / "list.csv")


def test_a_spreadsheets_class_list_is_read(tmp_path):
    (tmp_path / "list.csv").write_bytes("\ufeffid;first_name;last_name\r\nKim;Kim;Lee\r\n".encode())
    assert [(s.id, s.name) for s in read_class(tmp_path / "list.csv")] == [("kim", "Kim Lee")]


def test_the_commands_say_what_is_wrong_in_a_sentence(tmp_path, capsys):
    assert main([]) == 0 and "class make COURSE" in capsys.readouterr().out
    assert main(["nonsense"]) == 2
    (tmp_path / "list.csv").write_text("id\nkim\n", "utf-8")
    for words, said in (
        (["make", str(tmp_path / "c"), str(tmp_path / "none.csv"), "02"], "There is no class list none.csv"),
        (["make", str(tmp_path / "c"), str(tmp_path / "list.csv"), "77"], "There is no lesson 77"),
        (["mark", str(tmp_path), "02"], "is no course: make one"),
        (["look", str(tmp_path)], "is no course: make one"),
    ):
        assert main(words) == 1
        assert said in capsys.readouterr().err
    assert main(["make", str(tmp_path / "c"), str(tmp_path / "list.csv"), "02"]) == 0
    assert main(["collect", str(tmp_path / "c"), "02", str(tmp_path / "nowhere")]) == 1
    assert "no folder nowhere" in capsys.readouterr().err


def test_what_nbgrader_says_when_it_fails_becomes_a_sentence():
    """As its converters log it: the trace indented, and a last word that points to it."""
    last = "nbgrader.converters.base.NbGraderException: Please see the the above traceback for details"
    said = f"Traceback (most recent call last):\n{last}\n[ERROR] Traceback\n    OSError: [Errno 28] No space left on device: 'x'"
    assert reason({"log": said}) == "[Errno 28] No space left on device: 'x'"
    assert reason({"error": last}) == "it did not say why"


# Answers typed into boxes


@pytest.mark.skipif(os.name != "posix", reason="Windows makes links for administrators only, and no pipes in folders")
def test_a_link_or_a_pipe_under_a_students_name_is_neither_copied_nor_waited_for(tmp_path):
    course, inbox, secret = tmp_path / "course", tmp_path / "inbox", tmp_path / "secret.txt"
    make(course, ["02"], [Student("kim"), Student("jo")])
    inbox.mkdir()
    secret.write_text("the instructor's own")
    (inbox / file_name(LESSON, "kim")).symlink_to(secret)
    os.mkfifo(inbox / file_name(LESSON, "jo"))
    found = collect(course, "02", inbox)
    assert [(one.student, one.counts, one.notes[0]) for one in found] == [
        (s, False, "Not taken.") for s in ("jo", "kim")
    ]
    assert all("link or no ordinary file" in one.notes[1] for one in found)
    assert not list(course.glob("received/**/*.*")) and not list(course.glob("submitted/*"))


def boxed(folder, name, **answers):
    """A student's copy as it was handed out, with answers in the record beside it, as the boxes keep them."""
    (folder / name).write_bytes(raw(personal(SOURCE, "kim")))
    for number, answer in answers.items():
        record.keep("kim", f"02.{number[1:]}", answer, "draft", folder)
    return folder / name


def test_what_was_typed_into_boxes_is_packed_into_the_answer_cells(tmp_path):
    name = file_name(LESSON, "kim")
    place = boxed(tmp_path, name, t1='70 1/8"', t5="s_L = 1\ns_U = 'x'", t6="z_UC = 17 in")
    record.keep("kim", "02.1", '71"', "wrong", tmp_path)  # the last one counts
    record.keep("ada", "02.2", "388", "right", tmp_path)  # another student's, on the same machine
    before = place.read_bytes()
    page = check_and_pack(LESSON, "kim", tmp_path)
    assert place.read_bytes() == before
    packed = zipfile.ZipFile(tmp_path / file_name(LESSON, "kim", "zip")).read(name)
    found = read_submission(packed, SOURCE)
    assert found.answers == {"02.1": '71"', "02.5": "s_L = 1\ns_U = 'x'", "02.6": "z_UC = 17 in"}
    assert found.notes == ()
    assert "Still open: 02.2, 02.3, 02.4, 02.7." in page.text


def test_an_answer_in_the_cell_itself_goes_before_the_box(tmp_path):
    notebook = personal(SOURCE, "kim")
    cell_of(notebook, "answer-02-1").source = 'lesson.check(1, "1700 mm")'
    own = read_submission(with_answers(raw(notebook), {"02.1": "5", "02.2": "6"}), SOURCE)
    assert own.answers == {"02.1": "1700 mm", "02.2": "6"}


def test_what_a_hub_collects_is_marked_with_what_was_typed_into_the_boxes(tmp_path):
    """There the notebook comes as it is saved, without the packing, and the record beside it."""
    folder = tmp_path / "submitted" / "kim" / LESSON
    folder.mkdir(parents=True)
    boxed(folder, f"{LESSON}.ipynb", t1="1700 mm", t2="388 mm")
    for _ in range(2):  # the second time nothing is left to do
        _tidy(tmp_path, "kim", LESSON, SOURCE)
        laid = (folder / f"{LESSON}.ipynb").read_bytes()
        assert read_submission(laid, SOURCE).answers == {"02.1": "1700 mm", "02.2": "388 mm"}
    assert len(list((tmp_path / "received" / LESSON).iterdir())) == 1


@pytest.mark.parametrize("damaged", [b"", b"[]", b"{", b'{"cells": [1, {"metadata": 3}]}', b"\xff\xfe{}"])
def test_a_damaged_notebook_is_packed_as_it_is(damaged):
    assert with_answers(damaged, {"02.1": "5"}) == damaged


def test_a_class_copy_offers_no_worked_solution_and_a_box_for_each_task():
    sources = [cell.source for cell in SOURCE.cells if cell.cell_type == "code"]
    assert any("solutions=False" in source for source in sources)
    assert [f"lesson.task({number})" in sources for number in range(1, 8)] == [True] * 7


# A test: no verdicts and no solutions in the student's hands


def test_a_test_says_no_verdict_and_opens_no_solution_without_the_instructors_file(tmp_path):
    course, desk = tmp_path / "course", tmp_path / "desk"
    make(course, ["02"], [Student("kim")])
    key = make_test(course, "02")
    seal = hashlib.sha256(key.read_bytes().strip()).hexdigest()
    make(course, ["02"], [Student("kim"), Student("jo")])  # a late joiner does not break it
    sealed = nbformat.read(course / "source" / LESSON / f"{LESSON}.ipynb", as_version=4)
    assert f'solutions=False, test="{seal}"' in "".join(cell.source for cell in sealed.cells)
    sheet = marking_sheet(sealed, "kim", {}).cells
    assert seal not in "".join(cell.source for cell in sheet)

    desk.mkdir()
    mine = Lesson("02", "kim", folder=str(desk), solutions=False, test=seal)
    said = {str(mine.check(1, answer)) for answer in ("1 mm", answers_of("02", "kim", "perfect")["02.1"])}
    assert said == {"02.1 Kept. This is a test: your instructor marks it."}
    assert mine.check(1, "so and so").kind == "unreadable" and mine.check(2).kind == "blank"
    box = mine.task(2)
    offered = [button.description for button in box.children[-4].children]
    assert offered == ["Check"]
    next(iter(box.boxes.values())).value = "388 mm"
    assert "Right" not in box.verdict.value and "Kept" in box.verdict.value
    boxed(desk, file_name(LESSON, "kim"))
    assert "This is a test" in (told := check_and_pack(LESSON, "kim", desk)).text and "right" not in told.page
    for other in (mine, Lesson("02", student="kim", folder=str(desk))):  # also where a page of one's own is opened
        with pytest.raises(SusgeoError, match="is a test: its solutions open once"):
            other.solution(1)
    assert Lesson("02", student="kim", folder=str(desk)).check(1, "1 mm").kind == "kept"
    assert Lesson("03", student="kim", folder=str(desk)).solution(1).lines

    (desk / f"{LESSON}--solutions (1).txt").write_text("not the key", "utf-8")
    assert mine.sealed
    shutil.copy(key, desk / f"{LESSON}--solutions.txt")
    assert mine.solution(1).lines and mine.check(1, "1 mm").kind == "wrong"
    assert [button.description for button in mine.task(2).children[-4].children][-1] == "Worked solution"
