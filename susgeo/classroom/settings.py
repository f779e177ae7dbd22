"""nbgrader's settings for a course of ours; the course's own ``nbgrader_config.py`` calls :func:`settle` and may add to it."""

from typing import Any

SECONDS = 60
"""Time that the answer to one task may take."""


def settle(c: Any, timeout: int = SECONDS) -> None:
    """Set what the marking needs in nbgrader's configuration ``c``."""
    c.CourseDirectory.course_id = "susgeo"
    # Marks are given to the answers alone: none of the code in a submission is run.
    # What is left out of nbgrader's usual steps mends a student's cells; the sheet has none, and is ours throughout.
    c.Autograde.sanitize_preprocessors = ["susgeo.classroom.preprocessor.AnswersOnly"]
    c.Autograde.autograde_preprocessors = [
        "susgeo.classroom.preprocessor.RunSheet",
        "nbgrader.preprocessors.SaveAutoGrades",
        "nbgrader.preprocessors.AssignLatePenalties",
    ]
    c.RunSheet.timeout = c.Execute.timeout = timeout
    c.ClearSolutions.code_stub = {"python": ""}
    c.GenerateFeedback.exporter_class = "susgeo.classroom.feedback.FeedbackPage"
    c.GenerateFeedback.preprocessors = ["nbgrader.preprocessors.GetGrades"]
