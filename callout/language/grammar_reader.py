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

from lark import Lark, Token, Transformer, Tree
from lark.exceptions import UnexpectedInput, VisitError

from callout.errors import BadInput
from callout.files import read_text
from callout.language.numerals import Form

_NOTATION = r"""
start: rule*
rule: REF (SET | ADD) choice ";"
choice: sequence ("|" sequence)*
sequence: item*
item: atom [REPEAT]
?atom: WORD -> word
     | REF -> reference
     | NUMBERS -> numbers
     | MARK -> mark
     | "(" choice ")" -> group
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


def _number(figures: str) -> int:
    if len(figures) > len(str(LARGEST_NUMBER)):
        raise ValueError(f"the number {figures[:20]} is too large: at most {LARGEST_NUMBER}")
    return int(figures)


def _is_too_deep(text: str) -> bool:
    depth = deepest = 0
    for mark in re.findall(r"[\[\]()]", text):
        depth += 1 if mark in "[(" else -1
        deepest = max(deepest, depth)
    return deepest > _DEEPEST


class _Builder(Transformer[Token, Node]):
    def word(self, found: list[Token]) -> Node:
        return Word(str(found[0]))

    def reference(self, found: list[Token]) -> Node:
        return Ref(found[0][1:-1])

    def mark(self, found: list[Token]) -> Node:
        return Mark(tuple(found[0][1:-1].split()))

    def numbers(self, found: list[Token]) -> Node:
        span, _, form = found[0][1:-1].partition(" ")
        if ".." in span:
            low, high = map(_number, span.split(".."))
            values = tuple(range(low, high + 1))
        else:
            values = tuple(map(_number, span.split(",")))
        forms: dict[str, tuple[Form, ...]] = {"grouped": ("grouped",), "digits": ("digits",)}
        return Numbers(values, forms.get(form, ("grouped", "digits")))

    def group(self, found: list[Node]) -> Node:
        return found[0]

    def optional(self, found: list[Node]) -> Node:
        return Alt((found[0], EMPTY))

    def item(self, found: list[Node | Token | None]) -> Node:
        node, repeat = found
        assert node is not None
        assert not isinstance(node, Token)
        return node if repeat is None else Many(node, 1 if repeat == "+" else 0)

    def sequence(self, found: list[Node]) -> Node:
        return found[0] if len(found) == 1 else Seq(tuple(found))

    def choice(self, found: list[Node]) -> Node:
        return found[0] if len(found) == 1 else Alt(tuple(found))


@lru_cache(maxsize=1)
def _reader() -> Lark:
    return Lark(_NOTATION, parser="lalr", maybe_placeholders=True)


@lru_cache(maxsize=64)
def _statements(text: str) -> tuple[tuple[str, str, Node], ...]:
    """The rules of a text. A text that was read is read no more: several readers want the same file, and all of them
    again once a team was taught a word."""
    return tuple(_statement(row) for row in _reader().parse(text).children if isinstance(row, Tree))


def _statement(row: Tree[Token]) -> tuple[str, str, Node]:
    """A rule's name, whether it is set (=) or added to (|=), and what it is."""
    name, how, choice = row.children
    assert isinstance(choice, Tree)
    return str(name)[1:-1], str(how), _Builder().transform(choice)


def read_lines(lines: Mapping[str, str]) -> dict[str, Node]:
    """Lines of grammar, each the right side of a rule, by their names. Raises BadInput naming a bad one."""
    text = "".join(f"<line> |= {line} ;\n" for line in lines.values())
    try:
        statements = _statements(text)
    except UnexpectedInput as wrong:
        where = list(lines)[min(wrong.line, len(lines)) - 1] if lines and wrong.line > 0 else "the last line"
        raise BadInput(f"{where}: words that cannot be read; mend them or take them out") from None
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
            text = read_text(file)
            if _is_too_deep(text):
                raise BadInput(f"{file.name}: more than {_DEEPEST} brackets within brackets; write rules of their own")
            statements = _statements(text)
        except UnexpectedInput as wrong:
            where = f"{file.name}, line {wrong.line}, column {wrong.column}"
            raise BadInput(f"{where}: a grammar line that cannot be read; mend it or take it out") from None
        except VisitError as wrong:
            raise BadInput(f"{file.name}: {wrong.orig_exc}") from None
        for name, how, node in statements:
            if how == "|=":
                found[name] = Alt((found[name], node)) if name in found else node
            elif name in found and (rules is None or name not in rules):
                raise BadInput(f"{file.name}: the rule <{name}> is already there; add to it with |=")
            else:
                found[name] = node
    return found
