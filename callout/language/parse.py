"""Every reading of a word sequence, strictly by the grammar. Linear in the number of words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from callout.language import grammar
from callout.language.context import EVERYTHING, Context
from callout.language.machine import LENGTH_PARTS, Said, State, exact, nearest
from callout.language.network import Network
from callout.values import Callout, Command, Meaning

#: More readings than this of one utterance, at any word, and the rest is dropped: no utterance of ours comes near.
MOST_READINGS = 128
#: A minute of talk. More words than this are no utterance, and have no reading.
MOST_WORDS = 200


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
    ("twice angle_deg"). `inexact` names a length that no tape shows, already rounded to the nearest sixteenth.
    """

    meaning: Meaning
    parts: tuple[Span, ...]
    others: tuple[Callout, ...] = ()
    notes: tuple[str, ...] = ()
    inexact: str | None = None


def fold(words: Sequence[str]) -> tuple[str, ...]:
    """Spellings and radio digits folded into the words of the grammar ("niner" -> "nine")."""
    spellings = grammar.load().spellings
    return tuple(folded for word in words for folded in spellings.get(word, word).split())


def parse(
    words: Sequence[str], context: Context = EVERYTHING, *, wide: bool = False, atoms: frozenset[int] = frozenset()
) -> list[Reading]:
    """All distinct readings of `words` that the grammar of the context's state has; an empty list where none.

    `wide` reads by the wider grammar of things that cannot be taken, which says what is wrong with them. `atoms` are
    places between two words where no part may begin or end (inside a number typed as figures).
    """
    told = fold(words)
    if len(told) > MOST_WORDS:
        return []
    found: dict[tuple[Any, ...], Reading] = {}
    for state in _states(told, grammar.load().network(context.state, wide=wide)):
        spans = [p for part in (*state.done, state.said, state.details) for p in part]
        if any(p.start in atoms or p.end in atoms for p in spans):
            continue
        reading = _reading(state, told, context)
        if reading is not None:
            found.setdefault((reading.meaning, reading.others, reading.notes, reading.inexact), reading)
    return list(found.values())


def _states(words: tuple[str, ...], network: Network) -> list[State]:
    """The machine's state at the end of every way through the network that the words allow."""
    reach: list[set[int]] = [{network.start}]
    for word in words:
        ahead = {target for s in reach[-1] for _, target in network.leads(s).get(word, ())}
        if not ahead:
            return []
        reach.append(ahead)
    useful = {s for s in reach[-1] if network.ends(s)}
    keep = [useful]
    for i in range(len(words) - 1, -1, -1):
        useful = {s for s in reach[i] if any(t in useful for _, t in network.leads(s).get(words[i], ()))}
        keep.append(useful)
    keep.reverse()
    if not useful:
        return []
    alive: dict[tuple[int, State], None] = {(network.start, State()): None}
    for i, word in enumerate(words):
        ahead_of: dict[tuple[int, State], None] = {}
        for here, state in alive:
            for marks, target in network.leads(here).get(word, ()):
                if target in keep[i + 1]:
                    for new in _run(state, marks, i):
                        ahead_of[(target, new)] = None
        alive = dict.fromkeys(list(ahead_of)[:MOST_READINGS])
    return [new for here, state in alive for marks in network.ends(here) for new in _run(state, marks, len(words))]


def _run(state: State, marks: Sequence[Any], at: int) -> list[State]:
    states = [state]
    for mark in marks:
        states = [new for s in states for new in mark(s, at)]
    return states


def _reading(state: State, words: tuple[str, ...], context: Context) -> Reading | None:
    details = {p.name: p.value for p in state.details}
    inexact: list[str] = []

    def length_or_value(part: Said) -> Any:
        if isinstance(part.value, Fraction):
            value = exact(part.value)
            if value is None:
                inexact.append(part.name)
                value = nearest(part.value, state.metric)
            return value
        if part.name == "for_whom":
            return " ".join(words[part.start + 1 : part.end])
        return part.value

    def callout(said: tuple[Said, ...]) -> Callout:
        return Callout(**{p.name: length_or_value(p) for p in said})

    if state.loose and state.loose.name == "nothing" and context.asked in LENGTH_PARTS and not state.done:
        # A bare length in the answer is the part that was asked for.
        if any(p.name == context.asked or p.start < state.loose.start for p in state.said):
            return None
        state = state._replace(said=(state.loose._replace(name=context.asked), *state.said), loose=None)
    spans = [Span(p.name, length_or_value(p), p.start, p.end) for group in (*state.done, state.said) for p in group]
    if len(words) in (state.corrected, state.repeated):
        state = state._replace(notes=(*state.notes, "broken off"))
    notes = tuple(n for n in state.notes if n != "stump")
    if "command" in details:
        name = details.pop("command")
        command_parts = tuple(Span(p.name, length_or_value(p), p.start, p.end) for p in state.details)
        fields = {p.name: p.value for p in command_parts if p.name != "command" and p.value is not None}
        if name == "digits":
            fields = {"part": state.digits, "quantity": int(state.digits)}
        return Reading(Command(command=name, **fields), command_parts, (), notes, inexact[0] if inexact else None)
    bare = state.loose if state.loose else next((p for p in state.details if p.name == "bare_number"), None)
    if bare is not None:
        if state.said or state.done or bare.name == "wall":
            return None
        value = length_or_value(bare)
        name, field = ("bare_length", "length") if state.loose else ("bare_number", "quantity")
        return Reading(Command(command=name, **{field: value}), (Span(name, value, bare.start, bare.end),), (),
                       (*notes, name), inexact[0] if inexact else None)  # fmt: skip
    everyone = [callout(said) for said in (*state.done, state.said) if said]
    if not everyone or not any(c.said for c in everyone):
        return None
    if state.amends and not (state.restarted and state.led):
        patch = everyone[-1]
        said = patch.said
        extra: dict[str, Any] = {}
        if len(said) == 1:
            (name, value), = said.items()
            extra = {"part": name}
            if name in ("angle_deg", "rakers", "position"):
                extra["quantity"] = value
            elif not isinstance(value, str):
                extra["length"] = value
        return Reading(Command(command="correction", patch=patch, **extra), tuple(spans), tuple(everyone[:-1]), notes,
                       inexact[0] if inexact else None)  # fmt: skip
    return Reading(everyone[0], tuple(spans), tuple(everyone[1:]), notes, inexact[0] if inexact else None)
