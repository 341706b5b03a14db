"""Its own voice is never taken; what a person says over it is. Real ears, real voice, and an echo that is computed."""

import numpy as np
import pytest
from scipy.signal import oaconvolve

from callout.frame_clock import FrameClock
from callout.hearing.live import utterances
from callout.language.commands import commands_that
from callout.language.context import Context
from callout.language.outcome import Understood
from callout.session.own_voice import OwnVoiceTakenOut, alike, same_words
from callout.speaking.player import to_ear_rate
from callout.speaking.render import render
from callout.values import Command
from tests.how_much import examples, one_in
from tests.sound_card import RATE, recording
from tests.voice_in_microphone import VoiceInMicrophone

# One of them ends in the word that releases: a team may word its readbacks so.
SENTENCES = (
    "callout ready. one source. a person relays, and keys the affirm.",
    "insertion: one one feet, eleven feet; sixty degrees. affirm?",
    "Working estimate, not an approval. Watch the wall; keep the escape route.",
    "item one. two struts, eight feet.",
    "item two. four wall plates, twelve feet.",
)
READBACKS = (
    "insertion: one one feet, eleven feet; sixty degrees. over.",
    "the same callout. insertion: nine feet; forty five degrees. over.",
    "change build one. insertion: one five feet, fifteen feet; sixty degrees. over.",
    "insertion: one two feet, twelve feet; forty five degrees. the stock is short of two wall plates, five feet. over.",
)
FRONT = 1.0  # seconds of quiet before the first sentence


class Yard(VoiceInMicrophone):
    """A loudspeaker, a room and a microphone."""

    def __init__(self, spoken, level, walls=0.0, delay=0.12, noise=0.001, seed=1):
        rng = np.random.default_rng(seed)
        front = np.zeros(int(FRONT * RATE), np.float32)
        voice, times = np.concatenate([front, *(s for s, _ in spoken), front]), []
        at = FRONT
        for sound, text in spoken:
            times.append((at, at + len(sound) / RATE, text))
            at += len(sound) / RATE
        path = np.zeros(RATE // 3)
        path[int(delay * RATE)] = level
        if walls:  # an exponential decay, as of a small room
            reach = np.arange(RATE // 8)
            path[int(delay * RATE) : int(delay * RATE) + len(reach)] += (
                level * walls * rng.standard_normal(len(reach)) * np.exp(-reach / (0.04 * RATE))
            )
        echo = oaconvolve(voice, path)[: len(voice)]
        super().__init__((echo + noise * rng.standard_normal(len(echo))).astype(np.float32), voice, times)

    def person(self, samples, at):
        self.heard[int(at * RATE) : int(at * RATE) + len(samples)] += samples


@pytest.fixture(scope="module")
def said_aloud(voice):
    """Sentences as the voice says them, with a short quiet after each."""
    pause = np.zeros(RATE // 4, np.float32)
    return lambda sentences: [
        (np.concatenate([to_ear_rate(render(text, voice).samples), pause]), text) for text in sentences
    ]


@pytest.fixture(scope="module")
def spoken(said_aloud):
    return said_aloud(SENTENCES)


def taken(yard, ears, state="idle", pauses=None):
    """What goes to the conversation of what is heard in the yard: outcomes and words, in order. `pauses` gets the same
    of what was said up to each pause: there the voice may give way already."""
    sound = OwnVoiceTakenOut(yard, [yard])

    def of_a_person(segment):
        words = segment.heard.readings[0] if segment.heard.readings else ()
        if not words or sound.is_own(words, segment.start, segment.end):
            return []
        return [(isinstance(segment.heard.resolution, Understood), " ".join(words))]

    early = lambda segment: (pauses if pauses is not None else []).extend(of_a_person(segment))  # noqa: E731
    found = []
    for segment in utterances(sound, ears, lambda: Context(state=state), pause=early):
        found += of_a_person(segment)
    return found


@pytest.mark.audio
@pytest.mark.parametrize(
    ("level", "walls", "state"),
    [
        (0.5, 0.1, "confirm_walk"),
        *(
            pytest.param(level, walls, state, marks=pytest.mark.slow)
            for level, walls in [(0.1, 0.0), (0.3, 0.3), (0.5, 0.0), (1.0, 0.1), (2.0, 0.0)]
            for state in ("idle", "confirm_walk")
        ),
    ],
)
def test_its_own_voice_is_never_taken(spoken, ears, level, walls, state):
    pauses = []
    assert taken(Yard(spoken, level, walls), ears, state, pauses) == []
    assert [words for understood, words in pauses if understood] == [], "it gives way to nobody"


@pytest.mark.audio
@pytest.mark.parametrize(
    ("level", "walls"),
    [
        (0.5, 0.0),
        *(pytest.param(*room, marks=pytest.mark.slow) for room in [(0.0, 0.0), (0.1, 0.0), (0.3, 0.2), (1.0, 0.0)]),
    ],
)
def test_a_callout_over_its_voice_is_taken(spoken, ears, level, walls):
    """Said into the cautions, after the voice has been heard for some seconds, about as loud as its echo at 0.5."""
    yard = Yard(spoken, level, walls)
    callout = recording("whole_clean.flac")
    yard.person(callout, yard.times[2][0] + 0.5)
    assert (True, "insertion eleven feet sixty") in taken(yard, ears)


@pytest.mark.audio
def test_an_affirm_that_the_voice_is_saying_itself_is_taken_where_its_echo_is_known(spoken, ears):
    yard = Yard(spoken, 0.3)
    yard.person(recording("affirm_clean.flac"), yard.times[1][1] - 1.6)
    assert (True, "affirm") in taken(yard, ears, "confirm")


class Stumbling(Yard):
    """A busy machine loses some sound at a moment: from there on the echo comes sooner, and the time line has moved."""

    def __init__(self, spoken, level, at, lost):
        super().__init__(spoken, level)
        self.at, cut = int(at * RATE), int(lost * RATE)
        self.heard = np.concatenate([self.heard[: self.at], self.heard[self.at + cut :], np.zeros(cut, np.float32)])

    def blocks(self):
        for number, block in enumerate(super().blocks()):
            self.moves = int(number * len(block) >= self.at)
            yield block


@pytest.mark.audio
@pytest.mark.slow
@pytest.mark.parametrize("later", [-0.3, 0.5, 1.5])
def test_its_own_readback_is_not_taken_where_the_machine_stumbles_over_it(spoken, ears, later):
    """What had been learnt of its echo is of no use for a moment: there its words are known by what they say."""
    order = [spoken[2], spoken[1]]
    begins = FRONT + len(order[0][0]) / RATE
    assert taken(Stumbling(order, 0.5, begins + later, 0.05), ears, "confirm") == []


@pytest.mark.audio
def test_where_the_time_line_has_just_moved_its_own_words_are_nobodys(spoken, ears):
    """The affirm that it is saying itself, by a person: taken where its echo is known, and said again here."""
    yard = Stumbling(spoken, 0.3, 0.0, 0.0)
    yard.at = int((yard.times[1][1] - 2.0) * RATE)
    yard.person(recording("affirm_clean.flac"), yard.times[1][1] - 1.6)
    assert (True, "affirm") not in taken(yard, ears, "confirm")


class Late(Yard):
    """A busy machine plays a sentence later than it believes: by its time line nothing is played any more when the echo
    comes back. That its pieces come late is all that it knows."""

    def __init__(self, spoken, level, late):
        super().__init__(spoken, level)
        held, after = int(late * RATE), np.zeros(4 * RATE, np.float32)
        self.heard = np.concatenate([self.heard[:held], self.heard, after])
        self.voice = np.concatenate([self.voice, np.zeros(held, np.float32), after])
        self.wavers = True


@pytest.mark.audio
@pytest.mark.parametrize("late", one_in(2, [0.6, 1.0]))
def test_an_affirm_of_its_own_that_comes_late_releases_nothing(spoken, ears, late):
    """The last word of a readback is the one that releases."""
    assert taken(Late(spoken[1:2], 0.3, late), ears, "confirm") == []


@pytest.mark.audio
@pytest.mark.parametrize("level", [0.3, pytest.param(1.0, marks=pytest.mark.slow)])
def test_no_readback_that_is_heard_in_full_answers_itself(said_aloud, ears, level):
    """Nothing takes the voice out here and nothing knows what it said: heard as a stranger's words, a readback holds no
    word that releases."""
    answers, heard = commands_that("affirmative"), []
    for readback in said_aloud(READBACKS[:: examples(1, 2)]):
        raw = VoiceInMicrophone(Yard([readback], level).heard, np.zeros(0, np.float32), [])
        heard += [segment.heard for segment in utterances(raw, ears, lambda: Context(state="confirm"))]
    assert sum("insertion" in one.readings[0] for one in heard if one.readings) >= examples(2, 1), "it is heard"
    meanings = [getattr(one.resolution, "meaning", None) for one in heard]
    assert not [meaning for meaning in meanings if isinstance(meaning, Command) and meaning.command in answers]


@pytest.mark.audio
def test_an_affirm_into_the_microphone_is_a_persons_where_nothing_is_known_of_the_echo(spoken, ears):
    """He answers at once, far louder than the voice is there."""
    yard = Late(spoken[1:2], 0.05, 0.5)
    yard.person(recording("affirm_insertion_clean.flac"), yard.times[0][1] + 1.2)
    assert (True, "affirm insertion") in taken(yard, ears, "confirm")


@pytest.mark.audio
def test_an_affirm_of_its_own_right_at_the_start_is_not_a_person(spoken, ears):
    """The readback is the first that is heard of the voice: nothing is known of its echo yet."""
    assert taken(Yard(spoken[1:2], 1.0), ears, "confirm") == []


def test_alike_is_the_same_sound_at_any_delay_and_nothing_else():
    rng = np.random.default_rng(2)
    one, other = rng.standard_normal((2, RATE)).astype(np.float32)
    assert alike(0.3 * one[4000:12000], one) == pytest.approx(1.0, abs=0.001)
    assert alike(other[:8000], one) < 0.1
    assert same_words(("affirm",), ["affirm, or correction."])
    assert same_words(("insertion", "affirm"), ["insertion: one one feet, eleven feet; sixty degrees. affirm?"])
    assert not same_words(("insertion", "nine", "feet"), ["item one. two struts, eight feet."])


def test_a_stream_that_stalls_has_moved_and_one_that_is_late_has_not():
    clock = FrameClock(100, pieces=4)
    for piece in range(1, 20):
        clock.tell(5.0 + piece / 10 + (0.2 if piece % 3 else 0.0), piece * 10)
    assert (clock.began, clock.moves) == (pytest.approx(5.0), 2)
    for piece in range(20, 40):
        clock.tell(5.5 + piece / 10, piece * 10)
    assert clock.began == pytest.approx(5.5)


def test_a_stream_whose_last_pieces_are_all_late_may_have_moved():
    clock = FrameClock(100)
    for piece in range(1, 20):
        clock.tell(5.0 + piece / 10 + (0.2 if piece % 3 else 0.0), piece * 10)
        assert not clock.wavers
    moves = clock.moves
    for piece in range(20, 24):
        clock.tell(5.2 + piece / 10, piece * 10)
    assert clock.wavers
    assert clock.moves == moves, "whether the stream has stalled is not certain yet"
