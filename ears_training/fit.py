"""Trains one ear with CTC on phones, in pieces that resume from a checkpoint.

    python -m ears_training fit encoder --corpus DIR --checkpoint enc.pt --minutes 9
    python -m ears_training fit tdnn --corpus DIR --checkpoint tdnn.pt --minutes 9

Every random choice follows from the seed and the step at which a piece began. A moving average of the weights is kept
beside them and is what gets judged and exported.
"""

import copy
import json
import math
import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import torch
import torch.nn.functional as F
from torch import Tensor, nn

from ears_training.channel import Channel, Heard, Setting
from ears_training.contrast import contrast
from ears_training.corpus import Batch, Corpus, Utterance, batches, load
from ears_training.ear import Ear, ear_from
from ears_training.judge import report
from ears_training.networks import Tdnn
from ears_training.noise import make_bank
from ears_training.rivals import Labels, rivals
from ears_training.spectra import WARPS
from ears_training.wordbank import enlarged, tokens


@dataclass(frozen=True)
class Plan:
    """What to train, from what, for how long. The learning rate is laid out over `total` minutes; `laid` callouts are
    made of the corpus's words (see `wordbank`); `revoiced` is the share of speech that gets another voice; `contrast`
    weighs the choice among `rivals` of each sentence; an encoder that starts from Whisper takes its lowest `layers`."""

    kind: str
    corpus: tuple[Path, ...]
    checkpoint: Path
    minutes: float
    total: float
    start: Path | None = None
    seed: int = 0
    seconds: float = 400.0
    noises: int = 440
    pace: float = 1.0
    tight: float = 0.18
    revoiced: float = 0.3
    smoothing: float = 0.0
    contrast: float = 0.2
    rivals: int = 5
    laid: int = 0
    layers: int = 4
    average: float = 0.9995
    report_every: float = 75.0


def lengths_of(batch: Sequence[Utterance], heard: Heard) -> tuple[list[int], list[int]]:
    """Return all labels one after another, and how many each row has: none where it holds no speech."""
    rows = [u.labels if s else () for u, s in zip(batch, heard.speech.tolist(), strict=True)]
    return [label for row in rows for label in row], [len(row) for row in rows]


def ctc(logp: Tensor, batch: Sequence[Utterance], heard: Heard) -> Tensor:
    """CTC loss a label; a row without speech counts as one of average length."""
    flat, counts = lengths_of(batch, heard)
    frames = logp.shape[1]
    loss = F.ctc_loss(
        logp.transpose(0, 1),
        torch.tensor(flat, dtype=torch.long, device=logp.device),
        torch.full((len(batch),), frames, dtype=torch.long),
        torch.tensor(counts),
        reduction="none",
        zero_infinity=True,
    )
    weight = torch.tensor([max(c, frames / 8) if c == 0 else c for c in counts], device=logp.device)
    return (loss / weight).mean()


class Trainer:
    """Holds everything of one run; `run` trains until the time is up."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.began = plan, time.time()
        self.device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
        torch.manual_seed(plan.seed)
        self.corpus: Corpus = load(plan.corpus)
        if plan.laid:
            self.corpus = enlarged(self.corpus, list(tokens(plan.corpus)), plan.laid, plan.seed)
        samples = torch.tensor(self.corpus.samples, device=self.device)
        bank = make_bank(self.corpus, samples, plan.noises, plan.seed)
        if self.device.type == "cuda":
            bank = type(bank)(bank.sounds.half(), bank.talkers)
        self.channel = Channel(samples, bank)
        resumed = plan.checkpoint if plan.checkpoint.is_file() else None
        self.ear = ear_from(plan.kind, plan.pace, self.device, resumed or plan.start, plan.layers)
        fused = self.device.type == "cuda"
        self.optimizer = torch.optim.AdamW(self.ear.groups, lr=1e-3, weight_decay=0.01, fused=fused)
        self.step, self.used = 0, 0.0
        self.choice = torch.zeros(())
        self.average: dict[str, Tensor] = {}
        self._begin()
        rows = self.corpus.training() if plan.contrast else []
        drawn = random.Random(plan.seed)
        # Rivals are drawn once (it takes 0.3 ms a sentence), and a few of them used at a time.
        self.rivals = {id(u): rivals(u.text, u.labels, 3 * plan.rivals, drawn) for u in rows}
        hours = sum(u.seconds for u in self.corpus.training()) / 3600
        self.say(
            hours=round(hours, 2), utterances=len(self.corpus.training()), ready=round(time.time() - self.began, 1)
        )

    def _begin(self) -> None:
        plan, net = self.plan, self.ear.net
        if plan.checkpoint.is_file():
            found = torch.load(plan.checkpoint, map_location=self.device, weights_only=False)
            net.load_state_dict(found["net"])
            self.optimizer.load_state_dict(found["optimizer"])
            self.step, self.used, self.average = found["step"], found["used"], found["average"]
        else:
            if plan.start is None and isinstance(net, Tdnn):
                self._normalise(net)
            self.average = {k: v.detach().clone() for k, v in net.state_dict().items()}
        torch.manual_seed(plan.seed + self.step)
        self.rng = random.Random(plan.seed + self.step)

    def _normalise(self, net: Tdnn) -> None:
        rows = batches(self.corpus.training(), 240, random.Random(self.plan.seed))[:12]
        seen = torch.cat([self.ear.front(self.channel(b, Setting()).noisy).reshape(-1, 40) for b in rows])
        net.mean.copy_(seen.mean(0))
        net.deviation.copy_(seen.std(0))

    def say(self, **row: Any) -> None:
        """Print one line of the log."""
        print(json.dumps({"kind": self.plan.kind, **row}), flush=True)

    def save(self) -> None:
        """Write the checkpoint; a half-written one never replaces a whole one."""
        whole = self.plan.checkpoint.with_suffix(".new")
        state = {"net": self.ear.net.state_dict(), "average": self.average, "optimizer": self.optimizer.state_dict()}
        torch.save({**state, "step": self.step, "used": self.used, "kind": self.plan.kind}, whole)
        whole.replace(self.plan.checkpoint)

    def set_rates(self) -> None:
        """Warm up over 300 steps, then fall along a cosine to the end of the total."""
        done = min(1.0, self.used / (self.plan.total * 60))
        share = min(1.0, (self.step + 1) / 300) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-3
        for group in self.optimizer.param_groups:
            group["lr"] = group["top"] * share

    def near(self, batch: Batch, heard: Heard) -> list[tuple[int, Labels, list[Labels]]]:
        """The rows of a batch that hold speech and have rivals, with some of these."""
        out = []
        for row, (u, speech) in enumerate(zip(batch.utterances, heard.speech.tolist(), strict=True)):
            others = self.rivals.get(id(u), ())
            if speech and others:
                out.append((row, u.labels, self.rng.sample(others, min(len(others), self.plan.rivals))))
        return out

    def loss(self, batch: Batch, setting: Setting) -> Tensor:
        """CTC, the choice among rivals, and a little smoothing."""
        with torch.no_grad():
            heard = self.channel(batch, setting)
            warp = torch.randint(1, len(WARPS) + 1, (len(batch.utterances),), device=self.device)
            seen = self.ear.front(heard.noisy, warp, mask=True)
        with torch.autocast(self.device.type, dtype=torch.bfloat16):
            logp = self.ear.net(seen)
        loss = ctc(logp, batch.utterances, heard) - self.plan.smoothing * logp.mean()
        if self.plan.contrast:
            told = contrast(logp, self.near(batch, heard))
            self.choice = told.detach()
            # From a fresh head every choice is a guess: the weight grows over 2,000 steps.
            loss = loss + self.plan.contrast * min(1.0, self.step / 2000) * told
        return loss

    def update(self, loss: Tensor) -> None:
        """One step down, and the average after it."""
        self.optimizer.zero_grad(set_to_none=True)
        loss.backward()  # type: ignore[no-untyped-call]
        nn.utils.clip_grad_norm_(self.ear.net.parameters(), 5.0)
        self.optimizer.step()
        self.step += 1
        keep = min(self.plan.average, self.step / (self.step + 10))
        now = self.ear.net.state_dict()
        names = [k for k, v in now.items() if v.is_floating_point()]
        torch._foreach_lerp_([self.average[k] for k in names], [now[k].detach() for k in names], 1 - keep)

    def judged(self) -> dict[str, float]:
        """Phone errors of the averaged weights on the choosing set."""
        net = copy.deepcopy(self.ear.net)
        net.load_state_dict(self.average)
        return report(Ear(net.eval(), self.ear.front, []).hear, self.channel, self.corpus)

    def run(self) -> None:
        """Train until `minutes` since the start of the process have gone or the total is reached."""
        plan, last = self.plan, time.time()
        before, began = self.used, time.time()
        recent: list[float] = []
        choices: list[float] = []
        self.ear.net.train()
        done = False
        while not done:
            for batch in self._epoch():
                now = time.time()
                self.used = before + now - began
                if now - self.began > plan.minutes * 60 or self.used > plan.total * 60:
                    done = True
                    break
                self.set_rates()
                strength = min(1.0, 0.4 + self.step / 1500)
                value = self.loss(batch, Setting(strength, plan.revoiced))
                self.update(value)
                if self.step % 20 == 0:
                    recent = [*recent[-39:], value.item()]
                    choices = [*choices[-39:], self.choice.item()]
                if now - last > plan.report_every:
                    mean = sum(recent) / max(len(recent), 1)
                    choice = sum(choices) / max(len(choices), 1)
                    figures = {"loss": round(mean, 4), "choice": round(choice, 4), **self.judged()}
                    self.say(used=round(self.used), step=self.step, **figures)
                    self.save()
                    last = time.time()
        self.say(used=round(self.used), step=self.step, final=True, **self.judged())
        self.save()

    def _epoch(self) -> list[Batch]:
        rows = self.corpus.training()
        some = self.rng.sample(rows, int(len(rows) * self.plan.tight))
        mixed = batches(rows, self.plan.seconds, self.rng) + batches(some, self.plan.seconds, self.rng, tight=True)
        self.rng.shuffle(mixed)
        return mixed


def fit(plan: Plan, prepare: Callable[[Trainer], None] | None = None) -> None:
    """Train as planned. `prepare` may change the trainer before it runs."""
    trainer = Trainer(plan)
    if prepare is not None:
        prepare(trainer)
    trainer.run()
