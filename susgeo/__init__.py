"""Where the Lines Meet: suspension geometry of live-axle cars, from points, lines, join and meet.

This file must stay importable, and readable by an old Python, without any package installed: the launcher
(``python -m susgeo course``) runs it before it has installed anything.
"""

__version__ = "0.1.0"
