"""Whether what was found among typed words is a callout or a correction, or talk that happens to hold its figures.

A callout is read back and waits for a yes, so what is risked is one readback. Still a part alone is talk, a number
without its unit or name may be a time of day, and the more words nobody knows, the more must say that a shore is meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from callout.language import grammar
from callout.language.context import Context
from callout.language.light_words import FreeWords, Stripped, says_one_of
from callout.language.numerals import DIGITS, NUMBER_WORDS, TENS
from callout.language.parse import Span
from callout.language.repairs import COARSE, DEGREES, UNITS, Words, number_runs, values_at
from callout.values import Callout

#: Unknown words that are let pass beside the parts of a callout: where a shore is spoken of; where the angle is called
#: one; where the speaker says that he has them; beside a bare "at forty five"; beside a correction. More, and it is
#: talk.
WITH_A_SHORE = 6
WITH_DEGREES = 4
OF_THE_SPEAKER = 3
WITH_AT = 2
BESIDE_A_CORRECTION = 3
_MANY_ANGLES = frozenset({"thirties", "fives", "sixties"})
_ONE = frozenset({"a", "an", "the"})
_FOR_NO_STRUT = frozenset({"vertical_post", "laced_post", "t", "double_t", "horizontal", "cribbing"})
_NOUN_FOLLOWS = frozenset({"the", "that", "this", "a", "an", "my", "our", "your", "his", "her", "their", "some"})
_BEFORE_A_NOUN = frozenset({"to", "at", "by", "on", "near", "in", "under", "of", "meets", "hits", "for"})
_OF_ONE_THERE = frozenset({"the", "that", "this", "my", "our"})
_UPWARDS = frozenset({"high", "tall", "up"})
_OF_A_CLOCK = frozenset({"at", "by", "till", "until", "about", "around", "for", "before", "after", "is", "it", "its"})


@dataclass(frozen=True)
class Sifted:
    """A callout found in `words`, its parts where they stood in them."""

    callout: Callout
    spans: tuple[Span, ...]
    words: Words
    stripped: Stripped
    table: FreeWords
    context: Context

    @property
    def is_meant(self) -> bool:
        if self._is_of_a_thing_there or self._may_be_a_spacing or self._counts_something_else:
            return False
        return self._has_its_units and self._says_enough and len(self.stripped.unknown) <= self._most_unknown

    @property
    def corrects(self) -> bool:
        """Whether it changes what was called out before. "Hang on, eleven feet sixty" does where a readback waits, and
        so does a height alone; where nothing waits, a height with its angle is a callout of its own unless a change is
        named."""
        said, waits = set(self.words), self.context.waiting is not None
        if not said & self.table.corrects:
            return waits and self.callout.insertion is not None and not self._both
        return waits or not self._both or bool(said & self.table.changes)

    @property
    def _both(self) -> bool:
        return self.callout.insertion is not None and self.callout.angle_deg is not None

    @property
    def _is_idle(self) -> bool:
        context = self.context
        return context.waiting is None and context.asked is None and context.state in (None, "idle")

    @property
    def _names_a_shore(self) -> bool:
        return bool(set(self.words) & self.table.shores) or self.callout.kind in _FOR_NO_STRUT

    @property
    def _says_enough(self) -> bool:
        """A part alone is talk, unless a readback waits or it is said to correct something."""
        callout = self.callout
        if self._answers:
            return True
        if self.context.waiting is not None or set(self.words) & self.table.corrects:
            return bool(callout.said)
        if self._is_vague and not self._names_a_shore:
            return False
        if self._both and (self._is_announced or (self._is_idle and self._height_has_a_unit)):
            return True
        if callout.insertion is None:
            angle = callout.angle_deg is not None and (bool(DEGREES & set(self.words)) or self._is_one_angle)
            return self._names_a_shore or angle
        named = self._names_the_angle or callout.place is not None
        later = callout.angle_deg is None and self._is_idle and self._height_has_a_unit and self._names_the_height
        return self._names_a_shore or later or (callout.angle_deg is not None and named)

    @property
    def _answers(self) -> bool:
        """"That would be eleven feet", where the height was asked for."""
        whole = set(self.callout.said) == {"insertion"} and self._height_has_a_unit and not self._is_vague
        return whole and self.context.asked == "insertion" and not self.stripped.unknown

    @property
    def _most_unknown(self) -> int:
        """How many unknown words are let pass: the more, the surer it is that a shore is spoken of."""
        if self._names_a_shore:
            return WITH_A_SHORE
        if self._names_a_noun:
            return OF_THE_SPEAKER if self._both and self._names_the_angle and self._is_of_the_speaker else 0
        if self._both and self._height_has_a_unit and (self._is_idle or self._is_of_the_speaker):
            if DEGREES & set(self.words) or self._is_one_angle or self.callout.place is not None:
                return WITH_DEGREES
            if self._names_the_angle:
                return OF_THE_SPEAKER if self._is_of_the_speaker else WITH_AT
        return BESIDE_A_CORRECTION if set(self.words) & self.table.corrects else 0

    @property
    def _names_the_height(self) -> bool:
        """"The point is at fifteen feet", "height ten feet", or a height whose angle is to come."""
        return bool({"height", "angle", "insertion"} & set(self.words)) or ("point", "is") in pairwise(self.words)

    @property
    def _is_announced(self) -> bool:
        """"Write this down: eleven feet sixty"."""
        return says_one_of(self.table.announces, self.words)

    @property
    def _is_of_the_speaker(self) -> bool:
        return bool({" ".join(pair) for pair in pairwise(self.words)} & self.table.speaks)

    @property
    def _names_a_noun(self) -> bool:
        """Whether an unknown word is the name of a thing: "the ramp is eight feet", "swing the boom"."""
        return any(
            word in self.stripped.unknown and before in _NOUN_FOLLOWS and first not in _BEFORE_A_NOUN
            for first, before, word in zip(("", *self.words), self.words, self.words[1:], strict=False)
        )

    @property
    def _is_of_a_thing_there(self) -> bool:
        """"The raker is at ten feet", "bring the cribbing over", "the door is seven feet high": of what is there
        already. With a height and an angle it is a callout all the same."""
        if self._both or set(self.words) & self.table.shores_up or ("shore", "up") in pairwise(self.words):
            return False
        there = {self.words[s.start - 1] for s in self.spans if s.name in ("kind", "sole") and s.start}
        there |= {a for a, b in pairwise(self.words) if b in ("raker", "rakers", "shore", "shores")}
        if not there & _OF_ONE_THERE:
            return False
        kind = self.callout.insertion is None and bool({"kind", "rakers"} & {span.name for span in self.spans})
        return kind or self.context.waiting is None or self.callout.kind in ("door", "window")

    @property
    def _counts_something_else(self) -> bool:
        """"Forty five rakers" may be five of them at forty degrees; "building two, raker at ten feet" is one; a gap is
        a distance between rakers only where there are several; and of a second shore the first alone is not all."""
        angle, words = self._angle, ("", *self.words, "")
        if angle is not None and self.words[angle.end - 1] == "five" and words[angle.end + 1] in ("rakers", "shores"):
            return True
        if len(self._heights) > 1 and {"second", "third", "another", "other"} & set(self.words):
            return True
        rakers = next((span for span in self.spans if span.name == "rakers"), None)
        label = rakers is not None and words[rakers.start] in self.stripped.unknown
        one = rakers is not None and {"raker", "shore"} & set(self.words[rakers.start : rakers.end + 1])
        return bool(label and one) or ("gap" in self.words and self.callout.rakers is None)

    @property
    def _may_be_a_spacing(self) -> bool:
        """"Add two rakers at eight feet": the height, or the distance between them?"""
        rakers = next((span.end for span in self.spans if span.name == "rakers"), None)
        heights = [span.start for span in self.spans if span.name == "insertion"]
        if rakers is None or self.callout.angle_deg is not None or not heights or self._names_the_height:
            return False
        if any(_UPWARDS & set(self.words[s.start : s.end + 1]) for s in self.spans if s.name == "insertion"):
            return False
        return self.callout.spacing is None and 0 <= min(heights) - rakers <= 1 + ("rakers" in self.words)

    @property
    def _angle(self) -> Span | None:
        return next((span for span in self.spans if span.name == "angle_deg"), None)

    @property
    def _names_the_angle(self) -> bool:
        """"At forty five", "a sixty", "degrees": with none of them the number may be inches, or another thing."""
        if DEGREES & set(self.words):
            return True
        return bool(_MANY_ANGLES & set(self.words)) or self._before_the_angle in self.table.before_an_angle

    @property
    def _is_one_angle(self) -> bool:
        """"A sixty", "the forty five"."""
        return self._before_the_angle in _ONE

    @property
    def _before_the_angle(self) -> str:
        return ("", *self.words)[self._angle.start] if self._angle is not None else ""

    @property
    def _heights(self) -> list[Words]:
        """The words of the height, as often as it is said."""
        return [self.words[span.start : span.end] for span in self.spans if span.name == "insertion"]

    @property
    def _height_has_a_unit(self) -> bool:
        return bool(self._heights) and all(UNITS & set(said) for said in self._heights)

    @property
    def _is_vague(self) -> bool:
        """"About eleven feet sixty" is no measure yet."""
        starts = [span.start for span in self.spans if span.name == "insertion"]
        return any(self.table.vague & set(self.words[max(0, start - 1) : start]) for start in starts)

    @property
    def _has_its_units(self) -> bool:
        """Feet and inches without a word ("eleven six"), or feet alone ("fourteen"), are a height only beside what
        tells that a shore is meant: they may be a time of day, or a price."""
        if not self._heights or self._height_has_a_unit:
            return True
        if len(self._heights) > 1:
            return False
        if self.context.waiting is not None:
            alone = any(end == len(self._heights[0]) for _, end in values_at(self._heights[0], 0))
            whole = self.callout.angle_deg is not None or not alone
            return whole and bool(set(self.words) & self.table.corrects)
        if self.callout.angle_deg is None:
            return False
        raker = bool(set(self.words) & self.table.shores - {"insertion"}) or self.callout.kind in _FOR_NO_STRUT
        if self._names_the_angle:
            return raker or not self.stripped.unknown
        return raker and not self._may_be_a_time

    @property
    def _may_be_a_time(self) -> bool:
        """"At eleven forty five"."""
        height = next(span for span in self.spans if span.name == "insertion")
        if self._angle is None or self._angle.start != height.end:
            return False
        return bool(_OF_A_CLOCK & set(self.words[max(0, height.start - 1) : height.start]))


def parts_a_number(spans: tuple[Span, ...], words: Words) -> bool:
    """Whether a part ends and the next begins within what may be one number: "thirty, five rakers" may be 35. "Sixty,
    eight feet apart" can be no 68 feet."""
    for i in {span.end for span in spans} & {span.start for span in spans}:
        if not 0 < i < len(words) or words[i] not in DIGITS:
            continue
        before, last = ("", *words)[i - 1], words[i - 1]
        runs_on = last in TENS or (last in DIGITS and before not in TENS[2:])
        end = i
        while end < len(words) and words[end] in NUMBER_WORDS:
            end += 1
        unit = words[end : end + 1]
        metres = unit in (("metre",), ("metres",))
        too_long = (unit and unit[0] in COARSE and last == "sixty") or (metres and last != "one")
        if runs_on and not too_long:
            return True
    return False


def loses_a_number(spans: tuple[Span, ...], words: Words, stripped: Stripped) -> bool:
    """Whether some number stands in no part. That of a team ("team three") belongs to its name, and "this one" and "the
    point" are no figures."""
    inside = {i for span in spans for i in range(span.start, span.end)}
    crews = grammar.load().crew_words
    for start, end in number_runs(words):
        open_ = [i for i in range(start, end) if i not in inside]
        light = words[start:end] == ("one",) and start not in stripped.at
        names = bool(crews & set(words[start - 1 : start])) and len(open_) <= 2 and open_[-1:] < [start + 2]
        if open_ and not light and not names and any(words[i] not in ("point", "oh") for i in open_):
            return True
    return False
