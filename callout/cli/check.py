"""`callout check`: what is ready, what is missing, and the command that mends it."""

from __future__ import annotations

import click

from callout.console.output import emit, say
from callout.session import readiness


@click.command()
@click.option("--json", "as_json", is_flag=True, help="One JSON object (schema: callout schema check).")
def check(as_json: bool) -> int:
    """Say what is ready and what is missing, each with what mends it.

    Each ear hears a recording and the voice speaks a sentence into a file. Exit code 0 only when the main job (hear,
    read back, plan, speak to a file) can run. Sound in and out are reported and not required: recordings, typed words
    and WAV files do without.
    """
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
