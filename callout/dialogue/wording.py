"""Values as the conversation says them: figures digit by digit and then grouped, parts by what they are and how long.

Everything here returns words that a voice can read: no figure and no sign.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from callout.dialogue.phrases import phrase as sentence
from callout.language.numerals import digit_words, grouped_words
from callout.language.speak import piece_length, readback, speak_length, speak_number, speak_part
from callout.shoring.build import Cut, Missing, Part, Position
from callout.values import Callout, Length

__all__ = ["AGAIN", "sentence"]

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
    """A callout as it is read back. Parts in `stress` have a near twin and are said twice."""
    return readback(request, stress)


def _twice(forms: tuple[str, str]) -> str:
    digits, grouped = forms
    return grouped if digits == grouped else f"{digits}, {grouped}"


_PART_NAMES = {
    "insertion": "height", "angle_deg": "angle", "rakers": "number of rakers", "spacing": "spacing",
    "wall_height": "wall height", "wall_thickness": "wall thickness", "lean": "lean", "position": "position",
}  # fmt: skip


def part_of_callout(name: str) -> str:
    """What a part of a callout is called when it is asked for."""
    return _PART_NAMES.get(name, name.replace("_", " "))


def name(kind: str, quantity: int) -> str:
    """What a kind of part is called: "struts", "four by four"."""
    return text(speak_part(1, kind).removeprefix("one ") if quantity == 1 else speak_part(None, kind))


def part(line: Part, quantity: int) -> str:
    """A line of the parts list: how many, what, then length: "two struts, six feet", "six brick anchors"."""
    words = lines(line.name, quantity)
    if line.length is None:
        return f"{figure(quantity)} {words}"
    return f"{figure(quantity)} {_LENGTH_BEFORE.sub('', words)}, {length(line.length)}"


def missing(lines: Iterable[Missing]) -> str:
    """What the stock lacks, each thing once, however many needs of the build it is for."""
    total: dict[tuple[str | None, str, Length | None], Missing] = {}
    for line in lines:
        before = total.get(key := (line.name, line.part, line.length))
        more = 0 if before is None else before.quantity
        total[key] = line.model_copy(update={"quantity": line.quantity + more})
    return ", ".join(_missing(line) for line in total.values())


def _missing(line: Missing) -> str:
    """ "six brick anchors", "eight three foot pickets": one thing in one breath, whatever follows it."""
    words = lines(line.name, line.quantity) if line.name else name(line.part, line.quantity)
    if line.length is not None and not _LENGTH_BEFORE.match(words):
        words = f"{piece_length(line.length)} {words}"
    return f"{figure(line.quantity)} {words}"


def missing_json(lines: Iterable[Mapping[str, Any]]) -> str:
    return missing(Missing.model_validate(line) for line in lines)


def cut(line: Cut) -> str:
    """One line of the cut list: how many, what, how long, how the ends are cut."""
    what = name(line.section, line.quantity)
    return f"{figure(line.quantity)} {what}, {length(line.length)}, {text(line.ends)}"


def position(line: Position) -> str:
    where = text(f"{line.name}: {line.text}")
    return where if line.at is None else f"{where}, {length(line.at)}"


def pieces(counts: Iterable[tuple[str, int]]) -> str:
    """Pieces by the names of their stock lines: "two six foot struts, one coupler"."""
    return ", ".join(f"{count(quantity)} {lines(written, quantity)}" for written, quantity in counts)


def lines(written: str, quantity: int) -> str:
    """The name of a stock line in words, in the plural where there are several: "brick anchors"; a length at its end
    comes first ("4x4 timber, 10 ft": "ten foot four by fours")."""
    what, comma, size = written.rpartition(", ")
    words = text(what.removesuffix(" timber") if comma else written)
    if comma and _LENGTH.fullmatch(size):
        words = f"{_before(text(size))} {words}"
    elif comma:
        words = f"{words}, {text(size)}"
    return words if quantity == 1 else plural(words)


def plural(words: str) -> str:
    """ "sheet of plywood" -> "sheets of plywood"; what ends in s is one of many already."""
    head, of, rest = words.partition(" of ")
    many = head if head.endswith("s") else f"{head}es" if head.endswith("x") else f"{head}s"
    return many + of + rest


def _before(size: str) -> str:
    """A length as it stands before a thing: "ten feet" -> "ten foot"."""
    return size.replace("feet", "foot").replace("inches", "inch").replace("metres", "metre")


#: The length in front of a name: "six foot ", "two foot six inch ", "thirty inch ".
_LENGTH_BEFORE = re.compile(r"^(?:(?:[a-z]+ )+?(?:foot|inch|metre|centimetre|millimetre) )+(?=\w)")


_LENGTH = re.compile(
    r"(?:(?P<feet>\d+) ?(?:ft|feet|foot)\b ?)?"
    r"(?:(?:(?P<whole>\d+) )?(?P<over>\d+)/(?P<under>\d+) ?in\b|(?P<inches>\d+) ?in\b(?! (?:all|total|each)\b))"
    r"|(?P<even>\d+) ?(?:ft|feet|foot)\b"
)
_SIGNS = {'"': "", "%": " percent", "&": " and ", "+": " plus ", "°": " degrees", "@": " at ", "/": " ", "-": " "}
_UNITS = {
    "mm": "millimetres", "cm": "centimetres", "m": "metres", "lb": "pounds", "kg": "kilograms", "kN": "kilonewtons",
}  # fmt: skip
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}\b)")
_UNIT = re.compile(rf"(\d) ?({'|'.join(_UNITS)})\b")
_UNSPEAKABLE = re.compile(r"[^\w\s.,;:?'()]|[_\d]")


def _number(digits: str) -> str:
    return count(int(digits)) if len(digits) < 6 else " ".join(digit_words(int(digits)))


def text(written: str) -> str:
    """Free text from a plan or a stock file as words: lengths and figures spelled out, signs gone."""

    def spoken(found: re.Match[str]) -> str:
        n = {part: int(digits or 0) for part, digits in found.groupdict().items()}
        sixteenths = n["over"] * 16 // (n["under"] or 1)
        return speak_length(Length.imperial(n["feet"] + n["even"], n["whole"] + n["inches"], sixteenths))[1]

    words = _LENGTH.sub(spoken, _THOUSANDS.sub("", written))
    words = _UNIT.sub(lambda m: f"{m[1]} {_UNITS[m[2]]}", words)
    words = re.sub(r"\b(\d+)d\b", r"\1 penny", words)
    words = re.sub(r"(\d)x(\d)", r"\1 by \2", words)
    words = re.sub(r"(\d+)\.(\d+)", lambda m: f"{count(int(m[1]))} point {' '.join(digit_words(int(m[2])))}", words)
    words = re.sub(r"([0-9]+)", lambda m: f" {_number(m[1])} ", words)
    for sign, word in _SIGNS.items():
        words = words.replace(sign, word)
    words = _UNSPEAKABLE.sub(" ", words)
    return re.sub(r"\s+([,.;:])", r"\1", " ".join(words.split())).strip()


def named_part(kind: str, size: Length | None) -> str:
    """A part as it was asked for: "six foot struts"."""
    return text(speak_part(None, kind, size))


def whole(written: str) -> str:
    """Free text as a sentence of its own."""
    words = text(written)
    return words if words.endswith((".", "?")) else f"{words}."
