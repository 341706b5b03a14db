"""A listener of the team's own choice: any Vosk model folder, held to the grammar as far as it lets itself be held.

Vosk takes a list of phrases, and any word of it may follow any other; a word that sounds alike is forced onto the
list. So the list has decoys and garbage beside the sentences, and what comes back is parsed strictly. There is one
ear only: a callout is understood when its best reading stands well before every other, and a releasing word never.
"""

from __future__ import annotations

import json
import random
import time
from pathlib import Path

from callout.errors import BadInput
from callout.hearing.audio import RATE, Samples
from callout.hearing.helper import Helper, HelperDied, HelperFailed
from callout.hearing.level import measure, padded
from callout.hearing.recognizer import Heard, installed
from callout.hearing.vosk_graph import GARBAGE
from callout.language import grammar
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import Ambiguous, Hypothesis, Nothing, NotUnderstood, Understood
from callout.language.parse import parse
from callout.language.resolve import resolve
from callout.values import Command, Meaning

SENTENCES = 4000
#: Ordinary words that sound like the grammar's; heard, they spoil the sentence instead of passing for a number.
DECOYS = tuple(
    """fifty forty seventy eighty ninety hundred thousand fifteen sixteen seventeen eighteen the a and to for of in he
    she they we it was is are this that truck command water light wall ladder hello okay please session incision sick
    sex fire mind tree door ate won free heaven leaven fee feed food foul dress agrees inch ranch wrong firm""".split()  # noqa: SIM905
)
GARBAGE_SHARE = 0.08  # of all words; named once among thousands it could never win
CLEAR = 8.0  # log-likelihood by which the best meaning must lead the next
_SECONDS = 60.0


def _no_model(folder: Path) -> str:
    names = ", ".join(installed())
    return (
        f"{folder}: not a Vosk model; name the folder that holds am, conf and graph"
        + (f", or one of the recognizers that are installed: {names}" if names else "")
    )


class TeamModel:
    """Hears with a Vosk model folder. `name` is the folder's. Raises BadInput where the folder is no such model."""

    def __init__(self, folder: Path) -> None:
        if not (folder / "am").is_dir() or not (folder / "graph").is_dir():
            raise BadInput(_no_model(folder))
        self.name = folder.resolve().name
        self._folder = folder.resolve()
        self._helper = Helper("callout.hearing.vosk_worker")
        self._known: set[str] = set()
        self._lacks: dict[str, list[str]] = {}

    def hear(self, samples: Samples, context: Context = EVERYTHING) -> Heard:
        began = time.perf_counter()
        level = measure(samples)
        if level.silent:
            return Heard(Nothing(reasons=("no speech",)), (), None, time.perf_counter() - began, self.name)
        key = self._prepare(context)
        _, sound = padded(samples, level)
        pcm = (sound.clip(-1, 1) * 32767).round().astype("<i2")
        try:
            self._helper.post(("begin", key))
            for start in range(0, len(pcm), RATE):
                self._helper.post(("feed", pcm[start : start + RATE].tobytes()))
            ways = self._helper.ask(("end", 8), _SECONDS)
        except (HelperDied, HelperFailed) as died:
            self._known.clear()
            raise BadInput(
                f"{self.name}: the model does not hear ({died}); try another, or leave --model out"
            ) from None
        found = [(tuple(text.split()), float(score)) for text, score, _ in ways if text]
        return self._judged(found, context, began, self._lacks[key])

    def _judged(
        self, found: list[tuple[tuple[str, ...], float]], context: Context, began: float, lacks: list[str]
    ) -> Heard:
        readings = tuple(words for words, _ in found if GARBAGE not in words)
        seconds = time.perf_counter() - began
        if not found:
            return Heard(Nothing(reasons=("no speech",)), (), None, seconds, self.name)
        reasons = tuple(f"the model does not know: {word}" for word in lacks[:5])
        best, score = found[0]
        meanings = [(read.meaning, s) for words, s in found for read in parse(words, context)]
        resolution = resolve([Hypothesis(best)], context) if parse(best, context) else None
        if not isinstance(resolution, Understood):
            if resolution is None:
                resolution = NotUnderstood(words=best if GARBAGE not in best else (), reasons=(
                    "speech that is no callout and no command", *reasons))  # fmt: skip
            return Heard(resolution, readings, None, seconds, self.name)
        rival = next(((m, s) for m, s in meanings if m != resolution.meaning), None)
        if (rival is not None and score - rival[1] < CLEAR) or _releases(resolution.meaning):
            asked = Ambiguous(
                candidates=(resolution.meaning, *([rival[0]] if rival else [])),
                ask=_differing(resolution.meaning, rival),
                words=best,
                reasons=("one ear alone is not sure", *reasons),
            )
            return Heard(asked, readings, None, seconds, self.name)
        return Heard(resolution, readings, None, seconds, self.name)

    def _prepare(self, context: Context) -> str:
        key = context.state or "everything"
        if key not in self._known:
            try:
                self._helper.ask(("model", "bare", str(self._folder), None), _SECONDS)
                sentences = _sentences(context)
                words = sorted({word for sentence in sentences for word in sentence} | set(DECOYS))
                lacks = set(self._helper.ask(("words", "bare", [*words, GARBAGE]), _SECONDS))
                phrases = _phrases(sentences, lacks)
                self._helper.ask(("model", key, str(self._folder), json.dumps(phrases, ensure_ascii=False)), _SECONDS)
            except (HelperDied, HelperFailed) as died:
                raise BadInput(
                    f"{self._folder}: not a Vosk model that can be used ({died}); name another folder"
                ) from None
            self._lacks[key] = sorted(lacks - set(DECOYS) - {GARBAGE})
            self._known.add(key)
        return key

    def close(self) -> None:
        self._helper.close()


def _sentences(context: Context) -> list[tuple[str, ...]]:
    drawn = grammar.load().sample(random.Random(1), SENTENCES, context.state)
    return list(dict.fromkeys(sentence for sentence in drawn if sentence))


def _phrases(sentences: list[tuple[str, ...]], lacks: set[str]) -> list[str]:
    """The phrase list: whole sentences whose words the model knows, decoys, and enough garbage to win."""
    usable = [" ".join(sentence) for sentence in sentences if not lacks & set(sentence)]
    count = sum(len(sentence.split()) for sentence in usable)
    decoys = [word for word in DECOYS if word not in lacks] * max(1, count // (20 * len(DECOYS)))
    garbage = [] if GARBAGE in lacks else [GARBAGE] * max(1, int(GARBAGE_SHARE * count))
    return usable + decoys + garbage


def _releases(meaning: Meaning) -> bool:
    return isinstance(meaning, Command) and meaning.command.startswith("affirm")


def _differing(meaning: Meaning, rival: tuple[Meaning, float] | None) -> str:
    if rival is None or isinstance(meaning, Command) or isinstance(rival[0], Command):
        return "command"
    names = [name for name, value in meaning.said.items() if getattr(rival[0], name) != value]
    return names[0] if names else "kind"
