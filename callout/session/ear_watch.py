"""Whether the ears of a source are alive: a loss is told, the dead one is started again, and told when it is back."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Literal

from callout.hearing.ears import Heard, Recognizer
from callout.hearing.remote import EarsProcess

Trouble = Literal["ear_lost", "ears_lost", "ears_back", "ear_again"]
#: What is written of each; what is said stands in `callout/dialogue/phrases.toml` under trouble.
WRITTEN: dict[Trouble, str] = {
    "ear_lost": "one ear is lost, and is started again; a heard affirm needs its long form meanwhile, a key does not",
    "ears_lost": "the ears ended, and are started again; what was said at that moment is lost",
    "ears_back": "both ears hear again",
    "ear_again": "one ear had ended between two utterances, and was started again; no word was lost",
}
#: What is said of it, too: the name of a sentence of the dialogue.
ALOUD: dict[Trouble, str] = {what: what for what in WRITTEN if what != "ear_again"}
#: Seconds between two looks at a process, and between two tries to bring it back.
LOOK, TRY = 1.0, 5.0


class EarWatch:
    """`told` gets what is lost, and that it is back; from the ears' own thread."""

    def __init__(self, recognizer: Recognizer, told: Callable[[Trouble], None]) -> None:
        self._ears = recognizer if isinstance(recognizer, EarsProcess) else None
        self._told = told
        self._restarts = self._ears.helper.restarts if self._ears else 0
        self._lost: Trouble | None = None
        self._again = 0  # restarts of the second ear, as far as they were told
        self._looked = self._tried = time.monotonic()

    def after(self, heard: Heard) -> None:
        """An utterance was heard: by both ears?"""
        if self._ears is None:
            return
        if self._ears.helper.restarts != self._restarts:
            self._restarts = self._ears.helper.restarts
            self._lose("ears_lost")
        elif heard.deaf:
            self._lose("ear_lost")
        elif heard.restarts > self._again and self._lost is None:
            self._told("ear_again")
        self._again = heard.restarts
        self.look(force=True)

    def look(self, *, force: bool = False) -> None:
        """Ask this often; it costs nothing while all is well. Between two utterances only: it may take a second."""
        now = time.monotonic()
        if self._ears is None or (now - self._looked < LOOK and not force):
            return
        self._looked = now
        if not self._lost and not self._ears.helper.running:
            self._lose("ears_lost")
        if self._lost and (force or now - self._tried >= TRY):
            self._tried = now
            if self._ears.ready():
                self._lost = None
                self._restarts = self._ears.helper.restarts
                self._again += 1  # the restart that brought it back was told
                self._told("ears_back")

    def _lose(self, what: Trouble) -> None:
        if self._lost != what:
            self._lost = what
            self._told(what)
