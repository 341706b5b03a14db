"""What a typed line teaches: "teach 'fetch it' as ready", "teach that as ready", "teach ready", "teach".

The phrase may have any words, so no grammar can have it. What is left open is asked for (`callout.dialogue.teaching`),
and whether the phrase can be had at all is decided there.
"""

from __future__ import annotations

import re

from callout.language import command_rules, grammar
from callout.language.commands import commands, commands_that
from callout.language.context import Context
from callout.language.outcome import MeaningPart, Understood
from callout.language.parse import parse
from callout.language.typed import typed_words
from callout.values import Command

#: Stands for what was not understood just before.
THAT = "that"
#: The states in which it is asked which command is meant, and which words.
ASKS_COMMAND, ASKS_WORDS = "teach", "teach_words"

_TEACH = re.compile(r"\s*(?:logistics\b[,:]?\s*)?teach\b[\s:,]*(?P<rest>.*)", re.IGNORECASE | re.DOTALL)
_QUOTED = re.compile(r"[\"'“”‘’](?P<phrase>.+?)[\"'“”‘’](?=\s|$)[\s,:]*(?P<rest>.*)", re.DOTALL)
#: Between the phrase and the command.
_MEANS = r"(?:as|means|mean|to mean|for|is|=)"
_PARTED = re.compile(rf"(?P<phrase>.*?)\s+{_MEANS}\s+(?P<rest>.*)", re.IGNORECASE | re.DOTALL)
_LEAD = re.compile(rf"{_MEANS}(?=\s|$)\s*", re.IGNORECASE)


def taught_by(text: str) -> Understood | None:
    """What a line that begins with "teach" teaches, as far as it says it; None for any other line."""
    found = _TEACH.fullmatch(text)
    if found is None:
        return None
    rest = found["rest"].strip()
    quoted = _QUOTED.fullmatch(rest)
    parted = quoted or _PARTED.fullmatch(rest)
    if parted is not None:
        return _understood(text, _words(parted["phrase"]), _LEAD.sub("", parted["rest"], count=1).strip())
    name = command_named(rest)
    if name is not None:
        return _understood(text, "", rest)
    words = _words(rest).split()
    for at in range(1, len(words)):  # "teach fetch it ready": the longest command at its end
        if command_named(" ".join(words[at:])) is not None:
            return _understood(text, " ".join(words[:at]), " ".join(words[at:]))
    return _understood(text, " ".join(words), "")


def answered(text: str, context: Context) -> Understood | None:
    """A typed line that answers what is asked while words are taught, where the grammar has no reading of it."""
    if context.state == ASKS_WORDS:
        return _understood(text, _words(text.strip().strip("\"'“”‘’")), "")
    if context.state == ASKS_COMMAND and command_named(text) is not None:
        return _understood(text, "", text)
    return None


def command_named(said: str) -> str | None:
    """The command that goes by this name ("stock set"), or is said so without anything beside it ("got it")."""
    words = _words(said)
    name = words.replace(" ", "_")
    if name in commands() and name not in commands_that("inner"):
        return name
    readings = parse(words.split()) or parse(words.split(), wide=True) if words else []
    meant = {reading.meaning for reading in readings}
    (only,) = meant if len(meant) == 1 else (None,)
    return only.command if isinstance(only, Command) and only == Command(command=only.command) else None


def may_be_heard(phrase: str) -> bool:
    """Whether the ears can hear a taught phrase from their next start on: all its words are theirs."""
    words, known = phrase.split(), grammar.load().words()
    return len(words) >= command_rules.FEWEST_HEARD and all(word in known for word in words)


def _words(text: str) -> str:
    """The words of a text; of what cannot be words, the text."""
    typed = typed_words(text)
    return text.strip() if typed.fault is not None else " ".join(typed.words)


def _understood(text: str, phrase: str, command: str) -> Understood:
    name = command_named(command) or (_words(command).replace(" ", "_") or None)
    meaning = Command(command="teach", part=name, phrase=phrase or None)
    parts = [MeaningPart("command", "teach", 1.0)]
    parts += [MeaningPart("part", name, 1.0)] if name else []
    parts += [MeaningPart("phrase", phrase, 1.0)] if phrase else []
    return Understood(meaning, tuple(text.lower().split()), ("teach",), tuple(parts))
