"""Test kits: recordings of unseen voices, clean, with a manifest of what was said.

    python -m ears_training kit development_wide OUT
    python -m ears_training kit heldout_wide OUT

The wide kits draw their callouts evenly over every form of the language (`forms.py`); `development` and `heldout` are
the first, plainer ones. OUT gets `audio/*.wav` (16 kHz, 16 bit) and `manifest.jsonl`, one object a line:
{"file", "words", "speaker", "kind", "voice"}; kind is callout, command, other (stock, corrections,
more than the plain callout) or chatter (no part of the language).
"""

import json
import random
import sys
from collections.abc import Container, Iterator
from importlib.resources import files
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np

from callout.errors import BadInput
from callout.files import tomllib
from ears_training.forms import Forms
from ears_training.text import Talker
from ears_training.voices import RATE, Manner, Samples, Speech

Row = dict[str, str]


def kits() -> dict[str, Any]:
    """Return `data/kits.toml`."""
    return tomllib.loads(files("ears_training").joinpath("data/kits.toml").read_text(encoding="utf-8"))


def plain(text: str) -> str:
    """Return the words as a transcript has them: lower case, no commas."""
    return " ".join(text.replace(",", " ").lower().split())


def sentences(counts: list[int], rng: random.Random) -> list[tuple[str, str]]:
    """Draw (kind, text) rows: callouts, commands, others, chatter."""
    t = Talker(rng)
    others = [t.stock, t.correction, t.callout]
    return (
        [("callout", t.core_callout()) for _ in range(counts[0])]
        + [("command", t.pick("conversation", "commands")) for _ in range(counts[1])]
        + [("other", others[i % 3]()) for i in range(counts[2])]
        + [("chatter", t.english()) for _ in range(counts[3])]
    )


def wide_sentences(counts: list[int], forms: Forms) -> list[tuple[str, str]]:
    """Draw (kind, text) rows over every form of the language: callouts, commands, others, chatter."""
    kinds = {"callout": forms.callout, "command": forms.command, "other": forms.other, "chatter": forms.chatter}
    return [(kind, make()) for count, (kind, make) in zip(counts, kinds.items(), strict=True) for _ in range(count)]


def write_wav(path: Path, x: Samples) -> None:
    """Write 16 kHz, 16 bit, clipped rather than wrapped."""
    import soundfile

    soundfile.write(path, (np.clip(x, -1, 1) * 32767).astype(np.int16), RATE, subtype="PCM_16")


def drawn_manner(rng: random.Random, wide: bool) -> Manner:
    """Pace and pitch of one sentence."""
    if wide:
        return Manner(rng.uniform(0.85, 1.25), rng.uniform(0.85, 1.2), rng.randrange(1 << 30))
    return Manner(rng.uniform(0.9, 1.15), 1.0, rng.randrange(1 << 30))


def planned(name: str) -> Iterator[tuple[Row, str, Manner]]:
    """Every recording of the kit `name` in order, unspoken: its line of the manifest, its text and how it is said. The
    seed fixes all of it, whether or not anything is spoken."""
    table = kits().get(name)
    if table is None:
        raise BadInput(f"no kit is called {name!r}; there are {', '.join(kits())}")
    forms, wide = Forms(random.Random(table["seed"])), table.get("wide", False)
    for k, (voice, *counts) in enumerate(table["voices"]):
        rng = random.Random(table["seed"] + k)
        for i, (kind, text) in enumerate(wide_sentences(counts, forms) if wide else sentences(counts, rng)):
            manner = drawn_manner(rng, wide)
            row = {
                "file": f"audio/{k:02d}_{i:03d}.wav",
                "words": plain(text),
                "speaker": f"v{k:02d}",
                "kind": kind,
                "voice": voice,
            }
            yield row, text, manner


def build(
    name: str, out: Path, lead: float = 0.4, tail: float = 0.6, only: Container[str] | None = None
) -> int:  # fmt: skip
    """Make the kit `name` in `out`; `lead` and `tail` are seconds of quiet around each sentence. With `only` no more
    than these files are spoken; the manifest lists all."""
    rows = list(planned(name))
    (out / "audio").mkdir(parents=True, exist_ok=True)
    (out / "manifest.jsonl").write_text("".join(json.dumps(row) + "\n" for row, _, _ in rows), encoding="utf-8")
    wanted = [(row, text, manner) for row, text, manner in rows if only is None or row["file"] in only]
    speech, quiet = Speech(), [np.zeros(int(s * RATE), np.float32) for s in (lead, tail)]
    for voice, group in groupby(wanted, key=lambda each: str(each[0]["voice"])):
        mine = list(group)
        for row, text, manner in mine:
            said = speech.say(voice, text, manner)
            write_wav(out / row["file"], np.concatenate([quiet[0], said, quiet[1]]))
        print(f"{voice}: {len(mine)} sentences", file=sys.stderr, flush=True)
    return len(wanted)
