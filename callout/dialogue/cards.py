"""A build as a row of cards, one utterance each: the parts, the total, the cuts, then the assembly and the checks.

A card is named by its kind and its number within that kind, so that "we were at item four" can be said of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

CardKind = Literal["item", "total", "cut", "offer", "mark", "step", "check", "end"]


@dataclass(frozen=True)
class Card:
    kind: CardKind
    index: int = 0  # from 0, within its kind


def cards(plan: Mapping[str, Any]) -> tuple[Card, ...]:
    """The row of a build's JSON. It depends on the build alone, so that a place in it survives a restart."""

    def many(kind: CardKind, field: str) -> list[Card]:
        return [Card(kind, index) for index in range(len(plan[field]))]

    return (
        *many("item", "parts"), Card("total"), *many("cut", "cuts"), Card("offer"), *many("mark", "positions"),
        *many("step", "steps"), *many("check", "checks"), Card("end"),
    )  # fmt: skip
