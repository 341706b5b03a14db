"""How the benchmarks measure: the least processor time of some runs, because the machine is shared."""

from __future__ import annotations

import os
import time
from collections.abc import Callable

#: How much longer a test may take while coverage is measured (`make coverage`): every line is counted meanwhile.
WATCHED = 4 if "COVERAGE_PROCESS_CONFIG" in os.environ else 1


def least(work: Callable[[], object], repeats: int = 3) -> float:
    """Seconds of processor time."""
    times = []
    for _ in range(repeats):
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return min(times)


def paces(work: Callable[[], object]) -> float:
    """How often the machine could have built 100,000 small dictionaries in the processor time that `work` takes.

    Both take longer on a slow machine, and where others run beside, so that a bound in paces holds where one in seconds
    does not. A pace is 0.02 s on an idle machine, 0.04 beside two other processes.
    """
    before = pace()
    took = least(work, 1)
    return took / min(before, pace())


def pace() -> float:
    """What a pace takes now, in seconds of processor time."""
    return least(_small_dictionaries, 5)


def _small_dictionaries() -> None:
    small = dict.fromkeys("abcdefghijklmnopqrst", 0)
    for number in range(100_000):
        small = {**small, "a": number}
