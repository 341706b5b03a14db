"""The command whose key words are all in what was typed: "I can't see them, where are they kept?".

The last thing tried before a sentence is not understood. What only makes the voice speak is taken, where nothing else
was said beside it; anything else is asked in one clause, and a yes does it. Never a yes, never a callout, and never
where a word turns the meaning round ("not", "or", "you").
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from callout.language import grammar
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.nearest import (
    ASKS_WHETHER,
    TURNS,
    Gist,
    abstracted,
    by_gist,
    filled,
    gist_of,
    known_words,
    may_be_taken,
    plain_command,
    telling_words,
)
from callout.values import Command

_LONGEST = 16  # words
_MOST_BESIDE = 5  # words beside the key words, light ones apart
_FEW_BESIDE = 2  # the same beside one key word alone; all known, for a command that is taken and not asked
_MOST_TRIED = 12  # sentences that come down to the same key words


class Found(NamedTuple):
    """`sentence` would have been understood; `sure`: it may be taken without asking."""

    sentence: str
    command: Command
    sure: bool


def by_key_words(words: Sequence[str], context: Context) -> Found | None:
    """The one command whose key words are all said, in their order; None where there is none or more than one."""
    if not words or len(words) > _LONGEST or context.state is None or grammar.load().states[context.state].waits:
        return None
    for said, numbers, parts in abstracted(words):
        gist = gist_of(said)
        most: dict[Command, tuple[str, Gist]] = {}
        for keys in _widest(gist, context.state):
            for command, sentence in _meant(keys, numbers, parts, context):
                most.setdefault(command, (sentence, keys))
        if len(most) == 1:
            ((command, (sentence, keys)),) = most.items()
            return Found(sentence, command, _sure(command, gist, keys))
    return None


def _sure(command: Command, gist: Gist, keys: Gist) -> bool:
    harmless = "harmless" in command_row(command.command).marks
    beside, known = _beside(gist, keys), known_words()
    return harmless and len(keys) > 1 and len(beside) <= _FEW_BESIDE and all(word in known for word in beside)


def _widest(gist: Gist, state: str) -> list[Gist]:
    """The key words of known sentences that stand in `gist` in their order, but those that are part of others."""
    inside = [keys for rule in grammar.load().example_rules(state) for keys in _candidates(rule, gist)]
    inside = [keys for keys in dict.fromkeys(inside) if _tells(keys, gist)]
    return [keys for keys in inside if not any(set(keys) < set(other) for other in inside)]


def _candidates(rule: str, gist: Gist) -> list[Gist]:
    said = set(gist)
    starts = _by_first_word(rule)
    return [keys for word in said for keys in starts.get(word, ()) if said.issuperset(keys) and _in_order(keys, gist)]


@lru_cache(maxsize=64)
def _by_first_word(rule: str) -> dict[str, tuple[Gist, ...]]:
    found: dict[str, list[Gist]] = {}
    for keys in by_gist(rule):
        found.setdefault(keys[0], []).append(keys)
    return {word: tuple(several) for word, several in found.items()}


def _in_order(keys: Gist, gist: Gist) -> bool:
    """Whether the key words stand in `gist` in their order; side by side where one of them turns the meaning round."""
    if TURNS & set(keys):
        return any(gist[i : i + len(keys)] == keys for i in range(len(gist)))
    rest = iter(gist)
    return all(word in rest for word in keys)


def _beside(gist: Gist, keys: Gist) -> list[str]:
    rest = list(gist)
    for word in keys:
        rest.remove(word)
    return rest


def _tells(keys: Gist, gist: Gist) -> bool:
    """Whether the key words tell enough of all that was said, and what stands beside them changes nothing: no figure
    and no piece, no word that turns a meaning round or asks whether it is so, and, unless a key word tells by itself
    what is meant, no strange word ("that dog is back again")."""
    if gist[0] in ASKS_WHETHER and keys[0] != gist[0]:
        return False
    beside = _beside(gist, keys)
    if TURNS.union((grammar.NUMBER, grammar.PART)) & set(beside):
        return False
    tells = not telling_words().isdisjoint(keys)
    if len(keys) == 1:
        return tells and len(beside) <= _FEW_BESIDE
    return len(beside) <= min(len(keys) + 1, _MOST_BESIDE) and (tells or known_words().issuperset(beside))


def _meant(
    keys: Gist, numbers: list[list[str]], parts: list[list[str]], context: Context
) -> list[tuple[Command, str]]:
    found = []
    for rule in grammar.load().example_rules(context.state):
        for example in by_gist(rule).get(keys, ())[:_MOST_TRIED]:
            sentence = filled(example.split(), numbers, parts)
            command = plain_command(sentence, context) if sentence else None
            if command is not None and may_be_taken(command, context):
                found.append((command, " ".join(sentence)))
    return found
