"""What may reach the voice, and how slowly it goes out.

Outside source of the rates: ICAO Doc 9432 (no more than 100 words a minute when it is written down, a pause around
numbers). The 130 of ordinary words is common practice, no source.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from callout.errors import CalloutError
from callout.speaking.pacing import NotSpeakable, Pace, check_words, stretches
from callout.speaking.render import RATE, render
from callout.speaking.tones import lead_tone

PACE = Pace(around=0.3, comma=0.2, stop=0.6, end=0.1)


def shown(text):
    """Figures in capitals, the pause in tenths of a second after each stretch."""
    return " ".join(f"{s.text.upper() if s.figures else s.text} ({round(s.pause * 10)})" for s in stretches(text, PACE))


@pytest.mark.parametrize(
    ("text", "cut"),
    [
        ("copy", "copy (1)"),
        ("Insertion eleven feet", "insertion (3) ELEVEN FEET (1)"),
        ("one one feet, eleven feet; six zero degrees, sixty.",
         "ONE ONE FEET (2) ELEVEN FEET (2) SIX ZERO DEGREES (2) SIXTY (1)"),
        ("Build two. Three six foot struts", "build (3) TWO (6) THREE SIX FOOT (3) struts (1)"),
        ("six and a half inches and a plate", "SIX AND A HALF INCHES (3) and a plate (1)"),
        ("stand by, and a plate", "stand by (2) and a plate (1)"),
        ("the foot of the wall", "the foot of the wall (1)"),
        ("forty-five degrees, at the base", "FORTY-FIVE DEGREES (2) at the base (1)"),
        ("don't lift. affirm or negative?", "don't lift (6) affirm or negative (1)"),
    ],
)  # fmt: skip
def test_a_number_and_its_unit_stand_alone_between_pauses(text, cut):
    assert shown(text) == cut


@pytest.mark.parametrize(
    "text",
    ["11 ft", "eleven' six\"", "1/2", "½ inch", "<break time='500ms'>", "six × six", "angle 60°", "a & b", "", "  ",
     "éleven feet", "one\x00two", "😀", "eleven, , feet", "-", "a_b", "[pause]"],
)  # fmt: skip
def test_anything_but_words_is_refused_in_one_line(text):
    with pytest.raises(NotSpeakable, match="words only") as told:
        check_words(text)
    assert "\n" not in str(told.value)
    assert isinstance(told.value, CalloutError)


@given(st.text())
def test_whatever_passes_is_made_of_letters_and_plain_punctuation(text):
    try:
        clean = check_words(text)
    except NotSpeakable:
        return
    assert set(clean) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ ,;:.!?'’-")
    assert [w for s in stretches(clean) for w in s.text.split()] == [
        w.strip(",;:.!?").lower() if w.strip(",;:.!?").isalpha() else w.strip(",;:.!?") for w in clean.split()
    ]


class Fast:
    """A source of sound that says every word in 0.2 s at 150 words a minute, and slower in proportion."""

    def __init__(self):
        self.asked = []

    def samples(self, text, rate):
        self.asked.append((text, rate))
        seconds = 0.2 * len(text.split()) * 150 / rate
        return np.full(round(seconds * RATE), 5000, "<i2").tobytes()


@pytest.mark.parametrize("text", ["one one feet", "one two three four five six", "the parts of the build are here"])
@pytest.mark.parametrize("pace", [Pace(), Pace(figures=60, words=90), Pace(figures=150, words=200)])
def test_no_stretch_is_faster_than_its_limit_pauses_counted(text, pace):
    sound = render(text, Fast(), pace)
    limit = pace.figures if text.startswith("one") else pace.words
    # Counted from the voice's first sound to the end of the pause after it. The silence before the first word gives
    # nobody time to write, so it is taken off as long as it is: a fixed 0.05 s was wrong once it was cut to 0.01 s.
    lead = np.flatnonzero(sound.samples)[0] / RATE
    assert len(text.split()) / (sound.seconds - lead) * 60 <= limit + 0.5


def test_figures_are_asked_for_at_their_rate_and_words_at_theirs():
    source = Fast()
    render("insertion point, eleven feet", source, Pace(figures=90, words=120))
    assert source.asked[0] == ("insertion point", 120)
    assert ("eleven feet", 90) in source.asked


@pytest.mark.parametrize("rate", [0, 39, 301, -5])
def test_a_rate_nobody_can_follow_is_refused(rate):
    with pytest.raises(CalloutError, match="40 to 300"):
        Pace(figures=rate)


def test_the_lead_tone_has_its_length_and_begins_and_ends_softly():
    tone = lead_tone(0.5)
    assert len(tone) == RATE // 2
    assert abs(int(tone[0])) < 100
    assert abs(int(tone[-1])) < 100
    assert 7000 < np.abs(tone).max() < 9000  # -12 dB of 32,767
