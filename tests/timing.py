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
