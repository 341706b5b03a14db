"""A standing shore measured again at a new place: what stays, what changes, and the order that never leaves the wall
without support. Common practice, no source; the words stand in `rules/procedures.toml`."""

from __future__ import annotations

from collections import Counter

from pydantic import BaseModel, ConfigDict

from callout.shoring.build import Build, Setting, Step
from callout.shoring.draft import BEHIND_WALER
from callout.shoring.procedures import numbered, procedures
from callout.shoring.request import writing_of
from callout.shoring.writing import Writing
from callout.values import Length


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
    first look to the last. `as_set` are members that keep their length; pieces are reused, added or returned, and those
    that press the timber rakers beside are left."""

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
    had, needs = _pieces(standing) - stay, _pieces(planned)
    added, returned, left = _moved(needs - had), _moved(had - needs), _moved(stay)
    writing = writing_of(planned.request, planned.site)
    said = _words(writing, standing.setting, as_set, resettings, added, returned, left)
    if any(cut.label == "heel pad" for cut in standing.cuts):
        said["pads"] = "heel pads"
    kind = "pressed" if pressed else "replacing"
    order = numbered([*words[f"before_{kind}"], *words["down"], *words["up"]], said)
    return Relocation(
        build=planned, possible=planned.possible, stays=words[kind], as_set=as_set, resettings=resettings,
        reused=_moved(had & needs), added=added, returned=returned, left=left,
        order=order if planned.possible else (),
    )  # fmt: skip


def _pieces(build: Build) -> Counter[str]:
    return Counter({part.name: part.quantity for part in build.parts})


def _moved(pieces: Counter[str]) -> tuple[Moved, ...]:
    return tuple(Moved(name=name, quantity=quantity) for name, quantity in sorted(pieces.items()))


def _words(
    writing: Writing, standing: tuple[Setting, ...], as_set: tuple[str, ...], resettings: tuple[Resetting, ...],
    added: tuple[Moved, ...], returned: tuple[Moved, ...], left: tuple[Moved, ...],
) -> dict[str, str]:  # fmt: skip
    """The blanks of the order of work; one that has nothing to say is left out, and its step with it."""
    ties = [one.label for one in standing if "lateral" in one.label or "diagonal" in one.label]
    said = {
        "bay_down": ", ".join(reversed(ties)),
        "as_set": ", ".join(as_set),
        "reset": ", ".join(f"{one.label} to {writing.length(one.becomes)}" for one in resettings),
        "added": ", ".join(f"{one.quantity} {one.name}" for one in added),
        "returned": ", ".join(f"{one.quantity} {one.name}" for one in returned),
        "left": ", ".join(f"{one.quantity} {one.name}" for one in left),
    }
    return {name: text for name, text in said.items() if text}
