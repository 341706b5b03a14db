"""The sentences, the table of states and the grammar fit together: every word that can be said has an act, every state
knows what to say to what it cannot understand, and a voice can read all of it.
"""

from __future__ import annotations

import ast
import re
import string
from pathlib import Path

import pytest

import callout
from callout.dialogue import asking, commands, speakable, wording
from callout.dialogue.events import Uttered
from callout.dialogue.machine import start
from callout.dialogue.state import context
from callout.dialogue.stock_lines import matching
from callout.dialogue.wording import templates
from callout.files import data_folder, read_toml
from callout.language import grammar
from callout.language.commands import commands_that
from callout.language.context import Context
from callout.language.cribsheet import spoken_help
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.shoring.build import Missing
from callout.shoring.stock import load_stock
from callout.values import Command, Length
from tests.dialogue_kit import FakePlanner, Talk

PACKAGE = Path(callout.__file__).parent
STATES = [name for name in grammar.load().states if name != "digits"]


def typed(talk: Talk, *lines: str) -> Talk:
    """Each line through the resolver, in the context that the conversation gives."""
    for line in lines:
        talk.time += 1.0
        result = resolve_text(line, context(talk.now, "measurer"))
        talk.put(Uttered(result, line, "measurer", talk.time, True))
    return talk


def test_every_state_knows_what_to_say_to_what_it_cannot_understand() -> None:
    assert set(asking.UNCLEAR) == set(STATES)
    assert all(key in templates() for answers in asking.UNCLEAR.values() for key in answers.values())


def _words_of_the_code(folder: Path) -> set[str]:
    """Every string that stands by itself in it, none that is put together."""
    found: set[str] = set()
    for path in sorted(folder.rglob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        parts = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
        constants = (node for node in ast.walk(tree) if isinstance(node, ast.Constant) and id(node) not in parts)
        found |= {node.value for node in constants if isinstance(node.value, str)}
    return found


def test_every_sentence_is_named_whole_where_it_is_said() -> None:
    """So that a search for the name of a sentence finds who says it; and no sentence is left that nobody says."""
    assert set(templates()) <= _words_of_the_code(PACKAGE)
    sections = "|".join({key.split(".")[0] for key in templates()})
    named = (re.fullmatch(rf"(?:{sections})(?:\.[a-z_]+)+", word) for word in _words_of_the_code(PACKAGE / "dialogue"))
    assert {match[0] for match in named if match} <= set(templates())


@pytest.mark.parametrize("state", STATES)
def test_help_names_a_few_sentences_that_the_grammar_takes_in_that_state(state: str) -> None:
    few = spoken_help(state)
    assert 3 <= len(few) <= 8
    for sentence in few:
        assert isinstance(resolve_text(sentence, Context(state=state)), Understood), sentence
    table = read_toml(data_folder("grammars") / "card.toml")["help"]
    assert tuple(table[state]) == few  # nothing in the table is dead


def test_help_speaks_what_is_asked_for_and_then_the_sentences() -> None:
    talk = typed(Talk.new(), "insertion eleven feet", "help")
    assert talk.said[0].startswith("say the angle. you may say: ")
    talk = typed(Talk.new(), "insertion eleven feet sixty", "help")
    assert talk.said == ["you may say: affirm. negative. correction angle four five. say again. disregard."]


#: Spoken as whole sentences with capitals, as the cautions of a build are.
CAUTIONS = {"walking.from_memory"}


def test_sentences_are_words_alone() -> None:
    for key, sentence in templates().items():
        bare = re.sub(r"\{[a-z]+\}", "x", sentence)
        letters = string.ascii_letters if key in CAUTIONS else string.ascii_lowercase
        assert set(bare) <= set(letters + " .,?:"), key


def test_every_command_of_the_grammar_has_an_act() -> None:
    marks = set()
    for name in ("conversation", "stock", "site"):
        text = (data_folder("grammars") / f"{name}.grammar").read_text("utf-8")
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
        ("1 m behind, 1 kN, 1.1 m, 11 m", "one metre behind, one kilonewton, one point one metres, eleven metres"),
        ("bolt \U0001f529 no_12 1234567", "bolt no twelve one two three four five six seven"),
        ("then more, 4 in all, 2 in apart", "then more, four in all, two inches apart"),
        ("at 45°", "at forty five degrees"),
    ],
)
def test_text_of_plans_and_stock_files_is_spelled_out(written: str, spoken: str) -> None:
    assert speakable.text(written) == spoken


def test_every_length_in_free_text_is_spoken_as_the_value_is() -> None:
    from callout.language.speak import speak_length

    for sixteenths in range(1, 192 * 12, 7):
        length = Length.imperial(0, 0, sixteenths)
        assert speakable.text(f"cut {length.text} long") == f"cut {speak_length(length)[1]} long"


@pytest.mark.parametrize(
    ("line", "quantity", "spoken"),
    [
        ("brick anchor", 6, "brick anchors"),
        ("six foot strut", 1, "six foot strut"),
        ("4x4 timber, 10 ft", 1, "ten foot four by four"),
        ("4x6 timber, 12 ft", 3, "twelve foot four by sixes"),
        ("sheet of plywood", 2, "sheets of plywood"),
        ("16d nail", 40, "sixteen penny nails"),
        ("pole, oak", 2, "pole, oaks"),
    ],
)
def test_lines_of_the_stock_in_one_and_in_many(line: str, quantity: int, spoken: str) -> None:
    assert wording.lines(line, quantity) == spoken


@pytest.mark.parametrize(
    ("missing", "spoken"),
    [
        (Missing(part="anchor", quantity=6, name="brick anchor"), "six brick anchors"),
        (Missing(part="picket", quantity=8, length=Length.imperial(3), name="picket"), "eight pickets, three feet"),
        (Missing(part="strut", quantity=2, length=Length.imperial(6), name="six foot strut"), "two struts, six feet"),
        (Missing(part="strut", quantity=1, length=Length.imperial(10)), "one strut, ten feet"),
        (Missing(part="plate joint", quantity=12), "twelve plate joints"),
    ],
)
def test_a_shortage_names_each_thing_in_one_breath(missing: Missing, spoken: str) -> None:
    assert wording.missing([missing]) == spoken


def test_a_shortage_names_each_thing_once() -> None:
    brace = Missing(part="brace", quantity=1, name="thirty inch brace", need="mid brace 5")
    clamp = Missing(part="tie clamp", quantity=2, name="tie clamp")
    lines = [brace, clamp, brace.model_copy(update={"need": "mid brace 6"}), clamp]
    assert wording.missing(lines) == "two braces, thirty inches; four tie clamps"


def test_the_words_by_which_the_tool_names_a_line_are_understood_and_mean_that_line() -> None:
    """All lines of the invented stock but those that are only said by size: gussets, wedge pairs, nails."""
    stock = load_stock()
    now = start(stock, FakePlanner())
    for line in stock.lines:
        if line.kind in ("gusset", "wedge pair", "nail"):
            continue
        result = resolve_text(f"how many {wording.lines(line.name, 2)}", Context(state="idle"))
        assert isinstance(result, Understood), line.name
        assert isinstance(result.meaning, Command)
        assert matching(now, result.meaning.part or "", result.meaning.length) == (line,), line.name


def test_which_anchors_can_be_answered() -> None:
    talk = Talk(start(load_stock(), FakePlanner()))
    typed(talk, "we have twelve anchors")
    assert talk.said == ["which anchors? block anchors, brick anchors, concrete anchors, timber anchors."]
    typed(talk, "we have twelve brick anchors")
    assert talk.said == ["stock. one two, twelve brick anchors, on hand. affirm, or negative."]


def test_one_callout_from_words_to_the_last_check() -> None:
    talk = typed(Talk.new(), "insertion eleven feet", "sixty", "affirm", "ready", "short two", "how many left")
    assert talk.count("released") == 1
    typed(talk, "say again", "step by step", "next", "say again", "next", "next", "next", "next", "next")
    assert talk.state() in ("assembly", "confirm_walk", "idle")


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
        (("eleven feet sixty", "affirm"), ["11 ft @ 60"]),
        (("about eleven feet sixty", "affirm"), []),
        (("hello there", "", "good night", "affirm"), []),
        (("insertion eleven feet sixty", "hello there", "affirm"), ["11 ft @ 60"]),
    ],
)
def test_what_is_typed_and_what_is_released(lines: tuple[str, ...], released: list[str]) -> None:
    talk = typed(Talk.new(), *lines)
    found = [r.meaning for r in talk.records if r.event == "released"]
    assert [f"{m['insertion']['text']} @ {m['angle_deg']}" for m in found if m] == released


def test_a_typed_callout_that_cannot_be_taken_is_told_why() -> None:
    why = "a bare angle is thirty, forty five or sixty; any other needs angle before it."
    assert typed(Talk.new(), "insertion eleven feet fifty").said == [why, "say insertion, the height, the angle."]
    assert typed(Talk.new(), "insertion eleven feet", "55").said == [why, "say the angle."]
    unit = typed(Talk.new(), "insertion eleven sixty").said
    assert unit[0] == "a number without its unit; say feet or inches."


def test_status_names_the_readback_that_waits() -> None:
    assert typed(Talk.new(), "insertion eleven feet sixty", "status").said == ["waiting for an answer to the readback."]


@pytest.mark.parametrize(
    "line",
    ["insertion twelve fet sixty", "insertoin twelve feet sixty", "insertion 1,2 m 60", "insertion",
     "correction rakers three", "correction insertion", "insertion twelve feet sixty affirm"],
)  # fmt: skip
def test_a_callout_that_is_not_understood_voids_what_waits(line: str) -> None:
    """New content voids the readback, though nobody can tell what it was: the old one is not what was meant last."""
    talk = typed(Talk.new(), "insertion eleven feet sixty", line)
    assert "voided" in talk.events
    assert typed(talk, "affirm").count("released") == 0


ANSWERS = commands_that("affirmative")
READS_A_CALLOUT_BACK = [
    f"confirming.{what}{after}"
    for what in ["readback", "change"]
    for after in ["", "_short", "_short_works", "_refused", "_nearest"]
] + ["confirming.same", "confirming.relocate"]


@pytest.mark.parametrize("key", READS_A_CALLOUT_BACK)
def test_no_readback_of_a_callout_holds_a_word_that_releases_it(key: str) -> None:
    """The voice is in the microphone, too: what it says itself must not answer it. It ends in "over" (a reply is
    expected: ACP 125)."""
    words = re.findall(r"[a-z]+", re.sub(r"\{\w+\}", "", templates()[key]))
    pieces = [words[start:end] for start in range(len(words)) for end in range(start + 1, len(words) + 1)]
    meanings = [getattr(resolve_text(" ".join(piece), Context(state="confirm")), "meaning", None) for piece in pieces]
    assert not [meaning for meaning in meanings if isinstance(meaning, Command) and meaning.command in ANSWERS]


def test_a_sentence_that_held_one_would_be_found() -> None:
    for words in ["affirm", "yes", "that is correct", "affirm insertion"]:
        meaning = resolve_text(words, Context(state="confirm")).meaning
        assert isinstance(meaning, Command), words
        assert meaning.command in ANSWERS, words
