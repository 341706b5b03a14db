"""Typed text into the words of the grammar: figures, marks and short units written out, nothing guessed."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from callout.language import grammar
from callout.language.numerals import digit_words, grouped_words

LONGEST = 10_000
#: Digits in a row. No measure, count or number of a build has more; thousands of them would be no number to Python.
MOST_DIGITS = 30

_MARKS = str.maketrans({
    "\ufeff": " ",
    "’": "'", "‘": "'", "′": "'", "ʼ": "'", "´": "'", "`": "'",
    "”": '"', "“": '"', "″": '"', "„": '"', "–": "-", "—": "-", "−": "-", "‐": "-", "‑": "-", "×": "x", "⁄": "/",
})  # fmt: skip
_UNITS = {
    "'": "feet", "ft": "feet", '"': "inches", "in": "inches", "ins": "inches", "m": "metres", "mtr": "metres",
    "cm": "centimetres", "mm": "millimetres",
    "d": "penny", "deg": "degrees", "degs": "degrees", "°": "degrees", "@": "angle",
}  # fmt: skip
_TOKEN = re.compile(
    r"""(?P<fraction>\d+\s?/\s?\d+)|(?P<number>\d+(?:[.]\d+)?(?:[ -]?\d+\s?/\s?\d+)?|[.]\d+)"""
    r"""|(?P<minus>(?<!\S)-(?=\d))|(?P<word>[a-z]+(?:'[a-z]+)?)|(?P<mark>['"°@])|(?P<other>[^\s,;:.!?()-])""",
    re.VERBOSE,
)
#: "@" before a length is "at"; before any other number it is the angle.
_SPACED = re.compile(r"@(?=\s*[\d.]+\s*(?:['\"]|ft|feet|foot|in\b|inch|m\b|cm|mm))")
#: "3,35": a decimal comma to some, thousands to others, nothing to the rest. Never guessed.
_COMMA = re.compile(r"[\d.]*\d,\d[\d.,]*")
#: "Goin' up".
_DROPPED_G = re.compile(r"\b([a-z]{2,}in)'(?![a-z])")
#: "Got 'em all".
_SHORTENED = re.compile(r"(?<!\S)'(?=(?:em|til)\b)")
_ON_CENTER = re.compile(r"\bo\.c\.|\bo/c\b")
_VULGAR = re.compile("[¼½¾⅛⅜⅝⅞]")
_FRACTION = re.compile(r"^(\d+)\s?/\s?(\d+)$")
_MIXED = re.compile(r"^(\d+)[ -](\d+)\s?/\s?(\d+)$")
#: "One, nine feet": what stands on either side is no one number. "Twenty-one" is.
_PARTS = re.compile(r"[,;:.!?()]|\s-+\s")
_NAMES = {2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth"}


@dataclass(frozen=True)
class Typed:
    """`atoms`: places between words inside one typed number. `short`: some unit was typed as a mark or a short form,
    so the text may be shorthand. `parted`: the two words on either side of each comma, full stop or dash. `fault`: why
    it cannot be words at all."""

    words: tuple[str, ...]
    atoms: frozenset[int] = frozenset()
    short: bool = False
    parted: frozenset[tuple[str, str]] = frozenset()
    fault: str | None = None


def typed_words(text: str) -> Typed:
    """The words of a line of typed text."""
    if len(text) > LONGEST:
        return Typed((), fault=f"{len(text):,} characters are no callout; one utterance a line, at most {LONGEST:,}")
    digits = re.search(rf"\d{{{MOST_DIGITS + 1},}}", text)
    if digits is not None:
        return Typed((), fault=f"a number of {len(digits.group()):,} digits is no measure; at most {MOST_DIGITS}")
    plain = unicodedata.normalize("NFKC", _VULGAR.sub(r" \g<0>", text.translate(_MARKS))).translate(_MARKS).lower()
    plain = _SHORTENED.sub("", _DROPPED_G.sub(r"\1g", plain))
    plain = _ON_CENTER.sub("oc", _SPACED.sub(" at ", plain.replace("''", '"')))
    reading = _Reading()
    end = 0
    for found in re.finditer(_TOKEN, plain):
        reading.part(plain[end : found.start()])
        end = found.end()
        fault = reading.take(found)
        if fault is not None:
            return Typed(tuple(reading.words), fault=fault)
    words = tuple(reading.words)
    comma = _COMMA.search(plain)
    if comma is not None:
        return Typed(words, fault=f'"{comma.group()}": a comma in a number can be read two ways; write 3.35 or 3350')
    if reading.strange and not words:
        return Typed((), fault="these are no English words; say or type, for example, insertion eleven feet sixty")
    if reading.strange:
        return Typed(words, fault=f"cannot read {' '.join(sorted(set(reading.strange))[:5])!r}")
    parted = frozenset((words[at - 1], words[at]) for at in reading.marks if 0 < at < len(words))
    return Typed(words, frozenset(reading.atoms), reading.short, parted)


class _Reading:
    """The words of a line so far. `after` is what the last piece was: a figure, a unit in short, or a word."""

    def __init__(self) -> None:
        self.words: list[str] = []
        self.atoms: set[int] = set()
        self.marks: set[int] = set()
        self.strange: list[str] = []
        self.short = False
        self.after = "word"

    def part(self, between: str) -> None:
        """Keep the place of a mark between two pieces of text."""
        if _PARTS.search(between):
            self.marks.add(len(self.words))

    def take(self, found: re.Match[str]) -> str | None:
        """Take one piece of text in; returns what is wrong with it where it cannot be taken at all."""
        piece = found.group()
        if found["number"] or found["fraction"]:
            said = _number(piece)
            if said is None:
                return f'"{piece}": of fractions the tape has halves to sixteenths'
            if piece.startswith(".") and self.words[-1:] in (["insertion"], ["point"]):
                said = ["zero", *said]  # "insertion point five" is five: here the point is part of the name
            self.atoms.update(range(len(self.words) + 1, len(self.words) + len(said)))
            self.words += said
            self.after = "figure"
        elif found["minus"]:
            self.strange += [] if self.after == "unit" else [piece]
        elif found["other"] or (found["mark"] and piece != "@" and self.after != "figure"):
            self.strange.append(piece)
        else:
            self._word(piece)
        return None

    def _word(self, piece: str) -> None:
        unit = _UNITS.get(piece) if self.after == "figure" or piece == "@" else None
        if unit is not None:
            self.words.append(unit)
            self.short = True
        else:
            spelled = written_out(piece, grammar.load().spellings)
            whole = spelled if " " in spelled else piece
            self.words += whole.replace("'", "").split()
        self.after = "word" if unit is None else "unit"


def written_out(word: str, spellings: Mapping[str, str]) -> str:
    """A word as it is read: "we're" is "we are", "isn't" is "is not"."""
    if word in spellings or "'" not in word:
        return spellings.get(word, word)
    for end in ("n't", word[word.index("'") :]):
        if word.endswith(end) and end in spellings:
            return f"{word.removesuffix(end)} {spellings[end]}"
    return word


def _number(piece: str) -> list[str] | None:
    mixed = _MIXED.match(piece)
    if mixed:
        fraction = _fraction(int(mixed[2]), int(mixed[3]))
        return None if fraction is None else [*grouped_words(int(mixed[1])), "and", *fraction]
    simple = _FRACTION.match(piece)
    if simple:
        return _fraction(int(simple[1]), int(simple[2]))
    whole, _, decimals = piece.partition(".")
    if len(whole) > 6 or len(decimals) > 4:
        return [*digit_words(int(whole or 0)), *(["point", *(_each(decimals))] if decimals else [])]
    said = [*grouped_words(int(whole))] if whole else []
    return [*said, "point", *_each(decimals)] if decimals.strip("0") else said


def _each(digits: str) -> list[str]:
    return [word for d in digits for word in digit_words(int(d))]


def _fraction(top: int, bottom: int) -> list[str] | None:
    if not bottom or not 0 < top < bottom:
        return None
    value = Fraction(top, bottom)
    name = _NAMES.get(value.denominator)
    if name is None:
        return None
    return [*grouped_words(value.numerator), name + ("s" if value.numerator > 1 else "")]
