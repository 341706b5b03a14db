"""The hash chain: each line's hash covers the hash of the line before it, so that a changed or removed line shows."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

_quoted: Callable[[str], str] = json.encoder.encode_basestring
#: What the first line is chained to.
START = "0" * 64


class Line(NamedTuple):
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
class Verdict:
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


def link(before: str, line: Line) -> str:
    """The hash of a line after one with the hash `before`, 64 hexadecimal digits (SHA-256, FIPS 180-4)."""
    seq, origin, origin_seq, origin_hash, build_id, note, body = line[:7]
    if type(seq) is not int or type(origin_seq) is not int:
        raise TypeError(f"line {seq!r} is not numbered")
    theirs = "null" if origin_hash is None else _quoted(origin_hash)
    build = "null" if build_id is None else int(build_id)
    # As `canonical` writes a list, at a tenth of its cost: every line is checked whenever the journal is opened.
    covered = f'["{before}",{seq},{_quoted(origin)},{origin_seq},{theirs},{build},{_quoted(note)},{_quoted(body)}]'
    return hashlib.sha256(covered.encode("utf-8", "replace")).hexdigest()


def chained(before: str, line: Line) -> Line:
    """The line with its hash filled in."""
    return line._replace(hash=link(before, line))
