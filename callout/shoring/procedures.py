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


def numbered(steps: Sequence[Sequence[str]], words: Mapping[str, str]) -> tuple[Step, ...]:
    """[who, what] or [who, what, word]; a step with a word is left out where `words` lacks it."""
    wanted = [step for step in steps if len(step) < 3 or step[2] in words]
    return tuple(
        Step(number=number, who=step[0], text=step[1].format_map(words)) for number, step in enumerate(wanted, 1)
    )


def tools(listed: Sequence[str | Sequence[str]], words: Mapping[str, str]) -> tuple[str, ...]:
    """A tool, or [tool, word]: one with a word is left out where `words` lacks it."""
    wanted = ((one, None) if isinstance(one, str) else (one[0], one[1]) for one in listed)
    return tuple(tool for tool, word in wanted if word is None or word in words)


def procedure(draft: Draft) -> Procedure:
    """The procedure of the draft's pattern, and what is common to all."""
    common, own = procedures()["all"], procedures()[draft.pattern]
    return Procedure(
        steps=numbered(own["steps"], draft.words),
        tools=tools(own["tools"], draft.words),
        checks=(*own["checks"], *draft.before_load),
        watch=(*own["watch"], *common["watch"]),
        cautions=tuple(common["cautions"]),
        memory_note=common["memory_note"],
    )
