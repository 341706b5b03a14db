"""Training speech from installed voices: sentences drawn, said in a random manner, packed.

python -m ears_training text N OUT.jsonl        sentences with labels and phoneme letters (needs hibari-tts)
python -m ears_training say TEXT.jsonl OUT      formant, diphone and statistical voices
python -m ears_training kokoro TEXT.jsonl OUT   neural voices on many cores
"""

import json
import multiprocessing
import random
import re
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from callout.files import tomllib
from ears_training.packs import Spoken, write_pack
from ears_training.pronounce import edit_distance, heard, labels, pronunciations
from ears_training.text import Talker
from ears_training.voices import Manner, Speech, levelled, spoken_letters, to_rate


@dataclass(frozen=True)
class Line:
    """One sentence to say: words, what the voice reads (punctuation), phoneme letters, phone labels."""

    text: str
    read: str
    letters: str
    labels: tuple[int, ...]


def common_words(count: int = 6000) -> tuple[str, ...]:
    """Return common English words on whose sounds the dictionary and the voices agree."""
    import wordfreq

    def agreed(word: str) -> bool:
        said = heard(spoken_letters(word))
        return any(edit_distance(said, p) <= len(p) // 4 for p in pronunciations(word))

    words = [w for w in wordfreq.top_n_list("en", count) if re.fullmatch("[a-z]{2,}", w)]
    return tuple(w for w in words if pronunciations(w) and agreed(w))


def draw(n: int, seed: int, longest: int = 130) -> Iterator[Line]:
    """Draw n sentences; those with a word of unknown sound are left out."""
    rng = random.Random(seed)
    talker = Talker(rng, common_words())
    done = 0
    while done < n:
        text = talker.sentence()
        if len(text) > longest:
            continue
        read = (text.replace(",", "") if rng.random() < 0.5 else text) + rng.choice([".", ".", "", "", "!", "?"])
        letters = spoken_letters(read)
        found = labels(text, re.sub(r"[^\w\sˈˌːᵊᵻ]", " ", letters).split())
        if found:
            done += 1
            yield Line(text, read, letters, tuple(found))


def write_lines(lines: Iterator[Line], out: Path) -> int:
    """Write sentences as JSON lines."""
    n = 0
    with open(out, "w", encoding="utf-8") as f:
        for line in lines:
            f.write(json.dumps(asdict(line), ensure_ascii=False) + "\n")
            n += 1
    return n


def read_lines(path: Path) -> list[Line]:
    """Read what `write_lines` wrote."""
    rows = [json.loads(s) for s in path.read_text(encoding="utf-8").splitlines()]
    return [Line(r["text"], r["read"], r["letters"], tuple(r["labels"])) for r in rows]


def voice_table() -> dict[str, Any]:
    """Return `data/voices.toml`: which installed voices may be trained on, and how often."""
    return tomllib.loads(files("ears_training").joinpath("data/voices.toml").read_text(encoding="utf-8"))


def drawn_voice(rng: random.Random) -> str:
    """Draw a voice by its weight; espeak's are a dialect and a variant each."""
    table = voice_table()
    names = list(table["weights"])
    name = str(rng.choices(names, weights=[table["weights"][v] for v in names])[0])
    if name == "espeak":
        variant = rng.choice(table["espeak"]["variants"])
        return f"espeak:{rng.choice(table['espeak']['dialects'])}" + (f"+{variant}" if variant else "")
    return name


def said(lines: list[Line], seed: int) -> Iterator[Spoken]:
    """Say each line in a drawn voice and manner."""
    rng, speech = random.Random(seed), Speech()
    for line in lines:
        voice = drawn_voice(rng)
        yield Spoken(speech.say(voice, line.read, Manner.drawn(rng)), line.text, line.labels, voice)


def _kokoro_share(job: tuple[list[Line], int, Path, float]) -> float:
    lines, seed, out, until = job

    from ears_training import kokoro

    rng = random.Random(seed)

    def share() -> Iterator[Spoken]:
        for line in lines:
            if time.time() > until:
                return
            x, voice = kokoro.speaker().drawn(line.letters, rng)
            yield Spoken(levelled(to_rate(x, kokoro.RATE)), line.text, line.labels, voice)

    return write_pack(out, share())


def kokoro_packs(lines: list[Line], out: Path, processes: int, seconds: float, seed: int = 0) -> float:
    """Say lines in random neural voices with one thread a process, for at most `seconds`; return the hours made."""
    until = time.time() + seconds
    jobs = [(lines[k::processes], seed * 1000 + k, out / f"kokoro_{seed}_{k:02d}", until) for k in range(processes)]
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        return sum(pool.imap_unordered(_kokoro_share, jobs))
