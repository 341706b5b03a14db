"""Make the recordings again: `python -m audio_fixtures.build [demo|balanced ...]`, from the top of the tree.

The plan (plan/*.jsonl) says what is spoken, what it means and by which voice; this module speaks it, sends it through
the simulated radio, and writes FLAC files and one manifest a set. With the pinned engines the hashes are equal; with
any others the words and meanings are.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from audio_fixtures.voices import RATE, EngineMissing, Samples, licence, made_by, speak
from callout.channel import make_noise, simulate
from callout.values import Callout, Command, Length, meaning_json

HERE = Path(__file__).resolve().parent
LEAD_S, TAIL_S = 0.5, 1.0  # the ears want quiet around the speech, as a held key gives
FLOOR = 10 ** (-75 / 20)  # no microphone gives digital zeros

#: The settings a demo recording is made in, and those a balanced one is dealt in turn.
CHANNELS: dict[str, dict[str, Any]] = {
    "clean": {},
    "radio": {"snr_db": 15, "noise": "generator"},
    "quiet_radio": {},
    "generator10": {"snr_db": 10, "noise": "generator"},
    "jackhammer10": {"snr_db": 10, "noise": "jackhammer"},
    "babble15": {"snr_db": 15, "noise": "babble"},
    "white15": {"snr_db": 15, "noise": "white"},
    "pink10": {"snr_db": 10, "noise": "pink"},
    "late": {"late_ms": 150},
    "mulaw": {"mulaw": True},
}
DEALT = ["quiet_radio", "generator10", "jackhammer10", "babble15", "white15", "pink10", "late", "mulaw"]

#: The voices of the balanced set, natural ones and old ones in turn.
VOICES = [
    "kokoro:am_fenrir", "flite:awb", "kokoro:af_sky", "espeak:gmw/en-us", "hibari:heart", "festival:ked_diphone",
    "kokoro:bm_george", "flite:rms", "kokoro:bf_lily", "espeak:gmw/en-gb-x-rp+f3", "flite:slt", "festival:kal_diphone",
]  # fmt: skip


def meaning_of(short: dict[str, Any] | None) -> dict[str, Any] | None:
    """The published meaning of a line of the plan, in which a length is [feet, inches, sixteenths]."""
    if short is None:
        return None
    parts = {name: Length.imperial(*value) if isinstance(value, list) else value for name, value in short.items()}
    return meaning_json((Command if "command" in parts else Callout).model_validate(parts))


def plan(name: str) -> Iterator[dict[str, Any]]:
    """The recordings of a set: lines of its plan, each with its voice, its channel and its file name."""
    lines = (HERE / "plan" / f"{name}.jsonl").read_text(encoding="utf-8").splitlines()
    utterances = [json.loads(line) for line in lines if line.strip()]
    if name == "demo":
        for line in utterances:
            for channel in ("clean", "radio"):
                yield {**line, "channel": channel, "file": f"{line['name']}_{channel}.flac"}
        return
    dealt = 0
    for number, line in enumerate(utterances):
        if line["group"] in ("silence", "noise"):
            yield {**line, "voice": "", "file": f"{line['name']}.flac"}
            continue
        for turn in range(2):
            voice = line.get("voice") or VOICES[(2 * number + turn) % len(VOICES)]
            for channel in ("clean", DEALT[dealt % len(DEALT)]):
                yield {**line, "voice": voice, "channel": channel,
                       "file": f"{line['name']}_{voice.split(':')[1].split('/')[-1]}_{channel}.flac"}  # fmt: skip
            dealt += 1


def words_of(line: dict[str, Any]) -> str:
    return str(line.get("words", line["say"])).replace(",", "")


def seed_of(line: dict[str, Any]) -> int:
    """A seed of a recording's own, so that adding a line changes no other recording."""
    return int.from_bytes(hashlib.sha256(line["file"].encode()).digest()[:4], "big")


def render(line: dict[str, Any], babble: list[Samples]) -> Samples:
    """The samples of one recording, at 16 kHz."""
    seed = seed_of(line)
    settings = dict(CHANNELS[line["channel"]])
    if settings.get("noise") == "babble":
        settings["voices"] = babble
    rng = np.random.default_rng(seed)
    if line["group"] in ("silence", "noise"):
        count = round(line["seconds"] * RATE)
        samples = rng.standard_normal(count) * FLOOR
        if line["group"] == "noise":
            samples += make_noise(line["noise"], count, RATE, seed, babble) * 0.05
    else:
        speech = speak(line["voice"], line["say"], line.get("speed", 1.0))
        if "cut_start_ms" in line or "cut_end_share" in line:
            heard = np.flatnonzero(np.abs(speech) > 0.02)  # some voices end in silence, which is no word to cut
            speech = speech[heard[0] : heard[-1] + 1]
        start = round(line.get("cut_start_ms", 0) * RATE / 1000)
        stop = round(len(speech) * (1 - line.get("cut_end_share", 0)))
        speech = speech[start:stop]
        tail = 0.05 if "cut_end_share" in line else TAIL_S  # the key was let go in the middle of the word
        samples = np.pad(speech, (round(LEAD_S * RATE), round(tail * RATE)))
        samples = samples + rng.standard_normal(len(samples)) * FLOOR
    return samples if line["channel"] == "clean" else simulate(samples, RATE, seed=seed % 2**31, **settings)


def entry(line: dict[str, Any], data: bytes) -> dict[str, Any]:
    """The manifest's line of one recording."""
    settings = CHANNELS[line["channel"]]
    noise = line.get("noise") or (settings.get("noise", "") if settings.get("snr_db") is not None else "")
    spoken = bool(line["voice"])
    return {
        "file": line["file"],
        "words": words_of(line),
        "meaning": meaning_of(line["meaning"]),
        "speaker": line["voice"],
        "channel": line["channel"],
        "noise": noise,
        "snr_db": settings.get("snr_db"),
        "group": line["group"],
        "made": (made_by(line["voice"]) if spoken else "computed from a seed")
        + ("" if line["channel"] == "clean" else ", through callout.channel"),
        "licence": licence(line["voice"]) if spoken else "CC0-1.0",
        "sha256": hashlib.sha256(data).hexdigest(),
    }


def build(name: str, folder: Path | None = None) -> int:
    """Make one set in `folder` (its own by default); return how many recordings were written.

    A voice whose engine is missing is named on standard error and its recordings are left as they are.
    """
    folder = folder or HERE / name
    folder.mkdir(exist_ok=True)
    lines = list(plan(name))
    known = read_manifest(folder / "manifest.jsonl")
    babble = babble_voices() if any(_wants_babble(line) for line in lines) else []
    entries, missing = [], set()
    for line in lines:
        path = folder / line["file"]
        try:
            samples = render(line, babble)
        except EngineMissing as engine:
            missing.add(f"{line['voice']}: {engine}")
            if line["file"] in known:
                entries.append(known[line["file"]])
            continue
        soundfile.write(path, np.round(np.clip(samples, -1, 1) * 32767).astype(np.int16), RATE, subtype="PCM_16")
        entries.append(entry(line, path.read_bytes()))
    text = "".join(json.dumps(e, ensure_ascii=False) + "\n" for e in entries)
    (folder / "manifest.jsonl").write_text(text, encoding="utf-8")
    for note in sorted(missing):
        print(f"left as it was, engine missing: {note}", file=sys.stderr)
    return len(entries)


def _wants_babble(line: dict[str, Any]) -> bool:
    return "babble" in (line.get("noise"), CHANNELS[line["channel"]].get("noise"))


#: Who talks in the background, and of what: sentences that are no callouts and hold no figures.
BABBLE = {
    "flite:awb": (
        "we will be over there in a while with the rest of it, tell them to wait and keep the road open for us"
    ),
    "flite:rms": ("he said the owner is away until the end of the week and nobody else has got a key to the back door"),
    "flite:slt": (
        "could you bring me some water and the other gloves please, mine are wet and I can not hold anything"
    ),
    "flite:kal16": (
        "they moved the big lamp to the corner but the cable is too short so somebody must look for a longer"
    ),
    "espeak:gmw/en-gb-scotland": (
        "it has been raining since the morning and the street is under mud down to the bridge"
    ),
}


def build_babble() -> None:
    """Speak the five voices of the babble into demo/babble, where the program itself finds them too."""
    folder = HERE / "demo" / "babble"
    folder.mkdir(exist_ok=True)
    for voice, text in BABBLE.items():
        samples = np.round(speak(voice, text) * 32767).astype(np.int16)
        soundfile.write(folder / f"{voice.split(':')[1].split('/')[-1]}.flac", samples, RATE, subtype="PCM_16")


def babble_voices() -> list[Samples]:
    return [soundfile.read(path)[0] for path in sorted((HERE / "demo" / "babble").glob("*.flac"))]


def read_manifest(path: Path) -> dict[str, dict[str, Any]]:
    if not path.is_file():
        return {}
    lines = path.read_text(encoding="utf-8").splitlines()
    return {line["file"]: line for line in map(json.loads, lines)}


if __name__ == "__main__":
    try:
        build_babble()
    except EngineMissing as missing_engine:
        print(f"the voices of the babble are left as they were, engine missing: {missing_engine}", file=sys.stderr)
    for set_name in sys.argv[1:] or ("demo", "balanced"):
        print(f"{set_name}: {build(set_name)} recordings")
