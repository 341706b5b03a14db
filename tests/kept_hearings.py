"""Hearings of the ears' proof, kept on disk so that a run that was stopped goes on."""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from callout.hearing.audio import Samples
from callout.hearing.ears import WEIGHTS, Ears
from callout.hearing.graph_cache import fingerprint
from callout.language.context import EVERYTHING, Context
from callout.values import meaning_json

ROWS = Path(__file__).resolve().parents[1] / "out" / "ears-proof.jsonl"

Row = dict[str, Any]
Task = tuple[str, Callable[[], Samples], Context]


def kept_rows(file: Path, mark: str) -> dict[str, Row]:
    """The rows of a file that were heard under this mark, by name; none where there is no file yet."""
    lines = file.read_text(encoding="utf-8").splitlines() if file.is_file() else []
    return {row["name"]: row for row in map(json.loads, lines) if row["mark"] == mark}


class Kept:
    """Hearings on disk, by name; only what this very program heard counts.

    The page is written twice: the first time to learn what must be heard (`wanted`), the second with all of it there.
    """

    def __init__(self) -> None:
        self.mark = ears_mark()
        self.rows: dict[str, Row] = {}
        self.wanted: dict[str, Task] = {}
        self.read()

    def read(self) -> None:
        self.rows.update(kept_rows(ROWS, self.mark))

    def hear(self, name: str, sound: Callable[[], Samples], context: Context = EVERYTHING) -> Row:
        if name in self.rows:
            return self.rows[name]
        self.wanted[name] = (name, sound, context)
        return {"outcome": "nothing", "meaning": None, "words": [], "seconds": [0.0, 0.0]}

    def catch_up(self, jobs: int) -> None:
        """Hear all that is wanted, in `jobs` processes, each of which adds its lines to the file."""
        ROWS.parent.mkdir(exist_ok=True)
        tasks = list(self.wanted.values())
        print(f"{len(tasks)} to hear, {len(self.rows)} known", file=sys.stderr, flush=True)
        children = []
        for job in range(jobs):
            child = os.fork()
            if child == 0:
                _hear_all(tasks[job::jobs], self.mark)
                os._exit(0)
            children.append(child)
        failed = [child for child in children if os.waitpid(child, 0)[1]]
        if failed:
            sys.exit("a process that heard has failed; run the command again, it goes on from what is kept")
        self.wanted.clear()
        self.read()


def _hear_all(tasks: list[Task], mark: str) -> None:
    ears = Ears()
    with ROWS.open("a", encoding="utf-8", buffering=1) as file:
        for number, (name, sound, context) in enumerate(tasks):
            samples = sound()
            heard = ears.hear(samples, context)
            row = {
                "mark": mark, "name": name, "outcome": heard.resolution.outcome,
                "meaning": meaning_json(heard.resolution.meaning), "words": [" ".join(w) for w in heard.readings[:2]],
                "seconds": [len(samples) / 16000, heard.seconds], "confidence": heard.confidence,
                "reasons": list(heard.resolution.reasons),
            }  # fmt: skip
            file.write(json.dumps(row) + "\n")
            if number % 100 == 0:
                print(f"{number} of {len(tasks)} heard ({name})", file=sys.stderr, flush=True)
    ears.close()


#: The modules between samples and meaning. Graphs (`*graph*.py`), language and grammar are in the fingerprint.
CODE = (
    "agreement", "agreement_of_three", "alignment", "audio", "candidates", "ears", "encoder", "evidence", "features",
    "judge", "level", "search", "search_passes", "states", "third_opinion", "vosk_ear",
)  # fmt: skip


def ears_mark() -> str:
    """Networks, grammar, decisions and code, as the first letters of their joint SHA-256."""
    digest = hashlib.sha256(fingerprint().encode())
    here = WEIGHTS.parent
    opinion = sorted((WEIGHTS / "opinion").iterdir())
    networks = (WEIGHTS / "encoder.onnx", WEIGHTS / "vosk" / "am" / "final.mdl", *opinion)
    for file in (*networks, here / "decisions.json"):
        digest.update(file.read_bytes())
    for name in CODE:
        digest.update((here / f"{name}.py").read_bytes())
    return digest.hexdigest()[:12]
