"""nbgrader's settings for a course of ours; the course's own ``nbgrader_config.py`` calls :func:`settle` and may add to it."""

from typing import Any

SECONDS = 60
"""Time that the answer to one task may take."""


def settle(c: Any, timeout: int = SECONDS) -> None:
    """Set what the marking needs in nbgrader's configuration ``c``."""
    c.CourseDirectory.course_id = "susgeo"
    # Marks are given to the answers alone: none of the code in a submission is run.
    c.Autograde.sanitize_preprocessors = [
        "susgeo.classroom.preprocessor.AnswersOnly",
        "nbgrader.preprocessors.ClearOutput",
        "nbgrader.preprocessors.DeduplicateIds",
        "nbgrader.preprocessors.OverwriteKernelspec",
        "nbgrader.preprocessors.OverwriteCells",
        "nbgrader.preprocessors.CheckCellMetadata",
    ]
    c.Autograde.autograde_preprocessors = [
        "susgeo.classroom.preprocessor.RunSheet",
        "nbgrader.preprocessors.IgnorePattern",
        "nbconvert.preprocessors.ClearMetadataPreprocessor",
        "nbgrader.preprocessors.LimitOutput",
        "nbgrader.preprocessors.SaveAutoGrades",
        "nbgrader.preprocessors.AssignLatePenalties",
        "nbgrader.preprocessors.CheckCellMetadata",
    ]
    c.LimitOutput.max_lines = 100_000  # pictures are long lines of text
    c.RunSheet.timeout = c.Execute.timeout = timeout
    c.ClearSolutions.code_stub = {"python": ""}
    c.GenerateFeedback.exporter_class = "susgeo.classroom.feedback.FeedbackPage"
    c.GenerateFeedback.preprocessors = ["nbgrader.preprocessors.GetGrades"]
