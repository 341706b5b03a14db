"""Callouts drawn evenly over every form that the callout language has, for test kits.

A length, an angle and what follows it are each drawn from a bag of their forms; a form's numbers come from bags of
their own. A bag gives each of its things once before it gives one a second time, so no form and no number is rare.
Only sentences with one meaning are given.
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from callout.language.outcome import Understood
from callout.language.parse import parse
from callout.language.resolve import resolve_text
from ears_training.text import FRACTIONS, ONES, Talker, lists, number

Say = Callable[[int], str]


def by_digits(n: int) -> str:
    """132 -> one three two."""
    return " ".join(ONES[int(c)] for c in str(n))


@dataclass
class Bags:
    """Things drawn without replacement, name by name; an empty bag is filled again."""

    rng: random.Random
    _left: dict[str, list[Any]] = field(default_factory=dict)

    def draw(self, name: str, things: Sequence[Any]) -> Any:
        """Return one of `things`."""
        left = self._left.setdefault(name, [])
        if not left:
            left += self.rng.sample(list(things), len(things))
        return left.pop()


def meant(text: str) -> str | None:
    """Return the words as a transcript has them when they have one meaning, within the ranges; None otherwise."""
    words = text.replace(",", " ").lower().split()
    if len(parse(tuple(words))) != 1 or not isinstance(resolve_text(" ".join(words)), Understood):
        return None
    return " ".join(words)


@dataclass
class Forms:
    """Draws callouts and radio talk. One `Random` fixes everything."""

    rng: random.Random

    def __post_init__(self) -> None:
        self.bags = Bags(self.rng)
        self.talker = Talker(self.rng)

    def _one(self, name: str, low: int, high: int) -> int:
        return int(self.bags.draw(name, range(low, high + 1)))

    def _number(self, name: str, low: int, high: int) -> str:
        """A number in either way of saying it; below ten there is one way."""
        ways: list[Say] = [partial(number, rng=self.rng), by_digits]
        everything = [(n, k) for n in range(low, high + 1) for k in ((0, 1) if n > 9 else (0,))]
        n, way = self.bags.draw(name, everything)
        said = str(ways[way](n))
        return said.replace("nine", "niner") if way and self.rng.random() < 0.15 else said

    def _feet(self, where: str) -> str:
        top = 40 if where == "height" else 9
        said, foot = self._number(f"{where} feet", 1, top), self.bags.draw("foot", [" feet", " feet", " feet", " foot"])
        return said + (" foot" if said == "one" else foot)

    def _inch_number(self, where: str, low: int = 0) -> tuple[int, str]:
        n, way = self.bags.draw(f"{where} inches from {low}", [*((n, 0) for n in range(low, 12)), (10, 1), (11, 1)])
        return n, by_digits(n) if way else ONES[n]

    def length(self, where: str = "height") -> str:
        """A length in the next form; `where` is height or spacing."""
        names = {
            "height": [
                "feet", "feet", "even", "inches", "inches", "inches", "bare", "fraction", "fraction", "fraction alone",
                "decimal", "half feet", "point five", "inches alone", "point metres", "metres", "centimetres",
                "millimetres",
            ],
            "spacing": ["feet", "feet", "inches", "inches", "fraction", "half feet", "inches alone"],
        }[where]  # fmt: skip
        return str(getattr(self, "_" + self.bags.draw(f"{where} form", names).replace(" ", "_"))(where))

    def _even(self, where: str) -> str:
        return self._feet(where) + " even"

    def _bare(self, where: str) -> str:
        return f"{self._feet(where)} {ONES[self._one('bare inches', 1, 11)]}"

    def _inches(self, where: str) -> str:
        n, said = self._inch_number(where)
        return f"{self._feet(where)} {said} {'inch' if n == 1 else 'inches'}"

    def _fraction(self, where: str) -> str:
        _, said = self._inch_number(where, 1)
        joint = self.bags.draw("joint", [" and ", " and ", " "])
        return f"{self._feet(where)} {said}{joint}{self.bags.draw('fractions', FRACTIONS)} inches"

    def _fraction_alone(self, where: str) -> str:
        return f"{self._feet(where)} {self.bags.draw('fractions', FRACTIONS)} inch"

    def _decimal(self, where: str) -> str:
        tail = self.bags.draw("decimals", ["five", "two five", "seven five", "one two five", "three seven five"])
        return f"{self._feet(where)} {self._inch_number(where, 1)[1]} point {tail} inches"

    def _half_feet(self, where: str) -> str:
        part = self.bags.draw("halves", ["a half", "a half", "one half", "a quarter", "three quarters"])
        return f"{self._number(f'{where} feet', 1, 39 if where == 'height' else 9)} and {part} feet"

    def _point_five(self, where: str) -> str:
        return f"{self._number('point feet', 2, 39)} point five feet"

    def _inches_alone(self, where: str) -> str:
        if where == "spacing":
            return self._number("spacing alone", 12, 99) + " inches"
        n = self._one("inches alone", 20, 480)
        hundreds: list[Say] = [partial(number, rng=self.rng), by_digits]
        hundreds.append(lambda n: f"{ONES[n // 100]} {number(n % 100, self.rng)}")
        way = self.bags.draw("hundreds", hundreds[: 3 if n % 100 > 9 else 2]) if n > 99 else hundreds[n % 2]
        return f"{way(n)} inches"

    def _point_metres(self, where: str) -> str:
        tail = " ".join(ONES[self._one("decimal", 0, 9)] for _ in range(self.bags.draw("decimals of m", [1, 2, 2])))
        return f"{ONES[self._one('metres', 1, 11)]} point {tail} {self._unit('metres')}"

    def _metres(self, where: str) -> str:
        tail = self.bags.draw("metres tail", ["", "n", "n"]) and " " + number(self._one("cm", 10, 99), self.rng)
        return f"{ONES[self._one('metres', 1, 11)]} {self._unit('metres')}{tail}"

    def _centimetres(self, where: str) -> str:
        way = self.bags.draw("cm way", [partial(number, rng=self.rng), by_digits])
        return f"{way(self._one('whole cm', 50, 999))} {self._unit('centimetres')}"

    def _millimetres(self, where: str) -> str:
        way = self.bags.draw("mm way", [partial(number, rng=self.rng), by_digits])
        return f"{way(self._one('mm', 305, 999))} {self._unit('millimetres')}"

    def _unit(self, unit: str) -> str:
        return unit if self.rng.random() < 0.5 else unit.replace("metres", "meters")

    def angle(self) -> str:
        """An angle in the next form: the three of the trade bare, led or followed by a word; any other with one."""
        trade = ["{}", "{}", "{}", "{} degrees", "{} degrees", "at {}", "angle {}", "angle {} degrees", "angle of {}"]
        form, ways = self.bags.draw(
            "angle form", [*((f, True) for f in trade), ("angle {}", False), ("{} degrees", False)]
        )
        if ways:
            a, way = self.bags.draw("trade angle", [(a, w) for a in (30, 45, 60) for w in (0, 1)])
        else:
            a, way = self._one("any angle", 30, 60), self.rng.choice([0, 1]) if form.startswith("angle") else 0
        return str(form.format(by_digits(a) if way else number(a, self.rng)))

    def tail(self) -> str:
        """What follows the angle: nothing half the time, or shores, spacing and more."""
        form = self.bags.draw("tail form", [
            *[""] * 8, "{n} rakers", "{n} rakers {s} on center", "{n} rakers {s} on center", "{n} rakers, spacing {s}",
            "{n} rakers {s} apart", "a pair of rakers", "solid sole", "position {p}", "one raker",
        ])  # fmt: skip
        return str(
            form.format(
                n=number(self._one("rakers", 2, 9), self.rng),
                s=self.length("spacing") if "{s}" in form else "",
                p=number(self._one("position", 1, 20), self.rng),
            )
        )

    def callout(self) -> str:
        """A whole callout with one meaning."""
        for _ in range(100):
            lead = self.bags.draw("lead", ["insertion", "insertion", "insertion point"])
            parts = [f"{lead} {self.length()}", self.angle(), self.tail()]
            text = ", ".join(p for p in parts if p)
            if meant(text):
                return text
        raise AssertionError("no form of the language has one meaning")

    def command(self) -> str:
        """A word of the conversation that the language has."""
        return self._known("commands", lambda: str(self.bags.draw("commands", lists()["conversation"]["commands"])))

    def other(self) -> str:
        """The stock, or a correction alone or inside a callout."""
        makers = [self.talker.stock, lambda: f"correction {self.length()}", lambda: f"correction {self.angle()}"]
        makers.append(lambda: f"{self.callout()}, correction, {self.angle()}")
        return self._known("other", lambda: str(self.bags.draw("other form", makers)()))

    def _known(self, what: str, make: Callable[[], str]) -> str:
        for _ in range(1000):
            text = make()
            if meant(text):
                return text
        raise AssertionError(f"no sentence of {what} has one meaning")

    def chatter(self) -> str:
        """Radio talk that means nothing here; half of it has numbers, many with the language's own units."""
        for _ in range(1000):
            templates = lists()["chatter"]["numbers"]
            if self.bags.draw("chatter", [True, False]):
                text = self.talker.filled(str(self.bags.draw("templates", templates)))
            else:
                text = self.talker.english()
            if not parse(tuple(text.lower().split())):
                return text
        raise AssertionError("all talk has a meaning")
