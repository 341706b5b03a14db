"""The reader of the grammar files: readable rules in, a tree of words, choices and marks out.

The notation is explained at the head of `grammars/numbers.grammar`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from pathlib import Path
from typing import NamedTuple, Union

from callout.errors import BadInput
from callout.files import read_text
from callout.language.numerals import Form

#: One token, or what says nothing: spaces and remarks.
_TOKEN = re.compile(
    r"""
      [ \t\f\r\n]+ | \#[^\n]*
    | (?P<numbers> <\d+ (?: \.\.\d+ | (?:,\d+)* ) (?: [ ](?:grouped|digits) )? > )
    | (?P<reference> <[a-z][a-z0-9_ ]*> )
    | (?P<mark> \{[^}\n]+\} )
    | (?P<word> [a-z]+ )
    | (?P<sign> \|= | [=|;*+()\[\]] )
    | (?P<unknown> . )
    """,
    re.VERBOSE,
)


@dataclass(frozen=True)
class Word:
    text: str


@dataclass(frozen=True)
class Mark:
    """What the words before it mean: operations of `callout.language.semantic_actions`, already split into fields."""

    fields: tuple[str, ...]


@dataclass(frozen=True)
class Ref:
    name: str


@dataclass(frozen=True)
class Numbers:
    values: tuple[int, ...]
    forms: tuple[Form, ...]


@dataclass(frozen=True)
class Seq:
    items: tuple[Node, ...]


@dataclass(frozen=True)
class Alt:
    items: tuple[Node, ...]


@dataclass(frozen=True)
class Many:
    """The item any number of times; at least once where `least` is 1."""

    item: Node
    least: int


Node = Union[Word, Mark, Ref, Numbers, Seq, Alt, Many]
EMPTY = Seq(())


#: The largest number of a rule: <0..999>.
LARGEST_NUMBER = 9999
_MOST_FIGURES = len(str(LARGEST_NUMBER))
#: Brackets within brackets.
_DEEPEST = 30
_CLOSING = {"(": ")", "[": "]"}
_FORMS: dict[str, tuple[Form, ...]] = {"": ("grouped", "digits"), "grouped": ("grouped",), "digits": ("digits",)}


Rule = tuple[str, str, Node]  # its name, whether it is set (=) or added to (|=), and what it is


class _Unreadable(Exception):
    """A text is no grammar; where that shows, and `why` where there is more to say."""

    def __init__(self, line: int, column: int, why: str = "") -> None:
        self.line, self.column, self.why = line, column, why


def _refuse_what_is_too_deep(text: str) -> None:
    depth = 0
    for mark in re.finditer(r"[\[\]()]", text):
        depth += 1 if mark.group() in "[(" else -1
        if depth > _DEEPEST:
            why = f"more than {_DEEPEST} brackets within brackets; write rules of their own"
            raise _Unreadable(*_place(text, mark.start()), why)


def _place(text: str, at: int) -> tuple[int, int]:
    """The line and the column, both from 1."""
    return 1 + text.count("\n", 0, at), at - text.rfind("\n", 0, at)


class _Token(NamedTuple):
    kind: str
    text: str
    at: int


class _Reader:
    """One text, read token by token: each is looked at once, and what comes next says what it must be."""

    def __init__(self, text: str) -> None:
        self._text = text
        found = (_Token(m.lastgroup, m.group(), m.start()) for m in _TOKEN.finditer(text) if m.lastgroup)
        self._tokens = chain(found, [_Token("end", "", len(text.rstrip()))])
        self._next = next(self._tokens)

    def rules(self) -> Iterator[Rule]:
        while self._next.kind != "end":
            name = self._take(self._next.kind == "reference").text[1:-1]
            how = self._take(self._next.text in ("=", "|=")).text
            yield name, how, self._choice()
            self._take(self._next.text == ";")

    def _take(self, fits: bool = True) -> _Token:
        """The next token, where it `fits`."""
        token = self._next
        if not fits:
            raise self._unreadable(token)
        self._next = next(self._tokens, token)
        return token

    def _unreadable(self, token: _Token, why: str = "") -> _Unreadable:
        return _Unreadable(*_place(self._text, token.at), why)

    def _choice(self) -> Node:
        ways = [self._sequence()]
        while self._next.text == "|":
            self._take()
            ways.append(self._sequence())
        return ways[0] if len(ways) == 1 else Alt(tuple(ways))

    def _sequence(self) -> Node:
        items: list[Node] = []
        while (item := self._item()) is not None:
            if self._next.text in ("*", "+"):
                item = Many(item, 1 if self._take().text == "+" else 0)
            items.append(item)
        return items[0] if len(items) == 1 else Seq(tuple(items))

    def _item(self) -> Node | None:
        """What comes next in a sequence; None where it ends."""
        kind, text, _ = self._next
        if kind == "word":
            return Word(self._take().text)
        if kind == "reference":
            return Ref(self._take().text[1:-1])
        if kind == "mark":
            return Mark(tuple(self._take().text[1:-1].split()))
        if kind == "numbers":
            return self._numbers(self._take())
        if text not in _CLOSING:
            return None
        self._take()
        choice = self._choice()
        self._take(self._next.text == _CLOSING[text])
        return choice if text == "(" else Alt((choice, EMPTY))

    def _numbers(self, token: _Token) -> Node:
        span, _, form = token.text[1:-1].partition(" ")
        large = next((figures for figures in re.findall(r"\d+", span) if len(figures) > _MOST_FIGURES), None)
        if large is not None:
            raise self._unreadable(token, f"the number {large[:20]} is too large: at most {LARGEST_NUMBER}")
        low, _, high = span.partition("..")
        values = range(int(low), int(high) + 1) if high else map(int, span.split(","))
        return Numbers(tuple(values), _FORMS[form])


@lru_cache(maxsize=64)
def _statements(text: str) -> tuple[Rule, ...]:
    """The rules of a text. A text that was read is read no more: several readers want the same file, and all of them
    again once a team was taught a word."""
    _refuse_what_is_too_deep(text)
    return tuple(_Reader(text).rules())


def read_lines(lines: Mapping[str, str]) -> dict[str, Node]:
    """Lines of grammar, each the right side of a rule, by their names. Raises BadInput naming a bad one."""
    text = "".join(f"<line> |= {line} ;\n" for line in lines.values())
    try:
        statements = _statements(text)
    except _Unreadable as wrong:
        where = list(lines)[min(wrong.line, len(lines)) - 1] if lines else "the last line"
        raise BadInput(f"{where}: {wrong.why or 'words that cannot be read; mend them or take them out'}") from None
    if len(statements) != len(lines):
        raise BadInput(f"{', '.join(lines)}: one line a phrase, without a semicolon")
    return {name: node for name, (_, _, node) in zip(lines, statements, strict=True)}


def read_rules(files: Iterable[Path], rules: Mapping[str, Node] | None = None) -> dict[str, Node]:
    """Read grammar files in the order given and return the rules by name, on top of `rules`.

    Raises BadInput naming the file, the line and what is wrong with it.
    """
    found = dict(rules or {})
    for file in files:
        try:
            statements = _statements(read_text(file))
        except _Unreadable as wrong:
            where = f"{file.name}, line {wrong.line}, column {wrong.column}"
            why = wrong.why or "a grammar line that cannot be read; mend it or take it out"
            raise BadInput(f"{where}: {why}") from None
        for name, how, node in statements:
            if how == "|=":
                found[name] = Alt((found[name], node)) if name in found else node
            elif name in found and (rules is None or name not in rules):
                raise BadInput(f"{file.name}: the rule <{name}> is already there; add to it with |=")
            else:
                found[name] = node
    return found
