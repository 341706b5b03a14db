"""`callout score`: how often the ears are right on a folder of recordings."""

from __future__ import annotations

import contextlib
import functools
import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from callout import __version__
from callout.channel import NOISES
from callout.console.output import say
from callout.errors import BadInput

if TYPE_CHECKING:
    from callout.hearing.voices import KnownVoice
    from callout.scoring.run import Spread


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--init", is_flag=True, help="Write an example manifest into the folder, and stop.")
@click.option("--grammar", help="Narrow what may be heard to one grammar: digits.")
@click.option("--state", help="Narrow what may be heard to one state of the conversation (default: all).")
@click.option("--model", type=click.Path(path_type=Path), help="A Vosk model folder, or an installed recognizer.")
@click.option("--voices", metavar="CALLSIGN", help="Judge by a talker's own voice (see callout voices).")
@click.option(
    "--channel",
    "channels",
    multiple=True,
    help="Through the simulated radio: radio, late, mulaw, or a noise; clean is as recorded; may repeat.",
)
@click.option("--snr", "snrs", multiple=True, help="Noise levels in dB, as 20,10,5: gives a curve.")
@click.option("--noise", type=click.Choice(list(NOISES)), help="The noise of --snr.  [default: generator]")
@click.option("--repeat", type=click.IntRange(1, 1000), default=1, show_default=True, help="Seeds for every level.")
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=0, show_default=True, help="The first seed.")
@click.option("--compare", "other", type=click.Path(path_type=Path), help="A score.json to compare with, in pairs.")
@click.option("--shard", help="Only every n-th recording, as 2/8: a part of the work for each machine.")
@click.option("--merge", is_flag=True, help="Join the score.json of all shards, which are the arguments.")
@click.option("--out", type=click.Path(path_type=Path), help="Where score.json, score.html and junit.xml go.")
@click.option("--bundle", is_flag=True, help="score.html holds the sounds, too: one file to mail (12 MB of sound).")
@click.option("--jobs", type=click.IntRange(1, 512), help="Processes.  [default: one for each core]")
@click.option("--dask", "scheduler", metavar="ADDRESS", help="Spread the work over a Dask fleet, as tcp://HOST:8786.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
def score(
    paths: tuple[Path, ...], init: bool, grammar: str | None, state: str | None, model: Path | None,
    voices: str | None, channels: tuple[str, ...], snrs: tuple[str, ...], noise: str | None, repeat: int, seed: int,
    other: Path | None, shard: str | None, merge: bool, out: Path | None, bundle: bool, jobs: int | None,
    scheduler: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Score recordings: PATHS is one folder that holds a manifest of what was said in each file.

    The manifest (manifest.jsonl or manifest.csv) needs file and words; meaning, speaker, channel and noise are welcome.
    A recording is right when it is understood with an equal meaning; wrong accepted when understood with another;
    asked again when the program would ask; not heard otherwise. One with no words, or with meaning null, holds no
    callout: it is right when nothing is understood in it.

    \b
    callout score --init recordings            an example manifest
    callout score recordings --out result      score.json, score.html, junit.xml
    callout score recordings --channel jackhammer --snr 20,10,5 --repeat 3
    callout score recordings --compare last-week/score.json
    callout score recordings --voices kim --compare before/score.json
    callout score recordings --shard 1/2 --out a     (2/2 elsewhere), then
    callout score --merge a/score.json b/score.json --out both
    callout score /shared/recordings --dask tcp://10.0.0.5:8786

    A run that was stopped is taken up by the same command with the same --out.
    """
    from callout.scoring import evaluation
    from callout.scoring.conditions import conditions
    from callout.scoring.manifest import write_template
    from callout.scoring.report import merge_reports, read_report

    if bundle and (out is None or merge):
        raise BadInput("--bundle goes with --out and a folder of recordings; name where the page goes")
    if merge:
        report, files = merge_reports(list(paths))
        _deliver(evaluation.Scored(report, lambda: iter(files)), out, None, (), as_json)
        return 0
    if len(paths) != 1:
        raise BadInput("name one folder of recordings (several score.json files go with --merge)")
    folder = paths[0]
    if init:
        say(f"wrote {write_template(folder)}; put one line in it for each recording")
        return 0
    wanted = conditions(_channels(channels), _levels(snrs), noise, repeat, seed)
    try:
        with _fleet(scheduler) as spread, evaluation.score(
            folder if scheduler is None else folder.resolve(),
            wanted,
            state=_one_state(grammar, state),
            model=model,
            voice=_voice(voices, model),
            out=out,
            shard=_shard(shard),
            jobs=jobs or _cores(),
            other=(str(other), read_report(other)) if other else None,
            spread=spread,
        ) as scored:
            _deliver(scored, out, folder, wanted, as_json, bundle)
    except KeyboardInterrupt:
        if out is not None:
            say(f"\nstopped; the same command goes on from there ({out / evaluation.ROWS_NAME})")
        raise
    broken = scored.report["tally"]["broken"]
    return 2 if broken else 0  # a recording that is not there is no result


def _voice(name: str | None, model: Path | None) -> KnownVoice | None:
    from callout.hearing.voices import load_voice

    if name is not None and model is not None:
        raise BadInput("--voices is for the ears of the package; leave out --model")
    return None if name is None else load_voice(name)


@contextlib.contextmanager
def _fleet(address: str | None) -> Iterator[Spread | None]:
    if address is None:
        yield None
        return
    from callout.scoring.fleet import connected, over_workers

    with connected(address) as client:
        yield functools.partial(over_workers, client)


def _deliver(
    scored: Any, out: Path | None, folder: Path | None, wanted: Sequence[Any], as_json: bool, bundle: bool = False
) -> None:
    from callout.scoring.evaluation import check_out, write_files
    from callout.scoring.report import text_lines, write_report

    if out is not None:
        check_out(out, folder)
        options = " ".join(["callout", *sys.argv[1:]])
        for path in write_files(scored, out, folder, wanted, bundle=bundle, options=options, version=__version__):
            say(f"wrote {path}")
    if as_json:
        write_report(scored.report, scored.files(), sys.stdout)
    else:
        for line in text_lines(scored.report):
            click.echo(line)


def _one_state(grammar: str | None, state: str | None) -> str | None:
    """`--grammar digits` is a state that only scoring has; both options name an entry of the state table."""
    from callout.language.grammar import load

    if grammar and state:
        raise BadInput("give --grammar or --state, not both")
    name = grammar or state
    states = load().states
    if name is not None and name not in states:
        raise BadInput(f"{'--grammar' if grammar else '--state'} {name}: not known; it can be {', '.join(states)}")
    return name


def _channels(given: Sequence[str]) -> list[str]:
    from callout.scoring.conditions import CHANNELS

    names = [name.strip() for text in given for name in text.split(",") if name.strip()]
    for name in names:
        if name not in CHANNELS and name not in NOISES:
            raise BadInput(f"no channel {name!r}; there are {', '.join((*CHANNELS, *NOISES))}")
    return names


def _levels(given: Sequence[str]) -> list[float]:
    try:
        levels = [float(part) for text in given for part in text.split(",") if part.strip()]
    except ValueError:
        raise BadInput("--snr takes numbers of decibels, as 20,10,5") from None
    if any(not -40 <= level <= 80 for level in levels):
        raise BadInput("--snr takes levels from -40 to 80 dB")
    return levels


def _shard(text: str | None) -> tuple[int, int]:
    if text is None:
        return 1, 1
    part, slash, parts = text.partition("/")
    if not (slash and part.isdecimal() and parts.isdecimal() and 1 <= int(part) <= int(parts)):
        raise BadInput(f"--shard {text}: write it as 2/8, from 1/8 to 8/8")
    return int(part), int(parts)


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
