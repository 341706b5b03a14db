"""Whole numbers and their words, in the two ways people say them: "one three two", "one hundred thirty two"."""

from __future__ import annotations

from typing import Literal

Form = Literal["grouped", "digits"]

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
SMALL = (
    *DIGITS, "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen",
)  # fmt: skip
TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")

#: Every word that can stand in a number; a typed slip in one of them is never mended in silence.
NUMBER_WORDS = frozenset((*SMALL, *TENS[2:], "hundred", "thousand", "oh", "point"))
#: The angles of a raker as they are said.
ANGLES = frozenset({("thirty",), ("forty", "five"), ("sixty",), ("three", "zero"), ("four", "five"), ("six", "zero")})


def digit_words(n: int) -> tuple[str, ...]:
    """132 -> one three two."""
    return tuple(DIGITS[int(d)] for d in str(n))


def grouped_words(n: int) -> tuple[str, ...]:
    """132 -> one hundred thirty two. From 0 to 999,999."""
    if n < 20:
        return (SMALL[n],)
    if n < 100:
        return (TENS[n // 10], *((SMALL[n % 10],) if n % 10 else ()))
    if n < 1000:
        return (SMALL[n // 100], "hundred", *(grouped_words(n % 100) if n % 100 else ()))
    return (*grouped_words(n // 1000), "thousand", *(grouped_words(n % 1000) if n % 1000 else ()))


def number_words(n: int, form: Form) -> tuple[str, ...]:
    return grouped_words(n) if form == "grouped" else digit_words(n)
