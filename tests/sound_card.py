"""A sound card made of software, for tests of the live program: PulseAudio in a folder of its own, with sinks for
devices. A sink `mic` whose monitor is the microphone, `line` for a radio line, `spk` and `out` for two loudspeakers.

Needs `pulseaudio` and `pactl` (Debian: apt install pulseaudio pulseaudio-utils); without them such tests skip.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from callout.files import data_folder

RATE = 16_000
PROGRAM = [sys.executable, "-m", "callout"]  # what is tried; a test may put another in its place
MISSING = [tool for tool in ("pulseaudio", "pactl", "parec", "pacat") if shutil.which(tool) is None]
needs_sound_card = pytest.mark.skipif(
    bool(MISSING), reason=f"no sound card of software: {', '.join(MISSING)} is missing (apt install pulseaudio)"
)
SINKS = ("mic", "line", "spk", "out")


class SoundCard:
    """Started by `sound_card()`; ended with everything that hangs on it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.environment = {
            **os.environ, "XDG_RUNTIME_DIR": str(folder), "PULSE_SERVER": f"unix:{folder}/native",
            "XDG_CONFIG_HOME": str(folder / "config"), "XDG_STATE_HOME": str(folder / "state"),
            "PULSE_COOKIE": str(folder / "cookie"),
        }  # fmt: skip
        self._server = subprocess.Popen(
            [
                "pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--realtime=no",
                "--high-priority=no", f"--load=module-native-protocol-unix socket={folder}/native auth-anonymous=1",
            ],
            env=self.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._modules: dict[str, str] = {}
        self._recorders: list[subprocess.Popen[bytes]] = []
        wait_for(lambda: self.pactl("info", check=False) != "", 10)
        for name in SINKS:
            self.plug(name)
        self.pactl("set-default-sink", "spk")
        self.pactl("set-default-source", "mic.monitor")

    def pactl(self, *words: str, check: bool = True) -> str:
        done = subprocess.run(["pactl", *words], env=self.environment, capture_output=True, text=True, check=False)
        assert not check or done.returncode == 0, (words, done.stderr)
        return done.stdout.strip() if done.returncode == 0 else ""

    def plug(self, name: str, rate: int = 48_000) -> None:
        """A device appears; its sound comes and goes in pieces of 10 ms."""
        self._modules[name] = self.pactl(
            "load-module", "module-null-sink", f"sink_name={name}", f"rate={rate}",
            f"sink_properties=device.description={name}",
        )  # fmt: skip

    def unplug(self, name: str) -> None:
        self.pactl("unload-module", self._modules.pop(name))

    def leak(self, level: float, source: str = "spk", into: str = "mic", delay_ms: int = 60) -> None:
        """The loudspeaker is heard in the microphone, `level` times as loud (0.5 is 6 dB less)."""
        before = set(self.pactl("list", "short", "sink-inputs").splitlines())
        self._modules["leak"] = self.pactl(
            "load-module", "module-loopback", f"source={source}.monitor", f"sink={into}", f"latency_msec={delay_ms}",
            "adjust_time=0",
        )  # fmt: skip
        wait_for(lambda: set(self.pactl("list", "short", "sink-inputs").splitlines()) - before != set(), 5)
        new = (set(self.pactl("list", "short", "sink-inputs").splitlines()) - before).pop().split()[0]
        self.pactl("set-sink-input-volume", new, str(round(65536 * level ** (1 / 3))))  # its volumes are cubic

    def say(self, sound: Path | np.ndarray, into: str = "mic", wait: bool = True) -> float:
        """Play a recording, or samples at 16 kHz, into a sink; returns when its last sample was played."""
        samples = sound if isinstance(sound, np.ndarray) else recording(sound)
        pcm = (np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes()
        player = subprocess.Popen(  # it begins at once whatever its buffer; a short one leaves holes on a busy machine
            ["pacat", "--playback", "-d", into, "--raw", "--format=s16le", "--rate=16000", "--channels=1",
             "--latency-msec=500"],
            env=self.environment, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        assert player.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            player.stdin.write(pcm)
            player.stdin.close()
        if wait:
            player.wait(60)
        return time.monotonic()

    def record(self, sink: str) -> Recorder:
        recorder = Recorder(self, sink)
        self._recorders.append(recorder.process)
        return recorder

    def close(self) -> None:
        for process in (*self._recorders, self._server):
            if process.poll() is None:
                process.terminate()
                with contextlib.suppress(subprocess.TimeoutExpired):
                    process.wait(5)
            if process.poll() is None:
                process.kill()


class Recorder:
    """What goes through a sink, with the time of each piece."""

    def __init__(self, card: SoundCard, sink: str) -> None:
        self.process = subprocess.Popen(
            ["parec", "-d", f"{sink}.monitor", "--raw", "--format=s16le", f"--rate={RATE}", "--channels=1",
             "--latency-msec=10"],
            env=card.environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._pieces: list[tuple[float, np.ndarray]] = []
        threading.Thread(target=self._read, daemon=True).start()
        wait_for(lambda: len(self._pieces) > 0, 10)

    def _read(self) -> None:
        assert self.process.stdout is not None
        while data := os.read(self.process.stdout.fileno(), 1 << 14):
            samples = np.frombuffer(data[: len(data) // 2 * 2], "<i2").astype(float) / 32768
            self._pieces.append((time.monotonic(), samples))

    def loud(self, since: float = 0.0, until: float = float("inf"), floor: float = 0.01) -> list[float]:
        """The times at which there was sound, to about 10 ms."""
        return [
            when for when, piece in list(self._pieces)
            if since <= when <= until and len(piece) and float(np.sqrt(np.mean(piece**2))) > floor
        ]  # fmt: skip

    def quiet_for(self, seconds: float, within: float = 30.0) -> None:
        """Wait until nothing has gone through for so long."""
        began = time.monotonic()
        wait_for(lambda: time.monotonic() - max([began, *self.loud(since=began)[-1:]]) > seconds, within)

    def samples(self) -> np.ndarray:
        return np.concatenate([piece for _, piece in list(self._pieces)])


def _heeds_ctrl_c() -> None:
    """A shell lets what it starts in the background ignore Ctrl-C, and so do the children of that."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class Live:
    """`callout listen --json` beside a sound card: its records as they come."""

    def __init__(self, card: SoundCard, *options: str, stdin: int | None = None) -> None:
        self.process = subprocess.Popen(
            [*PROGRAM, "listen", "--json", *options],
            env=card.environment, stdin=subprocess.DEVNULL if stdin is None else stdin, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True, preexec_fn=_heeds_ctrl_c,
        )  # fmt: skip
        self.events: list[dict[str, Any]] = []
        self.times: list[float] = []
        self.notes: list[str] = []
        self._more: queue.SimpleQueue[None] = queue.SimpleQueue()
        for read in (self._read_events, self._read_notes):
            threading.Thread(target=read, daemon=True).start()

    def _read_events(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.events.append(json.loads(line))
            self.times.append(time.monotonic())

    def _read_notes(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.notes.append(line.rstrip())

    def wait(self, event: str, text: str = "", since: int = 0, seconds: float = 25.0) -> dict[str, Any]:
        """The first record of this event that holds `text`, among those after the first `since`."""
        found = lambda: [e for e in self.events[since:] if e["event"] == event and text in e["text"]]  # noqa: E731
        wait_for(lambda: bool(found()), seconds, self.story)
        return found()[0]

    def call(self, card: SoundCard, sound: Path | np.ndarray | str, event: str, text: str = "", times: int = 3,
             into: str = "mic", seconds: float = 9.0) -> dict[str, Any]:  # fmt: skip
        """Say something until it has the effect that it should have, as people do; a machine may be busy."""
        since = len(self.events)
        for _ in range(times):
            card.say(sound, into)  # type: ignore[arg-type]
            with contextlib.suppress(AssertionError):
                return self.wait(event, text, since, seconds)
        raise AssertionError(f"{event} {text!r} did not come of {sound}\n{self.story()}")

    def when(self, record: dict[str, Any]) -> float:
        return self.times[self.events.index(record)]

    def named(self, event: str) -> list[dict[str, Any]]:
        return [record for record in self.events if record["event"] == event]

    def story(self) -> str:
        """All that happened, for the message of a test that failed."""
        lines = [f"{e['event']:<12} {e['speaker'] or '':<10} {e['text']}" for e in list(self.events)]
        return "\n".join([*lines, *self.notes])

    def end(self) -> int:
        if self.process.poll() is None:
            self.process.send_signal(2)
        try:
            return self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            return self.process.wait(10)


def wait_for(condition: Callable[[], bool], seconds: float, why: Callable[[], str] = lambda: "") -> None:
    ends = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < ends, f"did not come within {seconds:.0f} s\n{why()}"
        time.sleep(0.02)


def recording(path: Path | str) -> np.ndarray:
    """A recording at 16 kHz; a bare name is one of the demonstration's."""
    path = path if isinstance(path, Path) else data_folder("audio_fixtures") / "demo" / path
    samples, rate = soundfile.read(path, dtype="float32")
    assert rate == RATE
    return samples


def in_a_room(path: Path | str) -> np.ndarray:
    """A recording at a microphone that is open before somebody speaks. Out of perfect silence a voice comes as through
    a key that was pressed late."""
    samples = np.pad(recording(path), (RATE // 2, 0))
    return samples + np.random.default_rng(0).normal(0, 10 ** (-68 / 20), len(samples)).astype(np.float32)


@contextlib.contextmanager
def sound_card() -> Iterator[SoundCard]:
    folder = Path(tempfile.mkdtemp(prefix="callout-sound-"))
    folder.chmod(0o700)
    card = SoundCard(folder)
    try:
        yield card
    finally:
        card.close()
        shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def live(card: SoundCard, *options: str, stdin: int | None = None) -> Iterator[Live]:
    program = Live(card, *options, stdin=stdin)
    try:
        yield program
    finally:
        program.end()
