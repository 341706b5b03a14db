"""The sentences, the table of states and the grammar fit together: every word that can be said has an act, every state
knows what to say to what it cannot understand, and a voice can read all of it.
"""

from __future__ import annotations

import re
import string

import pytest

from callout.dialogue import commands, wording
from callout.dialogue.inputs import Heard
from callout.dialogue.listening import context
from callout.dialogue.phrases import templates
from callout.language import grammar
from callout.language.resolve import resolve_text
from callout.values import Length
from tests.dialogue_kit import Talk

STATES = [name for name, state in grammar.load().states.items() if not state.only]


def typed(talk: Talk, *lines: str) -> Talk:
    """Each line through the resolver, in the context that the conversation gives."""
    for line in lines:
        talk.time += 1.0
        result = resolve_text(line, context(talk.now, "measurer"))
        talk.put(Heard(result, line, "measurer", talk.time, True))
    return talk


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("kind", ["nothing", "chatter", "half", "twin", "two_at_once"])
def test_every_state_knows_what_to_say_to_what_it_cannot_understand(state: str, kind: str) -> None:
    assert f"unclear.{state}.{kind}" in templates()


@pytest.mark.parametrize("state", STATES)
def test_every_state_has_its_help(state: str) -> None:
    assert templates()[f"help.{state}"]


def test_sentences_are_words_alone() -> None:
    for key, sentence in templates().items():
        bare = re.sub(r"\{[a-z]+\}", "x", sentence)
        assert set(bare) <= set(string.ascii_lowercase + " .,?:"), key


def test_every_command_of_the_grammar_has_an_act() -> None:
    marks = set()
    for name in ("conversation", "stock"):
        text = (grammar.data_folder("grammars") / f"{name}.grammar").read_text("utf-8")
        marks |= set(re.findall(r"\{command ([a-z_]+)\}", text))
    assert len(marks) > 30
    assert marks <= commands.KNOWN | {"closing"}


@pytest.mark.parametrize(
    ("written", "spoken"),
    [
        ("set the laterals to 5 ft 7 in", "set the laterals to five feet seven inches"),
        ("4x4, 10 ft", "four by four, ten feet"),
        ("3/4 in plywood", "three quarters inch plywood"),
        ("2.5 tons & more", "two point five tons and more"),
        ("rack-B", "rack B"),
        ("up to 11 ft 6 1/2 in", "up to eleven feet six and one half inches"),
        ("90 mm pipe, 3.35 m, 12 lb", "ninety millimetres pipe, three point three five metres, twelve pounds"),
        ("bolt \U0001f529 no_12 1234567", "bolt no twelve one two three four five six seven"),
        ("then more, 4 in all, 2 in apart", "then more, four in all, two inches apart"),
        ("at 45°", "at forty five degrees"),
    ],
)
def test_text_of_plans_and_stock_files_is_spelled_out(written: str, spoken: str) -> None:
    assert wording.text(written) == spoken


def test_every_length_in_free_text_is_spoken_as_the_value_is() -> None:
    from callout.language.speak import speak_length

    for sixteenths in range(1, 192 * 12, 7):
        length = Length.imperial(0, 0, sixteenths)
        assert wording.text(f"cut {length.text} long") == f"cut {speak_length(length)[1]} long"


def test_one_callout_from_words_to_the_last_check() -> None:
    talk = typed(Talk.new(), "insertion eleven feet", "sixty", "affirm", "ready", "short two", "how many left")
    assert talk.count("released") == 1
    typed(talk, "say again", "step by step", "next", "say again", "next", "next", "next", "next", "next")
    assert talk.state() in ("assembly", "idle")


@pytest.mark.parametrize(
    ("lines", "released"),
    [
        (("insertion eleven feet sixty", "affirm"), ["11 ft @ 60"]),
        (("insertion eleven feet sixty", "yes"), ["11 ft @ 60"]),
        (("insertion eleven feet sixty", "that is correct"), ["11 ft @ 60"]),
        (("insertion eleven feet sixty", "roger"), []),
        (("insertion eleven feet sixty", "no"), []),
        (("insertion eleven feet sixty", "correction angle four five", "affirm"), ["11 ft @ 45"]),
        (("insertion eleven feet sixty", "negative i say again twelve feet", "affirm"), ["12 ft @ 60"]),
        (("insertion eleven feet sixty", "insertion nine feet forty five", "affirm"), ["9 ft @ 45"]),
        (("insertion eleven feet sixty", "disregard", "affirm"), []),
        (("insertion eleven feet", "angle six zero", "affirm"), ["11 ft @ 60"]),
        (("insertion eleven feet", "six zero", "correct"), ["11 ft @ 60"]),
        (("eleven feet sixty", "affirm"), []),
        (("hello there", "", "good night", "affirm"), []),
        (("insertion eleven feet sixty", "hello there", "affirm"), ["11 ft @ 60"]),
    ],
)
def test_what_is_typed_and_what_is_released(lines: tuple[str, ...], released: list[str]) -> None:
    talk = typed(Talk.new(), *lines)
    found = [r.meaning for r in talk.records if r.event == "released"]
    assert [f"{m['insertion']['text']} @ {m['angle_deg']}" for m in found if m] == released
