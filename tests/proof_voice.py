"""What can be heard of the voice over a bad radio, sentence by sentence, for both voices (see `voice_heard`).

python -m tests.proof voice        writes docs/proofs/voice.md
"""

from __future__ import annotations

from pathlib import Path

from scipy.stats import binomtest

from callout.speaking import SpeechProcess, open_process
from callout.speaking.engines import heart_is_installed
from tests.voice_heard import Said, figures_heard, hearable, sentences, stretches_said

Kinds = dict[str, tuple[str, ...]]

_PAGE = Path(__file__).parents[1] / "docs" / "proofs" / "voice.md"
#: (what stands in the table, dB of noise under the talker's speech, noise)
CONDITIONS = (("the radio, quiet", None, "white"), ("10 dB", 10.0, "white"), ("0 dB", 0.0, "white"),
              ("0 dB, generator", 0.0, "generator"))  # fmt: skip


def prove() -> None:
    kinds = sentences()
    count = sum(len(texts) for texts in kinds.values())
    left_out = sum(not hearable(text) for texts in kinds.values() for text in texts)
    lines = [
        "# What can be heard of the voice", "",
        "Written by `python -m tests.proof voice`. Every sentence with figures that the conversation says in one",
        f"shift (`tests/voice_heard.py`: {count} sentences), spoken at the package's pace, sent through the simulated",
        "radio (300 to 3,400 Hz, hiss, squelch) with white noise at the microphone, and heard by callout's own encoder",
        "ear, which knows the words and not the figures. A sentence counts only when **all** its figures are heard as",
        f"they were said. Left out: {left_out} sentences with a word whose pronunciation is not known. In brackets:",
        "the 95 % interval.", "",
        "How fast they are said is measured on the same sound, pauses counted: words a minute of whole sentences; of",
        "their figures, each with the pause after it; and of the fastest figure of all. Wanted: at most 100 words a",
        "minute where it is written down (ICAO Doc 9432), 130 otherwise (common practice, no source).", "",
    ]  # fmt: skip
    for voice in ("plain", "heart") if heart_is_installed() else ("plain",):
        process = open_process(voice)
        try:
            lines += [f"## The voice `{voice}`", "", *_heard(kinds, process), "", *_paces(kinds, process), ""]
        finally:
            process.close()
    _PAGE.write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")


def _heard(kinds: Kinds, process: SpeechProcess) -> list[str]:
    """The table of what is heard of each kind of sentence."""
    head = " | ".join(name for name, *_ in CONDITIONS)
    lines = [f"| sentence | n | {head} |", "|---|---|" + "---|" * len(CONDITIONS)]
    total, whole = [0] * len(CONDITIONS), 0
    for kind, texts in kinds.items():
        heard_of = [text for text in texts if hearable(text)]
        right = [
            sum(figures_heard(text, process, snr, noise, seed=7 + at) for at, text in enumerate(heard_of))
            for _, snr, noise in CONDITIONS
        ]
        whole += len(heard_of)
        total = [a + b for a, b in zip(total, right, strict=True)]
        lines.append(f"| {kind} | {len(heard_of)} | " + " | ".join(map(str, right)) + " |")
    lines.append(f"| **all** | {whole} | " + " | ".join(_share(n, whole) for n in total) + " |")
    return lines


def _paces(kinds: Kinds, process: SpeechProcess) -> list[str]:
    """The table of how fast each kind of sentence is said."""
    lines = ["| sentence | n | words a minute | figures | the fastest figure |", "|---|---|---|---|---|"]
    every: list[Said] = []
    for kind, texts in kinds.items():
        said = [one for text in texts for one in stretches_said(text, process)]
        every += said
        lines.append(_pace_line(kind, len(texts), said))
    return [*lines, _pace_line("**all**", sum(map(len, kinds.values())), every)]


def _pace_line(kind: str, count: int, said: list[Said]) -> str:
    figures = [one for one in said if one.figures]
    fastest = max(60 * one.words / one.seconds for one in figures)
    return f"| {kind} | {count} | {_a_minute(said):.0f} | {_a_minute(figures):.0f} | {fastest:.0f} |"


def _a_minute(said: list[Said]) -> float:
    return 60 * sum(one.words for one in said) / sum(one.seconds for one in said)


def _share(right: int, of: int) -> str:
    interval = binomtest(right, of).proportion_ci(method="wilson")
    return f"{100 * right / of:.0f} % ({100 * interval.low:.0f}-{100 * interval.high:.0f})"
