"""The Vosk ear: the grammar file it reads, the process it lives in, and what happens when that dies."""

import os
import signal
import struct
import time
from pathlib import Path

import numpy as np
import pytest

from callout.channel import simulate
from callout.errors import CalloutError
from callout.files import data_folder
from callout.hearing import vosk_ear
from callout.hearing.audio import RATE, read_audio
from callout.hearing.build_vosk import SILENCE, grammar_lexicon, lexicon_arcs, phone_number, topology, transitions
from callout.hearing.ears import WEIGHTS, Ears
from callout.hearing.helper import MOST_WAITING, Helper, HelperDied, HelperFailed
from callout.hearing.vosk_ear import VoskEar, check_lexicon
from callout.hearing.vosk_graph import GARBAGE, write_gr
from callout.language.context import Context
from callout.scoring.conditions import babble_voices
from tests.timing import pace

MODEL = WEIGHTS / "vosk"
ARCS = [
    (0, 1, "insertion"), (1, 2, "eleven"), (1, 2, "twelve"), (1, 2, "seven"), (2, 3, "feet"), (3, 4, "sixty"),
    (3, 5, "forty"), (5, 4, "five"), (0, 4, "affirm"), (0, 4, "negative"),
]  # fmt: skip


def read_gr(path: Path) -> tuple[int, dict[int, tuple[bool, dict[int, tuple[float, int]]]]]:
    """OpenFst's vector file, as its documentation lays it out: (start, state -> (final, label -> (cost, target)))."""
    data, at = path.read_bytes(), 0

    def take(form: str):
        nonlocal at
        values = struct.unpack_from(form, data, at)
        at += struct.calcsize(form)
        return values

    def text() -> bytes:
        (size,) = take("<i")
        (value,) = take(f"<{size}s")
        return value

    assert take("<i") == (2125659606,)
    assert (text(), text()) == (b"vector", b"standard")
    version, flags, _, start, states, arcs = take("<iiQqqq")
    assert (version, flags) == (2, 0)
    found = {}
    for state in range(states):
        cost, count = take("<fq")
        rows = [take("<iifi") for _ in range(count)]
        assert [row[0] for row in rows] == sorted(row[0] for row in rows)
        assert all(row[0] == row[1] for row in rows)
        found[state] = (cost != float("inf"), {row[0]: (row[2], row[3]) for row in rows})
        assert len(found[state][1]) == count
    assert at == len(data)
    assert sum(len(row[1]) for row in found.values()) == arcs
    return start, found


def test_the_grammar_file_holds_the_sentences_and_silence_and_garbage(tmp_path: Path) -> None:
    words = {w: n + 1 for n, w in enumerate(sorted({w for _, _, w in ARCS}))} | {GARBAGE: 50}
    assert write_gr(tmp_path / "Gr.fst", ARCS, 0, {4}, words, garbage_cost=3.0) == []
    start, states = read_gr(tmp_path / "Gr.fst")

    def accepts(sentence: str) -> bool:
        here = start
        for word in sentence.split():
            step = states[here][1].get(words[word])
            if step is None:
                return False
            here = step[1]
        return states[here][0]

    assert accepts("")
    assert accepts("insertion eleven feet sixty")
    assert accepts("insertion seven feet forty five")
    assert accepts("affirm")
    assert accepts(GARBAGE)
    assert not accepts("insertion eleven feet")
    assert not accepts("eleven feet sixty")
    assert not accepts(f"insertion {GARBAGE}")
    assert states[start][1][50][0] == 3.0


def test_openfst_itself_reads_the_file(tmp_path: Path) -> None:
    kaldifst = pytest.importorskip("kaldifst", reason="kaldifst, a build-time tool, is not installed")
    words = {w: n + 1 for n, w in enumerate(sorted({w for _, _, w in ARCS}))}
    write_gr(tmp_path / "Gr.fst", ARCS, 0, {4}, words)
    fst = kaldifst.StdVectorFst.read(str(tmp_path / "Gr.fst"))
    assert fst.num_states == len({s for a, b, _ in ARCS for s in (a, b)})
    assert sum(1 for s in kaldifst.StateIterator(fst) for _ in kaldifst.ArcIterator(fst, s)) == len(ARCS)


def test_a_word_that_the_model_lacks_is_reported_and_left_out(tmp_path: Path) -> None:
    words = {w: n + 1 for n, w in enumerate(sorted({w for _, _, w in ARCS})) if w != "twelve"}
    assert write_gr(tmp_path / "Gr.fst", ARCS, 0, {4}, words) == ["twelve"]
    read_gr(tmp_path / "Gr.fst")


def test_the_models_words_are_the_grammars() -> None:
    lexicon = grammar_lexicon()
    check_lexicon(MODEL, lexicon)
    with pytest.raises(CalloutError, match=r"lacks \['winch'\].*build_vosk"):
        check_lexicon(MODEL, {**lexicon, "winch": [("W", "IH", "N", "CH")]})
    with pytest.raises(CalloutError, match=r"pronunciations have changed.*build_vosk"):
        check_lexicon(MODEL, {**lexicon, "six": [("S", "IY", "K", "S")]})


def test_transitions_are_numbered_without_gaps() -> None:
    """Kaldi counts transition ids from 1, phone by phone, state by state, arc by arc ("HMM topology and transition
    modeling", kaldi-asr.org)."""
    ids, last = transitions()
    count = sum(len(targets) for states in topology().values() for _, targets in states)
    assert last == count
    assert ids[SILENCE, 0] == (1, 2)
    assert ids[phone_number("AA", "begin"), 0][0] == ids[2, 39][1] + 1 or len(ids) > 40


def test_equal_pronunciations_are_kept_apart() -> None:
    arcs = lexicon_arcs({"four": [("F", "AO", "R")], "for": [("F", "AO", "R")]}, {"four": 1, "for": 2, GARBAGE: 3})
    marks = {phone for _, _, phone, _, _ in arcs if phone > 1000}
    assert marks == {1001, 1002}


@pytest.fixture(scope="module")
def ear():
    made = VoskEar(MODEL)
    assert made.prepare("small", ARCS, 0, {4}) == ()
    yield made
    made.close()


def demo(name: str) -> np.ndarray:
    return read_audio(data_folder("audio_fixtures") / "demo" / name)


@pytest.mark.audio
def test_it_hears_a_callout_and_its_times(ear: VoskEar) -> None:
    found = ear.hear(demo("whole_clean.flac"), "small")
    assert found[0].words == ("insertion", "eleven", "feet", "sixty")
    assert all(a[1] <= b[0] + 0.05 for a, b in zip(found[0].times, found[0].times[1:], strict=False))


@pytest.mark.audio
def test_chatter_is_garbage_and_silence_is_nothing(ear: VoskEar) -> None:
    assert ear.hear(demo("chatter_clean.flac"), "small")[0].garbage
    silence = ear.hear(np.zeros(32000, np.float32), "small")
    assert not silence or silence[0].words == ()


@pytest.mark.audio
def test_a_dead_process_costs_one_utterance_at_most(ear: VoskEar) -> None:
    samples, before = demo("affirm_clean.flac"), ear.helper.restarts
    ear.begin("small")
    ear.feed(samples[:16000])
    assert ear.helper.pid is not None
    os.kill(ear.helper.pid, signal.SIGKILL)
    time.sleep(0.1)
    ear.feed(samples[16000:])
    assert ear.end() == []
    assert ear.hear(samples, "small")[0].words == ("affirm",)
    assert ear.helper.restarts == before + 1


@pytest.mark.audio
@pytest.mark.skipif(os.name != "posix", reason="needs SIGSTOP")
@pytest.mark.audio
def test_a_long_babble_of_voices_does_not_look_like_a_hung_ear(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each second of it was more work than the one before: 20 s took 38 s of a processor, and then the ear was given up
    as dead."""
    monkeypatch.setattr(vosk_ear, "_SECONDS", 120.0)  # the work is counted, whatever else the machine has to do
    ears = Ears(third=False)
    try:
        ears.ready()
        hiss = 1e-4 * np.random.default_rng(0).standard_normal(20 * RATE)
        babble = simulate(hiss, RATE, -30.0, "babble", seed=3, voices=babble_voices()).astype(np.float32)
        before = worked(ears.vosk_pid)
        heard = ears.hear(0.5 * babble, Context(state="confirm"), None)
        assert worked(ears.vosk_pid) - before < 250 * pace()  # 5 s on an idle machine
        assert (heard.resolution.outcome, heard.deaf, heard.restarts) == ("not_understood", False, 0)
        after = ears.hear(demo("whole_clean.flac"), Context(state="idle"))
        assert (after.deaf, after.resolution.outcome) == (False, "understood")
    finally:
        ears.close()


def worked(pid: int) -> float:
    """Seconds of a processor that a process has used (proc(5): utime and stime)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def test_a_hung_process_never_holds_whoever_speaks_to_it(ear: VoskEar) -> None:
    """Ten seconds of sound fill a pipe (64 kB) five times over; who feeds must not wait for one that hangs."""
    samples, before = demo("affirm_clean.flac"), ear.helper.restarts
    ear.begin("small")
    assert ear.helper.pid is not None
    os.kill(ear.helper.pid, signal.SIGSTOP)
    began = time.monotonic()
    for _ in range(10):
        ear.feed(np.zeros(16000, np.float32))
    assert time.monotonic() - began < 1.0
    assert ear.end() == []
    assert ear.lost
    assert time.monotonic() - began < 6.0
    assert ear.hear(samples, "small")[0].words == ("affirm",)
    assert ear.helper.restarts == before + 1


def test_a_process_that_reads_nothing_is_given_up_before_memory_runs_out() -> None:
    helper = Helper("callout.hearing.vosk_worker")
    helper.start()
    assert helper.pid is not None
    os.kill(helper.pid, signal.SIGSTOP)
    for _ in range(MOST_WAITING // 500_000):  # what the pipe itself holds is little beside it
        helper.post(("feed", bytes(500_000)))
    with pytest.raises(HelperDied, match="hangs"):
        helper.post(("feed", bytes(500_000)))
    helper.close()


def test_a_helper_that_cannot_answer_says_so_and_lives() -> None:
    helper = Helper("callout.hearing.vosk_worker")
    try:
        with pytest.raises(HelperFailed, match="KeyError"):
            helper.ask(("begin", "no such model"), 10)
        with pytest.raises(HelperFailed):
            helper.ask(("model", "x", "/no/such/folder", None), 10)
        assert helper.restarts == 0
    finally:
        helper.close()


def test_a_helper_that_aborts_is_noticed() -> None:
    """A phrase list that is no JSON kills the process that runs Vosk; the asker only learns that it died."""
    helper = Helper("callout.hearing.vosk_worker")
    try:
        helper.ask(("model", "m", str(MODEL), "{not json"), 20)
        with pytest.raises((HelperDied, HelperFailed)):
            helper.ask(("begin", "m"), 10)
        assert helper.ask(("model", "m", str(MODEL), None), 20) is True
    finally:
        helper.close()


def test_what_a_killed_process_left_behind_is_swept_away(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    gone, mine = tmp_path / "callout-ears-999999999-x", tmp_path / f"callout-ears-{os.getpid()}-y"
    gone.mkdir()
    mine.mkdir()
    VoskEar(MODEL).close()
    assert not gone.exists()
    assert mine.exists()
