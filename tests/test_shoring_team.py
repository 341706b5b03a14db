"""Figures that a team gives in its own rules file: what is checked with them, and what is said without."""

from __future__ import annotations

from pathlib import Path

import pytest

from callout.shoring.request import Site
from callout.shoring.rules import Rules, team_rules
from tests.checks_shoring import share, unchecked
from tests.test_shoring_practice import build


def rules_of_a_team(tmp_path: Path, text: str) -> Rules:
    file = tmp_path / "ours.toml"
    file.write_text(text)
    return team_rules(file)


class TestWallPlateAnchors:
    """4,330 lb of uplift (2,500 lb at 60 degrees, statics) on the anchors of one wall plate, all alike."""

    GIVEN = 'anchor_allowable_brick = {{ value = {}, unit = "lb", source = "data of our anchor", grade = "A" }}'

    @pytest.mark.parametrize(("sole", "anchors"), [(None, 3), ("solid", 2), ("split", 2)])
    def test_without_a_value_they_are_not_checked_and_that_is_said(self, sole: str | None, anchors: int) -> None:
        found = build(insertion=11, angle_deg=60, sole=sole)
        pounds = {3: "1,443 lb", 2: "2,165 lb"}[anchors]
        why = f"{pounds} of uplift each; your rules file may give it"
        assert unchecked(found)["wall-plate anchors"] == why
        assert any(look.startswith("not checked: wall-plate anchors") for look in found.before_load)

    @pytest.mark.parametrize(("allowable", "anchors"), [(2000, 3), (1443.4, 3), (1400, 4), (500, 9)])
    def test_with_a_value_the_share_used_is_given(self, tmp_path: Path, allowable: float, anchors: int) -> None:
        """Where the usual three are not enough the plan takes more: 4,330 over 1,400 is 3.1, over 500 it is 8.7."""
        found = build(rules=rules_of_a_team(tmp_path, self.GIVEN.format(allowable)), insertion=11, angle_deg=60)
        figures = {figure.name: figure for figure in found.loads}
        quoted = figures["allowable load of a brick anchor, as your rules file gives it"]
        assert (quoted.value, quoted.source, quoted.grade) == (allowable, "data of our anchor", "A")
        assert share(found, "wall-plate anchors") == pytest.approx(4330.127 / anchors / allowable, abs=0.001)
        assert next(part.quantity for part in found.parts if part.part == "anchor") == 2 * anchors
        assert "wall-plate anchors" not in unchecked(found)
        assert "approved" not in found.model_dump_json()

    def test_a_value_for_another_anchor_says_nothing_of_this_one(self, tmp_path: Path) -> None:
        rules = rules_of_a_team(tmp_path, self.GIVEN.format(2000))
        found = build(Site(wall="concrete"), rules=rules, insertion=11, angle_deg=60)
        assert "wall-plate anchors" in unchecked(found)


def test_ties_of_two_by_four_take_their_own_nails(tmp_path: Path) -> None:
    """Five nails at the ends of a 2x6 (B), three at those of a 2x4 (from memory)."""
    rules = rules_of_a_team(tmp_path, 'tie_section = { value = "2x4", unit = "text", source = "ours", grade = "P" }')
    usual, ours = (build(rules=one, insertion=9, angle_deg=60, sole="split") for one in (None, rules))
    for found, section, nails in ((usual, "2x6", 5), (ours, "2x4", 3)):
        ties = [cut for cut in found.cuts if cut.label.endswith("tie") or cut.label == "diagonal"]
        assert {cut.section for cut in ties} == {section}
        assert next(one.quantity for one in found.fasteners if one.joint == "tie or diagonal, each end") == nails
