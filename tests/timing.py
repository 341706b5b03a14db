"""How the benchmarks measure: the least processor time of some runs, because the machine is shared."""

from __future__ import annotations

import time
from collections.abc import Callable


def least(work: Callable[[], object], repeats: int = 3) -> float:
    """Seconds of processor time."""
    times = []
    for _ in range(repeats):
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return min(times)
