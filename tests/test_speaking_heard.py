"""Every kind of sentence can be said, and its figures can be heard: by the tool's own ear, through a radio.

The share at 0 dB for all sentences and both voices stands in docs/proofs/voice.md (`python -m tests.proof voice`).
"""

import pytest

from callout.speaking.pacing import check_words
from tests.voice_heard import figures_heard, hearable, sentences

pytestmark = pytest.mark.audio


def test_a_shift_has_every_kind_of_sentence():
    assert {"readback", "item", "step", "mark", "answer", "other"} <= set(sentences())
    for texts in sentences().values():
        for text in texts:
            check_words(text)


@pytest.mark.parametrize("kind", ["readback", "item", "step", "mark"])
def test_the_figures_of_each_kind_are_heard_through_a_radio(voice, kind):
    text = next(text for text in sentences()[kind] if hearable(text))
    assert figures_heard(text, voice, None)


def test_other_figures_are_not_heard_in_their_place(voice, monkeypatch):
    """The ear decides between all number words: a sentence with one figure changed is not heard as it is written."""
    from tests import voice_heard

    spoken, written = "item one. two struts, eight feet.", "item one. two struts, nine feet."
    assert figures_heard(spoken, voice, None)
    render = voice_heard.render
    monkeypatch.setattr(voice_heard, "render", lambda text, source: render(spoken, source))
    assert not figures_heard(written, voice, None)


def test_most_readbacks_and_items_are_heard_at_no_more_than_their_own_loudness_of_noise(voice):
    """0 dB of white noise at the microphone, through the radio band. Most of eight, as one draw of noise may differ."""
    texts = [*sentences()["readback"][:4], *sentences()["item"][:4]]
    assert sum(figures_heard(text, voice, 0.0, seed=at) for at, text in enumerate(texts)) >= 5
