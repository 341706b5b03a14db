"""The line in which sentences wait for the voice: the urgent ones ahead, the stale ones out, never too long."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, get_args

#: Why something is said, the most urgent first.
Kind = Literal["warning", "answer", "readback", "item", "information"]
#: How far the voice came with a sentence (see `Voice.say`).
How = Literal["figures", "through", "cut", "failed"]
#: Told of it, with the time of time.monotonic().
OnSaid = Callable[[How, float], None]

_RANK = {kind: rank for rank, kind in enumerate(get_args(Kind))}
#: Sentences that may wait. A long "all after" is a dozen; more than this nobody can want to hear.
MOST = 40
#: Seconds after which a waiting sentence answers nobody any more. What a readback, an item or a warning says stays
#: true until something takes its place.
STALE: dict[Kind, float] = {"answer": 30.0, "information": 180.0}


@dataclass(eq=False)
class Sentence:
    """What is to be said. Sentences of one `step` belong together and keep their order. Of one `topic` (such as
    "the readback to the measurer") only the newest is true. `listener` is who it is for."""

    text: str
    kind: Kind = "information"
    step: int = 0
    topic: str = ""
    listener: str = ""
    path: Path | None = None
    on_said: OnSaid | None = None
    asked: float = 0.0  # when, on time.monotonic()
    secret: bool = False  # it is spoken and never written to a file
    again: bool = field(default=False)  # it was cut once by something more urgent, and waits to be said again


class WaitingLine:
    """Not for two threads at once: the voice holds its lock."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._sentences: list[Sentence] = []
        self._held: Sentence | None = None

    def __len__(self) -> int:
        return len(self._sentences)

    def put(self, sentence: Sentence) -> list[Sentence]:
        """Take a sentence in at its place; returns those that are dropped for it.

        It goes ahead of what is less urgent and was asked for in an earlier step. An older one of its topic is void,
        and so is an older one that says the very same. Over the limit the oldest of the least urgent goes.
        """
        dropped = [
            other
            for other in self._sentences
            if other.step != sentence.step
            and (other.topic == sentence.topic if sentence.topic else other.text == sentence.text)
            and other.listener == sentence.listener
        ]
        self._sentences = [other for other in self._sentences if other not in dropped]
        self._sentences.insert(self._place(sentence), sentence)
        while len(self._sentences) > self._most:
            dropped.append(self._sentences.pop(self._least()))
        return dropped

    def put_back(self, sentence: Sentence, *, unsure: bool = False) -> None:
        """What was cut by something more urgent is said again, from its beginning, once that is over. `unsure`: what
        cut it may come to nothing; until that is known it is held (see `settle`)."""
        sentence.again |= not unsure
        self._held = sentence if unsure else None
        place = self._place(sentence)
        while place > 0 and _rank(self._sentences[place - 1]) == _rank(sentence):
            place -= 1  # it was first before, and is first again
        self._sentences.insert(place, sentence)

    @property
    def held(self) -> Sentence | None:
        """What was cut by something that is not sure yet, as long as it waits."""
        return self._held if self._held in self._sentences else None

    def settle(self, *, again: bool) -> list[Sentence]:
        """What cut the sentence that is held is sure now: that is said again once, if it is to be said `again`, or is
        dropped."""
        held, self._held = self.held, None
        if held is None:
            return []
        if again and not held.again:
            held.again = True
            return []
        self._sentences.remove(held)
        return [held]

    def _place(self, sentence: Sentence) -> int:
        place = len(self._sentences)
        while place > 0:
            ahead = self._sentences[place - 1]
            if ahead.step == sentence.step or _rank(ahead) <= _rank(sentence):
                break
            place -= 1
        return place

    def _least(self) -> int:
        """The oldest of the least urgent."""
        worst = max(_rank(sentence) for sentence in self._sentences)
        return next(at for at, sentence in enumerate(self._sentences) if _rank(sentence) == worst)

    def take(self, now: float) -> tuple[Sentence | None, list[Sentence]]:
        """(the next to say, those that have become stale before it)."""
        stale: list[Sentence] = []
        while self._sentences:
            sentence = self._sentences.pop(0)
            if now - sentence.asked <= STALE.get(sentence.kind, float("inf")):
                return sentence, stale
            stale.append(sentence)
        return None, stale

    def drop(self, topic: str) -> list[Sentence]:
        """Forget what is said on a topic: it is no longer true."""
        dropped = [sentence for sentence in self._sentences if sentence.topic == topic]
        self._sentences = [sentence for sentence in self._sentences if sentence.topic != topic]
        return dropped

    def clear(self) -> list[Sentence]:
        dropped, self._sentences = self._sentences, []
        return dropped


def _rank(sentence: Sentence) -> int:
    return _RANK[sentence.kind]
