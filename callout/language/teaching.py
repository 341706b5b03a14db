"""A phrase taught by a team: which line of grammar it becomes, whether it can be had, and where it is written."""

from __future__ import annotations

import contextlib
from pathlib import Path

from callout.errors import BadInput, CalloutError
from callout.language import automaton, commands, cribsheet, grammar, nearest
from callout.language.context import Context
from callout.language.numerals import NUMBER_WORDS
from callout.language.outcome import Ambiguous, NotPossible, Understood
from callout.language.resolve import resolve_text
from callout.language.team import team_phrases, write_phrases
from callout.language.typed import typed_words
from callout.values import Callout

#: What a number in a taught phrase stands for, by the one of these fields that the command has.
_NUMBERS = {"quantity": "<1..20 grouped> {quantity}", "item": "<1..99> {item}", "build": "<1..99> {build}"}
_LONGEST = 8  # words


def teach(phrase: str, command: str) -> tuple[Path, str]:
    """Write a team's own way to say a command into the team's folder; returns the file and its line.

    A number in the phrase stands for any number. Raises BadInput, and writes nothing, for a phrase that means something
    already, a command unheard of, or a yes, which nobody can teach.
    """
    line = _line(phrase, command)
    before = team_phrases()
    if line in before.get(command, ()):
        raise BadInput(f'"{phrase}" is taught already')
    file = write_phrases({**before, command: (*before.get(command, ()), line)})
    forget()
    try:
        grammar.load()
    except CalloutError:
        with contextlib.suppress(CalloutError):
            write_phrases(before)
        forget()
        raise
    return file, f'{command} = "{line}"'


def _line(phrase: str, command: str) -> str:
    row = commands.commands().get(command)
    if row is None or "inner" in row.marks:
        names = ", ".join(r.name for r in commands.commands().values() if "inner" not in r.marks)
        raise BadInput(f"no command {command!r}; the commands are: {names}")
    if "affirmative" in row.marks:
        raise BadInput("a yes cannot be taught: what else people say to agree is never a yes")
    typed = typed_words(phrase)
    if typed.fault is not None or not typed.words:
        raise BadInput(f"{phrase!r} cannot be taught: {typed.fault or 'there are no words in it'}")
    if len(typed.words) > _LONGEST or all(len(word) < 3 for word in typed.words):
        raise BadInput(f"{phrase!r} cannot be taught: at most {_LONGEST} words, and one of three letters or more")
    _refuse_what_is_taken(phrase, command)
    return " ".join(_with_number(typed.words, row))


def _refuse_what_is_taken(phrase: str, command: str) -> None:
    """A phrase that means another thing in any state is not to be had, nor one that already means this."""
    for state in (None, *grammar.load().states):
        result = resolve_text(phrase, Context(state=state))
        if not isinstance(result, (Understood, Ambiguous, NotPossible)) or result.meaning is None:
            continue
        meaning = result.meaning
        name = "a callout" if isinstance(meaning, Callout) else meaning.command
        if name == command:
            raise BadInput(f'"{phrase}" is understood as {command} already')
        raise BadInput(f'"{phrase}" means {name.replace("_", " ")} already; choose other words')


def _with_number(words: tuple[str, ...], row: commands.CommandRow) -> list[str]:
    spoken = next((word for word in words if word in NUMBER_WORDS), None)
    if spoken is None:
        return list(words)
    fields = [name for name in _NUMBERS if name in row.fields]
    if len(fields) != 1:  # "got two": two pieces, or item two? Nothing is booked on a guess
        why = f", since it could be the {' or the '.join(fields)}" if fields else ""
        raise BadInput(f"a phrase for {row.name} takes no number{why}; leave {spoken!r} out")
    number = _NUMBERS[fields[0]]
    said: list[str] = []
    for word in words:
        if word not in NUMBER_WORDS:
            said.append(word)
        elif said[-1:] != [number]:
            said.append(number)
    if said.count(number) > 1:
        raise BadInput("a phrase with two numbers cannot be taught; leave one out")
    return said


def forget() -> None:
    """Read the files of the language again when next asked: they have changed."""
    for made in (grammar.load, commands.commands, automaton._automaton, nearest._known,
                 nearest._examples, nearest._by_gist, cribsheet.sections, cribsheet.spoken_help):  # fmt: skip
        made.cache_clear()
