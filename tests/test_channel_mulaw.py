"""Our mu-law against ITU-T G.711's own figures and two other implementations."""

from __future__ import annotations

import io

import numpy as np
import pytest
import soundfile

from callout.channel.radio import mulaw_decode, mulaw_encode

ALL_16_BIT = np.arange(-32768, 32768, dtype=np.int16)

#: ITU-T G.711 (1988), table 2a: the end of each segment and the step in it, on 14-bit samples.
SEGMENTS = [(31, 2), (95, 4), (223, 8), (479, 16), (991, 32), (2015, 64), (4063, 128), (8159, 256)]


def test_the_decoder_gives_the_values_of_the_standard() -> None:
    """Table 2a: 128 values on the positive side, each half way between its decision values, 0 to 8031."""
    expected, start = [0.0], 1  # the first step is half as wide: 0 to 1 gives 0
    for end, step in SEGMENTS:
        expected += [low + step / 2 for low in range(start, end, step)]
        start = end
    assert len(expected) == 128
    assert expected[-1] == 8031
    codes = np.arange(255, 127, -1).astype(np.uint8)  # positive values go on the line as 255 down to 128
    assert np.array_equal(mulaw_decode(codes) * 8192, expected)


def test_every_16_bit_sample_decodes_as_libsndfile_does() -> None:
    """libsndfile writes G.711 too; the two may round a sample to the other neighbour, never further."""
    buffer = io.BytesIO()
    soundfile.write(buffer, ALL_16_BIT, 8000, format="WAV", subtype="ULAW")
    buffer.seek(0)
    theirs = soundfile.read(buffer, dtype="int16")[0].astype(int)
    ours = np.round(mulaw_decode(mulaw_encode(ALL_16_BIT / 32768.0)) * 32768).astype(int)
    step = np.maximum(np.abs(ours), np.abs(theirs)) / 16 + 8
    assert np.all(np.abs(ours - theirs) <= step)
    assert np.mean(ours == theirs) > 0.95


def test_every_octet_as_python_itself_decoded_it() -> None:
    """audioop left the standard library with Python 3.13; where it still is, its table must be ours."""
    audioop = pytest.importorskip("audioop", reason="audioop left the standard library with Python 3.13")
    octets = np.arange(256, dtype=np.uint8)
    theirs = np.frombuffer(audioop.ulaw2lin(octets.tobytes(), 2), dtype=np.int16)
    assert np.array_equal(mulaw_decode(octets) * 32768, theirs)
    encoded = np.frombuffer(audioop.lin2ulaw(ALL_16_BIT.tobytes(), 2), dtype=np.uint8)
    assert np.mean(mulaw_encode(ALL_16_BIT / 32768.0) == encoded) > 0.95


def test_the_error_is_that_of_a_14_bit_companding_code() -> None:
    """G.711 gives about 38 dB of signal to quantising noise over a wide range (G.712 asks for 33 dB of a tone)."""
    tone = np.sin(2 * np.pi * 1010 * np.arange(8000) / 8000)
    for level_db in (-3, -10, -20, -30):
        x = tone * 10 ** (level_db / 20)
        error = mulaw_decode(mulaw_encode(x)) - x
        assert 10 * np.log10(np.mean(x**2) / np.mean(error**2)) > 33
