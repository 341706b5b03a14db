"""The states of the conversation as a page with a diagram: `python -m callout.dialogue.diagram docs/states.md`.

Nothing is drawn by hand. The states and what may be said in them come from `grammars/states.toml`, what is said to
unclear speech from `phrases.toml`, and each arrow from putting the conversation in that state and saying the words.
"""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

from callout.dialogue.asking import UNCLEAR, Unclear
from callout.dialogue.events import Input, Opened, Tick, Uttered
from callout.dialogue.machine import start, step
from callout.dialogue.state import Conversation, state_name
from callout.dialogue.wording import templates
from callout.language import grammar
from callout.language.outcome import Understood
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.values import Callout, Command, Length, Meaning

WHOLE = Callout(insertion=Length.imperial(11), angle_deg=60)
OTHER = Callout(insertion=Length.imperial(9), angle_deg=45)
HALF = Callout(insertion=Length.imperial(8))
KINDS: tuple[Unclear, ...] = get_args(Unclear)


def _say(name: str) -> Command:
    return Command(command=name)


#: How to get into each state from a conversation that has just been opened.
WAYS: dict[str, tuple[Meaning, ...]] = {
    "idle": (),
    "gather": (HALF,),
    "confirm": (WHOLE,),
    "walk": (WHOLE, _say("affirm")),
    "gather_walk": (WHOLE, _say("affirm"), HALF),
    "confirm_walk": (WHOLE, _say("affirm"), OTHER),
    "assembly": (WHOLE, _say("affirm"), _say("step_by_step")),
    "teach": (_say("teach"),),
    "teach_words": (_say("teach"), _say("ready")),
    "halted": (_say("evacuate"),),
}

#: The words that are tried in every state, as the diagram names them. A number is seconds of silence.
WORDS: dict[str, Meaning | float] = {
    "whole callout": OTHER,
    "half callout": HALF,
    "its other half": Callout(angle_deg=60),
    "affirm": _say("affirm"),
    "negative": _say("negative"),
    "correction of a part": Command(command="correction", patch=Callout(angle_deg=45)),
    "disregard": _say("disregard"),
    "undo": _say("undo"),
    "say again": _say("say_again"),
    "ready": _say("ready"),
    "step by step": _say("step_by_step"),
    "parts by item": Command(command="item", item=1),
    "last check, ready": 0.0,
    "status": _say("status"),
    "evacuate": _say("evacuate"),
    "go ahead": _say("go_ahead"),
    "teach": _say("teach"),
    "long silence": 60.0,
}


def _feed(now: Conversation, event: Input) -> Conversation:
    return step(now, event)[0]


def hear(now: Conversation, meaning: Meaning) -> Conversation:
    return _feed(now, Uttered(Understood(meaning, ()), "", "measurer", now.measurer.since + 1.0, True))


def in_state(name: str) -> Conversation:
    now = _feed(start(load_stock(), ShorePlanner()), Opened(0.0))
    with _a_team():
        for meaning in WAYS[name]:
            now = hear(now, meaning)
    if state_name(now, "measurer") != name:
        raise RuntimeError(f"the way into {name!r} leads to {state_name(now, 'measurer')!r}")
    return now


@contextlib.contextmanager
def _a_team() -> Iterator[None]:
    """With a folder for words, or nothing could be taught."""
    before = os.environ.get("CALLOUT_TEAM")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["CALLOUT_TEAM"] = before or folder
        try:
            yield
        finally:
            if before is None:
                del os.environ["CALLOUT_TEAM"]


def _after(now: Conversation, word: Meaning | float) -> Conversation:
    if isinstance(word, (Callout, Command)):
        return hear(now, word)
    if word:
        for times in range(1, 5):
            now = _feed(now, Tick(now.measurer.since + times * word))
        return now
    for _ in range(200):  # "ready" through what is left of the build
        if now.walked is None or now.seat("measurer").waits:
            break
        now = hear(now, _say("ready"))
    return now


def transitions() -> Iterator[tuple[str, str, str]]:
    """(state, words, next state) for every state and every entry of WORDS."""
    with _a_team():
        for name in WAYS:
            now = in_state(name)
            for words, word in WORDS.items():
                yield name, words, state_name(_after(now, word), "measurer")


def page() -> str:
    """The whole page, in Markdown with a Mermaid diagram."""
    states = grammar.load().states
    arrows: dict[tuple[str, str], list[str]] = {}
    for before, words, after in transitions():
        if before != after:
            arrows.setdefault((before, after), []).append(words)
    lines = [
        "# The states of the conversation", "",
        "Made by `python -m callout.dialogue.diagram docs/states.md`: every arrow was tried out on the machine. Words",
        "that lead nowhere else are not drawn; an arrow of the measurer's side is shown, with one source.", "",
        "```mermaid", "stateDiagram-v2", "    [*] --> idle",
        *(f"    {before} --> {after} : {', '.join(words)}" for (before, after), words in arrows.items()),
        "```", "", "## What may be said", "",
        "From `grammars/states.toml`; the rules are those of the grammar files.", "",
        "| state | meaning | rules |", "|---|---|---|",
        *(f"| {name} | {states[name].title} | {', '.join(states[name].rules)} |" for name in WAYS),
        "", "## What the tool says to what carries no meaning", "",
        "From `callout/dialogue/phrases.toml`. (silent) is meant: on a busy channel nobody answers chatter.", "",
        f"| state | {' | '.join(kind.replace('_', ' ') for kind in KINDS)} |", "|---" * (len(KINDS) + 1) + "|",
        *(f"| {name} | {' | '.join(_reply(name, kind) for kind in KINDS)} |" for name in WAYS), "",
    ]  # fmt: skip
    return "\n".join(lines)


def _reply(state: str, what: Unclear) -> str:
    key = UNCLEAR[state].get(what)
    return "(silent)" if key is None else templates()[key]


if __name__ == "__main__":
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(page(), encoding="utf-8")
    else:
        sys.stdout.write(page())
