"""How fast the conversation is: one step, the fold over a long journal, and the fold beside reading the same lines.

python -m tests.bench dialogue
"""

from __future__ import annotations

import json

from callout.dialogue.machine import restore
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, FakePlanner, Talk, make_stock
from tests.timing import least

LINES = 100_000


def bench() -> dict[str, float]:
    """Seconds of processor time, the least of some runs."""
    proper = Talk.new(load_stock())
    proper.now = restore((), load_stock(), ShorePlanner(), proper.now.settings)
    proper.say(ELEVEN_SIXTY).say(AFFIRM)  # the solver is loaded now
    proper.say("undo")

    def callout_and_affirm() -> None:
        proper.say(ELEVEN_SIXTY).say(AFFIRM).say("undo")

    walking = Talk.new().released()

    def questions() -> None:
        for word in ("where", "status", "say_again", "how_many_left"):
            walking.say(word)

    talk = Talk.new(make_stock(six=LINES, anchors=LINES))
    while len(talk.records) < 2_000:
        talk.released()
        while talk.now.open:
            talk.say("ready").say("where")
    records = (talk.records * (LINES // len(talk.records) + 1))[:LINES]
    texts = [record.model_dump_json() for record in records[:2_000]]
    fold = least(lambda: restore(records, make_stock(), FakePlanner()))
    reading = least(lambda: [json.loads(text) for text in texts]) * LINES / len(texts)
    return {
        "callout, readback, affirm, build, undo, real planner, s": least(callout_and_affirm, 20),
        "one question in the walk, s": least(questions, 50) / 4,
        f"fold over {LINES:,} records, s": fold,
        "the fold to reading the same lines as JSON, ratio": fold / reading,
    }
