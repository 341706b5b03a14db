"""Whatever the conversation says, a voice can say: checked by the rule of the voice itself."""

from __future__ import annotations

import itertools
import re

import pytest

from callout.dialogue import builds, callouts, speakable, walking, wording
from callout.dialogue.acts import Cause, carry_out, said_text
from callout.dialogue.events import Opened
from callout.dialogue.machine import start
from callout.dialogue.state import Card, OpenBuild
from callout.dialogue.wording import templates
from callout.language.speak import speak_length
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.speaking.pacing import check_words
from callout.values import Callout, Length
from tests.dialogue_kit import Talk

KINDS = (
    "raker", "flying_raker", "t", "double_t", "laced_post", "cribbing", "vertical_post", "horizontal", "window", "door",
)  # fmt: skip
FEW = [Callout(kind=kind, insertion=Length.imperial(9, 6), angle_deg=60) for kind in KINDS] + [  # type: ignore[arg-type]
    Callout(insertion=Length.imperial(feet), angle_deg=angle) for feet in (2, 7, 14, 30) for angle in (30, 45, 60)
] + [
    Callout(kind=kind, insertion=Length.mm(3350), angle_deg=45, rakers=3, sole="split", spacing=Length.mm(2450))  # type: ignore[arg-type]
    for kind in KINDS
]
MANY = [
    Callout(kind=kind, insertion=Length(eightieths), angle_deg=angle, rakers=rakers, sole=sole)  # type: ignore[arg-type]
    for kind, eightieths, angle, rakers, sole in itertools.product(
        KINDS, range(24_384, 24_384 * 20, 24_384 + 127 * 8), (30, 45, 60), (None, 3), (None, "split")
    )
]


def spoken(request: Callout) -> list[str]:
    """All that is said of a build."""
    now = start(load_stock(), ShorePlanner())
    plan = builds.plan(now, 1, request)
    build = OpenBuild(1, 1, "measurer", None, request.model_dump(mode="json"), plan.to_json(), (0,) * len(plan.parts))
    said = [part for card in build.row for part in walking.card_parts(build, card)]
    said += [speakable.whole(caution) for caution in plan.cautions]
    found = callouts.feasible(plan)
    said += [wording.sentence(key, callout=wording.callout(request), number="one", **found.holes)
             for key in (found.readback, found.change)]  # fmt: skip
    said += [speakable.whole(remedy.text) for remedy in plan.remedies]
    return said


def check(request: Callout) -> None:
    for text in spoken(request):
        assert speakable.lost(text) == "", text
        check_words(text)
        for sentence in re.split(r"(?<=[.?]) ", text):
            assert len(sentence.split()) <= speakable.LONGEST, sentence


@pytest.mark.parametrize("request_", FEW, ids=lambda one: f"{one.kind} {one.insertion} {one.angle_deg}")
def test_all_that_is_said_of_a_build_can_be_said_in_sentences_of_twenty_words(request_: Callout) -> None:
    check(request_)


@pytest.mark.slow
@pytest.mark.timeout(7200)
def test_all_that_is_said_of_thousands_of_builds_can_be_said_in_sentences_of_twenty_words() -> None:
    assert len(MANY) > 2000
    for request in MANY:
        check(request)


@pytest.mark.parametrize(
    "request_",
    [
        Callout(insertion=Length.imperial(10), angle_deg=45, sole="solid"),
        Callout(kind="flying_raker", insertion=Length.imperial(10), angle_deg=60),
        Callout(kind="window", insertion=Length.imperial(4), span=Length.imperial(3)),
        Callout(kind="laced_post", insertion=Length.imperial(10)),
    ],
    ids=lambda one: one.kind,
)
def test_a_cut_is_said_in_short_utterances_its_length_once(request_: Callout) -> None:
    """A length is said digit by digit, "one three feet nine inches", and not grouped after that."""
    request = request_
    plan = builds.plan(start(load_stock(), ShorePlanner()), 1, request)
    build = OpenBuild(1, 1, "measurer", None, request.model_dump(mode="json"), plan.to_json(), (0,) * len(plan.parts))
    assert plan.cuts
    for number, cut in enumerate(plan.cuts):
        said = walking.card_parts(build, Card("cut", number))
        assert all(len(one.split()) <= 14 for one in said), said
        digits, grouped = speak_length(cut.length)
        assert sum(digits in one for one in said) == 1
        assert digits == grouped or not any(grouped in one for one in said)
        assert (said[-1].endswith("square.")) == (cut.ends == "square")


def test_every_sentence_of_the_file_can_be_said() -> None:
    for key, template in templates().items():
        words = template.format_map(dict.fromkeys(_holes(template), "one"))
        if words:
            assert check_words(words), key


def _holes(template: str) -> set[str]:
    import string

    return {name for _, name, _, _ in string.Formatter().parse(template) if name}


@pytest.mark.parametrize(
    "written",
    ["anchors (from the rules)", "11\' 6\" @ 60", "a; b: (c), d", "3/4 ply, 50 % wet", "caf\u00e9 no. 5", "...", "(x)"],
)
def test_free_text_becomes_words_that_the_voice_takes(written: str) -> None:
    words = speakable.text(written)
    assert speakable.lost(words) == ""
    if words:
        assert check_words(words) == words


def test_what_cannot_be_said_after_all_is_written_and_the_rest_is_said() -> None:
    talk = Talk.new()
    _, effects = carry_out(talk.now, [said_text(Cause("measurer", 1.0, True), "eleven feet @ 60 (sixty)")])
    events = [effect.event for effect in effects if hasattr(effect, "event")]
    assert events == ["error", "said"]
    said = effects[-1].text  # type: ignore[union-attr]
    assert said == "eleven feet, sixty. part of this cannot be spoken. read it on the screen."
    check_words(said)


def test_a_count_never_runs_into_a_size() -> None:
    """Only a figure that is said digit by digit first may stand beside another."""
    from callout.shoring.stock import load_stock as stock

    for line in stock().lines:
        for size in (None, line.size if isinstance(line.size, Length) else None):
            words = wording.some(line.name, 2, size)
            first = words.split(",")[0].split()
            assert first[0] == "two", words
            assert not set(first[1:]) & {"two", "four", "six", "eight", "ten", "twelve", "foot", "inch", "penny"}, words


def test_opening_can_be_said() -> None:
    talk = Talk.new().put(Opened(0.0))
    for text in talk.said:
        check_words(text)
