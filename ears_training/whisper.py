"""Reads a Whisper out of a CTranslate2 `model.bin`, the form in which packages carry it.

Format: a version, a string with the model's kind, a revision, then each array with its name, shape, type and bytes
(little endian; read from CTranslate2's published converter).
"""

import struct
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from callout.errors import BadInput

_TYPES: dict[int, Any] = {0: np.float32, 1: np.int8, 2: np.int16, 3: np.int32, 4: np.float16}


def read(path: Path, half: str = "encoder/") -> dict[str, npt.NDArray[Any]]:
    """Return the arrays whose names ("encoder/conv1/weight", "decoder/layer_0/ffn/linear_0/bias" ...) begin so."""
    data = path.read_bytes()
    at = 0

    def take(kind: str) -> int:
        nonlocal at
        (value,) = struct.unpack_from("<" + kind, data, at)
        at += struct.calcsize("<" + kind)
        return int(value)

    def text() -> str:
        nonlocal at
        n = take("H")
        at += n
        return data[at - n : at - 1].decode()

    try:
        take("I"), text(), take("I")
        out = {}
        for _ in range(take("I")):
            name = text()
            shape = [take("I") for _ in range(take("B"))]
            kind, size = _TYPES[take("B")], take("I")
            out[name] = np.frombuffer(data, kind, size // np.dtype(kind).itemsize, at).reshape(shape)
            at += size
    except (struct.error, KeyError, UnicodeDecodeError, ValueError) as wrong:
        raise BadInput(f"{path} is not a CTranslate2 model; give the model.bin of a Whisper") from wrong
    return {k: v for k, v in out.items() if k.startswith(half) and v.ndim}
