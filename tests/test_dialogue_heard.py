"""Nothing is booked, and no yes counts, before the voice has said what it is about; nobody is left unanswered."""

from __future__ import annotations

import pytest

from callout.dialogue.events import Key, LookDue, Opened, Resumed, Silence, Spoken, Uttered
from callout.dialogue.machine import MOST_UNHEARD, restore, start
from callout.dialogue.settings import load_settings
from callout.dialogue.state import on_hand
from callout.language.outcome import MeaningPart as HeardPart
from callout.language.outcome import Near, NotUnderstood, Understood
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.values import Callout, Command
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, FakePlanner, Talk, ft, make_stock

AGREED = (HeardPart("command", None, 0.9, "agreed"),)


def voiced(**settings: object) -> Talk:
    return Talk.new(voiced=True, **settings)


def told(talk: Talk, how: str = "through", *texts: str) -> Talk:
    """The voice tells how far it came with what it was asked to say."""
    for text in texts or list(talk.now.unheard):
        talk.time += 0.1
        assert talk.put(Spoken(text, talk.time, how)).effects == []  # type: ignore[arg-type]
    return talk


def heard(talk: Talk, word: str, *, over: bool = False) -> Talk:
    talk.time += 1.0
    result = Understood(Command(command=word), (), parts=AGREED)
    return talk.put(Uttered(result, word, "measurer", talk.time, over_speech=over))


def test_six_presses_in_a_second_book_nothing_that_was_not_said() -> None:
    talk = told(voiced().say(ELEVEN_SIXTY)).say(AFFIRM)
    for _ in range(6):
        talk.key("ready")
        assert Silence("yard") in talk.effects
        assert talk.said == ["item one. two struts, six feet. rack A."]
    assert talk.count("picked") == 0
    told(talk, "figures", "item one. two struts, six feet. rack A.").key("ready")
    assert talk.events == ["picked", "said"]
    assert talk.key("ready").events == ["said"]  # item two was not said yet
    assert talk.count("picked") == 1


@pytest.mark.parametrize("how", ["figures", "through", "failed"])
def test_what_was_said_or_stands_on_the_screen_alone_can_be_booked(how: str) -> None:
    talk = told(told(voiced().say(ELEVEN_SIXTY)).say(AFFIRM), how)
    assert talk.key("ready").events == ["picked", "said"]


def test_what_was_cut_is_not_heard_until_it_is_said_again() -> None:
    talk = told(told(voiced().say(ELEVEN_SIXTY)).say(AFFIRM), "cut")
    assert "picked" not in talk.key("ready").events
    told(talk)
    assert "picked" in talk.key("ready").events


def test_a_large_screen_counts_where_the_team_sets_it_so() -> None:
    talk = told(voiced(shown_counts=True).say(ELEVEN_SIXTY)).say(AFFIRM)
    assert "picked" in talk.key("ready").events


def test_a_cut_that_takes_two_breaths_is_heard_when_both_were() -> None:
    """By a build of the packaged stock: the piece in one sentence, its length and its ends in the next."""
    talk = Talk(start(load_stock(), ShorePlanner(), load_settings(seconds_a_word=0.0, voiced=True)))
    told(told(talk.put(Opened(0.0)).say(ELEVEN_SIXTY)).say(AFFIRM))
    while len(talk.said) < 2 or not talk.said[0].startswith("cut two. "):
        told(talk).key("ready")
    first, second = talk.said
    told(talk, "figures", first).key("ready")
    assert talk.said == [first, second]  # said again: the second breath was not heard
    told(talk, "figures", first, second).key("ready")
    assert talk.said[0].startswith("thirty four steps. ")


def test_a_spoken_ready_waits_for_the_item_like_a_key() -> None:
    talk = told(voiced().say(ELEVEN_SIXTY)).say(AFFIRM)
    assert "picked" not in heard(talk, "ready", over=True).events
    assert "picked" in heard(told(talk), "ready").events


@pytest.mark.parametrize("over", [True, False])
def test_a_yes_counts_once_the_figures_it_answers_were_said(over: bool) -> None:
    talk = voiced().say(ELEVEN_SIXTY)
    heard(talk, "affirm", over=over)
    assert talk.events == ["heard", "refused", "readback"]
    told(talk, "figures")
    assert "released" in heard(talk, "affirm").events


@pytest.mark.parametrize(
    ("said", "began", "counts"),
    [
        ({"figures": 5.0}, 4.3, False),
        ({"figures": 5.0}, 4.5, True),  # who knows what comes may begin over its last word
        ({"through": 5.0}, 4.3, False),
        ({"figures": 5.0, "through": 8.0}, 6.0, True),  # "affirm?" comes after the figures
        ({"figures": 5.0, "cut": 6.0}, 4.3, False),
    ],
)
def test_a_yes_that_was_begun_before_the_figures_were_said_is_none(
    said: dict[str, float], began: float, counts: bool
) -> None:
    """It is understood later, when they were said; but it was spoken before."""
    talk = voiced().say(ELEVEN_SIXTY)
    readback = talk.said[-1]
    for how, when in said.items():
        talk.put(Spoken(readback, when, how))  # type: ignore[arg-type]
    talk.put(Uttered(Understood(AFFIRM, (), parts=AGREED), "affirm", "measurer", began))
    assert talk.count("released") == counts


@pytest.mark.parametrize(("began", "counts"), [(4.0, False), (12.0, True)])
def test_a_yes_over_a_readback_that_is_said_again_is_none_though_its_first_saying_was_cut(
    began: float, counts: bool
) -> None:
    """Both times it is said in the same words: the end of the first is not the end of the second."""
    talk = voiced().say(ELEVEN_SIXTY).say("say_again")
    again = talk.said[-1]
    assert talk.say("say_again").said == [again]
    talk.put(Spoken(again, 3.5, "cut"))
    talk.put(Spoken(again, 10.0, "figures"))
    talk.put(Uttered(Understood(AFFIRM, (), parts=AGREED), "affirm", "measurer", began))
    assert talk.count("released") == counts


def test_a_card_whose_first_words_were_cut_is_heard_when_it_is_said_again_in_others() -> None:
    """The yard hears it first with the number of the build, and again without."""
    talk = told(voiced(one_source=False).say(ELEVEN_SIXTY)).say(AFFIRM)
    told(talk, "cut", "yard. build one. item one. two struts, six feet. rack A.")
    assert "picked" not in talk.key("ready").events
    told(talk, "through", "item one. two struts, six feet. rack A.")
    assert "picked" in talk.key("ready").events


def test_the_key_for_the_affirm_has_one_meaning() -> None:
    talk = voiced()
    assert talk.key("affirm", "measurer").events == ["refused"]
    talk.say(ELEVEN_SIXTY)
    assert talk.key("affirm", "measurer").events == ["refused"]
    assert talk.count("affirmed") == 0
    told(talk).key("affirm", "measurer")
    affirmed = next(record for record in talk.records if record.event == "affirmed")
    assert (affirmed.text, affirmed.to_json()["happened"]) == ("keyed", {"keyed": True})
    assert talk.count("released") == 1
    told(talk).key("affirm", "measurer")
    assert talk.count("picked") == 0


def test_the_ready_key_never_affirms() -> None:
    talk = told(voiced().say(ELEVEN_SIXTY))
    talk.key("ready", "measurer")
    assert talk.count("affirmed") == 0


def test_what_cannot_be_built_is_affirmed_by_no_key() -> None:
    talk = told(voiced().say(Callout(insertion=ft(11), angle_deg=40)))
    assert talk.key("affirm", "measurer").said == ["that cannot be built. say correction, or disregard."]
    assert talk.count("affirmed") == 0


def test_what_was_not_understood_while_it_spoke_is_answered() -> None:
    talk = Talk.new().released()
    event = Uttered(NotUnderstood(("dog",)), "dog", "measurer", 9.0, over_speech=True)
    assert talk.put(event).said == ["say again."]
    assert talk.put(Uttered(NotUnderstood(("dog",)), "dog", "measurer", 10.0)).said == []  # chatter on a silent channel


def test_a_callout_that_was_not_understood_while_it_spoke_voids_and_is_answered_however_often() -> None:
    """After so many doubts chatter is answered no more; what was said over the voice is, and voids the readback."""
    talk = Talk.new(times_asked=1).say(ELEVEN_SIXTY)
    for over in (False, True):
        result = NotUnderstood(("eleven", "feet"), missing=("insertion",)) if over else NotUnderstood(("dog",))
        talk.time += 1.0
        talk.put(Uttered(result, "words", "measurer", talk.time, over_speech=over))
    assert talk.events == ["heard", "voided", "asked"]
    assert talk.said == ["say again."]
    assert talk.say(AFFIRM).count("released") == 0


def test_a_card_that_is_said_again_is_unheard_again_however_much_is_said_after_it() -> None:
    """So many sentences are kept as unheard, those asked for last: a card that was asked for once more is among them,
    and no key books it before it was heard."""
    card = "item one. two struts, six feet. rack A."
    talk = told(voiced().say(ELEVEN_SIXTY)).say(AFFIRM)
    assert card in talk.now.unheard
    for more in range(MOST_UNHEARD - len(talk.now.unheard)):
        talk.put(LookDue(more + 1, f"look {more}", talk.time))
    talk.say("say_again", "logistics")
    for more in range(10):
        talk.put(LookDue(more + 1, f"another look {more}", talk.time))
    assert len(talk.now.unheard) == MOST_UNHEARD
    assert "picked" not in talk.key("ready").events


def much_more(talk: Talk) -> Talk:
    """So much is said after it that what nothing hangs on is kept as unheard no longer."""
    for more in range(MOST_UNHEARD + 10):
        talk.put(LookDue(more + 1, f"look {more}", talk.time))
    return talk


def test_no_yes_answers_a_readback_that_nobody_heard_however_much_is_said_after_it() -> None:
    for side in ("measurer", "logistics"):
        talk = voiced(one_source=False)
        talk.say(ELEVEN_SIXTY if side == "measurer" else Command(command="stock_out", part="anchor"), side)
        asked = talk.said[-1]
        much_more(talk)
        assert asked in talk.now.unheard
        assert len(talk.now.unheard) == MOST_UNHEARD + 1
        assert talk.key("affirm", side).count("affirmed") == 0
        assert told(talk, "figures", asked).key("affirm", side).count("affirmed") == 1


def test_no_key_books_an_item_that_nobody_heard_however_much_is_said_after_it() -> None:
    """Its card was cut, and not said again since."""
    talk = told(told(voiced(one_source=False).say(ELEVEN_SIXTY)).say(AFFIRM), "cut")
    assert much_more(talk).key("ready").count("picked") == 0
    told(talk, "figures", talk.said[-1]).key("ready")
    assert talk.count("picked") == 1


def test_what_is_near_is_asked_and_done_by_a_yes_alone() -> None:
    talk = Talk.new().released()
    near = Near(("sort", "two"), likely=Command(command="short", quantity=1), sentence="short one")
    talk.put(Uttered(near, "sort one", "logistics", 9.0, True))
    assert talk.said == ["short one, of the six foot struts?"]
    assert talk.count("stock_changed") == 0
    talk.time = 10.0
    talk.say(AFFIRM)
    assert talk.count("stock_changed") == 1
    assert on_hand(talk.now)["six foot strut"] == 1


def test_after_a_restart_the_voice_has_said_nothing_yet() -> None:
    talk = told(told(voiced().say(ELEVEN_SIXTY)).say(AFFIRM))
    now = restore(talk.records, make_stock(), FakePlanner(), talk.now.settings)
    again = Talk(now, records=list(talk.records)).put(Resumed(0.0))
    again.put(Key("ready", "logistics", 1.0))
    assert again.events == ["said"]
    assert again.count("picked") == 0
