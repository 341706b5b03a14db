"""What Vosk reads as the grammar of the moment: a `Gr.fst` written with the standard library alone.

A model folder of our own make has a fixed part (network, and the graph of the lexicon `HCLr.fst`) and this small
acceptor over its words. For each state of the conversation a folder of links to the fixed part with its own
`Gr.fst` is another model to Vosk, and a strict one; Vosk's phrase lists are only hints.
File layout: OpenFst's "vector" type with standard (tropical) arcs, version 2 (openfst.org, checked by reading our
files back with its own tools).
"""

from __future__ import annotations

import hashlib
import os
import shutil
import struct
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from callout.errors import CalloutError

GARBAGE = "[unk]"
_MAGIC = 2125659606
# expanded, mutable, acceptor, input and output deterministic, no epsilons, sorted by both labels
_PROPERTIES = 0x3 | 0x10000 | 0x40000 | 0x100000 | 0x800000 | 0x2000000 | 0x8000000 | 0x10000000 | 0x40000000
_FOREVER = float("inf")

# The three lines after the lattice's beam keep its work even: where everything is as likely as everything else (a long
# babble of voices) it is else determinized again and again from the beginning: 20 s took 38 s of work, and take 2.4.
MODEL_CONF = """\
--min-active=200
--max-active=1000
--beam=13
--lattice-beam=8
--max-mem=1000000
--phone-determinize=false
--determinize-max-active=20
--acoustic-scale=1
--frame-subsampling-factor=3
--frames-per-chunk=60
--endpoint.silence-phones=1
--endpoint.rule1.min-trailing-silence=120
--endpoint.rule2.min-trailing-silence=120
--endpoint.rule3.min-trailing-silence=120
--endpoint.rule4.min-trailing-silence=120
--endpoint.rule5.min-utterance-length=120
"""


def read_words(model: Path) -> dict[str, int]:
    """The vocabulary of a model folder: word -> number."""
    lines = (model / "graph" / "words.txt").read_text(encoding="utf-8").splitlines()
    return {word: int(number) for word, number in (line.split() for line in lines)}


def lexicon_mark(lexicon: Mapping[str, Iterable[Sequence[str]]]) -> str:
    """A fingerprint of words and their pronunciations; lies beside the graph that was built from them."""
    lines = sorted(f"{word} {' '.join(pron)}" for word, prons in lexicon.items() for pron in prons)
    return hashlib.sha256("\n".join(dict.fromkeys(lines)).encode()).hexdigest()


def write_gr(
    path: Path,
    arcs: Iterable[tuple[int, int, str]],
    start: int,
    finals: Iterable[int],
    words: dict[str, int],
    garbage_cost: float = 0.0,
) -> list[str]:
    """Write a deterministic word automaton as `Gr.fst`; returns the words left out because the model lacks them.

    Silence is always a sentence (else trailing silence comes out as garbage), and so is garbage alone.
    """
    rows: dict[int, list[tuple[int, int]]] = {start: []}
    missing = set()
    for source, target, word in arcs:
        rows.setdefault(target, [])
        if word in words:
            rows.setdefault(source, []).append((words[word], target))
        else:
            missing.add(word)
    ends = {start, *finals}
    costs: dict[int, float] = {}
    if GARBAGE in words:
        number = words[GARBAGE]
        costs[number] = garbage_cost
        heap = max(rows) + 1
        rows[start].append((number, heap))
        rows[heap] = []
        ends.add(heap)
    place = {state: number for number, state in enumerate(rows)}
    body = [_head(place[start], len(rows), sum(map(len, rows.values())))]
    for state, leaving in rows.items():
        body.append(struct.pack("<fq", 0.0 if state in ends else _FOREVER, len(leaving)))
        body += [
            struct.pack("<iifi", number, number, costs.get(number, 0.0), place[target])
            for number, target in sorted(leaving)
        ]
    path.write_bytes(b"".join(body))
    return sorted(missing)


def model_folder(model: Path, place: Path) -> Path:
    """Make `place` a model folder that shares all of `model` but `Gr.fst` and the settings; returns where Gr goes."""
    for part in ("am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst", "graph/words.txt", "graph/disambig_tid.int",
                 "graph/phones/word_boundary.int"):  # fmt: skip
        source, target = (model / part).resolve(), place / part
        if not source.is_file():
            raise CalloutError(f"the ears' model lacks {part}; install callout again")
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            os.symlink(source, target)
        except OSError:  # a file system or a system without links
            shutil.copyfile(source, target)
    (place / "conf" / "model.conf").write_text(MODEL_CONF)
    return place / "graph" / "Gr.fst"


def _head(start: int, states: int, arcs: int) -> bytes:
    def text(value: bytes) -> bytes:
        return struct.pack("<i", len(value)) + value

    return (
        struct.pack("<i", _MAGIC) + text(b"vector") + text(b"standard")
        + struct.pack("<iiQqqq", 2, 0, _PROPERTIES, start, states, arcs)
    )  # fmt: skip
