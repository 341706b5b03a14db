"""What the commands of the conversation are: one row each, from `grammars/commands.toml`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from callout.errors import BadInput, CalloutError
from callout.files import data_folder, read_toml
from callout.language.team import PHRASES, team_phrases
from callout.values.meaning import Command

_WAYS = ("typed", "unless_asked", "beside", "spoken", "spoken_unless_asked")
_KEYS = frozenset({"rule", "marks", "fields", "same_as", "card", *_WAYS})
_FIELDS = frozenset(Command.model_fields) - {"command", "patch"}


@dataclass(frozen=True)
class CommandRow:
    """A command. `rule` is the rule of states.toml under which it is said. `marks` are its classes, those of the table
    [marks]. `fields` are what its meaning may carry beside the name; `same_as` names the command that does the same.
    `card` is its line on the crib sheet: what to say, what it does. `typed`, `unless_asked`, `spoken` and
    `spoken_unless_asked` are other ways to say it, lines of grammar, taken when typed, when typed and nothing waits for
    an answer, and both by voice too; `beside` says it only in one breath with another way, typed; `taught` are a team's
    own, taken when typed, and where nothing waits by voice too, where the ears know their words.
    """

    name: str
    rule: str
    marks: frozenset[str]
    fields: tuple[str, ...]
    same_as: str
    card: tuple[str, str] | None
    typed: tuple[str, ...]
    unless_asked: tuple[str, ...]
    beside: tuple[str, ...]
    spoken: tuple[str, ...]
    spoken_unless_asked: tuple[str, ...]
    taught: tuple[str, ...] = ()


@lru_cache(maxsize=1)
def commands() -> Mapping[str, CommandRow]:
    """Every command by its name, in the order of the file. Raises CalloutError for a row that cannot be read."""
    rows = {name: _row(name, row) for name, row in _table().items() if name != "marks"}
    for name, ways in team_phrases().items():
        if name not in rows or "inner" in rows[name].marks:
            known = ", ".join(row.name for row in rows.values() if "inner" not in row.marks)
            raise BadInput(f"{PHRASES}: no command {name!r}; the commands are: {known}")
        if "affirmative" in rows[name].marks:
            raise BadInput(f"{PHRASES}: a yes cannot be taught; take the line {name!r} out")
        rows[name] = replace(rows[name], taught=ways)
    return MappingProxyType(rows)


def command_row(name: str) -> CommandRow:
    """The row of a command. Raises CalloutError, with what to write, where there is none."""
    if name not in commands():
        raise CalloutError(
            f'the command {name!r} has no row: write [{name}], rule = "..." and marks = [...] in grammars/commands.toml'
        )
    return commands()[name]


def commands_that(mark: str) -> frozenset[str]:
    """The names of the commands of a class: `commands_that("stop")`. Raises CalloutError for a class unheard of."""
    known = _table()["marks"]
    if mark not in known:
        raise CalloutError(f"no mark {mark!r} in grammars/commands.toml; the marks are: {', '.join(known)}")
    return frozenset(row.name for row in commands().values() if mark in row.marks)


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return read_toml(data_folder("grammars") / "commands.toml")


def _row(name: str, row: dict[str, Any]) -> CommandRow:
    missing, strange = {"rule", "marks"} - set(row), set(row) - _KEYS
    if missing or strange:
        raise CalloutError(f"commands.toml, [{name}]: write {', '.join(sorted(missing or _KEYS))}; no other key")
    marks, fields, card = frozenset(row["marks"]), tuple(row.get("fields", ())), row.get("card")
    unheard_of = (marks - set(_table()["marks"])) | (set(fields) - _FIELDS)
    if unheard_of:
        raise CalloutError(f"commands.toml, [{name}]: {', '.join(sorted(unheard_of))} is neither a mark nor a field")
    if row.get("same_as", "") not in ("", *_table()):
        raise CalloutError(f"commands.toml, [{name}]: same_as names no command")
    if card is not None and len(card) != 2:
        raise CalloutError(f'commands.toml, [{name}]: write card = ["what to say", "what it does"]')
    return CommandRow(
        name=name,
        rule=row["rule"],
        marks=marks,
        fields=fields,
        same_as=row.get("same_as", ""),
        card=None if card is None else (card[0], card[1]),
        **{way: tuple(row.get(way, ())) for way in _WAYS},
    )
