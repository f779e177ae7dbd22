"""The front door: ``python -m susgeo course`` opens the course, ``python -m susgeo test`` runs the tests.

Any Python from 3.6 can read this file, so that an old one is told what is missing instead of failing on it.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036
    found = f"{sys.version_info[0]}.{sys.version_info[1]} ({sys.executable})"
    sys.exit(
        f"The course needs Python 3.11 or newer; this is Python {found}. Install a newer one, for example "
        "from python.org, and give the command again with it, for example: python3.12 -m susgeo course"
    )

from susgeo.start import main

sys.exit(main(sys.argv[1:]))
