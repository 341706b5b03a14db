"""What every sheet says alike, on a terminal, a page or a list of loads: what is missing, settings, warnings."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable
from typing import Any

from callout.shoring.build import Build, Check, Setting
from callout.shoring.request import writing_of
from callout.shoring.units import Writing, unbroken
from callout.values import Length

WIDTH = 80  # letters of a line on a terminal
#: What the figures under SET are measured between (`Setting.measured`): the same member has another with its fittings.
SET_BETWEEN = "rakers between the bearing faces, braces and ties on the member"


def wrapped(text: str, hang: int, width: int = WIDTH) -> list[str]:
    """Lines of a text, none of them breaking a figure from its unit."""
    lines = textwrap.wrap(unbroken(text), width, subsequent_indent=" " * hang)
    return [line.replace("\u00a0", " ") for line in lines] or [""]


def nearest_words(build: Build, writing: Writing) -> str:
    """The nearest shore that exists, in words; empty where there is none."""
    nearest = build.refused.nearest if build.refused is not None else None
    if nearest is None:
        return ""
    words = []
    for name, value in nearest.said.items():
        degrees = " degrees" if name == "angle_deg" else ""
        words.append(f"{name.removesuffix('_deg').replace('_', ' ')} {value_in_words(value, writing)}{degrees}")
    return ", ".join(words)


def value_in_words(value: Any, writing: Writing) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return writing.length(value) if isinstance(value, Length) else str(value).replace("_", " ")


def missing_by_part(build: Build) -> list[tuple[int, str]]:
    """What is lacking, each part once with its sum and what it is for."""
    tape = writing_of(build.request, build.site).length
    sums: dict[str, int] = {}
    uses: dict[str, list[str]] = {}
    for lack in build.missing:
        size = f" of {tape(lack.length)}" if lack.length is not None and lack.name is None else ""
        name = f"{lack.name or lack.part}{size}"
        sums[name] = sums.get(name, 0) + lack.quantity
        uses.setdefault(name, []).append(lack.need)
    return [(quantity, f"{name}, for {_many(uses[name])}") for name, quantity in sums.items()]


def people_in_words(count: int) -> str:
    return "1 person" if count == 1 else f"{count} people"


def weight_in_words(build: Build, writing: Writing) -> str:
    """How heavy all of it is, and how many people the heaviest lift takes."""
    people = people_in_words(build.lift_people)
    return f"{writing.weight(round(build.weight_lb))} in all, {people} for the heaviest lift"


def settings_once(build: Build) -> list[tuple[list[str], Setting]]:
    """The adjustable members, those that are set alike together."""
    found: dict[tuple[Any, ...], tuple[list[str], Setting]] = {}
    for one in build.setting:
        key = (one.setting, one.pieces, one.lock, one.screw_out, one.extension_end)
        found.setdefault(key, ([], one))[0].append(one.label)
    return list(found.values())


def labels_once(labels: Iterable[str]) -> str:
    """ "raker 1", "raker 2" -> "rakers 1, 2"; a bay's ties by their names, each once."""
    plain = dict.fromkeys(label.split(", rakers ")[0] for label in labels)
    stems: dict[str, list[str]] = {}
    for label in plain:
        stem, _, number = label.rpartition(" ")
        stems.setdefault(stem if number.isdigit() else label, []).append(number if number.isdigit() else "")
    words = [
        stem if numbers == [""] else f"{stem}{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"
        for stem, numbers in stems.items()
    ]
    last = {word.rpartition(" ")[2] for word in words}
    if len(words) > 1 and len(last) == 1 and not words[0][-1].isdigit():  # "upper and lower lateral"
        return f"{_many([word.rpartition(' ')[0] for word in words])} {last.pop()}"
    return _many(words)


def how_set(one: Setting, writing: Writing) -> str:
    """The pieces and where they are locked; empty where the stock has none."""
    if not one.pieces:
        return ""
    more = one.pieces[1:]
    counts = [f"{more.count(name)} {name}" if more.count(name) > 1 else name for name in dict.fromkeys(more)]
    said = " with ".join(filter(None, (one.pieces[0], ", ".join(counts))))
    if one.extension_end is not None and len(one.pieces) > 1:
        said += f" on the {one.extension_end}"
    if one.lock is not None and one.screw_out is not None:
        said += f", lock at {writing.length(one.lock)}, screw out {writing.length(one.screw_out)}"
    return said


def warnings(build: Build) -> list[str]:
    """What is not enough, and what was not checked; of a shore that stands up to its checks only the latter."""
    over = [f"NOT ENOUGH: {one.name}, {share(one)}" for one in build.checks if one.share is not None and one.share > 1]
    unknown = ", ".join(one.name for one in build.checks if not one.checked)
    return [*over, *([f"NOT CHECKED: {unknown}"] if unknown else [])]


def share(check: Check) -> str:
    """ "89 % of its strength is used"; never a share of what was not checked."""
    if check.share is None:
        return "NOT CHECKED"
    return f"{math.ceil(check.share * 100 - 1e-9)} % of its strength used"


def _many(words: list[str]) -> str:
    words = list(dict.fromkeys(words))
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
