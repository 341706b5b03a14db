"""What a trough bears on."""

from __future__ import annotations

import pytest

from callout.shoring.request import Site
from tests.test_shoring_plan import pad
from tests.test_shoring_practice import build


@pytest.mark.parametrize(
    ("angle", "load", "side", "planks"),
    [
        (60, 5000, "1 ft 10 in", 4),  # 5,000 lb / 1,500 psf = 480 in2, 21.9 in; of planks 5 1/2 x 22 in 3.97
        (45, 3536, "1 ft 7 in", 4),  # 3,536 lb / 1,500 psf = 339.4 in2, 18.4 in; of planks 5 1/2 x 19 in 3.2
    ],
)
def test_a_trough_bears_the_whole_force_along_its_raker(angle: int, load: float, side: str, planks: int) -> None:
    """Its base is square to the raker, so N = F / cos(angle) presses on it, not the upright part alone (statics):
    2,500 lb on the wall give 5,000 lb at 60 degrees, 3,536 lb at 45; clay bears 1,500 psf (IBC 2012 Table 1806.2)."""
    found = build(Site(soil="clay"), insertion=8, angle_deg=angle, sole="split")
    assert pad(found) == (2 * 2 * planks, side)
    needed = next(figure.value for figure in found.loads if figure.name == "pad needed under the heel, square")
    assert needed == pytest.approx((load / 1500 * 144) ** 0.5, abs=0.01)


@pytest.mark.parametrize("said", [{"sole": "split"}, {"kind": "flying_raker"}], ids=str)
def test_a_trough_stands_in_the_ground_under_the_pavement(said: dict[str, object]) -> None:
    """It lies square to its raker: on top of a pavement it cannot. So the pavement is broken there, and what lies under
    it bears: as much as soil, not as pavement."""
    paved, soil = (build(insertion=8, angle_deg=45, ground=ground, **said) for ground in ("pavement", "soil"))
    assert pad(paved) == pad(soil)
    assert any("break the pavement where the trough and the pickets go" in step.text for step in paved.steps)
    assert any("spade" in tool for tool in paved.tools)
    shares = [next(one.share for one in found.checks if one.name.startswith("ground under")) for found in (paved, soil)]
    assert shares[0] == shares[1]


@pytest.mark.parametrize("said", [{"sole": "split"}, {"sole": "solid"}, {"kind": "flying_raker"}], ids=str)
@pytest.mark.parametrize(("site", "apart"), [(Site(), "1 ft apart"), (Site(units="metres"), "300 mm apart")])
def test_the_crew_reads_how_far_apart_the_pickets_go(said: dict[str, object], site: Site, apart: str) -> None:
    steps = [step.text for step in build(site, insertion=8, angle_deg=45, **said).steps]
    assert any("pickets behind it" in say and say.endswith(apart) for say in steps), steps
