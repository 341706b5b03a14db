"""What is counted of a run: whole numbers that add up in any order, shares with intervals, two runs compared.

The tallies of two machines add up exactly. `scipy.stats` takes a second to load: it is asked only where two runs are
compared.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from statistics import NormalDist
from typing import Any

from callout.scoring.run import ScoredRow
from callout.scoring.verdict import VERDICTS

#: How the recordings are divided, and by what; "slot" counts parts of meanings instead of recordings.
GROUPS = ("speaker", "channel", "noise", "length", "condition")

_LENGTHS = (2, 4, 6, 10, 20)  # seconds; the upper ends of the classes
_WORST = 40  # how many of the worst recordings are kept
_CLASSES_PER_OCTAVE = 8  # of the histogram of times: steps of 9 %
_SEVERITY = {"wrong_accepted": 3, "not_heard": 2, "asked_again": 1}


def length_class(audio_us: int) -> str:
    seconds = audio_us / 1e6
    for low, high in zip((0, *_LENGTHS), _LENGTHS, strict=False):
        if seconds < high:
            return f"{low} to {high} s"
    return f"over {_LENGTHS[-1]} s"


class Tally:
    """Everything that the report needs and that adds up. `add` a row; `join` another tally; `to_json`, `from_json`."""

    def __init__(self) -> None:
        self.verdicts: Counter[str] = Counter()
        self.groups: dict[str, dict[str, Counter[str]]] = {name: {} for name in GROUPS}
        self.slots: dict[str, Counter[str]] = {}
        self.edits = [0, 0, 0, 0]
        self.confusion: Counter[tuple[str, str]] = Counter()
        self.times: Counter[int] = Counter()
        self.audio_us = 0
        self.decode_us = 0
        self.guessed = 0
        self.meaningless = 0
        self.broken = 0
        self.curve: dict[str, Counter[str]] = {}
        self._worst: list[tuple[tuple[Any, ...], dict[str, Any]]] = []

    def add(self, row: ScoredRow) -> None:
        self.verdicts[row.verdict] += 1
        self.guessed += row.guessed
        self.meaningless += row.guessed and row.truth is None
        if row.snr_db is not None:
            self._count(self.curve, f"{row.channel} {row.noise}|{row.snr_db:g}", row.verdict)
        names = {"speaker": row.speaker, "channel": row.channel, "noise": row.noise, "condition": row.condition}
        if row.error:
            self.broken += 1
        else:
            names["length"] = length_class(row.audio_us)
            self.times[_time_class(row.decode_us)] += 1
        for name, value in names.items():
            if value:
                self._count(self.groups[name], value, row.verdict)
        for slot, verdict in row.slots.items():
            self._count(self.slots, slot, verdict)
        self.edits = [a + b for a, b in zip(self.edits, row.edits, strict=True)]
        self.confusion.update((said, heard) for said, heard in row.pairs)
        self.audio_us += row.audio_us
        self.decode_us += row.decode_us
        if row.verdict != "right":
            self._keep((_SEVERITY[row.verdict], row.confidence or 0.0, -row.trial), row.model_dump(mode="json"))

    def join(self, other: Tally) -> None:
        self.verdicts.update(other.verdicts)
        for name in GROUPS:
            _join(self.groups[name], other.groups[name])
        _join(self.slots, other.slots)
        _join(self.curve, other.curve)
        self.edits = [a + b for a, b in zip(self.edits, other.edits, strict=True)]
        self.confusion.update(other.confusion)
        self.times.update(other.times)
        for name in ("audio_us", "decode_us", "guessed", "meaningless", "broken"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for key, row in other._worst:
            self._keep(key, row)

    @property
    def count(self) -> int:
        return sum(self.verdicts.values())

    @property
    def worst(self) -> list[dict[str, Any]]:
        """Rows that were not right: wrongly accepted first and the surest of them first, then in order."""
        return [row for _, row in sorted(self._worst, key=lambda kept: kept[0], reverse=True)]

    def time_quantile(self, share: float) -> float | None:
        """Seconds that `share` of the recordings took at most, to 9 %; None without any."""
        wanted = share * sum(self.times.values())
        passed = 0
        for step in sorted(self.times):
            passed += self.times[step]
            if passed >= wanted:
                return float(2 ** ((step + 1) / _CLASSES_PER_OCTAVE) / 1e6)
        return None

    def to_json(self) -> dict[str, Any]:
        return {
            "verdicts": _ordered(self.verdicts),
            "groups": {name: _nested(group) for name, group in self.groups.items()},
            "slots": _nested(self.slots),
            "curve": _nested(self.curve),
            "edits": self.edits,
            "confusion": [[said, heard, n] for (said, heard), n in sorted(self.confusion.items())],
            "times": [[step, n] for step, n in sorted(self.times.items())],
            "audio_us": self.audio_us,
            "decode_us": self.decode_us,
            "guessed": self.guessed,
            "meaningless": self.meaningless,
            "broken": self.broken,
            "worst": self.worst,
        }

    @classmethod
    def from_json(cls, shape: dict[str, Any]) -> Tally:
        """The tally behind `to_json`; raises KeyError, TypeError or ValueError for anything else."""
        new = cls()
        new.verdicts = Counter(shape["verdicts"])
        new.groups = {name: _counters(shape["groups"][name]) for name in GROUPS}
        new.slots = _counters(shape["slots"])
        new.curve = _counters(shape["curve"])
        new.edits = [int(n) for n in shape["edits"]]
        new.confusion = Counter({(said, heard): n for said, heard, n in shape["confusion"]})
        new.times = Counter({int(step): n for step, n in shape["times"]})
        for name in ("audio_us", "decode_us", "guessed", "meaningless", "broken"):
            setattr(new, name, int(shape[name]))
        for kept in shape["worst"]:
            row = ScoredRow.model_validate(kept)
            new._keep((_SEVERITY[row.verdict], row.confidence or 0.0, -row.trial), kept)
        return new

    def _keep(self, key: tuple[Any, ...], row: dict[str, Any]) -> None:
        # Keys are never equal: every trial has a number of its own.
        if len(self._worst) < _WORST:
            heapq.heappush(self._worst, (key, row))
        elif key > self._worst[0][0]:
            heapq.heapreplace(self._worst, (key, row))

    @staticmethod
    def _count(table: dict[str, Counter[str]], name: str, verdict: str) -> None:
        table.setdefault(name, Counter())[verdict] += 1


def _time_class(us: int) -> int:
    return math.floor(math.log2(max(us, 1)) * _CLASSES_PER_OCTAVE)


def _join(into: dict[str, Counter[str]], other: dict[str, Counter[str]]) -> None:
    for name, counts in other.items():
        into.setdefault(name, Counter()).update(counts)


def _ordered(counts: Counter[str]) -> dict[str, int]:
    known = [name for name in (*VERDICTS, "wrong", "missed") if counts[name]]
    return {name: counts[name] for name in known}


def _nested(table: dict[str, Counter[str]]) -> dict[str, dict[str, int]]:
    return {name: _ordered(table[name]) for name in sorted(table)}


def _counters(table: dict[str, dict[str, int]]) -> dict[str, Counter[str]]:
    return {name: Counter(counts) for name, counts in table.items()}


CONFIDENCE = 0.95
_Z = NormalDist().inv_cdf((1 + CONFIDENCE) / 2)


def share(count: int, n: int) -> dict[str, Any]:
    """{"count", "share", "low", "high"} with the Wilson score interval (Wilson 1927); 0 to 1 when n is 0."""
    if n == 0:
        return {"count": 0, "share": 0.0, "low": 0.0, "high": 1.0}
    found, z = count / n, _Z
    centre = (found + z * z / (2 * n)) / (1 + z * z / n)
    spread = z * math.sqrt(found * (1 - found) / n + (z / (2 * n)) ** 2) / (1 + z * z / n)
    return {"count": count, "share": found, "low": max(0.0, centre - spread), "high": min(1.0, centre + spread)}


def shares(counts: Mapping[str, int], names: Sequence[str]) -> dict[str, Any]:
    """{"n": ..., name: share ...} of counts that add up to n."""
    n = sum(counts.values())
    return {"n": n, **{name: share(counts.get(name, 0), n) for name in names}}


def paired(both: int, only_this: int, only_other: int, neither: int) -> dict[str, Any]:
    """McNemar's exact test on pairs: p of a difference at least this large when there is none.

    `difference` is this run's share less the other's; its interval is Agresti and Min's (2005), half a pair added to
    each of the four cells.
    """
    from scipy.stats import binomtest

    n = both + only_this + only_other + neither
    discordant = only_this + only_other
    p_value = float(binomtest(only_this, discordant, 0.5).pvalue) if discordant else 1.0
    b, c, total = only_this + 0.5, only_other + 0.5, n + 2.0
    centre = (b - c) / total
    spread = _Z * ((b + c) - (b - c) ** 2 / total) ** 0.5 / total
    return {
        "pairs": n,
        "both": both,
        "only_this": only_this,
        "only_other": only_other,
        "neither": neither,
        "difference": (only_this - only_other) / n if n else 0.0,
        "low": max(-1.0, centre - spread),
        "high": min(1.0, centre + spread),
        "p_value": p_value,
    }
