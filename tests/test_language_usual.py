"""What is taught, told from people's own ways to say it."""

from pathlib import Path

import pytest

from callout.language.usual import begins_usual, usual
from tests.team_words import forget


@pytest.mark.parametrize(
    "said", ["next", "stop", "item four", "insertion eleven feet sixty", "affirm insertion", "next over"]
)
def test_the_sentences_of_the_card_are_usual(said: str) -> None:
    assert usual(tuple(said.split()))


@pytest.mark.parametrize("said", ["next build", "back to work", "stop pairing", "what is next", "nah", "got that one"])
def test_people_have_their_own_ways_beside_them(said: str) -> None:
    assert not usual(tuple(said.split()))


def test_a_sentence_has_a_beginning() -> None:
    assert begins_usual(("insertion", "eleven"))
    assert begins_usual(())
    assert not begins_usual(("next", "build"))
    assert not usual(("insertion", "eleven"))


def test_what_a_team_added_to_the_rules_is_usual_to_them(team: Path) -> None:
    (team / "own.grammar").write_text("<walk> |= stowed {command ready} ;\n", "utf-8")
    forget()
    assert usual(("stowed",))
