"""A stand-in planner and a short way to hold a typed conversation, for the tests of the dialogue.

The stand-in answers from the stock's struts and anchors alone, by a rule that a test can work out by hand: two struts,
the shortest whose closed length in feet is at least half the insertion, and four anchors. The planner proper has tests
of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from callout.dialogue.events import Effect, Input, Key, Listen, Opened, Say, Uttered
from callout.dialogue.machine import start, step
from callout.dialogue.records import Record, Role
from callout.dialogue.settings import load_settings
from callout.dialogue.state import Conversation
from callout.language.outcome import MeaningPart as HeardPart
from callout.language.outcome import Understood
from callout.shoring.build import Build, Cut, Missing, Part, Position, Refused, Step
from callout.shoring.holdings import Held, Holdings
from callout.shoring.request import Site
from callout.shoring.stock import Line, Stock, parse_stock
from callout.values import Callout, Command, Length, Meaning

KIT = """
name = "Test yard"
[kit]
plate_length = "4 ft"
plate_first_hole = "4 1/2 in"
plate_hole_spacing = "3 in"
plate_thickness = "1 1/2 in"
head_takes = "5 in"
base_takes = "4 in"
brace_takes = "6 in"
clamp_takes = "5 in"
slack_in = "2 in"
slack_out = "3 in"
waler_gap = "6 in"
"""


def _strut(words: str, feet: int, quantity: int) -> str:
    return (
        f'[[adjustable]]\nname = "{words} foot strut"\nfamily = "strut"\nclosed = "{feet} ft"\n'
        f'open = "{feet + 3} ft"\nscrew = "3 ft"\nquantity = {quantity}\nwhere = "rack A"\nweight_lb = 20\n'
    )


def make_stock(four: int = 4, six: int = 4, eight: int = 2, anchors: int = 12) -> Stock:
    struts = "".join(_strut(w, f, n) for w, f, n in (("four", 4, four), ("six", 6, six), ("eight", 8, eight)))
    anchor = f'[[piece]]\nname = "brick anchor"\npart = "anchor"\nquantity = {anchors}\nwhere = "box 2"\n'
    anchor += "weight_lb = 1\n"
    return parse_stock(KIT + struts + anchor)


@dataclass(frozen=True)
class FakePlanner:
    """See the module. Refuses an angle under 45, as practice might. Timber rakers beside get a waler."""

    sites: Mapping[int, Site] = field(default_factory=dict)

    def plan(self, build_id: int, request: Callout, stock: Stock, holdings: Holdings) -> Build:
        assert request.insertion is not None
        site = self.sites.get(build_id, Site())
        if request.angle_deg is not None and request.angle_deg < 45:
            nearest = request.model_copy(update={"angle_deg": 45})
            refused = Refused(reason="no raker is built under 45 degrees", nearest=nearest)
            return Build(build_id=build_id, title="none", request=request, possible=False, refused=refused, site=site)
        held = holdings.held(build_id)

        def free(line: Line) -> int:
            mine = held.get(line.name, Held())
            return mine.out + max(0, holdings.on_hand[line.name] - holdings.promised.get(line.name, 0) + mine.reserved)

        struts = sorted(stock.adjustable, key=lambda line: line.closed)
        long_enough = [s for s in struts if s.closed * 2 >= request.insertion]
        strut = next((s for s in long_enough if free(s) >= 2), None)
        parts, missing = [], []
        if strut is not None:
            parts.append(_part(1, 2, strut))
        else:
            missing.append(Missing(part="strut", quantity=2, length=Length(request.insertion.eightieths // 2)))
        anchor = stock.by_name["brick anchor"]
        if take := min(4, free(anchor)):
            parts.append(_part(len(parts) + 1, take, anchor))
        if take < 4:
            missing.append(Missing(part="anchor", quantity=4 - take))
        return Build(
            build_id=build_id, title="a pair", request=request, possible=not missing, site=site, parts=tuple(parts),
            missing=tuple(missing),
            cuts=(Cut(label="sole", section="4x4", size="3 1/2 in x 3 1/2 in", quantity=2, length=Length.imperial(3)),),
            positions=(Position(name="insertion", text="on the wall", at=request.insertion),),
            steps=(Step(number=1, who="crew", text="set the plate"), Step(number=2, who="crew", text="stand it up")),
            checks=("all tight", "wall watched"), cautions=("working estimate, not an approval",),
        )  # fmt: skip


def _part(item: int, quantity: int, line: Line) -> Part:
    return Part(
        item=item, quantity=quantity, part=line.kind, name=line.name, length=line.size, where=line.where,
        weight_lb=line.weight_lb,
    )  # fmt: skip


def ft(feet: int, inches: int = 0) -> Length:
    return Length.imperial(feet, inches)


ELEVEN_SIXTY = Callout(insertion=ft(11), angle_deg=60)
AFFIRM = Command(command="affirm")


@dataclass
class Talk:
    """A conversation under test: say things, look at what came of it."""

    now: Conversation
    time: float = 0.0
    records: list[Record] = field(default_factory=list)
    effects: list[Effect] = field(default_factory=list)  # of the last step

    @classmethod
    def new(cls, stock: Stock | None = None, **settings: object) -> Talk:
        """Sentences take no time here unless `seconds_a_word` says so."""
        chosen = load_settings(**{"seconds_a_word": 0.0, **settings})
        talk = cls(start(stock or make_stock(), FakePlanner(), chosen))
        talk.put(Opened(0.0))
        return talk

    def put(self, event: Input) -> Talk:
        self.now, effects = step(self.now, event)
        self.effects = list(effects)
        self.records += [effect for effect in effects if isinstance(effect, Record)]
        return self

    def say(
        self, meaning: Meaning | str, role: Role = "measurer", *, certain: bool = True, agreed: bool = False,
        name: str | None = None,
    ) -> Talk:  # fmt: skip
        """A meaning, or the name of a command; typed unless `certain` is False. `agreed`: both ears agreed."""
        if isinstance(meaning, str):
            meaning = Command(command=meaning)
        parts = (HeardPart("meaning", None, 0.9, "agreed" if agreed else "doubtful"),)
        self.time += 1.0
        return self.put(
            Uttered(Understood(meaning, (), parts=() if certain else parts), "words", role, self.time, certain, name)
        )

    def key(self, kind: str, role: Role = "logistics") -> Talk:
        self.time += 1.0
        return self.put(Key(kind, role, self.time))  # type: ignore[arg-type]

    def released(self, request: Callout = ELEVEN_SIXTY) -> Talk:
        """Call out and affirm."""
        return self.say(request).say(AFFIRM)

    def stand(self) -> Talk:
        """Walk every open build to its end and affirm that it stands. `effects` are those of all that was said."""
        said: list[Effect] = []
        for _ in range(500):
            if not self.now.open:
                break
            pending = self.now.seat("logistics").pending
            self.say("affirm" if pending is not None and pending.kind == "stands" else "ready", "logistics")
            said += self.effects
        self.effects = said
        return self

    @property
    def events(self) -> list[str]:
        """The events of the last step."""
        return [effect.event for effect in self.effects if isinstance(effect, Record)]

    @property
    def said(self) -> list[str]:
        """What was spoken in the last step."""
        return [effect.text for effect in self.effects if isinstance(effect, Say)]

    @property
    def heard_by(self) -> list[tuple[str, str]]:
        return [(effect.to, effect.text) for effect in self.effects if isinstance(effect, Say)]

    def state(self, role: Role = "measurer") -> str | None:
        from callout.dialogue.state import context

        return context(self.now, role).state

    def count(self, event: str) -> int:
        return sum(record.event == event for record in self.records)

    @property
    def listens(self) -> list[Listen]:
        return [effect for effect in self.effects if isinstance(effect, Listen)]
