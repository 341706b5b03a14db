"""Callouts put together at random from parts whose meaning is known: understood as meant, or asked about, never other.

The sentences are made here from the number words of num2words, not by the program's own speaking.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from callout.language.outcome import Ambiguous, NotUnderstood, Understood
from callout.language.parse import parse
from callout.language.resolve import resolve_text
from callout.values import Callout, Length
from tests.how_much import examples

FRACTIONS = {
    8: ("a half", "one half"), 4: ("a quarter", "one quarter"), 12: ("three quarters",), 2: ("one eighth", "an eighth"),
    6: ("three eighths",), 10: ("five eighths",), 14: ("seven eighths",), 3: ("three sixteenths",),
    15: ("fifteen sixteenths",),
}  # fmt: skip
KINDS = {"window shore": "window", "flying raker": "flying_raker", "laced post": "laced_post",
         "double tee shore": "double_t", "door shore": "door"}  # fmt: skip


def number(draw: st.DrawFn, n: int, digits: bool = True) -> str:
    """A number in words: grouped, or digit by digit."""
    if digits and draw(st.booleans()):
        return " ".join(num2words(int(d)) for d in str(n))
    return re.sub(r"[-,]", " ", num2words(n))


@st.composite
def lengths(draw: st.DrawFn, least: int = 1, most: int = 39) -> tuple[str, Length]:
    feet = draw(st.integers(least, most))
    inches = draw(st.integers(0, 11))
    part = draw(st.sampled_from([0, 0, 0, *FRACTIONS]))
    said = f"{number(draw, feet)} {draw(st.sampled_from(['feet', 'foot']))}"
    if part and inches:
        joint = draw(st.sampled_from(["", "and "]))
        said += f" {joint}{number(draw, inches)} and {draw(st.sampled_from(FRACTIONS[part]))} inches"
    elif part:
        said += f" {draw(st.sampled_from(FRACTIONS[part]))} inch"
    elif inches:
        joint, unit = draw(st.sampled_from(["", "and "])), draw(st.sampled_from(["inch", "inches"]))
        said += f" {joint}{number(draw, inches)} {unit}"
    else:
        said += draw(st.sampled_from(["", " even"]))
    return said, Length.imperial(feet, inches, part)


@st.composite
def callouts(draw: st.DrawFn) -> tuple[str, Callout]:
    height, insertion = draw(lengths())
    parts: dict[str, Any] = {"insertion": insertion}
    before, after = [], []
    if draw(st.booleans()):
        kind = draw(st.sampled_from(sorted(KINDS)))
        parts["kind"] = KINDS[kind]
        draw(st.sampled_from([before, after])).append(kind)
    angle = draw(st.sampled_from([30, 45, 60, None, 52]))
    first = []
    if angle is not None:
        parts["angle_deg"] = angle
        forms = ["angle {}", "angle {} degrees", *([] if angle == 52 else ["{} degrees", "{}"])]
        form = draw(st.sampled_from(forms))
        first.append(form.format(number(draw, angle)))
    if draw(st.booleans()):
        parts["rakers"] = draw(st.integers(2, 12))
        row = f"{number(draw, parts['rakers'], digits=False)} rakers"
        if draw(st.booleans()):
            apart, parts["spacing"] = draw(lengths(2, 12))
            row += f" {apart} on center"
        after.append(row)
    if draw(st.booleans()):
        parts["ground"] = draw(st.sampled_from(["soil", "pavement"]))
        after.append(draw(st.sampled_from(["", "on "])) + parts["ground"])
    if draw(st.booleans()):
        parts["position"] = draw(st.integers(1, 20))
        after.append(f"position {number(draw, parts['position'], digits=False)}")
    if draw(st.booleans()):
        tall, parts["wall_height"] = draw(lengths())
        after.append(f"wall height {tall}")
    lead = draw(st.sampled_from(["insertion", "insertion point"]))
    rest = draw(st.permutations(after))
    return " ".join([*before, f"{lead} {height}", *first, *rest]), Callout(**parts)


@given(callouts())
@settings(max_examples=examples(500, 80), deadline=None)
def test_understood_as_meant_or_asked_about(pair: tuple[str, Callout]) -> None:
    said, meant = pair
    result = resolve_text(said)
    assert isinstance(result, (Understood, Ambiguous)), said
    if isinstance(result, Understood):
        assert result.meaning == meant, said
    else:
        assert meant in result.candidates, said


@given(callouts())
@settings(max_examples=examples(200, 40), deadline=None)
def test_every_word_of_a_reading_belongs_to_its_parts_in_order(pair: tuple[str, Callout]) -> None:
    words = pair[0].split()
    for reading in parse(words):
        spans = sorted((part.start, part.end) for part in reading.parts)
        assert all(a < b for a, b in spans)
        assert all(end <= start for (_, end), (start, _) in pairwise(spans))
        assert spans[0][0] == 0
        assert spans[-1][1] == len(words)


#: Up to here a number without its unit may be metres, and is asked for; seven metres is higher than rakers go.
_HIGHEST_IN_METRES = Length.imperial(6)
_NAMES_A_SHORE = {"angle", "degree", "degrees", "raker", "rakers", "shore", "flying", "cribbing", "post", "sole"}


@given(callouts(), st.sampled_from(["feet", "foot", "insertion"]))
@settings(max_examples=examples(200, 40), deadline=None)
def test_a_lost_word_is_missed_and_not_guessed(pair: tuple[str, Callout], lost: str) -> None:
    """Without "feet" no height is understood (where no inches say their own unit), but where the angle is named and the
    number is too high for metres. Without "insertion" none, but where a shore or the angle is named: then the length
    beside it is the height that was meant. Else no height is taken."""
    words = pair[0].split()
    if words.count(lost) != 1 or "inch" in pair[0]:
        return
    words.remove(lost)
    result = resolve_text(" ".join(words))
    if lost == "insertion" and _NAMES_A_SHORE & set(words) and isinstance(result, Understood):
        assert isinstance(result.meaning, Callout)
        assert result.meaning.insertion in (None, pair[1].insertion), " ".join(words)
    elif lost == "insertion":
        assert isinstance(result, (NotUnderstood, Ambiguous)), " ".join(words)
    elif isinstance(result, Understood):
        assert isinstance(result.meaning, Callout)
        height = result.meaning.insertion
        unit_left = "feet" in words or "foot" in words
        too_high = pair[1].insertion is not None and pair[1].insertion > _HIGHEST_IN_METRES
        assert height is None or unit_left or (height == pair[1].insertion and too_high and "angle" in words)
