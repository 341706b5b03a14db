"""The page of conclusions in front of the proofs: `python -m tests.conclusions` writes docs/proofs/index.md.

The figures come out of the pages that the proofs wrote, so that they cannot say anything else.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

FOLDER = Path(__file__).resolve().parent.parent / "docs" / "proofs"


class Conclusion(NamedTuple):
    """`finds`: a regular expression in the page, whose named groups fill `says`."""

    asks: str
    page: str
    finds: str
    says: str
    not_shown: str


ROWS = (
    Conclusion(
        "Can a wrong build come out of the conversation?", "dialogue.md",
        r"(?P<callouts>\d+) callouts in (?P<dialogues>\d+) dialogues: \*\*(?P<wrong>\d+) wrong builds\*\*.*?"
        r"below (?P<share>[\d.]+ %)",
        "{wrong} wrong builds in {callouts} callouts with noisy ears; the true share is below {share} (95 % sure).",
        "A measurer who affirms a wrong readback. That it is caught rests on people.",
    ),
    Conclusion(
        "Are the figures of a shore right?", "shoring.md",
        r"(?P<values>\d+) values; (?P<out>\d+) out of tolerance",
        "{values} values against sources; {out} out of tolerance.",
        "Many sources are secondary or from memory; each value carries its grade.",
    ),
    Conclusion(
        "Is every plan the best that the stock allows?", "selection.md",
        r"kit and timber, by trying everything \| (?P<cases>\d+) \| \d+ \| (?P<same>\d+) \|",
        "In {same} of {cases} random cases the plan is the one that trying everything finds.",
        "Stocks larger than can be tried whole are compared with a second programme only.",
    ),
    Conclusion(
        "Does a crash lose a confirmed word?", "journal.md",
        r"\| kills \| (?P<kills>\d+) \|.*?lines confirmed before a kill \| (?P<lines>\d+) \|.*?"
        r"confirmed lines lost\*\* \| \*\*(?P<lost>\d+)\*\*",
        "{lost} of {lines} confirmed lines lost in {kills} kills.",
        "A power cut on a real disk: it was tried on disks made again from a trace of the writes.",
    ),
    Conclusion(
        "What breaks in live work, and does it work again?", "faults.md",
        r"\*\*(?P<faults>\d+) faults\*\*: nothing was released.*?"
        r"\| ears killed \|.*?answers a callout (?P<ears>[\d.]+)",
        "{faults} faults caused in the running program: nothing was released, and it worked again each time, {ears} s "
        "after both ears were killed.",
        "A real sound card, a real power cut.",
    ),
    Conclusion(
        "Does the noise of a yard say yes?", "yard.md",
        r"\*\*(?P<hours>[\d.]+) hours\*\*.*?released by them \| (?P<released>\d+) \|.*?"
        r"or a callout \| (?P<taken>\d+) \(.*?be silent \| (?P<moves>\d+) \|",
        "{released} builds released in {hours} hours of yard sound, and {taken} words of other talk taken for "
        "commands, of which {moves} do more than make the voice speak or be silent.",
        "A real yard: the sound is made of recordings, synthetic voices, machines and a simulated radio. No process "
        "ran for a day.",
    ),
    Conclusion(
        "How often are callouts heard right, and how often wrongly taken?", "ears.md",
        r"## Voices.*?\| radio \| (?P<n>\d+) \| (?P<right>[\d.]+) \([^)]*\) \| (?P<wrong>\d+) \(",
        "Over the simulated radio, voices that no training heard: {right} % of {n} taken at once, {wrong} taken "
        "wrongly; the rest is asked again.",
        "People in a yard. Synthetic voices are easier and stranger; the page has people's recordings, too.",
    ),
    Conclusion(
        "Does it take its own voice for a stop word?", "stop-words.md",
        r"Together (?P<minutes>\d+) minutes of its own voice, (?P<pieces>\d+) pieces: \*\*(?P<taken>\d+) taken",
        "{taken} in {minutes} minutes of its own voice.",
        "A real loudspeaker and room; this is a simulation.",
    ),
    Conclusion(
        "Can what it says be heard over a bad radio?", "voice.md",
        r"The voice `plain`.*?\*\*all\*\* \| (?P<n>\d+) \| (?P<quiet>\d+ %)[^|]*\|[^|]*\| (?P<noise>\d+ %)",
        "All figures of {quiet} of {n} sentences are heard through the radio, of {noise} at 0 dB of noise.",
        "People in a yard: it is heard by the tool's own ear, which knows the words and not the figures.",
    ),
    Conclusion(
        "Can the scoring be believed?", "scoring.md",
        r"audio_fixtures/balanced \| (?P<n>\d+) \| (?P<right>[\d.]+ %)[^|]*\| (?P<wrong>[\d.]+ %)",
        "{right} right and {wrong} wrongly taken of the {n} recordings that lie here; the page has the checks of the "
        "scoring itself.",
        "Figures of these recordings promise nothing for the field: score your own people.",
    ),
)  # fmt: skip


def page() -> str:
    """The page. Raises LookupError, naming the row, where a proof's page no longer says what is quoted."""
    lines = [
        "# What the proofs show", "",
        "Made by `python -m tests.conclusions` from the pages that the proofs wrote. Each answers one question; what",
        "it does not show stands beside it. None of it is an approval.", "",
        "| question | answer | not shown | page |", "|---|---|---|---|",
    ]  # fmt: skip
    for row in ROWS:
        found = re.search(row.finds, (FOLDER / row.page).read_text("utf-8"), re.S)
        if found is None:
            raise LookupError(f"{row.page} no longer says what answers {row.asks!r}: correct tests/conclusions.py")
        lines.append(
            f"| {row.asks} | {row.says.format(**found.groupdict())} | {row.not_shown} | [{row.page[:-3]}]({row.page}) |"
        )
    lines += [
        "", "Beside these: [how the ears' thresholds were chosen](ears-thresholds.md), and "
        "[other recognizers on the same recordings](ears-peers.md).", "",
        "`make proof` runs them all, `python -m tests.proof NAME` one of them; a run that was stopped goes on.",
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    (FOLDER / "index.md").write_text(page(), "utf-8")
