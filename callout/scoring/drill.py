"""Training for people: what a trainee is asked, how the answer comes, and how it is marked by skill.

Two kinds of task: `listen` (a callout comes over a bad radio, the trainee reads it back) and `call` (a tape shows
figures, the trainee calls them out). Answers come from the keyboard, from the microphone alone, or with a key.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import platformdirs

from callout.console.typed_input import next_line
from callout.errors import CalloutError
from callout.files import private, private_folder
from callout.language.numerals import NUMBER_WORDS
from callout.language.outcome import Resolution
from callout.scoring.prompts import Prompt
from callout.scoring.verdict import bare
from callout.values import meaning_json

if TYPE_CHECKING:
    from callout.hearing.sources import SoundSource

Kind = Literal["listen", "call"]
ROUND = 10

SKILLS = {
    "numbers": "every figure right",
    "order": "lead-in, height, angle, in this order",
    "push_to_talk": "key first, then speech; speech over, then key up",
    "twins": "six and sixty, fifteen and fifty kept apart",
}


@dataclass(frozen=True)
class Exercise:
    kind: Kind
    prompt: Prompt


@dataclass(frozen=True)
class MarkedAnswer:
    """What one answer was worth. `skills` holds only those that the task could show; `seconds` until it was given."""

    task: Exercise
    answer: str
    right: bool
    skills: dict[str, bool]
    seconds: float
    advice: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        return {
            "task": self.task.kind,
            "words": self.task.prompt.text,
            "answer": self.answer,
            "right": self.right,
            "skills": self.skills,
            "seconds": round(self.seconds, 2),
            "advice": list(self.advice),
        }


def mark(
    task: Exercise,
    result: Resolution,
    words: Sequence[str],
    seconds: float,
    *,
    key: tuple[float, float] | None = None,
    confidence: float | None = None,
) -> MarkedAnswer:
    """Mark an answer. `key`: seconds between key and speech, and between speech and key, when it was spoken.

    A read-back without its lead-in counts as a read-back; a call without it does not.
    """
    truth = bare(task.prompt.meaning) or {}
    heard = bare(meaning_json(result.meaning)) or {}
    numbers = all(heard.get(name) == value for name, value in truth.items())
    skills = {"numbers": numbers}
    advice = [] if numbers else [f"it was: {task.prompt.text}"]
    if task.prompt.has_twin:
        skills["twins"] = numbers
    if task.kind == "call":
        skills["order"] = in_order(words)
        if not skills["order"]:
            advice.append('say "insertion", then the height with its unit, then the angle')
        if result.outcome in ("not_understood", "nothing") and result.reasons:
            advice.append(result.reasons[0])
    if key is not None:
        lead, tail = key
        skills["push_to_talk"] = lead >= 0.15 and tail >= 0.15
        if lead < 0.15:
            advice.append("press, wait half a second, then speak")
        if tail < 0.15:
            advice.append("let the key go only when you have finished")
    if confidence is not None and confidence < 0.7:
        advice.append("hard to hear: slower, and the same loudness to the end")
    right = numbers and skills.get("order", True) and result.outcome == "understood"
    return MarkedAnswer(task, " ".join(words), right, skills, seconds, tuple(advice))


def in_order(words: Sequence[str]) -> bool:
    """Lead-in first, then a height with a unit, then at least one figure more (the angle)."""
    units = [at for at, word in enumerate(words) if re.fullmatch(r"feet|foot|inch(es)?|metres?|centimetres?", word)]
    if not words or words[0] != "insertion" or not units:
        return False
    height, after = words[1 : units[-1]], words[units[-1] + 1 :]
    return any(w in NUMBER_WORDS for w in height) and any(w in NUMBER_WORDS for w in after)


@dataclass
class Round:
    """Ten tasks and what came of them."""

    name: str
    marks: list[MarkedAnswer] = field(default_factory=list)

    def by_skill(self) -> dict[str, dict[str, int]]:
        """{skill: {"right", "n"}} of the skills that were put to the test."""
        table: dict[str, dict[str, int]] = {}
        for skill in SKILLS:
            shown = [m.skills[skill] for m in self.marks if skill in m.skills]
            if shown:
                table[skill] = {"right": sum(shown), "n": len(shown)}
        return table

    def to_json(self) -> dict[str, Any]:
        n = len(self.marks)
        return {
            "name": self.name,
            "time": datetime.now().astimezone().isoformat(timespec="seconds"),
            "n": n,
            "right": sum(m.right for m in self.marks),
            "skills": self.by_skill(),
            "seconds_each": round(sum(m.seconds for m in self.marks) / n, 2) if n else None,
        }


class PastRounds:
    """The rounds of one trainee, a line each, in the user's own data folder."""

    def __init__(self, name: str, folder: Path | None = None) -> None:
        slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "trainee"
        self.path = (folder or data_home()) / "drill" / f"{slug}.jsonl"

    def rounds(self) -> list[dict[str, Any]]:
        """All rounds, oldest first; a line that is damaged is left out."""
        if not self.path.is_file():
            return []
        found = []
        for line in self.path.read_text(encoding="utf-8", errors="replace").splitlines():
            try:
                found.append(json.loads(line))
            except ValueError:
                continue
        return found

    def add(self, done: dict[str, Any]) -> None:
        """Raises CalloutError when the folder cannot be written."""
        try:
            private_folder(self.path.parent)
            with open(self.path, "a", encoding="utf-8", opener=private) as file:
                file.write(json.dumps(done, ensure_ascii=False) + "\n")
        except OSError as failed:
            raise CalloutError(
                f"the round is not kept: {self.path} cannot be written ({failed.strerror}); set CALLOUT_DATA"
            ) from failed


def data_home() -> Path:
    """`CALLOUT_DATA`, or where the system keeps a user's data."""
    named = os.environ.get("CALLOUT_DATA")
    return Path(named) if named else platformdirs.user_data_path("callout", appauthor=False)


@dataclass(frozen=True)
class TraineeAnswer:
    """What the trainee gave: words, what they mean, seconds until it was given.

    `key`: seconds from key down to speech and from speech to key up, where there was a key. `confidence`: the ears'.
    """

    words: tuple[str, ...]
    result: Resolution
    seconds: float
    key: tuple[float, float] | None = None
    confidence: float | None = None


#: Gives the next answer, or None when there are no more.
Answers = Callable[[], "TraineeAnswer | None"]


def typed_answer() -> TraineeAnswer | None:
    """A line of standard input."""
    began = time.monotonic()
    line = next_line()
    return understand_text(line, time.monotonic() - began) if line else None


def understand_text(line: str, seconds: float) -> TraineeAnswer:
    """A typed answer; a read-back may leave out its lead-in."""
    from callout.language.resolve import resolve_text

    result = resolve_text(line)
    if result.outcome != "understood":
        with_lead = resolve_text(f"insertion {line}")
        if with_lead.outcome == "understood":
            return TraineeAnswer(tuple(line.lower().split()), with_lead, seconds)
    return TraineeAnswer(tuple(result.words or line.lower().split()), result, seconds)


@contextlib.contextmanager
def spoken_answers(
    open_source: Callable[[], SoundSource], keyed: bool, wait_for_key: Callable[[str], object]
) -> Iterator[Answers]:
    """Answers through the ears. `keyed`: `wait_for_key` shows a line and waits for the key, pressed
    and let go; otherwise speech begins and ends itself.

    Raises CalloutError, before the first task, where there is no microphone.
    """
    from callout.hearing.ears import open_ears
    from callout.hearing.level import measure
    from callout.language.context import Context
    from callout.scoring.recording import record_until, record_utterance

    open_source().close()
    with contextlib.closing(open_ears()) as ears:

        def answer() -> TraineeAnswer | None:
            began = time.monotonic()
            if keyed:
                wait_for_key("   Enter: key down ")
                samples = record_until(open_source(), lambda: wait_for_key("   Enter: key up "))
            else:
                samples, _ = record_utterance(open_source())
            if not len(samples):
                return None
            seconds = time.monotonic() - began
            level = measure(samples)
            heard = ears.hear(samples, Context())
            words = heard.readings[0] if heard.readings else heard.resolution.words
            key = (level.lead, level.tail) if keyed else None
            return TraineeAnswer(tuple(words), heard.resolution, seconds, key, heard.confidence)

        yield answer
