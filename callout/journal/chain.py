"""One line of a journal: the hash chain, so that a changed or removed line shows, and what a merged line means here."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from callout.dialogue.records import Record

_quoted: Callable[[str], str] = json.encoder.encode_basestring
#: The same for what every line has again.
_quoted_again = lru_cache(maxsize=64)(_quoted)
#: What the first line is chained to.
START = "0" * 64


class JournalLine(NamedTuple):
    """One line as it lies in the file.

    `body` is the record as canonical JSON, word for word as its first writer wrote it. `origin` and `origin_seq` say
    whose line it was first and which; `origin_hash` is its hash in that journal, None for a line of this one.
    `build_id` is the number that a merged line's build has here. `note` is the journal's own remark.
    """

    seq: int
    origin: str
    origin_seq: int
    origin_hash: str | None
    build_id: int | None
    note: str
    body: str
    hash: str = ""

    @property
    def foreign(self) -> bool:
        return self.origin_hash is not None

    @property
    def first_hash(self) -> str:
        """The hash that the line had where it was first written: the same in every journal that holds it."""
        return self.origin_hash or self.hash


@dataclass(frozen=True)
class ChainVerdict:
    """What a check of the whole chain found. `lines` are sound; `problem` is one plain line, empty when all are."""

    lines: int
    problem: str = ""

    @property
    def ok(self) -> bool:
        return not self.problem


def canonical(value: Any) -> str:
    """JSON with sorted keys and no blanks: the same value gives the same text everywhere. Broken letters become "?"."""
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return text.encode("utf-8", "replace").decode("utf-8")


def link(before: str, line: JournalLine) -> str:
    """The hash of a line after one with the hash `before`, 64 hexadecimal digits (SHA-256, FIPS 180-4)."""
    seq, origin, origin_seq, origin_hash, build_id, note, body = line[:7]
    if type(seq) is not int or type(origin_seq) is not int:
        raise TypeError(f"line {seq!r} is not numbered")
    theirs = "null" if origin_hash is None else _quoted(origin_hash)
    build = "null" if build_id is None else int(build_id)
    # As `canonical` writes a list, at a tenth of its cost: every line is checked whenever the journal is opened.
    whose, remark = _quoted_again(origin), _quoted_again(note)
    covered = f'["{before}",{seq},{whose},{origin_seq},{theirs},{build},{remark},{_quoted(body)}]'
    return hashlib.sha256(covered.encode("utf-8", "replace")).hexdigest()


def chained(before: str, line: JournalLine) -> JournalLine:
    """The line with its hash filled in."""
    return line._replace(hash=link(before, line))


# What a line of another laptop's journal means here: its builds under new numbers, its conversation left out.

#: Events that move stock or open and close builds. Of the others a merged line keeps its words alone.
COUNTS = frozenset(("released", "voided", "picked", "returned", "placed", "stock_changed", "site_changed", "said"))
#: Of these only the lines of a build: what was said of the place at large there, or of a walk, holds there.
OF_A_BUILD = {"said": "build", "site_changed": "build_id"}
#: Who waits there for which answer, and where their walk stands, is no business of the conversation here.
THEIRS = frozenset(("seat", "pending", "half", "asked", "times", "at", "swept", "halted"))


def as_here(line: JournalLine, builds: Callable[[str], Mapping[int, int]]) -> Record:
    """The record of a merged line as this journal reads it. `builds(origin)`: build numbers there -> here."""
    shape: dict[str, Any] = json.loads(line.body)
    event = shape["event"]
    counts = event in COUNTS and (event not in OF_A_BUILD or shape[OF_A_BUILD[event]] is not None)
    data = {key: value for key, value in shape["data"].items() if counts and key not in THEIRS}
    if "number" in data:
        data["number"] = line.build_id  # its own number may be taken here
    if "relocates" in data:
        data["relocates"] = builds(line.origin).get(data["relocates"])
    return Record.model_validate({**shape, "seq": line.seq, "build_id": line.build_id, "data": data})
