"""Values as the conversation says them: figures digit by digit and then grouped, parts by what they are and how long.

Everything here returns words that a voice can read: no figure and no sign.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from callout.dialogue.phrases import phrase as sentence
from callout.language.numerals import digit_words, grouped_words
from callout.shoring.build import Cut, Missing, Part, Position
from callout.values import Callout, Length

__all__ = ["AGAIN", "sentence"]

AGAIN = "i say again. "


def count(number: int) -> str:
    """A count, as people say it: "fourteen"."""
    return " ".join(grouped_words(number))


def figure(number: int) -> str:
    """A figure that matters: digit by digit, then grouped ("one one, eleven"); a single digit once."""
    digits, grouped = " ".join(digit_words(number)), " ".join(grouped_words(number))
    return grouped if digits == grouped else f"{digits}, {grouped}"


_PART_NAMES = {
    "insertion": "height", "angle_deg": "angle", "rakers": "number of rakers", "spacing": "spacing",
    "wall_height": "wall height", "wall_thickness": "wall thickness", "lean": "lean", "position": "position",
}  # fmt: skip


def part_of_callout(name: str) -> str:
    """What a part of a callout is called when it is asked for."""
    return _PART_NAMES.get(name, name.replace("_", " "))


def _form(number: int, digits: bool) -> str:
    return " ".join(digit_words(number) if digits else grouped_words(number))


_PARTS = {2: ("half", "halves"), 4: ("quarter", "quarters"), 8: ("eighth", "eighths"), 16: ("sixteenth", "sixteenths")}


def _length(length: Length, digits: bool) -> str:
    sixteenths, rest = divmod(abs(length.eightieths), 127)
    if rest:
        return f"{_form(round(length.millimetres), digits)} millimetres"
    feet, within = divmod(sixteenths, 192)
    inches, part = divmod(within, 16)
    said = [f"{_form(feet, digits)} {'foot' if feet == 1 else 'feet'}"] if feet else []
    fraction = Fraction(part, 16)
    if part:
        words = f"{count(fraction.numerator)} {_PARTS[fraction.denominator][fraction.numerator > 1]}"
        said.append(f"{_form(inches, digits)} and {words} inches" if inches else f"{words} inch")
    elif inches or not feet:
        said.append(f"{_form(inches, digits)} {'inch' if inches == 1 else 'inches'}")
    return " ".join(said)


def length(value: Length) -> str:
    """A length digit by digit, then grouped: "one one feet, eleven feet"; once where both are the same."""
    digits, grouped = _length(value, True), _length(value, False)
    return grouped if digits == grouped else f"{digits}, {grouped}"


def callout(request: Callout) -> str:
    """A callout as it is read back, in reading order, every part that was said."""
    said = []
    for name, value in request.said.items():
        if isinstance(value, Length):
            said.append(f"{'insertion' if name == 'insertion' else name.replace('_', ' ')} {length(value)}")
        elif name == "angle_deg":
            said.append(f"angle {figure(value)}")
        elif isinstance(value, int):
            said.append(f"{name} {count(value)}")
        else:
            said.append(str(value).replace("_", " "))
    return "; ".join(said)


def part(line: Part) -> str:
    """A line of the parts list: what, then length."""
    what = line.part.replace("_", " ")
    words = [text(f"{line.variant} {what}" if line.variant else what)]
    if line.length is not None:
        words.append(length(line.length))
    return ", ".join(words)


def missing(lines: Iterable[Missing]) -> str:
    return ", ".join(_missing(line) for line in lines)


def _missing(line: Missing) -> str:
    words = f"{count(line.quantity)} {text(line.part.replace('_', ' '))}"
    return words if line.length is None else f"{words}, {length(line.length)}"


def missing_json(lines: Iterable[Mapping[str, Any]]) -> str:
    return missing(Missing.model_validate(line) for line in lines)


def cut(line: Cut) -> str:
    """One line of the cut list: how many, what, how long, how the ends are cut."""
    return f"{count(line.quantity)} {text(line.section)}, {length(line.length)}, {text(line.ends)}"


def position(line: Position) -> str:
    where = text(f"{line.name}: {line.text}")
    return where if line.at is None else f"{where}, {length(line.at)}"


def pieces(counts: Iterable[tuple[str, int]]) -> str:
    """Pieces by the names of their stock lines: "two six foot strut, one coupler"."""
    return ", ".join(f"{count(quantity)} {text(name)}" for name, quantity in counts)


_LENGTH = re.compile(
    r"(?:(\d+) ?(?:ft|feet|foot)\b)(?: (\d+)?(?: ?(\d+)/(\d+))? ?in\b)?|(?:(\d+) )?(\d+)/(\d+) ?in\b|(\d+) ?in\b"
)
_SIGNS = {"%": " percent", "&": " and ", "+": " plus ", "°": " degrees", "@": " at ", "/": " ", "-": " "}


def text(written: str) -> str:
    """Free text from a plan or a stock file as words: lengths and figures spelled out, signs gone."""

    def spoken(found: re.Match[str]) -> str:
        feet, inches, over, under, whole, top, bottom, plain = found.groups()
        sixteenths = int(over or top or 0) * 16 // int(under or bottom or 16)
        return _length(Length.imperial(int(feet or 0), int(inches or whole or plain or 0), sixteenths), False)

    words = _LENGTH.sub(spoken, written)
    words = re.sub(r"(\d)x(\d)", r"\1 by \2", words)
    words = re.sub(r"(\d+)\.(\d+)", lambda m: f"{count(int(m[1]))} point {' '.join(digit_words(int(m[2])))}", words)
    words = re.sub(r"(\d+)", lambda m: f" {count(int(m[1]))} ", words)
    for sign, word in _SIGNS.items():
        words = words.replace(sign, word)
    return re.sub(r"\s+([,.;:])", r"\1", " ".join(words.split())).strip()


def named_part(name: str, size: Length | None) -> str:
    """A part as it was asked for: "strut, six feet"."""
    words = text(name.replace("_", " "))
    return words if size is None else f"{words}, {length(size)}"
