"""Phone errors on the choosing set: voices and people, clean and through the training channel."""

import random
from collections.abc import Callable, Iterator, Sequence

import torch
from torch import Tensor

from ears_training.channel import Channel, Setting
from ears_training.contrast import scores
from ears_training.corpus import Batch, Corpus, Utterance, batches
from ears_training.pronounce import edit_distance
from ears_training.rivals import rivals

Hear = Callable[[Tensor], Tensor]


def collapsed(best: Sequence[int]) -> list[int]:
    """Labels of a best path: repeats joined, blanks dropped (the CTC rule)."""
    out, before = [], 0
    for label in best:
        if label != before and label:
            out.append(int(label))
        before = label
    return out


@torch.no_grad()
def _heard(hear: Hear, channel: Channel, batched: Sequence[Batch], clean: bool) -> Iterator[tuple[Batch, Tensor]]:
    """Yield each batch with the log-probabilities of it; the noise is the same in every call."""
    state = torch.random.get_rng_state()
    torch.manual_seed(1)
    setting = Setting(strength=0.0 if clean else 1.0, no_speech=0.0)
    for batch in batched:
        yield batch, hear(channel(batch, setting).noisy)
    torch.random.set_rng_state(state)


def phone_errors(hear: Hear, channel: Channel, utterances: Sequence[Utterance], clean: bool) -> float:
    """Return edits per phone. `hear` takes samples, gives log-probabilities."""
    wrong = total = 0
    for batch, logp in _heard(hear, channel, batches(utterances, 300, random.Random(0), fill=False), clean):
        for u, path in zip(batch.utterances, logp.argmax(2).cpu().tolist(), strict=True):
            wrong += edit_distance(collapsed(path), u.labels)
            total += len(u.labels)
    return wrong / max(total, 1)


def wrong_choices(hear: Hear, channel: Channel, utterances: Sequence[Utterance], clean: bool) -> float:
    """Return the share of sentences with a number for which one of 12 rivals is likelier than what was said."""
    rng = random.Random(2)
    near = {id(u): rivals(u.text, u.labels, 12, rng) for u in utterances}
    numbered = [u for u in utterances if near[id(u)]]
    wrong = total = 0
    for batch, logp in _heard(hear, channel, batches(numbered, 200, random.Random(0), fill=False), clean):
        found = scores(logp, [(row, u.labels, near[id(u)]) for row, u in enumerate(batch.utterances)])
        wrong += int((found.argmax(1) != 0).sum())
        total += len(found)
    return wrong / max(total, 1)


def report(hear: Hear, channel: Channel, corpus: Corpus) -> dict[str, float]:
    """Return the figures that choose among runs: phone errors, and wrong choices between a sentence and its rivals."""
    groups = [
        (who, people, how) for who, people in (("voices", False), ("people", True)) for how in ("clean", "channel")
    ]
    choices = {
        f"{who}_{how}_choice": round(wrong_choices(hear, channel, corpus.choosing(people), how == "clean"), 4)
        for who, people, how in groups
    }
    return choices | {
        f"{who}_{how}": round(phone_errors(hear, channel, corpus.choosing(people), how == "clean"), 4)
        for who, people, how in groups
    }
