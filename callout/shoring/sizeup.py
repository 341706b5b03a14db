"""Size-up: from what somebody sees of a damaged wall to which shore, how many, and how far people stay away. Pure.

`size_up(Seen(...))` gives rows, each a sentence that may be spoken with the sources it stands on, and callouts that can
be taken. It is an estimate for the structures specialist: a callout that is taken is read back and needs its affirm
like any other. Where sources differ the safer figure is taken, and the row says so.
"""

from __future__ import annotations

import math
from typing import Literal

from pydantic import BaseModel, ConfigDict

from callout.shoring.loads import density_of, force_of_lean, inches, wall_weight
from callout.shoring.on_paper import wrapped
from callout.shoring.refusals import MOST_IN_A_ROW, clear_zone, not_meant
from callout.shoring.request import Site
from callout.shoring.rules import Rules, packaged_rules
from callout.shoring.units import Grade, Quantity, Writing
from callout.shoring.work_out import why_not
from callout.values import Callout, Length
from callout.values.length import PER_FOOT
from callout.values.sights import SEEN_LENGTHS, Seen

_KM_IN_A_MILE = 1.609344

CAUTION = "This is an estimate for the structures specialist. Nothing here is approved."


class SizeUpRow(BaseModel):
    """One finding. `value` is a number, a length or a word; `differ`: what another source says, where one does."""

    model_config = ConfigDict(frozen=True)

    topic: str
    say: str
    value: Length | int | float | str | None = None
    sources: tuple[str, ...] = ()
    grades: tuple[Grade, ...] = ()
    differ: str = ""


class Take(BaseModel):
    """A callout that can be taken, with what has to be known of its place; `rows` of it, one beside the other."""

    model_config = ConfigDict(frozen=True)

    title: str
    callout: Callout
    site: Site
    rows: int = 1


class Sized(BaseModel):
    """The whole estimate: findings, callouts best first, what is still to be seen. What follows a semicolon is read and
    never spoken.

    Examples:
        >>> import callout
        >>> found = callout.size_up(wall_length="40 ft", damage_height="9 ft")
        >>> found.takes[0].callout.rakers, found.look[1]
        (5, 'how high the wall is')
        >>> found.caution
        'This is an estimate for the structures specialist. Nothing here is approved.'
    """

    model_config = ConfigDict(frozen=True)

    seen: Seen
    rows: tuple[SizeUpRow, ...]
    takes: tuple[Take, ...]
    look: tuple[str, ...]
    caution: str = CAUTION


def size_up(seen: Seen, rules: Rules | None = None) -> Sized:
    """The estimate. What nobody has said is asked for in `look`; the rows that need it are left out. So is a size that
    is nothing or less, or that nobody can mean: a row tells of the latter."""
    void = {name: None for name in SEEN_LENGTHS if (size := getattr(seen, name)) is not None and _is_none(name, size)}
    return _SizeUp(seen.model_copy(update=void), rules or packaged_rules()).whole()


def _is_none(name: str, size: Length) -> bool:
    return size < Length(0) if name in ("lean", "room") else size <= Length(0)


def estimate_lines(found: Sized) -> list[str]:
    """The estimate as lines of at most eighty letters: every row with its grade and sources, and what is to be seen."""
    lines: list[str] = []
    for row in found.rows:
        more = f" ({row.differ})" if row.differ else ""
        lines += wrapped(f"{row.topic:<13}{row.say}{more}.", 13)
        if row.sources:
            lines += wrapped(f"{'':13}[{', '.join(row.grades)}] {'; '.join(row.sources)}", 13)
    if found.look:
        lines += ["", "STILL TO BE SEEN", *(line for look in found.look for line in wrapped(f"  {look}", 4))]
    return lines


class _SizeUp:
    def __init__(self, seen: Seen, rules: Rules) -> None:
        given = (getattr(seen, name) for name in Seen.model_fields)
        self.writing = Writing.of(one for one in given if isinstance(one, Length))
        self.seen, self.rules, self.book = seen, rules, rules.opened(self.writing.metric)
        self.rows: list[SizeUpRow] = []
        self.look: list[str] = []

    def whole(self) -> Sized:
        self._order()
        self._slips()
        self._floors_below()
        self._zone()
        insertion = self._insertion()
        angle, sole = self._angle(insertion), self._kind()
        self._leaning(insertion)
        force = self._force(insertion)
        count, spacing = self._rakers(insertion, force)
        self._openings()
        self._ground()
        self._wind()
        takes = self._takes(insertion, angle, sole, count, spacing)
        return Sized(seen=self.seen, rows=tuple(self.rows), takes=takes, look=tuple(self.look))

    def row(
        self, topic: str, say: str, value: Length | int | float | str | None, *keys: str, differ: str = ""
    ) -> None:
        found = [self.book.rule(key) for key in keys]
        titles = dict.fromkeys(
            rule.source if rule.edition in ("-", "undated") else f"{rule.source}, {rule.edition}" for rule in found
        )
        grades = dict.fromkeys(rule.grade for rule in found)
        self.rows.append(
            SizeUpRow(topic=topic, say=say, value=value, sources=tuple(titles), grades=tuple(grades), differ=differ)
        )

    def text(self, length: Length) -> str:
        return self.writing.length(length)

    # --- what is done at all -------------------------------------------------------------------------------------

    def _order(self) -> None:
        self.rows.append(
            SizeUpRow(
                topic="first", say="avoid it, else take it down, else shore it, and watch it all the while",
                value="avoid, remove, shore, monitor", sources=("FEMA US&R training, module 2b",), grades=("A",),
            )
        )  # fmt: skip

    def _slips(self) -> None:
        """A size that nobody can mean, a slip of the tongue, is told of and counts for nothing."""
        for name in SEEN_LENGTHS:
            size = getattr(self.seen, name)
            if size is not None and (reason := not_meant(name, size, self.writing)):
                self.rows.append(SizeUpRow(topic="measure", say=f"{reason}, or measure again", value=size))
                self.seen = self.seen.model_copy(update={name: None})

    def _floors_below(self) -> None:
        floor = self.seen.floor
        if floor is None:
            self.look.append("the floors; what those are made of that the wall carries")
            return
        least = self.book.count(f"floors_below_{floor}")
        if floor != "concrete":
            words = "1 sound floor below a damaged one is shored" if least == 1 else f"{least} floors below are shored"
            self.row("floors below", words, least, f"floors_below_{floor}")
            return
        more = self.book.count("floors_below_concrete_more")
        self.row(
            "floors below", f"{max(least, more)} floors below a damaged concrete floor are shored", max(least, more),
            "floors_below_concrete", "floors_below_concrete_more",
            differ=f"sources say {least} and {more}; the larger is taken",
        )  # fmt: skip

    def _zone(self) -> None:
        height = self.seen.wall_height
        if height is None:
            self.look.append("how high the wall is")
            return
        times = Length(round(height.eightieths * self.book.number("zone_times_height")))
        plus = clear_zone(height, self.book)
        out, aside = max(times, plus), self.book.length("zone_past_the_wall")
        self.row(
            "clear zone",
            f"nobody without a task within {self.text(out)} of the wall, and {self.text(aside)} past its ends", out,
            "zone_times_height", "clear_zone_beyond_height", "zone_past_the_wall",
            differ=f"sources say {self.text(times)} and {self.text(plus)}; the larger is taken",
        )  # fmt: skip

    # --- the shore -----------------------------------------------------------------------------------------------

    def _insertion(self) -> Length | None:
        """At the floor or roof line, or where the damage is; never above the wall."""
        at, top = self.seen.damage_height, self.seen.wall_height
        if at is None:
            self.look.append("the height to be held; of the floor line, or of the damage")
            return None
        if top is not None and at > top:
            self.row("insertion", f"the height to be held, {self.text(at)}, is above the wall: measure again", at)
            return None
        within = self.text(self.book.length("floor_line_within"))
        self.row(
            "insertion", f"insertion at {self.text(at)}; at or just below the floor line, within {within} of it", at,
            "floor_line_within",
        )  # fmt: skip
        return at

    def _angle(self, insertion: Length | None) -> int:
        """45 degrees where there is room for it: it holds more of the wall for its force. Else 60."""
        if insertion is None:
            return 60
        needs = insertion + self.book.length("room_for_the_anchor")
        if self.seen.room is None:
            self.look.append(f"the room in front; 45 degrees needs {self.text(needs)} of it")
            self.row("angle", "60 degrees, which needs the less room", 60, "angles_standard", "base_per_foot_60")
            return 60
        if self.seen.room >= needs:
            self.row("angle", "45 degrees, since there is room", 45, "angles_standard", "base_per_foot_45")
            return 45
        per_foot = self.book.number("base_per_foot_60") / 12
        steep = Length(round(insertion.eightieths * per_foot)) + self.book.length("room_for_the_anchor")
        said = "60 degrees, since there is no room for 45"
        if self.seen.room < steep:
            said = f"60 degrees needs {self.text(steep)} in front of the wall, and there is less: clear it, or ask"
        self.row("angle", said, 60, "angles_standard", "base_per_foot_60", "room_for_the_anchor")
        return 60

    def _kind(self) -> Literal["solid", "split"]:
        before = self.seen.before
        if before is None:
            self.look.append("the ground in front; whether it is clear, covered or sloping")
        if before in ("debris", "slope"):
            what = "debris" if before == "debris" else "sloping ground"
            said = f"rakers on a split sole, because of {what}; struts where the kit is there"
            self.row("type", said, "split", "angles_standard")
            return "split"
        said = "rakers on a solid sole on clear ground; struts where the kit is there"
        self.row("type", said, "solid", "angles_standard")
        return "solid"

    def _force(self, insertion: Length | None) -> Quantity | None:
        """On all rakers together: a share of what the wall weighs and carries, and what its lean adds."""
        seen, book = self.seen, self.book
        missing = [name for name in ("wall_thickness", "wall_length", "wall") if getattr(seen, name) is None]
        if missing or seen.wall_height is None or insertion is None:
            self.look += [f"the {name.replace('_', ' ')}" for name in missing if name != "wall"]
            self.look += ["what the wall is made of"] if "wall" in missing else []
            return None
        assert seen.wall_thickness is not None
        assert seen.wall_length is not None
        density = density_of(seen.wall)
        weight = wall_weight(
            inches(seen.wall_height), inches(seen.wall_thickness), inches(seen.wall_length), book.quantity(density)
        )
        self.row("wall weight", f"the wall weighs {self.writing.force(_rounded(weight))}", weight.to("lb"), density)
        weight = weight + (self._carried(seen.wall_length) or Quantity(0.0, weight.powers))
        force = weight * book.number("wall_share")
        if seen.lean is not None and seen.lean > Length(0):
            force = force + force_of_lean(weight, seen.lean, seen.wall_height, insertion)
        self.row(
            "push", f"the rakers together hold {self.writing.force(_rounded(force))} sideways", force.to("lb"),
            "wall_share",
        )  # fmt: skip
        return force

    def _leaning(self, insertion: Length | None) -> None:
        if self.seen.lean is None:
            self.look.append("the lean; whether there is one, and how far")
        if not self.seen.lean or insertion is None:
            return
        share, most = self.seen.lean.eightieths / insertion.eightieths, self.book.number("lean_limit")
        said = f"the wall leans {math.ceil(share * 1000) / 10:g} percent of the height"
        if share > most:
            said += f", over the {most * 100:g} percent that rakers are made for: the specialist first"
        self.row("lean", said, round(share, 4), "lean_limit")

    def _carried(self, length: Length) -> Quantity | None:
        """Half the span of each floor, over the length of the wall."""
        seen = self.seen
        if seen.floors == 0:
            return None
        if seen.floors is None or seen.floor is None or seen.floor_span is None:
            self.look.append("how many floors and roofs; of what, and how far they span")
            return None
        psf = self.book.quantity(f"floor_{seen.floor}")
        load = psf * inches(seen.floor_span) * inches(length) * (seen.floors / 2)
        self.row(
            "carried", f"floors and roof bring {self.writing.force(_rounded(load))} to the wall", load.to("lb"),
            f"floor_{seen.floor}",
        )  # fmt: skip
        return load

    def _rakers(self, insertion: Length | None, force: Quantity | None) -> tuple[int | None, Length | None]:
        """By the greatest spacing and by what one raker is made for: the larger number."""
        seen, book = self.seen, self.book
        if seen.wall_length is None or insertion is None:
            return None, None
        most = book.length("spacing_most")
        if self.writing.metric:
            most = book.length("timber_spacing")
        by_spacing = max(book.count("rakers_least"), -(-seen.wall_length.eightieths // most.eightieths))
        small = insertion <= book.length("timber_4x4_insertion_most")
        design = "design_load_4x4_raker" if small else "design_load_6x6_raker"
        by_force = math.ceil(float(force / book.quantity(design)) - 1e-9) if force is not None else 0
        count = max(by_spacing, by_force)
        step = Length.mm(100) if self.writing.metric else Length(PER_FOOT)
        spacing = min(most, Length(seen.wall_length.eightieths // count // step.eightieths * step.eightieths))
        least = book.length("spacing_least")
        said = f"{count} rakers, {self.text(max(spacing, least))} on centre"
        if spacing < least:
            said = f"{count} rakers would stand closer than {self.text(least)}: the specialist first"
        differ = f"by spacing {by_spacing}, by what one is made for {by_force}; the larger is taken" if by_force else ""
        self.row("rakers", said, count, "spacing_most", "rakers_least", design, differ=differ)
        return (count, spacing) if spacing >= least else (None, None)

    def _openings(self) -> None:
        if self.seen.openings is None:
            self.look.append("how many windows and doors there are")
        elif self.seen.openings:
            many = "the opening" if self.seen.openings == 1 else f"each of the {self.seen.openings} openings"
            self.row(
                "openings",
                f"a window or door shore in {many} where the wall over it bears; its header 1 inch deep for every "
                "foot, and checked; no raker against an opening", self.seen.openings, "header_inch_per_foot",
            )  # fmt: skip

    def _ground(self) -> None:
        ground = self.seen.ground
        if ground is None:
            self.look.append("whether the ground is soil or pavement")
            return
        key = "pickets_pavement" if ground == "pavement" else "pickets_soil_timber"
        pickets = self.book.count(key)
        if ground == "pavement":
            said = f"{pickets} pickets at each heel to start with, through the pavement; look for voids beneath it"
            self.row("ground", said, ground, key)
        else:
            said = f"a heel pad on the soil, and {pickets} pickets at each heel or more"
            self.row("ground", said, ground, key, "bearing_clay")

    def _wind(self) -> None:
        wind = self.book.count("wind_out")
        speed = f"{int(wind * _KM_IN_A_MILE)} kilometres" if self.writing.metric else f"{wind} miles"
        self.row("wind", f"everybody out of the zone in wind over {speed} an hour", wind, "wind_out")

    # --- what can be taken ---------------------------------------------------------------------------------------

    def _takes(
        self, insertion: Length | None, angle: int, sole: Literal["solid", "split"], count: int | None,
        spacing: Length | None,
    ) -> tuple[Take, ...]:  # fmt: skip
        """Timber rakers and strut rakers, where there is such a shore; with the nearest where this one does not fit."""
        seen = self.seen
        share = seen.lean.eightieths / insertion.eightieths if seen.lean and insertion else 0.0
        if insertion is None or count is None or share > self.book.number("lean_limit"):
            return ()
        rows = -(-count // MOST_IN_A_ROW)
        count = -(-count // rows)
        site = Site(wall=seen.wall, wall_length=seen.wall_length, soil=seen.soil)
        said = Callout(
            insertion=insertion, angle_deg=angle, rakers=count, spacing=spacing, ground=seen.ground,
            lean=seen.lean or None, wall_height=seen.wall_height, wall_thickness=seen.wall_thickness,
        )  # fmt: skip
        found = []
        for title, one in (
            (f"timber rakers on a {sole} sole", said.model_copy(update={"sole": sole})),
            ("strut rakers", said),
        ):
            fits, why = self._fitting(one, site)
            if fits is not None:
                nearest = "" if fits == one else ", the nearest that fits"
                found.append(Take(title=title + nearest, callout=fits, site=site, rows=rows))
            else:
                self.rows.append(SizeUpRow(topic="no shore", say=f"no {title}: {why}"))
        return tuple(found)

    def _fitting(self, callout: Callout, site: Site) -> tuple[Callout | None, str]:
        """The callout, or the nearest that exists and has no raker less; None, and why, where there is none within a
        few changes."""
        why, wanted = "", callout.rakers or 0
        for _ in range(4):
            refused = why_not(callout, site, self.rules)
            if refused is None:
                return callout, ""
            why = refused.reason
            if refused.nearest is None or refused.nearest_site is not None or (refused.nearest.rakers or 0) < wanted:
                break
            callout = refused.nearest
        return None, why


def _rounded(force: Quantity) -> Quantity:
    """Up to two figures: an estimate shows no more."""
    if not force.value:
        return force
    step = 10.0 ** (math.floor(math.log10(force.value)) - 1)
    return Quantity(math.ceil(force.value / step - 1e-9) * step, force.powers)
