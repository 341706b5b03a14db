"""What a person calls a part, and the line of the stock that is meant."""

import pytest

from callout.shoring.stock import lines_named, load_stock
from callout.values import Length

STOCK = load_stock()
FT = Length.imperial(1)

MEANT = [
    ("strut", 6 * FT, ["six foot strut"]),
    ("struts", 6 * FT, ["six foot strut"]),
    ("six foot struts", None, ["six foot strut"]),
    ("Six Foot Strut", None, ["six foot strut"]),
    ("strut", Length.imperial(1, 8), ["twenty inch strut"]),
    ("strut", 5 * FT, []),
    ("picket", None, ["picket"]),
    ("steel_picket", None, ["picket"]),
    ("base_plate", None, ["base plate"]),
    ("head", None, ["head fitting"]),
    ("clamp", None, ["brace clamp", "tie clamp"]),
    ("tie clamps", None, ["tie clamp"]),
    ("anchor", None, ["block anchor", "brick anchor", "concrete anchor", "timber anchor"]),
    ("brick anchor", None, ["brick anchor"]),
    ("4x4", 12 * FT, ["4x4 timber, 12 ft"]),
    ("timber", 30 * FT, ["6x6 timber, 30 ft"]),
    ("extension", 4 * FT, ["four foot extension", "four foot tie extension"]),
    ("strut extension", 4 * FT, ["four foot extension"]),
    ("wedges", None, ["2x4 wedge pair", "4x4 wedge pair", "6x6 wedge pair"]),
    ("ladder", None, []),
    ("", None, []),
]


@pytest.mark.parametrize(("part", "length", "names"), MEANT)
def test_what_a_part_can_mean(part: str, length: Length | None, names: list[str]) -> None:
    assert [line.name for line in lines_named(STOCK, part, length)] == names
