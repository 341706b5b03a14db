"""A voice for what a person is asked to say; without a sound card the words are on the screen all the same."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

from callout.console.output import say

Speak = Callable[[str], object]


@contextlib.contextmanager
def prompter(mute: bool) -> Iterator[Speak]:
    """A function that speaks a line and returns when it is said; one that does nothing where nothing can be heard."""
    if mute:
        yield lambda text: None
        return
    from callout.speaking import open_voice

    with open_voice() as voice:
        if voice.silent:
            say(f"the sentences are shown only ({voice.silent})")
            yield lambda text: None
        else:
            yield lambda text: voice.say(text, wait=True)
