"""The encoder ear as it is trained: its size, what it takes over from a Whisper, what its 8-bit file says."""

import math
import struct
from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed: pip install 'callout[training]'")

from callout.errors import BadInput  # noqa: E402
from ears_training.ear import ear_from, make_ear  # noqa: E402
from ears_training.export_onnx import eight_bits, export_encoder  # noqa: E402
from ears_training.networks import EncoderEar, Shape, positions  # noqa: E402
from ears_training.whisper import read  # noqa: E402

CPU = torch.device("cpu")
WIDTH, LAYERS = 128, 3


def arrays() -> dict[str, np.ndarray]:
    """A made-up Whisper encoder: the names are those that CTranslate2's converter gives (from its source)."""
    rng = np.random.default_rng(0)
    some = lambda *shape: rng.normal(0, 0.1, shape).astype(np.float16)  # noqa: E731
    out = {"encoder/conv1/weight": some(WIDTH, 80, 3), "encoder/conv1/bias": some(WIDTH)}
    out |= {"encoder/conv2/weight": some(WIDTH, WIDTH, 3), "encoder/conv2/bias": some(WIDTH)}
    norms = ["encoder/layer_norm"]
    for i in range(LAYERS):
        at = f"encoder/layer_{i}/"
        norms += [at + "self_attention/layer_norm", at + "ffn/layer_norm"]
        sizes = {"self_attention/linear_0": (3 * WIDTH, WIDTH), "self_attention/linear_1": (WIDTH, WIDTH)}
        sizes |= {"ffn/linear_0": (4 * WIDTH, WIDTH), "ffn/linear_1": (WIDTH, 4 * WIDTH)}
        for name, size in sizes.items():
            out |= {f"{at}{name}/weight": some(*size), f"{at}{name}/bias": some(size[0])}
    for name in norms:
        out |= {f"{name}/gamma": some(WIDTH), f"{name}/beta": some(WIDTH)}
    return out | {"decoder/embeddings/weight": some(7, WIDTH)}


def written(path: Path) -> Path:
    """CTranslate2's `model.bin`: version, kind, revision, then every array with name, shape, type and bytes."""
    text = lambda s: struct.pack("<H", len(s) + 1) + s.encode() + b"\0"  # noqa: E731
    found = arrays()
    data = struct.pack("<I", 6) + text("WhisperSpec") + struct.pack("<II", 3, len(found))
    for name, a in found.items():
        data += text(name) + struct.pack(f"<B{a.ndim}I", a.ndim, *a.shape) + struct.pack("<BI", 4, a.nbytes)
        data += a.tobytes()
    path.write_bytes(data)
    return path


def test_a_whisper_is_read_without_its_decoder(tmp_path):
    found = read(written(tmp_path / "model.bin"))
    assert "decoder/embeddings/weight" not in found
    assert np.array_equal(found["encoder/conv1/weight"], arrays()["encoder/conv1/weight"])


def test_what_is_no_whisper_is_told(tmp_path):
    (tmp_path / "model.bin").write_bytes(b"\6\0\0\0\2\0x")
    with pytest.raises(BadInput, match=r"model\.bin of a Whisper"):
        read(tmp_path / "model.bin")


def test_an_ear_takes_over_the_lower_layers_of_any_whisper(tmp_path):
    net = ear_from("encoder", 1.0, CPU, written(tmp_path / "model.bin"), LAYERS - 1).net
    assert net.shape == Shape(WIDTH, LAYERS - 1)
    given = arrays()["encoder/layer_1/ffn/linear_0/weight"].astype(np.float32)
    assert np.array_equal(net.blocks[1].up.weight.detach().numpy(), given)
    again = Shape.of(net.state_dict())
    assert again == net.shape


@pytest.mark.parametrize("layers", [0, LAYERS + 1])
def test_a_whisper_has_only_so_many_layers(tmp_path, layers):
    with pytest.raises(BadInput, match=f"has {LAYERS} layers"):
        ear_from("encoder", 1.0, CPU, written(tmp_path / "model.bin"), layers)


def test_a_checkpoint_gives_its_own_size_back(tmp_path):
    net = make_ear("encoder", 1.0, CPU, Shape(64, 2)).net
    torch.save({"net": net.state_dict(), "average": {}}, tmp_path / "c.pt")
    back = ear_from("encoder", 1.0, CPU, tmp_path / "c.pt", 9).net
    assert back.shape == Shape(64, 2)
    assert torch.equal(back.head1.weight, net.head1.weight)


def test_positions_are_the_sinusoids_of_the_paper():
    """Outside check: Radford et al. 2022 take the sinusoids of Vaswani et al. 2017 (sin and cos of frame / 10000^k),
    with k from 0 to 1 in even steps, sines first (from memory)."""
    found = positions(40, 8, CPU)
    for frame in (0, 1, 39):
        for i in range(4):
            angle = frame / 10000 ** (i / 3)
            assert found[frame, i].item() == pytest.approx(math.sin(angle), abs=1e-5)
            assert found[frame, 4 + i].item() == pytest.approx(math.cos(angle), abs=1e-5)


def test_eight_bits_are_within_half_a_step():
    w = np.random.default_rng(1).normal(0, 0.05, (6, 5, 3)).astype(np.float32)
    w[2] = 0
    narrow, scale = eight_bits(w)
    assert narrow.dtype == np.int8
    assert (np.abs(narrow * scale[:, None, None] - w) <= scale[:, None, None] / 2 + 1e-9).all()


def test_the_file_says_what_the_network_says(tmp_path):
    pytest.importorskip("onnx", reason="onnx is not installed: pip install 'callout[training]'")
    torch.manual_seed(2)
    net = EncoderEar(Shape(64, 2))
    told = export_encoder(net, tmp_path / "encoder.onnx")
    assert told["mean_error"] < 1e-3
    assert told["bytes"] < sum(p.numel() for p in net.parameters()) * 2
