"""Reading in, while nobody has typed yet, what the first sentence would wait for: grammar, networks, examples.

Without it the first sentence is answered one to two seconds later than any other, on a busy machine four.
"""

from __future__ import annotations

import contextlib
import threading

from callout.language.context import Context
from callout.language.resolve import resolve_text

#: (state, sentence) which between them need all that a sentence may: a plain callout, other talk, a callout in people's
#: own words.
_SAID = (
    ("idle", "insertion eleven feet sixty"),
    ("idle", "nothing of the kind over here"),
    ("idle", "twelve foot six up at forty five mate"),
    ("walk", "nothing of the kind over here"),
)


def read_ahead() -> threading.Thread:
    """Begin, and go on beside the conversation, which waits for nothing of it."""
    thread = threading.Thread(target=_read, name="reading ahead", daemon=True)
    thread.start()
    return thread


def _read() -> None:
    with contextlib.suppress(Exception):  # what cannot be read is told where it is needed
        for state, sentence in _SAID:
            resolve_text(sentence, Context(state=state))
