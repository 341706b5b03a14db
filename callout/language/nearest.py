"""Sentences of the language near to words that are none: suggestions only, never taken in silence."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import islice, product

from rapidfuzz import fuzz, process

from callout.language import grammar
from callout.language.automaton import follow_words
from callout.language.context import Context
from callout.language.parse import parse

_CLOSE = 70.0  # rapidfuzz ratio from which a word counts as a slip of another
_MOST = 3
_MOST_TRIED = 27  # sentences tried with unknown words replaced
_MOST_FOLLOW = 8  # longer lists of what may come next are no help


def nearest_sentences(words: Sequence[str], context: Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Up to three sentences that would have been understood, and the reasons why `words` were not."""
    known = _known()
    unknown = [word for word in words if word not in known]
    if not unknown:
        return _cut_short(words, context)
    found: list[str] = []
    if len(unknown) <= 3:
        choices = [[word] if word in known else _instead(word) for word in words]
        sentences = [" ".join(choice) for choice in islice(product(*choices), _MOST_TRIED)]
        found = [sentence for sentence in sentences if makes_sense(sentence.split(), context)]
    return tuple(found[:_MOST]), tuple(f'"{word}" is no word of the callouts' for word in dict.fromkeys(unknown))[:5]


def makes_sense(words: Sequence[str], context: Context) -> bool:
    """Whether a sentence has one plain meaning, so that it can be offered."""
    readings = parse(words, context)
    return len(readings) == 1 and not readings[0].notes and not readings[0].others


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    return frozenset(grammar.load().words(wide=True))


def _instead(word: str) -> list[str]:
    """What a word may be a slip of: known words like it, or several that lack the spaces between them."""
    matches = process.extract(word, sorted(_known()), scorer=fuzz.ratio, score_cutoff=_CLOSE, limit=_MOST)
    apart = _apart(word)
    return [str(match[0]) for match in matches] + ([" ".join(apart)] if apart else [])


def _apart(word: str) -> tuple[str, ...] | None:
    """The fewest known words that make up `word`, one after another; None where none do."""
    best: list[tuple[str, ...] | None] = [()]
    for end in range(1, min(len(word), 200) + 1):
        ways = [(*head, word[start:end]) for start in range(end)
                if (head := best[start]) is not None and word[start:end] in _known()]  # fmt: skip
        best.append(min(ways, key=len, default=None))
    return best[-1] if len(best) == len(word) + 1 else None


def _cut_short(words: Sequence[str], context: Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """For known words in an order that is none: how far they fit, and the sentence they make as far as that."""
    fit, follow = follow_words(words, context)
    said = " ".join(words[:fit])
    if fit == len(words):
        after = f": next may come {', '.join(follow)}" if len(follow) <= _MOST_FOLLOW else ""
        return (), (f'"{said}" is not complete{after}',)
    near = (said,) if fit and makes_sense(words[:fit], context) else ()
    return near, (f'"{words[fit]}" does not fit after "{said}"' if fit else f'nothing begins with "{words[0]}"',)
