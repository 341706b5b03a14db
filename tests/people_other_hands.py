"""Phrases by other hands: what is taken as meant, asked, not understood, or wrong. The lists lie in
tests/data/people: other_hands.toml and more_hands.toml, and in strangers.toml those of which no sentence was put in.

The writers named meanings in words of their own, so a meaning counts as right where a crew would be content with it:
commands that come to the same for who says them are one (`SAME`), and of a callout the figures are compared, and that a
kind is named. `python -m tests.people_other_hands` prints the shares, with `-v` what is not taken as meant.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from fractions import Fraction
from functools import cache
from typing import Any, Literal

from callout.files import read_toml
from callout.language.commands import commands_that
from callout.language.outcome import Ambiguous, Near, NotUnderstood, Resolution, Understood
from callout.values import Callout, Command, Length, Meaning
from tests.people_talk import PEOPLE, understood

#: "dangerous": other talk that would move something, or what is no yes taken for one.
#: "asked": the question is the right one, and a yes does what was meant. "no yes": meant as a yes, and none by the rule
#: ("spot on"): it is answered with what to say.
Verdict = Literal["right", "asked", "asked otherwise", "no yes", "not understood", "wrong", "quiet", "dangerous"]

SAME = (
    {"ready", "next"}, {"say_again", "repeat", "read_back", "repeat_the_build", "say_again_all_before"},
    {"list", "parts_list", "status", "how_many_left", "what_picked"}, {"stand_by", "hold"},
    {"stop", "cease_operations", "hold"},
    {"negative", "disregard", "cancel", "undo"}, {"affirm", "affirm_insertion"}, {"roger", "wilco", "closing"},
    {"build", "item", "next_build"}, {"say_again", "say_again_all_after"}, {"stock_lost", "short", "stock_out"},
    {"move", "relocate"},
)  # fmt: skip


LISTS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
         "twelfth")  # fmt: skip
STRANGERS = ("thirteenth", "fourteenth")
FILES = ("other_hands.toml", "more_hands.toml", "strangers.toml")


def rows(name: str) -> list[tuple[str, str, str]]:
    """(state, meaning, what is said) of one of the lists: "first", "second" ... "fourteenth"."""
    table = next(table for table in map(_table, FILES) if name in table)
    return [(state, meant, said) for state, meant, said in table[name]["rows"]]


@cache
def _table(file: str) -> dict[str, Any]:
    return read_toml(PEOPLE / file)


def verdict(state: str, meant: str, said: str) -> Verdict:
    return judged(meant, understood(said, state))


def judged(meant: str, result: Resolution) -> Verdict:
    """Whether what was understood is what was meant."""
    name, wanted = meant.split()[0], dict(re.findall(r"(\w+)=(.+?)(?=\s+\w+=|$)", meant))
    meaning = result.meaning if isinstance(result, Understood) else None
    if name in ("other", "not_yes"):
        mark = "affirmative" if name == "not_yes" else "moves"
        moves = isinstance(meaning, Command) and meaning.command in commands_that(mark)
        return "dangerous" if moves or isinstance(meaning, Callout) else "quiet"
    if name == "affirm" and isinstance(result, NotUnderstood):
        return "no yes"
    if isinstance(result, Near) and name not in ("callout", "correction"):
        return "asked" if _as_meant(result.likely, name, wanted) else "asked otherwise"
    if isinstance(result, (Ambiguous, Near)):
        return "asked otherwise" if isinstance(result, Near) else "asked"
    if meaning is None:
        return "not understood"
    calls = name in ("callout", "correction")
    return "right" if (_callout_as_meant(meaning, wanted) if calls else _as_meant(meaning, name, wanted)) else "wrong"


def _as_meant(meaning: Meaning, name: str, wanted: dict[str, str]) -> bool:
    if isinstance(meaning, Callout) or not (meaning.command == name or any({meaning.command, name} <= s for s in SAME)):
        return False
    figures = {field: getattr(meaning, field) for field in ("quantity", "have", "item", "build") if field in wanted}
    return all(value is None or str(value) == wanted[field] for field, value in figures.items())


def _callout_as_meant(meaning: Meaning, wanted: dict[str, str]) -> bool:
    callout = meaning if isinstance(meaning, Callout) else meaning.patch
    if callout is None:
        return False
    height = wanted.get("insertion", wanted.get("height"))
    counts = {"angle_deg": callout.angle_deg, "rakers": callout.rakers}
    return (
        (height is None or callout.insertion == _length(height))
        and ("spacing" not in wanted or callout.spacing == _length(wanted["spacing"]))
        and all(str(value) == wanted[name] for name, value in counts.items() if name in wanted)
        and (callout.kind != "raker" or callout.sole is not None or wanted.get("kind", "raker").startswith("raker"))
    )


def _length(text: str) -> Length | None:
    """"11ft6in", "9.5ft", "3.2m", "240cm" in the writers' own short form."""
    found = re.fullmatch(r"(?:([\d.]+)ft)?(?:([\d.]+)in)?|([\d.]+)(m|cm)", text)
    if found is None:
        return None
    feet, inches, metric, unit = found.groups()
    if metric:
        return Length.mm(int(Fraction(metric) * (1000 if unit == "m" else 10)))
    return Length.nearest(Fraction(feet or 0) * 12 + Fraction(inches or 0))


def counted(name: str) -> Counter[Verdict]:
    return Counter(verdict(*row) for row in rows(name))


def meant_for_us(found: Counter[Verdict]) -> int:
    """How many were meant for callout."""
    return found.total() - found["quiet"] - found["dangerous"]


def share(found: Counter[Verdict], *, no_yes: bool = True) -> float:
    """Of what was meant for callout, the part that is taken as meant; `no_yes`: with what is no yes by the rule."""
    return found["right"] / (meant_for_us(found) - (0 if no_yes else found["no yes"]))


def main() -> None:
    for name in (*LISTS, *STRANGERS):
        found = counted(name)
        by_rule = f"{100 * share(found, no_yes=False):.0f} % without what is no yes by the rule"
        print(f"{name}: {100 * share(found):.0f} % taken as meant, {by_rule}; {dict(found)}")
        for row in rows(name) if "-v" in sys.argv else ():
            if (said := verdict(*row)) not in ("right", "quiet", "no yes"):
                print(f"  {said}: {row}")


if __name__ == "__main__":
    main()
