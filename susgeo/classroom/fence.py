"""A second fence around the marking: limits on memory, time, files and writing, as far as the system has them.

The first fence is that no student's code is run (:mod:`susgeo.classroom.submission`). This one holds should a
written answer find a fault in the parsers: the process that checks it cannot fill the memory or the disk, run
for ever, or change a file outside its own scratch folder. No administrator is needed.

Not covered: reading files; on macOS memory, writing and the network; on Windows anything but nbgrader's time
limit for each cell. On Linux writing is closed from kernel 5.13 (Landlock) and new TCP connections from 6.7,
where the system has Landlock switched on; UDP stays open, and so do threads that ran before. A hub should
mark in a container without a network, as the instructor's guide shows.
"""

import ctypes
import os
import struct
import sys
import tempfile
from pathlib import Path

MEMORY = 1_000_000_000
"""Bytes that a process may take beyond what it has."""
SECONDS = 600
"""Seconds of computing that a process may take beyond what it has."""
FILE_SIZE = 50_000_000

# From the kernel's <linux/landlock.h>; the numbers of the calls are the same on every processor of today.
CREATE_RULESET, ADD_RULE, RESTRICT_SELF = 444, 445, 446
WRITE_FILE, REFER, TRUNCATE = 1 << 1, 1 << 13, 1 << 14
REMOVE_OR_MAKE = sum(1 << bit for bit in range(4, 13))
"""To remove folders and files, and to make files of every kind: two rights and seven, one after the other."""
BIND_TCP, CONNECT_TCP = 1, 2
NO_NEW_PRIVILEGES = 38


def fence_in(
    memory: int = MEMORY, seconds: int = SECONDS, file_size: int = FILE_SIZE, scratch: str | None = None
) -> frozenset[str]:
    """Put limits on this process for the rest of its life; return which ones hold.

    Args:
        memory, seconds: what it may take beyond what it has; bytes, and seconds of computing.
        file_size: the largest file that it may write, in bytes.
        scratch: the only folder where it may write; a new one if left out.

    Returns:
        those of "memory", "time", "files", "writing" and "network" that this system holds to.
    """
    folder = scratch or tempfile.mkdtemp(prefix="susgeo-marking-")
    tempfile.tempdir = folder
    return frozenset(_resources(memory, seconds, file_size) | _landlock(folder))


def _resources(memory: int, seconds: int, file_size: int) -> set[str]:
    if sys.platform == "win32":
        return set()
    import resource
    import signal

    used = resource.getrusage(resource.RUSAGE_SELF)
    limits = {
        "time": (resource.RLIMIT_CPU, int(used.ru_utime + used.ru_stime) + seconds),
        "files": (resource.RLIMIT_FSIZE, file_size),
    }
    statm = Path("/proc/self/statm")
    if statm.exists():  # macOS accepts a limit on memory and does not hold to it
        taken = int(statm.read_text("ascii").split()[0]) * resource.getpagesize()
        limits["memory"] = resource.RLIMIT_AS, taken + memory
    for which, limit in limits.values():
        _, hard = resource.getrlimit(which)
        resource.setrlimit(which, (limit if hard == resource.RLIM_INFINITY else min(limit, hard), hard))
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # too large a file is an error then, not the end
    return set(limits)


def _landlock(folder: str) -> set[str]:
    """Close all writing outside a folder, and new TCP connections, by Linux's Landlock."""
    if not sys.platform.startswith("linux"):
        return set()
    libc = ctypes.CDLL(None, use_errno=True)
    version = libc.syscall(CREATE_RULESET, None, 0, 1)
    if version < 1:
        return set()
    writing = WRITE_FILE | REMOVE_OR_MAKE | (REFER if version >= 2 else 0) | (TRUNCATE if version >= 3 else 0)
    network = BIND_TCP | CONNECT_TCP if version >= 4 else 0
    attributes = struct.pack("=QQ", writing, network)  # struct landlock_ruleset_attr
    rules = libc.syscall(CREATE_RULESET, attributes, 16 if version >= 4 else 8, 0)
    if rules < 0:
        return set()
    try:
        for path, rights in ((folder, writing), (os.devnull, writing & (WRITE_FILE | TRUNCATE))):
            place = os.open(path, os.O_PATH | os.O_CLOEXEC)
            try:
                rule = struct.pack("=Qi", rights, place)  # struct landlock_path_beneath_attr
                if libc.syscall(ADD_RULE, rules, 1, rule, 0) != 0:
                    return set()
            finally:
                os.close(place)
        if libc.prctl(NO_NEW_PRIVILEGES, 1, 0, 0, 0) != 0 or libc.syscall(RESTRICT_SELF, rules, 0) != 0:
            return set()
    finally:
        os.close(rules)
    return {"writing", "network"} if network else {"writing"}
