"""What the drawings and the sheet call things by: the title, a number for what is carried, a letter for what is sawn.

A number is the item of the parts list. A letter stands before each line of the cut list, so that a rafter of one length
can be told from one of another on the saw bench, on the drawing and on the wood.
"""

from __future__ import annotations

import re

from callout.shoring.build import Build, Cut
from callout.shoring.request import writing_of
from callout.shoring.rules import packaged_rules
from callout.values import Length

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # no I and no O: they read as figures


def letters(build: Build) -> dict[str, str]:
    """Label of a cut -> its letter, in the order of the cut list; the same label keeps one letter."""
    labels = list(dict.fromkeys(cut.label for cut in build.cuts))
    return {label: _LETTERS[n % len(_LETTERS)] * (1 + n // len(_LETTERS)) for n, label in enumerate(labels)}


def letter(build: Build, label: str) -> tuple[str, ...]:
    found = letters(build).get(label)
    return (found,) if found else ()


def items(build: Build, use: str, *parts: str) -> tuple[str, ...]:
    """Numbers of the items of these kinds of part that serve `use` ("raker 1", "top gussets"); any kind without."""
    whole = re.compile(rf"(^|, ){re.escape(use)}(,|$)")
    return tuple(str(part.item) for part in build.parts if whole.search(part.use) and (not parts or part.part in parts))


#: Uses of what is put where a gap is found: it has no place on a drawing.
LOOSE = ("back-fill", "shims")


def any_items(build: Build, *parts: str) -> tuple[str, ...]:
    """Numbers of all items of these kinds of part, but of what is loose."""
    return tuple(str(part.item) for part in build.parts if part.part in parts and not part.use.startswith(LOOSE))


def cut_of(build: Build, label: str) -> Cut | None:
    return next((cut for cut in build.cuts if cut.label == label), None)


def made(build: Build, label: str) -> Length | None:
    """The one length of a member: what it is cut to, or set to (`Setting.to_set`)."""
    cut = cut_of(build, label)
    if cut is not None:
        return cut.length
    return next((one.to_set for one in build.setting if one.label in (label, f"{label} 1")), None)


def section(build: Build, label: str, usual: str = "4x4") -> tuple[float, float]:
    """True thickness and depth of the timber of a cut, in inches, the lesser first."""
    cut = cut_of(build, label)
    sides = packaged_rules().table[f"dressed_{cut.section if cut else usual}"].value
    return min(sides), max(sides)


def inch(build: Build, name: str) -> float | None:
    """A length of the geometry in inches: exact, or by rule where only that exists. None where the shore has none."""
    pair = build.geometry.get(name)
    return None if pair is None else float(pair.best.inches)


def nails(build: Build, joint: str) -> int:
    """How many nails hold the joint whose name so begins; 0 where the shore has none."""
    return next((one.quantity for one in build.fasteners if one.joint.startswith(joint)), 0)


def counted(build: Build, label: str) -> int:
    return sum(cut.quantity for cut in build.cuts if cut.label == label)


_HEIGHTS = {"horizontal": "gap", "window": "opening", "door": "opening"}


def shore_title(build: Build) -> str:
    """ "solid-sole timber rakers, 2, 11 ft at 60 degrees"."""
    request = build.request
    said = [_what(build)]
    if request.insertion is not None:
        high = writing_of(request, build.site).length(request.insertion)
        raker = request.kind in ("raker", "flying_raker")
        what = "" if raker else f"{_HEIGHTS.get(request.kind, 'void')} "
        at = f" at {request.angle_deg} degrees" if raker and request.angle_deg else ""
        said.append(f"{what}{high}{at}")
    return ", ".join(said)


def _what(build: Build) -> str:
    """Rakers by how many stand together; other shores by their own title."""
    request = build.request
    if build.refused is not None or request.kind not in ("raker", "flying_raker"):
        return build.title
    chosen = (one.value for one in build.chosen if one.part == "rakers" and isinstance(one.value, int))
    rakers = request.rakers or next(chosen, 1)
    kind = "flying" if request.kind == "flying_raker" else {"solid": "solid-sole", "split": "split-sole"}.get(
        str(request.sole), "")  # fmt: skip
    many = {1: "one", 2: "pair of"}.get(rakers, f"row of {rakers}")
    raker = "raker" if rakers == 1 else "rakers"
    return f"{many} {kind} timber {raker}" if kind else f"{many} strut {raker}"


def drawing_title(build: Build, place: str = "", when: str = "") -> str:
    """With its number, its position, its place and the time."""
    said = [f"Build {build.build_id}: {shore_title(build)}"]
    if build.request.position is not None:
        said.append(f"position {build.request.position}")
    if build.request.for_whom:
        said.append(f"for {build.request.for_whom}")
    return ", ".join([*said, *filter(None, (place, when))])
