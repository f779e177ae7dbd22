"""Writing car files."""

import math
from pathlib import Path
from typing import Any

from ..errors import CarFileError
from ..files import write_whole
