"""What may be taken for certain, on evidence made by hand: each case is a sentence about two ears."""

import math
from dataclasses import replace

import pytest

from callout.hearing.agreement import FEATURES, Weighed, heard_again, same_sound, settings, together, weigh
from callout.hearing.evidence import Asked, Evidence
from callout.hearing.judge import judge, reader, sense
from callout.hearing.search import HeardWord, SearchReading
from callout.hearing.vosk_ear import VoskReading
from callout.language import grammar
from callout.language.automaton import word_automaton
from callout.language.context import Context
from callout.language.outcome import Ambiguous, Guess, MeaningPart
from callout.language.resolve import resolve_text
from callout.values import Callout, Command, Length

WHOLE = "insertion eleven feet sixty"
SOUNDS: dict[str, int] = {}  # a number for each word, so that no two sound alike
FREE = tuple("IH N S ER SH AH N".split())  # noqa: SIM905


def encoder(text: str, score: float = -1.0, fit: float = -0.02) -> SearchReading:
    words = tuple(text.split())
    heard = tuple(HeardWord(word, 0.5 * n, 0.5 * n + 0.4, fit) for n, word in enumerate(words))
    return SearchReading(words, score, fit, tuple(SOUNDS.setdefault(word, len(SOUNDS)) for word in words), heard)


def vosk(text: str, score: float = -5.0) -> VoskReading:
    return VoskReading(tuple(text.split()), score)


def outcome(first: list[SearchReading], second: list[VoskReading], context: Context | None = None, **facts):
    evidence = Evidence(tuple(first), tuple(second), FREE, deaf=not second, **facts)
    return judge(evidence, context or Context())


def test_both_ears_far_ahead_of_any_rival_understand() -> None:
    result, readings, confidence = outcome([encoder(WHOLE)], [vosk(WHOLE)])
    assert result.outcome == "understood"
    assert result.meaning == Callout(insertion=Length.imperial(11), angle_deg=60)
    assert readings[0] == tuple(WHOLE.split())
    assert confidence is not None
    assert confidence > 0.9
    assert {part.name: part.agreement for part in result.parts} == dict.fromkeys(("insertion", "angle_deg"), "agreed")


def test_a_rival_as_good_is_asked_for_by_its_name() -> None:
    rival = "insertion eleven feet forty five"
    result, _, _ = outcome([encoder(WHOLE, -1.0), encoder(rival, -1.2)], [vosk(rival, -5.0), vosk(WHOLE, -5.1)])
    assert result.outcome == "ambiguous"
    assert result.ask == "angle_deg"
    agreement = {part.name: part.agreement for part in result.parts}
    assert agreement["angle_deg"] == "contested"
    assert any("angle_deg contested: 60 or 45" in reason for reason in result.reasons)


def test_the_ears_differ_and_the_part_is_not_taken() -> None:
    result, _, _ = outcome(
        [encoder(WHOLE, -1.0), encoder("insertion seven feet sixty", -3.0)], [vosk("insertion seven feet sixty")]
    )
    assert result.outcome == "ambiguous"
    assert result.ask == "insertion"
    assert any("the second ear heard: insertion seven feet sixty" in reason for reason in result.reasons)


@pytest.mark.parametrize("word", ["affirm", "yes", "affirm insertion", "that is correct"])
def test_a_word_that_releases_needs_both_ears(word: str) -> None:
    both, _, _ = outcome([encoder(word, -0.1, 0.0)], [vosk(word)])
    assert both.outcome == "understood"
    for second in ([vosk("negative")], [vosk("[unk]")], []):
        alone, _, _ = outcome([encoder(word, -0.1, 0.0)], second)
        assert alone.outcome != "understood"


@pytest.mark.parametrize("word", ["stop", "evacuate", "cease operations", "say again", "help"])
def test_a_command_that_moves_nothing_needs_one_ear(word: str) -> None:
    result, _, _ = outcome([encoder(word, -0.1, 0.0)], [vosk("[unk]")])
    assert result.outcome == "understood"


@pytest.mark.parametrize("word", ["next", "skip", "undo", "go ahead", "negative", "build two"])
def test_a_command_that_moves_something_needs_both(word: str) -> None:
    result, _, _ = outcome([encoder(word, -0.1, 0.0)], [vosk("[unk]")])
    assert result.outcome != "understood"


@pytest.mark.parametrize(("word", "rare"), [("back", "abort"), ("skip", "strike"), ("undo", "one two")])
def test_a_taught_command_is_taken_over_what_is_rarely_said(word: str, rare: str) -> None:
    """The second ear puts a line of people's own, or a figure alone, a little before the word that is taught; far
    before it, that word is asked for again."""
    near, _, _ = outcome([encoder(word, -0.1, 0.0)], [vosk(rare, -5.0), vosk(word, -5.8)])
    assert near.meaning == resolve_text(word).meaning
    far, _, _ = outcome([encoder(word, -0.1, 0.0)], [vosk(rare, -5.0), vosk(word, -7.0)])
    assert far.outcome == "ambiguous"


def test_another_taught_command_is_as_likely_as_it_sounds() -> None:
    result, _, _ = outcome([encoder("skip", -0.1, 0.0)], [vosk("stop", -5.0), vosk("skip", -5.8)])
    assert result.outcome != "understood"


@pytest.mark.parametrize(("word", "rare"), [("affirm", "abort"), ("yes", "what is"), ("affirm insertion", "forty")])
def test_a_yes_is_no_likelier_than_it_sounds(word: str, rare: str) -> None:
    result, _, _ = outcome([encoder(word, -0.1, 0.0)], [vosk(rare, -5.0), vosk(word, -5.2)])
    assert result.outcome != "understood"


def test_what_people_say_for_the_same_is_no_other_meaning() -> None:
    plain = outcome([encoder("evacuate", -0.1, 0.0)], [vosk("evacuate", -5.0)])
    own = outcome([encoder("evacuate", -0.1, 0.0)], [vosk("evacuate the site", -5.0)])
    assert plain[2] == own[2]


def test_a_word_that_the_second_ear_lacks_is_named() -> None:
    result, _, _ = outcome([encoder("out of struts")], [vosk("[unk]")], vosk_lacks=frozenset({"struts"}))
    assert result.outcome == "ambiguous"
    assert "the second ear does not know: struts" in result.reasons


def test_what_fits_the_free_phones_badly_has_no_meaning() -> None:
    least = settings().least_fit["command"]
    result, readings, confidence = outcome([encoder("affirm", -40.0, least - 0.5)], [vosk("[unk]")])
    assert result.outcome == "not_understood"
    assert readings == ()
    assert confidence is None


def fitting(text: str, *fits: float) -> SearchReading:
    """As `encoder`, each word with a fit of its own."""
    reading = encoder(text)
    return replace(reading, heard=tuple(replace(w, fit=f) for w, f in zip(reading.heard, fits, strict=True)))


@pytest.mark.parametrize(
    ("heard", "fits", "taken"),
    [
        ("cancel please", (-0.1, -0.1), True),
        ("cancel please", (-1.3, 0.0), False),  # "pencil please"
        ("cancel please", (0.0, -1.3), True),  # a "please" swallowed by the noise
        ("go ahead", (-1.5, 0.0), False),  # "snow ahead"
        ("undo that", (0.0, -1.3), True),
        ("what's next", (-1.5, 0.0), True),  # said all day, and a step back mends it
        ("stop that", (-1.5, 0.0), True),  # stops only the voice: better once too often
        ("cancel", (-0.9,), True),  # a word alone is weighed by its own fit
    ],
)
def test_a_word_that_makes_the_command_fits_by_itself(heard: str, fits: tuple[float, ...], taken: bool) -> None:
    result, _, _ = outcome([fitting(heard, *fits)], [vosk(heard)], Context(state="walk"))
    assert result.outcome == ("understood" if taken else "ambiguous")


@pytest.mark.parametrize(
    ("heard", "second", "taken"),
    [
        ("yes", [vosk("yes", -4.0), vosk("yeah", -9.0)], True),
        ("yes", [vosk("yes", -6.0), vosk("yeah", -8.0)], False),  # "yeah"
        ("yes", [vosk("yes", -6.0), vosk("[unk]", -8.0)], False),  # "guess"
        ("affirm", [vosk("affirm", -6.0), vosk("[unk]", -8.0)], True),
        ("yes affirm", [vosk("yes affirm", -6.0), vosk("[unk]", -8.0)], True),
    ],
)
def test_a_lone_yes_is_far_ahead_to_the_second_ear(heard: str, second: list[VoskReading], taken: bool) -> None:
    phones = 5 if heard == "affirm" else 3 * len(heard.split())
    result, _, _ = outcome([replace(encoder(heard), sound=(1,) * phones)], second, Context(state="confirm"))
    assert result.outcome == ("understood" if taken else "ambiguous")


def test_nothing_said_is_nothing() -> None:
    assert judge(Evidence((), (), (), silent=True))[0].outcome == "nothing"
    assert judge(Evidence((), (), ("S",)))[0].outcome == "nothing"
    assert judge(Evidence((), (), FREE))[0].outcome == "not_understood"


def test_a_late_key_is_named() -> None:
    result, _, _ = outcome([], [vosk("[unk]")], late_key=True)
    assert any("wait half a second" in reason for reason in result.reasons)


def test_words_of_one_sound_do_not_contest_each_other() -> None:
    one, other = encoder("build two"), replace(encoder("build two"), words=("build", "too"), score=-1.0)
    verdict = weigh(Evidence((other, one), (vosk("build two"),), FREE), reader(), settings())
    assert verdict is not None
    assert verdict.rivals == ()


@pytest.mark.parametrize("chances", [(0.5,), (0.9, 0.9), (0.99, 0.98, 0.999), (0.2, 0.7)])
def test_parts_together_are_as_sure_as_independent_events(chances: tuple[float, ...]) -> None:
    """Outside check: the product rule for independent events of every textbook of probability."""
    whole = math.prod(chances)
    found = together([math.log(p / (1 - p)) for p in chances])
    assert found == pytest.approx(math.log(whole / (1 - whole)))


@pytest.mark.parametrize(("odds", "agreed"), [(3.8, 0), (4.2, 1), (4.5, 1), (4.7, 2), (6.0, 2)])
def test_parts_that_are_sure_alone_are_not_all_taken_when_one_of_them_is_likely_wrong(odds: float, agreed: int) -> None:
    """At 4.5 each of two parts is wrong once in ninety; one of the two is wrong more often than one in fifty."""
    alike = {kind: [odds] + [0.0] * (len(FEATURES) - 1) for kind in settings().weights}
    evidence = Evidence((encoder(WHOLE),), (vosk(WHOLE),), FREE)
    verdict = weigh(evidence, reader(), replace(settings(), weights=alike))
    assert verdict is not None
    assert [part.log_odds for part in verdict.parts] == [odds, odds]
    assert sum(part.agreement == "agreed" for part in verdict.parts) == agreed
    assert verdict.agreed == (agreed == 2)


def test_sounds_alike() -> None:
    assert same_sound(["insertion", "four", "feet"], ["insertion", "four", "feet"])
    assert not same_sound(["insertion", "four", "feet"], ["insertion", "five", "feet"])
    assert not same_sound(["affirm"], ["affirm", "affirm"])


def test_words_that_both_ears_have_are_one_sound_however_many_and_whatever_they_are() -> None:
    spelt = ["insertion", "eleven", "feet", "angle", "six", "tee"]
    assert same_sound(spelt, ["insertion", "eleven", "feet", "angle", "sixty"])
    assert same_sound(["[unk]", *spelt], ["[unk]", *spelt[:4], "sixty"])  # a word that is not of the language
    assert not same_sound(spelt, ["insertion", "eleven", "feet", "angle", "fifty"])


def test_a_bare_value_answers_what_was_asked() -> None:
    result, _, _ = outcome([encoder("eleven feet")], [vosk("eleven feet")], Context(state="gather", asked="insertion"))
    assert result.outcome == "understood"
    assert result.meaning == Callout(insertion=Length.imperial(11))
    assert "insertion" in {part.name for part in result.parts}


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (WHOLE, "complete"),
        ("insertion eleven feet", "half"),
        ("angle sixty", "half"),
        ("affirm", "complete"),
        ("", "nothing"),
    ],
)
def test_how_much_has_been_said(words: str, expected: str) -> None:
    assert sense(tuple(words.split())) == expected


def test_what_is_the_second_ears_first_and_this_ears_second_choice_is_never_taken_by_one_ear() -> None:
    heard = [encoder(WHOLE, -1.0), encoder("insertion seven feet sixty", -14.0)]
    crossed, _, _ = outcome(heard, [vosk("insertion seven feet sixty", -5.0), vosk(WHOLE, -6.0)])
    assert crossed.outcome == "ambiguous"
    assert crossed.ask == "insertion"
    elsewhere, _, _ = outcome([encoder(WHOLE, -1.0)], [vosk("insertion five feet sixty", -5.0), vosk(WHOLE, -5.5)])
    assert elsewhere.outcome == "understood"


def test_a_correction_that_lost_its_end_is_no_yes() -> None:
    said = {state: bare_words(Context(state=state)) for state in (None, *grammar.load().states)}
    assert {"affirm", "correction"} <= said[None]
    assert not [state for state, words in said.items() if "correct" in words]
    assert resolve_text("correct").meaning == Command(command="affirm")  # typed


def bare_words(context: Context) -> set[str]:
    """The words that are a whole sentence to the ears."""
    words = word_automaton(context)
    return {word for source, target, word in words.arcs if source == words.start and target in words.finals}


def test_a_digit_needs_one_ear_only() -> None:
    digits = Context(state="digits")
    third = (Asked(encoder("seven"), -2.0, 3), Asked(encoder("eight"), -8.0, 3))
    heard, _, _ = outcome([encoder("seven")], [vosk("eight", -5.0), vosk("seven", -6.0)], digits, third=third)
    assert heard.outcome == "understood"
    assert heard.meaning == Command(command="digits", part="7", quantity=7)
    commanded, _, _ = outcome([encoder("skip")], [vosk("eight", -5.0), vosk("skip", -7.0)])
    assert commanded.outcome == "ambiguous"


def test_a_command_whose_beginning_was_lost_is_asked_for() -> None:
    """"Read back" whose start was cut is "back", another command; "affirm" is the end of no other."""
    whole, _, _ = outcome([encoder("back")], [vosk("back")])
    cut, _, _ = outcome([encoder("back")], [vosk("back")], late_key=True)
    assert whole.outcome == "understood"
    assert cut.outcome == "ambiguous"
    yes, _, _ = outcome([encoder("affirm insertion")], [vosk("affirm insertion")], late_key=True)
    assert yes.outcome == "understood"


def test_a_digit_of_which_one_phone_was_left_is_speech() -> None:
    left = Evidence((encoder("eight"),), (vosk("eight"),), ("EY",))
    assert judge(left, Context(state="digits"))[0].outcome == "understood"
    assert judge(left)[0].outcome == "nothing"


def test_a_second_hearing_of_the_same_value_counts_and_one_of_another_is_asked_again():
    """Rows: log-odds of this hearing, what was guessed before and how surely; whether the part is taken at 3.9. With a
    quarter of 3.6 added 3.2 suffices; another value heard at 4.5 does not, after a guess at 2."""
    feet = {name: Length.imperial(n) for name, n in (("fifteen", 15), ("fifty", 50))}
    table = [
        (3.2, (), False), (3.2, (("fifteen", 3.6),), True), (2.5, (("fifteen", 3.6),), False),
        (4.5, (("fifty", 2.0),), False), (4.5, (), True), (7.0, (("fifty", 2.0),), True),
    ]  # fmt: skip
    for odds, before, taken in table:
        part = Weighed("insertion", feet["fifteen"], None, (), "callout", "callout", True, False, odds, "doubtful")
        guesses = [Guess("insertion", feet[name], sure) for name, sure in before]
        (found,) = heard_again([part], guesses, 0.25, 3.9)
        assert (found.agreement == "agreed") is taken, (odds, before)


def test_what_a_part_in_doubt_was_likeliest_to_be_is_a_guess_and_what_is_unlikely_is_none():
    height = Length.imperial(15)
    parts = (
        MeaningPart("insertion", height, 0.9, "doubtful"), MeaningPart("angle_deg", 60, 0.3, "contested"),
        MeaningPart("rakers", 2, 0.999, "agreed"),
    )  # fmt: skip
    (guess,) = Ambiguous((Callout(insertion=height),), "insertion", (), parts).guesses
    assert (guess.name, guess.value) == ("insertion", height)
    assert guess.log_odds == pytest.approx(math.log(9))
