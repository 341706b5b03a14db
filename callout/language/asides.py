"""What a word or two say of a whole sentence: minutes are no pieces, "so far" is not all, "both" are two, and a "not"
beside a readback refuses it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Literal, NamedTuple

from callout.files import data_folder, read_toml
from callout.language.context import Context
from callout.language.light_words import says_one_of
from callout.language.nearest import plain_command
from callout.language.numerals import NUMBER_WORDS
from callout.language.outcome import Ambiguous, Near, NotUnderstood, Resolution, Understood
from callout.language.speak import readback
from callout.values import Command


class _Table(NamedTuple):
    """The lists of `grammars/asides.toml`; what each is for stands there."""

    times: frozenset[str]
    before_second: frozenset[str]
    so_far: frozenset[str]
    pieces: frozenset[str]
    open: frozenset[str]
    counts: frozenset[str]
    refuses: frozenset[str]
    drops: frozenset[str]
    needs: frozenset[str]
    approves: frozenset[str]
    goes_on: frozenset[str]
    beside_going: frozenset[str]
    around: frozenset[str]
    places: frozenset[str]
    whole: frozenset[str]
    leaves: frozenset[str]
    beside_leaving: frozenset[str]


class _Instead(NamedTuple):
    """A row of [[instead]]: a sentence of `alone` is no command of `of`, and means what `means` says."""

    of: frozenset[str]
    alone: frozenset[str]
    begins: frozenset[str]  # sentences that begin so are not asked for either
    means: str


def in_time(result: Resolution, context: Context) -> Resolution:
    """A typed sentence as its words of time leave it: no piece is short for a minute, and none at once that is not
    found yet; "I'll get it in a second" goes to no second item."""
    words, table = result.words, _table()
    if isinstance(result, Ambiguous) and (_times(words) or says_one_of(table.so_far, words)):
        result = _the_wait(result)
    found = _command(result)
    if found is None:
        return result
    if found.command in table.pieces and _times(words) and not _waits_first(words, context):
        return NotUnderstood(words, reasons=(f'"{" ".join(words)}" speaks of a time, and of no pieces',))
    if found.command in table.places and _times(words) and not NUMBER_WORDS & set(words):
        return _meant_instead(words, "stand by", context)
    none_left = isinstance(result, Understood) and found.command == "stock_lost" and found.have == 0
    if none_left and not table.whole & set(words):
        return _asked(found, words, f'"{" ".join(words)}": all of them, or one?')
    if isinstance(result, Understood) and found.command in table.open and says_one_of(table.so_far, words):
        return _asked(found, words, f'"{" ".join(words)}": it may not be all yet')
    return result


def _asked(found: Command, words: tuple[str, ...], reason: str) -> Near:
    said = " ".join(words)
    return Near(words, (said,), reasons=(reason,), likely=found, sentence=said)


def instead(result: Resolution, context: Context) -> Resolution:
    """What a sentence means that is like another command: "check it" orders to look, and books nothing."""
    found = _command(result)
    if found is None:
        return result
    said = _between(result.words)
    heads = {" ".join(said.split()[:n]) for n in (1, 2, 3)} if isinstance(result, Near) else set()
    rows = (row for row in _instead() if found.command in row.of)
    row = next((row for row in rows if said in row.alone or row.begins & heads), None)
    return result if row is None else _meant_instead(result.words, row.means, context)


def _between(words: Sequence[str]) -> str:
    """The words without those at the ends that change nothing."""
    light, start, end = _table().around, 0, len(words)
    while start < end and words[start] in light:
        start += 1
    while end > start and words[end - 1] in light:
        end -= 1
    return " ".join(words[start:end])


def _meant_instead(words: Sequence[str], means: str, context: Context) -> Resolution:
    command = plain_command(tuple(means.split()), context) if means else None
    if command is None:
        said = " ".join(words)
        return NotUnderstood(tuple(words), reasons=(f'"{said}" says of no item that it is here',))
    return Understood(command, tuple(words), (readback(command),), reasons=(f'read as "{means}"',))


def goes_on(words: Sequence[str]) -> bool:
    """Whether the words only say to go on, and not that anything was fetched: "okay, carry on"."""
    said, table = set(words), _table()
    return bool(said & table.goes_on) and said <= table.goes_on | table.beside_going


def both_counted(command: Command, words: Sequence[str]) -> Command:
    """ "Got both": two pieces, and not all that an item asks for."""
    counts = command.command in _table().counts and command.quantity is None
    return command.model_copy(update={"quantity": 2}) if counts and "both" in words else command


Stance = Literal["refuses", "drops", "approves", ""]


def stance(words: Sequence[str]) -> Stance:
    """What a sentence that is not understood is to a readback, by its words; "" where they do not tell."""
    said, table = set(words), _table()
    if said & (table.refuses | table.drops):
        return "drops" if said & (table.drops | table.needs) else "refuses"
    return "approves" if said <= table.approves else ""


def only_leaves(words: Sequence[str]) -> bool:
    """Whether somebody says that they must leave, and nothing else: "sorry, I have to run" is no alarm."""
    table, said = _table(), " ".join(words)
    found = next((phrase for phrase in table.leaves if f" {phrase} " in f" {said} "), None)
    return found is not None and set(f" {said} ".replace(f" {found} ", " ").split()) <= table.beside_leaving


def _command(result: Resolution) -> Command | None:
    meant = result.likely if isinstance(result, Near) else result.meaning if isinstance(result, Understood) else None
    return meant if isinstance(meant, Command) else None


def _the_wait(result: Ambiguous) -> Resolution:
    """Of several readings the wait, where one is: "only two so far" makes nothing short."""
    waits = next((c for c in result.candidates if isinstance(c, Command) and c.command == "stand_by"), None)
    return result if waits is None else Understood(waits, result.words, (readback(waits),))


def _times(words: Sequence[str]) -> list[int]:
    """Where words of time stand."""
    table = _table()
    return [at for at, word in enumerate(words) if word in table.times
            or (word == "second" and words[at - 1 : at] and words[at - 1] in table.before_second)]  # fmt: skip


def _waits_first(words: Sequence[str], context: Context) -> bool:
    """ "Hang on a minute, we are two short": a wait, and then a sentence of its own."""
    end = _times(words)[-1] + 1
    head = plain_command(words[:end], context) if end < len(words) else None
    return head is not None and head.command == "stand_by" and plain_command(words[end:], context) is not None


@lru_cache(maxsize=1)
def _instead() -> tuple[_Instead, ...]:
    rows = read_toml(data_folder("grammars") / "asides.toml")["instead"]
    return tuple(
        _Instead(frozenset(row["of"]), frozenset(row["alone"]), frozenset(row.get("begins", ())), row["is"])
        for row in rows
    )


@lru_cache(maxsize=1)
def _table() -> _Table:
    table = read_toml(data_folder("grammars") / "asides.toml")
    return _Table(**{key: frozenset(table[key]) for key in _Table._fields})
