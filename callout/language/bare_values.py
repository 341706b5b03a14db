"""Values without a name ("sixty", "eleven feet", "I said fifteen"): which part of a callout they are, or what to
ask."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from callout.language import limits
from callout.language.context import Context
from callout.language.numerals import grouped_words
from callout.language.outcome import Ambiguous, NotUnderstood, Resolution
from callout.language.parse import Reading, correction
from callout.language.pronunciation import are_twins
from callout.language.semantic_actions import LENGTH_PARTS
from callout.values import Callout, Command, Length
from callout.values.length import PER_FOOT, PER_INCH, PER_MM, PER_SIXTEENTH

#: Angles that need no word of their own.
BARE_ANGLES = (30, 45, 60)


def name_bare(reading: Reading, context: Context) -> list[Reading]:
    """A bare value is the part that was asked for, where it can be that part."""
    meaning = reading.meaning
    if not isinstance(meaning, Command) or not reading.is_bare:
        return [reading]
    if meaning.command == "bare_correction":
        return _name_amount(reading, meaning, context.waiting)
    asked = context.asked
    value: Any = None
    if meaning.command == "bare_length" and asked in LENGTH_PARTS:
        value = meaning.length
    elif meaning.command == "bare_number" and asked in ("rakers", "position"):
        value = meaning.quantity
    if value is None or asked is None:
        return []
    span = replace(reading.parts[0], name=asked)
    return [replace(reading, meaning=_only(asked, value), parts=(span,), notes=())]


def answered(readings: list[Reading], context: Context) -> bool:
    """Whether the height that was asked for is given, however it is put: "it is eleven feet" corrects nothing then."""
    patches = [r.meaning if isinstance(r.meaning, Callout) else r.meaning.patch for r in readings]
    heights = {None if patch is None or set(patch.said) != {"insertion"} else patch.insertion for patch in patches}
    return context.asked == "insertion" and context.waiting is None and len(heights) == 1 and None not in heights


def _name_amount(reading: Reading, said: Command, waiting: Callout | None) -> list[Reading]:
    """A correction by a number alone ("I said fifteen, not fifty") is of the height that waits, in the unit that it was
    read back in; or of the part that has the number said to be wrong. A bare 30, 45 or 60 is read as an angle already.
    """
    height, number = None if waiting is None else waiting.insertion, said.quantity
    if waiting is None or number is None or said.have == number:
        return []
    if said.have is not None and (said.have == waiting.angle_deg or {said.have, number} <= set(BARE_ANGLES)):
        patch = _only("angle_deg", number)
    elif said.have is not None and said.have == waiting.rakers:
        patch = _only("rakers", number)
    elif height is None or number in BARE_ANGLES or _is_of_another(said, height):
        return []
    else:
        lengths = _in_the_unit_of(height, number)
        if len(lengths) > 1:
            return [made for length in lengths for made in _corrected(reading, said, _only("insertion", length))]
        patch = _only("insertion", lengths[0])
    return _corrected(reading, said, patch)


def _is_of_another(said: Command, height: Length) -> bool:
    """Whether a number is denied that is none of the height, and sounds like none in its place: "three, not two"."""
    if said.have is None or said.quantity is None:
        return False
    feet, rest = divmod(height.eightieths, PER_FOOT)
    figures = {feet, rest // PER_INCH, height.eightieths // (1000 * PER_MM)}
    return said.have not in figures and not are_twins(grouped_words(said.quantity), grouped_words(said.have))


def _corrected(reading: Reading, said: Command, patch: Callout) -> list[Reading]:
    meaning = correction(patch).model_copy(update={"build": said.build})
    ((name, value),) = patch.said.items()
    span = replace(reading.parts[0], name=name, value=value, start=0, end=max(p.end for p in reading.parts))
    return [replace(reading, meaning=meaning, parts=(span,), notes=())]


def _in_the_unit_of(height: Length, number: int) -> list[Length]:
    """So many of the unit that a height was read back in; with odd inches, so many feet, or as many inches instead."""
    if height.eightieths % PER_SIXTEENTH:
        return [Length.mm(number * 1000)]
    feet, inches = divmod(height.eightieths, PER_FOOT)
    whole = Length.imperial(number)
    return [whole, Length.imperial(feet, number)] if inches and number < 12 else [whole]


def ask_bare(words: tuple[str, ...], reading: Reading, context: Context) -> Resolution:
    """A value without a name, and nothing was asked that it could answer."""
    meaning = reading.meaning
    assert isinstance(meaning, Command)
    if meaning.length is not None:
        candidates = tuple(_only(n, meaning.length) for n in ("insertion", "spacing", "wall_height"))
        reason = f'{meaning.length.text} of what? Say "insertion" before it'
        return Ambiguous(candidates, "insertion", words, reading.meaning_parts, (reason,))
    said = " ".join(words)
    if context.asked in LENGTH_PARTS and meaning.quantity is not None:
        lengths = (Length.imperial(meaning.quantity), Length.imperial(0, meaning.quantity))
        candidates = tuple(_only(context.asked, length) for length in lengths)
        reason = f'{said} of what? Say the unit: "{said} feet"'
        return Ambiguous(candidates, context.asked, words, reading.meaning_parts, (reason,))
    if context.asked == "angle_deg":
        bare_angle = limits.complaints()["bare angle"]
        return NotUnderstood(words, (f"angle {said}",), bare_angle.missing, reading.meaning_parts, (bare_angle.reason,))
    return NotUnderstood(words, (), ("unit",), reading.meaning_parts, (f'"{said}" alone says nothing: name it',))


def _only(name: str, value: Any) -> Callout:
    return Callout(**{name: value})
