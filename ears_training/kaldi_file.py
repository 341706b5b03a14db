"""Kaldi's binary files, as far as a network needs them: tokens, numbers, vectors, and matrices whole or in bytes."""

import struct
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

Matrix = npt.NDArray[np.float32]


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

    def whole(self, m: Matrix) -> None:
        """Four bytes an element, as they are."""
        self.token("FM")
        self.integer(*m.shape)
        self.file.write(m.astype("<f4").tobytes())

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
