"""Opening a voice: its loudspeaker, its folder and its speech process, as the settings say."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import miniaudio

from callout.speaking.habits import Habits
from callout.speaking.loudspeaker import Opener
from callout.speaking.pacing import Pace
from callout.speaking.player import open_player
from callout.speaking.process import SpeechProcess
from callout.speaking.render import SpeechSource
from callout.speaking.voice import Voice
from callout.speaking.voice_files import check_folder


def open_voice(
    rate_figures: float = 100,
    rate_words: float = 130,
    folder: Path | None = None,
    *,
    device: str | None = None,
    vox_lead: float = 0.0,
    hush: float = 0.0,
    play: bool = True,
    on_trouble: Callable[[str], None] | None = None,
    backends: Sequence[miniaudio.Backend] = (),
    process: SpeechSource | None = None,
    habits: Habits | None = None,
) -> Voice:  # fmt: skip
    """A voice on `device` (None: the default output).

    `folder`: where every utterance is written as WAV; without one, only a machine without a sound card writes
    files, into a new temporary folder. `vox_lead`: seconds of tone before every utterance, for a radio that keys
    itself, and `hush` seconds of silence after it. `play=False` renders only. The rates are words a minute. `process`:
    a speech process shared with another voice; who made it closes it. Raises `BadInput` for an unknown device or a
    folder that cannot be written.
    """
    pace = Pace(figures=rate_figures, words=rate_words)
    opener: Opener | None = partial(open_player, device, backends) if play else None
    player, silent = opener() if opener is not None else (None, "playing is switched off")
    if folder is not None:
        check_folder(folder)
    source = SpeechProcess() if process is None else process
    return Voice(
        source, player, pace, folder, lead=vox_lead, hush=hush, silent=silent, on_trouble=on_trouble,
        owns=process is None, opener=opener, habits=habits,
    )  # fmt: skip
