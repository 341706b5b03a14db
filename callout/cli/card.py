"""`callout card`, `callout sample`, `callout words`: the language for people, from the grammar itself."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import click

from callout.api import known_state
from callout.console.output import emit, say
from callout.errors import BadInput
from callout.files import whole_file
from callout.hearing.vocabulary import TEACH_THE_EAR, unheard_words
from callout.language import cribsheet, grammar, own_words, pronunciation, teaching
from callout.language.automaton import next_words
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.scoring.prompts import prompter
from callout.values import Callout, Meaning, meaning_json


@click.command()
@click.option("--html", "page", type=click.Path(dir_okay=False, path_type=Path), help="Write a page to print.")
@click.option("--state", help="Only what may be said in this state of the conversation.")
def card(page: Path | None, state: str | None) -> None:
    """Print the crib sheet: every callout and every word on one page.

    \b
    callout card                    on the screen
    callout card --html card.html   a page to print, big enough for gloves and arm's length
    """
    if state is not None:
        known_state(state, "--state")
        click.echo("\n".join(cribsheet.help_lines(state)))
        return
    if page is None:
        click.echo(cribsheet.as_text(unheard_words()))
        return
    try:
        with whole_file(page) as file:
            file.write(cribsheet.as_html(unheard_words()))
    except OSError as wrong:
        raise BadInput(f"cannot write {page}: {wrong.strerror}; name a file in a folder that is there") from None
    say(f"wrote {page}")


@click.command()
@click.option("-n", "count", default=10, show_default=True, type=click.IntRange(1, 100_000), help="How many.")
@click.option("--state", help="Only what may be said in this state (callout words lists them).")
@click.option("--seed", type=int, help="The same number gives the same sentences.")
@click.option("--aloud", is_flag=True, help="Speak them too, one after another.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a sentence: words and meaning.")
def sample(count: int, state: str | None, seed: int | None, aloud: bool, as_json: bool) -> None:
    """Print random callouts, one a line: for practice, for recordings, for tests. With --state, whatever may be said
    in that state: half callouts, corrections, commands, lines about the stock.

    \b
    callout sample -n 50
    callout sample -n 5 --aloud
    callout sample --state walk --seed 3 --json
    """
    known_state(state, "--state")
    rng = random.Random(seed)
    with prompter(mute=not aloud) as speak:
        for result in islice(_understood(rng, state), count):
            line = " ".join(result.words)
            if as_json:
                emit({"words": line, "meaning": meaning_json(result.meaning)})
            else:
                click.echo(line)
            speak(line)


def _understood(rng: random.Random, state: str | None) -> Iterator[Understood]:
    """Random sentences without end that are understood: whole callouts, or all that a state has."""
    while True:
        (sentence,) = grammar.load().sample(rng, 1, state)
        result = resolve_text(" ".join(sentence), Context(state=state))
        if isinstance(result, Understood) and (state is not None or _is_whole(result.meaning)):
            yield result


def _is_whole(meaning: Meaning) -> bool:
    return isinstance(meaning, Callout) and not meaning.missing


@click.command()
@click.option("--check", is_flag=True, help="Look for words that cannot be told apart, or not be heard; exit code 1.")
@click.option("--teach", nargs=2, metavar="PHRASE COMMAND", help="Add a team's own way to say a command.")
@click.option("--after", help="Only the words that may follow these: callout words --after 'insertion eleven'.")
@click.option("--ways", metavar="COMMAND", help="All ways to say a command: by voice, or typed only.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a word.")
@click.pass_context
def words(
    ctx: click.Context, check: bool, teach: tuple[str, str] | None, after: str | None, ways: str | None, as_json: bool
) -> None:
    """List the words of the language: where each is used, how it sounds, which are near twins.

    With --check, every word must have a pronunciation, no two phrases that mean different things may sound alike
    (unless the pair is listed in grammars/twins.toml, where the readback takes care of it), and both ears must know
    every word. The exit code is 0 when all is well, 1 when something must be mended.

    \b
    callout words --teach "we lack two" short     the team's folder gets the line; taken when typed
    callout words --ways short
    """
    if teach:
        file, line = teaching.teach(*teach)
        say(f"{file}: {line}")
        heard = own_words.may_be_heard(teach[0])
        say(f"taken when typed; {'heard from the next start' if heard else 'the ears do not know it'}")
        return
    if ways is not None:
        click.echo("\n".join(_ways(ways)))
        return
    if check:
        faults = [*cribsheet.sound_faults(), *_unheard_faults()]
        for fault in faults:
            click.echo(fault)
        say("all words can be told apart" if not faults else f"{len(faults)} to mend")
        ctx.exit(1 if faults else 0)
    _list_words(None if after is None else set(next_words(after.lower().split())), as_json)


def _unheard_faults() -> list[str]:
    return [f'"{word}" is not known to one ear: with it, what moves something is typed; to mend: {TEACH_THE_EAR}'
            for word in unheard_words()]  # fmt: skip


def _ways(name: str) -> list[str]:
    """The lines of grammar by which a command is said, and which of them the ears know."""
    row = command_row(name)
    lines = [
        ("by voice", row.spoken), ("by voice, where nothing waits", row.spoken_unless_asked), ("typed only", row.typed),
        ("typed only, where nothing waits", row.unless_asked), ("typed only, the team's own", row.taught),
    ]  # fmt: skip
    card = [f"by voice: {row.card[0]}"] if row.card is not None else []
    return [*card, *(f"{how}: {line}" for how, found in lines for line in found)]


def _list_words(follow: set[str] | None, as_json: bool) -> None:
    for row in cribsheet.vocabulary():
        if follow is not None and row["word"] not in follow:
            continue
        if as_json:
            emit(row)
        else:
            twins = f"   (near twin: {', '.join(row['twins'])})" if row["twins"] else ""
            click.echo(f"{row['word']:<16} {', '.join(row['rules'])}{twins}")
    if not as_json and follow is None:
        click.echo("\nNear twins")
        for twin in pronunciation.twins():
            click.echo(f"  {twin.one} / {twin.other}: {twin.why}")
        click.echo("\nStates")
        for name, state in grammar.load().states.items():
            click.echo(f"  {name}: {state.title}")
