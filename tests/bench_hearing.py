"""How long hearing takes, as ratios to peers on the same machine in the same run.

    python -m tests.bench hearing

The peer is the encoder network's own run in onnxruntime: 6 s of sound on one thread, about 17 ms on a quiet machine
of 2024. On a busy machine every figure grows, and the ratios stay.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from callout.files import data_folder
from callout.hearing.audio import RATE, Samples, read_audio
from callout.hearing.ears import WEIGHTS
from callout.hearing.encoder import EncoderEar
from callout.hearing.graph import phone_graph
from callout.hearing.live import utterances
from callout.hearing.remote import EarsProcess
from callout.hearing.search import Searcher, squeeze
from callout.hearing.sources import MemorySource
from callout.hearing.vosk_ear import VoskEar
from callout.language.automaton import word_automaton
from callout.language.context import EVERYTHING
from callout.language.pronunciation import prons

ROUNDS = 3  # how often each utterance is heard, and the ears are made ready

READY = """
import time; began = time.perf_counter()
from callout.hearing.ears import Ears
ears = Ears(); ears.prepare(); ears.ready()
print(time.perf_counter() - began); ears.close()
"""


def best(work: Callable[[], object], repeats: int = 7) -> float:
    """Milliseconds, the least of several."""
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return 1000 * min(times)


def memory(pid: int | None, file: str = "status", name: str = "VmRSS:") -> float:
    """Resident megabytes of a process; Linux only."""
    try:
        lines = Path(f"/proc/{pid}/{file}").read_text(encoding="ascii").splitlines()
    except OSError:
        return float("nan")
    return next(int(line.split()[1]) for line in lines if line.startswith(name)) / 1024


def bench() -> dict[str, float]:
    """Milliseconds by name, each with its ratio to the encoder's run; megabytes and shares as they are named."""
    figures: dict[str, float] = {}

    def note(what: str, milliseconds: float, peer: float) -> None:
        figures[f"{what}, ms"] = milliseconds
        figures[f"{what}, ratio to the encoder"] = milliseconds / peer

    demo = data_folder("audio_fixtures") / "demo"
    samples = np.resize(read_audio(demo / "half_inch_radio.flac"), 6 * RATE)
    words = word_automaton(EVERYTHING)
    encoder = EncoderEar(WEIGHTS / "encoder.onnx")
    scores = encoder.scores(samples)
    graph = phone_graph(words.arcs, words.start, words.finals, prons)
    searcher = Searcher(graph)
    network = best(lambda: encoder.scores(samples))
    search = best(lambda: searcher.readings(squeeze(scores)))
    build = best(lambda: phone_graph(words.arcs, words.start, words.finals, prons), 3)
    note("encoder, 6 s of sound, one thread", network, network)
    note(f"search of 6 s, {len(words.arcs)} word arcs", search, network)
    note("phone graph from the automaton", build, network)
    vosk = VoskEar(WEIGHTS / "vosk")
    began = time.perf_counter()
    vosk.prepare("all", words.arcs, words.start, words.finals)
    note("Gr.fst and its folder", 1000 * (time.perf_counter() - began), network)
    alone = best(lambda: vosk.hear(samples, "all"), 3)
    note("Vosk ear alone, 6 s at once", alone, network)
    vosk.close()
    ready = min(float(subprocess.run([sys.executable, "-c", READY], capture_output=True, text=True, check=True).stdout)
                for _ in range(ROUNDS))  # fmt: skip
    note("ready, from import to both ears loaded", 1000 * ready, network)
    figures.update(live(demo, network))
    return figures


def delay(ears: EarsProcess, sound: Samples) -> float:
    """Milliseconds from the end of an utterance to its meaning."""
    ears.begin(EVERYTHING)
    for start in range(0, len(sound), RATE // 10):
        time.sleep(0.05)  # twice the pace of speech
        ears.feed(sound[start : start + RATE // 10])
    began = time.perf_counter()
    ears.finish()
    return 1000 * (time.perf_counter() - began)


def live(demo: Path, peer: float) -> dict[str, float]:
    """From the end of an utterance to its meaning, each the least of some rounds; and the idle ear's cost."""
    ears = EarsProcess()
    ears.prepare(EVERYTHING)
    sounds = [read_audio(file) for file in sorted(demo.glob("*.flac"))]
    rounds = [[delay(ears, sound) for sound in sounds] for _ in range(ROUNDS)]
    delays = np.min(rounds, axis=0)  # the machine is shared
    figures = {}
    for share in (50, 95):
        milliseconds = float(np.percentile(delays, share))
        figures[f"end of speech to meaning, p{share} of {len(delays)}, ms"] = milliseconds
        figures[f"end of speech to meaning, p{share}, ratio to the encoder"] = milliseconds / peer
    figures["memory of the ears' process, MB resident"] = memory(ears.helper.pid)
    children = _children(ears.helper.pid)
    for name, pid in zip(("Vosk", "third opinion's"), children, strict=False):
        figures[f"memory of the {name} process, MB resident"] = memory(pid)
    figures["memory of all of them, MB, what they share counted once (PSS)"] = sum(
        memory(pid, "smaps_rollup", "Pss:") for pid in (ears.helper.pid, *children)
    )
    quiet = np.random.default_rng(0).normal(0, 0.001, 60 * RATE).astype(np.float32)
    before = time.process_time()
    assert list(utterances(MemorySource(quiet), ears, lambda: EVERYTHING)) == []
    figures["idle listening, percent of one core (audio process)"] = 100 * (time.process_time() - before) / 60
    ears.close()
    return figures


def _children(pid: int | None) -> list[int]:
    found = subprocess.run(["pgrep", "-P", str(pid)], capture_output=True, text=True, check=False).stdout.split()
    return [int(child) for child in found]
