"""A callout in people's own words: "need two rakers on the north wall, ten feet up, forty five degrees".

Tried for typed words where the grammar has no reading. Words that say nothing are taken out, and the rest must be
parts of a callout, in any order (`grammars/freely.grammar`). What keeps this safe: every number must have its place in
a part; a word that turns a meaning round ("not", "or") or may be a slip leaves no reading; what was left out is told;
and like every callout it is read back whole, and nothing comes of it before a yes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from callout.language import grammar
from callout.language.context import Context
from callout.language.light_words import FreeWords, Stripped, free_words, is_a_slip, light_places, stripped_of
from callout.language.numerals import DIGITS, NUMBER_WORDS, TENS
from callout.language.parse import Reading, Span, correction, parse_by
from callout.values import Callout

#: Unknown words beside the parts of a callout, where a shore is spoken of. More, and it is talk.
MOST_UNKNOWN = 5
MOST_BESIDE_A_CORRECTION = 2
#: The same beside a height and an angle that somebody says of himself to have: "we've got loads of room".
MOST_BESIDE_BOTH = 3
#: Stands for a "no" before what corrects a readback.
_CORRECTS = "correction"


@dataclass(frozen=True)
class Freely:
    """`readings` of what was said; `left_out` are the words that no part was made of."""

    readings: tuple[Reading, ...]
    left_out: tuple[str, ...]


def freely(words: tuple[str, ...], context: Context) -> Freely:
    """The readings of `words` (folded) as a callout or a correction in people's own words; none where it is none."""
    words = ("not", *words[2:]) if context.waiting is not None and words[:2] in _YOU_SAID else words
    if words.count("not") == 1:
        return _instead_of(words, context)
    words = _mended(words)
    if context.waiting is not None and words[:1] in (("no",), ("nope",)):
        said_no = next((i for i, word in enumerate(words) if word not in ("no", "nope")), len(words))
        return freely((*[_CORRECTS] * said_no, *words[said_no:]), context)
    table, said = free_words(), set(words)
    light = light_places(words, table)
    if context.state in ("halted", "digits") or any(w in table.never for i, w in enumerate(words) if i not in light):
        return Freely((), ())
    stripped = stripped_of(words, table, light)
    if not stripped.words or any(is_a_slip(word) for word in stripped.unknown):
        return Freely((), ())
    readings = []
    for reading in parse_by(stripped.words, grammar.load().free_network):
        whole = _as_one(reading)
        if whole is None:
            continue
        callout, spans = _put_back(whole, reading.parts, stripped, words)
        found = _Found(callout, spans, words, table, context)
        if found.says_enough and len(stripped.unknown) <= found.most_unknown and not _parts_a_number(spans, words):
            meaning = correction(callout) if said & table.corrects else callout
            readings.append(replace(reading, meaning=meaning, parts=spans, others=()))
    return Freely(tuple(_best_explained(readings, words)), stripped.unknown)


def _instead_of(words: tuple[str, ...], context: Context) -> Freely:
    """"The west wall, not the east wall", "not three metres, two point nine": a correction, where what is denied is
    another value of a part that is said."""
    at = words.index("not")
    if at and (right := freely(words[:at], context)).readings:
        readings = [r for r in right.readings if _is_another(words[at + 1 :], words[:at], r)]
        return Freely(tuple(_as_corrections(readings)), right.left_out)
    if context.waiting is None or not set(words[:at]) <= free_words().light | {"no", "nope", _CORRECTS}:
        return Freely((), ())
    found: list[Reading] = []
    for split in range(at + 2, len(words)):
        denied, rest = words[at + 1 : split], words[split:]
        rest = rest[next((n for n in (2, 1) if rest[:n] in _BUT), 0) :]
        right = freely(rest, context)
        readings = [r for r in right.readings if _is_another(denied, rest, r)]
        if not right.readings:  # "two point nine" has the unit of the "three metres" before it
            sentences = [said for said in _with_one_part(denied, rest) if _patch(said) is not None]
            readings = [r for said in sentences for r in freely(said, context).readings if _is_another(denied, said, r)]
        found += _as_corrections(readings)
    return Freely(tuple({reading.meaning: reading for reading in found}.values()), ())


#: "You said fifteen, it's fourteen feet": what was read back is not so.
_YOU_SAID = (("you", "said"), ("you", "heard"), ("you", "got"), ("you", "put"))
_BUT = (("but",), ("it", "is"), ("its",), ("make", "it"))


def _as_corrections(readings: Sequence[Reading]) -> list[Reading]:
    patches = ((reading, _patch_of(reading)) for reading in readings)
    return [replace(reading, meaning=correction(patch)) for reading, patch in patches if patch is not None]


def _patch_of(reading: Reading) -> Callout | None:
    """The parts that a callout or a correction says; None of anything else."""
    return reading.meaning if isinstance(reading.meaning, Callout) else reading.meaning.patch


def _is_another(denied: tuple[str, ...], said: tuple[str, ...], reading: Reading) -> bool:
    """Whether what is denied is another value of a part said: by itself, or in place of a word or two of what is said
    ("spacing is six foot, not eight"). A flying raker is another than one with a sole."""
    patch = _patch_of(reading)
    if patch is None:
        return False
    whole = _patch(denied)
    if whole is not None:
        said_instead = {**patch.said, **({"sole": patch.kind} if "kind" in patch.said else {})}
        return all(said_instead.get(name, value) != value for name, value in whole.said.items())
    others = [other for sentence in _with_one_part(said, denied) if (other := _patch(sentence)) is not None]
    return any(
        other.said.keys() == patch.said.keys() and sum(patch.said[n] != v for n, v in other.said.items()) == 1
        for other in others
    )


def _with_one_part(said: tuple[str, ...], other: tuple[str, ...]) -> list[tuple[str, ...]]:
    """What is said with `other` in place of each one, two or three words of it."""
    return [(*said[:i], *other, *said[i + n :]) for n in (1, 2, 3) for i in range(len(said) - n + 1)]


def _patch(words: tuple[str, ...]) -> Callout | None:
    """The one callout that words are by themselves."""
    table = free_words()
    stripped = stripped_of(words, table, light_places(words, table))
    found = parse_by(stripped.words, grammar.load().free_network) if not stripped.unknown else []
    said = [r.meaning for r in found if isinstance(r.meaning, Callout) and not r.others and r.meaning.said]
    return said[0] if len(said) == 1 else None


def _parts_a_number(spans: tuple[Span, ...], words: tuple[str, ...]) -> bool:
    """Whether a part ends and the next begins within what may be one number: "thirty, five rakers" may be 35."""
    places = {span.end for span in spans} & {span.start for span in spans}
    around = [("", *words)[i - 1 : i + 2] for i in places if 0 < i < len(words)]
    return any(b in DIGITS and (a in TENS or (a in DIGITS and before not in TENS[2:])) for before, a, b in around)


_DEGREES = frozenset({"degree", "degrees", "angle"})
_ANGLES = frozenset({"thirties", "fives", "sixties"})
_UNITS = frozenset({"feet", "foot", "inch", "inches", "metre", "metres", "centimetre", "centimetres", "millimetres"})
#: Words that name a length, where a reading has a choice: "eight foot spacing, ten feet to the insertion".
_NAMES_A_LENGTH = ("insertion", "height")


@dataclass(frozen=True)
class _Found:
    """A callout found in `words`, its parts where they stood in them."""

    callout: Callout
    spans: tuple[Span, ...]
    words: tuple[str, ...]
    table: FreeWords
    context: Context

    @property
    def says_enough(self) -> bool:
        """A part alone is talk, unless a readback waits or it is said to correct something."""
        said, callout = set(self.words), self.callout
        if not self._has_its_units:
            return False
        if self.context.waiting is not None or said & self.table.corrects:
            return bool(callout.said)
        if callout.insertion is not None and callout.angle_deg is not None and self._is_announced:
            return True
        if callout.insertion is None:
            return bool(said & self.table.shores) or (callout.angle_deg is not None and bool(said & _DEGREES))
        named = self._names_the_angle or callout.place is not None
        return bool(said & self.table.shores) or (callout.angle_deg is not None and named)

    @property
    def most_unknown(self) -> int:
        """How many unknown words are let pass: some where it is sure that a shore is spoken of."""
        said = set(self.words)
        if said & self.table.shores:
            return MOST_UNKNOWN
        both = self.callout.insertion is not None and self.callout.angle_deg is not None
        if both and self._names_the_angle and self._is_of_the_speaker:
            return MOST_BESIDE_BOTH
        return MOST_BESIDE_A_CORRECTION if said & self.table.corrects else 0

    @property
    def _is_announced(self) -> bool:
        """"Write this down: eleven feet sixty"."""
        said = f" {' '.join(self.words)} "
        return any(f" {phrase} " in said for phrase in self.table.announces)

    @property
    def _is_of_the_speaker(self) -> bool:
        pairs = {" ".join(pair) for pair in pairwise(self.words)}
        return bool(pairs & self.table.speaks)

    @property
    def _names_the_angle(self) -> bool:
        """"At forty five", "a sixty", "degrees": with none of them the number may be inches, or another thing."""
        if _DEGREES & set(self.words):
            return True
        start = next((span.start for span in self.spans if span.name == "angle_deg"), 0)
        return bool(_ANGLES & set(self.words)) or (start > 0 and self.words[start - 1] in self.table.before_an_angle)

    @property
    def _has_its_units(self) -> bool:
        """Feet and inches without a word ("eleven six") are a height only beside what tells that a shore is meant."""
        height = next((span for span in self.spans if span.name == "insertion"), None)
        if height is None or _UNITS & set(self.words[height.start : height.end]):
            return True
        raker = bool(set(self.words) & self.table.shores - {"insertion"})
        return self.callout.angle_deg is not None and (raker or self._names_the_angle)


def _as_one(reading: Reading) -> Callout | None:
    """The callout of a reading; of one said twice ("ten foot two, so ten foot two at sixty") all that was said, where
    nothing of it is said differently."""
    if not isinstance(reading.meaning, Callout):
        return None
    callout = reading.meaning
    for other in reading.others:
        if any(callout.said.get(name, value) != value for name, value in other.said.items()):
            return None
        callout = callout.model_copy(update=other.said)
    return callout


def _best_explained(readings: list[Reading], words: tuple[str, ...]) -> list[Reading]:
    """Of several readings those in which a word that names a length ("insertion") stands in a part, if any."""
    at = [i for i, word in enumerate(words) if word in _NAMES_A_LENGTH]
    named = [sum(span.start <= i < span.end for i in at for span in r.parts if span.name == "insertion")
             for r in readings]  # fmt: skip
    return [r for r, n in zip(readings, named, strict=True) if n == max(named)] if len(readings) > 1 else readings


def _mended(words: tuple[str, ...]) -> tuple[str, ...]:
    """"Eleven no twelve feet" without the number that was taken back: what follows has its unit, or it had none."""
    instead = free_words().instead
    for i in range(1, len(words) - 1):
        n = next((n for n in (3, 2, 1) if " ".join(words[i : i + n]) in instead), 0)
        if not n or words[i + n : i + n + 1] == () or words[i + n] not in NUMBER_WORDS:
            continue
        start, end = _measure_before(words, i), _measure_after(words, i + n)
        units = [_DEGREES_AND_UNITS & set(words[a:b]) for a, b in ((start, i), (i + n, end))]
        if start < i and (not units[0] or units[0] <= units[1]):
            return _mended((*words[:start], *words[i + n :]))
    return words


_DEGREES_AND_UNITS = _UNITS | _DEGREES
_IN_A_NUMBER = NUMBER_WORDS | {"and", "a", "half", "quarter", "quarters"}
_COARSE = frozenset({"feet", "foot", "metre", "metres"})


def _measure_before(words: tuple[str, ...], end: int) -> int:
    """Where the length or angle begins that ends there: with feet or metres before inches, and with one unit else."""
    start = _number_before(words, end - (words[end - 1] in _DEGREES_AND_UNITS))
    if words[start - 1 : start] and words[start - 1] in _COARSE and not _DEGREES & {words[end - 1]}:
        start = _number_before(words, start - 1)
    return start


def _number_before(words: tuple[str, ...], end: int) -> int:
    while end > 0 and words[end - 1] in _IN_A_NUMBER:
        end -= 1
    return end


def _measure_after(words: tuple[str, ...], start: int) -> int:
    end = start
    while end < len(words) and words[end] in _IN_A_NUMBER | _DEGREES_AND_UNITS:
        end += 1
    return end


def _put_back(
    callout: Callout, parts: Sequence[Span], stripped: Stripped, words: Sequence[str]
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
