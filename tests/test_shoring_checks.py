"""Every check value from outside the project, with its source and grade (see checks_shoring.py)."""

from __future__ import annotations

import pytest

from callout.shoring.rules import packaged_rules
from tests.checks_shoring import Check, every_check

CHECKS = every_check()


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: f"{c.name} [{c.grade}]")
def test_value(check: Check) -> None:
    ours = check.ours()
    assert abs(ours - check.expected) <= check.tolerance + 1e-9, (
        f"{check.name}: ours {ours:g}, {check.source} has {check.expected:g} {check.unit}"
    )


def test_no_check_stands_twice() -> None:
    names = [check.name for check in CHECKS]
    assert len(names) == len(set(names))


def test_the_rules_carry_the_grade_of_the_check() -> None:
    for check in CHECKS:
        if check.name.startswith("rule "):
            assert packaged_rules().table[check.name[5:].replace(" ", "_")].grade == check.grade
