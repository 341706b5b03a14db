"""The language for people: the crib sheet, the help of each state, the vocabulary and its check."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, lru_cache
from itertools import combinations
from typing import NamedTuple, TypedDict

import jinja2

from callout.data import data_folder
from callout.language import grammar, lexicon
from callout.language.context import Context
from callout.language.files import read_toml
from callout.language.parse import parse


class Section(NamedTuple):
    """A block of the crib sheet: lines of (what to say, what it does)."""

    title: str
    lines: tuple[tuple[str, str], ...]


class WordRow(TypedDict):
    """A word of the language: the rules that use it, its sounds, its near twins."""

    word: str
    rules: list[str]
    sounds: list[str]
    twins: list[str]


@lru_cache(maxsize=1)
def sections() -> tuple[Section, ...]:
    table = read_toml(data_folder("grammars") / "card.toml")
    return tuple(Section(s["title"], tuple((say, does) for say, does in s["lines"])) for s in table["section"])


def help_lines(state: str) -> tuple[str, ...]:
    """The sentences of the crib sheet that may be said in a state: what "help" answers there."""
    context = Context(state=state)
    return tuple(say for section in sections() for say, _ in section.lines if parse(say.split(), context))


@cache
def spoken_help(state: str) -> tuple[str, ...]:
    """The few of them that "help" speaks: those of the table in `card.toml` that the grammar takes in that state."""
    few = read_toml(data_folder("grammars") / "card.toml")["help"].get(state, ())
    return tuple(say for say in few if parse(say.split(), Context(state=state))) or help_lines(state)[:8]


def as_text() -> str:
    """The crib sheet for the screen."""
    width = max(len(say) for section in sections() for say, _ in section.lines)
    blocks = []
    for section in sections():
        lines = [f"  {say:<{width}}  {does}" for say, does in section.lines]
        blocks.append("\n".join((section.title.upper(), *lines)))
    return "\n\n".join(blocks)


def vocabulary() -> Iterator[WordRow]:
    """Every word of the language in order, with where it is used, how it sounds and what it is taken for."""
    for word, rules in grammar.load().words().items():
        twins = [b if a == word else a for a, b, _ in lexicon.twins() if word in (a, b)]
        sounds = [" ".join(p) for p in lexicon.prons(word)]
        yield WordRow(word=word, rules=list(rules), sounds=sounds, twins=twins)


#: Two phrases this many phones apart or less are too close, where one could be taken for the other.
_TOO_CLOSE = 1


def check_words() -> list[str]:
    """What is wrong with the words, one line each: no pronunciation, or too close to another word for another thing.

    Compared are whole phrases, since a word in the middle of a sentence is kept apart by its neighbours: the commands
    of each state with one another, the names of the parts, the kinds of shore. Singular and plural mean the same and
    pass; so do pairs listed as near twins.
    """
    words = grammar.load().words()
    faults = [f'"{w}" has no pronunciation: add a line to grammars/pronunciations.dict' for w in words
              if not lexicon.prons(w)]  # fmt: skip
    if faults:
        return faults
    for group in _groups():
        for a, b in combinations(sorted(group), 2):
            if group[a] != group[b] and not lexicon.are_twins(a.split(), b.split()) and _close(a, b):
                fault = f'"{a}" and "{b}" sound too much alike: choose another, or list them in grammars/twins.toml'
                faults.append(fault)
    return list(dict.fromkeys(faults))


def _close(a: str, b: str) -> bool:
    return abs(len(a) - len(b)) <= 8 and lexicon.phone_distance(a, b) <= _TOO_CLOSE


def _groups() -> Iterator[dict[str, str]]:
    """Phrases that must be told apart, each with what it means."""
    language = grammar.load()
    yield {phrase: part for part, phrases in language.parts.items() for phrase in phrases}
    for state in language.states.values():
        phrases = {p for rule in state.rules if rule != "callout" for p in language.phrases(rule)}
        phrases |= set(language.phrases("kind")) | set(language.phrases("sole"))
        yield {p: repr(readings[0].meaning) for p in phrases for readings in (parse(p.split()),) if readings}


def as_html() -> str:
    """The crib sheet as a page that prints on one side of A4 or letter, in type to read at arm's length."""
    environment = jinja2.Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
    return environment.from_string(_PAGE).render(sections=sections())


#: Black on white, two columns, no colour needed to read it; works without network and without scripts.
_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>callout: what to say</title>
<style>
@page { margin: 9mm; }
body { font: 12pt/1.25 "DejaVu Sans", Arial, Helvetica, sans-serif; color: #000; background: #fff; margin: 0 auto;
       max-width: 198mm; }
h1 { font-size: 17pt; line-height: 1.1; margin: 0 0 2mm; border-bottom: 1mm solid #000; }
main { columns: 2; column-gap: 5mm; }
h2 { font-size: 11.5pt; margin: 1.5mm 0 0.8mm; background: #000; color: #fff; padding: 0.3mm 1.5mm; break-after: avoid;
     print-color-adjust: exact; -webkit-print-color-adjust: exact; }
p { margin: 0 0 0.9mm 3mm; text-indent: -3mm; break-inside: avoid; }
span { font-size: 9.5pt; }
</style>
</head>
<body>
<h1>callout: what to say</h1>
<main>
{% for section in sections %}
<h2>{{ section.title }}</h2>
{% for say, does in section.lines %}
<p><b>{{ say }}</b> <span>{{ does }}</span></p>
{% endfor %}
{% endfor %}
</main>
</body>
</html>
"""
