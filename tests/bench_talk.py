"""How long the talk takes, measured on the sound of the voice at its default pace: `python -m tests.bench talk`.

Each sentence is rendered as the voice says it, and its WAV is as long as it is heard. Between two sentences of one
answer nothing passes; reading, thinking and the ears are not in these figures. The bounds are the specification's.
"""

from __future__ import annotations

from collections.abc import Iterable

from callout.dialogue.events import Opened, Say, Uttered
from callout.dialogue.machine import start, step
from callout.dialogue.settings import load_settings
from callout.dialogue.state import Conversation, context
from callout.language.resolve import resolve_text
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.speaking.pacing import Pace
from callout.speaking.process import SpeechProcess
from callout.speaking.render import Rendered, render

#: Details of a callout, each said beside height and angle.
DETAILS = (
    "two rakers", "spacing eight feet", "wall height twenty feet", "position two", "on the east wall", "split sole",
)  # fmt: skip
#: What is seen of a wall: with a shore, and without.
SIZED = {"five rakers": "damage at nine feet", "too far out": "damage at nine feet, leaning four feet"}
#: Seconds. The detail of a measured length is 3.0 to the tenth.
BOUNDS = {"affirm to the end of item one": 12.0, "readback of height and angle": 8.0, "a detail more": 3.1}


class Talk:
    """A typed conversation whose answers are rendered."""

    def __init__(self, voice: SpeechProcess) -> None:
        self._voice, self._made, self._time = voice, dict[str, Rendered](), 0.0
        self._now: Conversation = start(load_stock(), ShorePlanner(), load_settings())
        self._now, _ = step(self._now, Opened(0.0))

    def say(self, *lines: str) -> list[Rendered]:
        """What is answered to the last of some lines, sentence by sentence."""
        said: list[str] = []
        for line in lines:
            self._time += 60.0
            heard = Uttered(resolve_text(line, context(self._now, "measurer")), line, "measurer", self._time, True)
            self._now, effects = step(self._now, heard)
            said = [effect.text for effect in effects if isinstance(effect, Say)]
        return [self._rendered(text) for text in said]

    def _rendered(self, text: str) -> Rendered:
        if text not in self._made:
            self._made[text] = render(text, self._voice, Pace())
        return self._made[text]


def seconds(said: Iterable[Rendered]) -> float:
    return sum(one.seconds for one in said)


def until_item(said: list[Rendered]) -> float:
    """To the end of what and how many item one is: where it lies comes after."""
    at = next(place for place, one in enumerate(said) if "item one." in one.text)
    end = said[at].figures_end
    return seconds(said[:at]) + (said[at].seconds if end is None else end / said[at].rate)


def _is_of_a_cut(text: str) -> bool:
    return text.startswith("cut ") or "return cut" in text or text.endswith("square.")


def bench() -> dict[str, float]:
    figures: dict[str, float] = {}
    voice = SpeechProcess()
    try:
        plain = Talk(voice).say("insertion eleven feet sixty")
        figures["readback of height and angle"] = seconds(plain)
        longest = max(
            (seconds(Talk(voice).say(f"insertion eleven feet sixty {detail}")) - seconds(plain), detail)
            for detail in DETAILS
        )
        figures[f"a detail more, the longest ({longest[1]})"] = longest[0]
        talk = Talk(voice)
        talk.say("insertion eleven feet sixty")
        released = talk.say("affirm")
        figures["affirm to the end of item one"] = until_item(released)
        figures["affirm to the end of all that is said then, first build"] = seconds(released)
        words = [len(one.text.split()) for one in released]
        figures["words a minute of that"] = sum(words) / seconds(released) * 60
        figures["the next item"] = seconds(talk.say("ready"))
        figures["list, the first five items"] = seconds(talk.say("list"))
        again = Talk(voice)
        again.say("insertion eleven feet sixty", "affirm", "insertion nine feet sixty", "affirm")
        figures["second build to the end of its item one"] = until_item(again.say("build two"))
        steps = [talk.say("step by step"), *(talk.say("next") for _ in range(40))]
        spoken = [one for said in steps for one in said if one.text.startswith("step ")]
        timber = Talk(voice)
        timber.say("insertion ten feet forty five solid sole", "affirm")
        cuts = [one for said in (timber.say("skip") for _ in range(60)) for one in said if _is_of_a_cut(one.text)]
        figures["the longest utterance of a cut"] = max(one.seconds for one in cuts)
        for what, wall in SIZED.items():
            sizing = Talk(voice)
            first = sizing.say(f"size up wall forty feet long, twelve feet high, {wall}", "work it out")
            figures[f"size-up, {what}"] = seconds(first)
            figures[f"size-up, {what}: once more, the rest"] = seconds(sizing.say("work it out"))
        figures["the longest step"] = max(one.seconds for one in spoken)
    finally:
        voice.close()
    return figures


if __name__ == "__main__":
    for name, value in bench().items():
        print(f"{name:<60} {value:6.1f} s")
