"""Tab completes what is typed: the words that the grammar allows next, in the state of the conversation."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable, Iterator

from callout.language.context import Context


def completions(line: str, context: Context) -> list[str]:
    """The words that may stand in place of the last, unfinished word of `line` (empty after a space)."""
    from callout.language.automaton import next_words

    *words, begun = line.lower().split(" ")
    return [word for word in next_words([w for w in words if w], context) if word.startswith(begun)]


def typed_lines(context: Callable[[], Context]) -> Iterator[str]:
    """Lines from standard input; at a terminal with history and completion. A letter that is no UTF-8 comes as U+FFFD:
    it makes one line not understood, and never ends a conversation."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    if not sys.stdin.isatty():
        yield from sys.stdin
        return
    try:
        import readline
    except ImportError:
        yield from sys.stdin
        return

    def complete(_: str, number: int) -> str | None:
        line = readline.get_line_buffer()[: readline.get_endidx()]
        found = completions(line, context())
        return f"{found[number]} " if number < len(found) else None

    readline.set_completer_delims(" ")
    readline.set_completer(complete)
    readline.parse_and_bind("tab: complete")
    while True:
        try:
            yield input("> ")
        except EOFError:
            return
