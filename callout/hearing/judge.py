"""From evidence to an outcome: silence, speech without a meaning, a part to ask for, or understood."""

from __future__ import annotations

from dataclasses import replace

from callout.hearing.agreement import (
    DecisionSettings,
    Meanings,
    Verdict,
    Weighed,
    heard_again,
    heard_first,
    kind_of,
    second_ear,
    settings,
    theirs_of,
    weigh,
)
from callout.hearing.agreement_of_three import weigh_three
from callout.hearing.evidence import Evidence
from callout.hearing.segmenter import Sense
from callout.hearing.states import pronunciations
from callout.language.automaton import WordAutomaton, word_automaton
from callout.language.commands import command_row, commands_that
from callout.language.context import EVERYTHING, Context
from callout.language.nearest import light_words
from callout.language.outcome import (
    Ambiguous,
    Hypothesis,
    MeaningPart,
    Nothing,
    NotUnderstood,
    Resolution,
    Understood,
)
from callout.language.parse import Span, fold, folded_from, parse
from callout.language.resolve import resolve
from callout.language.usual import begins_usual, usual
from callout.values import Callout, Command, Length, Meaning

STANDARD = (30, 45, 60)  # the angles at which rakers are built
FEWEST_PHONES = 2  # "no", "two", "eight": no word of the language has fewer
_FEW_WORDS, _FEW_PHONES = 3, 3
_FAR = 4.0  # nats between the second ear's readings
LATE_KEY = "the start was cut off; press the key, wait half a second, then speak"

Meant = tuple[Meaning, tuple[Span, ...]]
Answer = tuple[Resolution, tuple[tuple[str, ...], ...], "float | None"]


def judge(
    evidence: Evidence, context: Context = EVERYTHING, chosen: DecisionSettings | None = None, *, surely: bool = False,
    meanings: Meanings | None = None,
) -> Answer:  # fmt: skip
    """(outcome, readings best first, confidence). The outcome is Understood only when every part is agreed; `surely`,
    only when two ears are so sure that no third opinion is worth its time. `meanings` is the `reader` of the utterance,
    where there is one already."""
    chosen = chosen or settings()
    if surely:
        chosen = replace(chosen, agreed=chosen.sure)
    if not speech(evidence, context):
        return Nothing(reasons=("no speech",)), (), None
    meanings = meanings or reader(context)
    verdict = (weigh_three if evidence.third else weigh)(evidence, meanings, chosen)
    if verdict is None or verdict.reading.fit < chosen.least_fit[kind_of(verdict.meaning)] or verdict.hopeless:
        return _no_meaning(evidence), (), None
    if _carried_by_another_word(verdict, chosen) or _short_yes_in_doubt(verdict, evidence, meanings):
        verdict = replace(verdict, parts=tuple(replace(part, agreement="doubtful") for part in verdict.parts))
    if isinstance(verdict.meaning, Callout) and context.guesses:  # never a command: a yes is heard twice or keyed
        least = (chosen.agreed_three if evidence.third else chosen.agreed)["callout"]
        verdict = replace(verdict, parts=heard_again(verdict.parts, context.guesses, chosen.heard_before, least))
    readings = tuple(dict.fromkeys((verdict.reading.words, *(reading.words for reading in evidence.encoder))))
    best = verdict.reading.words
    resolution = resolve([Hypothesis(best)], context)
    confidence = round(min(part.confidence for part in verdict.parts), 3)
    parts = tuple(_part(weighed) for weighed in verdict.parts if weighed.value is not None)
    if isinstance(resolution, (NotUnderstood, Nothing)):
        return resolution, readings, None
    if not verdict.agreed or (evidence.late_key and _end_of_longer(verdict, context)):
        return _asked(verdict, evidence, parts), readings, confidence
    return replace(resolution, parts=parts), readings, confidence


def settled(resolution: Resolution) -> bool:
    """Whether two ears are enough: what they understood, and silence. Anything else is worth a third opinion."""
    return not isinstance(resolution, (Ambiguous, NotUnderstood))


def speech(evidence: Evidence, context: Context = EVERYTHING) -> bool:
    """Whether anything was said. In the state of digits one phone is enough: a digit cut tight may lose the other."""
    return not evidence.silent and len(evidence.free) >= (1 if context.state == "digits" else FEWEST_PHONES)


def reader(context: Context = EVERYTHING) -> Meanings:
    """What word sequences mean in a context, each looked up once. A bare value means the part that was asked for."""
    seen: dict[tuple[str, ...], list[Meant]] = {}

    def meanings(words: tuple[str, ...]) -> list[Meant]:
        if words not in seen:
            seen[words] = _meant(words, context)
        return seen[words]

    return meanings


def sense(words: tuple[str, ...], context: Context = EVERYTHING) -> Sense:
    """Whether words say a whole callout or command, half of a callout, or nothing yet."""
    meant = [meaning for meaning, _ in _meant(words, context)]
    if not meant:
        return "nothing"
    return "half" if any(isinstance(m, Callout) and m.missing for m in meant) else "complete"


def sense_of(
    resolution: Resolution, words: tuple[str, ...], context: Context = EVERYTHING, network: WordAutomaton | None = None
) -> Sense:
    """The same of what both ears heard: "whole" where they are sure of it and nothing longer begins so, "again" where
    they are sure of a command that has the mark, "half" of an acknowledgement. `network` is that of the context's
    state, where it is at hand."""
    found = sense(words, context) if words else "nothing"
    if found != "complete" or not isinstance(resolution, Understood):
        return found
    name = resolution.meaning.command if isinstance(resolution.meaning, Command) else ""
    if name in commands_that("acknowledges"):
        return "half"
    if _is_final(words, context, network or word_automaton(context)):
        return "whole"
    return "again" if name in commands_that("again") else found


def _is_final(words: tuple[str, ...], context: Context, network: WordAutomaton) -> bool:
    """Whether nothing that means something else begins with these words.

    More may always follow a callout, and the conversation adds it to the readback that waits. But no figure must be
    cut in two: it is final where its last word is of an angle, and not of one that a standard angle begins with
    (forty, forty five).
    """
    ((meaning, parts), *others) = _meant(words, context)
    if not isinstance(meaning, Callout):
        alike = all(does(other) == does(meaning) for other, _ in others)
        return alike and _stays(meaning, words, context, network, most=6)
    last = max(parts, key=lambda part: part.end)
    if others or last.name != "angle_deg":
        return False
    return last.value % 10 != 0 or all(not last.value < angle < last.value + 10 for angle in STANDARD)


def _stays(meaning: Meaning, words: tuple[str, ...], context: Context, network: WordAutomaton, most: int) -> bool:
    """Whether whatever may follow, up to `most` words until it is something again, is the same once more. Of what may
    follow a command that is answered soon only what is taught counts: "next build" is rare, and "next" said all day."""
    soon = isinstance(meaning, Command) and meaning.command in commands_that("soon") and usual(words)
    for word in network.next(words):
        longer = (*words, word)
        if soon and not begins_usual(longer):
            continue
        found = {does(meant) for meant, _ in _meant(longer, context)}
        if found != {does(meaning)} and (found or most == 1 or not _stays(meaning, longer, context, network, most - 1)):
            return False
    return True


def does(meaning: Meaning) -> Meaning:
    """What a meaning does: "next" and "ready" are two words for one thing."""
    same = "" if isinstance(meaning, Callout) else command_row(meaning.command).same_as
    return meaning.model_copy(update={"command": same}) if same else meaning


def _meant(words: tuple[str, ...], context: Context) -> list[Meant]:
    places = folded_from(words)
    end_of = {folded + 1: place + 1 for folded, place in enumerate(places)}

    def in_words(span: Span) -> Span:
        start = places[span.start]
        return replace(span, start=start, end=end_of[span.end] if span.end > span.start else start)

    return [(meaning, tuple(map(in_words, spans))) for meaning, spans in _meant_folded(words, context)]


def _meant_folded(words: tuple[str, ...], context: Context) -> list[Meant]:
    """The spans are places in the folded words: "we're" is two."""
    found = parse(words, context)
    if len(found) < 2 and not any(_bare(reading.meaning) for reading in found):
        return [(reading.meaning, reading.parts) for reading in found]
    resolved = resolve([Hypothesis(words)], context)
    some = resolved.candidates if isinstance(resolved, Ambiguous) else (resolved.meaning,)
    spans = {reading.meaning: reading.parts for reading in found}
    named = tuple(replace(span, name=context.asked or span.name) for span in found[0].parts)
    chosen = [(meaning, spans.get(meaning, named)) for meaning in some if meaning is not None]
    return chosen or [(reading.meaning, reading.parts) for reading in found]


def _bare(meaning: Meaning) -> bool:
    return isinstance(meaning, Command) and meaning.command.startswith("bare")


def _end_of_longer(verdict: Verdict, context: Context) -> bool:
    """Whether a command could be the end of another one whose first word was lost: "back" of "read back"."""
    meaning, words = verdict.meaning, verdict.reading.words
    if isinstance(meaning, Callout) or meaning.command == "digits" or len(words) > 2:
        return False
    return any(
        isinstance(found.meaning, Command) and found.meaning.command != meaning.command
        for first in pronunciations()
        for found in parse((first, *words), context)
    )


def _carried_by_another_word(verdict: Verdict, chosen: DecisionSettings) -> bool:
    """Whether a word that makes a command what it is fits the sound badly beside others that fit well: "pencil please"
    is no "cancel please", though all but its start is there. Only of what moves something and has no figures, which
    are weighed by themselves; not of the words of the walk, said all day. Words that change nothing ("please", "it")
    may be swallowed, and a long sentence has others to be known by."""
    if any(p.stake != "command" or p.name != "command" or p.value in commands_that("walk") for p in verdict.parts):
        return False
    heard = verdict.reading.heard
    least = chosen.least_fit["word of a command"]
    return 1 < len(heard) <= _FEW_WORDS and any(
        word.fit < least and not set(fold((word.word,))) <= light_words() for word in heard
    )


def _short_yes_in_doubt(verdict: Verdict, evidence: Evidence, meanings: Meanings) -> bool:
    """Whether a lone "yes" is not far ahead to the second ear: to the first "yeah", "yep" and "guess" are the same, and
    none of them releases anything. "Affirm" is longer, and taught for that."""
    reading, meaning = verdict.reading, verdict.meaning
    if isinstance(meaning, Callout) or meaning.command not in commands_that("affirmative") or evidence.deaf:
        return False
    if len(reading.words) > 1 or len(reading.sound) > _FEW_PHONES:
        return False
    return second_ear(theirs_of(evidence, reading, meanings), "command", meaning.command)[0] < _FAR


def _no_meaning(evidence: Evidence) -> Resolution:
    reasons = ["speech that is no callout and no command"]
    if evidence.late_key:
        reasons.append(LATE_KEY)
    return NotUnderstood(words=(), reasons=tuple(reasons))


def _asked(verdict: Verdict, evidence: Evidence, parts: tuple[MeaningPart, ...]) -> Resolution:
    """Ask for one part, by its name; a command that is not sure is said again whole."""
    weakest = verdict.weakest
    unsure = [part for part in verdict.parts if part.agreement != "agreed"]
    reasons = [_reason(part) for part in sorted(unsure, key=lambda part: part.log_odds)]
    other = heard_first(evidence.vosk)
    if evidence.deaf:
        reasons.append("only one ear heard it")
    elif other and other != verdict.reading.words:
        reasons.append(f"the second ear heard: {' '.join(other)}")
    lacking = sorted(set(verdict.reading.words) & evidence.vosk_lacks)
    if lacking:
        reasons.append(f"the second ear does not know: {', '.join(lacking)}")
    if evidence.mute:
        reasons.append(evidence.mute)
    if evidence.late_key:
        reasons.append(LATE_KEY)
    candidates = (verdict.meaning, *(rival for rival in verdict.rivals if isinstance(rival, Callout)))
    return Ambiguous(
        candidates=candidates, ask=weakest.name, words=verdict.reading.words, parts=parts, reasons=tuple(reasons)
    )


def _reason(part: Weighed) -> str:
    def shown(value: object) -> str:
        if value is None:
            return "nothing"
        return value.text if isinstance(value, Length) else str(value)

    if part.agreement == "contested":
        return f"{part.name} contested: {shown(part.value)} or {shown(part.rival)}"
    return f"{part.name} doubtful: {shown(part.value)}"


def _part(weighed: Weighed) -> MeaningPart:
    return MeaningPart(weighed.name, weighed.value, round(weighed.confidence, 3), weighed.agreement)
