"""The encoder ear: Whisper tiny's encoder with a phone head, as an int8 ONNX graph run on one thread."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from callout.errors import CalloutError
from callout.hearing.audio import Samples
from callout.hearing.features import log_mel

Scores = NDArray[np.float32]

#: What the columns of the scores stand for: the CTC blank, then ARPAbet without stress.
PHONES = (
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY", "JH", "K",
    "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH",
)  # fmt: skip
INDEX = {phone: number + 1 for number, phone in enumerate(PHONES)}
BLANK = 0
FRAME = 0.02  # seconds a row of the scores covers
MOST_SECONDS = 30.0  # the encoder has positions for no more in one call


def session_options(threads: int) -> Any:
    """How onnxruntime is to run a network that hears all day: on so many threads, and nothing kept of what it heard."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = threads
    options.log_severity_level = 3
    options.enable_cpu_mem_arena = False  # the arena keeps the longest utterance's memory for ever
    options.enable_mem_pattern = False  # a plan is kept of each length that was ever heard
    return options


class EncoderEar:
    """Phone scores for an utterance. Loading takes about 0.1 s, six seconds of audio about 20 ms on one core."""

    def __init__(self, path: Path, threads: int = 1) -> None:
        """Raises CalloutError where the network is missing or cannot be loaded."""
        if not path.is_file():
            raise CalloutError(
                f"the ears' network {path.name} is missing from this installation; install callout again"
            )
        import onnxruntime

        options = session_options(threads)
        try:
            self._session: Any = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
        except Exception as wrong:
            raise CalloutError(f"the ears' network {path} is damaged; install callout again") from wrong

    def scores(self, samples: Samples) -> Scores:
        """(frames, 40) log probabilities, a row for each 20 ms. Audio over 30 s is heard in overlapping pieces."""
        most, lap = int(MOST_SECONDS * 16_000), 32_000
        if len(samples) <= most:
            return self._piece(samples)
        rows, start = [], 0
        while True:
            piece = self._piece(samples[start : start + most])
            first = 0 if start == 0 else lap // 640
            if start + most >= len(samples):
                rows.append(piece[first:])
                return np.concatenate(rows)
            rows.append(piece[first : len(piece) - lap // 640])
            start += most - lap

    def _piece(self, samples: Samples) -> Scores:
        if len(samples) < 640:
            samples = np.pad(samples, (0, 640 - len(samples)))
        picture = log_mel(samples[: len(samples) // 320 * 320])
        scores: Scores = self._session.run(None, {"mel": picture[None]})[0][0]
        return scores


def first_phone(scores: Scores) -> float:
    """Seconds to the first phone; infinite where there is none."""
    spoken = np.flatnonzero(scores.argmax(axis=1) != BLANK)
    return float(spoken[0]) * FRAME if len(spoken) else float("inf")


def free_path(scores: Scores) -> tuple[float, list[str]]:
    """The best score without any grammar, and its phones: what was said, whatever it means."""
    best = scores.argmax(axis=1)
    turns = np.flatnonzero(np.diff(best, prepend=-1))
    return float(scores.max(axis=1).sum()), [PHONES[best[t] - 1] for t in turns if best[t] != BLANK]
