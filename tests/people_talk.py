"""How much of what people naturally say is taken as meant: `python -m tests.people_talk` prints it by kind.

Two lists. The one kept apart lies in tests/data/people, with what each phrase means. The other, from which the language
was grown, is a page of facts outside the project (people_say.md, three folders up or where CALLOUT_FACTS says); it
names the command, so there the command is compared, and the quantity where a phrase says one.
"""

from __future__ import annotations

import os
import re
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from callout.files import read_toml
from callout.language.commands import commands_that
from callout.language.context import Context
from callout.language.outcome import Ambiguous, Resolution, Understood
from callout.language.resolve import resolve_text
from callout.values import Callout, Command, Length
from tests.test_language_phrases import in_short

PEOPLE = Path(__file__).parent / "data" / "people"
#: The builds that are open while the phrases of a list are said.
BUILDS = (1, 2, 3, 4)
WAITING = Callout(insertion=Length.imperial(15), angle_deg=60)


@dataclass(frozen=True)
class Phrase:
    """What is said in a state, and what it must mean: in short, or as the names of the commands that will do."""

    kind: str
    state: str
    said: str
    wanted: str = ""
    commands: tuple[str, ...] = ()
    quantity: int | None = None

    def resolved(self) -> Resolution:
        return understood(self.said, self.state)

    def taken(self, result: Resolution) -> bool:
        if self.kind == "Callouts" and isinstance(result, Ambiguous) and "metres" in result.words:
            return True  # "three metres forty five": 3.45 m, or 3 m at 45? It is asked, as it should be
        if not isinstance(result, Understood):
            return False
        if self.wanted:
            return in_short(result) == self.wanted
        meaning = result.meaning
        if isinstance(meaning, Callout):
            return "callout" in self.commands
        return meaning.command in self.commands and (self.quantity is None or meaning.quantity == self.quantity)


def context(state: str) -> Context:
    more: dict[str, Any] = {}
    if "waiting" in Context.__dataclass_fields__ and state.startswith("confirm"):
        more |= {"waiting": WAITING, "caller": "team two"}
    return Context(state=state, builds=BUILDS, items=9, **more)


@cache
def understood(said: str, state: str) -> Resolution:
    """What is understood of words of these lists, by the words we ship; several tests look at the same."""
    return resolve_text(said, context(state))


@cache
def kept_apart() -> tuple[Phrase, ...]:
    table = read_toml(PEOPLE / "kept_apart.toml")
    return tuple(Phrase(kind, row["state"], said, wanted)
                 for kind, row in table.items() if kind != "dangerous" for said, wanted in row["rows"])  # fmt: skip


@cache
def dangerous() -> tuple[tuple[str, str, str], ...]:
    """(state, said, the mark of the commands that it must never be taken for)."""
    table = read_toml(PEOPLE / "kept_apart.toml")["dangerous"]
    return tuple((state, said, row["never"]) for state, row in table.items() for said in row["rows"])


@cache
def other_talk() -> tuple[str, ...]:
    return tuple(read_toml(PEOPLE / "other_talk.toml")["rows"])


@cache
def alarms() -> dict[str, tuple[str, ...]]:
    """Cries of alarm, stops of the work, what is said to the voice alone, and what only sounds like an alarm."""
    return {name: tuple(rows) for name, rows in read_toml(PEOPLE / "alarms.toml").items()}


def taken_for(result: Resolution, never: str) -> bool:
    """Whether something is taken that must not be: a command of that mark, or (for "moves") a callout."""
    if not isinstance(result, Understood):
        return False
    if isinstance(result.meaning, Command):
        return result.meaning.command in commands_that(never)
    return never == "moves"


# --- the page of facts

#: Sections of the page and the state in which their phrases are said.
_STATES = {"In the walk": "walk", "Answers to a readback": "confirm", "Corrections": "confirm", "Callouts": "idle",
           "Builds, stock, radio": "walk"}  # fmt: skip
_CALLOUTS = ("callout", "same_again", "site_wall", "stands")
_COUNTS = {"one": 1, "two": 2, "four": 4, "twenty": 20}


def facts_page() -> Path | None:
    folder = os.environ.get("CALLOUT_FACTS")
    places = [Path(folder)] if folder else [up / "shared" / "facts" for up in Path(__file__).resolve().parents]
    return next((place / "people_say.md" for place in places if (place / "people_say.md").is_file()), None)


def page_phrases(page: Path) -> Iterator[Phrase]:
    """The phrases that are to be taken, with what their row of the page names."""
    section = ""
    for line in page.read_text("utf-8").splitlines():
        if line.startswith("## "):
            section = line[3:]
        elif section in ("Corrections", "Callouts") and "|" in line:
            names = _CALLOUTS if section == "Callouts" else ("correction", "callout")
            for said in _split(line):
                yield Phrase(section, _STATES[section], re.sub(r" \(.*?\)", "", said), commands=names)
        elif found := re.match(r"- \*\*(.+?)\*\*(?: \((.*?)\))?: (.*)", line):
            kind, named, said = found.groups()
            names = tuple(re.findall(r"`(\w+)`", named or "")) or (("affirm",) if kind.startswith("yes") else ())
            if not kind.startswith("never yes"):
                yield from _of_row(kind, names, said, _state_of(section, kind))


def never_yes(page: Path) -> Iterator[str]:
    """The phrases of the page that are never a yes, with a number in place of the dots."""
    for line in page.read_text("utf-8").splitlines():
        if line.startswith("- **never yes:**"):
            for said in _split(line.partition(":**")[2]):
                yield said.replace("...", "make it twelve feet").replace("and any other number", "twelve feet")


def _state_of(section: str, kind: str) -> str:
    return "halted" if kind == "stop and go" else "idle" if kind in ("stock", "radio") else _STATES[section]


def _split(line: str) -> list[str]:
    return [said.strip().rstrip(".") if not said.strip().endswith("...") else said.strip() for said in line.split("|")]


def _of_row(kind: str, names: tuple[str, ...], line: str, state: str) -> Iterator[Phrase]:
    names = names + {"ready, next": ("next",), "the list": ("list",), "none": ("stock_out",),
                     "where are we": ("item", "build"), "builds": ("build", "status", "list"),
                     "say it otherwise": ("say_again",), "what did you hear": ("read_back",)}.get(kind, ())  # fmt: skip
    for said in _split(line):
        plain = re.sub(r" \(.*?\)", "", said)
        where = "walk" if kind == "stop and go" and names and _stops(plain) else state
        yield Phrase(kind, where, _filled(plain), commands=names, quantity=_count(kind, plain))


def _stops(said: str) -> bool:
    return any(word in said for word in ("stop", "out", "freeze"))


def _filled(said: str) -> str:
    """A phrase of the page with a part of the stock in place of its dots."""
    counted = said.startswith(("we've got", "there are ...", "..."))
    return said.replace("...", "four six foot struts" if counted else "struts" if "one ..." not in said else "strut")


def _count(kind: str, said: str) -> int | None:
    if kind.startswith("short (n)") and "only" not in said and "see" not in said:
        return next((_COUNTS[word] for word in said.split() if word in _COUNTS), None)
    return None


def _print(title: str, phrases: list[Phrase], show: bool) -> None:
    right: Counter[str] = Counter()
    every: Counter[str] = Counter()
    for phrase in phrases:
        result = phrase.resolved()
        every[phrase.kind] += 1
        right[phrase.kind] += phrase.taken(result)
        if show and not phrase.taken(result):
            print(f"  [{phrase.kind}] {phrase.said!r}: {in_short(result)}; wanted {phrase.wanted or phrase.commands}")
    for kind in every:
        print(f"  {kind:<28} {right[kind]:>3} of {every[kind]:>3}")
    print(f"{title}: {right.total()} of {every.total()} taken as meant ({100 * right.total() / every.total():.0f} %)\n")


def main() -> None:
    show = "-v" in sys.argv
    _print("kept apart", list(kept_apart()), show and "--page" not in sys.argv)
    page = facts_page()
    if page is not None:
        _print("people_say.md", list(page_phrases(page)), show)
    bad = [(state, said, in_short(r)) for state, said, never in dangerous()
           if taken_for(r := resolve_text(said, context(state)), never)]  # fmt: skip
    print(f"dangerous: {len(bad)} of {len(dangerous())} taken", *bad, sep="\n  ")
    moved = [(state, said, in_short(r)) for said in other_talk() for state in ("idle", "confirm", "walk", "assembly")
             if taken_for(r := resolve_text(said, context(state)), "moves")]  # fmt: skip
    print(f"other talk: {len(moved)} moved anything", *moved, sep="\n  ")
    for name, cries in alarms().items():
        for state in ("walk", "confirm_walk"):
            taken = [said for said in cries if taken_for(understood(said, state), "alarm")]
            print(f"alarms, {name}, {state}: {len(taken)} of {len(cries)} taken as one")


if __name__ == "__main__":
    main()
