"""Two or three short sentences in one breath that come down to one command: "got that one, what's next".

Every one of them must be a known way of saying a command, and all together one command: what one leaves open, another
may say ("we need three more, I don't have them"), and what says nothing alone may stand beside it ("in the cart"). A
command that moves nothing may be followed by its reason ("hang on, I have to move the truck"). A yes is never found so,
nor a callout; nor a word of the walk while an answer is awaited.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from callout.files import data_folder, read_toml
from callout.language import grammar
from callout.language.commands import command_row, commands
from callout.language.context import Context
from callout.language.nearest import gist_of, may_be_taken, same_gist
from callout.language.parse import parse, parse_by
from callout.values import Command

_LONGEST = 16  # words
_MOST = 4  # clauses
_LONGEST_STOP = 5  # words
_SHORTEST_REASON = 2  # words
_FIELDS = ("item", "build", "quantity", "have", "part", "length")


class _Clause(NamedTuple):
    """The command that a clause means; or those that it may stand beside and says nothing without. `tells`: it says
    what happens ("the wall is moving"), and orders nothing."""

    command: Command | None
    beside: frozenset[str] = frozenset()
    tells: bool = False


def one_of_several(words: Sequence[str], context: Context) -> Command | None:
    """The one command that all clauses of `words` mean; None where they mean none, or several."""
    if not 2 <= len(words) <= _LONGEST:
        return None
    clauses = _Clauses(tuple(words), context)
    best: list[list[_Clause] | None] = [[], *[None] * len(words)]
    for end in range(1, len(words) + 1):
        for start in range(end):
            before = best[start]
            if before is None or len(before) == _MOST:
                continue
            meant = clauses.meaning(start, end)
            told = None if meant is None else [*before, meant]
            if told is not None and (best[end] is None or len(told) < len(best[end] or ())):
                best[end] = told
    found = _stopped(clauses, len(words)) or _together(best[len(words)] or [])
    if found is None:
        found = next((m for end in range(1, len(words)) if (m := _reasoned(clauses, best, end)) is not None), None)
    return found if found is not None and may_be_taken(found, context) else None


def begins_with_an_alarm(words: Sequence[str], context: Context) -> Command | None:
    """The stop word of the field that a sentence begins with: nothing after it makes a callout or a correction."""
    return _stopped(_Clauses(tuple(words), context), len(words)) if 2 <= len(words) <= _LONGEST else None


def _stopped(clauses: _Clauses, longest: int) -> Command | None:
    """A stop word of the field, whatever is said after it: "get out now, the wall is moving"; or after "wait". What
    tells of a wall must end there: "the wall is going up" is none."""
    heads = {end: clauses.meaning(0, end) for end in range(2, min(longest, _LONGEST_STOP) + 1)}
    alarms = {end: one for end, one in heads.items() if one is not None and not one.tells and _is_alarm(one.command)}
    if alarms and not _of_a_thing(clauses.words[min(alarms) :]):
        return alarms[max(alarms)].command
    for start in range(1, longest - 1):
        before, meant = clauses.meaning(0, start), clauses.meaning(start, longest)
        waits = before is not None and before.command is not None and before.command.command in ("stand_by", "hold")
        if waits and meant is not None and _is_alarm(meant.command):
            return meant.command
    return None


def ends_in_a_thing(words: Sequence[str]) -> bool:
    """Whether a sentence ends in a thing that people handle, and nothing happens to it."""
    return any(_of_a_thing(tuple(words[at:])) for at in range(1, len(words)))


def _of_a_thing(rest: tuple[str, ...]) -> bool:
    """Whether nothing follows but a thing that people handle ("get out the tape", "back off the screw a bit"), or go
    back to ("get back to work")."""
    table = _table()
    if rest[:1] == ("to",) and table.things.intersection(rest[1:2]):
        return True
    said = rest[1:] if rest[:1] == ("of",) else rest
    named = len(said) > 1 and said[0] in table.before_a_thing and said[1] in table.things
    return named and not table.happens.intersection(said)


def _reasoned(clauses: _Clauses, best: list[list[_Clause] | None], end: int) -> Command | None:
    """A command that moves nothing, and then why it is said."""
    told, rest, table = best[end], clauses.words[end:], _table()
    said = None if not told else _same(told)
    if said is None or len(rest) < _SHORTEST_REASON:
        return None
    reasons = (table.reasons if said.command in table.reasoned else ()) + (
        table.explanations if said.command in table.explained else ()
    )
    return said if any(rest[: len(reason)] == reason for reason in reasons) else None


class _Clauses:
    """What each run of the words means by itself."""

    def __init__(self, words: tuple[str, ...], context: Context) -> None:
        self.words = words
        self._context = context
        self._meant: dict[tuple[int, int], _Clause | None] = {}

    def meaning(self, start: int, end: int) -> _Clause | None:
        if (start, end) not in self._meant:
            self._meant[start, end] = self._read(start, end)
        return self._meant[start, end]

    def _read(self, start: int, end: int) -> _Clause | None:
        said = self.words[start:end]
        if end - start < len(self.words) and " ".join(gist_of(said)) in _table().alone:
            return None
        found = self._command(said)
        beside = parse_by(said, grammar.load().beside_network)
        names = frozenset(r.meaning.command for r in beside if isinstance(r.meaning, Command))
        return _Clause(found, names, "is" in said) if found is not None or names else None

    def _command(self, said: tuple[str, ...]) -> Command | None:
        readings = parse(said, self._context) or parse(said, self._context, wide=True)
        meant = {r.meaning for r in readings if not r.notes}
        if not readings and len(said) > 1 and (gist := same_gist(said, self._context)) is not None:
            meant = {gist[1]}
        (found,) = meant if len(meant) == 1 else (None,)
        if not isinstance(found, Command) or found.patch is not None or found.command.startswith("bare_"):
            return None
        return found


def _together(told: list[_Clause]) -> Command | None:
    """All of them as one: the field's stop word before all else; a "no" before "short" says short. "Stop, the wall is
    moving" stops the work."""
    if len(told) < 2:
        return None
    said = [clause.command for clause in told if clause.command is not None]
    alarms = [command for command in said if _is_alarm(command)]
    if alarms and said[0].command == "stop" and all(c.tells for c in told if _is_alarm(c.command)):
        return Command(command="cease_operations")
    if alarms and all("harmless" in command_row(command.command).marks for command in said):
        return alarms[0]
    return _same(told)


def _is_alarm(command: Command | None) -> bool:
    return command is not None and "alarm" in command_row(command.command).marks


def _same(told: list[_Clause]) -> Command | None:
    beside = _table().beside
    surely = [clause for clause in told if not clause.beside]
    names = {_name(clause.command) for clause in surely if clause.command is not None}
    said = [clause.command for clause in told
            if clause.command is not None and not (names & _beside_names(clause))]  # fmt: skip
    names = {_name(command) for command in said}
    for name, others in beside.items():
        if name in names and others & (names - {name}):
            names.remove(name)
    if len(names) != 1 or any(not names & _beside_names(c) for c in told if c.command is None):
        return None
    fields = {}
    for name in _FIELDS:
        values = {getattr(command, name) for command in said if _name(command) in names} - {None}
        if len(values) > 1:
            return None
        fields[name] = next(iter(values), None)
    return Command(command=names.pop(), **fields)


def _beside_names(clause: _Clause) -> frozenset[str]:
    return frozenset(_table().same.get(name, name) for name in clause.beside)


def _name(said: Command) -> str:
    return _table().same.get(said.command, said.command)


class _Table(NamedTuple):
    """`reasons`: how a reason begins, of a command of `reasoned`; `explanations`: of one of `explained`.
    `beside`: commands that say nothing of their own beside one of those. `same`: commands that are another's by another
    name. `alone`: sentences that are none in one breath with others. `things`, after a word of `before_a_thing` and
    without one of `happens`: what is handled, and makes no alarm of the words before it."""

    reasoned: frozenset[str]
    reasons: tuple[tuple[str, ...], ...]
    explained: frozenset[str]
    explanations: tuple[tuple[str, ...], ...]
    beside: dict[str, frozenset[str]]
    same: dict[str, str]
    alone: frozenset[str]
    things: frozenset[str]
    before_a_thing: frozenset[str]
    happens: frozenset[str]


@lru_cache(maxsize=1)
def _table() -> _Table:
    table = read_toml(data_folder("grammars") / "clauses.toml")
    reasons, explanations = (
        tuple(tuple(reason.split()) for reason in table[key]) for key in ("reasons", "explanations")
    )
    everything = frozenset(commands())
    beside = {name: everything - {name} if others == ["*"] else frozenset(others)
              for name, others in table["beside"].items()}  # fmt: skip
    return _Table(frozenset(table["reasoned"]), reasons, frozenset(table["explained"]), explanations, beside,
                  dict(table["same"]), frozenset(table["alone"]),
                  *(frozenset(table[key]) for key in ("things", "before_a_thing", "happens")))  # fmt: skip
