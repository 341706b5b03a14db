"""`callout check --practice`: the loudspeaker, the radio, the microphone and one practice callout, step by step."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path

import click

from callout.console.output import emit, level_bar, say
from callout.console.typed_input import next_line
from callout.errors import BadInput, CalloutError
from callout.hearing.ears import Ears
from callout.hearing.sources import FileSource, Microphone, SoundSource, recorded
from callout.session.first_try import FIGURES, FirstTry, RadioLevel, next_utterance, speech_level, tried, typed
from callout.session.radio_check import try_radio
from callout.speaking import open_voice

#: Seconds: for speaking at the bar, and for beginning the callout.
SPEAK, WAIT = 5.0, 30.0
TRIES = 3


#: The radio's output and input; None for the one that the system has.
Radio = tuple[str | None, str | None]


def walk(
    as_json: bool, out: str | None, into: str | None, recording: Path | None, by_typing: bool,
    radio: Radio | None = None,
) -> int:  # fmt: skip
    """Exit code 0 when the practice callout was taken as it was shown, and the radio, where it was tried, is good."""
    if recording is not None and by_typing:
        raise BadInput("--from and --typed do not go together; leave one out")
    if (recording or by_typing) and (out or into):
        raise BadInput("--out and --in need a microphone; leave out --from or --typed")
    if by_typing:
        result = _typed()
    elif recording is not None:
        with contextlib.closing(FileSource(recording)) as source, contextlib.closing(Ears()) as ears:
            result = _called(source, ears)
    else:
        result = _spoken(out, into, radio)
    if as_json:
        emit(result.model_dump(mode="json"))
    else:
        show(result)
    return 0 if result.as_wanted and (result.radio is None or result.radio.good) else 1


def _typed() -> FirstTry:
    say(f"type this callout in words: {FIGURES}")
    line = next_line()
    if not line.strip():
        raise BadInput("nothing was typed; type a callout such as: insertion eleven feet sixty")
    return typed(line)


def _spoken(out: str | None, into: str | None, radio: Radio | None) -> FirstTry:
    """With a microphone: three steps, four with a radio, the last as often as it takes, three times at most."""
    steps = 3 if radio is None else 4
    say(f"1 of {steps}: the loudspeaker")
    _speak("radio check", out)
    say("  it said: radio check. Did you hear it? If not: turn it up, or name another with --out")
    tone = None
    if radio is not None:
        say(f"2 of {steps}: the radio. A tone of 3 s goes out; what comes in:")
        tone = RadioLevel.of(try_radio(*radio, shown=level_bar))
        say(f"  the tone comes in at {tone.tone_db:.0f} dB, the channel at {tone.noise_db:.0f} dB: {tone.advice}")
    with contextlib.closing(Ears()) as ears:
        microphone = Microphone(into)
        with contextlib.closing(microphone):
            say(f"{steps - 1} of {steps}: the microphone. Speak for {SPEAK:.0f} seconds, as you will at work")
            microphone.skip()
            level = speech_level(recorded(microphone, SPEAK, level_bar))
            say(f"  you come in at {level.speech_db:.0f} dB, the place at {level.place_db:.0f} dB: {level.advice}")
            for left in range(TRIES - 1, -1, -1):
                say(f"{steps} of {steps}: a practice callout. After the words call now, say in words: {FIGURES}")
                _speak("call now", out)
                microphone.skip()
                result = _called(microphone, ears).model_copy(update={"radio": tone})
                if result.as_wanted or not left:
                    return result
                show(result, say)
    raise AssertionError("the last try always returns")


def _called(source: SoundSource, ears: Ears) -> FirstTry:
    samples = next_utterance(source, ears, WAIT)
    if samples is None:
        raise CalloutError(f"nobody spoke within {WAIT:.0f} s; choose another microphone with --in, and try again")
    return tried(samples, ears)


def _speak(text: str, out: str | None) -> None:
    with contextlib.closing(open_voice(device=out)) as voice:
        path = voice.say(text, wait=True)
        if path is not None:
            say(f"  no loudspeaker: it went to {path}")


def show(result: FirstTry, tell: Callable[[str], object] = click.echo) -> None:
    """What a person reads after a try."""
    if result.level is not None:
        tell(f"first ear      {result.first_ear or '(nothing)'}")
        tell(f"second ear     {result.second_ear or '(nothing)'}")
        tell(f"third opinion  {result.third_opinion or '(not asked)'}")
        tell(f"your level     {result.level.speech_db:.0f} dB: {result.level.advice}")
    tell(f"outcome        {result.outcome.replace('_', ' ')}")
    if result.readback:
        tell(f"read back      {result.readback}")
    for reason in result.reasons:
        tell(f"because        {reason}")
    tell(result.advice)
