"""The steps that nbgrader's autograde takes in a course of ours: answers only, none of the student's code."""

from pathlib import Path
from typing import Any

import nbformat
from nbformat import NotebookNode
from nbgrader.preprocessors import Execute, NbGraderPreprocessor

from .assignment import marking_sheet
from .running import can_fork, run_sheet
from .submission import read_submission

KEPT = ("timestamp.txt", "submission_secret.txt")
"""What nbgrader itself lays beside a submission; without the second a hub gives no feedback back."""


class AnswersOnly(NbGraderPreprocessor):  # type: ignore[misc]
    """Replaces a submission by the marking sheet with its answers. If it fails, nothing is run.

    What else nbgrader has copied from the submission is taken away: the sheet is run in that folder, and a file
    called ``sympy.py`` there would be imported.
    """

    def preprocess(self, nb: NotebookNode, resources: dict[str, Any]) -> tuple[NotebookNode, dict[str, Any]]:
        about = resources["nbgrader"]
        source = nbformat.read(Path("source") / about["assignment"] / f"{about['notebook']}.ipynb", as_version=4)
        copied = Path("autograded") / about["student"] / about["assignment"]
        for path in copied.rglob("*"):
            own = path.parent == copied and path.name in KEPT and not path.is_symlink()
            if path.is_symlink() or (path.is_file() and not own):
                path.unlink()
        submission = read_submission(nbformat.writes(nb).encode("utf-8", "replace"), source)
        notes = submission.notes_for(about["student"], named=False)
        return marking_sheet(source, about["student"], submission.answers, notes), resources


class RunSheet(Execute):  # type: ignore[misc]
    """Runs the marking sheet: in a process forked from this one where the system can, else in a kernel."""

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any], *more: Any, **others: Any
    ) -> tuple[NotebookNode, dict[str, Any]]:
        if not can_fork():
            return super().preprocess(nb, resources, *more, **others)
        run_sheet(nb, float(self.timeout or 60))
        return nb, resources
