"""Values into words for the voice: digit by digit first, then grouped (FAA Order 7110.65, 2-4-18). Never a symbol."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from callout.files import data_folder, read_toml
from callout.language import grammar
from callout.language.numerals import NUMBER_WORDS, Form, number_words
from callout.values import Command, Length, Meaning
from callout.values.length import PER_MM, PER_SIXTEENTH
from callout.values.meaning import PART_ORDER

KIND_WORDS = {
    "raker": "raker", "flying_raker": "flying raker", "t": "tee shore", "double_t": "double tee shore",
    "laced_post": "laced post", "cribbing": "cribbing", "vertical_post": "vertical post",
    "horizontal": "horizontal shore",
    "window": "window shore", "door": "door shore",
}  # fmt: skip
_FORMS: tuple[Form, Form] = ("digits", "grouped")
_LEADS = {
    "insertion": "insertion", "span": "width", "spacing": "spacing",
    "wall_height": "wall height", "wall_thickness": "wall thickness",
    "lean": "lean",
}  # fmt: skip
#: Units of length as they are said of one, and of many.
UNITS = {"foot": "feet", "inch": "inches", "metre": "metres", "centimetre": "centimetres", "millimetre": "millimetres"}
_OF_ONE = {many: one for one, many in UNITS.items()}
FRACTION_NAMES = {2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth"}


def speak_number(n: int) -> tuple[str, str]:
    """132 -> ("one three two", "one hundred thirty two")."""
    digits, grouped = (" ".join(number_words(n, form)) for form in _FORMS)
    return digits, grouped


def speak_angle(degrees: int) -> tuple[str, str]:
    """60 -> ("six zero degrees", "sixty")."""
    digits, grouped = speak_number(degrees)
    return f"{digits} degrees", grouped


def speak_length(length: Length) -> tuple[str, str]:
    """11 ft 6 1/2 in -> ("one one feet six and one half inches", "eleven feet six and one half inches").

    A length in whole sixteenths of an inch is spoken in feet and inches, any other in metres (to the nearest mm).
    """
    n = abs(length.eightieths)
    if n % PER_SIXTEENTH == 0:
        digits, grouped = (_imperial(n // PER_SIXTEENTH, form) for form in _FORMS)
        return digits, grouped
    mm = round(n / PER_MM)
    return _metric_digits(mm), _metric_grouped(mm)


def _counted(words: str, n: int, one: str, many: str) -> str:
    return f"{words} {one if n == 1 else many}"


def _imperial(sixteenths: int, form: Form) -> str:
    feet, rest = divmod(sixteenths, 192)
    inches, part = divmod(rest, 16)
    said = [_counted(_say(feet, form), feet, "foot", "feet")] if feet else []
    if part:
        fraction = _fraction(part)
        said.append(f"{_say(inches, form)} and {fraction} inches" if inches else f"{fraction} inch")
    elif inches or not feet:
        said.append(_counted(_say(inches, form), inches, "inch", "inches"))
    return " ".join(said)


def _fraction(sixteenths: int) -> str:
    bottom = 16
    while sixteenths % 2 == 0:
        sixteenths, bottom = sixteenths // 2, bottom // 2
    return _counted(_say(sixteenths, "grouped"), sixteenths, FRACTION_NAMES[bottom], FRACTION_NAMES[bottom] + "s")


def _say(n: int, form: Form) -> str:
    return " ".join(number_words(n, form))


def _metric_digits(mm: int) -> str:
    whole, rest = divmod(mm, 1000)
    if not rest:
        return _counted(_say(whole, "digits"), whole, "metre", "metres")
    decimals = " ".join(_say(int(d), "digits") for d in f"{rest:03d}".rstrip("0"))
    return f"{_say(whole, 'digits')} point {decimals} metres"


def _metric_grouped(mm: int) -> str:
    whole, rest = divmod(mm, 1000)
    said = [_counted(_say(whole, "grouped"), whole, "metre", "metres")] if whole or not rest else []
    if rest % 10:
        said.append(_counted(_say(rest, "grouped"), rest, "millimetre", "millimetres"))
    elif rest:
        said.append(_counted(_say(rest // 10, "grouped"), rest // 10, "centimetre", "centimetres"))
    return " ".join(said)


def speak_part(quantity: int | None, part: str, length: Length | None = None) -> str:
    """(4, "strut", 6 ft) -> "four six foot struts"; a part without a name of its own is spoken as written."""
    said = [] if quantity is None else [_say(quantity, "grouped")]
    if length is not None:
        said.append(piece_length(length))
    return " ".join([*said, _named(part, quantity)])


def piece_length(length: Length) -> str:
    """A length in front of a thing: "six foot", "two foot six inch"."""
    return before_a_thing(speak_length(length)[1])


def before_a_thing(size: str) -> str:
    """A size as it stands before a thing: "ten feet" -> "ten foot"."""
    return " ".join(_OF_ONE.get(word, word) for word in size.split())


def _twice(pair: tuple[str, str]) -> str:
    digits, grouped = pair
    return digits if digits == grouped else f"{digits}, {grouped}"


def _part_words(name: str, value: Any) -> str:
    if name == "kind":
        return KIND_WORDS[value]
    if isinstance(value, Length):
        inward = " in" if name == "lean" and value.eightieths < 0 else ""
        return f"{_LEADS[name]}{inward}: {_twice(speak_length(value))}"
    if name == "angle_deg":
        return _twice(speak_angle(value))
    if name == "rakers":
        return f"{_twice(speak_number(value))} {'raker' if value == 1 else 'rakers'}"
    if name == "position":
        return f"position {_twice(speak_number(value))}"
    words = {"sole": f"{value} sole", "ground": f"on {value}", "place": _place(value), "for_whom": f"for {value}"}
    return words[name]


def _place(named: str) -> str:
    """"on the north wall", "by the main gate", "at the left of the stairs", "at building seven"."""
    words = named.split()
    if words[:1] and words[0] in _before_a_place():
        return named
    if NUMBER_WORDS & set(words):
        return f"at {named}"  # "at building seven", "at four feet from the corner"
    return f"{'on' if _SIDES & set(words) else 'at'} the {named}"


@lru_cache(maxsize=1)
def _before_a_place() -> frozenset[str]:
    return frozenset(read_toml(data_folder("grammars") / "freely.toml")["before_a_place"])


_SIDES = frozenset({"side", "wall", "face", "elevation"})


#: What can be said of the place: the commands of `site.grammar`, each with its lead.
SITE_FACTS = {
    "site_wall": "wall", "site_soil": "ground", "site_uneven": "ground", "site_curb": "curb", "site_curb_at": "curb at",
    "site_timber": "timber beside", "site_no_timber": "no timber beside", "site_new": "new site",
}  # fmt: skip


def speak_site(fact: Command) -> str:
    """One fact of the place, figures digit by digit and then grouped: "wall brick", "ground down four inches"."""
    lead = SITE_FACTS[fact.command]
    if fact.part is not None:
        return f"{lead} {fact.part}"
    if fact.length is None:
        return lead
    if not fact.length.eightieths:
        return "no curb" if fact.command == "site_curb" else "ground level"
    if fact.command == "site_uneven":
        lead += " down" if fact.length.eightieths < 0 else " up"
    return f"{lead} {_twice(speak_length(fact.length))}"


def readback(meaning: Meaning, stress: Sequence[str] = ()) -> str:
    """The words of the readback: "insertion: one one feet, eleven feet; six zero degrees, sixty".

    A part in `stress` is said twice, with "i say again" between.
    """
    if isinstance(meaning, Command):
        return _command_words(meaning)
    said = []
    for name in PART_ORDER:
        if name in meaning.said:
            words = _part_words(name, meaning.said[name])
            said.append(f"{words}, i say again, {words}" if name in stress else words)
    return "; ".join(said)


_STOCK_VERBS = {"stock_set": "we have", "stock_add": "add", "stock_out": "out of", "stock_lost": "lost"}


def _command_words(command: Command) -> str:
    if command.command == "correction" and command.patch is not None:
        return "correction: " + readback(command.patch)
    if command.command == "digits":
        return _digits(command.part or "")
    words = command.command.replace("_", " ")
    if command.part is not None and command.command.startswith("stock_"):
        verb = _STOCK_VERBS[command.command]
        quantity = command.quantity
        pieces = speak_part(quantity, command.part, command.length)
        digits, grouped = speak_number(quantity) if quantity is not None else ("", "")
        return f"stock: {verb} {digits + ', ' if digits != grouped else ''}{pieces}"
    if command.command in SITE_FACTS:
        return speak_site(command) + ("" if command.build is None else f", build {_twice(speak_number(command.build))}")
    if command.command == "move" and command.part is not None:
        pieces = speak_part(command.quantity, command.part, command.length)
        return f"move {pieces} to build {_twice(speak_number(command.build or 0))}"
    for n in (command.item, command.build, command.quantity):
        if n is not None:
            words += " " + _twice(speak_number(n))
    if command.have is not None:
        words += f": only {_twice(speak_number(command.have))} there"
    return words if command.part is None else f"{words} {_named(command.part, command.quantity)}"


def _named(part: str, quantity: int | None) -> str:
    """The words for a part of the stock or of a callout."""
    if part in PART_ORDER:
        return part.removesuffix("_deg").replace("_", " ")
    one, many = grammar.load().parts.get(part, (part.replace("_", " "), part.replace("_", " ") + "s"))[:2]
    return one if quantity == 1 else many


def _digits(string: str) -> str:
    return " ".join(_say(int(d), "digits") for d in string)
