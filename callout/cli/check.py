"""`callout check`: what is ready, what is missing, and the command that mends it."""

from __future__ import annotations

from pathlib import Path

import click

from callout.console.output import emit, level_bar, say
from callout.errors import BadInput
from callout.session import readiness


@click.command()
@click.option("--json", "as_json", is_flag=True, help="One JSON object (schema: callout schema check).")
@click.option("--stock", type=click.Path(path_type=Path), metavar="FILE",
              help="Instead: what this stock can and cannot build, as callout stock FILE says it.")
@click.option("--radio", is_flag=True, help="Instead: play a tone, show the level coming in, say what to turn.")
@click.option("--practice", is_flag=True, help="Instead: loudspeaker, microphone and one callout, step by step.")
@click.option("--out", metavar="DEVICE", help="With --radio or --practice: the output that plays.")
@click.option("--in", "into", metavar="DEVICE", help="With --radio or --practice: the input that hears.")
@click.option("--radio-out", metavar="DEVICE", help="With --practice: the output into a radio, to try it too.")
@click.option("--radio-in", metavar="DEVICE", help="With --practice: the input that hears the radio.")
@click.option("--from", "recording", type=click.Path(path_type=Path), help="With --practice: say it by a recording.")
@click.option("--typed", is_flag=True, help="With --practice: say it by one line of standard input.")
def check(
    as_json: bool, stock: Path | None, radio: bool, practice: bool, out: str | None, into: str | None,
    radio_out: str | None, radio_in: str | None, recording: Path | None, typed: bool,
) -> int:  # fmt: skip
    """Say what is ready and what is missing, each with what mends it.

    \b
    callout check                     every part that the main job needs, tried
    callout check --stock yard.toml   what can be built from it, and which names nobody can say or hear
    callout check --radio             a tone out, its level coming in, and what to turn
    callout check --practice          walks you through: do you hear it, how loud are you, and one practice callout
    callout check --practice --radio-out "radio line" --radio-in "radio line"     the same with the radio

    Stock and journal are those that callout listen would use (callout config). Each ear hears a recording and the voice
    speaks a sentence into a file. Exit code 0 only when the main job (hear, read back, plan, speak to a file) can run.
    Sound in and out are reported and not required: recordings, typed words and WAV files do without.
    """
    if practice and radio:
        raise BadInput("--practice and --radio are two different walks; leave one out")
    if (recording or typed) and not practice:
        raise BadInput("--from and --typed go with --practice; add it, or leave them out")
    if (radio_out or radio_in) and (not practice or recording or typed):
        raise BadInput("--radio-out and --radio-in go with --practice and a microphone; the radio alone: --radio")
    if stock is not None:
        if radio or practice or out or into:
            raise BadInput("--stock is a check of its own; leave --radio, --practice, --out and --in out")
        from callout.cli.stock import show_report

        show_report(stock, as_json)
        return 0
    if practice:
        from callout.cli.practice import walk

        return walk(as_json, out, into, recording, typed, (radio_out, radio_in) if radio_out or radio_in else None)
    if radio:
        return _radio(as_json, out, into)
    if out or into:
        raise BadInput("--out and --in go with --radio or --practice; add one, or leave them out")
    report = readiness.check(before=lambda name: say(f"checking {name} ..."))
    if as_json:
        emit(report.model_dump(mode="json"))
    else:
        for finding in report.findings:
            mark = "ready  " if finding.ready else ("MISSING" if finding.needed else "absent ")
            click.echo(f"{mark}  {finding.name}: {finding.detail}")
            if finding.mend:
                click.echo(f"         to mend: {finding.mend}")
        click.echo("ready to work" if report.ready else "not ready: mend what is marked MISSING")
    return 0 if report.ready else 1


def _radio(as_json: bool, out: str | None, into: str | None) -> int:
    """Whoever turns the knobs looks at the bar meanwhile. Exit code 0 when nothing needs turning."""
    from callout.session.first_try import RadioLevel
    from callout.session.radio_check import try_radio

    say("a tone of 3 s goes out; what comes in:")
    level = RadioLevel.of(try_radio(out, into, shown=None if as_json else level_bar))
    if as_json:
        emit(level.model_dump(mode="json"))
    else:
        click.echo(f"the tone comes in at {level.tone_db:.0f} dB, the channel without it at {level.noise_db:.0f} dB")
        click.echo(level.advice)
    return 0 if level.good else 1
