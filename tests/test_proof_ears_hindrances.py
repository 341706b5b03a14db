"""What the proof of the ears counts as standing in its way, on hearings made by hand."""

from __future__ import annotations

from tests.proof_ears_hindrances import Bar, Said, hindrances, mistaken, worst


def heard(who: str, words: str, first: str, verdict: str = "asked", reason: str = "") -> Said:
    reasons = (reason,) if reason else ()
    return Said(who, tuple(words.split()), "radio", verdict, tuple(first.split()), words == first, reasons)  # type: ignore[arg-type]


HEARINGS = [
    *[heard("ann", "next", "next", "right")] * 6,
    *[heard("bob", "insertion six feet", "insertion eight feet")] * 3,
    heard("bob", "insertion six feet", "insertion eight feet", "wrong"),
    heard("cid", "insertion nine feet", "insertion nine feet", reason="insertion doubtful: 9 ft"),
    heard("dee", "stop", ""),
]


def test_a_mistake_is_the_words_that_differ() -> None:
    assert mistaken(HEARINGS[6]) == [("six", "eight")]
    assert mistaken(heard("x", "one one feet", "point one feet")) == [("one", "point")]
    assert mistaken(heard("x", "stop", "")) == []


def test_the_worst_talkers_are_those_who_lose_most() -> None:
    assert worst(HEARINGS, 1) == ["bob"]


def test_the_page_has_the_bar_with_and_without_them_and_the_words() -> None:
    page = list(hindrances([Bar("voices, radio", 93, HEARINGS), Bar("commands, radio", 97, HEARINGS[:6])]))
    assert "| voices, radio | 93 | 50.0 | bob (0 %), cid (0 %) | 85.7 |" in page
    assert "| voices, radio | 5 | 1 | 3 | 1 | insertion 1 |" in page
    assert "| six | eight | 4 | 1 | 1 | radio |" in page
