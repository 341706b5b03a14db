"""What is known of the place beyond a callout, by voice: "wall brick", "curb six inches", "timber beside build two".

A fact holds for what is called next, and is read back with it; with the number of a build it holds for that build,
which is planned again. Each is read back by itself first, and counts from its own affirmative on.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from callout.dialogue import builds, walking, wording
from callout.dialogue.acts import Act, Acts, Cause, folded, said
from callout.dialogue.readback import proposed, readback
from callout.dialogue.records import SiteChanged
from callout.dialogue.state import Conversation, Done, OpenBuild, Pending
from callout.language.speak import SITE_FACTS, speak_site
from callout.shoring.request import Site
from callout.values import Callout, Command, Length

COMMANDS = frozenset(SITE_FACTS)
_FACT_NAMES = {
    "wall": "wall", "soil": "ground", "uneven": "level of the ground", "curb": "curb", "curb_at": "place of the curb",
    "timber_beside": "timber beside",
}  # fmt: skip


def _facts(said: Command) -> dict[str, Any] | None:
    """The fields of `Site` that a command fills, as JSON; None for what no planner knows (a team's own words)."""
    size = said.length
    facts: dict[str, dict[str, Any]] = {
        "site_wall": {"wall": said.part},
        "site_soil": {"soil": said.part},
        "site_uneven": {"uneven": size},
        "site_curb": {"curb": size} if size is not None and size.eightieths else {"curb": None, "curb_at": None},
        "site_curb_at": {"curb_at": size},
        "site_timber": {"timber_beside": True},
        "site_no_timber": {"timber_beside": False},
        "site_new": {},
    }
    fields = facts[said.command]
    try:
        whole = Site.model_validate(fields).model_dump(mode="json")
    except ValidationError:
        return None
    return {name: whole[name] for name in fields}


def spoken(site: Mapping[str, Any]) -> str:
    """Facts of a place as they are read back: "wall brick; curb: six inches"; "" where nothing is known."""
    known, said = Site.model_validate(site), []
    for part, command in ((known.wall, "site_wall"), (known.soil, "site_soil")):
        if part is not None:
            said.append(Command(command=command, part=part))
    sizes = ((known.uneven, "site_uneven"), (known.curb, "site_curb"), (known.curb_at, "site_curb_at"))
    said += [Command(command=command, length=size) for size, command in sizes if size is not None]
    if known.timber_beside is not None:
        said.append(Command(command="site_timber" if known.timber_beside else "site_no_timber"))
    return "; ".join(speak_site(fact) for fact in said)


def called(now: Conversation, cause: Cause, request: Callout, site: Mapping[str, Any] | None = None) -> str:
    """A callout as it is read back, with what the last readback did not say of its place; `site`: what is known of it,
    where that is more than is known of what is called next."""
    site = now.site if site is None else site
    new = {name: fact for name, fact in site.items() if now.site_said.get(name) != fact}
    known = spoken(new)
    gone = {name for name, fact in now.site_said.items() if fact is not None and site.get(name) is None}
    if gone and not site:
        known = speak_site(Command(command="site_new"))
    elif "curb" in gone:
        known = "; ".join([*([known] if known else []), speak_site(Command(command="site_curb", length=Length(0)))])
    return wording.callout(request, cause.stress) + (f"; {known}" if known else "")


def heard_fact(now: Conversation, cause: Cause, fact: Command) -> Acts:
    """Read a fact back, with what it will hold for."""
    return (_noted(now, cause, fact),)


def _noted(now: Conversation, cause: Cause, fact: Command) -> Act:
    facts, words = _facts(fact), speak_site(fact)
    if facts is None:
        return said(cause, "site.unknown", "refused")
    if fact.build is None:
        noted = proposed(cause, "site", facts=facts, words=words)
        return readback(cause, "site.next" if facts else "site.new", noted, fact=words)
    build, number = _numbered(now, fact.build), wording.count(fact.build)
    if build is None:
        return walking.not_open(cause, fact.build)
    if fact.command == "site_new":
        return said(cause, "site.only_next", "refused")
    if build.build_id in now.standing and not _moves(build, fact.command):
        return said(cause, "site.stands", "refused", number=number)
    noted = proposed(cause, "site", build_id=build.build_id, facts=facts, words=words)
    return readback(cause, "site.build", noted, fact=words, number=number)


def _numbered(now: Conversation, number: int) -> OpenBuild | None:
    """The build that goes by a number: an open one, else the one that stands."""
    standing = [build for build in now.standing.values() if build.number == number]
    return walking.by_number(now, number) or (standing[-1] if standing else None)


def _moves(build: OpenBuild, command: str) -> bool:
    """Whether a fact matters to a shore that stands: timber rakers beside hold the wall during a move, but only by its
    waler."""
    return command == "site_no_timber" or (command == "site_timber" and builds.has_waler(build.build))


def affirmed(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """An affirmed fact is kept; the build that it is of is planned again."""
    build = now.build(confirmed.build_id)
    if build is None and confirmed.build_id is not None:
        return (said(cause, "walking.nothing_walked", "refused"),)
    facts = SiteChanged(facts=confirmed.shape.facts or {})
    return _kept(now, cause, confirmed.build_id, facts, confirmed.shape.words)


def _kept(now: Conversation, cause: Cause, build_id: int | None, facts: SiteChanged, words: str) -> Acts:
    build = now.build(build_id)
    kept = said(
        cause, "site.noted" if build is None else "site.noted_build", "site_changed", build_id=build_id, what=facts,
        fact=words, number="" if build is None else wording.count(build.number),
    )  # fmt: skip
    return (kept, *builds.after_a_count(folded(now, (kept,)), cause))


def undo(now: Conversation, cause: Cause, done: Done) -> Acts:
    """Read back what is known of the place once the last fact is taken back."""
    build = now.build(done.build_id)
    noted = proposed(cause, "undo", build_id=done.build_id, undoes="site")
    facts = _as_before(done.facts or {})
    if build is None:
        return (readback(cause, "site.undo_next", noted, facts=facts),)
    return (readback(cause, "site.undo_build", noted, facts=facts, number=wording.count(build.number)),)


def _as_before(facts: Mapping[str, Any]) -> str:
    """ "wall brick; curb, not known"."""
    known = {name: value for name, value in facts.items() if value is not None}
    unknown = [f"{_FACT_NAMES[name]}, not known" for name in facts if name not in known]
    return "; ".join([*([spoken(known)] if known else []), *unknown])


def not_known(now: Conversation, cause: Cause, done: Done) -> Acts:
    """What was known before the fact holds again; the build that it was of is planned again."""
    facts = dict(done.facts or {})
    return _kept(now, cause, done.build_id, SiteChanged(facts=facts, undoes=True), _as_before(facts))
