"""The two ears on whole callouts: of many voices, and of the forms that people often use."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import resample_poly

from audio_fixtures.build import read_manifest
from callout.channel.radio import simulate
from callout.files import data_folder
from callout.hearing.audio import RATE, read_audio
from callout.hearing.ears import Ears
from callout.language.resolve import resolve_text
from callout.speaking import SpeechProcess
from callout.speaking.render import RATE as VOICE_RATE
from callout.speaking.render import render
from callout.values import meaning_json
from tests.how_much import one_in
from tests.test_language_phrases import OFTEN

pytestmark = pytest.mark.audio

BALANCED = data_folder("audio_fixtures") / "balanced"
CLEAN = [row for row in read_manifest(BALANCED / "manifest.jsonl").values()
         if (row["group"], row["channel"]) == ("callout", "clean")]  # fmt: skip


@pytest.mark.parametrize("row", one_in(5, CLEAN), ids=lambda row: row["file"])
def test_clean_callouts_of_many_voices_are_understood(ears: Ears, row: dict) -> None:
    """By twelve voices, of which some were trained on or chosen by; docs/proofs/ears.md has the figures of others."""
    heard = ears.hear(read_audio(BALANCED / row["file"])).resolution
    assert heard.outcome == "understood"
    assert meaning_json(heard.meaning) == row["meaning"]


@pytest.mark.parametrize("said", OFTEN)
def test_what_is_often_said_so_is_heard_clean_and_by_radio(ears: Ears, voice: SpeechProcess, said: str) -> None:
    """By the tool's own voice, half a second after the key; the radio is the project's simulator.

    Every word is heard; "three quarters of an inch" is not sure enough of this voice and is asked for again.
    """
    spoken = resample_poly(render(said, voice).samples / 32768.0, RATE, VOICE_RATE)
    sound = np.pad(spoken, RATE // 2).astype(np.float32)
    for one in (sound, simulate(sound, RATE, seed=3).astype(np.float32)):
        heard = ears.hear(one).resolution
        assert heard.outcome in ("understood", "ambiguous")
        assert resolve_text(" ".join(heard.words)).meaning == resolve_text(said).meaning
