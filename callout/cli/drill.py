"""`callout drill`: practice for people, in rounds of ten."""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from callout.channel import NOISES
from callout.cli.aloud import Speak, prompter
from callout.cli.output import emit, say

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from callout.hearing.ears import Recognizer
    from callout.hearing.sources import Source
    from callout.scoring.drill import Mark, Round, Task


@click.command()
@click.argument("name", default="trainee")
@click.option("--typed", is_flag=True, help="Answer on the keyboard, one line a task.")
@click.option("--mute", is_flag=True, help="Nothing is spoken: only calls are asked for, from figures on the screen.")
@click.option("--task", "wanted", type=click.Choice(["both", "listen", "call"]), default="both", show_default=True)
@click.option("--rounds", type=click.IntRange(1, 100), default=1, show_default=True)
@click.option(
    "--snr", type=click.FloatRange(-10, 60), default=10.0, show_default=True, help="How bad the radio is, dB."
)
@click.option("--noise", type=click.Choice(list(NOISES)), default="generator", show_default=True)
@click.option("--seed", type=int, help="The same number gives the same round.")
@click.option("--device", help="Part of the name of the microphone.")
@click.option("--progress", is_flag=True, help="Show the rounds so far, and stop.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a task, and one a round.")
def drill(
    name: str, typed: bool, mute: bool, wanted: str, rounds: int, snr: float, noise: str, seed: int | None,
    device: str | None, progress: bool, as_json: bool,
) -> int:  # fmt: skip
    """Practise: NAME hears callouts over a bad radio and reads them back, and calls out figures in the right order.

    Rounds of ten. By voice alone (begin to speak; a second of quiet ends the answer), or with --typed on the keyboard.
    After a round comes a plain result by skill: numbers, order of the callout, push-to-talk, twins. The rounds of each
    name are kept on this computer (in CALLOUT_DATA, or the system's place for such things). No network is needed.

    \b
    callout drill Kim
    callout drill Kim --typed --mute --seed 1
    callout drill Kim --progress
    """
    from callout.scoring.drill import Progress

    kept = Progress(name)
    if progress:
        _show_progress(kept.rounds(), as_json)
        return 0
    rng = random.Random(seed)
    with prompter(mute) as speak, _answers(typed, device) as answers, _bad_radio(mute, snr, noise, rng) as play:
        for _ in range(rounds):
            done = run_round(name, make_tasks(rng, wanted, play is not None), answers, speak, play, as_json)
            if not done.marks:
                break
            result = done.to_json()
            _show_round(result, as_json)
            kept.add(result)
            if len(done.marks) < 10:
                break
    return 0


def make_tasks(rng: random.Random, wanted: str, can_play: bool) -> Iterator[Task]:
    """Ten tasks; where nothing can be played, nothing can be listened to."""
    from callout.scoring.drill import ROUND, Task
    from callout.scoring.prompts import callout_prompts

    prompts = callout_prompts(rng)
    if wanted == "listen" and not can_play:
        say("nothing can be played here, so nothing can be listened to: calls are asked for instead")
    for number in range(ROUND):
        listens = can_play and (wanted == "listen" or (wanted == "both" and number % 2 == 0))
        yield Task("listen" if listens else "call", next(prompts))


@dataclass
class Answer:
    """What the trainee gave: words, what they mean, how long it took; key times and confidence when spoken."""

    words: tuple[str, ...]
    result: Any
    seconds: float
    key: tuple[float, float] | None = None
    confidence: float | None = None


def run_round(
    name: str, tasks: Iterator[Task], answers: Callable[[], Answer | None], speak: Speak,
    play: Callable[[str], object] | None, as_json: bool,
) -> Round:  # fmt: skip
    """Ask ten times; ends early when there are no more answers."""
    from callout.scoring.drill import Round, mark

    done = Round(name)
    for number, task in enumerate(tasks, 1):
        if task.kind == "listen" and play is not None:
            say(f"{number}: listen, and read it back")
            play(task.prompt.text)
        else:
            say(f"{number}: call this out: {task.prompt.figures}")
            speak("call this out " + _figures_aloud(task.prompt.meaning))
        answer = answers()
        if answer is None:
            break
        marked = mark(task, answer.result, answer.words, answer.seconds, key=answer.key, confidence=answer.confidence)
        done.marks.append(marked)
        _show_mark(marked, as_json)
        speak("right" if marked.right else "not right")
    return done


def _figures_aloud(meaning: dict[str, Any]) -> str:
    """Figures as a colleague reads them off a tape: not in the words or the order of a callout."""
    from callout.language.speak import speak_angle, speak_length
    from callout.values import Length

    height = Length(meaning["insertion"]["eightieths_mm"])
    return f"angle {speak_angle(meaning['angle_deg'])[1]}, height {speak_length(height)[1]}"


def _answers(typed: bool, device: str | None) -> Any:
    return _Typed() if typed else _Spoken(device)


class _Typed:
    """Answers from standard input, a line each; None at its end."""

    def __enter__(self) -> Callable[[], Answer | None]:
        return self._next

    def __exit__(self, *_: object) -> None:
        return None

    def _next(self) -> Answer | None:
        began = time.monotonic()
        line = sys.stdin.readline()
        if not line:
            return None
        return understand_text(line, time.monotonic() - began)


def understand_text(line: str, seconds: float) -> Answer:
    """A typed answer; a read-back may leave out its lead-in."""
    from callout.language.resolve import resolve_text

    result = resolve_text(line)
    if result.outcome != "understood":
        with_lead = resolve_text(f"insertion {line}")
        if with_lead.outcome == "understood":
            return Answer(tuple(line.lower().split()), with_lead, seconds)
    return Answer(tuple(result.words or line.lower().split()), result, seconds)


@dataclass
class _Spoken:
    """Answers from the microphone through the ears; an answer begins and ends by itself."""

    device: str | None
    open_source: Callable[[], Source] | None = None
    _ears: Recognizer | None = field(default=None, init=False)

    def __enter__(self) -> Callable[[], Answer | None]:
        from callout.hearing.ears import open_ears
        from callout.hearing.sources import Microphone

        self.open_source = self.open_source or (lambda: Microphone(self.device))
        self.open_source().close()  # fail before the first task, not after it
        self._ears = open_ears()
        return self._next

    def __exit__(self, *_: object) -> None:
        if self._ears is not None:
            self._ears.close()

    def _next(self) -> Answer | None:
        from callout.hearing.level import measure
        from callout.language.context import Context
        from callout.scoring.microphone import record_utterance

        assert self.open_source is not None
        assert self._ears is not None
        began = time.monotonic()
        samples, waited = record_utterance(self.open_source())
        if not len(samples):
            return None
        level = measure(samples)
        heard = self._ears.hear(samples, Context())
        words = heard.readings[0] if heard.readings else heard.resolution.words
        seconds = time.monotonic() - began
        return Answer(
            tuple(words), heard.resolution, seconds, (min(waited + level.lead, 9.0), level.tail), heard.confidence
        )


class _bad_radio:
    """Plays a callout as it comes over a bad radio; None in its place where nothing can be played."""

    def __init__(self, mute: bool, snr: float, noise: str, rng: random.Random) -> None:
        self._mute, self._snr, self._noise, self._rng = mute, snr, noise, rng
        self._voice: Any = None
        self._player: Any = None

    def __enter__(self) -> Callable[[str], object] | None:
        if self._mute:
            return None
        from callout.speaking import open_voice
        from callout.speaking.player import open_player

        self._player, why = open_player()
        if self._player is None:
            say(f"nothing can be played ({why})")
            return None
        self._voice = open_voice(play=False, folder=None)
        return self._play

    def __exit__(self, *_: object) -> None:
        if self._voice is not None:
            self._voice.close()
        if self._player is not None:
            self._player.close()

    def _play(self, text: str) -> None:
        sound = self._voice.render(text)
        if sound.path is not None:
            Path(sound.path).unlink(missing_ok=True)
        self._player.play(over_the_radio(sound.samples, sound.rate, self._snr, self._noise, self._rng.randrange(2**31)))


def over_the_radio(samples: NDArray[np.int16], rate: int, snr: float, noise: str, seed: int) -> NDArray[np.int16]:
    """16-bit sound of the voice through the simulated radio."""
    import numpy as np

    from callout.channel import simulate
    from callout.scoring.conditions import demo_voices

    speech = np.pad(samples / 32768.0, (rate // 2, rate // 2))
    voices = demo_voices() if noise == "babble" else None
    heard = simulate(speech, rate, snr, noise, seed=seed, voices=voices)
    return (heard * 32767).astype(np.int16)


def _show_mark(marked: Mark, as_json: bool) -> None:
    if as_json:
        emit(marked.to_json())
        return
    say(f"   {'right' if marked.right else 'NOT RIGHT'}, {marked.seconds:.1f} s: {marked.answer}")
    for advice in marked.advice:
        say(f"   {advice}")


def _show_round(result: dict[str, Any], as_json: bool) -> None:
    from callout.scoring.drill import SKILLS

    if as_json:
        emit(result)
        return
    click.echo(f"{result['name']}: {result['right']} of {result['n']} right, {result['seconds_each']:.1f} s each")
    for skill, figures in result["skills"].items():
        click.echo(f"  {skill.replace('_', '-'):<13} {figures['right']:>2} of {figures['n']:<3} {SKILLS[skill]}")


def _show_progress(rounds: list[dict[str, Any]], as_json: bool) -> None:
    if not rounds and not as_json:
        say("no rounds yet")
    for result in rounds:
        if as_json:
            emit(result)
        else:
            skills = ", ".join(f"{k.replace('_', '-')} {v['right']}/{v['n']}" for k, v in result["skills"].items())
            click.echo(f"{result['time'][:16].replace('T', ' ')}  {result['right']}/{result['n']}  {skills}")
