"""How well given readings fit an utterance's phone scores: a textbook CTC alignment, many readings at once.

The search finds the best readings of the whole grammar; this scores readings that somebody else proposes, by the same
rules (Viterbi, a blank between two equal phones; A. Graves et al., "Connectionist Temporal Classification", 2006).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import islice, product

import numpy as np

from callout.hearing.encoder import BLANK, INDEX
from callout.hearing.search import SearchReading, Squeezed
from callout.hearing.search_passes import NEVER, Floats

MOST_WAYS = 8  # pronunciations of one reading that are tried

Pronounce = Callable[[str], Iterable[Sequence[str]]]
Sound = tuple[int, ...]


def sounds(words: Sequence[str], pronounce: Pronounce, heard: Mapping[str, Sequence[Sound]] = {}) -> list[Sound]:
    """Ways to say the words, as columns of the scores; none where a word has no pronunciation. A word that was `heard`
    is said as it was."""
    ways = [heard.get(word) or [tuple(INDEX[phone] for phone in way) for way in pronounce(word)] for word in words]
    if not all(ways):
        return []
    return [tuple(phone for word in way for phone in word) for way in islice(product(*ways), MOST_WAYS)]


def spoken(readings: Iterable[SearchReading], pronounce: Pronounce) -> dict[str, list[Sound]]:
    """How each word of some readings was said, out of the ways in which it can be."""
    heard: dict[str, list[Sound]] = {}
    for reading in readings:
        ways: list[tuple[int, tuple[Sound, ...]]] = [(0, ())]
        for word in reading.words:
            prons = [tuple(INDEX[phone] for phone in way) for way in pronounce(word)]
            ways = [
                (at + len(p), (*said, p)) for at, said in ways for p in prons if reading.sound[at : at + len(p)] == p
            ][:MOST_WAYS]
        for at, said in ways[:1]:
            for word, sound in zip(reading.words, said if at == len(reading.sound) else (), strict=False):
                known = heard.setdefault(word, [])
                if sound not in known and len(known) < 2:
                    known.append(sound)
    return heard


def best_scores(squeezed: Squeezed, said: Sequence[Sound]) -> Floats:
    """(n,) the log-probability of the best alignment of each phone sequence; about `NEVER` where it is too long."""
    width = 2 * max(map(len, said)) + 1
    labels = np.full((len(said), width), BLANK, np.intp)
    for row, phones in enumerate(said):
        labels[row, 1 : 2 * len(phones) : 2] = phones
    skips = np.zeros(labels.shape, bool)
    skips[:, 2:] = (labels[:, 2:] != BLANK) & (labels[:, 2:] != labels[:, :-2])
    at = np.full(labels.shape, NEVER, np.float32)
    at[:, 0] = 0.0  # before the first frame: in the first blank, or about to enter the first phone
    first = True
    for frame in squeezed.scores:
        best = at.copy()
        np.maximum(best[:, 1:], at[:, :-1], out=best[:, 1:])
        if not first:
            np.maximum(best[:, 2:], np.where(skips[:, 2:], at[:, :-2], NEVER), out=best[:, 2:])
        first = False
        at = best + frame[labels]
    ends = np.array([2 * len(phones) for phones in said])
    rows = np.arange(len(said))
    found: Floats = np.maximum(at[rows, ends], np.where(ends > 0, at[rows, ends - 1], NEVER))
    return found


def aligned(
    squeezed: Squeezed,
    readings: Sequence[tuple[str, ...]],
    pronounce: Pronounce,
    heard: Mapping[str, Sequence[Sound]] = {},
) -> list[SearchReading | None]:
    """Each word sequence as a reading with its score and fit, its words without times; None where it cannot be said."""
    ways = [sounds(words, pronounce, heard) for words in readings]
    flat = [way for some in ways for way in some]
    if not flat or not len(squeezed.scores):
        return [None] * len(readings)
    scores = iter(best_scores(squeezed, flat).tolist())
    free = float(squeezed.free.sum())
    out: list[SearchReading | None] = []
    for words, some in zip(readings, ways, strict=True):
        found = max(((next(scores), way) for way in some), default=None)
        if found is None or found[0] <= NEVER / 2:
            out.append(None)
            continue
        score, sound = found
        out.append(SearchReading(words, score, (score - free) / max(len(sound), 1), sound, ()))
    return out
