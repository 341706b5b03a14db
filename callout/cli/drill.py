"""`callout drill`: practice for people, in rounds of ten."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import click

from callout.channel import NOISES
from callout.cli.options import NumberWithin
from callout.console.output import emit, say
from callout.scoring.drill import Answers, spoken_answers, typed_answer
from callout.scoring.prompts import Speak, prompter

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from callout.scoring.drill import Exercise, MarkedAnswer, Round


@click.command()
@click.argument("name", default="trainee")
@click.option("--typed", is_flag=True, help="Answer on the keyboard, one line a task.")
@click.option("--key", is_flag=True, help="Answer by voice with Enter as the key of the radio, which is marked too.")
@click.option("--mute", is_flag=True, help="Nothing is spoken: only calls are asked for, from figures on the screen.")
@click.option("--task", "wanted", type=click.Choice(["both", "listen", "call"]), default="both", show_default=True)
@click.option("--rounds", type=click.IntRange(1, 100), default=1, show_default=True)
@click.option("--snr", type=NumberWithin(-10, 60), default=10.0, show_default=True, help="How bad the radio is, dB.")
@click.option("--noise", type=click.Choice(list(NOISES)), default="generator", show_default=True)
@click.option("--seed", type=int, help="The same number gives the same round.")
@click.option("--device", help="Part of the name of the microphone.")
@click.option("--progress", is_flag=True, help="Show the rounds so far, and stop.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a task, and one a round.")
def drill(
    name: str, typed: bool, key: bool, mute: bool, wanted: str, rounds: int, snr: float, noise: str, seed: int | None,
    device: str | None, progress: bool, as_json: bool,
) -> int:  # fmt: skip
    """Practise: NAME hears callouts over a bad radio and reads them back, and calls out figures in the right order.

    Rounds of ten. By voice alone (begin to speak; a second of quiet ends the answer), with --key as on a radio, or
    with --typed on the keyboard. After a round comes a plain result by skill: numbers, order of the callout,
    push-to-talk, twins. The rounds of each name are kept on this computer (in CALLOUT_DATA, or the system's place for
    such things). No network is needed.

    \b
    callout drill Kim
    callout drill Kim --typed --mute --seed 1
    callout drill Kim --progress
    """
    from callout.scoring.drill import PastRounds

    kept = PastRounds(name)
    if progress:
        _show_progress(kept.rounds(), as_json)
        return 0
    rng = random.Random(seed)
    with prompter(mute) as speak, _answers(typed, key, device) as answers, _bad_radio(mute, snr, noise, rng) as play:
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


def make_tasks(rng: random.Random, wanted: str, can_play: bool) -> Iterator[Exercise]:
    """Ten tasks; where nothing can be played, nothing can be listened to."""
    from callout.scoring.drill import ROUND, Exercise
    from callout.scoring.prompts import callout_prompts

    prompts = callout_prompts(rng)
    if wanted == "listen" and not can_play:
        say("nothing can be played here, so nothing can be listened to: calls are asked for instead")
    for number in range(ROUND):
        listens = can_play and (wanted == "listen" or (wanted == "both" and number % 2 == 0))
        yield Exercise("listen" if listens else "call", next(prompts))


def run_round(
    name: str, tasks: Iterator[Exercise], answers: Answers, speak: Speak,
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


def _answers(typed: bool, keyed: bool, device: str | None) -> AbstractContextManager[Answers]:
    if typed:
        return nullcontext(typed_answer)
    from callout.hearing.sources import Microphone

    return spoken_answers(lambda: Microphone(device), keyed, _wait_for_enter)


def _wait_for_enter(text: str) -> None:
    click.prompt(text, default="", show_default=False, prompt_suffix="", err=True)


@contextmanager
def _bad_radio(mute: bool, snr: float, noise: str, rng: random.Random) -> Iterator[Callable[[str], object] | None]:
    """Plays a callout as it comes over a bad radio; None in its place where nothing can be played."""
    if mute:
        yield None
        return
    from callout.speaking import open_voice
    from callout.speaking.player import open_player

    player, why = open_player()
    if player is None:
        say(f"nothing can be played ({why})")
        yield None
        return
    with TemporaryDirectory() as folder, closing(player), open_voice(play=False, folder=Path(folder)) as voice:

        def play(text: str) -> None:
            sound = voice.render(text)
            player.play(over_the_radio(sound.samples, sound.rate, snr, noise, rng.randrange(2**31)))

        yield play


def over_the_radio(samples: NDArray[np.int16], rate: int, snr: float, noise: str, seed: int) -> NDArray[np.int16]:
    """16-bit sound of the voice through the simulated radio."""
    import numpy as np

    from callout.channel import simulate
    from callout.scoring.conditions import babble_voices

    speech = np.pad(samples / 32768.0, (rate // 2, rate // 2))
    voices = babble_voices() if noise == "babble" else None
    heard = simulate(speech, rate, snr, noise, seed=seed, voices=voices)
    return (heard * 32767).astype(np.int16)


def _show_mark(marked: MarkedAnswer, as_json: bool) -> None:
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
