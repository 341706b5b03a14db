"""How soon an answer begins, as a listener hears it: `python -m tests.bench answer`.

From the last sound in the microphone to the first in the loudspeaker, with a sound card made of software and the voice
at its own pace. Wanted: half within 0.5 s, 95 in 100 within 0.8 s.
"""

from __future__ import annotations

import contextlib
import json
import os
import pty
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from callout.files import data_folder
from tests import sound_card
from tests.sound_card import Live, Recorder, SoundCard, in_a_room, live, wait_for

ROUNDS = int(os.environ.get("ROUNDS", "4"))
BALANCED = data_folder("audio_fixtures") / "balanced"
DEMO = data_folder("audio_fixtures") / "demo"
CALLOUTS = (
    DEMO / "whole_clean.flac", BALANCED / "c05_en-gb-x-rp+f3_clean.flac", DEMO / "wrong_clean.flac",
    BALANCED / "c13_am_fenrir_clean.flac",
)  # fmt: skip
#: Said one after the other in each round: what it is called here, and its recording.
TURNS = (
    ("callout", None), ("negative", DEMO / "negative_clean.flac"), ("callout", None),
    ("affirm", DEMO / "affirm_clean.flac"), ("ready", DEMO / "ready_clean.flac"), ("next", DEMO / "next_clean.flac"),
    ("say again", DEMO / "say_again_clean.flac"),
)  # fmt: skip
#: In the order in which they are reached: seconds after the end of the sound.
STAGES = (
    "quiet for the ears", "finish", "finish took", "over", "say", "rendered", "handed", "desk", "desk took",
    "heard at the loudspeaker",
)  # fmt: skip
ESCAPE = b"\x1b"


class Listener:
    """Says things to a running program, and listens for the answers."""

    def __init__(self, card: SoundCard, program: Live, keyboard: int) -> None:
        self.card, self.program, self.keyboard = card, program, keyboard
        self.speaker, self.microphone = card.record("spk"), card.record("mic")
        self.stages: dict[str, list[dict[str, float]]] = defaultdict(list)

    def turn(self, name: str, sound: Path) -> float | None:
        """Seconds from the end of the sound to the answer; None where there was none."""
        self.hush()
        since, before, notes = time.monotonic(), len(self.program.events), len(self.program.notes)
        self.card.say(in_a_room(sound))
        with contextlib.suppress(AssertionError):
            self.program.wait("heard", since=before, seconds=6.0)
            wait_for(lambda: len(self.speaker.loud(since)) > 5, 6.0)
            end = last_sound(self.microphone, since, self.speaker.loud(since)[0])
            answered = self.speaker.loud(end)[0] - end
            self.stages[name].append({**self._stages(end, notes), "heard at the loudspeaker": answered})
            return answered
        return None

    def _stages(self, end: float, notes: int) -> dict[str, float]:
        """When each stage was reached first, in seconds after the end of the sound."""
        found: dict[str, float] = {}
        for line in list(self.program.notes)[notes:]:
            if line.startswith('{"stage"'):
                told = json.loads(line)
                if told["at"] > end:
                    found.setdefault(told["stage"], told["at"] - end)
                    found.setdefault(f"{told['stage']} took", told.get("took", 0.0))
                    if told["stage"] == "over":
                        found.setdefault("quiet for the ears", told["at"] - told["quiet"] - end)
        return found

    def hush(self) -> None:
        os.write(self.keyboard, ESCAPE)
        self.speaker.quiet_for(1.2)


def last_sound(microphone: Recorder, since: float, until: float) -> float:
    return microphone.loud(since, until)[-1]


@contextlib.contextmanager
def listening(folder: Path) -> Iterator[Listener]:
    ours, theirs = pty.openpty()
    before = [*sound_card.PROGRAM]
    try:
        with sound_card.sound_card() as card:
            sound_card.PROGRAM[:] = [sys.executable, "-m", "tests.timed_listen"]
            with live(card, "--journal", str(folder / "day.journal"), stdin=theirs) as program:
                program.wait("said", "callout ready")
                yield Listener(card, program, ours)
    finally:
        sound_card.PROGRAM[:] = before
        os.close(ours)
        os.close(theirs)


def bench() -> dict[str, float]:
    found: dict[str, list[float]] = defaultdict(list)
    lost = 0
    with tempfile.TemporaryDirectory() as folder, listening(Path(folder)) as listener:
        for number in range(ROUNDS):
            for place, (name, sound) in enumerate(TURNS):
                if name == "affirm":  # its figures must have been said
                    listener.speaker.quiet_for(1.2)
                seconds = listener.turn(name, sound or CALLOUTS[(2 * number + place) % len(CALLOUTS)])
                if seconds is None:
                    lost += 1
                else:
                    found[name].append(seconds)
    every = [seconds for some in found.values() for seconds in some]
    figures = {f"{name}, the middle of {len(some)}, s": float(np.median(some)) for name, some in found.items()}
    for share in (50, 95):
        figures[f"end of sound to the answer, p{share} of {len(every)}, s"] = float(np.percentile(every, share))
    for name, turns in listener.stages.items():
        for stage in STAGES:
            some = [turn[stage] for turn in turns if stage in turn]
            if some:
                figures[f"  {name}: {stage}"] = float(np.median(some))
    figures["without an answer"] = lost
    figures["load of the machine, mean of a minute"] = os.getloadavg()[0]
    return figures
