"""A slice of the simulated dialogues; 10,000 of them are the proof (`python -m tests.proof dialogue`)."""

from __future__ import annotations

import random

import pytest

from callout.language.context import Context
from callout.language.outcome import Understood
from callout.values import Callout, Length
from tests.dialogue_simulation import (
    CALLOUTS,
    CHANNELS,
    COMMANDS,
    CONDITIONS,
    TABLE,
    Dialogue,
    Ears,
    simulate,
    words_for,
)
from tests.how_much import one_in
from tests.noisy_ear import PAGE, measured, noise, upper


@pytest.mark.parametrize("condition", one_in(2, CONDITIONS))
def test_no_wrong_build_through_two_noisy_ears(condition: str) -> None:
    sums, turns = simulate(25, condition)
    assert sums["wrong"] == 0
    assert sums["unspoken"] == 0
    assert sums["finished"] >= 20
    assert sums["released"] >= len(turns)
    if CALLOUTS[condition].right > 0.8:
        assert sums["finished"] == 25
        assert sum(turns) / len(turns) < 6


@pytest.mark.slow
def test_the_ears_do_go_wrong() -> None:
    """Without callouts that are heard wrong and taken, the slice above would prove nothing: there are more of them than
    were met when the ears were measured."""
    chance = random.Random(1)
    for condition in CONDITIONS:
        ears, wrong = Ears(condition, chance), 0
        for feet in (*range(6, 16),) * 200:
            want = Callout(insertion=Length.imperial(feet), angle_deg=chance.choice([45, 60]))
            result = ears.hear(tuple(words_for(want, chance).split()), Context())
            wrong += isinstance(result, Understood) and result.meaning != want
        met = CHANNELS[condition]["callouts"]
        assert met["wrong"] / met["n"] < wrong / 2000 < CALLOUTS[condition].wrong + 0.02


def test_the_counts_are_those_of_the_page_on_the_ears() -> None:
    page, stale = PAGE.read_text("utf-8"), "docs/proofs/ears.md is newer: run python -m tests.noisy_ear"
    for entry, counts in measured(page, TABLE):
        assert (entry["n"], entry["right"], entry["wrong"]) == counts, stale
    assert (TABLE["noise"]["n"], TABLE["noise"]["command"], TABLE["noise"]["releasing"]) == noise(page), stale


def test_the_upper_end_of_an_interval() -> None:
    """Wilson (1927), for none of n: z^2 / (n + z^2), with z = 1.96."""
    for n in (20, 65, 100):
        assert upper(0, n) == pytest.approx(1.959964**2 / (n + 1.959964**2), rel=1e-6)


def test_a_dialogue_is_the_same_again_for_its_seed() -> None:
    assert Dialogue(3, CONDITIONS[1]).run() == Dialogue(3, CONDITIONS[1]).run()


@pytest.mark.parametrize("condition", CONDITIONS)
def test_the_table_holds_shares(condition: str) -> None:
    for right, wrong in (CALLOUTS[condition], COMMANDS[condition]):
        assert 0 < wrong < right
        assert right + wrong <= 1
