"""Whatever a voice says of a build can be said: no bracket, no sign, and no step longer than a breath."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from callout.dialogue import speakable
from callout.shoring import feasible
from callout.shoring.build import Build
from callout.shoring.request import Site
from callout.values import Length
from tests.checks_shoring import ft
from tests.test_shoring_kinds import KINDS
from tests.test_shoring_practice import build
from tests.test_shoring_strength import LOADED, REFUSED, site

BREATH = 20  # words
SITES = [Site(), Site(timber_beside=True, soil="sand"), Site(units="metres", soil="clay"), Site(wall_length=ft(30))]


def spoken(found: Build) -> Iterator[str]:
    """All that the walk and the readback may say."""
    yield from (step.text for step in found.steps)
    yield from found.before_load
    yield from found.cautions
    yield from (part.name for part in found.parts)
    yield from (f"{place.name}: {place.text}" for place in found.positions)
    yield from (remedy.text for remedy in found.remedies)
    yield from (lack.name or lack.part for lack in found.missing)
    if (clause := feasible(found)) is not None:
        yield clause


def check(found: Build) -> None:
    for text in spoken(found):
        assert not re.search(r"[()\[\]{}<>=*#|_&%@+]", text), text
        words = speakable.text(text)
        assert words
        assert not re.search(r"[^\w\s.,;:?'-]|\d", words), words
    for step in found.steps:
        words = speakable.text(step.text).split()
        assert len(words) <= BREATH, (len(words), step.text)


@pytest.mark.parametrize("known", SITES, ids=["plain", "waler", "metres", "row"])
@pytest.mark.parametrize("said", KINDS, ids=lambda s: f"{s.get('kind', 'raker')} {s.get('sole', '')}")
def test_every_text_can_be_spoken(said: dict[str, Any], known: Site) -> None:
    check(build(known, **said))


@pytest.mark.parametrize("insertion", [3.25, 9.5, 12 + 7 / 12, 17.75])
@pytest.mark.parametrize("more", [{}, {"rakers": 3}, {"lean": Length.imperial(inches=4), "ground": "pavement"}])
def test_odd_lengths_are_said_in_one_breath(insertion: float, more: dict[str, Any]) -> None:
    check(build(insertion=insertion, angle_deg=60, **more))


@pytest.mark.parametrize(("said", "known"), LOADED, ids=lambda one: str(one.get("kind", "")))
def test_a_refusal_can_be_spoken(said: dict[str, Any], known: dict[str, Any]) -> None:
    check(build(site(**known), **said))


@pytest.mark.parametrize(("said", "known"), [one[:2] for one in REFUSED])
def test_what_the_place_does_not_allow_can_be_spoken(said: dict[str, Any], known: dict[str, Any]) -> None:
    check(build(site(**known), **said))
