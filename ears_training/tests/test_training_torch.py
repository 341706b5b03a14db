"""The training room's networks, features, channel and files. Needs torch: pip install 'callout[training]'."""

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed: pip install 'callout[training]'")

from callout.hearing.features import log_mel  # noqa: E402
from ears_training.channel import Channel, Setting  # noqa: E402
from ears_training.contrast import contrast  # noqa: E402
from ears_training.corpus import batches, load  # noqa: E402
from ears_training.ear import averaged  # noqa: E402
from ears_training.export_kaldi import Part, export_tdnn, layers_of, lower_blank, parts_of  # noqa: E402
from ears_training.fit import Plan, Trainer, ctc  # noqa: E402
from ears_training.kaldi_file import compressed  # noqa: E402
from ears_training.networks import EncoderEar, Tdnn  # noqa: E402
from ears_training.noise import make_bank  # noqa: E402
from ears_training.packs import Spoken, write_pack  # noqa: E402
from ears_training.spectra import LogMel, Mfcc, kaldi_bank  # noqa: E402

RATE = 16000


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """A made-up corpus: tones of two heights for two "words"."""
    where = tmp_path_factory.mktemp("corpus")
    rng = np.random.default_rng(0)
    for voice in ("someone", "other", "hdev", "fl:awb"):
        rows = []
        for _ in range(6):
            t = np.arange(int(rng.uniform(0.5, 0.9) * RATE)) / RATE
            x = 0.5 * np.sin(2 * np.pi * rng.choice([400, 900]) * t)
            rows.append(Spoken(np.pad(x, 1600).astype(np.float32), "two", (31, 34), voice))
        write_pack(where / voice.replace(":", "_"), rows)
    return where


@pytest.fixture(scope="module")
def channel(folder) -> Channel:
    corpus = load([folder])
    samples = torch.tensor(corpus.samples)
    return Channel(samples, make_bank(corpus, samples, 11, 1))


def test_log_mel_equals_what_the_ear_at_the_site_sees():
    x = np.random.default_rng(1).normal(0, 0.1, 32000).astype(np.float32)
    seen = LogMel()(torch.tensor(x)[None])[0].numpy()
    assert np.abs(seen - log_mel(x)).max() < 2e-4


def test_mfcc_equals_kaldis():
    """Outside check: kaldi-native-fbank, an independent port of Kaldi's front end, where it is installed."""
    knf = pytest.importorskip("kaldi_native_fbank", reason="kaldi-native-fbank is not installed")
    x = (np.random.default_rng(2).normal(0, 0.1, 16000).clip(-1, 1) * 32767).astype(np.int16)
    o = knf.MfccOptions()
    o.frame_opts.dither, o.frame_opts.samp_freq = 0, RATE
    o.mel_opts.num_bins, o.mel_opts.low_freq, o.mel_opts.high_freq = 40, 20, -400
    o.num_ceps, o.use_energy = 40, False
    front = knf.OnlineMfcc(o)
    front.accept_waveform(RATE, x.astype(np.float32).tolist())
    front.input_finished()
    wanted = np.stack([front.get_frame(i) for i in range(front.num_frames_ready)])
    seen = Mfcc()(torch.tensor(x.astype(np.float32) / 32768)[None])[0].numpy()
    assert seen.shape == wanted.shape
    assert np.abs(seen - wanted).max() < 0.05


def test_mel_triangles_overlap_by_half():
    """Inside the band the triangles of a mel bank add up to one (textbook property)."""
    total = kaldi_bank().sum(0)
    hertz = np.arange(257) * RATE / 512
    inside = (hertz > 100) & (hertz < 7000)
    assert np.allclose(total[inside], 1, atol=1e-6)


def test_the_channel_gives_16_bit_audio_of_the_size_asked(channel, folder):
    torch.manual_seed(3)
    for tight in (False, True):
        batch = batches(load([folder]).training(), 30, __import__("random").Random(0), tight=tight)[0]
        heard = channel(batch, Setting())
        assert heard.noisy.shape == (len(batch.utterances), batch.size)
        codes = heard.noisy * 32767
        assert torch.allclose(codes, codes.round(), atol=1e-2)
        assert torch.isfinite(heard.noisy).all()
        assert heard.noisy.abs().max() <= 1


def test_clips_without_speech_have_none_and_no_labels(channel, folder):
    torch.manual_seed(4)
    batch = batches(load([folder]).training(), 60, __import__("random").Random(0))[0]
    heard = channel(batch, Setting(no_speech=1.0))
    assert not heard.speech.any()
    assert heard.clean.abs().max() == 0
    sure = torch.full((len(batch.utterances), 50, 40), -20.0)
    sure[:, :, 0] = 0.0
    assert ctc(sure, batch.utterances, heard).item() == pytest.approx(0, abs=1e-4)
    assert ctc(sure.roll(1, 2), batch.utterances, heard).item() > 1


def spread(width: int) -> Tdnn:
    """An untrained network whose norms are not those of a fresh one."""
    net = Tdnn(width)
    for norm in net.norms:
        norm.running_mean.normal_()
        norm.running_var.uniform_(0.5, 2)
        norm.weight.data.normal_(1, 0.2)
    net.mean.normal_()
    net.deviation.uniform_(1, 3)
    return net.eval()


def computed(parts: list[Part], f: np.ndarray) -> np.ndarray:
    """What nnet3 computes from the nodes' own words (kaldi-asr.org/doc/dnn3_code_data_types.html, from memory): Append,
    Offset and Sum of nodes' frames, then the component. Every third frame is asked for; frames outside are the edge's.
    """
    nodes = {part.name: part for part in parts}

    @cache
    def at(name: str, t: int) -> np.ndarray:
        if name == "input":
            return f[min(max(t, 0), len(f) - 1)]
        part = nodes[name]
        x = given(part.given, t)
        if part.kind in ("affine", "exact"):
            return part.weights @ x + part.bias
        if part.kind == "RectifiedLinearComponent":
            return np.maximum(x, 0)
        return x - np.log(np.exp(x).sum()) if part.kind == "LogSoftmaxComponent" else x

    def given(words: str, t: int) -> np.ndarray:
        whole = re.fullmatch(r"(Append|Sum)\((.*)\)", words)
        if whole:
            xs = [given(one, t) for one in re.findall(r"Offset\([^)]*\)|\w+", whole[2])]
            return np.concatenate(xs) if whole[1] == "Append" else np.sum(xs, 0)
        shifted = re.fullmatch(r"Offset\((\w+), (-?\d+)\)", words)
        return at(shifted[1], t + int(shifted[2])) if shifted else at(words, t)

    return np.stack([at(parts[-1].name, t) for t in range(0, len(f), 3)])


def test_the_written_nodes_give_what_the_network_gives():
    torch.manual_seed(5)
    net = spread(16)
    f = torch.randn(1, 20, 40)
    with torch.no_grad():
        told = net(f)[0].numpy()
    assert np.abs(computed(parts_of(layers_of(net)), f[0].numpy()) - told).max() < 1e-3


def test_one_byte_an_element_is_near_enough():
    m = np.random.default_rng(6).normal(0, 0.05, (400, 30)).astype(np.float32)
    low, span = float(m.min()), float(np.ptp(m))
    heads, codes = compressed(m, low, span)
    points = low + heads * (span / 65535)
    back = np.stack([np.interp(codes[:, c], [0, 64, 192, 255], points[:, c]) for c in range(30)], 1)
    assert np.abs(back - m).max() < span / 120


@pytest.mark.slow
def test_vosk_loads_the_model_we_write(tmp_path):
    """Outside check: Vosk 0.3.45 itself reads the folder and hears with it."""
    import json
    import shutil

    import vosk

    from callout.hearing.ears import WEIGHTS

    shutil.copytree(WEIGHTS / "vosk", tmp_path / "vosk")
    vosk.SetLogLevel(-1)
    heard = []
    for width in (64, 64, 48):
        torch.manual_seed(7)
        export_tdnn(layers_of(Tdnn(width).eval()), tmp_path / "vosk")
        ear = vosk.KaldiRecognizer(vosk.Model(str(tmp_path / "vosk")), RATE)
        ear.SetMaxAlternatives(3)
        ear.AcceptWaveform(np.random.default_rng(0).integers(-2000, 2000, RATE, dtype=np.int16).tobytes())
        heard.append([way["confidence"] for way in json.loads(ear.FinalResult())["alternatives"]])
    assert heard[1] == pytest.approx(heard[0], abs=1e-3)
    assert heard[2] != pytest.approx(heard[0], abs=1e-3)


@pytest.mark.parametrize("kind", ["tdnn", "encoder"])
def test_a_run_resumes_where_it_stopped(folder, tmp_path, kind):
    plan = Plan(kind, (folder,), tmp_path / "c.pt", 0.0, 1.0, seconds=4, noises=11, report_every=1e9)
    first = Trainer(plan)
    batch = first._epoch()[0]
    first.set_rates()
    first.ear.net.train()
    first.update(first.loss(batch, Setting(strength=0.1)))
    first.used = 7.0
    first.save()
    again = Trainer(plan)
    assert (again.step, again.used) == (1, 7.0)
    for name, value in first.ear.net.state_dict().items():
        assert torch.equal(value, again.ear.net.state_dict()[name]), name
    mean = averaged(kind, [plan.checkpoint, plan.checkpoint]).state_dict()
    assert all(torch.allclose(mean[k].cpu(), v.cpu()) for k, v in again.average.items())  # one may be on a GPU


def test_the_encoder_gives_half_as_many_frames():
    with torch.no_grad():
        out = EncoderEar().eval()(torch.zeros(2, 80, 200))
    assert out.shape == (2, 100, 40)
    assert out.exp().sum(2).allclose(torch.ones(2, 100))


def test_the_choice_among_rivals_rewards_the_right_one():
    right, other = (5, 6, 7), (5, 9, 7)
    scores = torch.full((1, 12, 40), -8.0)
    scores[:, :, 0] = -0.1
    for frame, label in zip((2, 5, 8), right, strict=True):
        scores[0, frame, label], scores[0, frame, 0] = 4.0, -8.0
    logp = scores.log_softmax(2)
    assert contrast(logp, [(0, right, [other])]).item() < 0.01
    assert contrast(logp, [(0, other, [right])]).item() > 5
    assert contrast(logp, []).item() == 0


def test_sentences_too_long_for_the_frames_teach_nothing():
    logp = torch.zeros(1, 3, 40).log_softmax(2).requires_grad_()
    value = contrast(logp, [(0, (1, 2, 3, 4, 5), [(1, 2)])])
    assert value.item() == 0


def test_a_longer_rival_that_cannot_be_is_no_rival():
    logp = torch.zeros(1, 3, 40).log_softmax(2)
    assert contrast(logp, [(0, (1, 2), [(1, 2, 3, 4, 5)])]).item() == pytest.approx(0, abs=1e-6)


def test_lowering_the_blank_changes_one_number(tmp_path):
    torch.manual_seed(0)
    export_tdnn(layers_of(Tdnn(width=32).eval()), tmp_path)
    model = tmp_path / "am" / "final.mdl"
    before = model.read_bytes()
    first = lower_blank(model, 0.0)
    assert model.read_bytes() == before
    assert lower_blank(model, 1.0) == pytest.approx(first - 1.0, abs=1e-6)
    after = model.read_bytes()
    assert 1 <= sum(a != b for a, b in zip(before, after, strict=True)) <= 4
