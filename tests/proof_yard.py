"""A day of yard sound through the live loop, faster than it happened: nothing released, hardly a word mistaken, and
nothing that grows.

python -m tests.proof yard              as many hours as 10 minutes allow; writes docs/proofs/yard.md
YARD_MINUTES=60 python -m tests.proof yard

The sound is made here: talk that is not meant for callout (the chatter of `audio_fixtures`, voices in a crowd),
machines, the radio's hiss and squelch, tones, knocks, silence. It goes through the segmenter, both ears and the
conversation as a microphone's would. Half of the time a readback waits for its answer, so that a mistaken "affirm"
would release it; a quarter of the time a parts list is walked, so that a mistaken "ready" would book.
"""

from __future__ import annotations

import json
import os
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from scipy.stats import chi2

from callout.channel import NOISES, simulate
from callout.data import data_folder
from callout.dialogue.events import Opened
from callout.dialogue.machine import start
from callout.dialogue.settings import load_settings
from callout.hearing.audio import RATE, Samples, read_audio
from callout.hearing.live import utterances
from callout.hearing.remote import EarsProcess
from callout.hearing.sources import MemorySource
from callout.journal.memory import MemoryJournal
from callout.language.resolve import resolve_text
from callout.scoring.conditions import babble_voices
from callout.session.desk import Desk, Mouths
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock

_PAGE = Path(__file__).parents[1] / "docs" / "proofs" / "yard.md"
CHUNK = 120.0  # seconds of sound between two looks at the process
#: Of what the yard is made, and how much of each.
KINDS = {"talk": 0.3, "radio": 0.2, "machine": 0.2, "tone": 0.1, "knock": 0.1, "silence": 0.1}
CALLOUT = "insertion eleven feet sixty"


def prove() -> None:
    minutes = float(os.environ.get("YARD_MINUTES", "10"))
    ends = time.monotonic() + 60 * minutes
    yard, looks, heard = Yard(24), [], Counter[str]()
    mistaken: list[str] = []
    ears = EarsProcess()
    began = time.monotonic()
    try:
        while time.monotonic() < ends and len(looks) < 24 * 3600 / CHUNK:
            number = len(looks)
            desk = _desk(number)
            sound = MemorySource(yard.sound(CHUNK))
            for segment in utterances(sound, ears, lambda desk=desk: desk.contexts["measurer"]):  # type: ignore[misc]
                words = " ".join(segment.heard.readings[0]) if segment.heard.readings else ""
                for record in desk.heard(segment.heard.resolution, words, "measurer", when=100.0 + segment.start):
                    heard[record.event] += 1
                    if record.event == "heard" and record.meaning is not None:
                        mistaken.append(f"{words} ({desk.contexts['measurer'].state})")
            looks.append(_look(ears))
    finally:
        ears.close()
    _write(looks, heard, mistaken, time.monotonic() - began)


def _desk(number: int) -> Desk:
    conversation = start(load_stock(None), ShorePlanner(), load_settings())
    desk = Desk(conversation, MemoryJournal(), Mouths(), lambda record: None, lambda note: None)
    desk.feed(Opened(0.0))
    for line in ((CALLOUT,), (CALLOUT,), (CALLOUT, "affirm", "ready"), ())[number % 4]:
        desk.heard(resolve_text(line, desk.contexts["measurer"]), line, "measurer", certain=True, when=1.0)
    return desk


class Yard:
    """Endless sound of a yard, the same for the same seed."""

    def __init__(self, seed: int) -> None:
        self._rng = np.random.default_rng(seed)
        folder = data_folder("audio_fixtures") / "balanced"
        lines = [json.loads(line) for line in (folder / "manifest.jsonl").read_text().splitlines()]
        chatter = [line["file"] for line in lines if line["group"] == "chatter" or line["file"].startswith("n")]
        self._talk = [read_audio(folder / file) for file in chatter]
        self._crowd = babble_voices()

    def sound(self, seconds: float) -> Samples:
        """At most 12 s at a time of one kind, one after the other."""
        pieces, total = [], 0
        while total < seconds * RATE:
            piece = self._piece()
            pieces.append(piece)
            total += len(piece)
        return np.concatenate(pieces)[: round(seconds * RATE)].astype(np.float32)

    def _piece(self) -> Samples:
        kind = self._rng.choice(list(KINDS), p=list(KINDS.values()))
        length = self._rng.uniform(1.5, 12.0)
        floor = (10 ** self._rng.uniform(-4, -2.2)) * self._rng.standard_normal(round(length * RATE))
        loud = 10 ** self._rng.uniform(-1.2, 0.0)
        if kind in ("talk", "radio"):
            speech = np.pad(self._talk[self._rng.integers(len(self._talk))], (RATE // 2, RATE))
            if kind == "radio":
                noise = str(self._rng.choice([name for name in NOISES if name != "babble"]))
                speech = simulate(speech, RATE, float(self._rng.uniform(0, 25)), noise, seed=self._seed())
            out = np.zeros(max(len(floor), len(speech)))
            out[: len(floor)] += floor
            out[: len(speech)] += loud * speech
            return np.clip(out, -1, 1)
        at = np.arange(len(floor)) / RATE
        if kind == "machine":
            name = str(self._rng.choice(list(NOISES)))
            quiet = 1e-4 * self._rng.standard_normal(len(floor))
            voices = self._crowd if name == "babble" else None
            noise = simulate(quiet, RATE, -30.0, name, seed=self._seed(), voices=voices)
            return np.clip(noise[: len(floor)] * loud + floor, -1, 1)
        if kind == "tone":
            return np.clip(floor + 0.3 * loud * np.sin(2 * np.pi * self._rng.uniform(200, 3000) * at), -1, 1)
        if kind == "knock":
            for when in self._rng.uniform(0, length, self._rng.integers(1, 12)):
                knock = loud * np.exp(-40 * np.abs(at - when)) * (at >= when) * self._rng.standard_normal(len(at))
                floor = floor + knock
        return np.clip(floor, -1, 1)

    def _seed(self) -> int:
        return int(self._rng.integers(2**31))


def _look(ears: EarsProcess) -> dict[str, float]:
    """Memory in MB (PSS), open files and processes of this program and its ears."""
    pids = list(_family(os.getpid()))
    return {
        "MB": sum(_pss(pid) for pid in pids) / 1024,
        "files": sum(len(list(Path(f"/proc/{pid}/fd").iterdir())) for pid in pids),
        "processes": len(pids),
        "restarts": ears.helper.restarts,
    }


def _family(pid: int) -> Iterator[int]:
    yield pid
    for task in Path(f"/proc/{pid}/task").iterdir():
        for child in (task / "children").read_text().split():
            yield from _family(int(child))


def _pss(pid: int) -> int:
    rollup = Path(f"/proc/{pid}/smaps_rollup").read_text()
    return next(int(line.split()[1]) for line in rollup.splitlines() if line.startswith("Pss:"))


def _write(looks: list[dict[str, float]], heard: Counter[str], mistaken: list[str], took: float) -> None:
    hours = len(looks) * CHUNK / 3600
    bound = chi2.ppf(0.95, 2 * (len(mistaken) + 1)) / 2 / hours  # one-sided, of a Poisson rate
    first, last = looks[len(looks) // 5], looks[-1]
    grew = (last["MB"] - first["MB"]) / max(1, len(looks) - 1 - len(looks) // 5) * 3600 / CHUNK
    lines = [
        "# A day of yard sound", "",
        "Written by `python -m tests.proof yard`; what the sound is stands in `tests/proof_yard.py`.", "",
        f"**{hours:.1f} hours** of sound in {took / 60:.0f} minutes ({hours * 3600 / took:.0f} times as fast as it "
        "happens, on two shared cores).", "",
        "| what | count |", "|---|---|",
        f"| utterances that reached the conversation | {heard['heard']} |",
        f"| builds released by them | {heard['released']} |",
        f"| items booked by them | {heard['picked']} |",
        f"| taken for a command or a callout | {len(mistaken)} ({len(mistaken) / hours * 10:.1f} in 10 h; 95 % bound "
        f"{bound * 10:.1f}) |",
        f"| memory at a fifth of it, and at the end (MB, all processes) | {first['MB']:.0f}, {last['MB']:.0f} "
        f"({grew:+.1f} an hour) |",
        f"| open files, likewise | {first['files']:.0f}, {last['files']:.0f} |",
        f"| processes, likewise | {first['processes']:.0f}, {last['processes']:.0f} |",
        f"| ears started again | {last['restarts']:.0f} |", "",
    ]  # fmt: skip
    if mistaken:
        most = Counter(mistaken).most_common(12)
        lines += ["Taken: " + "; ".join(f"{what} x{count}" for what, count in most) + ".", ""]
    _PAGE.write_text("\n".join(lines), encoding="utf-8")
    assert heard["released"] == 0, "yard noise released a build"
    assert last["processes"] == first["processes"], "processes grow"
    assert last["files"] <= first["files"] + 4, "open files grow"
