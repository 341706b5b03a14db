"""The one grammar: rules, states of the conversation, parts and spellings, read once from `grammars/`."""

from __future__ import annotations

import random
import threading
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, lru_cache
from math import prod
from pathlib import Path
from typing import Any

from callout.errors import BadInput, CalloutError
from callout.files import data_folder, read_toml
from callout.language import command_rules
from callout.language.commands import commands
from callout.language.grammar_reader import (
    EMPTY,
    Alt,
    Many,
    Mark,
    Node,
    Numbers,
    Ref,
    Seq,
    Word,
    read_lines,
    read_rules,
)
from callout.language.network import KEPT, Network
from callout.language.numerals import number_words
from callout.language.team import PARTS, team_files, team_grammars

RULE_FILES = ("numbers", "measures", "callout", "conversation", "stock", "site", "sizing", "looks")
_TYPICAL = "typical "
#: What is kept of the network of what is spoken, which the ears' process walks all day: more brings it nothing.
_KEPT_OF_SPOKEN = 2_000
#: In an example, any number.
NUMBER = "NUMBER"
#: In an example, any part of the stock.
PART = "PART"


@dataclass(frozen=True)
class State:
    """A state of the conversation. `rules` are the grammar rules that may be said in it.

    `only`: a state for a purpose of its own, no part of "everything". `waits`: something waits for an answer.
    """

    name: str
    title: str
    rules: tuple[str, ...]
    only: bool = False
    waits: bool = False


@dataclass
class Grammar:
    """`rules` are what may be said, and what the ears search. `wide_rules` are those and what is typed only; they are
    read when first asked for; `plain_rules` are the rules as the files have them, without the lines of the commands and
    what was taught. `parts`: part name -> its words, singular and plural first. `spellings`: word -> the word it is
    read as.
    """

    rules: Mapping[str, Node]
    plain_rules: Mapping[str, Node]
    sample_rules: Mapping[str, Node]
    states: dict[str, State]
    parts: dict[str, tuple[str, ...]]
    spellings: dict[str, str]
    _networks: dict[tuple[Node, bool], Network] = field(default_factory=dict)
    _of_states: dict[tuple[str | None, bool], Network] = field(default_factory=dict)
    _building: threading.Lock = field(default_factory=threading.Lock)
    _examples: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def roots(self, state: str | None = None) -> tuple[str, ...]:
        """The rules that may be said in a state; in every state together for None."""
        if state is not None:
            if state not in self.states:
                raise CalloutError(f"no state {state!r}; the states are: {', '.join(self.states)}")
            return self.states[state].rules
        return tuple(dict.fromkeys(r for s in self.states.values() if not s.only for r in s.rules))

    @cached_property
    def wide_rules(self) -> dict[str, Node]:
        return command_rules.wide_rules(self.rules, self.roots())

    def _wide_root(self, state: str | None) -> Node:
        names = [f"wide {root}" for root in self.roots(state)]
        if state is None or not self.states[state].waits:
            names += [f"unasked {root}" for root in self.roots(state)]
        return Alt(tuple(Ref(name) for name in names if name in self.wide_rules))

    def utterance(self, state: str | None = None) -> Node:
        """All that may be said in a state: an opening, one of its rules, a closing; "out" too after what has a form of
        its own, a callout and a yes among them."""
        names = self.roots(state)
        if state is not None and self.states[state].only:
            return Alt(tuple(Ref(name) for name in names))
        own = tuple(Ref(name) for name in names if name in command_rules.OWN_FORM)
        plain = tuple(Ref(name) for name in names if name not in command_rules.OWN_FORM)
        if state is None or not self.states[state].waits:
            plain += tuple(Ref(name) for root in names if (name := f"unasked spoken {root}") in self.rules)
        carried = Seq((Many(Ref("before"), 0), Alt(plain))) if "before" in self.rules else Alt(plain)
        said = Alt((Seq((Alt(own), Many(Ref("ending"), 0))), Seq((carried, Many(Ref("closing"), 0)))))
        return Seq((Alt((Ref("opening"), EMPTY)), said))

    def network(self, state: str | None = None, *, wide: bool = False) -> Network:
        if (state, wide) not in self._of_states:
            self._of_states[state, wide] = self._network_of(state, wide)
        return self._of_states[state, wide]

    def _network_of(self, state: str | None, wide: bool) -> Network:
        root = self._wide_root(state) if wide else self.utterance(state)  # several states have the same
        with self._building:
            if (root, wide) not in self._networks:
                built = next((network for (_, w), network in self._networks.items() if w == wide), None)
                rules, kept = (self.wide_rules, KEPT) if wide else (self.rules, _KEPT_OF_SPOKEN)
                self._networks[root, wide] = built.beside(root) if built else Network(rules, root, kept)
            return self._networks[root, wide]

    @cached_property
    def free_network(self) -> Network:
        """A callout in people's own words, its parts in any order (`callout.language.freely`)."""
        return Network(self._free_rules, Ref("free callout"))

    @cached_property
    def _free_rules(self) -> Mapping[str, Node]:
        return read_rules([data_folder("grammars") / "freely.grammar"], self.wide_rules)

    @cached_property
    def beside_network(self) -> Network:
        """What says a command only beside another way of saying it (`callout.language.clauses`)."""
        rules = {**self.wide_rules, "beside": Alt(tuple(command_rules.lines_of("beside").values()))}
        return Network(rules, command_rules.carried(Ref("beside")))

    @cached_property
    def free_words(self) -> frozenset[str]:
        """The words of a callout in people's own words."""
        return frozenset(_words_under("free callout", self._free_rules))

    @cached_property
    def crew_words(self) -> frozenset[str]:
        """The first word of each kind of crew: "team", "engine"."""
        return frozenset(said.split()[0] for said in _sentences(self.wide_rules, Ref("crew"), number=NUMBER))

    @cached_property
    def _crews(self) -> Network:
        return Network(self.wide_rules, Ref("crew"))

    @cached_property
    def _asides(self) -> Network:
        return Network(self._free_rules, Ref("free aside"))

    def crew_at(self, words: Sequence[str], at: int = 0) -> int:
        """How many words the callsign has that begins at `at`, the longest there is; 0 where none does."""
        return _longest(self._crews, words, at)

    def aside_at(self, words: Sequence[str], at: int = 0) -> int:
        """The same of what is said beside a callout in people's own words, and is no part of it."""
        return _longest(self._asides, words, at)

    def words(self, *, wide: bool = False) -> dict[str, tuple[str, ...]]:
        """Every word and the rules that use it, in order; `wide`: with the words that are typed only."""
        found: dict[str, list[str]] = {}
        for name, node in (self.wide_rules if wide else self.rules).items():
            if name == command_rules.NEW_WORDS:
                continue
            for word in sorted(_words_of(node)):
                found.setdefault(word, []).append(name)
        return {word: tuple(found[word]) for word in sorted(found)}

    def phrases(self, rule: str, *, few: bool = False) -> list[str]:
        """The sentences of a rule that hold no number and no part of the stock, each once; `few`: of a long list of
        words for one thing only the first."""
        return _sentences(self.rules, Ref(rule), number=None, few=few)

    def examples(self, state: str | None = None) -> list[str]:
        """What may be typed in a state beside callouts and yes, without carrier words; NUMBER and PART stand for any
        number and any part of the stock. Each once, in order."""
        return list(dict.fromkeys(said for name in self.example_rules(state) for said in self.examples_of(name)))

    def example_rules(self, state: str | None = None) -> tuple[str, ...]:
        """The rules whose sentences are the examples of a state."""
        waits = state is not None and self.states[state].waits
        kinds = ("plain",) if waits else ("plain", "unasked plain")
        names = (f"{kind} {root}" for root in self.roots(state) for kind in kinds)
        return tuple(name for name in names if name in self.wide_rules)

    def examples_of(self, rule: str) -> tuple[str, ...]:
        """The sentences of one of the `example_rules`."""
        if rule not in self._examples:
            self._examples[rule] = tuple(_sentences(self.wide_rules, Ref(rule), number=NUMBER))
        return self._examples[rule]

    def sample(self, rng: random.Random, n: int, state: str | None = None) -> list[tuple[str, ...]]:
        """`n` random sentences of a state (of any state for None), as words, in the forms that people use."""
        roots = self.roots(state)
        return [tuple(self._say(Ref(rng.choice(roots)), rng)) for _ in range(n)]

    def sample_lines(self, rng: random.Random, n: int) -> list[tuple[str, ...]]:
        """`n` random sentences of people's own ways to say a command that the ears search for; a line with more words
        is said more often."""
        lines = rng.choices(tuple(self._spoken_lines), tuple(self._spoken_lines.values()), k=n)
        return [tuple(self._say(line, rng)) for line in lines]

    @cached_property
    def _spoken_lines(self) -> dict[Node, int]:
        """Each line, and how many words it has."""
        rows = commands().values()
        lines = {f"{row.name}, {i}": line for row in rows
                 for i, line in enumerate((*row.spoken, *row.spoken_unless_asked))}  # fmt: skip
        return {node: len(_words_of(node)) for node in read_lines(lines).values()}

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


def _longest(network: Network, words: Sequence[str], at: int) -> int:
    """How many words the longest sentence of a network has that begins at `at`; 0 where none does."""
    here, longest = frozenset({network.start}), 0
    for count, word in enumerate(words[at:], 1):
        here = network.after(here, word)
        if not here:
            break
        if any(network.ends(state) for state in here):
            longest = count
    return longest


def _sentences(rules: Mapping[str, Node], node: Node, number: str | None, *, few: bool = False) -> list[str]:
    """All that a rule can say, each once; with `number` in place of every number, or for None without those that hold
    one. PART stands for a part of the stock; without `number`, what holds one is left out."""
    made: dict[str, list[tuple[str, ...]]] = {}
    short = (*(_ONE_OF_MANY if number is not None else ()), *(_SAME_THING if few else ()))

    def say(node: Node) -> list[tuple[str, ...]]:
        if isinstance(node, Word):
            return [(node.text,)]
        if isinstance(node, Numbers):
            return [] if number is None else [(number,)]
        if isinstance(node, Ref):
            if node.name not in made:
                made[node.name] = _placed(node.name, number) if node.name in _PLACES else say(rules[node.name])
                made[node.name] = made[node.name][: 1 if node.name in short else None]
            return made[node.name]
        if isinstance(node, Alt):
            return [words for item in node.items for words in say(item)]
        if isinstance(node, Many):
            return say(node.item) if node.least else [()]
        items = [say(item) for item in node.items] if isinstance(node, Seq) else []
        found: list[tuple[str, ...]] = [()]
        for some in items if number is None else _fewer(items):
            found = [(*before, *words) for before in found for words in some]
        return list(dict.fromkeys(found))

    return list(dict.fromkeys(" ".join(words) for words in say(node) if words))


def _fewer(items: list[list[tuple[str, ...]]]) -> list[list[tuple[str, ...]]]:
    """Of a line with more sentences than are of use as examples: without what may be left out, and of the longest
    choices the first."""
    items = [list(dict.fromkeys(item)) for item in items]
    while max(map(len, items), default=0) < prod(map(len, items)) > _MOST_EXAMPLES_OF_A_LINE:
        longest = max(range(len(items)), key=lambda i: ((() in items[i]) and len(items[i]) > 1, len(items[i])))
        items[longest] = [()] if () in items[longest] else items[longest][:1]
    return items


_MOST_EXAMPLES_OF_A_LINE = 120
#: Rules of an example that are not spelled out: a part of the stock is PART, a length is left out.
_PLACES = ("part", "piece", "length", "piece length", "small length", "seen length", "crack width", "out of line")
#: Rules that are long lists of one kind: an example has the first of them.
_ONE_OF_MANY = ("side", "it", "carried in", "store", "where it is", "broken", "some pieces")
#: Rules whose words mean the same thing in a sentence.
_SAME_THING = ("it", "those", "thing", "we", "carried in", "store", "broken", "side")


def _placed(name: str, number: str | None) -> list[tuple[str, ...]]:
    return [(PART,)] if name in ("part", "piece") and number is not None else []


def _words_of(node: Node) -> set[str]:
    if isinstance(node, Word):
        return {node.text}
    if isinstance(node, Numbers):
        return _words_of_numbers(node)
    if isinstance(node, Many):
        return _words_of(node.item)
    if isinstance(node, (Seq, Alt)):
        return {word for item in node.items for word in _words_of(item)}
    return set()


def _words_under(name: str, rules: Mapping[str, Node]) -> set[str]:
    """The words of a rule and of all rules that it uses."""
    used, todo = {name}, [name]
    while todo:
        more = set(command_rules.refs_of(rules[todo.pop()])) - used
        used |= more
        todo += more
    return {word for rule in used for word in _words_of(rules[rule])}


@cache
def _words_of_numbers(node: Numbers) -> set[str]:
    return {word for n in node.values for form in node.forms for word in number_words(n, form)}


def _states(table: dict[str, Any]) -> dict[str, State]:
    always = tuple(table.pop("always"))
    states = {}
    for name, row in table.items():
        only = bool(row.get("only", False))
        rules = tuple(dict.fromkeys((*row["rules"], *(() if only else always))))
        states[name] = State(name, row["title"], rules, only, bool(row.get("waits", False)))
    return states


def _part_rule(parts: Mapping[str, tuple[str, ...]]) -> Node:
    return Alt(
        tuple(
            Seq((*(Word(w) for w in phrase.split()), Mark(("part", name))))
            for name, phrases in parts.items()
            for phrase in phrases
        )
    )


def _parts(files: Iterable[Path]) -> dict[str, tuple[str, ...]]:
    """Part name -> its words, from the files that are there. Raises CalloutError for a line that is no such list."""
    parts: dict[str, tuple[str, ...]] = {}
    for file in files:
        for name, phrases in read_toml(file).items():
            plain = isinstance(phrases, list) and len(phrases) > 1 and all(_is_phrase(p) for p in phrases)
            if not plain:
                raise BadInput(f'{file.name}: write {name} = ["one", "many"], in small letters without marks')
            parts[name] = tuple(phrases)
    return parts


def _is_phrase(phrase: object) -> bool:
    return isinstance(phrase, str) and all(w.isascii() and w.isalpha() and w.islower() for w in phrase.split(" "))


def _with_own(state: State, own: Iterable[str]) -> State:
    if state.waits or state.only:
        return state
    taught = (rule for rule in own if rule.removeprefix(command_rules.TAUGHT) in state.rules)
    return replace(state, rules=(*state.rules, *taught))


@lru_cache(maxsize=1)
def load() -> Grammar:
    """The grammar of this installation with the team's own words, read once.

    Raises CalloutError for a file that cannot be read.
    """
    folder = data_folder("grammars")
    parts = _parts([folder / PARTS, *(file for file in team_files() if file.name == PARTS)])
    files = [*(folder / f"{name}.grammar" for name in RULE_FILES), *team_grammars()]
    plain = read_rules(files, {"part": _part_rule(parts)})
    rules = command_rules.with_spoken(plain)
    known = {word for node in rules.values() for word in _words_of(node)}
    own = command_rules.own_rules(known)
    rules |= {command_rules.NEW_WORDS: command_rules.new_words(known), **own}
    samples = read_rules([folder / "sample.grammar"], rules)
    states = {name: _with_own(state, own) for name, state in _states(read_toml(folder / "states.toml")).items()}
    read = Grammar(rules, plain, samples, states, parts, read_toml(folder / "spellings.toml"))
    # A fault in a team's words is told now, not in the middle of a conversation.
    if team_grammars():
        read.network().complete()
    if team_grammars() or any(row.taught for row in commands().values()):
        read.network(wide=True)
    return read
