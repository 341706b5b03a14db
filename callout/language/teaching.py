"""A phrase taught by a team: which line of grammar it becomes, whether it can be had, and where it is written."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from rapidfuzz import fuzz, process

from callout.errors import BadInput, CalloutError
from callout.language import automaton, commands, cribsheet, grammar, nearest, usual
from callout.language.context import EVERYTHING, Context
from callout.language.nearest import near_command
from callout.language.numerals import NUMBER_WORDS
from callout.language.outcome import Ambiguous, NotPossible, Understood
from callout.language.resolve import resolve_text
from callout.language.team import team_folder, team_phrases, where_words_go, write_phrases
from callout.language.typed import typed_words
from callout.values import Callout, Command

#: What a number in a taught phrase stands for, by the one of these fields that the command has.
_NUMBERS = {"quantity": "<1..20 grouped> {quantity}", "item": "<1..99> {item}", "build": "<1..99> {build}"}
_LONGEST = 8  # words


def teach(phrase: str, command: str) -> tuple[Path, str]:
    """Write a team's own way to say a command into the team's folder; returns the file and its line.

    A number in the phrase stands for any number. Raises BadInput, and writes nothing, for a phrase that means something
    already or is near to it, a command unheard of, a stop word, or a yes, which nobody can teach.
    """
    line = line_of(phrase, command)
    return keep(command, line), f'{command} = "{line}"'


def line_of(phrase: str, command: str) -> str:
    """The line of grammar that a phrase becomes. Raises BadInput, with the reason, for one that cannot be had."""
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
    line = " ".join(_with_number(typed.words, row))
    _refuse_what_is_near(typed.words, command)
    if row.marks & {"alarm", "stop"}:
        raise BadInput("a stop word cannot be taught: the field has its own, and everybody knows them")
    return line


def taught_line(phrase: str, command: str) -> str:
    """The line of a phrase that is taught for this command already; "" where it is not."""
    row = commands.commands().get(command)
    line = "" if row is None else " ".join(_with_number(typed_words(phrase).words, row))
    return line if line in team_phrases().get(command, ()) else ""


def keep(command: str, line: str) -> Path:
    """Put a line that `line_of` gave into the team's folder. Raises BadInput, and leaves all as it was, where it
    cannot."""
    before = team_phrases()
    if line in before.get(command, ()):
        return write_phrases(before)
    file = write_phrases({**before, command: (*before.get(command, ()), line)})
    forget()
    try:
        grammar.load()
    except CalloutError:
        with contextlib.suppress(CalloutError):
            write_phrases(before)
        forget()
        raise
    return file


def take_back(command: str, line: str) -> None:
    """Take a line out of the team's folder again. Raises BadInput where it cannot be written."""
    before = team_phrases()
    if line not in before.get(command, ()):
        return
    left = tuple(other for other in before[command] if other != line)
    write_phrases({name: ways for name, ways in {**before, command: left}.items() if ways})
    forget()


def no_place() -> str:
    """Why nothing can be written now; "" where it can."""
    try:
        folder = team_folder()
    except BadInput as wrong:
        return str(wrong)
    there = next(path for path in (folder or where_words_go(), *where_words_go().parents) if path.exists())
    return "" if os.access(there, os.W_OK) else f"cannot write in {there}; make the folder writable"


#: All that may be said at all; in the walk; and where an answer is waited for, too.
_TRIED = (None, "walk", "confirm_walk")


def _refuse_what_is_taken(phrase: str, command: str) -> None:
    """A phrase that means another thing in any state is not to be had, nor one that already means this."""
    for state in _TRIED:
        result = resolve_text(phrase, Context(state=state))
        if not isinstance(result, (Understood, Ambiguous, NotPossible)) or result.meaning is None:
            continue
        meaning = result.meaning
        if isinstance(meaning, Command) and meaning.phrase is not None:
            continue  # taken as the new phrase that it is
        name = "a callout" if isinstance(meaning, Callout) else meaning.command
        name = "a number" if name == "digits" or name.startswith("bare_") else name
        if name == command:
            raise BadInput(f'"{phrase}" is understood as {command} already')
        raise BadInput(f'"{phrase}" means {name.replace("_", " ")} already; choose other words')


#: Words of a yes, of a stop word, of a correction: a taught phrase has none of them, and none that is spelled so.
_NEVER = ("affirm", "affirmative", "yes", "correct", "correction", "stop", "evacuate", "cease", "insertion", "negative")
_ALIKE = 80.0  # rapidfuzz ratio


def _refuse_what_is_near(words: tuple[str, ...], command: str) -> None:
    """Nor one that is near to something else: by a word of a yes or a stop word, by spelling, or by sound."""
    phrase = " ".join(words)
    for word in words:
        near = process.extractOne(word, _NEVER, scorer=fuzz.ratio, score_cutoff=_ALIKE)
        if near is not None:
            raise BadInput(f'"{phrase}" is too near to "{near[0]}"; choose other words')
    found = near_command(words, EVERYTHING)
    if found is not None and found[1].command != command:
        raise BadInput(f'"{phrase}" is too near to "{found[0]}"; choose other words')
    if (sound := cribsheet.sounds_like(phrase, command)) is not None:
        raise BadInput(f'"{phrase}" sounds too much like "{sound}"; choose other words')


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
    for made in (grammar.load, commands.commands, automaton._automaton, automaton._spoken, automaton.short_forms,
                 nearest.known_words, nearest._examples, nearest._sorted_examples, nearest.by_gist, cribsheet.sections,
                 cribsheet.spoken_help, cribsheet._said_in, cribsheet._meaning, cribsheet._ways, usual.usual,
                 usual.begins_usual, usual._network):  # fmt: skip
        made.cache_clear()
