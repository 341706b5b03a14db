"""A slice of the simulated dialogues; 10,000 of them are the proof (`python -m tests.proof dialogue`)."""

from __future__ import annotations

import pytest

from tests.dialogue_simulation import CONDITIONS, TABLE, Dialogue, simulate


@pytest.mark.parametrize("condition", CONDITIONS)
def test_no_wrong_build_through_two_noisy_ears(condition: str) -> None:
    sums, turns = simulate(25, condition)
    assert sums["wrong"] == 0
    assert sums["unspoken"] == 0
    assert sums["released"] == sums["wanted"]
    assert sums["finished"] >= 24
    assert sum(turns) / len(turns) < 10


def test_the_ears_do_go_wrong() -> None:
    """Without wrong readbacks the slice above would prove nothing."""
    assert simulate(60, "generator")[0]["readbacks_wrong"] > 0


def test_a_dialogue_is_the_same_again_for_its_seed() -> None:
    assert Dialogue(3, "radio").run() == Dialogue(3, "radio").run()


@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize("ear", ["encoder", "vosk"])
def test_the_table_holds_shares(condition: str, ear: str) -> None:
    rates = TABLE["condition"][condition][ear]
    assert 0 < rates["wrong"] < rates["right"]
    assert rates["right"] + rates["wrong"] <= 1
