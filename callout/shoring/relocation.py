"""A standing shore measured again at a new place: what stays, what changes, and the order that never leaves the wall
without support. Common practice, no source; the words stand in `rules/procedures.toml`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from pydantic import BaseModel, ConfigDict

from callout.shoring.build import Build, Setting, Step
from callout.shoring.draft import BEHIND_WALER, numbered, procedures
from callout.shoring.holdings import Held, Holdings
from callout.shoring.request import writing_of
from callout.shoring.units import Writing
from callout.values import Length

_AT_ONCE = 2  # members or lines of the stock named in one step


class Moved(BaseModel):
    """`quantity` pieces of one line of the stock."""

    model_config = ConfigDict(frozen=True)

    name: str
    quantity: int


class Resetting(BaseModel):
    """A member that is set anew; `was` None where it is new at this place."""

    model_config = ConfigDict(frozen=True)

    label: str
    was: Length | None
    becomes: Length


class Relocation(BaseModel):
    """`build` is the shore at the new place. `stays` says what holds the wall meanwhile; `order` is one list, from the
    first look to the last. `as_set` are members that keep their length; pieces are reused, added or returned;
    those that press the timber rakers beside are left; those used up (nails, what was sawn) are in none of these."""

    model_config = ConfigDict(frozen=True)

    build: Build
    possible: bool
    stays: str
    as_set: tuple[str, ...]
    resettings: tuple[Resetting, ...]
    reused: tuple[Moved, ...]
    added: tuple[Moved, ...]
    returned: tuple[Moved, ...]
    left: tuple[Moved, ...]
    order: tuple[Step, ...]


def pressing(standing: Build) -> Counter[str]:
    """The waler, its wedges and pickets, by name: with timber rakers beside they hold the wall, so they do not move."""
    if not standing.site.timber_beside:
        return Counter()
    found = Counter({part.name: part.quantity for part in standing.parts if part.use == "waler"})
    found.update(bar.name for bar in standing.nesting if "waler" in bar.labels)
    behind = sum(int(figure.value) for figure in standing.loads if figure.name == BEHIND_WALER)
    for part in standing.parts:
        if part.part == "picket" and part.use != "waler":
            found[part.name] += min(behind, part.quantity)
            behind -= min(behind, part.quantity)
    return +found


#: Parts that are used up where they were put: nails and anchors driven into a wall never come back, a sheet is ripped,
#: a gusset is nailed through. (Common practice, no source.)
USED_UP = ("nail", "anchor", "sheet", "gusset")


def used_up(standing: Build) -> Counter[str]:
    """What never comes back as the line of the stock it was taken from: nails, anchors, what was sawn."""
    sawn = {bar.name for bar in standing.nesting}
    found: Counter[str] = Counter()
    for part in standing.parts:
        if part.part in USED_UP or part.name in sawn:
            found[part.name] += part.quantity
    return found


def apart(standing: Build, held: Mapping[str, int]) -> tuple[Counter[str], Counter[str]]:
    """What of the pieces that a shore holds comes back when it is taken down, and what never does."""
    gone = Counter(held) & used_up(standing)
    return Counter(held) - gone, gone


def moves_along(standing: Build, held: Mapping[str, int]) -> Counter[str]:
    """What of the pieces that a shore holds can serve elsewhere: all but what presses the timber rakers beside, and
    what is used up."""
    return apart(standing, held)[0] - pressing(standing)


def as_if_held(holdings: Holdings, standing: Build, new: int) -> Holdings:
    """The ledger as if the shore at the new place, `new`, held already all that moves along from the old one."""
    held = holdings.held(standing.build_id)
    along = moves_along(standing, {name: one.total for name, one in held.items()})
    others = {build: pieces for build, pieces in holdings.builds.items() if build != standing.build_id}
    mine = {name: Held(0, quantity, 0) for name, quantity in along.items()}
    return Holdings(on_hand=holdings.on_hand, builds={**others, new: mine})


def relocation(standing: Build, planned: Build) -> Relocation:
    """Compare the shore that stands with the one planned at the new place.

    With timber rakers beside (`site.timber_beside`) they hold the wall; without, other support must come first. A
    plan that is not possible has no order: the standing shore is left alone.
    """
    words = procedures()["relocation"]
    pressed = bool(standing.site.timber_beside)
    before = {one.label: one.setting for one in standing.setting}
    resettings = tuple(
        Resetting(label=one.label, was=before.get(one.label), becomes=one.setting)
        for one in planned.setting
        if before.get(one.label) != one.setting
    )
    changed = {one.label for one in resettings}
    as_set = tuple(one.label for one in planned.setting if one.label not in changed)
    stay = pressing(standing)
    had, needs = _pieces(standing) - stay - used_up(standing), _pieces(planned)
    added, returned, left = _moved(needs - had), _moved(had - needs), _moved(stay)
    writing = writing_of(planned.request, planned.site)
    said = _words(standing.setting)
    lists = _lists(writing, as_set, [one for one in planned.setting if one.label in changed], added, returned, left)
    if any(cut.label == "heel pad" for cut in standing.cuts):
        said["pads"] = "heel pads"
    kind = "pressed" if pressed else "replacing"
    order = numbered([*words[f"before_{kind}"], *words["down"], *words["up"]], said, lists)
    return Relocation(
        build=planned, possible=planned.possible, stays=words[kind], as_set=as_set, resettings=resettings,
        reused=_moved(had & needs), added=added, returned=returned, left=left,
        order=order if planned.possible else (),
    )  # fmt: skip


def _pieces(build: Build) -> Counter[str]:
    return Counter({part.name: part.quantity for part in build.parts})


def _moved(pieces: Counter[str]) -> tuple[Moved, ...]:
    return tuple(Moved(name=name, quantity=quantity) for name, quantity in sorted(pieces.items()))


def _words(standing: tuple[Setting, ...]) -> dict[str, str]:
    """The blanks of the order of work; one that has nothing to say is left out, and its step with it."""
    ties = [one.label.split(",")[0] for one in standing if "lateral" in one.label or "diagonal" in one.label]
    return {"bay_down": ", ".join(reversed(dict.fromkeys(ties)))} if ties else {}


def _lists(
    writing: Writing, as_set: tuple[str, ...], changed: list[Setting], added: tuple[Moved, ...],
    returned: tuple[Moved, ...], left: tuple[Moved, ...],
) -> dict[str, list[dict[str, str]]]:  # fmt: skip
    """What is said a few at a time: a step holds no more than a voice can say in one breath."""
    reset = [f"{one.label} to {writing.length(one.to_set)} {one.measured}" for one in changed]
    said = {"as_set": list(as_set), "reset": reset}
    said |= {
        name: [f"{one.quantity} {one.name}" for one in pieces]
        for name, pieces in (("added", added), ("returned", returned), ("left", left))
    }
    return {
        name: [{name: ", ".join(words[at : at + _AT_ONCE])} for at in range(0, len(words), _AT_ONCE)]
        for name, words in said.items()
    }
