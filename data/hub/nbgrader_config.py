"""nbgrader's settings for everybody on the hub: where the exchange is, and which course."""

import os

c = get_config()  # noqa: F821
c.Exchange.root = os.environ.get("SUSGEO_EXCHANGE", "/usr/local/share/nbgrader/exchange")
c.CourseDirectory.course_id = "susgeo"
if os.environ.get("SUSGEO_STUDENT"):  # the hub's user, for students; whoever instructs sees all
    c.CourseDirectory.student_id = os.environ["SUSGEO_STUDENT"]
c.ExchangeCollect.check_owner = False  # the system's user says nothing here
c.Validator.validate_all = False
