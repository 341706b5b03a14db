"""The rules of the commands: their lines, what people put round them, and what a team taught.

To the rules of the grammar files come the other ways to say a command from `grammars/commands.toml` and from a team's
folder: <wide X> and <unasked X> when typed; <unasked spoken X>, <own X> and <new words> by voice, too.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from callout.files import data_folder
from callout.language.commands import CommandRow, commands
from callout.language.grammar_reader import EMPTY, Alt, Many, Mark, Node, Ref, Seq, Word, read_lines, read_rules
from callout.language.numerals import NUMBER_WORDS
from callout.language.team import PHRASES

#: A taught phrase of fewer words is taken when typed alone: one word is soon heard in another.
FEWEST_HEARD = 2
#: What a team taught for the rule <walk> is <own walk>.
TAUGHT = "own "
#: The rule of a phrase that is taught by voice: any words that the ears know, so many of them.
NEW_WORDS = "new words"
_FEWEST_NEW, _MOST_NEW = 2, 4
#: Never among them, beside numbers.
_NEVER_NEW = frozenset({
    "affirm", "affirmative", "yes", "no", "negative", "wrong", "correct", "thats", "correction", "insertion", "stop",
    "evacuate", "cease", "disregard", "cancel", "undo",
})  # fmt: skip
#: Rules whose wider form stands in wide.grammar as a whole: nothing is put round a yes, a callout has its own fillers.
OWN_FORM = ("callout", "yes", "answer", "digit string")


def lines_of(way: str) -> dict[str, Node]:
    """The lines of one kind ("typed") of all commands, by the rule under which they are said."""
    rows = {f"commands.toml, {row.name}, {way}, line {i}": (row, line)
            for row in commands().values() for i, line in enumerate(getattr(row, way), 1)}  # fmt: skip
    rows |= {f"{PHRASES}, {row.name}, phrase {i}": (row, line) for row in commands().values()
             for i, line in enumerate(row.taught, 1) if way == _way_of_taught(row)}  # fmt: skip
    ways: dict[CommandRow, list[Node]] = {}
    for name, node in read_lines({name: line for name, (_, line) in rows.items()}).items() if rows else ():
        ways.setdefault(rows[name][0], []).append(node)
    found: dict[str, list[Node]] = {}
    for row, nodes in ways.items():
        found.setdefault(row.rule, []).append(Seq((Alt(tuple(nodes)), Mark(("command", row.name)))))
    return {rule: Alt(tuple(nodes)) for rule, nodes in found.items()}


def _way_of_taught(row: CommandRow) -> str:
    """A team's own word of the walk may well be an answer, too: where something waits for one, it is not taken."""
    return "unless_asked" if "walk" in row.marks else "typed"


def with_spoken(rules: dict[str, Node]) -> dict[str, Node]:
    """The rules with the spoken lines of the commands, and what those use of everyday.grammar."""
    spoken, unasked = lines_of("spoken"), lines_of("spoken_unless_asked")
    if not spoken and not unasked:
        return rules
    shared = read_rules([data_folder("grammars") / "everyday.grammar"], rules)
    found = {**rules, **{rule: Alt((rules[rule], node)) for rule, node in spoken.items()},
             **{f"unasked spoken {rule}": node for rule, node in unasked.items()}}  # fmt: skip
    todo = ["before", *(name for node in (*spoken.values(), *unasked.values()) for name in refs_of(node))]
    while todo:
        name = todo.pop()
        if name not in found and name in shared:
            found[name] = shared[name]
            todo += refs_of(shared[name])
    return found


def own_rules(known: set[str]) -> dict[str, Node]:
    """What a team taught and the ears can hear, all its words being `known`, by the rule of its command: <own walk>. It
    may be said where that rule may, but not where something waits for an answer, which it could be."""
    found: dict[str, list[Node]] = {}
    for row in commands().values():
        for line in row.taught:
            words = line.split()
            if len(words) >= FEWEST_HEARD and known.issuperset(words):
                said = Seq((*(Word(word) for word in words), Mark(("command", row.name))))
                found.setdefault(f"{TAUGHT}{row.rule}", []).append(said)
    return {rule: Alt(tuple(nodes)) for rule, nodes in found.items()}


def new_words(known: set[str]) -> Node:
    """A phrase of words that are `known`."""
    one = Alt(tuple(Word(word) for word in sorted(known - NUMBER_WORDS - _NEVER_NEW)))
    more = [Alt((one, EMPTY))] * (_MOST_NEW - _FEWEST_NEW)
    return Seq((*[one] * _FEWEST_NEW, *more, Mark(("phrase",)), Mark(("command", "teach"))))


def refs_of(node: Node) -> list[str]:
    """The names of the rules that a rule uses, as they stand in it."""
    if isinstance(node, Ref):
        return [node.name]
    if isinstance(node, Many):
        return refs_of(node.item)
    return [name for item in node.items for name in refs_of(item)] if isinstance(node, (Seq, Alt)) else []


def wide_rules(rules: Mapping[str, Node], roots: Iterable[str]) -> dict[str, Node]:
    """What is typed only, on top of `rules`: <wide X> for each rule X of a state, with carrier words round it, and
    <unasked X> for what is read where nothing waits for an answer."""
    folder = data_folder("grammars")
    everyday = read_rules([folder / "everyday.grammar"], rules)
    wide = read_rules([folder / "wide.grammar"], everyday)
    typed, unasked = lines_of("typed"), lines_of("unless_asked")
    for root in roots:
        if root in OWN_FORM:
            continue
        more = [node for node in (wide.get(f"more {root}"), typed.get(root)) if node is not None]
        wide[f"plain {root}"] = Alt((Ref(root), *more))
        wide[f"wide {root}"] = carried(Ref(f"plain {root}"))
        where_nothing_waits = [n for n in (unasked.get(root), rules.get(f"unasked spoken {root}")) if n is not None]
        if where_nothing_waits:
            wide[f"unasked plain {root}"] = Alt(tuple(where_nothing_waits))
            wide[f"unasked {root}"] = carried(Ref(f"unasked plain {root}"))
    return wide


def carried(node: Node) -> Node:
    """With the words of <carrier> and <tail> round it."""
    after = Many(Alt((Ref("tail"), Ref("closing"))), 0)
    return Seq((Alt((Ref("opening"), EMPTY)), Many(Ref("carrier"), 0), node, after))
