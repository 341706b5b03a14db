"""Thin layers: each layer's matrix as the product of two, so that two networks joined cost no more than one.

A matrix W (out, in) becomes A (out, rank) times B (rank, in), of all such products the one whose outputs are nearest on
speech like the training's (least squares for inputs of that covariance; Eckart and Young, 1936, from memory). What the
mean input loses goes into the bias.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import torch

from callout.errors import BadInput
from ears_training.corpus import Corpus
from ears_training.export_kaldi import Layer
from ears_training.kaldi_file import Matrix
from ears_training.networks import CONTEXT, TDNN_LAYERS
from ears_training.spectra import Mfcc

Wide = npt.NDArray[np.float64]


def some_speech(corpus: Corpus, minutes: float = 15.0, seed: int = 0) -> list[Matrix]:
    """Features of some of the corpus's utterances, each with white noise of its own level (-80 to -28 dB)."""
    rng, rows, out = np.random.default_rng(seed), corpus.training(), []
    front, seconds = Mfcc(), 0.0
    for row in rng.permutation(len(rows)):
        u = rows[row]
        x = corpus.samples[u.start + u.on : u.start + u.off].astype(np.float32) / 32768
        noisy = x + rng.normal(0, 10 ** rng.uniform(-4.0, -1.4), len(x)).astype(np.float32)
        rounded = np.round(np.clip(noisy, -1, 1) * 32767).astype(np.float32) / 32768
        out.append(front(torch.from_numpy(rounded)[None])[0].numpy())
        seconds += u.seconds
        if seconds > 60 * minutes:
            break
    if not out:
        raise BadInput("there is no speech to look at; name a corpus with --corpus")
    return out


def inputs(layers: Sequence[Layer], f: Matrix) -> list[Matrix]:
    """What each hidden layer is given (frames, len(offsets) * in) for features (frames, 40)."""
    h, grid = f[np.clip(np.arange(-CONTEXT, len(f) + CONTEXT), 0, len(f) - 1)], 1
    given = []
    for layer, (offsets, every) in zip(layers, TDNN_LAYERS, strict=False):
        low, stride = offsets[0], every // grid
        frames = len(h) - (offsets[-1] - low) // grid
        x = np.concatenate([h[(o - low) // grid :][:frames:stride] for o in offsets], 1)
        y = np.maximum(x @ layer.weights.T + layer.bias, 0)
        h = y + h[-low // grid :][:frames:stride] if layer.adds_input else y
        given.append(x)
        grid = every
    return given


def thinned(layers: Sequence[Layer], speech: Iterable[Matrix], rank: int) -> list[Layer]:
    """The network with its hidden layers of this rank, but the first, which is thin by itself, and the last.

    `speech` are features (frames, 40) of some minutes of what the network was trained on.
    """
    kinds = range(len(TDNN_LAYERS))
    sums, squares, seen = [np.zeros(1) for _ in kinds], [np.zeros((1, 1)) for _ in kinds], [0 for _ in kinds]
    for f in speech:
        for i, x in enumerate(inputs(layers, f)):
            sums[i], squares[i] = sums[i] + x.sum(0, dtype=np.float64), squares[i] + x.T @ x
            seen[i] += len(x)
    out = [layers[0]]
    for i in range(1, len(TDNN_LAYERS)):
        mean = sums[i] / seen[i]
        out.append(_thin(layers[i], mean, squares[i] / seen[i] - np.outer(mean, mean), rank))
    return [*out, layers[-1]]


def _thin(layer: Layer, mean: Wide, covariance: Wide, rank: int) -> Layer:
    size = len(mean)
    root = np.linalg.cholesky(covariance + np.eye(size) * (1e-3 * np.trace(covariance) / size))
    w = layer.weights.astype(np.float64)
    u, s, v = np.linalg.svd(w @ root, full_matrices=False)
    back, narrow = u[:, :rank], np.linalg.solve(root.T, (s[:rank, None] * v[:rank]).T).T
    bias = layer.bias + (w - back @ narrow) @ mean
    return replace(
        layer, weights=back.astype(np.float32), bias=bias.astype(np.float32), narrow=narrow.astype(np.float32)
    )
