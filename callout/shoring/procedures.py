"""The order of work of each kind of shore, filled from a draft: steps with roles, tools, checks, what to watch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from callout.shoring.build import Step
from callout.shoring.draft import Draft
from callout.toml import tomllib


@dataclass(frozen=True)
class Procedure:
    steps: tuple[Step, ...]
    tools: tuple[str, ...]
    checks: tuple[str, ...]
    watch: tuple[str, ...]
    cautions: tuple[str, ...]
    memory_note: str


@cache
def procedures() -> dict[str, Any]:
    """The whole of `rules/procedures.toml`."""
    loaded: dict[str, Any] = tomllib.loads(
        (resources.files("callout.shoring") / "rules" / "procedures.toml").read_text("utf-8")
    )
    return loaded


Lists = Mapping[str, Sequence[Mapping[str, str]]]
_EACH = "each:"


def numbered(steps: Sequence[Sequence[str]], words: Mapping[str, str], lists: Lists | None = None) -> tuple[Step, ...]:
    """[who, what] or [who, what, word]; a step with a word is left out where `words` lacks it, one with "each:word" is
    said once for every entry of that list."""
    said: list[tuple[str, str]] = []
    for step in steps:
        needs = step[2] if len(step) > 2 else None
        if needs is None or needs in words:
            said.append((step[0], step[1].format_map(words)))
        elif needs.startswith(_EACH):
            entries = (lists or {}).get(needs.removeprefix(_EACH), ())
            said += [(step[0], step[1].format_map({**words, **entry})) for entry in entries]
    return tuple(Step(number=number, who=who, text=text) for number, (who, text) in enumerate(said, 1))


def tools(listed: Sequence[str | Sequence[str]], words: Mapping[str, str]) -> tuple[str, ...]:
    """A tool, or [tool, word]: one with a word is left out where `words` lacks it."""
    wanted = ((one, None) if isinstance(one, str) else (one[0], one[1]) for one in listed)
    return tuple(tool for tool, word in wanted if word is None or word in words)


def procedure(draft: Draft) -> Procedure:
    """The procedure of the draft's pattern, and what is common to all."""
    common, own = procedures()["all"], procedures()[draft.pattern]
    return Procedure(
        steps=numbered(own["steps"], draft.words, draft.lists),
        tools=tools(own["tools"], draft.words),
        checks=(*own["checks"], *draft.before_load),
        watch=(*own["watch"], *common["watch"]),
        cautions=tuple(common["cautions"]),
        memory_note=common["memory_note"],
    )
