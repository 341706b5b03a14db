"""Phone errors on the choosing set: voices and people, clean and through the training channel."""

import random
from collections.abc import Callable, Sequence

import torch
from torch import Tensor

from callout.training.channel import Channel, Setting
from callout.training.contrast import scores
from callout.training.corpus import Corpus, Utterance, batches
from callout.training.pronounce import edit_distance
from callout.training.rivals import rivals


def collapsed(best: Sequence[int]) -> list[int]:
    """Labels of a best path: repeats joined, blanks dropped (the CTC rule)."""
    out, before = [], 0
    for label in best:
        if label != before and label:
            out.append(int(label))
        before = label
    return out


@torch.no_grad()
def phone_errors(
    hear: Callable[[Tensor], Tensor], channel: Channel, utterances: Sequence[Utterance], clean: bool
) -> float:
    """Return edits per phone; the noise is the same in every call. `hear` takes samples, gives log-probabilities."""
    state = torch.random.get_rng_state()
    torch.manual_seed(1)
    setting = Setting(strength=0.0 if clean else 1.0, no_speech=0.0)
    wrong = total = 0
    for batch in batches(utterances, 300, random.Random(0), fill=False):
        best = hear(channel(batch, setting).noisy).argmax(2).cpu().tolist()
        for u, path in zip(batch.utterances, best, strict=True):
            wrong += edit_distance(collapsed(path), u.labels)
            total += len(u.labels)
    torch.random.set_rng_state(state)
    return wrong / max(total, 1)


@torch.no_grad()
def wrong_choices(
    hear: Callable[[Tensor], Tensor], channel: Channel, utterances: Sequence[Utterance], clean: bool
) -> float:
    """Return the share of sentences with a number for which one of 12 rivals is likelier than what was said."""
    state = torch.random.get_rng_state()
    torch.manual_seed(1)
    setting = Setting(strength=0.0 if clean else 1.0, no_speech=0.0)
    rng = random.Random(2)
    near = {id(u): rivals(u.text, u.labels, 12, rng) for u in utterances}
    wrong = total = 0
    for batch in batches([u for u in utterances if near[id(u)]], 200, random.Random(0), fill=False):
        logp = hear(channel(batch, setting).noisy)
        found = scores(logp, [(row, u.labels, near[id(u)]) for row, u in enumerate(batch.utterances)])
        wrong += int((found.argmax(1) != 0).sum())
        total += len(found)
    torch.random.set_rng_state(state)
    return wrong / max(total, 1)


def report(hear: Callable[[Tensor], Tensor], channel: Channel, corpus: Corpus) -> dict[str, float]:
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
