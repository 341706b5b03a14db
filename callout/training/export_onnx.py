"""The encoder ear as an 8-bit ONNX file: input `mel` (1, 80, t), output `logp` (1, t / 2, 40)."""

import tempfile
from pathlib import Path

import numpy as np
import torch

from callout.training.networks import EncoderEar


def export_encoder(net: EncoderEar, out: Path, opset: int = 17) -> dict[str, float]:
    """Write the network with 8-bit weights in its matrix products, a scale for every column.

    Returns its size in bytes and how far its probabilities lie from the network's on a made-up input: mean and worst.
    """
    import onnxruntime
    from onnxruntime.quantization import QuantType, quantize_dynamic

    net = net.cpu().float().eval()
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "float.onnx"
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
            str(whole), str(out), weight_type=QuantType.QInt8, per_channel=True, op_types_to_quantize=["MatMul"]
        )
    mel = torch.randn(1, 80, 600, generator=torch.Generator().manual_seed(0)) * 0.3
    with torch.no_grad():
        wanted = net(mel).exp().numpy()
    session = onnxruntime.InferenceSession(str(out), providers=["CPUExecutionProvider"])
    apart = np.abs(np.exp(session.run(None, {"mel": mel.numpy()})[0]) - wanted)
    return {"bytes": out.stat().st_size, "mean_error": float(apart.mean()), "worst_error": float(apart.max())}
