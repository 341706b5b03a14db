"""Which readings the third opinion is asked about: those found, their parts crossed, and the grammar's neighbours.

The right reading is often not among the few that the search gives, and its parts are: the height in one, the angle in
another. And what the ears confuse is known: "fifteen" and "fifty", a number word more or less, a part lost.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from callout.hearing.agreement import Meanings
from callout.hearing.alignment import Pronounce, aligned, spoken
from callout.hearing.search import SearchReading, Squeezed
from callout.language.numerals import SMALL, TENS

MOST = 16  # readings asked about
CROSSED_FROM = 12  # readings whose parts are crossed
CROSSED = 120  # word sequences aligned at most
REACH = 25.0  # nats behind the best by the encoder ear's own measure; further ones are not asked about

Words = tuple[str, ...]

_UNITS, _TEENS = SMALL[1:10], SMALL[13:]
DIGITS = ("zero", "oh", *_UNITS, "niner")
_NUMBERS = frozenset((*DIGITS, *SMALL, *TENS[2:]))
_TWINS = dict(zip(_TEENS, TENS[3:], strict=True)) | dict(zip(TENS[3:], _TEENS, strict=True))
#: Number words that people's speech in noise was mistaken for (development recordings).
_NEAR = {
    "five": ("nine", "four"), "nine": ("five", "one"), "one": ("nine", "four"), "four": ("five", "one"),
    "seven": ("eleven", "six"), "eleven": ("seven",), "six": ("eight", "sixty"), "eight": ("six",),
    "two": ("three", "ten"), "three": ("two",), "ten": ("two", "twelve"), "twelve": ("ten",),
}  # fmt: skip


def candidates(
    squeezed: Squeezed, found: Sequence[SearchReading], second: Iterable[Words], meanings: Meanings,
    pronounce: Pronounce,
) -> tuple[SearchReading, ...]:
    """The readings to ask about, best first by the encoder ear: `found` are its own, `second` the second ear's."""
    own = {reading.words: reading for reading in found if meanings(reading.words)}
    others = [words for words in second if words not in own and meanings(words)]
    seeds = [*own, *others][:CROSSED_FROM]
    made = dict.fromkeys([*others, *_crossed(seeds, meanings)])
    for words in seeds[:3]:
        made.update(dict.fromkeys(_neighbours(words, meanings)))
    new = [words for words in made if words not in own][:CROSSED]
    heard = spoken(found, pronounce)
    scored = [reading for reading in aligned(squeezed, new, pronounce, heard) if reading is not None]
    every = sorted([*own.values(), *scored], key=lambda reading: -reading.score)
    kept: list[SearchReading] = []
    for reading in every:
        if len(kept) >= MOST or reading.score < every[0].score - REACH:
            break
        if reading.words in own or meanings(reading.words):
            kept.append(reading)
    return tuple(kept)


def _crossed(seeds: Sequence[Words], meanings: Meanings) -> Iterable[Words]:
    """Each seed with one part as another seed has it, and the first two seeds with two."""
    spans = [{span.name: (span.start, span.end) for span in meanings(words)[0][1]} for words in seeds]
    parts: dict[str, list[Words]] = {}
    for words, here in zip(seeds, spans, strict=True):
        for name, (start, end) in here.items():
            said = parts.setdefault(name, [])
            if words[start:end] not in said and len(said) < 5:
                said.append(words[start:end])
    for number, (words, here) in enumerate(zip(seeds, spans, strict=True)):
        for name, (start, end) in here.items():
            for other in parts[name]:
                if other == words[start:end]:
                    continue
                one = (*words[:start], *other, *words[end:])
                yield one
                if number > 1:
                    continue
                for later, (begin, stop) in here.items():
                    if begin < end:
                        continue
                    moved = len(other) - (end - start)
                    for second in parts[later]:
                        yield (*one[: begin + moved], *second, *one[stop + moved :])


def _neighbours(words: Words, meanings: Meanings) -> Iterable[Words]:
    if len(words) == 1 and words[0] in DIGITS:
        yield from ((digit,) for digit in DIGITS)
        return
    for at, word in enumerate(words):
        if word not in _NUMBERS:
            continue
        before, after = words[:at], words[at + 1 :]
        if word in _TWINS:
            yield (*before, _TWINS[word], *after)
        for near in _NEAR.get(word, ()):
            yield (*before, near, *after)
        yield (*before, *after)
        if word in _UNITS:
            yield (*before, word, word, *after)
    for span in meanings(words)[0][1]:
        yield (*words[: span.start], *words[span.end :])
