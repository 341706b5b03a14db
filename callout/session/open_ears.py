"""The ears that a program opens once: at the first recording, and they stay open until it ends. They hear one utterance
at a time, whoever asks."""

from __future__ import annotations

import atexit
import threading
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias, Union

from callout.errors import BadInput
from callout.language.context import Context

if TYPE_CHECKING:
    from callout.hearing.audio import Samples
    from callout.hearing.ears import Heard, Recognizer

    #: A recording, or samples.
    Sound: TypeAlias = Union[str, Path, Samples]

_open: dict[Path | None, Recognizer] = {}
_one_at_a_time = threading.Lock()


def hear_samples(samples: Samples, context: Context, model: Path | None = None, voices: str | None = None) -> Heard:
    """Hear one utterance, 16 kHz mono, in a context: by a team's own model or the ears of the package, and by a
    talker's voice, all as for `callout.hear`."""
    with _one_at_a_time:
        ears = _opened(model)
        _judge_by(ears, voices)
        return ears.hear(samples, context)


def _judge_by(ears: Recognizer, voices: str | None) -> None:
    """By a talker's voice, or by the package's decisions."""
    from callout.hearing.ears import Ears
    from callout.hearing.voices import decisions_of

    if isinstance(ears, Ears):
        ears.decide_by(decisions_of(voices) if voices else None)
    elif voices:
        raise BadInput("a voice is for the ears of the package; leave out the model")


def _opened(model: Path | None) -> Recognizer:
    if model not in _open:
        from callout.hearing.ears import open_ears

        ears = _open[model] = open_ears(model)
        atexit.register(ears.close)
    return _open[model]


def samples_of(sound: Sound, rate: int) -> Samples:
    """16 kHz mono samples of a file or of samples at another rate."""
    import numpy as np

    from callout.hearing.audio import read_audio, to_speech

    if isinstance(sound, (str, Path)):
        return read_audio(sound)
    data = np.asarray(sound)
    return to_speech(data / 32768.0 if data.dtype.kind in "iu" else data, rate)
