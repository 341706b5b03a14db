"""Every reading of a word sequence, strictly by the grammar. Linear in the number of words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from callout.language import grammar
from callout.language.context import EVERYTHING, Context
from callout.language.network import Network
from callout.language.outcome import MeaningPart
from callout.language.semantic_actions import LENGTH_PARTS, NUMBER_PARTS, Operation, ReadingState, Said, exact, nearest
from callout.language.typed import written_out
from callout.values import Callout, Command, Meaning
from callout.values.sights import Looked, MarkReading, Seen

#: A minute of talk. More words than this are no utterance, and have no reading.
MOST_WORDS = 200
#: More readings at any one word, and the utterance is too unclear to have any: none is picked, none is dropped alone.
#: (The sentences of the tests' tables come to seven at most.)
MOST_READINGS = 64


@dataclass(frozen=True)
class Span:
    """A part of a meaning and the words it came from: words[start:end]."""

    name: str
    value: Any
    start: int
    end: int


@dataclass(frozen=True)
class Reading:
    """One meaning of a word sequence.

    `others` are further callouts of the same utterance. `notes` are complaints of the grammar ("no lead") and hints
    ("twice angle_deg", "broken off"). `inexact` names a length that no tape shows, already rounded to the nearest.
    `words` are those in which the parts stand, where they are other than those said (mended, in people's own words).
    A value without a name is the command bare_length, bare_number or bare_correction, which never leave the resolver.
    """

    meaning: Meaning
    parts: tuple[Span, ...]
    others: tuple[Callout, ...] = ()
    notes: tuple[str, ...] = ()
    inexact: str | None = None
    words: tuple[str, ...] = ()

    @property
    def is_bare(self) -> bool:
        """Whether it is a value without a name."""
        return isinstance(self.meaning, Command) and self.meaning.command.startswith("bare_")

    @property
    def meaning_parts(self) -> tuple[MeaningPart, ...]:
        return tuple(MeaningPart(part.name, part.value) for part in self.parts)


def fold(words: Sequence[str]) -> tuple[str, ...]:
    """Spellings, radio digits and short forms folded into the words of the grammar ("niner" -> "nine", "we're" -> "we
    are")."""
    return tuple(folded for word in words for folded in _folded(word))


def folded_from(words: Sequence[str]) -> tuple[int, ...]:
    """For each folded word the place of the word that it was said in, and at the end the number of words."""
    return (*(place for place, word in enumerate(words) for _ in _folded(word)), len(words))


def _folded(word: str) -> list[str]:
    return written_out(word, grammar.load().spellings).split()


def parse(
    words: Sequence[str], context: Context = EVERYTHING, *, wide: bool = False, atoms: frozenset[int] = frozenset()
) -> list[Reading]:
    """All distinct readings of `words` that the grammar of the context's state has; an empty list where none.

    `wide` reads by the wider grammar: rarer forms, and things that cannot be taken, with what is wrong with them.
    `atoms` are places between two words where no part may begin or end (inside a number typed as figures).
    """
    told = fold(words)
    return parse_by(told, grammar.load().network(context.state, wide=wide), asked=context.asked, atoms=atoms)


def parse_by(
    told: tuple[str, ...], network: Network, *, asked: str | None = None, atoms: frozenset[int] = frozenset()
) -> list[Reading]:
    """All distinct readings that one network has of folded words. `asked` is the part that a bare length answers."""
    if len(told) > MOST_WORDS:
        return []
    found: dict[tuple[Any, ...], Reading] = {}
    for state in _states(told, network):
        spans = [p for part in (*state.done, state.said, state.details) for p in part]
        if any(p.start in atoms or p.end in atoms for p in spans):
            continue
        reading = _Finished(state, told).reading(asked)
        if reading is not None:
            found.setdefault((reading.meaning, reading.others, reading.notes, reading.inexact), reading)
    known = [reading for reading in found.values() if not _is_new(reading.meaning)]
    return known or list(found.values())  # what means something already is no new phrase


def _is_new(meaning: Meaning) -> bool:
    return isinstance(meaning, Command) and meaning.phrase is not None


def _states(words: tuple[str, ...], network: Network) -> list[ReadingState]:
    """The machine's state at the end of every way through the network that the words allow."""
    keep = _useful(words, network)
    alive: dict[tuple[int, ReadingState], None] = {(network.start, ReadingState()): None} if keep else {}
    for i, word in enumerate(words):
        ahead: dict[tuple[int, ReadingState], None] = {}
        for here, state in alive:
            for marks, target in network.leads(here).get(word, ()):
                if target in keep[i + 1]:
                    ahead.update(dict.fromkeys((target, new) for new in _run(state, marks, i)))
        if len(ahead) > MOST_READINGS:
            return []
        alive = ahead
    return [new for here, state in alive for marks in network.ends(here) for new in _run(state, marks, len(words))]


def _useful(words: tuple[str, ...], network: Network) -> list[set[int]]:
    """For each place between words, the states on a way from start to end; an empty list where there is no way."""
    steps, reach = [], frozenset({network.start})
    for word in words:
        steps.append(network.step(reach, word))
        reach = steps[-1].after
        if not reach:
            return []
    useful = {state for state in reach if network.ends(state)}
    keep = [useful]
    for step in reversed(steps):
        useful = {state for state, targets in step.arcs if not useful.isdisjoint(targets)}
        keep.append(useful)
    return keep[::-1] if useful else []


def _run(state: ReadingState, marks: Sequence[Operation], at: int) -> list[ReadingState]:
    states = [state]
    for mark in marks:
        states = [new for s in states for new in mark(s, at)]
    return states


class _Finished:
    """The machine at the end of an utterance, and what it comes to."""

    def __init__(self, state: ReadingState, words: tuple[str, ...]) -> None:
        self._state = state
        self._words = words
        self._inexact: str | None = None
        self._notes = tuple(note for note in state.notes if note != "stump")
        begun = [place for place in (state.corrected, state.repeated) if place is not None]
        if any(not any(part.end > place for part in state.said) for place in begun) and not state.loose:
            self._notes = (*self._notes, "broken off")

    def reading(self, asked: str | None) -> Reading | None:
        """The reading, or None where the parts make no whole. `asked` is the part that a bare length answers."""
        state = self._state
        if any(p.name == "command" for p in state.details):
            return self._command()
        if any(p.name == "amount" for p in state.details):
            return self._amount()
        bare = state.loose or next((p for p in state.details if p.name == "bare_number"), None)
        if bare is not None and not state.said and not state.done and bare.name != "wall":
            return self._bare(bare)
        said = state.said
        if state.loose is not None:
            if asked is None or not self._answers(state.loose, asked):
                return None
            said = (state.loose._replace(name=asked), *said)
        return self._callouts([part for part in (*state.done, said) if part])

    def _answers(self, loose: Said, asked: str) -> bool:
        """Whether a length without a name, said first, is the part that was asked for."""
        fits = loose.name == "nothing" and asked in LENGTH_PARTS and not self._state.done
        return fits and not any(p.name == asked or p.start < loose.start for p in self._state.said)

    def _span(self, part: Said) -> Span:
        value = part.value
        if isinstance(value, Fraction):
            length = exact(value)
            if length is None:
                self._inexact = part.name
                length = nearest(value, self._state.metric)
            value = length
        elif part.name == "for_whom":
            value = " ".join(self._words[part.start + 1 : part.end])
        elif part.name in ("place", "caller", "phrase"):
            value = " ".join(self._words[part.start : part.end])
        elif part.name == "look mark":
            value = self._words[part.end - 1]
        elif part.name == "look signed":
            said = self._words[part.start : part.end]
            before = max(place for place, word in enumerate(said) if word in ("signed", "by"))  # "seen by engine two"
            value = " ".join(said[before + 1 :])
        return Span(part.name, value, part.start, part.end)

    def _made(self, meaning: Meaning, parts: tuple[Span, ...], others: tuple[Callout, ...] = ()) -> Reading:
        return Reading(meaning, parts, others, self._notes, self._inexact)

    def _command(self) -> Reading:
        parts = tuple(self._span(p) for p in self._state.details)
        fields = {p.name: p.value for p in parts if p.value is not None and p.name != "caller" and " " not in p.name}
        seen = {p.name.removeprefix("seen "): p.value for p in parts if p.name.startswith("seen ")}
        if seen:
            fields["seen"] = Seen(**seen)
        if any(p.name.startswith("look ") for p in parts):
            fields["look"] = _looked(parts)
        if fields["command"] == "digits":
            fields |= {"part": self._state.digits, "quantity": int(self._state.digits)}
        return self._made(Command(**fields), parts)

    def _amount(self) -> Reading | None:
        """A correction by a number alone; what it is of, the readback that waits for its answer will say."""
        fields = {p.name: self._span(p).value for p in self._state.details}
        if self._state.said or self._state.done or self._state.loose:
            return None
        names = {"quantity": fields["amount"], "have": fields.get("instead"), "build": fields.get("build")}
        parts = tuple(self._span(p) for p in self._state.details)
        return self._made(Command(command="bare_correction", **names), parts)

    def _bare(self, bare: Said) -> Reading:
        length = bare is self._state.loose
        name, field = ("bare_length", "length") if length else ("bare_number", "quantity")
        span = self._span(bare._replace(name=name))
        return self._made(Command(**{"command": name, field: span.value}), (span,))

    def _callouts(self, groups: list[tuple[Said, ...]]) -> Reading | None:
        spans = [[self._span(p) for p in group] for group in groups]
        parts = tuple(span for group in spans for span in group)
        callouts = tuple(Callout(**{s.name: s.value for s in group}) for group in spans)
        if not any(callout.said for callout in callouts):
            return None
        state = self._state
        of_build = next((self._span(p) for p in state.details if p.name == "build"), None)
        if state.amends and not (state.restarted and state.led):
            patch = correction(callouts[-1])
            if of_build is not None:
                patch, parts = patch.model_copy(update={"build": of_build.value}), (of_build, *parts)
            return self._made(patch, parts, callouts[:-1])
        if of_build is not None:
            return None  # "build two" before a callout corrects a build, and begins none
        return self._made(callouts[0], parts, callouts[1:])


def _looked(parts: Sequence[Span]) -> Looked:
    """What was found on a shore. A reading is of the mark named before it, else of the only one of its kind."""
    readings: dict[tuple[str, str], MarkReading] = {}
    facts: dict[str, Any] = {}
    mark = ""
    for name, value in ((p.name.removeprefix("look "), p.value) for p in parts if p.name.startswith("look ")):
        if name == "mark":
            mark = value
        elif name == "over" and readings:
            last, reading = list(readings.items())[-1]
            readings[last] = reading.model_copy(update={"over": value})
        elif name in ("crack", "plumb", "level"):
            readings[name, mark] = MarkReading.model_validate({"mark": mark or name, "kind": name, "value": value})
            mark = ""
        else:
            facts[name] = value == "yes" if name in ("tight", "sounds") else value
    return Looked(readings=tuple(readings.values()), **facts)


def correction(patch: Callout) -> Command:
    """A correction of an earlier utterance; of a single part it shows the part and its value."""
    if len(patch.said) != 1:
        return Command(command="correction", patch=patch)
    ((name, value),) = patch.said.items()
    field = "length" if name in LENGTH_PARTS else "quantity" if name in NUMBER_PARTS else None
    shown = {"part": name} | ({field: value} if field else {})
    return Command(command="correction", patch=patch, **shown)
