"""Which talkers, words and noises stand in the way of the bars of the ears, counted from the hearings of the proof."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Literal

from tests.kept_hearings import Row

Verdict = Literal["right", "wrong", "asked"]
WORST, MOST, FEWEST = 2, 12, 6  # talkers left out, words shown, hearings of a command that tell anything


@dataclass(frozen=True)
class Said:
    """One hearing: who said which words, through what, what became of it, the first reading, and whether that means
    what was said."""

    who: str
    words: tuple[str, ...]
    through: str
    verdict: Verdict
    first: tuple[str, ...]
    meant: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Bar:
    """A share in percent that is wanted of some hearings."""

    what: str
    wanted: float
    hearings: Sequence[Said]


def said(who: str, words: str, through: str, row: Row, became: tuple[Verdict, bool]) -> Said:
    verdict, meant = became
    first = tuple(row["words"][0].split()) if row["words"] else ()
    return Said(who, tuple(words.split()), through, verdict, first, meant, tuple(row.get("reasons", ())))


def hindrances(bars: Sequence[Bar]) -> Iterator[str]:
    yield "## What stands in the way, counted"
    yield ""
    yield from _talkers(bars)
    yield ""
    every = [one for bar in bars for one in bar.hearings]
    yield from _certainty(bars)
    yield ""
    yield from _words(every)
    yield ""
    yield from _commands([one for bar in bars if bar.what.startswith("commands") for one in bar.hearings])


def share(hearings: Sequence[Said]) -> float:
    return 100 * sum(one.verdict == "right" for one in hearings) / max(len(hearings), 1)


def worst(hearings: Sequence[Said], count: int = WORST) -> list[str]:
    """The talkers without whom the most is gained: those with the most that was not taken right."""
    lost = Counter(one.who for one in hearings if one.verdict != "right")
    return [who for who, _ in lost.most_common(count)]


def _talkers(bars: Sequence[Bar]) -> Iterator[str]:
    yield f"Each bar, and what would be reached without the {WORST} talkers who lose most of it:"
    yield ""
    yield "| | bar | reached | they are (taken right) | without them |"
    yield "|---|---|---|---|---|"
    for bar in bars:
        who = worst(bar.hearings)
        rest = [one for one in bar.hearings if one.who not in who]
        shown = ", ".join(f"{w} ({share([one for one in bar.hearings if one.who == w]):.0f} %)" for w in who)
        yield f"| {bar.what} | {bar.wanted:.0f} | {share(bar.hearings):.1f} | {shown} | {share(rest):.1f} |"


def _certainty(bars: Sequence[Bar]) -> Iterator[str]:
    yield "What is asked again: with the meaning right in the first reading (certainty alone is lacking), another, or"
    yield "none; and the parts that were doubtful, the most frequent first."
    yield ""
    yield "| | asked again | right at first | another | none | doubtful |"
    yield "|---|---|---|---|---|---|"
    for bar in bars:
        asked = [one for one in bar.hearings if one.verdict == "asked"]
        right = sum(one.meant for one in asked)
        none = sum(not one.first for one in asked)
        parts = Counter(reason.split()[0] for one in asked for reason in one.reasons
                        if " doubtful: " in reason or " contested: " in reason)  # fmt: skip
        shown = ", ".join(f"{name} {count}" for name, count in parts.most_common(4))
        yield f"| {bar.what} | {len(asked)} | {right} | {len(asked) - right - none} | {none} | {shown} |"


def mistaken(one: Said) -> list[tuple[str, str]]:
    """(said, heard) of each place where the first reading differs; "" for nothing."""
    match = SequenceMatcher(None, one.words, one.first, autojunk=False)
    return [(" ".join(one.words[a:b]), " ".join(one.first[c:d]))
            for kind, a, b, c, d in match.get_opcodes() if kind != "equal" and one.first]  # fmt: skip


def _words(hearings: Sequence[Said]) -> Iterator[str]:
    yield f"The {MOST} mistakes of the first reading that are made most often, and by how many talkers:"
    yield ""
    yield "| said | heard | times | talkers | taken so (wrong) | mostly through |"
    yield "|---|---|---|---|---|---|"
    found: dict[tuple[str, str], list[Said]] = {}
    for one in hearings:
        for pair in mistaken(one):
            if not one.meant:
                found.setdefault(pair, []).append(one)
    for (was, heard), some in sorted(found.items(), key=lambda item: (-len(item[1]), item[0]))[:MOST]:
        talkers, wrong = {one.who for one in some}, sum(one.verdict == "wrong" for one in some)
        noise = Counter(one.through for one in some).most_common(1)[0][0]
        yield f"| {was or '(nothing)'} | {heard or '(nothing)'} | {len(some)} | {len(talkers)} | {wrong} | {noise} |"


def _commands(hearings: Sequence[Said]) -> Iterator[str]:
    yield f"Commands that are taken least, of those heard {FEWEST} times or more:"
    yield ""
    yield "| said | heard | taken right | mostly read as |"
    yield "|---|---|---|---|"
    by_words: dict[tuple[str, ...], list[Said]] = {}
    for one in hearings:
        by_words.setdefault(one.words, []).append(one)
    order: Callable[[tuple[str, ...]], tuple[float, tuple[str, ...]]] = lambda words: (share(by_words[words]), words)  # noqa: E731
    often = [words for words in by_words if len(by_words[words]) >= FEWEST and share(by_words[words]) < 100]
    for words in sorted(often, key=order)[:MOST]:
        some = by_words[words]
        first = Counter(" ".join(one.first) or "(nothing)" for one in some if one.verdict != "right").most_common(1)
        right = sum(one.verdict == "right" for one in some)
        yield f"| {' '.join(words)} | {len(some)} | {right} | {first[0][0]} |"
