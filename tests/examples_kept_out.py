"""What the examples decide of sentences that are kept out of them: `python -m tests.examples_kept_out [list ...]`.

Each list of tests/data/people in turn is taken out of `grammars/examples.toml`, and its rows are then
decided by the rest: whether what is sure is right, what would be asked, and whether other talk is left alone. The bars
in `callout/language/examples.py` come from here.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator

from callout.language.examples import Examples, Found, decided, examples
from callout.language.nearest import abstracted
from callout.language.outcome import Near, NotUnderstood, Understood
from callout.language.parse import fold
from callout.language.typed import typed_words
from tests.people_other_hands import LISTS, Verdict, judged, rows
from tests.people_talk import context


def without(name: str) -> Examples:
    """The examples but those that a list has too."""
    theirs = {tuple(said) for _, _, row in rows(name) for said, _, _ in abstracted(fold(typed_words(row).words))}
    return Examples(example for example in examples() if example.words not in theirs)


def decisions(name: str) -> Iterator[tuple[Verdict, tuple[str, str, str]]]:
    """What each row of a list but callouts, corrections and a yes comes to by the examples without that list."""
    known = without(name)
    for state, meant, said in rows(name):
        if meant.split()[0] not in ("callout", "correction", "affirm"):
            found = decided(known, fold(typed_words(said).words), context(state))
            yield judged(meant, _as_result(found)), (state, meant, said)


def _as_result(found: Found | None) -> Understood | Near | NotUnderstood:
    if found is None:
        return NotUnderstood(())
    if found.sure:
        return Understood(found.command, ())
    return Near((), likely=found.command, sentence=found.sentence)


def main() -> None:
    total: Counter[str] = Counter()
    for name in [arg for arg in sys.argv[1:] if arg != "-v"] or LISTS:
        found = list(decisions(name))
        total += Counter(verdict for verdict, _ in found)
        print(name, dict(Counter(verdict for verdict, _ in found)))
        for verdict, row in found if "-v" in sys.argv else ():
            if verdict in ("wrong", "asked otherwise", "dangerous"):
                print(f"  {verdict}: {row}")
    print("all", dict(total))


if __name__ == "__main__":
    main()
