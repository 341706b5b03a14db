"""A command and then why it is said, typed: "scratch my last, that was the wrong strut".

The command decides, and it must be a sentence of the grammar. What follows must be a reason by its first words, hold no
number and no word that turns a meaning round, and be no command itself. What only makes the voice speak may have its
reason before it, too ("the saw was running, how many was that"). Never a yes, a callout, or a word for what is done.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from callout.files import data_folder, read_toml
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.nearest import TURNS, may_be_taken, plain_command
from callout.language.numerals import NUMBER_WORDS
from callout.values import Command

_LONGEST = 20  # words
_SHORTEST = 3  # words of a reason
_BETWEEN = 3  # words that may stand between "the" and the verb
_TURNS_ROUND = TURNS | {"wait", "actually", "instead", "rather", "yes", "correct", "affirm", "affirmative"}
_ANSWERS = frozenset({"roger", "wilco", "closing"})  # said in answer to something, they have no reason
_NUMBERS = NUMBER_WORDS - {"one", "a", "and"}

Phrases = frozenset[tuple[str, ...]]


class _Table(NamedTuple):
    """Each as in `grammars/reasons.toml`; phrases as tuples of words."""

    commands: frozenset[str]
    who: Phrases
    whose: frozenset[str]
    verbs: frozenset[str]
    links: Phrases


def beside_its_reason(words: Sequence[str], context: Context) -> tuple[str, Command] | None:
    """The sentence of the grammar that a reason follows, or stands before, and its command."""
    if len(words) > _LONGEST:
        return None
    for end in range(len(words) - _SHORTEST, 0, -1):
        head, rest = words[:end], words[end:]
        command = plain_command(head, context) if _is_reason(rest, alone=end == 1) else None
        if command is not None and _may_be_reasoned(command, context):
            return _told(head, command, rest, context)
    for start in range(_SHORTEST, len(words) - 1):
        head, rest = words[start:], words[:start]
        command = plain_command(head, context) if _is_reason(rest) else None
        if command is not None and _only_speaks(command) and may_be_taken(command, context):
            return _told(head, command, rest, context)
    return None


def _told(head: Sequence[str], command: Command, rest: Sequence[str], context: Context) -> tuple[str, Command] | None:
    """None where the reason is another command itself: "short two, I found them"."""
    return (" ".join(head), command) if plain_command(rest, context) in (None, command) else None


def _may_be_reasoned(command: Command, context: Context) -> bool:
    listed = command.command in _table().commands
    return (listed or _only_speaks(command)) and may_be_taken(command, context)


def _only_speaks(command: Command) -> bool:
    """Whether a command moves nothing, and neither stops nor wakes anything."""
    marks = command_row(command.command).marks
    return "harmless" in marks and not marks & {"moves", "alarm", "stop", "wake"} and command.command not in _ANSWERS


def _is_reason(words: Sequence[str], *, alone: bool = False) -> bool:
    """Whether words say why. `alone`: the command was one word, so that "the" may well be of it: "pass the hammer"."""
    if len(words) < _SHORTEST or _TURNS_ROUND.intersection(words) or _NUMBERS.intersection(words):
        return False
    table = _table()
    first = [tuple(words[:n]) for n in (1, 2, 3)]
    if table.links.intersection(first):
        return True
    if any(phrase in table.who and words[len(phrase)] in table.verbs for phrase in first[:2]):
        return True
    return not alone and words[0] in table.whose and bool(table.verbs.intersection(words[2 : 2 + _BETWEEN]))


@lru_cache(maxsize=1)
def _table() -> _Table:
    table = read_toml(data_folder("grammars") / "reasons.toml")
    who, links = (frozenset(tuple(phrase.split()) for phrase in table[key]) for key in ("who", "links"))
    return _Table(frozenset(table["commands"]), who, frozenset(table["whose"]), frozenset(table["verbs"]), links)
