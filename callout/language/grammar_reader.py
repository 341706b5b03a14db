"""The reader of the grammar files: readable rules in, a tree of words, choices and marks out.

The notation is explained at the head of `grammars/numbers.grammar`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Union, cast

from lark import Lark, Token, Transformer
from lark.exceptions import UnexpectedInput, UnexpectedToken

from callout.errors import BadInput
from callout.files import read_text
from callout.language.numerals import Form

_NOTATION = r"""
start: rule*
rule: REF (SET | ADD) choice ";"
?choice: sequence ("|" sequence)*
?sequence: item*
?item: atom | atom REPEAT -> many
?atom: WORD -> word
     | REF -> reference
     | NUMBERS -> numbers
     | MARK -> mark
     | "(" choice ")"
     | "[" choice "]" -> optional
SET: "="
ADD: "|="
REPEAT: "*" | "+"
NUMBERS.2: /<\d+(\.\.\d+|(,\d+)*)( (grouped|digits))?>/
REF: /<[a-z][a-z0-9_ ]*>/
MARK: /\{[^}\n]+\}/
WORD: /[a-z]+/
COMMENT: /#[^\n]*/
%import common.WS
%ignore WS
%ignore COMMENT
"""


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


Rule = tuple[str, str, Node]  # its name, whether it is set (=) or added to (|=), and what it is


class _Builder(Transformer[Token, tuple[Rule, ...]]):
    """What each row of the notation becomes, made while it is read."""

    def start(self, found: list[Rule]) -> tuple[Rule, ...]:
        return tuple(found)

    def rule(self, found: list[Token | Node]) -> Rule:
        name, how, choice = found
        assert not isinstance(choice, Token)
        return str(name)[1:-1], str(how), choice

    def word(self, found: list[Token]) -> Node:
        return Word(str(found[0]))

    def reference(self, found: list[Token]) -> Node:
        return Ref(found[0][1:-1])

    def mark(self, found: list[Token]) -> Node:
        return Mark(tuple(found[0][1:-1].split()))

    def numbers(self, found: list[Token]) -> Node:
        span, _, form = found[0][1:-1].partition(" ")
        if ".." in span:
            low, high = (_number(figures, found[0]) for figures in span.split(".."))
            values = tuple(range(low, high + 1))
        else:
            values = tuple(_number(figures, found[0]) for figures in span.split(","))
        forms: dict[str, tuple[Form, ...]] = {"grouped": ("grouped",), "digits": ("digits",)}
        return Numbers(values, forms.get(form, ("grouped", "digits")))

    def optional(self, found: list[Node]) -> Node:
        return Alt((found[0], EMPTY))

    def many(self, found: list[Node | Token]) -> Node:
        node, repeat = found
        assert not isinstance(node, Token)
        return Many(node, 1 if repeat == "+" else 0)

    def sequence(self, found: list[Node]) -> Node:
        return Seq(tuple(found))

    def choice(self, found: list[Node]) -> Node:
        return Alt(tuple(found))


def _number(figures: str, of: Token) -> int:
    if len(figures) > len(str(LARGEST_NUMBER)):
        why = f"the number {figures[:20]} is too large: at most {LARGEST_NUMBER}"
        raise _Unreadable(of.line or 1, of.column or 1, why)
    return int(figures)


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


@lru_cache(maxsize=1)
def _reader() -> Lark:
    return Lark(_NOTATION, parser="lalr", lexer="basic", transformer=_Builder())


@lru_cache(maxsize=64)
def _statements(text: str) -> tuple[Rule, ...]:
    """The rules of a text. A text that was read is read no more: several readers want the same file, and all of them
    again once a team was taught a word."""
    _refuse_what_is_too_deep(text)
    try:
        return cast("tuple[Rule, ...]", _reader().parse(text))
    except UnexpectedInput as wrong:
        ends = isinstance(wrong, UnexpectedToken) and wrong.token.type == "$END"
        raise _Unreadable(*(_place(text, len(text.rstrip())) if ends else (wrong.line, wrong.column))) from None


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
