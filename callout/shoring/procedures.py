"""The order of work of each kind of shore, filled from a draft: steps with roles, tools, checks, what to watch."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from callout.shoring.build import Step
from callout.shoring.draft import Draft

try:
    import tomllib
except ModuleNotFoundError:
    import tomli as tomllib


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


def procedure(draft: Draft) -> Procedure:
    """A step with a third entry is left out where the draft lacks that word."""
    common, own = procedures()["all"], procedures()[draft.pattern]
    wanted = [step for step in own["steps"] if len(step) < 3 or step[2] in draft.words]
    return Procedure(
        steps=tuple(
            Step(number=number, who=step[0], text=step[1].format_map(draft.words))
            for number, step in enumerate(wanted, 1)
        ),
        tools=tuple(own["tools"]),
        checks=(*own["checks"], *draft.checks),
        watch=(*own["watch"], *common["watch"]),
        cautions=tuple(common["cautions"]),
        memory_note=common["memory_note"],
    )
