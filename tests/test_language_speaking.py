"""What is spoken is understood again: parse(speak(x)) == x, for every value there is, in both forms."""

from __future__ import annotations

import re

import pytest

from callout.language import grammar
from callout.language.parse import parse
from callout.language.resolve import resolve_text
from callout.language.speak import readback, speak_angle, speak_length, speak_number, speak_part
from callout.values import Callout, Command, Length
from callout.values.length import PER_MM, PER_SIXTEENTH
from tests.how_much import one_in

SIXTEENTHS = range(1, 40 * 192 + 1)
MILLIMETRES = range(1, 12_001)
WORDS_ONLY = re.compile(r"[a-z]+( [a-z]+)*")


def heard(words: str) -> list[Length | None]:
    """The lengths that words can mean, by the strict grammar; the wider one where that has none."""
    said = f"spacing {words}".split()
    readings = parse(said) or parse(said, wide=True)
    return [r.meaning.spacing for r in readings if isinstance(r.meaning, Callout)]


def both_forms_come_back(length: Length) -> None:
    for words in speak_length(length):
        assert WORDS_ONLY.fullmatch(words), words
        assert heard(words) == [length], words


@pytest.mark.parametrize("start", one_in(4, range(8)))
def test_every_sixteenth_to_forty_feet(start: int) -> None:
    for n in SIXTEENTHS[start::8]:
        both_forms_come_back(Length(n * PER_SIXTEENTH))


@pytest.mark.parametrize("start", one_in(4, range(8)))
def test_every_millimetre_to_twelve_metres(start: int) -> None:
    for n in MILLIMETRES[start::8]:
        both_forms_come_back(Length(n * PER_MM))


@pytest.mark.parametrize("degrees", range(30, 61))
def test_every_angle(degrees: int) -> None:
    digits, grouped = speak_angle(degrees)
    for words in (digits, f"angle {digits}", f"angle {grouped}", f"{grouped} degrees"):
        assert resolve_text(words).meaning == Callout(angle_deg=degrees), words


@pytest.mark.parametrize("degrees", [30, 45, 60])
def test_a_build_angle_needs_no_word(degrees: int) -> None:
    for words in speak_number(degrees):
        assert resolve_text(words).meaning == Callout(angle_deg=degrees), words


@pytest.mark.parametrize("n", range(1, 100))
def test_every_item_and_build(n: int) -> None:
    for words in speak_number(n):
        assert [r.meaning for r in parse(f"item {words}".split())] == [Command(command="item", item=n)]
        assert [r.meaning for r in parse(f"build {words}".split())] == [Command(command="build", build=n)]


@pytest.mark.parametrize("n", range(1, 21))
def test_every_number_of_rakers(n: int) -> None:
    words = f"{speak_number(n)[1]} {'raker' if n == 1 else 'rakers'}"
    assert [r.meaning for r in parse(words.split())] == [Callout(rakers=n)]


@pytest.mark.parametrize("part", grammar.load().parts)
@pytest.mark.parametrize("quantity", [1, 2, 4, 11, 99])
def test_every_part_of_the_stock(part: str, quantity: int) -> None:
    for length in (None, Length.imperial(6), Length.imperial(2, 6), Length.imperial(0, 18), Length.mm(2000)):
        words = f"we have {speak_part(quantity, part, length)}"
        wanted = Command(command="stock_set", quantity=quantity, part=part, length=length)
        assert [r.meaning for r in parse(words.split())] == [wanted], words


@pytest.mark.parametrize(
    ("callout", "words"),
    [
        (Callout(insertion=Length.imperial(11), angle_deg=60),
         "insertion: one one feet, eleven feet; six zero degrees, sixty"),
        (Callout(insertion=Length.imperial(11, 6, 8), angle_deg=45),
         "insertion: one one feet six and one half inches, eleven feet six and one half inches; "
         "four five degrees, forty five"),
        (Callout(insertion=Length.imperial(8), rakers=2, spacing=Length.imperial(6)),
         "insertion: eight feet; two rakers; spacing: six feet"),
        (Callout(insertion=Length.mm(3350), angle_deg=60),
         "insertion: three point three five metres, three metres thirty five centimetres; six zero degrees, sixty"),
        (Callout(kind="window", sole="solid", position=3, ground="soil", for_whom="team two"),
         "window shore; solid sole; on soil; position three; for team two"),
    ],
)  # fmt: skip
def test_readback_says_digits_first_then_grouped(callout: Callout, words: str) -> None:
    """FAA Order 7110.65, 2-4-18: numbers may be restated, "One Seven Thousand, Seventeen Thousand"."""
    assert readback(callout) == words


def test_a_stressed_part_is_said_twice() -> None:
    words = readback(Callout(insertion=Length.imperial(11), angle_deg=60), ["angle_deg"])
    assert words.endswith("; six zero degrees, sixty, i say again, six zero degrees, sixty")


@pytest.mark.parametrize(
    "callout",
    [
        Callout(insertion=Length.imperial(11), angle_deg=60),
        Callout(insertion=Length.imperial(21, 6, 3), angle_deg=45, rakers=3, spacing=Length.imperial(8, 6)),
        Callout(kind="flying_raker", insertion=Length.mm(3355), angle_deg=30, ground="pavement", position=12),
        Callout(sole="split", insertion=Length.imperial(9), angle_deg=52, lean=-Length.imperial(0, 2)),
        Callout(insertion=Length.imperial(9), wall_height=Length.imperial(14), wall_thickness=Length.imperial(0, 8)),
    ],
)
def test_the_words_of_a_readback_are_understood(callout: Callout) -> None:
    """Each part in its first form, digit by digit, said as a callout again."""
    words = [part.replace(":", "").split(", ")[0] for part in readback(callout).split("; ")]
    assert resolve_text(" ".join(words)).meaning == callout


def test_no_symbol_is_spoken_in_any_readback() -> None:
    said = Callout(
        kind="double_t", sole="solid", insertion=Length.imperial(11, 6, 5), angle_deg=45, rakers=2,
        spacing=Length.mm(1805), wall_height=Length.imperial(40), wall_thickness=Length.imperial(0, 0, 9),
        lean=-Length.imperial(0, 1, 1), ground="soil", position=20, for_whom="team two",
    )  # fmt: skip
    assert re.fullmatch(r"[A-Za-z ,;:]+", readback(said))
