"""The tables of tests/data/language: what is said, and what it means. Each row is a test."""

from __future__ import annotations

from pathlib import Path

import pytest

from callout.files import read_toml
from callout.language.outcome import Ambiguous, NotPossible, NotUnderstood, Resolution, Understood
from callout.language.parse import parse
from callout.language.resolve import resolve_text
from callout.values import Callout, Command, Meaning

TABLES = Path(__file__).parent / "data" / "language"
ROWS = [pytest.param(said, wanted, id=f"{file.stem}-{said or 'blank'}") for file in sorted(TABLES.glob("*.toml"))
        for said, wanted in read_toml(file)["rows"]]  # fmt: skip
OFTEN = [said for said, _ in read_toml(TABLES / "often.toml")["rows"]]


def in_short(result: Resolution) -> str:
    """A resolution in the notation of the tables."""
    if isinstance(result, Understood):
        return meaning_in_short(result.meaning)
    if isinstance(result, Ambiguous):
        return f"ask {result.ask}"
    if isinstance(result, NotUnderstood):
        return "not understood" + (f": {', '.join(result.missing)}" if result.missing else "")
    return "not possible" if isinstance(result, NotPossible) else "nothing"


def meaning_in_short(meaning: Meaning) -> str:
    if isinstance(meaning, Callout):
        return ", ".join(f"{name.removesuffix('_deg')} {value}" for name, value in meaning.said.items())
    if meaning.patch is not None:
        build = f" build {meaning.build}" if meaning.build is not None else ""
        return f"correction{build}: {meaning_in_short(meaning.patch)}"
    return command_in_short(meaning)


def command_in_short(command: Command) -> str:
    words = [command.command]
    words += [f"item {command.item}"] if command.item is not None else []
    if command.build is not None:
        words.append(str(command.build) if command.command == "build" else f"build {command.build}")
    elif command.command == "item":
        words[1:] = [str(command.item)]
    if command.quantity is not None:
        words.append(str(command.quantity))
    words += [f"have {command.have}"] if command.have is not None else []
    if command.part is not None:
        words.append(command.part if command.quantity is not None else f"part {command.part}")
    if command.length is not None:
        words.append(command.length.text)
    return " ".join(words)


@pytest.mark.parametrize(("said", "wanted"), ROWS)
def test_row(said: str, wanted: str) -> None:
    found = in_short(resolve_text(said))
    if wanted == "not understood":
        found = found.partition(":")[0]
    assert found == wanted


def test_the_tables_are_big() -> None:
    assert len(ROWS) > 400


@pytest.mark.parametrize("said", OFTEN)
def test_what_is_often_said_so_is_in_the_grammar_that_the_ears_search(said: str) -> None:
    assert parse(said.split())
