"""Recordings in: any common file becomes 16 kHz mono float32, or one clear line says why not.

A file is one utterance of at most a minute. Longer ones are refused before their samples are read, so a two-hour
file costs no memory; `open_stream` reads such a file piece by piece for the live ear.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from math import gcd
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from callout.errors import BadInput

Samples = NDArray[np.float32]

RATE = 16_000
LONGEST = 60.0  # seconds in one utterance
_RATES = (4_000, 384_000)  # a header outside this is damaged, or no speech
MOST_CHANNELS = 64
_PIECE = 4_000_000  # samples of all channels that are read at once
_UNKNOWN_SIZES = {0, 0x7FFFFFFF, 0x7FFFF000, 0xFFFFFFFF, 0xFFFFFFFF - 36, 0xFFFFFFFF - 44}  # written by streamers


def read_audio(path: str | Path, longest: float = LONGEST) -> Samples:
    """Return a recording as 16 kHz mono float32 within -1 to 1.

    Reads wav, flac, ogg and mp3, any channel count, 4 to 384 kHz, integer or float samples. Raises BadInput, one
    line naming the file and what to do, for a file that is missing, empty, a folder, cut short, no recording, or
    longer than `longest` seconds.
    """
    with _opened(path) as sound:
        rate, said = sound.samplerate, sound.frames
        _refuse_long(path, said / rate, longest)
        try:
            data = _read_all(sound, int(longest * rate) + rate)
        except _library().LibsndfileError as wrong:
            raise BadInput(f"{path}: damaged, its samples cannot be read; copy or record it again") from wrong
    _refuse_long(path, len(data) / rate, longest)
    if len(data) == 0:
        raise BadInput(f"{path}: holds no sound; record it again")
    if len(data) < 0.98 * said - 0.05 * rate:
        raise _cut_short(path, len(data) / rate, said / rate)
    return to_speech(data, rate)


def _read_all(sound: Any, most: int) -> Samples:
    """At most `most` frames, mono. A file of many channels is mixed piece by piece: it never lies in memory whole."""
    if sound.channels == 1:
        whole: Samples = sound.read(most, dtype="float32")
        return whole
    pieces: list[Samples] = []
    got, piece = 0, max(1, _PIECE // sound.channels)
    while got < most:
        data = sound.read(min(piece, most - got), dtype="float32", always_2d=True)
        if not len(data):
            break
        got += len(data)
        pieces.append(_mono(data))
    return np.concatenate(pieces) if pieces else np.zeros(0, np.float32)


def to_speech(data: NDArray[Any], rate: int) -> Samples:
    """(frames,) or (frames, channels) at any rate -> 16 kHz mono float32 within -1 to 1."""
    mono = _mono(np.asarray(data, np.float32))
    mono = np.nan_to_num(mono, nan=0.0, posinf=0.0, neginf=0.0)
    if rate != RATE:
        from scipy.signal import resample_poly

        shared = gcd(rate, RATE)
        mono = resample_poly(mono, RATE // shared, rate // shared)
    peak = float(np.abs(mono).max()) if len(mono) else 0.0
    if peak > 1.0:  # float files may run over, and resampling overshoots a clipped wave
        mono = mono / peak
    return np.ascontiguousarray(mono, np.float32)


def open_stream(path: str | Path, block: float = 0.1) -> Iterator[Samples]:
    """Yield a recording of any length in blocks of about `block` seconds, each 16 kHz mono.

    Each stretch is resampled with its neighbours' samples beside it, so that block edges are not heard.
    """
    with _opened(path) as sound:
        rate = sound.samplerate
        step = max(1, round(block * rate))
        if rate == RATE:
            for piece in sound.blocks(step, dtype="float32", always_2d=True):
                yield to_speech(piece, rate)
            return
        shared = gcd(rate, RATE)
        unit = rate // shared  # input samples that make a whole number of output samples
        step = max(unit, step // unit * unit)
        edge = (64 * max(rate, RATE) // RATE // unit + 1) * unit  # beyond the filter's reach, in whole units
        before = np.zeros(0, np.float32)
        here = _mono(sound.read(step, dtype="float32", always_2d=True))
        while len(here):
            after = _mono(sound.read(step, dtype="float32", always_2d=True))
            wide = to_speech(np.concatenate([before, here, after[:edge]]), rate)
            start = len(before) * RATE // rate
            stop = start + -(-len(here) * RATE // rate)
            yield wide[start:stop]
            before, here = here[-edge:] if len(here) >= edge else here, after


def _mono(data: Samples) -> Samples:
    if data.ndim == 1:
        return data
    if data.shape[1] == 1:
        return data[:, 0]
    mixed: Samples = data.mean(axis=1)
    power = (data.astype(np.float64) ** 2).mean(axis=0)
    loudest = int(power.argmax())
    if (mixed.astype(np.float64) ** 2).mean() < 0.05 * power[loudest]:  # opposite phases cancel one another
        return data[:, loudest]
    return mixed


def _opened(path: str | Path) -> Any:
    place = Path(path)
    try:
        if place.is_dir():
            raise BadInput(f"{path}: a folder; name the recordings in it")
        if place.exists() and not place.is_file():
            raise BadInput(f"{path}: not a file; name a recording on the disk")
        size = place.stat().st_size
        with place.open("rb") as file:
            head = file.read(4096)
    except FileNotFoundError:
        raise BadInput(f"{path}: no such file; check the name") from None
    except (OSError, ValueError) as wrong:
        raise BadInput(f"{path}: cannot be opened ({getattr(wrong, 'strerror', None) or wrong})") from None
    if size == 0:
        raise BadInput(f"{path}: empty; record it again")
    _refuse_cut_wav(path, head, size)
    if head[:4] == b"OggS" and not _ogg_ends(place, size):
        raise BadInput(f"{path}: cut short; copy or record it again")
    library = _library()
    try:
        sound = library.SoundFile(str(path))
    except (library.LibsndfileError, TypeError) as wrong:
        raise BadInput(f"{path}: not a recording that can be read; use wav, flac, ogg or mp3") from wrong
    if not _RATES[0] <= sound.samplerate <= _RATES[1]:
        sound.close()
        raise BadInput(f"{path}: a sampling rate of {sound.samplerate} Hz cannot be right; record at 16000 Hz")
    if sound.channels > MOST_CHANNELS:
        sound.close()
        raise BadInput(f"{path}: {sound.channels} channels are more than a recording has; mix it to one")
    return sound


def _library() -> Any:
    import soundfile

    return soundfile


def _refuse_long(path: str | Path, seconds: float, longest: float) -> None:
    if seconds > longest:
        raise BadInput(
            f"{path}: {seconds:.0f} s is longer than one utterance ({longest:.0f} s); "
            f"cut it into utterances with: callout listen --from {path}"
        )


def _cut_short(path: str | Path, there: float, said: float) -> BadInput:
    return BadInput(f"{path}: cut short, {there:.1f} of {said:.1f} s are there; copy or record it again")


def _refuse_cut_wav(path: str | Path, head: bytes, size: int) -> None:
    """libsndfile reads what is left of a cut WAV without a word; the header says how much there should be."""
    if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
        return
    at, per_second = 12, 0
    while at + 8 <= len(head):
        name, length = head[at : at + 4], struct.unpack("<I", head[at + 4 : at + 8])[0]
        if name == b"fmt " and at + 20 <= len(head):
            per_second = struct.unpack("<I", head[at + 16 : at + 20])[0]
        if name == b"data":
            there = size - at - 8
            if length not in _UNKNOWN_SIZES and there < length - 1 and per_second:
                raise _cut_short(path, there / per_second, length / per_second)
            return
        at += 8 + length + length % 2
    if at >= size:
        raise BadInput(f"{path}: cut short inside its header; copy or record it again")


def _ogg_ends(place: Path, size: int) -> bool:
    """Whether the last page says that it is the last (RFC 3533, 6: flag 4 of the header type)."""
    with place.open("rb") as file:
        file.seek(max(0, size - 70_000))  # a page is 65,307 bytes at most
        tail = file.read()
    last = tail.rfind(b"OggS")
    return last >= 0 and last + 5 < len(tail) and bool(tail[last + 5] & 4)
