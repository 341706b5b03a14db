"""The reader of the grammar files: readable rules in, a tree of words, choices and marks out.

The notation is explained at the head of `grammars/numbers.grammar`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Union

from callout.errors import BadInput
from callout.files import read_text
from callout.language.numerals import Form

_TOKEN = re.compile(
    r"""(?P<blank>(?:[ \t\f\r\n]|\#[^\n]*)+)
    | (?P<word>[a-z]+)
    | (?P<set>\|?=)
    | (?P<sign>[|;()\[\]*+])
    | (?P<mark>\{[^}\n]+\})
    | (?P<numbers><\d+(?:\.\.\d+|(?:,\d+)*)(?:\ (?:grouped|digits))?>)
    | (?P<rule><[a-z][a-z0-9_ ]*>)""",
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
#: Brackets within brackets.
_DEEPEST = 30


def _number(figures: str) -> int:
    if len(figures) > len(str(LARGEST_NUMBER)):
        raise ValueError(f"the number {figures[:20]} is too large: at most {LARGEST_NUMBER}")
    return int(figures)


def _numbers(inside: str) -> Numbers:
    span, _, form = inside.partition(" ")
    if ".." in span:
        low, high = map(_number, span.split(".."))
        values = tuple(range(low, high + 1))
    else:
        values = tuple(map(_number, span.split(",")))
    forms: dict[str, tuple[Form, ...]] = {"grouped": ("grouped",), "digits": ("digits",)}
    return Numbers(values, forms.get(form, ("grouped", "digits")))


class _Unreadable(Exception):
    """Text that is no grammar, and where that shows; `why` where there is more to say."""

    def __init__(self, text: str, at: int, why: str = "") -> None:
        self.line, self.column = 1 + text.count("\n", 0, at), at - text.rfind("\n", 0, at)
        self.why = why


class _Choice:
    """What is being read between two brackets, or on the right side of a rule."""

    def __init__(self, closing: str) -> None:
        self.closing = closing
        self._lines: list[Node] = []
        self.line: list[Node] = []

    def end_line(self) -> None:
        self._lines.append(self.line[0] if len(self.line) == 1 else Seq(tuple(self.line)))
        self.line = []

    def whole(self) -> Node:
        self.end_line()
        found = self._lines[0] if len(self._lines) == 1 else Alt(tuple(self._lines))
        return Alt((found, EMPTY)) if self.closing == "]" else found


def _atom(kind: str, piece: str) -> Node:
    if kind == "word":
        return Word(piece)
    inside = piece[1:-1]
    return Ref(inside) if kind == "rule" else _numbers(inside) if kind == "numbers" else Mark(tuple(inside.split()))


class _Reader:
    """Reads a text one piece after another. Between two rules there is no open choice."""

    def __init__(self) -> None:
        self.rules: list[tuple[str, str, Node]] = []
        self._rule: list[str] = []  # its name, and "=" or "|="
        self._open: list[_Choice] = []
        self._repeatable = False

    def take(self, kind: str, piece: str) -> str | None:
        """Take the next piece in; returns what is wrong where it cannot be there ("" where nothing more is to say)."""
        if not self._open:
            return self._begin(kind, piece)
        here = self._open[-1]
        repeatable, self._repeatable = self._repeatable, kind not in ("sign", "set") or piece in (")", "]")
        if kind not in ("sign", "set"):
            here.line.append(_atom(kind, piece))
        elif piece in ("(", "["):
            self._open.append(_Choice({"(": ")", "[": "]"}[piece]))
            if len(self._open) > _DEEPEST + 1:
                return f"more than {_DEEPEST} brackets within brackets; write rules of their own"
        elif piece == "|":
            here.end_line()
        elif piece in ("*", "+") and repeatable:
            here.line[-1] = Many(here.line[-1], 1 if piece == "+" else 0)
        elif piece == here.closing:
            self._close()
        else:
            return ""
        return None

    def _begin(self, kind: str, piece: str) -> str | None:
        if kind != ("set" if self._rule else "rule"):
            return ""
        self._rule.append(piece)
        if kind == "set":
            self._open.append(_Choice(";"))
        return None

    def _close(self) -> None:
        node = self._open.pop().whole()
        if self._open:
            self._open[-1].line.append(node)
        else:
            name, how = self._rule
            self.rules.append((name[1:-1], how, node))
            self._rule = []

    @property
    def is_between_rules(self) -> bool:
        return not self._rule


@lru_cache(maxsize=64)
def _statements(text: str) -> tuple[tuple[str, str, Node], ...]:
    """The rules of a text: the name of each, whether it is set (=) or added to (|=), and what it is.

    A text that was read is read no more: several readers want the same file, and all of them again once a team was
    taught a word.
    """
    reader, at = _Reader(), 0
    while at < len(text):
        found = _TOKEN.match(text, at)
        if found is None:
            raise _Unreadable(text, at)
        kind = str(found.lastgroup)
        try:
            wrong = reader.take(kind, found.group()) if kind != "blank" else None
        except ValueError as large:
            wrong = str(large)
        if wrong is not None:
            raise _Unreadable(text, at, wrong)
        at = found.end()
    if not reader.is_between_rules:
        raise _Unreadable(text, len(text.rstrip()))
    return tuple(reader.rules)


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
