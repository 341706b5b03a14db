"""A bad input gets one clear line that names it, exit code 2, no traceback, and nothing half-written."""

import json
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import numpy as np
import pytest
import soundfile

import callout.shoring
from callout.cli import group, main
from callout.files import data_folder
from callout.journal.lock import WriterLock

GOOD = data_folder("audio_fixtures") / "demo" / "whole_clean.flac"


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    said = capsys.readouterr()
    assert "Traceback" not in said.err
    return int(stop.value.code or 0), said.out, said.err


def wav_header(seconds: int, rate: int = 16000) -> bytes:
    size = seconds * rate * 2
    return (
        b"RIFF" + struct.pack("<I", size + 36) + b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 1, 1, rate, rate * 2, 2, 16)
        + b"data" + struct.pack("<I", size)
    )  # fmt: skip


def two_hours(path: Path) -> None:
    with path.open("wb") as file:
        file.write(wav_header(7200))
        file.truncate(44 + 7200 * 32000)  # sparse: it takes no room on the disk


BAD_AUDIO = {
    "missing.wav": (lambda p: None, "no such file"),
    "empty.wav": (lambda p: p.write_bytes(b""), "empty"),
    "folder.wav": (lambda p: p.mkdir(), "folder"),
    "cut.wav": (lambda p: p.write_bytes(wav_header(4) + bytes(32000)), "cut short"),
    "text.wav": (lambda p: p.write_text("insertion eleven feet"), "not a recording"),
    "hours.wav": (two_hours, "listen --from"),
}


@pytest.mark.audio
@pytest.mark.parametrize("name", BAD_AUDIO)
def test_a_bad_recording(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make, says = BAD_AUDIO[name]
    make(tmp_path / name)
    code, out, err = run(capsys, "hear", "--json", str(tmp_path / name))
    assert code == 2
    assert says in err
    line = json.loads(out)
    assert line["file"] == str(tmp_path / name)
    assert line["outcome"] == "nothing"
    assert line["meaning"] is None


@pytest.mark.audio
def test_a_broken_file_does_not_stop_the_good_ones(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [str(tmp_path / "missing.wav"), str(GOOD)]
    code, out, _ = run(capsys, "hear", "--json", *files)
    lines = [json.loads(line) for line in out.splitlines()]
    assert code == 2
    assert [line["file"] for line in lines] == files
    assert [line["outcome"] for line in lines] == ["nothing", "understood"]


@pytest.mark.audio
@pytest.mark.parametrize(
    ("name", "rate", "channels", "kind"),
    [
        ("stereo.wav", 16000, 2, "PCM_16"),
        ("slow.wav", 8000, 1, "PCM_16"),
        ("cd.wav", 44100, 2, "PCM_24"),
        ("float.wav", 48000, 1, "FLOAT"),
        ("small.mp3", 22050, 1, "MPEG_LAYER_III"),
    ],
)
def test_other_shapes_are_converted_not_refused(
    name: str, rate: int, channels: int, kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from scipy.signal import resample_poly

    samples, own = soundfile.read(GOOD, dtype="float32")
    other = resample_poly(samples, rate, own).astype(np.float32)
    soundfile.write(tmp_path / name, np.stack([other] * channels, axis=1), rate, subtype=kind)
    code, out, _ = run(capsys, "hear", "--json", str(tmp_path / name))
    line = json.loads(out)
    assert code == 0
    assert line["outcome"] == "understood"
    assert (line["meaning"]["insertion"]["text"], line["meaning"]["angle_deg"]) == ("11 ft", 60)


@pytest.mark.parametrize(
    "text",
    [
        "insertion " * 100_000,
        "\U0001f3d7\ufe0f\U0001f44d",
        "einfügen elf fuß sechzig",
        "вставка одиннадцать",
        "\x00\x1b[2J",
        "ft ft ft",
    ],
)
def test_a_strange_text_is_not_understood_and_says_why(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "read", "--json", text)
    line: dict[str, Any] = json.loads(out)
    assert code == 0
    assert line["outcome"] == "not_understood"
    assert line["reasons"]
    assert len(out) < 20_000


PICKET = '\n[[piece]]\nname = "spare picket"\npart = "picket"\nquantity = 3\nwhere = "rack G"\nweight_lb = 5.0\n'
BAD_STOCK = {
    "negative": PICKET.replace("3", "-3"),
    "syntax": "\n[[piece\nname = 3",
    "unknown_field": PICKET + "shine = 1\n",
    "duplicate": PICKET + PICKET,
}


@pytest.mark.parametrize("name", BAD_STOCK)
def test_a_bad_stock_file(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stock = tmp_path / f"{name}.toml"
    good = (Path(callout.shoring.__file__).parent / "stocks" / "demo.toml").read_text()
    stock.write_text(good + BAD_STOCK[name])
    code, out, err = run(capsys, "plan", "--insertion", "11 ft", "--angle", "60", "--stock", str(stock), "--json")
    assert code == 2
    assert out == ""
    assert f"{name}.toml" in err
    assert len(err.strip().splitlines()) == 1


def test_each_mistake_in_a_stock_has_its_own_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "yard.toml").write_text("name = 3\nkerf = 4\n")
    code, _, err = run(capsys, "stock", str(tmp_path / "yard.toml"))
    assert code == 2
    assert "\ufffd" not in err
    lines = err.strip().splitlines()
    assert len(lines) == 3  # the name, the kerf, and no kit
    assert all("yard.toml" in line and line.count("yard.toml") == 1 for line in lines)


@pytest.mark.parametrize(
    "arguments",
    [
        ("plan", "--insertion", "eleventy", "--angle", "60"),
        ("plan", "--angle", "60"),
        ("hear",),
        ("nonsense",),
        ("hear", "--state", "nowhere", str(GOOD)),
    ],
)
def test_a_wrong_word_on_the_command_line(arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, *arguments)
    assert code == 2
    assert out == ""
    assert err.startswith("callout: ")
    assert err.count("\n") == 1


@pytest.mark.audio
@pytest.mark.parametrize(
    "command",
    [["words"], ["demo"], ["sample", "-n", "3000"], pytest.param(["demo", "--json"], marks=pytest.mark.slow)],
)
def test_whoever_reads_may_go_away(command: list[str], tmp_path: Path) -> None:
    """As in `callout words | head -1`: it ends quietly."""
    import subprocess
    import sys

    folder = ["--folder", str(tmp_path / "out")] if command[0] == "demo" else []
    done = subprocess.Popen(
        [sys.executable, "-m", "callout", *command, *folder], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert done.stdout is not None
    assert done.stderr is not None
    assert done.stdout.readline()
    done.stdout.close()
    said = done.stderr.read().decode()
    done.stderr.close()
    assert done.wait(60) == 0
    assert "callout:" not in said
    assert "Traceback" not in said
    assert "Exception" not in said


def test_a_second_demonstration_does_not_clear_away_the_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "demo.journal").write_text("of the first")
    first = WriterLock(tmp_path / "demo.lock")
    assert first.take()
    code, out, err = run(capsys, "demo", "--folder", str(tmp_path))
    first.drop()
    assert (code, out) == (2, "")
    assert "another demonstration is running" in err
    assert (tmp_path / "demo.journal").read_text() == "of the first"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_a_full_disk_is_named_and_is_no_fault_of_the_program() -> None:
    import subprocess
    import sys

    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "callout", "schema"], stdout=full, stderr=subprocess.PIPE, text=True, timeout=60
        )
    assert (done.returncode, done.stderr.count("\n")) == (1, 1)
    assert "the disk is full" in done.stderr


def every_option(commands: click.Group, parent: click.Context) -> Iterator[tuple[str, click.Option, click.Context]]:
    for name in commands.list_commands(parent):
        command = commands.get_command(parent, name)
        assert command is not None
        inside = click.Context(command, info_name=name, parent=parent)
        if isinstance(command, click.Group):
            yield from every_option(command, inside)
        yield from ((f"{name} {p.opts[0]}", p, inside) for p in command.params if isinstance(p, click.Option))


@pytest.mark.parametrize("odd", ["nan", "inf", "-inf"])
def test_no_option_takes_what_is_no_figure(odd: str) -> None:
    """IEEE 754: a NaN compares with nothing, so that it passes "less than" and "more than" alike."""
    figures, taken = [], []
    for name, option, context in every_option(group, click.Context(group)):
        fits = [
            text for text in ("50", odd)
            if numbers_in(option, context, (text,) * option.nargs if option.nargs > 1 else text)
        ]  # fmt: skip
        figures += [name] if "50" in fits else []
        taken += [name] if odd in fits else []
    assert {"plan --load", "inspect --wind", "listen --pace", "radio --snr"} <= set(figures)
    assert taken == []


def numbers_in(option: click.Option, context: click.Context, given: str | tuple[str, ...]) -> bool:
    """Whether an option takes these words as figures."""
    try:
        value = option.process_value(context, given)
    except (click.UsageError, callout.errors.CalloutError):
        return False
    return any(isinstance(part, float) for part in (value if isinstance(value, tuple) else (value,)))
