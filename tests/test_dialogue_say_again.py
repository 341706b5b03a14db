"""Say again, all of it or the part that is named (SERA.14075: SAY AGAIN, ALL BEFORE, ALL AFTER). It voids nothing."""

from __future__ import annotations

import pytest

from callout.dialogue.events import Uttered
from callout.dialogue.state import context
from callout.language.resolve import resolve_text
from tests.dialogue_kit import Talk

CALLOUT = "insertion eleven feet sixty two rakers six feet on center position three"
HEIGHT = "insertion: one one feet, eleven feet"
ANGLE = "sixty degrees"
RAKERS = "two rakers"
SPACING = "spacing: six feet"
POSITION = "position three"

#: What is said to the readback of CALLOUT, and what is repeated of it.
OF_THE_READBACK = [
    ("say again insertion", f"i say again. {HEIGHT}."),
    ("say again the height", f"i say again. {HEIGHT}."),
    ("say again angle", f"i say again. {ANGLE}."),
    ("say again rakers", f"i say again. {RAKERS}."),
    ("say again spacing", f"i say again. {SPACING}."),
    ("say again position", f"i say again. {POSITION}."),
    ("say again all before insertion", "nothing before that."),
    ("say again all before angle", f"i say again. {HEIGHT}."),
    ("say again all before rakers", f"i say again. {HEIGHT}; {ANGLE}."),
    ("say again all before spacing", f"i say again. {HEIGHT}; {ANGLE}; {RAKERS}."),
    ("say again all after insertion", f"i say again. {ANGLE}; {RAKERS}; {SPACING}; {POSITION}."),
    ("say again all after angle", f"i say again. {RAKERS}; {SPACING}; {POSITION}."),
    ("say again all after spacing", f"i say again. {POSITION}."),
    ("say again all after position", "nothing after that."),
    ("say again lean", "lean: not said."),
    ("say again all before sole", "sole: not said."),
    ("say again item two", "no build is open."),
]

#: In the walk of a build of two items, at item one.
OF_THE_WALK = [
    ("say again", ["item one. two struts, six feet. rack A."]),
    ("say again item one", ["item one. two struts, six feet. rack A."]),
    ("say again item two", ["item two. four brick anchors. box two.", "you are at item one."]),
    ("say again all after item one", ["item two. four brick anchors. box two.", "you are at item one."]),
    ("say again all before item two", ["item one. two struts, six feet. rack A."]),
    ("say again all before item one", ["nothing before that."]),
    ("say again all after item two", ["nothing after that."]),
    ("say again item nine", ["no item nine: the list has two."]),
    ("say again angle", [f"i say again. {ANGLE}."]),
]


def say(talk: Talk, line: str) -> Talk:
    talk.time += 1.0
    return talk.put(Uttered(resolve_text(line, context(talk.now, "measurer")), line, "measurer", talk.time, True))


@pytest.mark.parametrize(("line", "spoken"), OF_THE_READBACK)
def test_only_the_part_of_the_readback_that_was_asked_for(line: str, spoken: str) -> None:
    talk = say(Talk.new(), CALLOUT)
    waiting = talk.now.measurer.pending
    assert say(talk, line).said == [spoken]
    assert talk.now.measurer.pending == waiting
    assert say(talk, "affirm").count("released") == 1


@pytest.mark.parametrize("line", ["say again", "say again all", "say that again", "read back"])
def test_all_of_the_readback(line: str) -> None:
    talk = say(Talk.new(), CALLOUT)
    assert say(talk, line).said == [f"i say again. {HEIGHT}; {ANGLE}; {RAKERS}; {SPACING}; {POSITION}. "
                                    "over."]  # fmt: skip


@pytest.mark.parametrize(("line", "spoken"), OF_THE_WALK)
def test_only_the_items_that_were_asked_for_and_where_the_crew_is(line: str, spoken: list[str]) -> None:
    talk = say(say(Talk.new(), "insertion eleven feet sixty"), "affirm")
    at = talk.now.open[1].at
    assert say(talk, line).said == spoken
    assert talk.now.open[1].at == at
    assert say(talk, "ready").count("picked") == 1
    assert talk.records[-2].data["pieces"] == [["six foot strut", 2]]  # the item where the crew is


def test_a_part_of_half_a_callout_and_of_nothing() -> None:
    talk = say(Talk.new(), "insertion eleven feet")
    assert say(talk, "say again insertion").said == [f"i say again. {HEIGHT}."]
    assert say(Talk.new(), "say again angle").said == ["nothing to read back."]


def test_a_part_of_a_stock_line_is_all_of_it() -> None:
    talk = say(say(Talk.new(), "out of brick anchors"), "say again angle")
    assert talk.said == ["i say again. stock. no brick anchors. affirm, or negative."]
