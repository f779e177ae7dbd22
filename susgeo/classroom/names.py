"""Names of students and of files: the same on every system, and impossible to mix up.

A file handed out or in is called ``LESSON--STUDENT.ipynb``, as in ``02_side_view--kim.ipynb``.
"""

import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from ..answers.contents import NOTEBOOKS, titles
from ..errors import SusgeoError

LONGEST = 40
ID = re.compile(r"[a-z0-9]([a-z0-9._@-]*[a-z0-9])?")
DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
"""File names that Windows keeps for itself, with any ending."""
FILE = re.compile(
    r"(?P<lesson>\d\d_\w+?)--(?P<student>.+?)(?:-Copy\d+|[ _-]*\(\d+\)| - Copy)*\.(?P<kind>ipynb|zip|json|ipynb\.txt|rar|tar\.gz|tgz|7z)",
    re.I,
)
"""The name of a file, with what JupyterLab, browsers and Windows add to the name of a second copy."""


@dataclass(frozen=True, slots=True)
class Student:
    """One line of the class list: the id that names files and figures, and the name for people."""

    id: str
    first_name: str = ""
    last_name: str = ""
    email: str = ""

    @property
    def name(self) -> str:
        """First and last name; the id where neither is given."""
        return f"{self.first_name} {self.last_name}".strip() or self.id


def valid_id(text: object) -> str:
    """Return a student's id as it is used everywhere, in small letters; an error says what an id may be.

    >>> valid_id(" Kim.7 ")
    'kim.7'
    """
    name = str(text).strip().lower()
    if not name:
        expected = "write it, as it is on the class list, between the quotation marks"
        raise SusgeoError(f"The student's id is missing: {expected}.")
    if not ID.fullmatch(name) or "--" in name or ".." in name or len(name) > LONGEST:
        raise SusgeoError(
            f"{name[:LONGEST]!r} cannot be a student's id: it has 1 to {LONGEST} of the letters a to z, digits, "
            "and single . _ - @ between them, since files are named by it."
        )
    if name.partition(".")[0] in DEVICES:
        raise SusgeoError(f"{name!r} cannot be a student's id: Windows allows no file of that name.")
    return name


def master(lesson: str) -> Path:
    """Return the notebook of a lesson, given as "02" or by its whole name."""
    if not titles():
        mend = "install it from the course's folder, pip install -e"
        raise SusgeoError(f"The lessons are not beside the library: {mend}.")
    path = next((NOTEBOOKS / file for number, (file, _) in titles().items() if number == lesson[:2]), None)
    if path is None or lesson not in (path.name[:2], path.stem):
        raise SusgeoError(f"There is no lesson {lesson}; there are {', '.join(titles())}.")
    return path


def as_id(text: str) -> str:
    """Return a student's id as it is used everywhere, or "" where a text cannot be one."""
    try:
        return valid_id(text)
    except SusgeoError:
        return ""


def file_name(assignment: str, student: str, kind: str = "ipynb") -> str:
    """Return the name of a file that is handed out or in.

    >>> file_name("02_side_view", "kim")
    '02_side_view--kim.ipynb'
    """
    return f"{assignment}--{student}.{kind}"


def owner(path: str) -> tuple[str, str]:
    """Return the lesson and the student that a file's name tells; empty where it does not.

    >>> owner("in/02_side_view--Kim (1).ipynb"), owner("homework.ipynb")
    (('02_side_view', 'kim'), ('', ''))
    """
    match = FILE.fullmatch(PurePosixPath(path[-600:].replace("\\", "/")).name[-300:])
    return (match["lesson"].lower(), as_id(match["student"])) if match else ("", "")


HEADINGS = {
    "id": ("id", "id number", "idnumber", "student id", "student number", "username", "user name", "login id"),
    "first_name": ("first_name", "first name", "given name"),
    "last_name": ("last_name", "last name", "surname", "family name"),
    "email": ("email", "email address", "e-mail", "e-mail address"),
}
"""What the columns of a class list may be called, in small or capital letters; the first that is there counts."""


def read_class(path: Path) -> list[Student]:
    """Read a class list: a CSV file with a column ``id``, and ``first_name``, ``last_name``, ``email`` if wanted.

    Tables saved by a spreadsheet are read too: with a byte-order mark, or with semicolons; and the headings that
    learning-management systems export (:data:`HEADINGS`).
    """
    if not path.is_file():
        mend = "save one as CSV, its first line id,first_name,last_name"
        raise SusgeoError(f"There is no class list {path.name}: {mend}.")
    try:
        text = path.read_text("utf-8-sig")
    except UnicodeDecodeError:
        raise SusgeoError(f"{path.name} is not in UTF-8: save the list as 'CSV UTF-8'.") from None
    except OSError as problem:
        raise SusgeoError(f"{path.name} cannot be read: {problem.strerror}.") from None
    head = text.partition("\n")[0]
    mark = max(",;\t", key=head.count)
    rows = list(csv.DictReader(text.splitlines(), delimiter=mark))
    there = {str(name).strip().strip('"').lower(): name for name in (rows[0] if rows else {})}
    columns = {field: next((there[name] for name in names if name in there), "") for field, names in HEADINGS.items()}
    if not columns["id"]:
        reads = head.strip()[:60]
        raise SusgeoError(f"{path.name} has no column id or ID number in its first line; it reads {reads!r}.")
    students: dict[str, Student] = {}
    for number, row in enumerate(rows, 2):
        try:
            name = valid_id(row[columns["id"]] or "")
        except SusgeoError as problem:
            raise SusgeoError(f"{path.name}, line {number}: {problem}") from None
        if name in students:
            raise SusgeoError(f"{path.name}, line {number}: the id {name} is there twice (capitals do not count).")
        students[name] = Student(name, *(harmless(row.get(columns[key]) or "") for key in list(HEADINGS)[1:]))
    return list(students.values())


def csv_text(rows: Iterable[Iterable[object]]) -> str:
    """Return rows as the text of a CSV file."""
    table = io.StringIO()
    csv.writer(table, lineterminator="\n").writerows(rows)
    return table.getvalue()


def harmless(text: str) -> str:
    """Return text that no spreadsheet takes for a formula, and that fits a cell without quotation marks.

    >>> harmless("=cmd|' /C calc'!A0"), harmless("O'Neil, Pat")
    ("cmd|' /C calc'!A0", "O'Neil  Pat")
    """
    return re.sub(r"[,\r\n\t]", " ", text).strip().lstrip("=+-@").strip()
