"""A folder of recordings and the list of what was said in them: `manifest.jsonl` or `manifest.csv`.

Read line by line, so that any number of recordings takes the same memory.
"""

from __future__ import annotations

import csv
import hashlib
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from rapidfuzz import process

from callout.errors import BadInput
from callout.files import must_be_a_file, whole_file
from callout.language.commands import commands, commands_that
from callout.values import Command, meaning_from_json, meaning_json

NAMES = ("manifest.jsonl", "manifest.csv")

#: What a meaning may name: whatever the conversation acts on, and what is only scored.
COMMANDS = (frozenset(commands()) - commands_that("inner")) | {"digits", "bare_number", "bare_length"}

#: Letters of one recording's line.
LONGEST_LINE = 1_000_000

#: Half of a surrogate pair: JSON can hold one alone, a report in UTF-8 cannot.
_HALF_LETTER = re.compile("[\ud800-\udfff]")

TEMPLATE = """\
{"file": "first.flac", "words": "insertion eleven feet sixty", "speaker": "Kim", "channel": "handheld", "noise": "yard"}
{"file": "second.flac", "words": "insertion nine feet six and a half inches forty five", "speaker": "Kim", "channel": "handheld", "noise": "generator"}
{"file": "third.flac", "words": "affirm", "meaning": {"command": "affirm"}, "speaker": "Sam", "channel": "handheld", "noise": "yard"}
{"file": "chatter.flac", "words": "put the kettle on", "meaning": null, "speaker": "Sam", "channel": "handheld", "noise": "yard"}
{"file": "nobody.flac", "words": "", "noise": "generator"}
"""  # noqa: E501


@dataclass(frozen=True)
class Entry:
    """One recording. `meaning` is the published shape or None for no callout; `given` False: it is not in the manifest.

    `index` counts the entries from 0. `file` is as written, relative to the manifest's folder.
    """

    index: int
    file: str
    words: str
    meaning: dict[str, Any] | None
    given: bool
    speaker: str = ""
    channel: str = ""
    noise: str = ""


def find_manifest(folder: Path) -> Path:
    """The manifest of a folder of recordings; raises BadInput when there is none."""
    if not folder.is_dir():
        raise BadInput(f"{folder}: no such folder; name a folder of recordings that holds a manifest")
    for name in NAMES:
        if (folder / name).is_file():
            return folder / name
    raise BadInput(f"{folder}: holds no manifest; write one, starting with: callout score --init {folder}")


def write_template(folder: Path) -> Path:
    """Write an example manifest into `folder` (made when absent); never over an existing one."""
    for name in NAMES:
        if (folder / name).exists():
            raise BadInput(f"{folder / name} is already there; edit it, or name another folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with whole_file(folder / NAMES[0]) as file:
            file.write(TEMPLATE)
    except OSError as failed:
        raise BadInput(f"cannot write into {folder} ({failed.strerror}); name another folder") from failed
    return folder / NAMES[0]


def read_manifest(path: Path) -> Iterator[Entry]:
    """The entries in order. Raises BadInput, naming the line, for anything that is no entry."""
    must_be_a_file(path)
    try:
        rows = _jsonl(path) if path.suffix == ".jsonl" else _csv(path)
        index = 0
        for line, row in rows:
            yield _entry(index, row, f"{path}, line {line}")
            index += 1
    except UnicodeDecodeError:
        raise BadInput(f"{path}: not UTF-8 text; save it as UTF-8") from None
    except csv.Error as wrong:
        raise BadInput(f"{path}: not a table of cells with commas ({wrong})") from None
    except OSError as failed:
        raise BadInput(f"{path}: cannot be read ({failed.strerror})") from failed
    if index == 0:
        raise BadInput(f"{path}: lists no recordings; add a line for each")


def survey(path: Path) -> tuple[int, str]:
    """(how many entries, SHA-256 of the manifest): every line is checked before the first recording is heard."""
    count = sum(1 for _ in read_manifest(path))
    with path.open("rb") as file:
        digest = hashlib.sha256()
        for block in iter(lambda: file.read(1 << 20), b""):
            digest.update(block)
    return count, digest.hexdigest()


def _jsonl(path: Path) -> Iterator[tuple[int, dict[str, Any]]]:
    with path.open(encoding="utf-8-sig") as file:
        for number, line in enumerate(iter(lambda: file.readline(LONGEST_LINE + 1), ""), 1):
            if len(line) > LONGEST_LINE:
                raise BadInput(f"{path}, line {number}: over {LONGEST_LINE:,} letters; write one recording a line")
            if not line.strip():
                continue
            try:
                row = json.loads(line)
            except (ValueError, RecursionError) as wrong:
                raise BadInput(f"{path}, line {number}: not JSON ({wrong}); one object a line") from None
            if not isinstance(row, dict):
                raise BadInput(f"{path}, line {number}: must be an object with file and words")
            yield number, row


def _csv(path: Path) -> Iterator[tuple[int, dict[str, Any]]]:
    """A table with a line of names first. An empty meaning is an absent one; the word null is no callout."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        for row in reader:
            cells: dict[str, Any] = {k.strip(): v.strip() for k, v in row.items() if k and isinstance(v, str)}
            meaning = cells.pop("meaning", "")
            if meaning:
                try:
                    cells["meaning"] = json.loads(meaning)
                except (ValueError, RecursionError):
                    raise BadInput(f"{path}, line {reader.line_num}: meaning is not JSON; leave it empty") from None
            yield reader.line_num, cells


def _entry(index: int, row: dict[str, Any], where: str) -> Entry:
    for name in ("file", "words"):
        if not isinstance(row.get(name), str):
            raise BadInput(f"{where}: {name!r} is missing; every recording needs file and words (words may be empty)")
    if not row["file"]:
        raise BadInput(f"{where}: 'file' is empty")
    labels = {name: str(row.get(name) or "") for name in ("speaker", "channel", "noise")}
    if any(_HALF_LETTER.search(text) for text in (row["file"], row["words"], *labels.values())):
        raise BadInput(f"{where}: holds half a letter (\\ud800 to \\udfff); write the letter itself, in UTF-8")
    words = " ".join(row["words"].lower().split())
    given = "meaning" in row or not words
    shape = row.get("meaning") if words else None
    wrong = f"{where}: 'meaning' is no callout and no command; leave it out to take it from the words"
    if not (shape is None or isinstance(shape, dict)):
        raise BadInput(wrong)
    try:
        meaning = meaning_from_json(shape)
    except ValidationError:
        raise BadInput(wrong) from None
    if shape == {}:
        raise BadInput(f"{where}: 'meaning' is empty; leave it out, or write null for no callout")
    if isinstance(meaning, Command) and meaning.command not in COMMANDS:
        nearest = ", ".join(name for name, _, _ in process.extract(meaning.command, sorted(COMMANDS), limit=3))
        raise BadInput(f"{where}: no command is called {meaning.command!r}; the nearest are {nearest}")
    return Entry(index, row["file"], words, meaning_json(meaning), given, **labels)
