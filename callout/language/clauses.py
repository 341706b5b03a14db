"""Two or three short sentences in one breath that come down to one command: "got that one, what's next".

Every one of them must be a known way of saying a command, and all together one command: what one leaves open, another
may say ("we need three more, I don't have them"). A command that moves nothing may be followed by its reason ("hang on,
I have to move the truck"). A yes is never found so, nor a callout; nor a word of the walk while an answer is awaited.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from callout.files import data_folder, read_toml
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.nearest import may_be_taken, same_gist
from callout.language.parse import parse
from callout.values import Command

_LONGEST = 16  # words
_MOST = 4  # clauses
_LONGEST_STOP = 5  # words
_FIELDS = ("item", "build", "quantity", "have", "part", "length")


def one_of_several(words: Sequence[str], context: Context) -> Command | None:
    """The one command that all clauses of `words` mean; None where they mean none, or several."""
    if not 2 <= len(words) <= _LONGEST:
        return None
    clauses = _Clauses(tuple(words), context)
    best: list[list[Command] | None] = [[], *[None] * len(words)]
    for end in range(1, len(words) + 1):
        for start in range(end):
            before = best[start]
            if before is None or len(before) == _MOST:
                continue
            meant = clauses.meaning(start, end)
            told = None if meant is None else [*before, meant]
            if told is not None and (best[end] is None or len(told) < len(best[end] or ())):
                best[end] = told
    found = _together(best[len(words)] or []) or _stopped(clauses, len(words))
    if found is None:
        found = next((m for end in range(1, len(words)) if (m := _reasoned(clauses, best, end)) is not None), None)
    return found if found is not None and may_be_taken(found, context) else None


def _stopped(clauses: _Clauses, longest: int) -> Command | None:
    """A stop word of the field, whatever is said after it: "get out now, the wall is moving"."""
    for end in range(min(longest, _LONGEST_STOP), 1, -1):
        meant = clauses.meaning(0, end)
        if meant is not None and "alarm" in command_row(meant.command).marks:
            return meant
    return None


def _reasoned(clauses: _Clauses, best: list[list[Command] | None], end: int) -> Command | None:
    """A command that moves nothing, and then why it is said."""
    told, rest, table = best[end], clauses.words[end:], _table()
    if not told or not any(rest[: len(reason)] == reason for reason in table.reasons):
        return None
    return _same(told) if all(said.command in table.reasoned for said in told) else None


class _Clauses:
    """What each run of the words means by itself."""

    def __init__(self, words: tuple[str, ...], context: Context) -> None:
        self.words = words
        self._context = context
        self._meant: dict[tuple[int, int], Command | None] = {}

    def meaning(self, start: int, end: int) -> Command | None:
        if (start, end) not in self._meant:
            self._meant[start, end] = self._read(start, end)
        return self._meant[start, end]

    def _read(self, start: int, end: int) -> Command | None:
        said = self.words[start:end]
        readings = parse(said, self._context) or parse(said, self._context, wide=True)
        meant = {r.meaning for r in readings if not r.notes}
        if not readings and end - start > 1 and (gist := same_gist(said, self._context)) is not None:
            meant = {gist[1]}
        (found,) = meant if len(meant) == 1 else (None,)
        if not isinstance(found, Command) or found.patch is not None or found.command.startswith("bare_"):
            return None
        return found


def _together(told: list[Command]) -> Command | None:
    """All of them as one: the field's stop word before all else; a "no" before "short" says short."""
    if len(told) < 2:
        return None
    alarms = [said for said in told if "alarm" in command_row(said.command).marks]
    if alarms and all("harmless" in command_row(said.command).marks for said in told):
        return alarms[0]
    return _same(told)


def _same(told: list[Command]) -> Command | None:
    beside = _table().beside
    names = {_name(said) for said in told}
    names -= {name for name in names if beside.get(name, frozenset()) & names}
    if len(names) != 1:
        return None
    fields = {}
    for name in _FIELDS:
        values = {getattr(said, name) for said in told if _name(said) in names} - {None}
        if len(values) > 1:
            return None
        fields[name] = next(iter(values), None)
    return Command(command=names.pop(), **fields)


def _name(said: Command) -> str:
    return _table().same.get(said.command, said.command)


class _Table(NamedTuple):
    """`reasons`: how a reason begins, of a command of `reasoned`. `beside`: commands that say nothing of their own
    beside one of those. `same`: commands that are another's by another name."""

    reasoned: frozenset[str]
    reasons: tuple[tuple[str, ...], ...]
    beside: dict[str, frozenset[str]]
    same: dict[str, str]


@lru_cache(maxsize=1)
def _table() -> _Table:
    table = read_toml(data_folder("grammars") / "clauses.toml")
    reasons = tuple(tuple(reason.split()) for reason in table["reasons"])
    beside = {name: frozenset(others) for name, others in table["beside"].items()}
    return _Table(frozenset(table["reasoned"]), reasons, beside, dict(table["same"]))
