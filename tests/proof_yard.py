"""A day of yard sound through the live loop, faster than it happened: nothing released, hardly a word mistaken, and
nothing that grows.

python -m tests.proof yard              goes on for 10 minutes where it stopped; writes docs/proofs/yard.md
YARD_MINUTES=60 python -m tests.proof yard
YARD_SHARD=3/30 python -m tests.proof yard      only the third of thirty parts of the day, and no page
YARD_SHARD=2/2 YARD_HOURS=48 python -m tests.proof yard      sound of its own beside the day, by one process
YARD_MINUTES=0 python -m tests.proof yard       only the page, of all that was heard

Each process writes to a log of its own, in the folder YARD_LOGS, and which commit it is (YARD_CODE, where there is no
git); parts of the day may be heard at the same time, on
another machine, too, and are put together by their logs. YARD_HOURS is more than a day where a day is not enough.

The sound is made here (`tests/yard_sound.py`). It goes through the segmenter, both ears and the conversation as a
microphone's would. Half of the time a readback waits for its answer, so that a mistaken "affirm" would release it; a
quarter of the time a parts list is walked, so that a mistaken "ready" would book. The ears are given all the time that
they want, so that a busy machine is not taken for a dead ear.
"""

from __future__ import annotations

import gc
import json
import os
import subprocess
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from scipy.stats import chi2

from callout.cli import GARBAGE
from callout.dialogue.events import Opened
from callout.dialogue.machine import start
from callout.dialogue.settings import load_settings
from callout.hearing import remote
from callout.hearing.ears import WEIGHTS
from callout.hearing.helper import Helper
from callout.hearing.live import utterances
from callout.hearing.remote import EarsProcess
from callout.hearing.sources import MemorySource
from callout.journal.memory import MemoryJournal
from callout.language.commands import commands_that
from callout.language.context import Context
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.session.desk import Desk, Mouths
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.values import Command
from tests.patient_ears import LONG
from tests.yard_memory import growth, held
from tests.yard_sound import Yard

HERE = Path(__file__).parent
_PAGE = HERE.parent / "docs" / "proofs" / "yard.md"
CHUNK = 60.0  # seconds of sound between two looks at the processes
HOURS = 24.0  # the bar
WARM = 30  # looks, half an hour: what is loaded at first use is loaded, each network has met a long utterance
BLOCK = 5  # looks to a mean: of means, not of looks, a line is made
CALLOUT = "insertion eleven feet sixty"
#: What is noted of an utterance, and what the page calls it.
NOTED = {
    "taken": "Taken for a command or a callout",
    "asked": "Taken for one in doubt, and asked for",
    "voided": "Readbacks voided",
}


def prove() -> None:
    minutes, shard = float(os.environ.get("YARD_MINUTES", "10")), os.environ.get("YARD_SHARD", "")
    ends, run, logs = time.monotonic() + 60 * minutes, f"{time.time():.0f}-{os.getpid()}", _logs()
    heard = {look["number"] for look in read(logs)}
    pieces = round(float(os.environ.get("YARD_HOURS", HOURS)) * 3600 / CHUNK)
    to_hear = [number for number in numbers(shard or "1/1", pieces) if number not in heard]
    if to_hear and minutes > 0:
        _hear(to_hear, ends, logs / f"{run}.jsonl", run)
    if not shard:
        _write(read(logs))


def _hear(to_hear: list[int], ends: float, log: Path, run: str) -> None:
    remote.PATIENCE = LONG
    gc.set_threshold(*GARBAGE)  # as the commands have it
    yard, ears = Yard(), EarsProcess()
    ears.helper.close()
    ears.helper = Helper("tests.patient_ears", str(WEIGHTS))
    try:
        for number in to_hear:
            began = time.time()
            if time.monotonic() >= ends:
                break
            look = _listen(yard, ears, number)
            look |= {"number": number, "run": run, "began": began, "took": time.time() - began, "machine": _machine()}
            look |= {"code": os.environ.get("YARD_CODE", _commit())}
            with log.open("a", encoding="utf-8") as file:
                file.write(json.dumps(look | held() | {"restarts": ears.helper.restarts}) + "\n")
    finally:
        ears.close()


def numbers(shard: str, pieces: int) -> range:
    """The pieces of the day that are part `k` of `n` ("k/n"), one after the other as they stand in it."""
    part, parts = map(int, shard.split("/"))
    if not 1 <= part <= parts:
        raise ValueError(f"there is no part {shard}")
    return range(pieces * (part - 1) // parts, pieces * part // parts)


def _logs() -> Path:
    """What this commit's ears have heard so far; a run that was stopped goes on from there."""
    folder = Path(os.environ.get("YARD_LOGS", Path(tempfile.gettempdir()) / f"callout-yard-{_commit()}"))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _commit() -> str:
    head = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=HERE, capture_output=True, text=True)
    return head.stdout.strip() or "loose"


def read(logs: Path) -> list[dict[str, Any]]:
    """The looks of all logs in the order of the sound; a piece that two runs heard counts once, and a line that was
    being written when its process was ended not at all."""
    looks = {}
    for log in sorted(logs.glob("*.jsonl"), reverse=True):
        for line in reversed(log.read_text("utf-8").splitlines()):
            if line.endswith("}"):
                look = json.loads(line)
                looks[look["number"]] = look
    return [looks[number] for number in sorted(looks)]


def _machine() -> str:
    cpu = Path("/proc/cpuinfo").read_text("utf-8")
    model = next((line.split(": ", 1)[1] for line in cpu.splitlines() if line.startswith("model name")), "unknown")
    return f"{os.cpu_count()} processors ({model})"


def _listen(yard: Yard, ears: EarsProcess, number: int) -> dict[str, Any]:
    """What a conversation wrote while it heard this piece, and what it took for words to it."""
    desk, wrote, open_for = _desk(number), Counter[str](), 0.0
    noted: dict[str, list[dict[str, Any]]] = {kind: [] for kind in NOTED}
    for segment in utterances(MemorySource(yard.sound(CHUNK, number)), ears, lambda: desk.contexts["measurer"]):
        if segment.ending == "end":
            continue  # the end of the piece cut it off in the middle of a sentence
        words = " ".join(segment.heard.readings[0]) if segment.heard.readings else ""
        state = desk.contexts["measurer"].state
        resolution = segment.heard.resolution
        records = desk.heard(resolution, words, "measurer", when=100.0 + segment.start)
        wrote.update(record.event for record in records)
        open_for += segment.end - segment.start
        note = {"words": words, "state": state, "at": segment.start, "sound": yard.around(segment.start, segment.end)}
        note["said"] = yard.said(words, segment.start, segment.end)
        note["answered"] = any(record.event != "heard" for record in records)
        if any(record.event == "heard" and record.meaning is not None for record in records):
            noted["taken" if isinstance(resolution, Understood) else "asked"].append(note)
        if any(record.event == "voided" for record in records):
            noted["voided"].append(note)
    return {"wrote": wrote, "noted": noted, "open": open_for}


def _desk(number: int) -> Desk:
    conversation = start(load_stock(None), ShorePlanner(), load_settings())
    desk = Desk(conversation, MemoryJournal(), Mouths(), lambda record: None, lambda note: None)
    desk.feed(Opened(0.0))
    for line in ((CALLOUT,), (CALLOUT,), (CALLOUT, "affirm", "ready"), ())[number % 4]:
        desk.heard(resolve_text(line, desk.contexts["measurer"]), line, "measurer", certain=True, when=1.0)
    return desk


def clock(looks: list[dict[str, Any]]) -> float:
    """Seconds of the clock in which at least one process heard."""
    spent, until = 0.0, 0.0
    for began, ended in sorted((look["began"], look["began"] + look["took"]) for look in looks):
        spent += max(0.0, ended - max(began, until))
        until = max(until, ended)
    return spent


def _write(looks: list[dict[str, Any]]) -> None:
    _PAGE.write_text(page(looks), encoding="utf-8")
    wrote = sum((Counter(look["wrote"]) for look in looks), Counter[str]())
    assert wrote["released"] == 0, "yard noise released a build"
    for run in _runs(looks):
        steady = run[WARM:] or run[-1:]
        assert steady[-1]["processes"] == steady[0]["processes"], "processes grow"
        assert steady[-1]["files"] <= steady[0]["files"] + 4, "open files grow"


def _runs(looks: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """The looks of each process in the order in which it heard; who heard longest comes first."""
    runs: dict[str, list[dict[str, Any]]] = {}
    for look in looks:
        runs.setdefault(look["run"], []).append(look)
    return sorted(runs.values(), key=len, reverse=True)


def page(looks: list[dict[str, Any]]) -> str:
    hours, runs = len(looks) * CHUNK / 3600, _runs(looks)
    wrote = sum((Counter(look["wrote"]) for look in looks), Counter[str]())
    noted = {kind: [note for look in looks for note in look["noted"][kind]] for kind in NOTED}
    taken, moves = noted["taken"], sum(not _harmless(note) for note in noted["taken"])
    misheard = [note for note in taken if not note["said"]]
    spent, heard = clock(looks), sum(look["open"] for look in looks) / 3600
    machines = " and ".join(sorted({look["machine"] for look in looks}))
    lines = [
        "# A day of yard sound", "",
        "Written by `python -m tests.proof yard`; what the sound is stands in `tests/yard_sound.py`.",
        *([] if hours >= HOURS else [f"**The bar is {HOURS:.0f} hours, which were not reached.**"]), "",
        f"**{hours:.1f} hours** of sound in {spent / 60:.0f} minutes ({hours * 3600 / spent:.0f} times as fast as it "
        f"happens), heard by {len(runs)} processes with {_minutes(runs[-1]):.0f} to {_minutes(runs[0]):.0f} minutes of "
        f"the sound each, on {machines}. The ears had an utterance open for {heard:.1f} hours of it.", "",
        "| what | count |", "|---|---|",
        f"| utterances that reached the conversation | {wrote['heard']} |",
        f"| builds released by them | {wrote['released']} |",
        f"| items booked by them | {wrote['picked']} |",
        f"| taken for a command or a callout | {_rate(len(taken), hours)}; the bar is 1 |",
        f"| of these, misheard: nobody said these words | {_rate(len(misheard), hours)} |",
        f"| of these, such as were answered by a word or by silence | {sum(note['answered'] for note in taken)} |",
        f"| of these, such as do more than make the voice speak or be silent | {moves} |",
        f"| taken for one in doubt, and asked for | {len(noted['asked'])} |",
        f"| readbacks that they voided: the callout was to be said again | {wrote['voided']} |",
        f"| ears started again | {sum(max(look['restarts'] for look in run) for run in runs):.0f} |", "",
        *_memory(runs), *_mistaken(noted),
    ]  # fmt: skip
    return "\n".join(lines)


def _rate(count: int, hours: float) -> str:
    """So many, and in ten hours, with the one-sided bound of a Poisson rate."""
    bound = chi2.ppf(0.95, 2 * (count + 1)) / 2 / hours
    return f"{count} ({count / hours * 10:.1f} in 10 h; 95 % bound {bound * 10:.1f})"


def _harmless(note: dict[str, Any]) -> bool:
    """Whether what was taken only makes the voice speak or be silent."""
    meant = resolve_text(note["words"], Context(state=note["state"]))
    return (
        isinstance(meant, Understood)
        and isinstance(meant.meaning, Command)
        and meant.meaning.command in commands_that("harmless")
    )


def _minutes(run: list[dict[str, Any]]) -> float:
    return len(run) * CHUNK / 60


def _memory(runs: list[list[dict[str, Any]]]) -> list[str]:
    """What the process that heard longest held, each of its helpers by itself; then what all held at their ends."""
    run, warm = next((run for run in runs if "own" in run[0]), None), WARM * CHUNK / 60
    if run is None:
        return []
    lines = [
        "## What the processes hold", "",
        f"Of the process that heard longest, {_minutes(run):.0f} minutes of sound, and of each of its helpers, the MB "
        "that are its own: what no other process maps and the system cannot take back. Libraries and networks, of "
        "which all that run have a share, are not in it: who else runs decides how large a share is. The first "
        f"{warm:.0f} minutes are the warm-up: what is loaded at first use is loaded, each network has met a long "
        f"utterance. Growth is the slope of a line through means of {BLOCK * CHUNK / 60:.0f} minutes each, with its 95 "
        "% interval.", "",
    ]  # fmt: skip
    steps = [number for number in range(0, len(run), WARM) if number < len(run) - WARM // 2] + [len(run) - 1]
    titles = " | ".join(f"{number + 1} min" for number in steps)
    lines += [f"| what | {titles} | most | growth after the warm-up, MB an hour |", "|---" * (len(steps) + 3) + "|"]
    columns = {"together": [sum(look["own"].values()) for look in run]}
    columns |= {role: [look["own"].get(role, 0.0) for look in run] for role in sorted(run[0]["own"])}
    for role, values in columns.items():
        shown = " | ".join(f"{values[number]:.0f}" for number in steps)
        grew = growth(values[WARM:], CHUNK, BLOCK) or "**not measured: too short**"
        lines.append(f"| {role} | {shown} | {max(values):.0f} | {grew} |")
    for role in ("files", "processes"):
        shown = " | ".join(f"{run[number][role]:.0f}" for number in steps)
        lines.append(f"| {role} | {shown} | {max(look[role] for look in run):.0f} | |")
    of_code: dict[str, list[list[dict[str, Any]]]] = {}
    for other in runs:
        of_code.setdefault(other[0]["code"], []).append(other)
    return [*lines, "", *(_together(code, some) for code, some in of_code.items()), ""]


def _together(code: str, runs: list[list[dict[str, Any]]]) -> str:
    ends, most = [run[-1]["MB"] for run in runs], max(look["MB"] for run in runs for look in run)
    return (
        f"- Commit {code}: {len(runs)} processes, {sum(map(len, runs)) * CHUNK / 3600:.1f} hours. With their share of "
        f"what others map too (PSS) they held {min(ends):.0f} to {max(ends):.0f} MB at their ends, {most:.0f} MB at "
        f"most; files and processes "
        f"stayed {'the same' if all(map(_same, runs)) else '**not** the same'} after the warm-up of each."
    )


def _same(run: list[dict[str, Any]]) -> bool:
    return len({(look["files"], look["processes"]) for look in run[WARM:] or run[-1:]}) == 1


def _mistaken(noted: dict[str, list[dict[str, Any]]]) -> list[str]:
    """Each utterance that was taken for words to callout, with the sound that it was made of."""
    lines = ["## What was mistaken, and for what", ""]
    for kind, title in NOTED.items():
        if noted[kind]:
            often = Counter(what for note in noted[kind] for what in {_sort(sound) for sound in note["sound"]})
            most = ", ".join(f"{what} {count}" for what, count in often.most_common(4))
            lines += [f"{title}: {len(noted[kind])}. In the sound of so many of them: {most}.", ""]
            lines += ["| heard | state | the sound |", "|---|---|---|"]
            lines += [f"| {n['words']} | {n['state']} | {'; '.join(n['sound'])} |" for n in noted[kind]]
            lines.append("")
    return lines if len(lines) > 2 else [*lines, "Nothing.", ""]


def _sort(sound: str) -> str:
    """What kind of sound a piece is: a machine by its name, of talk only that it is talk."""
    return sound if sound.startswith("machine") else sound.partition(":")[0]
