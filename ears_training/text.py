"""Random sentences for the training voices: the callout language first, other English beside it.

Word lists lie in `data/text.toml`. Everything is drawn from the caller's `random.Random`, so a seed
fixes the text.
"""

import random
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from callout.files import tomllib
from callout.language import grammar
from callout.language.automaton import short_forms

ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
FRACTIONS = [
    "a half", "one half", "a quarter", "one quarter", "three quarters", "one eighth", "three eighths", "five eighths",
    "seven eighths", "one sixteenth", "three sixteenths", "five sixteenths", "seven sixteenths", "nine sixteenths",
    "eleven sixteenths", "thirteen sixteenths", "fifteen sixteenths",
]  # fmt: skip


@cache
def lists() -> dict[str, Any]:
    """Return the word lists, section by section, as `data/text.toml` has them."""
    return tomllib.loads(files("ears_training").joinpath("data/text.toml").read_text(encoding="utf-8"))


def number(n: int, rng: random.Random) -> str:
    """Say 0 <= n < 1000 as people do: grouped."""
    if n < 20:
        return ONES[n]
    if n < 100:
        return TENS[n // 10] + (" " + ONES[n % 10] if n % 10 else "")
    rest = n % 100
    joint = " and " if rng.random() < 0.2 else " "
    return ONES[n // 100] + " hundred" + (joint + number(rest, rng) if rest else "")


def digits(n: int, rng: random.Random) -> str:
    """Say n digit by digit; nine is sometimes "niner", nought now and then "oh" between digits."""
    said, out = str(n), []
    for i, c in enumerate(said):
        if c == "9" and rng.random() < 0.4:
            out.append("niner")
        elif c == "0" and 0 < i < len(said) - 1 and rng.random() < 0.1:
            out.append("oh")
        else:
            out.append(ONES[int(c)])
    return " ".join(out)


def either(n: int, rng: random.Random) -> str:
    """Say n grouped two times in three, digit by digit otherwise."""
    return number(n, rng) if rng.random() < 0.66 else digits(n, rng)


@dataclass
class Talker:
    """Says one random sentence a call. `words` are ordinary English words for the mixed sentences."""

    rng: random.Random
    words: tuple[str, ...] = ()

    def pick(self, section: str, name: str) -> str:
        """Return one entry of a list of `data/text.toml`."""
        return str(self.rng.choice(lists()[section][name]))

    def length(self, top: int = 40) -> str:
        """A length up to `top` feet in one of the ways people say it; one in eight metric."""
        r = self.rng
        if r.random() < 0.12:
            return self.metric()
        if r.random() < 0.04:
            return number(r.randint(12, 480), r) + " inches"
        feet = r.randint(1, top)
        said = either(feet, r) if feet > 9 else ONES[feet]
        unit = " foot" if r.random() < 0.15 else " feet"
        q = r.random()
        if q < 0.35:
            return said + unit + r.choice(["", "", "", " even"])
        inches = r.randint(0, 11)
        fraction = r.choice(FRACTIONS) if r.random() < 0.35 else ""
        if inches == 0:
            end = r.choice([" inch", " of an inch"])
            return said + unit + (" " + fraction.replace("a ", "one ") + end if fraction else " even")
        end = ONES[inches] + (" and " + fraction if fraction else " point five" if r.random() < 0.04 else "")
        word = r.choice([" inch" if inches == 1 and not fraction else " inches"] * 3 + [""])
        return said + unit + " " + end + word

    def metric(self) -> str:
        """A metric length: metres with a point, metres and centimetres, or small units alone."""
        r = self.rng
        q = r.random()
        if q < 0.5:
            tail = " ".join(ONES[r.randint(0, 9)] for _ in range(r.randint(1, 2)))
            return f"{ONES[r.randint(1, 12)]} point {tail} {r.choice(['metres', 'meters'])}"
        if q < 0.75:
            return f"{ONES[r.randint(1, 12)]} metres {number(r.randint(1, 99), r)}"
        return either(r.randint(30, 999), r) + r.choice(
            [" centimetres", " centimeters", " millimeters", " millimetres"]
        )

    def angle(self) -> str:
        """An angle: the three of the trade bare or named, as often any other named: what is rare is heard as what is
        not."""
        r = self.rng
        if r.random() < 0.5:
            a = r.choice([30, 45, 45, 60, 60])
            return self.pick("callout", "angle_leads") + either(a, r) + r.choice(["", "", " degrees"])
        return "angle " + either(r.randint(30, 60), r) + r.choice(["", " degrees"])

    def count(self) -> str:
        """How many shores: "two rakers"."""
        n, shore = self.rng.randint(1, 9), self.pick("callout", "rakers")
        if n == 2 and self.rng.random() < 0.4:
            return f"a pair of {shore}s"
        return f"{ONES[n]} {shore}" + ("" if n == 1 else "s")

    def core_callout(self) -> str:
        """A callout of which every grammar of the trade knows each form, for test kits.

        Lead, height in feet with whole or broken inches, one of the three angles, now and then count and spacing.
        """
        r = self.rng

        def feet_and_inches(top: int) -> str:
            feet, inches = r.randint(2, top), r.randint(0, 11)
            said = (either(feet, r) if feet > 9 else ONES[feet]) + " feet"
            if inches == 0 or r.random() < 0.4:
                return said + r.choice(["", "", "", " even"])
            fraction = r.choice(FRACTIONS) if r.random() < 0.25 else ""
            if fraction:
                return f"{said} {ONES[inches]} and {fraction} inches"
            return f"{said} {ONES[inches]} {'inch' if inches == 1 else 'inches'}"

        angle = (
            r.choice(["", "", "angle "]) + either(r.choice([30, 45, 45, 60, 60]), r) + r.choice(["", "", " degrees"])
        )
        parts = [self.pick("callout", "leads") + " " + feet_and_inches(40), angle]
        if r.random() < 0.3:
            n = r.randint(2, 6)
            parts += [ONES[n] + " rakers", feet_and_inches(8) + " on center"]
        return ", ".join(parts)

    def callout(self) -> str:
        """A whole callout, or some of one, with any of the extra parts."""
        r = self.rng
        parts = [self.pick("callout", "leads") + " " + self.length()]
        if r.random() < 0.25:
            parts.insert(0, self.pick("callout", "kinds"))
        if r.random() < 0.9:
            parts.append(self.angle())
        if r.random() < 0.4:
            parts.append(self.count())
            if r.random() < 0.8:
                parts.append(self.length(9) + self.pick("callout", "spacing"))
        for chance, make in (
            (0.12, lambda: self.pick("callout", "soles")),
            (0.08, lambda: self.pick("callout", "kinds")),
            (0.06, lambda: f"wall {self.length(40)} {r.choice(['high', 'tall', ''])}".strip()),
            (0.05, lambda: f"wall {ONES[r.randint(1, 19)]} inches thick"),
            (0.06, lambda: f"{self.pick('callout', 'leans')} {self.length(3)}"),
            (0.08, lambda: self.pick("callout", "grounds")),
            (0.08, lambda: "position " + number(r.randint(1, 20), r)),
            (0.05, lambda: self.pick("callout", "who")),
        ):
            if r.random() < chance:
                parts.append(make())
        return ", ".join(parts)

    def correction(self) -> str:
        """A part corrected alone, or inside the callout."""
        word = self.pick("conversation", "corrected")
        what = self.rng.choice([self.length, self.angle, self.count, lambda: "angle " + self.angle().split(" ")[-1]])
        if self.rng.random() < 0.5:
            return f"{word} {what()}"
        return f"{self.callout()}, {word}, {what()}"

    def command(self) -> str:
        """One to three words of the conversation."""
        n = self.rng.choice([1, 1, 1, 1, 2, 3])
        out = [self.pick("conversation", "commands") for _ in range(n)]
        if self.rng.random() < 0.06:
            out.append("build " + number(self.rng.randint(1, 20), self.rng))
        return ", ".join(out)

    def stock(self) -> str:
        """A line about the stock on hand."""
        part = self.pick("stock", "parts") + ("s" if self.rng.random() < 0.6 else "")
        n = either(self.rng.randint(0, 40), self.rng)
        size = either(self.rng.randint(1, 16), self.rng) + " foot"
        return self.pick("stock", "forms").format(n=n, p=part, l=size)

    def english(self) -> str:
        """Radio talk that is no callout."""
        return self.filled(self.pick("english", "templates"))

    def filled(self, template: str) -> str:
        """A template with its gaps filled: `{n}` with a number, `{thing}` and so on from the lists."""
        fill = lambda m: (  # noqa: E731
            number(self.rng.randint(0, 99), self.rng) if m[1] == "n" else self.pick("english", m[1])
        )
        return re.sub(r"\{(\w+)\}", fill, template)

    def numbers(self) -> str:
        """Numbers with nothing around them."""
        r = self.rng
        return r.choice(
            [
                self.length,
                self.angle,
                self.count,
                lambda: either(r.randint(0, 999), r),
                lambda: ", ".join(number(r.randint(0, 99), r) for _ in range(r.randint(1, 4))),
                lambda: digits(r.randint(0, 10 ** r.randint(1, 6)), r),
            ]
        )()

    def mixed(self) -> str:
        """Two to nine common words in no order (common ones more often)."""
        if not self.words:
            return self.english()
        k = len(self.words)
        return " ".join(self.words[int(k * self.rng.random() ** 1.7)] for _ in range(self.rng.randint(2, 9)))

    def alphabet(self) -> str:
        """One to four words of the spelling alphabet."""
        return ", ".join(self.rng.sample(lists()["english"]["alphabet"], self.rng.randint(1, 4)))

    def of_the_grammar(self) -> str:
        """A sentence that the program itself understands, of any state of the conversation."""
        whole = grammar.load()
        state = self.rng.choice([name for name, state in whole.states.items() if not state.only])
        return " ".join(whole.sample(self.rng, 1, state)[0])

    def in_own_words(self) -> str:
        """A command as people say it who were taught nothing, every other pair of words that has a short form in it."""
        said: list[str] = []
        for word in grammar.load().sample_lines(self.rng, 1)[0]:
            short = short_forms(said[-1], word) if said else ()
            if short and self.rng.random() < 0.5:
                said[-1] = self.rng.choice(short)
            else:
                said.append(word)
        return " ".join(said)

    def rare(self) -> str:
        """A sentence of the language with words that the grammar's own draw hardly ever says."""
        return self.filled(self.pick("rare", "sentences"))

    def sentence(self) -> str:
        """One sentence of any sort."""
        kinds = [self.callout, self.correction, self.command, self.stock, self.numbers, self.english, self.mixed]
        kinds += [self.alphabet, self.of_the_grammar, self.rare, self.in_own_words]
        make = self.rng.choices(kinds, weights=[32, 6, 12, 6, 12, 9, 11, 3, 9, 4, 24])[0]
        return " ".join(make().split())
