"""One ear while it is trained: its network, its front end and its learning rates, and where its weights come from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn

from callout.errors import BadInput
from ears_training.networks import EncoderEar, Shape, Tdnn, whisper_start
from ears_training.spectra import LogMel, Mfcc
from ears_training.whisper import read as read_whisper


@dataclass
class Ear:
    """A network with its front end and the peak learning rate of each group of its parameters."""

    net: nn.Module
    front: nn.Module
    groups: list[dict[str, Any]]

    def hear(self, x: Tensor) -> Tensor:
        """Samples to log-probabilities."""
        out: Tensor = self.net(self.front(x))
        return out


def make_ear(kind: str, pace: float, device: torch.device, shape: Shape | None = None) -> Ear:
    """Make an untrained ear; `pace` scales the learning rates, `shape` is for an encoder."""
    if kind == "encoder":
        net = EncoderEar(shape).to(device)
        groups = [{"params": net.own(), "top": 1.5e-3 * pace}, {"params": net.borrowed(), "top": 1e-4 * pace}]
        return Ear(net, LogMel().to(device), groups)
    return tdnn_ear(Tdnn(), pace, device)


def tdnn_ear(net: nn.Module, pace: float, device: torch.device) -> Ear:
    """An ear with a time-delay network."""
    net = net.to(device)
    return Ear(net, Mfcc().to(device), [{"params": list(net.parameters()), "top": 2.5e-3 * pace}])


def kept_weights(path: Path, device: torch.device) -> dict[str, Tensor]:
    """A checkpoint's averaged weights, its plain ones where there is no average."""
    found = torch.load(path, map_location=device, weights_only=False)
    state: dict[str, Tensor] = found.get("average") or found["net"]
    return {k: v for k, v in state.items() if k != "positions"}  # once kept, now computed


def ear_from(kind: str, pace: float, device: torch.device, path: Path | None, layers: int) -> Ear:
    """Make an ear and start it from a checkpoint, or from the lower `layers` of a Whisper's `model.bin`."""
    if path is None:
        return make_ear(kind, pace, device, Shape(layers=layers))
    if path.suffix == ".bin":
        weights = read_whisper(path)
        has = sum(name.endswith("/ffn/linear_0/weight") for name in weights)
        if not 0 < layers <= has:
            raise BadInput(f"{path} has {has} layers; name a number from 1 to {has} with --layers")
        ear = make_ear(kind, pace, device, Shape(weights["encoder/conv1/weight"].shape[0], layers))
        whisper_start(ear.net, weights)
        return ear
    state = kept_weights(path, device)
    if kind == "encoder":
        ear = make_ear(kind, pace, device, Shape.of(state))
    else:
        ear = tdnn_ear(Tdnn(int(state["last.weight"].shape[1])), pace, device)
    ear.net.load_state_dict(state)
    return ear


def averaged(kind: str, checkpoints: Sequence[Path]) -> Any:
    """Return an ear's network with the mean of several checkpoints' weights, ready to export."""
    cpu = torch.device("cpu")
    nets = [ear_from(kind, 1.0, cpu, path, 0).net for path in checkpoints]
    states = [net.state_dict() for net in nets]
    mean = {k: torch.stack([s[k].float() for s in states]).mean(0).to(v.dtype) for k, v in states[0].items()}
    nets[0].load_state_dict(mean)
    return nets[0].eval()
