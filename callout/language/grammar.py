"""The one grammar: rules, states of the conversation, parts and spellings, read once from `grammars/`."""

from __future__ import annotations

import os
import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from callout.data import data_folder
from callout.errors import CalloutError
from callout.language.files import read_toml
from callout.language.network import Network
from callout.language.numerals import number_words
from callout.language.template import EMPTY, Alt, Many, Mark, Node, Numbers, Ref, Seq, Word, read_rules

RULE_FILES = ("numbers", "measures", "callout", "conversation", "stock", "site")
_TYPICAL = "typical "


@dataclass(frozen=True)
class State:
    """A state of the conversation. `rules` are the grammar rules that may be said in it.

    `only`: a state for a purpose of its own, no part of "everything".
    """

    name: str
    title: str
    rules: tuple[str, ...]
    only: bool = False


@dataclass
class Grammar:
    """`parts`: part name -> its words, singular and plural first. `spellings`: word -> the word it is read as."""

    rules: Mapping[str, Node]
    sample_rules: Mapping[str, Node]
    wide_rules: Mapping[str, Node]
    states: dict[str, State]
    parts: dict[str, tuple[str, ...]]
    spellings: dict[str, str]
    _networks: dict[tuple[str | None, bool], Network] = field(default_factory=dict)

    def roots(self, state: str | None = None) -> tuple[str, ...]:
        """The rules that may be said in a state; in every state together for None."""
        if state is not None:
            if state not in self.states:
                raise CalloutError(f"no state {state!r}; the states are: {', '.join(self.states)}")
            return self.states[state].rules
        return tuple(dict.fromkeys(r for s in self.states.values() if not s.only for r in s.rules))

    def _wide_root(self, state: str | None) -> Node:
        names = [f"wide {root}" for root in self.roots(state)]
        return Alt(tuple(Ref(name) for name in names if name in self.wide_rules))

    def utterance(self, state: str | None = None) -> Node:
        """All that may be said in a state: an opening, one of its rules, a closing."""
        said = Alt(tuple(Ref(root) for root in self.roots(state)))
        if state is not None and self.states[state].only:
            return said
        return Seq((Alt((Ref("opening"), EMPTY)), said, Many(Ref("closing"), 0)))

    def network(self, state: str | None = None, *, wide: bool = False) -> Network:
        key = (state, wide)
        if key not in self._networks:
            root = self._wide_root(state) if wide else self.utterance(state)
            self._networks[key] = Network(self.wide_rules if wide else self.rules, root)
        return self._networks[key]

    def words(self, *, wide: bool = False) -> dict[str, tuple[str, ...]]:
        """Every word and the rules that use it, in order; `wide`: with the words that are typed only."""
        found: dict[str, list[str]] = {}
        for name, node in (self.wide_rules if wide else self.rules).items():
            for word in sorted(_words_of(node)):
                found.setdefault(word, []).append(name)
        return {word: tuple(found[word]) for word in sorted(found)}

    def phrases(self, rule: str) -> list[str]:
        """The sentences of a rule that hold no number and no part of the stock, each once."""
        return list(dict.fromkeys(" ".join(words) for words in self._phrases(Ref(rule)) if words))

    def _phrases(self, node: Node) -> list[tuple[str, ...]]:
        if isinstance(node, Word):
            return [(node.text,)]
        if isinstance(node, Numbers) or node == Ref("part"):
            return []
        if isinstance(node, Ref):
            return self._phrases(self.rules[node.name])
        if isinstance(node, Alt):
            return [words for item in node.items for words in self._phrases(item)]
        if isinstance(node, Many):
            return self._phrases(node.item) if node.least else [()]
        found: list[tuple[str, ...]] = [()]
        for item in node.items if isinstance(node, Seq) else ():
            found = [(*before, *words) for before in found for words in self._phrases(item)]
        return found

    def sample(self, rng: random.Random, n: int, state: str | None = None) -> list[tuple[str, ...]]:
        """`n` random sentences of a state (of any state for None), as words, in the forms that people use."""
        roots = self.roots(state)
        return [tuple(self._say(Ref(rng.choice(roots)), rng)) for _ in range(n)]

    def _say(self, node: Node, rng: random.Random) -> list[str]:
        if isinstance(node, Word):
            return [node.text]
        if isinstance(node, Mark):
            return []
        if isinstance(node, Numbers):
            return list(number_words(rng.choice(node.values), rng.choice(node.forms)))
        if isinstance(node, Ref):
            typical = self.sample_rules.get(_TYPICAL + node.name)
            return self._say(typical or self.sample_rules[node.name], rng)
        if isinstance(node, Alt):
            return self._say(rng.choice(node.items), rng)
        if isinstance(node, Many):
            times = node.least + rng.choice((0, 0, 1))
            return [word for _ in range(times) for word in self._say(node.item, rng)]
        return [word for item in node.items for word in self._say(item, rng)]


def _words_of(node: Node) -> set[str]:
    if isinstance(node, Word):
        return {node.text}
    if isinstance(node, Numbers):
        return {word for n in node.values for form in node.forms for word in number_words(n, form)}
    if isinstance(node, Many):
        return _words_of(node.item)
    if isinstance(node, (Seq, Alt)):
        return {word for item in node.items for word in _words_of(item)}
    return set()


def _states(table: dict[str, Any]) -> dict[str, State]:
    always = tuple(table.pop("always"))
    states = {}
    for name, row in table.items():
        only = bool(row.get("only", False))
        rules = tuple(dict.fromkeys((*row["rules"], *(() if only else always))))
        states[name] = State(name, row["title"], rules, only)
    return states


def _part_rule(parts: Mapping[str, tuple[str, ...]]) -> Node:
    return Alt(
        tuple(
            Seq((*(Word(w) for w in phrase.split()), Mark(("part", name))))
            for name, phrases in parts.items()
            for phrase in phrases
        )
    )


def team_folder() -> Path | None:
    """The folder of a team's own words, named by the environment variable CALLOUT_TEAM; None where there is none.

    It may hold `parts.toml` (lines added to, or put in place of, the same lines of ours), `*.grammar` (rules to add
    to ours with |=) and `pronunciations.dict`.
    """
    named = os.environ.get("CALLOUT_TEAM")
    if not named:
        return None
    if not Path(named).is_dir():
        raise CalloutError(f"CALLOUT_TEAM names {named!r}, which is no folder; make it, or unset CALLOUT_TEAM")
    return Path(named)


def _parts(files: Iterable[Path]) -> dict[str, tuple[str, ...]]:
    """Part name -> its words, from the files that are there. Raises CalloutError for a line that is no such list."""
    parts: dict[str, tuple[str, ...]] = {}
    for file in files:
        for name, phrases in read_toml(file).items() if file.exists() else ():
            plain = isinstance(phrases, list) and len(phrases) > 1 and all(_is_phrase(p) for p in phrases)
            if not plain:
                raise CalloutError(f'{file.name}: write {name} = ["one", "many"], in small letters without marks')
            parts[name] = tuple(phrases)
    return parts


def _is_phrase(phrase: object) -> bool:
    return isinstance(phrase, str) and all(w.isascii() and w.isalpha() and w.islower() for w in phrase.split(" "))


@lru_cache(maxsize=1)
def load() -> Grammar:
    """The grammar of this installation with the team's own words, read once.

    Raises CalloutError for a file that cannot be read.
    """
    folder, team = data_folder("grammars"), team_folder()
    parts = _parts([folder / "parts.toml", *([team / "parts.toml"] if team else [])])
    own = sorted(team.glob("*.grammar")) if team else []
    files = [*(folder / f"{name}.grammar" for name in RULE_FILES), *own]
    rules = read_rules(files, {"part": _part_rule(parts)})
    samples = read_rules([folder / "sample.grammar"], rules)
    wide = read_rules([folder / "wide.grammar"], rules)
    states = _states(read_toml(folder / "states.toml"))
    return Grammar(rules, samples, wide, states, parts, read_toml(folder / "spellings.toml"))
