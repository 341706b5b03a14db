"""`callout record`: recordings of a team's own voices, to score the ears on."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from callout.api import known_state
from callout.console.output import emit, say
from callout.errors import BadInput
from callout.files import read_text
from callout.scoring.prompts import prompter

if TYPE_CHECKING:
    from callout.channel.level import Samples
    from callout.hearing.sources import SoundSource
    from callout.scoring.prompts import Prompt
    from callout.scoring.recording import Recordings

LICENCE = "CC0-1.0"


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("-n", "count", type=click.IntRange(1, 10_000), help="How many to say.  [default: 20; all with --voice]")
@click.option("--voice", metavar="CALLSIGN", help="Forty short sentences of one talker, for: callout voices learn.")
@click.option("--speaker", help="The name that stands in the manifest; a first name or a number will do.")
@click.option("--channel", default="", help="What was spoken into: handheld, desk, phone ...")
@click.option("--noise", default="", help="What was to be heard beside: yard, generator, quiet ...")
@click.option("--words", "wordlist", type=click.Path(path_type=Path), help="A text file with a sentence a line to say.")
@click.option("--state", help="Only sentences of one state of the conversation.")
@click.option("--seed", type=int, help="The same number asks for the same sentences.")
@click.option("--licence", help="What others may do with the recordings.  [asked for; Enter is CC0-1.0]")
@click.option("--consent", is_flag=True, help="The speaker has agreed to be recorded and was told what for.")
@click.option("--device", help="Part of the name of the microphone.")
@click.option("--mute", is_flag=True, help="Show the sentences, do not speak them.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a recording kept: the manifest's line.")
def record(
    folder: Path, count: int | None, voice: str | None, speaker: str | None, channel: str, noise: str,
    wordlist: Path | None, state: str | None, seed: int | None, licence: str | None, consent: bool, device: str | None,
    mute: bool, as_json: bool,
) -> int:  # fmt: skip
    """Record callouts one by one into FOLDER, with a manifest that `callout score` reads.

    Each sentence is shown and spoken. Enter begins, Enter ends; then the level is checked, and it is kept, said again
    or left out. What is there is never written over: the next recording adds to it.

    \b
    callout record voices --speaker Kim --channel handheld --noise generator
    callout score voices --out result

    With --voice one talker says forty short callouts and commands, five minutes, from which the ears learn how clear
    that talker is:

    \b
    callout record kim --voice kim --channel handheld
    callout voices learn kim --name kim
    """
    from callout.hearing.sources import Microphone
    from callout.scoring.recording import Recordings

    if voice is not None and (wordlist or state):
        raise BadInput("--voice has sentences of its own; leave out --words and --state")
    prompts = list(_prompts(wordlist, state, count or 20, seed)) if voice is None else _of_one_voice(count, seed)
    Microphone(device).close()  # say that there is none before anything is asked
    recordings = Recordings(folder)
    agreed = ask_consent(speaker or voice, licence, consent, folder)
    if agreed is None:
        say("nothing was recorded")
        return 0
    about = {**agreed, "channel": channel, "noise": noise}
    with prompter(mute) as speak:
        kept = run_session(recordings, prompts, about, lambda: Microphone(device), speak, as_json)
    then = f"callout voices learn {folder} --name {voice}" if voice else f"callout score {folder}"
    say(f"{kept} kept, {recordings.kept} in {folder}; go on with: {then}")
    return 0


def _of_one_voice(count: int | None, seed: int | None) -> list[Prompt]:
    from callout.scoring.prompts import voice_prompts

    return voice_prompts(random.Random(seed))[:count]


def _prompts(wordlist: Path | None, state: str | None, count: int, seed: int | None) -> Iterator[Prompt]:
    from callout.scoring.prompts import all_prompts, as_prompt

    if wordlist is None:
        yield from itertools.islice(all_prompts(random.Random(seed), known_state(state, "--state")), count)
        return
    lines = [" ".join(line.lower().split()) for line in read_text(wordlist).splitlines()]
    for line in filter(None, lines):
        prompt = as_prompt(line)
        if prompt is None:
            raise BadInput(f"{wordlist}: {line!r} means nothing here; try it with: callout read {line!r}")
        yield prompt


def ask_consent(speaker: str | None, licence: str | None, consent: bool, folder: Path) -> dict[str, str] | None:
    """Who speaks, under which licence, agreed when; None when the speaker does not agree."""
    speaker = speaker if speaker is not None else click.prompt("Who speaks", err=True)
    licence = licence or click.prompt("Licence of the recordings", default=LICENCE, err=True)
    question = (
        f"{speaker}: your voice is kept in {folder} under {licence}, to test and improve recognizers. Do you agree?"
    )
    if not consent and not click.confirm(question, default=False, err=True):
        return None
    return {
        "speaker": speaker,
        "licence": licence,
        "consent": datetime.now().astimezone().isoformat(timespec="seconds"),
    }


def run_session(
    recordings: Recordings, prompts: list[Prompt], about: dict[str, str], open_source: Callable[[], SoundSource],
    speak: Callable[[str], object], as_json: bool, ask: Callable[[str], str] | None = None,
) -> int:  # fmt: skip
    """Ask for every sentence; return how many were kept. `ask` shows a line and waits for one (Enter on a keyboard)."""
    from callout.scoring.recording import check_level

    ask = ask or _ask
    kept = 0
    for number, prompt in enumerate(prompts, 1):
        say(f"\n{number} of {len(prompts)}:   {prompt.text}" + (f"   ({prompt.figures})" if prompt.figures else ""))
        speak(prompt.text)
        while True:
            samples = _take(open_source, ask)
            check = check_level(samples)
            say(f"  {check.seconds:.1f} s, speech {check.level_db:.0f} dB, noise {check.floor_db:.0f} dB")
            for advice in check.advice:
                say(f"  {advice}")
            default = "k" if check.good else "r"
            answer = ask(f"  keep (k), repeat (r), leave out (s), quit (q) [{default}]: ").strip().lower() or default
            if answer == "k":
                details = {**about, "level_db": round(check.level_db, 1)}
                path = recordings.keep(samples, prompt.text, prompt.meaning, details)
                kept += 1
                if as_json:
                    emit({"file": path.name, "words": prompt.text, "meaning": prompt.meaning, **details})
            if answer in ("k", "s"):
                break
            if answer == "q":
                return kept
    return kept


def _take(open_source: Callable[[], SoundSource], ask: Callable[[str], str]) -> Samples:
    from callout.scoring.recording import record_until

    ask("  Enter, wait half a second, speak ")
    return record_until(open_source(), lambda: ask("  recording; Enter when done "))


def _ask(text: str) -> str:
    answer: str = click.prompt(text, default="", show_default=False, prompt_suffix="", err=True)
    return answer
