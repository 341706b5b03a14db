"""The figures as data: complete, graded, sourced; a team's own file takes their place."""

from __future__ import annotations

import dataclasses
from datetime import datetime, timezone
from pathlib import Path
from typing import get_args

import pytest

from callout.errors import BadInput
from callout.shoring.aftercare import Happening, Inspection, due, movements
from callout.shoring.kit import StrutTube
from callout.shoring.request import Site
from callout.shoring.rules import Book, Rule, Rules, packaged_rules, team_rules
from callout.shoring.sizeup import size_up
from callout.shoring.stock import load_stock
from callout.shoring.units import UNITS
from callout.shoring.work_out import work_out
from callout.values import Callout, Length
from callout.values.meaning import Kind
from callout.values.sights import Seen
from tests.checks_shoring import ft
from tests.test_shoring_practice import build


def test_every_figure_has_a_source_a_grade_and_a_unit() -> None:
    for rule in packaged_rules().table.values():
        assert rule.source
        assert rule.edition
        assert rule.grade in "ABMDP"
        assert rule.unit in UNITS or rule.unit == "text"
        if "from memory" in rule.source:
            assert rule.grade == "M", rule.key
        if rule.source.startswith("common practice"):
            assert rule.grade == "P", rule.key


def test_a_book_remembers_what_was_used() -> None:
    book = packaged_rules().opened()
    assert book.number("wall_share") == 0.10
    book.length("return_cut")
    book.number("wall_share")
    assert list(book.used) == ["wall_share", "return_cut"]


def test_a_team_puts_its_own_figure_in_place(tmp_path: Path) -> None:
    file = tmp_path / "ours.toml"
    file.write_text('wall_share = { value = 0.2, unit = "1", source = "our guide", edition = "2031", grade = "A" }')
    rules = team_rules(file)
    assert rules.table["wall_share"].value == 0.2
    assert rules.table["wall_share"].source == "our guide"
    assert rules.table["return_cut"] == packaged_rules().table["return_cut"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("wall_share = 0.2", "needs value, unit, source and grade"),
        ('wall_share = { value = 0.2, unit = "1", grade = "A" }', "needs a source"),
        ('wall_share = { value = 0.2, unit = "1", source = "x", grade = "Z" }', "needs a grade"),
        ('wall_share = { value = 0.2, unit = "lbs", source = "x", grade = "A" }', "unknown unit 'lbs'"),
        ('wall_share = { value = 0.2, unit = "lb", source = "x", grade = "A" }', "a value in 1"),
        ('wall_share = { value = "much", unit = "1", source = "x", grade = "A" }', "a value in 1"),
        ('wall_share = { value = 0.2, unit = "1", source = "x", grade = "A", by = "me" }', "unknown field 'by'"),
        ('wall_shares = { value = 0.2, unit = "1", source = "x", grade = "A" }', "no rule 'wall_shares'"),
        ("wall_share = {", "not TOML"),
    ],
)
def test_a_faulty_figure_is_one_line_that_says_what_to_do(tmp_path: Path, text: str, says: str) -> None:
    file = tmp_path / "ours.toml"
    file.write_text(text)
    with pytest.raises(BadInput) as wrong:
        team_rules(file)
    assert says in str(wrong.value)
    assert "\n" not in str(wrong.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('anchor_allowable_brick = { value = 900, unit = "in", source = "x", grade = "A" }', "a value in lb"),
        ('anchor_allowable_brick = { value = "900", unit = "lb", source = "x", grade = "A" }', "a value in lb"),
        ('anchor_allowable_brick = { value = 0, unit = "lb", source = "x", grade = "A" }', "a load over zero"),
        ('anchor_allowable_brick = { value = 900, unit = "lb", grade = "A" }', "needs a source"),
        ('anchor_allowable_glass = { value = 900, unit = "lb", source = "x", grade = "A" }', "no rule"),
        ('tie_section = { value = "3x5", unit = "text", source = "x", grade = "P" }', "a timber section like 2x6"),
    ],
)
def test_a_figure_that_only_a_team_can_give_is_checked_like_any_other(tmp_path: Path, text: str, says: str) -> None:
    file = tmp_path / "ours.toml"
    file.write_text(text)
    with pytest.raises(BadInput, match=says):
        team_rules(file)


def test_every_figure_from_memory_has_plain_words() -> None:
    for rule in packaged_rules().table.values():
        assert bool(rule.called) == (rule.grade == "M"), rule.key
        assert "_" not in rule.called
    for unit, called in packaged_rules().wanted.values():
        assert unit in UNITS
        assert "_" not in called


def test_no_figure_is_there_that_nobody_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every kind of shore, small and large, on every ground and before every wall; and what comes near its limits."""
    read: set[str] = set()
    plain = Book.rule

    def noted(book: Book, key: str) -> Rule:
        read.add(key)
        return plain(book, key)

    monkeypatch.setattr(Book, "rule", noted)
    table = packaged_rules().table
    light = Rules({**table, "tie_section": dataclasses.replace(table["tie_section"], value="2x4")})
    curb = {"timber_beside": True, "curb": ft(1), "curb_at": ft(5)}
    rakers = [
        (Site.model_validate({"wall": wall, "soil": soil} | curb), said)
        for wall, soil in (("brick", "loam"), ("concrete", "clay"), ("timber", "sand"), ("block", "gravel"))
        for said in (
            *({"angle_deg": a, "sole": s, "insertion": h} for a in (45, 60) for s in (None, "solid", "split")
              for h in (8, 11, 14)),
            {"kind": "flying_raker", "insertion": 6},
            {"angle_deg": 60, "insertion": 14, "sole": "split", "ground": "pavement"},
            {"angle_deg": 30, "insertion": 4},
            {"angle_deg": 60, "insertion": 9, "sole": "split", "ground": "pavement", "lean": Length.imperial(0, 3)},
        )
    ]  # fmt: skip
    standing = [
        (Site.model_validate({"post": post, "span": ft(span)}), {"kind": kind, "insertion": height})
        for post in ("4x4", "6x6") for kind in ("t", "double_t", "laced_post", "vertical_post", "cribbing")
        for height in (4, 9.5, 11.8) for span in (4, 9)
    ] + [
        (Site(span=ft(span)), {"kind": kind, "insertion": 7})
        for kind in ("window", "door", "horizontal") for span in (4, 6, 8, 10)
    ] + [(Site(load_lb=9000, span=ft(10)), {"kind": "window", "insertion": 7})]  # fmt: skip
    for site, said in rakers + standing:
        for height in (None, ft(20)) if "sole" not in said else (ft(20),):
            more = {"wall_height": height, "wall_thickness": height and ft(1)} if "angle_deg" in said else {}
            request = Callout.model_validate(said | more | {"insertion": ft(said["insertion"])})
            work_out(request, load_stock().kit, site, light if said.get("sole") == "split" else None)
    for height in (3, 17, 30):
        for kind in get_args(Kind):
            work_out(Callout(kind=kind, insertion=ft(height), angle_deg=None), load_stock().kit)
    build(insertion=11, angle_deg=60)  # the people for a lift
    tube = StrutTube(
        material="steel", outside=Length.imperial(0, 3), wall=Length.imperial(0, 0, 4), yield_psi=36_000, e_psi=29e6,
        source="a data sheet", grade="B",
    )  # fmt: skip
    steel = load_stock().kit.model_copy(update={"strut": tube})
    work_out(Callout(insertion=ft(11), angle_deg=60), steel)
    _size_up_and_look_after()
    work_out(Callout(insertion=ft(11), angle_deg=60), steel.model_copy(update={"rating": ()}))
    assert set(table) - read == set()


def _size_up_and_look_after() -> None:
    """Walls that carry every kind of floor, on every ground, near and far."""
    for floor, ground, room in (("wood", "soil", ft(30)), ("steel", "pavement", ft(12)), ("concrete", None, None)):
        seen = {
            "wall_length": ft(30), "wall_height": ft(20), "wall_thickness": ft(1), "wall": "brick", "floor": floor,
            "floors": 2, "floor_span": ft(16), "lean": Length.imperial(0, 3), "damage_height": ft(12), "openings": 2,
            "ground": ground, "room": room,
        }  # fmt: skip
        size_up(Seen.model_validate(seen))
        size_up(Seen.model_validate(seen | {"damage_height": ft(8)}))
    stood = datetime(2026, 11, 29, tzinfo=timezone.utc)
    look = Inspection.model_validate(
        {"at": stood, "readings": [{"mark": "n", "kind": "crack", "value": Length.imperial(0, 1)}]}
    )
    due(stood, [], [], stood)
    due(stood, [look], [Happening(at=stood, reason="wind", speed=5)], stood)
    movements([look, look])


def test_a_missing_file_is_a_bad_input(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot read the rules"):
        team_rules(tmp_path / "nowhere.toml")
