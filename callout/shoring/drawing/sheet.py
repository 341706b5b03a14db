"""The build as plain text for a terminal or a printer: what a crew does first, and the reckoning behind it when asked.

The short sheet holds what is carried, set, cut and done, in lines of eighty letters; `full` adds lengths by rule and
exactly, where each piece is used, loads, sources and notes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from callout.shoring.build import Build, Part, Setting
from callout.shoring.drawing import marks
from callout.shoring.drawing.marks import drawing_title
from callout.shoring.on_paper import (
    SET_BETWEEN,
    WIDTH,
    how_set,
    labels_once,
    missing_by_part,
    nearest_words,
    settings_once,
    share,
    value_in_words,
    warnings,
    weight_in_words,
    wrapped,
)
from callout.shoring.request import writing_of
from callout.shoring.units import Writing
from callout.values import Length

HEIGHT = 60  # lines of one page of a terminal


def sheet(build: Build, *, full: bool = False, place: str = "", when: str = "") -> str:
    """The sheet. `place` and `when` (the time of day) come from who prints it."""
    writing = writing_of(build.request, build.site)
    lines = [*_title(build, place, when)]
    if build.refused is not None:
        return "\n".join([*lines, *_refusal(build, writing)]) + "\n"
    if full:
        short = [*_lists(build, writing, full=True), *_steps(build), *_end(build, full), *_rest(build, writing)]
    else:
        short = []
        for tight in range(4):
            short = _page(build, writing, tight, HEIGHT - len(lines))
            if len(lines) + len(short) <= HEIGHT:
                break
    return "\n".join([*lines, *short]) + "\n"


def _page(build: Build, writing: Writing, tight: int, height: int) -> list[str]:
    """The short sheet, in `height` lines where that can be. `tight` 0: a line for each thing; 1: steps share lines; 2:
    the settings say what else steps would; 3: ways out, parts and settings run on as well."""
    lists, end = list(_lists(build, writing, tight=tight)), list(_end(build, full=False))
    steps = _steps_within(build, height - len(lists) - len(end), tight) if tight else list(_steps(build))
    return [*lists, *steps, *end]


def _lists(build: Build, writing: Writing, *, full: bool = False, tight: int = 0) -> Iterator[str]:
    yield from _missing(build, run_on=tight > 2)
    yield from _parts(build, writing, run_on=tight > 2)
    yield from _set(build, writing, tight)
    yield from _cut(build, writing, full, run_on=tight > 2)


def _title(build: Build, place: str, when: str) -> list[str]:
    return wrapped(drawing_title(build, place, when), 0)


def _refusal(build: Build, writing: Writing) -> Iterator[str]:
    assert build.refused is not None
    yield from wrapped(f"Not built: {build.refused.reason}.", 2)
    if words := nearest_words(build, writing):
        yield from wrapped(f"Nearest that exists: {words}.", 2)
    if build.refused.instead:
        yield from wrapped(f"What works: {build.refused.instead}.", 2)


# --- what a crew does ----------------------------------------------------------------------------------------------


def _missing(build: Build, *, run_on: bool) -> Iterator[str]:
    if not build.missing:
        return
    yield "MISSING: the stock cannot build this"
    for quantity, name in missing_by_part(build):
        yield from wrapped(f"  {quantity} x {name}", 6)
    ways = [remedy.on_paper for remedy in build.remedies]
    for way in ["; ".join(ways)] if run_on and ways else ways:
        yield from wrapped(f"  would work: {way}", 6)


def _parts(build: Build, writing: Writing, *, run_on: bool = False) -> Iterator[str]:
    yield f"PARTS  {weight_in_words(build, writing)}"
    if run_on:
        yield from wrapped("; ".join(_part(part, run_on=True) for part in build.parts), 3)
    else:
        yield from _two_columns([_part(part) for part in build.parts], 9)


def _two_columns(said: list[str], hang: int) -> Iterator[str]:
    """Two to a line where both are short enough; read from left to right."""
    half, said = WIDTH // 2 - 1, list(said)
    while said:
        left = said.pop(0)
        wide = max(half + 1, len(left) + 2)
        if said and wide + len(said[0]) <= WIDTH:
            left = f"{left:<{wide}}{said.pop(0)}"
        yield from wrapped(left, hang)


def _part(part: Part, *, run_on: bool = False) -> str:
    """Numbers stand under one another, unless the parts run on."""
    instead = f" for {part.stands_for}" if part.stands_for else ""
    where = f", {part.where}" if part.where else ""
    named = f"x {part.name}{instead}{where}"
    return f"{part.item}:\u00a0{part.quantity}\u00a0{named}" if run_on else f"{part.item:>2} {part.quantity:>3} {named}"


def _set(build: Build, writing: Writing, tight: int = 0) -> Iterator[str]:
    """`tight` 2: with the length without fittings, which a step says otherwise; 3: one after the other."""
    said = []
    for labels, one in settings_once(build):
        words = [f"{labels_once(labels)}: {writing.length(one.to_set)}", how_set(one, writing)]
        if tight > 1 and one.between_faces:
            words.append(f"without fittings {writing.length(one.member)}")
        said.append(", ".join(filter(None, words)))
    if tight > 2 and said:
        yield from wrapped(f"SET, {SET_BETWEEN}: {'; '.join(said)}", 4)
        return
    if said:
        yield f"SET  {SET_BETWEEN}"
    for text in said:
        yield from wrapped(f"    {text}", 6)


def _cut(build: Build, writing: Writing, full: bool, *, run_on: bool = False) -> Iterator[str]:
    if not build.cuts:
        return
    found, cuts = marks.letters(build), []
    for cut in build.cuts:
        ends = f"; {cut.ends}" if cut.ends != "square" else ""
        made = f"{cut.quantity:>2} x {cut.section} {writing.length(cut.length)}"
        cuts.append(f"{found[cut.label]} {made} {cut.label}{ends}")
    saws = [text if full else text.partition(", left ")[0] for text in sawing(build, writing)]
    if run_on:
        yield from wrapped(f"CUT {'; '.join(cuts + saws)}", 4)
        return
    yield from _two_columns([f"{'    ' if n else 'CUT '}{text}" for n, text in enumerate(cuts)], 8)
    yield from _two_columns([f"    {text}" for text in saws], 8)


def sawing(build: Build, writing: Writing) -> list[str]:
    """Which timber each cut comes from, timbers that are sawn alike together."""
    found, bars = marks.letters(build), dict[str, int]()
    for bar in build.nesting:
        cuts = [found.get(label, label.partition(":")[0]) for label in bar.labels]  # "build 2: raker" is another's
        text = f"{bar.name}: {_counted(cuts)}, left {writing.dug(bar.rest)}"
        bars[text] = bars.get(text, 0) + 1
    return [f"saw {quantity} x {text}" for text, quantity in bars.items()]


def _counted(words: list[str]) -> str:
    """ "A, A, B" -> "2 A, 1 B"."""
    return ", ".join(f"{words.count(one)} {one}" for one in dict.fromkeys(words))


def _steps(build: Build) -> Iterator[str]:
    yield "STEPS"
    who = ""
    for step in build.steps:  # who does it stands where it changes
        said = step.text if step.who == who else f"{step.who}: {step.text}"
        who = step.who
        yield from wrapped(f"{step.number:>2} {said}", 3)


#: Why numbers are left out: they are those that the voice and the full sheet have.
STEPS_LEFT_OUT = "a number that is left out only says what SET says"
#: Steps that say only what a setting says: `SET`, and the steps of the kit in rules/procedures.toml.
_LOCKS = re.compile(r"for .*: (?:lock at|fully in)")
_SETS = re.compile(r"(?:on the ground, )?set (?:each )?(?:raker|mid brace|[\w ]*lateral|[\w ]*diagonal)s?\b.* to \d")
_SAID_BY_SET = re.compile(rf"{_LOCKS.pattern}|{_SETS.pattern}|without its fittings|put the .* on the (?:foot|head) of")


def _steps_within(build: Build, height: int, tight: int) -> list[str]:
    """The same in no more lines than `height` where that can be: several steps share their lines, as many as
    must. What the settings say already is not said again."""
    groups: list[tuple[str, list[str]]] = []
    said = _SAID_BY_SET if tight > 1 else _LOCKS
    for step in build.steps:
        if said.match(step.text):
            continue
        text = step.text.partition(": lock at")[0] if _SETS.match(step.text) else step.text
        groups.append((step.who, [f"{step.number}\u00a0{text}"]))

    def lines(n: int) -> list[str]:
        who, texts = groups[n]
        number, _, text = texts[0].partition("\u00a0")
        first = f"{number:>2} {text}" if n and groups[n - 1][0] == who else f"{number:>2} {who}: {text}"
        return wrapped("  ".join([first, *texts[1:]]), 3)

    n = 0
    while 1 + sum(len(lines(k)) for k in range(len(groups))) > height and n + 1 < len(groups):
        for together in range(2, 7):
            joined = groups[n : n + together]
            if len(joined) < together or len({who for who, _ in joined}) > 1:
                continue
            apart, kept = sum(len(lines(n + k)) for k in range(together)), list(groups)
            groups[n : n + together] = [(joined[0][0], [text for _, texts in joined for text in texts])]
            if len(lines(n)) < apart:
                break
            groups[:] = kept
        n += 1
    if 1 + sum(len(lines(k)) for k in range(len(groups))) > height:  # each role's steps run on
        kept, groups[:] = list(groups), []
        for who, texts in kept:
            if groups and groups[-1][0] == who:
                groups[-1] = (who, groups[-1][1] + texts)
            else:
                groups.append((who, texts))
    left_out = len([step for step in build.steps if said.match(step.text)])
    head = f"STEPS  {STEPS_LEFT_OUT}" if left_out else "STEPS"
    return [head, *(line for k in range(len(groups)) for line in lines(k))]


def _end(build: Build, full: bool) -> Iterator[str]:
    for check in warnings(build):
        yield from wrapped(f"! {check}", 2)
    yield build.cautions[0] + ("" if full else " The reckoning and its sources: --full")


# --- the rest ------------------------------------------------------------------------------------------------------


def _rest(build: Build, writing: Writing) -> Iterator[str]:
    def tape(length: Length | None) -> str:
        return "-" if length is None else writing.length(length)

    if build.chosen:
        yield "\nCHOSEN, because nobody said it"
    for choice in build.chosen:
        said = f"{choice.part.replace('_', ' ')} {value_in_words(choice.value, writing)}"
        yield from wrapped(f"  {said}: {choice.why}", 6)
    included = ", fittings included" if build.setting else ""
    yield f"\nLENGTHS{included:<22}" + "by rule".ljust(18) + "exactly"
    for name, pair in build.geometry.items():
        yield f"  {name.replace('_', ' '):<27}{tape(pair.rule):<18}{tape(pair.exact)}".rstrip()
    if build.end_cuts is not None:
        cuts = build.end_cuts
        more = f", return cut {tape(cuts.return_cut)}" if cuts.return_cut else ""
        text = f"  end cuts: {writing.angle(cuts.top_deg)} degrees top, {writing.angle(cuts.bottom_deg)} bottom{more}"
        yield from wrapped(f"{text}. {cuts.note}".rstrip(". "), 6)
    from callout.shoring.drawing.terminal import terminal_drawing

    yield ""
    yield terminal_drawing(build).rstrip("\n")
    yield from _where_used(build, writing)
    if build.setting:
        yield "\nSETTINGS, one by one"
        for one in build.setting:
            yield from wrapped(_setting(one, writing), 6)
    yield from _joints(build, tape)
    yield from _reckoning(build, writing)


def _where_used(build: Build, writing: Writing) -> Iterator[str]:
    yield "\nWHERE EACH PART IS USED"
    for part in build.parts:
        yield from wrapped(f"{part.item:>3} {part.name}: {part.use}", 6)
    yield "\nPICK UP"
    for place in build.pick_list:
        items = ", ".join(str(item) for item in place.items)
        yield from wrapped(f"  {place.where}: items {items}, {writing.weight(place.weight_lb)}", 6)
    if build.cuts:
        yield "\nTRUE SIZES"
        sizes = dict.fromkeys(f"{cut.section} is {cut.size}" for cut in build.cuts)
        yield from wrapped(f"  {'; '.join(sizes)}", 2)


def _setting(one: Setting, writing: Writing) -> str:
    tape = writing.length
    other = f"{tape(one.member)} on the member" if one.between_faces else f"{tape(one.setting)} with its fittings"
    said = f"  {one.label}: set {tape(one.to_set)} {one.measured}, {other}, exactly {tape(one.exact)} with them."
    if one.closed is None or one.open is None or one.turn_in is None or one.turn_out is None:
        return said
    said += f" {how_set(one, writing)}. Closed it is {tape(one.closed)}, open {tape(one.open)};"
    return f"{said} the screw can still be turned in by {tape(one.turn_in)} and out by {tape(one.turn_out)}."


def _joints(build: Build, tape: Any) -> Iterator[str]:
    if build.positions:
        yield "\nPOSITIONS"
    for place in build.positions:
        at = f", {tape(place.at)}" if place.at is not None else ""
        yield from wrapped(f"  {place.name}: {place.text}{at}", 6)
    if build.fasteners:
        yield "\nFASTENERS"
        for one in build.fasteners:
            yield from wrapped(f"  {one.joint}: {one.quantity} {one.what}", 6)
    yield ""
    yield from wrapped(f"TOOLS  {', '.join(build.tools)}", 7)


def _reckoning(build: Build, writing: Writing) -> Iterator[str]:
    yield "\nCHECK BEFORE LOAD"
    for look in build.before_load:
        yield from wrapped(f"  [ ] {look}", 6)
    yield "\nWATCH AFTERWARDS"
    for what in build.watch:
        yield from wrapped(f"  {what}", 4)
    yield "\nSTRENGTH, the part that governs first"
    for check in build.checks:
        yield from wrapped(f"  {check.name}: {share(check)}" + (f"; {check.note}" if check.note else ""), 6)
    yield "\nLOADS (working estimates)"
    for figure in build.loads:
        text = f"  {figure.name}: {writing.figure(figure.value, figure.unit)}  [{figure.grade}] {figure.source}"
        yield from wrapped(text, 6)
    for heading, lines in (("NOTES", build.notes), ("SOURCES", build.sources), ("CAUTIONS", build.cautions[2:])):
        yield f"\n{heading}"
        for line in lines:
            yield from wrapped(f"  {line}", 4)
