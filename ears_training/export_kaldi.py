"""The Vosk ear's network as Kaldi's nnet3 `final.mdl`, and the two settings files beside it.

Layout (read from Kaldi's sources and checked by loading it in Vosk 0.3.45): a transition model, the network as text and
components, priors (none). Norms and the normalisation of the features are folded into the weights, so that a layer is
`relu(W x + b)`, to which the layer's input may be added. Phones are numbered as `callout.hearing.build_vosk` numbers
them: one for silence, one for anything, four by place in the word for each sound.
"""

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from callout.errors import BadInput
from callout.hearing.build_vosk import topology, transitions
from ears_training.kaldi_file import Matrix, Writer
from ears_training.networks import LABELS, TDNN_LAYERS, Tdnn, adds_input

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


def layers_of(net: Tdnn) -> list[Layer]:
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


@dataclass(frozen=True)
class Part:
    """One component, which is the node of its name, too; `given` is the node's input in nnet3's words.

    Those that only pass on or bend what they are given have no weights, and of their bias the length counts.
    """

    name: str
    kind: str
    given: str
    bias: Matrix
    weights: Matrix | None = None

    @property
    def node(self) -> str:
        return f"component-node name={self.name} component={self.name} input={self.given}"


def parts_of(layers: list[Layer]) -> list[Part]:
    """The components of a network, from `input` to its log-probabilities, in the order in which they are computed."""
    parts, current = [], "input"
    for i, layer in enumerate(layers):
        seen = [current if o == 0 else f"Offset({current}, {o})" for o in layer.offsets]
        given = seen[0] if len(seen) == 1 else f"Append({', '.join(seen)})"
        parts.append(Part(f"a{i}", "affine", given, layer.bias, layer.weights))
        if layer.relu:
            parts.append(Part(f"r{i}", "RectifiedLinearComponent", parts[-1].name, layer.bias))
        if layer.adds_input:
            parts.append(Part(f"s{i}", "sum", f"Sum({current}, {parts[-1].name})", layer.bias))
        current = parts[-1].name
    return [*parts, Part("logp", "LogSoftmaxComponent", current, layers[-1].bias)]


def _network(k: Writer, layers: list[Layer], inputs: int) -> None:
    parts = parts_of(layers)
    lines = [
        f"input-node name=input dim={inputs}",
        *(part.node for part in parts),
        f"output-node name=output input={parts[-1].name} objective=linear",
    ]
    k.token("<Nnet3>")
    k.file.write(("\n" + "\n".join(lines) + "\n\n").encode())
    k.token("<NumComponents>")
    k.integer(len(parts))
    for part in parts:
        k.token("<ComponentName>", part.name)
        _component(k, part)
    k.token("</Nnet3>")
    for name, side in (("<LeftContext>", min), ("<RightContext>", max)):
        k.token(name)
        k.integer(abs(sum(side(layer.offsets) for layer in layers)))
    k.token("<Priors>")
    k.vector([])


def _component(k: Writer, part: Part) -> None:
    if part.weights is not None:
        k.token("<FixedAffineComponent>", "<LinearParams>")
        k.matrix(part.weights)
        k.token("<BiasParams>")
        k.vector(part.bias)
        k.token("</FixedAffineComponent>")
    elif part.kind == "sum":  # Vosk 0.3.45 refuses one without a backprop scale
        k.token("<NoOpComponent>", "<Dim>")
        k.integer(len(part.bias))
        k.token("<BackpropScale>")
        k.real(1.0)
        k.token("</NoOpComponent>")
    else:
        _nonlinear(k, part.kind, len(part.bias))


def export_tdnn(layers: list[Layer], folder: Path) -> int:
    """Write `am/final.mdl` and `conf/` into a Vosk model folder; return the size of the model in bytes.

    `layers` are a network's folded ones. The graph beside them comes from the words: `python -m
    callout.hearing.build_vosk`.
    """
    (folder / "am").mkdir(parents=True, exist_ok=True)
    (folder / "conf").mkdir(exist_ok=True)
    with open(folder / "am" / "final.mdl", "wb") as file:
        k = Writer(file)
        _transitions(k)
        _network(k, layers, 40)
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
