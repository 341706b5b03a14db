"""The figures of practice and mechanics, each with its source, read from `rules/*.toml` (and a team's own file).

A `Book` is opened for one build and remembers which figures were used, so that the plan can print its sources.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, get_args

from callout.errors import BadInput, CalloutError
from callout.files import LARGEST, must_be_a_file, tomllib
from callout.shoring.units import UNITS, Grade, Quantity, q
from callout.values import Length

FILES = ("geometry", "practice", "loads", "materials", "shores", "sizeup", "aftercare")
#: Rules whose text names a timber section.
_SECTIONS = ("waler", "tie_section")


@dataclass(frozen=True)
class Rule:
    """One figure. `value` is a number, a text, a list or a table, as the key demands. `called`: in plain words."""

    key: str
    value: Any
    unit: str
    source: str
    edition: str
    grade: Grade
    note: str = ""
    called: str = ""
    metric: int | None = None  # mm that a crew takes in its place, where the build is written in metres


@dataclass(frozen=True)
class Rules:
    """All figures by key. `wanted`: the unit of each figure that only a team can give, and what it is called."""

    table: dict[str, Rule]
    wanted: dict[str, tuple[str, str]] = field(default_factory=dict)

    def opened(self, metric: bool = False) -> Book:
        return Book(self, metric)


@dataclass
class Book:
    """The rules as one build reads them; `used` keeps the order of first use."""

    rules: Rules
    metric: bool = False
    used: dict[str, Rule] = field(default_factory=dict)

    def rule(self, key: str) -> Rule:
        found = self.rules.table[key]
        self.used.setdefault(key, found)
        return found

    def has(self, key: str) -> bool:
        return key in self.rules.table

    def number(self, key: str) -> float:
        return float(self.rule(key).value)

    def count(self, key: str) -> int:
        return int(self.rule(key).value)

    def text(self, key: str) -> str:
        return str(self.rule(key).value)

    def length(self, key: str) -> Length:
        chosen = self.rule(key).metric
        if self.metric and chosen is not None:
            return Length.mm(chosen)
        return Length.nearest(self.quantity(key).to("in"))

    def quantity(self, key: str) -> Quantity:
        rule = self.rule(key)
        return q(float(rule.value), rule.unit)


def _parse(text: str, where: str) -> dict[str, Any]:
    try:
        loaded: dict[str, Any] = tomllib.loads(text)
        return loaded
    except tomllib.TOMLDecodeError as wrong:
        raise BadInput(f"{where} is not TOML ({wrong}); mend that line") from None


def _rule(key: str, entry: Any, sources: dict[str, Any], where: str) -> Rule:
    if not isinstance(entry, dict) or "value" not in entry:
        raise BadInput(f'{where}: {key} needs value, unit, source and grade: {{ value = 14, unit = "in/ft", ... }}')
    known = {"value", "unit", "source", "edition", "grade", "note", "called"}
    if extra := sorted(set(entry) - known):
        raise BadInput(f"{where}: {key} has an unknown field {extra[0]!r}; the fields are {', '.join(sorted(known))}")
    unit, grade, source = entry.get("unit"), entry.get("grade"), entry.get("source")
    if unit not in UNITS and unit != "text":
        raise BadInput(f"{where}: {key} has an unknown unit {unit!r}; use one of {', '.join(UNITS)}, text")
    if grade is None or grade not in get_args(Grade):
        raise BadInput(f"{where}: {key} needs a grade: {', '.join(get_args(Grade))}")
    if not isinstance(source, str) or not source:
        raise BadInput(f"{where}: {key} needs a source; say where the value was read")
    known_source = sources.get(source, {})
    return Rule(
        key, entry["value"], str(unit), known_source.get("title", source),
        entry.get("edition", known_source.get("edition", "-")), grade, entry.get("note", ""),
        entry.get("called", ""),
    )  # fmt: skip


@cache
def packaged_rules() -> Rules:
    """The rules that come with the program."""
    folder = resources.files("callout.shoring") / "rules"
    sources = _parse((folder / "sources.toml").read_text("utf-8"), "sources.toml")
    table: dict[str, Rule] = {}
    for name in FILES:
        where = f"{name}.toml"
        for key, entry in _parse((folder / where).read_text("utf-8"), where).items():
            if key in table:
                raise CalloutError(f"the rule {key} stands in two files; keep one")
            table[key] = _rule(key, entry, sources, where)
    for key, millimetres in _parse((folder / "metric.toml").read_text("utf-8"), "metric.toml").items():
        if key not in table:
            raise CalloutError(f"metric.toml: there is no rule {key}; take the line out")
        table[key] = replace(table[key], metric=millimetres)
    wanted = _parse((folder / "wanted.toml").read_text("utf-8"), "wanted.toml")
    return Rules(table, {key: (entry["unit"], entry["called"]) for key, entry in wanted.items()})


def team_rules(file: Path) -> Rules:
    """The packaged rules with those of a team's file in their place. A key that does not exist is refused."""
    must_be_a_file(file)
    try:
        with file.open(encoding="utf-8") as opened:
            text = opened.read(LARGEST + 1)
    except (OSError, UnicodeDecodeError) as wrong:
        raise BadInput(f"cannot read the rules {file}: {wrong}") from None
    if len(text) > LARGEST:
        raise BadInput(f"{file}: over {LARGEST:,} letters, too large for rules; name another file")
    packaged = packaged_rules()
    table = dict(packaged.table)
    for key, entry in _parse(text, str(file)).items():
        old = packaged.table.get(key)
        if old is None and key not in packaged.wanted:
            raise BadInput(f"{file}: there is no rule {key!r}; the keys stand in docs/proofs/shoring.md")
        unit, called = (old.unit, old.called) if old is not None else packaged.wanted[key]
        rule = _rule(key, entry, {}, str(file))
        if rule.unit != unit or not isinstance(rule.value, (float if old is None else type(old.value)) | int | float):
            raise BadInput(f"{file}: {key} is a value in {unit}; write it the same way")
        if key in _SECTIONS and f"dressed_{rule.value}" not in table:
            raise BadInput(f"{file}: {key} is a timber section like 2x6, not {rule.value!r}")
        if key in packaged.wanted and not rule.value > 0:
            raise BadInput(f"{file}: {key} is a load over zero; leave the line out where it is not known")
        table[key] = replace(rule, called=rule.called or called)
    return Rules(table, packaged.wanted)
