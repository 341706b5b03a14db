"""What each part of a callout is weighed by, worked out by hand: the figures behind the verdicts of two and three."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.special import expit, logit, logsumexp

from callout.hearing import agreement
from callout.hearing import agreement_of_three as three
from callout.hearing.agreement import (
    Guess,
    Verdict,
    Weighed,
    agreed_parts,
    heard_again,
    same_sound,
    second_ear,
    settings,
    together_of,
    weigh,
)
from callout.hearing.evidence import Asked, Evidence
from callout.hearing.judge import reader
from callout.hearing.search import HeardWord, SearchReading
from callout.hearing.vosk_ear import VoskReading
from callout.language.context import Context
from callout.values import Command, Length

FREE = tuple("IH N S ER SH AH N".split())  # noqa: SIM905
WHOLE, SEVEN = "insertion eleven feet sixty", "insertion seven feet sixty"
NUMBERS: dict[str, int] = {}


def encoder(text: str, score: float, fits: tuple[float, ...] = (), fit: float = -0.02) -> SearchReading:
    words = tuple(text.split())
    fits = fits or (fit,) * len(words)
    heard = tuple(HeardWord(word, 0.5 * n, 0.5 * n + 0.4, one) for n, (word, one) in enumerate(zip(words, fits)))  # noqa: B905
    return SearchReading(words, score, fit, tuple(NUMBERS.setdefault(word, len(NUMBERS)) for word in words), heard)


def vosk(text: str, score: float) -> VoskReading:
    return VoskReading(tuple(text.split()), score)


def two(first, second, chosen=None, **facts) -> dict[str, Weighed]:
    verdict = weigh(Evidence(tuple(first), tuple(second), FREE, **facts), reader(), chosen or settings())
    assert verdict is not None
    return {part.name: part for part in verdict.parts}


HEARD = [encoder(WHOLE, -1.0, (-0.1, -1.0, -0.3, -0.2), -0.5), encoder(SEVEN, -3.0)]
CROSSED = [vosk(SEVEN, -5.0), vosk(WHOLE, -6.0)]


def test_the_parts_of_a_crossed_callout_in_figures() -> None:
    """A lead of 2 nats on the encoder ear; the second ear has the rival first, by 1 nat."""
    parts = two(HEARD, CROSSED)
    height = dict(zip(agreement.FEATURES, parts["insertion"].features, strict=True))
    assert height == pytest.approx({
        "one": 1.0, "lead_to_3": 2 / 3, "lead_to_8": 2 / 8, "lead_to_20": 2 / 20, "fit": -1.0 / 4, "fit_all": -0.5 / 4,
        "clear_to_0.1": -1.0, "clear_to_0.3": -0.25 / 0.3, "clear_to_1": -0.25, "vosk_to_4": -1 / 4,
        "vosk_lead": -1 / 15, "vosk_same": 0.0, "vosk_deaf": 0.0, "late": 0.0, "vosk_rival": 1.0, "angle_deg": 0.0,
        "rakers": 0.0, "spacing": 0.0, "words_to_6": 4 / 6,
    })  # fmt: skip
    angle = dict(zip(agreement.FEATURES, parts["angle_deg"].features, strict=True))
    assert angle == pytest.approx({
        **height, "lead_to_3": 1.0, "lead_to_8": 1.0, "lead_to_20": 1.0, "fit": -0.2 / 4, "vosk_to_4": 1.0,
        "vosk_lead": 1.0, "vosk_same": 1.0, "vosk_rival": 0.0, "angle_deg": 1.0,
    })  # fmt: skip
    assert (parts["insertion"].value, parts["insertion"].rival) == (Length.imperial(11), Length.imperial(7))
    assert (parts["angle_deg"].value, parts["angle_deg"].rival) == (60, None)
    assert (parts["insertion"].both, parts["angle_deg"].both) == (False, True)
    weights = settings().weights["callout"]
    assert parts["insertion"].log_odds == pytest.approx(
        sum(w * f for w, f in zip(weights, parts["insertion"].features, strict=True))
    )


def test_a_deaf_second_ear_and_a_late_key_are_facts_of_every_part() -> None:
    for part in two(HEARD, [], deaf=True, late_key=True).values():
        named = dict(zip(agreement.FEATURES, part.features, strict=True))
        assert (named["vosk_deaf"], named["late"]) == (1.0, 1.0)
        assert (named["vosk_to_4"], named["vosk_lead"], named["vosk_same"], named["vosk_rival"]) == (0, 0, 0, 0)
        assert not part.both


@pytest.mark.parametrize(("said", "late", "both"), [
    ("affirm", False, True), ("affirm", True, False), ("sixty", True, False), ("go ahead", True, True),
])  # fmt: skip
def test_a_lone_word_whose_start_was_lost_is_settled_by_no_ears(said: str, late: bool, both: bool) -> None:
    """What is left of a word may be another one, on which all ears agree: "wait" and "eight"."""
    for part in two([encoder(said, -1.0)], [vosk(said, -5.0)], late_key=late).values():
        assert part.needs_both
        assert part.both == both


def test_two_voices_for_the_rival_and_one_for_the_part_never_settle_it() -> None:
    """However sure the sum of the figures is: all weights but the first are nothing here, and that one is large."""
    sure = {kind: [30.0] + [0.0] * (len(agreement.FEATURES) - 1) for kind in settings().weights}
    parts = two(HEARD, CROSSED, replace(settings(), weights=sure))
    assert parts["insertion"].needs_both
    assert parts["insertion"].agreement != "agreed"
    assert parts["angle_deg"].agreement == "agreed"
    agreed = two(HEARD, [vosk(WHOLE, -5.0), vosk(SEVEN, -6.0)], replace(settings(), weights=sure))
    assert not agreed["insertion"].needs_both
    assert agreed["insertion"].agreement == "agreed"


@pytest.mark.parametrize("word", ["affirm", "next", "negative"])
def test_a_command_that_moves_something_needs_both_however_sure_one_is(word: str) -> None:
    sure = {kind: [30.0] + [0.0] * (len(agreement.FEATURES) - 1) for kind in settings().weights}
    chosen = replace(settings(), weights=sure)
    assert two([encoder(word, -0.1)], [vosk("[unk]", -5.0)], chosen)["command"].agreement != "agreed"
    assert two([encoder(word, -0.1)], [vosk(word, -5.0)], chosen)["command"].agreement == "agreed"


def test_the_same_for_three_a_part_needs_two_of_them_where_the_second_ear_crosses() -> None:
    sure = {kind: [30.0] + [0.0] * (len(three.FEATURES) - 1) for kind in settings().three}
    chosen = replace(settings(), three=sure)

    def weighed(eleven: float, seven: float, first: float, other: float) -> Weighed:
        asked = (Asked(encoder(WHOLE, first), eleven, 5), Asked(encoder(SEVEN, other), seven, 5))
        verdict = three.weigh_three(Evidence((), tuple(CROSSED), FREE, third=asked), reader(), chosen)
        assert verdict is not None
        return next(part for part in verdict.parts if part.name == "insertion")

    alone = weighed(-2.0, -9.0, -3.0, -2.9)  # the third for eleven, both ears for seven
    assert alone.value == Length.imperial(11)
    assert alone.needs_both
    assert alone.agreement != "agreed"
    backed = weighed(-2.0, -9.0, -1.0, -3.0)  # the third and the encoder ear for eleven
    assert backed.agreement == "agreed"


def test_a_correction_is_weighed_by_its_word_and_by_what_it_puts_right() -> None:
    said = "correction angle forty five"
    parts = two([encoder(said, -1.0)], [vosk(said, -5.0)])
    assert {name: part.value for name, part in parts.items()} == {"command": "correction", "angle_deg": 45}
    assert {part.kind for part in parts.values()} == {"command"}


def test_one_ear_may_settle_a_digit_that_the_other_heard_otherwise() -> None:
    """Digits set nothing in motion; a height on which the ears cross needs both of them."""
    digits = reader(Context(state="digits"))
    first, second = (encoder("seven", -1.0), encoder("eight", -3.0)), (vosk("eight", -5.0), vosk("seven", -6.0))
    verdict = weigh(Evidence(first, second, FREE), digits, settings())
    assert verdict is not None
    digit = next(part for part in verdict.parts if part.name == "quantity")
    assert (digit.value, digit.rival, digit.both, digit.needs_both) == (7, 8, False, False)
    assert two(HEARD, CROSSED)["insertion"].needs_both


def test_a_rival_contests_within_the_reach_and_not_at_its_end() -> None:
    chosen = replace(settings(), reach=2.0)
    more = "insertion eleven feet sixty two rakers"
    assert "rakers" not in two([encoder(WHOLE, -1.0), encoder(more, -3.0)], [vosk(WHOLE, -5.0)], chosen)
    near = two([encoder(WHOLE, -1.0), encoder(more, -2.9)], [vosk(WHOLE, -5.0)], chosen)
    assert (near["rakers"].value, near["rakers"].rival) == (None, 2)
    low = {kind: [-30.0] + [0.0] * (len(agreement.FEATURES) - 1) for kind in settings().weights}
    for score, unsure in ((-2.9, "contested"), (-3.0, "doubtful")):
        parts = two([encoder(WHOLE, -1.0), encoder(SEVEN, score)], [vosk(WHOLE, -5.0)], replace(chosen, weights=low))
        assert parts["insertion"].agreement == unsure
        assert parts["angle_deg"].agreement == "doubtful"  # nobody heard another


def test_the_last_features_say_which_part_it_is() -> None:
    every = "insertion eleven feet sixty three rakers eight feet on center"
    parts = two([encoder(every, -1.0)], [vosk(every, -5.0)])
    assert set(parts) == {"insertion", "angle_deg", "rakers", "spacing"}
    for name, weighed in parts.items():
        named = dict(zip(agreement.FEATURES, weighed.features, strict=True))
        assert {part: named[part] for part in ("angle_deg", "rakers", "spacing")} == {
            part: float(part == name) for part in ("angle_deg", "rakers", "spacing")
        }


HEIGHTS = ("eleven", "ten", "nine", "eight", "seven", "six", "five", "four")


@pytest.mark.parametrize(("readings", "lead"), [(8, 3.5), (7, 20.0), (1, 20.0)])
def test_a_part_that_no_reading_has_otherwise_leads_down_to_the_floor(readings: int, lead: float) -> None:
    """All have sixty: eight readings are all that the search gives, so one with another angle is below the last of
    them; with fewer there is none within 20 nats."""
    first = [encoder(f"insertion {height} feet sixty", -1.0 - 0.5 * n) for n, height in enumerate(HEIGHTS[:readings])]
    named = dict(zip(agreement.FEATURES, two(first, [vosk(WHOLE, -5.0)])["angle_deg"].features, strict=True))
    assert named["lead_to_8"] == pytest.approx(min(lead, 8.0) / 8)
    assert named["lead_to_20"] == pytest.approx(lead / 20)


@pytest.mark.parametrize(("rivals", "lead"), [([-1.5], 0.5), ([-1.0], 0.0), ([-1.5, -1.5, -1.5], 0.0)])
def test_a_height_hardly_ahead_leads_by_that_and_one_that_is_outweighed_by_nothing(
    rivals: list[float], lead: float
) -> None:
    """Three rivals half a nat behind are likelier together than the best reading: no lead may be made of that."""
    scores = zip(HEIGHTS, [-1.0, *rivals], strict=False)
    first = [encoder(f"insertion {height} feet sixty", score) for height, score in scores]
    named = dict(zip(agreement.FEATURES, two(first, [vosk(WHOLE, -5.0)])["insertion"].features, strict=True))
    for most in (3, 8, 20):
        assert named[f"lead_to_{most}"] == pytest.approx(lead / most)


@pytest.mark.parametrize("phones", [1, 2, 5])
def test_how_noisy_it_was_is_counted_by_the_phone(phones: int) -> None:
    """A short word has few, and may have one alone."""
    heard = replace(encoder("affirm", -0.5), sound=tuple(range(phones)))
    named = dict(zip(agreement.FEATURES, two([heard], [vosk("affirm", -5.0)])["command"].features, strict=True))
    assert named["clear_to_1"] == pytest.approx(-0.5 / phones)


@pytest.mark.parametrize(
    ("meaningless", "unsure"),
    [
        (None, "doubtful"),  # the floor is the reading without an angle itself: nobody heard another
        (-25.0, "doubtful"),
        (-35.0, "contested"),  # a reading without any meaning puts the floor lower
    ],
)
def test_the_floor_lies_under_every_reading_of_the_ear(meaningless: float | None, unsure: str) -> None:
    """Far behind, a reading has no angle. The reach is wide here, and nothing is agreed."""
    low = {kind: [-30.0] + [0.0] * (len(agreement.FEATURES) - 1) for kind in settings().weights}
    first = [encoder(WHOLE, -1.0), encoder("insertion eleven feet", -30.0)]
    first += [] if meaningless is None else [encoder("feet feet feet", meaningless)]
    parts = two(first, [vosk(WHOLE, -5.0)], replace(settings(), weights=low, reach=40.0))
    assert (parts["angle_deg"].value, parts["angle_deg"].rival) == (60, None)
    assert parts["angle_deg"].agreement == unsure


def test_a_part_fits_as_well_as_its_own_words_and_one_without_words_as_all() -> None:
    def fit(fits: tuple[float, ...], name: str) -> float:
        more = "insertion eleven feet sixty two rakers"
        parts = two([encoder(WHOLE, -1.0, fits), encoder(more, -1.9)], [vosk(WHOLE, -5.0)])
        assert (parts[name].kind, parts[name].stake) == ("callout", "callout")
        return dict(zip(agreement.FEATURES, parts[name].features, strict=True))["fit"] * 4

    assert fit((-0.1, -0.2, -0.3, -0.9), "insertion") == pytest.approx(-0.3)
    assert fit((-0.1, -0.2, -0.3, -0.9), "angle_deg") == pytest.approx(-0.9)
    for worst in range(4):
        assert fit(tuple(-0.9 if n == worst else -0.1 for n in range(4)), "rakers") == pytest.approx(-0.9)


def test_a_rival_value_contests_though_it_stands_on_the_floor() -> None:
    low = {kind: [-30.0] + [0.0] * (len(agreement.FEATURES) - 1) for kind in settings().weights}
    chosen = replace(settings(), weights=low, reach=40.0)
    parts = two([encoder(WHOLE, -1.0), encoder(SEVEN, -30.0)], [vosk(WHOLE, -5.0)], chosen)
    assert (parts["insertion"].rival, parts["insertion"].agreement) == (Length.imperial(7), "contested")


def test_a_reading_that_means_nothing_is_no_reading_to_weigh() -> None:
    assert weigh(Evidence((encoder("feet feet feet", -1.0),), (vosk(WHOLE, -5.0),), FREE), reader(), settings()) is None
    parts = two([encoder("feet feet feet", -0.5), encoder(WHOLE, -1.0)], [vosk(WHOLE, -5.0)])
    assert parts["insertion"].value == Length.imperial(11)


def test_rivals_as_likely_as_each_other_need_no_order() -> None:
    """One has another height, one has none: heights compare, a height and nothing do not."""
    parts = two([encoder(WHOLE, -1.0), encoder(SEVEN, -3.0), encoder("angle sixty", -3.0)], [vosk(WHOLE, -5.0)])
    assert parts["insertion"].rival == Length.imperial(7)


def test_two_heights_that_the_second_ear_finds_as_likely_as_each_other_need_no_order() -> None:
    """It puts neither first, whichever it names first; and the conversation goes on."""
    for theirs in ((SEVEN, WHOLE), (WHOLE, SEVEN)):
        height = two(HEARD, [vosk(text, -5.0) for text in theirs])["insertion"]
        named = dict(zip(agreement.FEATURES, height.features, strict=True))
        assert (height.value, named["vosk_to_4"], named["vosk_lead"]) == (Length.imperial(11), 0.0, 0.0)


def test_readings_of_one_sound_are_one_and_the_shortest_stands_for_them() -> None:
    spelt = replace(encoder("insertion eleven feet six tee", -0.5), sound=encoder(WHOLE, 0).sound)
    for alike in ([spelt, encoder(WHOLE, -1.0)], [encoder(WHOLE, -1.0), spelt]):
        kept = agreement._apart([encoder(SEVEN, -3.0), *alike])
        assert [reading.words for reading in kept] == [tuple(WHOLE.split()), tuple(SEVEN.split())]


def test_of_two_readings_of_one_sound_as_short_as_each_other_the_likelier_stands() -> None:
    """Else the best reading would fall behind its rivals for how it is spelt."""
    likelier = encoder("build two", -1.0)
    spelt = replace(encoder("build too", -4.0), sound=likelier.sound)
    assert agreement._apart([likelier, encoder("build ten", -3.0), spelt])[0] == likelier


@pytest.mark.parametrize(
    ("theirs", "lead", "same"),
    [
        ([], -15.0, False),
        ([(-5.0, {"angle_deg": 60})], 15.0, True),
        ([(-5.0, {"angle_deg": 45})], -15.0, False),
        ([(-5.0, {})], -15.0, False),
        ([(-5.0, {"rakers": 2})], -15.0, False),
        ([(-5.0, {"angle_deg": 60}), (-7.0, {"angle_deg": 45})], 2.0, True),
        ([(-7.0, {"angle_deg": 60}), (-5.0, {"angle_deg": 45})], -2.0, False),
        ([(-5.0, {"angle_deg": 60}), (-5.0, {"angle_deg": 45})], 0.0, True),
        ([(-5.0, {}), (-8.0, {"angle_deg": 60})], -3.0, False),
    ],
)
def test_how_far_the_second_ear_puts_an_angle_of_sixty_ahead(theirs, lead: float, same: bool) -> None:
    assert second_ear(theirs, "angle_deg", 60) == (lead, same)


SKIP, THREE = {"command": "skip"}, {"command": "bare_number", "quantity": 3}


@pytest.mark.parametrize(
    ("best", "theirs", "score", "means"),
    [
        ("say again", "next", -5.0, {"command": "next"}),  # taught, too
        ("say again", "skip it", -6.5, SKIP),  # a line of people's own
        ("say again", "what was that", -5.0, {"command": "say_again"}),  # of people's own, and the same command
        ("say again", "three", -6.5, THREE),  # a figure alone
        ("say again", "angle sixty", -6.5, {"angle_deg": 60}),  # a callout without its insertion
        ("say again", WHOLE, -5.0, {"insertion": Length.imperial(11), "angle_deg": 60}),
        ("skip it", "three", -5.0, THREE),  # the best is of people's own itself
        ("affirm", "skip it", -5.0, SKIP),  # a yes must be no likelier than it sounds
        (WHOLE, "skip it", -5.0, SKIP),  # a callout has its figures to be weighed by
        ("short two", "short to", -5.0, {"command": "short", "quantity": 2}),  # another spelling of the same sound
        ("say again", "[unk] next", -5.0, {}),  # something that is not of the language
        ("say again", "next to", -5.0, {}),
    ],
)  # fmt: skip
def test_what_hardly_anybody_says_counts_less_beside_a_command_that_is_taught(
    best: str, theirs: str, score: float, means: dict[str, object]
) -> None:
    """By one and a half nats, and nothing else does."""
    heard = encoder(best, -1.0)
    assert agreement.theirs_of(Evidence((heard,), (vosk(theirs, -5.0),), FREE), heard, reader())[0] == (score, means)


def part(odds: float, *, both: bool = True, needs_both: bool = False, name: str = "x") -> Weighed:
    return Weighed(name, 1, None, (), "callout", "callout", both, needs_both, odds, "doubtful")


def test_one_ear_alone_settles_no_part_that_needs_both() -> None:
    parts = [part(9.0, name="a"), part(9.0, both=False, name="b"), part(9.0, both=False, needs_both=True, name="c")]
    assert [one.agreement for one in agreed_parts(parts, 4.0)] == ["agreed", "agreed", "doubtful"]
    assert [one.agreement for one in agreed_parts([part(3.9)], 4.0)] == ["doubtful"]


def test_a_part_is_taken_from_the_threshold_on() -> None:
    (exactly,) = agreed_parts([part(4.0)], agreement.together([4.0]))
    assert exactly.agreement == "agreed"


@pytest.mark.parametrize("scores", [[-1.0], [-1.0, -1.0], [-3.0, -800.0, -2.5], [0.0, -0.5, -1.5]])
def test_chances_add_up(scores: list[float]) -> None:
    """Outside reference: scipy.special.logsumexp."""
    assert together_of(scores) == pytest.approx(float(logsumexp(scores)))


def test_words_are_alike_only_over_at_most_three_for_three(monkeypatch: pytest.MonkeyPatch) -> None:
    made = {"a": (("P",),), "b": (("P", "P"),), "c": (("P", "P", "P"),), "q": (("K",),)}
    monkeypatch.setattr(agreement, "pronunciations", lambda: made)
    assert same_sound(["a", "a"], ["b"])
    assert same_sound(["a", "a", "a"], ["c"])
    assert same_sound(["c"], ["a", "a", "a"])
    assert same_sound(["b"], ["a", "a"])
    assert same_sound(["q", "q", "a", "a"], ["q", "q", "b"])  # the words before them do not count
    assert not same_sound(["a"], ["a", "a"])
    assert not same_sound(["a", "a", "a", "a"], ["b", "b"])
    assert not same_sound(["b", "b"], ["a", "a", "a", "a"])
    assert not same_sound(["a", "q"], ["b"])
    assert not same_sound(["q"], ["a"])


def test_the_names_of_the_features_are_those_that_the_weights_were_learned_for() -> None:
    table = json.loads(Path(agreement.__file__).with_name("decisions.json").read_text("utf-8"))
    assert {kind: len(weights) for kind, weights in table["weights"].items()} == dict.fromkeys(
        ("callout", "command", "digits"), len(agreement.FEATURES)
    )
    assert {len(weights) for weights in table["three"].values()} == {len(three.FEATURES)}
    assert all(math.isfinite(weight) for kind in ("weights", "three") for w in table[kind].values() for weight in w)


@pytest.mark.parametrize("weights", [len(agreement.FEATURES) - 1, len(agreement.FEATURES) + 1])
def test_decisions_with_a_weight_too_few_or_too_many_decide_nothing(weights: int) -> None:
    """Weights that were learned for other figures must not settle a height by luck."""
    others = {kind: [1.0] * weights for kind in settings().weights}
    with pytest.raises(ValueError, match="zip"):
        two(HEARD, CROSSED, replace(settings(), weights=others))


def test_the_shipped_decisions_are_those_of_the_file() -> None:
    table = json.loads(Path(agreement.__file__).with_name("decisions.json").read_text("utf-8"))
    read = settings.__wrapped__()  # not what was read before
    for name in ("weights", "agreed", "reach", "least_fit", "three", "mix", "sure", "agreed_three", "heard_before"):
        assert getattr(read, name) == table[name], name
    assert {"stop", "say_again"} <= set(read.harmless)
    assert "affirm" not in read.harmless


@pytest.mark.parametrize("odds", [-4.0, -0.5, 0.0, 1.5, 7.0])
def test_confidence_is_the_probability_of_the_odds(odds: float) -> None:
    """Outside reference: scipy.special.expit, the logistic function."""
    assert part(odds).confidence == pytest.approx(float(expit(odds)))


@pytest.mark.parametrize("odds", [(2.0,), (2.0, 3.0), (-1.0, 0.5, 4.0), (5.0, 5.0, 5.0)])
def test_parts_are_all_right_at_once_with_the_product_of_their_chances(odds: tuple[float, ...]) -> None:
    """Outside reference: scipy's logit and expit."""
    assert agreement.together(odds) == pytest.approx(float(logit(math.prod(map(expit, odds)))))


def test_no_parts_are_surely_all_right() -> None:
    assert agreement.together([]) == math.inf


def test_the_surest_part_is_taken_first() -> None:
    """Both would do alone, not together."""
    parts = [part(3.5, name="less"), part(4.0, name="more")]
    assert [one.agreement for one in agreed_parts(parts, 3.4)] == ["doubtful", "agreed"]


def guess(value: int, odds: float, name: str = "x") -> Guess:
    return Guess(name, value, odds)


def test_what_was_settled_is_settled_anew_when_it_is_heard_again() -> None:
    settled = replace(part(2.0), agreement="agreed")
    (once_more,) = heard_again([settled], [guess(2, 1.0)], 0.5, 4.0)
    assert (once_more.log_odds, once_more.agreement) == (1.0, "doubtful")  # another value takes its odds off, whole
    (once_more,) = heard_again([settled], [guess(1, 6.0)], 0.5, 4.0)
    assert (once_more.log_odds, once_more.agreement) == (5.0, "agreed")  # the same value adds half
    (unheard,) = heard_again([replace(part(2.0), agreement="missing")], [], 0.5, 4.0)
    assert (unheard.log_odds, unheard.agreement) == (2.0, "missing")


def test_the_weakest_part_is_the_least_likely_of_those_not_settled() -> None:
    parts = (
        replace(part(1.0, name="settled"), agreement="agreed"), part(3.0, name="likely"), part(2.0, name="less"),
    )  # fmt: skip
    assert Verdict(encoder("affirm", -1.0), Command(command="affirm"), parts, ()).weakest.name == "less"


def test_sound_that_resembles_the_language_is_hopeless() -> None:
    def hopeless(*parts: Weighed) -> bool:
        return Verdict(encoder("affirm", -1.0), Command(command="affirm"), parts, ()).hopeless

    assert hopeless(part(-1.0), part(-2.0))
    assert hopeless(part(-1.0, both=False), part(2.0, both=False))
    assert not hopeless(part(-1.0), part(2.0))
    assert not hopeless(part(0.5, both=False), part(0.0, both=False))


def test_the_parts_of_a_command_are_what_it_carries() -> None:
    order = Command(command="short", item=3, quantity=2)
    assert agreement.values(order) == {"command": "short", "item": 3, "quantity": 2}
