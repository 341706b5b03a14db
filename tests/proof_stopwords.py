"""Stop words while the tool itself speaks: writes docs/proofs/stop-words.md.

    python -m tests.proof stopwords

There is no loudspeaker here, so it is simulated: the tool's own voice (its real sentences, through callout/speaking)
comes back to the microphone through a room, at a known level, and other voices say a stop word over it or say nothing.
What the microphone would get goes through the same chain as live sound: the echo canceller, the cutting into
utterances, both ears, the judgement, and whether it was the own voice. The voices of the stop words are those of the
fixtures; their engines must be installed (audio_fixtures/README.md). Each hearing is kept in
out/stopwords-proof.jsonl: a run that was stopped goes on.
"""

from __future__ import annotations

import hashlib
import json
import random
import sys
from collections.abc import Callable, Iterator, Sequence
from functools import cache, partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from scipy.signal import fftconvolve

from callout.channel.level import active_level
from callout.dialogue.events import Opened, Say, Uttered
from callout.dialogue.machine import start, step
from callout.dialogue.settings import load_settings
from callout.dialogue.state import context
from callout.hearing.audio import RATE, Samples
from callout.hearing.ears import Ears
from callout.hearing.live import utterances
from callout.language.context import Context
from callout.language.resolve import resolve_text
from callout.scoring.statistics import share
from callout.session.live_ears import STOP_WORDS, stops
from callout.session.own_voice import OwnVoiceTakenOut
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.speaking import SpeechProcess
from callout.speaking.player import to_ear_rate
from callout.speaking.render import render
from tests.kept_hearings import ears_mark, kept_rows
from tests.voice_in_microphone import VoiceInMicrophone

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "proofs" / "stop-words.md"
ROWS = ROOT / "out" / "stopwords-proof.jsonl"
SEED = 20310511
VERSION = "3"  # of the trials below: a new one hears everything again

WORDS = {"evacuate": "evacuate", "cease operations": "cease_operations", "stop": "stop"}
VOICES = (
    "hibari:heart", "kokoro:am_fenrir", "kokoro:af_sky", "kokoro:bf_lily", "kokoro:bm_george", "flite:awb",
    "flite:rms", "flite:slt", "festival:kal_diphone", "festival:ked_diphone", "espeak:gmw/en-gb-x-rp+f3",
    "espeak:gmw/en-us",
)  # fmt: skip
#: The voice's level at the microphone against the word's, in dB; None: the voice is silent.
RATIOS = (None, -40, -20, -10, 0)
#: The word's level, and the noise of the microphone, in dB of full scale.
WORD_DB, FLOOR_DB = -26.0, -66.0
#: Levels of the voice alone, in dB of full scale.
ALONE_DB = (-16.0, -30.0)
#: name -> (seconds in which the sound dies by 60 dB, level of the first echo against the direct sound in dB).
ROOMS = {"yard": (0.15, -12.0), "hall": (0.6, -3.0)}
LONGEST = 15.0  # seconds of own voice in one piece
LEARNT = 3.0  # seconds of voice from which the canceller knows the room
BEFORE = 1.0  # second of quiet before the voice

Piece = tuple[Context, tuple[str, ...]]


def conversations() -> Iterator[Piece]:
    """What the tool says in a row in real conversations, and the context in which it then listens."""
    rng = random.Random(SEED)
    stock, planner = load_stock(), ShorePlanner()
    for _ in range(8):
        now = start(stock, planner)
        now, effects = step(now, Opened(0.0))
        height, angle = rng.choice(["six", "nine", "ten", "eleven", "fourteen"]), rng.choice(["sixty", "forty five"])
        said = [
            f"insertion {height} feet", "help", angle, "help", "say again",
            "correction nine feet six and a half inches", "affirm", "help", "ready", "where", "ready", "say again",
            "short", "negative", "ready", "skip", "status", "how many left", "parts list", "how many braces",
            "repeat the build", "insertion eleven feet sixty", "roger", "disregard", "radio check", "stand by",
            "out of anchors", "affirm", "step by step",
            *rng.choices(["ready", "back", "next", "hello there", "evacuate", "go ahead"], k=14),
        ]  # fmt: skip
        yield context(now, "measurer"), tuple(e.text for e in effects if isinstance(e, Say))
        for at, line in enumerate(said):
            resolution = resolve_text(line, context(now, "measurer"))
            now, effects = step(now, Uttered(resolution, line, "measurer", 60.0 * at, certain=True))
            spoken = tuple(dict.fromkeys(e.text for e in effects if isinstance(e, Say)))
            if spoken:
                yield context(now, "measurer"), spoken


@cache
def pieces() -> tuple[Piece, ...]:
    """Every row of sentences once."""
    found: dict[tuple[str, ...], Piece] = {}
    for where, spoken in conversations():
        found.setdefault(spoken, (where, spoken))
    return tuple(found.values())


class Spoken(NamedTuple):
    """Sentences as 16 kHz samples, and from when to when in seconds each is said."""

    samples: Samples
    times: tuple[tuple[float, float, str], ...]


class OwnVoice:
    """The tool's sentences as they are played."""

    def __init__(self) -> None:
        self._process = SpeechProcess()

    def say(self, sentences: Sequence[str]) -> Spoken:
        pieces = [to_ear_rate(render(text, self._process).samples) for text in sentences]
        ends = np.cumsum([len(piece) for piece in pieces]) / RATE
        times = [(end - len(piece) / RATE, end, text) for piece, end, text in zip(pieces, ends, sentences, strict=True)]
        return Spoken(np.concatenate(pieces)[: int(LONGEST * RATE)].astype(np.float32), tuple(times))

    def close(self) -> None:
        self._process.close()


def with_voice(sound: Samples, spoken: Spoken) -> VoiceInMicrophone:
    """The microphone's sound, and what was played from `BEFORE` seconds on."""
    voice = np.concatenate([np.zeros(int(BEFORE * RATE), np.float32), spoken.samples])
    times = [(BEFORE + begun, BEFORE + ended, text) for begun, ended, text in spoken.times]
    return VoiceInMicrophone(sound, voice, times)


def in_room(samples: Samples, room: str, rng: np.random.Generator) -> Samples:
    """Through a room: the direct sound, and echoes that die away as noise with an exponential envelope."""
    dies, first = ROOMS[room]
    count = int(dies * RATE)
    tail = rng.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    tail[: int(0.004 * RATE)] = 0.0
    tail *= 10 ** (first / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    return fftconvolve(samples, tail)[: len(samples) + count].astype(np.float32)


def at_level(samples: Samples, decibels: float) -> Samples:
    """Scaled to an active speech level (ITU-T P.56) of so many dB of full scale."""
    level, _ = active_level(samples, RATE)
    return samples * np.float32(10 ** (decibels / 20) / np.sqrt(level))


def at_microphone(voice: Samples | None, word: Samples | None, starts: float, rng: np.random.Generator) -> Samples:
    """The sum, with a second of quiet before and 1.5 s after, the microphone's noise, and its clipping."""
    long = max(
        0 if voice is None else len(voice), 0 if word is None else int(starts * RATE) + len(word)
    )  # fmt: skip
    sound = np.zeros(long + int(2.5 * RATE), np.float32)
    for part, begins in ((voice, 0.0), (word, starts)):
        if part is not None:
            at = int((BEFORE + begins) * RATE)
            sound[at : at + len(part)] += part
    sound += (rng.standard_normal(len(sound)) * 10 ** (FLOOR_DB / 20)).astype(np.float32)
    return np.clip(sound, -1, 1)


class Kept:
    """Hearings on disk, by name; only what this very program and these ears heard counts."""

    def __init__(self, ears: Ears) -> None:
        self._ears = ears
        self.mark = hashlib.sha256(f"{ears_mark()} {VERSION}".encode()).hexdigest()[:12]
        self._rows = kept_rows(ROWS, self.mark)
        ROWS.parent.mkdir(exist_ok=True)
        self._file = ROWS.open("a", encoding="utf-8")

    def hear(self, name: str, where: Context, microphone: Callable[[], VoiceInMicrophone]) -> dict[str, Any]:
        """{"stopped": stop commands that were heard and are not its own voice, in order, "utterances": how many were
        cut, "seconds"}."""
        if name not in self._rows:
            source = microphone()
            live, cut, stopped = OwnVoiceTakenOut(source, [source]), 0, []
            for segment in utterances(live, self._ears, lambda: where):
                cut += 1
                words = segment.heard.readings[0] if segment.heard.readings else ()
                if (word := stops(segment)) and not live.is_own(words, segment.start, segment.end):
                    stopped.append(word)
            seconds = len(source.heard) / RATE
            row = {"mark": self.mark, "name": name, "stopped": stopped, "utterances": cut, "seconds": seconds}
            self._rows[name] = row
            self._file.write(json.dumps(row) + "\n")
            self._file.flush()
            if len(self._rows) % 50 == 0:
                print(f"{len(self._rows)} heard ({name})", file=sys.stderr, flush=True)
        return self._rows[name]


def chance(name: str) -> np.random.Generator:
    return np.random.default_rng(int(hashlib.sha256(f"{SEED} {name}".encode()).hexdigest()[:12], 16))


@cache
def recorded(voice: str, word: str) -> Samples:
    from audio_fixtures.voices import speak

    return np.asarray(speak(voice, word), np.float32)


def alone(kept: Kept, own: OwnVoice, which: Sequence[Piece]) -> dict[tuple[str, float], list[dict[str, Any]]]:
    rows: dict[tuple[str, float], list[dict[str, Any]]] = {}
    for number, (where, spoken) in enumerate(which):
        room = list(ROOMS)[number % len(ROOMS)]
        for decibels in ALONE_DB:
            name = f"alone {room} {decibels:g} {number}"
            sound = partial(_alone, own, spoken, room, decibels, name)
            rows.setdefault((room, decibels), []).append(kept.hear(name, where, sound))
    return rows


def _alone(own: OwnVoice, sentences: Sequence[str], room: str, decibels: float, name: str) -> VoiceInMicrophone:
    rng = chance(name)
    spoken = own.say(sentences)
    return with_voice(at_microphone(at_level(in_room(spoken.samples, room, rng), decibels), None, 0.0, rng), spoken)


def over(kept: Kept, own: OwnVoice, which: Sequence[Piece]) -> dict[tuple[str, int | None], list[dict[str, Any]]]:
    """Each stop word in each voice over a sentence, at each ratio; `said` is the command it means."""
    rows: dict[tuple[str, int | None], list[dict[str, Any]]] = {}
    for word, command in WORDS.items():
        for number, voice in enumerate(VOICES):
            room = list(ROOMS)[number % len(ROOMS)]
            for ratio in RATIOS:
                name = f"over {word} {voice} {ratio} {room}"
                where, spoken = which[int(chance(f"which {name}").integers(len(which)))]
                row = kept.hear(name, where, partial(_over, own, spoken, word, voice, ratio, room, name))
                rows.setdefault((word, ratio), []).append({**row, "said": command})
    return rows


def _over(
    own: OwnVoice, sentences: Sequence[str], word: str, voice: str, ratio: int | None, room: str, name: str
) -> VoiceInMicrophone:
    rng = chance(name)
    called = at_level(recorded(voice, word), WORD_DB)
    if ratio is None:
        return with_voice(at_microphone(None, called, 0.0, rng), Spoken(np.zeros(0, np.float32), ()))
    spoken = own.say(sentences)
    heard = at_level(in_room(spoken.samples, room, rng), WORD_DB + ratio)
    latest = max(0.4, len(heard) / RATE - 0.5)
    starts = float(rng.uniform(min(LEARNT, latest - 0.1), latest))
    return with_voice(at_microphone(heard, called, starts, rng), spoken)


def percent(count: int, n: int) -> str:
    found = share(count, n)
    return f"{100 * found['share']:.1f} % ({100 * found['low']:.1f} to {100 * found['high']:.1f})"


def page(silent: dict[Any, list[dict[str, Any]]], spoken: dict[Any, list[dict[str, Any]]]) -> str:
    every = [row for rows in silent.values() for row in rows]
    taken = sum(bool(row["stopped"]) for row in every)
    minutes = sum(row["seconds"] for row in every) / 60
    lines = [*HEAD.splitlines(), ""]
    lines += ["## Its own voice, nobody else", "", "| room | level, dB of full scale | pieces | utterances cut | taken "
              "for a stop word (95 % interval) |", "|---|---|---|---|---|"]  # fmt: skip
    for (room, decibels), rows in silent.items():
        wrong = sum(bool(row["stopped"]) for row in rows)
        cut = sum(row["utterances"] for row in rows)
        lines.append(f"| {room} | {decibels:g} | {len(rows)} | {cut} | {wrong}: {percent(wrong, len(rows))} |")
    lines += ["", f"Together {minutes:.0f} minutes of its own voice, {len(every)} pieces: **{taken} taken for a stop "
              f"word**, {percent(taken, len(every))}.", ""]  # fmt: skip
    lines += ["## A stop word over its voice", "", "| voice against word | " + " | ".join(f'"{w}"' for w in WORDS)
              + " | all | heard as another stop word |", "|---|" + "---|" * (len(WORDS) + 2)]  # fmt: skip
    for ratio in RATIOS:
        groups = [spoken[word, ratio] for word in WORDS]
        rows = [row for group in groups for row in group]
        cells = [f"{sum(bool(r['stopped']) for r in group)} of {len(group)}" for group in groups]
        other = sum(bool(r["stopped"]) and r["said"] not in r["stopped"] for r in rows)
        label = "the voice is silent" if ratio is None else f"{ratio:+d} dB"
        heard = percent(sum(bool(r["stopped"]) for r in rows), len(rows))
        lines.append(f"| {label} | {' | '.join(cells)} | {heard} | {other} |")
    lines += ["", *TAIL.splitlines()]
    return "\n".join(lines) + "\n"


HEAD = f"""\
# Stop words while the tool speaks

Made by `python -m tests.proof stopwords`, seed {SEED}. **This is a simulation.** No loudspeaker and no person took
part: the tool's own voice comes back through a simulated room, and synthetic voices say the stop words. What the
microphone would get goes through the same chain as live sound: the echo canceller, cutting into utterances, both
ears, the judgement, and whether it is the own voice after all. In each piece the canceller begins anew: in a
conversation it mostly knows the room. Figures of a real yard can be worse.

- The own voice: {{pieces}} different rows of sentences of real conversations (readbacks, parts, answers, cautions,
  help), at the pace of the default, in a yard (echoes die in 0.15 s) or in a hall (0.6 s), alone at two levels each:
  the pieces of the first table are not all independent, and its intervals are narrower than they should be.
- The stop words: {len(VOICES)} voices, half of them in each room, at {WORD_DB:g} dB of full scale, beginning at a
  random moment of the sentence, mostly after {LEARNT:g} s, when the canceller has learnt the room. "Voice against word"
  compares active speech levels (ITU-T P.56) at the microphone.
- Intervals are Wilson's, 95 %. Program and networks of the ears: {{mark}}; others must be proven again."""

TAIL = """\
## What follows

- A stop word that is heard while the voice speaks counts (`stop_words_over_voice` in
  `callout/dialogue/settings.toml`). That is safe as long as its own voice is never taken for one; this proof ends
  with an error when it is.
- A word that is lost is said again. Esc silences the voice at once, and the field's own signals do the rest: this tool
  is not the alarm."""


def prove(most: int | None = None) -> None:
    """Run it and write the page. `most` narrows it to the first pieces, for a look."""
    which = pieces()[:most]
    ears, own = Ears(), OwnVoice()
    try:
        kept = Kept(ears)
        spoken = over(kept, own, which)
        silent = alone(kept, own, which)
    finally:
        own.close()
        ears.close()
    text = page(silent, spoken).replace("{pieces}", str(len(which))).replace("{mark}", kept.mark)
    (PAGE if most is None else ROOT / "out" / "stop-words.md").write_text(text, "utf-8")
    taken = any(row["stopped"] for rows in silent.values() for row in rows)
    if taken and load_settings().stop_words_over_voice:
        raise SystemExit("its own voice was taken for a stop word: stop_words_over_voice must be false")


if set(WORDS.values()) != STOP_WORDS:
    raise AssertionError("the proof and the live loop disagree on what the stop words are")
