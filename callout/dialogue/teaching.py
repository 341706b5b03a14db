"""A team's own words, taught in the conversation: which command, which words, read back, and written after a yes.

What can be taught, and why not, is decided as on the command line (`callout.language.teaching`): never a yes, never a
stop word, nothing that means something else or is near to it. The line is in the team's folder before the record tells
of it; a crash between the two leaves the yes to be carried out again, which changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from callout.dialogue import speakable, wording
from callout.dialogue.acts import Act, Acts, Cause, said, said_text, voids, waiting
from callout.dialogue.asking import asked_of_teaching
from callout.dialogue.events import Teach
from callout.dialogue.readback import answer_first, proposed, readback
from callout.dialogue.records import WasAsked, WasTaught
from callout.dialogue.state import Conversation, Done, Pending
from callout.errors import BadInput
from callout.language import own_words
from callout.language.commands import commands_that
from callout.language.teaching import line_of, no_place, taught_line
from callout.values import Command

#: While it is asked which command is meant, these are themselves; every other command is the one that is meant.
THEMSELVES = commands_that("alarm") | commands_that("stop") | {
    "teach", "negative", "disregard", "cancel", "undo", "help", "say_again", "affirm", "affirm_insertion",
}  # fmt: skip


def asked_for(now: Conversation, cause: Cause, order: Command) -> Acts:
    """"Teach", with as much of it as was said: what is open is asked for, the rest read back."""
    known = now.seat(cause.role).teaching
    if known is None and (first := answer_first(now, cause)):
        return first
    if why := no_place():
        return (*_ends(now, cause), _refused(cause, why))
    known = known or {}
    phrase = order.phrase or known.get("phrase")
    if phrase == own_words.THAT:
        phrase = now.seat(cause.role).lost or None
    return _asked(now, cause, order.part or known.get("command"), phrase)


def meant(now: Conversation, cause: Cause, order: Command) -> Acts:
    """The command that is said while it is asked which one is meant."""
    return asked_for(now, cause, Command(command="teach", part=order.command))


def asks_command(now: Conversation, cause: Cause) -> bool:
    teaching = now.seat(cause.role).teaching
    return teaching is not None and teaching.get("command") is None


def _asked(now: Conversation, cause: Cause, command: str | None, phrase: str | None) -> Acts:
    known = {"command": command, "phrase": phrase}
    if command is None or phrase is None:
        return (_question(cause, known),)
    try:
        line_of(phrase, command)
    except BadInput as wrong:
        again = {"command": None, "phrase": phrase} if _is_never_taught(command) else {**known, "phrase": None}
        return (_refused(cause, str(wrong)), _question(cause, again))
    heard = "teaching.heard" if own_words.may_be_heard(phrase) else "teaching.typed"
    proposal = proposed(cause, "teach", words=phrase, command={"command": command})
    act = readback(cause, "confirming.teach", proposal)
    return (replace(act, holes={"heard": wording.sentence(heard), **_holes(phrase, command)}),)


def _holes(phrase: str, command: str) -> dict[str, str]:
    return {"phrase": speakable.text(phrase), "command": wording.command(command)}


def _is_never_taught(command: str) -> bool:
    """Whether it is the command that cannot be taught, whatever the words."""
    unheard_of = own_words.command_named(command.replace("_", " ")) is None
    return unheard_of or command in commands_that("affirmative") | commands_that("alarm") | commands_that("stop")


def _question(cause: Cause, known: Mapping[str, str | None]) -> Act:
    what, (key, holes) = WasAsked(teaching=dict(known)), asked_of_teaching(known)
    return replace(said(cause, key, "asked", what=what, courtesies=waiting(cause)), holes=holes)


def _refused(cause: Cause, why: str) -> Act:
    return said_text(cause, speakable.whole(why), "refused")


def _ends(now: Conversation, cause: Cause) -> Acts:
    return voids(now, cause) if now.seat(cause.role).teaching is not None else ()


def affirmed(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """Write it, tell of it. What cannot be had any more, or not be written, is refused with the reason."""
    phrase, command = confirmed.shape.words, str((confirmed.shape.command or {}).get("command"))
    if why := no_place():
        return (_refused(cause, why),)
    line = taught_line(phrase, command)  # a crash came between the file and the record
    try:
        line = line or line_of(phrase, command)
    except BadInput as wrong:
        return (_refused(cause, str(wrong)),)
    what = WasTaught(command=command, phrase=phrase, line=line)
    told = replace(said(cause, "teaching.taught", "taught", what=what), holes=_holes(phrase, command))
    return (replace(told, first=Teach(command, line)),)


def undo(now: Conversation, cause: Cause, done: Done) -> Acts:
    """Read back which words are forgotten."""
    phrase, command = done.words, done.item or ""
    proposal = proposed(cause, "undo", undoes="taught", words=phrase)
    return (replace(readback(cause, "confirming.undo_teach", proposal), holes=_holes(phrase, command)),)


def forgotten(now: Conversation, cause: Cause, done: Done) -> Acts:
    if why := no_place():
        return (_refused(cause, why),)
    command = done.item or ""
    what = WasTaught(command=command, phrase=done.words, line=done.line_of_grammar, undoes=True)
    told = replace(said(cause, "teaching.forgotten", "taught", what=what), holes=_holes(done.words, command))
    return (replace(told, first=Teach(command, done.line_of_grammar, undo=True)),)
