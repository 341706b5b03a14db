"""The desk between a conversation and the world: when the voice ended and when people spoke reach the conversation."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import miniaudio
import numpy as np
import pytest

from callout.dialogue.events import Opened, Tick
from callout.dialogue.machine import start
from callout.dialogue.records import Role
from callout.dialogue.settings import load_settings
from callout.hearing.ears import Heard
from callout.hearing.live import Segment
from callout.hearing.segmenter import Ending
from callout.hearing.sources import MemorySource
from callout.journal.memory import MemoryJournal
from callout.language.outcome import NotUnderstood, Understood
from callout.session import live_ears as ears_at_work
from callout.session.desk import Desk, Mouths
from callout.session.sources import Source
from callout.speaking import Voice, open_voice
from callout.speaking.priorities import How, OnSaid
from callout.speaking.render import RATE
from callout.values import Callout, Command
from tests.dialogue_kit import ELEVEN_SIXTY, FakePlanner, ft, make_stock


class SlowMouth:
    """Remembers what it is to say; the test says when it is over."""

    speaking = False
    saying = None

    def __init__(self) -> None:
        self.ends: list[tuple[str, OnSaid]] = []
        self.cuts: list[dict[str, object]] = []

    def say(self, text: str, wait: bool = False, *, on_said: OnSaid | None = None, **why: object) -> Path | None:
        assert on_said is not None
        self.ends.append((text, on_said))
        return None

    def cut(self, *, again: bool = False, pause: float = 0.0, unsure: bool = False) -> bool:
        self.cuts.append({"again": again, "pause": pause, "unsure": unsure})
        return False

    def drop(self, topic: str) -> None:
        pass

    def stop(self) -> None:
        pass


def make_desk(mouth: SlowMouth | None = None, **settings: object) -> Desk:
    conversation = start(make_stock(), FakePlanner(), load_settings(**settings))
    desk = Desk(conversation, MemoryJournal(), Mouths(mouth), lambda record: None, lambda note: None)
    desk.feed(Opened(0.0))
    return desk


def texts(desk: Desk, time: float) -> list[str]:
    return [record.text for record in desk.feed(Tick(time))]


def test_the_wait_for_an_answer_counts_from_the_end_of_the_voice() -> None:
    mouth = SlowMouth()
    desk = make_desk(mouth)
    desk.heard(Understood(ELEVEN_SIXTY, ()), "words", "measurer", certain=True, when=100.0)
    text, ended = mouth.ends[-1]
    assert text.startswith("insertion:")
    ended("through", 160.0)  # a long queue before it
    assert texts(desk, 179.0) == []
    assert texts(desk, 181.0)[0].startswith("i say again. insertion:")


def utter(desk: Desk, role: Role, said: Callout, begun: float, end: float, ending: Ending = "quiet") -> None:
    """One utterance as the ears hand it over."""
    console = SimpleNamespace(note=lambda line: None)
    work = ears_at_work._Work(desk, role, console, lambda do: do(), True, None)  # type: ignore[arg-type]
    work._began = 0.0
    heard = Heard(Understood(said, ("words",)), (("words",),), 0.9, 0.1, "both")
    pause = 1.2 if ending == "quiet" else 0.0
    work.utterance(Segment(begun, end, np.zeros(160, np.float32), ending, heard, pause))


@pytest.mark.parametrize(
    ("begun", "ending", "at_once"),
    [(10.0, "quiet", True), (11.5, "quiet", False), (11.5, "key", True), (13.0, "key", False)],
)
def test_two_sources_at_the_same_time_reach_the_conversation_as_two_at_once(
    begun: float, ending: Ending, at_once: bool
) -> None:
    """The pause that ended the first utterance is no speech; a key cuts without one."""
    desk = make_desk(one_source=False)
    utter(desk, "logistics", Callout(insertion=ft(9), angle_deg=60), 8.0, 12.5, ending)
    utter(desk, "measurer", ELEVEN_SIXTY, begun, 15.0)
    assert (desk.conversation.measurer.pending is None) is at_once
    assert desk.conversation.logistics.pending is not None


@pytest.mark.parametrize(
    ("said", "setting", "counts"),
    [
        ("evacuate", True, True), ("cease_operations", True, True), ("stop", True, True), ("evacuate", False, False),
        ("affirm", True, False), ("affirm_insertion", True, False), ("ready", True, False),
    ],
)  # fmt: skip
def test_where_its_own_sound_is_not_known_only_a_stop_word_counts(said: str, setting: bool, counts: bool) -> None:
    """A voice that is heard back must never confirm itself."""
    mouth = SlowMouth()
    desk = make_desk(mouth, stop_words_over_voice=setting)
    mouth.speaking = True
    written: list[object] = []
    console = SimpleNamespace(note=lambda line: None)
    work = ears_at_work._Work(desk, "measurer", console, lambda do: written.append(do()), True, None)  # type: ignore[arg-type]
    work.level(-30.0, True)
    heard = Heard(Understood(Command(command=said), (said,)), ((said,),), 0.9, 0.1, "both")
    work.utterance(Segment(1.0, 2.0, np.zeros(160, np.float32), "quiet", heard))
    assert bool(written) is counts


@pytest.mark.parametrize(("begins", "words", "asked"), [(1.9, (), False), (1.9, ("nine",), True), (2.6, (), True)])
def test_the_end_of_its_echo_after_a_stop_word_is_not_asked_about(
    begins: float, words: tuple[str, ...], asked: bool
) -> None:
    """The voice is cut once the word is over, and what is left of it in the air may be taken for somebody."""
    mouth = SlowMouth()
    desk = make_desk(mouth)
    mouth.speaking = True
    written: list[object] = []
    console = SimpleNamespace(note=lambda line: None)
    work = ears_at_work._Work(desk, "measurer", console, lambda do: written.append(do()), True, None)  # type: ignore[arg-type]
    work._began = 0.0
    work.level(-30.0, True)
    stop = Heard(Understood(Command(command="stop"), ("stop",)), (("stop",),), 0.9, 0.1, "both")
    work.utterance(Segment(1.0, 2.0, np.zeros(160, np.float32), "meaning", stop))
    mouth.speaking, work._spoken_over = False, False
    unclear = Heard(NotUnderstood(words), (words,) if words else (), None, 0.1, "both")
    work.utterance(Segment(begins, 3.5, np.zeros(160, np.float32), "quiet", unclear))
    assert (len(written) == 2) is asked


class OwnOrNot:
    """A microphone from which the own voice is taken out; `own` tells whether what is heard is that."""

    began = 0.0

    def __init__(self, own: bool = False) -> None:
        self.own = own

    def is_own(self, words: object, start: float, end: float) -> bool:
        return self.own


@pytest.mark.parametrize(
    ("said", "own", "over", "gives_way"),
    [
        ("hold", False, True, True), ("stop", False, True, True), ("ready", False, True, True),
        ("stop", True, True, False), ("hold", False, False, False), ("status", False, True, False),
    ],
)  # fmt: skip
def test_a_word_after_which_nobody_wants_the_rest_ends_the_voice_in_its_pause(
    said: str, own: bool, over: bool, gives_way: bool
) -> None:
    """Before it is known whether it is over; and nothing is written of it yet."""
    mouth = SlowMouth()
    desk = make_desk(mouth)
    mouth.speaking, mouth.saying = True, SimpleNamespace(listener="both")  # type: ignore[assignment]
    console = SimpleNamespace(note=lambda line: None)
    put: list[object] = []
    work = ears_at_work._Work(desk, "measurer", console, put.append, True, None, sound=OwnOrNot(own))  # type: ignore[arg-type]
    if over:
        work.level(-30.0, True)
    heard = Heard(Understood(Command(command=said), (said,)), ((said,),), 0.9, 0.1, "both")
    work.pause(Segment(1.0, 1.6, np.zeros(160, np.float32), "quiet", heard))
    assert mouth.cuts == ([{"again": False, "pause": ears_at_work.ANSWER_WITHIN, "unsure": True}] if gives_way else [])
    assert put == []


class Scripted:
    """Hears the same callout in whatever it gets, and keeps how much that was."""

    name = "scripted"

    def __init__(self) -> None:
        self.seconds: list[float] = []

    def hear(self, samples: np.ndarray, context: object, opened: float | None = None) -> Heard:
        self.seconds.append(len(samples) / 16_000)
        return Heard(Understood(ELEVEN_SIXTY, ("words",)), (("words",),), 0.9, 0.1, "both")

    def close(self) -> None: ...


def test_with_a_key_to_talk_only_what_is_said_while_it_is_down_is_heard() -> None:
    """Six seconds of speech without a pause; the key is down from the second to the fourth."""
    steps = iter(range(1000))
    key = SimpleNamespace(down=lambda now: 100 <= next(steps) < 200)
    loud = np.random.default_rng(0).normal(0, 0.1, 6 * 16_000).astype(np.float32)
    desk, recognizer, written = make_desk(), Scripted(), []
    source = Source("mic", "", "measurer", key)  # type: ignore[arg-type]
    ear = ears_at_work.Ear(source, MemorySource(loud, 0.02), recognizer)  # type: ignore[arg-type]
    signs: list[tuple[str, bool]] = []
    console = SimpleNamespace(
        note=lambda line: None, level=lambda role, what, level, is_open: signs.append((what, is_open)),
        heard_so_far=lambda text: None,
    )  # fmt: skip

    def put(work: Callable[[], object]) -> None:
        written.append(work())

    ears_at_work.hear_source(desk, ear, console, put, threading.Event(), None)  # type: ignore[arg-type]
    assert recognizer.seconds == [pytest.approx(2.0 + 0.58, abs=0.1)], "with the half second before it"
    assert [record.event for record in desk.records()].count("readback") == 1
    assert {what for what, _ in signs} == {"F12"}
    assert {is_open for _, is_open in signs} == {False, True}


class Tone:
    """0.8 s of sound for whatever is asked; no engine needed."""

    restarts = 0

    def samples(self, text: str, rate: int) -> bytes:
        return np.full(int(RATE * 0.8), 9000, "<i2").tobytes()


def speaking_desk(monkeypatch: pytest.MonkeyPatch) -> tuple[Desk, Voice, list[tuple[str, str]]]:
    """A desk with a voice that plays into nothing; what it tells of each sentence."""
    voice = open_voice(process=Tone(), backends=[miniaudio.Backend.NULL])
    told: list[tuple[str, str]] = []
    spoken = Desk._spoken

    def tell(self: Desk, text: str, how: How, when: float) -> None:
        told.append((text, how))
        spoken(self, text, how, when)

    monkeypatch.setattr(Desk, "_spoken", tell)
    conversation = start(make_stock(), FakePlanner(), load_settings(voiced=True))
    desk = Desk(conversation, MemoryJournal(), Mouths(voice), lambda record: None, lambda note: None)
    desk.feed(Opened(0.0))
    return desk, voice, told


def until(condition: Callable[[], object], seconds: float = 10.0) -> None:
    ends = time.monotonic() + seconds
    while not condition() and time.monotonic() < ends:
        time.sleep(0.01)
    assert condition()


def is_heard(voice: Voice) -> bool:
    player = voice._loudspeaker.player
    return voice.saying is not None and player is not None and player.last_sound > 0


@pytest.mark.parametrize("planned_in", [0.0, 0.3])
def test_a_callout_over_the_voice_cuts_it_and_what_was_cut_is_said_once_more(
    monkeypatch: pytest.MonkeyPatch, planned_in: float
) -> None:
    """Also where the answer is not there at once: what was cut does not begin again before it."""
    plan = FakePlanner.plan
    monkeypatch.setattr(FakePlanner, "plan", lambda *given, **more: (time.sleep(planned_in), plan(*given, **more))[1])
    desk, voice, told = speaking_desk(monkeypatch)
    with voice:
        until(lambda: is_heard(voice))
        desk.heard(Understood(ELEVEN_SIXTY, ()), "words", "measurer", over=True)
        assert voice.wait(30)
    endings = [("eleven feet" in text, how) for text, how in told if how != "figures"]
    assert endings == [(True, "through"), (False, "through")], told


def test_a_key_cuts_the_voice_and_the_conversation_is_told_what_was_not_said(monkeypatch: pytest.MonkeyPatch) -> None:
    desk, voice, told = speaking_desk(monkeypatch)
    with voice:
        until(lambda: is_heard(voice))
        began = time.monotonic()
        desk.press("ready", "logistics")
        until(lambda: (told or [("", "")])[0][1] == "cut")
        assert time.monotonic() - began < 1.0


def test_a_yes_ends_the_rest_of_its_readback_and_a_new_callout_the_old_one(monkeypatch: pytest.MonkeyPatch) -> None:
    desk, voice, told = speaking_desk(monkeypatch)
    with voice:
        desk.heard(Understood(Callout(insertion=ft(9), angle_deg=60), ()), "words", "measurer", certain=True)
        until(lambda: voice.saying is not None and "nine feet" in voice.saying.text)
        desk.heard(Understood(ELEVEN_SIXTY, ()), "words", "measurer", certain=True)
        until(lambda: any(how == "cut" and "nine feet" in text for text, how in told))
        until(lambda: any(how == "figures" and "eleven feet" in text for text, how in told), 30)
        desk.heard(Understood(Command(command="affirm"), ()), "affirm", "measurer", certain=True)
        until(lambda: any(how != "figures" and "eleven" in text for text, how in told))
        voice.stop()


@pytest.mark.parametrize(("begun", "counts"), [(106.0, True), (104.7, True), (103.0, False)])
def test_a_heard_yes_that_began_before_the_figures_were_said_does_not_count(begun: float, counts: bool) -> None:
    """The figures were said at 105; what the ears hand over begins half a second before its first word."""
    mouth = SlowMouth()
    desk = make_desk(mouth, voiced=True)
    desk.heard(Understood(ELEVEN_SIXTY, ()), "words", "measurer", certain=True, when=100.0)
    text, said = mouth.ends[-1]
    assert "eleven feet" in text
    said("figures", 105.0)
    yes = Understood(Command(command="affirm_insertion"), ())
    written = desk.heard(yes, "affirm insertion", "measurer", when=begun, over=True)
    assert ("released" in [record.event for record in written]) is counts
