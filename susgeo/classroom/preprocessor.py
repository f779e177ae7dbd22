"""The step that nbgrader's autograde takes first in a course of ours: answers only, none of the student's code."""

from pathlib import Path
from typing import Any

import nbformat
from nbformat import NotebookNode
from nbgrader.preprocessors import NbGraderPreprocessor

from .assignment import marking_sheet
from .submission import read_submission


class AnswersOnly(NbGraderPreprocessor):  # type: ignore[misc]
    """Replaces a submission by the marking sheet with its answers. If it fails, nothing is run.

    What else nbgrader has copied from the submission is taken away: the sheet is run in that folder, and a file
    called ``sympy.py`` there would be imported.
    """

    def preprocess(self, nb: NotebookNode, resources: dict[str, Any]) -> tuple[NotebookNode, dict[str, Any]]:
        about = resources["nbgrader"]
        source = nbformat.read(
            Path("source") / about["assignment"] / f"{about['notebook']}.ipynb", as_version=4
        )
        copied = Path("autograded") / about["student"] / about["assignment"]
        for path in copied.rglob("*"):
            if path.is_symlink() or (path.is_file() and path != copied / "timestamp.txt"):
                path.unlink()
        submission = read_submission(nbformat.writes(nb).encode("utf-8", "replace"), source)
        notes = submission.notes_for(about["student"])
        return marking_sheet(source, about["student"], submission.answers, notes), resources
