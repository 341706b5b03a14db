"""Invented kits of different make-up: nothing of a shore depends on how the first one is made, set or rated."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from callout.shoring.build import Build
from callout.shoring.holdings import Holdings
from callout.shoring.kit import Rating
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.shoring.rules import packaged_rules
from callout.shoring.stock import Stock, load_stock, parse_stock
from callout.values import Callout, Length
from tests.checker_shoring import faults
from tests.checks_shoring import UNHURRIED, ft, share, unchecked
from tests.proof_requests import stocks
from tests.test_shoring_kinds import KINDS as SHORES

OTHER_FILE = Path(__file__).parent / "data" / "other_kit.toml"
DEMO, OTHER = load_stock(), load_stock(OTHER_FILE)


def planned(stock: Stock, site: Site | None = None, **said: object) -> Build:
    request = Callout.model_validate({"insertion": ft(8), "angle_deg": 60} | said)
    return ShorePlanner(sites={1: site or Site()}).plan(1, request, stock, Holdings.of(stock))


@pytest.mark.parametrize("stock", [DEMO, OTHER], ids=["demo", "other"])
def test_either_kit_builds_a_pair_in_its_own_way(stock: Stock) -> None:
    """8 ft at 60 degrees: 110.85 in; 111 in by inches, 110 1/2 in are too short, so 111 in by half inches as well."""
    found = planned(stock)
    assert found.possible, found.missing
    assert found.setting[0].setting == Length.imperial(inches=111)
    own = stock.kit
    assert [one for one in found.sources if one.startswith(own.source)]
    first = {"1 picket": "hole 2", "2 pickets": "holes 2 and 5"}
    steps = " / ".join(step.text for step in found.steps)
    start = "1 picket" if own.first_pickets == 1 else f"{own.first_pickets} pickets"
    assert f"drive {start} at each base, through {first[start]}" in steps
    ties = [one.label for one in found.setting if "lateral" in one.label or "diagonal" in one.label]
    order = [name for name in own.bay_order if name in ties]
    assert ties == order
    plates = next(part for part in found.parts if part.part == "wall plate")
    assert plates.length == own.plate_length


def test_no_word_of_one_kit_stands_in_the_plan_of_the_other() -> None:
    text = planned(OTHER).model_dump_json()
    assert DEMO.kit.source not in text
    assert "extension" not in " ".join(step.text for step in planned(OTHER).steps)
    assert "lock at" not in text  # its screws have no locks


YARDS = {"demo": stocks()[0], "other": stocks()[2], "third": stocks()[3]}
KIT_LINES = {name: {line.name for line in (*stock.adjustable, *stock.extension, *stock.coupler)}
             for name, (stock, _) in YARDS.items()}  # fmt: skip


@pytest.mark.parametrize("units", ["feet", "metres"])
@pytest.mark.parametrize("yard", YARDS)
@pytest.mark.parametrize("said", [*SHORES, *({"insertion": 8, "angle_deg": angle} for angle in (30, 45))], ids=str)
def test_every_shore_and_every_sentence_of_it_is_of_the_kit_it_is_built_of(
    said: dict[str, object], yard: str, units: str
) -> None:
    """Whatever the kit: sound by the independent checker, set and pinned as its own file says, no piece of another."""
    stock, shape = YARDS[yard]
    feet = said["insertion"]
    assert isinstance(feet, (int, float))
    site = Site.model_validate({"units": units})
    found = planned(stock, site, **({"angle_deg": None} | said | {"insertion": ft(feet)}))
    assert faults(found.to_json(), shape) == []
    sentences = [*(step.text for step in found.steps), *found.before_load, *found.watch, *found.tools]
    text = " / ".join(sentences)
    assert "{" not in text
    foreign = set().union(*KIT_LINES.values()) - KIT_LINES[yard]
    assert not [name for name in foreign if name in text or any(part.name == name for part in found.parts)]
    if found.refused is not None or said.get("kind", "raker") != "raker" or said.get("sole"):
        assert not [name for name in KIT_LINES[yard] if name in text]  # timber asks for no kit
        return
    kit = stock.kit
    assert f"{' and '.join(str(hole) for hole in kit.picket_holes)} / leave" in text
    assert ("lock at" in text) == (found.possible and any(one.step for one in stock.adjustable))
    plates = sum(part.quantity for part in found.parts if part.part == "wall plate")
    assert plates % 2 == 0 or not found.possible
    assert found.geometry["wall_plate"].best.eightieths % kit.plate_length.eightieths == 0
    step = kit.set_step_metric if units == "metres" else kit.set_step
    assert found.geometry["setting"].best.eightieths % step.eightieths == 0


def test_the_rules_say_nothing_of_any_kit() -> None:
    words = ("screw", "strut", "head fitting", "base plate", "shoulder", "hole")
    for key, rule in packaged_rules().table.items():
        said = f"{key.replace('_', ' ')} {rule.note}"
        about_a_check = key in ("steel_omega", "strut_omega", "slenderness_metal_most", "strut_unrated_longest")
        assert about_a_check or not any(word in said for word in words), said


def test_a_metric_crew_gets_the_kits_metric_steps() -> None:
    found = planned(OTHER, insertion=Length.mm(2400), angle_deg=60)
    assert found.setting[0].setting == Length.mm(2775)  # 2400 / sin 60 = 2771.3


def test_pickets_beyond_the_holes_of_a_base_stand_behind_a_timber() -> None:
    """2,500 lb take four pickets in loam (NAVEDTRA, A): two in the base, two behind a 4x4 of 4 ft (slides, B)."""
    found = planned(OTHER)
    anchor = next(cut for cut in found.cuts if cut.label == "sole anchor")
    assert (anchor.section, anchor.quantity, anchor.length) == ("4x4", 2, ft(4))
    assert any("drive 2 pickets behind it" in step.text for step in found.steps)
    assert next(place.at for place in found.positions if place.name == "pickets") == ft(1)
    assert next(part.quantity for part in found.parts if part.part == "picket") == 8


class TestRating:
    """A strut is rated by its maker's table, never by its tube alone."""

    def test_without_a_table_it_is_not_rated_and_its_own_figure_stands_beside(self) -> None:
        found = planned(OTHER)
        why = unchecked(found)["struts by their maker's table"]
        assert why.startswith("NOT RATED, the stock file has no table; its own column figure is ")
        assert "head fitting" in unchecked(found)
        assert not any(check.name == "struts by their maker's table" and check.checked for check in found.checks)

    def test_without_a_table_no_strut_is_set_longer_than_the_rule(self) -> None:
        """16 ft is the most (common practice, no source); 14 ft at 60 degrees asks for 16 ft 2 in."""
        found = planned(OTHER, insertion=ft(14))
        assert found.refused is not None
        assert "has no maker's table, and without one 16 ft is the most" in found.refused.reason
        nearest = found.refused.nearest
        assert nearest is not None
        assert found.refused.instead

    def test_the_least_of_table_column_and_ends_governs(self) -> None:
        """The demonstration's table: 12,000 lb up to 12 ft; 5,000 lb along the raker at 60 degrees (statics)."""
        found = planned(DEMO, insertion=ft(10))
        assert share(found, "struts by their maker's table") == pytest.approx(5000 / 12000, abs=0.001)
        assert share(found, "head fitting") == pytest.approx(5000 / 16000, abs=0.001)
        assert share(found, "raker as a column") < share(found, "struts by their maker's table")

    def test_extended_struts_go_by_their_own_table(self) -> None:
        found = planned(DEMO, insertion=ft(11))
        assert any("extension" in part.name for part in found.parts)
        assert share(found, "extended struts by their maker's table") == pytest.approx(5000 / 10800, abs=0.001)

    def test_what_the_table_does_not_allow_is_refused(self) -> None:
        weak = DEMO.model_copy(update={"kit": DEMO.kit.model_copy(update={"rating": (self.table((30, 4000)),)})})
        found = planned(weak, insertion=ft(10))
        assert not found.possible
        assert found.refused is not None
        assert "struts by their maker's table: it carries 4,000 lb, and 5,000 lb would be on it" in found.refused.reason
        assert found.refused.nearest is not None
        assert ShorePlanner().plan(1, found.refused.nearest, weak, Holdings.of(weak)).refused is None

    def test_nor_is_what_is_longer_than_the_table(self) -> None:
        short = DEMO.model_copy(update={"kit": DEMO.kit.model_copy(update={"rating": (self.table((8, 20000)),)})})
        found = planned(short, insertion=ft(10))
        assert found.refused is not None
        assert "longer than its maker's table, 8 ft" in found.refused.reason

    @staticmethod
    def table(*rows: tuple[float, float]) -> Rating:
        loads = tuple((ft(feet), pounds) for feet, pounds in rows)
        return Rating(family="strut", loads=loads, source="a table", grade="P")

    @UNHURRIED
    @given(st.data())
    def test_between_two_lengths_it_never_says_more_than_the_longer_one(self, data: st.DataObject) -> None:
        feet = sorted(data.draw(st.sets(st.integers(1, 40), min_size=1, max_size=8)))
        loads = sorted((data.draw(st.integers(100, 30000)) for _ in feet), reverse=True)
        table = self.table(*zip(feet, loads, strict=True))
        length = Length(data.draw(st.integers(1, ft(45).eightieths)))
        found = table.at(length)
        longer = [load for at, load in zip(feet, loads, strict=True) if ft(at) >= length]
        assert found == (max(longer) if longer else None)
        assert found is None or all(found <= load for at, load in zip(feet, loads, strict=True) if ft(at) <= length)

    @pytest.mark.parametrize(
        ("change", "says"),
        [
            ({"loads": ((ft(8), 100.0), (ft(6), 90.0))}, "from short to long"),
            ({"loads": ((ft(6), 100.0), (ft(8), 110.0))}, "never rise"),
            ({"loads": ()}, "loads is missing"),
            ({"part": "base plate"}, "of a family .* or of a part"),
            ({"family": None, "part": "base plate"}, "load_lb is missing"),
        ],
    )
    def test_a_table_that_cannot_be_is_refused(self, change: dict[str, object], says: str) -> None:
        good = {"family": "strut", "loads": ((ft(6), 100.0),), "source": "a table", "grade": "P"}
        with pytest.raises(ValidationError, match=says):
            Rating.model_validate(good | change)


class TestPlates:
    """The plates whose foot is nearest the ground and whose mid brace is nearest the middle, and none past the wall."""

    FOUR = DEMO.model_copy(
        update={
            "kit": DEMO.kit.model_copy(update={"plate_length": ft(4)}),
            "piece": tuple(p.model_copy(update={"length": ft(4)}) if p.part == "wall plate" else p for p in DEMO.piece),
        }
    )

    @pytest.mark.parametrize("inches", range(60, 100))
    def test_no_inch_makes_the_foot_jump(self, inches: int) -> None:
        """With plates of 4 ft, 6 ft 5 in had one plate with its foot 4 ft up, and 6 ft 6 in had two."""
        found = planned(self.FOUR, insertion=Length.imperial(inches=inches), angle_deg=60)
        assert found.geometry["plate_foot_up_wall"].best < Length.imperial(inches=4)  # less than one hole
        brace = found.geometry["mid_brace_up_wall"].best
        assert abs(float(brace.inches) / inches - 0.5) < 0.1

    def test_no_plate_passes_the_top_of_the_wall(self) -> None:
        """11 ft of a 12 ft wall: three plates of 5 ft would reach 15 ft; two reach to a foot above the insertion."""
        found = planned(DEMO, insertion=ft(11), wall_height=ft(13))
        assert found.possible
        foot, plate = found.geometry["plate_foot_up_wall"].best, found.geometry["wall_plate"].best
        assert foot + plate <= ft(13)
        assert plate == ft(10)

    def test_a_wall_too_low_for_any_plate_is_refused(self) -> None:
        found = planned(DEMO, insertion=ft(3), wall_height=ft(4))
        assert found.refused is not None
        assert "up the wall, which is 4 ft high" in found.refused.reason


def test_the_file_of_the_other_kit_is_a_stock_file_like_any_other() -> None:
    assert parse_stock(OTHER_FILE.read_text()) == OTHER
