"""`callout radio`: a recording as it would come over a voice radio."""

from __future__ import annotations

from pathlib import Path

import click

from callout.channel import NOISES, simulate
from callout.cli.options import NumberWithin
from callout.console.output import emit, say
from callout.errors import BadInput

RATE = 16_000


@click.command()
@click.argument("source", type=click.Path(path_type=Path))
@click.argument("target", type=click.Path(path_type=Path))
@click.option("--snr", type=NumberWithin(-40, 80), help="Noise at the microphone, dB under the speech.")
@click.option("--noise", type=click.Choice(list(NOISES)), default="generator", show_default=True)
@click.option("--late", type=NumberWithin(0, 5000), default=0.0, help="Milliseconds of speech a late key loses.")
@click.option("--mulaw", is_flag=True, help="Through an 8 kHz mu-law line (ITU-T G.711) as well.")
@click.option("--boost", type=NumberWithin(0, 30), default=6.0, show_default=True, help="Gain in pauses, dB.")
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=0, show_default=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON object: file, seconds, and the settings.")
def radio(
    source: Path, target: Path, snr: float | None, noise: str, late: float, mulaw: bool, boost: float, seed: int,
    as_json: bool,
) -> int:  # fmt: skip
    """Send a recording through a simulated voice radio: SOURCE in, TARGET out (wav or flac, 16 kHz).

    Noise at the microphone, a late key, automatic gain and clipping, the 300-3400 Hz band, hiss, and the squelch tail.
    Without --snr the talker stands in a quiet place. The same seed gives the same sound.

    \b
    callout radio clear.wav yard.wav --snr 10 --noise jackhammer
    callout radio clear.wav late.wav --late 150
    """
    import soundfile

    from callout.hearing.audio import read_audio
    from callout.scoring.conditions import babble_voices

    if target.suffix.lower() not in (".wav", ".flac"):
        raise BadInput(f"{target}: end the name of the output in .wav or .flac")
    if target.exists() and source.exists() and target.samefile(source):
        raise BadInput(f"{target}: is the recording itself; name another output")
    samples = read_audio(source)
    voices = babble_voices() if noise == "babble" and snr is not None else None
    heard = simulate(samples, RATE, snr, noise, late, mulaw, seed, boost_db=boost, voices=voices)
    part = target.with_name(target.name + ".part")
    try:
        soundfile.write(part, heard, RATE, format=target.suffix[1:].upper(), subtype="PCM_16")
        part.replace(target)
    except (OSError, soundfile.LibsndfileError) as failed:
        part.unlink(missing_ok=True)
        raise BadInput(f"{target}: cannot be written; name another output") from failed
    seconds = len(heard) / RATE
    if as_json:
        settings = {"snr_db": snr, "noise": noise if snr is not None else None, "late_ms": late, "mulaw": mulaw}
        emit({"file": str(target), "seconds": seconds, **settings, "boost_db": boost, "seed": seed})
    else:
        say(f"{target}: {seconds:.1f} s")
    return 0
