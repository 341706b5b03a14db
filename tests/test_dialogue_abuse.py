"""A fixed slice of the random abuse in `dialogue_abuse`; the long version is part of the proof."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.dialogue_abuse import Abuse
from tests.how_much import examples

COMMON = {"deadline": None, "derandomize": True, "suppress_health_check": list(HealthCheck), "print_blob": False}


def test_random_abuse_never_releases_what_was_not_confirmed() -> None:
    run_state_machine_as_test(Abuse, settings=settings(max_examples=examples(30, 15), stateful_step_count=40, **COMMON))


@pytest.mark.slow
@pytest.mark.timeout(3600)  # a time-out inside of hypothesis reads as a flaky failure
def test_long_random_abuse() -> None:
    run_state_machine_as_test(Abuse, settings=settings(max_examples=1000, stateful_step_count=80, **COMMON))
