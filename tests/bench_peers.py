"""The ears beside other recognizers, on the same recordings in the same run: right, wrong, and what it cost.

    CALLOUT_HELDOUT=FOLDER python -m tests.bench peers

The peers (`tests/other_recognizers.py`) are no dependencies: one that is not installed is left out, with a word on
stderr. With all of them there the table goes to docs/proofs/ears-peers.md. Recordings: of the kit in FOLDER
(`tests/proof_ears.py` says how it is made) 140 callouts of voices, 60 with people's number words, 100 clips of chatter;
without a kit 20 callouts and 10 clips of `audio_fixtures/balanced`. CALLOUT_PEERS_SHARE=0.2 draws a fifth of each.
Nothing was tuned on them. Clean and through the simulated radio with a generator at 10 dB.

The draw needs the kit's lists alone, so no more of the kit need be spoken than is drawn:

    python -m ears_training kit heldout_wide FOLDER --only /dev/null                     # the list of all
    python -m ears_training kit people FOLDER/people --digits ... --prompts ...          # docs/training.md
    CALLOUT_HELDOUT=FOLDER python -m tests.bench_peers >wanted.txt                       # those drawn and not there
    python -m ears_training kit heldout_wide FOLDER --only wanted.txt

Two processes hear, or CALLOUT_JOBS of them. Each hearing is kept in out/ears-peers.jsonl, so that a run that was
stopped goes on; another network, grammar, decision or recognizer starts anew. Recordings are heard in a shuffled order,
some of them by every recognizer before the next: CALLOUT_JOBS=0 writes the page of what all have heard so far.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from callout.files import data_folder
from callout.hearing.audio import RATE, Samples, read_audio
from callout.hearing.ears import Ears
from callout.language.outcome import Ambiguous, Resolution, Understood
from callout.language.resolve import resolve_text
from callout.scoring.statistics import share
from callout.values import Callout, meaning_json
from ears_training.conditions import through
from tests.kept_hearings import Row, ears_mark, kept_rows
from tests.other_recognizers import FOLDED, PEERS, PROMPT, SPHINX, WHISPER, lacking, release
from tests.proof_ears import lines_of, truth

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "proofs" / "ears-peers.md"
KEPT = ROOT / "out" / "ears-peers.jsonl"
OURS = "these ears"
PEOPLES = "people's numbers right, %"
CONDITIONS = ("clean", "generator 10")
SHARE = float(os.environ.get("CALLOUT_PEERS_SHARE", "1"))
VOICES, PEOPLE, CHATTER = (round(SHARE * count) for count in (140, 60, 100))  # of a kit
FIXTURES = {"callout": 20, "chatter": 10}  # of audio_fixtures
TOGETHER = 60  # recordings that every recognizer hears before the next are begun


class Clip(NamedTuple):
    """A recording, what is said in it, its meaning as JSON (None of chatter), and whether a person says the numbers."""

    file: Path
    words: str
    meaning: Any
    person: bool


class Task(NamedTuple):
    """One recording to be heard by one recognizer under one condition; `number` is the seed of the noise."""

    who: str
    condition: str
    number: int
    clip: Clip

    @property
    def name(self) -> str:
        file = f"{self.clip.file.parent.parent.name}/{self.clip.file.name}"
        return f"{self.who}, {self.condition}: {self.number} {file} {self.clip.words}"


Table = dict[tuple[str, str], dict[str, float]]
#: What was understood, the first reading (of the ears alone), and the processes that worked at it beside this one.
Answer = tuple[Resolution, Resolution | None]
Listener = tuple[Callable[[Samples], Answer], tuple[int | None, ...]]


def bench() -> dict[str, float]:
    """Shares in percent, and processor seconds for a second of sound, of each recognizer under each condition."""
    source, clips = recordings()
    if absent := [clip for clip in clips if not clip.file.is_file()]:
        raise SystemExit(f"{len(absent)} of the recordings are not there, {absent[0].file} among them: see the top of"
                         f" {__file__}")  # fmt: skip
    there = [name for name in PEERS if not lacking(name)]
    for name in PEERS.keys() - set(there):
        print(f"{name}: left out, not installed: {', '.join(lacking(name))}", file=sys.stderr)
    tasks = in_order((OURS, *there), clips)
    mark = _mark(there)
    kept = kept_rows(KEPT, mark)
    wanted = [task for task in tasks if task.name not in kept]
    print(f"{len(wanted)} to hear, {len(tasks) - len(wanted)} known", file=sys.stderr, flush=True)
    if wanted and (jobs := int(os.environ.get("CALLOUT_JOBS", "2"))):
        _in_processes(wanted, mark, jobs)
        kept = kept_rows(KEPT, mark)
    table = compared(tasks, kept)
    if len(there) == len(PEERS):
        loads = [row["load"] for row in kept.values()]
        lines = [*page(table, source, clips, loads), *mistakes(tasks, kept)]
        PAGE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return {
        f"{name}, {condition}: {what}": value for (name, condition), row in table.items() for what, value in row.items()
    }


def in_order(names: Iterable[str], clips: list[Clip]) -> list[Task]:
    """What there is to hear. Of a run that is stopped, every recognizer has heard the same ones under each condition
    but for the last few, and these are as if drawn."""
    numbers = random.Random(21).sample(range(len(clips)), len(clips))
    parts = [numbers[start : start + TOGETHER] for start in range(0, len(clips), TOGETHER)]
    return [Task(name, condition, number, clips[number]) for condition in CONDITIONS for part in parts
            for name in names for number in part]  # fmt: skip


def compared(tasks: list[Task], kept: dict[str, Row]) -> Table:
    """The figures of each recognizer under each condition, on the recordings that all of them have heard under it."""
    heard: dict[tuple[str, str], list[tuple[Task, Row]]] = {}
    lacking_one = {(task.condition, task.number) for task in tasks if task.name not in kept}
    for task in sorted(tasks, key=lambda task: CONDITIONS.index(task.condition)):
        if (task.condition, task.number) not in lacking_one:
            heard.setdefault((task.who, task.condition), []).append((task, kept[task.name]))
    return {where: figures(rows) for where, rows in heard.items()}


def recordings() -> tuple[str, list[Clip]]:
    """Where they are from, in words, and the clips."""
    kit = Path(os.environ.get("CALLOUT_HELDOUT", "heldout"))
    if not (kit / "manifest.jsonl").is_file():
        folder = data_folder("audio_fixtures") / "balanced"
        rows = [row for row in lines_of(folder) if row["channel"] == "clean"]
        clips = [row for group, count in FIXTURES.items() for row in _of(rows, "group", group)[:count]]
        return "`audio_fixtures/balanced`, every voice synthetic", [_clip(row) for row in clips]
    rows, people = lines_of(kit), [row for folder in sorted(kit.glob("people*")) for row in lines_of(folder)]
    callouts = [row for row in rows if isinstance(truth(row["words"]), Callout)]
    said = [row for row in people if isinstance(truth(row["words"]), Callout)]
    chosen = [(callouts, VOICES), (said, PEOPLE), (_of(rows, "kind", "chatter"), CHATTER)]
    draw = random.Random(20)
    clips = [row for group, count in chosen for row in draw.sample(group, min(count, len(group)))]
    talkers = len({row["speaker"] for row in said})
    words = (
        f"the kit of the proof of the ears, on whose {len(rows) + len(people)} recordings nothing was trained: "
        f"{VOICES} callouts by voices, {PEOPLE} with the number words of {talkers} people. They were drawn by a fixed "
        "seed out of the kit's whole list, which is the same whether all of it is spoken or only these"
    )
    return words, [_clip(row) for row in clips]


def _of(rows: list[Row], name: str, value: str) -> list[Row]:
    return [row for row in rows if row[name] == value]


def _clip(row: Row) -> Clip:
    chatter = "chatter" in (row.get("group"), row.get("kind"))
    meaning = None if chatter else _plain(meaning_json(truth(row["words"])))
    return Clip(row["folder"] / row["file"], row["words"], meaning, bool(row.get("pieced")))


def _plain(thing: Any) -> Any:
    """As it is after a stay in a file of JSON."""
    return json.loads(json.dumps(thing))


def _mark(there: list[str]) -> str:
    """Our networks, grammar and decisions and the peers' releases and settings, as a joint hash."""
    settings = (ears_mark(), *(release(name) for name in there), SPHINX, WHISPER, PROMPT, FOLDED)
    return hashlib.sha256(repr(settings).encode()).hexdigest()[:12]


def _in_processes(tasks: list[Task], mark: str, jobs: int) -> None:
    """Hear all, in `jobs` processes, each of which adds its lines to the file as they come."""
    KEPT.parent.mkdir(exist_ok=True)
    children = []
    for job in range(jobs):
        child = os.fork()
        if child == 0:
            hear_all(tasks[job::jobs], mark, KEPT)
            os._exit(0)
        children.append(child)
    if [child for child in children if os.waitpid(child, 0)[1]]:
        sys.exit("a process that heard has failed; run the command again, it goes on from what is kept")


def hear_all(tasks: list[Task], mark: str, kept: Path) -> None:
    """Hear the tasks recognizer by recognizer, and add a line for each."""
    with kept.open("a", encoding="utf-8", buffering=1) as file:
        for who, group in groupby(tasks, key=lambda task: task.who):
            hear, helpers = _listener(who)
            hear(np.zeros(RATE, np.float32))  # what is loaded at the first use is no part of the time
            for number, task in enumerate(group):
                samples = through(read_audio(task.clip.file), task.condition, task.number)
                began = _processor_seconds(helpers)
                found, first = hear(samples)
                row = {
                    "mark": mark, "name": task.name, "outcome": found.outcome, "meaning": meaning_json(found.meaning),
                    "first": first and meaning_json(first.meaning), "sound": len(samples) / RATE,
                    "seconds": _processor_seconds(helpers) - began, "load": os.getloadavg()[0],
                }  # fmt: skip
                file.write(json.dumps(row) + "\n")
                if number % 50 == 0:
                    print(f"{who}: {number} ({task.name})", file=sys.stderr, flush=True)


def _listener(who: str) -> Listener:
    if who != OURS:
        hear = PEERS[who][0]()
        return lambda samples: (hear(samples), None), ()
    ears = Ears()
    ears.prepare()
    ears.ready()

    def both(samples: Samples) -> Answer:
        heard = ears.hear(samples)
        first = resolve_text(" ".join(heard.readings[0])) if heard.readings else heard.resolution
        return heard.resolution, first

    return both, (ears.vosk_pid, ears.third.helper.pid if ears.third else None)


def _processor_seconds(helpers: Iterable[int | None]) -> float:
    """What this process and its helpers have used so far, on however many cores; the helpers' on Linux only."""
    used = time.process_time()
    for pid in helpers:
        try:
            fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        except OSError:
            continue
        used += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return used


def figures(heard: list[tuple[Task, Row]]) -> dict[str, float]:
    """What one recognizer made of all clips under one condition."""
    callouts = [(task.clip, row) for task, row in heard if task.clip.meaning is not None]
    talk = [row for task, row in heard if task.clip.meaning is None]
    taken = [row for row in talk if row["outcome"] in (Understood.outcome, Ambiguous.outcome)]
    understood = [(clip, row) for clip, row in callouts if row["outcome"] == Understood.outcome]
    right = [clip for clip, row in understood if row["meaning"] == clip.meaning]
    people = [clip for clip, _ in callouts if clip.person]
    out = {
        "callouts": len(callouts),
        "chatter": len(talk),
        "right, %": 100 * len(right) / max(1, len(callouts)),
        "wrong, %": 100 * (len(understood) - len(right)) / max(1, len(callouts)),
        "chatter taken, %": 100 * len(taken) / max(1, len(talk)),
    }
    if people:
        out[PEOPLES] = 100 * sum(clip.person for clip in right) / len(people)
    if any(row["first"] for _, row in callouts):
        first = sum(row["first"] == clip.meaning for clip, row in callouts)
        out["right in the first reading, %"] = 100 * first / max(1, len(callouts))
    sound = sum(row["sound"] for _, row in heard)
    return {**out, "processor seconds a second": sum(row["seconds"] for _, row in heard) / sound}


def page(table: Table, source: str, clips: list[Clip], loads: list[float]) -> Iterator[str]:
    """The lines of the page."""
    callouts = sum(clip.meaning is not None for clip in clips)
    yield "# The ears beside other recognizers"
    yield ""
    yield (
        f"Made by `python -m tests.bench peers`: {callouts} callouts and {len(clips) - callouts} clips of chatter of "
        f"{source}. *Right*: understood, every part as said (in brackets the interval of Wilson at 95 %); *wrong*: "
        "understood as something else. The ears ask again where they are not sure, and the peers never do, so the "
        "ears' first reading is given, too. *People's*: of the callouts with people's number words, right."
    )
    yield ""
    yield (
        "*Cost*: processor seconds for each second of sound, all processes and threads together, in the same run; "
        f"the machine was shared (load {min(loads):.0f} to {max(loads):.0f} on {os.cpu_count()} processors), so take "
        "the costs beside each other. Each hears on one thread, the ears' three networks in three processes. "
        "PocketSphinx has the same grammar (everything that may be said in any state) and pronunciations as the ears, "
        f"and follows at most {SPHINX['maxhmmpf']:,} phones at a time (30,000 by itself, which was neither right "
        "oftener nor dearer in what was tried: five fixtures, two recordings in noise). Whisper, in 8 bits, takes at "
        "each step the likeliest token and tries once (no beam, temperature 0, no second try at a higher one), has two "
        "callouts as its prompt, and writes what it likes; that is read as if typed. "
        f"Networks, grammar, decisions and code of the ears in this run: {ears_mark()} (the first letters of their "
        "joint SHA-256)."
    )
    yield ""
    yield (
        "| | through | callouts, chatter | right % | people's % | first reading right % | wrong % | chatter taken % "
        "| cost |"
    )
    yield "|---|---|---|---|---|---|---|---|---|"
    for (name, condition), row in table.items():
        heard = round(row["callouts"])
        right = share(round(row["right, %"] * heard / 100), heard)
        yield (
            f"| {name} | {condition} | {heard}, {row['chatter']:.0f} | "
            f"{row['right, %']:.0f} ({100 * right['low']:.0f} to {100 * right['high']:.0f}) | "
            f"{_if_any(row, PEOPLES)} | {_if_any(row, 'right in the first reading, %')} | "
            f"{row['wrong, %']:.1f} | {row['chatter taken, %']:.0f} | {row['processor seconds a second']:.3f} |"
        )
    yield ""
    for condition in dict.fromkeys(condition for _, condition in table):
        yield in_words(table, condition)
        heard = round(table[OURS, condition]["callouts"] + table[OURS, condition]["chatter"])
        if heard < len(clips):
            yield f"The run was stopped there: {heard} recordings, in an order drawn beforehand, had been heard by all."


def _if_any(row: dict[str, float], name: str) -> str:
    return f"{row[name]:.0f}" if name in row else ""


def in_words(table: Table, condition: str) -> str:
    """What the figures under one condition mean."""
    ours = table[OURS, condition]
    peers = {name: row for (name, under), row in table.items() if under == condition and name != OURS}
    best = max(peers, key=lambda name: peers[name]["right, %"])
    near = peers[best]
    return (
        f"Through {condition}: the most of the peers is right by {best}, {near['right, %']:.0f} % against the ears' "
        f"{ours['right, %']:.0f} % ({ours['right in the first reading, %']:.0f} % in their first reading); it takes "
        f"{near['wrong, %']:.1f} % for something else, the ears {ours['wrong, %']:.1f} %, at "
        f"{near['processor seconds a second'] / ours['processor seconds a second']:.1f} times the ears' cost."
    )


def mistakes(tasks: list[Task], kept: dict[str, Row]) -> Iterator[str]:
    """The callouts that the ears took for something else, one by one: most are the same recordings again."""
    wrong: dict[str, list[str]] = {}
    for task in tasks:
        row = kept.get(task.name)
        taken = row and task.who == OURS and task.clip.meaning and row["outcome"] == Understood.outcome
        if row and taken and row["meaning"] != task.clip.meaning:
            wrong.setdefault(f'"{task.clip.words}" ({task.clip.file.stem})', []).append(task.condition)
    if wrong:
        yield ""
        yield "What the ears took for something else, of all that they heard: "
        yield "; ".join(f"{what} through {' and '.join(conditions)}" for what, conditions in wrong.items()) + "."


if __name__ == "__main__":
    for clip in recordings()[1]:
        if not clip.file.is_file():
            print(f"{clip.file.parent.name}/{clip.file.name}")
