"""The page of states is the machine's own: a change of either that the other does not follow shows here."""

from __future__ import annotations

from pathlib import Path

from callout.dialogue.diagram import WAYS, page, transitions
from callout.language import grammar

PAGE = Path(__file__).parent.parent / "docs" / "states.md"


def test_the_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python -m callout.dialogue.diagram docs/states.md"


def test_every_state_of_the_grammar_is_drawn_and_can_be_left_and_reached() -> None:
    assert set(WAYS) == {name for name, state in grammar.load().states.items() if not state.only}
    arrows = {(before, after) for before, _, after in transitions() if before != after}
    assert {before for before, _ in arrows} == set(WAYS)
    assert {after for _, after in arrows} == set(WAYS)
