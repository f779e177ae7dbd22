"""The instructor's commands: ``python -m susgeo class make COURSE``, and so on; started by the launcher."""

import sys
from pathlib import Path

from ..errors import SusgeoError
from .collect import collect
from .course import class_list, hand_out, make
from .glance import glance
from .marking import mark
from .names import master, masters, read_class
from .practice import hand_in_all, practice_class

USAGE = """\
python -m susgeo class practice COURSE          a made-up class of 30, to try everything: make, hand out, hand in
python -m susgeo class make COURSE LIST.csv 02  an nbgrader course for a class list, with lesson 02 (or more of them)
python -m susgeo class hand_out COURSE 02       each student's own copy, in COURSE/hand_out
python -m susgeo class collect COURSE 02 INBOX  take in what came: notebooks or zips in the folder INBOX
python -m susgeo class mark COURSE 02           mark it with nbgrader; start it again if it was stopped
python -m susgeo class look COURSE              marks, tasks and mistakes of the class, as text
A class list is a CSV file whose first line is id,first_name,last_name."""


def main(arguments: list[str]) -> int:
    """Carry out one command and return the exit status."""
    command, *rest = arguments or ["help"]
    try:
        if command == "practice" and len(rest) == 1:
            return _practice(Path(rest[0]))
        if command == "make" and len(rest) >= 3:
            made = make(Path(rest[0]), rest[2:], read_class(Path(rest[1])))
            print(
                f"Made {', '.join(path.parent.name for path in made)} in {rest[0]}. Next: hand_out {rest[0]} {rest[2]}"
            )
            return 0
        if command == "hand_out" and len(rest) == 2:
            files = hand_out(Path(rest[0]), rest[1])
            print(f"{len(files)} notebooks, one for each student, are in {files[0].parent}.")
            return 0
        if command == "collect" and len(rest) == 3:
            return _collect(Path(rest[0]), rest[1], Path(rest[2]))
        if command == "mark" and len(rest) == 2:
            done = mark(Path(rest[0]), rest[1], lambda line: print(line, flush=True))
            for student, why in done.failed.items():
                print(f"{student}: {why}", file=sys.stderr)
            print(
                f"Marked {len(done.now)}, marked before {len(done.before)}. All marks: {rest[0]}/grades.csv; each student's feedback: {rest[0]}/feedback"
            )
            return 1 if done.failed else 0
        if command == "look" and len(rest) == 1:
            seen = glance(rest[0])
            print(f"{seen.marks}\n\n{seen.tasks}\n\n{seen.mistakes}")
            return 0
    except SusgeoError as problem:
        print(problem, file=sys.stderr)
        return 1
    print(USAGE)
    return 0 if command in ("help", "-h", "--help") else 2


def _practice(course: Path) -> int:
    if (course / "nbgrader_config.py").exists() and not all("-" in name for name in class_list(course)):
        raise SusgeoError(f"{course.name} is a course already: give the practice class a folder of its own.")
    students, lesson = practice_class(), master("02").stem
    make(course, [lesson], students)
    hand_out(course, lesson)
    hand_in_all(course, lesson, students, course / "inbox")
    print(
        f"{len(students)} made-up students have handed in lesson 02, in {course / 'inbox'}; there are {len(masters())} lessons in all."
    )
    print(f"Next: python -m susgeo class collect {course} 02 {course / 'inbox'}")
    return 0


def _collect(course: Path, lesson: str, inbox: Path) -> int:
    arrivals = collect(course, lesson, inbox)
    for one in arrivals:
        for note in one.notes:
            print(f"{one.file}: {note}")
    taken = sorted({one.student for one in arrivals if one.counts})
    missing = sorted(set(class_list(course)) - set(taken))
    print(f"Taken in: {len(taken)}. Nothing came from: {', '.join(missing) or 'nobody'}.")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
