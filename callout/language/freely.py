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
from callout.language.doubtful import Pairs, complaint_of
from callout.language.enough import Sifted, loses_a_number, parts_a_number
from callout.language.light_words import (
    FreeWords,
    Stripped,
    free_words,
    is_a_slip,
    light_places,
    says_one_of,
    stripped_of,
)
from callout.language.numerals import NUMBER_WORDS, digit_words, grouped_words
from callout.language.of_what import doubt_of, with_sizes
from callout.language.parse import Reading, Span, correction, fold, parse_by
from callout.language.pronunciation import are_twins
from callout.language.repairs import (
    COARSE,
    DEGREES,
    UNITS,
    bare_numbers,
    in_the_unit,
    measure_before,
    mended,
    plain_numbers,
    values_at,
    with_unit_of_spacing,
    without_asides,
    without_its_twin,
)
from callout.language.surroundings import with_pauses, without_openings
from callout.values import Callout, Length, Meaning
from callout.values.length import PER_FOOT, PER_INCH, PER_MM, PER_SIXTEENTH

#: Stands for a "no" before what corrects a readback.
_CORRECTS = "correction"


@dataclass(frozen=True)
class Freely:
    """`readings` of what was said; `left_out` are the words that no part was made of."""

    readings: tuple[Reading, ...]
    left_out: tuple[str, ...]


def freely(words: tuple[str, ...], context: Context, parted: Pairs = frozenset()) -> Freely:
    """The readings of `words` (folded) as a callout or a correction in people's own words; none where it is none."""
    words, aside = without_asides(_as_called(words))
    words, there = without_openings(with_pauses(words, parted))
    waits = context.waiting is not None
    sized = with_sizes(words, waits=waits)
    found = next((f for said in dict.fromkeys((sized, words))
                  if (f := _found(_with_denials(said, context), context)).readings), Freely((), ()))  # fmt: skip
    return replace(found, left_out=(*found.left_out, *there, *aside)) if found.readings else found


def _as_called(words: tuple[str, ...]) -> tuple[str, ...]:
    """"Two rakes, four metres high" are rakers; without a measure they may be any."""
    called = free_words().called
    return tuple(called.get(word, word) for word in words) if set(words) & (UNITS | DEGREES) else words


def asks_for_a_shore(words: tuple[str, ...]) -> bool:
    """Whether words that end in a question mark ask for a shore: "can I get a raker at eleven feet?"."""
    return says_one_of(free_words().polite, fold(words))


def _found(words: tuple[str, ...], context: Context) -> Freely:
    words = plain_numbers(words)
    if words.count("not") == 1:
        return _instead_of(words, context)
    words = mended(words)
    if context.waiting is not None:
        words = _with_its_no(words)
        if context.waiting.insertion is not None:
            words = _in_the_unit_of(context.waiting.insertion, words)
        spacing = context.waiting.spacing
        if spacing is not None and not spacing.eightieths % PER_FOOT:  # "spacing six", where eight feet were read back
            words = with_unit_of_spacing(words, "feet")
    return _parts_of(words, context)


def _with_its_no(words: tuple[str, ...]) -> tuple[str, ...]:
    """"No no", "ah no": said first, it corrects what was read back."""
    first = next((i for i, word in enumerate(words[:_LATEST_NO]) if word in _NO), 0)
    if set(words[:first]) & (NUMBER_WORDS | {"not"}) or set(words[first - 1 : first]) & _BEFORE_NO_NO:
        return words
    end = next((i for i in range(first, len(words)) if words[i] not in _NO), len(words))
    return (*words[:first], *[_CORRECTS] * (end - first), *words[end:])


def _parts_of(words: tuple[str, ...], context: Context) -> Freely:
    """The readings of words of which the parts of a callout are left when those that say nothing are taken out."""
    table = free_words()
    light = light_places(words, table)
    stripped = stripped_of(words, table, light)
    if context.state in ("halted", "digits") or _turns_or_asks(words, table, light, stripped):
        return Freely((), ())
    if not stripped.words or any(is_a_slip(word) for word in stripped.unknown):
        return Freely((), ())
    readings = []
    for reading in parse_by(stripped.words, grammar.load().free_network):
        whole = _as_one(reading)
        if whole is None:
            continue
        callout, spans = _put_back(whole, reading.parts, stripped, words)
        found = Sifted(callout, spans, words, stripped, table, context)
        lost = not reading.notes and loses_a_number(spans, words, stripped)
        if found.is_meant and not parts_a_number(spans, words) and not lost:
            meaning = correction(callout) if found.corrects else callout
            waits = context.waiting is not None
            doubt = complaint_of(words, spans, stripped.unknown, table, waits=waits) or doubt_of(
                words, spans, stripped.unknown, callout, waits=waits
            )
            notes = (*reading.notes, doubt) if doubt else reading.notes
            readings.append(replace(reading, meaning=meaning, parts=spans, others=(), notes=notes, words=words))
    return Freely(tuple(_best_explained(readings, words)), stripped.unknown)


def _turns_or_asks(words: tuple[str, ...], table: FreeWords, light: set[int], stripped: Stripped) -> bool:
    """Whether some word turns the meaning round or tells of another thing, or the words ask ("is it eleven feet") or
    give a bound ("over ten feet") or a change ("two feet off")."""
    place = range(*stripped.place) if stripped.place is not None else range(0)
    if any(word in table.never for i, word in enumerate(words) if i not in light and i not in place):
        return True
    if says_one_of(table.tells, tuple(word for i, word in enumerate(words) if i not in place)):
        return True
    first = next((i for i, word in enumerate(words) if word not in table.before_a_question), 0)
    asks = words[first : first + 1] and words[first] in table.asks and set(words[first + 1 : first + 2]) & _ASKED_OF
    after = (*words[1:], "", "")
    off = any(a in UNITS and b == "off" and c != "the" for a, b, c in zip(words, after, after[1:], strict=False))
    return bool(asks) or off or any(a in ("over", "under") and b in NUMBER_WORDS for a, b in pairwise(words))


_ASKED_OF = NUMBER_WORDS | {"it", "that", "this", "we", "you", "i", "they", "the", "there"}
_NO = frozenset({"no", "nope", "negative", "wrong"})
_LATEST_NO = 8  # words
#: "There is no room": here "no" corrects nothing.
_BEFORE_NO_NO = frozenset({"is", "are", "have", "has", "got", "with", "need", "want", "of", "at", "see", "by", "say"})


def _instead_of(words: tuple[str, ...], context: Context) -> Freely:
    """"The west wall, not the east wall", "not three metres, two point nine", "thirteen, not thirty, thirteen feet": a
    correction, where what is denied is another value of a part that is said."""
    at = words.index("not")
    before, after = words[:at], words[at + 1 :]
    before = () if set(before) <= free_words().light | _NO else before
    if context.waiting is None:
        plain = without_its_twin(words)
        if not before or plain != words:
            return _found(plain, context) if plain != words else Freely((), ())
    found: dict[Meaning, Reading] = {}
    left_out: tuple[str, ...] = ()
    for split in range(len(after), 0 if context.waiting is not None else len(after) - 1, -1):
        denied, rest = after[:split], after[split:]
        if split < len(after) and (len(after) > _LONGEST_DENIAL or set(denied) & free_words().corrects):
            continue
        rest = rest[next((n for n in (2, 1) if rest[:n] in _BUT), 0) :]
        if NUMBER_WORDS & set(before[-1:]) and NUMBER_WORDS & set(rest[:1]) and before[-1:] != rest[:1]:
            continue  # "thirty, not forty four, five" is no 35; "thirteen, not thirty, thirteen feet" is said again
        said = mended((_CORRECTS, *before, *rest))
        if context.waiting is not None and context.waiting.insertion is not None:
            named = _in_the_unit_of(context.waiting.insertion, said)
            if named != said and not _may_be_denied(denied, said, context.waiting.insertion):
                continue
            said = named
        for sentence in (said, *_in_its_unit(denied, said, context)):
            right = _found(sentence, context)
            readings = _as_corrections([r for r in right.readings if _is_another(denied, sentence, r)])
            found |= {reading.meaning: reading for reading in readings}
            left_out = right.left_out if readings else left_out
        if found and split == len(after):
            break
    return Freely(tuple(found.values()), left_out)


def _may_be_denied(denied: tuple[str, ...], said: tuple[str, ...], height: Length) -> bool:
    """Of two numbers without a unit the one denied is a figure that was read back, or sounds like the one said instead:
    "three, not two" may be of anything else."""
    number = tuple(word for word in denied if word in NUMBER_WORDS)
    feet, rest = divmod(height.eightieths, PER_FOOT)
    figures = {feet, rest // PER_INCH, height.eightieths // (1000 * PER_MM)}
    read_back = {form(figure) for figure in figures for form in (grouped_words, digit_words)}
    numbers = {number, *(grouped_words(value) for value, end in values_at(number, 0) if end == len(number))}
    sounds = any(are_twins(said[a:b], other) for a, b in bare_numbers(said) for other in numbers)
    return number != denied or number in read_back or "point" in number or sounds


def _in_its_unit(denied: tuple[str, ...], said: tuple[str, ...], context: Context) -> list[tuple[str, ...]]:
    """"Not three metres, two point nine": the number that has no unit has that of the one denied."""
    unit = next((word for word in denied if word in COARSE), None)
    if unit is None or context.waiting is None:
        return []
    named = in_the_unit(said, unit, lambda number: True)
    return [named] if named != said else []


#: Words after a "not" in which the end of what is denied is looked for.
_LONGEST_DENIAL = 9
_BUT = (("but",), ("it", "is"), ("its",), ("make", "it"))
def _with_what_is_wrong(words: tuple[str, ...]) -> tuple[str, ...]:
    """"Sixty is wrong, make it forty five" denies the sixty."""
    for i, word in enumerate(words):
        said = words[i : i + 1 + (word in ("is", "was"))]
        said = words[i : i + 3] if words[i + 1 : i + 3] in _NOT_SO else said
        wrong = said[-1:] == ("wrong",) or said[-1:] == ("incorrect",) or said[1:] in _NOT_SO
        start = measure_before(words, i) if i else i
        if wrong and start < i and words[i - 1] in NUMBER_WORDS | UNITS | {"degrees"}:
            return (*words[:start], "not", *words[start:i], *words[i + len(said) :])
    return words


_NOT_SO = (("not", "correct"), ("not", "right"), ("not", "so"))
#: "You said fifteen, it's fourteen feet": what was read back is not so.
_YOU_SAID = (("you", "said"), ("you", "heard"), ("you", "got"), ("you", "put"), ("you", "have"), ("you", "have", "got"),
             ("you", "have", "put"), ("you", "read", "back"))


#: "Yes, but two rakers": no yes, and what follows is right instead.
_YES_BUT = (("yes", "but"), ("bit", "more", "than", "that"), ("a", "bit", "more", "than", "that"),
            ("bit", "less", "than", "that"), ("a", "bit", "less", "than", "that"))


def _with_denials(words: tuple[str, ...], context: Context) -> tuple[str, ...]:
    """"You said fifteen" denies, while a readback waits, and so does "ain't no forty five"."""
    words = tuple(word for i, word in enumerate(words) if word != "no" or words[i - 1 : i] != ("not",))
    if context.waiting is None:
        return words
    said = next((head for head in _YES_BUT if words[: len(head)] == head), ())
    words = _with_what_is_wrong((_CORRECTS, *words[len(said) :]) if said else words)
    at = next((i for i in range(len(words) - 1) if words[i : i + 2] in _NOT_SO), None)
    if at is not None:
        return (*words[:at], _CORRECTS, *words[at + 2 :])
    if words[:2] == ("it", "was") and {"asked", "said", "wanted"} & set(words):
        return (_CORRECTS, *words[2:])
    if "not" in words:
        return words
    found = ((i, n) for i in range(len(words) - 2) for n in (3, 2) if words[i : i + n] in _YOU_SAID)
    at, long = next(found, (0, 0))
    return (*words[:at], "not", *words[at + long :]) if long else words


def _in_the_unit_of(height: Length, words: tuple[str, ...]) -> tuple[str, ...]:
    """"Thirteen" in a correction of fifteen feet is thirteen feet. With odd inches it may be either: left as it is."""
    table = free_words()
    others = set(words) - NUMBER_WORDS - table.takes_numbers - table.beside_a_number
    if not table.takes_numbers & set(words) or others & (grammar.load().free_words | table.light):
        return words
    if height.eightieths % PER_SIXTEENTH:
        return in_the_unit(words, "metres", lambda said: "point" in said or len(said) == 1)
    if height.eightieths % PER_FOOT:
        return in_the_unit(words, "feet", lambda said: "point" not in said and said in _FEET_ALONE)
    return in_the_unit(words, "feet", lambda said: said in _FEET)


_FEET = frozenset(form(n) for n in range(3, 41) for form in (grouped_words, digit_words))
_FEET_ALONE = frozenset(grouped_words(n) for n in range(12, 41))



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
        if all(said_instead.get(name, value) != value for name, value in whole.said.items()):
            return True
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


#: Words that name a length, where a reading has a choice: "eight foot spacing, ten feet to the insertion".
_NAMES_A_LENGTH = frozenset({"insertion", "height"})
_NAMES_IT_AFTER = _NAMES_A_LENGTH | {"up", "high"}


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
    """Of several readings those in which a word that names a length ("insertion", "up") stands with the height."""
    if len(readings) < 2:
        return readings
    named = []
    for reading in readings:
        spans = [span for span in reading.parts if span.name == "insertion"]
        inside = sum(len(_NAMES_A_LENGTH & set(words[span.start : span.end])) for span in spans)
        named.append(inside + sum(bool(_NAMES_IT_AFTER & set(words[span.end : span.end + 1])) for span in spans))
    return [r for r, n in zip(readings, named, strict=True) if n == max(named)]


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
