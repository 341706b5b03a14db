"""How sure the ears may be: what is learned from made-up hearings whose truth is known."""

import math
from functools import cache

import numpy as np
import pytest

from callout.hearing.agreement import FEATURES, settings
from ears_training.certainty import (
    AGAINST,
    FREE,
    ODD,
    STAKES,
    Case,
    logistic,
    prices,
    talker,
    talkers,
    threshold,
    weight,
)


@cache
def hearings(n: int, seed: int = 0) -> list[Case]:
    """One part each, right exactly as often as its log-odds say."""
    rng = np.random.default_rng(seed)
    out = []
    for odds in rng.uniform(0, 8, n):
        right = bool(rng.random() < 1 / (1 + math.exp(-odds)))
        out.append(Case(odds, True, right, True))
    return out


@pytest.mark.parametrize(("stake", "cost"), [("callout", 50), ("command", 50), ("harmless", 5), ("digits", 5)])
def test_the_threshold_is_that_of_least_expected_loss(stake, cost):
    """Outside check, the textbooks' decision rule: taking a part of chance p costs (1 - p) cost, asking again costs 1,
    so they are equal at odds p / (1 - p) = cost - 1. Where the odds are true, the losses counted say the same."""
    assert threshold(stake) == pytest.approx(math.log(cost - 1), abs=0.01)
    assert abs(prices(hearings(60_000), stake)[0].least - threshold(stake)) <= 0.5


def test_the_shipped_thresholds_are_these():
    assert settings().agreed == {stake: threshold(stake) for stake in STAKES}


def test_a_price_counts_what_is_taken_wrongly_and_what_is_asked_again():
    found = [
        Case(5.0, True, False, True),  # taken, wrong
        Case(1.0, True, True, True),  # asked again
        Case(1.0, True, False, False),  # nothing was said, nothing is taken
        Case(5.0, False, True, True),  # must have both ears and has one
    ]
    (price,) = [p for p in prices(found, "callout") if p.least == 3.0]
    assert (price.wrong, price.again, price.loss) == (1, 2, 52)


def test_of_equals_the_strictest_is_best():
    found = [Case(5.0, True, True, True)]
    assert prices(found, "callout")[0].least == 5.0


def test_weights_keep_their_signs_when_the_data_say_otherwise():
    rng = np.random.default_rng(1)
    x = rng.uniform(0, 1, (400, len(FEATURES)))
    x[:, 0] = 1
    misled = FEATURES.index("lead_to_8"), FEATURES.index("vosk_rival")
    right = (x[:, misled[1]] - x[:, misled[0]] > 0).astype(float)  # a lead speaks against, a rival for: by mischance
    weights = dict(zip(FEATURES, logistic(x, right), strict=True))
    assert weights["lead_to_8"] == pytest.approx(0, abs=1e-6)
    assert weights["vosk_rival"] == pytest.approx(0, abs=1e-6)
    assert all(w <= 1e-9 for name, w in weights.items() if name in AGAINST)
    assert all(w >= -1e-9 for name, w in weights.items() if name not in (*AGAINST, *FREE))


def test_a_logistic_finds_the_weights_that_made_the_data():
    rng = np.random.default_rng(2)
    x = np.zeros((20_000, len(FEATURES)))
    x[:, 0] = 1
    at = FEATURES.index("fit"), FEATURES.index("late")
    x[:, at[0]], x[:, at[1]] = rng.normal(0, 1, 20_000), rng.integers(0, 2, 20_000)
    odds = 0.5 + 1.5 * x[:, at[0]] - 1.0 * x[:, at[1]]
    weights = logistic(x, (rng.random(20_000) < 1 / (1 + np.exp(-odds))).astype(float))
    assert weights[[0, *at]] == pytest.approx([0.5, 1.5, -1.0], abs=0.1)


def test_a_talker_is_one_whoever_carries_the_words_and_odd_ones_weigh_little(monkeypatch):
    row = {"kind": "callout", "voice": "hdev+flite:awb"}
    assert talker(row) == talker({**row, "voice": "hdev+espeak:en-gb+Mr"}) == "hdev"
    assert talker({**row, "voice": "kokoro:af_nova+am_echo"}) == "kokoro:af_nova"
    assert talker({**row, "voice": "warp:0.86:flite:rms"}) == "flite:rms"
    assert talker({"kind": "noise", "voice": "white"}) == "noise"
    monkeypatch.setattr("ears_training.certainty.talkers", lambda: {"mumbler": 0.3, "hdev+flite:awb": 0.7})
    assert weight({**row, "voice": "mumbler"}) == ODD < weight(row) == 1.0
    assert all(0.0 <= share <= 1.0 for share in talkers().values())


def test_a_weight_of_two_is_the_same_row_twice():
    rng = np.random.default_rng(3)
    x = np.hstack([np.ones((200, 1)), rng.normal(0, 1, (200, len(FEATURES) - 1))])
    y = (rng.random(200) < 0.5).astype(float)
    twice = np.ones(200)
    twice[:50] = 2.0
    again = logistic(np.vstack([x, x[:50]]), np.concatenate([y, y[:50]]))
    assert logistic(x, y, weights=twice) == pytest.approx(again, abs=1e-3)
