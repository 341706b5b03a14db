"""No figure that was said is lost in silence: of every callout and correction that is taken, each number is in the
meaning, or taken back, denied or said twice, or names who speaks, or is told as left out."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from callout.files import read_toml
from callout.language import grammar
from callout.language.numerals import NUMBER_WORDS, digit_words, grouped_words
from callout.language.outcome import Understood
from callout.language.parse import fold
from callout.language.resolve import resolve_text
from callout.language.typed import typed_words
from callout.values import Callout, Length
from callout.values.length import PER_FOOT, PER_INCH, PER_MM
from tests.how_much import LONG
from tests.people_other_hands import LISTS, STRANGERS, rows
from tests.people_talk import PEOPLE, context, understood

Words = tuple[str, ...]
#: They take back what stands before them.
TAKES_BACK = {"no", "nope", "sorry", "mean", "meant", "wait", "scratch", "correction", "actually", "oops", "rather",
              "wrong", "nah", "incorrect", "make", "add"}  # fmt: skip
#: They deny what stands after them.
DENIES = {"not", "you", "instead", "dropped", "said", "asked"}
#: After a number they say of what it is.
COUNTED = dict.fromkeys(("raker", "rakers", "shore", "shores", "flying", "split", "solid", "of", "soles"), "rakers") | {
    "apart": "spacing", "between": "spacing"}
#: "This one", "one more": no figure; and what is called out without a number of rakers is one raker.
BEFORE_ONE = {"this", "that", "another", "next", "big", "last", "first", "tall", "low", "steep", "new", "the", "a",
              "flying", "same", "get", "want", "need", "type"}  # fmt: skip
AFTER_ONE = {"more", "here", "for", "in", "raker", "shore"}
NEAR = 7  # words


def numbers_of(length: Length) -> list[list[Words]]:
    """The ways to say a length, as the numbers in it."""
    found: list[list[int]] = []
    eightieths = abs(length.eightieths)
    feet, rest = divmod(eightieths, PER_FOOT)
    inches, part = divmod(rest, PER_INCH)
    tops = [part * d // PER_INCH for d in (2, 4, 8, 16) if part and part * d % PER_INCH == 0]
    for tail in ([[]] if not part else [[], *([top] for top in tops)]):
        found += [[feet, inches, *tail], [feet, *tail], [inches, *tail], [feet * 12 + inches, *tail]]
    quarters = eightieths * 4 // PER_FOOT % 4
    found += [[feet, quarters]] if quarters else []
    forms = (grouped_words, digit_words)
    ways = [[first(numbers[0]), *map(form, numbers[1:])] for numbers in found for first in forms for form in forms]
    ways += [[(*whole(feet), "point", *digit_words(half))] for whole in (grouped_words, digit_words) for half in (5,)]
    ways += [[*([form(feet)] if feet else []), (*form(inches), "point", *digit_words(decimals))]
             for form in (grouped_words, digit_words) for decimals in (5, 25, 75, 125, 375, 625, 875)]  # fmt: skip
    mm, inexact = divmod(eightieths, PER_MM)
    if not inexact:
        metres, below = divmod(mm, 1000)
        decimals = f"{below:03}".rstrip("0")
        for form in (grouped_words, digit_words):
            ways += [[form(mm)], [form(mm // 10)], [form(metres)]]
            ways += [[form(metres), form(below)], [form(metres), form(below // 10)]]
            more = [tuple(w for d in decimals for w in digit_words(int(d))), grouped_words(int(decimals or 0))]
            ways += [[(*form(metres), "point", *said)] for said in more] if decimals else []
            ways += [[(*form(mm // 100), "hundred")], [(*form(mm // 100), *form(mm % 100))]]
            ways += [[("oh", "point", *more[0])], [("point", *more[0])]] if not metres and decimals else []
    return sorted(ways, key=lambda way: -sum(map(len, way)))


def ways_of(callout: Callout) -> dict[str, list[list[Words]]]:
    """Of each part of a callout that is a number, the ways to say it."""
    found: dict[str, list[list[Words]]] = {}
    for name, value in callout.said.items():
        if isinstance(value, Length):
            found[name] = numbers_of(value)
        elif isinstance(value, int):
            found[name] = [[grouped_words(value)], [digit_words(value)]]
    return found


def lost(said: str, state: str) -> list[str]:
    """The numbers that were said, are in nothing that was understood, and not told."""
    result = understood(said, state)
    meaning = result.meaning if isinstance(result, Understood) else None
    callout = meaning if meaning is None or isinstance(meaning, Callout) else meaning.patch
    if callout is None:
        return []
    words = _plain(fold(typed_words(said).words))
    told = " ".join([*result.reasons, callout.place or "", callout.for_whom or ""]).replace(",", "").split()
    figures = [i for i in range(len(words)) if _is_figure(words, i) and words[i] not in told]
    counts = {i: not _is_mended(words, i) for i in figures}
    return [words[i] for i in _uncovered(words, figures, ways_of(callout), counts)]


def _plain(words: Words) -> Words:
    """"A hundred and twenty" is one hundred twenty, what is not correct is incorrect."""
    plain: list[str] = []
    words = tuple(" ".join(words).replace("not correct", "incorrect").split())
    for i, word in enumerate(words):
        if word == "hundred" and not (i and words[i - 1] in NUMBER_WORDS):
            plain.append("one")
        if word != "and" or words[i - 1 : i] != ("hundred",):
            plain.append(word)
    return tuple(plain)


def _is_figure(words: Words, i: int) -> bool:
    """Whether a word is of a figure: "the insertion point", "oh" and "forty fives" hold none."""
    after = words[i + 1 : i + 2]
    if words[i] in ("point", "oh"):
        return bool(i and words[i - 1] in NUMBER_WORDS and set(after) & NUMBER_WORDS)
    return words[i] in NUMBER_WORDS and after != ("fives",)


def _is_mended(words: Words, i: int) -> bool:
    """Whether the number at `i` is taken back, denied, who speaks, a build, or a pronoun."""
    start, end = i, i + 1
    while start and words[start - 1] in NUMBER_WORDS:
        start -= 1
    while end < len(words) and words[end] in NUMBER_WORDS:
        end += 1
    before, after = words[max(0, start - NEAR) : start], words[end : end + NEAR]
    one = words[start:end] == ("one",) and (set(before[-1:]) & BEFORE_ONE or set(after[:1]) & AFTER_ONE)
    crew = bool(set(before[-1:]) & (grammar.load().crew_words | {"build"}))
    return bool(one or crew or set(after) & TAKES_BACK or set(before) & DENIES)


def _uncovered(
    words: Words, numbers: list[int], ways: dict[str, list[list[Words]]], counts: dict[int, bool]
) -> list[int]:
    """The fewest places of number words that no part accounts for; a part counts once, and once more where it is only
    said again."""

    def best(at: int, spent: frozenset[str]) -> list[int]:
        if at == len(numbers):
            return []
        least = [numbers[at]] * counts[numbers[at]] + best(at + 1, spent)
        for name, said in ways.items():
            for way in said:
                ends = _matched(words, numbers, at, way)
                of = COUNTED.get("".join(words[(ends or 0) : (ends or 0) + 1]), name)
                if ends is None or (name in spent and of not in ((name, "rakers") if name == "angle_deg" else (name,))):
                    continue
                found = best(next((k for k, i in enumerate(numbers) if i >= ends), len(numbers)), spent | {name})
                if len(found) < len(least):
                    least = found
                if not least:
                    return least
        return least

    return best(0, frozenset())


def _matched(words: Words, numbers: list[int], at: int, way: list[Words]) -> int | None:
    """Where the numbers of `way` end, said one after the other from the number at `at` on."""
    end = 0
    for number in way:
        if at >= len(numbers):
            return None
        start = numbers[at]
        end = start + len(number)
        if words[start:end] != number:
            return None
        at += len(number)
    return end


def said_by_people() -> Iterator[tuple[str, str]]:
    for name in (*LISTS, *STRANGERS):
        yield from ((state, said) for state, meant, said in rows(name) if meant.split()[0] in ("callout", "correction"))
    for part in read_toml(PEOPLE / "kept_apart.toml").values():
        if "state" in part:
            yield from ((part["state"], said) for said, _ in part["rows"])


def with_a_number_more(said: str, rng: random.Random) -> str:
    """What was said with a number, or a number of something, put in between two words."""
    words = said.split()
    number = " ".join(grouped_words(rng.choice([*range(1, 13), 15, 30, 45, 60])))
    number += rng.choice(("", "", " rakers", " raker", " feet", " foot", " metre", " degrees", " apart", " between"))
    at = rng.randint(0, len(words))
    return " ".join([*words[:at], number, *words[at:]])


def test_the_numbers_that_people_say_are_not_lost() -> None:
    said = list(said_by_people())[:: 1 if LONG else 3]
    assert [(one, gone) for state, one in said if (gone := lost(one, state))] == []


@pytest.mark.parametrize("one_in", [9, pytest.param(1, marks=pytest.mark.slow)])
def test_a_number_put_in_anywhere_is_not_lost(one_in: int) -> None:
    rng = random.Random(11)
    made = [(state, with_a_number_more(said, rng)) for state, said in said_by_people()][::one_in]
    assert [(said, gone) for state, said in made if (gone := lost(said, state))] == []


def test_what_is_denied_between_two_numbers_joins_them_to_none() -> None:
    """"Thirty, not forty four, five" is no 35."""
    result = resolve_text("the angle is thirty not forty four five", context("confirm"))
    assert not isinstance(result, Understood) or result.meaning.patch == Callout(angle_deg=30)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("said", "rakers"),
    [
        ("hello from the foreign team we make three raker insertion three point eight metre sixty degree spacing "
         "two point five", 3),
        ("this is the team with three rakers insertion eleven feet sixty", 3),
    ],
)  # fmt: skip
def test_a_number_after_the_team_is_its_name_only_where_it_follows(said: str, rakers: int) -> None:
    """"The foreign team, we make three raker" is no team three."""
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert isinstance(result.meaning, Callout)
    assert result.meaning.rakers == rakers
