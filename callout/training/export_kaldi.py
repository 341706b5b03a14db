"""The Vosk ear's network as Kaldi's nnet3 `final.mdl`, and the two settings files beside it.

Layout (read from Kaldi's sources and checked by loading it in Vosk 0.3.45): a transition model, the network as text and
components, priors (none). Norms and the normalisation of the features are folded into the weights, so that a layer is
`relu(W x + b)`, to which the layer's input may be added. Phones are numbered as `callout.hearing.build_vosk` numbers
them: one for silence, one for anything, four by place in the word for each sound.
"""

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

from callout.errors import BadInput
from callout.hearing.build_vosk import topology, transitions
from callout.training.networks import LABELS, TDNN_LAYERS, Tdnn, adds_input

Matrix = npt.NDArray[np.float32]

FRONT = """--use-energy=false
--sample-frequency=16000
--num-mel-bins=40
--num-ceps=40
--low-freq=20
--high-freq=-400
--dither=0
"""
SEARCH = """--min-active=200
--max-active=3000
--beam=13
--lattice-beam=6.0
--acoustic-scale=1
--frame-subsampling-factor=3
--endpoint.silence-phones=1
--endpoint.rule2.min-trailing-silence=5
--endpoint.rule3.min-trailing-silence=5
--endpoint.rule4.min-trailing-silence=5
"""


@dataclass(frozen=True)
class Layer:
    """Folded weights: W (out, len(offsets) * in), blocks in the order of the offsets (frames of 10 ms)."""

    offsets: tuple[int, ...]
    weights: Matrix
    bias: Matrix
    relu: bool
    adds_input: bool


def folded(net: Tdnn) -> list[Layer]:
    """Fold norms and feature normalisation into the weights, in double precision."""
    out = []
    for i, (offsets, _) in enumerate(TDNN_LAYERS):
        conv: Any = net.convs[i]
        norm: Any = net.norms[i]
        w, b = conv.weight.detach().double().cpu(), conv.bias.detach().double().cpu()
        if i == 0:
            mean, deviation = net.mean.double().cpu(), net.deviation.double().cpu()
            w = w / deviation[None, :, None]
            b = b - (w * mean[None, :, None]).sum((1, 2))
        gain = norm.weight.detach().double().cpu() / (norm.running_var.double().cpu() + norm.eps).sqrt()
        w = w * gain[:, None, None]
        b = (b - norm.running_mean.double().cpu()) * gain + norm.bias.detach().double().cpu()
        flat = w.permute(0, 2, 1).reshape(len(b), -1)
        out.append(Layer(offsets, flat.float().numpy(), b.float().numpy(), True, adds_input(i)))
    last = net.last.weight.detach()[:, :, 0].float().cpu().numpy(), net.last.bias.detach().float().cpu().numpy()
    return [*out, Layer((0,), *last, False, False)]


class Writer:
    """Kaldi's binary streams: tokens, numbers with their size before them, vectors, matrices."""

    def __init__(self, file: BinaryIO) -> None:
        self.file = file
        file.write(b"\0B")

    def token(self, *names: str) -> None:
        for name in names:
            self.file.write(name.encode() + b" ")

    def integer(self, *values: int) -> None:
        for value in values:
            self.file.write(b"\4" + struct.pack("<i", value))

    def real(self, value: float) -> None:
        self.file.write(b"\4" + struct.pack("<f", value))

    def integers(self, values: list[int]) -> None:
        self.file.write(b"\4" + struct.pack("<i", len(values)) + np.asarray(values, "<i4").tobytes())

    def vector(self, values: Any) -> None:
        self.token("FV")
        self.integer(len(values))
        self.file.write(np.asarray(values, "<f4").tobytes())

    def matrix(self, m: Matrix) -> None:
        """One byte an element: piecewise linear between the quantiles 0, 1/4, 3/4 and 1 of each column."""
        low, span = float(m.min()), float(np.ptp(m)) or 1.0
        head, codes = compressed(m, low, span)
        self.token("CM")
        self.file.write(struct.pack("<ffii", low, span, *m.shape) + head.T.astype("<u2").tobytes())
        self.file.write(codes.T.tobytes())


def compressed(m: Matrix, low: float, span: float) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.uint8]]:
    """Return each column's four quantiles as 16-bit codes (4, columns), and the bytes (rows, columns)."""
    order, quarter = np.sort(m, 0), len(m) // 4
    heads = np.round((order[[0, quarter, 3 * quarter, -1]] - low) / span * 65535).astype(np.int64)
    heads[0] = np.minimum(heads[0], 65532)
    for r in (1, 2, 3):
        heads[r] = np.minimum(np.maximum(heads[r], heads[r - 1] + 1), 65532 + r)
    points = low + heads * (span / 65535)
    codes = np.empty(m.shape, np.uint8)
    for c in range(m.shape[1]):
        codes[:, c] = np.clip(np.round(np.interp(m[:, c], points[:, c], [0, 64, 192, 255])), 0, 255)
    return heads, codes


def _transitions(k: Writer) -> None:
    phones = topology()
    kinds: list[Any] = []
    for phone in sorted(phones):
        shape = [targets for _, targets in phones[phone]]
        if shape not in kinds:
            kinds.append(shape)
    k.token("<TransitionModel>", "<Topology>")
    k.integers(sorted(phones))
    k.integers([-1] + [kinds.index([t for _, t in phones[p]]) for p in sorted(phones)])
    k.integer(len(kinds))
    for shape in kinds:
        k.integer(len(shape) + 1)
        for state, targets in enumerate(shape):
            k.integer(state, len(targets))
            for target in targets:
                k.integer(target)
                k.real(1 / len(targets))
        k.integer(-1, 0)
    triples = [(p, s, column) for p in sorted(phones) for s, (column, _) in enumerate(phones[p])]
    k.token("</Topology>", "<Triples>")
    k.integer(len(triples))
    for triple in triples:
        k.integer(*triple)
    k.token("</Triples>", "<LogProbs>")
    logs = [0.0] + [float(-np.log(len(t))) for p in sorted(phones) for _, t in phones[p] for _ in t]
    if len(logs) != transitions()[1] + 1:
        raise AssertionError("the transition model and its numbering disagree")
    k.vector(logs)
    k.token("</LogProbs>", "</TransitionModel>")


def _nonlinear(k: Writer, kind: str, size: int) -> None:
    k.token(f"<{kind}>", "<Dim>")
    k.integer(size)
    for name in ("<ValueAvg>", "<DerivAvg>"):
        k.token(name)
        k.vector([])
    k.token("<Count>")
    k.real(0.0)
    k.token(f"</{kind}>")


def _network(k: Writer, layers: list[Layer], inputs: int) -> None:
    lines, parts, current = [f"input-node name=input dim={inputs}"], [], "input"
    for i, layer in enumerate(layers):
        seen = [current if o == 0 else f"Offset({current}, {o})" for o in layer.offsets]
        given = seen[0] if len(seen) == 1 else f"Append({', '.join(seen)})"
        out = f"a{i}"
        lines.append(f"component-node name={out} component={out} input={given}")
        parts.append((out, "affine", layer))
        if layer.relu:
            lines.append(f"component-node name=r{i} component=r{i} input={out}")
            parts.append((f"r{i}", "RectifiedLinearComponent", layer))
            out = f"r{i}"
        if layer.adds_input:
            lines.append(f"component-node name=s{i} component=s{i} input=Sum({current}, {out})")
            parts.append((f"s{i}", "sum", layer))
            out = f"s{i}"
        current = out
    lines += [
        f"component-node name=logp component=logp input={current}",
        "output-node name=output input=logp objective=linear",
    ]
    parts.append(("logp", "LogSoftmaxComponent", layers[-1]))
    k.token("<Nnet3>")
    k.file.write(("\n" + "\n".join(lines) + "\n\n").encode())
    k.token("<NumComponents>")
    k.integer(len(parts))
    for name, kind, layer in parts:
        k.token("<ComponentName>", name)
        if kind == "affine":
            k.token("<FixedAffineComponent>", "<LinearParams>")
            k.matrix(layer.weights)
            k.token("<BiasParams>")
            k.vector(layer.bias)
            k.token("</FixedAffineComponent>")
        elif kind == "sum":  # Vosk 0.3.45 refuses one without a backprop scale
            k.token("<NoOpComponent>", "<Dim>")
            k.integer(len(layer.bias))
            k.token("<BackpropScale>")
            k.real(1.0)
            k.token("</NoOpComponent>")
        else:
            _nonlinear(k, kind, len(layer.bias))
    k.token("</Nnet3>")
    for name, side in (("<LeftContext>", min), ("<RightContext>", max)):
        k.token(name)
        k.integer(abs(sum(side(layer.offsets) for layer in layers)))
    k.token("<Priors>")
    k.vector([])


def export_tdnn(net: Tdnn, folder: Path) -> int:
    """Write `am/final.mdl` and `conf/` into a Vosk model folder; return the size of the model in bytes.

    The graph beside them comes from the words: `python -m callout.hearing.build_vosk`.
    """
    (folder / "am").mkdir(parents=True, exist_ok=True)
    (folder / "conf").mkdir(exist_ok=True)
    with open(folder / "am" / "final.mdl", "wb") as file:
        k = Writer(file)
        _transitions(k)
        _network(k, folded(net), 40)
    (folder / "conf" / "mfcc.conf").write_text(FRONT)
    (folder / "conf" / "model.conf").write_text(SEARCH)
    return (folder / "am" / "final.mdl").stat().st_size


def lower_blank(model: Path, nats: float) -> float:
    """Take `nats` off the blank's score in a model file already written; return the bias that it has now.

    A best-path search drops a word where the blank is a little too likely; measured on development recordings.
    """
    data = bytearray(model.read_bytes())
    mark = b"<BiasParams> FV \x04" + struct.pack("<i", LABELS)
    at = data.rfind(mark)
    if at < 0:
        raise BadInput(f"{model} has no last layer of {LABELS} outputs; is it a network of this package?")
    (bias,) = struct.unpack_from("<f", data, at + len(mark))
    struct.pack_into("<f", data, at + len(mark), bias - nats)
    model.write_bytes(data)
    return float(bias - nats)
