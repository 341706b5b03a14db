"""What people are asked to say: whole callouts and words of the conversation, the twins among them on purpose."""

from __future__ import annotations

import contextlib
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from callout.console.output import say
from callout.language import grammar
from callout.language.context import Context
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.values import Callout, Length, meaning_json

#: Figures that people and ears take for one another; every second callout holds one.
TWIN_FEET = (5, 6, 9, 13, 14, 15, 16, 19)
TWIN_WORDS = frozenset(
    "five nine six sixty thirteen thirty fourteen forty fifteen fifty sixteen nineteen ninety".split()  # noqa: SIM905
)


@dataclass(frozen=True)
class Prompt:
    """`text` as it is said, `figures` as a tape shows it (callouts only), `meaning` as published."""

    text: str
    figures: str
    meaning: dict[str, Any]

    @property
    def has_twin(self) -> bool:
        return not TWIN_WORDS.isdisjoint(self.text.split())


def callout_prompts(rng: random.Random) -> Iterator[Prompt]:
    """Callouts without end: a height in feet, often inches, sometimes a half, an angle, now and then more."""
    from callout.language.numerals import grouped_words

    number = 0
    while True:
        number += 1
        feet = rng.choice(TWIN_FEET) if number % 2 else rng.randint(4, 20)
        inches, half = rng.choice((0, 0, rng.randint(1, 11))), rng.random() < 0.25
        angle = rng.choice((45, 60))
        height = Length.imperial(feet, inches, 8 if half and inches else 0)
        words = ["insertion", *grouped_words(feet), "feet"]
        if inches:
            words += [
                *grouped_words(inches),
                *(["and", "a", "half"] if half else []),
                "inch" if inches == 1 else "inches",
            ]
        words += grouped_words(angle)
        meaning = Callout(insertion=height, angle_deg=angle)
        prompt = as_prompt(" ".join(words))
        if prompt is not None and prompt.meaning == meaning_json(meaning):
            yield prompt


def all_prompts(rng: random.Random, state: str | None = None) -> Iterator[Prompt]:
    """Sentences of the whole grammar, or of one state, without end: every second one a callout when it may be."""
    language = grammar.load()
    callouts = callout_prompts(rng)
    while True:
        if state is None:
            yield next(callouts)
        for sentence in language.sample(rng, 1, state):
            prompt = as_prompt(" ".join(sentence), Context(state=state))
            if prompt is not None:
                yield prompt


def voice_prompts(rng: random.Random) -> list[Prompt]:
    """What one talker says for `callout voices learn`, in about five minutes: forty short callouts and commands, every
    pair of near twins in them (teen and ten, five and nine), in an order of `rng`."""
    lines = Path(__file__).with_name("voice_prompts.txt").read_text(encoding="utf-8").splitlines()
    prompts = [prompt for prompt in map(as_prompt, lines) if prompt is not None]
    rng.shuffle(prompts)
    return prompts


def as_prompt(text: str, context: Context | None = None) -> Prompt | None:
    """The prompt of a sentence, None when it is not understood (or only with a question)."""
    result = resolve_text(text, context or Context())
    if not isinstance(result, Understood):
        return None
    meaning = result.meaning
    figures = ""
    if isinstance(meaning, Callout) and meaning.insertion is not None and meaning.angle_deg is not None:
        figures = f"insertion point {meaning.insertion.text}, angle {meaning.angle_deg} degrees"
    shape = meaning_json(meaning)
    assert shape is not None
    return Prompt(text, figures, shape)


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
