"""A day of yard sound through the live loop, faster than it happened: nothing released, hardly a word mistaken, and
nothing that grows.

python -m tests.proof yard              goes on for 10 minutes where it stopped; writes docs/proofs/yard.md
YARD_MINUTES=60 python -m tests.proof yard
YARD_SHARD=3/30 python -m tests.proof yard      only the third of thirty parts of the day, and no page
YARD_MINUTES=0 python -m tests.proof yard       only the page, of all that was heard

Each process writes to a log of its own, in the folder YARD_LOGS; parts of the day may be heard at the same time, on
another machine, too, and are put together by their logs. YARD_HOURS is more than a day where a day is not enough.

The sound is made here: talk that is not meant for callout (the chatter of `audio_fixtures`, voices in a crowd),
machines, the radio's hiss and squelch, tones, knocks, silence. It goes through the segmenter, both ears and the
conversation as a microphone's would. Half of the time a readback waits for its answer, so that a mistaken "affirm"
would release it; a quarter of the time a parts list is walked, so that a mistaken "ready" would book. The ears are
given all the time that they want, so that a busy machine is not taken for a dead ear.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from scipy.stats import chi2
from scipy.stats import t as student

from callout.channel import NOISES, simulate
from callout.dialogue.events import Opened
from callout.dialogue.machine import start
from callout.dialogue.settings import load_settings
from callout.files import data_folder
from callout.hearing import remote
from callout.hearing.audio import RATE, Samples, read_audio
from callout.hearing.ears import WEIGHTS
from callout.hearing.helper import Helper
from callout.hearing.live import utterances
from callout.hearing.remote import EarsProcess
from callout.hearing.sources import MemorySource
from callout.journal.memory import MemoryJournal
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.scoring.conditions import babble_voices
from callout.session.desk import Desk, Mouths
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from tests.patient_ears import LONG

HERE = Path(__file__).parent
_PAGE = HERE.parent / "docs" / "proofs" / "yard.md"
CHUNK = 120.0  # seconds of sound between two looks at the processes
HOURS = 24.0  # the bar
WARM = 15  # looks, half an hour: what is loaded at first use is loaded, each network has met a long utterance
LINE = 4  # looks through which a line can be laid
#: Of what the yard is made, and how much of each: somebody speaks for a good third of the day.
KINDS = {"talk": 0.2, "radio": 0.15, "machine": 0.2, "tone": 0.05, "knock": 0.1, "silence": 0.3}
CALLOUT = "insertion eleven feet sixty"


def prove() -> None:
    minutes, shard = float(os.environ.get("YARD_MINUTES", "10")), os.environ.get("YARD_SHARD", "")
    ends, run, logs = time.monotonic() + 60 * minutes, f"{time.time():.0f}-{os.getpid()}", _logs()
    heard = {look["number"] for look in read(logs)}
    pieces = round(float(os.environ.get("YARD_HOURS", HOURS)) * 3600 / CHUNK)
    to_hear = [number for number in numbers(shard or "1/1", pieces) if number not in heard]
    if to_hear and minutes > 0:
        _hear(to_hear, ends, logs / f"{run}.jsonl", run)
    if not shard:
        _write(read(logs))


def _hear(to_hear: list[int], ends: float, log: Path, run: str) -> None:
    remote.PATIENCE = LONG
    yard, ears = Yard(), EarsProcess()
    ears.helper.close()
    ears.helper = Helper("tests.patient_ears", str(WEIGHTS))
    try:
        for number in to_hear:
            began = time.time()
            if time.monotonic() >= ends:
                break
            look = _listen(yard.sound(CHUNK, number), ears, number)
            look |= {"number": number, "run": run, "began": began, "took": time.time() - began, "machine": _machine()}
            with log.open("a", encoding="utf-8") as file:
                file.write(json.dumps(look | _look(ears)) + "\n")
    finally:
        ears.close()


def numbers(shard: str, pieces: int) -> range:
    """The pieces of the day that are part `k` of `n` ("k/n"), one after the other as they stand in it."""
    part, parts = map(int, shard.split("/"))
    if not 1 <= part <= parts:
        raise ValueError(f"there is no part {shard}")
    return range(pieces * (part - 1) // parts, pieces * part // parts)


def _logs() -> Path:
    """What this commit's ears have heard so far; a run that was stopped goes on from there."""
    head = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=HERE, capture_output=True, text=True)
    name = f"callout-yard-{head.stdout.strip() or 'loose'}"
    folder = Path(os.environ.get("YARD_LOGS", Path(tempfile.gettempdir()) / name))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def read(logs: Path) -> list[dict[str, Any]]:
    """The looks of all logs in the order of the sound; a piece that two runs heard counts once."""
    lines = [line for log in sorted(logs.glob("*.jsonl")) for line in log.read_text("utf-8").splitlines()]
    looks = {look["number"]: look for look in reversed([json.loads(line) for line in lines])}
    return [looks[number] for number in sorted(looks)]


def _machine() -> str:
    cpu = Path("/proc/cpuinfo").read_text("utf-8")
    model = next((line.split(": ", 1)[1] for line in cpu.splitlines() if line.startswith("model name")), "unknown")
    return f"{os.cpu_count()} processors ({model})"


def _listen(sound: Samples, ears: EarsProcess, number: int) -> dict[str, Any]:
    """What a conversation wrote while it heard this, and what it took for words to it."""
    desk, wrote, open_for = _desk(number), Counter[str](), 0.0
    taken: list[str] = []
    asked: list[str] = []  # a meaning that is in doubt moves nothing: it is asked for
    for segment in utterances(MemorySource(sound), ears, lambda: desk.contexts["measurer"]):
        words = " ".join(segment.heard.readings[0]) if segment.heard.readings else ""
        state = desk.contexts["measurer"].state
        open_for += segment.end - segment.start
        for record in desk.heard(segment.heard.resolution, words, "measurer", when=100.0 + segment.start):
            wrote[record.event] += 1
            if record.event == "heard" and record.meaning is not None:
                understood = isinstance(segment.heard.resolution, Understood)
                (taken if understood else asked).append(f"{words} ({state})")
    return {"wrote": wrote, "taken": taken, "asked": asked, "open": open_for}


def _desk(number: int) -> Desk:
    conversation = start(load_stock(None), ShorePlanner(), load_settings())
    desk = Desk(conversation, MemoryJournal(), Mouths(), lambda record: None, lambda note: None)
    desk.feed(Opened(0.0))
    for line in ((CALLOUT,), (CALLOUT,), (CALLOUT, "affirm", "ready"), ())[number % 4]:
        desk.heard(resolve_text(line, desk.contexts["measurer"]), line, "measurer", certain=True, when=1.0)
    return desk


class Yard:
    """Endless sound of a yard, the same for the same number of a piece."""

    def __init__(self) -> None:
        folder = data_folder("audio_fixtures") / "balanced"
        lines = [json.loads(line) for line in (folder / "manifest.jsonl").read_text().splitlines()]
        chatter = [line["file"] for line in lines if line["group"] == "chatter" or line["file"].startswith("n")]
        self._talk = [read_audio(folder / file) for file in chatter]
        self._crowd = babble_voices()

    def sound(self, seconds: float, number: int) -> Samples:
        """At most 12 s at a time of one kind, one after the other."""
        self._rng = np.random.default_rng([24, number])
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
    for child, parent in _parents().items():
        if parent == pid:
            yield from _family(child)


def _parents() -> dict[int, int]:
    """Every process with its parent; one that ends meanwhile is left out."""
    found = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            found[int(stat.parent.name)] = int(stat.read_text("utf-8").rpartition(")")[2].split()[1])
    return found


def _pss(pid: int) -> int:
    rollup = Path(f"/proc/{pid}/smaps_rollup").read_text()
    return next(int(line.split()[1]) for line in rollup.splitlines() if line.startswith("Pss:"))


class Growth(NamedTuple):
    """MB an hour of sound, half the width of its 95 % interval, and the looks that it is made of."""

    slope: float
    wide: float
    looks: int


def growth(runs: list[list[float]]) -> Growth | None:
    """The one slope of all lines through the memory of runs, each with a height of its own (least squares); None
    where no run is long enough for a line."""
    runs = [values for values in runs if len(values) >= LINE]
    if not runs:
        return None
    at = np.concatenate([np.arange(len(values)) - (len(values) - 1) / 2 for values in runs]) * CHUNK / 3600
    memory = np.concatenate([np.array(values) - np.mean(values) for values in runs])
    slope = float(at @ memory / (at @ at))
    free = len(at) - len(runs) - 1
    error = np.sqrt(np.sum((memory - slope * at) ** 2) / free / (at @ at))
    return Growth(slope, float(error * student.ppf(0.975, free)), len(at))


def clock(looks: list[dict[str, Any]]) -> float:
    """Seconds of the clock in which at least one process heard."""
    spent, until = 0.0, 0.0
    for began, ended in sorted((look["began"], look["began"] + look["took"]) for look in looks):
        spent += max(0.0, ended - max(began, until))
        until = max(until, ended)
    return spent


def _write(looks: list[dict[str, Any]]) -> None:
    runs: dict[str, list[dict[str, Any]]] = {}
    for look in looks:
        runs.setdefault(look["run"], []).append(look)
    _PAGE.write_text(page(looks, runs), encoding="utf-8")
    wrote = sum((Counter(look["wrote"]) for look in looks), Counter[str]())
    assert wrote["released"] == 0, "yard noise released a build"
    for run in runs.values():
        steady = run[WARM:] or run[-1:]
        assert steady[-1]["processes"] == steady[0]["processes"], "processes grow"
        assert steady[-1]["files"] <= steady[0]["files"] + 4, "open files grow"


def page(looks: list[dict[str, Any]], runs: dict[str, list[dict[str, Any]]]) -> str:
    hours = len(looks) * CHUNK / 3600
    wrote = sum((Counter(look["wrote"]) for look in looks), Counter[str]())
    taken = [words for look in looks for words in look["taken"]]
    asked = [words for look in looks for words in look["asked"]]
    bound = chi2.ppf(0.95, 2 * (len(taken) + 1)) / 2 / hours  # one-sided, of a Poisson rate
    steady = [run[WARM:] for run in runs.values() if len(run) > WARM]  # once all is loaded
    spent, heard = clock(looks), sum(look["open"] for look in looks) / 3600
    lengths = sorted(len(run) * CHUNK / 60 for run in runs.values())
    machines = " and ".join(sorted({look["machine"] for look in looks}))
    lines = [
        "# A day of yard sound", "",
        "Written by `python -m tests.proof yard`; what the sound is stands in `tests/proof_yard.py`.",
        *([] if hours >= HOURS else [f"**The bar is {HOURS:.0f} hours, which were not reached.**"]), "",
        f"**{hours:.1f} hours** of sound in {spent / 60:.0f} minutes ({hours * 3600 / spent:.0f} times as fast as it "
        f"happens), heard by {len(runs)} processes with {lengths[0]:.0f} to {lengths[-1]:.0f} minutes of the sound "
        f"each, on {machines}. No process heard a day: what shows only after more than {lengths[-1]:.0f} minutes is "
        f"not shown here. The ears had an utterance open for {heard:.1f} hours of it.", "",
        "| what | count |", "|---|---|",
        f"| utterances that reached the conversation | {wrote['heard']} |",
        f"| builds released by them | {wrote['released']} |",
        f"| items booked by them | {wrote['picked']} |",
        f"| taken for a command or a callout | {len(taken)} ({len(taken) / hours * 10:.1f} in 10 h; 95 % bound "
        f"{bound * 10:.1f}); the bar is 1 |",
        f"| taken for one in doubt, and asked for | {len(asked)} |",
        f"| readbacks that they voided: the callout was to be said again | {wrote['voided']} |",
        f"| ears started again | {sum(max(look['restarts'] for look in run) for run in runs.values()):.0f} |", "",
        *_memory(list(runs.values()), steady),
    ]  # fmt: skip
    for title, every in (("Taken", taken), ("Asked for", asked)):
        if every:
            most = Counter(every).most_common(12)
            lines += [f"{title}, with the state: " + "; ".join(f"{what} x{count}" for what, count in most) + ".", ""]
    return "\n".join(lines)


def _memory(runs: list[list[dict[str, Any]]], steady: list[list[dict[str, Any]]]) -> list[str]:
    """What the processes held: together, and each that ran for longer than the warm-up."""
    lines = [
        "## What the processes hold", "",
        f"The first {WARM * CHUNK / 60:.0f} minutes of sound of a process are its warm-up: what is loaded at first use "
        "is loaded, each network has met a long utterance. MB of a process and its ears together (PSS).", "",
    ]  # fmt: skip
    after_all, whole = (growth([[look["MB"] for look in run] for run in part]) for part in (steady, runs))
    if after_all is None:
        lines += [
            f"**No process ran for {(WARM + LINE) * CHUNK / 60:.0f} minutes: growth after the warm-up is not "
            "measured.**", "",
        ]  # fmt: skip
    else:
        lines += [f"Growth after the warm-up, {_grown(after_all)}.", ""]
    if whole is not None:
        lines += [f"Growth from the first look on, the warm-up included, {_grown(whole)}.", ""]
    lines += [
        "| process | minutes | MB at the first look, after the warm-up, at the last look | most | growth after the "
        "warm-up, MB an hour (95 % interval) | open files, after the warm-up and at the end | processes, likewise |",
        "|---|---|---|---|---|---|---|",
    ]  # fmt: skip
    for number, run in enumerate(runs, 1):
        after = f"{run[WARM]['MB']:.0f}" if len(run) > WARM else "none"
        begins, last = run[min(WARM, len(run) - 1)], run[-1]
        own = growth([[look["MB"] for look in run[WARM:]]])
        grew = f"{own.slope:+.0f} ({own.slope - own.wide:+.0f} to {own.slope + own.wide:+.0f})" if own else "too short"
        lines.append(
            f"| {number} | {len(run) * CHUNK / 60:.0f} | {run[0]['MB']:.0f}, {after}, {last['MB']:.0f} "
            f"| {max(look['MB'] for look in run):.0f} | {grew} | {begins['files']:.0f}, {last['files']:.0f} "
            f"| {begins['processes']:.0f}, {last['processes']:.0f} |"
        )
    return [*lines, ""]


def _grown(grown: Growth) -> str:
    low, high = grown.slope - grown.wide, grown.slope + grown.wide
    return (
        f"one slope through {grown.looks} looks of all processes: {grown.slope:+.0f} MB an hour of sound (95 % "
        f"interval {low:+.0f} to {high:+.0f})"
    )
