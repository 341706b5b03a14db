"""10,000 dialogues through noisy ears, and long random abuse: writes docs/proofs/dialogue.md.

python -m tests.proof dialogue
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from statistics import mean, median, quantiles
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test
from scipy.stats import beta

from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from tests.dialogue_abuse import Abuse
from tests.dialogue_simulation import CALLOUTS, CHANNELS, COMMANDS, CONDITIONS, NOISE, PEOPLE, TABLE, simulate

PAGE = Path(__file__).parent.parent / "docs" / "proofs" / "dialogue.md"
EACH = 1250
HARDER = 250
REAL = 25
ABUSE, STEPS = 1000, 60


def prove(each: int = EACH, harder: int = HARDER, real: int = REAL, abuse: int = ABUSE) -> None:
    """Run everything and write the page. About ten minutes on one core."""
    began = time.monotonic()
    rooms = {"planner": ShorePlanner(), "stock": load_stock()}
    simulate(3, CONDITIONS[0], **rooms)  # read every data file now: a long run must not meet an edited one
    rows, wanted, wrong, misread = [], 0, 0, 0
    for condition in CONDITIONS:
        row, sums = _row(condition, each, "agreed_or_long")
        wanted, wrong, misread = wanted + sums["wanted"], wrong + sums["wrong"], misread + sums["readbacks_wrong"]
        rows.append(row)
    stricter = [_row(condition, harder, guard)[0] for guard in ("long", "agreed_and_long") for condition in CONDITIONS]
    proper = [_row(condition, real, "agreed_or_long", **rooms)[0] for condition in CONDITIONS]
    rough = [_row(condition, harder, "agreed_or_long", rough=True)[0] for condition in CONDITIONS]
    chaos = settings(
        max_examples=abuse, stateful_step_count=STEPS, deadline=None, database=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    run_state_machine_as_test(Abuse, settings=chaos)
    upper = beta.ppf(0.95, wrong + 1, wanted - wrong)
    page = _page(
        rows, stricter, proper, rough, each * len(CONDITIONS), wanted, wrong, misread, upper, abuse,
        time.monotonic() - began,
    )  # fmt: skip
    PAGE.write_text(page, "utf-8")
    if wrong:
        raise SystemExit(f"{wrong} wrong builds; see {PAGE}")


def _row(condition: str, count: int, guard: str, **rooms: object) -> tuple[str, dict[str, int]]:
    sums, turns = simulate(count, condition, guard, **rooms)
    assert not sums["unspoken"]
    ninety_fifth = quantiles(turns, n=20)[-1]
    row = (
        f"| {condition} | {guard} | {sums['dialogues']} | {sums['wanted']} | {sums['wrong']} | "
        f"{100 * sums['finished'] / sums['dialogues']:.1f} % | {mean(turns):.1f} | {median(turns):.0f} | "
        f"{ninety_fifth:.0f} | {max(turns)} | {sums['readbacks_wrong']} | {sums['by_noise']} |"
    )
    print(row, file=sys.stderr, flush=True)
    return row, sums


def _source(entry: dict[str, Any]) -> str:
    again = entry["n"] - entry["right"] - entry["wrong"]
    return f"{entry['section']}, {entry['row']}: {entry['right']}, {entry['wrong']}, {again} of {entry['n']}"


HEAD = (
    "| channel | guard | dialogues | callouts | wrong builds | finished | turns, mean | median | 95 % below | most | "
    "wrong readbacks | affirmed by noise |\n|---|---|---|---|---|---|---|---|---|---|---|---|"
)


def _page(
    rows: list[str], stricter: list[str], proper: list[str], rough: list[str], dialogues: int, wanted: int, wrong: int,
    misread: int, upper: float, abuse: int, seconds: float,
) -> str:  # fmt: skip
    people = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in PEOPLE.items())
    sources = [
        f"| {name} | {_source(CHANNELS[name]['callouts'])} | {100 * CALLOUTS[name].wrong:.1f} % | "
        f"{_source(CHANNELS[name]['commands'])} | {100 * COMMANDS[name].wrong:.1f} % |"
        for name in CONDITIONS
    ]
    lines = [
        "# The conversation, tried hard", "",
        f"Made by `python -m tests.proof dialogue` ({seconds / 60:.0f} min on a busy machine).", "",
        "## Dialogues through two noisy ears", "",
        f"{wanted} callouts in {dialogues} dialogues: "
        f"**{wrong} wrong builds** (95 % sure that the true share is below {100 * upper:.3f} %).", "",
        "A measurer makes one to three callouts, the yard walks what comes, noise falls between the utterances. Words "
        "pass through simulated ears that are right, wrong or ask again as often as the shipped ones did in "
        "[ears](ears.md) (`tests/data/noisy_ear.toml`), then through the real resolver in the real context and the "
        "real conversation, half of them with one source and half with two. Wrong is taken at the upper end of its "
        "95 % interval, which with so few recordings is many times what was met. Turns are utterances of the measurer "
        "from the first word of a callout to its release: two is the least there is.", "",
        HEAD, *rows, "",
        "Wrong readbacks were heard wrong and caught by the measurer, who listens: that no wrong build comes out rests "
        "on them, and on nothing but their own affirmative releasing it. There were "
        f"{misread}: somebody who let one in twenty of them pass would have released about {misread / 20:.0f} wrong "
        f"builds in {wanted}. Affirmed by noise "
        "counts *right* builds whose affirmative was no person's: noise taken for that word just then. Noise is taken "
        f"for a command {100 * NOISE:.1f} % of the time, the upper end for {TABLE['noise']['command']} of "
        f"{TABLE['noise']['n']} clips of noise and chatter. A first run took noise without the chatter (0 of 100, "
        "3.7 %) and had one wrong build: noise taken for the affirmative while a wrong readback waited.",
        "", "The sterner guards, and what they cost:", "", HEAD, *stricter, "",
        "With the planner proper and the packaged stock instead of the stand-in:", "", HEAD, *proper, "",
        "A misheard command is taken for one that shares half of its phones, or is not heard. Were it taken for any "
        "other, \"negative\" for \"affirm\" among them, a wrong readback could be released by a no:",
        "", HEAD, *rough, "",
        "### Where the rates come from", "",
        "Right, wrong and asked again of so many, and the share of wrong ones that was simulated (of commands over all "
        "channels together). Brought up to date from [ears](ears.md) by `python -m tests.noisy_ear`. Of what is asked "
        f"again {100 * TABLE['asked_again']['in_doubt']:.0f} % is a part in doubt, and the rest is not heard.", "",
        "| channel | callouts | wrong | commands | wrong |", "|---|---|---|---|---|", *sources, "",
        f"People (assumed): {people}.", "",
        "What this does not show: real radios, real people, mishearing by the measurer of a readback, and two people "
        "speaking over one another.", "",
        "## Random abuse", "",
        f"{abuse} runs of up to {STEPS} random inputs (callouts, halves, corrections, every command, doubt, noise, "
        "keys, time running and set back, faults, restarts from the records, crashes in the middle of a step; one "
        "source and two; all three guards) against a model that sees inputs and records alone: no build without its "
        "own affirmative, no wrong stock sum and none under zero, nothing spoken that is not in the record before "
        "it, a restart gives the same conversation, from every state at most three words lead to where nothing waits. "
        "None failed.", "",
    ]  # fmt: skip
    return "\n".join(lines)
