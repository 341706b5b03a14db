"""A command and then why it is said, typed: "scratch my last, that was the wrong strut".

The command decides, and it must be a sentence of the grammar. What follows must be a reason by its first words, hold no
number and no word that turns a meaning round, and be no command itself. A question may have its reason
before it, too ("the saw was running, how many was that"). Never a yes, a callout, or a word for what is done.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from callout.files import data_folder, read_toml
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.examples import may_be_sure
from callout.language.nearest import TURNS, may_be_taken, plain_command
from callout.language.numerals import NUMBER_WORDS
from callout.values import Command

_LONGEST = 20  # words
_SHORTEST = 3  # words of a reason
_BETWEEN = 3  # words that may stand between "the" and the verb
_TURNS_ROUND = TURNS | {"wait", "actually", "instead", "rather", "yes", "correct", "affirm", "affirmative"}
_ANSWERS = frozenset({"roger", "wilco", "closing"})  # said in answer to something, they have no reason
_NUMBERS = NUMBER_WORDS - {"one", "a", "and"}


class _Table(NamedTuple):
    """Each as in `grammars/reasons.toml`; `who` as tuples of words."""

    orders: frozenset[str]
    reports: frozenset[str]
    asks: frozenset[str]
    who: frozenset[tuple[str, ...]]
    whose: frozenset[str]
    verbs: frozenset[str]
    joins: frozenset[str]
    links: frozenset[str]
    not_in: frozenset[str]


def beside_its_reason(words: Sequence[str], context: Context) -> tuple[str, Command] | None:
    """The sentence of the grammar that a reason follows, or stands before, and its command."""
    if len(words) > _LONGEST:
        return None
    for end in range(len(words) - _SHORTEST, 0, -1):
        head, rest = words[:end], words[end:]
        command = plain_command(head, context) if _is_reason(rest, alone=end == 1) else None
        if command is not None and _may_be_reasoned(command, head, context):
            return _told(head, command, rest, context)
    for start in range(_SHORTEST, len(words) - 1):
        head, rest = words[start:], words[:start]
        command = plain_command(head, context) if head[0] in _table().asks and _is_reason(rest) else None
        if command is not None and _only_speaks(command, context) and may_be_taken(command, context):
            return _told(head, command, rest, context)
    return None


def _told(head: Sequence[str], command: Command, rest: Sequence[str], context: Context) -> tuple[str, Command] | None:
    """None where the reason is another command itself: "short two, I found them"."""
    return (" ".join(head), command) if plain_command(rest, context) in (None, command) else None


def _may_be_reasoned(command: Command, head: Sequence[str], context: Context) -> bool:
    table, name = _table(), command.command
    tells = (head[0],) in table.who or head[0] in table.whose
    order = name in table.orders and not (tells and "moves" in command_row(name).marks)
    report = name in table.reports and (command.quantity is not None or command.have is not None)
    return (order or report or _only_speaks(command, context)) and may_be_taken(command, context)


def _only_speaks(command: Command, context: Context) -> bool:
    speaks = command_row(command.command).marks & {"harmless", "question"}
    return bool(speaks) and may_be_sure(command.command, context) and command.command not in _ANSWERS


def _is_reason(words: Sequence[str], *, alone: bool = False) -> bool:
    """Whether words say why. `alone`: the command was one word, and "the" may be of it: "pass the hammer, it is"."""
    table = _table()
    words = words[1:] if words[0] in table.joins else words
    if len(words) < _SHORTEST or (_TURNS_ROUND | _NUMBERS | table.not_in).intersection(words):
        return False
    first = [tuple(words[:n]) for n in (1, 2)]
    if words[0] in table.links or any(who in table.who and _verb(words[len(who)]) for who in first):
        return True
    return words[0] in table.whose and any(_verb(word) for word in words[2 : 3 if alone else 2 + _BETWEEN])


def _verb(word: str) -> bool:
    return word in _table().verbs or (word.endswith("ed") and len(word) > len("need"))


@lru_cache(maxsize=1)
def _table() -> _Table:
    table = read_toml(data_folder("grammars") / "reasons.toml")
    who = frozenset(tuple(phrase.split()) for phrase in table["who"])
    others = {key: frozenset(table[key]) for key in _Table._fields if key != "who"}
    return _Table(who=who, **others)
