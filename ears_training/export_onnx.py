"""The encoder ear as an 8-bit ONNX file: input `mel` (1, 80, t), output `logp` (1, t / 2, 40)."""

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import torch

from ears_training.networks import EncoderEar


def export_encoder(net: EncoderEar, out: Path, opset: int = 17) -> dict[str, float]:
    """Write the network with 8-bit weights, a scale for every column; convolutions are widened again as they run.

    Returns its size in bytes and how far its probabilities lie from the network's on a made-up input: mean and worst.
    """
    import onnx
    import onnxruntime
    from onnxruntime.quantization import QuantType, quantize_dynamic

    net = net.cpu().float().eval()
    with tempfile.TemporaryDirectory() as folder:
        whole, part = Path(folder) / "float.onnx", Path(folder) / "part.onnx"
        torch.onnx.export(
            net,
            (torch.randn(1, 80, 400),),
            str(whole),
            input_names=["mel"],
            output_names=["logp"],
            dynamic_axes={"mel": {2: "t"}, "logp": {1: "n"}},
            opset_version=opset,
            dynamo=False,
        )
        quantize_dynamic(
            str(whole), str(part), weight_type=QuantType.QInt8, per_channel=True, op_types_to_quantize=["MatMul"]
        )
        model = onnx.load(str(part))
        narrow_convolutions(model)
        onnx.save(model, str(out))
    mel = torch.randn(1, 80, 600, generator=torch.Generator().manual_seed(0)) * 0.3
    with torch.no_grad():
        wanted = net(mel).exp().numpy()
    session = onnxruntime.InferenceSession(str(out), providers=["CPUExecutionProvider"])
    apart = np.abs(np.exp(session.run(None, {"mel": mel.numpy()})[0]) - wanted)
    return {"bytes": out.stat().st_size, "mean_error": float(apart.mean()), "worst_error": float(apart.max())}


def eight_bits(w: npt.NDArray[np.float32]) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.float32]]:
    """Weights (out, ...) as bytes and a scale for every output: w is about bytes * scale."""
    scale = np.abs(w.reshape(len(w), -1)).max(1) / 127
    scale = np.where(scale > 0, scale, 1).astype(np.float32)
    narrow = np.round(w / scale.reshape(-1, *[1] * (w.ndim - 1))).astype(np.int8)
    return narrow, scale


def narrow_convolutions(model: Any) -> None:
    """Keep the convolutions' weights in the file as bytes. The runtime multiplies them out before each run, which
    takes a fraction of a millisecond; its own 8-bit convolution was slower than floats."""
    from onnx import helper, numpy_helper

    graph = model.graph
    kept = {tensor.name: tensor for tensor in graph.initializer}
    for node in [n for n in graph.node if n.op_type == "Conv"]:
        name = node.input[1]
        narrow, scale = eight_bits(numpy_helper.to_array(kept[name]))
        graph.initializer.remove(kept[name])
        parts = (narrow, scale, np.zeros(len(scale), np.int8))
        names = [f"{name}_{what}" for what in ("bytes", "scale", "zero")]
        graph.initializer.extend(numpy_helper.from_array(a, n) for a, n in zip(parts, names, strict=True))
        graph.node.insert(0, helper.make_node("DequantizeLinear", names, [name], axis=0, name=f"{name}_widened"))
