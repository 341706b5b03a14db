"""A strut's own tube out of the stock file as a column: steel by AISC 360 chapter E, aluminium by its curve."""

from __future__ import annotations

import math

import pytest

from callout.errors import BadInput
from callout.shoring.build import Build
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import PACKAGED, parse_stock
from callout.values import Callout
from tests.checks_shoring import ft, share

TUBE = """
[kit.strut]
material = "steel"
outside = "3 1/2 in"
wall = "1/4 in"
yield_psi = 36000
e_psi = 29000000
source = "data sheet of the invented kit"
grade = "B"
"""


def planned(feet: int, **other: str) -> Build:
    text = TUBE
    for name, value in other.items():
        line = next(line for line in TUBE.splitlines() if line.startswith(f"{name} = "))
        text = text.replace(line, f"{name} = {value}")
    packaged = PACKAGED.read_text()
    begin, end = packaged.index("[kit.strut]"), packaged.index("# Pounds by length")
    stock = parse_stock(packaged[:begin] + text.lstrip() + packaged[end:])
    return ShorePlanner().plan(1, Callout(insertion=ft(feet), angle_deg=60), stock, Holdings.of(stock))


def figure(found: Build, begins: str) -> float:
    return next(figure.value for figure in found.loads if figure.name.startswith(begins))


def test_a_steel_strut_is_checked_by_chapter_e() -> None:
    """3 1/2 in tube of 1/4 in: A 2.5525 in2, r 1.1524 in. 11 ft at 60 degrees is braced 64 in up the wall of 132 in, so
    (132 - 64) / cos 30 = 78.52 in of it is free: KL/r 68.13, Fe 61.66 ksi, Fcr 0.658^(36/61.66) x 36 = 28.20 ksi, over
    1.67: 43.1 kip (by hand; the formulas are B)."""
    found = planned(11)
    assert figure(found, "slenderness KL/r") == pytest.approx(68.13, abs=0.02)
    assert figure(found, "column capacity, steel strut") == pytest.approx(43_100, rel=0.002)
    assert share(found, "raker as a column") == pytest.approx(5000 / 43_100, abs=0.001)
    given = next(one for one in found.loads if one.name == "strength of the strut's steel")
    assert (given.source, given.grade) == ("data sheet of the invented kit", "B")
    assert "safety factor of a steel strut" in found.from_memory


def test_a_thin_one_is_slender_and_carries_by_euler() -> None:
    """1 in tube of 1/8 in, 20 ft at 60 degrees: KL/r over 4.71 sqrt(E/Fy) = 133.7, so 0.877 Fe (AISC 360 E3)."""
    found = planned(20, outside='"1 in"', wall='"1/8 in"')
    slender = figure(found, "slenderness KL/r")
    assert slender > 200
    area = math.pi / 4 * (1 - 0.75**2)
    carried = 0.877 * math.pi**2 * 29e6 / slender**2 * area / 1.67
    assert figure(found, "column capacity, steel strut") == pytest.approx(carried, rel=0.002)
    assert found.refused is not None
    assert "raker as a column" in found.refused.reason


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("material", '"wood"'), ("wall", '"2 in"'), ("wall", '"0 in"'), ("yield_psi", "0"), ("grade", '"Z"'),
        ("source", '""'),
    ],
)  # fmt: skip
def test_a_faulty_tube_is_a_faulty_stock_file(name: str, value: str) -> None:
    with pytest.raises(BadInput):
        planned(11, **{name: value})
