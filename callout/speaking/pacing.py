"""How fast words leave the mouth: at most 100 a minute for figures, 130 for the rest, a pause around every number.

Source: ICAO Doc 9432 (speak at 100 words a minute or slower when it is written down, pause around numbers); the
130 of ordinary words and the lengths of the pauses are common practice, no source. All of it can be changed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from callout.errors import BadInput, CalloutError


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


NUMBER_WORDS = _words(
    "zero oh one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred thousand "
    "niner half quarter quarters eighth eighths sixteenth sixteenths"
)
#: Words that belong to the number before them, and are spoken in the same breath.
UNIT_WORDS = _words(
    "foot feet inch inches degree degrees meter meters metre metres millimeter millimeters millimetre millimetres "
    "centimeter centimeters centimetre centimetres"
)
#: Words that may stand inside a number ("six and a half inches", "three point five meters").
INNER_WORDS = frozenset(("and", "a", "point"))

_TOKEN = re.compile(r"[A-Za-z]+(?:['’-][A-Za-z]+)*|[,;:.!?]")
_ALLOWED = re.compile(r"(?:[A-Za-z]+(?:['’-][A-Za-z]+)*[,;:.!?]?(?:\s+|$))+")
_COMMA = frozenset(",;:")


#: Words a minute that the voice can speak, from and to.
RATES = (40.0, 300.0)


class NotSpeakable(CalloutError):
    """A text with something other than words in it was on its way to the voice."""


@dataclass(frozen=True)
class Pace:
    """Words a minute, and pauses in seconds. `stop` follows a full stop, `comma` a comma, `around` a number, and
    `end` the last word, where silence follows anyway.
    """

    figures: float = 100
    words: float = 130
    around: float = 0.3
    comma: float = 0.3
    stop: float = 0.5
    end: float = 0.1

    def __post_init__(self) -> None:
        slowest, fastest = RATES
        if not (slowest <= self.figures <= fastest and slowest <= self.words <= fastest):
            raise BadInput(f"the voice can speak {slowest:g} to {fastest:g} words a minute; choose a rate in between")

    def scaled(self, factor: float) -> Pace:
        """Everything `factor` times as fast, within what the voice can speak."""
        slowest, fastest = RATES
        figures, words = (min(fastest, max(slowest, rate * factor)) for rate in (self.figures, self.words))
        pauses = {name: getattr(self, name) / factor for name in ("around", "comma", "stop")}
        return replace(self, figures=figures, words=words, **pauses)


@dataclass(frozen=True)
class Stretch:
    """Words spoken in one breath at one rate, and the silence after them in seconds."""

    words: tuple[str, ...]
    figures: bool
    pause: float
    closes: bool = False  # the last of its sentence

    @property
    def text(self) -> str:
        return " ".join(self.words)

    def pace(self, spoken: float) -> float:
        """Words a minute when the words take `spoken` seconds; the pause that follows counts as time."""
        return len(self.words) / (spoken + self.pause) * 60


def check_words(text: str) -> str:
    """Return `text` with single spaces. Raises `NotSpeakable` for digits and symbols: the engine reads them wrongly
    (11' 6" comes out as "eleven six") and nobody would notice. This is the only place where that is decided.
    """
    clean = " ".join(text.split())
    if not _ALLOWED.fullmatch(clean):
        odd = "".join(sorted(set(re.findall(r"[^A-Za-z\s,;:.!?'’-]", clean)))) or "stray punctuation"
        raise NotSpeakable(f"the voice takes words only, not {odd[:20]!r} in {clean[:60]!r}; spell it out in words")
    return clean


def stretches(text: str, pace: Pace | None = None) -> tuple[Stretch, ...]:
    """Cut a text into stretches: each number with its unit stands alone, with a pause on either side."""
    pace = pace or Pace()
    tokens = [token.lower() if token.isalpha() else token for token in _TOKEN.findall(check_words(text))]
    found: list[Stretch] = []
    run: list[str] = []
    kind = False
    for index, token in enumerate(tokens):
        if not token[0].isalpha():
            if run:
                comma = token in _COMMA
                found.append(Stretch(tuple(run), kind, pace.comma if comma else pace.stop, closes=not comma))
                run = []
            elif found and token not in _COMMA:
                found[-1] = replace(found[-1], closes=True)
            continue
        figure = _is_figure(tokens, index, inside=bool(run) and kind)
        if run and figure != kind:
            found.append(Stretch(tuple(run), kind, pace.around))
            run = []
        kind = figure
        run.append(token)
    if run:
        found.append(Stretch(tuple(run), kind, pace.end, closes=True))
    elif found:
        found[-1] = replace(found[-1], pause=pace.end)
    return tuple(found)


def figures_until(found: tuple[Stretch, ...]) -> int | None:
    """Which stretch ends the sentence that holds the last figure: the figures are known by then, and what they count.
    None where there is no figure. "Item four. two struts, eight feet. rack seven." is known at "feet": where it lies
    is no part of what is counted."""
    last = max((at for at, stretch in enumerate(found) if stretch.figures), default=None)
    if last is None:
        return None
    ends = [at for at, stretch in enumerate(found) if stretch.closes]
    if found[0].words[0] == "item" and len(ends) > 1:
        return ends[1]
    return next(end for end in ends if end >= last)


def _is_figure(tokens: list[str], index: int, inside: bool) -> bool:
    """Whether the word at `index` belongs to a number: itself one, a unit after one, or "and a" within one."""
    word = tokens[index]
    if any(part in NUMBER_WORDS for part in word.split("-")):
        return True
    if not inside:
        return False
    if word in UNIT_WORDS:
        return True
    if word not in INNER_WORDS:
        return False
    following = next((token for token in tokens[index + 1 :] if token not in INNER_WORDS), "")
    return following in NUMBER_WORDS
