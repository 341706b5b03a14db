"""The two networks. Both give log-probabilities of the CTC blank and the 39 phones."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor, nn

LABELS = 40


class Block(nn.Module):
    """One transformer block, normalised before each part (as Whisper's)."""

    def __init__(self, width: int, heads: int) -> None:
        super().__init__()
        self.heads = heads
        self.norm1, self.qkv, self.out = nn.LayerNorm(width), nn.Linear(width, 3 * width), nn.Linear(width, width)
        self.norm2, self.up, self.down = nn.LayerNorm(width), nn.Linear(width, 4 * width), nn.Linear(4 * width, width)

    def forward(self, x: Tensor) -> Tensor:
        b, n, d = x.shape
        q, k, v = self.qkv(self.norm1(x)).view(b, n, 3, self.heads, d // self.heads).permute(2, 0, 3, 1, 4)
        y = F.scaled_dot_product_attention(q, k, v)
        x = x + self.out(y.transpose(1, 2).reshape(b, n, d))
        return x + self.down(F.gelu(self.up(self.norm2(x))))


@dataclass(frozen=True)
class Shape:
    """Size of the encoder ear: 64 channels a head. Whisper tiny has (384, 4), Whisper base (512, 6)."""

    width: int = 384
    layers: int = 4

    @staticmethod
    def of(state: Mapping[str, Any]) -> Shape:
        """The shape of a network from its state."""
        layers = 1 + max(int(k.split(".")[1]) for k in state if k.startswith("blocks."))
        return Shape(int(state["conv1.weight"].shape[0]), layers)


class EncoderEar(nn.Module):
    """The lower layers of a Whisper encoder with a phone head over a learned mixture of them.

    (b, 80, t) log-mel -> (b, t / 2, 40).
    """

    def __init__(self, shape: Shape | None = None) -> None:
        super().__init__()
        self.shape = shape or Shape()
        width = self.shape.width
        self.conv1, self.conv2 = nn.Conv1d(80, width, 3, padding=1), nn.Conv1d(width, width, 3, stride=2, padding=1)
        self.blocks = nn.ModuleList(Block(width, width // 64) for _ in range(self.shape.layers))
        self.norm = nn.LayerNorm(width)
        self.mixture = nn.Parameter(torch.zeros(self.shape.layers + 1))
        self.head_norm = nn.LayerNorm(width)
        self.head1, self.head2 = nn.Conv1d(width, 256, 5, padding=2), nn.Conv1d(256, 256, 5, padding=2)
        self.last = nn.Linear(256, LABELS)
        self.dropout = nn.Dropout(0.1)

    def borrowed(self) -> list[nn.Parameter]:
        """Parameters that come from Whisper."""
        return [p for m in (self.conv1, self.conv2, self.blocks, self.norm) for p in m.parameters()]

    def own(self) -> list[nn.Parameter]:
        """Parameters of the phone head."""
        parts = (self.head_norm, self.head1, self.head2, self.last)
        return [self.mixture, *(p for m in parts for p in m.parameters())]

    def forward(self, mel: Tensor) -> Tensor:
        width = (self.shape.width,)
        x = F.gelu(self.conv2(F.gelu(self.conv1(mel)))).transpose(1, 2)
        x = x + positions(x.shape[1], self.shape.width, x.device)
        layers = [F.layer_norm(x, width)]
        for i, block in enumerate(self.blocks):
            x = block(x)
            layers.append(self.norm(x) if i == len(self.blocks) - 1 else F.layer_norm(x, width))
        share = self.mixture.softmax(0)
        mixed = sum((a * b for a, b in zip(share, layers, strict=True)), torch.zeros_like(x))
        y = F.gelu(self.head1(self.dropout(self.head_norm(mixed).transpose(1, 2))))
        y = y + F.gelu(self.head2(self.dropout(y)))
        return self.last(y.transpose(1, 2)).float().log_softmax(2)


def positions(frames: int, width: int, device: torch.device) -> Tensor:
    """(frames, width) sines, then cosines, of periods from 2 pi frames to 10,000 times that, as Whisper adds them."""
    half = width // 2
    rates = torch.exp(torch.arange(half, device=device) * (-math.log(10000.0) / (half - 1)))
    angles = torch.arange(frames, device=device)[:, None] * rates[None]
    return torch.cat([angles.sin(), angles.cos()], 1)


# Offsets in frames of 10 ms, and on which frames a layer is computed (every one, or every third).
TDNN_LAYERS: tuple[tuple[tuple[int, ...], int], ...] = (
    ((-2, -1, 0, 1, 2), 1),
    *(((-1, 0, 1), 1),) * 2,
    ((-1, 0, 1), 3),
    *(((-d, 0, d), 3) for d in (3, 3, 3, 3, 6, 3, 6, 3)),
)
CONTEXT = sum(o[-1] for o, _ in TDNN_LAYERS)
"""Frames of 10 ms that the network looks back and ahead."""


def adds_input(i: int) -> bool:
    """Tell whether layer i adds what it was given to what it gives."""
    return i > 0 and TDNN_LAYERS[i - 1][1] == TDNN_LAYERS[i][1]


class Tdnn(nn.Module):
    """A time-delay network that Kaldi's nnet3 can run. (b, t, 40) MFCC -> (b, ceil(t / 3), 40)."""

    def __init__(self, width: int = 416) -> None:
        super().__init__()
        self.width = width
        self.convs, self.norms = nn.ModuleList(), nn.ModuleList()
        grid, size = 1, 40
        for offsets, every in TDNN_LAYERS:
            gap = (offsets[1] - offsets[0]) // grid
            self.convs.append(nn.Conv1d(size, width, len(offsets), stride=every // grid, dilation=gap))
            self.norms.append(nn.BatchNorm1d(width))
            size, grid = width, every
        self.last = nn.Conv1d(width, LABELS, 1)
        self.register_buffer("mean", torch.zeros(40))
        self.register_buffer("deviation", torch.ones(40))
        self.dropout = nn.Dropout(0.05)

    def forward(self, f: Tensor) -> Tensor:
        t = f.shape[1]
        x = ((f - self.mean) / self.deviation).transpose(1, 2)
        x = F.pad(x, (CONTEXT, CONTEXT + (-t) % 3), mode="replicate")
        for i, (conv, norm) in enumerate(zip(self.convs, self.norms, strict=True)):
            y = F.relu(norm(conv(x)))
            if adds_input(i):
                k = (x.shape[2] - y.shape[2]) // 2
                y = y + x[:, :, k : k + y.shape[2]]
            x = self.dropout(y)
        return self.last(x).transpose(1, 2)[:, : (t + 2) // 3].float().log_softmax(2)


def whisper_start(net: EncoderEar, weights: dict[str, Any]) -> None:
    """Copy the lower layers of a Whisper encoder, as `ears_training.whisper.read` gives it, into the network."""

    def put(target: Tensor, name: str) -> None:
        target.data.copy_(torch.tensor(np.asarray(weights["encoder/" + name], np.float32)))

    for module, name in ((net.conv1, "conv1"), (net.conv2, "conv2")):
        put(module.weight, name + "/weight")
        put(module.bias, name + "/bias")
    norms = [(net.norm, "layer_norm")]
    linears = []
    for i, block in enumerate(net.blocks):
        at = f"layer_{i}/"
        norms += [(block.norm1, at + "self_attention/layer_norm"), (block.norm2, at + "ffn/layer_norm")]
        linears += [(block.qkv, at + "self_attention/linear_0"), (block.out, at + "self_attention/linear_1")]
        linears += [(block.up, at + "ffn/linear_0"), (block.down, at + "ffn/linear_1")]
    for module, name in linears:
        put(module.weight, name + "/weight")
        put(module.bias, name + "/bias")
    for norm, name in norms:
        put(norm.weight, name + "/gamma")
        put(norm.bias, name + "/beta")
