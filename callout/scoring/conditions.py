"""In what condition a recording is heard: as it is, or through the simulated radio at a level and a seed."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from callout.channel import NOISES, simulate
from callout.channel.level import Samples
from callout.files import data_folder

RATE = 16_000

#: What `--channel` may name beside a noise, and how each changes the radio.
CHANNELS: dict[str, dict[str, float | bool]] = {
    "clean": {},
    "radio": {},
    "late": {"late_ms": 150.0},
    "mulaw": {"mulaw": True},
}


@dataclass(frozen=True)
class Condition:
    """`channel` "clean": as recorded. `snr_db` None: no noise at the microphone."""

    channel: str = "clean"
    noise: str = ""
    snr_db: float | None = None
    seed: int = 0

    @property
    def label(self) -> str:
        """ "" for as recorded; "radio generator 10 dB seed 0"."""
        if self.channel == "clean":
            return ""
        noise = f" {self.noise} {self.snr_db:g} dB" if self.snr_db is not None else ""
        return f"{self.channel}{noise} seed {self.seed}"

    def apply(self, samples: Samples, file: str) -> Samples:
        """The recording as it is heard in this condition; the noise differs from file to file, not from run to run."""
        if self.channel == "clean":
            return samples
        seed = int.from_bytes(hashlib.sha256(f"{self.seed}/{file}".encode()).digest()[:4], "big")
        settings = CHANNELS[self.channel]
        voices = babble_voices() if self.noise == "babble" and self.snr_db is not None else None
        return simulate(
            samples,
            RATE,
            self.snr_db,
            self.noise or "generator",
            late_ms=float(settings.get("late_ms", 0.0)),
            mulaw=bool(settings.get("mulaw", False)),
            seed=seed,
            voices=voices,
        )


def conditions(
    channels: Sequence[str], snrs: Sequence[float], noise: str | None, repeat: int, seed: int
) -> list[Condition]:
    """Every combination that was asked for, "as recorded" when none was. A noise may stand for a radio with it.

    Without noise there is nothing random but the faint hiss, so `repeat` counts there too.
    """
    made: list[Condition] = []
    for name in channels or (["radio"] if snrs else ["clean"]):
        if name == "clean":
            made.append(Condition())
            continue
        channel, sound = ("radio", name) if name in NOISES else (name, noise or "generator")
        levels: Sequence[float | None] = snrs or ([10.0] if name in NOISES or noise else [None])
        for level in levels:
            for number in range(repeat):
                made.append(Condition(channel, sound if level is not None else "", level, seed + number))
    return list(dict.fromkeys(made))


@functools.cache
def babble_voices() -> tuple[Samples, ...]:
    """Five voices that talk of other things, for the babble; they lie beside the demo's recordings."""
    import soundfile

    folder = data_folder("audio_fixtures") / "demo" / "babble"
    return tuple(soundfile.read(path, dtype="float32")[0] for path in sorted(folder.glob("*.flac")))
