"""From what was heard or typed to what it means, in the context of the conversation. Every outcome is a value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from callout.language import grammar, limits, own_words
from callout.language.alarms import UNIT_WORDS, alarm_in, is_none, may_be_alarm
from callout.language.asides import both_counted, in_time, instead, only_leaves
from callout.language.bare_values import answered, ask_bare, name_bare
from callout.language.clauses import begins_with_an_alarm, ends_in_a_thing, one_of_several
from callout.language.commands import command_row, commands_that
from callout.language.context import EVERYTHING, Context
from callout.language.cribsheet import spoken_help
from callout.language.doubtful import Pairs, count_or_figure, takes_a_crews_number, without_joined
from callout.language.examples import by_examples
from callout.language.freely import asks_for_a_shore, freely
from callout.language.left_open import asked_of, inches_alone, refused
from callout.language.nearest import makes_sense, near_command, nearest_sentences, same_gist
from callout.language.numerals import NUMBER_WORDS
from callout.language.outcome import (
    Ambiguous,
    Hypothesis,
    MeaningPart,
    Near,
    Nothing,
    NotPossible,
    NotUnderstood,
    Resolution,
    Understood,
)  # fmt: skip
from callout.language.parse import MOST_WORDS, Reading, fold, parse
from callout.language.pronunciation import are_twins
from callout.language.reasons import beside_its_reason
from callout.language.semantic_actions import LENGTH_PARTS
from callout.language.speak import readback
from callout.language.surroundings import of_a_landmark
from callout.language.typed import LONGEST, typed_words
from callout.values import Callout, Command, Meaning

_MOST_HYPOTHESES = 10
_NAMES = {
    "insertion": "the insertion", "span": "the width", "angle_deg": "the angle", "rakers": "the number of rakers",
    "spacing": "the spacing", "wall_height": "the wall height", "wall_thickness": "the wall thickness",
    "lean": "the lean", "sole": "the sole", "kind": "the kind of shore", "ground": "the ground",
    "position": "the position", "place": "the place", "for_whom": "who it is for",
}  # fmt: skip


def resolve(hypotheses: Sequence[Hypothesis], context: Context = EVERYTHING) -> Resolution:
    """The best meaning of an utterance that the context allows. `hypotheses` are word sequences, best first.

    A better-heard reading that the context does not allow is set aside, and the reasons say so. Where the runner-up
    differs by a near twin, that part is stressed in the readback, or asked for alone when it is as good.
    """
    heard = [h for h in sorted(hypotheses, key=lambda h: -h.score) if h.words][:_MOST_HYPOTHESES]
    if not heard:
        return Nothing()
    results = [(h, _judge(h.words, _readings(h.words, context), context)) for h in heard]
    first = next((i for i, (_, result) in enumerate(results) if result is not None), len(results))
    for i, (best, result) in enumerate(results[first:], first):
        if results[first][0].score - best.score > limits.twin_limits().set_aside:
            break
        if isinstance(result, (Understood, Ambiguous)):
            chosen = _with_set_aside(result, results[:i])
            return _weigh_twins(chosen, best, results[i + 1 :]) if isinstance(chosen, Understood) else chosen
    for _, result in results:
        if result is not None:
            return result
    return _unreadable(heard[0].words, context)


def resolve_text(text: str, context: Context = EVERYTHING) -> Resolution:
    """The meaning of a typed line: the same path as speech, after figures, marks and short units are written out."""
    if context.state == own_words.ASKS_WORDS:  # any words would do there, and so would a cry
        elsewhere = resolve_text(text, replace(context, state="idle"))
        if isinstance(elsewhere.meaning, Command) and elsewhere.meaning.command in commands_that("alarm"):
            return elsewhere
    typed = typed_words(text)
    if len(text) <= LONGEST and (taught := own_words.taught_by(text)) is not None:
        return taught
    if typed.fault is not None:
        alarm = alarm_in(fold(typed.words))
        return NotUnderstood(typed.words, reasons=(typed.fault,)) if alarm is None else _command_of(typed.words, alarm)
    if not typed.words:
        return Nothing()
    words = typed.words
    if only_leaves(words):
        return Nothing(words, reasons=("somebody leaves: nothing to do",))
    parted = frozenset((fold((a,))[-1], fold((b,))[0]) for a, b in typed.parted)
    readings = parse(words, context, atoms=typed.atoms)
    if all(r.is_bare for r in readings) and typed.short:
        lead = ("insertion", *words)
        short = _readings(lead, context, frozenset(a + 1 for a in typed.atoms))
        if any(isinstance(r.meaning, Callout) and not r.meaning.missing for r in short):
            words, readings = lead, short
    readings = readings or _wider(words, context, typed.atoms)
    if not readings and (before := _before_over(words)):
        words, readings = before, _readings(before, context, typed.atoms)
    if words[-1] in _AFTERTHOUGHTS and readings and all("broken off" in r.notes for r in readings):
        words = words[:-1]  # "four rakers, actually": nothing was begun
        readings = _readings(words, context, typed.atoms)
    words, readings = _with_height(words, readings, context, typed.atoms)
    result = _judge(words, readings, context, parted)
    result = refused(words, result) or result
    moved = not UNIT_WORDS.intersection(words) and _is_a_change(result)  # "the wall has moved", and not by how much
    if (moved or not isinstance(result, Understood)) and (alarm := alarm_in(fold(words), told=moved)) is not None:
        return _command_of(words, alarm)
    if result is None and (answer := own_words.answered(text, context)) is not None:
        return answer
    if result is None:
        asks = text.rstrip().endswith("?")
        result = _unreadable(words, context, typed.atoms, parted, typed=True, asks=asks)
    result = instead(in_time(result, context), context)
    if text.rstrip().endswith("?") and _does_something(result):
        said = " ".join(words)
        return NotUnderstood(words, (said,), reasons=(f'"{said}?" asks: to mean it, say it without asking',))
    if words.count("insertion") > typed.words.count("insertion") and isinstance(result, Understood):
        result = replace(result, reasons=(*result.reasons, 'shorthand: read with "insertion" before it'))
    return replace(result, parts=tuple(replace(p, confidence=1.0) for p in result.parts))


def _is_a_change(result: Resolution | None) -> bool:
    meaning = result.meaning if isinstance(result, Understood) else None
    return isinstance(meaning, Command) and meaning.command == "happened" and meaning.part == "change"


def _before_over(words: tuple[str, ...]) -> tuple[str, ...]:
    """What was said before a closing "over"; nothing where it does not end so."""
    for closing in (("over",), ("over", "and", "out")):
        if words[-len(closing) :] == closing:
            return words[: -len(closing)]
    return ()


#: At the end of what was said, they begin no correction.
_AFTERTHOUGHTS = frozenset({"actually", "sorry", "rather", "mean"})
#: What names a length the distance between rakers, before or after it.
_OF_SPACING = frozenset({"spacing", "spaced", "apart", "center", "centers", "on", "between"})


def _with_height(
    words: tuple[str, ...], readings: list[Reading], context: Context, atoms: frozenset[int]
) -> tuple[tuple[str, ...], list[Reading]]:
    """ "Two rakers at twelve feet sixty", typed while no callout waits: a length after the rakers that nothing else
    names, beside an angle, is the height. Heard, it is the spacing of a half whose height is asked for."""
    halfway = context.waiting is not None or context.asked is not None or (context.state or "").startswith("gather")
    at = None if halfway else next((at for r in readings if (at := _unnamed_height(r, words)) is not None), None)
    if at is None:
        return words, readings
    named = (*words[:at], "insertion", *words[at:])
    whole = _readings(named, context, frozenset(a if a < at else a + 1 for a in atoms))
    return (named, whole) if whole else (words, readings)


def _unnamed_height(reading: Reading, words: tuple[str, ...]) -> int | None:
    """Where a length begins that was taken for the spacing only because it follows the rakers."""
    parts = {part.name: part for part in reading.parts}
    if "insertion" in parts or not {"rakers", "angle_deg"} <= parts.keys():
        return None
    after = parts["rakers"].end
    for part in reading.parts:
        named = _OF_SPACING & {*words[after : part.start + 1], *words[part.end - 1 : part.end + 1]}
        if part.name == "spacing" and after == part.start and not named:
            return part.start
    return None


def _does_something(result: Resolution) -> bool:
    meaning = result.meaning if isinstance(result, Understood) else None
    return isinstance(meaning, Command) and meaning.command in commands_that("moves")


def _readings(words: Sequence[str], context: Context, atoms: frozenset[int] = frozenset()) -> list[Reading]:
    """The readings by the grammar; where it has none, by the wider one, as far as that has no complaint."""
    return parse(words, context, atoms=atoms) or _wider(words, context, atoms)


def _wider(words: Sequence[str], context: Context, atoms: frozenset[int]) -> list[Reading]:
    readings = [r for r in parse(words, context, wide=True, atoms=atoms) if not limits.complaint(r)]
    told = fold(words)
    return [r for r in readings if not takes_a_crews_number(told, r.parts) and not of_a_landmark(told, r.parts)]


def _judge(
    said: Sequence[str], readings: Sequence[Reading], context: Context, parted: Pairs = frozenset()
) -> Resolution | None:
    """What the readings of one word sequence come to; None where there is none. No number goes on between two words
    that are `parted`."""
    words = fold(said)
    named = [r for reading in readings for r in name_bare(reading, context)]
    bare = next((r for r in readings if r.is_bare), None)
    several = context.asked in LENGTH_PARTS and not all(r.is_bare for r in readings) and not answered(named, context)
    if bare is not None and (not named or several):
        return ask_bare(words, bare, context)
    if not named:
        return None
    fine = [(r, trouble) for r in named for trouble in (limits.trouble(r, context),)]
    good = [r for r, trouble in fine if trouble is None]
    if not good:
        reading, trouble = fine[0]
        assert trouble is not None
        impossible = NotPossible(reading.meaning, words, trouble.reason, trouble.nearest, reading.meaning_parts)
        return inches_alone(words, reading, context) or impossible
    good = without_joined(_settled(good, context), words, parted)
    first = good[0]
    if isinstance(first.meaning, Command) and first.meaning.command == "closing":
        return Nothing(words, reasons=("a closing: nothing to do",))
    if len(good) > 1:
        return _several_readings(words, good)
    if first.others:
        return _several_callouts(words, first)
    if "broken off" in first.notes:
        ask = "insertion" if not isinstance(first.meaning, Callout) else next(iter(reversed(first.meaning.said)))
        reason = "the correction was begun and not finished: say it again"
        return Ambiguous((first.meaning,), ask, words, first.meaning_parts, (reason,))
    twice = [n for n in first.notes if n.startswith("twice ")]
    if twice:
        name = twice[0].split()[1]
        return Ambiguous((first.meaning,), name, words, first.meaning_parts, (f"{_NAMES[name]} was said twice",))
    counted = count_or_figure(first.words or words, first.parts, parted)
    if counted is not None:
        reason = f"a count, or a figure of {_NAMES[counted]}: say the rakers and each length apart"
        return Ambiguous((first.meaning,), counted, words, first.meaning_parts, (reason,))
    if (left_open := asked_of(words, first, context, parted)) is not None:
        return left_open
    remarks, meaning = _remarks(first.meaning, words), first.meaning
    if isinstance(meaning, Command):
        meaning = both_counted(meaning, words)
    return Understood(meaning, words, (readback(meaning),), first.meaning_parts, remarks)


def _settled(readings: list[Reading], context: Context) -> list[Reading]:
    """Of several readings: each meaning once; none that has a part twice where another has none ("three metres forty
    five, angle sixty"); none that another says too, and more; of commands that move nothing the first; and the field's
    stop words first."""
    each = list({r.meaning: r for r in reversed(readings)}.values())[::-1]
    patches = [r.meaning.patch for r in each if isinstance(r.meaning, Command) and r.meaning.patch is not None]
    if patches:  # "it is forty five degrees" corrects what waits, and calls out where nothing does
        each = [r for r in each if r.meaning not in patches or context.waiting is None]
        each = [r for r in each if context.waiting is not None or not isinstance(r.meaning, Command)] or each
    each = [r for r in each if not any(_says_less(r.meaning, other.meaning) for other in each)]
    once = [r for r in each if not any(note.startswith("twice ") for note in r.notes)] or each
    if {getattr(r.meaning, "command", "") for r in once} == {"ready", "go_ahead"}:
        once = [r for r in once if getattr(r.meaning, "command", "") == "ready"]  # "keep going", in the walk
    quiet, stops = commands_that("harmless"), commands_that("alarm")
    stopping = [r for r in once if isinstance(r.meaning, Command) and r.meaning.command in stops]
    if stopping:
        return stopping[:1]
    if all(isinstance(r.meaning, Command) and r.meaning.command in quiet for r in once):
        return once[:1]
    return once


def _says_less(meaning: Meaning, other: Meaning) -> bool:
    """Whether a command is another, but for a number or a part that the other has too: "ready", "ready, all four"."""
    if not isinstance(meaning, Command) or not isinstance(other, Command) or meaning == other or meaning.patch:
        return False
    return meaning == other.model_copy(update={name: None for name, value in meaning if value is None})


def _remarks(meaning: Meaning, words: tuple[str, ...] = ()) -> tuple[str, ...]:
    if not isinstance(meaning, Callout):
        bare = meaning.patch is not None and meaning.patch.insertion is not None and "insertion" not in words
        return ("a length without a name: taken for the insertion",) if bare else ()
    return tuple(f"{_NAMES[name].removeprefix('the ')} not said" for name in meaning.missing)


def _several_readings(words: tuple[str, ...], readings: Sequence[Reading]) -> Resolution:
    meanings = tuple(r.meaning for r in readings)
    names = _differences(meanings[0], meanings[1])
    ask = names[0] if names else "command"
    heard = " or ".join(f'"{readback(m)}"' for m in meanings[:3])
    return Ambiguous(meanings, ask, words, readings[0].meaning_parts, (f"can be {heard}",))


def _several_callouts(words: tuple[str, ...], reading: Reading) -> Resolution:
    if all(other == reading.meaning for other in reading.others):
        reasons = ("said twice, the same callout: taken once", *_remarks(reading.meaning))
        once = tuple(dict.fromkeys(reading.meaning_parts))
        return Understood(reading.meaning, words, (readback(reading.meaning),), once, reasons)
    candidates = (reading.meaning, *reading.others)
    reason = f"{len(candidates)} callouts in one breath: give them one at a time"
    return Ambiguous(candidates, "insertion", words, reading.meaning_parts, (reason,))


def _differences(a: Meaning, b: Meaning) -> list[str]:
    """The names of the parts in which two meanings differ."""
    if isinstance(a, Callout) and isinstance(b, Callout):
        return [n for n in type(a).model_fields if getattr(a, n) != getattr(b, n)]
    if isinstance(a, Command) and isinstance(b, Command):
        if a.patch is not None and b.patch is not None and a.patch != b.patch:
            return _differences(a.patch, b.patch)
        return [n for n in type(a).model_fields if n != "patch" and getattr(a, n) != getattr(b, n)]
    return ["command"]


def _with_set_aside(result: Resolution, better: Sequence[tuple[Hypothesis, Resolution | None]]) -> Resolution:
    notes = tuple(
        f'heard better, set aside: "{h.text}" ({r.reason})' for h, r in better if isinstance(r, NotPossible)
    ) + tuple(f'heard better, set aside: "{h.text}" (no sentence of the language)' for h, r in better if r is None)
    if not notes or not isinstance(result, (Understood, Ambiguous)):
        return result
    return replace(result, reasons=(*notes, *result.reasons))


def _weigh_twins(
    result: Understood, best: Hypothesis, others: Sequence[tuple[Hypothesis, Resolution | None]]
) -> Resolution:
    """Lean on the parts where a near twin was heard almost as well; ask where it was heard as well."""
    stress: list[str] = []
    for rival, meant in others:
        gap = best.score - rival.score
        if gap > limits.twin_limits().stress or not isinstance(meant, Understood) or meant.meaning == result.meaning:
            continue
        names = _differences(result.meaning, meant.meaning)
        if gap <= limits.twin_limits().ask:
            reason = f'"{best.text}" or "{rival.text}"?'
            return Ambiguous((result.meaning, meant.meaning), names[0], result.words, result.parts,
                             (*result.reasons, reason))  # fmt: skip
        if are_twins(best.words, rival.words) or len(names) == 1:
            stress += names
    if not stress:
        return result
    unique = tuple(dict.fromkeys(stress))
    return replace(result, stress=unique, spoken=(readback(result.meaning, unique),))


def _command_of(words: tuple[str, ...], command: Command, *reasons: str) -> Understood:
    """A command that was found in words which are no sentence of the grammar."""
    command = both_counted(command, words)
    return Understood(command, words, (readback(command),), _command_parts(command), reasons)


def _command_parts(command: Command) -> tuple[MeaningPart, ...]:
    said = {name: getattr(command, name) for name in type(command).model_fields if name != "patch"}
    return tuple(MeaningPart(name, value) for name, value in said.items() if value is not None)


def _said_freely(words: tuple[str, ...], context: Context, parted: Pairs) -> Resolution | None:
    """A callout or a correction in people's own words; or what is wrong with it, where that is known."""
    found = freely(words, context, parted)
    for reading in found.readings:
        complaint = limits.complaint(reading)
        if complaint is not None and complaint.missing == ("rakers",) and isinstance(reading.meaning, Callout):
            return Ambiguous((reading.meaning,), "rakers", words, reading.meaning_parts, (complaint.reason,))
        if complaint is not None:
            return NotUnderstood(words, (), complaint.missing, reading.meaning_parts, (complaint.reason,))
    result = _judge(words, found.readings, context, parted)
    if found.left_out and isinstance(result, Understood):
        return replace(result, reasons=(*result.reasons, f"left out: {', '.join(found.left_out)}"))
    return result


def _may_be_an_answer(words: Sequence[str], meaning: Meaning, context: Context) -> bool:
    """Whether something waits, and the words are a way to say a command where nothing does, and none where it does:
    "yep, that's it"."""
    waiting = {name: state for name, state in grammar.load().states.items() if state.waits and not state.only}
    if context.state not in waiting or not isinstance(meaning, Command):
        return False
    rule = command_row(meaning.command).rule
    return any(rule in state.rules for state in waiting.values()) and not any(
        parse(words, replace(context, state=name), wide=wide) for name in waiting for wide in (False, True)
    )


def _unreadable(
    said: Sequence[str],
    context: Context,
    atoms: frozenset[int] = frozenset(),
    parted: Pairs = frozenset(),
    *,
    typed: bool = False,
    asks: bool = False,
) -> Resolution:
    """Why a word sequence has no meaning: a known fault of the wider grammar, else the nearest sentences. `typed`: it
    may be a callout in people's own words, where it does not ask (with "?" at its end) whether it is one."""
    words = fold(said)
    if len(words) > MOST_WORDS:
        return NotUnderstood(words[:MOST_WORDS], reasons=(f"{len(words)} words are no callout: at most {MOST_WORDS}",))
    alarm = begins_with_an_alarm(words, context) if typed else None
    freely_said = _said_freely(words, context, parted) if typed and (not asks or asks_for_a_shore(words)) else None
    if alarm is None and typed and not isinstance(freely_said, (Understood, Ambiguous)):
        alarm = alarm_in(words, told=UNIT_WORDS.isdisjoint(words), parted=parted)
    if alarm is not None:
        return _command_of(words, alarm)
    if freely_said is not None:
        return freely_said
    for reading in sorted(parse(words, context, wide=True, atoms=atoms), key=lambda r: len(r.notes)):
        complaint = limits.complaint(reading)
        if complaint is not None:
            near = tuple(s for s in complaint.better(reading, words) if makes_sense(s.split(), context))
            return NotUnderstood(words, near, complaint.missing, (), (complaint.reason,))
    # "Fourteen sixty" is like no sentence, and no value is lost in silence.
    if typed and len(words) > 1 and set(words) <= NUMBER_WORDS:
        return NotUnderstood(words, (), ("insertion",), (), (limits.complaints()["no unit"].reason,))
    together = one_of_several(words, context)
    if together is not None:
        return _command_of(words, together)
    gist = same_gist(words, context)
    if gist is not None and not (gist[1].command in commands_that("alarm") and is_none(words)):
        return _command_of(words, gist[1], f'read as "{gist[0]}"')
    elsewhere = _readings(words, EVERYTHING, atoms) if context.state is not None else []
    if elsewhere and not _may_be_an_answer(words, elsewhere[0].meaning, context):
        may = ", ".join(spoken_help(context.state or "")[:3])
        reason = f'"{" ".join(words)}" is not expected now; you may say: {may}'
        return NotPossible(elsewhere[0].meaning, words, reason, parts=elsewhere[0].meaning_parts)
    told = beside_its_reason(words, context) if typed else None
    if told is not None:
        return _command_of(words, told[1], f'read as "{told[0]}"')
    begun = words == ("insertion",)  # the head of a callout: its height is asked for
    found = by_examples(words, context) if typed and not begun else None
    if found is not None and found.sure:
        return _command_of(words, found.command, f'read as "{found.sentence}"')
    if typed and found is None and (alarm := may_be_alarm(words)) is not None:
        return _command_of(words, alarm, "it may be an alarm")
    nearest, reasons = nearest_sentences(words, context)
    unnamed = any(w in ("feet", "foot", "metres") for w in words) and "insertion" not in words
    missing = ("insertion",) if begun or unnamed else ()
    asked = (found and found[:2]) or near_command(words, context)
    if asked:
        sentence, command = asked
        cries = command.command in commands_that("alarm")
        if cries and is_none(words):
            return NotUnderstood(words, (), missing, (), reasons)
        if cries and not ends_in_a_thing(words):  # in doubt too: silence first
            return _command_of(words, command, f'near to "{sentence}"')
        return Near(words, tuple(dict.fromkeys((sentence, *nearest))), missing, (), (*reasons, f'near to "{sentence}"'),
                    likely=command, sentence=sentence)  # fmt: skip
    return NotUnderstood(words, nearest, missing, (), reasons)
