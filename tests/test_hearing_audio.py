"""Any recording in, one clear line where it cannot be: nothing that a user can hand over ends in a traceback."""

import struct
import tracemalloc
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from callout.errors import BadInput
from callout.hearing.audio import RATE, open_stream, read_audio, to_speech


def tone(rate: int, seconds: float = 1.0, hertz: float = 440.0) -> np.ndarray:
    return (0.5 * np.sin(2 * np.pi * hertz * np.arange(int(seconds * rate)) / rate)).astype(np.float32)


def loudest_hertz(samples: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(spectrum.argmax() * RATE / len(samples))


@pytest.mark.parametrize("rate", [8000, 11025, 16000, 22050, 32000, 44100, 48000, 96000])
def test_every_rate_becomes_sixteen_kilohertz(tmp_path: Path, rate: int) -> None:
    file = tmp_path / "tone.wav"
    soundfile.write(file, tone(rate), rate)
    samples = read_audio(file)
    assert samples.dtype == np.float32
    assert abs(len(samples) - RATE) <= 2
    assert loudest_hertz(samples) == pytest.approx(440, abs=1.5)
    assert np.sqrt(np.mean(samples[1000:-1000] ** 2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.01)


@pytest.mark.parametrize("name", ["t.wav", "t.flac", "t.ogg", "t.mp3"])
def test_every_common_kind_of_file(tmp_path: Path, name: str) -> None:
    soundfile.write(tmp_path / name, tone(44100, 2.0), 44100)
    samples = read_audio(tmp_path / name)
    assert len(samples) == pytest.approx(2 * RATE, abs=0.15 * RATE)
    assert loudest_hertz(samples) == pytest.approx(440, abs=2)


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW"])
def test_every_kind_of_sample(tmp_path: Path, subtype: str) -> None:
    soundfile.write(tmp_path / "t.wav", tone(RATE), RATE, subtype=subtype)
    assert np.abs(read_audio(tmp_path / "t.wav") - tone(RATE)).max() < 0.03


def test_what_is_above_the_speech_band_does_not_fold_into_it() -> None:
    """9.5 kHz sampled at 48 kHz would land on 6.5 kHz; scipy's polyphase filter keeps it 50 dB down."""
    folded = to_speech(tone(48000, 1.0, 9500.0), 48000)[1000:-1000]
    assert 20 * np.log10(np.sqrt(np.mean(folded**2)) / (0.5 / np.sqrt(2))) < -50


def test_stereo_is_mixed_and_opposite_phases_do_not_cancel(tmp_path: Path) -> None:
    left = tone(RATE)
    soundfile.write(tmp_path / "same.wav", np.stack([left, left], 1), RATE)
    soundfile.write(tmp_path / "against.wav", np.stack([left, -left], 1), RATE)
    soundfile.write(tmp_path / "one.wav", np.stack([left, 0 * left], 1), RATE)
    assert np.abs(read_audio(tmp_path / "same.wav") - left).max() < 1e-3
    assert np.abs(read_audio(tmp_path / "against.wav")).max() == pytest.approx(0.5, abs=0.01)
    assert np.abs(read_audio(tmp_path / "one.wav")).max() == pytest.approx(0.25, abs=0.01)


def test_floats_beyond_full_scale_and_not_numbers_are_tamed(tmp_path: Path) -> None:
    wild = 3 * tone(RATE)
    wild[100] = np.nan
    soundfile.write(tmp_path / "wild.wav", wild, RATE, subtype="FLOAT")
    samples = read_audio(tmp_path / "wild.wav")
    assert np.isfinite(samples).all()
    assert np.abs(samples).max() <= 1.0


def wav_bytes(seconds: float = 1.0) -> bytes:
    pcm = (tone(RATE, seconds) * 32767).astype("<i2").tobytes()
    head = (
        b"RIFF" + struct.pack("<I", 36 + len(pcm)) + b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 1, 1, RATE, 32000, 2, 16)
    )
    return head + b"data" + struct.pack("<I", len(pcm)) + pcm


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"\x00" * 500, "not a recording"),
        (b"just some words in a text file", "not a recording"),
        (wav_bytes()[:44], "cut short"),
        (wav_bytes()[:9000], "cut short, 0.3 of 1.0 s"),
        (wav_bytes()[:30], "cut short"),
        (wav_bytes(0.0), "no sound"),
        (b"ID3\x04" + b"\xff" * 300, "not a recording"),
    ],
    ids=["empty", "zeros", "text", "header only", "cut", "cut in the header", "no samples", "false mp3"],
)
def test_a_bad_file_is_one_line_that_says_what_to_do(tmp_path: Path, content: bytes, says: str) -> None:
    file = tmp_path / "bad.wav"
    file.write_bytes(content)
    with pytest.raises(BadInput) as bad:
        read_audio(file)
    line = str(bad.value)
    assert says in line
    assert line.startswith(f"{file}: ")
    assert "\n" not in line
    assert bad.value.exit_code == 2


def test_cut_files_of_other_kinds(tmp_path: Path) -> None:
    for name in ("t.flac", "t.ogg"):
        soundfile.write(tmp_path / name, np.random.default_rng(0).normal(0, 0.1, 4 * RATE), RATE)
        whole = (tmp_path / name).read_bytes()
        (tmp_path / name).write_bytes(whole[: len(whole) // 2])
        with pytest.raises(BadInput):
            read_audio(tmp_path / name)


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no such file"):
        read_audio(tmp_path / "nothing.wav")
    with pytest.raises(BadInput, match="a folder"):
        read_audio(tmp_path)
    with pytest.raises(BadInput):
        read_audio("x" * 5000 + ".wav")
    with pytest.raises(BadInput):
        read_audio("nul\0.wav")


def test_two_hours_are_refused_without_being_read(tmp_path: Path) -> None:
    file = tmp_path / "long.wav"
    with wave.open(str(file), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(8000)
        for _ in range(72):
            out.writeframes(bytes(2 * 8000 * 100))
    tracemalloc.start()
    with pytest.raises(BadInput, match="listen --from"):
        read_audio(file)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 5_000_000
    assert sum(len(block) for block in _first(open_stream(file), 50)) == pytest.approx(50 * 0.1 * RATE, abs=2)


def _first(blocks, count):
    for _, block in zip(range(count), blocks, strict=False):
        yield block


@pytest.mark.parametrize("rate", [8000, 16000, 22050, 44100])
def test_a_stream_sounds_like_the_file(tmp_path: Path, rate: int) -> None:
    rng = np.random.default_rng(3)
    soundfile.write(tmp_path / "n.wav", rng.normal(0, 0.1, int(2.5 * rate)), rate)
    whole = read_audio(tmp_path / "n.wav")
    stream = np.concatenate(list(open_stream(tmp_path / "n.wav")))
    assert abs(len(stream) - len(whole)) <= 2
    short = min(len(stream), len(whole)) - 50
    assert np.abs(stream[:short] - whole[:short]).max() < 1e-3


def test_positions_in_a_long_array_stay_whole() -> None:
    """float32 counts single samples to 16,777,216 only; past that a position kept in it lands beside its sample."""
    long = 17_500_000  # over 18 minutes at 16 kHz
    click = long - 3
    samples = np.zeros(long, np.float32)
    samples[click] = 1.0
    converted = to_speech(samples, RATE)
    assert int(converted.argmax()) == click
