"""What a resolution is worth against what was really said. Meanings are compared, never strings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

from callout.language.numerals import SMALL, TENS

Verdict = Literal["right", "wrong_accepted", "asked_again", "not_heard"]
VERDICTS: tuple[Verdict, ...] = ("right", "wrong_accepted", "asked_again", "not_heard")

SlotVerdict = Literal["right", "wrong", "missed"]

#: The words whose confusions are counted: those that carry a figure.
NUMBER_WORDS = ("oh", *SMALL, *TENS[2:], "hundred", "half", "quarter", "quarters", "eighths", "sixteenths", "point")

#: Stands in the matrix for a word that was not said, or not heard.
NO_WORD = "-"


def bare(meaning: dict[str, Any] | None) -> dict[str, Any] | None:
    """A meaning without what does not count when two are compared: absent parts, and how a length is written."""
    if meaning is None:
        return None
    return {
        name: value["eightieths_mm"] if isinstance(value, dict) else value
        for name, value in meaning.items()
        if value is not None
    }


def judge(truth: dict[str, Any] | None, outcome: str, meaning: dict[str, Any] | None) -> Verdict:
    """The verdict on one recording; `truth` and `meaning` are published meanings, `truth` None for no callout."""
    if truth is None:
        return "wrong_accepted" if outcome == "understood" else "right"
    if outcome == "understood":
        return "right" if bare(meaning) == bare(truth) else "wrong_accepted"
    return "asked_again" if outcome in ("ambiguous", "not_possible") else "not_heard"


def judge_slots(truth: dict[str, Any] | None, outcome: str, meaning: dict[str, Any] | None) -> dict[str, SlotVerdict]:
    """Each part that was said: heard right, taken for another value, or missed. A command is the slot "command"."""
    said = bare(truth) or {}
    heard = (bare(meaning) or {}) if outcome == "understood" else {}
    if "command" not in said and said.get("kind") == "raker":
        del said["kind"]  # nobody says the default
    return {
        name: "missed" if name not in heard else "right" if heard[name] == value else "wrong"
        for name, value in said.items()
    }


def word_edits(truth: str, heard: str) -> tuple[list[int], list[tuple[str, str]]]:
    """([hits, substitutions, deletions, insertions], pairs of number words said and heard), aligned by jiwer."""
    import jiwer

    said, got = truth.split(), heard.split()
    if not said and not got:
        return [0, 0, 0, 0], []
    out = jiwer.process_words(" ".join(said), " ".join(got))
    pairs: list[tuple[str, str]] = []
    for chunk in out.alignments[0]:
        left: list[str] = said[chunk.ref_start_idx : chunk.ref_end_idx]
        right: list[str] = got[chunk.hyp_start_idx : chunk.hyp_end_idx]
        if chunk.type == "delete":
            right = [NO_WORD] * len(left)
        elif chunk.type == "insert":
            left = [NO_WORD] * len(right)
        pairs += [(a, b) for a, b in zip(left, right, strict=True) if a in NUMBER_WORDS or b in NUMBER_WORDS]
    return [out.hits, out.substitutions, out.deletions, out.insertions], pairs


def meaning_of_words(words: str, resolve: Callable[[str], Any]) -> dict[str, Any] | None:
    """The meaning that the words have to the program, or None when they have none."""
    from callout.values import meaning_json

    result = resolve(words)
    return meaning_json(result.meaning) if result.outcome == "understood" else None
