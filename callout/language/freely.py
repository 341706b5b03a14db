"""A callout in people's own words: "need two rakers on the north wall, ten feet up, forty five degrees".

Tried for typed words where the grammar has no reading. Words that say nothing are taken out, and the rest must be
parts of a callout, in any order (`grammars/freely.grammar`). What keeps this safe: every number must have its place in
a part; a word that turns a meaning round ("not", "or") or may be a slip leaves no reading; what was left out is told;
and like every callout it is read back whole, and nothing comes of it before a yes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from rapidfuzz import fuzz, process

from callout.files import data_folder, read_toml
from callout.language import grammar
from callout.language.context import Context
from callout.language.numerals import DIGITS, NUMBER_WORDS, TENS
from callout.language.parse import Reading, Span, correction, parse_by
from callout.values import Callout

#: Unknown words beside the parts of a callout, where a shore is spoken of. More, and it is talk.
MOST_UNKNOWN = 5
MOST_BESIDE_A_CORRECTION = 2
#: Stands for a "no" before what corrects a readback.
_CORRECTS = "correction"
#: Stands between two figures that something was taken out between.
_PAUSE = "pause"
_LONGEST_PLACE = 2  # words


@dataclass(frozen=True)
class Freely:
    """`readings` of what was said; `left_out` are the words that no part was made of."""

    readings: tuple[Reading, ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class _Table:
    light: frozenset[str]
    sounds: frozenset[str]
    corrects: frozenset[str]
    never: frozenset[str]
    shores: frozenset[str]
    before_a_place: frozenset[str]
    spots: frozenset[str]

    @cached_property
    def longest(self) -> int:
        """Words in the longest light phrase."""
        return max(len(phrase.split()) for phrase in self.light)


@dataclass(frozen=True)
class _Stripped:
    """The words left, and of each where it stood; the words of a place named freely, and where; the unknown ones."""

    words: tuple[str, ...]
    at: tuple[int, ...]
    place: tuple[int, int] | None
    unknown: tuple[str, ...]


def freely(words: tuple[str, ...], context: Context) -> Freely:
    """The readings of `words` (folded) as a callout or a correction in people's own words; none where it is none."""
    if words.count("not") == 1:
        return _instead_of(words, context)
    if context.waiting is not None and words[:1] in (("no",), ("nope",)):
        said_no = next((i for i, word in enumerate(words) if word not in ("no", "nope")), len(words))
        return freely((*[_CORRECTS] * said_no, *words[said_no:]), context)
    table, said = _table(), set(words)
    light = _light(words, table)
    if context.state in ("halted", "digits") or any(w in table.never for i, w in enumerate(words) if i not in light):
        return Freely((), ())
    stripped = _stripped(words, table, light)
    if not _may_be_a_callout(said, stripped, table):
        return Freely((), ())
    readings = []
    for reading in parse_by(stripped.words, grammar.load().free_network):
        if not isinstance(reading.meaning, Callout) or reading.others:
            continue
        callout, spans = _put_back(reading.meaning, reading.parts, stripped, words)
        if _says_enough(callout, said, table, context) and not _parts_a_number(spans, words):
            meaning = correction(callout) if said & table.corrects else callout
            readings.append(replace(reading, meaning=meaning, parts=spans))
    return Freely(tuple(readings), stripped.unknown)


def _instead_of(words: tuple[str, ...], context: Context) -> Freely:
    """"The west wall, not the east wall": a correction, where what follows "not" is another value of a part said."""
    at = words.index("not")
    rest, table = words[at + 1 :], _table()
    wrong = parse_by(_stripped(rest, table, _light(rest, table)).words, grammar.load().free_network)
    right = freely(words[:at], context)
    denied = [r.meaning.said for r in wrong if isinstance(r.meaning, Callout) and not r.others]
    readings = []
    for reading in right.readings:
        meaning = reading.meaning
        patch = meaning if isinstance(meaning, Callout) else meaning.patch
        said = {} if patch is None else patch.said
        if patch is not None and any(d and all(said.get(n, v) != v for n, v in d.items()) for d in denied):
            readings.append(replace(reading, meaning=correction(patch)))
    return Freely(tuple(readings), right.left_out)


def _may_be_a_callout(said: set[str], stripped: _Stripped, table: _Table) -> bool:
    """Unknown words are let pass only where it is sure that a shore is spoken of."""
    if any(_is_a_slip(word) for word in stripped.unknown):
        return False
    most = MOST_UNKNOWN if said & table.shores else MOST_BESIDE_A_CORRECTION if said & table.corrects else 0
    return bool(stripped.words) and len(stripped.unknown) <= most


def _parts_a_number(spans: tuple[Span, ...], words: tuple[str, ...]) -> bool:
    """Whether a part ends and the next begins within what may be one number: "thirty, five rakers" may be 35."""
    places = {span.end for span in spans} & {span.start for span in spans}
    around = [("", *words)[i - 1 : i + 2] for i in places if 0 < i < len(words)]
    return any(b in DIGITS and (a in TENS or (a in DIGITS and before not in TENS[2:])) for before, a, b in around)


def _answers(said: set[str], table: _Table, context: Context) -> bool:
    return context.waiting is not None or bool(said & table.corrects)


def _says_enough(callout: Callout, said: set[str], table: _Table, context: Context) -> bool:
    """A part alone is talk, unless a readback waits or it is said to correct something."""
    if _answers(said, table, context):
        return bool(callout.said)
    if callout.insertion is None:
        return bool(said & table.shores) or (callout.angle_deg is not None and bool(said & _DEGREES))
    named = bool(said & _DEGREES) or callout.place is not None
    return bool(said & table.shores) or (callout.angle_deg is not None and named)


_DEGREES = frozenset({"degree", "degrees", "angle"})


def _stripped(words: tuple[str, ...], table: _Table, light: set[int]) -> _Stripped:
    known = grammar.load().free_words
    place = _free_place(words, known, table)
    left: list[str] = []
    at: list[int] = []
    unknown: list[str] = []
    parted = False
    for i, word in enumerate(words):
        if word in table.sounds:
            continue
        if (place is not None and place[0] <= i < place[1]) or i in light:
            parted = True
        elif word in table.corrects or word not in known:
            unknown += [] if word in table.corrects else [word]
            parted = True
        else:
            if parted and left and left[-1] in _FIGURES and word in _FIGURES:
                left.append(_PAUSE)
                at.append(i)
            left.append(word)
            at.append(i)
            parted = False
    return _Stripped(tuple(left), tuple(at), place, tuple(dict.fromkeys(unknown)))


_LEANS = frozenset({"lean", "leaning", "leans"})


def _light(words: tuple[str, ...], table: _Table) -> set[int]:
    """The places of words that say nothing here. "Out" and "by" belong to a lean, "for" to a crew."""
    found: set[int] = set()
    crews = grammar.load().crew_words
    for i, word in enumerate(words):
        for n in range(1, table.longest + 1):
            if " ".join(words[i : i + n]) in table.light:
                found.update(range(i, i + n))
        leans = bool(_LEANS & set(words[max(0, i - 2) : i])) or words[i + 1 : i + 3] == ("of", "plumb")
        counts = word == "by" and i > 0 and {words[i - 1], *words[i + 1 : i + 2]} <= NUMBER_WORDS
        calls = word == "for" and bool(crews & set(words[i + 1 : i + 2]))
        if (word in ("out", "by") and (leans or counts)) or calls:
            found.discard(i)
    return found


def _free_place(words: tuple[str, ...], known: frozenset[str], table: _Table) -> tuple[int, int] | None:
    """Where a place is named in words of its own: "by the entrance", "left of the stairs" -> from "by", "left" to the
    end of the name."""
    for i, word in enumerate(words[:-2]):
        spot = words[i + 1] == "of" and word in table.spots
        if not spot and word not in table.before_a_place:
            continue
        start = i + 2 if spot else i + 1
        start += words[start : start + 1] in (("the",), ("that",), ("our",))
        end = start
        while end < len(words) and end - start < _LONGEST_PLACE and _may_name(words[end], known, table):
            end += 1
        if end > start > i + 1:
            return i, end
    return None


def _may_name(word: str, known: frozenset[str], table: _Table) -> bool:
    return word not in known and not any(word in words for words in (table.light, table.sounds, table.corrects))


def _put_back(
    callout: Callout, parts: Sequence[Span], stripped: _Stripped, words: Sequence[str]
) -> tuple[Callout, tuple[Span, ...]]:
    """The callout and its parts where they stood in what was said, with the place that was named freely."""
    spans = [replace(s, start=stripped.at[s.start], end=stripped.at[s.end - 1] + 1) for s in parts]
    if stripped.place is not None:
        start, end = stripped.place
        named = " ".join(words[start:end])
        whole = named if callout.place is None else f"{callout.place} {named}"
        callout = callout.model_copy(update={"place": whole})
        spans = [s for s in spans if s.name != "place"] + [Span("place", whole, start, end)]
    return callout, tuple(spans)


#: Words between which a gap must be kept: joined, they could make another number.
_FIGURES = NUMBER_WORDS | {
    "feet", "foot", "inch", "inches", "metre", "metres", "half", "quarter", "quarters", "and", "a",
}


@lru_cache(maxsize=4096)
def _is_a_slip(word: str) -> bool:
    """Whether an unknown word may be a slip in a word of a callout ("elevn"): left out, its part would be lost."""
    return process.extractOne(word, _MAY_SLIP, scorer=fuzz.ratio, score_cutoff=_CLOSE) is not None


_CLOSE = 75.0  # rapidfuzz ratio
_MAY_SLIP = sorted(NUMBER_WORDS | {
    "feet", "foot", "inches", "inch", "metres", "metre", "centimetres", "millimetres", "degrees", "degree", "angle",
    "insertion", "rakers", "flying", "split", "solid", "spacing", "centers", "cribbing", "window", "laced", "vertical",
    "horizontal",
})  # fmt: skip


@lru_cache(maxsize=1)
def _table() -> _Table:
    rows = read_toml(data_folder("grammars") / "freely.toml")
    return _Table(**{name: frozenset(rows[name]) for name in _Table.__dataclass_fields__})
