"""A build before any piece of stock is chosen: what a kind of shore asks for and says. Filled by the kinds' modules."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Any

from callout.files import tomllib
from callout.shoring.allocation import CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.build import Check, Cut, EndCuts, Fastener, Figure, Position, Refused, Step
from callout.shoring.geometry import Pair
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.shoring.units import Grade, Quantity
from callout.values import Length

#: The source of what follows by arithmetic from the other figures of the build.
WORKED = "worked here from the figures above"
#: The figure that says how many of a build's pickets hold its waler: they stay when the shore is moved.
BEHIND_WALER = "pickets behind the waler"
Lists = Mapping[str, Sequence[Mapping[str, str]]]
_EACH = "each:"


@dataclass
class Draft:
    """Grows while a kind of shore is worked out. `words` fills the blanks of the order of work; `pattern` picks it."""

    work: Work
    book: Book
    pattern: str
    title: str
    pairs: dict[str, Pair] = field(default_factory=dict)
    end_cuts: EndCuts | None = None
    needs: list[Need] = field(default_factory=list)
    spans: dict[str, Length] = field(default_factory=dict)  # label -> exact length of an adjustable member
    cuts: list[Cut] = field(default_factory=list)
    fasteners: list[Fastener] = field(default_factory=list)
    positions: list[Position] = field(default_factory=list)
    loads: list[Figure] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    slenderness: float = 0.0  # L/d of the most slender timber column
    before_load: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    refused: Refused | None = None  # what the kit, or the wall's own size, does not allow
    words: dict[str, str] = field(default_factory=dict)
    lists: dict[str, list[dict[str, str]]] = field(default_factory=dict)  # for steps that are said once an entry
    axial: Quantity | None = None  # along one raker of struts
    lasting: Quantity | None = None  # of the wall's force on one raker: what does not pass like wind or an aftershock
    documents: list[tuple[str, str, Grade]] = field(default_factory=list)  # (source, edition, grade) of the kit
    lifted: tuple[str, ...] = ()  # uses that are carried in one piece
    lifts: int = 1  # how many such pieces the build has

    def tape(self, length: Length) -> Length:
        """To the nearest mark of a tape: sixteenths, or millimetres where the build is written in them."""
        return self.work.writing.mark(length)

    def text(self, length: Length) -> str:
        """A length in words of the work order, notes and checks."""
        return self.work.writing.length(length)

    def pair(self, name: str, exact: Length | None = None, rule: Length | None = None) -> None:
        self.pairs[name] = Pair(rule=rule, exact=exact)

    def cut(
        self, label: str, section: str, length: Length, quantity: int = 1, ends: str = "square", *, loose: bool = False
    ) -> Length:
        """Timber to cut: stated as a need and as a line of the cut list with nominal and true size. `loose`: it is
        nailed on and may stand over a little; in metres it is cut to the next centimetre. Returns what it is cut to."""
        length = length.round_up(Length.mm(10)) if loose and self.work.writing.metric else self.tape(length)
        self.needs.append(CutNeed(label, section, length, quantity))
        size = self.work.writing.size(self.book.rule(f"dressed_{section}").value)
        self.cuts.append(Cut(label=label, section=section, size=size, quantity=quantity, length=length, ends=ends))
        return length

    def piece(
        self, label: str, part: str, quantity: int, variant: str | None = None, min_length: Length | None = None
    ) -> None:
        """Pieces for a use; each need gets a label of its own: "head fitting for raker 1"."""
        if quantity > 0:
            what = f"{variant} {part}" if variant else part
            self.needs.append(PieceNeed(f"{what} for {label}", part, quantity, min_length, variant))

    def wedges(self, label: str, count: int, variant: str) -> None:
        """Wedge pairs, with the nails that lock them. Once a build."""
        self.piece(label, "wedge pair", count, variant=variant)
        nails = self.book.count("wedge_toenails")
        self.piece("wedges", "nail", nails * count, variant="16d")
        self.joint("behind each wedge pair, both sides", nails, "16d toenails")

    def toenails(self, posts: int) -> None:
        """What holds each post to its header, and to its sole."""
        nails = self.book.count("post_toenails")
        self.piece("ends of the posts", "nail", 2 * nails * posts, variant="16d")
        self.joint("post to header, and to sole", nails, "16d toenails")

    def shims(self) -> None:
        """Wedges and blocks for the gaps behind the wall plates."""
        rakers = self.work.rakers
        self.piece("shims behind the wall plates", "wedge pair", self.book.count("shims") * rakers, variant="2x4")
        self.cut("back-fill", "2x4", self.book.length("backfill_length"), self.book.count("backfill") * rakers)

    def span(
        self, label: str, family: str, wanted: Length, exact: Length, deduct: Length, slack: tuple[Length, Length]
    ) -> None:
        """An adjustable member, set to `wanted`, then adjusted to `exact`; `slack` is what must be left (in, out)."""
        wanted = self.tape(wanted)
        slack_in, slack_out = max(slack[0], wanted - exact), max(slack[1], exact - wanted)
        self.needs.append(SpanNeed(label, family, wanted, deduct, slack_in, slack_out))
        self.spans[label] = exact

    def say(self, **words: Length | str) -> None:
        """Words for the order of work; lengths as a tape reads them."""
        self.words |= {k: self.text(v) if isinstance(v, Length) else v for k, v in words.items()}

    def joint(self, joint: str, quantity: int, what: str) -> None:
        self.fasteners.append(Fastener(joint=joint, quantity=quantity, what=what))

    def place(self, name: str, text: str, at: Length | None = None) -> None:
        at = None if at is None else self.tape(at)
        self.positions.append(Position(name=name, text=text, at=at))

    def figure(
        self, name: str, value: Quantity | float, unit: str, note: str = "working estimate", by: str | None = None
    ) -> None:
        """A figure worked here. `by` names the rule whose method or strengths it stands on: its source and grade."""
        number = value.to(unit) if isinstance(value, Quantity) else value
        rule = self.book.rule(by) if by is not None else None
        self.loads.append(
            Figure(
                name=name, value=_round(number), unit=unit, source=rule.source if rule else WORKED,
                edition=rule.edition if rule else "-", grade=rule.grade if rule else "D", note=note,
            )
        )  # fmt: skip

    def check(
        self, name: str, demand: Quantity, strength: Quantity, unit: str = "lb", by: str | None = None, note: str = ""
    ) -> None:
        """Set what comes on a part against what it is taken to carry. `by` names the rule whose strength it is."""
        rule = self.book.rule(by) if by is not None else None
        self.checks.append(
            Check(
                name=name, share=_share(float(demand / strength)), demand=_round(demand.to(unit)),
                strength=_round(strength.to(unit)), unit=unit, source=rule.source if rule else WORKED,
                edition=rule.edition if rule else "-", grade=rule.grade if rule else "D", note=note,
            )
        )  # fmt: skip

    def not_checked(self, name: str, why: str) -> None:
        """A check that cannot be made, and why: it has no share, and somebody has to look."""
        self.checks.append(Check(name=name, checked=False, note=why))
        self.before_load.append(f"not checked: {name}, {why}")

    @property
    def struts(self) -> list[SpanNeed]:
        return [need for need in self.needs if isinstance(need, SpanNeed) and need.family == "strut"]

    @property
    def failing(self) -> tuple[Check, ...]:
        """The parts that are not enough, the weakest first."""
        over = [check for check in self.checks if check.share is not None and check.share > 1]
        return tuple(sorted(over, key=lambda check: -(check.share or 0)))

    def share(self, name: str) -> float:
        """The share used by one check."""
        return next(check.share for check in self.checks if check.name == name and check.share is not None)

    def quote(self, name: str, key: str) -> None:
        """A figure quoted from the rules, with its source."""
        rule = self.book.rule(key)
        self.loads.append(
            Figure(
                name=name, value=float(rule.value), unit=rule.unit, source=rule.source, edition=rule.edition,
                grade=rule.grade, note=rule.note or "working estimate",
            )
        )  # fmt: skip


def _share(value: float) -> float:
    """To a thousandth, and never rounded down over the line: 1.0004 is over."""
    rounded = round(value, 3)
    return rounded if rounded > 1 or value <= 1 else 1.001


def _round(value: float) -> float:
    """Four figures are more than any of these estimates deserves."""
    return float(f"{value:.4g}")


def use_of(label: str) -> str:
    """What a need is for, out of its label."""
    return label.split(" for ", 1)[-1]


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
