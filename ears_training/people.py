"""Kits of callouts whose number words people spoke and whose other words a voice spoke (see `splice.py`).

    python -m ears_training kit people OUT --digits FOLDER --prompts FOLDER      # report only
    python -m ears_training kit learners OUT --pack PACK                         # choose thresholds here

`--digits`: files `{digit}_{speaker}_{take}.wav` (the Free Spoken Digit Dataset's names). `--prompts`: a telephone
exchange's `digits/0.wav` to `90.wav` and `hundred.wav` (Debian's asterisk-core-sounds-en-wav). `--pack`: the learners
kept for choosing (`human_learners_dev`, without its ending); their digit strings are cut, and number words out of
their sentences.
"""

import json
import random
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from callout.errors import BadInput
from callout.hearing.ears import WEIGHTS
from callout.hearing.encoder import EncoderEar
from ears_training.digits import paused
from ears_training.kit import write_wav
from ears_training.pronounce import PHONES, edit_distance, labels
from ears_training.splice import DIGITS, Splicer, cut_words, digit_forms, grouped_forms, trimmed
from ears_training.voices import RATE, Samples, Speech, to_rate

Said = dict[str, list[Samples]]
Forms = Callable[[int], list[str]]

QUIET = (0.45, 0.65)  # seconds of the person's room tone before and after
# Neural voices are not among them: they say a lone word badly.
CARRIERS = {
    "people": ("festival:ked_diphone", "warp:1.16:festival:ked_diphone", "espeak:en-us+Annie", "espeak:en-gb+belinda",
               "node:mespeak:en-n"),
    "learners": ("flite:rms", "flite:awb", "espeak:en-us+announcer", "espeak:en-gb+Mr"),
}  # fmt: skip
MISREAD = "four five zero three"  # the learner says "four five two zero"
NUMBER_WORDS = {w for n in range(100) for w in grouped_forms(n)[0].split()}


def _read(file: Path) -> Samples:
    import soundfile

    x, rate = soundfile.read(file, dtype="float32")
    return to_rate(x, rate)


def digit_people(folder: Path) -> dict[str, Said]:
    """Single digits, speaker by speaker. They come cut tight; nothing more is taken off."""
    people: dict[str, Said] = defaultdict(lambda: defaultdict(list))
    for file in sorted(folder.glob("[0-9]_*_*.wav")):
        digit, who, _ = file.stem.split("_")
        people[f"digits_{who}"][DIGITS[int(digit)]].append(_read(file))
    if not people:
        raise BadInput(f"{folder} holds no digits named like 7_someone_0.wav")
    return people


def prompt_person(folder: Path) -> Said:
    """The number words of a telephone exchange's prompts, their quiet ends taken off."""
    files = {grouped_forms(n)[0]: folder / f"{n}.wav" for n in (*range(20), *range(20, 100, 10))}
    files["hundred"] = folder / "hundred.wav"
    missing = [str(f) for f in files.values() if not f.is_file()]
    if missing:
        raise BadInput(f"{missing[0]} is missing; give the folder digits/ of the English prompts")
    return {word: [trimmed(_read(file), 0.01)] for word, file in files.items()}


def learners(pack: Path, ear: EncoderEar) -> Said:
    """Digits, neighbouring pairs of digits, and the number words of sentences, of all learners of a pack together.

    A piece in which the ear finds hardly a phone of the word is left out: cut wrongly, or said otherwise. Words out of
    sentences, which people say more carelessly than digits, must be heard half right.
    """
    import soundfile

    sound, _ = soundfile.read(pack.with_suffix(".opus"), dtype="float32")
    said: Said = defaultdict(list)
    at = 0
    for line in json.loads(pack.with_suffix(".json").read_text(encoding="utf-8")):
        words, x = line["text"].split(), sound[at : at + line["n"]].clip(-1, 1)
        at += line["n"]
        if line["text"] == MISREAD or not NUMBER_WORDS & set(words):
            continue
        wide = np.pad(x, (RATE // 2, RATE // 2))
        cut = cut_words(wide, words, ear.scores(wide), trim=False)
        levels = np.abs(x[: len(x) // 160 * 160]).reshape(-1, 160).max(1)
        string = set(words) <= NUMBER_WORDS
        floor = min(max(0.02, 3 * float(np.percentile(levels, 25) / levels.max())), 0.15)  # above the room's noise
        for run in [cut[k : k + n] for n in (1, 2) for k in range(len(cut) - n + 1)]:
            phrase = " ".join(w for w, _ in run)
            y = trimmed(np.concatenate([p for _, p in run]), floor)
            if set(phrase.split()) <= NUMBER_WORDS and heard_in(y, phrase, ear, 0.75 if string else 0.5):
                takes = 3 if len(run) == 1 and paused(run[0][1]) else 1  # between pauses: the better single word
                said[phrase] += [y] * takes
    return said


def heard_in(x: Samples, words: str, ear: EncoderEar, wrong: float) -> bool:
    """Whether a piece is as long as its words may be, and an ear has at most the share `wrong` of its phones wrong."""
    if not 0.1 < len(x) / RATE / len(words.split()) < 1.0:
        return False
    wide = np.pad(x, (RATE // 4, RATE // 2))
    best = ear.scores(wide).argmax(1).tolist()
    found = [a for k, a in enumerate(best) if a and (k == 0 or a != best[k - 1])]
    wanted = labels(words) or []
    return len(found) <= len(wanted) + len(words.split()) and (
        edit_distance([PHONES[a - 1] for a in found], [PHONES[a - 1] for a in wanted])
        <= max(len(found), len(wanted)) * wrong
    )


def callouts(
    people: dict[str, Said],
    carriers: Sequence[str],
    each: dict[str, int],
    forms: Callable[[str], Forms],
    seed: int,
    speech: Speech | None = None,
) -> Iterator[tuple[str, str, Samples, str]]:
    """Yield (person, carrier voice, sound, words): `each[person]` callouts, the carrier voices in turn."""
    rng, speech = random.Random(seed), speech or Speech()
    for person, said in sorted(people.items()):
        splicers = [Splicer(said, voice, rng, speech) for voice in carriers]
        for k in range(each[person]):
            splicer = splicers[k % len(splicers)]
            made = splicer.callout(forms(person), QUIET)
            if made is None:
                raise BadInput(f"{person} says too few number words for a callout")
            yield person, splicer.voice, *made


def write_kit(out: Path, rows: Iterator[tuple[str, str, Samples, str]]) -> int:
    """Write `audio/*.wav` and `manifest.jsonl`, whose rows have `"pieced": true`; returns how many."""
    (out / "audio").mkdir(parents=True, exist_ok=True)
    lines: list[dict[str, Any]] = []
    for person, voice, x, words in rows:
        file = f"audio/{person}_{len(lines):03d}.wav"
        write_wav(out / file, x)
        row = {"file": file, "words": words, "speaker": person, "kind": "callout", "voice": f"{person}+{voice}"}
        lines.append({**row, "pieced": True})
    (out / "manifest.jsonl").write_text("".join(json.dumps(row) + "\n" for row in lines), encoding="utf-8")
    return len(lines)


def build_learners(pack: Path, out: Path, count: int = 200) -> int:
    """Make the kit of learners: all of them together are one person, since each said little."""
    said = learners(pack, EncoderEar(WEIGHTS / "encoder.onnx"))
    rows = callouts({"hdev": said}, CARRIERS["learners"], {"hdev": count}, lambda _: grouped_forms, 21)
    return write_kit(out, rows)


def build_people(digits: Path, prompts: Path, out: Path, each: int = 30, of_prompts: int = 130) -> int:
    """Make the kit of people for reporting: `each` of every speaker of single digits, `of_prompts` of the prompts."""
    people = {**digit_people(digits), "prompts_us": prompt_person(prompts)}
    counts = {who: of_prompts if who == "prompts_us" else each for who in people}
    forms: Callable[[str], Forms] = lambda who: grouped_forms if who == "prompts_us" else digit_forms  # noqa: E731
    return write_kit(out, callouts(people, CARRIERS["people"], counts, forms, 22))
