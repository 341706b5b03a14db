"""What the processes of `tests/proof_yard.py` hold, and whether it grows."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from scipy.stats import t as student

#: Each process by what is found in its command line; what has none of these is the conversation and the sound itself.
ROLES = {"vosk_worker": "Vosk ear", "third_opinion": "third opinion", "patient_ears": "encoder ear"}
BLOCKS = 4  # so many means of memory can a line be laid through


def held() -> dict[str, Any]:
    """Memory in MB of this program and its helpers, together ("MB") and each; open files; processes.

    Each by its share of all that is in memory (PSS), and what is its own (anonymous). The share of a library or a
    network that others map too hangs on how many others there are: it rises when one of them ends, and no memory grew.
    """
    pids = list(_family(os.getpid()))
    each: dict[str, float] = {}
    own: dict[str, float] = {}
    for pid in pids:
        role, memory = _role(pid), _memory(pid)
        each[role] = each.get(role, 0.0) + memory["Pss"] / 1024
        own[role] = own.get(role, 0.0) + memory["Anonymous"] / 1024
    files = sum(len(list(Path(f"/proc/{pid}/fd").iterdir())) for pid in pids)
    return {"MB": sum(each.values()), "each": each, "own": own, "files": files, "processes": len(pids)}


def _role(pid: int) -> str:
    line = Path(f"/proc/{pid}/cmdline").read_text("utf-8", "replace")
    return next((role for word, role in ROLES.items() if word in line), "conversation")


def _family(pid: int) -> Iterator[int]:
    yield pid
    for child, parent in _parents().items():
        if parent == pid:
            yield from _family(child)


def _parents() -> dict[int, int]:
    """Every process with its parent; one that ends meanwhile is left out."""
    found = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            found[int(stat.parent.name)] = int(stat.read_text("utf-8").rpartition(")")[2].split()[1])
    return found


def _memory(pid: int) -> dict[str, int]:
    """kB by what they are (proc(5): smaps_rollup)."""
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()[1:]
    return {name: int(value.split()[0]) for name, _, value in (line.partition(":") for line in lines)}


class Growth(NamedTuple):
    """Growth an hour of sound, half the width of its 95 % interval, and the means that it is laid through."""

    slope: float
    wide: float
    blocks: int

    def __str__(self) -> str:
        return f"{self.slope:+.1f} ({self.slope - self.wide:+.1f} to {self.slope + self.wide:+.1f})"


def growth(values: list[float], chunk: float, block: int) -> Growth | None:
    """The slope of a line through the means of so many looks each, `chunk` seconds of sound apart (least squares).

    Memory stays for a while where it is, so looks beside one another say much the same, and an interval that took each
    for a finding of its own would be too narrow; means of `block` looks are nearly free of that. None where there are
    too few of them.
    """
    count = len(values) // block
    if count < BLOCKS:
        return None
    means = np.array(values[len(values) - count * block :]).reshape(count, block).mean(axis=1)
    at = (np.arange(count) - (count - 1) / 2) * block * chunk / 3600
    slope = float(at @ means / (at @ at))
    left = means - means.mean() - slope * at
    error = np.sqrt(np.sum(left**2) / (count - 2) / (at @ at))
    return Growth(slope, float(error * student.ppf(0.975, count - 2)), count)
