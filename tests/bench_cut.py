"""How soon a word that is said over the voice silences it, as a listener hears it: `python -m tests.bench cut`.

"ready", "stop", "quiet" and "hold" are said into the microphone while the voice reads an item of the parts list, with a
sound card made of software and the voice at its own pace. Told are the seconds until the loudspeaker is silent: from
the last sound of the word, and from the moment that its meaning is known. Wanted: 0.15 s from there. With ECHO=0.25 the
microphone hears the loudspeaker, a quarter as loud.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
from scipy.signal import correlate

from audio_fixtures.voices import EngineMissing, speak
from callout.files import data_folder
from tests.bench_answer import Listener, listening
from tests.sound_card import Recorder, recording, wait_for

ROUNDS = int(os.environ.get("ROUNDS", "4"))
ECHO = float(os.environ.get("ECHO", "0"))
WORDS = ("ready", "stop", "quiet", "hold")
VOICES = ("hibari:heart", "flite:rms", "flite:slt", "festival:kal_diphone")
DEMO = data_folder("audio_fixtures") / "demo"
AFFIRM, AGAIN = b"\x1b[19~", b"s"
#: Seconds into a sentence before the word is said: differs, so that not always the same figure is cut.
LATER = (0.3, 0.5, 0.8, 1.0, 1.3, 1.6)


def bench() -> dict[str, float]:
    found: dict[str, list[float]] = defaultdict(list)
    with tempfile.TemporaryDirectory() as folder, listening(Path(folder)) as listener:
        if ECHO:
            listener.card.leak(ECHO)
        begin_a_build(listener)
        for number in range(ROUNDS):
            for word in WORDS:
                told = over_the_voice(listener, said(word, number), LATER[number % len(LATER)])
                for name, seconds in (told or {"not understood": 1.0}).items():
                    found[f"{word}: {name}"].append(seconds)
    figures = {}
    for name, some in sorted(found.items()):
        if name.endswith("not understood"):
            figures[name] = float(len(some))
            continue
        figures[f"{name}, the middle of {len(some)}, s"] = float(np.median(some))
        figures[f"{name}, the longest, s"] = max(some)
    figures["load of the machine, mean of a minute"] = os.getloadavg()[0]
    return figures


def said(word: str, number: int) -> np.ndarray:
    """A word in one of the voices that are installed here; where there is none, from the demonstration."""
    some = []
    for voice in VOICES:
        with contextlib.suppress(EngineMissing):
            some.append(speak(voice, word))
    if not some:
        raise SystemExit("no voice to say the words: see audio_fixtures/README.md")
    return some[number % len(some)] * 0.5


def begin_a_build(listener: Listener) -> None:
    listener.speaker.quiet_for(1.0)
    listener.program.call(listener.card, recording("whole_clean.flac"), "readback", "eleven feet")
    listener.speaker.quiet_for(1.0)
    os.write(listener.keyboard, AFFIRM)
    time.sleep(0.1)
    os.write(listener.keyboard, AFFIRM)
    listener.program.wait("released")


def over_the_voice(listener: Listener, word: np.ndarray, later: float) -> dict[str, float] | None:
    """The card is said again, and cut by a word. None where that was not understood: it is asked for again then."""
    listener.hush()
    since = time.monotonic()
    os.write(listener.keyboard, AGAIN * 2)
    wait_for(lambda: bool(listener.speaker.loud(since)), 10.0)
    time.sleep(later)
    before, notes = len(listener.program.events), len(listener.program.notes)
    listener.card.say(word)
    with contextlib.suppress(AssertionError):
        listener.program.wait("heard", since=before, seconds=4.0)
        time.sleep(0.5)
        stages = [json.loads(line) for line in listener.program.notes[notes:] if line.startswith('{"stage"')]
        if [stage["outcome"] for stage in stages if stage["stage"] == "finish"][-1] == "Understood":
            return seconds_to_silence(listener, since, stages, word)
    return None


def end_of(word: np.ndarray, microphone: Recorder, since: float, until: float) -> float:
    """When the last sound of a word came into the microphone, whatever else was heard there: where it fits best."""
    pieces = [(when, piece) for when, piece in list(microphone._pieces) if since <= when <= until]
    sound = np.concatenate([piece for _, piece in pieces])
    loud = np.flatnonzero(np.abs(word) > 0.03 * np.abs(word).max())
    last = int(np.argmax(correlate(sound, word, "valid"))) + int(loud[-1])
    ends = np.cumsum([len(piece) for _, piece in pieces])
    return pieces[int(np.searchsorted(ends, last, "right"))][0]


def seconds_to_silence(
    listener: Listener, since: float, stages: list[dict], word: np.ndarray
) -> dict[str, float]:  # fmt: skip
    word_ended = end_of(word, listener.microphone, since, first(stages, "over", since) + 0.1)
    cut = first(stages, "stop", word_ended)
    known = max(stage["at"] for stage in stages if stage["stage"] == "finish" and stage["at"] <= cut)
    next_sentence = first(stages, "handed", cut, default=cut + 3.0)
    last = listener.speaker.loud(since, next_sentence)[-1]
    silent = max(cut, last)
    figures = {"end of the word to its meaning": known - word_ended, "end of the word to silence": silent - word_ended}
    if last < cut:  # the voice was in a pause of its own: when it was cut cannot be heard
        return figures
    return {**figures, "meaning known to silence": last - known}


def first(stages: list[dict], name: str, after: float, *, default: float | None = None) -> float:
    """When a stage was reached first after a time."""
    times = [stage["at"] for stage in stages if stage["stage"] == name and stage["at"] > after]
    assert times or default is not None, f"{name} was not told of"
    return min(times) if times else default
