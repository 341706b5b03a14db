"""What the conversation says, in words that a voice can read: no figure and no sign.

The sentences stand in `phrases.toml`: `sentence("confirming.readback", callout=...)` fills the holes. Values go into
them as they are said: figures digit by digit and then grouped, parts by what they are and how long.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from callout.dialogue.named_size import NUMBERED, apart, ends_in_a_unit, thing_and_size
from callout.dialogue.speakable import LONGEST, short_sentences, speakable, text
from callout.files import tomllib
from callout.language.numerals import grouped_words
from callout.language.speak import before_a_thing, readback, speak_length, speak_number, speak_part
from callout.shoring.build import Cut, Missing, Part, Position, Remedy
from callout.values import Callout, Length
from callout.values.meaning import PART_ORDER

_FILE = Path(__file__).with_name("phrases.toml")


@lru_cache(maxsize=1)
def templates() -> dict[str, str]:
    """Every sentence by its dotted name, holes unfilled."""
    found: dict[str, str] = {}

    def collect(prefix: str, table: dict[str, object]) -> None:
        for key, value in table.items():
            if isinstance(value, dict):
                collect(f"{prefix}{key}.", value)
            else:
                found[prefix + key] = str(value)

    collect("", tomllib.loads(_FILE.read_text(encoding="utf-8")))
    return found


def sentence(key: str, **holes: str) -> str:
    """The sentence named `key`, broken into sentences of at most LONGEST words. KeyError when the file lacks it or a
    hole is left open (a fault of the program)."""
    return short_sentences(templates()[key].format(**holes))


AGAIN = "i say again. "


def count(number: int) -> str:
    """A count, as people say it: "fourteen"."""
    return " ".join(grouped_words(number))


def counted(number: int, thing: str) -> str:
    """ "one item", "twelve items"."""
    return f"{count(number)} {thing if number == 1 else plural(thing)}"


def who(speaker: str) -> str:
    """ "the measurer", "logistics", or the name that they gave."""
    return "the measurer" if speaker == "measurer" else text(speaker)


def figure(number: int) -> str:
    """A count that must not be misheard: digit by digit, then grouped ("one four, fourteen"); a single digit once."""
    return _twice(speak_number(number))


def length(value: Length) -> str:
    """A length digit by digit, then grouped: "one one feet, eleven feet"; once where both are the same."""
    return _twice(speak_length(value))


def callout(request: Callout, stress: Sequence[str] = ()) -> str:
    """A callout as it is read back: the height digit by digit and grouped; the other lengths digit by digit alone, and
    the angles of the standard builds, which none is near to, grouped alone. Parts in `stress` have a near twin and are
    said twice, in both forms."""
    said = request.said
    return "; ".join(_part_read_back(name, said[name], stress) for name in PART_ORDER if name in said)


#: The angles of the standard builds.
STANDARD_ANGLES = (30, 45, 60)


def _part_read_back(name: str, value: Any, stress: Sequence[str]) -> str:
    words = readback(Callout(**{name: value}), stress)
    if name in stress or name == "insertion":
        return words
    if isinstance(value, Length):
        digits, grouped = speak_length(value)
        return words.replace(f"{digits}, {grouped}", digits)
    return f"{count(value)} degrees" if name == "angle_deg" and value in STANDARD_ANGLES else words


def brief(request: Callout) -> str:
    """Height, angle and place of a build, once: "eleven feet, sixty, east wall"."""
    said = [] if request.insertion is None else [speak_length(request.insertion)[1]]
    said += [] if request.angle_deg is None else [count(request.angle_deg)]
    said += [] if request.place is None else [request.place]
    return speakable(", ".join(said))


def _twice(forms: tuple[str, str]) -> str:
    digits, grouped = forms
    return grouped if digits == grouped else f"{digits}, {grouped}"


_PART_NAMES = {
    "insertion": "height", "span": "width", "angle_deg": "angle", "rakers": "number of rakers", "spacing": "spacing",
    "wall_height": "wall height", "wall_thickness": "wall thickness", "lean": "lean", "position": "position",
}  # fmt: skip


def guess(value: Length | int) -> str:
    """What a height or an angle in doubt was likeliest heard as, once, so that near twins differ: "one five feet"."""
    return speak_length(value)[0] if isinstance(value, Length) else count(value)


def part_of_callout(name: str) -> str:
    """What a part of a callout is called when it is asked for."""
    return _PART_NAMES.get(name, name.replace("_", " "))


def command(name: str) -> str:
    """What a command is called: "say again"."""
    return text(name.replace("_", " "))


def answers_to(kind: str, *, cannot: bool = False) -> str:
    """What may be said to a readback of this kind: "affirm, or correction"."""
    if cannot:
        return sentence("answers.cannot")
    return sentence("answers.callout" if kind in ("callout", "change", "relocate") else "answers.other")


def name(kind: str, quantity: int) -> str:
    """What a kind of part is called: "struts", "four by four"."""
    return text(speak_part(1, kind).removeprefix("one ") if quantity == 1 else speak_part(None, kind))


def part(line: Part, quantity: int) -> str:
    """A line of the parts list: how many, what, then length: "two struts, six feet", "six brick anchors"."""
    return some(line.name, quantity, line.length, clearly=True)


def some(written: str, quantity: int, size: Length | None = None, *, clearly: bool = False) -> str:
    """So many of a stock line, in the one shape of all lists: count, thing, pause, size ("two struts, six feet"; "one
    timber, two by six, twelve feet"). A count never runs into a size. `size` stands for the length in the name.
    `clearly`: figures digit by digit first."""
    thing, lead, tail = thing_and_size(written)
    if size is not None:
        lead, tail = ("" if ends_in_a_unit(words) else words for words in (lead, tail))  # as the name has it
        tail = ", ".join(filter(None, (length(size) if clearly else speak_length(size)[1], tail)))
    if not apart(lead):  # "three ton jack": a figure, and nobody knows of what
        thing, lead = "piece", f"{lead} {thing}"
    said = f"{figure(quantity) if clearly else count(quantity)} {thing if quantity == 1 else plural(thing)}"
    return ", ".join(words for words in (said, lead, tail) if words)


#: So many things are said in one breath; then a longer pause. A cap of ours: a call of four items is heard worse than
#: two of two (an abstract on air traffic messages, from memory).
ONE_BREATH = 3


def things(said: Iterable[str]) -> str:
    """Things one after the other, each with its own pause; a longer one after every third."""
    every = list(said)
    breaths = [every[at : at + ONE_BREATH] for at in range(0, len(every), ONE_BREATH)]
    return ". ".join("; ".join(breath) for breath in breaths)


def missing(lines: Iterable[Missing], most: int | None = None) -> str:
    """What the stock lacks, each thing once, however many needs of the build it is for; with `most`, so many kinds
    of it, and then that there is more."""
    total: dict[tuple[str | None, str, Length | None], Missing] = {}
    for line in lines:
        before = total.get(key := (line.name, line.part, line.length))
        more = 0 if before is None else before.quantity
        total[key] = line.model_copy(update={"quantity": line.quantity + more})
    every = [some(line.name or _kind(line.part), line.quantity, line.length) for line in total.values()]
    return things(every[:most] + (["and more"] if most is not None and len(every) > most else []))


def remedy(way: Remedy, told: str) -> str:
    """What works, as it is said: what is to be fetched in the one shape of all lists, or "all of that" where `told`,
    what was said to be missing, is just that."""
    if not way.fetch:
        return text(way.text)
    fetched = missing(way.fetch)
    return sentence("walking.fetched_all") if fetched == told else sentence("walking.fetched", pieces=fetched)


def _kind(part: str) -> str:
    """What a kind of part is called, written as the name of a stock line would be."""
    words = speak_part(1, part).removeprefix("one ")
    return part if " by " in f" {words} " else words


def missing_json(lines: Iterable[Mapping[str, Any]]) -> str:
    return missing(Missing.model_validate(line) for line in lines)


def short_of(lines: Sequence[Mapping[str, Any]]) -> str:
    """What a build lacks, in a sentence; "" where it lacks nothing."""
    return sentence("walking.missing", missing=missing_json(lines)) if lines else ""


def cut(line: Cut) -> tuple[str, ...]:
    """One line of the cut list, in utterances of some 8 s: how many and what; how long (digit by digit, once); how the
    ends are cut, where they are not square. What is short enough is one utterance."""
    piece, size = some(line.section, line.quantity, clearly=True), speak_length(line.length)[0]
    ends = _BOTH_ENDS.sub(_of_both_ends, text(line.ends))
    if len(ends.split()) > 1:
        return (*_together(piece, size), *(ends.split(", ", 1) if len(ends.split()) > _LONG_ENDS else [ends]))
    return _together(piece, f"{size}, {ends}")


#: So many words take some 8 s at the pace of figures.
_SHORT_CUT = 9
#: Ends of more words than this are two utterances: the top, then the bottom.
_LONG_ENDS = 14


def _together(piece: str, size: str) -> tuple[str, ...]:
    return (f"{piece}, {size}",) if len(f"{piece} {size}".split()) <= _SHORT_CUT else (piece, size)


_BOTH_ENDS = re.compile(r"top ([\w ]+) (with an? [\w ]+ return cut), bottom ([\w ]+) \2")


def _of_both_ends(found: re.Match[str]) -> str:
    """What is the same at the top and at the bottom is said once."""
    top, cut, bottom = found[1], found[2], found[3]
    return f"both ends {top} {cut}" if top == bottom else f"top {top}, bottom {bottom}, both {cut}"


def position(line: Position) -> str:
    """Where to mark: digit by digit and grouped, or grouped alone where that would take too long a breath."""
    where = text(f"{line.name}: {line.text}")
    if line.at is None:
        return where
    said = f"{where}, {length(line.at)}"
    return said if len(said.split()) <= LONGEST else f"{where}, {speak_length(line.at)[1]}"


def pieces(counts: Iterable[tuple[str, int]]) -> str:
    """Pieces by the names of their stock lines: "two struts, six feet; one coupler"."""
    return things(some(written, quantity) for written, quantity in counts)


def pieces_on_hand(counts: Iterable[tuple[str, int]]) -> str:
    """ "two struts, six feet, on hand; no couplers"."""
    return things(_on_hand(written, quantity) for written, quantity in counts)


def _on_hand(written: str, quantity: int) -> str:
    if not quantity:
        return sentence("stock.out", part=lines(written, 2))
    return sentence("stock.set", pieces=some(written, quantity))


def pounds(weight: float) -> str:
    """ "sixty pounds"; what is lighter than one is "under one pound"."""
    return counted(round(weight), "pound") if weight >= 1 else "under one pound"


def weights(each: Iterable[tuple[str, float]]) -> str:
    """ "six foot struts, twenty nine pounds"."""
    return things(f"{lines(written, 2)}, {pounds(weight)}" for written, weight in each)


def lines(written: str, quantity: int) -> str:
    """The name of a stock line in words, in the plural where there are several: "brick anchors"; a length comes first
    ("4x4 timber, 10 ft": "ten foot four by fours")."""
    thing, lead, tail = thing_and_size(written)
    if " by " in lead and thing in ("timber", "piece"):
        thing, lead = lead, ""
    number = f" {tail}" if tail.startswith(NUMBERED) else ""
    size = before_a_thing(f"{'' if number else tail} {lead}")
    return f"{size} {thing if quantity == 1 else plural(thing)}{number}".strip()


def plural(words: str) -> str:
    """ "sheet of plywood" -> "sheets of plywood"; what ends in s is one of many already."""
    head, of, rest = words.partition(" of ")
    many = head if head.endswith("s") else f"{head}es" if head.endswith("x") else f"{head}s"
    return many + of + rest


def named_part(kind: str, size: Length | None) -> str:
    """A part as it was asked for: "six foot struts"."""
    return text(speak_part(None, kind, size))
