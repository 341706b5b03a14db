"""What a sentence with a number may be mistaken for: a number word is another, is missing or is one too many, or the
end is lost. A command's rivals are the other commands. `contrast` teaches an ear to tell them apart.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from functools import cache

from ears_training.pronounce import edit_distance, phone_labels, pronunciations, split_labels, words_of
from ears_training.text import ONES, TENS, lists

Labels = tuple[int, ...]

NUMBERS = (*ONES, *(t for t in TENS if t), "niner", "oh", "hundred")
PARTS = ("half", "quarter", "quarters", "eighth", "eighths", "sixteenth", "sixteenths")
UNITS = ("feet", "foot", "inches", "inch", "degrees")
CLASSES = (NUMBERS, PARTS, UNITS)
SAME = (("feet", "foot"), ("inches", "inch"), ("quarter", "quarters"), ("eighth", "eighths"), ("zero", "oh"),
        ("sixteenth", "sixteenths"), ("nine", "niner"))  # fmt: skip


@cache
def near(word: str) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """The other words of a word's class, and how likely each is mistaken for it (falling with the phones exchanged)."""
    own = next(c for c in CLASSES if word in c)
    alike = next((pair for pair in SAME if word in pair), (word,))
    others = tuple(w for w in own if w not in alike)
    here = pronunciations(word)[0]
    return others, tuple(math.exp(-0.8 * edit_distance(here, pronunciations(w)[0])) for w in others)


@cache
def commands() -> tuple[Labels, ...]:
    """The commands' labels: a command's rivals are the other commands."""
    said = sorted(set(lists()["conversation"]["commands"]))
    return tuple(found for text in said if (found := phone_labels(text)) is not None)


def rivals(text: str, labels: Labels, count: int, rng: random.Random) -> tuple[Labels, ...]:
    """At most `count` label sequences that a sentence may be mistaken for; none where it holds nothing of ours."""
    words = words_of(text)
    if labels in commands():
        return tuple(rng.sample([c for c in commands() if c != labels], count))
    said = split_labels(words, labels)
    at = [i for i, word in enumerate(words) if any(word in c for c in CLASSES)]
    if said is None or not at:
        return ()
    found: dict[Labels, None] = {}
    for _ in range(4 * count):
        pieces = list(said)
        for _ in range(1 + (rng.random() < 0.25)):
            _edit(pieces, words, rng.choice(at), rng)
        rival = tuple(label for piece in pieces for label in piece)
        if rival and rival != labels:
            found[rival] = None
        if len(found) == count:
            break
    return tuple(found)


def _edit(pieces: list[Labels], words: Sequence[str], i: int, rng: random.Random) -> None:
    """Change the word at `i`, mostly for another of its class."""
    kind = rng.random()
    if kind < 0.7 or words[i] not in NUMBERS:
        others, weights = near(words[i])
        pieces[i] = phone_labels(rng.choices(others, weights)[0]) or ()
    elif kind < 0.8:
        pieces[i] = ()
    elif kind < 0.93:
        extra = phone_labels(rng.choice(NUMBERS)) or ()
        pieces[i] = pieces[i] + extra if rng.random() < 0.5 else extra + pieces[i]
    else:
        for k in range(i, len(pieces)):
            pieces[k] = ()
