"""Work in a process of its own, forked from this one where the system can: all that is loaded here need not be loaded there."""

import multiprocessing
import os
import sys

WAY = multiprocessing.get_context("fork" if hasattr(os, "fork") else "spawn")


def apart(work, *given, said=os.devnull, mistakes=None):
    """Start work in a process of its own; what it says goes to a file, what it says of mistakes to another if one is named.

    A file is named by its path, or by the number under which it is open. The process ends with what the work returns.
    """
    process = WAY.Process(target=_apart, args=(work, given, said, mistakes))
    process.start()
    return process


def _apart(work, given, said, mistakes):
    for number, name in ((1, said), (2, said if mistakes is None else mistakes)):
        place = name if isinstance(name, int) else os.open(name, os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_TRUNC)
        os.dup2(place, number)
    sys.stdout, sys.stderr = (os.fdopen(n, "w", encoding="utf-8", buffering=1) for n in (1, 2))
    status = work(*given)
    sys.stdout.flush()
    sys.exit(status)
