"""What is written (a plan, a stock file, a rule of the trade) as words that the voice can say, in short sentences."""

from __future__ import annotations

import re
import unicodedata

from callout.language.numerals import digit_words, grouped_words
from callout.language.speak import FRACTION_NAMES, speak_length
from callout.values import Length
from callout.values.length import PER_SIXTEENTH, written_length

WRITTEN_LENGTH = re.compile(
    r"(?:(?P<feet>\d+) ?(?:ft|feet|foot)\b ?)?"
    r"(?:(?:(?P<whole>\d+) )?(?P<over>\d+)/(?P<under>\d+) ?in\b|(?P<inches>\d+) ?in\b(?! (?:all|total|each)\b))"
    r"|(?P<even>\d+) ?(?:ft|feet|foot)\b"
)
_SIGNS = {'"': "", "%": " percent", "&": " and ", "+": " plus ", "°": " degrees", "@": " at ", "/": " ", "-": " "}
_UNITS = {"mm": "millimetre", "cm": "centimetre", "m": "metre", "lb": "pound", "kg": "kilogram", "kN": "kilonewton"}
#: Units of weight and force, of which a name may have a figure.
MEASURED = tuple(_UNITS[unit] for unit in ("lb", "kg", "kN"))
_MARKS = (
    (re.compile(r"(?<=\d) ?['\u2019\u2032](?!\w)"), " ft"),
    (re.compile(r"(?<=\d) ?[\"\u201d\u2033](?!\w)"), " in"),
)
#: Feet and inches that WRITTEN_LENGTH does not take: "6.5 ft", "3 1/2 ft", "1.5 in".
_PARTS_OF_A_FOOT = re.compile(r"(?<![\w./])(?:(?:\d+ )?\d+/\d+ ?ft|\d+\.\d+ ?(?:ft|in))\b(?! (?:all|total|each)\b)")
_FRACTION = re.compile(r"(?<![\w./])(?:(\d+) )?(\d+)/(2|4|8|16)(?![\w/])")
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}\b)")
_UNIT = re.compile(rf"(?P<number>[\d./]*\d) ?(?P<unit>{'|'.join(_UNITS)})\b")


def _decimal(found: re.Match[str]) -> str:
    return " ".join((*grouped_words(int(found[1])), "point", *digit_words(int(found[2]))))


def _exactly(found: re.Match[str]) -> str:
    """ "6.5 ft" -> "six feet six inches"; as it stands where no sixteenth of an inch is exact."""
    try:
        value = written_length(found[0])
    except ValueError:
        return found[0]
    return speak_length(value)[1] if value.eightieths % PER_SIXTEENTH == 0 else found[0]


def _fraction(found: re.Match[str]) -> str:
    """ "3/4" -> "three quarters", "1 1/2" -> "one and one half"."""
    top, name = int(found[2]), FRACTION_NAMES[int(found[3])]
    part = f"{' '.join(grouped_words(top))} {name if top == 1 else f'{name}s'}"
    return part if found[1] is None else f"{' '.join(grouped_words(int(found[1])))} and {part}"


def _number(digits: str) -> str:
    """Grouped, as people say it; digit by digit where it is long."""
    return " ".join(grouped_words(int(digits)) if len(digits) < 6 else digit_words(int(digits)))


def text(written: str) -> str:
    """Free text from a plan or a stock file as words: lengths and figures spelled out, signs gone."""

    def spoken(found: re.Match[str]) -> str:
        n = {part: int(digits or 0) for part, digits in found.groupdict().items()}
        sixteenths = n["over"] * 16 // (n["under"] or 1)
        return speak_length(Length.imperial(n["feet"] + n["even"], n["whole"] + n["inches"], sixteenths))[1]

    words = _THOUSANDS.sub("", written)
    for mark, unit in _MARKS:
        words = mark.sub(unit, words)
    words = WRITTEN_LENGTH.sub(spoken, _PARTS_OF_A_FOOT.sub(_exactly, words))
    words = _FRACTION.sub(_fraction, words)
    words = _UNIT.sub(lambda m: f"{m['number']} {_UNITS[m['unit']]}{'' if m['number'] == '1' else 's'}", words)
    words = re.sub(r"\b(\d+)d\b", r"\1 penny", words)
    words = re.sub(r"(\d)x(\d)", r"\1 by \2", words)
    words = re.sub(r"(\d+)\.(\d+)", _decimal, words)
    words = re.sub(r"([0-9]+)", lambda m: f" {_number(m[1])} ", words)
    for sign, word in _SIGNS.items():
        words = words.replace(sign, word)
    return speakable(words)


_WORD_OR_STOP = re.compile(r"[A-Za-z]+(?:['’-][A-Za-z]+)*|[,;:.!?()]")
#: Stops one after the other: the first of these that is there counts.
_STRONGEST = ".!?;:,"


def speakable(words: str) -> str:
    """The words and the stops between them as a voice takes them (`callout.speaking.pacing.check_words`): letters
    without accents, one stop after a word, brackets as pauses; signs and figures are dropped."""
    plain = unicodedata.normalize("NFKD", words).replace("’", "'")
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    said: list[str] = []
    stops = ""
    for token in (*_WORD_OR_STOP.findall(plain), ""):
        if token and not token[0].isalpha():
            stops += "," if token in "()" else token
            continue
        if stops and said:
            said[-1] += next(stop for stop in _STRONGEST if stop in stops)
        stops = ""
        said += [token] if token else []
    return " ".join(said)


def lost(words: str) -> str:
    """What a voice would not take of a sentence; "" for one that it can say whole."""
    return "" if speakable(words).split() == words.split() else "".join(sorted(set(re.findall(r"[^A-Za-z\s]", words))))


#: No sentence that the voice says is longer, in words: some 12 s at the pace of figures.
LONGEST = 20
_AFTER_A_SENTENCE = re.compile(r"(?<=[.?!]) ")


def in_short(written: str) -> str:
    """Free text in sentences of at most LONGEST words each."""
    return short_sentences(text(written))


def short_sentences(words: str) -> str:
    """The words in sentences of at most LONGEST words each: a longer one is broken where it has a stop."""
    if len(words.split()) <= LONGEST:
        return words
    return " ".join(_broken(one) for one in _AFTER_A_SENTENCE.split(words))


def _broken(one: str) -> str:
    if len(one.split()) <= LONGEST:
        return one
    end = one[-1] if one[-1] in ".?!" else ""
    said: list[str] = []
    for clause in re.split(r"(?<=[;:]) ", one.rstrip(".?!")):
        if said and len(f"{said[-1]} {clause}".split()) <= LONGEST:
            said[-1] += f" {clause}"
        elif len(clause.split()) <= LONGEST:
            said.append(clause)
        else:
            said += _halves(clause)
    return ". ".join(part.rstrip(",;:") for part in said) + end


def _halves(clause: str) -> list[str]:
    """A clause that is too long, at its commas, in as few pieces of much the same length as will do."""
    bits = clause.split(", ")
    for pieces in range(2, len(bits) + 1):
        most, said = len(clause.split()) / pieces, [bits[0]]
        for bit in bits[1:]:
            if len(said[-1].split()) >= most - len(bit.split()) / 2:
                said.append(bit)
            else:
                said[-1] += f", {bit}"
        if all(len(one.split()) <= LONGEST for one in said):
            return said
    return bits


def whole(written: str) -> str:
    """Free text as a sentence of its own."""
    words = text(written)
    return short_sentences(words if words.endswith((".", "?")) else f"{words}.")
