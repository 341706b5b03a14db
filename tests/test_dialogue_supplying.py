"""What goes first and what comes down first: one load, one stage at a time, the same as the library gives."""

from __future__ import annotations

import pytest

from callout.dialogue import wording
from callout.dialogue.events import Opened
from callout.dialogue.machine import start
from callout.dialogue.settings import load_settings
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.shoring.supply import carry, take_down
from callout.values import Command
from tests.dialogue_kit import ELEVEN_SIXTY, Talk

SAID = {
    "what goes first": Command(command="carry"),
    "what goes first build two": Command(command="carry", build=2),
    "load three": Command(command="carry", item=3),
    "what comes down first": Command(command="come_down"),
    "stage four": Command(command="come_down", item=4),
    "what do i look at": Command(command="look_at"),
}


@pytest.mark.parametrize("words", SAID)
def test_the_words_mean_what_they_say(words: str) -> None:
    found = resolve_text(words)
    assert isinstance(found, Understood)
    assert found.meaning == SAID[words]


def released() -> Talk:
    talk = Talk(start(load_stock(None), ShorePlanner(), load_settings(seconds_a_word=0.0)))
    return talk.put(Opened(0.0)).released(ELEVEN_SIXTY)


def test_every_load_and_every_stage_can_be_asked_for_and_changes_nothing() -> None:
    talk = released()
    (build,) = talk.now.open.values()
    for name, every in (("carry", carry(build.build)), ("come_down", take_down(build.build))):
        for at in range(1, len(every) + 1):
            before = talk.now.open
            talk.say(Command(command=name, item=at))
            assert f"{wording.count(at)} of {wording.count(len(every))}" in talk.said[-1]
            assert max(len(one.split()) for one in talk.said[-1].split(". ")) <= 20
            assert talk.now.open == before
        talk.say(Command(command=name, item=len(every) + 1))
        assert talk.said[-1].endswith(f"is {wording.count(len(every))}.")


def test_the_loads_say_all_that_is_carried() -> None:
    """Counted apart: the sums of the pieces that the loads take are those of the list and of the cuts."""
    (build,) = released().now.open.values()
    sawn = {bar.name for bar in build.build.nesting}
    listed = sum(part.quantity for part in build.build.parts) + sum(cut.quantity for cut in build.build.cuts)
    carried = sum(piece.quantity for load in carry(build.build) for piece in load.pieces)
    assert carried == listed
    assert sawn
