"""The step that nbgrader's autograde takes first in a course of ours: answers only, none of the student's code."""

from pathlib import Path
from typing import Any

import nbformat
from nbformat import NotebookNode
from nbgrader.preprocessors import NbGraderPreprocessor

from .assignment import marking_sheet
from .submission import read_submission


class AnswersOnly(NbGraderPreprocessor):  # type: ignore[misc]
    """Replaces a submission by the marking sheet with its answers. If it fails, nothing is run."""

    def preprocess(self, nb: NotebookNode, resources: dict[str, Any]) -> tuple[NotebookNode, dict[str, Any]]:
        about = resources["nbgrader"]
        path = Path("source") / about["assignment"] / f"{about['notebook']}.ipynb"
        source = nbformat.read(path, as_version=4)
        submission = read_submission(nbformat.writes(nb).encode("utf-8", "replace"), source)
        return marking_sheet(source, about["student"], submission.answers, submission.notes), resources
