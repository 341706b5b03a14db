"""When is a recording right? Tables from what was said and what came of it to the verdict."""

from __future__ import annotations

import pytest

from callout.scoring.verdict import judge, judge_slots, word_edits
from callout.values import Callout, Command, Length, meaning_json

ELEVEN = meaning_json(Callout(insertion=Length.imperial(11), angle_deg=60))
TWELVE = meaning_json(Callout(insertion=Length.imperial(12), angle_deg=60))
HALF = meaning_json(Callout(insertion=Length.imperial(11)))
METRIC = {"insertion": {"eightieths_mm": 11 * 24384, "text": "3.3528 m"}, "angle_deg": 60, "kind": "raker"}
AFFIRM = meaning_json(Command(command="affirm"))


@pytest.mark.parametrize(
    ("truth", "outcome", "meaning", "verdict"),
    [
        (ELEVEN, "understood", ELEVEN, "right"),
        (ELEVEN, "understood", METRIC, "right"),  # however the length is written
        (ELEVEN, "understood", TWELVE, "wrong_accepted"),
        (ELEVEN, "understood", HALF, "wrong_accepted"),  # half of it is another meaning
        (HALF, "understood", ELEVEN, "wrong_accepted"),
        (ELEVEN, "understood", AFFIRM, "wrong_accepted"),
        (ELEVEN, "ambiguous", ELEVEN, "asked_again"),
        (ELEVEN, "not_possible", ELEVEN, "asked_again"),
        (ELEVEN, "not_understood", None, "not_heard"),
        (ELEVEN, "nothing", None, "not_heard"),
        (AFFIRM, "understood", AFFIRM, "right"),
        (None, "nothing", None, "right"),
        (None, "not_understood", None, "right"),
        (None, "ambiguous", ELEVEN, "right"),  # nothing is understood in it
        (None, "understood", ELEVEN, "wrong_accepted"),
        (None, "understood", AFFIRM, "wrong_accepted"),
    ],
)
def test_verdict(truth: dict | None, outcome: str, meaning: dict | None, verdict: str) -> None:
    assert judge(truth, outcome, meaning) == verdict


@pytest.mark.parametrize(
    ("truth", "outcome", "meaning", "slots"),
    [
        (ELEVEN, "understood", ELEVEN, {"insertion": "right", "angle_deg": "right"}),
        (ELEVEN, "understood", TWELVE, {"insertion": "wrong", "angle_deg": "right"}),
        (ELEVEN, "understood", HALF, {"insertion": "right", "angle_deg": "missed"}),
        (ELEVEN, "ambiguous", ELEVEN, {"insertion": "missed", "angle_deg": "missed"}),
        (AFFIRM, "understood", ELEVEN, {"command": "missed"}),
        (None, "understood", ELEVEN, {}),
        (meaning_json(Callout(kind="t", angle_deg=60)), "understood", ELEVEN, {"kind": "wrong", "angle_deg": "right"}),
    ],
)
def test_each_part_that_was_said_is_judged(
    truth: dict | None, outcome: str, meaning: dict | None, slots: dict[str, str]
) -> None:
    assert judge_slots(truth, outcome, meaning) == slots


@pytest.mark.parametrize(
    ("said", "heard", "edits", "pairs"),
    [
        ("insertion eleven feet", "insertion eleven feet", [3, 0, 0, 0], [("eleven", "eleven")]),
        ("angle sixty", "angle six", [1, 1, 0, 0], [("sixty", "six")]),
        ("one one feet", "one feet", [2, 0, 1, 0], [("one", "one"), ("one", "-")]),
        ("eleven feet", "eleven feet six", [2, 0, 0, 1], [("eleven", "eleven"), ("-", "six")]),
        ("", "affirm", [0, 0, 0, 1], []),
        ("affirm", "", [0, 0, 1, 0], []),
        ("", "", [0, 0, 0, 0], []),
    ],
)
def test_word_edits_and_number_pairs(said: str, heard: str, edits: list[int], pairs: list[tuple[str, str]]) -> None:
    found, confused = word_edits(said, heard)
    assert found == edits
    assert sorted(confused) == sorted(pairs)
