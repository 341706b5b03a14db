"""The page of states is the machine's own: a change of either that the other does not follow shows here."""

from __future__ import annotations

from pathlib import Path

import pytest

from callout.dialogue.commands import KNOWN
from callout.dialogue.diagram import WAYS, hear, in_state, page, transitions
from callout.hearing.agreement import settings
from callout.language import grammar
from callout.session.live_ears import STOP_WORDS
from callout.values import Command

PAGE = Path(__file__).parent.parent / "docs" / "states.md"


def test_the_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python -m callout.dialogue.diagram docs/states.md"


def test_every_state_of_the_grammar_is_drawn_and_can_be_left_and_reached() -> None:
    assert set(WAYS) == {name for name in grammar.load().states if name != "digits"}
    arrows = {(before, after) for before, _, after in transitions() if before != after}
    assert {before for before, _ in arrows} == set(WAYS)
    assert {after for _, after in arrows} == set(WAYS)


def test_what_the_ears_take_for_harmless_is_known_and_holds_the_stop_words() -> None:
    assert STOP_WORDS <= settings().harmless <= KNOWN


@pytest.mark.parametrize("state", sorted(WAYS))
def test_what_the_ears_take_for_harmless_moves_nothing(state: str) -> None:
    """One ear is enough for these words (`harmless` in grammars/commands.toml)."""
    before = in_state(state)
    for name in settings().harmless:
        after = hear(before, Command(command=name))
        for what in ("open", "standing", "focus", "changes", "next_id", "taken_back", "confirmed"):
            assert getattr(after, what) == getattr(before, what), f"{name} in {state} changes {what}"
