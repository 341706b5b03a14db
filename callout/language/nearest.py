""" "Did you mean": sentences of the language near to words that are none. Suggestions only, never taken in silence."""

from __future__ import annotations

from collections.abc import Sequence

from rapidfuzz import fuzz, process

from callout.language import grammar
from callout.language.automaton import follow_words
from callout.language.context import Context
from callout.language.parse import parse

_CLOSE = 70.0  # rapidfuzz ratio from which a word counts as a slip of another
_MOST = 3
_MOST_FOLLOW = 8  # longer lists of what may come next are no help


def nearest_sentences(words: Sequence[str], context: Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Up to three sentences that would have been understood, and the reasons why `words` were not."""
    known = list(grammar.load().words())
    unknown = [i for i, word in enumerate(words) if word not in known]
    reasons = tuple(dict.fromkeys(f'"{words[i]}" is no word of the callouts' for i in unknown))[:5]
    found: list[str] = []
    if 0 < len(unknown) <= 3:
        choices = {i: _close(words[i], known) for i in unknown}
        sentences: list[tuple[str, ...]] = [tuple(words)]
        for i in unknown:
            sentences = [(*s[:i], choice, *s[i + 1 :]) for s in sentences for choice in choices[i]][:27]
        found = [" ".join(s) for s in sentences if makes_sense(s, context)]
    return (tuple(found[:_MOST]), reasons) if reasons else _cut_short(words, context)


def _cut_short(words: Sequence[str], context: Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """For known words in an order that is none: how far they fit, and the sentence they make as far as that."""
    fit, follow = follow_words(words, context)
    said = " ".join(words[:fit])
    if fit == len(words):
        after = f": next may come {', '.join(follow)}" if len(follow) <= _MOST_FOLLOW else ""
        return (), (f'"{said}" is not complete{after}',)
    near = (said,) if fit and makes_sense(words[:fit], context) else ()
    return near, (f'"{words[fit]}" does not fit after "{said}"' if fit else f'nothing begins with "{words[0]}"',)


def makes_sense(words: Sequence[str], context: Context) -> bool:
    """Whether a sentence has one plain meaning, so that it can be offered."""
    readings = parse(words, context)
    return len(readings) == 1 and not readings[0].notes and not readings[0].others


def _close(word: str, known: list[str]) -> list[str]:
    matches = process.extract(word, known, scorer=fuzz.ratio, score_cutoff=_CLOSE, limit=_MOST)
    return [str(match[0]) for match in matches]
