"""The front door: ``python -m susgeo course`` opens the course, ``python -m susgeo test`` runs the tests.

Any Python from 2.7 can run this file, so that an old one is told what is missing instead of failing on it.
"""

import sys

if sys.version_info < (3, 11):
    sys.exit(
        "The course needs Python 3.11 or newer; this is Python %d.%d (%s). Install a newer one, for example "
        "from python.org, and give the command again with it, for example: python3.12 -m susgeo course"
        % (sys.version_info[0], sys.version_info[1], sys.executable)
    )

from susgeo.start import main

sys.exit(main(sys.argv[1:]))
