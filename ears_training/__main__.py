"""`python -m ears_training STEP`: the steps from texts to model files, in the order of docs/training.md."""

import sys
from pathlib import Path
from typing import TextIO

import click

from callout.errors import BadInput, CalloutError


@click.group(help=__doc__)
def steps() -> None:
    pass


@steps.command("text")
@click.argument("count", type=int)
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--seed", default=1, help="Another seed gives other sentences.")
def text(count: int, out: Path, seed: int) -> None:
    """Draw COUNT sentences with their phone labels into OUT.jsonl (needs hibari-tts and wordfreq)."""
    from ears_training.synth import draw, write_lines

    click.echo(f"{write_lines(draw(count, seed), out)} sentences", err=True)


@steps.command("say")
@click.argument("lines", type=click.Path(exists=True, path_type=Path))
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--seed", default=1)
def say(lines: Path, out: Path, seed: int) -> None:
    """Say LINES in the installed voices of data/voices.toml; writes the pack OUT.opus and OUT.json."""
    from ears_training.packs import write_pack
    from ears_training.synth import read_lines, said

    click.echo(f"{write_pack(out, said(read_lines(lines), seed)):.2f} hours", err=True)


@steps.command("kokoro")
@click.argument("lines", type=click.Path(exists=True, path_type=Path))
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--processes", default=4, help="One thread each.")
@click.option("--minutes", default=10.0, help="Stop after this long.")
@click.option("--seed", default=1)
def kokoro(lines: Path, out: Path, processes: int, minutes: float, seed: int) -> None:
    """Say LINES in random mixtures of the Kokoro voices; writes packs into the folder OUT (set CALLOUT_KOKORO)."""
    from ears_training.synth import kokoro_packs, read_lines

    hours = kokoro_packs(read_lines(lines), out, processes, minutes * 60, seed)
    click.echo(f"{hours:.2f} hours", err=True)


@steps.command("gather")
@click.argument("tables", type=click.Path(exists=True, path_type=Path))
@click.argument("out", type=click.Path(path_type=Path))
def gather_kokoro(tables: Path, out: Path) -> None:
    """Put the Kokoro model and the style tables of the folder TABLES into one folder, for CALLOUT_KOKORO."""
    from ears_training.kokoro import gather

    gather(tables, out)


@steps.command("kit")
@click.argument("name")
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--digits", type=click.Path(exists=True, path_type=Path), help="people: a folder of single digits.")
@click.option("--prompts", type=click.Path(exists=True, path_type=Path), help="people: the prompts' folder digits/.")
@click.option("--pack", type=click.Path(path_type=Path), help="learners: the pack, without its ending.")
@click.option(
    "--only", type=click.File(encoding="utf-8"), help="Speak only the files named here, one a line; the list has all."
)
def kit(
    name: str, out: Path, digits: Path | None, prompts: Path | None, pack: Path | None, only: TextIO | None
) -> None:  # fmt: skip
    """Make the test recordings NAME in OUT: a kit of data/kits.toml, or people or learners (they spoke the numbers)."""
    from ears_training import people
    from ears_training.kit import build

    if name == "people":
        if digits is None or prompts is None:
            raise BadInput("the kit people needs --digits FOLDER and --prompts FOLDER (docs/training.md)")
        made = people.build_people(digits, prompts, out)
    elif name == "learners":
        if pack is None:
            raise BadInput("the kit learners needs --pack PACK (docs/training.md)")
        made = people.build_learners(pack, out)
    else:
        made = build(name, out, only=frozenset(only.read().split()) if only else None)
    click.echo(f"{made} recordings", err=True)


@steps.command("cut")
@click.argument("folder", type=click.Path(exists=True, path_type=Path))
def cut(folder: Path) -> None:
    """Find the words of ours in each pack of FOLDER with the encoder ear; writes X.cuts beside X.json, for --laid."""
    from callout.hearing.ears import WEIGHTS
    from callout.hearing.encoder import EncoderEar
    from ears_training.packs import pack_files
    from ears_training.wordbank import cut_pack

    ear = EncoderEar(WEIGHTS / "encoder.onnx")
    for listing, audio in pack_files(folder):
        click.echo(f"{listing.stem}: {cut_pack(listing, audio, ear.scores)} words", err=True)


@steps.command("fit")
@click.argument("kind", type=click.Choice(["encoder", "tdnn"]))
@click.option("--corpus", multiple=True, required=True, type=click.Path(exists=True, path_type=Path))
@click.option("--checkpoint", required=True, type=click.Path(path_type=Path), help="Resumed when it exists.")
@click.option("--minutes", default=10.0, help="How long this piece may take.")
@click.option("--total", default=20.0, help="Minutes over which the learning rate falls to nought.")
@click.option("--start", type=click.Path(exists=True, path_type=Path), help="A checkpoint, or Whisper's model.bin.")
@click.option("--seed", default=0)
@click.option("--seconds", default=640.0, help="Buffers a step; fewer for a small GPU.")
@click.option("--pace", default=1.0, help="Factor on the learning rates; 0.4 when starting from trained weights.")
@click.option("--noises", default=440, help="Noises in the bank.")
@click.option("--laid", default=0, help="Callouts to lay out of the corpus's words (after `cut`).")
@click.option("--layers", default=4, help="How many of a Whisper's layers to start from.")
@click.option("--contrast", default=0.2, help="Weight of choosing a sentence among its rivals; 0 for CTC alone.")
@click.option("--smoothing", default=0.0, help="Weight of label smoothing.")
@click.option("--tight", default=0.18, help="Share of the utterances that are heard once more an epoch, cut tight.")
@click.option("--revoiced", default=0.3, help="Share of the speech that gets another voice: whisper, buzz, breath.")
def fit_ear(
    kind: str, corpus: tuple[Path, ...], checkpoint: Path, minutes: float, total: float, start: Path | None,
    seed: int, seconds: float, pace: float, noises: int, laid: int, layers: int,
    contrast: float, smoothing: float, tight: float, revoiced: float,
) -> None:  # fmt: skip
    """Train one ear; prints a line of JSON now and then."""
    from ears_training.fit import Plan, fit

    fit(
        Plan(
            kind,
            corpus,
            checkpoint,
            minutes,
            total,
            start,
            seed=seed,
            seconds=seconds,
            pace=pace,
            noises=noises,
            laid=laid,
            layers=layers,
            contrast=contrast,
            smoothing=smoothing,
            tight=tight,
            revoiced=revoiced,
        )
    )


@steps.command("export")
@click.argument("kind", type=click.Choice(["encoder", "tdnn"]))
@click.argument("checkpoints", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.argument("out", type=click.Path(path_type=Path))
def export(kind: str, checkpoints: tuple[Path, ...], out: Path) -> None:
    """Write encoder.onnx (OUT is the file) or am/ and conf/ (OUT is the Vosk folder); averages checkpoints."""
    from ears_training.ear import averaged

    net = averaged(kind, checkpoints)
    if kind == "encoder":
        from ears_training.export_onnx import export_encoder

        click.echo(export_encoder(net, out), err=True)
    else:
        from ears_training.export_kaldi import export_tdnn, layers_of

        click.echo(f"{export_tdnn(layers_of(net), out)} bytes", err=True)


@steps.command("opinion")
@click.argument("model", type=click.Path(exists=True, path_type=Path))
@click.argument("out", type=click.Path(path_type=Path))
def opinion(model: Path, out: Path) -> None:
    """Write the third opinion's graphs and tokens for the words of the grammar: MODEL holds a Whisper's model.bin and
    tokenizer.json, OUT is weights/opinion."""
    from ears_training.export_opinion import export_opinion
    from ears_training.opinion_words import grammar_words

    sizes = export_opinion(model, grammar_words(), out)
    click.echo(", ".join(f"{name} {size} bytes" for name, size in sizes.items()), err=True)


@steps.command("opinion-words")
@click.argument("model", type=click.Path(exists=True, path_type=Path))
@click.argument("out", type=click.Path(exists=True, path_type=Path))
def opinion_words(model: Path, out: Path) -> None:
    """Write the third opinion's tokens anew in OUT after a change of the grammar's words; without torch."""
    from ears_training.opinion_words import grammar_words, renew_words

    click.echo(f"{renew_words(model, grammar_words(), out)} tokens", err=True)


@steps.command("blank")
@click.argument("model", type=click.Path(exists=True, path_type=Path))
@click.option("--less", default=1.0, help="Nats to take off.")
def blank(model: Path, less: float) -> None:
    """Make the blank of MODEL (a Vosk folder's am/final.mdl) less likely; not twice on one file."""
    from ears_training.export_kaldi import lower_blank

    click.echo(f"the blank's bias is now {lower_blank(model, less):.3f}", err=True)


@steps.command("card")
@click.argument("kind", type=click.Choice(["encoder", "tdnn"]))
@click.argument("log", type=click.Path(exists=True, path_type=Path))
@click.argument("notes", type=click.Path(exists=True, path_type=Path))
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--corpus", multiple=True, required=True, type=click.Path(exists=True, path_type=Path))
def card(kind: str, log: Path, notes: Path, out: Path, corpus: tuple[Path, ...]) -> None:
    """Write a model card from fit's LOG, the NOTES (TOML) and the corpus."""
    from ears_training.card import voices_of, write_card
    from ears_training.corpus import load

    write_card(kind, log, voices_of(load(corpus)), notes, out)


def main() -> None:
    """Run a step; a broken set-up is one line on stderr."""
    try:
        steps(prog_name="python -m ears_training")
    except CalloutError as wrong:
        click.echo(f"ears_training: {wrong}", err=True)
        sys.exit(wrong.exit_code)
    except ModuleNotFoundError as missing:
        click.echo(
            f"ears_training: {missing.name} is missing; pip install 'callout[training]' (docs/training.md)", err=True
        )
        sys.exit(1)


if __name__ == "__main__":
    main()
