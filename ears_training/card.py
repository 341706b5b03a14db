"""Writes the model cards from what the runs recorded, so that no figure in a card is typed by hand."""

import json
import re
from pathlib import Path
from typing import Any

from callout.files import tomllib
from ears_training.corpus import CHOOSING, HELD, Corpus

_WHAT = {
    "encoder": (
        "The encoder of Whisper tiny (MIT licence, 8.2 M parameters) with a phone head of our own (0.8 M), the whole "
        "tuned through a simulated radio. Input `mel` (1, 80, T): log-mel frames of 10 ms; output `logp` (1, T/2, 40): "
        "natural log-probabilities of 20 ms frames. 8-bit weights in the matrix products; those of the convolutions "
        "are widened again as they run."
    ),
    "tdnn": (
        "A time-delay network of our own in Kaldi's nnet3 form, for Vosk 0.3.45: MFCC 40 at 10 ms in, probabilities "
        "of 30 ms frames out, 0.47 s of sound before and after each; 8-bit weights. The graph beside it is made "
        "from the words of the grammar."
    ),
}


SOURCES = (
    (r"(af|am|bf|bm|ef|em|ff|hf|hm|if|im|jf|jm|pf|pm|zf|zm)_|kokoro:", "Kokoro mixtures"),
    (r"so3_", "people's digits pieced together with a voice"),
    (r"so:", "people: learners of English (speechocean762)"),
    (r"pc$", "people: community wake words"),
    (r"person:|unclear:", "people's number words and letters, from the sound files of free programs"),
    (r"rh:", "statistical voices of CMU ARCTIC speakers"),
    (r"pc:", "Pico"),
    (r"pi:|piper:", "piper joe"),
    (r"es:|espeak:", "espeak-ng"),
    (r"fl:|flite:", "flite"),
    (r"fe:|festival:", "festival"),
    (r"laid$", "callouts laid out of the words of all these"),
)
"""What the voices' names in the packs begin with, and what stands in the card for them."""


def voices_of(corpus: Corpus) -> list[tuple[str, float]]:
    """Return (source, hours) of what was trained on, largest first; an unknown voice is its own source."""
    hours: dict[str, float] = {}
    for u in corpus.training():
        source = next((name for mark, name in SOURCES if re.match(mark, u.voice)), u.voice)
        hours[source] = hours.get(source, 0.0) + u.seconds / 3600
    return sorted(hours.items(), key=lambda pair: -pair[1])


def card(kind: str, log: Path, hours: list[tuple[str, float]], notes: dict[str, Any]) -> str:
    """Return the card of one ear: `log` is what `fit` printed, `notes` holds lists `steps`, `figures`, `limits`."""
    rows = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines() if line.startswith("{")]
    judged = [row for row in rows if "voices_clean" in row]
    last = judged[-1]
    lines = [f"# Model card: {notes['title']}", "", _WHAT[kind], ""]
    lines += [
        "Column 0 is the CTC blank, 1 to 39 the ARPAbet phones in alphabetical order. Licences: `LICENSES.md`.",
        "",
    ]
    lines += ["## Trained on", "", "| source | hours |", "|---|---|", *(f"| {s} | {h:.2f} |" for s, h in hours), ""]
    lines += ["## Steps", "", *(f"- {s}" for s in notes["steps"])]
    lines += [
        f"- {last['step']} steps in {last['used'] / 60:.1f} minutes of one GPU, all pieces of the last run together",
        "",
    ]
    lines += ["## Phone errors on the choosing set (averaged weights, training channel)", ""]
    lines += ["| step | voices clean | voices channel | people clean | people channel |", "|---|---|---|---|---|"]
    shown = judged[:: max(1, len(judged) // 6)]
    for row in shown if shown[-1] is last else [*shown, last]:
        cells = (f"{row[k]:.1%}" for k in ("voices_clean", "voices_channel", "people_clean", "people_channel"))
        lines.append(f"| {row['step']} | {' | '.join(cells)} |")
    lines += ["", "People are learners of English, counted against dictionary pronunciations.", ""]
    lines += ["## Figures", "", *(f"- {s}" for s in notes["figures"]), ""]
    lines += [
        "## Kept apart",
        "",
        f"For choosing only: {', '.join(CHOOSING)}. Never used, marks of their names: {', '.join(HELD)};",
    ]
    lines += [
        "nor Debian's asterisk-core-sounds, the single digits of the free spoken digit set, pocketsphinx-testdata.",
        "Of the single digits 60 were looked at one by one, while short recordings were not heard at all: they led to",
        "the padding of recordings that are cut tight. Thresholds were chosen on others",
        "(`docs/proofs/ears-thresholds.md`).",
        "",
    ]
    lines += ["## Not shown", "", *(f"- {s}" for s in notes["limits"]), ""]
    return "\n".join(lines)


def write_card(kind: str, log: Path, hours: list[tuple[str, float]], notes: Path, out: Path) -> None:
    """Write a card; `notes` is a TOML file with a table for each kind."""
    out.write_text(card(kind, log, hours, tomllib.loads(notes.read_text(encoding="utf-8"))[kind]), encoding="utf-8")
