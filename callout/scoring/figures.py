"""Shares with their 95 % intervals, and whether two paired runs differ. scipy does the statistics."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

CONFIDENCE = 0.95


def share(count: int, n: int) -> dict[str, Any]:
    """{"count", "share", "low", "high"} with the Wilson score interval (Wilson 1927); 0 to 1 when n is 0."""
    if n == 0:
        return {"count": 0, "share": 0.0, "low": 0.0, "high": 1.0}
    from scipy.stats import binomtest

    interval = binomtest(count, n).proportion_ci(CONFIDENCE, method="wilson")
    return {"count": count, "share": count / n, "low": float(interval.low), "high": float(interval.high)}


def shares(counts: Mapping[str, int], names: Sequence[str]) -> dict[str, Any]:
    """{"n": ..., name: share ...} of counts that add up to n."""
    n = sum(counts.values())
    return {"n": n, **{name: share(counts.get(name, 0), n) for name in names}}


def paired(both: int, only_this: int, only_other: int, neither: int) -> dict[str, Any]:
    """McNemar's exact test on pairs: p of a difference at least this large when there is none.

    `difference` is this run's share less the other's; its interval is Agresti and Min's (2005), half a pair added to
    each of the four cells.
    """
    from scipy.stats import binomtest, norm

    n = both + only_this + only_other + neither
    discordant = only_this + only_other
    p_value = float(binomtest(only_this, discordant, 0.5).pvalue) if discordant else 1.0
    b, c, total = only_this + 0.5, only_other + 0.5, n + 2.0
    centre = (b - c) / total
    spread = float(norm.ppf((1 + CONFIDENCE) / 2)) * ((b + c) - (b - c) ** 2 / total) ** 0.5 / total
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
