"""The words that both ears can hear. The second ear has a fixed list, made from `grammars/` with its graph."""

from __future__ import annotations

from pathlib import Path

from callout.hearing.vosk_graph import read_words
from callout.language import grammar

#: What mends a word that one ear lacks.
TEACH_THE_EAR = "type it, say a word that is on the card, or build the second ear's graph with it (docs/language.md)"


def unheard_words() -> tuple[str, ...]:
    """The words of the language that the second ear does not know: a team's own. What holds one and moves nothing is
    taken by voice where the third opinion finds it likely, too; what moves something is hardly ever sure enough."""
    known = read_words(Path(__file__).with_name("weights") / "vosk")
    return tuple(word for word in grammar.load().words() if word not in known)
