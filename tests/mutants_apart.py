"""Work in processes of its own: copies of this one, each with so much time, each telling one thing."""

from __future__ import annotations

import contextlib
import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence

AT_ONCE = int(os.environ.get("MUTANTS_AT_ONCE", os.cpu_count() or 1))
PATIENCE = 900.0  # seconds of the clock, for a fault that waits for ever; loops are ended by their processor time
#: What a process ended by a signal is "noticed" by.
ENDLESS = "it never ends"
NOT_FOUND = 77


_telling = -1  # in a process for one fault: where it tells which test noticed it


def tell(name: str) -> None:
    os.write(_telling, name.encode())


def at_once(works: Sequence[Callable[[], int]], limits: Sequence[int]) -> Iterator[tuple[int, int, str]]:
    """Runs each in a process of its own: number, how it ended, and what it told."""
    running: dict[int, tuple[int, int]] = {}
    waiting = list(range(len(works)))
    while waiting or running:
        while waiting and len(running) < AT_ONCE:
            number = waiting.pop(0)
            reading, writing = os.pipe()
            pid = forked(works[number], limits[number], writing)
            os.close(writing)
            running[pid] = (number, reading)
        pid, status = os.wait()
        if pid not in running:
            continue
        number, reading = running.pop(pid)
        with os.fdopen(reading, "rb") as pipe:
            told = pipe.read().decode()
        code = os.waitstatus_to_exitcode(status)
        yield number, code, told or (ENDLESS if code < 0 else "" if code in (0, NOT_FOUND) else "the tests broke")


def forked(work: Callable[[], int], seconds: int | None, telling: int = -1) -> int:
    """A copy of this process that does `work`, says nothing, and has so much processor time."""
    global _telling
    sys.stdout.flush()
    sys.stderr.flush()
    pid = os.fork()
    if pid:
        return pid
    code = 1
    with contextlib.suppress(BaseException):
        _telling = telling
        nothing = os.open(os.devnull, os.O_RDWR)
        for standard in (0, 1, 2):
            os.dup2(nothing, standard)
        if seconds is not None:
            spent = int(time.process_time())
            resource.setrlimit(resource.RLIMIT_CPU, (spent + seconds, spent + seconds + 5))
            signal.alarm(int(PATIENCE))
        code = work()
    os._exit(code)


def ended(pid: int) -> int:
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
