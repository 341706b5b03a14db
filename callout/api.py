"""The front door: what `import callout` offers. The commands are thin over it, and so can your program be.

Nothing here prints, asks or exits. What a person said is a result with reasons, never an exception; a set-up that
cannot work is a `CalloutError`, a file or figure that cannot be used a `BadInput`: one line that says what to do next.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias, Union

from callout.errors import BadInput
from callout.language.context import Context
from callout.language.outcome import Resolution
from callout.values import Callout, Length
from callout.values.length import written_length

if TYPE_CHECKING:
    from callout.dialogue.board import Board
    from callout.dialogue.records import Record
    from callout.hearing.ears import Heard
    from callout.session.open_ears import Sound
    from callout.session.readiness import Report
    from callout.shoring.build import Build
    from callout.shoring.sizeup import Sized
    from callout.shoring.stock import Stock

#: A stock: a file of a team, one that was read before, or None for the invented stock of the package.
StockLike: TypeAlias = Union["str | Path | Stock | None"]


def read(text: str, *, state: str | None = None) -> Resolution:
    """What a typed line means, by the same path as speech. `state` narrows it to what may be said in one state of the
    conversation ("idle", "confirm", "walk" ...).

    The result is one of five outcomes, each with `outcome`, `meaning`, `words`, `parts` and `reasons`:

    Examples:
        >>> import callout
        >>> result = callout.read("insertion eleven feet sixty")
        >>> result.outcome, result.meaning.insertion.text, result.meaning.angle_deg
        ('understood', '11 ft', 60)
        >>> callout.read("correction twelve feet").meaning.command
        'correction'
        >>> callout.read("").outcome
        'nothing'

    Raises `BadInput` for a state that there is not.
    """
    from callout.language.resolve import resolve_text

    return resolve_text(text, Context(state=known_state(state)))


def known_state(name: str | None, asked_by: str = "state") -> str | None:
    """`name`, if it is one of the conversation's states (or None). Raises BadInput, which lists them."""
    from callout.language import grammar

    states = grammar.load().states
    if name is not None and name not in states:
        raise BadInput(f"{asked_by} {name}: not known; it can be one of: {', '.join(states)}")
    return name


def hear(
    sound: Sound, *, rate: int = 16_000, state: str | None = None, model: str | Path | None = None,
    voices: str | None = None,
) -> Heard:  # fmt: skip
    """What a recording of one utterance means: `resolution` as from `read`, `readings` (what was heard, best first),
    `confidence`, `seconds`.

    `sound` is a file (wav, flac, ogg or mp3, up to 60 s), or samples at `rate` Hz: floats within -1 to 1, or integers
    of 16 bits; mono, or (frames, channels). `model` is a Vosk model folder to hear with instead of the two ears.
    `voices` is the callsign of a talker to judge by (`callout voices`); the ears of the package only.

    The ears are opened at the first call (about half a second), and stay open until the program ends. They hear one
    utterance at a time, whoever asks.

    Examples:
        >>> import callout
        >>> heard = callout.hear("audio_fixtures/demo/whole_clean.flac")
        >>> heard.resolution.outcome, heard.readings[0]
        ('understood', ('insertion', 'eleven', 'feet', 'sixty'))

    Raises `BadInput` for a file that is no recording of one utterance or a voice that is not kept,
    `CalloutError` where an ear is missing.
    """
    from callout.session.open_ears import hear_samples, samples_of

    samples, context = samples_of(sound, rate), Context(state=known_state(state))
    return hear_samples(samples, context, None if model is None else Path(model), voices)


def length(value: str | Length) -> Length:
    """A length as it stands in a data file ("11 ft 6 1/2 in", "3.35 m"), or as it is said or typed ("eleven feet six").

    Examples:
        >>> from callout.api import length
        >>> length("eleven feet six") == length("11 ft 6 in") == length("11' 6\\"")
        True

    Raises `BadInput` for anything else.
    """
    if isinstance(value, Length):
        return value
    try:
        return written_length(value)
    except ValueError as wrong:
        from callout.language.resolve import resolve_text

        said = resolve_text(f"insertion {value}").meaning
        if isinstance(said, Callout) and said.insertion is not None and set(said.said) == {"insertion"}:
            return said.insertion
        raise BadInput(str(wrong)) from None


def plan(
    insertion: str | Length, angle: int | None = None, *, stock: StockLike = None, rules: str | Path | None = None,
    earlier: Iterable[Build] = (), **said: Any,
) -> Build:  # fmt: skip
    """One shore worked out from the stock: parts, cuts, steps, checks, and what is missing. Never an approval.

    `said` are the other parts of a callout (kind, sole, rakers, spacing, wall_height, lean, ground, position ...) and
    what is known of the place (wall, soil, curb, span, load_lb ...), by the names of `callout.values.Callout` and
    `callout.shoring.request.Site`; lengths as text or as `Length`. Builds of `earlier` keep the pieces that they were
    promised. `rules` is a file with a team's own figures.

    Examples:
        >>> import callout
        >>> build = callout.plan("11 ft", 60)
        >>> build.missing
        ()
        >>> build.parts[0].name
        'eight foot strut'
        >>> later = callout.plan("11 ft", 60, rakers=2, earlier=[build])
        >>> later.build_id
        2

    Raises `BadInput` for a figure, stock or rules that cannot be used. What a stock cannot do stands in `missing`.
    """
    return plan_moving(None, insertion, angle, stock=stock, rules=rules, earlier=earlier, **said)[0]


def plan_moving(
    move: str | None, insertion: str | Length, angle: int | None = None, *, stock: StockLike = None,
    rules: str | Path | None = None, earlier: Iterable[Build] = (), **said: Any,
) -> list[Build]:  # fmt: skip
    """As `plan`; with `move` ("2 eight foot strut", "2 eight foot strut from 1") pieces of an earlier build go to the
    new one. -> the new build, and the one that gave.
    """
    from pydantic import ValidationError

    from callout.shoring.earlier import asked, ledger_of, moved
    from callout.shoring.plan import ShorePlanner
    from callout.shoring.request import Site
    from callout.shoring.rules import team_rules

    wanted = None if move is None else asked(move)
    fields = {"insertion": length(insertion), "angle_deg": angle, **said}
    called = {name: _figure(name, value) for name, value in fields.items() if name in Callout.model_fields}
    place = {name: _figure(name, value) for name, value in fields.items() if name not in Callout.model_fields}
    try:
        request, site = Callout.model_validate(called), Site.model_validate(place)
    except ValidationError as wrong:
        first = wrong.errors()[0]
        raise BadInput(f"{'.'.join(map(str, first['loc']))}: {first['msg']}") from None
    on_hand = _stock(stock)
    before = {build.build_id: build for build in earlier}
    number = max(before, default=0) + 1
    sites = {number: site, **{n: one.site for n, one in before.items()}}
    planner = ShorePlanner(rules=team_rules(Path(rules)) if rules is not None else None, sites=sites)
    ledger = ledger_of(before, on_hand)
    builds = [planner.plan(number, request, on_hand, ledger)]
    if wanted is not None:
        requests = {number: request, **{n: one.request for n, one in before.items()}}
        builds = moved(wanted, planner, requests, on_hand, ledger, builds[0])
    return builds


#: Parts of a callout and facts of a place that are lengths, where text stands for one.
_LENGTHS = frozenset({
    "insertion", "spacing", "wall_height", "wall_thickness", "lean", "wall_length", "uneven", "curb", "curb_at",
    "sole_thickness", "span",
})  # fmt: skip


def size_up(**seen: Any) -> Sized:
    """What is seen of a damaged wall, to the shore that would hold it: an estimate for the structures specialist.

    Any of: `wall_length`, `wall_height`, `wall_thickness`, `lean` (at the height that is held), `damage_height` (the
    floor or roof line, or the damage, that is held), `floor_span`, `room` (free ground in front), as `length` takes
    them; `wall` (brick, block, concrete, timber), `openings`, `floor` (wood, steel, concrete), `floors`, `ground`
    (soil, pavement), `soil` (loam, clay, sand, gravel), `before` (clear, debris, slope).

    `rows` are the findings with their sources, `look` is what is still to be seen, `takes` are callouts, each of which
    needs its readback and its affirm like any other.

    Examples:
        >>> import callout
        >>> found = callout.size_up(wall_length="40 ft", wall_height="12 ft", damage_height="9 ft")
        >>> [row.say for row in found.rows if row.topic in ("rakers", "clear zone")][1]
        '5 rakers, 8 ft on centre'
        >>> found.takes[0].title, found.takes[0].callout.angle_deg
        ('timber rakers on a solid sole', 60)

    Raises `BadInput` for a name or a value that is not known.
    """
    from pydantic import ValidationError

    from callout.shoring.sizeup import size_up as sized
    from callout.values.sights import SEEN_LENGTHS, Seen

    measured = {name: length(seen[name]) for name in SEEN_LENGTHS if seen.get(name) is not None}
    facts = {**seen, **measured}
    try:
        return sized(Seen.model_validate(facts))
    except ValidationError as wrong:
        first = wrong.errors()[0]
        name = ".".join(str(part) for part in first["loc"])
        raise BadInput(f"size_up, {name}: {first['msg']}") from None


def _figure(name: str, value: Any) -> Any:
    return length(value) if name in _LENGTHS and isinstance(value, str) else value


def _stock(given: StockLike) -> Stock:
    from callout.shoring.stock import load_stock

    if given is None or isinstance(given, (str, Path)):
        return load_stock(None if given is None else Path(given))
    return given


def check() -> Report:
    """What is ready, what is missing, and what mends it, as `callout check` says it. Tries everything: each ear hears a
    recording, the voice speaks a sentence. Takes a few seconds, and changes nothing.

    Examples:
        >>> import callout
        >>> report = callout.check()
        >>> report.ready, report.findings[0].name
        (True, 'language')
    """
    from callout.session.readiness import check as run

    return run()


def board(journal: str | Path | Iterable[Record], *, stock: StockLike = None) -> Board:
    """One snapshot of a conversation for programs: open builds with height, angle, place, who, since when, items and
    pieces done, what is missing, unchecked checks; readbacks that wait; the stock, where one is named.

    `journal` is a file, which somebody else may be writing, or records. Neither a planner nor a stock is needed.

    Examples:
        >>> import callout
        >>> with callout.Session() as talk:
        ...     _ = talk.text("insertion eleven feet sixty")
        ...     _ = talk.text("affirm insertion")
        ...     now = callout.board(talk.records)
        >>> [(build.number, build.called, build.pieces_picked) for build in now.open]
        [(1, '11 ft @ 60°', 0)]

    Raises `BadInput` for a file that is no journal.
    """
    from callout.dialogue.following import board as snapshot

    counted = None if stock is None else _stock(stock)
    if isinstance(journal, (str, Path)):
        from callout.journal import Journal

        with Journal.open(journal, writer=False) as kept:
            return snapshot(kept.records(), counted, live=kept.somebody_writes())
    return snapshot(journal, counted)


def records(journal: str | Path) -> Iterator[Record]:
    """The records of a journal, which somebody else may be writing. Raises `BadInput` for a file that is none."""
    from callout.journal import Journal

    with Journal.open(journal, writer=False) as kept:
        yield from kept.records()
